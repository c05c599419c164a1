package calibrate

import (
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/num"
)

// factor is one factor on the scale on which it is fitted: its number z is 0 at the value it starts from, and half of
// the band known beforehand is 1.
type factor struct {
	id          Factor
	label, unit string
	scale       vary.Scale
	lo, hi      float64 // bounds, SI
	mid, half   float64 // on the scale: value at the start, half of the band
	band        [2]float64
	q           *vary.Quantity // nil for Offset
	why         string         // it is not told, other than that the forces do not tell it
}

// The bands of factors whose own is no help to a fit.
const (
	offsetBand = 5.0  // N either way, of a load cell's offset
	leastHalf  = 0.05 // of a band on its scale that is given as known, as a share of the value
)

// factors looks up what is to be fitted.
func factors(s *setup.Setup, ids []Factor) ([]factor, error) {
	named := len(ids) > 0
	if !named {
		ids = Candidates
	}
	var out []factor
	seen := map[Factor]bool{}
	for _, id := range ids {
		if seen[id] {
			return nil, fmt.Errorf("calibrate: %s is named twice", id)
		}
		seen[id] = true
		if id == Offset {
			out = append(out, factor{id: Offset, label: "load-cell offset", unit: "N", lo: -20, hi: 20,
				half: offsetBand, band: [2]float64{-offsetBand, offsetBand}})
			continue
		}
		q, ok := vary.Find(s, string(id))
		if !ok || !slices.Contains(Factors, id) {
			if named {
				return nil, fmt.Errorf("calibrate: no factor %q of this case; there are %v", id, Factors)
			}
			continue
		}
		x := q.Get(s)
		b := q.Band(s)
		f := factor{id: id, label: q.Label, unit: q.Unit, scale: q.Scale, lo: q.Low, hi: q.High, q: &q,
			mid: q.Scale.To(x)}
		f.band = [2]float64{q.Clip(b.At(0.025)), q.Clip(b.At(0.975))}
		f.half = (f.scale.To(f.band[1]) - f.scale.To(f.band[0])) / 2
		if math.IsInf(x, 1) { // perfect contact: from the default's resistance up
			f.half = 1 / flow.DefaultWettedH
		}
		if !(f.half > 0) {
			f.half = leastHalf * math.Max(1, math.Abs(f.mid))
		}
		out = append(out, f)
	}
	if seen[Offset] && seen[vary.Drag] {
		return nil, fmt.Errorf("calibrate: load-cell offset and path drag are both a constant force; fit one of them")
	}
	return out, nil
}

// value of the factor at z, within its bounds.
func (f *factor) value(z float64) float64 {
	x := f.scale.From(f.mid + f.half*z)
	return math.Min(f.hi, math.Max(f.lo, x))
}

// clip brings z within the bounds.
func (f *factor) clip(z float64) float64 {
	lo, hi := f.scale.To(f.lo), f.scale.To(f.hi)
	return (math.Min(hi, math.Max(lo, f.mid+f.half*z)) - f.mid) / f.half
}

// atBound tells whether a value has run to a bound that it did not start from.
func (f *factor) atBound(x float64) bool {
	for _, b := range []float64{f.lo, f.hi} {
		y, at, from := f.scale.To(x), f.scale.To(b), f.mid
		if math.Abs(y-at) < 1e-3*f.half && math.Abs(from-at) > 0.01*f.half && f.wall(b) {
			return true
		}
	}
	return false
}

// wall tells whether a bound is one of computing, not of nature: no drag, a rod in the middle, all of the barrel heated
// and perfect contact can be.
func (f *factor) wall(b float64) bool {
	return !(b == 0 || f.id == vary.Heated && b == 1 || math.IsInf(b, 1))
}

func (f *factor) edge(x float64) float64 {
	if f.q == nil {
		return x
	}
	return f.q.Edge(x)
}

// doubt is what is left of a band after the fit.
func (f *factor) doubt(x, lo, hi float64) setup.Doubt {
	if f.id == vary.Viscosity { // one number, by its key
		return setup.Doubt{Kind: setup.Factor, High: math.Sqrt(hi / lo), Calibrated: true}
	}
	if f.id == vary.Block {
		return setup.Doubt{Kind: setup.PlusMinus, High: (hi - lo) / 2, Calibrated: true}
	}
	return setup.Doubt{Kind: setup.Interval, Low: math.Min(lo, x), High: math.Max(hi, x), Calibrated: true}
}

