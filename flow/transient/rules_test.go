package transient

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/thermal"
)

// The rules of a run, by value.

func play(t *testing.T, r *Run) *Trace {
	t.Helper()
	tr, err := r.Play(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// A set temperature that the heater cannot follow at once: it gives what it has and no more, and the block rises as its
// balance says.
func TestHeaterIsCapped(t *testing.T) {
	c := bench()
	c.HotEnd.Block.Power = 20
	tr := play(t, &Run{Case: c, Block: 483.15, Step: 0.25, Phases: []Phase{{Duration: 10, Heating: Hold, Set: 523.15}}})
	for _, x := range tr.Samples {
		if !(math.Abs(x.Heater-20) <= 1e-9) {
			t.Fatalf("%.2f W at %.2f s from a heater of 20 W", x.Heater, x.Time)
		}
	}
	// The closed form of the block, less what its melt zone takes up.
	last := tr.Samples[len(tr.Samples)-1]
	rise, free := last.Block-483.15, c.HotEnd.Block.After(483.15, 20, 0, 10)-483.15
	if rise > free || rise < 0.9*free {
		t.Errorf("the block rises by %.2f K in 10 s; without melt %.2f K", rise, free)
	}
	// Cooling: the least is no power at all.
	tr = play(t, &Run{Case: c, Block: 483.15, Step: 0.25, Phases: []Phase{{Duration: 10, Heating: Hold, Set: 423.15}}})
	for _, x := range tr.Samples {
		if x.Heater != 0 {
			t.Fatalf("%.2f W at %.2f s while the block is too hot", x.Heater, x.Time)
		}
	}
}

// A ramp moves the block by its rate times the time, up and down.
func TestRampMovesTheBlock(t *testing.T) {
	for _, rate := range []float64{0.5, -0.2} {
		c := bench()
		tr := play(t,
			&Run{Case: c, Block: 483.15, Step: 0.25,
				Phases: []Phase{{Duration: 5}, {Duration: 10, Heating: Ramp, Rate: rate}}})
		if got, want := tr.Samples[len(tr.Samples)-1].Block, 483.15+10*rate; !(math.Abs(got-want) <= 0.01) {
			t.Errorf("ramp of %g K/s for 10 s from 483.15 K ends at %.3f K, want %.3f K", rate, got, want)
		}
	}
}

// The force follows the pressure by one first-order lag, and it is this force that meets what the feeder holds.
func TestFailureIsReadFromTheForceWithLag(t *testing.T) {
	c := bench()
	free := play(t, &Run{Case: c, Block: 483.15, Step: 0.1, Column: 0.5, Stiffness: 5e3,
		Phases: []Phase{{Duration: 12, Flow: 10e-9}}})
	lag := free.Lag[0]
	if lag < 0.3 {
		t.Fatalf("a lag of %g s shows nothing", lag)
	}
	force := 0.0
	for i, x := range free.Samples {
		force += (x.Steady - force) * (1 - math.Exp(-0.1/lag))
		if !(math.Abs(force-x.Force) <= 1e-9*x.Steady) {
			t.Fatalf("sample %d: %.6f N, by the lag %.6f N", i, x.Force, force)
		}
	}
	holds := 0.6 * free.Samples[len(free.Samples)-1].Steady
	f,
		err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: holds, Cause: feeder.Skip},
		{Speed: 20e-3, Force: holds, Cause: feeder.Skip}}})
	if err != nil {
		t.Fatal(err)
	}
	tr := play(t, &Run{Case: c, Feeder: f, Block: 483.15, Step: 0.1, Column: 0.5, Stiffness: 5e3,
		Phases: []Phase{{Duration: 12, Flow: 10e-9}}})
	if n := len(tr.Samples); n != 120 {
		t.Errorf("a run that need not stop has %d samples, want 12 s of them", n)
	}
	first := func(force func(Sample) float64) float64 {
		for _, x := range tr.Samples {
			if force(x) > holds {
				return x.Time
			}
		}
		return math.Inf(1)
	}
	with, without := first(func(x Sample) float64 { return x.Force }), first(func(x Sample) float64 { return x.Steady })
	// Between the last sample below and the first above, on a straight line.
	i := slices.IndexFunc(tr.Samples, func(x Sample) bool { return x.Time == with })
	a, b := tr.Samples[i-1], tr.Samples[i]
	want := a.Time + (holds-a.Force)/(b.Force-a.Force)*(b.Time-a.Time)
	if x := tr.Failure; x == nil || !(math.Abs(x.Time-want) <= 1e-9) || !(math.Abs(x.Force-holds) <= 1e-9) ||
		x.Cause != feeder.Skip || without >= with {
		t.Errorf("failure %+v; the force reaches %.1f N after %.2f s, without lag after %.2f s", tr.Failure, holds,
			want, without)
	}
}

