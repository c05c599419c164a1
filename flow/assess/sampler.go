package assess

import (
	"math"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/materials/num"
)

// sampler answers draws of one set-up on one goroutine.
type sampler struct {
	s     *setup.Setup
	us    []Unknown
	base  *march.Solver
	flow  float64
	near  Sample
	mid   *flow.Solution // at the operating point, about the middle of the unknowns: where searches begin; nil for none
	guide *surface       // says where answers are to be expected; nil for none

	// of the draw in hand
	n     *setup.Setup
	m     *match.Matcher
	area  float64 // m2, of the filament
	d     flow.Solution
	ms    []match.Margin // at the flow q
	q     float64
	seen  []probe
	z     []float64
	lines [outputs]line
	x     flow.Solution // what is looked up on the surface
}

// probe is a flow that was solved for a draw, and the least margins there: of the feeder, of the core, and of the other
// limits that count; -1 where there is no solution.
type probe struct {
	q      float64
	least  [kinds]float64
	solved bool
	y      [outputs]float64
	feeder match.Limit // of the feeder at this speed
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

// begin takes a draw in hand, to be solved with v.
func (w *sampler) begin(x []float64, n *setup.Setup, v flow.Solver) {
	w.n, w.m, w.area, w.seen = n, n.Matcher(v), n.Area(), w.seen[:0]
	if w.guide != nil {
		w.z = w.guide.place(x, w.z)
		w.lines = w.guide.lines(w.z)
	}
}

// sample solves a draw, where the surface points if there is one.
func (w *sampler) sample(x []float64) Sample {
	n := Apply(w.s, w.us, x)
	solver := w.base.For(&n.Case)
	solver.Follow(w.mid)
	w.begin(x, n, solver)
	if w.guide != nil {
		if out, ok := w.guided(); ok {
			return out
		}
	}
	return w.plain()
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
	if w.ms, err = w.m.At(w.n.Block, q, &w.d, w.ms); err != nil {
		x.least = [kinds]float64{-1, -1, -1}
	} else {
		for _, m := range w.ms {
			k := ofRest
			switch {
			case m.Limit == match.Core:
				k = ofCore
			case m.Limit.Feeder():
				k, x.feeder = ofFeeder, m.Limit
			case m.Warns:
				continue
			}
			x.least[k] = math.Min(x.least[k], m.Value)
		}
		d := &w.d
		x.solved = true
		x.y = [outputs]float64{outPush: math.Log(d.Push), outPressure: math.Log(d.Pressure),
			outHeater: math.Log(math.Max(d.Heater, 1e-9)), outCentre: d.EntryCentre, outExit: d.ExitBulk,
			outRest: math.Log1p(math.Max(-0.9, math.Min(mostRest, x.least[ofRest])))}
	}
	w.q = q
	w.seen = append(w.seen, x)
	return &w.seen[len(w.seen)-1]
}

// at fills what a sample says at the operating flow.
func (w *sampler) at(out *Sample, y *[outputs]float64, least *[kinds]float64) {
	out.Push, out.Pressure, out.Heater = math.Exp(y[outPush]), math.Exp(y[outPressure]), math.Exp(y[outHeater])
	out.EntryCentre, out.ExitBulk = y[outCentre], y[outExit]
	out.Held = least[ofFeeder] >= 0 && least[ofRest] >= 0 && (least[ofCore] >= 0 || !w.n.Limits.Core)
}

// How a search goes where the surface points. What a sample's own solutions leave over the surface is added to it, so
// that from the nearest of them on only the slope of the surface counts.
const (
	reach      = 0.015 // of ln q: so near to a solution the surface may be trusted
	span       = 0.04  // of the distances of ln q to the solutions on both sides, multiplied: and so between two
	settled    = 2e-3  // of ln q: what is expected to be left then
	walk       = 0.15  // step in ln q of the look for a change of sign
	mostProbes = 6
	clear      = 0.05 // of a margin: with so much room within reach, a limit that seldom binds does not
)

// guided answers a draw by the surface and solutions where it points; false where these contradict it or one another.
func (w *sampler) guided() (out Sample, ok bool) {
	at := *w.margins(w.flow, 0)
	if !at.solved {
		return out, false
	}
	w.at(&out, &at.y, &at.least)
	l := &w.n.Limits
	if out.Pushed, ok = w.root(ofFeeder); !ok {
		return out, false
	}
	if out.Melted = l.MaxFlow; !math.IsInf(at.least[ofCore], 1) {
		if out.Melted, ok = w.root(ofCore); !ok {
			return out, false
		}
	}
	byCore := w.usable(&out)
	q := math.Max(out.Usable, l.MinFlow)
	p := w.nearest(w.guide.ln(q))
	if math.Abs(math.Log(p.q/q)) > 2*reach {
		p = w.margins(q, 0)
	}
	if p.least[ofRest] < clear {
		p = w.margins(q, tolerance)
	}
	if !p.solved {
		return out, false
	}
	if p.least[ofRest] < 0 {
		out.Usable = w.search(q, ofRest)
		out.Limit = w.binding(out, *l)
		return out, true
	}
	out.Limit = w.named(&out, byCore, p.feeder)
	return out, true
}

// named is the limit of a usable flow that feeder or core set.
func (w *sampler) named(out *Sample, byCore bool, feeder match.Limit) match.Limit {
	switch {
	case out.Usable >= w.n.Limits.MaxFlow:
		return ""
	case byCore:
		return match.Core
	}
	return feeder
}

// usable is the lower of what feeder and core allow; true where it is the core's.
func (w *sampler) usable(out *Sample) (byCore bool) {
	if out.Usable = out.Pushed; w.n.Limits.Core && out.Melted < out.Usable {
		out.Usable, byCore = out.Melted, true
	}
	return byCore
}

// nearest is the solution nearest to u.
func (w *sampler) nearest(u float64) *probe {
	best := &w.seen[0]
	for i := range w.seen {
		if x := &w.seen[i]; math.Abs(w.guide.ln(x.q)-u) < math.Abs(w.guide.ln(best.q)-u) {
			best = x
		}
	}
	return best
}

// root finds the highest flow that limits of a kind do not forbid, solving where the surface has it; false where the
// solutions contradict one another or there is none.
func (w *sampler) root(kind int) (float64, bool) {
	lo, hi := w.guide.ln(w.n.Limits.MinFlow), w.guide.ln(w.n.Limits.MaxFlow)
	for range mostProbes {
		u := w.cross(kind, lo, hi)
		switch {
		case math.IsNaN(u):
			return 0, false
		case u >= hi:
			if p := w.margins(w.n.Limits.MaxFlow, 0); p.least[kind] >= 0 {
				return w.n.Limits.MaxFlow, true
			} else if !p.solved {
				return 0, false
			}
			continue
		case u <= lo:
			if p := w.margins(w.n.Limits.MinFlow, 0); p.least[kind] < 0 {
				return 0, p.solved
			}
			continue
		}
		if w.close(kind, u) {
			return w.guide.ref * math.Exp(u), true
		}
		if !w.margins(w.guide.ref*math.Exp(u), 0).solved {
			return 0, false
		}
	}
	return 0, false
}

// close tells whether solutions are so near to u, where the margin of a kind vanishes, that the surface with what they
// leave over it is within `settled` of it: by how what they leave changes from one to the next.
func (w *sampler) close(kind int, u float64) bool {
	var side [2][2]*probe // below and above, the nearest and the next
	dist := func(p *probe) float64 {
		if p == nil {
			return math.Inf(1)
		}
		return math.Abs(w.guide.ln(p.q) - u)
	}
	for i := range w.seen {
		p := &w.seen[i]
		x := &side[0]
		if w.guide.ln(p.q) > u {
			x = &side[1]
		}
		if dist(p) < dist(x[0]) {
			x[0], x[1] = p, x[0]
		} else if dist(p) < dist(x[1]) {
			x[1] = p
		}
	}
	a, b := side[0][0], side[1][0]
	if a != nil && b != nil && dist(a)*dist(b) < span {
		slope := (room(kind, b) - room(kind, a)) / (dist(a) + dist(b))
		if math.Abs(w.apart(kind, u, a, b)/4/slope) < settled {
			return true // what a smooth remainder can be off its chord between them
		}
	}
	for _, x := range side {
		if p := x[0]; dist(p) < reach {
			if x[1] == nil || dist(p) < settled {
				return true
			}
			slope := room(kind, p) / dist(p)
			if math.Abs(w.apart(kind, u, p, x[1])/(dist(x[1])-dist(p))*dist(p)/slope) < settled {
				return true
			}
		}
	}
	return false
}

// room is the logarithm of one plus the margin of the feeder, or the margin of the core, at a solution.
func room(kind int, p *probe) float64 {
	if kind == ofCore {
		return p.least[kind]
	}
	return math.Log1p(p.least[kind])
}

// apart is by how much the room at u differs by what one solution and another leave over the surface.
func (w *sampler) apart(kind int, u float64, a, b *probe) float64 {
	out := outPush
	if kind == ofCore {
		out = outCentre
	}
	return w.over(kind, u, w.off(out, a)) - w.over(kind, u, w.off(out, b))
}

// off is what a solution leaves over the surface.
func (w *sampler) off(out int, p *probe) float64 { return p.y[out] - w.lines[out].at(w.guide.ln(p.q)) }

// cross is where (u) the margin of a kind changes its sign by the surface and the solutions: the lowest change above
// the highest solution with room; +Inf above the search, -Inf below it, NaN where a solution without room lies below
// one with room.
func (w *sampler) cross(kind int, lo, hi float64) float64 {
	a, b := math.Inf(-1), math.Inf(1)
	for i := range w.seen {
		if x := &w.seen[i]; x.least[kind] >= 0 {
			a = math.Max(a, w.guide.ln(x.q))
		} else {
			b = math.Min(b, w.guide.ln(x.q))
		}
	}
	f := func(u float64) float64 { return w.room(kind, u) }
	if len(w.seen) == 0 {
		if f(0) >= 0 {
			a = 0
		} else {
			b = 0
		}
	}
	switch {
	case a > b:
		return math.NaN()
	case a >= hi:
		return math.Inf(1)
	case b <= lo:
		return math.Inf(-1)
	}
	step, end, from := walk, math.Min(b, hi), a
	if math.IsInf(a, -1) {
		step, end, from = -walk, lo, b
	}
	up := step > 0
	v := f(from)
	if (v >= 0) != up {
		return from // the surface passes through its solutions but for rounding
	}
	for {
		u := from + step
		if (u >= end) == up {
			u = end
		}
		next := f(u)
		if (next >= 0) != up {
			if x, err := num.RootBetween(f, from, v, u, next, 1e-5); err == nil {
				return x
			}
			return math.NaN()
		}
		if u == end {
			switch {
			case !up:
				return math.Inf(-1)
			case b <= hi:
				return b
			}
			return math.Inf(1)
		}
		from, v = u, next
	}
}

// room is that of a kind at u, by the surface and what the solutions leave over it.
func (w *sampler) room(kind int, u float64) float64 {
	if kind == ofCore {
		return w.over(kind, u, w.left(outCentre, u))
	}
	return w.over(kind, u, w.left(outPush, u))
}

// over is the room of a kind at u, with more than the surface says.
func (w *sampler) over(kind int, u, more float64) float64 {
	d := &w.x
	if kind == ofCore {
		d.EntryCentre = w.lines[outCentre].at(u) + more
		return w.m.OfCore(d).Value
	}
	d.Speed, d.Push = w.guide.ref*math.Exp(u)/w.area, math.Exp(w.lines[outPush].at(u)+more)
	return math.Log1p(w.m.OfFeeder(d).Value)
}

// left is what the solutions leave over the surface at u: linear between the two about it, that of the nearest outside.
func (w *sampler) left(out int, u float64) float64 {
	ua, ub := math.Inf(-1), math.Inf(1)
	var a, b float64
	for i := range w.seen {
		p := &w.seen[i]
		if !p.solved {
			continue
		}
		x := w.guide.ln(p.q)
		y := w.off(out, p)
		if x <= u && x > ua {
			ua, a = x, y
		}
		if x >= u && x < ub {
			ub, b = x, y
		}
	}
	switch {
	case math.IsInf(ua, -1) && math.IsInf(ub, 1):
		return 0
	case math.IsInf(ua, -1):
		return b
	case math.IsInf(ub, 1) || ub == ua:
		return a
	}
	return a + (b-a)*(u-ua)/(ub-ua)
}

// read answers a draw by the surface alone; false where that cannot tell: next to a limit that seldom binds, and where
// no flow is usable.
func (w *sampler) read(x []float64) (out Sample, ok bool) {
	w.begin(x, Apply(w.s, w.us, x), nil)
	var y [outputs]float64
	for o := range y {
		y[o] = w.lines[o].at(0)
	}
	least := [kinds]float64{ofFeeder: w.room(ofFeeder, 0), ofCore: w.room(ofCore, 0), ofRest: y[outRest]}
	w.at(&out, &y, &least)
	l := &w.n.Limits
	lo, hi := w.guide.ln(l.MinFlow), w.guide.ln(l.MaxFlow)
	flows := [2]float64{}
	for kind := range flows {
		switch u := w.cross(kind, lo, hi); {
		case math.IsNaN(u) || u <= lo:
			return out, false
		case u >= hi:
			flows[kind] = l.MaxFlow
		default:
			flows[kind] = w.guide.ref * math.Exp(u)
		}
	}
	out.Pushed, out.Melted = flows[ofFeeder], flows[ofCore]
	byCore := w.usable(&out)
	u := w.guide.ln(out.Usable)
	doubt := math.Log1p(clear) + 3*w.guide.rest
	if w.lines[outRest].at(u) < doubt || math.Abs(y[outRest]) < doubt {
		return out, false
	}
	w.x.Speed, w.x.Push = out.Usable/w.area, math.Exp(w.lines[outPush].at(u))
	out.Limit = w.named(&out, byCore, w.m.OfFeeder(&w.x).Limit)
	return out, true
}

// plain answers a draw by a search for each kind of limit that knows nothing beforehand.
func (w *sampler) plain() (out Sample) {
	x := *w.margins(w.flow, 0)
	if x.solved {
		w.at(&out, &x.y, &x.least)
	}
	l := w.n.Limits
	out.Pushed, out.Melted = w.search(w.near.Pushed, ofFeeder), w.search(w.near.Melted, ofCore)
	w.usable(&out)
	// The other limits (heater, mount, window) seldom bind: one look at the flow found, a search if they do.
	if q := math.Max(out.Usable, l.MinFlow); w.margins(q, tolerance).least[ofRest] < 0 {
		out.Usable = w.search(q, ofRest)
	}
	out.Limit = w.binding(out, l)
	return out
}

// search finds the highest flow that limits of a kind do not forbid, from the nearest flows that were solved already.
func (w *sampler) search(near float64, kind int) float64 {
	l := w.n.Limits
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
		return between(f, a.q, a.least[kind], b.q, b.least[kind], tolerance)
	case a.q > near:
		near = a.q
	case b.q < near:
		near = b.q
	}
	return highest(f, near, l.MinFlow, l.MaxFlow, tolerance)
}

