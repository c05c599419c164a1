package duct

import (
	"math"

	"meltload/materials/num"
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

// Duct is a straight channel of other than round section as two numbers:
// f Re on the hydraulic diameter for a power-law melt is 2^(3n+1) (B + A/n)^n.
//
// Source: W. Kozicki, C. H. Chou, C. Tiu, Chem. Eng. Sci. 21 (1966) 665 (from memory).
// Up to 4 % high for a square at n = 0.5 (against a finite-element value).
type Duct struct {
	Area, Perimeter float64 // m2, m
	A, B            float64
}

// HydraulicDiameter returns 4 A/P (m).
func (d Duct) HydraulicDiameter() float64 { return 4 * d.Area / d.Perimeter }

// FRe returns Fanning's friction factor times the Reynolds number of a power-law melt of index n > 0, on the hydraulic
// diameter: 2^(3n+1) (B + A/n)^n. 16 for a tube at n = 1.
func (d Duct) FRe(n float64) float64 {
	return math.Pow(2, 3*n+1) * math.Pow(d.B+d.A/n, n)
}

// PowerDrop returns the drop (Pa) of a power-law melt, tau = k g^n with k in Pa s^n, at the flow q (m3/s) over a length
// (m):
//
//	dp = (4 L/Dh) k [(8 u/Dh)(B + A/n)]^n
//
// Error and source: see Duct.
func (d Duct) PowerDrop(k, n, q, length float64) float64 {
	dh := d.HydraulicDiameter()
	u := q / d.Area
	// mean wall stress = K [(8u/Dh)(B + A/n)]^n
	return 4 * length / dh * k * math.Pow(8*u/dh*(d.B+d.A/n), n)
}

// Drop returns the drop (Pa) of any law at the flow q (m3/s) over a length (m): the mean wall stress at which the rule
// of the duct, with the local power-law index of the law, carries the flow. It is PowerDrop for a power law.
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
	mean, peak := RectangleVelocity(A)
	fre := 8 / ((1 + A) * (1 + A) * mean)
	a := fre / 16 / (2 * peak / mean)
	return Duct{Area: w * h, Perimeter: 2 * (w + h), A: a, B: fre/16 - a}
}

// RectangleVelocity returns mean and peak velocity of Newtonian flow in a rectangle of the aspect A = short over long
// side (0 < A <= 1), in units of G a^2/eta with a half the short side and G the pressure gradient. Boussinesq's series;
// source: see Rectangle.
func RectangleVelocity(A float64) (mean, peak float64) {
	s, p := 0.0, 0.0
	sign := 1.0
	for i := 1.0; i < 400; i += 2 {
		s += math.Tanh(i*math.Pi/(2*A)) / math.Pow(i, 5)
		p += sign / (i * i * i) * (1 - 1/math.Cosh(i*math.Pi/(2*A)))
		sign = -sign
	}
	return (1 - 192*A/math.Pow(math.Pi, 5)*s) / 3, 16 / math.Pow(math.Pi, 3) * p
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