// At rest nothing is pushed, and a block that has no heater cools by its losses.
func TestStandingMeltPushesNothing(t *testing.T) {
	c := bench()
	c.HotEnd.Block = thermal.Block{Capacity: 15, Loss: 0.05, Ambient: 298.15, Power: 50}
	tr := play(t,
		&Run{Case: c, Block: 483.15, Step: 0.5, Column: 0.05,
			Phases: []Phase{{Duration: 20, Flow: 10e-9}, {Duration: 20}}})
	last := tr.Samples[len(tr.Samples)-1]
	if last.Steady != 0 || last.Capability != 0 {
		t.Errorf("%.3g N at rest, capability %.3g N", last.Steady, last.Capability)
	}
	// What remains of the push decays by the lag of standing melt, which is long: its steady slope of pressure over
	// flow is large.
	end := tr.Samples[len(tr.Samples)/2-1].Force
	if want := end * math.Exp(-20/tr.Lag[1]); !(math.Abs(last.Force-want) <= 1e-6*end) {
		t.Errorf("%.4f N after 20 s of rest, want %.4f N", last.Force, want)
	}
}

// A block that is held while it feeds draws what it loses and what the stock takes up in steady state; what a block
// without power gives to both, its own content loses.
func TestHeaterMeetsLossesAndStock(t *testing.T) {
	const T, q = 483.15, 10e-9
	c := bench()
	c.HotEnd.Block = thermal.Block{Capacity: 15, Loss: 0.05, Ambient: 298.15, Power: 50}
	var steady flow.Solution
	if err := march.New(c, march.Options{}).Solve(T, q, &steady); err != nil {
		t.Fatal(err)
	}
	need := 0.05*(T-298.15) + steady.WallHeat
	tr := play(t, &Run{Case: c, Block: T, Step: 0.2, Phases: []Phase{{Duration: 40, Flow: q},
		{Duration: 0.2, Flow: q, Heating: Off}}})
	n := len(tr.Samples)
	if x := tr.Samples[n-2]; !(math.Abs(x.Heater/need-1) <= 0.01) || !(math.Abs(x.Block-T) <= 1e-6) {
		t.Errorf("%.3f W at %.2f K; losses and stock take %.3f W at %.2f K", x.Heater, x.Block, need, T)
	}
	fall := T - tr.Samples[n-1].Block
	if want := need * 0.2 / 15; tr.Samples[n-1].Heater != 0 || !(math.Abs(fall/want-1) <= 0.01) {
		t.Errorf("without power the block falls by %.4f K in 0.2 s, its balance says %.4f K", fall, want)
	}
}

