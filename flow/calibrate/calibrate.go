// Package calibrate fits what a user cannot know to measured push forces: viscosity factor, heated share of the barrel,
// entrance loss, eccentricity of the rod, path drag, or a load cell's offset. It picks what the measurements can tell
// apart, gives each a value with a 95 % interval, leaves the others at what was known before with the reason, and
// proposes the tests that would tell most.
//
// The fit is a weighted least-squares one in which what is known beforehand takes part: each factor's band (package
// vary) counts as one measurement, whose standard uncertainty is half of the band's width. So the fit settles also
// where the forces hardly tell a factor, and a factor moves away from its band only as far as the forces ask for it.
package calibrate

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow"
	"meltload/flow/setup"
	"meltload/flow/vary"
)

// Factor names what can be fitted: quantities of package vary, and Offset.
type Factor = vary.ID

// Offset is what a load cell adds to the force, N. It is a matter of the measurement, not of the case.
const Offset Factor = "offset"

// Candidates are the factors that are looked at where none are named.
var Candidates = []Factor{vary.Viscosity, vary.Heated, vary.Entrance, vary.Eccentricity, vary.Drag}

// Factors lists all that can be fitted.
var Factors = []Factor{vary.Viscosity, vary.Heated, vary.Entrance, vary.Eccentricity, vary.Drag, vary.Contact, vary.Tip,
	vary.Block, Offset}

// Point is a steady push: block temperature (K), flow (m3/s), force at the feeder (N) and its standard uncertainty (N;
// 0 takes 3 per cent of the force plus 0.3 N, assumed).
type Point struct {
	Block, Flow, Force, U float64
	Land                  float64 // m, land length of the nozzle of this push; 0 for the case's
	NoNozzle              bool    // pushed with the hot end off: the drag of the path alone
}

func (p Point) u() float64 {
	if p.U > 0 {
		return p.U
	}
	return 0.03*p.Force + 0.3
}

// Trace is a logged push in time from a soaked start: seconds, block temperature (K), flow (m3/s) and force at the
// feeder (N, tare taken off), and the standard uncertainty of the forces (N; 0 takes 2 per cent of the largest,
// assumed). At most TraceSamples of it are used.
type Trace struct {
	Time, Block, Flow, Force []float64
	U                        float64
}

// TraceSamples bounds the samples of a trace that are fitted: each costs a time step a trial.
const TraceSamples = 120

// thin picks at most TraceSamples samples, evenly.
func (t Trace) thin() Trace {
	n := len(t.Time)
	step := (n + TraceSamples - 1) / TraceSamples
	out := Trace{U: t.U}
	for i := 0; i < n; i += step {
		out.Time, out.Block, out.Flow, out.Force = append(out.Time, t.Time[i]), append(out.Block, t.Block[i]),
			append(out.Flow, t.Flow[i]), append(out.Force, t.Force[i])
	}
	if out.U == 0 {
		for _, f := range out.Force {
			out.U = math.Max(out.U, 0.02*f)
		}
	}
	return out
}

// Value is a factor after the fit, SI.
type Value struct {
	Factor    Factor
	Label     string
	Unit      string // of the case file
	Start     float64
	Value     float64    // fitted, or Start where it is not known
	Low, High float64    // 95 % interval, or the band known before
	Tells     float64    // standard uncertainty before over after: how much the measurements tell
	Known     bool       // the measurements tell it
	Why       string     // if not
	Far       float64    // from Start, in halves of the band known before, on the scale of the factor
	Band      [2]float64 // known before
	toEdge    func(x float64) float64
}

// Edge turns a number of the value into the unit of the case file.
func (v *Value) Edge(x float64) float64 { return v.toEdge(x) }

// Result is a calibration.
type Result struct {
	Values     []Value
	Points     []Point
	Predicted  []float64 // N, at the points, calibrated
	Before     []float64 // N, at the points, as the case came
	Mean, RMS  float64   // mean |relative| error and N rms at the points
	Traces     []Fitted  // the samples of the traces that were fitted
	TraceRMS   float64   // N, at those samples
	ChiSquared float64   // per measurement, what was known beforehand counted in
	// Next is the steady push that would tell most, then the tests that separate entrance loss and drag.
	Next   []Test
	Alike  []setup.Correlation // pairs of factors that trade off, by label
	Setup  *setup.Setup
	Offset float64 // N, of the load cell
	Solves int
	RanOut bool // the search ran out of passes before it settled
}

// Fitted is a trace as used, with the forces computed for it (N); the first sample is the soaked start and is not
// compared.
type Fitted struct {
	Trace
	Before, Predicted []float64
}

// Settings of a fit.
type Settings struct {
	Factors []Factor // what to fit, of those the measurements tell; nil for Candidates
	Traces  []Trace  // pushes in time, fitted beside the steady ones
}

