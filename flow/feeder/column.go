package feeder

import (
	"math"

	"meltload/materials"
)

// End fixities of columns: effective over free length.
const (
	PinnedPinned = 1.0
	FixedFixed   = 0.5
	FixedFree    = 2.0
)

// FixedPinned is pi over the first root of tan x = x, 0.699; 0.8 is advised in practice.
var FixedPinned = math.Pi / 4.493409457909064

// Column is a slender column under an axial load.
type Column struct {
	Area      float64 // m2
	Gyration  float64 // m, radius of gyration
	Effective float64 // m, effective length
	Modulus   float64 // Pa
	Yield     float64 // Pa, in compression
}

// Collapse returns the force (N) at which the column gives way: Euler's above the slenderness Cc = sqrt(2 pi^2 E/Sy) of
// s = effective length over radius of gyration, J. B. Johnson's parabola below,
//
//	P = pi^2 E A/s^2,  P = A Sy [1 - Sy s^2/(4 pi^2 E)]
//
// A straight column of elastic material, loaded along its axis: filament that is bent or off the axis folds earlier.
// Source: R. L. Mott, Machine Elements in Mechanical Design, ch. 6.
func (c Column) Collapse() float64 {
	s := c.Effective / c.Gyration
	if s > math.Sqrt(2*math.Pi*math.Pi*c.Modulus/c.Yield) {
		return math.Pi * math.Pi * c.Modulus * c.Area / (s * s)
	}
	return c.Area * c.Yield * (1 - c.Yield*s*s/(4*math.Pi*math.Pi*c.Modulus))
}

// Collapse returns the force (N) at which round filament folds in the gap: its diameter d (m), material, and
// temperature T (K). See Column.
func (g Gap) Collapse(d float64, m *materials.Material, T float64) float64 {
	return Column{Area: math.Pi * d * d / 4, Gyration: d / 4, Effective: g.K * g.Length, Modulus: m.Modulus.At(T),
		Yield: m.Compressive.At(T)}.Collapse()
}
