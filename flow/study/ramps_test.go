package study

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow/benchplan"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
)

// A ramp that fails before the heater is off fails at its start, not at a time below zero.
func TestNoFailureBeforeTheStart(t *testing.T) {
	c := casefile.Invented()
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-4, Force: 20, Cause: feeder.Grind},
		{Speed: 1, Force: 20, Cause: feeder.Grind}}})
	if err != nil {
		t.Fatal(err)
	}
	c.Feeder = f
	r, err := MakeRamps(context.Background(), &c.Setup, benchplan.RampWish{Flows: []float64{20e-9}})
	if err != nil {
		t.Fatal(err)
	}
	if x := r.Ramps[0]; x.Time == nil || *x.Time != 0 || *x.TimeEarly != 0 || r.Good ||
		!strings.Contains(x.Note, "before the heater is off") {
		t.Errorf("%+v", x)
	}
}

// The numbers of the plan as they are shown follow from those of the rig: the cell holds the range of the load and the
// feeder, the force to stop
// at lies above every failure that the cell allows, and the sentence names what the table has.
func TestMakeRamps(t *testing.T) {
	c := casefile.Invented()
	r, err := MakeRamps(context.Background(), &c.Setup, benchplan.RampWish{Flows: []float64{5e-9}, CellMax: 300})
	if err != nil {
		t.Fatal(err)
	}
	x := r.Ramps[0]
	k := c.Feeder.At(5e-9 / c.Area())
	if len(r.Ramps) != 1 || x.Force != k.Force || x.Cause != string(k.Cause) || x.Time == nil || x.TimeEarly == nil ||
		*x.TimeEarly >= *x.Time || *x.BlockEarly <= *x.Block {
		t.Fatalf("%+v", x)
	}
	if r.Highest < x.ForceHigh || math.Abs(r.Cell-1.25*r.Highest) > 1e-9 || r.Stop < r.Highest || len(r.Traces) != 3 ||
		!r.Good {
		t.Errorf("highest %.1f, cell %.1f, stop %.1f N, good %v: %+v", r.Highest, r.Cell, r.Stop, r.Good, r.Checks)
	}
	// Each trace ends within a step of where the table says, at the force that its feeder holds.
	for i, want := range []struct{ time, force float64 }{{*x.Time, x.Force}, {*x.TimeEarly, x.ForceLow}} {
		p := r.Traces[i].Points[len(r.Traces[i].Points)-1]
		if p.Time < want.time || p.Time > want.time+0.5 || p.Force < want.force || p.Force > 1.1*want.force {
			t.Errorf("%s ends at %.1f s, %.1f N; want %.1f s, %.1f N", r.Traces[i].What, p.Time, p.Force, want.time,
				want.force)
		}
	}
	if !strings.Contains(r.Sentence, "4 ramps (flows: 1, each 4 times)") ||
		!strings.Contains(r.Sentence, "Stop a run at") {
		t.Errorf("%s", r.Sentence)
	}
	if strings.Contains(fmt.Sprint(r.Warnings), "below-window") {
		t.Error("a ramp warns that it leaves the processing window")
	}
}

func TestMakeRampsOnASmallCell(t *testing.T) {
	c := casefile.Invented()
	small, err := MakeRamps(context.Background(), &c.Setup, benchplan.RampWish{Flows: []float64{5e-9}, CellMax: 60})
	if err != nil || small.Good || small.Unmet() != 2 || small.Stop != 48 {
		t.Errorf("a 60 N cell: good %v, %d unmet, stop %.1f N, %v", small.Good, small.Unmet(), small.Stop, err)
	}
}

// The check of the cell counts with the range of the load, not with the forces asked for alone.
func TestPlanChecksTheCellAgainstTheRange(t *testing.T) {
	c := casefile.Invented()
	c.Feeder.Points = c.Feeder.Points[:1]
	c.Feeder.Points[0].Force = 20 // a weak feeder does not hide the range of the load
	r, err := MakePlan(context.Background(), &c.Setup,
		benchplan.Wish{Low: 15, High: 20, Levels: 2, Flows: []float64{20e-9}, CellMax: 55})
	if err != nil {
		t.Fatal(err)
	}
	top := 0.0
	for _, x := range r.Runs {
		top = math.Max(top, x.High)
	}
	for _, k := range r.Checks {
		if k.Name == "load cell range" && k.OK != (55 >= 1.25*top) {
			t.Errorf("forces up to %.1f N on a 55 N cell: met %v, %s", top, k.OK, k.Text)
		}
	}
	if top < 44 {
		t.Fatalf("the highest force is %.1f N; the test needs more than 44", top)
	}
}
