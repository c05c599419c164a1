package calibrate

import (
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
	"meltload/materials/unit"
)

// A trace keeps every so manyth sample, at most TraceSamples of them; its uncertainty, if not stated, is 2 per cent of
// the largest force.
func TestThinnedTrace(t *testing.T) {
	for n, want := range map[int]int{12: 12, 120: 120, 121: 61, 240: 120, 241: 81, 600: 120} {
		x := Trace{}
		for i := range n {
			x.Time, x.Block = append(x.Time, float64(i)), append(x.Block, 480)
			x.Flow, x.Force = append(x.Flow, 5e-9), append(x.Force, float64(i%7))
		}
		got := x.thin()
		step := float64((n + TraceSamples - 1) / TraceSamples)
		if len(got.Time) != want || got.Time[1] != step || len(got.Force) != want || math.Abs(got.U-0.12) > 1e-12 {
			t.Errorf("%d samples: %d, the second at %g, u %g", n, len(got.Time), got.Time[1], got.U)
		}
		if x.U = 0.7; x.thin().U != 0.7 {
			t.Errorf("a stated uncertainty becomes %g", x.thin().U)
		}
	}
}

// A factor on its scale: 0 where it starts, 1 half a band further, cut at its bounds. Bounds of nature are no walls.
func TestFactorOnItsScale(t *testing.T) {
	f := factor{id: vary.Viscosity, scale: vary.Log, lo: 0.1, hi: 10, mid: math.Log(2), half: math.Log(3)}
	for z, want := range map[float64]float64{0: 2, 1: 6, -1: 2.0 / 3, 2: 10, -4: 0.1} {
		if got := f.value(z); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("%g: %g, want %g", z, got, want)
		}
	}
	if got := f.clip(2); math.Abs(got-math.Log(5)/math.Log(3)) > 1e-12 ||
		math.Abs(f.clip(0.3)-0.3) > 1e-12 {
		t.Errorf("cut at %g", got)
	}
	drag := factor{id: vary.Drag, lo: 0, hi: 20, mid: 2, half: 2}
	share := factor{id: vary.Heated, lo: 0.3, hi: 1, mid: 0.75, half: 0.25}
	contact := factor{id: vary.Contact, scale: vary.Reciprocal, lo: 500, hi: math.Inf(1), mid: -1.0 / 3000,
		half: 1.0 / 3000}
	for _, x := range []struct {
		f    factor
		at   float64
		want bool
	}{{f, 0.1, true}, {f, 10, true}, {f, 9.9, false}, {drag, 0, false}, {drag, 20, true}, {share, 1, false},
		{share, 0.3, true}, {contact, math.Inf(1), false}, {contact, 500, true},
		{factor{lo: 1, hi: 5, mid: 5, half: 2}, 5, false}, {factor{lo: 1, hi: 5, mid: 1.01, half: 2}, 1, false},
		{factor{lo: 1, hi: 5, mid: 4.9, half: 2}, 5, true}} {
		if got := x.f.atBound(x.at); got != x.want {
			t.Errorf("%s at %g: %t", x.f.id, x.at, got)
		}
	}
	for _, x := range []struct {
		id        vary.ID
		x, lo, hi float64
		want      setup.Doubt
	}{
		{vary.Viscosity, 4, 2, 8, setup.Doubt{Kind: setup.Factor, High: 2, Calibrated: true}},
		{vary.Block, 490, 485, 491, setup.Doubt{Kind: setup.PlusMinus, High: 3, Calibrated: true}},
		{vary.Drag, 2, 1, 4, setup.Doubt{Kind: setup.Interval, Low: 1, High: 4, Calibrated: true}},
		{vary.Drag, 5, 1, 4, setup.Doubt{Kind: setup.Interval, Low: 1, High: 5, Calibrated: true}},
	} {
		if got := (&factor{id: x.id}).doubt(x.x, x.lo, x.hi); got != x.want {
			t.Errorf("%s: %+v, want %+v", x.id, got, x.want)
		}
	}
}

