package materials

import (
	"math"
	"sort"

	"meltload/materials/unit"
)

// Curve is a property against temperature (K): linear between points, end
// values held. Points are sorted by temperature.
type Curve struct {
	T, Y []float64
	area []float64 // integral of Y from T[0] to T[i]
}

// NewCurve builds a Curve from points (K, value), in any order; at least one is needed.
func NewCurve(points [][2]float64) Curve {
	p := append([][2]float64(nil), points...)
	sort.Slice(p, func(i, j int) bool { return p[i][0] < p[j][0] })
	c := Curve{T: make([]float64, len(p)), Y: make([]float64, len(p)), area: make([]float64, len(p))}
	for i, q := range p {
		c.T[i], c.Y[i] = q[0], q[1]
		if i > 0 {
			c.area[i] = c.area[i-1] + (c.T[i]-c.T[i-1])*(c.Y[i]+c.Y[i-1])/2
		}
	}
	return c
}

// Constant returns a Curve that is y everywhere.
func Constant(y float64) Curve { return NewCurve([][2]float64{{unit.Zero, y}}) }

// At returns the value at T (K), linear between the points; beyond them the end values hold.
func (c *Curve) At(T float64) float64 {
	n := len(c.T)
	switch {
	case T <= c.T[0]:
		return c.Y[0]
	case T >= c.T[n-1]:
		return c.Y[n-1]
	}
	i := sort.SearchFloat64s(c.T, T)
	f := (T - c.T[i-1]) / (c.T[i] - c.T[i-1])
	return c.Y[i-1] + f*(c.Y[i]-c.Y[i-1])
}

// Integral returns the integral of the curve (value times K) from the first point's temperature to T (K): negative
// below it.
func (c *Curve) Integral(T float64) float64 {
	n := len(c.T)
	switch {
	case T <= c.T[0]:
		return (T - c.T[0]) * c.Y[0]
	case T >= c.T[n-1]:
		return c.area[n-1] + (T-c.T[n-1])*c.Y[n-1]
	}
	i := sort.SearchFloat64s(c.T, T)
	return c.area[i-1] + (T-c.T[i-1])*(c.Y[i-1]+c.At(T))/2
}

// Heat is the enthalpy side of a material: sensible heat and a latent heat
// spread evenly over the melting range.
type Heat struct {
	Cp        Curve   // J/(kg K), sensible
	Latent    float64 // J/kg
	MeltLow   float64 // K
	MeltHigh  float64 // K
	reference float64
}

// EnthalpyZero is the temperature (K) at which Enthalpy is zero: 25 degC.
const EnthalpyZero = 298.15

// NewHeat builds a Heat from a heat capacity (J/(kg K)), a latent heat (J/kg, may be zero) and the range from low to
// high (K) over which the latent heat is taken up; the range must rise if the latent heat is not zero.
func NewHeat(cp Curve, latent, low, high float64) Heat {
	h := Heat{Cp: cp, Latent: latent, MeltLow: low, MeltHigh: high}
	h.reference = h.raw(EnthalpyZero)
	return h
}

func (h *Heat) raw(T float64) float64 {
	e := h.Cp.Integral(T)
	if h.Latent != 0 {
		e += h.Latent * math.Min(1, math.Max(0, (T-h.MeltLow)/(h.MeltHigh-h.MeltLow)))
	}
	return e
}

// Enthalpy returns h(T) in J/kg, zero at 25 degC, strictly increasing.
func (h *Heat) Enthalpy(T float64) float64 { return h.raw(T) - h.reference }

// Capacity returns dh/dT (J/(kg K)) at T (K): the sensible heat capacity, plus the latent heat over the width of the
// melting range within it.
func (h *Heat) Capacity(T float64) float64 {
	c := h.Cp.At(T)
	if T >= h.MeltLow && T < h.MeltHigh {
		c += h.Latent / (h.MeltHigh - h.MeltLow)
	}
	return c
}

// Temperature returns T (K) with Enthalpy(T) = e (J/kg): Newton steps kept in a bracket. Valid for results between 1 K
// and 5000 K.
func (h *Heat) Temperature(e float64) float64 {
	lo, hi := 1.0, 5000.0
	T := EnthalpyZero + e/h.Cp.At(EnthalpyZero) // first guess
	for range 100 {
		if !(T > lo && T < hi) {
			T = (lo + hi) / 2
		}
		r := h.Enthalpy(T) - e
		if r > 0 {
			hi = T
		} else {
			lo = T
		}
		d := r / h.Capacity(T)
		T -= d
		if math.Abs(d) < 1e-11*T || hi-lo < 1e-11*T {
			break
		}
	}
	return T
}
