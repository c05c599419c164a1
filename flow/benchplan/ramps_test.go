package benchplan_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/benchplan"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/transient"
)

func rampPlan(t *testing.T, f *feeder.Feeder, w benchplan.RampWish) (*setup.Setup, *benchplan.RampPlan) {
	t.Helper()
	s := &casefile.Invented().Setup
	if f != nil {
		s.Feeder = f
	}
	p, err := benchplan.Ramps(context.Background(), s, w)
	if err != nil {
		t.Fatal(err)
	}
	return s, p
}

// A feeder that the load overcomes while the block is still held: the plan says by how much too early, and is not met.
// Each ramp has its warnings under its own name.
func TestAFailureBeforeTheHeaterIsOffIsSaid(t *testing.T) {
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-4, Force: 20, Cause: feeder.Grind},
		{Speed: 1, Force: 20, Cause: feeder.Grind}}})
	if err != nil {
		t.Fatal(err)
	}
	_, p := rampPlan(t, f, benchplan.RampWish{Flows: []float64{2e-9, 20e-9}})
	early := 0
	for i, r := range p.Ramps {
		e := r.Expected
		want := fmt.Sprintf("fails %.0f s before the heater is off, at %.0f N", -e.At, e.Push)
		said := slices.ContainsFunc(r.Notes, func(n string) bool { return strings.Contains(n, want) })
		if before := e.Failed && e.At < 0; before {
			early++
			if !said || e.At < -r.Settle || e.Push < r.Hold[1] {
				t.Errorf("%g mm3/s: fails after %g s at %g N: %q", r.Flow*1e9, e.At, e.Push, r.Notes)
			}
			if i := slices.IndexFunc(p.Checks, func(c benchplan.Check) bool {
				return c.Name == fmt.Sprintf("failure within reach at %.3g mm3/s", r.Flow*1e9)
			}); i < 0 || p.Checks[i].OK {
				t.Errorf("%g mm3/s: the check is met: %+v", r.Flow*1e9, p.Checks)
			}
		}
		if p.Found[i].Name != fmt.Sprintf("%.3g mm3/s", r.Flow*1e9) {
			t.Errorf("warnings of %q, want those of %g mm3/s", p.Found[i].Name, r.Flow*1e9)
		}
	}
	if early != 1 {
		t.Errorf("%d of 2 ramps fail before the heater is off, want that at 20 mm3/s", early)
	}
}