// What a band makes of a factor: a perfect contact starts half a band of resistance from the default, one that is known
// exactly may still move by a twentieth.
func TestBandOfAFactor(t *testing.T) {
	s := &casefile.Invented().Setup
	s.Doubts = map[string]setup.Doubt{string(vary.Viscosity): {}, string(vary.Heated): {Kind: setup.Interval, Low: 0.6,
		High: 0.8}}
	c := vary.Must(s, vary.Contact)
	if err := c.Set(s, math.Inf(1)); err != nil {
		t.Fatal(err)
	}
	fs, err := factors(s, []Factor{vary.Viscosity, vary.Heated, vary.Contact, Offset})
	if err != nil {
		t.Fatal(err)
	}
	mid := fs[0].mid
	// 95 % of an even band from 0.6 to 0.8 is 0.605 to 0.795.
	for i, want := range []float64{0.05 * math.Max(1, math.Abs(mid)), 0.095, 1.0 / flow.DefaultWettedH, 5} {
		if math.Abs(fs[i].half/want-1) > 1e-9 {
			t.Errorf("%s: %g, want %g", fs[i].id, fs[i].half, want)
		}
	}
	if fs[3].lo != -20 || fs[3].hi != 20 || fs[3].value(0) != 0 || fs[3].edge(3) != 3 || fs[3].band != [2]float64{-5,
		5} {
		t.Errorf("%+v", fs[3])
	}
}

// held is a problem of the starter case with viscosity and a load cell's offset, with one push and a trace.
func held(t *testing.T) *problem {
	t.Helper()
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Viscosity, Offset})
	if err != nil {
		t.Fatal(err)
	}
	p := newProblem(s, []Point{{Block: 488, Flow: 6e-9, Force: 17, U: 0.5}, {Block: 478, Flow: 9e-9, Force: 30}}, fs)
	x := Trace{U: 0.2}
	for i := range 19 {
		x.Time, x.Block = append(x.Time, 0.5*float64(i)), append(x.Block, 488-float64(i)/4)
		x.Flow, x.Force = append(x.Flow, 6e-9), append(x.Force, 15+0.1*float64(i))
	}
	x.Flow[9] = 0
	if err := p.check([]Trace{x}); err != nil {
		t.Fatal(err)
	}
	return p
}

