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
