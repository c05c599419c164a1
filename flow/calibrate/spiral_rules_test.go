package calibrate

import (
	"errors"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"meltload/flow/casefile"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/materials/unit"
)

// linear is a fit of lengths whose logarithms are lines: row i changes by a[i] with a step of the resistance and by
// b[i] with one of the no-flow temperature, and is as measured at a place that is known. It notes the places asked for.
func linear(a, b []float64, true unknowns) (f *spiralFit, asked *[]unknowns) {
	f = &spiralFit{start: 390}
	for i := range a {
		f.points = append(f.points, Spiral{Length: 10e-3 * float64(i+1), U: 0.5e-3 * float64(i+1)}) // 5 % of it
	}
	asked = &[]unknowns{}
	f.reach = func(contact, noFlow float64) ([]float64, error) {
		x := unknowns{1 / contact, noFlow - f.start}
		*asked = append(*asked, x)
		out := make([]float64, len(a))
		for i := range out {
			out[i] = f.points[i].Length *
				math.Exp(a[i]*(x[0]-true[0])/1e-4+b[i]*(x[1]-true[1])/5)
		}
		return out, nil
	}
	return f, asked
}

// The sum that is made least, by hand: the pull towards the start is 1 at the bounds, 1/200 m2 K/W of resistance and
// 50 K either way; a resistance of a step below 0 costs 1 more; each length counts by its logarithm over 5 per cent.
func TestCostOfLengths(t *testing.T) {
	f, _ := linear([]float64{0.1, -0.2}, []float64{0.05, 0}, unknowns{3e-4, 0})
	for _, x := range []struct {
		v    unknowns
		want float64
	}{
		{unknowns{3e-4, 0}, math.Pow(1e-4*200, 2)},
		{unknowns{4e-4, 10}, math.Pow(2e-4*200, 2) + 0.04 + math.Pow(0.2/0.05, 2) + math.Pow(0.2/0.05, 2)},
		{unknowns{-1e-4, 0}, math.Pow(3e-4*200, 2) + 1 + math.Pow(0.3/0.05, 2) + math.Pow(0.6/0.05, 2)},
	} {
		got, err := f.cost(x.v, unknowns{2e-4, 0})
		if err != nil || math.Abs(got/x.want-1) > 1e-9 {
			t.Errorf("at %v: %g, want %g, %v", x.v, got, x.want, err)
		}
	}
}

// The search ends where the normal equations of the linear model do, within a quarter of a standard uncertainty; within
// the bounds if that lies outside; and at once where a filling has no answer.
func TestSearchOfLengths(t *testing.T) {
	a, b := []float64{0.3, 0.1, 0.2}, []float64{0.05, 0.3, 0.2}
	f, _ := linear(a, b, unknowns{6e-4, -8})
	start := unknowns{1.0 / 3000, 0}
	x, settled, err := f.search(start)
	if err != nil || !settled {
		t.Fatal(settled, err)
	}
	// In steps: (J'J + P) d = J'J (true - start), with J over 5 per cent and P = (0.02^2, 0.1^2).
	var aa, ab, bb float64
	for i := range a {
		aa, ab, bb = aa+a[i]*a[i]*400, ab+a[i]*b[i]*400, bb+b[i]*b[i]*400
	}
	dr, dT := (6e-4-start[0])/1e-4, -8.0/5
	g, h := aa*dr+ab*dT, ab*dr+bb*dT
	det := (aa+0.0004)*(bb+0.01) - ab*ab
	want := unknowns{start[0] + 1e-4*(g*(bb+0.01)-h*ab)/det, 5 * (h*(aa+0.0004) - g*ab) / det}
	if u := [2]float64{1e-4 * math.Sqrt(bb/det), 5 * math.Sqrt(aa/det)}; math.Abs(x[0]-want[0]) > u[0]/4 ||
		math.Abs(x[1]-want[1]) > u[1]/4 {
		t.Errorf("%v, want %v within %v", x, want, u)
	}
	f, _ = linear(a, b, unknowns{-9e-4, 0})
	if x, _, err = f.search(start); err != nil || x[0] < 0 || x[0] > 0.3e-4 {
		t.Errorf("%v where less than no resistance fits best, %v", x, err)
	}
	failed, calls := errors.New("no answer"), 0
	f.reach = func(_, _ float64) ([]float64, error) { calls++; return nil, failed }
	if _, settled, err = f.search(start); err != failed || settled || calls > 3 {
		t.Errorf("after %d fillings without answer: %v, %t", calls, err, settled)
	}
}

