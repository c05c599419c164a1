package assess

import (
	"context"
	"math"
	"slices"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/materials/num"
)

// Interval is the range of a number: its value for the set-up as it stands, with every unknown at the middle of its
// band, and the 5 and 95 per cent points of the samples. Few samples may leave the value outside; the end then is the
// value, so that no number lies outside its own range. Many samples have it between them, as a test holds.
type Interval struct{ Low, Best, High float64 }

// NewInterval makes an interval of samples about the value for the set-up as it stands.
func NewInterval(samples []float64, best float64) Interval {
	q := uq.Quantiles(samples, 0.05, 0.95)
	return Interval{Low: math.Min(q[0], best), Best: best, High: math.Max(q[1], best)}
}

// Range is what sampling tells. Flows in m3/s, the rest in SI.
type Range struct {
	Samples     int
	Seed        uint64
	Usable      Interval // flow that no limit that counts forbids
	Pushed      Interval // the most that the feeder can push
	Melted      Interval // the most that melts through
	Push        Interval // N, and the following, at the operating point
	Pressure    Interval
	ExitBulk    Interval
	EntryCentre Interval
	Heater      Interval
	Held        float64 // share of the samples that hold the operating point
	Limits      []LimitShare
	Influences  []Influence // the largest first
}

// LimitShare is how often a limit bound; Limit "" is none within the search.
type LimitShare struct {
	Limit match.Limit
	Share float64
}

// Influence is how much one unknown moves the usable flow.
type Influence struct {
	Unknown
	Rank      float64 // Spearman's correlation with the usable flow
	Low, High float64 // m3/s, usable flow with it at its 5 and 95 per cent points, the others at their middle
}

// Sample is the answer for one draw of the unknowns.
type Sample struct {
	Usable, Pushed, Melted                        float64 // m3/s
	Push, Pressure, ExitBulk, EntryCentre, Heater float64 // at the operating point
	Held                                          bool
	Limit                                         match.Limit // that bounds Usable, "" for none within the search
}

// Options of Spread.
type Options struct {
	Samples  int     // 0 takes the set-up's
	Seed     uint64  // 0 takes the set-up's
	Flow     float64 // m3/s, the operating point
	Progress func(done float64)
}

// Spread samples what is not known about a set-up with the marching solver, spread over the cores. A cancelled context
// ends it with its error.
func Spread(ctx context.Context, s *setup.Setup, o Options) (*Range, error) {
	if o.Samples == 0 {
		o.Samples = s.Samples
	}
	if o.Seed == 0 {
		o.Seed = s.Seed
	}
	us := Unknowns(s)
	draws := Draw(us, o.Samples, o.Seed)
	base := march.New(&s.Case, march.Options{})
	one := newSampler(s, us, base, o.Flow, Sample{Pushed: s.Limits.MinFlow, Melted: s.Limits.MinFlow})
	best := one.sample(Middle(us))
	out, err := Run(ctx, s, us, draws, base, o.Flow, best, o.Progress)
	if err != nil {
		return nil, err
	}
	r := &Range{Samples: o.Samples, Seed: o.Seed}
	for _, x := range []struct {
		to *Interval
		of func(x *Sample) float64
	}{{&r.Usable, usableOf}, {&r.Pushed, func(x *Sample) float64 { return x.Pushed }},
		{&r.Melted, func(x *Sample) float64 { return x.Melted }},
		{&r.Push, func(x *Sample) float64 { return x.Push }},
		{&r.Pressure, func(x *Sample) float64 { return x.Pressure }},
		{&r.ExitBulk, func(x *Sample) float64 { return x.ExitBulk }},
		{&r.EntryCentre, func(x *Sample) float64 { return x.EntryCentre }},
		{&r.Heater, func(x *Sample) float64 { return x.Heater }}} {
		*x.to = NewInterval(Column(out, x.of), x.of(&best))
	}
	count := map[match.Limit]float64{}
	for i := range out {
		if out[i].Held {
			r.Held += 1 / float64(len(out))
		}
		count[out[i].Limit] += 1 / float64(len(out))
	}
	for l, n := range count {
		r.Limits = append(r.Limits, LimitShare{l, n})
	}
	slices.SortFunc(r.Limits,
		func(a, b LimitShare) int { return order(b.Share, a.Share, string(a.Limit), string(b.Limit)) })
	r.influences(s, us, base, best, draws, Column(out, usableOf), o.Flow)
	return r, nil
}

