package mould_test

import (
	"context"
	"fmt"

	"meltload/flow"
	"meltload/flow/mould"
	"meltload/materials"
)

// How much filament of 1.75 mm a mould of 4 cm3 takes, and how long at 20 mm3/s.
func ExampleShot() {
	length, t := mould.Shot(4e-6, 1.75e-3, 20e-9)
	fmt.Printf("%.2f m of filament, %.0f s\n", length, t)
	// Output: 1.66 m of filament, 200 s
}

// A strip of 10 x 2 mm, 20 mm long, of aluminium at 60 degC, filled with PLA of 215 degC by a machine that gives 30 MPa
// at any flow.
func ExampleFill() {
	pla, err := materials.Get("pla")
	if err != nil {
		fmt.Println(err)
		return
	}
	wall, _ := mould.WallOf("aluminium")
	m := mould.Mould{Surface: 333, Wall: wall, Contact: mould.DefaultContact, Elements: []mould.Element{
		{Name: "strip", Shape: mould.StripGap, Width: 10e-3, Height: 2e-3, Length: 20e-3, Copies: 1, Cavity: true}}}
	r, err := mould.Fill(context.Background(), &flow.Case{Material: pla}, &m, mould.Settings{Melt: 488, Flow: 400e-9,
		Supply: func(float64) float64 { return 30e6 }})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("filled %v in %.2f s, up to %.0f MPa\n", r.Filled, r.Time, r.Peak/1e6)
	// Output: filled true in 1.00 s, up to 4 MPa
}