// binding names the limit at the usable flow of a sample.
func (w *sampler) binding(x Sample, l match.Limits) match.Limit {
	if x.Usable >= l.MaxFlow {
		return ""
	}
	if q := math.Max(x.Usable, l.MinFlow); w.q != q {
		w.ms, _ = w.m.At(w.n.Block, q, &w.d, w.ms)
	}
	if len(w.ms) == 0 { // there is no solution, here or where the search ended
		return match.Force
	}
	return match.Worst(w.ms).Limit
}

// tolerance of a flow found, as a share.
const tolerance = 1e-3

// highest returns the flow up to which f is not negative, walking out from near: hi if it never turns, 0 if it is
// negative at lo. It is found to a tolerance, as a share.
func highest(f func(q float64) float64, near, lo, hi, tolerance float64) float64 {
	q := math.Min(math.Max(near, 1.01*lo), 0.99*hi) // first guess
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
	return between(f, a, fa, b, fb, tolerance)
}

// between finds the flow at which f, fa >= 0 at a and fb < 0 at b, changes its sign.
func between(f func(q float64) float64, a, fa, b, fb, tolerance float64) float64 {
	x, err := num.RootBetween(func(lq float64) float64 { return f(math.Exp(lq)) }, math.Log(a), fa, math.Log(b), fb,
		tolerance)
	if err != nil {
		return a
	}
	return math.Exp(x)
}
