// Package feeder says what force a filament feeder can push at a given
// filament speed, and how it fails there.
//
// A capability is the lowest of what is known: measured points, and models of
// grip, motor stall and buckling. Leaving the measured range is marked, never silent.
package feeder

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"gonum.org/v1/gonum/interp"
)

// Cause is how a feeder gives up.
type Cause string

// The causes of failure.
const (
	Grind  Cause = "grind"  // the gear cuts the filament: force collapses and stays low
	Skip   Cause = "skip"   // the motor stalls and skips: saw-tooth that keeps pushing
	Buckle Cause = "buckle" // the unsupported filament folds
	Mixed  Cause = "unknown"
)

// Point is one measured capability, with what it was measured on.
type Point struct {
	Speed   float64 // m/s of filament
	Force   float64 // N at the feeder
	Cause   Cause
	Repeats int     // number of runs behind the mean, at least 1
	SD      float64 // N, standard deviation of single runs; 0 if not known

	Material string  // id or name of the polymer, "" if not known
	Stock    float64 // K, filament in the feeder, 0 if not known
	Block    float64 // K, block sensor at failure, 0 if not known; kept for the record
	Current  float64 // A, motor current as set, peak; 0 if not known
}

// Capability is the force available at one speed.
type Capability struct {
	Force        float64 // N
	SD           float64 // N, of a single run; 0 if not known
	Cause        Cause
	Extrapolated bool // outside the measured range: the nearest end is held
}

// Feeder is a feeder under test or on paper.
type Feeder struct {
	Name   string
	Points []Point // by rising speed, one a speed; see New
	Mass   float64 // kg, 0 if not given
	Cost   float64 // in the user's money, 0 if not given
	Model  *Model  // nil if there are only points
	Slip   float64 // 1/N: share of the feed lost per newton of push, 0 if not known
	Factor float64 // multiplies every force that the feeder holds; 0 means 1
	Stock  *Stock  // the filament it is to push, nil if not known; see With

	// Unused are points of another polymer, left out because there are points of the stock's own. New fills it.
	Unused []Point

	force, sd interp.Predictor
	column    fold
}

// With returns the feeder with another filament in it: its points are chosen anew, its model takes the filament's
// diameter, temperature and strength.
func (f *Feeder) With(s Stock) (*Feeder, error) {
	n := *f
	n.Stock = &s
	if f.Model != nil {
		m := *f.Model
		m.Diameter, m.Stock, m.Material = s.Diameter, s.Temperature, s.Material
		n.Model = &m
	}
	return New(n)
}

// New checks a feeder, sorts the points, pools repeats at one speed (means weighted by repeats,
// variances pooled, so that scatter between sets is kept), and prepares the monotone interpolation.
// Where some of the points were measured with the polymer of Stock, only those count; the others move to Unused.
// The error lists everything that is wrong.
func New(f Feeder) (*Feeder, error) {
	p := append(append([]Point(nil), f.Points...), f.Unused...)
	var bad []string
	for i, x := range p {
		if !(x.Speed > 0) || math.IsInf(x.Speed, 0) {
			bad = append(bad, fmt.Sprintf("feeder: point %d: speed %g m/s; more than 0 is needed", i+1, x.Speed))
		}
		if !(x.Force > 0) || math.IsInf(x.Force, 0) {
			bad = append(bad, fmt.Sprintf("feeder: point %d: force %g N; more than 0 is needed", i+1, x.Force))
		}
		if !(x.SD >= 0) || math.IsInf(x.SD, 0) {
			bad = append(bad, fmt.Sprintf("feeder: point %d: standard deviation %g N; 0 or more is needed", i+1, x.SD))
		}
		if x.Repeats < 1 {
			p[i].Repeats = 1
		}
		if x.Cause == "" {
			p[i].Cause = Mixed
		}
	}
	if len(p) == 0 && f.Model == nil {
		bad = append(bad, "feeder: neither measured points nor a model")
	}
	if f.Model != nil {
		m := f.Model.prepared()
		bad = append(bad, m.Problems()...)
		f.Model = m
	}
	if len(bad) > 0 {
		return nil, errors.New(strings.Join(bad, "\n"))
	}
	p, f.Unused = f.own(p)
	sort.SliceStable(p, func(i, j int) bool { return p[i].Speed < p[j].Speed })
	f.Points = nil
	for i := 0; i < len(p); {
		j := i + 1
		for j < len(p) && p[j].Speed-p[i].Speed < 1e-6*p[i].Speed {
			j++
		}
		f.Points = append(f.Points, pool(p[i:j]))
		i = j
	}
	f.force, f.sd = nil, nil
	if n := len(f.Points); n > 1 {
		x, y, s := make([]float64, n), make([]float64, n), make([]float64, n)
		for i, q := range f.Points {
			x[i], y[i], s[i] = q.Speed, q.Force, q.SD
		}
		var force interp.FritschButland
		var sd interp.PiecewiseLinear
		if err := force.Fit(x, y); err != nil {
			return nil, fmt.Errorf("feeder: %w", err)
		}
		if err := sd.Fit(x, s); err != nil {
			return nil, fmt.Errorf("feeder: %w", err)
		}
		f.force, f.sd = &force, &sd
	}
	f.column = f.foldOf()
	return &f, nil
}

