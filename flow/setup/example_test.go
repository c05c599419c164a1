package setup_test

import (
	"fmt"
	"math"
	"strings"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/unit"
)

// A set-up made in Go, with a fault that New names: the cone between barrel and bore was left out.
func ExampleNew() {
	pla, _ := materials.Get("pla")
	push, _ := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 4e-3, Force: 60, Cause: feeder.Grind}}})
	s := setup.Setup{
		Case: flow.Case{
			Material: pla,
			Filament: flow.Filament{Diameter: 1.75e-3, Inlet: unit.Kelvin(25)},
			HotEnd: flow.HotEnd{Sections: []flow.Section{
				{Name: "barrel", Shape: flow.Tube, D1: 2e-3, Length: 20e-3},
				{Name: "bore", Shape: flow.Tube, D1: 0.4e-3, Length: 1e-3},
			}},
		},
		Block:  unit.Kelvin(215),
		Feeder: push,
	}
	_, err := setup.New(s)
	fmt.Println(strings.Split(err.Error(), "; put")[0])
	cone := flow.Section{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6} // 60 deg included
	barrel, bore := s.HotEnd.Sections[0], s.HotEnd.Sections[1]
	s.HotEnd.Sections = []flow.Section{barrel, cone, bore}
	whole, err := setup.New(s)
	fmt.Println(err, whole.HotEnd.Sections[1].Length > 1.38e-3)
	// Output:
	// HotEnd.Sections[2] (bore).D1: found 0.0004 m; allowed: 0.002 m, the outlet of the section before
	// <nil> true
}
