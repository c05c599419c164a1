package calibrate

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/num"
)

// constant is a problem of the starter case whose factors are constant forces, so that all of it can be done by hand: a
// push with the hot end off is the drag, 2 N by 1.9 N either way, and the offset, 0 N by 5 N either way.
func constant(t *testing.T, u float64, forces []float64, ids ...Factor) *problem {
	t.Helper()
	s := &casefile.Invented().Setup
	var fs []factor
	for _, id := range ids {
		f, err := factors(s, []Factor{id})
		if err != nil {
			t.Fatal(err)
		}
		fs = append(fs, f...)
	}
	var pts []Point
	for _, x := range forces {
		pts = append(pts, Point{NoNozzle: true, Force: x, U: u})
	}
	return newProblem(s, pts, fs)
}

// keep makes forces known at a place, whatever the model says there.
func keep(p *problem, z []float64, forces ...float64) {
	p.known.Get(p.place(&p.quick, z), func() []float64 { return forces })
}

func near(a, b float64) bool {
	return a == b || math.Abs(a-b) <= 1e-9*math.Max(math.Abs(a), math.Abs(b))
}

// Value, interval and what is left of the band of a drag that is told, by hand: J = 1.9/u for each push. The interval
// is Student's for the number of pushes, wider where they scatter, and never wider than the band; one that is not told
// keeps its band and has a reason.
func TestValuesOfAFitByHand(t *testing.T) {
	for _, x := range []struct {
		z, u    float64
		forces  []float64
		student float64
	}{
		{0.9, 0.3, []float64{3.5, 3.9, 4, 3.4}, 2.7764451052},
		{0.9, 0.3, []float64{2.5, 4.9, 5, 3.4}, 2.7764451052}, // much scatter
		{0.9, 0.3, []float64{3.7}, 12.7062047362},             // wider than the band by itself
		{0.1, 0.3, []float64{2.2, 2.2}, 4.3026527297},
	} {
		p := constant(t, x.u, x.forces, vary.Drag)
		n := float64(len(x.forces))
		sum := x.z * x.z
		for _, f := range x.forces {
			sum += math.Pow((2+1.9*x.z-f)/x.u, 2)
		}
		u := math.Sqrt(math.Max(1, sum/n)) / math.Sqrt(1+n*1.9*1.9/x.u/x.u)
		half := math.Min(1, x.student*u) * 1.9
		p.s.Doubts = map[string]setup.Doubt{string(vary.Bore): {Kind: setup.PlusMinus, High: 1e-5}}
		var r Result
		p.values(&r, []float64{x.z}, []bool{true})
		v := r.Values[0]
		lo, hi := math.Max(0, 2+1.9*x.z-half), 2+1.9*x.z+half
		if !near(r.ChiSquared, sum/n) || !near(v.Tells, 1/u) || math.Abs(v.Low-lo) > 1e-6 ||
			math.Abs(v.High-hi) > 1e-6 ||
			!near(v.Value, 2+1.9*x.z) || !near(v.Start, 2) || v.Far != x.z || !v.Known || v.Why != "" {
			t.Errorf("%v: %+v, chi squared %g; want %g to %g, %g, %g", x.forces, v, r.ChiSquared, lo, hi, 1/u, sum/n)
		}
		d := r.Setup.Doubts
		if d[string(vary.Drag)] != (setup.Doubt{Kind: setup.Interval, Low: v.Low, High: v.High, Calibrated: true}) ||
			len(d) != 2 || len(p.s.Doubts) != 1 {
			t.Errorf("%v: the bands left are %v", x.forces, d)
		}
		if q := vary.Must(r.Setup, vary.Drag); !near(q.Get(r.Setup), v.Value) {
			t.Errorf("%v: the set-up has %g", x.forces, q.Get(r.Setup))
		}
		p.s.Doubts = nil
		for _, why := range []string{"", "because"} {
			var r Result
			p.f[0].why = why
			p.values(&r, []float64{0}, []bool{false})
			v := r.Values[0]
			if v.Known || v.Low != v.Band[0] || v.High != v.Band[1] || v.Tells != 1 || !strings.Contains(v.Why, why) ||
				why == "" && !strings.Contains(v.Why, "hardly change") || len(r.Setup.Doubts) != 0 {
				t.Errorf("not told: %+v, %v", v, r.Setup.Doubts)
			}
		}
	}
	// An offset is told and yet no quantity of the case: there is nothing to write.
	p := constant(t, 0.3, []float64{3.7, 3.7}, Offset)
	p.s.Doubts = nil
	var r Result
	p.values(&r, []float64{0.3}, []bool{true})
	if r.Offset != 1.5 || len(r.Setup.Doubts) != 0 || len(r.Edits()) != 0 {
		t.Errorf("%g N, %v, %v", r.Offset, r.Setup.Doubts, r.Edits())
	}
}