// How a length changes with a step is taken from half a step below to half a step above, from the bound where that is
// nearer.
func TestSlopesOfLengths(t *testing.T) {
	a, b := []float64{0.3, -0.1}, []float64{0.05, 0.2}
	for _, x := range []struct {
		at   unknowns
		want [4]unknowns
	}{
		{unknowns{6e-4, -8}, [4]unknowns{{5.5e-4, -8}, {6.5e-4, -8}, {6e-4, -10.5}, {6e-4, -5.5}}},
		{unknowns{0, 50}, [4]unknowns{{0, 50}, {0.5e-4, 50}, {0, 47.5}, {0, 50}}},
		{unknowns{50e-4, -50}, [4]unknowns{{49.5e-4, -50}, {50e-4, -50}, {50e-4, -50}, {50e-4, -47.5}}},
	} {
		f, asked := linear(a, b, unknowns{6e-4, -8})
		j, err := f.jacobian(x.at)
		if err != nil {
			t.Fatal(err)
		}
		for i := range a {
			if math.Abs(j.At(i, 0)-a[i]/0.05) > 1e-9 || math.Abs(j.At(i, 1)-b[i]/0.05) > 1e-9 {
				t.Errorf("at %v: row %d changes by %g and %g", x.at, i, j.At(i, 0), j.At(i, 1))
			}
		}
		for i, want := range x.want {
			if got := (*asked)[i]; math.Abs(got[0]-want[0]) > 1e-12 || math.Abs(got[1]-want[1]) > 1e-9 {
				t.Errorf("at %v: asked at %v, want %v", x.at, got, want)
			}
		}
	}
}

// The intervals of contact and no-flow temperature by hand, with all that bounds them and what counts as known.
func TestIntervalsOfLengths(t *testing.T) {
	// J'J = (14 7; 7 17), and the pull of (0.02^2, 0.1^2) beside it.
	det := 14.0004*17.01 - 49
	r, k := 1.96e-4*math.Sqrt(17.01/det), 1.96*5*math.Sqrt(14.0004/det) // half of the intervals
	for _, x := range []struct {
		what      string
		rows      int
		squares   float64 // of what the lengths miss by
		at        unknowns
		was, band float64 // m2 K/W and K, known before
		scale     float64
		known     [2]bool
	}{
		{"a good fit", 3, 0.5, unknowns{4e-4, -8}, 2 * r / 0.7 * 1.01, k * 1.01, 1, [2]bool{true, true}},
		{"as wide as before", 3, 0.5, unknowns{4e-4, -8}, 2 * r / 0.7 * 0.99, k * 0.99, 1, [2]bool{false, false}},
		{"twice the scatter", 3, 4, unknowns{4e-4, -8}, 4 * r / 0.7 * 1.01, 2 * k * 0.99, 2, [2]bool{true, false}},
		{"twice the scatter of four", 4, 8, unknowns{4e-4, -8}, 4 * r / 0.7 * 0.99, 2 * k * 1.01, 2, [2]bool{false,
			true}},
		{"two lengths", 2, 9, unknowns{4e-4, -8}, 2 * r / 0.7 * 0.99, k * 1.01, 1, [2]bool{false, true}},
		{"at the low ends", 3, 0.5, unknowns{0.1e-4, -49.9}, 1, 99, 1, [2]bool{true, true}},
		{"at the high ends", 3, 0.5, unknowns{49.9e-4, 49.9}, 1, 99, 1, [2]bool{true, true}},
	} {
		f := &spiralFit{start: 390, s: casefile.Invented().Setup.Clone()}
		m := f.s.Mould
		m.ContactRange, m.NoFlowRange = [2]float64{1 / (x.was + 1e-4), 1e4}, x.band
		out := &SpiralFit{}
		_, out.NoFlow.Value = f.values(x.at)
		for range x.rows {
			f.points = append(f.points, Spiral{Length: 10e-3, U: 0.5e-3})
			out.Predicted = append(out.Predicted, 10e-3*math.Exp(0.05*math.Sqrt(x.squares/float64(x.rows))))
		}
		j := mat.NewDense(4, 2, []float64{3, 1, 1, 4, 2, 0, 0, 0}).Slice(0, max(2, x.rows), 0, 2).(*mat.Dense)
		if x.rows == 2 { // the same J'J of two rows: its Cholesky factor
			l := math.Sqrt(14)
			j = mat.NewDense(2, 2, []float64{l, 7 / l, 0, math.Sqrt(17 - 49/14.0)})
		}
		if err := f.intervals(out, x.at, j); err != nil {
			t.Fatal(err)
		}
		r, k := r*x.scale, k*x.scale
		low, high := 1/math.Min(1.0/200, x.at[0]+r), math.Inf(1)
		if x.at[0] > r {
			high = 1 / (x.at[0] - r)
		}
		c, z := out.Contact, out.NoFlow
		if math.Abs(c.Low/low-1) > 1e-9 || math.IsInf(high, 1) != math.IsInf(c.High, 1) ||
			high < math.Inf(1) && math.Abs(c.High/high-1) > 1e-9 {
			t.Errorf("%s: contact %g to %g, want %g to %g", x.what, c.Low, c.High, low, high)
		}
		if math.Abs(z.Low-390-math.Max(-50, x.at[1]-k)) > 1e-9 || math.Abs(z.High-390-math.Min(50, x.at[1]+k)) > 1e-9 {
			t.Errorf("%s: no flow %g to %g, half of it %g about %g", x.what, z.Low-390, z.High-390, k, x.at[1])
		}
		if c.Known != x.known[0] || z.Known != x.known[1] || (c.Why == "") != c.Known || (z.Why == "") != z.Known {
			t.Errorf("%s: known %t and %t, want %v; %q, %q", x.what, c.Known, z.Known, x.known, c.Why, z.Why)
		}
	}
	// One length cannot tell two: its J'J has no inverse by itself, and what the pull leaves is as wide as before.
	f := &spiralFit{start: 390, s: casefile.Invented().Setup.Clone(), points: []Spiral{{Length: 10e-3, U: 0.5e-3}}}
	out := &SpiralFit{Predicted: []float64{10e-3}}
	if err := f.intervals(out, unknowns{4e-4, 0}, mat.NewDense(1, 2, []float64{6, 2})); err != nil ||
		out.Contact.Known ||
		out.NoFlow.Known {
		t.Errorf("one length tells %+v and %+v, %v", out.Contact, out.NoFlow, err)
	}
	for r, want := range map[float64]float64{-1: math.Inf(1), 0: math.Inf(1), 1e-6: math.Inf(1), 1.1e-6: 1 / 1.1e-6} {
		if got := contactOf(r); got != want {
			t.Errorf("a resistance of %g is a contact of %g", r, got)
		}
	}
}