// Numbers that are none are refused by name, those that only look odd are taken.
func TestFieldsOfARun(t *testing.T) {
	good := func() *Run {
		return &Run{Case: bench(), Block: 483.15, Step: 0.25, Phases: []Phase{{Duration: 1, Flow: 5e-9}}}
	}
	for what, x := range map[string]struct {
		change func(r *Run)
		want   string // in the error, "" for none
	}{
		"good":          {func(*Run) {}, ""},
		"no flow":       {func(r *Run) { r.Phases[0].Flow = 0 }, ""},
		"a step of 0":   {func(r *Run) { r.Step = 0 }, ""},
		"step":          {func(r *Run) { r.Step = math.Inf(1) }, "Step"},
		"step back":     {func(r *Run) { r.Step = -1 }, "Step"},
		"no number":     {func(r *Run) { r.Step = math.NaN() }, "Step"},
		"column":        {func(r *Run) { r.Column = math.Inf(1) }, "Column"},
		"column back":   {func(r *Run) { r.Column = -1 }, "Column"},
		"stiffness":     {func(r *Run) { r.Stiffness = -1 }, "Stiffness"},
		"for ever":      {func(r *Run) { r.Phases[0].Duration = math.Inf(1) }, "phase 1: a duration"},
		"no time":       {func(r *Run) { r.Phases[0].Duration = 0 }, "phase 1: a duration"},
		"back":          {func(r *Run) { r.Phases[0].Flow = -1e-9 }, "phase 1: a flow"},
		"no flow given": {func(r *Run) { r.Phases[0].Flow = math.NaN() }, "phase 1: a flow"},
		"no material":   {func(r *Run) { r.Case.Material = nil }, "Case"},
		"light block":   {func(r *Run) { r.Case.HotEnd.Block.Capacity = 0.5 }, ""},
		"capacity":      {func(r *Run) { r.Case.HotEnd.Block.Capacity = 0 }, "Capacity"},
		"block":         {func(r *Run) { r.Block = 100 }, "block"},
	} {
		r := good()
		x.change(r)
		_, err := r.Play(context.Background())
		if (err == nil) != (x.want == "") || err != nil && !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", what, err, x.want)
		}
	}
}

// The step is a sixtieth of the stay at the fastest feed, at most half a second; warnings come from phases that feed,
// and from the one in which the feeder gives way.
func TestStepAndWarningsOfARun(t *testing.T) {
	c := bench()
	v := c.HotEnd.Volume()
	r := Run{Case: c, Phases: []Phase{{Flow: v / 120}, {Flow: v / 6}, {Flow: 0}}}
	if got := r.step(); !(math.Abs(got-0.1) <= 1e-12) {
		t.Errorf("step of %g s for a stay of 6 s", got)
	}
	r.Phases = r.Phases[:1]
	if got := r.step(); got != 0.5 {
		t.Errorf("step of %g s for a stay of two minutes", got)
	}
	r.Step = 0.3
	if got := r.step(); got != 0.3 {
		t.Errorf("step of %g s", got)
	}
	tr := play(t, &Run{Case: bench(), Block: 483.15, Step: 0.5, Phases: []Phase{{Name: "rest", Duration: 1},
		{Name: "feed", Duration: 1, Flow: 5e-9}, {Name: "rest again", Duration: 1}}})
	if len(tr.Found) != 1 || tr.Found[0].Name != "feed" || len(tr.Lag) != 3 {
		t.Errorf("%+v, lags %v", tr.Found, tr.Lag)
	}
	worst := 0.0
	for _, x := range tr.Samples {
		if x.Phase == 0 && (x.Steady != 0 || x.Capability != 0) {
			t.Errorf("%+v", x)
		}
		worst = math.Max(worst, x.Time)
	}
	if !(math.Abs(worst-3) <= 1e-9) || !(tr.Balance > 0 && tr.Balance < 1e-6) {
		t.Errorf("%g s, balance %g", worst, tr.Balance)
	}
}

// A phase ends at its time: in whole steps where they fit, round-off or not, else with a shorter one.
func TestPhasesEndInTime(t *testing.T) {
	for _, x := range []struct {
		duration, step float64
		samples        int
	}{{2.1, 0.3, 7}, {0.3, 0.1, 3}, {1.25, 0.5, 3}, {0.2, 0.5, 1}} {
		tr := play(t, &Run{Case: bench(), Block: 483.15, Step: x.step, Phases: []Phase{{Duration: x.duration}}})
		n := len(tr.Samples)
		if n != x.samples || !(math.Abs(tr.Samples[n-1].Time-x.duration) <= 1e-12) {
			t.Errorf("%g s in steps of %g s: %d samples, the last at %g s", x.duration, x.step, n, tr.Samples[n-1].Time)
		}
	}
}