func usableOf(x *Sample) float64 { return x.Usable }

// order compares by number, then by name.
func order(a, b float64, x, y string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// influences moves one unknown at a time to its 5 and 95 per cent points, the others at their middle.
func (r *Range) influences(s *setup.Setup, us []Unknown, base *march.Solver, best Sample, draws [][]float64,
	usable []float64, flow float64) {
	mid := Middle(us)
	ends := make([][2]float64, len(us))
	_ = num.Parallel(2*len(us), func() func(int) error {
		w := newSampler(s, us, base.Clone().(*march.Solver), flow, best)
		return func(k int) error {
			j := k / 2
			if us[j].Band.Known {
				return nil
			}
			x := slices.Clone(mid)
			x[j] = us[j].At([2]float64{0.05, 0.95}[k%2])
			out := w.sample(x)
			ends[j][k%2] = out.Usable
			return nil
		}
	})
	for j := range us {
		if !us[j].Band.Known {
			r.Influences = append(r.Influences, Influence{us[j], uq.RankCorrelation(uq.Column(draws, j), usable),
				ends[j][0], ends[j][1]})
		}
	}
	slices.SortStableFunc(r.Influences, func(a, b Influence) int {
		return order(math.Abs(b.High-b.Low), math.Abs(a.High-a.Low), "", "")
	})
}

// Column takes one number of every sample.
func Column(xs []Sample, of func(x *Sample) float64) []float64 {
	out := make([]float64, len(xs))
	for i := range xs {
		out[i] = of(&xs[i])
	}
	return out
}

// The grid of samples, which are a third of the work on it: its forces lie within a per cent or two of those on the
// default grid. What it makes of the middle of the unknowns, over what the default grid makes of that, corrects every
// sample (a control variate), so that what is left is how much that ratio changes over the bands. A test holds samples
// to a plain search on the default grid: 0.5 % of flow and push in the mean, 2.5 % at most.
const sampleCells, sampleAxial = 8, 0.7

// Run answers every draw of the unknowns of a set-up (in the order of Unknowns), at an operating flow (m3/s), spread
// over the cores, on the grid of samples. base is a solver of the set-up's case, near the answer that the searches
// start from.
func Run(ctx context.Context, s *setup.Setup, us []Unknown, draws [][]float64, base *march.Solver, flow float64,
	near Sample, progress func(done float64)) ([]Sample, error) {
	out := make([]Sample, len(draws))
	index := make([][]float64, len(draws)) // package uq hands over a row: here its number
	for i := range index {
		index[i] = []float64{float64(i)}
	}
	quick := base.WithResolution(sampleCells, sampleAxial)
	mid := middle(s, quick, flow)
	answer := func(base *march.Solver, x []float64) Sample {
		w := newSampler(s, us, base, flow, near)
		w.mid = mid
		return w.sample(x)
	}
	c := newControl(answer(base.Clone().(*march.Solver), Middle(us)), answer(quick, Middle(us)), s.Limits)
	_, err := uq.Run(ctx, index, func() func(x []float64) []float64 {
		w := newSampler(s, us, quick.Clone().(*march.Solver), flow, near)
		w.mid = mid
		return func(x []float64) []float64 {
			i := int(x[0])
			out[i] = c.correct(w.sample(draws[i]))
			return nil
		}
	}, progress)
	return out, err
}

// control is what the default grid makes of a case over what the grid of samples does: ratios, and for temperatures
// differences (K).
type control struct {
	ratio  Sample
	limits match.Limits
}

func newControl(full, quick Sample, l match.Limits) control {
	c := control{limits: l}
	over := func(a, b float64) float64 {
		// Ends of the search are no answers of a grid.
		if x := a / b; b > 0 && a > 0 && a < l.MaxFlow && b < l.MaxFlow {
			return x
		}
		return 1
	}
	plain := func(a, b float64) float64 {
		if a > 0 && b > 0 {
			return a / b
		}
		return 1
	}
	c.ratio = Sample{Usable: over(full.Usable, quick.Usable), Pushed: over(full.Pushed, quick.Pushed),
		Melted: over(full.Melted, quick.Melted), Push: plain(full.Push, quick.Push),
		Pressure: plain(full.Pressure, quick.Pressure), Heater: plain(full.Heater, quick.Heater),
		ExitBulk: full.ExitBulk - quick.ExitBulk, EntryCentre: full.EntryCentre - quick.EntryCentre}
	return c
}

// correct brings a sample of the grid of samples to the default grid.
func (c *control) correct(x Sample) Sample {
	r := &c.ratio
	scale := func(q, ratio float64) float64 {
		if q >= c.limits.MaxFlow {
			return q
		}
		return math.Min(q*ratio, c.limits.MaxFlow)
	}
	x.Usable, x.Pushed, x.Melted = scale(x.Usable, r.Usable), scale(x.Pushed, r.Pushed), scale(x.Melted, r.Melted)
	x.Push *= r.Push
	x.Pressure *= r.Pressure
	x.Heater *= r.Heater
	x.ExitBulk += r.ExitBulk
	x.EntryCentre += r.EntryCentre
	return x
}

// middle solves the set-up as it stands at a flow (m3/s); nil where there is no solution.
func middle(s *setup.Setup, base *march.Solver, q float64) *flow.Solution {
	d := new(flow.Solution)
	if base.For(&s.Case).Solve(s.Block, q, d) != nil {
		return nil
	}
	return d
}

// Usable is the highest flow (m3/s) of a set-up as it stands that no limit that counts forbids, searched from a flow
// near it. base is a solver of a case like its own. A case that cannot be solved counts as no flow.
func Usable(s *setup.Setup, base *march.Solver, near float64) float64 {
	m := s.Matcher(base.For(&s.Case))
	var d flow.Solution
	var ms []match.Margin
	return highest(func(q float64) float64 {
		var err error
		if ms, err = m.At(s.Block, q, &d, ms); err != nil {
			return -1
		}
		return match.Worst(ms).Value
	}, near, s.Limits.MinFlow, s.Limits.MaxFlow)
}

// sampler answers draws of one set-up on one goroutine.
type sampler struct {
	s    *setup.Setup
	us   []Unknown
	base *march.Solver
	flow float64
	near Sample
	mid  *flow.Solution // at the operating point, about the middle of the unknowns: where searches begin; nil for none
	m    *match.Matcher
	at   float64 // K, block temperature
	d    flow.Solution
	ms   []match.Margin // at the flow q
	q    float64
	seen []probe
}

// probe is a flow that was solved for a draw, and the least margins there: of the feeder, of the core, and of the other
// limits that count; -1 where there is no solution.
type probe struct {
	q     float64
	least [kinds]float64
}

// The kinds of limits that a sample searches one by one.
const (
	ofFeeder = iota
	ofCore
	ofRest
	kinds
)

func newSampler(s *setup.Setup, us []Unknown, base *march.Solver, flow float64, near Sample) *sampler {
	return &sampler{s: s, us: us, base: base, flow: flow, near: near}
}

// margins solves a flow and keeps its margins; a flow within the tolerance of one that was solved is not solved again.
func (w *sampler) margins(q, tolerance float64) *probe {
	for i := range w.seen {
		if x := &w.seen[i]; math.Abs(x.q-q) <= tolerance*q {
			return x
		}
	}
	var err error
	x := probe{q: q, least: [kinds]float64{math.Inf(1), math.Inf(1), math.Inf(1)}}
	if w.ms, err = w.m.At(w.at, q, &w.d, w.ms); err != nil {
		x.least = [kinds]float64{-1, -1, -1}
	} else {
		for _, m := range w.ms {
			k := ofRest
			switch {
			case m.Limit == match.Core:
				k = ofCore
			case m.Limit.Feeder():
				k = ofFeeder
			case m.Warns:
				continue
			}
			x.least[k] = math.Min(x.least[k], m.Value)
		}
	}
	w.q = q
	w.seen = append(w.seen, x)
	return &w.seen[len(w.seen)-1]
}

// search finds the highest flow that limits of a kind do not forbid, from the nearest flows that were solved already.
func (w *sampler) search(near float64, kind int) float64 {
	l := w.s.Limits
	f := func(q float64) float64 { return w.margins(q, 0).least[kind] }
	a, b := probe{q: -1}, probe{q: math.Inf(1)}
	for _, x := range w.seen {
		switch {
		case x.least[kind] < 0 && x.q < b.q:
			b = x
		case x.least[kind] >= 0 && x.q > a.q:
			a = x
		}
	}
	switch {
	case a.q > b.q: // room comes back higher up
	case a.q > 0 && b.q < 2*a.q:
		return between(f, a.q, a.least[kind], b.q, b.least[kind])
	case a.q > near:
		near = a.q
	case b.q < near:
		near = b.q
	}
	return highest(f, near, l.MinFlow, l.MaxFlow)
}

func (w *sampler) sample(x []float64) Sample {
	n := Apply(w.s, w.us, x)
	solver := w.base.For(&n.Case)
	solver.Follow(w.mid)
	w.m, w.at, w.seen = n.Matcher(solver), n.Block, w.seen[:0]
	var out Sample
	at := w.margins(w.flow, 0).least
	d := &w.d
	out.Push, out.Pressure, out.ExitBulk, out.EntryCentre, out.Heater = d.Push, d.Pressure, d.ExitBulk,
		d.EntryCentre, d.Heater
	l := n.Limits
	out.Held = at[ofFeeder] >= 0 && at[ofRest] >= 0 && (at[ofCore] >= 0 || !l.Core)
	out.Pushed, out.Melted = w.search(w.near.Pushed, ofFeeder), w.search(w.near.Melted, ofCore)
	out.Usable = out.Pushed
	if l.Core {
		out.Usable = math.Min(out.Usable, out.Melted)
	}
	// The other limits (heater, mount, window) seldom bind: one look at the flow found, a search if they do.
	if q := math.Max(out.Usable, l.MinFlow); w.margins(q, tolerance).least[ofRest] < 0 {
		out.Usable = w.search(q, ofRest)
	}
	out.Limit = w.binding(out, l)
	return out
}

// binding names the limit at the usable flow of a sample.
func (w *sampler) binding(x Sample, l match.Limits) match.Limit {
	if x.Usable >= l.MaxFlow {
		return ""
	}
	if q := math.Max(x.Usable, l.MinFlow); w.q != q {
		var err error
		if w.ms, err = w.m.At(w.at, q, &w.d, w.ms); err != nil {
			return match.Force
		}
	}
	return match.Worst(w.ms).Limit
}

// tolerance of a flow found, as a share.
const tolerance = 1e-3

// highest returns the flow up to which f is not negative, walking out from near: hi if it never turns, 0 if it is
// negative at lo.
func highest(f func(q float64) float64, near, lo, hi float64) float64 {
	q := math.Min(math.Max(near, 1.01*lo), 0.99*hi)
	a, b := q, q
	fa := f(q)
	fb := fa
	if fa >= 0 {
		for step := 1.25; ; step *= 1.3 {
			a, fa, b = b, fb, math.Min(hi, b*step)
			if fb = f(b); fb < 0 {
				break
			}
			if b >= hi {
				return hi
			}
		}
	} else {
		for step := 1.25; ; step *= 1.3 {
			b, fb, a = a, fa, math.Max(lo, a/step)
			if fa = f(a); fa >= 0 {
				break
			}
			if a <= lo {
				return 0
			}
		}
	}
	return between(f, a, fa, b, fb)
}

// between finds the flow at which f, fa >= 0 at a and fb < 0 at b, changes its sign.
func between(f func(q float64) float64, a, fa, b, fb float64) float64 {
	x, err := num.RootBetween(func(lq float64) float64 { return f(math.Exp(lq)) }, math.Log(a), fa, math.Log(b), fb,
		tolerance)
	if err != nil {
		return a
	}
	return math.Exp(x)
}