// A factor goes back where less than a fifth of what was not known is told, as well as the fit goes, the worst first;
// one at a bound of computing goes before all others.
func TestFactorsThatGoBack(t *testing.T) {
	both := []bool{true, true}
	for _, x := range []struct {
		what   string
		p      *problem
		z      []float64
		told   []bool
		want   int
		reason string
	}{
		// J = 1.9/2: 0.725 is left, times what the push or the factor itself is off by
		{"a drag well off", constant(t, 2, []float64{2 + 1.9*1.10}, vary.Drag), []float64{1.10}, both[:1], -1, ""},
		{"a drag too far off", constant(t, 2, []float64{2 + 1.9*1.11}, vary.Drag), []float64{1.11}, both[:1], 0,
			"scatter"},
		{"a push well off", constant(t, 2, []float64{4.20}, vary.Drag), []float64{0}, both[:1], -1, ""},
		{"a push too far off", constant(t, 2, []float64{4.22}, vary.Drag), []float64{0}, both[:1], 0, "scatter"},
		{"two pushes, one off", constant(t, 2, []float64{2, 8.4}, vary.Drag), []float64{0}, both[:1], 0, "scatter"},
		{"a close fit", constant(t, 2, []float64{2}, vary.Drag), []float64{0}, both[:1], -1, ""},
		{"hardly told", constant(t, 1.9/0.749, []float64{2}, vary.Drag), []float64{0}, both[:1], 0, "scatter"},
		{"just told", constant(t, 1.9/0.751, []float64{2}, vary.Drag), []float64{0}, both[:1], -1, ""},
		{"not told", constant(t, 20, []float64{2}, vary.Drag), []float64{0}, []bool{false}, -1, ""},
		// of the sum of both the offset takes the larger part, so that less is known of the drag
		{"the worse first", constant(t, 20, []float64{2}, vary.Drag, Offset), []float64{0, 0}, both, 0, "scatter"},
		{"the worse last", constant(t, 20, []float64{2}, Offset, vary.Drag), []float64{0, 0}, both, 1, "scatter"},
		{"no drag", constant(t, 0.1, []float64{0.1}, vary.Drag), []float64{-1.05}, both[:1], -1, ""},
		{"all that drag can be", constant(t, 20, []float64{2}, Offset, vary.Drag), []float64{0, 198 / 1.9}, both, 1,
			"bound of 200"},
		{"all that an offset can be", constant(t, 0.1, []float64{2}, Offset), []float64{-4}, both[:1], 0,
			"bound of -20"},
	} {
		i, why := x.p.unfit(x.z, x.told)
		if i != x.want || i >= 0 && !strings.Contains(why, x.reason) {
			t.Errorf("%s: factor %d, %s; want %d", x.what, i, why, x.want)
		}
	}
}

// The covariance that is left, by hand: the inverse of J'J + 1 over the factors that are fitted.
func TestCovarianceByHand(t *testing.T) {
	j := mat.NewDense(2, 3, []float64{1, 2, 5, 0, 1, 7})
	// J'J + 1 = (2 2; 2 6) of the first two: its determinant is 8
	c := covariance(j, []bool{true, true, false})
	for i, want := range [][]float64{{6.0 / 8, -2.0 / 8, 0}, {-2.0 / 8, 2.0 / 8, 0}, {0, 0, 1}} {
		for k := range want {
			if math.Abs(c.At(i, k)-want[k]) > 1e-12 {
				t.Errorf("(%d, %d): %g, want %g", i, k, c.At(i, k), want[k])
			}
		}
	}
	u := spreads(j, []bool{true, true, false})
	if !near(u[0], math.Sqrt(0.75)) || !near(u[1], 0.5) || u[2] != 1 {
		t.Errorf("%v", u)
	}
}

