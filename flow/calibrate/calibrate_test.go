package calibrate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// made returns pushes as the model makes them with factors, at block temperatures (degC) and flows (mm3/s), with noise
// of a share of their force.
func made(t testing.TB, s *setup.Setup, f map[vary.ID]float64, at [][2]float64, noise float64,
	seed uint64) []calibrate.Point {
	t.Helper()
	n := s.Clone()
	for id, x := range f {
		q := vary.Must(n, id)
		if err := q.Set(n, x); err != nil {
			t.Fatal(err)
		}
	}
	v := march.New(&n.Case, march.Options{})
	rng := rand.New(rand.NewPCG(seed, 9))
	var out []calibrate.Point
	var d flow.Solution
	for _, x := range at {
		if err := v.Solve(unit.Kelvin(x[0]), x[1]*unit.MM3, &d); err != nil {
			t.Fatal(err)
		}
		u := 0.02*d.Push + 0.1
		out = append(out, calibrate.Point{Block: unit.Kelvin(x[0]), Flow: x[1] * unit.MM3,
			Force: d.Push + noise*u*rng.NormFloat64(), U: u})
	}
	return out
}

// After a calibration the range still holds the truth as often as it says, whatever of the unknowns differs, also what
// is not fitted: truths drawn from all that is not known about the starter case, pushes with noise, and the force at a
// place that was not pushed.
func TestRangeAfterCalibrationHoldsTheTruth(t *testing.T) {
	const truths, samples, flowAt = 8, 48, 12 * unit.MM3
	c := casefile.Invented()
	us := assess.Unknowns(&c.Setup)
	pushed := [][2]float64{{195, 3}, {195, 8}, {215, 5}, {215, 15}, {230, 10}, {230, 20}}
	var inside int
	var width, before float64
	for i, x := range assess.Draw(us, truths, 11) {
		truth := assess.Apply(&c.Setup, us, x)
		r := fit(t, &c.Setup, made(t, truth, nil, pushed, 1, uint64(i)))
		var d flow.Solution
		if err := march.New(&truth.Case, march.Options{}).Solve(c.Block, flowAt, &d); err != nil {
			t.Fatal(err)
		}
		got, err := assess.Spread(context.Background(), r.Setup, assess.Options{Samples: samples, Flow: flowAt})
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			was, err := assess.Spread(context.Background(), &c.Setup, assess.Options{Samples: samples, Flow: flowAt})
			if err != nil {
				t.Fatal(err)
			}
			before = was.Push.High / was.Push.Low
		}
		width += got.Push.High / got.Push.Low / truths
		if d.Push >= got.Push.Low && d.Push <= got.Push.High {
			inside++
		} else {
			t.Logf("truth %d: %.1f N, range %.1f to %.1f N", i, d.Push, got.Push.Low, got.Push.High)
		}
	}
	t.Logf("%d of %d inside; high over low %.2f, %.2f before", inside, truths, width, before)
	if inside < 6 { // of 8 at 90 per cent, fewer come once in 200 sets
		t.Errorf("%d of %d truths lie in the 5 to 95 %% range", inside, truths)
	}
	if width > 0.75*before {
		t.Errorf("high over low %.2f after, %.2f before", width, before)
	}
}

// grid spans temperature and flow.
var grid = [][2]float64{{195, 3}, {195, 8}, {195, 14}, {215, 3}, {215, 8}, {215, 14}, {215, 22}, {230, 8}, {230, 22}}

