package study

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/lumped"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials/num"
)

// Options choose what a run computes.
type Options struct {
	Solver   string // "marching" (default) or "lumped"
	Curve    int    // points of a load curve, default 33
	Here     bool   // the load curve at the block temperature alone
	MapTemps int    // rows of the operating map, default 25
	MapFlows int    // columns, default 40
}

// Solvers lists the names that Options.Solver takes.
var Solvers = []string{"marching", "lumped"}

// NewSolver makes a solver by name.
func NewSolver(name string, c *flow.Case) (flow.Solver, error) {
	switch name {
	case "", "marching":
		return march.New(c, march.Options{}), nil
	case "lumped":
		return lumped.New(c), nil
	}
	return nil, fmt.Errorf("study: no solver %q; there are %v", name, Solvers)
}

// Glance computes what one block temperature tells: verdict, limits, operating point, melt zone and load curves. The
// command line is left to the caller.
func Glance(c *setup.Setup, opt Options) (*Result, error) {
	r, _, err := glance(c, opt)
	return r, err
}

// Run is Glance and the view over all block temperatures of the case.
func Run(c *setup.Setup, opt Options) (*Result, error) {
	if opt.MapTemps == 0 {
		opt.MapTemps, opt.MapFlows = 25, 40
	}
	r, m, err := glance(c, opt)
	if err != nil {
		return nil, err
	}
	if err := r.temperatures(c, m, opt); err != nil {
		return nil, err
	}
	r.count(m.Solver)
	return r, nil
}

func glance(c *setup.Setup, opt Options) (*Result, *match.Matcher, error) {
	if err := c.Validate(); err != nil {
		return nil, nil, err
	}
	s, err := NewSolver(opt.Solver, &c.Case)
	if err != nil {
		return nil, nil, err
	}
	m := c.Matcher(s)
	found, err := m.Find(c.Block)
	if err != nil {
		return nil, nil, err
	}
	r := &Result{Header: headerOf(c, c.Title)}
	r.Solver, r.solver, r.found = s.Name(), s, found
	r.verdict(c, found)
	r.bounds(c, found)
	if err := r.point(c, m, found); err != nil {
		return nil, nil, err
	}
	if opt.Curve == 0 {
		opt.Curve = 33
	}
	if opt.Here {
		r.curveHere(c, found, opt.Curve)
	} else if err := r.curves(c, s, opt.Curve); err != nil {
		return nil, nil, err
	}
	r.count(s)
	return r, m, nil
}

// count notes how many solutions the answer took so far.
func (r *Result) count(s flow.Solver) {
	if n, ok := s.(interface{ Solves() int }); ok {
		r.Stats.Solves = n.Solves()
	}
	if r.chart != nil {
		r.Stats.Read, _ = r.chart.Read()
	}
}

func (r *Result) verdict(c *setup.Setup, f *match.Result) {
	v := &r.Verdict
	v.Flow = f.Flow
	v.Limit, v.Meaning = string(f.Binding), f.Binding.Meaning()
	if n, ok := f.Next(); ok {
		v.Next, v.NextFlow = string(n.Limit), quantity.Known(n.Flow)
	}
	if b := f.Pushed(); b.Limit != "" {
		v.Pushed = quantity.Known(b.Flow)
	}
	if b := f.MeltsThrough(); b.Limit != "" && !b.Open {
		v.Melted = quantity.Known(b.Flow)
	}
	v.LowFlow = quantity.KnownIf(f.LowFlow > 0, f.LowFlow)
	v.Target = quantity.KnownIf(c.Target > 0, c.Target)
	v.Held = c.Target > 0 && f.Flow >= c.Target
	v.Margin = quantity.KnownIf(c.Target > 0, f.Flow/c.Target-1)
	v.Printed = printed(c, v)
	r.Sentence = sentence(v, f.Block, c.Area())
	r.Good = v.Held || c.Target == 0 && v.Flow > 0
}

