package benchplan

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/thermal"
)

// bench is a barrel of 3 mm and 20 mm length with filament of 1.75 mm, 20 J/K and 0.05 W/K of block.
func bench(t *testing.T) *flow.Case {
	m := flowtest.Uniform("slow", materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 100},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: 100, Tref: 500}, Cap: 1e30}, 1200, 2000, 0.24, 0)
	c := flowtest.Case(m, flow.HotEnd{Sections: []flow.Section{{Shape: flow.Tube, D1: 3e-3, D2: 3e-3, Length: 20e-3,
		Channels: 1}}, Block: thermal.Block{Capacity: 20, Loss: 0.05, Ambient: 300, Power: 40}}, 298)
	c.Filament.Diameter = 1.75e-3
	return c
}

// A block heats at full power and cools by its losses; what cannot be or is not known takes the time named.
func TestBlockTimeByHand(t *testing.T) {
	for _, x := range []struct {
		from, to, power, loss, want float64
	}{
		{300, 500, 40, 0.05, 400 * math.Log(800.0/600)}, {500, 460, 40, 0.05, 400 * math.Log(200.0/160)},
		{300, 500, 0, 0.05, 60}, {300, 1200, 40, 0.05, 600}, {500, 499.6, 40, 0.05, 0}, {500, 460, 40, 0, 0},
		{500, 300, 40, 0.05, 0}, {500, 290, 40, 0.05, 0}, {500, 500, 40, 0.05, 0},
		{500, 499.45, 40, 0.05, 400 * math.Log(200/199.45)},
		{500, 499.4, 40, 0.05, 400 * math.Log(200/199.4)},
	} {
		c := bench(t)
		c.HotEnd.Block.Power, c.HotEnd.Block.Loss = x.power, x.loss
		if got := blockTime(c, x.from, x.to); !(math.Abs(got-x.want) <= 1e-9) {
			t.Errorf("from %g to %g K: %g s, want %g s", x.from, x.to, got, x.want)
		}
	}
}

// Two levels, two repeats, by hand: from hot to cold and back; purge of twice the volume, hold of twice the settling
// time, filament and time of all of it.
func TestScheduleByHand(t *testing.T) {
	c := bench(t)
	volume := math.Pi / 4 * 9e-6 * 20e-3
	p := &Plan{Repeats: 2, Wish: Wish{Blocks: [2]float64{460, 500}}, Spans: []Span{{Flow: 10e-9, Settling: 12.3},
		{Flow: 20e-9, Settling: 2}}}
	p.schedule(c, []level{{q: 10e-9, T: 460, want: 40, force: 41, low: 30, high: 50}, {q: 20e-9, T: 480, want: 20}})
	melt := soak(c, 460)
	var filament, time float64
	for i, x := range []struct {
		repeat        int
		block, before float64
		flow, hold    float64
	}{{1, 480, 500, 20e-9, 10}, {1, 460, 480, 10e-9, 25}, {2, 460, 460, 10e-9, 25}, {2, 480, 460, 20e-9, 10}} {
		r := p.Runs[i]
		wait := math.Ceil(melt + blockTime(c, x.before, x.block))
		long := (2*volume + x.hold*x.flow) / (math.Pi / 4 * 1.75e-3 * 1.75e-3)
		if r.Number != i+1 || r.Repeat != x.repeat || r.Block != x.block || r.Flow != x.flow || r.Hold != x.hold ||
			r.Soak != wait || !(math.Abs(r.Purge/(2*volume)-1) <= 1e-12) || !(math.Abs(r.Filament/long-1) <= 1e-12) {
			t.Errorf("run %d: %+v, want a wait of %g s and %g m", i+1, r, wait, long)
		}
		filament += long
		time += wait + 2*volume/x.flow + x.hold
	}
	if r := p.Runs[1]; len(p.Runs) != 4 || r.Want != 40 || r.Force != 41 || r.Low != 30 || r.High != 50 {
		t.Errorf("%+v", p.Runs)
	}
	if !(math.Abs(p.Filament/filament-1) <= 1e-12) || !(math.Abs(p.Time/time-1) <= 1e-12) {
		t.Errorf("%g m and %g s in all, want %g m and %g s", p.Filament, p.Time, filament, time)
	}
}