func fit(t testing.TB, s *setup.Setup, pts []calibrate.Point, f ...calibrate.Factor) *calibrate.Result {
	t.Helper()
	r, err := calibrate.Fit(context.Background(), s, pts, calibrate.Settings{Factors: f})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The file that a calibration writes gives the forces that it reports, to 0.1 %, also where sections have a contact of
// their own; the range of its answer is narrower than before and contains the calibrated best.
func TestWrittenFileGivesTheFittedForces(t *testing.T) {
	for _, own := range []bool{false, true} {
		text := string(casefile.BuiltIn)
		if own {
			text = strings.Replace(text, "length_mm = 20\n", "length_mm = 20\ncontact_W_m2K = 600\n", 1)
		}
		c, ps := casefile.Parse("x.toml", []byte(text))
		if len(ps) > 0 {
			t.Fatal(ps)
		}
		pts := made(t, &c.Setup, map[vary.ID]float64{vary.Viscosity: 1.5, vary.Heated: 0.6, vary.Contact: 16000},
			grid, 0.5, 3)
		for _, f := range [][]calibrate.Factor{nil, {vary.Viscosity, vary.Contact, vary.Drag}} {
			r := fit(t, &c.Setup, pts, f...)
			_, w, err := casefile.Patch("x.toml", []byte(text), c.Edits(r.Edits()), "calibrated")
			if err != nil {
				t.Fatal(err)
			}
			v := march.New(&w.Case, march.Options{})
			var d flow.Solution
			for i, p := range pts {
				if err := v.Solve(p.Block, p.Flow, &d); err != nil || math.Abs(d.Push/r.Predicted[i]-1) > 1e-3 {
					t.Errorf("own contact %v, %v: %g N from the written file (%v), %g N reported", own, f, d.Push, err,
						r.Predicted[i])
				}
			}
			if r.Mean > 0.04 {
				t.Errorf("own contact %v, %v: mean error %.1f %%", own, f, 100*r.Mean)
			}
			if f != nil || own {
				continue
			}
			o := assess.Options{Samples: 96, Flow: 8 * unit.MM3}
			before, err := assess.Spread(context.Background(), &c.Setup, o)
			if err != nil {
				t.Fatal(err)
			}
			after, err := assess.Spread(context.Background(), &w.Setup, o)
			if err != nil {
				t.Fatal(err)
			}
			x := w.Setup.Clone()
			x.Correlations = nil
			alone, err := assess.Spread(context.Background(), x, o)
			if err != nil {
				t.Fatal(err)
			}
			if a, b := after.Push.High/after.Push.Low, alone.Push.High/alone.Push.Low; a > 0.95*b {
				t.Errorf("high over low %.2f with the correlations, %.2f without", a, b)
			}
			if a, b := after.Push.High/after.Push.Low, before.Push.High/before.Push.Low; a > 0.8*b ||
				after.Push.Best < after.Push.Low || after.Push.Best > after.Push.High {
				t.Errorf("high over low %.2f before, %.2f after; best %.3g in %.3g to %.3g", b, a, after.Push.Best,
					after.Push.Low, after.Push.High)
			}
		}
	}
}

// Forces made by the model itself with known factors and seeded noise: the truth lies within the 95 % intervals of the
// factors that count as told.
func TestKnownFactorsAreRecovered(t *testing.T) {
	s := &casefile.Invented().Setup
	truth := map[vary.ID]float64{vary.Viscosity: 1.5, vary.Heated: 0.62}
	inside, total := 0, 0
	for seed := range uint64(6) {
		r := fit(t, s, made(t, s, truth, grid, 1, seed), vary.Viscosity, vary.Heated)
		for _, v := range r.Values {
			if !v.Known {
				t.Errorf("seed %d: %s not known: %s", seed, v.Factor, v.Why)
			}
			total++
			if v.Low <= truth[v.Factor] && truth[v.Factor] <= v.High {
				inside++
			}
			if math.Abs(v.Value/truth[v.Factor]-1) > 0.25 {
				t.Errorf("seed %d: %s %.4g, true %.4g", seed, v.Factor, v.Value, truth[v.Factor])
			}
		}
	}
	if inside < total-2 {
		t.Errorf("the truth lies inside %d of %d intervals", inside, total)
	}
}

// A factor that the forces do not tell keeps its value and its band, with a reason, and is not written; the next tests
// are named.
func TestWhatTheDataCannotTellIsRefused(t *testing.T) {
	c := casefile.Invented()
	s := &c.Setup
	pts := made(t, s, map[vary.ID]float64{vary.Viscosity: 1.6}, [][2]float64{{215, 5}, {215, 5.05}}, 0, 1)
	r := fit(t, s, pts)
	known := 0
	for _, v := range r.Values {
		q := vary.Must(s, v.Factor)
		if v.Known {
			known++
			continue
		}
		if v.Why == "" || v.Value != q.Get(s) || q.Get(r.Setup) != q.Get(s) {
			t.Errorf("%+v: refused, yet it moved from %g", v, q.Get(s))
		}
		if _, ok := r.Setup.Doubts[string(v.Factor)]; ok != (s.Doubts[string(v.Factor)] != setup.Doubt{}) {
			t.Errorf("%s: its band changed", v.Factor)
		}
		if _, ok := c.Edits(r.Edits())[q.Key]; ok {
			t.Errorf("%s is written", v.Factor)
		}
	}
	if known == 0 || known > 1 {
		t.Errorf("two pushes in one place tell %d factors", known)
	}
	kinds := map[calibrate.Kind]string{}
	for i := range r.Next {
		kinds[r.Next[i].Kind] = r.Next[i].Describe()
	}
	for kind, want := range map[calibrate.Kind]string{calibrate.Steady: "degC and",
		calibrate.TwoLands: "two land lengths", calibrate.NoNozzle: "hot end off"} {
		if !strings.Contains(kinds[kind], want) {
			t.Errorf("test of kind %d: %q, want %q in it", kind, kinds[kind], want)
		}
	}
	if n := r.Next[0]; math.Abs(n.Flow/5e-9-1) < 0.1 && math.Abs(n.Block-unit.Kelvin(215)) < 2 || !(n.Shrinks < 0.9) {
		t.Errorf("the next test proposed: %s", n.Describe())
	}
}

// The two bench tests separate what steady pushes cannot: a push with the hot end off tells the drag, a second land the
// entrance loss.
func TestTheBenchTestsTell(t *testing.T) {
	s := casefile.Invented().Clone()
	pts := made(t, s, map[vary.ID]float64{vary.Drag: 3.2, vary.Entrance: 1.7}, grid[:4], 0, 1)
	before := tellsOf(fit(t, s, pts))
	off := fit(t, s, append(pts, calibrate.Point{NoNozzle: true, Force: 3.2, U: 0.1}))
	if v := valueOf(off, vary.Drag); !v.Known || math.Abs(v.Value-3.2) > 0.2 || v.Tells < 2*before[vary.Drag] {
		t.Errorf("with a push without nozzle: %+v, before it told %g", v, before[vary.Drag])
	}
	long := s.Clone()
	for id, x := range map[vary.ID]float64{vary.Land: 3e-3, vary.Entrance: 1.7, vary.Drag: 3.2} {
		q := vary.Must(long, id)
		if err := q.Set(long, x); err != nil {
			t.Fatal(err)
		}
	}
	second := made(t, long, nil, [][2]float64{{215, 8}, {230, 8}}, 0, 1)
	for i := range second {
		second[i].Land = 3e-3
	}
	both := fit(t, s, append(append(pts, calibrate.Point{NoNozzle: true, Force: 3.2, U: 0.1}), second...))
	if a, b := tellsOf(both)[vary.Entrance], before[vary.Entrance]; a < b {
		t.Errorf("the second land tells %g of the entrance, without it %g", a, b)
	}
	if both.Mean > 0.02 {
		t.Errorf("mean error %.2f %%", 100*both.Mean)
	}
}

func tellsOf(r *calibrate.Result) map[vary.ID]float64 {
	out := map[vary.ID]float64{}
	for _, v := range r.Values {
		out[v.Factor] = v.Tells
	}
	return out
}

func valueOf(r *calibrate.Result, id vary.ID) calibrate.Value {
	for _, v := range r.Values {
		if v.Factor == id {
			return v
		}
	}
	return calibrate.Value{}
}

// A factor that the data drive to the end of its range is not known, and it is said that the end was met.
func TestAFactorAtItsBoundIsNotKnown(t *testing.T) {
	s := &casefile.Invented().Setup
	pts := made(t, s, map[vary.ID]float64{vary.Viscosity: 0.02, vary.Drag: 0}, grid[:4], 0, 1)
	for i := range pts {
		pts[i].Force *= 0.5
		pts[i].U = 0.002 * pts[i].Force
	}
	v := fit(t, s, pts, vary.Viscosity).Values[0]
	if v.Known || !strings.Contains(v.Why, "bound") || v.Value != 1 {
		t.Errorf("%+v", v)
	}
}

// The interval of a factor by hand, for a model that is linear in it: the drag is a constant force. What was known
// beforehand, 2 N either way (0 to 4 N, of which 95 % lie within 1.9 N), counts as one more measurement.
func TestIntervalOfALinearFactor(t *testing.T) {
	s := &casefile.Invented().Setup
	pts := made(t, s, map[vary.ID]float64{vary.Drag: 4}, grid[:4], 0, 1)
	for i := range pts {
		pts[i].U = 0.3
		pts[i].Force += []float64{0.3, -0.3, 0.3, -0.3}[i]
	}
	v := fit(t, s, pts, vary.Drag).Values[0]
	w, w0 := 4/(0.3*0.3), 1/(1.9*1.9) // weights of the forces and of what was known
	want := (4*w + 2*w0) / (w + w0)
	chi := (4 + (want-4)*(want-4)*w + (want-2)*(want-2)*w0) / 4
	half := 2.776445 * math.Sqrt(math.Max(1, chi)/(w+w0)) // Student's t for four measurements
	if math.Abs(v.Value-want) > 0.01 || math.Abs((v.High-v.Low)/2/half-1) > 0.02 || !v.Known {
		t.Errorf("%+v; want %.4f N within %.4f N", v, want, half)
	}
}

// pushed is an invented trace of the case with factors as given: 9 mm3/s, the heater off after 12 s, noise of 0.2 N.
func pushed(t testing.TB, s *setup.Setup, truth map[vary.ID]float64) calibrate.Trace {
	n := s.Clone()
	for id, x := range truth {
		q := vary.Must(n, id)
		if err := q.Set(n, x); err != nil {
			t.Fatal(err)
		}
	}
	v := march.New(&n.Case, march.Options{})
	v.Soak(488)
	rng := rand.New(rand.NewPCG(4, 4))
	tr := calibrate.Trace{Time: []float64{0}, Block: []float64{488}, Flow: []float64{9e-9}, Force: []float64{0}, U: 0.2}
	var d flow.Solution
	for k := 1; k <= 80; k++ {
		T := 488 - 0.4*math.Max(0, float64(k-40)*0.3) // heater off after 12 s
		if err := v.Advance(T, 9e-9, 0.3, &d); err != nil {
			t.Fatal(err)
		}
		tr.Time, tr.Block, tr.Flow, tr.Force = append(tr.Time, 0.3*float64(k)), append(tr.Block, T),
			append(tr.Flow, 9e-9), append(tr.Force, d.Push+0.2*rng.NormFloat64())
	}
	return tr
}

// A push in time tells more than its end: two factors come back from one invented trace.
func TestFactorsFromATrace(t *testing.T) {
	s := &casefile.Invented().Setup
	truth := map[vary.ID]float64{vary.Viscosity: 1.4, vary.Heated: 0.65}
	tr := pushed(t, s, truth)
	r, err := calibrate.Fit(context.Background(), s, nil,
		calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity, vary.Heated}, Traces: []calibrate.Trace{tr}})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range r.Values {
		if want := truth[v.Factor]; math.Abs(v.Value/want-1) > 0.15 || !v.Known {
			t.Errorf("%+v, true %g", v, want)
		}
	}
	if ft := r.Traces[0]; r.TraceRMS > 0.35 || r.TraceRMS == 0 || len(ft.Predicted) != len(ft.Force) ||
		len(ft.Before) != len(ft.Force) {
		t.Errorf("the trace is met to %g N rms; its noise is 0.2 N", r.TraceRMS)
	}
}

