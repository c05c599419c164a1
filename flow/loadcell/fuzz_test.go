package loadcell

import (
	"bytes"
	"math"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Whatever a log holds, its analysis ends in finite numbers or an error.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte{0, 0, 0, 0, 0, 0, 9, 20, 30, 30, 30, 30, 60, 90, 30, 20, 20, 20, 20, 0, 0, 0}, byte(10))
	f.Add([]byte{90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 0, 0, 0, 0}, byte(2))
	f.Fuzz(func(t *testing.T, y []byte, rate byte) {
		l := &Log{Name: "f", Step: 1 / (1 + float64(rate)), Rows: len(y)}
		for i, b := range y {
			l.Time = append(l.Time, float64(i)*l.Step*(1+float64(b&1)))
			l.Force = append(l.Force, float64(b)-3)
			if rate%2 == 1 {
				l.Flow = append(l.Flow, float32(b>>7)*5e-9)
			}
			if i > 0 && l.Time[i] <= l.Time[i-1] {
				l.Time[i] = l.Time[i-1] + l.Step
			}
		}
		zero := 0.0
		for _, s := range []Settings{{}, {Zero: &zero}, {Negative: 1}, {TareFrom: 0, TareTo: 3}} {
			a, err := Analyse(l, s)
			if err != nil {
				continue
			}
			for _, x := range a.Tests {
				for _, v := range []float64{x.Peak, x.PeakTime, x.PeakError, x.Ripple.Frequency, x.Ripple.Amplitude,
					a.Tare, a.Noise} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%+v", x)
					}
				}
				if x.Last != nil && (math.IsNaN(x.Last.Force) || math.IsNaN(x.Last.SE) || math.IsInf(x.Last.SE, 0)) {
					t.Fatalf("%+v", x.Last)
				}
			}
		}
	})
}

// FuzzRows: lines of JSON, of names and values, and of a serial monitor are read to finite numbers or refused; every
// row is used or counted.
func FuzzRows(f *testing.F) {
	f.Add("{\"t\":", "0.1", ",\"force_N\":", "2}")
	f.Add("{\"a\":{\"time_s\":", "1", ",\"push\":", "\"3 N\"}}")
	f.Add("t:", "0.1", " force:", "23.4 N")
	f.Add("12:00:0", "1", ".5 -> ", "239")
	f.Fuzz(func(t *testing.T, a, b, c, d string) {
		var src bytes.Buffer
		for i := range 4 { // a clock that moves on
			src.WriteString(a + string(rune('0'+i)) + b + c + d + "\n")
		}
		for _, form := range []Format{{}, {ForceUnit: "N", Rate: 10}} {
			l, err := Parse("f", src.Bytes(), form)
			if err == nil {
				finite(t, l)
			}
		}
	})
}

// finite fails where a log holds what is no number, or a row is lost.
func finite(t *testing.T, l *Log) {
	t.Helper()
	if len(l.Time) != len(l.Force) || l.Rows != len(l.Time)+l.Junk.Count+l.Repeated.Count {
		t.Fatalf("%d rows, %d times, %d forces, %d junk, %d repeated", l.Rows, len(l.Time), len(l.Force), l.Junk.Count,
			l.Repeated.Count)
	}
	for i, x := range l.Force {
		if math.IsNaN(x) || math.IsInf(x, 0) || math.IsNaN(l.Time[i]) {
			t.Fatal("not a number")
		}
	}
}

// FuzzSpreadsheet: a damaged file is refused, and a sheet of any cells is read as its text would be.
func FuzzSpreadsheet(f *testing.F) {
	x := excelize.NewFile()
	for i, row := range [][]any{{"time_s", "force_N"}, {0, 1}, {0.5, 2}} {
		cell, _ := excelize.CoordinatesToCellName(1, i+1)
		x.SetSheetRow("Sheet1", cell, &row)
	}
	var whole bytes.Buffer
	if err := x.Write(&whole); err != nil {
		f.Fatal(err)
	}
	f.Add(uint16(100), byte(7), "0.25", "3")
	f.Add(uint16(5000), byte(0), "=1+1", "\t\n")
	f.Fuzz(func(t *testing.T, at uint16, bits byte, a, b string) {
		damaged := bytes.Clone(whole.Bytes())
		damaged[int(at)%len(damaged)] ^= bits
		if l, err := Parse("f.xlsx", damaged, Format{}); err == nil {
			finite(t, l)
		}
		// what a workbook holds of these texts and what a table of tabs holds of them are one log
		y := excelize.NewFile()
		table := "time_s\tforce_N\n"
		y.SetSheetRow("Sheet1", "A1", &[]any{"time_s", "force_N"})
		for i, row := range [][]string{{"0", "1"}, {a, b}, {"2", "3"}} {
			cell, _ := excelize.CoordinatesToCellName(1, i+2)
			y.SetSheetRow("Sheet1", cell, &[]any{row[0], row[1]})
			table += inOneCell.Replace(row[0]) + "\t" + inOneCell.Replace(row[1]) + "\n"
		}
		var w bytes.Buffer
		if y.Write(&w) != nil {
			return
		}
		l, err := Parse("f.xlsx", w.Bytes(), Format{})
		if err != nil {
			return
		}
		finite(t, l)
		if m, err := Parse("f.tsv", []byte(table), Format{}); err == nil && len(m.Force) != len(l.Force) {
			t.Fatalf("%q, %q: %d rows of the sheet, %d of its text", a, b, len(l.Force), len(m.Force))
		}
	})
}
