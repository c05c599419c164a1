package study

import (
	"context"
	"fmt"
	"math"
	"sort"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/uq"
	"meltload/materials/num"
)

// end is a case with what is least known at one end.
type end struct {
	casefile.Case
	what string
}

// ends are the case at its corners: a coarse range, for answers too dear to sample.
func ends(c *casefile.Case) [2]end {
	var out [2]end
	for i, k := range assess.Corners(&c.Setup) {
		out[i] = end{*c, k.What}
		out[i].Setup = *k.Setup
	}
	return out
}

// each runs what at both ends at once.
func each(both *[2]end, what func(i int, e *end) error) error {
	return num.Parallel(len(both), func() func(i int) error { return func(i int) error { return what(i, &both[i]) } })
}

// sampler evaluates samples of one case on one goroutine.
type sampler struct {
	c    *casefile.Case
	us   []assess.Unknown
	base *march.Solver
	flow float64 // operating point, m3/s
	hint float64 // usable flow of the best estimate
	d    flow.Solution
	ms   []match.Margin
}

// outputs of a sample.
const (
	outUsable = iota
	outPush
	outPressure
	outMix
	outCentre
	outHeater
	outHeld
	outLimit
	outCount
)

func (s *sampler) eval(x []float64) []float64 {
	n := assess.Apply(&s.c.Setup, s.us, x)
	block := n.Block
	m := n.Matcher(s.base.For(&n.Case))
	out := make([]float64, outCount)
	room := func(q float64) float64 {
		var err error
		if s.ms, err = m.At(block, q, &s.d, s.ms); err != nil {
			return -1
		}
		return match.Worst(s.ms).Value
	}
	at := room(s.flow)
	d := &s.d
	out[outPush], out[outPressure], out[outMix], out[outCentre], out[outHeater] = d.Push, d.Pressure, d.ExitBulk, d.EntryCentre, d.Heater
	if at >= 0 {
		out[outHeld] = 1
	}
	q, limit := s.usable(room)
	out[outUsable] = q
	out[outLimit] = float64(limit.Index())
	return out
}

// usable finds the flow where the room to the nearest limit vanishes, walking out from the best
// estimate's own, to 1e-3.
func (s *sampler) usable(room func(q float64) float64) (float64, match.Limit) {
	lo, hi := s.c.Limits.MinFlow, s.c.Limits.MaxFlow
	q := math.Min(math.Max(s.hint, 1.01*lo), 0.99*hi)
	r := room(q)
	a, b := q, q
	for step := 1.25; r >= 0 && b < hi; step *= 1.3 {
		a = b
		b = math.Min(hi, b*step)
		r = room(b)
		if r >= 0 && b >= hi {
			return hi, ""
		}
	}
	for step := 1.25; room(a) < 0; step *= 1.3 {
		b = a
		a = math.Max(lo, a/step)
		if a <= lo && room(a) < 0 {
			return 0, match.Worst(s.ms).Limit
		}
	}
	x, err := num.Root(func(lq float64) float64 { return room(math.Exp(lq)) }, math.Log(a), math.Log(b), 1e-3)
	if err != nil {
		x = math.Log(a)
	}
	room(math.Exp(x))
	return math.Exp(x), match.Worst(s.ms).Limit
}