// Forces along a trace are those of a march in time at the case with its factors, the offset added; a level of fewer
// steps has those between on lines. Residuals are what is predicted less what is measured over the uncertainty: that
// stated or 3 per cent and 0.3 N for a push; for a trace that of a sample and the scatter of the march, as many times
// larger as samples count for fewer; the first sample and standing melt say nothing.
func TestForcesAndResidualsOfAProblem(t *testing.T) {
	p := held(t)
	z := []float64{0.4, 0.6} // an offset of 3 N
	n, off := p.apply(z)
	if math.Abs(off-3) > 1e-12 || math.Abs(n.ViscosityFactor-p.f[0].value(0.4)) > 1e-12 {
		t.Fatalf("offset %g, factor %g", off, n.ViscosityFactor)
	}
	x := p.traces[0]
	var d flow.Solution
	steps := func(s *march.Solver, every int) []float64 {
		s.Soak(x.Block[0])
		out := make([]float64, len(x.Time))
		for i := every; i < len(out); i += every {
			if err := s.Advance(x.Block[i], math.Max(x.Flow[i], 1e-12), x.Time[i]-x.Time[i-every], &d); err != nil {
				t.Fatal(err)
			}
			out[i] = d.Push + 3
			for k := 1; k < every; k++ {
				out[i-k] = out[i] + float64(k)/float64(every)*(out[i-every]-out[i])
			}
		}
		return out
	}
	full := p.forces(&p.full, z)
	for i, q := range p.points {
		if err := march.New(&n.Case, march.Options{}).Solve(q.Block, q.Flow, &d); err != nil ||
			math.Abs(full[i]/(d.Push+3)-1) > 1e-9 {
			t.Errorf("push %d: %g N, want %g", i, full[i], d.Push+3)
		}
	}
	for i, want := range steps(march.New(&n.Case, march.Options{}), 1) {
		if got := full[2+i]; math.Abs(got-want) > 1e-9*want {
			t.Errorf("sample %d: %g N, want %g", i, got, want)
		}
	}
	coarse := steps(march.New(&n.Case, march.Options{Cells: quickCells, Axial: quickAxial}), quickEvery)
	for i, want := range coarse { // 19 samples are three steps of six
		if got := p.forces(&p.quick, z)[2+i]; math.Abs(got-want) > 1e-9*want {
			t.Errorf("quick sample %d: %g N, want %g", i, got, want)
		}
	}
	want := []float64{(full[0] - 17) / 0.5, (full[1] - 30) / 1.2}
	u := math.Hypot(0.2, 0.05) * math.Sqrt(19.0/12)
	for i := 1; i < 19; i++ {
		if i != 9 {
			want = append(want, (full[2+i]-x.Force[i])/u)
		}
	}
	got := p.residuals(z)
	if len(got) != len(want) {
		t.Fatalf("%d residuals, want %d", len(got), len(want))
	}
	sum := 0.16 + 0.36
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Errorf("residual %d: %g, want %g", i, got[i], want[i])
		}
		sum += want[i] * want[i]
	}
	if c := p.sum(&p.full, z); math.Abs(c/sum-1) > 1e-9 {
		t.Errorf("sum %g, want %g", c, sum)
	}
	// What the result says of it.
	r := p.result(z, []bool{true, true})
	mean := (math.Abs(full[0]/17-1) + math.Abs(full[1]/30-1)) / 2
	rms := math.Sqrt((math.Pow(full[0]-17, 2) + math.Pow(full[1]-30, 2)) / 2)
	trace, n17 := 0.0, 0.0
	for i := 1; i < 19; i++ {
		if i != 9 {
			trace += math.Pow(full[2+i]-x.Force[i], 2)
			n17++
		}
	}
	if math.Abs(r.Mean/mean-1) > 1e-9 || math.Abs(r.RMS/rms-1) > 1e-9 ||
		math.Abs(r.TraceRMS/math.Sqrt(trace/n17)-1) > 1e-9 || math.Abs(r.ChiSquared/(sum/19)-1) > 1e-9 {
		t.Errorf("mean %g, rms %g, trace %g, chi squared %g", r.Mean, r.RMS, r.TraceRMS, r.ChiSquared)
	}
	if r.Offset != off || !slices.Equal(r.Traces[0].Predicted, full[2:]) || r.Values[1].Known != true {
		t.Errorf("%+v", r.Values)
	}
}

// A push with the hot end off is the drag of the path; one with another land that of a set-up with it; a sensor that is
// off is off in every test.
func TestForcesOfOtherPushes(t *testing.T) {
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Drag, vary.Block})
	if err != nil {
		t.Fatal(err)
	}
	land := 3e-3
	p := newProblem(s, []Point{{NoNozzle: true, Force: 3}, {Block: 488, Flow: 6e-9, Force: 20, Land: land},
		{Block: 488, Flow: 6e-9, Force: 20}}, fs)
	z := []float64{0.5, 0.7}
	n, _ := p.apply(z)
	shift := n.Block - s.Block
	if shift == 0 {
		t.Fatal("the block did not move")
	}
	long := n.Clone()
	q := vary.Must(long, vary.Land)
	if err := q.Set(long, land); err != nil {
		t.Fatal(err)
	}
	var a, b flow.Solution
	if err := march.New(&long.Case, march.Options{}).Solve(488+shift, 6e-9, &a); err != nil {
		t.Fatal(err)
	}
	if err := march.New(&n.Case, march.Options{}).Solve(488+shift, 6e-9, &b); err != nil {
		t.Fatal(err)
	}
	got := p.forces(&p.full, z)
	for i, want := range []float64{n.Path.Force(0), a.Push, b.Push} {
		if math.Abs(got[i]/want-1) > 1e-9 || i == 0 && got[0] != fs[0].value(0.5) {
			t.Errorf("push %d: %g N, want %g", i, got[i], want)
		}
	}
	if !(a.Push > 1.05*b.Push) {
		t.Errorf("%g N with a longer land, %g N without", a.Push, b.Push)
	}
}

