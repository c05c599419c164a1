package reference

import (
	"math"

	"meltload/flow/duct"
	"meltload/materials/num"
)

// PowerLaw returns the law tau = K g^n, K in Pa s^n.
func PowerLaw(k, n float64) duct.Law {
	return func(tau float64) float64 { return math.Pow(tau/k, 1/n) }
}

// PowerMelt is a melt of the law tau = K g^n, for which flow has closed forms. They are exact for steady isothermal
// creeping flow without slip and, but for Cone, without the losses at the ends.
type PowerMelt struct {
	K float64 // Pa s^n
	N float64 // above 0
}

// Tube returns the pressure drop dp (Pa), wall stress tau (Pa) and wall rate (1/s) of a tube by its radius and length
// (m) at the flow q (m3/s):
//
//	wall rate = (4Q/(pi R^3)) (3n+1)/(4n),  tau = K rate^n,  dp = 2 tau L/R
//
// Source: R. B. Bird, R. C. Armstrong, O. Hassager, Dynamics of Polymeric Liquids vol. 1, ch. 4 (from memory).
func (m PowerMelt) Tube(q, radius, length float64) (dp, tau, rate float64) {
	rate = 4 * q / (math.Pi * radius * radius * radius) * (3*m.N + 1) / (4 * m.N)
	tau = m.K * math.Pow(rate, m.N)
	return 2 * tau * length / radius, tau, rate
}

// Slit is Tube for a wide slit of width w and gap h (m), its side walls left out:
//
//	wall rate = (6Q/(w h^2)) (2n+1)/(3n),  dp = 2 tau L/h
//
// Same source.
func (m PowerMelt) Slit(q, w, h, length float64) (dp, tau, rate float64) {
	rate = 6 * q / (w * h * h) * (2*m.N + 1) / (3 * m.N)
	tau = m.K * math.Pow(rate, m.N)
	return 2 * tau * length / h, tau, rate
}

// Cone returns the lubrication drop (Pa) in a cone between the radii r1 and r2 (m) with the half angle a (rad):
//
//	dp = 2K/(3n tan a) [(3n+1)Q/(n pi)]^n (r2^-3n - r1^-3n)
//
// Too low for half angles above about 15 deg: see duct.ConeFactor. Source: same integral as J. F. Steffe, Rheological
// Methods in Food Process Engineering (1996), sec. 4.4.1.
func (m PowerMelt) Cone(q, r1, r2, a float64) float64 {
	big, small, n := math.Max(r1, r2), math.Min(r1, r2), m.N
	return 2 * m.K / (3 * n * math.Tan(a)) * math.Pow((3*n+1)*q/(n*math.Pi), n) * (math.Pow(small, -3*n) -
		math.Pow(big, -3*n))
}

// ConeStokes is the exact creeping flow q (m3/s) of a Newtonian melt (eta, Pa s) in a cone of half angle a (rad)
// between the spheres r = R/sin a through both ends, of the radii r1 and r2 (m): the drop along the axis (Pa), and the
// drop (Pa) that stands for the work done between the spheres.
//
// Source: W. J. Harrison, Proc. Camb. Phil. Soc. 19 (1920) 307; J. Happel, H. Brenner, Low
// Reynolds Number Hydrodynamics (1965) sec. 4.24 (from memory, re-derived).
func ConeStokes(eta, q, r1, r2, a float64) (axis, work float64) {
	c, s := math.Cos(a), math.Sin(a)
	g := math.Pow(s/math.Min(r1, r2), 3) - math.Pow(s/math.Max(r1, r2), 3)
	d := (1 - c) * (1 - c) * (1 + 2*c)
	axis = 2 * eta * q / math.Pi * g / d
	// Power between the spheres: u = A f/r^2, f = cos^2 t - c^2; the rates are -2u/r, u/r,
	// u/r and the shear -A sin 2t/r^3, so that 2 D:D = (12 f^2 + sin^2 2t) A^2/r^6.
	i := num.Integrate(func(t float64) float64 {
		f := math.Cos(t)*math.Cos(t) - c*c
		return (12*f*f + math.Pow(math.Sin(2*t), 2)) * math.Sin(t)
	}, 0, a)
	A := 3 * q / (2 * math.Pi * d)
	work = eta * A * A * 2 * math.Pi * i * g / 3 / q
	return axis, work
}

// Annulus is the flow between a core of radius Ri and a wall of radius Ro (m).
type Annulus struct{ Ri, Ro float64 }