// The questions to the rig, by hand. 1e-8 m3/s are 4.1576 mm/s of filament; a wheel of 8 mm and 200 steps a turn make
// 33.09 steps a second, a fourth of that at a stall; 40 teeth 6.617 a second.
func TestChecksByHand(t *testing.T) {
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 4e-3, Force: 60, Cause: feeder.Grind}}})
	if err != nil {
		t.Fatal(err)
	}
	base := Wish{Low: 20, High: 40, Levels: 5, Flows: []float64{5e-9, 10e-9}, Confidence: 0.95, Scatter: 0.05,
		HalfWidth: 0.1, FullSteps: 200, GearTeeth: 40, CellMax: 75, CellStep: 0.25, Rate: 80}
	for _, x := range []struct {
		what, name string
		change     func(p *Plan)
		ok         bool
		says       string
	}{
		{"a quarter in reserve of 60 N", "load cell range", func(p *Plan) {}, true, "highest force of 60 N"},
		{"less", "load cell range", func(p *Plan) { p.Wish.CellMax = 74.9 }, false, "75 N"},
		{"not given", "load cell range", func(p *Plan) { p.Wish.CellMax = 0 }, false, "not given"},
		{"a run that needs more", "load cell range", func(p *Plan) { p.Runs[0].Force = 61 }, false, "61 N"},
		{"one that may need more", "load cell range", func(p *Plan) { p.Runs[0].High = 62 }, false, "62 N"},
		{"a twentieth of 5 N", "load cell resolution", func(p *Plan) {}, true, "5.0 N apart"},
		{"coarser", "load cell resolution", func(p *Plan) { p.Wish.CellStep = 0.26 }, false, ""},
		{"six repeats", "repeats", func(p *Plan) {}, true, ""},
		{"seven", "repeats", func(p *Plan) { p.Repeats = 7 }, false, ""},
		{"steps at 80 Hz", "step ripple", func(p *Plan) {}, true, "33.1 Hz"},
		{"at 66 Hz", "step ripple", func(p *Plan) { p.Wish.Rate = 66 }, false, "alias"},
		{"stalls at 17 Hz", "skipping", func(p *Plan) { p.Wish.Rate = 17 }, true, "8.27 Hz"},
		{"at 16 Hz", "skipping", func(p *Plan) { p.Wish.Rate = 16 }, false, "sample at 21 Hz"},
		{"teeth at 14 Hz", "tooth ripple", func(p *Plan) { p.Wish.Rate = 14 }, true, "6.62 Hz"},
		{"at 13 Hz", "tooth ripple", func(p *Plan) { p.Wish.Rate = 13 }, false, "alias"},
		{"5 Hz", "sampling of the peak", func(p *Plan) { p.Wish.Rate = 5 }, true, "5 Hz"},
		{"4.9 Hz", "sampling of the peak", func(p *Plan) { p.Wish.Rate = 4.9 }, false, ""},
		{"a span that reaches", "range of forces", func(p *Plan) {}, true, "10 to 50 N at 5 mm3/s"},
		{"one that does not", "range of forces", func(p *Plan) { p.Spans[0].Reaches = false }, false, ""},
	} {
		p := &Plan{Wish: base, Repeats: 6, Runs: []Run{{Force: 30, High: 50}}, Spans: []Span{{Flow: 5e-9, Least: 10,
			Most: 50, Reaches: true}}}
		x.change(p)
		p.checks(bench(t), f)
		seen := 0
		for _, c := range p.Checks {
			if c.Name == x.name {
				seen++
				if c.OK != x.ok || !strings.Contains(c.Text, x.says) {
					t.Errorf("%s, %s: %v, %s", x.name, x.what, c.OK, c.Text)
				}
			}
		}
		if seen != 1 {
			t.Errorf("%s: %d times", x.name, seen)
		}
	}
	p := &Plan{Wish: base, Repeats: 3, Runs: []Run{{}}}
	p.Wish.CellStep, p.Wish.GearTeeth = 0, 0
	p.checks(bench(t), f)
	if len(p.Checks) != 5 { // range, repeats, steps, skipping, peak
		t.Errorf("%d checks of a rig of which little is known", len(p.Checks))
	}
	// A model without a wheel counts as a wheel of 8 mm; what the feeder holds at the flows of the plan counts for the
	// cell: 50 N at 5 mm3/s, 60 N at 10, and not the 30 N at less.
	per := 1 / (math.Pi / 4 * 1.75e-3 * 1.75e-3)
	three, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: 30},
		{Speed: 5e-9 * per, Force: 50},
		{Speed: 10e-9 * per, Force: 60}}})
	if err != nil {
		t.Fatal(err)
	}
	three.Model = &feeder.Model{}
	p = &Plan{Wish: base, Repeats: 3, Runs: []Run{{}}}
	p.checks(bench(t), three)
	for _, c := range p.Checks {
		want := map[string]string{"step ripple": "33.1 Hz", "skipping": "8.27 Hz", "tooth ripple": "6.62 Hz",
			"load cell range": "highest force of 60 N"}[c.Name]
		if !strings.Contains(c.Text, want) {
			t.Errorf("%s: %s, want %q", c.Name, c.Text, want)
		}
	}
	// The wheel of the feeder counts where it is known: 3 to 1 on 12 mm.
	f.Model = &feeder.Model{Drive: feeder.Drive{Ratio: 3, Diameter: 12e-3}}
	p = &Plan{Wish: base, Repeats: 3, Runs: []Run{{}}}
	p.checks(bench(t), f)
	v := 1e-8 / (math.Pi / 4 * 1.75e-3 * 1.75e-3)
	for _, c := range p.Checks {
		want := map[string]float64{"step ripple": v / (math.Pi * 12e-3 / 3) * 200,
			"skipping": v / (math.Pi * 12e-3 / 3) * 50, "tooth ripple": v / (math.Pi * 12e-3) * 40}[c.Name]
		if want > 0 && !strings.HasPrefix(c.Text, fmt.Sprintf("%.3g Hz", want)) {
			t.Errorf("%s: %s, want %.3g Hz", c.Name, c.Text, want)
		}
	}
}

