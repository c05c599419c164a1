package benchplan

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// RampWish is what a plan of ramps to failure is for. Zero values take the defaults named.
type RampWish struct {
	Flows      []float64 // m3/s, 5 and 20 mm3/s
	Blocks     [2]float64
	StartShare float64 // load at the start over what the feeder is expected to hold at least, 0.4 (assumed)
	Confidence float64 // of the mean of repeats, 0.95
	// standard deviation of single failures as a share of the force where the feeder has no repeats, 0.05 (assumed)
	Scatter   float64
	HalfWidth float64 // wanted half-width of the confidence interval, as a share, 0.10
	CellMax   float64 // N, full scale of the load cell, 0 if not given
	MountMax  float64 // N, push that the mount may see; 0 for the limit of the set-up
	Longest   float64 // s of cooling after which a ramp is given up, 900
}

func (w *RampWish) defaults() {
	for _, x := range []struct {
		to *float64
		d  float64
	}{{&w.StartShare, 0.4}, {&w.Confidence, 0.95}, {&w.Scatter, 0.05}, {&w.HalfWidth, 0.10}, {&w.Longest, 900}} {
		if *x.to == 0 {
			*x.to = x.d
		}
	}
	if len(w.Flows) == 0 {
		w.Flows = []float64{5e-9, 20e-9}
	}
}

// Reserve is the share of a cell's full scale that is kept free above the highest predicted force.
const Reserve = 0.25

// RampTrace is a ramp played with one set of assumptions: time 0 is when the heater goes off.
type RampTrace struct {
	What     string
	Time     []float64 // s, negative while the block is held
	Force    []float64 // N
	Block    []float64 // K
	Failed   bool
	At       float64 // s after the heater went off, to the failure or the end; negative before that
	FailTemp float64 // K, block at that time
	Push     float64 // N at that time
	Cause    feeder.Cause
}

// Ramp is one feed of the plan: hold at Start and feed until the force is steady, heater off, feed on until the
// feeder gives way.
type Ramp struct {
	Flow         float64 // m3/s
	Speed        float64 // m/s of filament
	Start        float64 // K, block while held
	Soak         float64 // s at Start before feeding
	Settle       float64 // s of feeding at Start before the heater goes off
	StartForce   float64 // N
	Expected     RampTrace
	Early, Late  RampTrace // highest load and weak feeder; lowest load and strong feeder
	Hold         [3]float64
	Cause        feeder.Cause
	Extrapolated bool    // what the feeder holds is not measured at this feed
	Filament     float64 // m of one ramp, up to the latest failure
	Notes        []string
	found        []materials.Warning
}

// RampPlan is the result.
type RampPlan struct {
	Wish     RampWish
	Ramps    []Ramp
	Repeats  int
	Scatter  float64 // share, taken from the feeder where it has repeats
	Measured bool    // the scatter is the feeder's own
	Cell     float64 // N, full scale needed
	Stop     float64 // N at which to end a run by hand or by program
	StopWhy  string
	Highest  float64 // N, the highest predicted force
	Filament float64 // m, all repeats
	Time     float64 // s, all repeats, cooling and heating again included
	Checks   []Check
	Found    []materials.Bearer // the warnings of each ramp
	Ending   string
}