// problem is one fit.
type problem struct {
	s      *setup.Setup
	full   level // whose forces are fitted
	quick  level // whose derivatives are fitted with: the same without traces
	points []Point
	traces []Trace
	f      []factor
	// The forces at the places that the fit has been to, shared by the clones: it comes back to most of them, for the
	// sum of squares, the residuals, what the forces tell and the result.
	known  *num.Cache[string, []float64]
	solves int
	d      flow.Solution
	ranOut bool
}

// knownPlaces bounds the places whose forces are kept: more than a fit goes to.
const knownPlaces = 4096

// level is a resolution: a solver and of how many samples of a trace one time step is made.
type level struct {
	base  *march.Solver
	every int
}

// The quick level of a fit: the load within a few per cent in steady state, at a fifteenth of the time of a trace. What
// it is off by has no part in where a fit ends, see search.
const (
	quickCells = 8
	quickAxial = 1
	quickEvery = 6
)

func newProblem(s *setup.Setup, points []Point, f []factor) *problem {
	l := level{march.New(&s.Case, march.Options{}), 1}
	return &problem{s: s, points: points, f: f, full: l, quick: l,
		known: &num.Cache[string, []float64]{Limit: knownPlaces}}
}

// clone of a problem with a workspace of its own.
func (p *problem) clone() *problem {
	q := *p
	q.full.base = p.full.base.Clone().(*march.Solver)
	if q.quick.base = q.full.base; p.quick != p.full {
		q.quick.base = p.quick.base.Clone().(*march.Solver)
	}
	q.d, q.solves = flow.Solution{}, 0
	return &q
}

// check looks at the measurements.
func (p *problem) check(traces []Trace) error {
	for i, t := range traces {
		n := len(t.Time)
		if n < minTraceRows || len(t.Block) != n || len(t.Flow) != n || len(t.Force) != n {
			return fmt.Errorf("calibrate: trace %d: at least %d samples of time, block, flow and force are needed", i+1,
				minTraceRows)
		}
		t = t.thin()
		if !slices.ContainsFunc(t.Flow[1:], func(q float64) bool { return q > 0 }) {
			return fmt.Errorf("calibrate: trace %d: no flow after the first sample", i+1)
		}
		if err := flow.CheckInput(t.Block[0], slices.Max(t.Flow)); err != nil {
			return fmt.Errorf("calibrate: trace %d: %w", i+1, err)
		}
		p.traces = append(p.traces, t)
	}
	if len(traces) > 0 {
		p.quick = level{p.full.base.WithResolution(quickCells, quickAxial), quickEvery}
	}
	if len(p.points)+len(traces) == 0 {
		return fmt.Errorf("calibrate: no measurements")
	}
	for i, x := range p.points {
		if err := x.check(); err != nil {
			return fmt.Errorf("calibrate: point %d: %w", i+1, err)
		}
	}
	return nil
}

// apply returns the set-up with the factors at z, and what the load cell adds.
func (p *problem) apply(z []float64) (s *setup.Setup, offset float64) {
	s = p.s.Clone()
	for i := range p.f {
		f := &p.f[i]
		if f.q == nil {
			offset = f.value(z[i])
		} else if z[i] != 0 {
			f.q.SetClipped(s, f.value(z[i]))
		}
	}
	return s, offset
}

// force predicts the points' forces at a resolution.
func (p *problem) force(l *level, z []float64, at []Point, out []float64) {
	if len(at) == 0 {
		return
	}
	s, off := p.apply(z)
	solver := l.base.For(&s.Case)
	var land float64
	block := s.Block - p.s.Block // a sensor that is off is off in every test
	for i, x := range at {
		if x.NoNozzle {
			out[i] = s.Path.Force(0) + off
			continue
		}
		if x.Land != land {
			n := s
			if land = x.Land; land > 0 {
				if q, ok := vary.Find(s, string(vary.Land)); ok {
					n = s.Clone()
					q.SetClipped(n, land)
				}
			}
			solver = l.base.For(&n.Case)
		}
		p.solves++
		if solver.Solve(x.Block+block, x.Flow, &p.d) != nil {
			out[i] = math.Inf(1)
			continue
		}
		out[i] = p.d.Push + off
	}
}

// traceWeight is how many independent measurements a trace counts for at most: what the model misses along a trace, the
// time step among it, is alike from sample to sample (assumed).
const traceWeight = 12

// traceScatter (N) is by how much the forces of a march in time scatter as a factor or the time step changes (seen on
// the built-in case and on two public rigs: 0.01 to 0.05 N).
const traceScatter = 0.05