// Fit calibrates a set-up by steady pushes and pushes in time. It changes nothing of s: Result.Setup is the calibrated
// copy. Errors: no measurements, impossible ones, a factor named twice or that the set-up does not have, a cancelled
// context.
func Fit(ctx context.Context, s *setup.Setup, points []Point, set Settings) (*Result, error) {
	fs, err := factors(s, set.Factors)
	if err != nil {
		return nil, err
	}
	p := newProblem(s, points, fs)
	if err := p.check(set.Traces); err != nil {
		return nil, err
	}
	all := make([]bool, len(fs))
	for i := range all {
		all[i] = true
	}
	// What can be told apart is looked at where a fit of all of them ends, and again where a fit of those ends.
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	z, err := p.search(ctx, all, nil)
	if err != nil {
		return nil, err
	}
	var told []bool
	for range 2 {
		told = p.told(z)
		if z, err = p.search(ctx, told, z); err != nil {
			return nil, err
		}
	}
	for {
		i, why := p.unfit(z, told)
		if i < 0 {
			return p.result(z, told), nil
		}
		fs[i].why, told[i] = why, false
		if z, err = p.search(ctx, told, z); err != nil {
			return nil, err
		}
	}
}

// leastGain is by how much the measurements must bring down what is not known about a factor, as well as the fit goes.
const leastGain = 0.8

// unfit returns a factor that goes back to what was known: one that ran to a bound stands for something else; where the
// fit is poor, the scatter may leave one less known than before. -1 for none.
func (p *problem) unfit(z []float64, told []bool) (int, string) {
	res := p.residuals(z)
	scale := math.Sqrt(math.Max(1, (floats.Dot(res, res)+floats.Dot(z, z))/float64(len(res))))
	u := spreads(p.jacobian(z), told)
	worst := -1
	for i := range p.f {
		f := &p.f[i]
		switch {
		case !told[i]:
		case f.atBound(f.value(z[i])):
			return i, fmt.Sprintf("it runs to its bound of %.3g: something else is wrong", f.edge(f.value(z[i])))
		case u[i]*scale > leastGain && (worst < 0 || u[i] > u[worst]):
			worst = i
		}
	}
	return worst, "the forces scatter about the fit too much to tell it"
}

// result gathers what a fit found at z with the factors that were told.
func (p *problem) result(z []float64, told []bool) *Result {
	points := p.points
	out := &Result{Points: points, Predicted: make([]float64, len(points)), Before: make([]float64, len(points)),
		RanOut: p.ranOut}
	start := make([]float64, len(p.f))
	before, after := p.forces(&p.full, start), p.forces(&p.full, z)
	copy(out.Before, before)
	copy(out.Predicted, after)
	for i, x := range points {
		out.Mean += math.Abs(out.Predicted[i]/x.Force-1) / float64(len(points))
		out.RMS += (out.Predicted[i] - x.Force) * (out.Predicted[i] - x.Force) / float64(len(points))
	}
	out.RMS = math.Sqrt(out.RMS)
	n, at := 0, len(points)
	for _, t := range p.traces {
		to := at + len(t.Time)
		ft := Fitted{Trace: t, Before: slices.Clone(before[at:to]), Predicted: slices.Clone(after[at:to])}
		at = to
		out.Traces = append(out.Traces, ft)
		for i, q := range t.Flow {
			if q > 0 && i > 0 {
				out.TraceRMS += (ft.Predicted[i] - t.Force[i]) * (ft.Predicted[i] - t.Force[i])
				n++
			}
		}
	}
	out.TraceRMS = math.Sqrt(out.TraceRMS / float64(max(1, n)))
	p.values(out, z, told)
	out.Next = p.next(z)
	out.Solves = p.solves
	return out
}

// knownHalf is half of the band known beforehand, on the scale of z.
const knownHalf = 1.0

// leftOver is the covariance that the measurements leave, by the uncertainties before. What is not told still widens
// the interval of what is: the forces could be owed to it.
func (p *problem) leftOver(z []float64) *mat.SymDense {
	all := make([]bool, len(p.f))
	for i := range all {
		all[i] = true
	}
	return covariance(p.jacobian(z), all)
}

// leastCorrelation is the smallest coefficient that is worth keeping: it changes a range by less than a hundredth.
const leastCorrelation = 0.05

// together lists what the covariance says goes together, of the factors that are quantities of a case: a sum that the
// forces tell well, of parts that they tell badly, is known well. Small coefficients are left out where the others can
// still hold at once without them.
func (p *problem) together(c *mat.SymDense) []setup.Correlation {
	out := p.correlations(c, leastCorrelation)
	if !holdAtOnce(out) {
		out = p.correlations(c, 0)
	}
	return out
}

// correlations lists the coefficients of at least this size.
func (p *problem) correlations(c *mat.SymDense, least float64) []setup.Correlation {
	var out []setup.Correlation
	for i := range p.f {
		for k := range i {
			r := c.At(i, k) / math.Sqrt(c.At(i, i)*c.At(k, k))
			if a, b := &p.f[k], &p.f[i]; a.q != nil && b.q != nil && r != 0 && math.Abs(r) >= least {
				out = append(out, setup.Correlation{First: string(a.id), Second: string(b.id), Value: r})
			}
		}
	}
	return out
}

