package loadcell

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Logs in which a wrong column is near at hand: what must be taken for time and force, and how much the second row is.
func TestTheRightColumnsAreTaken(t *testing.T) {
	rows := func(format string, n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, float64(i)*0.1, 2+float64(i%3))
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		text  string
		f     Format
		time  string // header or number taken
		force string
		unit  string
		at    float64 // s, second row
		value float64 // N, second row
	}{
		"torque before thrust": {"time_s,torque_Nm,thrust_N\n" + rows("%.1f,0.2,%.0f\n", 9), Format{}, "time_s",
			"thrust_N", "N", 0.1, 3},
		"torque in brackets": {"Time (s),Torque (N·m),Thrust (kgf)\n" + rows("%.1f,0.2,%.0f\n", 9), Format{},
			"Time (s)", "Thrust (kgf)", "kgf", 0.1, 3 * 9.80665},
		"torque [N-m]": {"t [s];M [N-m];F [N]\n" + rows("%.1f;0.2;%.0f\n", 9), Format{}, "t [s]", "F [N]", "N", 0.1, 3},
		"names and units in two rows": {"Test 14\nOperator;AB\nTime;Extension;Load\n(s);(mm);(N)\n" +
			rows("%.1f;1.5;%.0f\n", 9),
			Format{}, "Time", "Load", "N", 0.1, 3},
		"units row without brackets": {"Time\tStroke\tForce\ns\tmm\tkN\n" + rows("%.1f\t1.5\t%.0f\n", 9), Format{},
			"Time", "Force", "kN", 0.1, 3000},
		"mm3/s is no time": {"flow mm3/s,force N,t\n5,2,0\n5,3,0.1\n5,4,0.2\n", Format{TimeUnit: "s"}, "t",
			"force N", "N", 0.1, 3},
		"flow first, by number only": {"mm3/s,N,s\n5,2,0\n5,3,0.1\n5,4,0.2\n", Format{}, "s", "N", "N", 0.1, 3},
		"battery level": {"time_ms,battery_level,weight_g\n0,98,200\n100,98,300\n200,98,400\n", Format{},
			"time_ms", "weight_g", "gf", 0.1, 2.941995},
		"battery without units": {"ms,battery,reading\n0,98,2\n100,98,3\n200,98,4\n", Format{ForceUnit: "N"},
			"ms", "reading", "N", 0.1, 3},
		"header in a remark": {"# time_s, temp_C, force_N\n0,210,2\n0.1,210,3\n0.2,210,4\n", Format{},
			"time_s", "force_N", "N", 0.1, 3},
		"rate in a preamble": {"rate,80\ncell,5\ntime_s,force_N\n0,2\n0.1,3\n0.2,4\n", Format{}, "time_s",
			"force_N", "N", 0.1, 3},
		"two numbers, no header":       {"0 2\n100 3\n200 4\n", Format{ForceUnit: "N"}, "1", "2", "N", 0.1, 3},
		"time behind force, no header": {"2 0\n5 100\n3 200\n", Format{ForceUnit: "N"}, "2", "1", "N", 0.1, 5},
		"pounds": {"time_s,load_lbf\n0,2\n0.1,3\n", Format{}, "time_s", "load_lbf", "lbf", 0.1,
			13.3446648},
		"ounces":       {"time_s,load oz\n0,2\n0.1,3\n", Format{}, "time_s", "load oz", "ozf", 0.1, 0.834041551},
		"millinewtons": {"time_s,load (mN)\n0,2\n0.1,3\n", Format{}, "time_s", "load (mN)", "mN", 0.1, 0.003},
		"rate wins":    {"time_s,force_N\n0,2\n0.1,3\n0.2,4\n", Format{Rate: 80}, "0", "force_N", "N", 0.0125, 3},
		"camel case":   {"timeMs,forceN\n0,2\n100,3\n200,4\n", Format{}, "timeMs", "forceN", "N", 0.1, 3},
		"old code page": {"time s;temp \xb0C;flow mm\xb3/s;force N\n0;210;5;2\n0,1;210;5;3\n0,2;210;5;4\n", Format{},
			"time s", "force N", "N", 0.1, 3},
		"serial monitor": {"12:03:44.123 -> boot\n12:03:44.123 -> 2\n12:03:44.223 -> 3\n12:03:44.323 -> 4\n",
			Format{ForceUnit: "N"},
			"1", "2", "N", 0.1, 3},
		"serial monitor with pairs": {"12:03:44.123 -> load:2.0 g temp:210\n12:03:44.223 -> load:3.0 g temp:210\n",
			Format{}, "1", "load", "gf", 0.1, 0.02941995},
		"pairs": {"t=0.0 F=2.0 T=210\nt=0.1 F=3.0 T=210\nt=0.2 F=4.0 T=211\n", Format{ForceUnit: "N"},
			"t", "F", "N", 0.1, 3},
		"pairs with commas": {"millis:0,force_N:2,temp:210\nmillis:100,force_N:3,temp:210\n", Format{}, "millis",
			"force_N", "N", 0.1, 3},
		"readings with unit": {"0.0, 2.0 N\n0.1, 3.0 N\n0.2, 4.0 N\n", Format{}, "1", "2", "N", 0.1, 3},
		"lines of JSON": {`{"t":0,"cell":{"force_N":2},"ok":true}` + "\n" +
			`{"t":0.1,"cell":{"force_N":3},"ok":true}` + "\n", Format{}, "t", "cell force_N", "N", 0.1, 3},
		"AM and PM": {"time,force_N\n11:59:59.9 AM,2\n12:00:00.0 PM,3\n12:00:00.1 PM,4\n", Format{},
			"time", "force_N", "N", 0.1, 3},
		"past midnight": {"time,force_N\n23:59:59.9,2\n00:00:00.0,3\n00:00:00.1,4\n", Format{}, "time",
			"force_N", "N", 0.1, 3},
		"seconds since 1970": {"timestamp,force_N\n1767225600.0,2\n1767225600.1,3\n", Format{}, "timestamp",
			"force_N", "N", 0.1, 3},
		"milliseconds since 1970": {"timestamp,force_N\n1767225600000,2\n1767225600100,3\n", Format{}, "timestamp",
			"force_N", "N", 0.1, 3},
		"quoted cells": {"\"Time, s\",\"Force, N\"\n\"0\",\"2\"\n\"0.1\",\"3\"\n", Format{}, "Time, s", "Force, N",
			"N", 0.1, 3},
	} {
		l, err := Parse(name, []byte(c.text), c.f)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got := map[string]Column{}
		for _, x := range l.Columns {
			got[x.Role] = x
		}
		is := func(x Column, want string) bool { return x.Name == want || fmt.Sprint(x.Number) == want }
		if !is(got["time"], c.time) || !is(got["force"], c.force) || got["force"].Unit != c.unit {
			t.Errorf("%s: taken %v", name, l.Columns)
		}
		if math.Abs(l.Time[1]-c.at) > 1e-4 || math.Abs(l.Force[1]-c.value) > 1e-6 {
			t.Errorf("%s: second row at %g s, %g N; want %g, %g", name, l.Time[1], l.Force[1], c.at, c.value)
		}
	}
}

