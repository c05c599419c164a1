// Package calibrate fits the few factors that a user cannot know to steady push
// forces: viscosity level, wall conductance, Trouton ratio, load-cell offset and
// path drag, within bounds and with confidence intervals. Where the data cannot
// tell a factor it is refused, with the reason and the test that would tell most.
package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/materials/unit"
)

// Factor names what can be fitted.
type Factor string

// The factors.
const (
	Level       Factor = "viscosity level"  // multiplies the zero-shear viscosity
	Conductance Factor = "wall conductance" // W/(m2 K), of every section whose conductance is finite or not set apart
	Trouton     Factor = "Trouton ratio"
	Offset      Factor = "load-cell offset" // N, added to the force
	Drag        Factor = "path drag"        // N
)

// Factors lists them all.
var Factors = []Factor{Level, Conductance, Trouton, Offset, Drag}

// bounds of a factor, and whether it is fitted in its logarithm.
func (f Factor) bounds() (lo, hi float64, log bool) {
	switch f {
	case Level:
		return 0.05, 20, true
	case Conductance:
		return 100, 5e4, true
	case Trouton:
		return 1, 100, true
	case Offset:
		return -20, 20, false
	}
	return 0, 50, false
}

// Unit returns the unit of a factor.
func (f Factor) Unit() string {
	return map[Factor]string{Conductance: "W/m2K", Offset: "N", Drag: "N"}[f]
}

// Point is a steady push: block temperature (K), flow (m3/s), force at the feeder (N) and its
// standard uncertainty (N; 0 takes 3 per cent of the force plus 0.3 N, assumed).
type Point struct{ Block, Flow, Force, U float64 }

func (p Point) u() float64 {
	if p.U > 0 {
		return p.U
	}
	return 0.03*p.Force + 0.3
}

// Trace is a logged push in time from a soaked start: seconds, block temperature (K), flow (m3/s) and force at the
// feeder (N, tare taken off), and the standard uncertainty of the forces (N; 0 takes 2 per cent of the largest, assumed). At most
// TraceSamples of it are used.
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
	for i := 0; i < n; i += max(1, step) {
		out.Time, out.Block, out.Flow, out.Force = append(out.Time, t.Time[i]), append(out.Block, t.Block[i]), append(out.Flow, t.Flow[i]), append(out.Force, t.Force[i])
	}
	if out.U == 0 {
		for _, f := range out.Force {
			out.U = math.Max(out.U, 0.02*f)
		}
	}
	return out
}

// Value is a fitted factor.
type Value struct {
	Factor    Factor
	Value     float64
	Low, High float64 // confidence interval
	Start     float64
	Known     bool   // the data tell it
	Why       string // if not
}

// Result is a calibration.
type Result struct {
	Values     []Value
	Points     []Point
	Predicted  []float64 // N, at the points, calibrated
	Before     []float64 // N, at the points, as the case came
	Mean, RMS  float64   // mean |relative| error and N rms at the points
	Traces     []Fitted  // the samples of the traces that were fitted
	TraceRMS   float64   // N, at those samples
	ChiSquared float64   // per degree of freedom
	Next       *Next     // the most informative further test, if a factor is not known
	Case       *flow.Case
	Solves     int
	RanOut     bool // the search ran out of evaluations before it settled
}

// Fitted is a trace as used, with the forces computed for it (N); the first sample is the soaked start and is not compared.
type Fitted struct {
	Trace
	Before, Predicted []float64
}

// Next is a proposed test.
type Next struct {
	Block, Flow float64
	Tells       Factor
	Shrinks     float64 // standard uncertainty of that factor after over before
}

// Settings of a fit.
type Settings struct {
	Factors    []Factor // what to fit
	Confidence float64  // 0.95 if 0
	Blocks     [2]float64
	Flows      [2]float64 // where a next test could be, for the proposal; zero leaves it out
	Traces     []Trace    // pushes in time, fitted beside the steady ones
}