// holdAtOnce tells whether correlations make a matrix that is positive definite, with room for the rounding of a file.
func holdAtOnce(list []setup.Correlation) bool {
	var names []string
	for _, c := range list {
		for _, n := range []string{c.First, c.Second} {
			if !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	m := (&setup.Setup{Correlations: list}).CorrelationMatrix(names)
	if m == nil {
		return true
	}
	for i := range names {
		m.SetSym(i, i, 1-1e-6)
	}
	var ch mat.Cholesky
	return ch.Factorize(m)
}

// values fills the factors with their intervals, and the calibrated set-up with the doubts that are left.
func (p *problem) values(out *Result, z []float64, told []bool) {
	res := p.residuals(z)
	out.ChiSquared = (floats.Dot(res, res) + floats.Dot(z, z)) / float64(len(res))
	scale := math.Sqrt(math.Max(1, out.ChiSquared)) // the stated uncertainties are not made smaller by a lucky fit
	left := p.leftOver(z)
	t := distuv.StudentsT{Sigma: 1, Nu: float64(len(res))}.Quantile(0.975)
	cs, off := p.apply(z)
	cs.Doubts = maps.Clone(p.s.Doubts)
	if cs.Doubts == nil {
		cs.Doubts = map[string]setup.Doubt{}
	}
	cs.Correlations = p.together(left)
	out.Alike = p.trades(cs.Correlations, told)
	out.Setup, out.Offset = cs, off
	for i := range p.f {
		f := &p.f[i]
		x := Value{Factor: f.id, Label: f.label, Unit: f.unit, Start: f.value(0), Value: f.value(z[i]), Tells: 1,
			Known: told[i], Far: z[i], Band: f.band, toEdge: f.edge}
		if !told[i] {
			x.Low, x.High = f.band[0], f.band[1]
			if x.Why = f.why; x.Why == "" {
				x.Why = "the forces hardly change with it, or another factor changes them alike: it keeps what was " +
					"known before"
			}
			out.Values = append(out.Values, x)
			continue
		}
		u := math.Sqrt(left.At(i, i)) * scale
		x.Tells = 1 / u
		half := math.Min(t*u, knownHalf) // never wider than what was known before
		x.Low, x.High = f.value(z[i]-half), f.value(z[i]+half)
		if f.q != nil {
			cs.Doubts[string(f.id)] = f.doubt(x.Value, x.Low, x.High)
		}
		out.Values = append(out.Values, x)
	}
}

// Edits are the keys of the case file that carry the calibration: values of the factors that are known, and their bands
// under [spread].
func (r *Result) Edits() []vary.Edit {
	var out []vary.Edit
	for _, v := range r.Values {
		if !v.Known || v.Factor == Offset {
			continue
		}
		q := vary.Must(r.Setup, v.Factor)
		out = append(out, q.Edits(r.Setup)...)
	}
	return append(out, vary.CalibratedEdits(r.Setup)...)
}

// spreads returns the standard uncertainties of the factors fitted, of one before: from (J^T J + 1)^-1; 1 for those
// that are not.
func spreads(j *mat.Dense, fitted []bool) []float64 {
	c := covariance(j, fitted)
	u := make([]float64, len(fitted))
	for i := range u {
		u[i] = math.Sqrt(c.At(i, i))
	}
	return u
}

// covariance of the factors, by their uncertainty before: (J^T J + 1)^-1 over those fitted, 1 for the others.
func covariance(j *mat.Dense, fitted []bool) *mat.SymDense {
	n := len(fitted)
	a := mat.NewSymDense(n, nil)
	rows, _ := j.Dims()
	for i := range n {
		for k := i; k < n; k++ {
			s := 0.0
			if fitted[i] && fitted[k] {
				for r := range rows {
					s += j.At(r, i) * j.At(r, k)
				}
			}
			if i == k {
				s++
			}
			a.SetSym(i, k, s)
		}
	}
	var ch mat.Cholesky
	var inv mat.SymDense
	if ch.Factorize(a) { // positive definite: the unit matrix is part of it
		_ = ch.InverseTo(&inv)
	}
	return &inv
}

// checkPoint says what is wrong with a steady push.
func (p Point) check() error {
	if !(p.Force > 0) || math.IsInf(p.Force, 0) {
		return fmt.Errorf("a force of %g N; more than 0 is needed", p.Force)
	}
	if p.NoNozzle {
		return nil
	}
	if !(p.Land >= 0 && p.Land < 0.5) {
		return fmt.Errorf("a land of %g m; 0 to 0.5 m is possible", p.Land)
	}
	return flow.CheckInput(p.Block, p.Flow)
}
