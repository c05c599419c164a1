package match_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/materials"
	"meltload/materials/checks"

	"pgregory.net/rapid"
)

// Under a block below the flow point no flow is promised, and the flow point is the reason also where the feeder holds
// nothing either. A wall at a temperature of its own above the flow point lets the stock melt.
func TestNoFlowIsPromisedBelowTheFlowPoint(t *testing.T) {
	for _, force := range []float64{50, 5} { // the load is at least 10 N times 1.25
		m, c := setup(flat(force), wide)
		c.Material.FirstFlow = 420
		if r := find(t, m, 419.9); r.Flow != 0 || r.Binding != match.FlowPoint {
			t.Errorf("feeder of %g N, below the flow point: %g m3/s by %q", force, r.Flow, r.Binding)
		}
		want := match.Grip
		if r := find(t, m, 420.1); r.Binding != want || r.Flow > 0 != (force > 12.5) {
			t.Errorf("feeder of %g N, above the flow point: %g m3/s by %q", force, r.Flow, r.Binding)
		}
		c.HotEnd.Sections[0].Wall = flow.Wall{Start: 410, End: 421, Fixed: true}
		if r := find(t, m, 419.9); r.Binding != want {
			t.Errorf("feeder of %g N, a wall above the flow point: by %q", force, r.Binding)
		}
	}
}

// A flow that a feeder pushes through a colder block takes not much more push through a hotter one, across the flow
// point and well above it, for any material of the library, and below it none is promised. Somewhat more it may take: a
// colder block leaves more of the barrel to stock that slides, and less to melt at its stiffest, which is held (21 %
// was the most in some thousand draws); where the load is flat over flow that makes much of the flow. Before, a wall
// just below the flow point did not hold the stock at all, and pressure did not stiffen what had not melted: the
// default case with ABS then passed four times as much at 162 degC as at 165.
func TestUsableFlowFallsWithTheBlockAcrossTheFlowPoint(t *testing.T) {
	names := materials.Names()
	checks.Property(t, 6, func(t *rapid.T) {
		m, err := materials.Get(rapid.SampledFrom(names).Draw(t, "material"))
		if err != nil {
			t.Fatal(err)
		}
		bore := rapid.Float64Range(0.25e-3, 1e-3).Draw(t, "bore")
		c := flowtest.Free(m, flowtest.Nozzle(rapid.Float64Range(1.9e-3, 2.2e-3).Draw(t, "barrel"),
			rapid.Float64Range(8e-3, 30e-3).Draw(t, "length"), rapid.Float64Range(30, 120).Draw(t, "angle"), bore,
			2*bore, math.Exp(rapid.Float64Range(8, 11).Draw(t, "ln h"))))
		c.HotEnd.TipDrop = rapid.Float64Range(0, 15).Draw(t, "tip")
		force := rapid.Float64Range(20, 150).Draw(t, "force")
		f, err := feeder.New(feeder.Feeder{Points: flat(force)})
		if err != nil {
			t.Fatal(err)
		}
		x := match.Matcher{Case: c, Solver: march.New(c, march.Options{}), Feeder: f,
			Limits: match.Limits{Safety: 1, MinFlow: 0.2e-9, MaxFlow: 40e-9}}
		below := 0.0
		var d flow.Solution
		for _, dT := range []float64{-2, 0.1, 2, 4, 7, 12, 25} {
			r, err := x.Find(m.FlowPoint() + dT)
			if err != nil {
				t.Fatal(err)
			}
			if dT < 0 && r.Flow != 0 {
				t.Fatalf("%s %+g K from the flow point: %.3f mm3/s", m.ID, dT, r.Flow*1e9)
			}
			if q := r.Pushed().Flow; q < below*0.99 {
				if err := x.Solver.Solve(m.FlowPoint()+dT, below, &d); err != nil {
					t.Fatal(err)
				}
				if d.Push > 1.35*force {
					t.Fatalf("%s: %.3f mm3/s take %.1f N at %+g K from the flow point, a step colder %.1f N", m.ID,
						below*1e9, d.Push, dT, force)
				}
			}
			below = r.Pushed().Flow
		}
	})
}
