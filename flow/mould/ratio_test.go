package mould

import (
	"testing"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// handbook are ranges of flow length over wall thickness as handbooks of injection moulding print them for presses,
// easy to stiff grades (from memory; tables scatter by a factor of two, and pressure, speed and wall go with each
// number: they are no measurement).
var handbook = []struct {
	material  string
	melt      float64 // degC
	mould     float64
	low, high float64
}{
	{"pp", 230, 40, 150, 350},
	{"hdpe", 230, 30, 150, 250},
	{"ps", 220, 40, 150, 250},
	{"abs", 240, 60, 100, 200},
	{"pa6", 260, 80, 150, 300},
	{"pom", 205, 90, 100, 250},
	{"pc", 300, 90, 60, 150},
}

// At the pressure and speed of a press the calculation must come near what handbooks print: within the range widened by
// a factor of two either way. The page on filling a mould shows the numbers.
func TestPressConditionsComeNearHandbookRatios(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, h := range handbook {
		m, err := materials.Get(h.material)
		if err != nil {
			t.Fatal(err)
		}
		wall, _ := WallOf("steel")
		const thick, pressure, speed = 2e-3, 70e6, 0.2 // m, Pa, m/s of the front
		strip := &Mould{Surface: unit.Kelvin(h.mould), Wall: wall, Contact: 5000,
			Elements: []Element{{Name: "strip", Shape: StripGap, Width: 20e-3, Height: thick,
				Length: 1.2, Copies: 1, Cavity: true}}}
		r := fill(t, &flow.Case{Material: m}, strip, Settings{Melt: unit.Kelvin(h.melt), Flow: speed * thick * 20e-3,
			Supply: func(float64) float64 { return pressure }})
		ratio := r.Front / thick
		t.Logf("| %s | %.0f | %.0f | %.0f to %.0f | %.0f |", h.material, h.melt, h.mould, h.low, h.high, ratio)
		if ratio < h.low/2 || ratio > 2*h.high {
			t.Errorf("%s: flow length over thickness %.0f, handbooks %.0f to %.0f", h.material, ratio, h.low, h.high)
		}
	}
}
