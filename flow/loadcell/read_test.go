package loadcell

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf16"
)

func TestFormatsAreFoundOut(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		f     Format
		times []float64
		force []float64
	}{
		"plain": {"time_s,force_N\n0,1\n0.1,2.5\n0.2,3\n", Format{}, []float64{0, 0.1, 0.2},
			[]float64{1, 2.5, 3}},
		"decimal comma": {"Zeit time [s];Kraft force [N]\n0,0;1,5\n0,1;2,5\n0,2;-3\n", Format{},
			[]float64{0, 0.1, 0.2}, []float64{1.5, 2.5, -3}},
		"tabs and kgf": {"t\tload (kgf)\n10.0\t1\n10.1\t2\n", Format{}, []float64{0, 0.1},
			[]float64{9.80665, 19.6133}},
		"ms and grams": {"millis,weight_g\n1000,100\n1100,200\n1200,300\n", Format{}, []float64{0, 0.1, 0.2},
			[]float64{0.980665, 1.96133, 2.941995}},
		"no header": {"0 1.5\n100 2.5\n200 3.5\n", Format{ForceUnit: "N"}, []float64{0, 0.1, 0.2},
			[]float64{1.5, 2.5, 3.5}},
		"micros":     {"us;N\n0;1\n12500;2\n25000;3\n", Format{}, []float64{0, 0.0125, 0.025}, []float64{1, 2, 3}},
		"one column": {"force N\n1\n2\n3\n", Format{Rate: 10}, []float64{0, 0.1, 0.2}, []float64{1, 2, 3}},
		"counts": {"time s,raw counts\n0,1000\n0.5,3000\n", Format{CountZero: 1000, PerCount: 0.01},
			[]float64{0, 0.5}, []float64{0, 20}},
		"clock": {"timestamp,force_N\n2026-03-01 10:00:00.000,1\n2026-03-01 10:00:00.250,2\n", Format{},
			[]float64{0, 0.25}, []float64{1, 2}},
		"time of day": {"time;force N\n10:00:00,000;1,5\n10:00:01,000;2,5\n", Format{}, []float64{0, 1},
			[]float64{1.5, 2.5}},
		"named columns": {"a,b,c\n0,9,1\n1,9,2\n", Format{TimeColumn: "a", ForceColumn: "3", ForceUnit: "N",
			TimeUnit: "s"}, []float64{0, 1}, []float64{1, 2}},
		"byte-order mark": {"\xef\xbb\xbftime_s,force_N\n0,1\n1,2\n", Format{}, []float64{0, 1}, []float64{1, 2}},
		"comments": {"# made by a logger\n# v2\ntime_s,force_N\n0,1\n# pause\n1,2\n", Format{}, []float64{0, 1},
			[]float64{1, 2}},
	} {
		l, err := Parse(name, []byte(c.text), c.f)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for i := range c.times {
			if i >= len(l.Time) || math.Abs(l.Time[i]-c.times[i]) > 1e-9 || math.Abs(l.Force[i]-c.force[i]) > 1e-9 {
				t.Errorf("%s: times %v, forces %v (format %+v)", name, l.Time, l.Force, l.Format)
				break
			}
		}
	}
}

func TestNothingIsDroppedInSilence(t *testing.T) {
	text := "time_s,force_N,block_degC\n0,1,210\n0.1,2,210\n0.1,2,210\nboot,ok,\n0.2,nan,210\n0.3,4,211\n" +
		"5.0,5,211\n0.0,6,212\n0.1,7,212\n,,\n"
	l, err := Parse("x", []byte(text), Format{})
	if err != nil {
		t.Fatal(err)
	}
	n := l.Faults()
	if n.Junk != 3 || n.Repeated != 1 || n.Gaps != 1 || n.Resets != 1 {
		t.Errorf("%+v: %+v %+v", n, l.Junk, l.Resets)
	}
	if l.Rows != len(l.Time)+n.Junk+n.Repeated {
		t.Errorf("%d rows, %d used, %d junk, %d repeated", l.Rows, len(l.Time), n.Junk, n.Repeated)
	}
	if l.Junk.First[0].Line != 5 || l.Repeated.First[0].Line != 4 || l.Resets.First[0].Line != 9 {
		t.Errorf("lines %v %v %v", l.Junk, l.Repeated, l.Resets)
	}
	for i := 1; i < len(l.Time); i++ {
		if l.Time[i] <= l.Time[i-1] {
			t.Errorf("time does not rise: %v", l.Time)
		}
	}
}