// predict computes the forces at a resolution: of the points, then of all samples of each trace.
func (p *problem) predict(l *level, z []float64) []float64 {
	out := make([]float64, len(p.points))
	p.force(l, z, p.points, out)
	for k := range p.traces {
		out = p.play(l, z, k, out)
	}
	return out
}

// predictFull computes the full forces, traces side by side.
func (p *problem) predictFull(z []float64) []float64 {
	parts := make([][]float64, len(p.traces)+1)
	parts[0] = make([]float64, len(p.points))
	solves := make([]int, len(parts))
	_ = num.Parallel(len(parts), func() func(int) error {
		q := p.clone()
		return func(i int) error {
			q.solves = 0
			if i == 0 {
				q.force(&q.full, z, p.points, parts[0])
			} else {
				parts[i] = q.play(&q.full, z, i-1, nil)
			}
			solves[i] = q.solves
			return nil
		}
	})
	for _, n := range solves {
		p.solves += n
	}
	return slices.Concat(parts...)
}

// residuals returns (predicted - measured)/u of points and traces, by the full forces.
func (p *problem) residuals(z []float64) []float64 { return p.misses(&p.full, z) }

// forces are those of the points, then of all samples of each trace, at a resolution, computed once for each place.
// They are not to be changed.
func (p *problem) forces(l *level, z []float64) []float64 {
	return p.known.Get(p.place(l, z), func() []float64 {
		if *l == p.full {
			return p.predictFull(z)
		}
		return p.predict(l, z)
	})
}

// place names a resolution and the factors at z.
func (p *problem) place(l *level, z []float64) string {
	key := []byte{'q'}
	if *l == p.full {
		key[0] = 'f'
	}
	for _, x := range z {
		key = binary.LittleEndian.AppendUint64(key, math.Float64bits(x))
	}
	return string(key)
}

// misses are the residuals at a resolution.
func (p *problem) misses(l *level, z []float64) []float64 {
	got := p.forces(l, z)
	out := make([]float64, 0, len(got))
	for i, x := range p.points {
		out = append(out, (got[i]-x.Force)/x.u())
	}
	at := len(p.points)
	for _, t := range p.traces {
		u := math.Hypot(t.U, traceScatter) * math.Sqrt(math.Max(1, float64(len(t.Time))/traceWeight))
		for i, force := range t.Force {
			if t.Flow[i] > 0 && i > 0 { // standing melt says nothing of the load
				out = append(out, (got[at+i]-force)/u)
			}
		}
		at += len(t.Time)
	}
	return out
}

// play appends the force (N) at every sample of a trace; a level with fewer time steps has them on lines between.
func (p *problem) play(l *level, z []float64, k int, out []float64) []float64 {
	t := p.traces[k]
	c, off := p.apply(z)
	block := c.Block - p.s.Block
	s := l.base.For(&c.Case)
	s.Soak(t.Block[0] + block)
	out = append(out, 0)
	for from, last := 0, len(t.Time)-1; from < last; {
		to := min(last, from+l.every)
		dt := t.Time[to] - t.Time[from]
		p.solves++
		f, before := math.Inf(1), out[len(out)-1]
		if s.Advance(t.Block[to]+block, math.Max(t.Flow[to], 1e-12), dt, &p.d) == nil {
			f = p.d.Push + off
		}
		for i := from + 1; i <= to; i++ {
			share := (t.Time[i] - t.Time[from]) / dt
			if i == to || math.IsInf(before, 1) {
				out = append(out, f)
				continue
			}
			out = append(out, before+share*(f-before))
		}
		from = to
	}
	return out
}

// jacobian returns the derivatives of the residuals by the factors.
func (p *problem) jacobian(z []float64) *mat.Dense {
	return p.derivatives(z, func(q *problem, w []float64) []float64 { return q.misses(&q.quick, w) })
}

// slopes are derivatives of the quick residuals at z for a pass of the search: by the factors fitted alone, one-sided.
func (p *problem) slopes(z []float64, fitted []bool) *mat.Dense {
	r := p.misses(&p.quick, z)
	j := mat.NewDense(len(r), len(z), nil)
	p.columns(fitted, func(q *problem, k int) {
		to := func(d float64) (float64, []float64) {
			w := slices.Clone(z)
			if w[k] = q.f[k].clip(z[k] + d); w[k] == z[k] {
				return z[k], r
			}
			return w[k], q.misses(&q.quick, w)
		}
		za, a := to(-q.step())
		zb, b := z[k], r
		if za == z[k] {
			zb, b = to(q.step())
		}
		for i := range r {
			if x := (b[i] - a[i]) / (zb - za); !math.IsNaN(x) && !math.IsInf(x, 0) {
				j.Set(i, k, x)
			}
		}
	})
	return j
}