// A factor is told if by itself, without what factors told before say, it brings its uncertainty down to half: from a
// norm of the square root of 3 on. The strongest comes first.
func TestFactorsThatAreTold(t *testing.T) {
	for _, x := range []struct {
		what string
		rows []float64
		want []bool
	}{
		{"both sides of the root of 3", []float64{1.74, 0, 0, 1.72}, []bool{true, false}},
		{"a norm of 1.8 by two rows", []float64{1.25, 0, 1.3, 0}, []bool{true, false}},
		{"alike, the first stronger", []float64{3, 2.9, 0, 0.5}, []bool{true, false}},
		{"alike, the second stronger", []float64{3, 3.1, 0, 0.5}, []bool{false, true}},
		{"apart by 1.8", []float64{4, 2, 0, 1.8}, []bool{true, true}},
		{"apart by 1.7", []float64{4, 2, 0, 1.7}, []bool{true, false}},
		{"opposite", []float64{4, -3.9, 0, 0.1}, []bool{true, false}},
		{"nothing", []float64{0, 0, 0, 0}, []bool{false, false}},
	} {
		if got := pick(mat.NewDense(2, 2, x.rows)); !slices.Equal(got, x.want) {
			t.Errorf("%s: %v", x.what, got)
		}
	}
	// The third is a sum of the two before: nothing is left of it. Rows: (5, 0, 4), (0, 4, 3).
	if got := pick(mat.NewDense(2, 3, []float64{5, 0, 4, 0, 4, 2})); !slices.Equal(got, []bool{true, true, false}) {
		t.Errorf("%v", got)
	}
	p := constant(t, 1.9/1.74, []float64{2}, vary.Drag)
	if !p.told([]float64{0})[0] {
		t.Error("a drag with a slope of 1.74 is not told")
	}
}

// A small step of the search that has no answer leaves the factors; derivatives by a factor without forces on one side
// count as none.
func TestDerivativesWhereThereIsNoAnswer(t *testing.T) {
	p := constant(t, 0.5, []float64{3, 3}, vary.Drag, Offset)
	j := p.derivatives([]float64{0, 0}, func(_ *problem, w []float64) []float64 {
		out := []float64{7*w[0] + 3*w[1]*w[1] + 2*w[1], math.Exp(w[0])}
		if w[0] > 0 {
			out[1] = math.Inf(1)
		}
		if w[1] < 0 {
			out[1] = math.NaN()
		}
		return out
	})
	// central: the square leaves nothing
	for i, want := range [][]float64{{7, 2}, {0, 0}} {
		for k := range want {
			if math.Abs(j.At(i, k)-want[k]) > 1e-9 {
				t.Errorf("(%d, %d): %g, want %g", i, k, j.At(i, k), want[k])
			}
		}
	}
	// A pass of the search takes the slope from the side below, where the forces are known here; at the lower bound
	// from that above. Forces without end make none.
	p = constant(t, 0.5, []float64{3, 3}, vary.Drag)
	keep(p, []float64{1}, 4, 5)
	keep(p, []float64{p.f[0].clip(1 - steadyStep)}, 3.8, 4.4)
	keep(p, []float64{p.f[0].clip(1 + steadyStep)}, 9, 9)
	floor := p.f[0].clip(-9)
	keep(p, []float64{floor}, 1, 2)
	keep(p, []float64{p.f[0].clip(floor + steadyStep)}, 1.3, math.Inf(1))
	for z, want := range map[float64][2]float64{1: {0.2 / steadyStep / 0.5, 0.6 / steadyStep / 0.5},
		floor: {0.3 / steadyStep / 0.5, 0}} {
		j := p.slopes([]float64{z}, []bool{true})
		for i := range want {
			if math.Abs(j.At(i, 0)-want[i]) > 1e-6 {
				t.Errorf("at %g: slope %d is %g, want %g", z, i, j.At(i, 0), want[i])
			}
		}
	}
}

// alongTraces is a problem of one push and two traces, of 10 and 13 samples.
func alongTraces(t *testing.T) (*setup.Setup, *problem, []Trace) {
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Drag, vary.Viscosity})
	if err != nil {
		t.Fatal(err)
	}
	p := newProblem(s, []Point{{Block: 488, Flow: 6e-9, Force: 17, U: 0.5}}, fs)
	var xs []Trace
	for _, n := range []int{10, 13} {
		x := Trace{U: 0.2}
		for i := range n {
			x.Time, x.Block = append(x.Time, 0.5*float64(i)), append(x.Block, 488-float64(i)/4)
			x.Flow, x.Force = append(x.Flow, 6e-9), append(x.Force, 15+0.1*float64(i))
		}
		xs = append(xs, x)
	}
	if err := p.check(xs); err != nil {
		t.Fatal(err)
	}
	return s, p, xs
}

