package flow

import (
	"math"

	"meltload/materials"
	"meltload/materials/num"
)

// Law is what the isothermal relations need of a melt at one temperature and
// pressure: the shear rate (1/s) at a shear stress (Pa), rising and zero at zero.
type Law func(tau float64) float64

// At returns the law of a viscosity model at T (K) and p (Pa).
func At(v *materials.Viscosity, T, p float64) Law {
	phi := v.Fluidity(T, p)
	return func(tau float64) float64 { return phi * v.Reduced(tau) }
}

// PowerLaw returns the law tau = K g^n, K in Pa s^n.
func PowerLaw(k, n float64) Law {
	return func(tau float64) float64 { return math.Pow(tau/k, 1/n) }
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

// SlitStress returns the wall stress (Pa) at which a slit carries q (m3/s).
func (l Law) SlitStress(q, w, h float64) float64 {
	return invert(func(tau float64) float64 { return l.SlitFlow(tau, w, h) }, q)
}

// invert finds x > 0 with f(x) = y for a rising f with f(0) = 0, in the
// logarithm. Both sides are positive and finite for every law of this project.
func invert(f func(float64) float64, y float64) float64 {
	if y <= 0 {
		return 0
	}
	g := func(lx float64) float64 { return math.Log(f(math.Exp(lx)) / y) }
	lo, hi := math.Log(1.0), math.Log(1e6)
	for g(lo) > 0 && lo > -80 {
		lo -= 10
	}
	for g(hi) < 0 && hi < 80 {
		hi += 5
	}
	x, err := num.Root(g, lo, hi, 1e-13)
	if err != nil {
		return math.Exp(hi)
	}
	return math.Exp(x)
}

// TubeDrop returns the pressure drop (Pa) of a tube: dp = 2 tau_w L/R.
func (l Law) TubeDrop(q, radius, length float64) float64 {
	return 2 * l.TubeStress(q, radius) * length / radius
}

// SlitDrop returns the pressure drop (Pa) of a wide slit: dp = 2 tau_w L/h. Side walls
// are neglected: low by about 0.63 h/w; RectFactor gives the correction for a Newtonian melt.
func (l Law) SlitDrop(q, w, h, length float64) float64 {
	return 2 * l.SlitStress(q, w, h) * length / h
}

// PowerTube is the closed form for tau = K g^n in a tube.
//
//	wall rate = (4Q/(pi R^3)) (3n+1)/(4n)
//
// Source: R. B. Bird, R. C. Armstrong, O. Hassager, Dynamics of Polymeric
// Liquids vol. 1, ch. 4 (from memory).
func PowerTube(k, n, q, radius, length float64) (dp, tau, rate float64) {
	rate = 4 * q / (math.Pi * radius * radius * radius) * (3*n + 1) / (4 * n)
	tau = k * math.Pow(rate, n)
	return 2 * tau * length / radius, tau, rate
}

// PowerSlit is the closed form in a wide slit: wall rate = (6Q/(w h^2)) (2n+1)/(3n). Same source.
func PowerSlit(k, n, q, w, h, length float64) (dp, tau, rate float64) {
	rate = 6 * q / (w * h * h) * (2*n + 1) / (3 * n)
	tau = k * math.Pow(rate, n)
	return 2 * tau * length / h, tau, rate
}

// PowerCone is the lubrication drop of a power-law melt in a cone between the radii r1
// and r2 with the half angle a (rad):
//
//	dp = 2K/(3n tan a) [(3n+1)Q/(n pi)]^n (r2^-3n - r1^-3n)
//
// Same integral as J. F. Steffe, Rheological Methods in Food Process Engineering
// (1996), sec. 4.4.1. Too low for half angles above about 15 deg: see ConeFactor.
func PowerCone(k, n, q, r1, r2, a float64) float64 {
	big, small := math.Max(r1, r2), math.Min(r1, r2)
	return 2 * k / (3 * n * math.Tan(a)) * math.Pow((3*n+1)*q/(n*math.Pi), n) * (math.Pow(small, -3*n) - math.Pow(big, -3*n))
}

// ConeDrop returns the lubrication drop (Pa) of any law in a cone with the
// radii r1 and r2 over a length: the tube gradient integrated along the
// cone. The gradient is steep in R; the quadrature runs in ln R.
func (l Law) ConeDrop(q, r1, r2, length float64) float64 {
	if length == 0 {
		return 0
	}
	return length / math.Abs(r2-r1) * l.RadialDrop(q, r1, r2)
}

// RadialDrop returns integral G dR (Pa) between the radii, G(R) the gradient of fully
// developed flow in a tube of radius R.
func (l Law) RadialDrop(q, r1, r2 float64) float64 {
	if r1 == r2 {
		return 0
	}
	a, b := math.Log(math.Min(r1, r2)), math.Log(math.Max(r1, r2))
	// Five Gauss points on four panels: 1e-8 for tau as a power of R.
	const panels = 4
	var s float64
	for i := range panels {
		lo := a + (b-a)*float64(i)/panels
		h := (b - a) / panels
		for j, x := range gauss5x {
			s += gauss5w[j] * h * 2 * l.TubeStress(q, math.Exp(lo+h*x))
		}
	}
	return s
}

var (
	gauss5x = [5]float64{0.04691007703066800, 0.23076534494715845, 0.5, 0.76923465505284155, 0.95308992296933200}
	gauss5w = [5]float64{0.11846344252809454, 0.23931433524968324, 0.28444444444444444, 0.23931433524968324, 0.11846344252809454}
)

// ConeFactor returns K of: cone drop = K integral G dR, for the half angle a (rad) and the
// local power-law index m at the bore wall,
//
//	K = 1/sin(a) + 0.73 sin(a)^m
//
// lubrication being 1/tan(a). It counts elongation. Source: fitted for this
// project to full axisymmetric finite-element solutions (testdata/fem_isothermal.csv);
// within 2 % of the total drop for half angles of 30 to 90 deg.
func ConeFactor(a, m float64) float64 {
	s := math.Sin(a)
	return 1/s + 0.73*math.Pow(s, m)
}

// ConeStokes is the exact creeping flow of a Newtonian melt in a cone of half
// angle a (rad) between the spheres r = R/sin a through both ends.
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

// Duct is a straight channel of other than round section as two numbers:
// f Re on the hydraulic diameter for a power-law melt is 2^(3n+1) (B + A/n)^n.
//
// Source: W. Kozicki, C. H. Chou, C. Tiu, Chem. Eng. Sci. 21 (1966) 665 (from memory).
// Up to 4 % high for a square at n = 0.5 (against a finite-element value).
type Duct struct {
	Area, Perimeter float64 // m2, m
	A, B            float64
}

// HydraulicDiameter returns 4 A/P in m.
func (d Duct) HydraulicDiameter() float64 { return 4 * d.Area / d.Perimeter }

// FRe returns Fanning f times the power-law Reynolds number at index n.
func (d Duct) FRe(n float64) float64 {
	return math.Pow(2, 3*n+1) * math.Pow(d.B+d.A/n, n)
}

// PowerDrop returns the drop (Pa) of a power-law melt at q (m3/s) over a length (m).
func (d Duct) PowerDrop(k, n, q, length float64) float64 {
	dh := d.HydraulicDiameter()
	u := q / d.Area
	// mean wall stress = K [(8u/Dh)(B + A/n)]^n
	return 4 * length / dh * k * math.Pow(8*u/dh*(d.B+d.A/n), n)
}

// Drop returns the drop (Pa) of any law: the wall stress at which the local
// power-law index of the law and the duct rule agree.
func (d Duct) Drop(l Law, q, length float64) float64 {
	dh := d.HydraulicDiameter()
	u := q / d.Area
	tau := invert(func(t float64) float64 {
		// Generalised Rabinowitsch form: 8u/Dh = (1/(tau^(B/A))) integral g s^(B/A-1) ds / A.
		e := d.B / d.A
		return num.Integrate(func(y float64) float64 {
			x := 1 - (1-y)*(1-y)
			return l(x*t) * math.Pow(x, e-1) * 2 * (1 - y)
		}, 0, 1) / d.A
	}, 8*u/dh)
	return 4 * length / dh * tau
}

// Rectangle returns the duct of sides w and h (m): Boussinesq's series for the Newtonian
// flow and the peak velocity. Source: R. K. Shah, A. L. London, Laminar Flow Forced
// Convection in Ducts (1978), sec. VII (from memory).
func Rectangle(w, h float64) Duct {
	long, short := math.Max(w, h), math.Min(w, h)
	A := short / long
	mean, peak := rectSeries(A)
	fre := 8 / ((1 + A) * (1 + A) * mean)
	a := fre / 16 / (2 * peak / mean)
	return Duct{Area: w * h, Perimeter: 2 * (w + h), A: a, B: fre/16 - a}
}

// rectSeries returns mean and peak velocity in units of G a^2/eta, a the half short side.
func rectSeries(A float64) (mean, peak float64) {
	s, p := 0.0, 0.0
	sign := 1.0
	for i := 1.0; i < 400; i += 2 {
		s += math.Tanh(i*math.Pi/(2*A)) / math.Pow(i, 5)
		p += sign / (i * i * i) * (1 - 1/math.Cosh(i*math.Pi/(2*A)))
		sign = -sign
	}
	return (1 - 192*A/math.Pow(math.Pi, 5)*s) / 3, 16 / math.Pow(math.Pi, 3) * p
}

// RectFactor returns the Newtonian flow in a rectangular channel over that of the
// wide-slit formula, short over long side given.
func RectFactor(aspect float64) float64 {
	m, _ := rectSeries(aspect)
	return 3 * m
}

// HalfRound returns the half-round runner of radius r (m). Newtonian flow is
// (pi/8 - 1/pi) G r^4/eta, 0.379 of half a full tube; the series was summed for this project and agrees with
// Shah and London (from memory). The A, B split is fitted to a finite-element value at n = 0.5.
func HalfRound(r float64) Duct {
	return Duct{Area: math.Pi * r * r / 2, Perimeter: (math.Pi + 2) * r, A: 0.1779, B: 0.8075}
}

// Trapezoid returns the runner with parallel sides wide and narrow and the height h (m),
// as the rectangle of equal area and height with the trapezoid's own perimeter: within
// 3 % of finite-element values for a taper of 0.7.
func Trapezoid(wide, narrow, h float64) Duct {
	m := (wide + narrow) / 2
	d := Rectangle(m, h)
	d.Perimeter = wide + narrow + 2*math.Hypot(h, (wide-narrow)/2)
	return d
}

// EllipseFlow returns Q eta/G (m4) of a Newtonian melt: pi a^3 b^3/(4 (a^2+b^2)). Shah and London (from memory).
func EllipseFlow(a, b float64) float64 {
	return math.Pi * a * a * a * b * b * b / (4 * (a*a + b*b))
}

// TriangleFlow returns Q eta/G (m4) of a Newtonian melt in an equilateral triangle of side a: sqrt(3) a^4/320. Same source.
func TriangleFlow(a float64) float64 { return math.Sqrt(3) * math.Pow(a, 4) / 320 }
