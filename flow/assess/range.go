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
	Solved      int      // samples that were solved; the rest was read off a surface through these
	Miss        float64  // by how much the surface misses the usable flow of a sample, as a share; 0 with none read off
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
	got, err := answerAll(ctx, s, us, draws, base, o.Flow, Sample{Pushed: o.Flow, Melted: o.Flow}, o.Progress)
	if err != nil {
		return nil, err
	}
	out, best := got.samples, &got.best
	r := &Range{Samples: o.Samples, Seed: o.Seed, Solved: got.solved, Miss: got.miss}
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
		*x.to = NewInterval(Column(out, x.of), x.of(best))
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
	usable := Column(out, usableOf)
	for j := range us {
		if !us[j].Band.Known {
			r.Influences = append(r.Influences, Influence{us[j], uq.RankCorrelation(uq.Column(draws, j), usable),
				got.ends[j][0], got.ends[j][1]})
		}
	}
	slices.SortStableFunc(r.Influences, func(a, b Influence) int {
		return order(math.Abs(b.High-b.Low), math.Abs(a.High-a.Low), "", "")
	})
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

// Column takes one number of every sample.
func Column(xs []Sample, of func(x *Sample) float64) []float64 {
	out := make([]float64, len(xs))
	for i := range xs {
		out[i] = of(&xs[i])
	}
	return out
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
	q, _ := usableNear(s.Matcher(base.For(&s.Case)), s.Block, near, tolerance)
	return q
}

// usableNear is the highest flow (m3/s) that no limit that counts forbids, to a tolerance, as a share, searched from a
// flow near it, and the limit that forbids more: "" where the search ends first. Without a solution no flow is usable.
func usableNear(m *match.Matcher, block, near, tolerance float64) (float64, match.Limit) {
	var d flow.Solution
	var ms []match.Margin
	var limit match.Limit
	forbids := 0.0 // the least flow that the limit is known to forbid
	q := highest(func(q float64) float64 {
		var err error
		if ms, err = m.At(block, q, &d, ms); err != nil {
			return -1
		}
		w := match.Worst(ms)
		if w.Value < 0 && (forbids == 0 || q < forbids) {
			forbids, limit = q, w.Limit
		}
		return w.Value
	}, near, m.Limits.MinFlow, m.Limits.MaxFlow, tolerance)
	if q >= m.Limits.MaxFlow {
		return q, ""
	}
	return q, limit
}
