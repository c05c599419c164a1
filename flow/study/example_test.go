package study_test

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/study"
	"meltload/materials"
	"meltload/materials/unit"
)

// A hot end and a feeder described in Go, without a file, and all that the assess command says about them. The feeder's
// two points are invented.
func ExampleAssess() {
	pla, err := materials.Get("pla")
	if err != nil {
		fmt.Println(err)
		return
	}
	push, err := feeder.New(feeder.Feeder{Name: "mine",
		Points: []feeder.Point{{Speed: 2e-3, Force: 74, Cause: feeder.Grind},
			{Speed: 12e-3, Force: 60, Cause: feeder.Skip}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := setup.New(setup.Setup{
		Case: flow.Case{
			Material: pla,
			Filament: flow.Filament{Diameter: 1.75e-3, Inlet: unit.Kelvin(25)},
			HotEnd: flow.HotEnd{Name: "mine", Sections: []flow.Section{
				{Name: "barrel", Shape: flow.Tube, D1: 2e-3, Length: 20e-3},
				{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6},
				{Name: "bore", Shape: flow.Tube, D1: 0.4e-3, Length: 0.6e-3},
			}},
		},
		Title: "two points on a short hot end", Block: unit.Kelvin(215), Feeder: push, Target: 8 * unit.MM3,
	})
	if err != nil {
		fmt.Println(err) // everything that is wrong with the set-up, each with its field
		return
	}
	r, err := study.Assess(context.Background(), s, study.AssessOptions{Samples: 32})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("usable flow above the wanted:", r.Verdict.Flow > s.Target, "- likely range holds it:",
		r.Range.Usable.Low < r.Verdict.Flow && r.Verdict.Flow < r.Range.Usable.High)
	fmt.Println(quantity.Of("usable_flow").Label, "in", quantity.Of("usable_flow").Unit.Text, "- held by", len(r.Uses),
		"limits looked at")
	// Output:
	// usable flow above the wanted: true - likely range holds it: true
	// highest usable flow in mm3/s - held by 3 limits looked at
}
