package calibrate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow/loadcell"
	"meltload/flow/setup"
	"meltload/materials/unit"
)

// one is a fit of a single push whose force is so many times that predicted before.
func one(ratio float64) *Result {
	return &Result{Points: []Point{{Force: ratio}}, Before: []float64{1}, Predicted: []float64{ratio}}
}

// Forces that differ by less than three times look like no mistake of units; from there on the mistake is named whose
// ratio is within a factor 1.45. kgf and lbf in newtons by NIST SP 811.
func TestRatiosOfWrongUnits(t *testing.T) {
	const kgf, lbf = 9.80665, 4.4482216
	for ratio, want := range map[float64]string{1000: "grams in a column of kgf",
		1000 / kgf: "grams (gf) in a column of newtons", kgf: "newtons in a column of kgf",
		lbf:     "newtons taken for pounds",
		1 / lbf: "pounds (lbf) in a column", 1 / kgf: "kgf in a column of newtons",
		kgf / 1000: "newtons taken for grams",
		1e-3:       "kgf in a column of grams"} {
		for off, near := range map[float64]bool{1: true, 1.44: true, 1 / 1.44: true, 1.46: false, 1 / 1.46: false} {
			got := one(ratio * off).wrongUnit()
			if strings.Contains(got, want) != near || near != strings.Contains(got, fmt.Sprintf("ratio of %.3g)",
				ratio)) ||
				!strings.Contains(got, fmt.Sprintf("are %.3g times", ratio*off)) {
				t.Errorf("%g times %g: %s", ratio, off, got)
			}
		}
	}
	for x, want := range map[float64]bool{2.99: false, 3.01: true, 1: false, 1 / 2.99: false, 1 / 3.01: true} {
		if got := one(x).wrongUnit(); (got != "") != want || one(x).Doubtful() != want {
			t.Errorf("%g times: %q", x, got)
		}
	}
	// Between a pair of them the nearer one: 6.6 is 1.48 times a pound and 1/1.49 of a kilogram force, neither.
	if got := one(6.8).wrongUnit(); !strings.Contains(got, "kgf") {
		t.Error(got)
	}
	if got := (&Result{}).wrongUnit(); got != "" {
		t.Error(got)
	}
}

// What is warned of: one measurement, as many as factors that are told, forces that look like another unit where no
// factor is far, and pairs that trade off. A trace has measurements enough.
func TestWarningsOfAFit(t *testing.T) {
	known := func(n int) (out []Value) {
		for i := range 4 {
			out = append(out, Value{Known: i < n})
		}
		return out
	}
	for _, x := range []struct {
		points, known, traces int
		want                  string
	}{{1, 1, 0, "one measurement cannot"}, {1, 0, 0, "one measurement cannot"}, {2, 2, 0,
		"2 measurements for 2 factors"},
		{3, 2, 0, ""}, {2, 3, 0, "2 measurements for 3 factors"}, {2, 1, 0, ""}, {1, 1, 1, ""}, {2, 2, 1, ""}} {
		r := Result{Values: known(x.known), Traces: make([]Fitted, x.traces)}
		for range x.points {
			r.Points, r.Before = append(r.Points, Point{Force: 1}), append(r.Before, 1)
		}
		w := r.Warnings()
		if len(w) != min(1, len(x.want)) || len(w) > 0 && (w[0].Code != "one-measurement" ||
			!strings.Contains(w[0].Message, x.want)) {
			t.Errorf("%+v: %v", x, w)
		}
	}
	r := &Result{Points: []Point{{Force: 10}, {Force: 10}}, Before: []float64{1, 1}}
	if w := r.Warnings(); len(w) != 1 || w[0].Code != "force-ratio" {
		t.Errorf("%v", w)
	}
	r.Values = []Value{{Known: true, Far: 2.1, Label: "a", Unit: "K", Value: 7, Band: [2]float64{3, 5},
		toEdge: func(x float64) float64 { return 2 * x }}}
	r.Alike = []setup.Correlation{{First: "a", Second: "b", Value: -0.876}}
	w := r.Warnings()
	if len(w) != 2 || w[0].Code != "far-from-known" || !strings.Contains(w[0].Message,
		"the forces ask for a 14 K, far outside the 6 to 10 known before") || !strings.Contains(w[0].Message,
		"10 times those predicted") || w[1].Code != "trade-off" || !strings.Contains(w[1].Message,
		"(correlation -0.88)") {
		t.Errorf("%v", w)
	}
	r.Before = []float64{10, 10}
	if w := r.Warnings(); w[0].Code != "far-from-known" || strings.Contains(w[0].Message, "times those") ||
		!r.Doubtful() {
		t.Errorf("%v", w)
	}
}