// Spread samples what is not known about the case and fills r.Range: low, best and
// high of the headline numbers, the probability that the wanted flow is held, and which unknown matters most.
// Only the marching solver is used. samples 0 takes the case's number. A cancelled context ends it with its error.
func (r *Result) Spread(ctx context.Context, c *casefile.Case, samples int, seed uint64, progress func(done float64)) error {
	if samples == 0 {
		samples = c.Samples
	}
	us := assess.Unknowns(&c.Setup)
	draws := uq.Draw(assess.Inputs(us), samples, seed)
	base := march.New(&c.Case, march.Options{})
	worker := func() func(x []float64) []float64 {
		s := &sampler{c: c, us: us, base: base.Clone().(*march.Solver), flow: r.Point.Flow, hint: math.Max(r.Verdict.Flow, c.Limits.MinFlow)}
		return s.eval
	}
	out, err := uq.Run(ctx, draws, worker, progress)
	if err != nil {
		return err
	}
	x := &Range{Samples: samples, Seed: seed}
	for j, to := range map[int]*Interval{outUsable: &x.Usable, outPush: &x.Push, outPressure: &x.Pressure, outMix: &x.ExitBulk, outCentre: &x.EntryCentre, outHeater: &x.Heater} {
		q := uq.Quantiles(uq.Column(out, j), 0.05, 0.5, 0.95)
		*to = Interval{Low: q[0], Best: q[1], High: q[2]}
	}
	usable := uq.Column(out, outUsable)
	held := 0.0
	for _, h := range uq.Column(out, outHeld) {
		held += h / float64(samples)
	}
	x.Probability = quantity.KnownIf(c.Target > 0, held)
	counts := map[int]float64{}
	for _, l := range uq.Column(out, outLimit) {
		counts[int(l)]++
	}
	for i, n := range counts {
		name := "none within the search"
		if i >= 0 {
			name = string(match.All()[i])
		}
		x.Limits = append(x.Limits, Share{name, n / float64(samples)})
	}
	sort.Slice(x.Limits, func(i, j int) bool { return x.Limits[i].Share > x.Limits[j].Share })
	// The tornado: one input at a time at its 5 and 95 per cent points, the others at their middle.
	f := worker()
	mid := assess.Middle(us)
	for j := range us {
		if us[j].Band.Known {
			continue
		}
		ends := [2]float64{}
		for k, p := range []float64{0.05, 0.95} {
			y := append([]float64(nil), mid...)
			y[j] = us[j].At(p)
			ends[k] = f(y)[outUsable]
		}
		x.Influences = append(x.Influences, Influence{us[j].Label, us[j].Band.Text, uq.RankCorrelation(uq.Column(draws, j), usable), ends[0], ends[1]})
	}
	sort.SliceStable(x.Influences, func(i, j int) bool {
		return math.Abs(x.Influences[i].High-x.Influences[i].Low) > math.Abs(x.Influences[j].High-x.Influences[j].Low)
	})
	r.Range, r.Samples, r.Seed = x, samples, seed
	r.Sentence += fmt.Sprintf(" Likely range: %s to %s (5 to 95 %% of %d samples).", quantity.Of("usable_flow").Number(x.Usable.Low), quantity.Text("usable_flow", x.Usable.High), samples)
	return nil
}

// between adds to the verdict the usable flow at the corners of what is not known: a coarse range where there is no time to sample.
func (r *Result) between(c *casefile.Case, base *march.Solver) {
	both := assess.Corners(&c.Setup)
	var usable [2]float64
	_ = num.Parallel(2, func() func(int) error {
		return func(i int) error { // a case that cannot be solved counts as no flow
			if f, err := both[i].Matcher(base.For(&both[i].Case)).Find(both[i].Block); err == nil {
				usable[i] = f.Flow
			}
			return nil
		}
	})
	r.Sentence += fmt.Sprintf(" Between %s (high viscosity, short heated length) and %s (low viscosity, long heated length).", quantity.Of("usable_flow").Number(usable[1]), quantity.Text("usable_flow", usable[0]))
}

// change is one step that a user could take.
type change struct {
	name string
	do   func(c *casefile.Case) bool // false if it does not apply
}

var changes = []change{
	{"block 10 K hotter", func(c *casefile.Case) bool { c.Block += 10; return c.Block < c.Material.Decomposition }},
	{"bore 0.1 mm wider", func(c *casefile.Case) bool {
		c.HotEnd.Rebore(c.HotEnd.Bore() + 0.1e-3)
		return true
	}},
	{"melt zone 5 mm longer", func(c *casefile.Case) bool {
		long := 0
		for i := range c.HotEnd.Sections {
			if c.HotEnd.Sections[i].Length > c.HotEnd.Sections[long].Length {
				long = i
			}
		}
		c.HotEnd.Sections[long].Length += 5e-3
		return true
	}},
	{"half the land length", func(c *casefile.Case) bool {
		s := &c.HotEnd.Sections[len(c.HotEnd.Sections)-1]
		s.Length /= 2
		return s.Shape == flow.Tube && len(c.HotEnd.Sections) > 1
	}},
	{"wall conductance doubled", func(c *casefile.Case) bool {
		for i := range c.HotEnd.Sections {
			c.HotEnd.Sections[i].H *= 2
		}
		return true
	}},
	{"heater 10 W stronger", func(c *casefile.Case) bool { c.HotEnd.Block.Power += 10; return c.HotEnd.Block.Power > 10 }},
	{"no path drag or bends", func(c *casefile.Case) bool {
		had := c.Path.Drag > 0 || c.Path.Bend > 0
		c.Path = flow.Path{}
		return had
	}},
	{"feeder 20 % stronger", func(c *casefile.Case) bool {
		f := *c.Feeder
		f.Points = append([]feeder.Point(nil), f.Points...)
		for i := range f.Points {
			f.Points[i].Force *= 1.2
		}
		n, err := feeder.New(f)
		if err != nil || len(f.Points) == 0 {
			return false
		}
		c.Feeder = n
		return true
	}},
	{"motor current 10 % higher", func(c *casefile.Case) bool {
		return remodel(c, func(m *feeder.Model) bool {
			if m.Motor == nil || m.Motor.Current*1.1 > m.Motor.Rated*math.Sqrt2 {
				return false
			}
			mot := *m.Motor
			mot.Current *= 1.1
			m.Motor = &mot
			return true
		})
	}},
	{"gear ratio 25 % higher", func(c *casefile.Case) bool {
		return remodel(c, func(m *feeder.Model) bool { m.Drive.Ratio *= 1.25; return m.Motor != nil })
	}},
	{"one more driven wheel", func(c *casefile.Case) bool {
		return remodel(c, func(m *feeder.Model) bool {
			if m.Grip == nil {
				return false
			}
			g := *m.Grip
			g.Wheels++
			m.Grip = &g
			return true
		})
	}},
	{"gap below the gear halved", func(c *casefile.Case) bool {
		return remodel(c, func(m *feeder.Model) bool {
			if m.Gap == nil {
				return false
			}
			g := *m.Gap
			g.Length /= 2
			m.Gap = &g
			return true
		})
	}},
}

