package assess

import (
	"context"
	"math"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/flow/vary"
	"meltload/materials/num"
)

// Rival is what the draws say of one feeder among several on the same hot end.
type Rival struct {
	Usable []float64 // m3/s, of every draw
	Held   float64   // share of the draws that hold the wanted flow
}

// lattice is the ratio of neighbouring flows at which the load of a draw is solved; between them it is taken as a power
// law.
// The curvature of the load, d2 ln P/d(ln q)2 below 2 on the starter case, leaves an error below 2 ln(1.12)^2/8 = 0.32
// per cent.
const lattice = 1.12

// Rivals answers the same draws for several feeders on one hot end. The load does not depend on the feeder, so that
// each
// draw solves it once for all, at flows of a lattice as they are asked for: as many solutions as for one feeder, not as
// for
// all. pairs are the set-ups, alike but for the feeder; draws are those of each pair (see Shared); near are the flows
// (m3/s) that
// the searches start from; wanted is the flow asked for, 0 if open. Usable flows are those of Run within 0.5 per cent
// in the mean.
func Rivals(ctx context.Context, pairs []*setup.Setup, draws [][][]float64, base *march.Solver, wanted float64,
	near []float64,
	progress func(done float64)) ([]Rival, error) {
	us := Unknowns(pairs[0])
	force := -1
	for j := range us {
		if us[j].ID == vary.Force {
			force = j
		}
	}
	n := len(draws[0])
	out := make([]Rival, len(pairs))
	held := make([][]bool, len(pairs))
	for k := range pairs {
		out[k].Usable, held[k] = make([]float64, n), make([]bool, n)
	}
	index := make([][]float64, n) // package uq hands over a row: here its number
	for i := range index {
		index[i] = []float64{float64(i)}
	}
	_, err := uq.Run(ctx, index, func() func(x []float64) []float64 {
		solver := base.Clone().(*march.Solver)
		return func(x []float64) []float64 {
			i := int(x[0])
			l := newLoads(Apply(pairs[0], us, draws[0][i]), solver)
			for k, p := range pairs {
				r := rival{f: p.Feeder, factor: draws[k][i][force] / one(p.Feeder.Factor)}
				out[k].Usable[i] = l.usable(r, near[k])
				if wanted > 0 {
					held[k][i] = l.value(r, l.at(wanted)) >= 0
				}
			}
			return nil
		}
	}, progress)
	if err != nil {
		return nil, err
	}
	for k := range out {
		for _, h := range held[k] {
			if h {
				out[k].Held += 1 / float64(n)
			}
		}
	}
	return out, nil
}

func one(factor float64) float64 {
	if factor == 0 {
		return 1
	}
	return factor
}

// rival is a feeder in one draw.
type rival struct {
	f      *feeder.Feeder
	factor float64 // of this draw, over the feeder's own
}

// load is what a flow asks for.
type load struct {
	known bool
	push  float64 // N
	speed float64 // m/s
	other float64 // the least margin of the limits that are not the feeder's and count
}

// loads are the loads of one draw at flows of a lattice, solved as they are asked for.
type loads struct {
	s     *setup.Setup
	m     *match.Matcher
	d     flow.Solution
	ms    []match.Margin
	nodes []load
}

func newLoads(s *setup.Setup, base *march.Solver) *loads {
	solver := base.For(&s.Case)
	solver.Follow(nil)
	l := &loads{s: s, m: s.Matcher(solver)}
	l.nodes = make([]load, 1+int(math.Ceil(math.Log(s.Limits.MaxFlow/s.Limits.MinFlow)/math.Log(lattice))))
	return l
}

// flowOf is the flow of a node; the last is the end of the search.
func (l *loads) flowOf(j int) float64 {
	return math.Min(l.s.Limits.MaxFlow, l.s.Limits.MinFlow*math.Pow(lattice, float64(j)))
}

func (l *loads) at(q float64) load {
	var err error
	x := load{known: true, other: math.Inf(1)}
	if l.ms, err = l.m.At(l.s.Block, q, &l.d, l.ms); err != nil {
		x.push, x.speed, x.other = math.Inf(1), q/l.s.Area(), -1
		return x
	}
	x.push, x.speed = l.d.Push, l.d.Speed
	for _, m := range l.ms {
		if !m.Limit.Feeder() && !m.Warns {
			x.other = math.Min(x.other, m.Value)
		}
	}
	return x
}

func (l *loads) node(j int) load {
	if !l.nodes[j].known {
		l.nodes[j] = l.at(l.flowOf(j))
	}
	return l.nodes[j]
}

// value is the least margin at a load: capability over push and safety factor less one, or another limit's.
func (l *loads) value(r rival, x load) float64 {
	return math.Min(r.f.At(x.speed).Force*r.factor/(x.push*l.s.Limits.Safety)-1, x.other)
}

// usable is the flow up to which the least margin is not negative, walking out from near: the end of the search if it
// never
// turns, 0 if it is negative at its start.
func (l *loads) usable(r rival, near float64) float64 {
	last := len(l.nodes) - 1
	j := int(math.Round(math.Log(near/l.s.Limits.MinFlow) / math.Log(lattice)))
	j = min(max(j, 0), last)
	if l.value(r, l.node(j)) >= 0 {
		for ; ; j++ {
			if j == last {
				return l.s.Limits.MaxFlow
			}
			if l.value(r, l.node(j+1)) < 0 {
				break
			}
		}
	} else {
		for j--; ; j-- {
			if j < 0 {
				return 0
			}
			if l.value(r, l.node(j)) >= 0 {
				break
			}
		}
	}
	a, b := l.node(j), l.node(j+1)
	qa, qb := l.flowOf(j), l.flowOf(j+1)
	if math.IsInf(b.push, 1) {
		return qa
	}
	between := func(t float64) float64 {
		x := load{push: a.push * math.Pow(b.push/a.push, t), speed: a.speed * math.Pow(b.speed/a.speed, t),
			other: a.other}
		if !math.IsInf(a.other, 1) {
			x.other += t * (b.other - a.other)
		}
		return l.value(r, x)
	}
	t, err := num.Root(between, 0, 1, tolerance)
	if err != nil {
		return qa
	}
	return qa * math.Pow(qb/qa, t)
}
