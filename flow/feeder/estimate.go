package feeder

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// AssumedBand is the half-width of the 95 per cent interval of a force that was measured once, as a share (assumed).
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

// Estimate returns the force at a filament speed (m/s) with the 95 per cent interval of its mean: Student's t over the
// repeats at a measured point (GUM type A); AssumedBand where a point was measured once; the wider of two neighbours
// between them; growing with the distance beyond; two standard deviations of a model.
func (f *Feeder) Estimate(v float64) Estimate {
	e := Estimate{Capability: f.At(v), Basis: Modelled, Assumed: true}
	half := 2 * modelSpread
	if n := len(f.Points); n > 0 {
		i := sort.Search(n, func(i int) bool { return f.Points[i].Speed >= v })
		near := func(i int) bool { return i >= 0 && i < n && math.Abs(f.Points[i].Speed/v-1) <= sameSpeed }
		at := func(i int) (share float64, assumed bool) { return f.Points[i].half() }
		switch {
		case near(i), near(i - 1):
			if !near(i) || near(i-1) && v/f.Points[i-1].Speed < f.Points[i].Speed/v {
				i--
			}
			e.Basis, e.Repeats = Measured, f.Points[i].Repeats
			half, e.Assumed = at(i)
		case i == 0 || i == n:
			end := f.Points[min(i, n-1)]
			own, _ := end.half()
			e.Basis = Beyond
			half = math.Hypot(own, perDoubling*math.Log2(v/end.Speed))
		default:
			a, assumedA := at(i - 1)
			b, assumedB := at(i)
			e.Basis, half, e.Assumed = Between, math.Max(a, b), assumedA || assumedB
		}
		if f.column.cuts && e.Cause == Buckle && e.Force <= f.column.force*(1+1e-9)*math.Max(f.Factor, 1) {
			e.Basis, half, e.Assumed, e.Repeats = AsAColumn, 2*modelSpread, true, 0
		}
	}
	e.Low, e.High = e.Force*math.Max(0, 1-half), e.Force*(1+half)
	return e
}

// half is the half-width of the 95 per cent interval of a point's mean, as a share of it, and whether it is assumed.
func (p Point) half() (share float64, assumed bool) {
	if p.Repeats < 2 || p.SD <= 0 {
		return AssumedBand, true
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(p.Repeats - 1)}.Quantile(0.975)
	return t * p.SD / math.Sqrt(float64(p.Repeats)) / p.Force, false
}