// Along a trace: the last time step of fewer steps takes what samples are left; up to twelve samples count fully; each
// trace has its own. What is computed is counted once.
func TestForcesAlongTraces(t *testing.T) {
	s, p, xs := alongTraces(t)
	z := []float64{0, 0}
	full := p.forces(&p.full, z)
	if want := 1 + 9 + 12; len(full) != 1+10+13 || p.solves != want {
		t.Errorf("%d forces, %d solutions, want %d", len(full), p.solves, want)
	}
	p.forces(&p.full, z)
	quick := p.forces(&p.quick, z)
	if want := 1 + 9 + 12 + 1 + 2 + 2; p.solves != want {
		t.Errorf("%d solutions with the quick ones, want %d", p.solves, want)
	}
	p.jacobian(z) // two sides of two factors
	p.slopes(z, []bool{false, true})
	if want := 27 + 4*5; p.solves != want {
		t.Errorf("%d solutions with derivatives, want %d", p.solves, want)
	}
	v := march.New(&s.Case, march.Options{Cells: quickCells, Axial: quickAxial})
	var d flow.Solution
	v.Soak(488)
	var want []float64
	for _, to := range []int{6, 9} {
		dt := 0.5 * float64(6)
		if to == 9 {
			dt = 0.5 * 3
		}
		if err := v.Advance(xs[0].Block[to], 6e-9, dt, &d); err != nil {
			t.Fatal(err)
		}
		want = append(want, d.Push)
	}
	for i, x := range map[int]float64{3: want[0] / 2, 6: want[0], 7: want[0] + (want[1]-want[0])/3, 9: want[1]} {
		if got := quick[1+i]; !near(got, x) {
			t.Errorf("sample %d: %g N, want %g", i, got, x)
		}
	}
	r := p.residuals(z)
	u := math.Hypot(0.2, 0.05)
	if got, want := r[1], (full[2]-15.1)/u; !near(got, want) {
		t.Errorf("first residual of ten samples %g, want %g", got, want)
	}
	if got, want := r[1+9], (full[1+10+1]-15.1)/u/math.Sqrt(13.0/12); !near(got, want) {
		t.Errorf("first residual of 13 samples %g, want %g", got, want)
	}
}

// A sensor that is off is off along a trace.
func TestSensorThatIsOffAlongATrace(t *testing.T) {
	s, _, xs := alongTraces(t)
	fs, err := factors(s, []Factor{vary.Block})
	if err != nil {
		t.Fatal(err)
	}
	off := newProblem(s, nil, fs)
	if err := off.check(xs[:1]); err != nil {
		t.Fatal(err)
	}
	warm := xs[0]
	warm.Block = nil
	for _, T := range xs[0].Block {
		warm.Block = append(warm.Block, T+fs[0].half)
	}
	n := *s
	n.Block += fs[0].half // so that the losses are those of a warmer block
	there := newProblem(&n, nil, nil)
	if err := there.check([]Trace{warm}); err != nil {
		t.Fatal(err)
	}
	for i, want := range there.forces(&there.quick, nil) {
		if got := off.forces(&off.quick, []float64{1})[i]; !near(got, want) {
			t.Errorf("with a sensor that is off, sample %d: %g N, want %g", i, got, want)
		}
	}
}

// Where a step has no answer the forces about it are without end, and a fit there is as bad as can be.
func TestTraceWithoutAnAnswer(t *testing.T) {
	_, p, _ := alongTraces(t)
	z := []float64{0, 0}
	p.traces[0].Block[6] = -100
	p.known = &num.Cache[string, []float64]{Limit: 9}
	for i, x := range p.forces(&p.quick, z)[1:11] {
		if math.IsInf(x, 1) != (i >= 1 && i <= 6) || math.IsNaN(x) {
			t.Errorf("without an answer at sample 6: %g N at %d", x, i)
		}
	}
	if c := p.sum(&p.full, z); !math.IsInf(c, 1) {
		t.Errorf("a sum of %g where there is no answer", c)
	}
	p.traces[0].Block[6], p.traces[0].Force[3] = 488, math.NaN()
	p.known = &num.Cache[string, []float64]{Limit: 9}
	if c := p.sum(&p.full, z); !math.IsInf(c, 1) {
		t.Errorf("a sum of %g where a force is no number", c)
	}
}