func sentence(v *Verdict, block, area float64) string {
	at := quantity.Of("best_block").Text(block)
	usable := quantity.Of("usable_flow")
	var s string
	switch {
	case v.Flow == 0:
		s = fmt.Sprintf("At %s no flow is usable: %s.", at, v.Limit)
	case v.Limit == "":
		s = fmt.Sprintf("At %s nothing limits the flow up to %s, the end of the search.", at, usable.Text(v.Flow))
	default:
		speed, _ := usable.Second(area)
		s = fmt.Sprintf("At %s the highest usable flow is %s (%s of filament), limited by %s.", at, usable.Text(v.Flow),
			speed.Text(v.Flow), v.Limit)
	}
	if v.Target != nil {
		wanted, margin := quantity.Text("target_flow", *v.Target), quantity.Of("margin")
		switch {
		case v.Judged != "" && v.Held:
			s += fmt.Sprintf(" The wanted flow of %s: %s, with a margin of %s.", wanted, v.Judged,
				margin.Text(*v.Margin))
		case v.Judged != "":
			s += fmt.Sprintf(" The wanted flow of %s: %s, the usable flow is %s lower.", wanted, v.Judged,
				margin.Text(-*v.Margin))
		case v.Held:
			s += fmt.Sprintf(" The wanted flow of %s is held with a margin of %s.", wanted, margin.Text(*v.Margin))
		default:
			s += fmt.Sprintf(" The wanted flow of %s is not held: the usable flow is %s lower.", wanted,
				margin.Text(-*v.Margin))
		}
	}
	if v.NextFlow != nil {
		s += fmt.Sprintf(" The next limit is %s at %s.", v.Next, usable.Text(*v.NextFlow))
	} else if v.Flow > 0 && v.Limit != "" {
		s += " No other limit lies within the search."
	}
	if v.Melted != nil && v.Pushed != nil && *v.Melted < *v.Pushed {
		s += fmt.Sprintf(" Melts through: up to %s; above it the core reaches the cone unmelted.",
			quantity.Text("melted_flow", *v.Melted))
	}
	return s + v.Printed.sentence(v)
}

func (r *Result) bounds(c *setup.Setup, f *match.Result) {
	for _, b := range f.Bounds {
		r.Bounds = append(r.Bounds, Bound{Limit: string(b.Limit), Code: b.Limit.Code(), Flow: b.Flow, Open: b.Open,
			Warns: b.Warns, Margin: quantity.KnownIf(b.Value < match.MostMargin, b.Value), Speed: printSpeed(c, b.Flow),
			Meaning: b.Limit.Meaning()})
	}
}

// point solves the operating point shown in detail, with its field if the solver has one.
func (r *Result) point(c *setup.Setup, m *match.Matcher, f *match.Result) error {
	q := c.Target
	if q == 0 {
		q = math.Max(f.Flow, c.Limits.MinFlow)
	}
	var d flow.Solution
	if base, ok := m.Solver.(*march.Solver); ok {
		s := base.WithFields()
		if err := s.Solve(c.Block, q, &d); err != nil {
			return err
		}
		r.Melt = melt(&s.Field)
	} else if err := m.Solver.Solve(c.Block, q, &d); err != nil {
		return err
	}
	r.add(c.Warnings(&d)...)
	r.Uses = usesOf(m.Margins(&d, nil))
	here := len(r.Warnings)
	for _, w := range f.Warnings {
		n := len(r.Warnings)
		r.add(w)
		if len(r.Warnings) > n && n >= here && math.Abs(f.Flow/q-1) > 1e-3 {
			r.Warnings[n].Message = fmt.Sprintf("at the usable flow of %s: %s",
				quantity.Text("usable_flow", f.Flow), w.Message)
		}
	}
	var quick flow.Solution
	if err := lumped.New(&c.Case).Solve(c.Block, q, &quick); err != nil {
		return err
	}
	r.Point = Point{
		Block: d.Block, Flow: q, Pressure: d.Pressure, Force: d.Force, Push: d.Push,
		Capability: c.Feeder.At(d.Speed).Force, Mount: d.Force,
		Quick: quick.Push, EntryCentre: d.EntryCentre, EntryBulk: d.EntryBulk,
		FlowPoint: c.Material.FlowPoint(), ExitBulk: d.ExitBulk, ExitCentre: d.ExitCentre,
		WallHeat: d.WallHeat, Viscous: d.Viscous, Heater: d.Heater, Residence: d.Residence,
	}
	r.Point.Delivered = quantity.KnownIf(c.Feeder.Slip > 0, c.Feeder.Delivered(q, d.Push))
	if out := r.Point.Delivered; out != nil && *out < fedShare*q {
		r.warn("feeder-slips", "the feeder slips: of %s fed, %s are delivered. Flows, margins and print speeds here "+
			"are those fed", quantity.Text("usable_flow", q), quantity.Text("usable_flow", *out))
	}
	r.Point.Nahme, r.Point.Brinkman = c.ViscousNumbers(&d)
	r.Stats = Stats{Stations: d.Stats.Stations, Cells: d.Stats.Cells, HeatBalance: d.Stats.HeatBalance,
		WorkBalance: d.Stats.WorkBalance}
	x := &d.Stretches
	r.Stretches = Stretches{
		Unheated: x.Unheated, Rod: x.Rod, Wetted: x.Wetted, Held: x.Held, Leak: x.Leak, WettedShare: x.WettedShare,
		Gap:       x.Gap,
		Softening: quantity.KnownIf(x.Rod > 0, x.Softening), Solid: x.Solid, MeltsThrough: d.MeltsThrough,
	}
	r.Spent = Spent{Barrel: d.Load.Barrel, Cone: d.Load.Cone, Entrance: d.Load.Entrance, Bore: d.Load.Bore,
		Drag: d.Load.Drag}
	for i := range d.Sections {
		s := &d.Sections[i]
		r.Sections = append(r.Sections, Section{
			Name: s.Name, Drop: s.Drop, Shear: s.Shear, Elongation: s.Elongation, Share: s.Drop / d.Pressure,
			PressureIn: s.Pressure,
			Bulk:       s.Bulk, Centre: s.Centre, Wall: s.Wall, Core: s.CoreRadius, WallHeat: s.WallHeat,
			Viscous: s.Viscous, Residence: s.Residence,
		})
	}
	if d.EntryCentre < c.Material.FlowPoint() && r.Solver == "marching" {
		return r.strengthSpread(c, q)
	}
	return nil
}