// A trace is missed from four times its uncertainty on, root mean square over the samples with a flow but the first;
// the tenth of it that is missed most is named, with its sign.
func TestMissOfATraceByHand(t *testing.T) {
	f := Fitted{}
	for i := range 50 {
		f.Time, f.Block = append(f.Time, 2*float64(i)), append(f.Block, unit.Kelvin(200+float64(i)))
		f.Flow, f.Force, f.Predicted = append(f.Flow, 5e-9), append(f.Force, 30), append(f.Predicted, 30)
	}
	f.Predicted[0], f.Predicted[49], f.Flow[49] = 0, 9, 0 // the start, and standing melt
	for i := 20; i < 25; i++ {
		f.Predicted[i] = 14
	}
	f.Predicted[5] = 60
	rms := math.Sqrt((5*16*16 + 30*30) / 48.0)
	for u, want := range map[float64]string{rms / 4.01: "is missed by 6.7 N rms, 4.0 times its uncertainty; most " +
		"from 40 to 48 s (block 220 to 224 degC), where the prediction is -16 N off", rms / 3.99: "", 0: ""} {
		f.U = u
		if got := f.misfit(); got != want {
			t.Errorf("within %g N: %q, want %q", u, got, want)
		}
	}
	// In the words of a result with the number of the trace, and the unit that it looks like where it does.
	f.U = rms / 5
	f.Before = make([]float64, 50)
	for i := range f.Before {
		f.Before[i] = 30 / 9.8
	}
	r := Result{Traces: []Fitted{f, f}}
	r.Traces[0].U = rms
	if got := r.Misfit(); !strings.HasPrefix(got, "trace 2 is missed") || !strings.Contains(got,
		"in a column of kgf") ||
		!strings.HasSuffix(got, firstLook) {
		t.Error(got)
	}
	for i := range f.Before {
		f.Before[i] = 30
	}
	if got := r.Misfit(); strings.Contains(got, "kgf") {
		t.Error(got)
	}
	// Of pushes the root mean square counts, by hand: (3, 5) times the uncertainty is 4.12.
	p := Result{Points: []Point{{Force: 10, U: 1}, {Force: 20, U: 2}}, Predicted: []float64{7, 30}, Before: []float64{9,
		20}}
	if got := p.Misfit(); !strings.Contains(got, "missed by 4.1 times") || !strings.Contains(got, "predicted 30 N") {
		t.Error(got)
	}
}

