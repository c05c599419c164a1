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

// Two nozzles at three block temperatures on a hot end and a feeder described in Go: one call, a row a combination.
func ExampleSurvey() {
	pla, err := materials.Get("pla")
	if err != nil {
		fmt.Println(err)
		return
	}
	push, err := feeder.New(feeder.Feeder{Name: "mine", Points: []feeder.Point{{Speed: 2e-3, Force: 74}}})
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
		Block: unit.Kelvin(215), Feeder: push,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := study.Survey(context.Background(), study.SurveyJob{Base: s, Nozzles: []float64{0.4e-3, 0.6e-3},
		Blocks: []float64{unit.Kelvin(200), unit.Kelvin(210), unit.Kelvin(220)}, Flow: 10 * unit.MM3}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(r.Rows), "combinations, the highest usable flow with the", r.Rows[*r.Best].Name(false))
	fmt.Println("a wider nozzle needs less push at 10 mm3/s:", *r.Rows[3].PushAt < *r.Rows[0].PushAt)
	fmt.Println("and prints slower at its own flow:", *r.Rows[3].Speed < *r.Rows[0].Speed)
	// Output:
	// 6 combinations, the highest usable flow with the pla, 0.6 mm nozzle, 220 degC
	// a wider nozzle needs less push at 10 mm3/s: true
	// and prints slower at its own flow: true
}