// Ramps plans pushes to failure: for each feed a start temperature at which the feeder is safe, then heater off. The
// force rises as the block cools until it meets what the feeder holds. Played three times: as expected; with the
// corner of the highest load (assess.Corners) against the feeder at two standard deviations below its force; with the
// corner of the lowest load against two above. Errors: strict.Problems of a set-up that cannot be computed, a flow that
// is not above 0, a solver that fails, a cancelled context.
func Ramps(ctx context.Context, set *setup.Setup, w RampWish) (*RampPlan, error) {
	if err := set.Validate(); err != nil {
		return nil, err
	}
	c, f, corners := &set.Case, set.Feeder, assess.Corners(set)
	w.defaults()
	if w.MountMax == 0 {
		w.MountMax = set.Limits.MountMax
	}
	if w.Blocks == ([2]float64{}) {
		w.Blocks = c.Material.Window
	}
	p := &RampPlan{Wish: w}
	p.scatter(f)
	p.Repeats = loadcell.Repeats(p.Scatter, w.HalfWidth, w.Confidence)
	for _, q := range w.Flows {
		if !(q > 0) {
			return nil, fmt.Errorf("benchplan: a ramp at %g mm3/s; more than 0 is needed", q/unit.MM3)
		}
		r, err := p.ramp(ctx, c, f, &corners, q)
		if err != nil {
			return nil, err
		}
		p.Ramps = append(p.Ramps, *r)
		p.Found = append(p.Found, materials.Bearer{Name: fmt.Sprintf("%.3g mm3/s", q/unit.MM3), Warnings: r.found})
	}
	p.finish(c)
	return p, nil
}

// scatter takes the scatter of single failures from the feeder's repeats, pooled, or from the wish.
func (p *RampPlan) scatter(f *feeder.Feeder) {
	p.Scatter = p.Wish.Scatter
	if s := f.Scatter(); s.Freedom > 0 {
		p.Scatter, p.Measured = s.Share, true
	}
}

// ramp plans one feed.
func (p *RampPlan) ramp(ctx context.Context, c *flow.Case, f *feeder.Feeder, corners *[2]assess.Corner,
	q float64) (*Ramp, error) {
	w, easy, hard := p.Wish, &corners[0], &corners[1]
	r := &Ramp{Flow: q, Speed: q / c.Area()}
	k := f.At(r.Speed)
	r.Hold = holds(k, p.Scatter)
	r.Cause, r.Extrapolated = k.Cause, k.Extrapolated
	r.found = f.Warnings(r.Speed)
	if err := r.start(c, &hard.Case, w); err != nil {
		return nil, err
	}
	settle, err := settling(ctx, c, r.Start, q)
	if err != nil {
		return nil, err
	}
	r.Settle = feeding(settle)
	r.Soak = math.Ceil(math.Max(30, soak(c, r.Start)))
	for i, x := range []struct {
		to   *RampTrace
		what string
		c    *flow.Case
		hold float64
	}{{&r.Early, hard.What + ", feeder weak", &hard.Case, r.Hold[0]}, {&r.Expected, "expected", c, r.Hold[1]},
		{&r.Late, easy.What + ", feeder strong", &easy.Case, r.Hold[2]}} {
		g := f.Clone()
		if g.Factor == 0 {
			g.Factor = 1
		}
		g.Factor *= x.hold / k.Force
		if *x.to, err = p.play(ctx, x.c, g, r, i == 1); err != nil {
			return nil, err
		}
		x.to.What = x.what
	}
	r.Filament = (r.Settle + math.Max(r.Expected.At, r.Late.At)) * q / c.Area()
	r.remarks(c)
	return r, nil
}

// holds is what a feeder holds (N): two standard deviations below, as expected, and two above, by the wider of its own
// scatter at this feed and that of single failures (a share). A tenth of the force is held in any case.
func holds(k feeder.Capability, scatter float64) [3]float64 {
	wide := math.Max(k.SD/k.Force, scatter)
	return [3]float64{k.Force * math.Max(0.1, 1-2*wide), k.Force, k.Force * (1 + 2*wide)}
}

// warnOfLoad keeps the first warning of each kind: every section would bring its own. A block below the processing
// window, and in the end below the flow point, is what a ramp is for; a remark says where it fails below the latter.
func (r *Ramp) warnOfLoad(x materials.Warning) {
	if x.Code == "below-window" || x.Code == "block-below-flow-point" || materials.Warned(r.found, x.Code) {
		return
	}
	r.found = append(r.found, x)
}

