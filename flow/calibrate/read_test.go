package calibrate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow/loadcell"
)

func TestReadPoints(t *testing.T) {
	p, err := ReadPoints("x", strings.NewReader("# invented\nblock_degC, flow_mm3_s, force_kgf, "+
		"u_N\n210,5,2,0.5\n220,10,3,\n"))
	if err != nil || len(p) != 2 || math.Abs(p[0].Force-19.6133) > 1e-9 || p[0].U != 0.5 || p[1].U != 0 ||
		math.Abs(p[1].Block-493.15) > 1e-9 {
		t.Errorf("%+v, %v", p, err)
	}
	_, err = ReadPoints("x.csv", strings.NewReader("block_C,flow_mm3_s,force_N\n210,5,10\n"))
	if err == nil || !strings.Contains(err.Error(), `"block_degC"`) {
		t.Errorf("got %v", err)
	}
	_, err = ReadPoints("x.csv", strings.NewReader("block_degC,flow_mm3_s,force_N\n210,0,10\nhot,5,10\n210,5\n"))
	if err == nil || strings.Count(err.Error(), "\n") != 2 || !strings.Contains(err.Error(), "x.csv:3") {
		t.Errorf("every bad cell is to be named: %v", err)
	}
}

// A log of two pushes that end in grinding makes two traces, each cut where the feeder gives way; the zero is found.
func TestTraceFromLog(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,block_degC,flow_mm3_s,force_N\n")
	now := 0.0
	put := func(n int, flow float64, force func(x float64) float64) {
		for i := range n {
			fmt.Fprintf(&b, "%.1f,%.1f,%g,%.3f\n", now, 210-0.01*now, flow,
				2.4+0.05*math.Sin(9*now)+force(0.1*float64(i)))
			now += 0.1
		}
	}
	for range 2 {
		put(50, 0, func(float64) float64 { return 0 })
		put(200, 5, func(x float64) float64 { return 20*(1-math.Exp(-x/0.3)) + x })
		put(60, 5, func(x float64) float64 { return 12 + 28*math.Exp(-x/0.05) })
		put(60, 0, func(x float64) float64 { return 12 * math.Exp(-x/0.3) })
	}
	l, err := loadcell.Parse("x", []byte(b.String()), loadcell.Format{})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := FromLog(l, nil)
	if err != nil || len(tr) != 2 {
		t.Fatalf("%d traces, %v", len(tr), err)
	}
	for i, x := range tr {
		n := len(x.Time)
		if x.Time[0] != 0 || math.Abs(x.Time[n-1]-20) > 0.4 || math.Abs(x.Force[n-1]-40) > 2 ||
			math.Abs(x.Flow[1]-5e-9) > 1e-15 {
			t.Errorf("trace %d: %d samples, ends at %.1f s with %.1f N", i+1, n, x.Time[n-1], x.Force[n-1])
		}
	}
	for _, src := range []string{"time_s,force_N\n0,1\n1,2\n2,3\n",
		"time_s,block_degC,flow_mm3_s,force_N\n0,210,0,1\n1,210,0,1\n2,210,0,9\n"} {
		l, err := loadcell.Parse("x.csv", []byte(src), loadcell.Format{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := FromLog(l, nil); err == nil || !strings.Contains(err.Error(), "x.csv") {
			t.Errorf("%q: got %v", src, err)
		}
	}
	a, err := loadcell.Analyse(l, loadcell.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	a.Tests[0].Last = nil
	if p, left := Plateaus(a.Tests); len(p)+len(left) != 2 || len(left) == 0 {
		t.Errorf("%+v %v", p, left)
	}
}

// A fit that runs through what is not melt is told, with its stretch.
func TestMisfitNamesTheStretch(t *testing.T) {
	f := Fitted{Trace: Trace{U: 0.5}}
	for i := range 100 {
		f.Time, f.Block, f.Flow = append(f.Time, float64(i)), append(f.Block, 480), append(f.Flow, 5e-9)
		f.Force, f.Predicted = append(f.Force, 40), append(f.Predicted, 40.4)
		if i > 70 {
			f.Force[i] = 12
		}
	}
	f.Before = f.Predicted
	r := &Result{Traces: []Fitted{f}}
	if s := r.Misfit(); !strings.Contains(s, "trace 1 is missed") || !strings.Contains(s, "+28 N off") {
		t.Errorf("%q", s)
	}
	r.Traces[0].U = 10
	if s := r.Misfit(); s != "" {
		t.Errorf("%q", s)
	}
	r = &Result{Points: []Point{{Block: 480, Flow: 5e-9, Force: 20, U: 1}, {Block: 480, Flow: 9e-9, Force: 30, U: 1}},
		Predicted: []float64{21, 40}, Before: []float64{21, 40}}
	if s := r.Misfit(); !strings.Contains(s, "9 mm3/s") {
		t.Errorf("%q", s)
	}
}

func FuzzReadPoints(f *testing.F) {
	f.Add("block_degC,flow_mm3_s,force_N\n210,5,10\n")
	f.Add("a,b\n\"")
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ReadPoints("f", strings.NewReader(s))
		if err == nil && len(p) == 0 {
			t.Fatal("neither points nor an error")
		}
		for _, x := range p {
			if !(x.Force > 0) || !(x.Flow > 0) || math.IsInf(x.Force, 0) {
				t.Fatalf("%+v", x)
			}
		}
	})
}

// A spreadsheet where the decimal sign is a comma gives semicolons.
func TestPointsFromASpreadsheetWithDecimalCommas(t *testing.T) {
	pts, err := ReadPoints("x", strings.NewReader("block_degC;flow_mm3_s;force_N\r\n195;3;21,7\r\n205;5,5;23,6\r\n"))
	if err != nil || len(pts) != 2 || pts[0].Force != 21.7 || math.Abs(pts[1].Flow/5.5e-9-1) > 1e-12 {
		t.Errorf("%v %v", pts, err)
	}
}
