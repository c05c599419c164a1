// Package benchplan designs a bench test: which block temperatures make the load
// span the wanted forces at each test speed, in which order, with which soaks,
// holds and repeats, and whether cell, logger and filament suffice.
package benchplan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// Wish is what the plan is for. Zero values take the defaults named.
type Wish struct {
	Low, High  float64   // N, wanted range of push force at the feeder
	Levels     int       // force levels, 5
	Flows      []float64 // m3/s, 5 and 20 mm3/s
	Blocks     [2]float64
	Confidence float64 // of the mean of repeats, 0.95
	Scatter    float64 // standard deviation of single tests as a share of the force, 0.05 (assumed)
	HalfWidth  float64 // wanted half-width of the confidence interval, as a share, 0.10
	CellMax    float64 // N, full scale of the load cell, 0 if not given
	CellStep   float64 // N, smallest step the logger shows, 0 if not given
	Rate       float64 // Hz, 10
	FullSteps  int     // motor steps a turn, 200
	GearTeeth  int     // teeth of the drive wheel, 0 if not known
}

func (w *Wish) defaults() {
	set := func(x *float64, d float64) {
		if *x == 0 {
			*x = d
		}
	}
	if w.Levels == 0 {
		w.Levels = 5
	}
	if len(w.Flows) == 0 {
		w.Flows = []float64{5e-9, 20e-9}
	}
	set(&w.Confidence, 0.95)
	set(&w.Scatter, 0.05)
	set(&w.HalfWidth, 0.10)
	set(&w.Rate, 10)
	if w.FullSteps == 0 {
		w.FullSteps = 200
	}
}

// Run is one push of the plan.
type Run struct {
	Number int
	Repeat int     // 1, 2, ...
	Flow   float64 // m3/s
	Block  float64 // K
	Want   float64 // N, the level aimed at
	Force  float64 // N, predicted steady push
	// N, the same at the corners of what is not known (assess.Corners)
	Low, High float64
	Soak      float64 // s before feeding
	Purge     float64 // m3 fed and thrown away
	Hold      float64 // s of feeding that is read
	Filament  float64 // m
}

// Check is a question about the rig, answered.
type Check struct {
	Name string
	OK   bool
	Text string
}

// Span is what the temperatures can do at one flow.
type Span struct {
	Flow        float64
	Least, Most float64 // N, at the hottest and the coldest block
	Reaches     bool
	Advice      string
	Settling    float64 // s to 95 % of the steady force, from the transient
}

// Plan is the result.
type Plan struct {
	Wish      Wish
	Settings  int // of flow and block temperature
	Repeats   int // of each
	Runs      []Run
	Spans     []Span
	Checks    []Check
	Filament  float64 // m in all
	Time      float64 // s in all
	Trace     *transient.Trace
	TraceText string
	Found     []materials.Bearer // the warnings of each setting of flow and block temperature
	Ending    string
}

// New makes the plan for a set-up. Its feeder is the one under test: what it is expected to hold bounds the check of
// the cell. Errors: strict.Problems of a set-up that cannot be computed; a range of forces, a span of block
// temperatures or a number of levels that is none; a cancelled context.
func New(ctx context.Context, set *setup.Setup, w Wish) (*Plan, error) {
	if err := set.Validate(); err != nil {
		return nil, err
	}
	c, f := &set.Case, set.Feeder
	w.defaults()
	if !(w.High > w.Low && w.Low > 0) {
		return nil, fmt.Errorf("benchplan: forces from %.3g to %.3g N; a low end above 0 and a higher high end are "+
			"needed", w.Low, w.High)
	}
	if w.Blocks == ([2]float64{}) {
		w.Blocks = c.Material.Window
	}
	if w.Levels < 2 {
		return nil, fmt.Errorf("benchplan: %d force levels; 2 or more are needed", w.Levels)
	}
	p := &Plan{Wish: w, Repeats: loadcell.Repeats(w.Scatter, w.HalfWidth, w.Confidence)}
	levels, err := p.levels(ctx, set)
	if err != nil {
		return nil, err
	}
	p.schedule(c, levels)
	p.checks(c, f)
	return p, p.predict(ctx, c)
}