// BenchmarkTrace calibrates the factors that are fitted where none is named from one trace of 80 samples.
func BenchmarkTrace(b *testing.B) {
	s := &casefile.Invented().Setup
	tr := pushed(b, s, map[vary.ID]float64{vary.Viscosity: 1.4, vary.Heated: 0.65})
	for b.Loop() {
		_, err := calibrate.Fit(context.Background(), s, nil, calibrate.Settings{Traces: []calibrate.Trace{tr}})
		if err != nil {
			b.Fatal(err)
		}
	}
}

func TestImpossibleFitsAreRefused(t *testing.T) {
	s := &casefile.Invented().Setup
	p := []calibrate.Point{{Block: 488, Flow: 3e-9, Force: 6}, {Block: 488, Flow: 6e-9, Force: 9}}
	for name, try := range map[string]func() error{
		"no measurements": func() error { return errOf(s, nil, calibrate.Settings{}) },
		"named twice": func() error {
			return errOf(s, p, calibrate.Settings{Factors: []calibrate.Factor{vary.Drag, vary.Drag}})
		},
		"both a constant": func() error {
			return errOf(s, p, calibrate.Settings{Factors: []calibrate.Factor{calibrate.Offset, vary.Drag}})
		},
		"no such factor": func() error {
			return errOf(s, p,
				calibrate.Settings{Factors: []calibrate.Factor{"colour"}})
		},
		"no force": func() error { return errOf(s, []calibrate.Point{{Block: 488, Flow: 1e-9}}, calibrate.Settings{}) },
		"negative flow": func() error {
			return errOf(s, []calibrate.Point{{Block: 488, Flow: -1, Force: 6}}, calibrate.Settings{})
		},
		"no trace": func() error {
			return errOf(s, nil, calibrate.Settings{Traces: []calibrate.Trace{{Time: []float64{0, 1}}}})
		},
	} {
		if try() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := calibrate.Fit(ctx, s, p, calibrate.Settings{}); err != context.Canceled {
		t.Errorf("got %v", err)
	}
}

func errOf(s *setup.Setup, p []calibrate.Point, set calibrate.Settings) error {
	_, err := calibrate.Fit(context.Background(), s, p, set)
	return err
}

// What five invented pushes tell, and what is written into the case file.
func ExampleFit() {
	c := casefile.Invented()
	var pushes []calibrate.Point // invented
	for _, x := range [][3]float64{{195, 3, 15.5}, {195, 8, 31}, {215, 5, 15}, {215, 15, 36}, {225, 20, 40}} {
		pushes = append(pushes, calibrate.Point{Block: unit.Kelvin(x[0]), Flow: x[1] * unit.MM3, Force: x[2]})
	}
	r, err := calibrate.Fit(context.Background(), &c.Setup, pushes,
		calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity}})
	if err != nil {
		fmt.Println(err)
		return
	}
	v := r.Values[0]
	_, written := c.Edits(r.Edits())["material.viscosity_factor"]
	fmt.Println(v.Label, "known:", v.Known, "written:", written, "within its interval:", v.Low < v.Value &&
		v.Value < v.High)
	// Output: viscosity factor known: true written: true within its interval: true
}

// What a plan foresees is what a calibration by its runs then finds: the same factors told, their uncertainty as
// foretold.
func TestForeseenIsFound(t *testing.T) {
	s := &casefile.Invented().Setup
	pts := made(t, s, nil, grid, 0, 1)
	for i := range pts {
		pts[i].U = 0
	}
	told, tests, err := calibrate.Foresee(s, pts, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := fit(t, s, pts)
	for i, v := range told {
		if got := r.Values[i]; got.Factor != v.Factor || got.Known != v.Known || math.Abs(got.Tells/v.Tells-1) > 0.1 {
			t.Errorf("foreseen %s told %v by %.3g, found %v by %.3g", v.Factor, v.Known, v.Tells, got.Known, got.Tells)
		}
	}
	if len(tests) < 2 {
		t.Errorf("tests beside: %v", tests)
	}
}