// A cell at either end of what is allowed is read, one beyond is not, and each is turned into SI.
func TestBoundsOfMeasuredCells(t *testing.T) {
	type column struct {
		name   string
		lo, hi float64
		plain  string
	}
	beyond := func(x, by float64) float64 { return x + by*math.Max(0.02*math.Abs(x), 0.001) }
	table := func(columns []column, k int, cell string) string {
		var head, row []string
		for i, c := range columns {
			head = append(head, c.name)
			if i == k {
				row = append(row, cell)
			} else {
				row = append(row, c.plain)
			}
		}
		return strings.Join(head, ",") + "\n" + strings.Join(row, ",") + "\n"
	}
	for what, x := range map[string]struct {
		columns []column
		read    func(text string) error
	}{
		"pushes": {[]column{{"block_degC", 20, 500, "210"}, {"flow_mm3_s", 0.01, 1000, "5"}, {"force_N", 0.1, 5000,
			"9"},
			{"u_N", 0.001, 1000, "1"}, {"land_mm", 0, 100, "2"}},
			func(text string) error { _, err := ReadPoints("x", strings.NewReader(text)); return err }},
		"pushes in kgf": {[]column{{"block_degC", 20, 500, "210"}, {"flow_mm3_s", 0.01, 1000, "5"},
			{"force_kgf", 0.01, 500, "2"}},
			func(text string) error { _, err := ReadPoints("x", strings.NewReader(text)); return err }},
		"spirals": {[]column{{"block_degC", 50, 500, "210"}, {"mould_degC", -20, 350, "40"},
			{"flow_mm3_s", 0.01, 1000, "5"}, {"thickness_mm", 0.1, 20, "2"}, {"width_mm", 0.1, 200, "8"},
			{"length_mm", 0.5, 5000, "90"}, {"u_mm", 0.01, 1000, "1"}},
			func(text string) error { _, err := ReadSpirals("x", strings.NewReader(text)); return err }},
	} {
		for k, c := range x.columns {
			for cell, ok := range map[float64]bool{c.lo: true, c.hi: true, beyond(c.lo, -1): false, beyond(c.hi,
				1): false} {
				if err := x.read(table(x.columns, k, fmt.Sprint(cell))); (err == nil) != ok {
					t.Errorf("%s: %s = %g: %v", what, c.name, cell, err)
				}
			}
		}
	}
	p, err := ReadPoints("x",
		strings.NewReader("block_degC,flow_mm3_s,force_N,land_mm\n210,5,9,2.5\n210,5,9,0\n210,5,9,\n"))
	if err != nil || len(p) != 3 || p[0].Land != 2.5e-3 || p[0].NoNozzle || p[1].Land != 0 || !p[1].NoNozzle ||
		p[2].Land != 0 || p[2].NoNozzle || p[0].Force != 9 || !near(p[0].Block, 483.15) || !near(p[0].Flow, 5e-9) {
		t.Errorf("%+v, %v", p, err)
	}
	s, err := ReadSpirals("x",
		strings.NewReader("block_degC,mould_degC,flow_mm3_s,thickness_mm,width_mm,length_mm,u_mm\n"+
			"210,40,5,2,8,90,3\n"))
	want := Spiral{Block: 483.15, Mould: 313.15, Flow: 5e-9, Thickness: 2e-3, Width: 8e-3, Length: 90e-3, U: 3e-3}
	if err != nil || len(s) != 1 {
		t.Fatal(s, err)
	}
	for name, x := range map[string][2]float64{"block": {s[0].Block, want.Block}, "mould": {s[0].Mould, want.Mould},
		"flow": {s[0].Flow, want.Flow}, "thickness": {s[0].Thickness, want.Thickness},
		"width": {s[0].Width, want.Width}, "length": {s[0].Length, want.Length}, "u": {s[0].U, want.U}} {
		if !near(x[0], x[1]) {
			t.Errorf("%s %g, want %g", name, x[0], x[1])
		}
	}
}

// A plateau is a push at its own block temperature and flow; what its mean scatters by is added to what a push is known
// to. One without a plateau, a temperature or a flow is left out, with the reason.
func TestPushesOfPlateaus(t *testing.T) {
	at := func(block, flow float64) *loadcell.Plateau {
		return &loadcell.Plateau{Force: 20, SE: 0.4, Block: block, Flow: flow}
	}
	tests := []loadcell.Test{{Last: at(480, 5e-9), First: at(470, 4e-9)}, {}, {Last: at(0, 5e-9), Log: "b.csv"},
		{Last: at(480, 0)}}
	got, left := Plateaus(tests)
	if len(got) != 1 || !near(got[0].U, math.Hypot(0.9, 0.4)) || got[0].Block != 480 || got[0].Flow != 5e-9 ||
		got[0].Force != 20 {
		t.Errorf("%+v", got)
	}
	for i, want := range []string{"test 2: no steady", "test 3 of b.csv: no block", "test 4: no flow"} {
		if i >= len(left) || !strings.HasPrefix(left[i], want) {
			t.Errorf("%v, want %q", left, want)
		}
	}
}