// remodel changes the feeder's model; measured points no longer speak for it, so they are scaled by the model.
func remodel(c *casefile.Case, f func(m *feeder.Model) bool) bool {
	if c.Feeder.Model == nil {
		return false
	}
	m := *c.Feeder.Model
	if !f(&m) {
		return false
	}
	n := *c.Feeder
	n.Points = append([]feeder.Point(nil), n.Points...)
	for i, p := range n.Points {
		if base := c.Feeder.Model.At(p.Speed).Force; base > 0 {
			n.Points[i].Force *= m.At(p.Speed).Force / base
		}
	}
	n.Model = &m
	k, err := feeder.New(n)
	if err != nil {
		return false
	}
	c.Feeder = k
	return true
}

// copyCase copies a case so deep that changes do not reach the original.
func copyCase(c *casefile.Case) *casefile.Case {
	n := *c
	n.HotEnd.Sections = append([]flow.Section(nil), c.HotEnd.Sections...)
	mat := *c.Material
	n.Material = &mat
	return &n
}

// FindGains fills r.Gains: the usable flow after each single change that applies, largest gain first.
func (r *Result) FindGains(c *casefile.Case) error {
	base, err := NewSolver(r.Solver, &c.Case)
	if err != nil {
		return err
	}
	for _, x := range changes {
		n := copyCase(c)
		if !x.do(n) {
			continue
		}
		s := base
		if m, ok := base.(*march.Solver); ok {
			s = m.For(&n.Case)
		} else if s, err = NewSolver(r.Solver, &n.Case); err != nil {
			return err
		}
		f, err := n.Matcher(s).Find(n.Block)
		if err != nil {
			return err
		}
		l := string(f.Binding)
		if l == "" {
			l = "none within the search"
		}
		r.Gains = append(r.Gains, Gain{Change: x.name, Flow: f.Flow, Gain: f.Flow - r.Verdict.Flow, Limit: l})
	}
	sort.SliceStable(r.Gains, func(i, j int) bool { return r.Gains[i].Gain > r.Gains[j].Gain })
	return nil
}

// FindSetPoints fills the temperature to set at each flow so that the push stays under force
// (N), within the temperatures looked at, and the straight line between the two outermost points found.
func (r *Result) FindSetPoints(c *casefile.Case, force float64) error {
	s, err := NewSolver(r.Solver, &c.Case)
	if err != nil {
		return err
	}
	var d flow.Solution
	push := func(T, q float64) float64 {
		if s.Solve(T, q, &d) != nil {
			return math.Inf(1)
		}
		return d.Push
	}
	lo, hi := c.Temps[0], c.Temps[1]
	top := math.Max(r.Verdict.Flow, c.Target)
	if top <= c.Limits.MinFlow {
		return nil
	}
	const n = 12
	var fit []SetPoint
	for i := range n {
		q := top * 1.2 * float64(i+1) / n
		if q > c.Limits.MaxFlow {
			break
		}
		p := SetPoint{Flow: q}
		switch {
		case push(hi, q) > force:
			p.Note = fmt.Sprintf("above %s even at %s", quantity.Text("held_force", force), quantity.Text("best_block", hi))
		case push(lo, q) <= force:
			p.Block = quantity.Known(lo)
			p.Note = "any temperature of the range holds it"
		default:
			T, err := num.Root(func(T float64) float64 { return push(T, q) - force }, lo, hi, 0.02)
			if err != nil {
				return err
			}
			p.Block = quantity.Known(T)
			fit = append(fit, p)
		}
		r.SetPoints = append(r.SetPoints, p)
	}
	if len(fit) >= 2 {
		a, b := fit[0], fit[len(fit)-1]
		l := &SetLine{Force: force, Base: *a.Block, From: a.Flow, To: b.Flow, Slope: (*b.Block - *a.Block) / (b.Flow - a.Flow)}
		for _, p := range fit {
			l.Worst = math.Max(l.Worst, math.Abs(*p.Block-(l.Base+l.Slope*(p.Flow-l.From))))
		}
		r.SetLine = l
	}
	return nil
}
