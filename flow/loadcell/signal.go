package loadcell

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/stat"
)

// Alias returns the frequency at which a signal of frequency f appears when sampled at fs: |f - round(f/fs) fs|.
func Alias(f, fs float64) float64 { return math.Abs(f - math.Round(f/fs)*fs) }

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

// BlockMeans returns the means of blocks of b values, the mean of them and its standard error: the
// honest error of a mean of correlated samples.
func BlockMeans(x []float64, b int) (means []float64, grand, se float64) {
	for i := 0; i+b <= len(x); i += b {
		means = append(means, stat.Mean(x[i:i+b], nil))
	}
	m, sd := stat.MeanStdDev(means, nil)
	return means, m, sd / math.Sqrt(float64(len(means)))
}

// SavGol5 returns the smoothed middle of five values and the slope per sample (A. Savitzky, M. J. E. Golay, Anal. Chem. 36 (1964) 1627).
func SavGol5(y [5]float64) (smooth, slope float64) {
	return (-3*y[0] + 12*y[1] + 17*y[2] + 12*y[3] - 3*y[4]) / 35, (-2*y[0] - y[1] + y[3] + 2*y[4]) / 10
}

// PeakParabola returns where between the samples the peak of three lies (offset from the middle) and its height.
func PeakParabola(a, b, c float64) (offset, height float64) {
	d := a - 2*b + c
	if d == 0 {
		return 0, b
	}
	offset = (a - c) / (2 * d)
	return offset, b - (a-c)*offset/4
}

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

// Ripple is the strongest periodic part of a signal.
type Ripple struct {
	Frequency float64 // Hz, as sampled
	Amplitude float64 // of the sine, in the signal's unit
	Share     float64 // of the variance
}

// FindRipple returns the strongest line of the spectrum between two cycles a record and half the sampling rate, after
// taking out a straight line (Hann window, gonum FFT). A frequency above half the sampling rate appears at its alias.
func FindRipple(x []float64, fs float64) Ripple {
	n := len(x)
	if n < 16 {
		return Ripple{}
	}
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(i)
	}
	a, b := stat.LinearRegression(t, x, nil, false)
	w := make([]float64, n)
	var gain, total float64
	for i := range x {
		h := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		r := x[i] - a - b*t[i]
		w[i] = r * h
		gain += h
		total += r * r
	}
	total /= float64(n)
	if total == 0 {
		return Ripple{}
	}
	c := fourier.NewFFT(n).Coefficients(nil, w)
	best := 0
	for k := 2; k < len(c)-1; k++ {
		if best == 0 || cmplx.Abs(c[k]) > cmplx.Abs(c[best]) {
			best = k
		}
	}
	if best == 0 {
		return Ripple{}
	}
	// Between the bins by a parabola through the logarithms.
	off, height := PeakParabola(math.Log(cmplx.Abs(c[best-1])+1e-300), math.Log(cmplx.Abs(c[best])+1e-300), math.Log(cmplx.Abs(c[best+1])+1e-300))
	amp := 2 * math.Exp(height) / gain
	return Ripple{(float64(best) + off) * fs / float64(n), amp, math.Min(1, amp*amp/2/total)}
}