// A trace begins where the feed does, though the force comes later, and not before the flow is more than nothing; it
// ends where the force is let go. The zero is that of the log or the one stated. Each push has its own, also where the
// feed goes on between two of them.
func TestTraceBeginsWithItsFlow(t *testing.T) {
	type stretch struct {
		n     int
		flow  float64
		force func(x float64) float64 // of the time since it began
	}
	level := func(y float64) func(float64) float64 { return func(float64) float64 { return y } }
	rise := func(x float64) float64 { return 25 * (1 - math.Exp(-x/0.4)) }
	fall := func(x float64) float64 { return 25 * math.Exp(-x/0.1) }
	read := func(list ...stretch) *loadcell.Log {
		var b strings.Builder
		b.WriteString("time_s,block_degC,flow_mm3_s,force_N\n")
		k := 0
		for _, s := range list {
			for i := range s.n {
				fmt.Fprintf(&b, "%.1f,%.2f,%g,%.3f\n", 0.1*float64(k), 210-0.01*float64(k), s.flow,
					1.5+0.02*math.Sin(9*float64(k))+s.force(0.1*float64(i)))
				k++
			}
		}
		l, err := loadcell.Parse("x", []byte(b.String()), loadcell.Format{})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	stated := 1.0
	for what, x := range map[string]struct {
		log    *loadcell.Log
		zero   *float64
		starts []int // rows
		force  float64
	}{
		"at once": {read(stretch{60, 0, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}), nil, []int{60}, 25},
		"slack": {read(stretch{60, 0, level(0)}, stretch{40, 5, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}),
			nil, []int{60}, 25},
		"late flow": {read(stretch{60, 0, level(0)}, stretch{20, 0, rise}, stretch{150, 5, level(25)},
			stretch{60, 0, fall}), nil, []int{80}, 25},
		"zero given": {read(stretch{60, 0, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}), &stated, []int{60},
			25.5},
		"two pushes": {read(stretch{60, 0, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}, stretch{150, 5,
			rise},
			stretch{60, 0, fall}), nil, []int{60, 270}, 25},
		"fed throughout": {read(stretch{60, 5, level(0)}, stretch{150, 5, rise}, stretch{60, 5, fall}), nil, []int{0},
			25},
		// the row in which the feed stops has the force still
		"ten rows": {read(stretch{60, 0, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}, stretch{30, 0,
			level(25)},
			stretch{9, 5, level(25)}, stretch{60, 0, fall}), nil, []int{60, 300}, 25},
		"nine rows": {read(stretch{60, 0, level(0)}, stretch{150, 5, rise}, stretch{60, 0, fall}, stretch{30, 0,
			level(25)},
			stretch{8, 5, level(25)}, stretch{60, 0, fall}), nil, []int{60}, 25},
	} {
		got, err := FromLog(x.log, x.zero)
		if err != nil || len(got) != len(x.starts) {
			t.Errorf("%s: %d traces, %v", what, len(got), err)
			continue
		}
		for i, tr := range got {
			row := x.starts[i]
			n := len(tr.Time)
			if tr.Time[0] != 0 || math.Abs(tr.Block[0]-float64(x.log.Block[row])) > 1e-9 || !(tr.Flow[0] > 0) ||
				math.Abs(tr.Time[n-1]-0.1*float64(n-1)) > 1e-6 || math.Abs(tr.Force[n-2]-x.force) > 0.1 ||
				math.Abs(tr.Flow[n-2]-5e-9) > 1e-15 {
				t.Errorf("%s: trace %d from %g K and %g m3/s to %g N after %g s, want row %d", what, i, tr.Block[0],
					tr.Flow[0],
					tr.Force[n-2], tr.Time[n-1], row)
			}
		}
	}
	if _, err := FromLog(read(stretch{60, 0, level(0)}, stretch{150, 0, rise}, stretch{60, 0, fall}),
		nil); err == nil ||
		!strings.Contains(err.Error(), "nothing was fed") {
		t.Errorf("no flow at all: %v", err)
	}
}
