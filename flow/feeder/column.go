package feeder

import "math"

// End fixities of columns: effective over free length.
const (
	PinnedPinned = 1.0
	FixedFixed   = 0.5
	FixedFree    = 2.0
)

// FixedPinned is pi over the first root of tan x = x, 0.699; 0.8 is advised in practice.
var FixedPinned = math.Pi / 4.493409457909064

// Buckling returns the collapse force (N) of a column of area (m2), radius of gyration (m), effective length
// (m), modulus and yield (Pa): Euler above the slenderness Cc = sqrt(2 pi^2 E/Sy), J. B. Johnson's parabola
// below, A Sy [1 - Sy s^2/(4 pi^2 E)]. Source: Mott, Machine Elements in Mechanical Design, ch. 6.
func Buckling(area, gyration, effective, modulus, yield float64) float64 {
	s := effective / gyration
	if s > math.Sqrt(2*math.Pi*math.Pi*modulus/yield) {
		return math.Pi * math.Pi * modulus * area / (s * s)
	}
	return area * yield * (1 - yield*s*s/(4*math.Pi*math.Pi*modulus))
}

// Rod returns the collapse force (N) of round filament of diameter d (m).
func Rod(d, length, k, modulus, yield float64) float64 {
	return Buckling(math.Pi*d*d/4, d/4, k*length, modulus, yield)
}