// What is taken where nothing is given.
func TestDefaultsOfWishes(t *testing.T) {
	var w Wish
	w.defaults()
	if w.Levels != 5 || w.Confidence != 0.95 || w.Scatter != 0.05 || w.HalfWidth != 0.1 || w.Rate != 10 ||
		w.FullSteps != 200 || fmt.Sprint(w.Flows) != "[5e-09 2e-08]" {
		t.Errorf("%+v", w)
	}
	w = Wish{Levels: 3, Confidence: 0.9, Scatter: 0.1, HalfWidth: 0.2, Rate: 80, FullSteps: 400, Flows: []float64{1e-9}}
	given := fmt.Sprint(w)
	if w.defaults(); fmt.Sprint(w) != given {
		t.Errorf("%+v", w)
	}
	var r RampWish
	r.defaults()
	if r.StartShare != 0.4 || r.Confidence != 0.95 || r.Scatter != 0.05 || r.HalfWidth != 0.1 || r.Longest != 900 ||
		fmt.Sprint(r.Flows) != "[5e-09 2e-08]" {
		t.Errorf("%+v", r)
	}
}

// A cold block is what a ramp is for: it is no remark; of others the first of each kind is kept.
func TestRemarksAreKeptOnce(t *testing.T) {
	var r Ramp
	for _, w := range []materials.Warning{{Code: "a", Message: "1"}, {Code: "a", Message: "2"},
		{Code: "below-window", Message: "3"}, {Code: "block-below-flow-point", Message: "3"},
		{Code: "b", Message: "4"}} {
		r.warnOfLoad(w)
	}
	if len(r.found) != 2 || r.found[0].Message != "1" || r.found[1].Code != "b" {
		t.Errorf("%v", r.found)
	}
}

// Totals of ramps by hand: each repeat soaks, settles, runs to the later of its two ends and heats up again; the cell
// has a quarter to spare over the highest force, and a run stops a tenth above it, or sooner for cell and mount.
func TestTotalsOfRampsByHand(t *testing.T) {
	c := bench(t)
	ramp := Ramp{Flow: 5e-9, Start: 500, Soak: 30, Settle: 20, Filament: 2, Hold: [3]float64{40, 50, 60},
		Early: RampTrace{Push: 40, Force: []float64{10, 72}}, Expected: RampTrace{Push: 50, At: 100, FailTemp: 460,
			Failed: true}, Late: RampTrace{Push: 61, At: 150}}
	for _, x := range []struct {
		cell, mount, stop float64
		why               string
	}{{0, 0, 79.2, "a tenth above"}, {80, 0, 64, "the load cell"}, {200, 70, 70, "the mount"},
		{200, 300, 79.2, "a tenth"},
		{80, 60, 60, "the mount"}} {
		p := &RampPlan{Repeats: 3, Ramps: []Ramp{ramp}, Wish: RampWish{CellMax: x.cell, MountMax: x.mount}}
		p.finish(c)
		if p.Highest != 72 || p.Cell != 90 || !(math.Abs(p.Stop-x.stop) <= 1e-9) ||
			!strings.HasPrefix(p.StopWhy, x.why) {
			t.Errorf("%+v: highest %g, cell %g, stop %g as %s", x, p.Highest, p.Cell, p.Stop, p.StopWhy)
		}
		want := 3 * (30 + 20 + 150 + blockTime(c, 460, 500))
		if p.Filament != 6 || !(math.Abs(p.Time-want) <= 1e-9) {
			t.Errorf("%g m in %g s, want %g s", p.Filament, p.Time, want)
		}
		for _, k := range p.Checks {
			if strings.HasPrefix(k.Name, "failure within reach") && k.OK != (x.stop >= 60) {
				t.Errorf("%+v: %s: %t", x, k.Name, k.OK)
			}
		}
	}
	ramp.Hold[2] = 75
	p := &RampPlan{Repeats: 7, Ramps: []Ramp{ramp}}
	if p.finish(c); p.Highest != 75 {
		t.Errorf("highest %g N", p.Highest)
	}
	for _, k := range p.Checks {
		if k.Name == "repeats" && k.OK {
			t.Error("seven repeats are fine")
		}
	}
}

