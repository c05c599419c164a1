package mould

import (
	"fmt"
	"math"
	"sort"

	"meltload/materials/unit"
)

// DefaultContact is the heat-transfer coefficient (W/(m2 K)) between melt and mould where none is given, and
// ContactRange what it is likely to lie between: an air film and a rough face at the low end, perfect contact at the
// high one (common practice; assumed).
const DefaultContact = 3000

// DefaultWall is the material of a mould of which nothing is said (assumed).
const DefaultWall = "aluminium"

// ContactRange is the range of the heat-transfer coefficient (W/(m2 K)) between melt and mould: see DefaultContact.
var ContactRange = [2]float64{1000, math.Inf(1)}

// Wall is what a mould is made of, from the face of the cavity to the back.
type Wall struct {
	Name  string  // of the material, for reports
	K     float64 // W/(m K); +Inf holds the face at the temperature of the mould
	RhoC  float64 // J/(m3 K)
	Depth float64 // m, from the face to the back
	Air   float64 // W/(m2 K) from the back to air; 0 holds the back at the temperature of the mould
	AirT  float64 // K, of that air
}

// wallMaterial is a material that moulds are made of.
type wallMaterial struct {
	Name   string
	K      float64 // W/(m K)
	RhoC   float64 // J/(m3 K)
	Depth  float64 // m, what is usual from the face to the back (assumed)
	Air    float64 // W/(m2 K) at the back; 0 where metal is held at its temperature (assumed)
	Source string
}

var wallMaterials = []wallMaterial{
	{"aluminium", 160, 2750 * 900, 20e-3, 0,
		"k 130 to 170 of the alloys of plates (from memory); density 2.70 to 2.81 g/cm3 (collected alloy table, " +
			"read); c from memory"},
	{"steel", 30, 7800 * 480, 20e-3, 0, "tool steel, k 24 to 36 (from memory); density 7.85 g/cm3 of low-alloy steel " +
		"(collected alloy table, read)"},
	{"brass", 115, 8500 * 380, 20e-3, 0, "free-cutting brass, k and c from memory; density 8.5 g/cm3 (collected " +
		"alloy table, read)"},
	{"cast-epoxy", 0.2, 1.8e6, 10e-3, StillAir,
		"unfilled, from memory; one filled with aluminium has 0.6 to 1.5 W/(m K): give k, and rho c, of yours"},
	{"printed-resin", 0.25, 1.9e6, 10e-3, StillAir,
		"assumed, typical; A. Oval-Trujillo et al., SN Applied Sciences 4 (2022), measured 0.37 W/(m K) and more on " +
			"three resins (abstract, read)"},
	{"plaster", 0.4, 1.1e6, 20e-3, StillAir, "dry gypsum, from memory; a moist one takes up far more heat"},
}

// WallNames returns the names of the materials that WallOf knows, sorted.
func WallNames() []string {
	var n []string
	for _, w := range wallMaterials {
		n = append(n, w.Name)
	}
	sort.Strings(n)
	return n
}

// WallOf returns the wall of a material known by name. The back of a metal is held at the temperature of the mould,
// that of a poor conductor is in still air of 25 degC. Error: a name that is not known.
func WallOf(name string) (Wall, error) {
	for _, w := range wallMaterials {
		if w.Name == name {
			return Wall{Name: w.Name, K: w.K, RhoC: w.RhoC, Depth: w.Depth, Air: w.Air, AirT: 298.15}, nil
		}
	}
	return Wall{}, fmt.Errorf("mould: no wall material %q; known are %v", name, WallNames())
}

// held tells whether the face stays at the temperature of the mould.
func (w *Wall) held() bool { return math.IsInf(w.K, 1) }

func (w *Wall) validate() error {
	if w.held() {
		return nil
	}
	if !(w.K > 0) || !(w.RhoC > 0) || !(w.Depth > 0) || math.IsInf(w.RhoC, 0) || math.IsInf(w.Depth, 0) {
		return fmt.Errorf("mould: a wall of %g W/(m K), %g J/(m3 K) and %g mm; all three must be above 0 and finite",
			w.K, w.RhoC, w.Depth*1e3)
	}
	if !(w.Air >= 0) || math.IsInf(w.Air, 0) || w.Air > 0 && !(w.AirT > 200 && w.AirT < 700) {
		return fmt.Errorf("mould: air behind the wall with %g W/(m2 K) at %g degC; at least 0 W/(m2 K) and -73 to 427 "+
			"degC are allowed", w.Air, unit.Celsius(w.AirT))
	}
	return nil
}
