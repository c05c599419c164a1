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
// band, and the 5 and 95 per cent points of the samples. A test holds that the value lies between them.
type Interval struct{ Low, Best, High float64 }

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
		q := uq.Quantiles(Column(out, x.of), 0.05, 0.95)
		*x.to = Interval{Low: q[0], Best: x.of(&best), High: q[1]}
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

// Run answers every draw of the unknowns of a set-up (in the order of Unknowns), at an operating flow (m3/s), spread
// over the cores. base is a solver of the set-up's case, near the answer that the searches start from.
func Run(ctx context.Context, s *setup.Setup, us []Unknown, draws [][]float64, base *march.Solver, flow float64,
	near Sample, progress func(done float64)) ([]Sample, error) {
	out := make([]Sample, len(draws))
	index := make([][]float64, len(draws)) // package uq hands over a row: here its number
	for i := range index {
		index[i] = []float64{float64(i)}
	}
	_, err := uq.Run(ctx, index, func() func(x []float64) []float64 {
		w := newSampler(s, us, base.Clone().(*march.Solver), flow, near)
		return func(x []float64) []float64 {
			i := int(x[0])
			out[i] = w.sample(draws[i])
			return nil
		}
	}, progress)
	return out, err
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
	d    flow.Solution
	ms   []match.Margin
}

func newSampler(s *setup.Setup, us []Unknown, base *march.Solver, flow float64, near Sample) *sampler {
	return &sampler{s: s, us: us, base: base, flow: flow, near: near}
}

func (w *sampler) sample(x []float64) Sample {
	n := Apply(w.s, w.us, x)
	m := n.Matcher(w.base.For(&n.Case))
	value := func(q float64, is func(m match.Margin) bool) float64 {
		var err error
		if w.ms, err = m.At(n.Block, q, &w.d, w.ms); err != nil {
			return -1
		}
		least := math.Inf(1)
		for _, x := range w.ms {
			if is(x) {
				least = math.Min(least, x.Value)
			}
		}
		return least
	}
	var out Sample
	at := value(w.flow, func(m match.Margin) bool { return !m.Warns })
	d := &w.d
	out.Push, out.Pressure, out.ExitBulk, out.EntryCentre, out.Heater = d.Push, d.Pressure, d.ExitBulk,
		d.EntryCentre, d.Heater
	out.Held = at >= 0
	l := n.Limits
	core := func(m match.Margin) bool { return m.Limit == match.Core }
	feeder := func(m match.Margin) bool { return m.Limit.Feeder() }
	rest := func(m match.Margin) bool { return m.Limit != match.Core && !m.Limit.Feeder() && !m.Warns }
	search := func(near float64, is func(m match.Margin) bool) float64 {
		return highest(func(q float64) float64 { return value(q, is) }, near, l.MinFlow, l.MaxFlow)
	}
	out.Pushed, out.Melted = search(w.near.Pushed, feeder), search(w.near.Melted, core)
	out.Usable = out.Pushed
	if l.Core {
		out.Usable = math.Min(out.Usable, out.Melted)
	}
	// The other limits (heater, mount, window) seldom bind: one look at the flow found, a search if they do.
	if value(math.Max(out.Usable, l.MinFlow), rest) < 0 {
		out.Usable = search(math.Max(out.Usable, l.MinFlow), rest)
	}
	out.Limit = w.binding(m, n.Block, out, l)
	return out
}

// binding names the limit at the usable flow of a sample.
func (w *sampler) binding(m *match.Matcher, block float64, x Sample, l match.Limits) match.Limit {
	if x.Usable >= l.MaxFlow {
		return ""
	}
	var err error
	if w.ms, err = m.At(block, math.Max(x.Usable, l.MinFlow), &w.d, w.ms); err != nil {
		return match.Force
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
	x, err := num.RootBetween(func(lq float64) float64 { return f(math.Exp(lq)) }, math.Log(a), fa, math.Log(b), fb,
		tolerance)
	if err != nil {
		return a
	}
	return math.Exp(x)
}
