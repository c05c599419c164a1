package feeder

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// AssumedBand is the half-width of the 95 per cent interval of a force whose scatter is not known, as a share
// (assumed).
const AssumedBand = 0.1

// perDoubling is how much the half-width grows for each doubling of the speed beyond the measured range, as a share of
// the force (assumed; the same as the band of At).
const perDoubling = 0.2

// Basis is where a force comes from.
type Basis string

// The bases.
const (
	Measured  Basis = "measured"           // at this speed
	Between   Basis = "between two points" // interpolated
	Beyond    Basis = "beyond the points"  // outside the measured speeds
	Modelled  Basis = "data sheet"         // no points at all
	AsAColumn Basis = "column of soft stock"
)

// Estimate is what a feeder holds at one speed, with how well that is known.
type Estimate struct {
	Capability
	Low, High float64 // N, 95 per cent interval of the mean
	Repeats   int     // behind the force; 0 where it is not measured at this speed
	Assumed   bool    // the interval is assumed, not from repeats
	Basis     Basis
}

// sameSpeed is how close a speed must be to a point's to count as measured there, as a share.
const sameSpeed = 0.02

// Scatter is how much single runs scatter, as a share of their force, with the degrees of freedom behind it; none are
// known where Freedom is 0.
type Scatter struct {
	Share   float64
	Freedom int
}

// Scatter pools the repeats of all points: relative variances weighted by their degrees of freedom.
func (f *Feeder) Scatter() Scatter { return Pooled([]*Feeder{f}) }

// Pooled is the scatter of several feeders pooled: they are taken to scatter alike.
func Pooled(fs []*Feeder) Scatter {
	var s Scatter
	sum := 0.0
	for _, f := range fs {
		for _, p := range f.Points {
			if p.Repeats > 1 && p.SD > 0 {
				s.Freedom += p.Repeats - 1
				sum += float64(p.Repeats-1) * p.SD * p.SD / (p.Force * p.Force)
			}
		}
	}
	if s.Freedom > 0 {
		s.Share = math.Sqrt(sum / float64(s.Freedom))
	}
	return s
}

// Estimate returns the force at a filament speed (m/s) with the 95 per cent interval of its mean: Student's t with the
// pooled scatter of single runs (GUM type A) at a measured point; AssumedBand where no scatter is known; the wider of
// two
// neighbours between them; growing with the distance beyond; two standard deviations of a model.
func (f *Feeder) Estimate(v float64, scatter Scatter) Estimate {
	e := Estimate{Capability: f.At(v), Basis: Modelled, Assumed: true}
	half := 2 * modelSpread
	if n := len(f.Points); n > 0 {
		i := sort.Search(n, func(i int) bool { return f.Points[i].Speed >= v })
		near := func(i int) bool { return i >= 0 && i < n && math.Abs(f.Points[i].Speed/v-1) <= sameSpeed }
		at := func(i int) (share float64, assumed bool) { return f.Points[i].half(scatter) }
		switch {
		case near(i), near(i - 1):
			if !near(i) || near(i-1) && v/f.Points[i-1].Speed < f.Points[i].Speed/v {
				i--
			}
			e.Basis, e.Repeats = Measured, f.Points[i].Repeats
			half, e.Assumed = at(i)
		case i == 0 || i == n:
			end := f.Points[min(i, n-1)]
			own, _ := end.half(scatter)
			e.Basis = Beyond
			half = math.Hypot(own, perDoubling*math.Log2(v/end.Speed))
		default:
			a, assumedA := at(i - 1)
			b, assumedB := at(i)
			e.Basis, half, e.Assumed = Between, math.Max(a, b), assumedA || assumedB
		}
		if f.column.cuts(f.free(v)) {
			e.Basis, half, e.Assumed, e.Repeats = AsAColumn, 2*modelSpread, true, 0
		}
	}
	e.Low, e.High = e.Force*math.Max(0, 1-half), e.Force*(1+half)
	return e
}

// half is the half-width of the 95 per cent interval of a point's mean, as a share of it, and whether it is assumed.
func (p Point) half(s Scatter) (share float64, assumed bool) {
	if s.Freedom == 0 {
		return AssumedBand, true
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(s.Freedom)}.Quantile(0.975)
	return t * s.Share / math.Sqrt(float64(max(1, p.Repeats))), false
}
