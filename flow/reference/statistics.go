package reference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"meltload/materials/num"
)

// EWMA returns the exponentially weighted moving average, starting from a value: z = lam x + (1-lam) z.
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
func EWMA(x []float64, start, lam float64) []float64 {
	z := make([]float64, len(x)+1)
	z[0] = start
	for i, v := range x {
		z[i+1] = lam*v + (1-lam)*z[i]
	}
	return z
}

// EWMALimits returns the control limits target -+ L sigma sqrt(lam/(2-lam)).
func EWMALimits(target, sigma, lam, l float64) (lo, hi float64) {
	d := l * sigma * math.Sqrt(lam/(2-lam))
	return target - d, target + d
}

// CUSUM returns the upper and lower cumulative sums and the first index whose sum is above h, -1 if
// none. Same handbook, 6.3.2.3.
func CUSUM(x []float64, target, k, h float64) (up, down []float64, alarm int) {
	alarm = -1
	var a, b float64
	for i, v := range x {
		a = math.Max(0, a+v-target-k)
		b = math.Max(0, b+target-k-v)
		up, down = append(up, a), append(down, b)
		if alarm < 0 && (a > h || b > h) {
			alarm = i
		}
	}
	return up, down, alarm
}

// Split finds the least-squares split of x in two means: k values before.
type Split struct {
	K             int
	Before, After float64
	RSS, Total    float64
	T             float64 // two-sample t of the split
}

// FindSplit returns the best split; x needs at least four values.
func FindSplit(x []float64) Split {
	n := len(x)
	var sum, sq float64
	for _, v := range x {
		sum += v
	}
	mean := sum / float64(n)
	for _, v := range x {
		sq += (v - mean) * (v - mean)
	}
	best := Split{RSS: math.Inf(1), Total: sq}
	var left float64
	for k := 1; k < n; k++ {
		left += x[k-1] - mean
		// The explained sum of squares of a split at k, from the centred partial sum.
		rss := sq - left*left*float64(n)/(float64(k)*float64(n-k))
		if rss < best.RSS {
			best.RSS, best.K = rss, k
		}
	}
	best.Before, best.After = stat.Mean(x[:best.K], nil), stat.Mean(x[best.K:], nil)
	s := math.Sqrt(best.RSS / float64(n-2))
	best.T = math.Abs(best.Before-best.After) / (s * math.Sqrt(1/float64(best.K)+1/float64(n-best.K)))
	return best
}

// MovingMean returns the means of windows of w values.
func MovingMean(x []float64, w int) []float64 {
	var out []float64
	var s float64
	for i, v := range x {
		s += v
		if i >= w {
			s -= x[i-w]
		}
		if i >= w-1 {
			out = append(out, s/float64(w))
		}
	}
	return out
}

// Flattest returns the start of the window of w values with the least spread.
func Flattest(x []float64, w int) int {
	best, at := math.Inf(1), 0
	for i := 0; i+w <= len(x); i++ {
		if v := stat.Variance(x[i:i+w], nil); v < best {
			best, at = v, i
		}
	}
	return at
}

// SavGol5 returns the smoothed middle of five values and the slope per sample (A. Savitzky, M. J. E. Golay, Anal. Chem.
// 36 (1964) 1627).
func SavGol5(y [5]float64) (smooth, slope float64) {
	return (-3*y[0] + 12*y[1] + 17*y[2] + 12*y[3] - 3*y[4]) / 35, (-2*y[0] - y[1] + y[3] + 2*y[4]) / 10
}

// SteadyRatio returns R = (2-l1) v/d of S. Cao and R. R. Rhinehart, J. Process Control 5 (1995) 363 (from
// memory): near 1 when steady. v and d start from zero, the filtered value from the first sample.
func SteadyRatio(x []float64, l1, l2, l3 float64) []float64 {
	if len(x) == 0 {
		return nil
	}
	var v, d float64
	xf := x[0]
	var out []float64
	for i := 1; i < len(x); i++ {
		v = l2*(x[i]-xf)*(x[i]-xf) + (1-l2)*v
		d = l3*(x[i]-x[i-1])*(x[i]-x[i-1]) + (1-l3)*d
		xf = l1*x[i] + (1-l1)*xf
		out = append(out, (2-l1)*v/d)
	}
	return out
}

// MeanSD returns mean and sample standard deviation (two passes, so that a large offset does no harm).
// ISO/IEC Guide 98-3 (GUM) 4.2.
func MeanSD(x []float64) (mean, sd float64) { return stat.MeanStdDev(x, nil) }

