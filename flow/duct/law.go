package duct

import (
	"math"

	"meltload/materials"
	"meltload/materials/num"
)

// The direct quadrature of a law. Of this file the commands reach TubeFlow (by way of the melt flow rate); the rest is
// the checked reference of StressTable and of the solvers, and for programs that need one drop and not a table of them.

// Law is what the isothermal relations need of a melt at one temperature and
// pressure: the shear rate (1/s) at a shear stress (Pa), rising and zero at zero.
type Law func(tau float64) float64

// At returns the law of a viscosity model at T (K) and p (Pa): shear rate (1/s) over stress (Pa).
func At(v *materials.Viscosity, T, p float64) Law {
	phi := v.Fluidity(T, p)
	return func(tau float64) float64 { return phi * v.Reduced(tau) }
}

// TubeFlow returns the volume flow (m3/s) of any law in a round tube of radius
// R (m) at the wall stress tau (Pa), by the rule of Weissenberg and Rabinowitsch
//
//	Q = (pi R^3/tau^3) integral_0^tau g(s) s^2 ds
//
// with 32-point Gauss quadrature in graded s. Source: B. Rabinowitsch, Z. phys.
// Chem. A145 (1929) 1 (from memory).
func (l Law) TubeFlow(tau, radius float64) float64 {
	return math.Pi * radius * radius * radius * l.moment(tau, 2)
}

// SlitFlow returns the volume flow (m3/s) of any law in a wide slit of width w and
// gap h (m) at the wall stress tau (Pa): Q = (w h^2/(2 tau^2)) integral_0^tau g(s) s ds.
func (l Law) SlitFlow(tau, w, h float64) float64 {
	return w * h * h / 2 * l.moment(tau, 1)
}

// moment is integral_0^1 g(x tau) x^m dx. The substitution x = 1 - (1-y)^2
// gathers points near the wall, where a thinning melt carries its flow.
func (l Law) moment(tau float64, m int) float64 {
	if tau <= 0 {
		return 0
	}
	return num.Integrate(func(y float64) float64 {
		x := 1 - (1-y)*(1-y)
		w := x
		if m == 2 {
			w *= x
		}
		return l(x*tau) * w * 2 * (1 - y)
	}, 0, 1)
}

// TubeStress returns the wall stress (Pa) at which a tube of radius R (m)
// carries q (m3/s): the inverse of TubeFlow, to 1e-12 relative.
func (l Law) TubeStress(q, radius float64) float64 {
	return invert(func(tau float64) float64 { return l.TubeFlow(tau, radius) }, q)
}

// SlitStress returns the wall stress (Pa) at which a wide slit of width w and gap h (m) carries q (m3/s): the inverse
// of SlitFlow, to 1e-12 relative.
func (l Law) SlitStress(q, w, h float64) float64 {
	return invert(func(tau float64) float64 { return l.SlitFlow(tau, w, h) }, q)
}

// TubeDrop returns the pressure drop (Pa) of a tube of a radius and length (m) at q (m3/s): dp = 2 tau_w L/R.
func (l Law) TubeDrop(q, radius, length float64) float64 {
	return 2 * l.TubeStress(q, radius) * length / radius
}

// SlitDrop returns the pressure drop (Pa) of a wide slit: dp = 2 tau_w L/h. Side walls
// are neglected: low by about 0.63 h/w; RectFactor gives the correction for a Newtonian melt.
func (l Law) SlitDrop(q, w, h, length float64) float64 {
	return 2 * l.SlitStress(q, w, h) * length / h
}

// ConeDrop returns the lubrication drop (Pa) of any law at q (m3/s) in a cone with the radii r1 and r2 over a length
// (m): the gradient of a tube integrated along the cone. Too low for half angles above about 15 deg: see ConeFactor.
// The gradient is steep in R; the quadrature runs in ln R.
func (l Law) ConeDrop(q, r1, r2, length float64) float64 {
	return length / math.Abs(r2-r1) * l.RadialDrop(q, r1, r2)
}

// gaussX and gaussW are five Gauss points on [0, 1]: one panel of the quadratures over a step or a radius.
var gaussX, gaussW = num.GaussNodes(5)

// RadialDrop returns integral G dR (Pa) between the radii r1 and r2 (m) at q (m3/s), G(R) the gradient of fully
// developed flow in a tube of radius R: what ConeFactor multiplies.
func (l Law) RadialDrop(q, r1, r2 float64) float64 {
	a, b := math.Log(math.Min(r1, r2)), math.Log(math.Max(r1, r2))
	// Five Gauss points on four panels: 1e-8 for tau as a power of R.
	const panels = 4
	var s float64
	for i := range panels {
		lo := a + (b-a)*float64(i)/panels
		h := (b - a) / panels
		for j, x := range gaussX {
			s += gaussW[j] * h * 2 * l.TubeStress(q, math.Exp(lo+h*x))
		}
	}
	return s
}

// invert finds x > 0 with f(x) = y for a rising f with f(0) = 0, in the logarithm, between exp(-80) and exp(80): 0 and
// +Inf where x lies below and above, NaN where f is not a number.
func invert(f func(float64) float64, y float64) float64 {
	if y <= 0 {
		return 0
	}
	const end = 80
	g := func(lx float64) float64 { return math.Log(f(math.Exp(lx)) / y) }
	lo, hi := 0.0, math.Log(1e6) // first guess: 1 Pa to 1 MPa
	for g(lo) > 0 {
		if lo <= -end {
			return 0
		}
		lo -= 10
	}
	for g(hi) < 0 {
		if hi >= end {
			return math.Inf(1)
		}
		hi += 5
	}
	x, err := num.Root(g, lo, hi, 1e-13)
	if err != nil {
		return math.NaN()
	}
	return math.Exp(x)
}
