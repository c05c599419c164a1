package loadcell

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/stat"
)

// Alias returns the frequency at which a signal of frequency f appears when sampled at fs: |f - round(f/fs) fs|.
func Alias(f, fs float64) float64 { return math.Abs(f - math.Round(f/fs)*fs) }

// BlockMeans returns the means of blocks of b values, the mean of them and its standard error: the
// honest error of a mean of correlated samples.
func BlockMeans(x []float64, b int) (means []float64, grand, se float64) {
	for i := 0; i+b <= len(x); i += b {
		means = append(means, stat.Mean(x[i:i+b], nil))
	}
	m, sd := stat.MeanStdDev(means, nil)
	return means, m, sd / math.Sqrt(float64(len(means)))
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

// Ripple is the strongest periodic part of a signal.
type Ripple struct {
	Frequency float64 // Hz, as sampled
	Amplitude float64 // of the sine, in the signal's unit
	Share     float64 // of the variance
}

// rippleRows is the longest stretch that is looked at.
const rippleRows = 1 << 17

// FindRipple returns the strongest line of the spectrum between cycles waves a record and half the sampling rate, after
// taking out a straight line (Hann window, filled up to a power of two, gonum FFT). A frequency above half the sampling
// rate appears at its alias. Nothing is returned where the spectrum only falls from the edge of that band: that is no
// line.
func FindRipple(x []float64, fs, cycles float64) Ripple {
	n := min(len(x), rippleRows)
	x = x[:n]
	if n < 16 || !(fs > 0) {
		return Ripple{}
	}
	mean, slope, _ := lineOf(x)
	size := 1
	for size < n {
		size *= 2
	}
	w := make([]float64, size)
	var gain, total float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range x {
		h := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		r := x[i] - mean - slope*(float64(i)-float64(n-1)/2)
		lo, hi = math.Min(lo, r), math.Max(hi, r)
		w[i] = r * h
		gain += h
		total += r * r
	}
	total /= float64(n)
	if total == 0 {
		return Ripple{}
	}
	c := fourier.NewFFT(size).Coefficients(nil, w)
	first := max(2, int(math.Ceil(cycles*float64(size)/float64(n))))
	best := 0
	for k := first; k < len(c)-1; k++ {
		if best == 0 || cmplx.Abs(c[k]) > cmplx.Abs(c[best]) {
			best = k
		}
	}
	if best == 0 || cmplx.Abs(c[best-1]) > cmplx.Abs(c[best]) || cmplx.Abs(c[best+1]) > cmplx.Abs(c[best]) {
		return Ripple{}
	}
	// Between the bins by a parabola through the logarithms; about the highest of three its top is within half a bin.
	ln := func(k int) float64 { return math.Log(cmplx.Abs(c[k]) + 1e-300) }
	off, height := PeakParabola(ln(best-1), ln(best), ln(best+1))
	amp := math.Min(2*math.Exp(height)/gain, (hi-lo)/2)
	return Ripple{(float64(best) + off) * fs / float64(size), amp, math.Min(1, amp*amp/2/total)}
}