// Each ramp starts where the feeder is safe, ends where the force meets what it holds, and the range brackets what is
// expected; the numbers follow from the solver and from a run in time made here.
func TestRampsToFailure(t *testing.T) {
	f := casefile.Invented().Feeder.Clone()
	f.Factor = 0.9
	c, p := rampPlan(t, f, benchplan.RampWish{Flows: []float64{5e-9, 15e-9}, CellMax: 200})
	if len(p.Ramps) != 2 {
		t.Fatalf("%d ramps", len(p.Ramps))
	}
	highest, total := 0.0, 0.0
	for _, r := range p.Ramps {
		k := f.At(r.Speed)
		if !(math.Abs(r.Hold[1]-k.Force) <= 1e-9) || r.Hold[0] >= k.Force || r.Hold[2] <= k.Force ||
			math.Abs(r.Hold[0]+r.Hold[2]-2*k.Force) > 1e-9 {
			t.Errorf("%.0f mm3/s: holds %v, the feeder %.1f", r.Flow*1e9, r.Hold, k.Force)
		}
		// The highest predicted load at the start is at most 40 % of the least that is held; a degree colder it would
		// be more.
		hard := &assess.Corners(c)[1].Case
		var d flow.Solution
		load := func(T float64) float64 {
			if err := march.New(hard, march.Options{}).Solve(T, r.Flow, &d); err != nil {
				t.Fatal(err)
			}
			return d.Push
		}
		inside := r.Start > c.Material.Window[0]+0.5 && r.Start < c.Material.Window[1]-0.5
		if got := load(r.Start) / r.Hold[0]; inside && (got > 0.4 || load(r.Start-1.05)/r.Hold[0] < 0.4) {
			t.Errorf("%.0f mm3/s: load at the start %.3f of what is held", r.Flow*1e9, got)
		}
		if !(math.Abs(r.Start-273.15-math.Round(r.Start-273.15)) <= 1e-6) {
			t.Errorf("start at %.3f degC is no whole degree", r.Start-273.15)
		}
		// A run in time of the same feed.
		run := transient.Run{Case: &c.Case, Feeder: f, Block: r.Start, Stop: true, Phases: []transient.Phase{
			{Duration: r.Settle, Flow: r.Flow}, {Duration: 900, Flow: r.Flow, Heating: transient.Off}}}
		tr, err := run.Play(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if e := r.Expected; tr.Failure == nil || !e.Failed || !(math.Abs(e.At-(tr.Failure.Time-r.Settle)) <= 1e-9) ||
			e.FailTemp != tr.Failure.Block || e.Push < r.Hold[1] || e.Push > 1.1*r.Hold[1] {
			t.Errorf("%.0f mm3/s: %v after %.1f s, %.1f K, %.1f N; a run of its own %+v", r.Flow*1e9, e.Failed, e.At,
				e.FailTemp, e.Push, tr.Failure)
		}
		if !(r.Early.At < r.Expected.At && r.Expected.At < r.Late.At) ||
			!(r.Early.FailTemp > r.Expected.FailTemp && r.Expected.FailTemp > r.Late.FailTemp) {
			t.Errorf("%.0f mm3/s: failures after %.0f, %.0f, %.0f s at %.0f, %.0f, %.0f K", r.Flow*1e9, r.Early.At,
				r.Expected.At, r.Late.At, r.Early.FailTemp, r.Expected.FailTemp, r.Late.FailTemp)
		}
		// The earliest failure: the viscous melt against the feeder at the low end of what it holds.
		weak := f.Clone()
		weak.Factor = 0.9 * r.Hold[0] / k.Force
		run.Case, run.Feeder = hard, weak
		if tr, err = run.Play(context.Background()); err != nil || tr.Failure == nil ||
			math.Abs(r.Early.At-(tr.Failure.Time-r.Settle)) > 1e-9 {
			t.Errorf("%.0f mm3/s: earliest failure after %.1f s; a run of its own %+v, %v", r.Flow*1e9, r.Early.At,
				tr.Failure, err)
		}
		total += float64(p.Repeats) * (r.Soak + r.Settle + r.Late.At + c.HotEnd.Block.WarmUp(r.Expected.FailTemp,
			r.Start))
		if want := (r.Settle + r.Late.At) * r.Speed; !(math.Abs(r.Filament-want) <= 1e-9) {
			t.Errorf("filament %.4g m, want %.4g", r.Filament, want)
		}
		m := c.Material // a soak until the slowest mode of a rod as wide as the barrel has died to 1 %
		slow := 4.60517 / 5.783 * 1e-6 * m.Density.Melt * m.Heat.Capacity(r.Start) / m.Conductivity.At(r.Start)
		if r.Soak != math.Ceil(math.Max(30, slow)) || r.Settle < 10 || r.Settle != math.Round(r.Settle) {
			t.Errorf("%.0f mm3/s: %g s of soak, %g s of feed; the slowest mode takes %.1f s", r.Flow*1e9, r.Soak,
				r.Settle, slow)
		}
		if r.Expected.Time[0] >= 0 || r.Expected.Time[0] < -r.Settle {
			t.Errorf("time starts at %.2f s; the heater goes off at 0", r.Expected.Time[0])
		}
		highest = math.Max(highest, math.Max(r.Hold[2], r.Late.Push))
	}
	if !(math.Abs(p.Time-total) <= 1e-6) {
		t.Errorf("%.1f s in all, want %.1f: soak, feed, cooling and heating again of every ramp", p.Time, total)
	}
	if p.Highest < highest || p.Highest > 1.1*highest || !(math.Abs(p.Cell-1.25*p.Highest) <= 1e-9) {
		t.Errorf("highest %.1f N, of the ramps %.1f; cell %.1f N", p.Highest, highest, p.Cell)
	}
	if p.Stop > 1.1*p.Highest+1e-9 || p.Stop < p.Highest {
		t.Errorf("stop at %.1f N with a highest of %.1f N", p.Stop, p.Highest)
	}
}

// The force to stop at is the lowest of jam, cell and mount; a cell too small is not called good.
func TestRampStopsForCellAndMount(t *testing.T) {
	one := []float64{5e-9}
	_, big := rampPlan(t, nil, benchplan.RampWish{Flows: one, CellMax: 500})
	_, cell := rampPlan(t, nil, benchplan.RampWish{Flows: one, CellMax: 60})
	_, mount := rampPlan(t, nil, benchplan.RampWish{Flows: one, CellMax: 500, MountMax: 40})
	if !(math.Abs(big.Stop-1.1*big.Highest) <= 1e-9) || !ok(big, "load cell range") ||
		!ok(big, "failure within reach at 5 mm3/s") {
		t.Errorf("stop %.1f N, highest %.1f; %+v", big.Stop, big.Highest, big.Checks)
	}
	if cell.Stop != 48 || ok(cell, "load cell range") || ok(cell, "failure within reach at 5 mm3/s") {
		t.Errorf("a 60 N cell: stop %.1f N; %+v", cell.Stop, cell.Checks)
	}
	if mount.Stop != 40 || ok(mount, "failure within reach at 5 mm3/s") {
		t.Errorf("a mount for 40 N: stop %.1f N; %+v", mount.Stop, mount.Checks)
	}
}

func ok(p *benchplan.RampPlan, name string) bool {
	for _, c := range p.Checks {
		if c.Name == name {
			return c.OK
		}
	}
	return false
}

// The repeats come from the feeder's own scatter: pooled by hand, sqrt((2 0.05^2 + 1 0.1^2)/3) = 0.0707, and 5 runs
// bring
// the half-width 2.776 0.0707/sqrt(5) = 8.8 % below 10 %, 4 do not (11.2 %).
func TestRampRepeatsFromTheFeeder(t *testing.T) {
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{
		{Speed: 2e-3, Force: 40, Cause: feeder.Grind, Repeats: 3, SD: 2}, {Speed: 8e-3, Force: 30, Cause: feeder.Grind,
			Repeats: 2, SD: 3}}})
	if err != nil {
		t.Fatal(err)
	}
	_, p := rampPlan(t, f, benchplan.RampWish{Flows: []float64{5e-9}})
	if !(math.Abs(p.Scatter-math.Sqrt(0.015/3)) <= 1e-9) || !p.Measured || p.Repeats != 5 {
		t.Errorf("scatter %.4f, %d repeats", p.Scatter, p.Repeats)
	}
}

// A feeder that nothing brings to failure is said to hold, not to fail. The mount of the set-up is what counts where
// the wish names none.
func TestRampWithoutFailure(t *testing.T) {
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 2e-3, Force: 1e5}}})
	if err != nil {
		t.Fatal(err)
	}
	s := &casefile.Invented().Setup
	s.Feeder, s.Limits.MountMax = f, 77
	p, err := benchplan.Ramps(context.Background(), s, benchplan.RampWish{Flows: []float64{5e-9}, Longest: 20})
	if err != nil || p.Stop != 77 {
		t.Errorf("stop at %g N, %v", p.Stop, err)
	}
	if r := p.Ramps[0]; r.Expected.Failed || len(r.Notes) == 0 || !(math.Abs(r.Expected.At-20) <= 0.5) ||
		ok(p, "failure within reach at 5 mm3/s") {
		t.Errorf("%+v", r.Notes)
	}
}