// pool merges points at one speed.
func pool(p []Point) Point {
	out := p[0]
	if len(p) == 1 {
		return out
	}
	var n, sum, within float64
	for _, q := range p {
		r := float64(q.Repeats)
		n += r
		sum += r * q.Force
		within += (r - 1) * q.SD * q.SD
		if q.Cause != out.Cause {
			out.Cause = Mixed
		}
		if q.Material != out.Material {
			out.Material = ""
		}
		if q.Stock != out.Stock {
			out.Stock = 0
		}
		if q.Block != out.Block {
			out.Block = 0
		}
		if q.Current != out.Current {
			out.Current = 0
		}
	}
	mean := sum / n
	between := 0.0
	for _, q := range p {
		between += float64(q.Repeats) * (q.Force - mean) * (q.Force - mean)
	}
	out.Force, out.Repeats = mean, int(n)
	out.SD = math.Sqrt((within + between) / (n - 1))
	return out
}

// measured interpolates the points: monotone cubic (F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5
// (1984) 300, as in gonum), ends held.
func (f *Feeder) measured(v float64) Capability {
	n := len(f.Points)
	first, last := f.Points[0], f.Points[n-1]
	switch {
	case v <= first.Speed:
		return Capability{first.Force, first.SD, first.Cause, v < first.Speed*(1-1e-9)}
	case v >= last.Speed:
		return Capability{last.Force, last.SD, last.Cause, v > last.Speed*(1+1e-9)}
	}
	i := sort.Search(n, func(i int) bool { return f.Points[i].Speed >= v })
	near := f.Points[i]
	if v-f.Points[i-1].Speed < near.Speed-v {
		near = f.Points[i-1]
	}
	return Capability{f.force.Predict(v), f.sd.Predict(v), near.Cause, false}
}

// At returns the capability at a filament speed (m/s), times Factor. Where both are given, measured points override
// the model inside their range and scale it outside. Points that are not known to have been measured with the
// stock's polymer cannot hold more than the stock does as a column; see Warnings.
func (f *Feeder) At(v float64) Capability {
	c := f.at(v)
	if f.Factor > 0 {
		c.Force *= f.Factor
		c.SD *= f.Factor
	}
	return c
}

func (f *Feeder) at(v float64) Capability { return f.column.cut(f.free(v)) }

// free is what the feeder holds at a speed (m/s) before Factor, where nothing folds that the points do not know of.
func (f *Feeder) free(v float64) Capability {
	if f.Model == nil {
		return f.measured(v)
	}
	m := f.Model.At(v)
	if len(f.Points) == 0 {
		return m
	}
	c := f.measured(v)
	if !c.Extrapolated {
		return c
	}
	// Carry the nearest measured point along the shape of the model; the band
	// widens with the distance in speed, a tenth of the force for each doubling (assumed).
	end := f.Points[0]
	if v > end.Speed {
		end = f.Points[len(f.Points)-1]
	}
	base := f.Model.At(end.Speed).Force
	if base > 0 {
		c.Force = end.Force * m.Force / base
		c.Cause = m.Cause
		wide := 0.1 * math.Abs(math.Log2(v/end.Speed)) * c.Force
		c.SD = math.Hypot(end.SD, wide)
	}
	return c
}