type problem struct {
	c      *flow.Case
	base   *march.Solver
	points []Point
	traces []Trace
	f      []Factor
	solves int
	ranOut bool // of the search that ended lowest
	played []float64
	d      flow.Solution
}

// Apply returns the case with the factors set; offset is what the load cell adds.
func Apply(c *flow.Case, f []Factor, v []float64) (cs flow.Case, offset float64) {
	cs = *c
	mat := *c.Material
	cs.HotEnd.Sections = append([]flow.Section(nil), c.HotEnd.Sections...)
	for i, x := range f {
		switch x {
		case Level:
			cs.ViscosityFactor = v[i]
		case Conductance:
			for k := range cs.HotEnd.Sections {
				cs.HotEnd.Sections[k].H = v[i]
			}
		case Trouton:
			mat.Viscosity.Trouton = v[i]
		case Offset:
			offset = v[i]
		case Drag:
			cs.Path.Drag = v[i]
		}
	}
	cs.Material = &mat
	return cs, offset
}

// force predicts the points' forces.
func (p *problem) force(v []float64, at []Point, out []float64) {
	cs, off := Apply(p.c, p.f, v)
	s := p.base.For(&cs)
	for i, x := range at {
		p.solves++
		if s.Solve(x.Block, x.Flow, &p.d) != nil {
			out[i] = math.Inf(1)
			continue
		}
		out[i] = p.d.Push + off
	}
}

// residuals appends (predicted - measured)/u of points and traces.
func (p *problem) residuals(v []float64, out []float64) []float64 {
	got := make([]float64, len(p.points))
	p.force(v, p.points, got)
	for i, x := range p.points {
		out = append(out, (got[i]-x.Force)/x.u())
	}
	for k, t := range p.traces {
		for i, f := range p.play(v, k) {
			if t.Flow[i] > 0 && i > 0 { // standing melt says nothing of the load
				out = append(out, (f-t.Force[i])/t.U)
			}
		}
	}
	return out
}

// play computes the force (N) at every sample of a trace; the slice is overwritten by the next call.
func (p *problem) play(v []float64, k int) []float64 {
	t := p.traces[k]
	cs, off := Apply(p.c, p.f, v)
	s := p.base.For(&cs)
	s.Soak(t.Block[0])
	p.played = append(p.played[:0], 0)
	for i := 1; i < len(t.Time); i++ {
		p.solves++
		f := math.Inf(1)
		if s.Advance(t.Block[i], math.Max(t.Flow[i], 1e-12), t.Time[i]-t.Time[i-1], &p.d) == nil {
			f = p.d.Push + off
		}
		p.played = append(p.played, f)
	}
	return p.played
}

// real turns the optimiser's unbounded variables into factors within their bounds.
func (p *problem) real(z []float64) []float64 {
	v := make([]float64, len(z))
	for i, x := range z {
		lo, hi, log := p.f[i].bounds()
		s := 1 / (1 + math.Exp(-x))
		if log {
			v[i] = lo * math.Exp(s*math.Log(hi/lo))
		} else {
			v[i] = lo + s*(hi-lo)
		}
	}
	return v
}

func (p *problem) unreal(v []float64) []float64 {
	z := make([]float64, len(v))
	for i, x := range v {
		lo, hi, log := p.f[i].bounds()
		s := (x - lo) / (hi - lo)
		if log {
			s = math.Log(x/lo) / math.Log(hi/lo)
		}
		s = math.Min(0.98, math.Max(0.02, s))
		z[i] = math.Log(s / (1 - s))
	}
	return z
}

// start is the factor's value in the case.
func start(c *flow.Case, f Factor) float64 {
	switch f {
	case Level:
		if c.ViscosityFactor > 0 {
			return c.ViscosityFactor
		}
		return 1
	case Conductance:
		if h := c.HotEnd.Sections[0].H; !math.IsInf(h, 1) {
			return h
		}
		return 1e4
	case Trouton:
		return c.Material.Viscosity.Trouton
	case Drag:
		return c.Path.Drag
	}
	return 0
}

