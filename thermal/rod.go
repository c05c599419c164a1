package thermal

import (
	"math"
	"sync"

	"meltload/materials/num"
)

// rodTerms is the number of terms kept of each series. With it the cylinder
// series is good to 1e-6 for Fo above 1e-3; below, short-time forms are used.
const rodTerms = 64

// Cylinder is the series solution for a rod, at first at one temperature,
// with a heat-transfer coefficient at its surface to surroundings at another. Temperatures are given as
// theta = (T - Ts)/(T0 - Ts), from 1 at the start to 0 in the end. Times are
// Fourier numbers Fo = alpha t/R^2.
//
// Source: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed.
// (1959), sec. 7.6 and 7.7 (from memory); first terms as in Y. A. Cengel, Heat
// and Mass Transfer, Table 4-2.
type Cylinder struct {
	Bi     float64           // h R/k, +Inf for a fixed surface temperature
	Zeta   [rodTerms]float64 // roots of z J1(z) = Bi J0(z)
	centre [rodTerms]float64 // coefficient on the axis
	mean   [rodTerms]float64 // coefficient of the section mean
}

// NewCylinder prepares the series for a Biot number Bi = h R/k > 0; +Inf fixes the surface temperature.
func NewCylinder(bi float64) *Cylinder {
	c := &Cylinder{Bi: bi}
	for i := range rodTerms {
		// The i-th root lies between the i-th zeros of J1 (Bi = 0) and of J0 (Bi = Inf).
		z := zeros().j0[i]
		if !math.IsInf(bi, 1) {
			lo := 0.0
			if i > 0 {
				lo = zeros().j1[i-1]
			}
			f := func(x float64) float64 { return x*math.J1(x) - bi*math.J0(x) }
			if r, err := num.Root(f, lo+1e-12, z, 1e-13); err == nil {
				z = r
			}
		}
		j0, j1 := math.J0(z), math.J1(z)
		if math.IsInf(bi, 1) {
			j0 = 0
		}
		c.Zeta[i] = z
		c.centre[i] = 2 / z * j1 / (j0*j0 + j1*j1)
		c.mean[i] = c.centre[i] * 2 * j1 / z
	}
	return c
}

// zeros are the zeros of J0 and J1 that the roots of every cylinder lie between.
var zeros = sync.OnceValue(func() (z struct{ j0, j1 [rodTerms]float64 }) {
	for i := range rodTerms {
		z.j0[i], z.j1[i] = BesselZero(0, i+1), BesselZero(1, i+1)
	}
	return z
})

// BesselZero returns the k-th positive zero, k >= 1, of the Bessel function J0 or J1 (order 0 or 1), to round-off.
func BesselZero(order, k int) float64 {
	// McMahon's expansion, then Newton; A&S 9.5.12.
	b := (float64(k) + 0.5*float64(order) - 0.25) * math.Pi // first guess
	mu := 4 * float64(order*order)                          // first guess
	z := b - (mu-1)/(8*b)                                   // first guess
	for range 8 {
		if order == 0 {
			z += math.J0(z) / math.J1(z)
		} else {
			j1 := math.J1(z)
			z -= j1 / (math.J0(z) - j1/z)
		}
	}
	return z
}

// Centre returns theta on the axis at the Fourier number fo: 1 below 0.01, where the surface has not been felt yet.
func (c *Cylinder) Centre(fo float64) float64 {
	if fo < 0.01 { // the surface has not been felt on the axis yet: exp(-1/(4 Fo)) < 2e-11
		return 1
	}
	return series(&c.centre, &c.Zeta, fo)
}

// Mean returns the section mean of theta at the Fourier number fo: the mixing cup of a rod that moves as a plug. Good
// to 1e-6 above fo = 1e-3; below, a form for short times.
func (c *Cylinder) Mean(fo float64) float64 {
	if fo <= 0 {
		return 1
	}
	if fo < 1e-3 {
		return 1 - c.shortGain(fo)
	}
	return series(&c.mean, &c.Zeta, fo)
}

// shortGain is the heat taken up at short times, the half-space solution
// integrated over time with a first curvature correction.
func (c *Cylinder) shortGain(fo float64) float64 {
	if math.IsInf(c.Bi, 1) {
		return 4*math.Sqrt(fo/math.Pi) - fo
	}
	// Carslaw and Jaeger sec. 2.7: integral of Bi exp(Bi^2 Fo) erfc(Bi sqrt(Fo)), times 2 for the cylinder.
	x := c.Bi * math.Sqrt(fo)
	return 2 / c.Bi * (erfcx(x) - 1 + 2*x/math.Sqrt(math.Pi))
}

// erfcx is exp(x^2) erfc(x), without overflow.
func erfcx(x float64) float64 {
	if x < 20 {
		return math.Exp(x*x) * math.Erfc(x)
	}
	return 1 / (x * math.Sqrt(math.Pi)) * (1 - 1/(2*x*x))
}

// At returns theta at the Fourier number fo and the radius ratio r in [0, 1].
func (c *Cylinder) At(fo, r float64) float64 {
	var s float64
	for i, z := range c.Zeta {
		e := z * z * fo
		if e > 45 {
			break
		}
		s += c.centre[i] * math.J0(z*r) * math.Exp(-e)
	}
	return s
}

func series(a, z *[rodTerms]float64, fo float64) float64 {
	var s float64
	for i := range a {
		e := z[i] * z[i] * fo
		if e > 45 { // exp(-45) = 3e-20
			break
		}
		s += a[i] * math.Exp(-e)
	}
	return s
}

// OneTerm returns the first root and centre coefficient, theta = c1 exp(-zeta^2 Fo) on the axis: good to 1 % for Fo >
// 0.2.
func (c *Cylinder) OneTerm() (zeta, c1 float64) { return c.Zeta[0], c.centre[0] }

// FourierForCentre returns the Fourier number at which theta on the axis has fallen to target (0 < target < 1; 0 for 1
// and above, +Inf for 0 and below).
func (c *Cylinder) FourierForCentre(target float64) float64 {
	return fourierFor(c.Centre, c.Zeta[0], target)
}

// FourierForMean returns the Fo at which the section mean has fallen to target (0 < target < 1; 0 for 1 and above, +Inf
// for 0 and below).
func (c *Cylinder) FourierForMean(target float64) float64 {
	return fourierFor(c.Mean, c.Zeta[0], target)
}

func fourierFor(f func(float64) float64, zeta, target float64) float64 {
	switch {
	case target >= 1:
		return 0
	case target <= 0:
		return math.Inf(1)
	}
	hi := 1 / (zeta * zeta) // first guess
	for f(hi) > target {
		hi *= 2 // first guess
	}
	fo, err := num.Root(func(x float64) float64 { return f(x) - target }, 0, hi, 1e-12)
	if err != nil {
		return math.NaN()
	}
	return fo
}