// What a ramp cannot do is said, and nothing else.
func TestRemarksOnARamp(t *testing.T) {
	good := func() (*flow.Case, *Ramp) {
		return bench(t), &Ramp{Hold: [3]float64{40, 50, 60}, Expected: RampTrace{Failed: true, At: 100, FailTemp: 460,
			Push: 50}, Early: RampTrace{Failed: true, At: 50, Push: 40}}
	}
	for what, x := range map[string]struct {
		change func(c *flow.Case, r *Ramp)
		want   []string
	}{
		"good":         {func(*flow.Case, *Ramp) {}, nil},
		"at once":      {func(_ *flow.Case, r *Ramp) { r.Expected.At = 0.5 }, nil},
		"weak at once": {func(_ *flow.Case, r *Ramp) { r.Early.At = 0.5 }, nil},
		"no fail": {func(_ *flow.Case, r *Ramp) { r.Expected.Failed = false },
			[]string{"not brought to failure: 50 N of 50"}},
		"early": {func(_ *flow.Case, r *Ramp) { r.Expected.At = -5 },
			[]string{"as expected, the feeder fails 5 s before"}},
		"weak": {func(_ *flow.Case, r *Ramp) { r.Early.At = -7 },
			[]string{"weak feeder, the feeder fails 7 s before"}},
		"weak held": {func(_ *flow.Case, r *Ramp) { r.Early.At, r.Early.Failed = -7, false }, nil},
		"cold": {func(c *flow.Case, r *Ramp) { r.Expected.FailTemp = c.Material.FlowPoint() - 1 },
			[]string{"below the flow point"}},
		"no loss":    {func(c *flow.Case, _ *Ramp) { c.HotEnd.Block.Loss = 0 }, []string{"no heat loss is given"}},
		"unmeasured": {func(_ *flow.Case, r *Ramp) { r.Extrapolated = true }, []string{"extrapolated to this feed"}},
	} {
		c, r := good()
		x.change(c, r)
		r.remarks(c)
		if len(r.Notes) != len(x.want) {
			t.Errorf("%s: %q", what, r.Notes)
			continue
		}
		for i, n := range r.Notes {
			if !strings.Contains(n, x.want[i]) {
				t.Errorf("%s: %q, want %q", what, n, x.want[i])
			}
		}
	}
}

// Stock is fed for twice the settling time in whole seconds, 10 s at least.
func TestFeedingTime(t *testing.T) {
	for settling, want := range map[float64]float64{0: 10, 4.9: 10, 5.1: 11, 12.3: 25, 12.5: 25} {
		if got := feeding(settling); got != want {
			t.Errorf("settles in %g s: %g s of feed, want %g s", settling, got, want)
		}
	}
}

// melting is bench with a melt whose viscosity falls by a factor e every 40 K.
func melting(t *testing.T) *flow.Case {
	c := bench(t)
	c.Material.Viscosity.Shift.B = 1.0 / 40
	c.HotEnd.Sections = append(c.HotEnd.Sections, flow.Section{Shape: flow.Cone, D1: 3e-3, D2: 0.8e-3, Half: 1},
		flow.Section{Shape: flow.Tube, D1: 0.8e-3, D2: 0.8e-3, Length: 4e-3})
	for i := range c.HotEnd.Sections {
		c.HotEnd.Sections[i].H = math.Inf(1)
	}
	c.Complete()
	return c
}

