package reference

import (
	"math"

	"meltload/materials/num"
	"meltload/thermal"
)

// Strip returns how far (m) the melt has run in a wide strip of thickness h (m) after t (s) at constant inlet pressure
// p (Pa), isothermal:
//
//	L = [(1+1/n) C t]^(n/(n+1)),  C = n h/(2(2n+1)) (h p/2K)^(1/n)
//
// from the slit law with Q = W h dL/dt. Derived here.
func (m PowerMelt) Strip(h, p, t float64) float64 {
	n := m.N
	c := n * h / (2 * (2*n + 1)) * math.Pow(h*p/(2*m.K), 1/n)
	return math.Pow((1+1/n)*c*t, n/(n+1))
}

// Disc is the end of filling of a disc gated at its centre.
type Disc struct{ Pressure, Force, Time float64 } // Pa at the gate, N that opens the mould, s

// Disc fills a disc from the gate radius r0 to r (m), thickness h (m), at the flow q (m3/s), isothermal:
//
//	dp = A (R^(1-n) - r0^(1-n))/(1-n),  F = pi A (R^(3-n) - r0^(3-n))/(3-n),  A = (2K/h) [(2(2n+1)/n) Q/(2 pi h^2)]^n
//
// by integration of the slit law; the force counts the area inside the gate too, at the gate's pressure. Derived here;
// J. F. Agassant et al., Polymer Processing (2017), treat the case (from memory).
func (m PowerMelt) Disc(h, r0, r, q float64) Disc {
	n := m.N
	a := 2 * m.K / h * math.Pow(2*(2*n+1)/n*q/(2*math.Pi*h*h), n)
	d := Disc{Time: math.Pi * (r*r - r0*r0) * h / q}
	if n == 1 {
		d.Pressure = a * math.Log(r/r0)
	} else {
		d.Pressure = a * (math.Pow(r, 1-n) - math.Pow(r0, 1-n)) / (1 - n)
	}
	d.Force = math.Pi * a * (math.Pow(r, 3-n) - math.Pow(r0, 3-n)) / (3 - n)
	return d
}

// FrozenFactor returns by what the pressure of a slit grows when a share of its thickness is frozen, flow unchanged:
// (1 - share)^-(2n+1). From the slit law.
func FrozenFactor(share, n float64) float64 { return math.Pow(1-share, -(2*n + 1)) }

// Cooling is melt of uniform temperature and constant properties between walls held at the temperature of the mould.
type Cooling struct {
	Alpha       float64 // m2/s, diffusivity
	Melt, Mould float64 // K
}

// Plate returns the times (s) after which centre and mean of a plate of thickness s (m) have come to the temperature
// eject (K):
//
//	t = s^2/(pi^2 alpha) ln(4Y/pi) and ln(8Y/pi^2),  Y = (melt-mould)/(eject-mould)
//
// One term of the series, exact enough for Y above 1.5; 0 where it gives less. R. Routsis, 2010, for the centre; the
// mean from memory.
func (c Cooling) Plate(s, eject float64) (centre, mean float64) {
	y := (c.Melt - c.Mould) / (eject - c.Mould)
	k := s * s / (math.Pi * math.Pi * c.Alpha)
	return k * math.Max(0, math.Log(4*y/math.Pi)), k * math.Max(0, math.Log(8*y/(math.Pi*math.Pi)))
}

// Rod is Plate for a round runner of diameter d (m): d^2/(4 j^2 alpha) ln(c Y), j the first root of J0, with the first
// terms of the cylinder series.
func (c Cooling) Rod(d, eject float64) (centre, mean float64) {
	y := (c.Melt - c.Mould) / (eject - c.Mould)
	j, c1 := thermal.NewCylinder(math.Inf(1)).OneTerm()
	k := d * d / (4 * j * j * c.Alpha)
	return k * math.Max(0, math.Log(c1*y)), k * math.Max(0, math.Log(4/(j*j)*y))
}

// Freeze returns the time (s) for the mid-plane of a gap h (m) to reach the no-flow temperature (K), and how far (m) a
// front at the speed u (m/s) gets by then: an upper bound without the heat of shear, and with a fresh core left out.
// The time is 0 for a no-flow temperature at or above the melt's, infinite for one at or below the mould's.
func (c Cooling) Freeze(u, h, noFlow float64) (t, length float64) {
	want := (noFlow - c.Mould) / (c.Melt - c.Mould)
	centre := func(fo float64) float64 { // the whole series; at Fo = alpha t/h^2
		var s float64
		for k := range 40 {
			m := float64(2*k + 1)
			s += math.Pow(-1, float64(k)) / m * math.Exp(-m*m*math.Pi*math.Pi*fo)
		}
		return 4 / math.Pi * s
	}
	fo, err := num.Root(func(fo float64) float64 { return centre(fo) - want }, 1e-3, 5, 1e-14)
	if err != nil { // at once, or never: the no-flow temperature is not between those of melt and mould
		fo = 0
		if want <= 0 {
			fo = math.Inf(1)
		}
	}
	t = fo * h * h / c.Alpha
	return t, u * t
}

// Clamp returns the force (N) to hold a mould shut: pressure (Pa) on the projected area (m2), times a safety factor.
func Clamp(p, area, safety float64) float64 { return p * area * safety }

// StressArea returns the tensile stress area (m2) of a metric screw of diameter d and pitch (m):
// pi/4 (d - (13/24) sqrt(3) pitch)^2. ISO 898-1 (from memory).
func StressArea(d, pitch float64) float64 {
	x := d - 13.0/24*math.Sqrt(3)*pitch
	return math.Pi / 4 * x * x
}

// Preload returns the force (N) in a screw of diameter d (m) tightened with a torque (N m) and nut factor k (0.2 is
// usual, uncertain by a third): T/(k d). Common practice; the maker's data come first.
func Preload(torque, k, d float64) float64 { return torque / (k * d) }

// Joint returns, for n equal screws of a preload (N) under a parting force (N) and a joint constant c: the load of a
// screw, the clamping left to each, and the parting force at which the joint opens. Shigley, Mechanical Engineering
// Design, ch. 8 (from memory).
func Joint(n int, preload, parting, c float64) (load, left, open float64) {
	each := parting / float64(n)
	return preload + c*each, preload - (1-c)*each, float64(n) * preload / (1 - c)
}