// level is a setting of the bench: a flow and the block temperature at which the load is as wanted.
type level struct {
	q, T, want       float64 // m3/s, K, N
	force, low, high float64 // N, as the set-up stands and at the corners of what is not known
}

// levels finds the settings whose loads step evenly through the wanted range at each flow. Levels that come to the same
// whole degree are one.
func (p *Plan) levels(ctx context.Context, set *setup.Setup) ([]level, error) {
	c, w := &set.Case, p.Wish
	var d flow.Solution
	pushOf := func(c *flow.Case) func(T, q float64) float64 {
		s := march.New(c, march.Options{})
		return func(T, q float64) float64 {
			if s.Solve(T, q, &d) != nil {
				return math.NaN()
			}
			return d.Push
		}
	}
	corners := assess.Corners(set)
	push, low, high := pushOf(c), pushOf(&corners[0].Case), pushOf(&corners[1].Case)
	var out []level
	for _, q := range w.Flows {
		sp := Span{Flow: q, Least: push(w.Blocks[1], q), Most: push(w.Blocks[0], q)}
		sp.Reaches = sp.Least <= w.Low && sp.Most >= w.High
		sp.Advice = advice(set, q, sp, w)
		lo, hi := math.Max(w.Low, sp.Least), math.Min(w.High, sp.Most)
		if hi <= lo {
			lo, hi = sp.Least, sp.Most
		}
		t, err := settling(ctx, c, (w.Blocks[0]+w.Blocks[1])/2, q)
		if err != nil {
			return nil, err
		}
		sp.Settling = t
		p.Spans = append(p.Spans, sp)
		first := len(out)
		for k := range w.Levels {
			want := lo + (hi-lo)*float64(k)/float64(w.Levels-1)
			T := w.Blocks[1]
			if want > sp.Least {
				T, err = num.Root(func(T float64) float64 { return push(T, q) - want }, w.Blocks[0], w.Blocks[1], 0.05)
				if err != nil {
					T = w.Blocks[0]
				}
			}
			T = unit.Kelvin(math.Round(unit.Celsius(T))) // set points are whole degrees
			T = math.Min(w.Blocks[1], math.Max(w.Blocks[0], T))
			if slices.ContainsFunc(out[first:], func(l level) bool { return l.T == T }) {
				continue
			}
			out = append(out, level{q: q, T: T, want: want, force: push(T, q)})
			p.Found = append(p.Found, materials.Bearer{Warnings: c.Warnings(&d),
				Name: fmt.Sprintf("%.3g mm3/s at %.0f degC", q/unit.MM3, unit.Celsius(T))})
		}
	}
	for i := range out {
		l := &out[i]
		l.low, l.high = low(l.T, l.q), high(l.T, l.q)
		if math.IsNaN(l.force + l.low + l.high) {
			return nil, fmt.Errorf("benchplan: the load at %.0f degC and %.3g mm3/s has no solution",
				unit.Celsius(l.T), l.q/unit.MM3)
		}
	}
	p.Settings = len(out)
	return out, nil
}

// schedule puts the runs in order: from hot to cold, so that stock of the run before is the easier to push out; every
// second repeat runs the other way, so that drift does not pass for an effect of temperature.
func (p *Plan) schedule(c *flow.Case, levels []level) {
	volume, melt := c.HotEnd.Volume(), soak(c, p.Wish.Blocks[0])
	order := slices.Clone(levels)
	slices.SortStableFunc(order, func(a, b level) int { return cmp.Compare(b.T, a.T) })
	at := p.Wish.Blocks[1]
	for rep := 1; rep <= p.Repeats; rep++ {
		for i := range order {
			l := order[i]
			if rep%2 == 0 {
				l = order[len(order)-1-i]
			}
			r := Run{Number: len(p.Runs) + 1, Repeat: rep, Flow: l.q, Block: l.T, Want: l.want, Force: l.force,
				Low: l.low, High: l.high, Purge: 2 * volume}
			r.Soak = math.Ceil(melt + blockTime(c, at, l.T))
			for _, sp := range p.Spans {
				if sp.Flow == l.q {
					r.Hold = feeding(sp.Settling)
				}
			}
			r.Filament = (r.Purge + r.Hold*l.q) / c.Area()
			p.Filament += r.Filament
			p.Time += r.Soak + r.Purge/l.q + r.Hold
			p.Runs = append(p.Runs, r)
			at = l.T
		}
	}
}

