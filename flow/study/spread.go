package study

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials/num"
)

// atCorners asks the same question of the set-up at both corners of what is not known (assess.Corners), at once.
func atCorners(c *setup.Setup, ask func(i int, k assess.Corner) error) error {
	both := assess.Corners(c)
	return num.Parallel(len(both), func() func(i int) error { return func(i int) error { return ask(i, both[i]) } })
}

// Spread samples what is not known about the case and fills r.Range: low, best and high of the headline numbers, the
// share of the samples that hold the wanted flow, and which unknown matters most. The verdict follows it. Only the
// marching solver is used. samples 0 takes the case's number. A cancelled context ends it with its error.
func (r *Result) Spread(ctx context.Context, c *setup.Setup, samples int, seed uint64,
	progress func(done float64)) error {
	a, err := assess.Spread(ctx, c, assess.Options{Samples: samples, Seed: seed, Flow: r.Point.Flow,
		Progress: progress})
	if err != nil {
		return err
	}
	x := &Range{Samples: a.Samples, Solved: a.Solved, SurfaceMiss: quantity.KnownIf(a.Solved < a.Samples, a.Miss),
		Seed: a.Seed, Usable: Interval(a.Usable), Pushed: Interval(a.Pushed),
		Melted: Interval(a.Melted), Push: Interval(a.Push),
		Pressure: Interval(a.Pressure), ExitBulk: Interval(a.ExitBulk), EntryCentre: Interval(a.EntryCentre),
		Heater: Interval(a.Heater), searchEnd: c.Limits.MaxFlow}
	for _, l := range a.Limits {
		x.Limits = append(x.Limits, Share{limitName(l.Limit), l.Share})
	}
	for _, u := range a.Influences {
		x.Influences = append(x.Influences, Influence{Input: u.Label, Dist: u.Band.Text, Rank: u.Rank, Low: u.Low,
			High: u.High})
	}
	r.Range, r.Samples, r.Seed = x, a.Samples, a.Seed
	if c.Target > 0 {
		x.Probability, x.Thresholds = quantity.Known(a.Held), assess.Thresholds
		r.judge(assess.Judge(a.Held))
	}
	r.Sentence = sentence(&r.Verdict, c.Block, c.Area())
	r.Sentence += fmt.Sprintf(" Likely range: %s to %s (5 to 95 %% of %d samples).",
		quantity.Of("usable_flow").Number(x.Usable.Low), quantity.Text("usable_flow", x.Usable.High), a.Samples)
	return nil
}

// Beyond tells whether a flow (m3/s) is the end of the search, so that the flow it stands for may be higher.
func (r *Range) Beyond(flow float64) bool { return atEnd(flow, r.searchEnd) }

// atEnd tells whether a flow is the end of a search; 0 is no end.
func atEnd(flow, end float64) bool { return end > 0 && flow >= end*(1-1e-6) }

func (r *Result) judge(v assess.Verdict) {
	r.Verdict.Judged = string(v)
	r.Good = v.Good()
}

func limitName(l match.Limit) string {
	if l == "" {
		return "none within the search"
	}
	return string(l)
}

// FindCorners fills r.Corners: the usable flow at the two corners of what is not known, a coarse range where there is
// no time to sample. The verdict follows it. Only the marching solver is used.
func (r *Result) FindCorners(c *setup.Setup) error {
	base := march.New(&c.Case, march.Options{})
	var usable [2]float64
	x := &Corners{searchEnd: c.Limits.MaxFlow}
	err := atCorners(c, func(i int, k assess.Corner) error {
		usable[i] = assess.Usable(k.Setup, base, r.Verdict.Flow)
		*[]*string{&x.HighIs, &x.LowIs}[i] = k.What
		return nil
	})
	if err != nil {
		return err
	}
	x.High, x.Low = usable[0], usable[1]
	r.Corners = x
	if c.Target > 0 {
		r.judge(assess.JudgeEnds(x.High >= c.Target, r.Verdict.Flow >= c.Target, x.Low >= c.Target))
		r.Sentence = sentence(&r.Verdict, c.Block, c.Area())
	}
	return nil
}

// Beyond tells whether a flow (m3/s) is the end of the search, so that the flow it stands for may be higher.
func (x *Corners) Beyond(flow float64) bool { return atEnd(flow, x.searchEnd) }

// FindGains fills r.Gains: the usable flow after each single change that applies, largest gain first.
func (r *Result) FindGains(c *setup.Setup) error {
	base, err := r.base(c)
	if err != nil {
		return err
	}
	if r.found == nil {
		if r.found, err = c.Matcher(base).Find(c.Block); err != nil {
			return err
		}
	}
	gains, err := assess.FindGains(c, r.found, func(k *flow.Case) (flow.Solver, error) {
		if m, ok := base.(*march.Solver); ok {
			return m.For(k), nil
		}
		return NewSolver(r.Solver, k)
	})
	for _, g := range gains {
		r.Gains = append(r.Gains, Gain{Change: g.Text, Flow: g.Flow, Gain: g.Gain, Limit: limitName(g.Limit)})
	}
	return err
}

// FindSetPoints fills the temperature to set at each flow, within the temperatures looked at, so that the push holds
// what the feeder can give with its safety factor or, if force is above 0, that force (N); and the straight line
// between the two outermost points found.
func (r *Result) FindSetPoints(c *setup.Setup, force float64) error {
	top := math.Max(r.Verdict.Flow, c.Target)
	if top <= c.Limits.MinFlow {
		return nil
	}
	s, err := r.overall(c)
	if err != nil {
		return err
	}
	points, err := assess.SetPoints(c, s, top, force)
	if err != nil {
		return err
	}
	var fit []assess.SetPoint
	for _, p := range points {
		x := SetPoint{Flow: p.Flow, Force: p.Force}
		switch p.Reach {
		case assess.NoBlock:
			x.Note = "above it even at " + quantity.Text("best_block", c.Temps[1])
		case assess.AnyBlock:
			x.Block, x.Note = quantity.Known(p.Block), "the lowest temperature of the range suffices"
		default:
			x.Block = quantity.Known(p.Block)
			fit = append(fit, p)
		}
		r.SetPoints = append(r.SetPoints, x)
	}
	if len(fit) >= 2 {
		a, b := fit[0], fit[len(fit)-1]
		l := &SetLine{Force: quantity.KnownIf(force > 0, force), Base: a.Block, From: a.Flow, To: b.Flow,
			Slope: (b.Block - a.Block) / (b.Flow - a.Flow)}
		for _, p := range fit {
			l.Worst = math.Max(l.Worst, math.Abs(p.Block-(l.Base+l.Slope*(p.Flow-l.From))))
		}
		r.SetLine = l
	}
	return nil
}
