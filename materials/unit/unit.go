// Package unit converts between SI, which every other package works in, and
// the units of the bench: mm, mm3/s, degC, MPa, N and kgf.
//
// Inside the library a bare float64 is SI: metres, pascals, kelvin, watts,
// newtons. Multiply by a constant on the way in, divide on the way out.
package unit

import "math"

const (
	MM   = 1e-3            // metres in a millimetre
	MM2  = 1e-6            // square metres in a square millimetre
	MM3  = 1e-9            // cubic metres in a cubic millimetre; also mm3/s in m3/s
	MPa  = 1e6             // pascals in a megapascal
	KJ   = 1e3             // joules in a kilojoule
	KGF  = Gravity         // newtons in a kilogram-force (exact, ISO 80000-4)
	LBF  = 4.4482216152605 // newtons in a pound-force (exact, NIST SP 811)
	NCM  = 1e-2            // newton metres in a newton centimetre
	Zero = 273.15          // kelvin at 0 degC (exact)

	// Gravity is the standard acceleration of free fall, m/s2 (exact, 3rd CGPM, 1901). Local values lie between 9.780
	// and 9.832.
	Gravity = 9.80665
	// Gas is the molar gas constant in J/(mol K), rounded as CODATA 2018 prints it.
	Gas = 8.314462618
)

// Kelvin converts a Celsius temperature to kelvin.
func Kelvin(degC float64) float64 { return degC + Zero }

// Celsius converts a kelvin temperature to degrees Celsius.
func Celsius(k float64) float64 { return k - Zero }

// Disc returns the area (m2) of a circle of diameter d (m).
func Disc(d float64) float64 { return math.Pi * d * d / 4 }

// Deg converts degrees to radians.
func Deg(deg float64) float64 { return deg * math.Pi / 180 }

// roundOff is what a change of units may move a number by, as a share of it.
const roundOff = 1e-12

// Within tells whether x lies from lo to hi, but for what a change of units rounds: 1000 mm3/s in m3/s is above 1e-6.
func Within(x, lo, hi float64) bool {
	return x >= lo-roundOff*math.Abs(lo) && x <= hi+roundOff*math.Abs(hi)
}
