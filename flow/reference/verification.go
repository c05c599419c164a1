package reference

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"meltload/flow/uq"
	"meltload/materials/num"
)

// Sobol holds first-order and total variance shares.
type Sobol struct {
	Mean, Variance float64
	First, Total   []float64
}

// SobolIndices estimates the variance shares of f over dim independent inputs in (0, 1) from
// n(dim + 2) evaluations: first order by A. Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, total by
// M. J. W. Jansen (1999) (both from memory). Error goes roughly as 1/n with these points.
func SobolIndices(f func(u []float64) float64, dim, n int, seed uint64) Sobol {
	p := uq.Points(n, 2*dim, seed)
	a, b := make([]float64, n), make([]float64, n)
	row := make([]float64, 2*dim)
	u := make([]float64, dim)
	for i := range n {
		mat.Row(row, i, p)
		a[i], b[i] = f(row[:dim]), f(row[dim:])
	}
	s := Sobol{First: make([]float64, dim), Total: make([]float64, dim)}
	s.Mean, s.Variance = stat.MeanVariance(append(append([]float64(nil), a...), b...), nil)
	for j := range dim {
		var first, total float64
		for i := range n {
			mat.Row(row, i, p)
			copy(u, row[:dim])
			u[j] = row[dim+j]
			ab := f(u)
			first += (b[i] - s.Mean) * (ab - a[i])
			total += (a[i] - ab) * (a[i] - ab)
		}
		s.First[j] = first / float64(n) / s.Variance
		s.Total[j] = total / (2 * float64(n)) / s.Variance
	}
	return s
}

// GridIndex is a grid-convergence estimate from three grids of constant refinement ratio.
type GridIndex struct {
	Order        float64
	Extrapolated float64
	Fine, Coarse float64 // grid convergence index of the two finer and the two coarser grids, as shares
	Asymptotic   float64 // 1 where the grids are in the asymptotic range
}

// NewGridIndex takes the finest value first, the ratio r and a safety factor (1.25 for three grids): p =
// ln[(f3-f2)/(f2-f1)]/ln r, GCI = Fs |(f2-f1)/f1|/(r^p - 1). P. J. Roache, J. Fluids Eng. 116 (1994) 405 (from memory).
func NewGridIndex(f1, f2, f3, r, fs float64) GridIndex {
	p := math.Log((f3-f2)/(f2-f1)) / math.Log(r)
	k := math.Pow(r, p) - 1
	g := GridIndex{Order: p, Extrapolated: f1 + (f1-f2)/k, Fine: fs * math.Abs((f2-f1)/f1) / k,
		Coarse: fs * math.Abs((f3-f2)/f2) / k}
	g.Asymptotic = g.Coarse / (math.Pow(r, p) * g.Fine)
	return g
}

// CelikOrder returns the observed order from three grids with unequal ratios, by the fixed point of
// I. B. Celik et al., J. Fluids Eng. 130 (2008) 078001 (from memory).
func CelikOrder(f1, f2, f3, r21, r32 float64) float64 {
	e := math.Abs(math.Log(math.Abs((f3 - f2) / (f2 - f1))))
	s := math.Copysign(1, (f3-f2)/(f2-f1))
	g := func(p float64) float64 {
		return p - math.Abs(math.Log(math.Abs((f3-f2)/(f2-f1)))+math.Log((math.Pow(r21, p)-s)/(math.Pow(r32, p)-s)))/
			math.Log(r21)
	}
	p, err := num.Root(g, 1e-3, 10+e, 1e-13)
	if err != nil {
		return math.NaN()
	}
	return p
}

// ObservedOrder returns ln(coarse/fine)/ln r of two errors.
func ObservedOrder(coarse, fine, r float64) float64 { return math.Log(coarse/fine) / math.Log(r) }

// Validation compares simulation with measurement: E = S - D with u_val^2 = u_num^2 + u_input^2 + u_D^2. ASME V&V 20
// (from memory).
func Validation(s, d, num, input, data float64) (e, u float64) {
	return s - d, math.Sqrt(num*num + input*input + data*data)
}