// Fit fits the factors to the points by weighted least squares (Nelder and Mead's simplex in bounded variables,
// several starts; gonum/optimize) and refuses those that the points cannot tell.
func Fit(ctx context.Context, c *flow.Case, points []Point, s Settings) (*Result, error) {
	if len(s.Factors) == 0 {
		return nil, fmt.Errorf("calibrate: no factor to fit")
	}
	measured := len(points)
	for i, t := range s.Traces {
		n := len(t.Time)
		if n < 10 || len(t.Block) != n || len(t.Flow) != n || len(t.Force) != n {
			return nil, fmt.Errorf("calibrate: trace %d: at least 10 samples of time, block, flow and force are needed", i+1)
		}
		if err := flow.CheckInput(t.Block[0], math.Max(slices.Max(t.Flow), 1e-12)); err != nil {
			return nil, fmt.Errorf("calibrate: trace %d: %w", i+1, err)
		}
		measured += min(n, TraceSamples)
	}
	if measured < len(s.Factors) {
		return nil, fmt.Errorf("calibrate: %d points cannot tell %d factors; add tests at other flows and temperatures, or fit fewer", measured, len(s.Factors))
	}
	seen := map[Factor]bool{}
	for _, f := range s.Factors {
		if seen[f] {
			return nil, fmt.Errorf("calibrate: %s is named twice", f)
		}
		seen[f] = true
	}
	if seen[Offset] && seen[Drag] {
		return nil, fmt.Errorf("calibrate: load-cell offset and path drag are both a constant force; fit one of them")
	}
	for i, p := range points {
		if err := flow.CheckInput(p.Block, p.Flow); err != nil {
			return nil, fmt.Errorf("calibrate: point %d: %w", i+1, err)
		}
		if !(p.Force > 0) || math.IsInf(p.Force, 0) {
			return nil, fmt.Errorf("calibrate: point %d: a force of %g N; more than 0 is needed", i+1, p.Force)
		}
	}
	if s.Confidence == 0 {
		s.Confidence = 0.95
	}
	p := &problem{c: c, base: march.New(c, march.Options{}), points: points, f: s.Factors}
	for _, t := range s.Traces {
		p.traces = append(p.traces, t.thin())
	}
	first := make([]float64, len(s.Factors))
	for i, f := range s.Factors {
		first[i] = start(c, f)
	}
	best, bestZ, err := p.search(ctx, p.unreal(first))
	if err != nil {
		return nil, err
	}
	out := &Result{Points: points, Predicted: make([]float64, len(points)), Before: make([]float64, len(points))}
	v := p.real(bestZ)
	p.force(v, points, out.Predicted)
	p.force(first, points, out.Before)
	for i, x := range points {
		out.Mean += math.Abs(out.Predicted[i]/x.Force-1) / float64(len(points))
		out.RMS += (out.Predicted[i] - x.Force) * (out.Predicted[i] - x.Force) / float64(len(points))
	}
	out.RMS = math.Sqrt(out.RMS)
	n := 0
	for k, t := range p.traces {
		ft := Fitted{Trace: t, Before: slices.Clone(p.play(first, k)), Predicted: slices.Clone(p.play(v, k))}
		out.Traces = append(out.Traces, ft)
		for i, q := range t.Flow {
			if q > 0 && i > 0 {
				out.TraceRMS += (ft.Predicted[i] - t.Force[i]) * (ft.Predicted[i] - t.Force[i])
				n++
			}
		}
	}
	out.TraceRMS = math.Sqrt(out.TraceRMS / float64(max(1, n)))
	dof := max(1, len(p.residuals(v, nil))-len(v))
	out.ChiSquared = best / float64(dof)
	cs, _ := Apply(c, s.Factors, v)
	out.Case = &cs
	p.intervals(out, v, first, s, dof)
	out.Solves, out.RanOut = p.solves, p.ranOut
	return out, nil
}

// starts is how many corners of the space a fit is started from, evaluations how often for each factor the model is tried from one.
const (
	starts      = 4
	evaluations = 400
)