// columns does the work of each factor that is fitted (nil for all), side by side, with a problem of its own.
func (p *problem) columns(fitted []bool, do func(q *problem, k int)) {
	solves := make([]int, len(p.f))
	_ = num.Parallel(len(p.f), func() func(int) error {
		q := p.clone()
		return func(k int) error {
			if fitted == nil || fitted[k] {
				before := q.solves
				do(q, k)
				solves[k] = q.solves - before
			}
			return nil
		}
	})
	for _, n := range solves {
		p.solves += n
	}
}

// Derivative step of a factor, as a share of half its band. Forces in time scatter by some hundredths of a newton as a
// factor changes: a wider step looks past that.
const (
	steadyStep = 0.05
	traceStep  = 0.15
)

func (p *problem) step() float64 {
	if len(p.traces) > 0 {
		return traceStep
	}
	return steadyStep
}

// derivatives takes central differences of f by the factors, one-sided ones at a bound.
func (p *problem) derivatives(z []float64, f func(q *problem, w []float64) []float64) *mat.Dense {
	n := len(f(p, z))
	j := mat.NewDense(n, len(z), nil)
	p.columns(nil, func(q *problem, k int) {
		at := func(d float64) (float64, []float64) {
			w := slices.Clone(z)
			w[k] = q.f[k].clip(z[k] + d)
			return w[k], f(q, w)
		}
		za, a := at(q.step())
		zb, b := at(-q.step())
		for i := range a {
			if x := (a[i] - b[i]) / (za - zb); !math.IsNaN(x) && !math.IsInf(x, 0) {
				j.Set(i, k, x)
			}
		}
	})
	return j
}

// The search: damped Gauss-Newton passes (Levenberg and Marquardt) from several starts, side by side.
const (
	passes  = 40
	settled = 1e-5 // relative fall of the sum of squares
	coarse  = 1e-3 // the same with traces, which scatter
	// steps taken with the same derivatives, which cost many times what a step does
	keepSlopes = 3
	tries      = 2 // starts that are followed, those of the least sums of squares
)

// search minimises the sum of squares over the factors that are fitted, what was known beforehand counted in, and
// returns the least found: from several starts, or from near a place that is known. With traces the starts are followed
// by the quick forces; then the full forces are fitted from there, with the derivatives of the quick ones.
func (p *problem) search(ctx context.Context, fitted []bool, near []float64) ([]float64, error) {
	if near == nil {
		z, err := p.best(ctx, &p.quick, p.starts(fitted), fitted)
		if err != nil || p.quick == p.full {
			return z, err
		}
		near = z
	}
	z := slices.Clone(near)
	for i, f := range fitted {
		if !f {
			z[i] = 0
		}
	}
	return p.best(ctx, &p.full, [][]float64{z}, fitted)
}

// best is the least found from any start.
func (p *problem) best(ctx context.Context, l *level, starts [][]float64, fitted []bool) (z []float64, err error) {
	type end struct {
		z      []float64
		cost   float64
		ranOut bool
		solves int
	}
	starts = slices.Clone(starts)
	slices.SortStableFunc(starts, func(a, b []float64) int { return cmp.Compare(p.sum(l, a), p.sum(l, b)) })
	starts = starts[:min(tries, len(starts))]
	ends := make([]end, len(starts))
	err = num.Parallel(len(starts), func() func(int) error {
		return func(i int) error {
			q := p.clone()
			m := &q.quick
			if l == &p.full {
				m = &q.full
			}
			e := &ends[i]
			var err error
			e.z, e.cost, e.ranOut, err = q.descend(ctx, m, starts[i], fitted)
			e.solves = q.solves
			return err
		}
	})
	if err != nil {
		return nil, err
	}
	cost := math.Inf(1)
	for _, e := range ends {
		p.solves += e.solves
		if e.cost < cost {
			z, cost, p.ranOut = e.z, e.cost, e.ranOut
		}
	}
	if math.IsInf(cost, 1) {
		return nil, fmt.Errorf("calibrate: no factors within their bounds let the model be solved at every measurement")
	}
	return z, nil
}