// The strip of a row follows the sprue and the runners in place of the cavities, once for each of their ends, and is
// longer than the melt ran; how far it runs is counted from the gate.
func TestStripOfARow(t *testing.T) {
	s := &casefile.Invented().Setup
	sprue := mould.Element{Name: "sprue", Shape: mould.Sprue, D1: 4e-3, D2: 5e-3, Length: 3e-3, Copies: 1}
	runner := mould.Element{Name: "runner", Shape: mould.Sprue, D1: 4e-3, D2: 4e-3, Length: 4e-3, Copies: 2}
	cavity := mould.Element{Name: "tag", Shape: mould.StripGap, Width: 9e-3, Height: 1e-3, Length: 20e-3, Copies: 4,
		Cavity: true}
	row := Spiral{Block: unit.Kelvin(230), Mould: unit.Kelvin(41), Flow: 5e-9, Thickness: 2e-3, Width: 8e-3,
		Length: 7e-3}
	s.Mould.NoFlow = 401
	for _, x := range []struct {
		feed   []mould.Element
		copies int
	}{{nil, 1}, {[]mould.Element{sprue}, 1}, {[]mould.Element{sprue, runner}, 2}} {
		s.Mould.Elements = append(append([]mould.Element{}, x.feed...), cavity)
		f, err := newSpiralFit(t.Context(), s, []Spiral{row})
		if err != nil {
			t.Fatal(err)
		}
		n := f.setup(0, 1234, 399)
		e := n.Mould.Elements
		want := mould.Element{Name: "spiral", Shape: mould.StripGap, Width: 8e-3, Height: 2e-3, Length: 28e-3,
			Copies: x.copies, Cavity: true}
		if len(e) != len(x.feed)+1 || e[len(e)-1] != want || n.Block != row.Block || n.Mould.Surface != row.Mould ||
			n.Mould.Flow != row.Flow || n.Mould.Contact != 1234 || n.Mould.NoFlow != 399 || f.start != 401 {
			t.Errorf("%+v from %g: %+v", n.Mould, f.start, e)
		}
		if len(s.Mould.Elements) != len(x.feed)+1 || s.Mould.Contact == 1234 {
			t.Error("the set-up itself was changed")
		}
		if x.copies == 1 && len(x.feed) == 1 {
			got, err := f.fill(1234, 399)
			if err != nil || f.solves != 1 {
				t.Fatal(f.solves, err)
			}
			set := n.Mould.Settings()
			set.Melt, set.Supply = f.supply[0].Melt, f.supply[0].Pressure
			set.Stations = mould.DefaultStations * 3 / 4
			r, err := mould.Fill(t.Context(), &n.Case, &n.Mould.Mould, set)
			if err != nil || math.Abs(got[0]-(r.Front-3e-3)) > 1e-12 {
				t.Errorf("%g m, the front is at %g, %v", got[0], r.Front, err)
			}
		}
	}
	none := *s
	none.Mould = nil
	cold := row
	cold.Mould = unit.Kelvin(229)
	for what, x := range map[string]struct {
		s   *setup.Setup
		pts []Spiral
	}{"mould": {&none, []Spiral{row}}, "lengths": {s, nil}, "row 2": {s, []Spiral{row, cold}}} {
		if _, err := FitSpirals(t.Context(), x.s, x.pts); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
}
