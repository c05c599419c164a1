package reference

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"meltload/flow/duct"
	"meltload/materials/num"
)

// Elongating is a power-law melt whose stress in elongation is a power law too: tau = K g^n, sigma = KE e^m.
type Elongating struct {
	PowerMelt
	KE, M float64 // Pa s^m, and the index
}

// Entry returns the entrance loss (Pa) in a cone from the radius rb to r (m) with the half angle a (rad) at the
// apparent rate gamma = 4Q/(pi R^3) (1/s): the part by shear and the part by elongation.
//
// Source: F. N. Cogswell, Polym. Eng. Sci. 12 (1972) 64, as set out by Steffe (1996) eqs 4.41-4.49.
func (e Elongating) Entry(a, r, rb, gamma float64) (shear, ext float64) {
	t, n, m := math.Tan(a), e.N, e.M
	shear = 2 * e.K / (3 * n * t) * math.Pow((3*n+1)/(4*n), n) * math.Pow(gamma, n) * (1 - math.Pow(r/rb, 3*n))
	ext = 2 * e.KE / (3 * m) * math.Pow(t/2, m) * math.Pow(gamma, m) * (1 - math.Pow(r/rb, 3*m))
	return shear, ext
}

// CogswellFlat evaluates a measured entrance loss p (Pa) of a flat entry at the
// apparent rate gamma: extensional stress (3/8)(n+1) p, rate 4 eta gamma^2/(3(n+1) p), eta = K gamma^(n-1).
// Source: Steffe (1996) eqs 4.53-4.55.
func CogswellFlat(p, n, k, gamma float64) (stress, rate, viscosity float64) {
	eta := k * math.Pow(gamma, n-1)
	stress = 3.0 / 8 * (n + 1) * p
	rate = 4 * eta * gamma * gamma / (3 * (n + 1) * p)
	return stress, rate, stress / rate
}

// CogswellLoss returns the entrance loss (Pa) of a flat entry for shear and extensional
// viscosities eta and ext (Pa s): 4 sqrt2/(3(n+1)) gamma sqrt(eta ext), and the half angle (rad)
// of the natural cone, tan = sqrt(2 eta/ext). The inverse of CogswellFlat (from memory).
func CogswellLoss(n, eta, ext, gamma float64) (p, angle float64) {
	return 4 * math.Sqrt2 / (3 * (n + 1)) * gamma * math.Sqrt(eta*ext), math.Atan(math.Sqrt(2 * eta / ext))
}

// Bagley fits p = 2 tau_w (L/R + e) to pressures (Pa) at one rate over dies of
// several L/R by least squares, and returns the true wall stress, the
// end loss (Pa) and the end correction e. ISO 11443; E. B. Bagley, J. Appl. Phys. 28 (1957) 624 (from memory).
func Bagley(lOverR, p []float64) (tau, end, e float64) {
	a, b := stat.LinearRegression(lOverR, p, nil, false)
	return b / 2, a, a / b
}

// RabinowitschTable turns apparent rates and wall stresses of one material into true
// wall rates with one slope n' of ln tau on ln gamma: rate = gamma (3n'+1)/(4n').
// It returns n', K' = exp(intercept), the K of the true flow curve and the rates.
func RabinowitschTable(gamma, tau []float64) (n, kApparent, k float64, rate []float64) {
	x, y := make([]float64, len(gamma)), make([]float64, len(tau))
	for i := range gamma {
		x[i], y[i] = math.Log(gamma[i]), math.Log(tau[i])
	}
	a, n := stat.LinearRegression(x, y, nil, false)
	f := (3*n + 1) / (4 * n)
	rate = make([]float64, len(gamma))
	for i, g := range gamma {
		rate[i] = g * f
	}
	kApparent = math.Exp(a)
	return n, kApparent, kApparent * math.Pow(f, -n), rate
}

// Capillary evaluates one point of a capillary rheometer (ISO 11443, ASTM D3835
// forms from memory): lengths in m, pressures in Pa.
type Capillary struct{ Barrel, Die, Length float64 }

// Point returns flow, apparent rate, and the wall stress without and with the end loss.
func (c Capillary) Point(piston, p, end float64) (q, gamma, apparent, corrected float64) {
	q = math.Pi * c.Barrel * c.Barrel / 4 * piston
	gamma = 32 * q / (math.Pi * math.Pow(c.Die, 3))
	return q, gamma, p * c.Die / (4 * c.Length), (p - end) * c.Die / (4 * c.Length)
}

// Ellis returns the law rate = (tau/eta0)[1 + (tau/half)^(alpha-1)], a test of the
// Rabinowitsch step whose both sides are exact. S. B. Ellis (1927), in Bird et al. (from memory).
func Ellis(eta0, half, alpha float64) duct.Law {
	return func(tau float64) float64 { return tau / eta0 * (1 + math.Pow(tau/half, alpha-1)) }
}

// WithPlateau returns the law eta = etaInf + (eta0 - etaInf) f(g) for a thinning
// function f falling from 1: the rate is found by a bracketed root.
func WithPlateau(eta0, etaInf float64, f func(g float64) float64) duct.Law {
	return func(tau float64) float64 {
		if tau <= 0 {
			return 0
		}
		hi := tau / eta0
		stress := func(g float64) float64 { return g * (etaInf + (eta0-etaInf)*f(g)) }
		for stress(hi) < tau && hi < 1e30 {
			hi *= 4
		}
		g, err := num.Root(func(lg float64) float64 { return math.Log(stress(math.Exp(lg)) / tau) }, math.Log(tau/eta0)-
			1e-9, math.Log(hi)+1e-9, 1e-14)
		if err != nil {
			return hi
		}
		return math.Exp(g)
	}
}
