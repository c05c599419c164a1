package reference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"meltload/materials/num"
	"meltload/thermal"
)

// Graetz is the thermal entrance problem of a power-law melt in a tube or
// slit whose wall temperature is fixed: eigenvalues and mixing-cup weights of
//
//	(r^m y')' + lam^2 r^m (1 - r^p) y = 0,  y'(0) = 0, y(1) = 0,  p = (n+1)/n
//
// with m = 1 (tube) or 0 (slit, r across the half gap).
//
// Source: L. Graetz (1885); W. Nusselt (1910); power-law form as in R. B. Bird,
// R. C. Armstrong, O. Hassager, Dynamics of Polymeric Liquids vol. 1 (from memory).
type Graetz struct {
	N         float64
	Lam       []float64 // eigenvalues, rising
	Weight    []float64 // mixing-cup weights, sum -> 1
	Axis      []float64 // coefficients of the axis temperature
	PeakRatio float64   // u_max/u_mean
}

// NewGraetz solves the tube problem for the power-law index n in (0, 1] with
// modes terms by Galerkin's method on Bessel functions; the lower half of the
// eigenvalues is good to about 1e-7.
func NewGraetz(n float64, modes int) *Graetz {
	g := galerkin(n, modes, 1)
	g.PeakRatio = (3*n + 1) / (n + 1)
	return g
}

// NewSlitGraetz solves the slit problem, on cosines.
func NewSlitGraetz(n float64, modes int) *Graetz {
	g := galerkin(n, modes, 0)
	g.PeakRatio = (2*n + 1) / (n + 1)
	return g
}

func galerkin(n float64, modes, m int) *Graetz {
	p := (n + 1) / n
	q := 4*modes + 40
	x, w := num.GaussNodes(q)
	// Basis functions scaled to unit stiffness: the integral of r^m phi'^2 is 1.
	phi := make([][]float64, modes)
	for k := range phi {
		phi[k] = make([]float64, q)
		for i, r := range x {
			if m == 1 {
				j := thermal.BesselZero(0, k+1)
				phi[k][i] = math.J0(j*r) / (j * math.Abs(math.J1(j)) / math.Sqrt2)
			} else {
				j := (float64(k) + 0.5) * math.Pi
				phi[k][i] = math.Cos(j*r) / (j / math.Sqrt2)
			}
		}
	}
	f := make([]float64, q) // weight r^m (1 - r^p) dr
	var total float64
	for i, r := range x {
		f[i] = w[i] * math.Pow(r, float64(m)) * (1 - math.Pow(r, p))
		total += f[i]
	}
	b := mat.NewSymDense(modes, nil)
	proj := make([]float64, modes)
	for k := range modes {
		for l := k; l < modes; l++ {
			var s float64
			for i := range x {
				s += f[i] * phi[k][i] * phi[l][i]
			}
			b.SetSym(k, l, s)
		}
		for i := range x {
			proj[k] += f[i] * phi[k][i]
		}
	}
	var es mat.EigenSym
	es.Factorize(b, true)
	mu := es.Values(nil)
	var vec mat.Dense
	es.VectorsTo(&vec)
	g := &Graetz{N: n, Lam: make([]float64, modes), Weight: make([]float64, modes), Axis: make([]float64, modes)}
	for k := range modes {
		col := modes - 1 - k // gonum sorts rising; the largest 1/lam^2 comes first here
		g.Lam[k] = 1 / math.Sqrt(mu[col])
		var a, axis float64
		for l := range modes {
			a += vec.At(l, col) * proj[l]
			axis += vec.At(l, col) * atAxis(l, m)
		}
		// The eigenvector is normalised to sum c^2 = 1, its mass to mu.
		g.Weight[k] = a * a / (mu[col] * total)
		g.Axis[k] = a * axis / mu[col]
	}
	return g
}

// atAxis is the value of the k-th basis function on the axis.
func atAxis(k, m int) float64 {
	if m == 1 {
		j := thermal.BesselZero(0, k+1)
		return math.Sqrt2 / (j * math.Abs(math.J1(j)))
	}
	return math.Sqrt2 / ((float64(k) + 0.5) * math.Pi)
}

// MixingCup returns theta_m = (Tm - Tw)/(T0 - Tw) at X = 4 x*/(u_max/u_mean),
// x* = z alpha/(u_mean D^2).
func (g *Graetz) MixingCup(xstar float64) float64 {
	X := 4 * xstar / g.PeakRatio
	var s float64
	for k, l := range g.Lam {
		s += g.Weight[k] * math.Exp(-l*l*X)
	}
	return s
}

// Nusselt returns the local and the mean Nusselt number (on the diameter) at x*.
func (g *Graetz) Nusselt(xstar float64) (local, mean float64) {
	X := 4 * xstar / g.PeakRatio
	var s, d float64
	for k, l := range g.Lam {
		e := g.Weight[k] * math.Exp(-l*l*X)
		s += e
		d += e * l * l
	}
	return d / s / g.PeakRatio, -math.Log(s) / (4 * xstar)
}

// NusseltDeveloped returns Nu_T far downstream at fixed wall temperature.
func (g *Graetz) NusseltDeveloped() float64 { return g.Lam[0] * g.Lam[0] / g.PeakRatio }

// NusseltFlux returns the fully developed Nusselt number of a power-law melt
// in a tube at uniform wall flux: 8(5n+1)(3n+1)/(31n^2+12n+1). Bird et al. (from memory).
func NusseltFlux(n float64) float64 {
	return 8 * (5*n + 1) * (3*n + 1) / (31*n*n + 12*n + 1)
}

// Leveque returns the local and mean Nusselt numbers of the entrance region of a
// power-law melt in a tube: Nu = 2/Gamma(4/3) ((3n+1)/(36n))^(1/3) x*^(-1/3), mean
// 1.5 times. M. A. Leveque (1928), power-law form from memory; for x* below about 1e-3.
func Leveque(n, xstar float64) (local, mean float64) {
	local = 2 / math.Gamma(4.0/3) * math.Cbrt((3*n+1)/(36*n)) / math.Cbrt(xstar)
	return local, 1.5 * local
}

// Hausen returns the mean Nusselt number of laminar tube flow at Graetz number
// Gz = Re Pr D/L: 3.66 + 0.0668 Gz/(1 + 0.04 Gz^(2/3)). H. Hausen (1943), as in the open library ht.
func Hausen(gz float64) float64 { return 3.66 + 0.0668*gz/(1+0.04*math.Pow(gz, 2.0/3)) }

// BaehrStephan returns the mean Nusselt number of thermally developing laminar
// flow: 3.657/tanh(2.264 Gz^-1/3 + 1.7 Gz^-2/3) + 0.0499 Gz tanh(1/Gz).
// H. D. Baehr, K. Stephan, Heat and Mass Transfer, as in the open library ht.
func BaehrStephan(gz float64) float64 {
	return 3.657/math.Tanh(2.264*math.Pow(gz, -1.0/3)+1.7*math.Pow(gz, -2.0/3)) + 0.0499*gz*math.Tanh(1/gz)
}