// feeding is how long (s) stock is fed where the force settles within a time (s): twice that, 10 s at least.
func feeding(settling float64) float64 { return math.Ceil(math.Max(10, 2*settling)) }

// blockTime returns the time (s) for the block to change temperature: heated at full power, or cooled by its losses.
func blockTime(c *flow.Case, from, to float64) float64 {
	b := c.HotEnd.Block
	if to > from {
		if b.Power == 0 {
			return 60
		}
		t := b.WarmUp(from, to)
		return math.Min(t, 600)
	}
	if from-to < 0.5 || b.Loss == 0 || to <= b.Ambient {
		return 0
	}
	return b.Capacity / b.Loss * math.Log((from-b.Ambient)/(to-b.Ambient))
}

// settling returns the time (s) after which a feed from the soaked state stays within 5 % of its steady force.
func settling(ctx context.Context, c *flow.Case, block, q float64) (float64, error) {
	stay := c.HotEnd.Volume() / q
	cc := *c
	cc.HotEnd.Block.Power = 0 // an ideal heater: the plan assumes a held block
	run := transient.Run{Case: &cc, Block: block, Phases: []transient.Phase{{Duration: 6 * stay, Flow: q}}}
	tr, err := run.Play(ctx)
	if err != nil {
		return 0, err
	}
	last := tr.Samples[len(tr.Samples)-1].Force
	t := 0.0
	for _, x := range tr.Samples {
		if math.Abs(x.Force/last-1) > 0.05 {
			t = x.Time
		}
	}
	return t, nil
}

// advice says what could span the range where temperature alone cannot.
func advice(set *setup.Setup, q float64, sp Span, w Wish) string {
	if sp.Reaches {
		return ""
	}
	var s string
	bore := set.HotEnd.Bore()
	base := march.New(&set.Case, march.Options{})
	change, ok := vary.Find(set, string(vary.Bore))
	if !ok {
		return "temperature alone does not span the range"
	}
	with := func(b, T float64) float64 {
		n, err := change.With(set, b)
		var d flow.Solution
		if err != nil || base.For(&n.Case).Solve(T, q, &d) != nil {
			return math.NaN()
		}
		return d.Push
	}
	find := func(T, want float64) (float64, bool) {
		b, err := num.Root(func(b float64) float64 { return math.Log(with(b, T) / want) }, 0.15e-3,
			math.Max(1.5e-3, 1.01*bore), 0.005e-3)
		return b, err == nil
	}
	if sp.Most < w.High {
		s = fmt.Sprintf("at the coldest block the load reaches only %.0f N", sp.Most)
		if b, ok := find(w.Blocks[0], w.High); ok {
			s += fmt.Sprintf("; a bore of %.2f mm would reach %.0f N", b/unit.MM, w.High)
		} else {
			s += "; no bore does it at this flow: raise the flow"
		}
	}
	if sp.Least > w.Low {
		if s != "" {
			s += "; "
		}
		s += fmt.Sprintf("at the hottest block the load is still %.0f N", sp.Least)
		if b, ok := find(w.Blocks[1], w.Low); ok {
			s += fmt.Sprintf("; a bore of %.2f mm would go down to %.0f N", b/unit.MM, w.Low)
		} else {
			s += "; no bore does it at this flow: lower the flow"
		}
	}
	return s
}

// cellCheck holds the full scale of a cell (N, 0 if not given) against the highest predicted force (N).
func cellCheck(full, top float64) Check {
	need := (1 + Reserve) * top
	if full == 0 {
		return Check{"load cell range", false, fmt.Sprintf(
			"full scale not given: %.0f N (%.1f kgf) are needed for a highest force of %.0f N and a quarter in "+
				"reserve. A 5 kg cell is only 49 N", need, need/unit.KGF, top)}
	}
	return Check{"load cell range", full >= need, fmt.Sprintf(
		"%.0f N full scale (%.1f kgf) against a highest force of %.0f N; with a quarter in reserve %.0f N (%.1f kgf) "+
			"are needed. A 5 kg cell is only 49 N", full, full/unit.KGF, top, need, need/unit.KGF)}
}