// soak is the time (s) at T (K) in which the slowest mode of a rod in the widest section dies to 1 %: ln(100)/5.783 of
// R^2/alpha, 5.783 the square of the first root of J0.
func soak(c *flow.Case, T float64) float64 {
	widest := 0.0
	for i := range c.HotEnd.Sections {
		widest = math.Max(widest, c.HotEnd.Sections[i].D1/2)
	}
	m := c.Material
	alpha := m.Conductivity.At(T) / (m.Density.Melt * m.Heat.Capacity(T))
	return math.Log(100) / 5.783 * widest * widest / alpha
}

// start chooses the block temperature: in whole degrees, the coldest at which even the highest predicted load stays
// at StartShare of the least that the feeder holds.
func (r *Ramp) start(c, hard *flow.Case, w RampWish) error {
	s := march.New(hard, march.Options{})
	var d flow.Solution
	want := w.StartShare * r.Hold[0]
	var failed error
	over := func(T float64) float64 {
		if err := s.Solve(T, r.Flow, &d); err != nil {
			failed = err
			return math.NaN()
		}
		return math.Log(d.Push / want)
	}
	hot, cold := over(w.Blocks[1]), over(w.Blocks[0])
	if failed != nil {
		return failed
	}
	T := w.Blocks[1]
	switch {
	case hot > 0:
		r.Notes = append(r.Notes,
			fmt.Sprintf("even at %.0f degC, the hottest block looked at, the high viscosity loads the weak feeder to "+
				"%.0f %%: feed slower, or take a wider bore",
				unit.Celsius(T), 100*w.StartShare*math.Exp(hot)))
	case cold <= 0:
		T = w.Blocks[0]
	default:
		var err error
		if T, err = num.Root(over, w.Blocks[0], w.Blocks[1], 0.05); err != nil {
			return err
		}
		T = math.Min(w.Blocks[1], unit.Kelvin(math.Ceil(unit.Celsius(T))))
	}
	r.Start = T
	base := march.New(c, march.Options{})
	if err := base.Solve(T, r.Flow, &d); err != nil {
		return err
	}
	r.StartForce = d.Push
	return nil
}

// play runs a ramp against a feeder and keeps the trace with time 0 at heater off.
func (p *RampPlan) play(ctx context.Context, c *flow.Case, f *feeder.Feeder, r *Ramp, warn bool) (RampTrace, error) {
	run := transient.Run{Case: c, Feeder: f, Block: r.Start, Stop: true, Phases: []transient.Phase{
		{Name: "feed", Duration: r.Settle, Flow: r.Flow}, {Name: "heater off", Duration: p.Wish.Longest, Flow: r.Flow,
			Heating: transient.Off}}}
	t, err := run.Play(ctx)
	if err != nil {
		return RampTrace{}, err
	}
	if warn {
		for _, x := range t.Warnings() {
			r.warnOfLoad(x)
		}
	}
	out := RampTrace{}
	for _, x := range t.Samples {
		out.Time = append(out.Time, x.Time-r.Settle)
		out.Force = append(out.Force, x.Force)
		out.Block = append(out.Block, x.Block)
	}
	last := t.Samples[len(t.Samples)-1]
	out.At, out.FailTemp, out.Push = last.Time-r.Settle, last.Block, last.Force
	if x := t.Failure; x != nil {
		out.Failed, out.At, out.FailTemp, out.Push, out.Cause = true, x.Time-r.Settle, x.Block, x.Force, x.Cause
	}
	return out, nil
}