// search minimises the sum of squares from several starts, side by side, and returns the least.
func (p *problem) search(ctx context.Context, first []float64) (best float64, at []float64, err error) {
	type end struct {
		r   *optimize.Result
		err error
	}
	ends := make([]end, starts)
	solves := make([]int, starts)
	var wg sync.WaitGroup
	for try := range starts {
		q := *p
		q.base, q.played, q.d = p.base.Clone().(*march.Solver), nil, flow.Solution{}
		wg.Go(func() {
			z := slices.Clone(first)
			for i := range z {
				if try > 0 {
					z[i] += 1.5 * float64((try>>(i%2))&1*2-1)
				}
			}
			var res []float64
			cost := func(z []float64) float64 {
				if ctx.Err() != nil {
					return math.Inf(1)
				}
				res = q.residuals(q.real(z), res[:0])
				return floats.Dot(res, res)
			}
			ends[try].r, ends[try].err = optimize.Minimize(optimize.Problem{Func: cost}, z,
				&optimize.Settings{FuncEvaluations: evaluations * len(z), Converger: &optimize.FunctionConverge{Absolute: 1e-5, Relative: 1e-5, Iterations: 20}}, &optimize.NelderMead{SimplexSize: 0.6})
			solves[try] = q.solves - p.solves
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return 0, nil, err
	}
	best = math.Inf(1)
	for try, e := range ends {
		p.solves += solves[try]
		if e.r == nil {
			return 0, nil, fmt.Errorf("calibrate: %w", e.err)
		}
		if e.r.F < best {
			best, at = e.r.F, e.r.X
			p.ranOut = e.r.Status == optimize.FunctionEvaluationLimit
		}
	}
	if at == nil {
		return 0, nil, fmt.Errorf("calibrate: no factors within their bounds let the model be solved at every measurement")
	}
	return best, at, nil
}

// sensitivity returns the derivatives of all residuals by the factors (their logarithms where fitted so).
func (p *problem) sensitivity(v []float64) *mat.Dense {
	return p.derivatives(v, func(w []float64) []float64 { return p.residuals(w, nil) })
}

// jacobian returns the derivatives of the forces at points, over their uncertainties, by the factors in the same way.
func (p *problem) jacobian(v []float64, at []Point) *mat.Dense {
	return p.derivatives(v, func(w []float64) []float64 {
		out := make([]float64, len(at))
		p.force(w, at, out)
		for i, x := range at {
			out[i] /= x.u()
		}
		return out
	})
}

// derivatives takes central differences of f by the factors: over 3 per cent of those fitted by their logarithm, over 0.1 N of forces.
func (p *problem) derivatives(v []float64, f func([]float64) []float64) *mat.Dense {
	var j *mat.Dense
	for k, x := range p.f {
		_, _, log := x.bounds()
		h := 0.1
		if log {
			h = 0.03
		}
		at := func(d float64) []float64 {
			w := slices.Clone(v)
			if log {
				w[k] *= math.Exp(d)
			} else {
				w[k] += d
			}
			return f(w)
		}
		a, b := at(h), at(-h)
		if j == nil {
			j = mat.NewDense(len(a), len(v), nil)
		}
		for i := range a {
			j.Set(i, k, (a[i]-b[i])/(2*h))
		}
	}
	return j
}

// identified is the largest standard uncertainty of a factor that counts as known: half a natural logarithm for
// factors, a tenth of the range for forces (assumed).
func (f Factor) identified() float64 {
	lo, hi, log := f.bounds()
	if log {
		return 0.5
	}
	return (hi - lo) / 10
}

func (p *problem) intervals(out *Result, v, first []float64, s Settings, dof int) {
	j := p.sensitivity(v)
	scale := math.Max(1, out.ChiSquared) // the stated uncertainties are not made smaller by a lucky fit
	u := spreads(j)
	t := distuv.StudentsT{Sigma: 1, Nu: float64(dof)}.Quantile(0.5 + s.Confidence/2)
	unknown := -1
	for i, f := range p.f {
		lo, hi, log := f.bounds()
		sd := u[i] * math.Sqrt(scale)
		x := Value{Factor: f, Value: v[i], Start: first[i], Known: true}
		if log {
			x.Low, x.High = math.Max(lo, v[i]*math.Exp(-t*sd)), math.Min(hi, v[i]*math.Exp(t*sd))
		} else {
			x.Low, x.High = math.Max(lo, v[i]-t*sd), math.Min(hi, v[i]+t*sd)
		}
		near := func(a, b float64) bool {
			if log {
				return math.Abs(math.Log(a/b)) < 0.05
			}
			return math.Abs(a-b) < 0.02*(hi-lo)
		}
		switch {
		case !(sd < f.identified()):
			x.Known = false
			x.Why = "the forces hardly change with it, or another factor changes them alike"
		case near(v[i], lo) || near(v[i], hi):
			x.Known = false
			x.Why = fmt.Sprintf("it runs to its bound of %.3g", v[i])
		}
		if !x.Known && (unknown < 0 || sd/f.identified() > u[unknown]*math.Sqrt(scale)/p.f[unknown].identified()) {
			unknown = i
		}
		out.Values = append(out.Values, x)
	}
	if unknown >= 0 && s.Flows[1] > s.Flows[0] && s.Blocks[1] > s.Blocks[0] {
		out.Next = p.next(v, j, unknown, u[unknown], s)
	}
}

// spreads returns the standard uncertainties from (J^T J)^-1, +Inf where it is singular.
func spreads(j *mat.Dense) []float64 {
	_, n := j.Dims()
	var jtj, inv mat.Dense
	jtj.Mul(j.T(), j)
	u := make([]float64, n)
	err := inv.Inverse(&jtj)
	for i := range u {
		u[i] = math.Inf(1)
		if c, ok := err.(mat.Condition); err == nil || ok && float64(c) < 1e14 {
			if q := inv.At(i, i); q > 0 {
				u[i] = math.Sqrt(q)
			}
		}
	}
	return u
}

// next looks over a grid of tests for the one after which the factor would be known best.
func (p *problem) next(v []float64, j *mat.Dense, k int, before float64, s Settings) *Next {
	rows, cols := j.Dims()
	type cand struct {
		p Point
		u float64
	}
	var grid []Point
	for a := range 5 {
		for b := range 5 {
			T := s.Blocks[0] + (s.Blocks[1]-s.Blocks[0])*float64(a)/4
			q := s.Flows[0] * math.Pow(s.Flows[1]/s.Flows[0], float64(b)/4)
			grid = append(grid, Point{Block: T, Flow: q})
		}
	}
	force := make([]float64, len(grid))
	p.force(v, grid, force)
	for i := range grid {
		grid[i].Force = math.Max(0.1, force[i])
	}
	g := p.jacobian(v, grid)
	var cands []cand
	for i, x := range grid {
		more := mat.NewDense(rows+1, cols, nil)
		more.Slice(0, rows, 0, cols).(*mat.Dense).Copy(j)
		more.SetRow(rows, g.RawRowView(i))
		cands = append(cands, cand{x, spreads(more)[k]})
	}
	sort.SliceStable(cands, func(a, b int) bool { return cands[a].u < cands[b].u })
	b := cands[0]
	if math.IsInf(b.u, 1) {
		return nil
	}
	shrink := b.u / before
	if math.IsInf(before, 1) {
		shrink = 0
	}
	return &Next{b.p.Block, b.p.Flow, p.f[k], shrink}
}

// Describe returns the proposal in words.
func (n *Next) Describe() string {
	s := fmt.Sprintf("the test that would tell the %s best: %.0f degC at %.3g mm3/s", n.Tells, unit.Celsius(n.Block), n.Flow/unit.MM3)
	if n.Shrinks > 0 {
		s += fmt.Sprintf(", which would cut its uncertainty to %.0f %%", 100*n.Shrinks)
	}
	return s
}