func (p *Plan) checks(c *flow.Case, f *feeder.Feeder) {
	w := p.Wish
	add := func(name string, ok bool, format string, a ...any) {
		p.Checks = append(p.Checks, Check{name, ok, fmt.Sprintf(format, a...)})
	}
	top := w.High
	for _, r := range p.Runs {
		top = math.Max(top, math.Max(r.Force, r.High))
	}
	for _, q := range w.Flows {
		top = math.Max(top, f.At(q/c.Area()).Force)
	}
	p.Checks = append(p.Checks, cellCheck(w.CellMax, top))
	step := (w.High - w.Low) / float64(w.Levels-1)
	if w.CellStep > 0 {
		add("load cell resolution", w.CellStep <= step/20,
			"steps of %.2g N against levels %.1f N apart; a twentieth is wanted", w.CellStep, step)
	}
	add("repeats", p.Repeats <= 6,
		"%d runs of each level give the mean within %.0f %% at %.0f %% confidence, for a scatter of %.0f %% (GUM type "+
			"A)", p.Repeats, 100*w.HalfWidth, 100*w.Confidence, 100*w.Scatter)
	fastest := 0.0
	for _, q := range w.Flows {
		fastest = math.Max(fastest, q)
	}
	v := fastest / c.Area()
	perTurn := math.Pi * 8e-3
	if f.Model != nil && f.Model.Drive.Diameter > 0 {
		perTurn = f.Model.Drive.FeedPerTurn()
	}
	steps := v / perTurn * float64(w.FullSteps)
	p.nyquist("step ripple", steps, add)
	// A stalled motor falls back at most once in an electrical cycle, four full steps.
	p.nyquist("skipping", steps/4, add)
	if w.GearTeeth > 0 {
		wheel := math.Pi * 8e-3
		if f.Model != nil && f.Model.Drive.Diameter > 0 {
			wheel = math.Pi * f.Model.Drive.Diameter
		}
		p.nyquist("tooth ripple", v/wheel*float64(w.GearTeeth), add)
	}
	need := 5.0 // samples in the second around a failure
	add("sampling of the peak", w.Rate >= need,
		"%.0f Hz; the force of a grinding feeder falls within a second: at least %.0f Hz, 80 Hz to see its shape",
		w.Rate, need)
	for _, sp := range p.Spans {
		text := fmt.Sprintf("%.0f to %.0f N at %.3g mm3/s from %.0f to %.0f degC", sp.Least, sp.Most, sp.Flow/unit.MM3,
			unit.Celsius(w.Blocks[1]), unit.Celsius(w.Blocks[0]))
		if sp.Advice != "" {
			text += ": " + sp.Advice
		}
		add("range of forces", sp.Reaches, "%s", text)
	}
	p.Ending = "At the end: heater off or to the lowest safe set point, force down to zero, filament retracted while " +
		"soft, and wait until the block is below 60 degC before touching anything."
}

func (p *Plan) nyquist(name string, f float64, add func(name string, ok bool, format string, a ...any)) {
	half := p.Wish.Rate / 2
	if f < half {
		add(name, true,
			"%.3g Hz at the fastest feed, below half the sampling rate of %.3g Hz: it will be seen as it is", f,
			p.Wish.Rate)
		return
	}
	add(name, false, "%.3g Hz at the fastest feed, above half the sampling rate: the log shows it as %.3g Hz (alias); "+
		"sample at %.0f Hz or more, or do not take that for a slow change of force", f, loadcell.Alias(f,
		p.Wish.Rate), math.Ceil(2.5*f))
}

// predict plays the hardest run: soaked start to the end of the hold.
func (p *Plan) predict(ctx context.Context, c *flow.Case) error {
	hard := p.Runs[0]
	for _, r := range p.Runs {
		if r.Force > hard.Force {
			hard = r
		}
	}
	run := transient.Run{Case: c, Block: hard.Block,
		Phases: []transient.Phase{{Name: "feed", Duration: hard.Purge/hard.Flow + hard.Hold, Flow: hard.Flow}}}
	tr, err := run.Play(ctx)
	if err != nil {
		return err
	}
	p.Trace = tr
	p.TraceText = fmt.Sprintf("predicted trace of the hardest run: %.3g mm3/s at %.0f degC", hard.Flow/unit.MM3,
		unit.Celsius(hard.Block))
	return nil
}