// Where a linear problem ends, in one step without damping: (J^T J + 1) d = -(J^T r + z), by hand for two residuals.
func TestStepOfTheSearch(t *testing.T) {
	p := &problem{f: []factor{{lo: -9, hi: 9, half: 1}, {lo: -9, hi: 9, half: 1}}}
	j := mat.NewDense(2, 2, []float64{1, 2, 0, 1})
	// J^T J = (1 2; 2 5), J^T r = (3, 10) for r = (3, 4); with z = (1, 0): (2 2; 2 6) d = -(4, 10).
	got := p.stepTo([]float64{1, 0}, []float64{3, 4}, j, []bool{true, true}, 0)
	if math.Abs(got[0]-(1-0.5)) > 1e-12 || math.Abs(got[1]+1.5) > 1e-12 {
		t.Errorf("%v", got)
	}
	// One alone, damped by a half: 6 (1.5) d = -10.
	got = p.stepTo([]float64{1, 0}, []float64{3, 4}, j, []bool{false, true}, 0.5)
	if got[0] != 1 || math.Abs(got[1]+10.0/9) > 1e-12 {
		t.Errorf("%v", got)
	}
	// The starts: the middle, and three corners of the first two that are fitted, within the bounds.
	p.f = append(p.f, factor{lo: -0.5, hi: 9, half: 1})
	want := [][]float64{{0, 0, 0}, {1, 0, 1}, {1, 0, -0.5}, {-1, 0, 1}}
	for i, z := range p.starts([]bool{true, false, true}) {
		if !slices.Equal(z, want[i]) {
			t.Errorf("start %d: %v, want %v", i, z, want[i])
		}
	}
	for i, want := range [][]float64{{0, 0, 0}, {1, 1, 0}, {1, -1, 0}, {-1, 1, 0}} { // a third stays in the middle
		if z := p.starts([]bool{true, true, true})[i]; !slices.Equal(z, want) {
			t.Errorf("start %d of three: %v, want %v", i, z, want)
		}
	}
}

// Derivatives of residuals that are linear are their slopes, one-sided at a bound.
func TestSlopesOfTheSearch(t *testing.T) {
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Viscosity, vary.Drag})
	if err != nil {
		t.Fatal(err)
	}
	p := newProblem(s, []Point{{Block: 488, Flow: 6e-9, Force: 17, U: 0.5}}, fs)
	for _, z := range [][]float64{{0, 0}, {0, p.f[1].clip(-9)}} { // no drag is a bound
		want := p.f[1].half / 0.5 // N a unit of z over the uncertainty
		if got := p.jacobian(z).At(0, 1); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("at %v: %g, want %g", z, got, want)
		}
		if got := p.slopes(z, []bool{true, true}).At(0, 1); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("slope at %v: %g, want %g", z, got, want)
		}
		if p.slopes(z, []bool{true, false}).At(0, 1) != 0 {
			t.Error("a slope of what is not fitted")
		}
	}
	if p.step() != 0.05 {
		t.Errorf("step %g", p.step())
	}
	if p.traces = make([]Trace, 1); p.step() != 0.15 {
		t.Errorf("step %g with a trace", p.step())
	}
}