func TestUnreadableLogsSayWhatToState(t *testing.T) {
	for text, want := range map[string]string{
		"":                              "no rows",
		"time_s,value\n0,1\n1,2\n":      "state the unit",
		"time_s,raw\n0,1\n1,2\n":        "calibration",
		"force_N\n1\n2\n":               "sampling rate",
		"time_s,force_N\nx,y\nz,w\n":    "at least 2",
		"hello world\nthis is not data": "",
	} {
		_, err := Parse("x.csv", []byte(text), Format{})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	if _, err := Parse("x.csv", []byte("time_s,force_N\n0,1\n1,2\n"), Format{ForceColumn: "push"}); err == nil ||
		!strings.Contains(err.Error(), "force_N") {
		t.Errorf("a column that is not there: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("time_s,force_N\n0,1\n0.1,2\n"))
	f.Add([]byte("0,5;1\n0,6;2\n"))
	f.Add([]byte("10:00:00;1\n10:00:01;2\n"))
	f.Add([]byte("\xff\xfe\n,,,\n;;\n1 2 3\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		for _, form := range []Format{{}, {ForceUnit: "N", Rate: 10}, {ForceUnit: "counts", PerCount: 1e-3,
			TimeUnit: "ms", DecimalComma: 1}} {
			l, err := Parse("f", src, form)
			if err != nil {
				continue
			}
			if len(l.Time) != len(l.Force) || l.Rows != len(l.Time)+l.Junk.Count+l.Repeated.Count {
				t.Fatalf("%d rows, %d times, %d forces, %d junk, %d repeated", l.Rows, len(l.Time), len(l.Force),
					l.Junk.Count, l.Repeated.Count)
			}
			for i, x := range l.Force {
				if math.IsNaN(x) || math.IsInf(x, 0) || math.IsNaN(l.Time[i]) {
					t.Fatal("not a number")
				}
			}
		}
	})
}

// BenchmarkParse reads a million rows.
func BenchmarkParse(b *testing.B) {
	var buf bytes.Buffer
	buf.WriteString("time_s,force_N,block_degC\n")
	for i := range 1000000 {
		fmt.Fprintf(&buf, "%.3f,%.2f,%.1f\n", float64(i)/80, 30+10*math.Sin(float64(i)/50), 215.0)
	}
	b.SetBytes(int64(buf.Len()))
	for b.Loop() {
		if _, err := Parse("b", buf.Bytes(), Format{}); err != nil {
			b.Fatal(err)
		}
	}
}

// A slow column beside a fast one leaves cells empty: the value before it is kept, and counted; nothing shifts.
func TestEmptyCellsBesideKeepTheValueBefore(t *testing.T) {
	l, err := Parse("x", []byte("time_s,block_degC,flow_mm3_s,force_N\n0,,5,1\n1,210,5,2\n2,,5,3\n3,208,x,4\n"+
		"4,207,6,5\n"), Format{})
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{210, 210, 210, 208, 207}
	for i, b := range l.Block {
		if math.Abs(float64(b)-273.15-want[i]) > 1e-4 {
			t.Errorf("row %d: %g K", i, b)
		}
	}
	if l.Faults().Held != 3 || len(l.Flow) != 5 || math.Abs(float64(l.Flow[3])-5e-9) > 1e-15 ||
		l.Held.First[2].Line != 5 {
		t.Errorf("%+v, flow %v", l.Held, l.Flow)
	}
	l, err = Parse("x", []byte("time_s,block_degC,force_N\n0,,1\n1,,2\n2,,3\n"), Format{})
	if err != nil || l.Block != nil {
		t.Errorf("a column without a number is none: %v %v", l.Block, err)
	}
}

// A clock in whole seconds beside ten rows a second, from the middle of a second on: the rows are spread evenly,
// nothing counts as repeated.
func TestCoarseClockIsSpread(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("time,force_N\n")
	for i := 4; i < 204; i++ {
		fmt.Fprintf(&b, "10:00:%02d,%d\n", i/10, 5*(i%3))
	}
	l, err := Parse("x", b.Bytes(), Format{})
	if err != nil {
		t.Fatal(err)
	}
	if l.Stamp != 1 || len(l.Time) != 200 || math.Abs(l.Step-0.1) > 1e-9 || l.Faults() != (Counted{}) {
		t.Errorf("stamp %g, %d rows, step %g, faults %+v", l.Stamp, len(l.Time), l.Step, l.Faults())
	}
	for i, x := range l.Time {
		if math.Abs(x-0.1*float64(i)) > 1e-9 {
			t.Fatalf("row %d at %g s", i, x)
		}
	}
	// Every row twice is a fault of the logger, not a coarse clock.
	if l, err = Parse("x", []byte("time_s,force_N\n0,1\n0,1\n1,2\n1,2\n2,3\n2,3\n3,4\n3,4\n"), Format{}); err != nil ||
		l.Stamp != 0 || l.Repeated.Count != 4 {
		t.Errorf("%+v, %v", l, err)
	}
}

// Spreadsheets write UTF-16 with a mark in front.
func TestUTF16(t *testing.T) {
	text := "time_s;force_N\r\n0;1,5\r\n1;2,5\r\n2;3,5\r\n"
	for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		src := order.AppendUint16(nil, 0xfeff)
		for _, u := range utf16.Encode([]rune(text)) {
			src = order.AppendUint16(src, u)
		}
		l, err := Parse("x", src, Format{})
		if err != nil || len(l.Force) != 3 || l.Force[2] != 3.5 {
			t.Errorf("%v: %+v, %v", order, l, err)
		}
	}
}

// A column that is neither named nor anything else is force; block and flow are not taken for it.
func TestOtherColumnsAreNotForce(t *testing.T) {
	l, err := Parse("x", []byte("time_s,block_degC,cell\n0,210,1\n1,210,2\n2,210,3\n"), Format{ForceUnit: "N"})
	if err != nil || l.Force[2] != 3 || l.Block == nil {
		t.Errorf("%+v, %v", l, err)
	}
}