// fedShare is the share of what is fed below which it counts that less is delivered (assumed).
const fedShare = 0.95

// strengthSpread shows how much the answer depends on how strong unmelted stock is taken to be.
func (r *Result) strengthSpread(c *setup.Setup, q float64) error {
	weak, strong, err := assess.StockStrength(c, q)
	if err != nil {
		return err
	}
	r.Point.WeakStock, r.Point.StrongStock = &weak, &strong
	if strong < 1.1*weak {
		return nil // it hardly does
	}
	force := quantity.Of("push")
	r.warn("stock-strength", "with an unmelted core the push depends on the strength of the stock against "+
		"temperature, which is known within a factor of %g (assumed): %s for the weaker, %s for the stronger",
		assess.StrengthFactor, force.Text(weak), force.Text(strong))
	return nil
}

// melt arranges the field of the marching solver by station.
func melt(f *march.Field) *Melt {
	m := &Melt{Z: f.Z, R: f.R, Bore: f.Bore, P: f.P, Bulk: f.Mix, Centre: f.Centre, Core: f.Core, Section: f.Section}
	for i := range f.Z {
		m.Stretch = append(m.Stretch, f.Stretch[i].String())
		k, n := i*f.Cells, (i+1)*f.Cells
		m.CellEdge, m.T, m.U = append(m.CellEdge, f.Radius[k:n]), append(m.T, f.T[k:n]), append(m.U, f.U[k:n])
	}
	return m
}

// curves fills the load curves at the block temperature and around it, and the capability.
func (r *Result) curves(c *setup.Setup, base flow.Solver, n int) error {
	around, err := r.overall(c)
	if err != nil {
		return err
	}
	low, top := r.curveEnds(c)
	flows := spaced(low, top, n)
	// The block temperature in the middle, the ends of the range looked at outside.
	temps := []float64{c.Temps[0], c.Block, c.Temps[1]}
	if math.Abs(c.Temps[0]-c.Block) < 1 {
		temps = temps[1:]
	} else if math.Abs(c.Temps[1]-c.Block) < 1 {
		temps = temps[:2]
	}
	for _, T := range temps {
		r.Load = append(r.Load, LoadCurve{Block: T, Points: make([]LoadPoint, n)})
	}
	err = num.Parallel(n*len(temps), func() func(int) error {
		here, around := base.Clone(), around.Clone()
		var d flow.Solution
		return func(k int) error {
			T, q := temps[k/n], flows[k%n]
			s := around
			if T == c.Block {
				s = here
			}
			if err := s.Solve(T, q, &d); err != nil {
				return err
			}
			r.Load[k/n].Points[k%n] = loadPoint(&d, q)
			return nil
		}
	})
	if err != nil {
		return err
	}
	r.capability(c, flows)
	return nil
}

// base is the solver that the answer began with, or a new one for a result that was read.
func (r *Result) base(c *setup.Setup) (_ flow.Solver, err error) {
	if r.solver == nil {
		r.solver, err = NewSolver(r.Solver, &c.Case)
	}
	return r.solver, err
}

// overall is the solver of what shows all block temperatures: a chart of the load over them.
func (r *Result) overall(c *setup.Setup) (flow.Solver, error) {
	if r.chart == nil {
		s, err := r.base(c)
		if err != nil {
			return nil, err
		}
		r.chart = match.NewChart(&c.Case, s, c.Temps, c.Limits)
	}
	return r.chart, nil
}