// A block that comes within 5 K of the filament's temperature ends the run: nothing melts any more.
func TestRunEndsWhereTheBlockIsAsColdAsTheFilament(t *testing.T) {
	for above, whole := range map[float64]bool{5.5: true, 4.5: false} {
		c := bench()
		c.HotEnd.Block = thermal.Block{Capacity: 2, Loss: 20, Ambient: c.Filament.Inlet + above}
		tr := play(t, &Run{Case: c, Block: c.Filament.Inlet + 40, Step: 0.02,
			Phases: []Phase{{Duration: 1, Heating: Off}, {Duration: 0.1, Heating: Off}}})
		if got := len(tr.Samples) == 55; got != whole {
			t.Errorf("%g K above the filament: %d samples", above, len(tr.Samples))
		}
	}
}

// A heater without a limit holds what is set from the first step on; without feed a feeder holds nothing, and is not
// asked.
func TestHeaterWithoutLimitAndFeederAtRest(t *testing.T) {
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: 60, Cause: feeder.Skip}}})
	if err != nil {
		t.Fatal(err)
	}
	c := bench()
	c.HotEnd.Block.Power = 0
	tr := play(t, &Run{Case: c, Feeder: f, Block: 483.15, Step: 0.5, Phases: []Phase{{Duration: 0.5, Set: 500}}})
	if x := tr.Samples[0]; !(math.Abs(x.Block-500) <= 1e-9) || x.Capability != 0 {
		t.Errorf("after one step the block is at %g K, and the feeder holds %g N", x.Block, x.Capability)
	}
}

// A short lag counts as a long one does: half a second takes 1 - e^-0.5 of the way in a quarter.
func TestShortLagOfTheForce(t *testing.T) {
	p := &player{Run: &Run{Phases: []Phase{{Flow: 1e-9}}}, out: &Trace{}}
	p.d.Push = 10
	p.sample(0, 0.5, 0.25, 0)
	if want := 10 * (1 - math.Exp(-0.5)); !(math.Abs(p.force-want) <= 1e-9) {
		t.Errorf("%g N, want %g N", p.force, want)
	}
	if p.sample(0, 0, 0.25, 0); p.force != 10 {
		t.Errorf("%g N without a lag", p.force)
	}
}

// Force and capability meet on straight lines between two samples of a phase, 30 under 50 N and 60 over 40 N halfway;
// the first sample of a phase is the failure itself.
func TestWhereForceAndCapabilityMeet(t *testing.T) {
	before := Sample{Time: 1, Block: 480, Force: 30, Capability: 50, Phase: 1}
	for _, x := range []struct {
		samples []Sample
		phase   int
		want    Failure
	}{
		{[]Sample{{}, before}, 1, Failure{1.5, 475, 45, feeder.Grind, 1}},
		{[]Sample{{}, before}, 2, Failure{2, 470, 60, feeder.Grind, 2}},
		{nil, 1, Failure{2, 470, 60, feeder.Grind, 1}},
	} {
		p := &player{out: &Trace{Samples: x.samples}}
		got := p.failed(&Sample{Time: 2, Block: 470, Force: 60, Capability: 40, Phase: x.phase}, feeder.Grind)
		if *got != x.want {
			t.Errorf("%+v, want %+v", *got, x.want)
		}
	}
}

// Melt that stands lags as melt that hardly flows, and a mount of any stiffness gives: one half as stiff twice as much.
func TestLagAtRestAndOfASoftMount(t *testing.T) {
	c := bench()
	lag := func(q, stiffness float64) float64 { return (&Run{Case: c, Stiffness: stiffness}).lag(483.15, q) }
	if rest, creeping := lag(0, 0), lag(standing, 0); rest != creeping || !(rest > 0) {
		t.Errorf("at rest %g s, creeping %g s", rest, creeping)
	}
	melt := lag(10e-9, 0)
	if soft, softer := lag(10e-9, 1)-melt, lag(10e-9, 0.5)-melt; !(soft > 0) || !(math.Abs(softer/soft-2) <= 1e-6) {
		t.Errorf("mounts of 1 and 0.5 N/m: %g and %g s more", soft, softer)
	}
}