// A trace needs ten samples of each column and a flow after the first; ten do.
func TestTracesThatCannotBe(t *testing.T) {
	column := func(n int, x float64) []float64 { return slices.Repeat([]float64{x}, n) }
	ok := func(n int) Trace {
		x := Trace{Time: column(n, 0), Block: column(n, 480), Flow: column(n, 5e-9), Force: column(n, 9)}
		for i := range x.Time {
			x.Time[i] = float64(i)
		}
		return x
	}
	for what, change := range map[string]func(x *Trace){
		"": func(x *Trace) {}, "nine": func(x *Trace) { *x = ok(9) },
		"block": func(x *Trace) { x.Block = x.Block[:9] }, "flow": func(x *Trace) { x.Flow = x.Flow[:9] },
		"force":   func(x *Trace) { x.Force = x.Force[:9] },
		"no flow": func(x *Trace) { x.Flow = append([]float64{5e-9}, column(9, 0)...) },
	} {
		x := ok(10)
		change(&x)
		p := constant(t, 1, nil, vary.Drag)
		if err := p.check([]Trace{x}); (err == nil) != (what == "") {
			t.Errorf("%q: %v", what, err)
		}
		if what == "" && (p.quick == p.full || p.quick.every != quickEvery || p.full.every != 1) {
			t.Errorf("the quick level of a trace: %+v", p.quick)
		}
	}
	p := constant(t, 1, []float64{3, -1}, vary.Drag)
	if err := p.check(nil); err == nil || !strings.Contains(err.Error(), "point 2") {
		t.Errorf("%v", err)
	}
}

// A factor where it starts leaves the set-up as it is, to the last digit; the edge is the number of the case file.
func TestFactorWhereItStarts(t *testing.T) {
	s := &casefile.Invented().Setup
	for x := 1.1; x < 2; x += 0.013 {
		s.ViscosityFactor = x
		fs, err := factors(s, []Factor{vary.Viscosity, vary.Block, Offset})
		if err != nil {
			t.Fatal(err)
		}
		p := newProblem(s, nil, fs)
		if n, off := p.apply([]float64{0, 0.5, -0.5}); n.ViscosityFactor != x || s.Block == n.Block || off != -2.5 {
			t.Errorf("%g becomes %g; block %g, offset %g", x, n.ViscosityFactor, n.Block, off)
		}
		if got := fs[1].edge(490); !near(got, 216.85) || fs[2].edge(-3) != -3 {
			t.Errorf("490 K is %g degC, -3 N %g", got, fs[2].edge(-3))
		}
	}
	// A block known exactly may still move by a twentieth of its value on the scale of the fit.
	s.Doubts = map[string]setup.Doubt{string(vary.Block): {}}
	fs, err := factors(s, []Factor{vary.Block})
	if err != nil || !near(fs[0].half, 0.05*s.Block) {
		t.Errorf("%+v, %v", fs, err)
	}
	// A bound is met within a thousandth of half a band; one within a hundredth of the start is none that was run to.
	f := factor{lo: 1, hi: 5, half: 2}
	for _, x := range []struct {
		id      Factor
		mid, at float64
		want    bool
	}{{"", 3, 4.9981, true}, {"", 3, 4.9979, false}, {"", 3, 1.0019, true}, {"", 3, 1.0021, false}, {"", 4.979, 5,
		true},
		{"", 4.981, 5, false}, {"", 1.021, 1, true}, {"", 1.019, 1, false}, {vary.Heated, 3, 1, false},
		{vary.Heated, 3, 5, true}} {
		f.id, f.mid = x.id, x.mid
		if got := f.atBound(x.at); got != x.want {
			t.Errorf("%q from %g at %g: %t", x.id, x.mid, x.at, got)
		}
	}
}

