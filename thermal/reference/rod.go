package reference

import (
	"math"

	"meltload/materials/num"
	"meltload/thermal"
)

// FeedSpeedLimit returns the rod speed (m/s) at which the quantity that needs
// the Fourier number fo is just reached after a length L (m): v = alpha L/(R^2 Fo),
// alpha in m2/s, R in m. The published scaling of the melting limit (speed with
// length, against the square of the radius) as an idealised slug: derived here.
func FeedSpeedLimit(alpha, length, radius, fo float64) float64 {
	return alpha * length / (radius * radius * fo)
}

// RodAxial returns theta on the axis and its section mean for a slug that
// enters a tube of fixed wall temperature, with axial conduction: each term
// decays as exp(-b z/R), b = (sqrt(Pe^2 + 4 zeta^2) - Pe)/2, Pe = v R/alpha,
// the entry plane held at the entry temperature. Derived here from the
// steady convection-diffusion equation; it tells when neglecting axial conduction is safe.
func RodAxial(pe, zOverR float64) (centre, mean float64) {
	c := thermal.NewCylinder(math.Inf(1))
	for _, z := range c.Zeta {
		b := (math.Sqrt(pe*pe+4*z*z) - pe) / 2
		e := math.Exp(-b * zOverR)
		centre += 2 / (z * math.J1(z)) * e
		mean += 4 / (z * z) * e
	}
	return centre, mean
}

// PlaneOneTerm returns the first root of z tan(z) = Bi and the coefficient of
// the one-term solution for a plane wall. Source: Cengel, Table 4-2.
func PlaneOneTerm(bi float64) (zeta, c1 float64) {
	zeta, err := num.Root(func(z float64) float64 { return z*math.Sin(z) - bi*math.Cos(z) }, 0, math.Pi/2, 1e-14)
	if err != nil {
		return math.NaN(), math.NaN()
	}
	return zeta, 4 * math.Sin(zeta) / (2*zeta + math.Sin(2*zeta))
}

// FeedNumbers are the pure numbers of a rod moving through a heated length.
type FeedNumbers struct {
	Peclet  float64 // v R/alpha
	Graetz  float64 // v D^2/(alpha L)
	Fourier float64 // alpha L/(v R^2)
}

// NewFeedNumbers takes speed (m/s), radius and heated length (m), and diffusivity (m2/s).
func NewFeedNumbers(v, radius, length, alpha float64) FeedNumbers {
	return FeedNumbers{v * radius / alpha, 4 * v * radius * radius / (alpha * length),
		alpha * length / (v * radius * radius)}
}
