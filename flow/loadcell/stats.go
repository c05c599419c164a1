package loadcell

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Median returns the median of x without changing it.
func Median(x []float64) float64 {
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// madFactor turns a median absolute deviation into a standard deviation of normal data: 1/quantile(0.75).
var madFactor = 1 / distuv.UnitNormal.Quantile(0.75)

// TQuantile returns the quantile of Student's t.
func TQuantile(p, dof float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
}

// Interval returns the half-width of the two-sided confidence interval of a mean of n values (GUM type A).
// Infinite for fewer than two values.
func Interval(sd float64, n int, confidence float64) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	return TQuantile(0.5+confidence/2, float64(n-1)) * sd / math.Sqrt(float64(n))
}

// Repeats returns the number of runs whose mean has a confidence half-width of at most half: z-based first,
// then raised until Student's t agrees.
func Repeats(sd, half, confidence float64) int {
	if !(half > 0) || sd <= 0 {
		return 2
	}
	for n := 2; n < 1000; n++ {
		if Interval(sd, n, confidence) <= half {
			return n
		}
	}
	return 1000
}

// Poly is a least-squares polynomial with the scatter of its coefficients.
type Poly struct {
	Coef, SD []float64
	Resid    float64 // residual standard deviation
	R2       float64
	Corr01   float64 // correlation of the first two coefficients
}

// PolyFit fits a polynomial by QR in a scaled and centred variable.
func PolyFit(x, y []float64, degree int) Poly {
	n, p := len(x), degree+1
	lo, hi := x[0], x[0]
	for _, v := range x {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	mid, half := (lo+hi)/2, (hi-lo)/2
	a := mat.NewDense(n, p, nil)
	b := mat.NewVecDense(n, y)
	for i, v := range x {
		t := 1.0
		for j := range p {
			a.Set(i, j, t)
			t *= (v - mid) / half
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	var c mat.VecDense
	if err := qr.SolveVecTo(&c, false, b); err != nil {
		return Poly{}
	}
	var fit mat.VecDense
	fit.MulVec(a, &c)
	var rss, tss float64
	my := stat.Mean(y, nil)
	for i := range y {
		rss += (y[i] - fit.AtVec(i)) * (y[i] - fit.AtVec(i))
		tss += (y[i] - my) * (y[i] - my)
	}
	out := Poly{Resid: math.Sqrt(rss / float64(n-p)), R2: 1 - rss/tss}
	// Back to powers of x: c' = B c with B from the binomial expansion.
	B := mat.NewDense(p, p, nil)
	for j := range p {
		for k := 0; k <= j; k++ {
			B.Set(k, j, binomial(j, k)*math.Pow(-mid, float64(j-k))/math.Pow(half, float64(j)))
		}
	}
	var cc mat.VecDense
	cc.MulVec(B, &c)
	var ata, inv, tmp, cov mat.Dense
	ata.Mul(a.T(), a)
	if inv.Inverse(&ata) != nil {
		return Poly{}
	}
	tmp.Mul(B, &inv)
	cov.Mul(&tmp, B.T())
	for j := range p {
		out.Coef = append(out.Coef, cc.AtVec(j))
		out.SD = append(out.SD, out.Resid*math.Sqrt(cov.At(j, j)))
	}
	if p > 1 {
		out.Corr01 = cov.At(0, 1) / math.Sqrt(cov.At(0, 0)*cov.At(1, 1))
	}
	return out
}

func binomial(n, k int) float64 {
	r := 1.0
	for i := 1; i <= k; i++ {
		r = r * float64(n-k+i) / float64(i)
	}
	return r
}

// At returns the polynomial at x, and for a straight line the standard uncertainty there: u^2 = u1^2 + (x u2)^2 + 2 x
// u1 u2 r (GUM H.3).
func (p Poly) At(x float64) (y, u float64) {
	for j := len(p.Coef) - 1; j >= 0; j-- {
		y = y*x + p.Coef[j]
	}
	if len(p.Coef) == 2 {
		u = math.Sqrt(p.SD[0]*p.SD[0] + x*x*p.SD[1]*p.SD[1] + 2*x*p.SD[0]*p.SD[1]*p.Corr01)
	}
	return y, u
}

// CellCheck is the quality of a load cell from dead weights up and down.
type CellCheck struct {
	Nonlinearity float64 // share of span from the terminal line, signed, largest
	Hysteresis   float64 // share of span, largest
	Slope        float64 // best line through the origin's end, output per load
	Deviation    float64 // share of span from the best line, largest
}

// CheckCell evaluates dead-weight readings: terminal-line nonlinearity and hysteresis in shares of the output span.
func CheckCell(load, up, down []float64) CellCheck {
	n := len(load)
	span := up[n-1] - up[0]
	var c CellCheck
	fit := PolyFit(load, up, 1)
	c.Slope = fit.Coef[1]
	for i := range load {
		line := up[0] + span*(load[i]-load[0])/(load[n-1]-load[0])
		if d := (up[i] - line) / span; math.Abs(d) > math.Abs(c.Nonlinearity) {
			c.Nonlinearity = d
		}
		if d := math.Abs(down[i]-up[i]) / span; d > c.Hysteresis {
			c.Hysteresis = d
		}
		y, _ := fit.At(load[i])
		if d := math.Abs(up[i]-y) / span; d > c.Deviation {
			c.Deviation = d
		}
	}
	return c
}
