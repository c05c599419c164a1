package reference

import (
	"math"

	"meltload/materials/num"
)

// Brinkman holds the fully developed viscous heating of a power-law melt in a
// tube with its wall at Tw, properties constant, as multiples of g tau R^2/k with
// g and tau = K g^n at the wall.
//
// Source: H. C. Brinkman, Appl. Sci. Res. A2 (1951) 120; derived here for any n,
// s = (n+1)/n: T - Tw = (tau g R^2/k)(1 - r^(s+2))/(s+2)^2.
type Brinkman struct {
	Centre    float64 // on the axis
	MixingCup float64
	Nusselt   float64 // on the diameter, between wall and mixing cup
}

// NewBrinkman returns the solution for the power-law index n.
func NewBrinkman(n float64) Brinkman {
	s := (n + 1) / n
	c := 1 / ((s + 2) * (s + 2))
	// u = u_max (1 - r^s): flow-weighted mean of 1 - r^(s+2).
	m := func(e float64) float64 { return 2 / (e + 2) } // 2 int r^(e+1) dr
	flow := 1 - m(s)
	cup := c * (1 - m(s) - m(s+2) + m(2*s+2)) / flow
	// Wall flux is all the heat: q = tau g R (s+2)/(s+2)^2 in the same units.
	return Brinkman{Centre: c, MixingCup: cup, Nusselt: 2 * c * (s + 2) / cup}
}

// BrinkmanFlux returns (Tw - Tm) k/(q R) and the Nusselt number for Newtonian
// tube flow with uniform wall flux q and Br = eta U^2/(q R); critical at Br = -11/24.
// Source: J. W. Ou, K. C. Cheng, Appl. Sci. Res. 28 (1973) 289 (abstract).
func BrinkmanFlux(br float64) (wallMinusMix, nusselt float64) {
	w := 11.0/24 + br
	return w, 2 / w
}

// Nahme is the tube flow of a melt whose viscosity falls as exp(-b(T - Tw)),
// driven by a given wall stress, wall at Tw.
//
// Source: E. A. Kearsley, Trans. Soc. Rheol. 6 (1962) 253; P. C. Sukanek, Chem. Eng.
// Sci. 26 (1971) 1775 (from memory, re-derived).
type Nahme struct {
	B      float64 // flow is 1 + B times isothermal
	Centre float64 // b times the centre temperature rise
}

// NahmeCritical returns the delta = b tau_w g0 R^2/k above which no steady
// solution exists at given stress: 2 n p^2, p = (3 + 1/n)/2.
func NahmeCritical(n float64) float64 {
	p := (3 + 1/n) / 2
	return 2 * n * p * p
}

// NewNahme returns the lower solution for delta below NahmeCritical(n), with
// g0 the isothermal wall rate at the stress given; ok is false above it.
func NewNahme(delta, n float64) (s Nahme, ok bool) {
	d := delta / (n * math.Pow((3+1/n)/2, 2))
	if d > 2 {
		return Nahme{}, false
	}
	// d = 8B/(1+B)^2, lower root.
	a := 4/d - 1
	b := a - math.Sqrt(math.Max(0, a*a-1))
	if d == 0 {
		b = 0
	}
	return Nahme{B: b, Centre: 2 * n * math.Log1p(b)}, true
}

// NahmeCouette returns the stress over its isothermal value and b times the
// largest temperature rise for plane shear with both walls at one temperature,
// Na = b eta0 V^2/k. Source: R. Nahme, Ing.-Arch. 11 (1940) 191 (from memory).
func NahmeCouette(na float64) (stressRatio, rise float64) {
	x := na / 8
	return math.Asinh(math.Sqrt(x)) / math.Sqrt(x*(1+x)), math.Log1p(x)
}

// Stefan returns lambda of the one-phase Neumann solution, the frozen layer
// being 2 lambda sqrt(alpha t): lambda exp(lambda^2) erf(lambda) = Ste/sqrt(pi).
// Carslaw and Jaeger sec. 11.2 (from memory).
func Stefan(ste float64) float64 {
	f := func(x float64) float64 { return x*math.Exp(x*x)*math.Erf(x) - ste/math.Sqrt(math.Pi) }
	x, err := num.Root(f, 0, 6, 1e-15)
	if err != nil {
		return math.NaN()
	}
	return x
}

// Freeze is the two-phase freezing of a melt against a cold wall.
type Freeze struct {
	KSolid, KLiquid, Rho, CSolid, CLiquid float64 // W/mK, kg/m3, J/kgK; one density for both
	Latent                                float64 // J/kg
	Melt, Freeze, Wall                    float64 // temperatures in one unit
}

// Lambda returns the growth constant of the two-phase Neumann solution,
// layer = 2 lambda sqrt(alpha_s t). With zero latent heat it is the
// solidification isotherm. Carslaw and Jaeger sec. 11.2 (from memory).
func (f Freeze) Lambda() float64 {
	as, al := f.KSolid/(f.Rho*f.CSolid), f.KLiquid/(f.Rho*f.CLiquid)
	r := math.Sqrt(as / al)
	g := func(x float64) float64 {
		a := f.CSolid * (f.Freeze - f.Wall) * math.Exp(-x*x) / math.Erf(x)
		b := f.CSolid * (f.Melt - f.Freeze) * f.KLiquid / f.KSolid * r * math.Exp(-x*x*r*r) / math.Erfc(x*r)
		return x*math.Sqrt(math.Pi)*f.Latent - a + b
	}
	x, err := num.Root(g, 1e-6, 5/math.Max(1, r), 1e-14)
	if err != nil {
		return math.NaN()
	}
	return x
}

// Layer returns the thickness (m) frozen after t seconds.
func (f Freeze) Layer(t float64) float64 {
	return 2 * f.Lambda() * math.Sqrt(f.KSolid/(f.Rho*f.CSolid)*t)
}