// curveHere fills the load curve at the block temperature alone, through the flows that the search looked at and the
// usable one, and the capability. Between flows a quarter apart the curve is straight within a few thousandths.
func (r *Result) curveHere(c *setup.Setup, f *match.Result, n int) {
	low, top := r.curveEnds(c)
	curve := LoadCurve{Block: c.Block}
	put := func(d *flow.Solution) { curve.Points = append(curve.Points, loadPoint(d, d.Flow)) }
	used := f.Flow == 0
	for i := range f.Scan {
		d := &f.Scan[i]
		if !used && d.Flow >= f.Flow {
			if used = true; d.Flow > f.Flow {
				put(&f.Solution)
			}
		}
		put(d)
		if d.Flow >= top {
			top = d.Flow
			break
		}
	}
	r.Load = append(r.Load, curve)
	r.capability(c, spaced(low, top, n))
}

// curveEnds are the ends of the load curves (m3/s): the least flow of the search, and past the usable flow, the wanted
// one and what was measured.
func (r *Result) curveEnds(c *setup.Setup) (low, top float64) {
	low, top = c.Limits.MinFlow, r.Verdict.Flow*1.6
	for _, p := range c.Feeder.Points {
		top = math.Max(top, p.Speed*c.Area()*1.1)
	}
	return low, math.Max(math.Min(math.Max(top, 1.2*c.Target), c.Limits.MaxFlow), 4*low)
}

func loadPoint(d *flow.Solution, q float64) LoadPoint {
	return LoadPoint{Block: d.Block, Flow: q, Push: d.Push, Pressure: d.Pressure, Centre: d.EntryCentre,
		ExitBulk: d.ExitBulk, Heater: d.Heater}
}

// capability fills what the feeder holds at some flows (m3/s), and what was measured of it.
func (r *Result) capability(c *setup.Setup, flows []float64) {
	for _, q := range flows {
		v := q / c.Area()
		k := c.Feeder.At(v)
		p := CapPoint{Flow: q, Force: k.Force, Usable: k.Force / c.Limits.Safety, Low: math.Max(0, k.Force-2*k.SD),
			High: k.Force + 2*k.SD, Cause: string(k.Cause), Extrapolated: k.Extrapolated}
		if md := c.Feeder.Model; md != nil {
			grip, stall, column := md.Parts(v)
			p.Grip, p.Stall, p.Column = quantity.KnownIf(true, grip), quantity.KnownIf(true, stall),
				quantity.KnownIf(true, column)
		}
		r.Capability = append(r.Capability, p)
	}
	for _, p := range c.Feeder.Points {
		r.Measured = append(r.Measured, BenchPoint{Flow: p.Speed * c.Area(), Force: p.Force, SD: p.SD,
			Cause: string(p.Cause), Repeats: p.Repeats})
	}
}

// temperatures fills the usable flow over the range of block temperatures and the operating map.
func (r *Result) temperatures(c *setup.Setup, m *match.Matcher, opt Options) error {
	chart, err := r.overall(c)
	if err != nil {
		return err
	}
	all := *m
	all.Solver = chart
	m = &all
	rs, err := m.Over(spaced(c.Temps[0], c.Temps[1], 21))
	if err != nil {
		return err
	}
	for _, x := range rs {
		r.ByTemp = append(r.ByTemp, TempPoint{Block: x.Block, Flow: x.Flow, Speed: printSpeed(c, x.Flow),
			Limit: string(x.Binding),
			Code:  x.Binding.Code()})
	}
	if b := match.Best(rs); b >= 0 {
		r.BestTemp = quantity.Known(rs[b].Block)
		if w := c.Material.Window; rs[b].Block > w[1] {
			r.warn("best-above-window", "the best block temperature of those looked at, %s, lies above the processing "+
				"window of the material, up to %s: it is where most can be pushed, not what the melt stands for "+
				"long; target.temperatures_degC says what is looked at", quantity.Text("best_block", rs[b].Block),
				quantity.Text("best_block", w[1]))
		}
	}
	last := r.Load[0].Points[len(r.Load[0].Points)-1].Flow
	mp := &r.Map
	mp.Temps, mp.Flows = spaced(c.Temps[0], c.Temps[1], opt.MapTemps),
		spaced(last/float64(opt.MapFlows), last, opt.MapFlows)
	cells, err := m.Map(mp.Temps, mp.Flows)
	if err != nil {
		return err
	}
	for _, row := range cells {
		var codes []string
		var push []float64
		for _, x := range row {
			codes = append(codes, x.Limit.Code())
			push = append(push, x.Push)
		}
		mp.Codes, mp.Push = append(mp.Codes, codes), append(mp.Push, push)
	}
	mp.Usable = match.UsableShare(cells)
	return nil
}

// spaced are n numbers from a to b at even steps.
func spaced(a, b float64, n int) []float64 {
	if n < 2 {
		return []float64{a}
	}
	return floats.Span(make([]float64, n), a, b)
}