// Where nothing tells which column is the force, the log is refused with the list and the option.
func TestUncertainColumnsAreRefused(t *testing.T) {
	for name, text := range map[string]string{
		"three readings":        "time_s,a1,a2,a3\n0,1,2,3\n1,2,3,4\n2,1,2,3\n",
		"three loads":           "time_s,load,force,thrust\n0,1,2,3\n1,2,3,4\n2,1,2,3\n",
		"no header, three more": "0 5 210 7\n1 6 210 8\n2 5 211 7\n",
		"no header, two more":   "0 5 210\n1 6 210\n2 5 211\n",
	} {
		_, err := Parse("x.csv", []byte(text), Format{ForceUnit: "N", TimeUnit: "s"})
		if err == nil || !strings.Contains(err.Error(), "--force-column") ||
			!strings.Contains(err.Error(), "that could be it") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if l, err := Parse("x.csv", []byte("0 5 210\n1 6 210\n2 5 211\n"),
		Format{ForceUnit: "N", TimeUnit: "s", ForceColumn: "2"}); err != nil || l.Force[1] != 6 {
		t.Errorf("%+v %v", l, err)
	}
}

// Flow comes as a speed of filament, a volume a minute, or a switch.
func TestFlowUnits(t *testing.T) {
	area := math.Pi / 4 * 1.75 * 1.75
	for header, want := range map[string]float64{"flow_mm3_s": 6, "flow (mm3/min)": 0.1, "feed mm/s": 6 * area,
		"feedrate [mm/min]": 0.1 * area, "flow ml/min": 100, "feeding": 1e9} {
		text := "time_s,force_N," + header + "\n0,1,6\n1,2,6\n2,3,6\n3,4,0\n"
		if header == "feeding" {
			text = strings.ReplaceAll(text, ",6\n", ",on\n")
			text = strings.ReplaceAll(text, ",0\n", ",off\n")
		}
		l, err := Parse("x", []byte(text), Format{})
		if err != nil {
			t.Errorf("%s: %v", header, err)
			continue
		}
		if l.Flow == nil || math.Abs(float64(l.Flow[1])*1e9-want) > 1e-5*want {
			t.Errorf("%s: %v in %q; want %g", header, l.Flow, l.Format.FlowUnit, want)
		}
	}
}

func TestPackedLogs(t *testing.T) {
	text := "time_s,force_N\n0,2\n0.1,3\n0.2,4\n"
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	if _, err := w.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	x := excelize.NewFile()
	for i, row := range [][]any{{"Bench of today"}, {"time s", "force N"}, {0, 2}, {0.1, 3.0}, {0.2, 4}} {
		if err := x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row); err != nil {
			t.Fatal(err)
		}
	}
	sheet, err := x.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	for name, src := range map[string][]byte{"gz": z.Bytes(), "xlsx": sheet.Bytes()} {
		l, err := Parse(name, src, Format{})
		if err != nil || len(l.Force) != 3 || l.Force[1] != 3 || math.Abs(l.Time[1]-0.1) > 1e-12 {
			t.Errorf("%s: %+v, %v", name, l, err)
		}
	}
	for name, src := range map[string][]byte{"gz": z.Bytes()[:20], "xlsx": sheet.Bytes()[:200]} {
		if _, err := Parse(name, src, Format{}); err == nil {
			t.Errorf("a damaged %s was read", name)
		}
	}
}

// A spreadsheet stores times as parts of a day.
func TestSheetTimes(t *testing.T) {
	x := excelize.NewFile()
	for i, row := range [][]any{{"timestamp", "force N"}, {46000.5, 2}, {46000.5 + 0.5/86400, 3},
		{46000.5 + 1.0/86400, 4}} {
		if err := x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row); err != nil {
			t.Fatal(err)
		}
	}
	sheet, err := x.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	l, err := Parse("x.xlsx", sheet.Bytes(), Format{})
	if err != nil || math.Abs(l.Time[2]-1) > 1e-4 {
		t.Errorf("%+v %v", l, err)
	}
}