// starts are the middle of what is known, and the corners of the two factors that come first.
func (p *problem) starts(fitted []bool) [][]float64 {
	var first []int
	for i, f := range fitted {
		if f && len(first) < 2 {
			first = append(first, i)
		}
	}
	out := [][]float64{make([]float64, len(p.f))}
	for _, s := range [][2]float64{{1, 1}, {1, -1}, {-1, 1}} {
		z := make([]float64, len(p.f))
		for k, i := range first {
			z[i] = p.f[i].clip(s[k])
		}
		out = append(out, z)
	}
	return out
}

// sum of squares of the residuals at a resolution, what was known beforehand counted in.
func (p *problem) sum(l *level, z []float64) float64 {
	m := p.misses(l, z)
	if c := floats.Dot(m, m) + floats.Dot(z, z); !math.IsNaN(c) {
		return c
	}
	return math.Inf(1)
}

// descend goes down from one start.
func (p *problem) descend(ctx context.Context, l *level, z []float64, fitted []bool) (at []float64, cost float64,
	ranOut bool, err error) {
	z, cost = slices.Clone(z), p.sum(l, z)
	r := p.misses(l, z)
	var j *mat.Dense
	damp := 1e-2       // first guess
	small, age := 0, 0 // age of the derivatives, in steps
	enough, times := settled, 2
	if len(p.traces) > 0 {
		enough, times = coarse, 1
	}
	for range passes {
		if ctx.Err() != nil {
			return nil, 0, false, ctx.Err()
		}
		if j == nil {
			j, age = p.slopes(z, fitted), 0
		}
		fell := false
		for range 8 {
			w := p.stepTo(z, r, j, fitted, damp)
			c := p.sum(l, w)
			if c < cost {
				fell = true
				if cost-c < enough*(cost+1e-3) {
					small++
				} else {
					small = 0
				}
				z, cost, damp = w, c, damp/5
				break
			}
			damp *= 5
			if age > 0 {
				break
			}
		}
		if small >= times || !fell && age == 0 {
			return z, cost, false, nil
		}
		if age++; !fell || age >= keepSlopes {
			j = nil
		}
		r = p.misses(l, z)
	}
	return z, cost, true, nil
}

// stepTo is one damped step: (J^T J + 1 + damp diag) d = -(J^T r + z).
func (p *problem) stepTo(z, r []float64, j *mat.Dense, fitted []bool, damp float64) []float64 {
	n := len(z)
	a, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		if !fitted[i] {
			a.SetSym(i, i, 1)
			continue
		}
		v := z[i]
		for k := range r {
			v += j.At(k, i) * r[k]
		}
		g.SetVec(i, -v)
		for l := i; l < n; l++ {
			s := 0.0
			if fitted[l] {
				for k := range r {
					s += j.At(k, i) * j.At(k, l)
				}
			}
			if i == l {
				s = (s + 1) * (1 + damp)
			}
			a.SetSym(i, l, s)
		}
	}
	var ch mat.Cholesky
	var d mat.VecDense
	out := slices.Clone(z)
	if !ch.Factorize(a) || ch.SolveVecTo(&d, g) != nil {
		return out
	}
	for i := range n {
		if fitted[i] {
			out[i] = p.f[i].clip(z[i] + d.AtVec(i))
		}
	}
	return out
}

// tellShare is how far the measurements must bring down the standard uncertainty of a factor for it to count as told:
// to half of what was known before.
const tellShare = 0.5

// told picks the factors that the measurements tell apart: one after another the factor whose effect on the forces, as
// far as those picked before do not have it too, is largest by what was known beforehand (a QR decomposition with
// column pivoting), as long as it is told by itself.
func (p *problem) told(z []float64) []bool { return pick(p.jacobian(z)) }

// pick is told for derivatives of the residuals by the factors, which it uses up.
func pick(j *mat.Dense) []bool {
	rows, n := j.Dims()
	out := make([]bool, n)
	least := math.Sqrt(1/(tellShare*tellShare) - 1) // 1/sqrt(1 + norm^2) is the uncertainty left
	for range n {
		best, norm := -1, 0.0
		for k := range n {
			if out[k] {
				continue
			}
			s := 0.0
			for i := range rows {
				s += j.At(i, k) * j.At(i, k)
			}
			if s > norm {
				best, norm = k, s
			}
		}
		if norm = math.Sqrt(norm); best < 0 || norm < least {
			break
		}
		out[best] = true
		for k := range n {
			if out[k] {
				continue
			}
			dot := 0.0
			for i := range rows {
				dot += j.At(i, best) * j.At(i, k)
			}
			for i := range rows {
				j.Set(i, k, j.At(i, k)-dot/(norm*norm)*j.At(i, best))
			}
		}
	}
	return out
}