// A search ends where the sum of squares is least, known here by bisection of its slope: a push of 6 N that is twice
// e^z, and z known beforehand as 0 within 1. What is not fitted stays at its start.
func TestSearchEndsAtTheLeast(t *testing.T) {
	for _, x := range []struct{ force, u float64 }{{6, 0.5}, {6, 2}, {0.3, 0.1}, {30, 3}} {
		p := constant(t, x.u, []float64{x.force}, vary.Drag, Offset)
		f := &p.f[0]
		f.scale, f.lo, f.mid, f.half = vary.Log, 0.01, math.Log(2), 1
		slope := func(z float64) float64 { return (2*math.Exp(z)-x.force)/x.u*2*math.Exp(z)/x.u + z }
		lo, hi := -6.0, 6.0
		for range 60 {
			if m := (lo + hi) / 2; slope(m) > 0 {
				hi = m
			} else {
				lo = m
			}
		}
		want := lo
		for _, from := range [][]float64{nil, {1, 0.7}, {-3, 0}} {
			z, err := p.search(t.Context(), []bool{true, false}, from)
			if err != nil || math.Abs(z[0]-want) > 5e-3 || z[1] != 0 || p.ranOut {
				t.Errorf("%g N within %g N from %v: %v, want %g, %v", x.force, x.u, from, z, want, err)
			}
		}
	}
	// Steady pushes are searched once, from four starts: each solution counts.
	var counts [2]int
	for i := range counts {
		s := &casefile.Invented().Setup
		fs, err := factors(s, []Factor{vary.Viscosity})
		if err != nil {
			t.Fatal(err)
		}
		p := newProblem(s, []Point{{Block: 488, Flow: 6e-9, Force: 20, U: 0.5}}, fs)
		if i == 0 {
			_, err = p.search(t.Context(), []bool{true}, nil)
		} else {
			_, err = p.best(t.Context(), &p.quick, p.starts([]bool{true}), []bool{true})
		}
		if counts[i] = p.solves; err != nil {
			t.Fatal(err)
		}
	}
	if counts[0] != counts[1] || counts[0] < 7 {
		t.Errorf("%d solutions, a single search takes %d", counts[0], counts[1])
	}
	// Of starts without an answer and one with, the last is followed, whatever its place; none at all is an error.
	p := constant(t, 0.5, []float64{3}, vary.Drag)
	bad := [][]float64{{3}, {4}, {5}}
	for _, z := range bad {
		keep(p, z, math.Inf(1))
	}
	want := 1 / 1.9 / (1 + math.Pow(0.5/1.9, 2))
	for _, starts := range [][][]float64{{bad[0], {1}}, {{1}, bad[0]}, {bad[0], bad[1], bad[2], {1}}} {
		z, err := p.best(t.Context(), &p.quick, starts, []bool{true})
		if err != nil || math.Abs(z[0]-want) > 1e-3 {
			t.Errorf("from %v: %v, want %g, %v", starts, z, want, err)
		}
	}
	if _, err := p.best(t.Context(), &p.quick, bad, []bool{true}); err == nil ||
		!strings.Contains(err.Error(), "no factors within their bounds") {
		t.Errorf("no start with an answer: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := p.search(ctx, []bool{true}, nil); err != context.Canceled {
		t.Errorf("cancelled: %v", err)
	}
}

// Correlations hold at once where the matrix with a hundred-thousandth of a per cent less on its diagonal is positive
// definite; lists of none do.
func TestCorrelationsThatHoldAtOnce(t *testing.T) {
	pair := func(a, b string, r float64) setup.Correlation {
		return setup.Correlation{First: a, Second: b, Value: r}
	}
	for _, x := range []struct {
		list []setup.Correlation
		want bool
	}{
		{nil, true}, {[]setup.Correlation{pair("a", "b", 0.9999989)}, true},
		{[]setup.Correlation{pair("a", "b", -0.9999991)}, false}, {[]setup.Correlation{pair("a", "b", 1)}, false},
		// a with b and b with c by 0.9 leave a and c at least 2*0.81 - 1 = 0.62
		{[]setup.Correlation{pair("a", "b", 0.9), pair("b", "c", 0.9), pair("a", "c", 0.625)}, true},
		{[]setup.Correlation{pair("a", "b", 0.9), pair("b", "c", 0.9), pair("a", "c", 0.615)}, false},
		{[]setup.Correlation{pair("a", "b", 0.9), pair("b", "c", 0.9)}, false},
	} {
		if got := holdAtOnce(x.list); got != x.want {
			t.Errorf("%v: %t", x.list, got)
		}
	}
	q := &vary.Quantity{}
	p := &problem{f: []factor{{id: "a", q: q}, {id: "b", q: q}}}
	for r, want := range map[float64]int{0.049: 0, 0.051: 1, -0.051: 1} {
		if got := p.together(mat.NewSymDense(2, []float64{4, 6 * r, 0, 9})); len(got) != want {
			t.Errorf("a coefficient of %g: %v", r, got)
		}
	}
}