// The ratio of measured to predicted forces: the geometric mean over pushes through a nozzle; of traces, where there is
// none, of the sums over the samples with a flow, without the first.
func TestRatioOfForces(t *testing.T) {
	trace := Fitted{Trace: Trace{Flow: []float64{5, 5, 0, 5}, Force: []float64{90, 10, 70, 20}},
		Before: []float64{1, 2, 3, 3}}
	for _, x := range []struct {
		r    Result
		want float64
	}{
		{Result{Points: []Point{{Force: 20}, {Force: 5}}, Before: []float64{5, 5}}, 2},
		{Result{Points: []Point{{Force: 20}, {Force: 90, NoNozzle: true}}, Before: []float64{5, 5},
			Traces: []Fitted{trace}}, 4},
		{Result{Traces: []Fitted{trace}}, 6},
		{Result{Points: []Point{{Force: 20}}, Before: []float64{0}}, 0},
		{Result{}, 0},
	} {
		if got := x.r.Ratio(); math.Abs(got-x.want) > 1e-12*x.want {
			t.Errorf("%g, want %g", got, x.want)
		}
	}
}

// A fit is missed from four times the uncertainty on, and what is missed most is named; a factor is far from two halves
// of its band on, if it is known.
func TestWhereAFitIsMissed(t *testing.T) {
	r := Result{Points: []Point{{Block: unit.Kelvin(200), Flow: 5e-9, Force: 10, U: 1}, {Block: unit.Kelvin(220),
		Flow: 8e-9, Force: 20, U: 2}}}
	for _, x := range []struct {
		misses [2]float64 // over the uncertainty
		want   string
	}{{[2]float64{4, 3.9}, ""}, {[2]float64{4.1, 4}, "at 200 degC and 5 mm3/s: measured 10 N, predicted 14.1 N"},
		{[2]float64{1, -6}, "by 4.3 times their uncertainty, most that at 220 degC and 8 mm3/s: measured 20 N, " +
			"predicted 8"}} {
		r.Predicted = []float64{10 + x.misses[0], 20 + 2*x.misses[1]}
		r.Before = []float64{10, 20}
		if got := r.Misfit(); (got == "") != (x.want == "") || !strings.Contains(got, x.want) {
			t.Errorf("%v: %q", x.misses, got)
		}
	}
	if u := (Point{Force: 100}).u(); math.Abs(u-3.3) > 1e-12 {
		t.Errorf("assumed %g N", u)
	}
	v := Value{Label: "a", Known: true, toEdge: func(x float64) float64 { return x }}
	for far, want := range map[float64]int{1.99: 0, 2.01: 1, -2.01: 1} {
		if v.Far = far; len((&Result{Values: []Value{v}}).beyond()) != want {
			t.Errorf("%g halves: %d", far, len((&Result{Values: []Value{v}}).beyond()))
		}
	}
	v.Known = false
	if len((&Result{Values: []Value{v}}).beyond()) != 0 {
		t.Error("one that is not known is far")
	}
	// Factors trade off from a correlation of 0.7 on, if both are told.
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Viscosity, vary.Heated, vary.Drag})
	if err != nil {
		t.Fatal(err)
	}
	p := &problem{f: fs}
	list := []setup.Correlation{{First: string(vary.Viscosity), Second: string(vary.Heated), Value: -0.71},
		{First: string(vary.Viscosity), Second: string(vary.Drag), Value: 0.69},
		{First: string(vary.Heated), Second: string(vary.Drag), Value: 0.9}}
	got := p.trades(list, []bool{true, true, false})
	if len(got) != 1 || got[0] != (setup.Correlation{First: fs[0].label, Second: fs[1].label, Value: -0.71}) {
		t.Errorf("%+v", got)
	}
	if got := p.trades(list, []bool{true, true, true}); len(got) != 2 {
		t.Errorf("%+v", got)
	}
}