// remarks says what a ramp cannot do.
func (r *Ramp) remarks(c *flow.Case) {
	if !r.Expected.Failed {
		r.Notes = append(r.Notes,
			fmt.Sprintf("the feeder is not brought to failure: %.0f N of %.0f N after %.0f s at %.0f degC; feed "+
				"faster, or take a narrower bore",
				r.Expected.Push, r.Hold[1], r.Expected.At, unit.Celsius(r.Expected.FailTemp)))
	}
	const before = "%s the feeder fails %.0f s before the heater is off, at %.0f N, so that this is no ramp: feed " +
		"slower, take a wider bore, or allow a hotter block"
	if e := &r.Expected; e.Failed && e.At < 0 {
		r.Notes = append(r.Notes, fmt.Sprintf(before, "as expected,", -e.At, e.Push))
	} else if e := &r.Early; e.Failed && e.At < 0 {
		r.Notes = append(r.Notes, fmt.Sprintf(before, "with a high load and a weak feeder,", -e.At, e.Push))
	}
	if tf := c.Material.FlowPoint(); r.Expected.Failed && r.Expected.FailTemp < tf {
		r.Notes = append(r.Notes,
			fmt.Sprintf("the failure comes below the flow point of %.0f degC, where the load depends on the strength "+
				"of unmelted stock", unit.Celsius(tf)))
	}
	if c.HotEnd.Block.Loss == 0 {
		r.Notes = append(r.Notes,
			"no heat loss is given (hot_end.loss_W_K): the block is cooled by the melt alone and the real ramp is "+
				"faster")
	}
	if r.Extrapolated {
		r.Notes = append(r.Notes, "what the feeder holds is extrapolated to this feed")
	}
}

// finish fills in what all ramps share: highest force, cell, force to stop at, totals and checks.
func (p *RampPlan) finish(c *flow.Case) {
	w := p.Wish
	for _, r := range p.Ramps {
		for _, t := range []RampTrace{r.Early, r.Expected, r.Late} {
			p.Highest = math.Max(p.Highest, t.Push)
			for _, x := range t.Force {
				p.Highest = math.Max(p.Highest, x)
			}
		}
		p.Highest = math.Max(p.Highest, r.Hold[2])
		n := float64(p.Repeats)
		p.Filament += n * r.Filament
		p.Time += n * (r.Soak + r.Settle + math.Max(r.Expected.At, r.Late.At) + blockTime(c, r.Expected.FailTemp,
			r.Start))
	}
	p.Cell = p.Highest * (1 + Reserve)
	p.Stop, p.StopWhy = 1.1*p.Highest, "a tenth above the highest predicted force: something has jammed"
	if w.CellMax > 0 && w.CellMax/(1+Reserve) < p.Stop {
		p.Stop, p.StopWhy = w.CellMax/(1+Reserve), "the load cell: a quarter of its range stays in reserve"
	}
	if w.MountMax > 0 && w.MountMax < p.Stop {
		p.Stop, p.StopWhy = w.MountMax, "the mount (limits.mount_max_N)"
	}
	add := func(name string, ok bool, format string, a ...any) {
		p.Checks = append(p.Checks, Check{name, ok, fmt.Sprintf(format, a...)})
	}
	p.Checks = append(p.Checks, cellCheck(w.CellMax, p.Highest))
	for _, r := range p.Ramps {
		add(fmt.Sprintf("failure within reach at %.3g mm3/s", r.Flow/unit.MM3),
			r.Expected.Failed && r.Expected.At >= 0 && r.Hold[2] <= p.Stop,
			"failure expected at %.0f N (%.0f to %.0f), stop at %.0f N", r.Hold[1], r.Hold[0], r.Hold[2], p.Stop)
	}
	from := "assumed"
	if p.Measured {
		from = "from the feeder's repeats"
	}
	add("repeats", p.Repeats <= 6,
		"%d ramps of each feed give the mean within %.0f %% at %.0f %% confidence, for a scatter of %.0f %% (%s; GUM "+
			"type A)", p.Repeats, 100*w.HalfWidth, 100*w.Confidence, 100*p.Scatter, from)
	p.Ending = "At failure: stop the feed at once, heat to the start temperature, retract and cut the filament " +
		"behind the notch before the next ramp. At the end: heater off, force down to zero, filament retracted while " +
		"soft, and wait until the block is below 60 degC before touching anything."
}
