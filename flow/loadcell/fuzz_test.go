package loadcell

import (
	"bytes"
	"math"
	"slices"
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

// FuzzSpreadsheet: a spreadsheet with a damaged byte, or cut short, is refused or read to finite numbers.
func FuzzSpreadsheet(f *testing.F) {
	whole := workbook(f, [][]any{{"time_s", "force_N"}, {0, 1}, {0.5, 2}})
	f.Add(uint16(100), byte(7), uint16(0))
	f.Add(uint16(5000), byte(0), uint16(40))
	f.Fuzz(func(t *testing.T, at uint16, bits byte, short uint16) {
		damaged := bytes.Clone(whole[:len(whole)-int(short)%len(whole)])
		damaged[int(at)%len(damaged)] ^= bits
		if l, err := Parse("f.xlsx", damaged, Format{}); err == nil {
			finite(t, l)
		}
	})
}

// workbook is a spreadsheet of rows.
func workbook(t testing.TB, rows [][]any) []byte {
	t.Helper()
	x := excelize.NewFile()
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		if err == nil {
			err = x.SetSheetRow("Sheet1", cell, &row)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What a spreadsheet holds of some cells and what a table with tabs holds of them is one log, odd cells too.
func TestSpreadsheetIsItsText(t *testing.T) {
	for _, odd := range [][2]string{{"1", "2"}, {"0,5", "2"}, {"=1+1", "2"}, {"a\tb", "2"}, {"1", "x\ny"}, {"", "2"},
		{"NaN", "inf"}, {"\"", "3"}} {
		l, err := Parse("f.xlsx", workbook(t, [][]any{{"time_s", "force_N"}, {"0", "1"}, {odd[0], odd[1]},
			{"2", "3"}, {"3", "4"}}), Format{})
		if err != nil {
			t.Errorf("%q: %v", odd, err)
			continue
		}
		finite(t, l)
		m, err := Parse("f.tsv", []byte("time_s\tforce_N\n0\t1\n"+inOneCell.Replace(odd[0])+"\t"+
			inOneCell.Replace(odd[1])+"\n2\t3\n3\t4\n"), Format{})
		if err != nil || !slices.Equal(l.Force, m.Force) || !slices.Equal(l.Time, m.Time) {
			t.Errorf("%q: %v %v of the sheet, %v %v of its text (%v)", odd, l.Time, l.Force, m.Time, m.Force, err)
		}
	}
}