// Lag1 returns the lag-one autocorrelation about the mean.
func Lag1(x []float64) float64 {
	m := stat.Mean(x, nil)
	var a, b float64
	for i := range x {
		b += (x[i] - m) * (x[i] - m)
		if i > 0 {
			a += (x[i] - m) * (x[i-1] - m)
		}
	}
	return a / b
}

// Welch returns the combined uncertainty and its effective degrees of freedom. GUM G.4.1.
func Welch(u, dof []float64) (uc, eff float64) {
	var s, d float64
	for i := range u {
		s += u[i] * u[i]
		d += math.Pow(u[i], 4) / dof[i]
	}
	return math.Sqrt(s), s * s / d
}

// MeanOfAR1 returns the standard deviation of the mean of n values of a first-order
// autoregressive series, and the number of independent values it is worth:
// var = (s^2/n)[1 + 2 sum (1-k/n) phi^k].
func MeanOfAR1(sigma, phi float64, n int) (sd, effective float64) {
	f := 1.0
	p := 1.0
	for k := 1; k < n; k++ {
		p *= phi
		f += 2 * (1 - float64(k)/float64(n)) * p
	}
	return sigma * math.Sqrt(f/float64(n)), float64(n) / f
}

// SampleSize returns (z sigma/delta)^2 for a mean and 2 ((z_a + z_b) sigma/delta)^2 per group for a difference.
func SampleSize(sigma, delta, alpha, power float64) (mean, perGroup float64) {
	za := distuv.UnitNormal.Quantile(1 - alpha/2)
	zb := distuv.UnitNormal.Quantile(power)
	return math.Pow(za*sigma/delta, 2), 2 * math.Pow((za+zb)*sigma/delta, 2)
}

// Power returns the power of a two-sided two-sample t-test with n a group: the noncentral t, integrated over the
// chi distribution. The far tail, a rejection in the wrong direction, is not counted (as in R's power.t.test).
func Power(n int, delta, sigma, alpha float64) float64 {
	nu := float64(2*n - 2)
	ncp := delta / sigma * math.Sqrt(float64(n)/2)
	tc := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(1 - alpha/2)
	chi := distuv.ChiSquared{K: nu}
	lo, hi := chi.Quantile(1e-13), chi.Quantile(1-1e-13)
	const panels = 8
	var s float64
	for i := range panels {
		a := lo + (hi-lo)*float64(i)/panels
		s += num.Integrate(func(w float64) float64 {
			r := math.Sqrt(w / nu)
			return (1 - distuv.UnitNormal.CDF(tc*r-ncp)) * chi.Prob(w)
		}, a, a+(hi-lo)/panels)
	}
	return s
}

// Quantum returns the least step of a converter and the noise it adds, lsb/sqrt(12).
func Quantum(fullScale float64, bits int) (lsb, noise float64) {
	lsb = fullScale / math.Ldexp(1, bits)
	return lsb, lsb / math.Sqrt(12)
}

// Rectangular returns the standard uncertainty of a value known to lie within plus or minus half: half/sqrt(3).
func Rectangular(half float64) float64 { return half / math.Sqrt(3) }

// Peaks returns the indices of local maxima and their topographic prominence.
func Peaks(x []float64) (at []int, prominence []float64) {
	for i := 1; i+1 < len(x); i++ {
		if !(x[i] > x[i-1] && x[i] >= x[i+1]) {
			continue
		}
		left, right := x[i], x[i]
		for j := i - 1; j >= 0 && x[j] <= x[i]; j-- {
			left = math.Min(left, x[j])
		}
		for j := i + 1; j < len(x) && x[j] <= x[i]; j++ {
			right = math.Min(right, x[j])
		}
		at = append(at, i)
		prominence = append(prominence, x[i]-math.Max(left, right))
	}
	return at, prominence
}

// madFactor turns a median absolute deviation into a standard deviation of normal data: 1/quantile(0.75).
var madFactor = 1 / distuv.UnitNormal.Quantile(0.75)

// MAD returns the median absolute deviation and the standard deviation it stands for.
func MAD(x []float64) (mad, sigma float64) {
	m := median(x)
	d := make([]float64, len(x))
	for i := range x {
		d[i] = math.Abs(x[i] - m)
	}
	mad = median(d)
	return mad, madFactor * mad
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}