// The settling time is the last at which a feed from the soaked state, six stays long, is more than 5 % off its end.
func TestSettlingByARunOfItsOwn(t *testing.T) {
	c := melting(t)
	const q, block = 20e-9, 480.0
	got, err := settling(context.Background(), c, block, q)
	if err != nil {
		t.Fatal(err)
	}
	c.HotEnd.Block.Power = 0
	stays := 6 * c.HotEnd.Volume() / q
	run := transient.Run{Case: c, Block: block, Phases: []transient.Phase{{Duration: stays, Flow: q}}}
	tr, err := run.Play(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	n := len(tr.Samples) - 1
	end, want := tr.Samples[n].Force, 0.0
	for ; n >= 0 && want == 0; n-- {
		if x := tr.Samples[n]; x.Force < 0.95*end || x.Force > 1.05*end {
			want = x.Time
		}
	}
	if got != want || !(want > 0) {
		t.Errorf("%g s, by a run of its own %g s", got, want)
	}
}

// A ramp starts at the coldest whole degree at which the highest load is the share wanted of the least that is held:
// at the coldest block where that is less already, at the hottest, with a word, where it is more even there.
func TestStartOfARampByHand(t *testing.T) {
	c := melting(t)
	hard := *c
	hard.ViscosityFactor = 2
	w := RampWish{Blocks: [2]float64{450, 520}, StartShare: 0.4}
	push := func(c *flow.Case, T float64) float64 {
		var d flow.Solution
		if err := march.New(c, march.Options{}).Solve(T, 10e-9, &d); err != nil {
			t.Fatal(err)
		}
		return d.Push
	}
	for _, x := range []struct {
		what  string
		hold  float64
		start float64
		notes int
	}{
		{"as at 480 K", push(&hard, 480) / 0.4, 207 + 273.15, 0}, // 206.85 degC
		{"a little less than the coldest block makes", push(&hard, 450) / 0.4 * 0.7, 0, 0},
		{"as much as the coldest block makes", push(&hard, 450) / 0.4 * 1.01, 450, 0},
		{"less than the hottest block makes", push(&hard, 520) / 0.4 * 0.9, 520, 1},
	} {
		r := &Ramp{Flow: 10e-9, Hold: [3]float64{x.hold, 2 * x.hold, 3 * x.hold}}
		if err := r.start(c, &hard, w); err != nil {
			t.Fatal(err)
		}
		if x.start == 0 { // by the load itself: at the start, but not a degree colder
			if !(push(&hard, r.Start) <= 0.4*x.hold*1.002 && push(&hard, r.Start-1) > 0.4*x.hold) {
				t.Errorf("%s: start at %g K", x.what, r.Start)
			}
		} else if !(math.Abs(r.Start-x.start) <= 1e-9) {
			t.Errorf("%s: start at %g K, want %g K", x.what, r.Start, x.start)
		}
		if len(r.Notes) != x.notes || r.StartForce != push(c, r.Start) {
			t.Errorf("%s: %q, %g N at the start", x.what, r.Notes, r.StartForce)
		}
	}
	r := &Ramp{Flow: 10e-9, Hold: [3]float64{push(&hard, 520) / 0.4 * 0.8}}
	if err := r.start(c, &hard, w); err != nil || !strings.Contains(r.Notes[0], "loads the weak feeder to 50 %") {
		t.Errorf("%q, %v", r.Notes, err) // 0.4 of 1/0.8
	}
}

// The scatter of a feeder's own repeats counts, one degree of freedom being enough; without any, what is wished.
func TestScatterOfAFeeder(t *testing.T) {
	two := &feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: 50, SD: 4, Repeats: 2}}}
	p := &RampPlan{Wish: RampWish{Scatter: 0.05}}
	if p.scatter(two); !p.Measured || !(math.Abs(p.Scatter-0.08) <= 1e-12) {
		t.Errorf("%g, measured %v", p.Scatter, p.Measured)
	}
	p = &RampPlan{Wish: RampWish{Scatter: 0.05}}
	if p.scatter(&feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: 50}}}); p.Measured || p.Scatter != 0.05 {
		t.Errorf("%g, measured %v", p.Scatter, p.Measured)
	}
}

// What a feeder of 60 N holds at least and at most: by its own 10 %, by a wider scatter of single failures, and a tenth
// of it where two of these would leave nothing.
func TestHoldsByHand(t *testing.T) {
	for _, x := range []struct {
		scatter float64
		want    [3]float64
	}{{0.05, [3]float64{48, 60, 72}}, {0.2, [3]float64{36, 60, 84}}, {0.6, [3]float64{6, 60, 132}}} {
		got := holds(feeder.Capability{Force: 60, SD: 6}, x.scatter)
		for i, want := range x.want {
			if !(math.Abs(got[i]-want) <= 1e-9) {
				t.Errorf("scatter %g: %v, want %v", x.scatter, got, x.want)
			}
		}
	}
}