// Newton returns the flow (m3/s) of a Newtonian melt under the gradient g (Pa/m), the
// radius of the fastest point, and the stresses at both walls (magnitudes).
//
//	Q = (pi g/8 eta) [Ro^4 - Ri^4 - (Ro^2 - Ri^2)^2/ln(Ro/Ri)]
//
// Source: R. B. Bird, W. E. Stewart, E. N. Lightfoot, Transport Phenomena, sec. 2.4 (from memory).
func (a Annulus) Newton(g, eta float64) (q, peak, outer, inner float64) {
	d := a.Ro*a.Ro - a.Ri*a.Ri
	l := math.Log(a.Ro / a.Ri)
	q = math.Pi * g / (8 * eta) * (math.Pow(a.Ro, 4) - math.Pow(a.Ri, 4) - d*d/l)
	p2 := d / (2 * l)
	outer = g / 2 * (a.Ro - p2/a.Ro)
	inner = g / 2 * (p2/a.Ri - a.Ri)
	return q, math.Sqrt(p2), outer, inner
}

// Power returns the flow (m3/s) of a power-law melt under the gradient g (Pa/m),
// and the radius of the fastest point over Ro.
//
//	Q = (n pi Ro^3/(3n+1)) (g Ro/2K)^(1/n) [(1-l^2)^(1+1/n) - k^(1-1/n) (l^2-k^2)^(1+1/n)]
//
// Source: A. G. Fredrickson, R. B. Bird, Ind. Eng. Chem. 50 (1958) 347; R. W. Hanks, K. M.
// Larsen, Ind. Eng. Chem. Fundam. 18 (1979) 33 (from memory).
func (a Annulus) Power(g, k, n float64) (q, lambda float64) {
	kap := a.Ri / a.Ro
	e := 1 / n
	rise := func(l float64) float64 { // speed gained from the core minus speed lost to the wall
		in := num.Integrate(func(y float64) float64 {
			r := kap + (l-kap)*y*y*(3-2*y)
			return math.Pow(math.Max(0, l*l/r-r), e) * (l - kap) * 6 * y * (1 - y)
		}, 0, 1)
		out := num.Integrate(func(y float64) float64 {
			r := l + (1-l)*y*y*(3-2*y)
			return math.Pow(math.Max(0, r-l*l/r), e) * (1 - l) * 6 * y * (1 - y)
		}, 0, 1)
		return in - out
	}
	l, err := num.Root(rise, kap, 1, 1e-14)
	if err != nil {
		return math.NaN(), math.NaN()
	}
	q = n * math.Pi * math.Pow(a.Ro, 3) / (3*n + 1) * math.Pow(g*a.Ro/(2*k), e) *
		(math.Pow(1-l*l, 1+e) - math.Pow(kap, 1-e)*math.Pow(l*l-kap*kap, 1+e))
	return q, l
}

// Drag is a rod of radius Ri moving at v (m/s) through the melt-filled gap of the
// annulus into a pool at pressure p over a length (m): melt dragged in, melt
// pressed back, the shear force on the rod, and the pressure at which they cancel.
// Derived here by superposition; Newtonian, concentric.
type Drag struct{ In, Back, Force, NoLeak float64 }

// Rod returns the Drag of the rod.
func (a Annulus) Rod(v, eta, p, length float64) Drag {
	d := a.Ro*a.Ro - a.Ri*a.Ri
	l := math.Log(a.Ro / a.Ri)
	in := math.Pi * v * (d/(2*l) - a.Ri*a.Ri)
	back, _, _, inner := a.Newton(p/length, eta)
	return Drag{
		In: in, Back: back,
		Force:  2 * math.Pi * a.Ri * length * (eta*v/(a.Ri*l) + inner),
		NoLeak: p * in / back,
	}
}

// RectFactor returns the Newtonian flow in a rectangular channel over that of the
// wide-slit formula, short over long side given.
func RectFactor(aspect float64) float64 {
	m, _ := duct.RectangleVelocity(aspect)
	return 3 * m
}

// EllipseFlow returns Q eta/G (m4) of a Newtonian melt: pi a^3 b^3/(4 (a^2+b^2)). Shah and London (from memory).
func EllipseFlow(a, b float64) float64 {
	return math.Pi * a * a * a * b * b * b / (4 * (a*a + b*b))
}

// TriangleFlow returns Q eta/G (m4) of a Newtonian melt in an equilateral triangle of side a: sqrt(3) a^4/320. Same
// source.
func TriangleFlow(a float64) float64 { return math.Sqrt(3) * math.Pow(a, 4) / 320 }