// Coefficients of a covariance by hand: 1 of 2 by 2 is a half.
func TestCorrelationsOfACovariance(t *testing.T) {
	s := &casefile.Invented().Setup
	fs, err := factors(s, []Factor{vary.Viscosity, vary.Heated, Offset})
	if err != nil {
		t.Fatal(err)
	}
	p := &problem{f: fs}
	c := mat.NewSymDense(3, []float64{4, -1, 2, -1, 1, 0.5, 2, 0.5, 9})
	got := p.correlations(c, 0.05)
	if len(got) != 1 || math.Abs(got[0].Value+0.5) > 1e-12 || got[0].First != string(vary.Viscosity) ||
		got[0].Second != string(vary.Heated) {
		t.Errorf("%+v", got) // the offset is no quantity of the case
	}
	if got := p.correlations(c, 0.51); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

// The unknowns of spirals within their bounds, and what a length counts for.
func TestUnknownsOfSpirals(t *testing.T) {
	f := &spiralFit{start: 390, points: []Spiral{{Length: 20e-3, U: 1e-3}, {Length: 10e-3}}}
	for _, x := range []struct{ r, dT, contact, noFlow float64 }{
		{1e-3, 4, 1000, 394}, {-1e-3, -4, math.Inf(1), 386}, {1, 1e3, spiralContactLow, 390 + spiralNoFlow},
		{1e-3, -1e3, 1000, 390 - spiralNoFlow},
	} {
		c, n := f.values(unknowns{x.r, x.dT})
		if math.IsInf(x.contact, 1) != math.IsInf(c, 1) || c < math.Inf(1) && math.Abs(c/x.contact-1) > 1e-9 ||
			n != x.noFlow {
			t.Errorf("%+v: %g, %g", x, c, n)
		}
	}
	if f.u(0) != 0.05 || f.u(1) != SpiralU {
		t.Errorf("%g, %g", f.u(0), f.u(1))
	}
	// Twice as far as one, as far as the other: ln 2 over root 2.
	if got := f.rms([]float64{40e-3, 10e-3}); math.Abs(got-math.Ln2/math.Sqrt2) > 1e-12 {
		t.Errorf("rms %g", got)
	}
}

// What is wrong with a push is said; one with the hot end off needs a force alone.
func TestPushesThatCannotBe(t *testing.T) {
	for _, x := range []struct {
		p    Point
		want string
	}{
		{Point{Block: 480, Flow: 5e-9, Force: 10}, ""}, {Point{Block: 480, Flow: 5e-9, Force: 10, Land: 0.49}, ""},
		{Point{Block: 480, Flow: 5e-9}, "force"}, {Point{Block: 480, Flow: 5e-9, Force: math.Inf(1)}, "force"},
		{Point{Block: 480, Flow: 5e-9, Force: 10, Land: 0.5}, "land"},
		{Point{Block: 480, Flow: 5e-9, Force: 10, Land: -1e-3}, "land"}, {Point{Block: 480, Force: 10}, "flow"},
		{Point{Block: 100, Flow: 5e-9, Force: 10}, "block"}, {Point{NoNozzle: true, Force: 3}, ""},
		{Point{NoNozzle: true, Force: 3, Land: 9}, ""}, {Point{NoNozzle: true}, "force"},
	} {
		if err := x.p.check(); (err == nil) != (x.want == "") || err != nil && !strings.Contains(err.Error(), x.want) {
			t.Errorf("%+v: %v", x.p, err)
		}
	}
	s := &casefile.Invented().Setup
	long := make([]float64, 12)
	for what, tr := range map[string]Trace{"short": {Time: long[:9], Block: long[:9], Flow: long[:9], Force: long[:9]},
		"uneven": {Time: long, Block: long, Flow: long[:11], Force: long}, "cold": {Time: long, Block: long, Flow: long,
			Force: long}} {
		if err := newProblem(s, nil, nil).check([]Trace{tr}); err == nil || !strings.Contains(err.Error(), "trace 1") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := newProblem(s, nil, nil).check(nil); err == nil {
		t.Error("nothing measured")
	}
	// Factors named twice, that are none of this case, or that are the same constant force.
	for _, ids := range [][]Factor{{vary.Drag, vary.Drag}, {"colour"}, {vary.Mould}, {Offset, vary.Drag}} {
		if _, err := factors(s, ids); err == nil {
			t.Errorf("%v are taken", ids)
		}
	}
	if fs, err := factors(s, nil); err != nil || len(fs) != len(Candidates) {
		t.Errorf("%d of %d candidates, %v", len(fs), len(Candidates), err)
	}
}
