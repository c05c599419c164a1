package study

import (
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/lumped"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// Options choose what a run computes.
type Options struct {
	Solver   string // "marching" (default) or "lumped"
	Curve    int    // points of a load curve, default 33
	Ends     bool   // add to the verdict the usable flow with what is least known at its ends (marching only)
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

// Glance computes what one block temperature tells: verdict, limits, operating point, melt zone and load curves. The command line
// is left to the caller.
func Glance(c *casefile.Case, opt Options) (*Result, error) {
	r, _, err := glance(c, opt)
	return r, err
}

// Run is Glance and the view over all block temperatures of the case.
func Run(c *casefile.Case, opt Options) (*Result, error) {
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

func glance(c *casefile.Case, opt Options) (*Result, *match.Matcher, error) {
	s, err := NewSolver(opt.Solver, &c.Case)
	if err != nil {
		return nil, nil, err
	}
	m := c.Matcher(s)
	found, err := m.Find(c.Block)
	if err != nil {
		return nil, nil, err
	}
	r := &Result{Header: sheetOf(c, c.Title)}
	r.Solver = s.Name()
	r.verdict(c, found)
	r.bounds(found)
	if err := r.point(c, m, found); err != nil {
		return nil, nil, err
	}
	if opt.Curve == 0 {
		opt.Curve = 33
	}
	if err := r.curves(c, m, opt.Curve); err != nil {
		return nil, nil, err
	}
	if base, ok := s.(*march.Solver); ok && opt.Ends {
		r.between(c, base)
	}
	r.count(s)
	return r, m, nil
}

// count notes how many solutions the answer took so far.
func (r *Result) count(s flow.Solver) {
	if n, ok := s.(interface{ Solves() int }); ok {
		r.Stats.Solves = n.Solves()
	}
}

func (r *Result) verdict(c *casefile.Case, f *match.Result) {
	v := &r.Verdict
	v.Flow = f.Flow / unit.MM3
	v.Speed = f.Flow / c.Area() / unit.MM
	v.Limit, v.Meaning = string(f.Binding), f.Binding.Meaning()
	if n, ok := f.Next(); ok {
		v.Next, v.NextFlow = string(n.Limit), n.Flow/unit.MM3
	}
	v.LowFlow = f.LowFlow / unit.MM3
	v.Target = c.Target / unit.MM3
	v.Held = c.Target > 0 && f.Flow >= c.Target
	if c.Target > 0 {
		v.Margin = f.Flow/c.Target - 1
	}
	r.Sentence = sentence(v, unit.Celsius(f.Block))
	r.Good = v.Held || c.Target == 0 && v.Flow > 0
}

func sentence(v *Verdict, block float64) string {
	var s string
	switch {
	case v.Flow == 0:
		s = fmt.Sprintf("At %.0f degC no flow is usable: %s.", block, v.Limit)
	case v.Limit == "":
		s = fmt.Sprintf("At %.0f degC nothing limits the flow up to %.1f mm3/s, the end of the search.", block, v.Flow)
	default:
		s = fmt.Sprintf("At %.0f degC the highest usable flow is %.1f mm3/s (%.2f mm/s of filament), limited by %s.", block, v.Flow, v.Speed, v.Limit)
	}
	if v.Target > 0 {
		if v.Held {
			s += fmt.Sprintf(" The wanted %.3g mm3/s is held with %.0f %% to spare.", v.Target, 100*v.Margin)
		} else {
			s += fmt.Sprintf(" The wanted %.3g mm3/s is not held: %.0f %% short.", v.Target, -100*v.Margin)
		}
	}
	if v.Next != "" {
		s += fmt.Sprintf(" The next obstacle is %s at %.1f mm3/s.", v.Next, v.NextFlow)
	} else if v.Flow > 0 && v.Limit != "" {
		s += " No other limit comes into sight within the search."
	}
	return s
}

func (r *Result) bounds(f *match.Result) {
	for _, b := range f.Bounds {
		r.Bounds = append(r.Bounds, Bound{string(b.Limit), b.Limit.Code(), b.Flow / unit.MM3, b.Open, b.Value, b.Limit.Meaning()})
	}
}

// point solves the operating point shown in detail, with its field if the solver has one.
func (r *Result) point(c *casefile.Case, m *match.Matcher, f *match.Result) error {
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
	r.Warnings = materials.AddWarning(r.Warnings, c.Warnings(&d)...)
	r.Uses = usesOf(m.Margins(&d, nil))
	here := len(r.Warnings)
	for _, w := range f.Warnings {
		n := len(r.Warnings)
		r.Warnings = materials.AddWarning(r.Warnings, w)
		if len(r.Warnings) > n && n >= here && math.Abs(f.Flow/q-1) > 1e-3 {
			r.Warnings[n].Message = fmt.Sprintf("at the usable flow of %.1f mm3/s: %s", f.Flow/unit.MM3, w.Message)
		}
	}
	var quick flow.Solution
	if err := lumped.New(&c.Case).Solve(c.Block, q, &quick); err != nil {
		return err
	}
	r.Point = Point{
		Block: unit.Celsius(d.Block), Flow: q / unit.MM3, Speed: d.Speed / unit.MM, Delivered: q / unit.MM3 * math.Max(0, 1-c.Feeder.Slip*d.Push),
		Pressure: d.Pressure / unit.MPa, Force: d.Force, Push: d.Push, PushKGF: d.Push / unit.KGF, Capability: c.Feeder.At(d.Speed).Force,
		Slide: d.Slide / unit.MM, EntryCentre: unit.Celsius(d.EntryCentre), EntryMix: unit.Celsius(d.EntryBulk), ExitMix: unit.Celsius(d.ExitBulk), ExitCentre: unit.Celsius(d.ExitCentre),
		FlowPoint: unit.Celsius(c.Material.FlowPoint()), WallHeat: d.WallHeat, Viscous: d.Viscous, Heater: d.Heater, Residence: d.Residence,
		Quick: quick.Push, Mount: d.Force,
	}
	r.Point.Nahme, r.Point.Brinkman = c.ViscousNumbers(&d)
	r.Stats = Stats{Stations: d.Stats.Stations, Cells: d.Stats.Cells, HeatBalance: d.Stats.HeatBalance, WorkBalance: d.Stats.WorkBalance}
	for i := range d.Sections {
		s := &d.Sections[i]
		r.Sections = append(r.Sections, Section{s.Name, s.Drop / unit.MPa, s.Shear / unit.MPa, s.Elongation / unit.MPa, s.Drop / d.Pressure, s.Pressure / unit.MPa,
			unit.Celsius(s.Bulk), unit.Celsius(s.Centre), unit.Celsius(s.Wall), s.CoreRadius / unit.MM, s.WallHeat, s.Viscous, s.Residence})
	}
	if d.EntryCentre < c.Material.FlowPoint() && r.Solver == "marching" {
		return r.capSpread(c, q)
	}
	return nil
}

// capSpread shows how much the answer hangs on what the unmelted side is taken to be.
func (r *Result) capSpread(c *casefile.Case, q float64) error {
	for _, x := range []struct {
		cap float64
		out *float64
	}{{1e5, &r.Point.CapLow}, {1e8, &r.Point.CapHigh}} {
		cc := c.Case
		mat := *c.Material
		mat.Viscosity.Cap = x.cap
		cc.Material = &mat
		var d flow.Solution
		if err := march.New(&cc, march.Options{}).Solve(c.Block, q, &d); err != nil {
			return err
		}
		*x.out = d.Push
	}
	if r.Point.CapHigh < 1.1*r.Point.CapLow {
		return nil // it hardly does
	}
	r.Warnings = materials.AddWarning(r.Warnings, materials.Warning{Code: "solid-cap", Message: fmt.Sprintf(
		"with an unmelted core the push depends on how stiff unmelted stock is taken to be: %.0f N for a cap of 1e5 Pa s, %.0f N for 1e8 Pa s", r.Point.CapLow, r.Point.CapHigh)})
	return nil
}

func melt(f *march.Field) *Melt {
	m := &Melt{Section: f.Section}
	for i := range f.Z {
		m.Z = append(m.Z, f.Z[i]/unit.MM)
		m.R = append(m.R, f.R[i]/unit.MM)
		m.P = append(m.P, f.P[i]/unit.MPa)
		m.Mix = append(m.Mix, unit.Celsius(f.Mix[i]))
		m.Centre = append(m.Centre, unit.Celsius(f.Centre[i]))
		m.Core = append(m.Core, f.Core[i]/unit.MM)
		var e, t, u []float64
		for j := range f.Cells {
			k := i*f.Cells + j
			e = append(e, f.Radius[k]/unit.MM)
			t = append(t, unit.Celsius(f.T[k]))
			u = append(u, f.U[k]/unit.MM)
		}
		m.CellEdge, m.T, m.U = append(m.CellEdge, e), append(m.T, t), append(m.U, u)
	}
	return m
}

// curves fills the load curves at the block temperature and around it, and the capability.
func (r *Result) curves(c *casefile.Case, m *match.Matcher, n int) error {
	hi := r.Verdict.Flow * 1.6
	for _, p := range c.Feeder.Points {
		hi = math.Max(hi, p.Speed*c.Area()/unit.MM3*1.1)
	}
	hi = math.Min(math.Max(hi, 1.2*r.Verdict.Target), c.Limits.MaxFlow/unit.MM3)
	hi = math.Max(hi, 4*c.Limits.MinFlow/unit.MM3)
	var flows []float64
	for i := range n {
		flows = append(flows, c.Limits.MinFlow/unit.MM3+(hi-c.Limits.MinFlow/unit.MM3)*float64(i)/float64(n-1))
	}
	// The block temperature in the middle, the ends of the range looked at outside.
	temps := []float64{c.Temps[0], c.Block, c.Temps[1]}
	if math.Abs(c.Temps[0]-c.Block) < 1 {
		temps = temps[1:]
	} else if math.Abs(c.Temps[1]-c.Block) < 1 {
		temps = temps[:2]
	}
	for _, T := range temps {
		r.Load = append(r.Load, LoadCurve{Block: unit.Celsius(T), Points: make([]LoadPoint, n)})
	}
	err := num.Parallel(n*len(temps), func() func(int) error {
		s := m.Solver.Clone()
		var d flow.Solution
		return func(k int) error {
			if err := s.Solve(temps[k/n], flows[k%n]*unit.MM3, &d); err != nil {
				return err
			}
			r.Load[k/n].Points[k%n] = LoadPoint{flows[k%n], d.Speed / unit.MM, d.Push, d.Pressure / unit.MPa, unit.Celsius(d.EntryCentre), unit.Celsius(d.ExitBulk), d.Heater}
			return nil
		}
	})
	if err != nil {
		return err
	}
	for _, q := range flows {
		v := q * unit.MM3 / c.Area()
		k := c.Feeder.At(v)
		p := CapPoint{Flow: q, Force: k.Force, Usable: k.Force / c.Limits.Safety, Low: math.Max(0, k.Force-2*k.SD), High: k.Force + 2*k.SD, Cause: string(k.Cause), Extrapolated: k.Extrapolated}
		if md := c.Feeder.Model; md != nil {
			p.Grip, p.Stall, p.Column = md.Parts(v)
			for _, x := range []*float64{&p.Grip, &p.Stall, &p.Column} {
				if math.IsInf(*x, 0) {
					*x = 0
				}
			}
		}
		r.Capability = append(r.Capability, p)
	}
	for _, p := range c.Feeder.Points {
		r.Measured = append(r.Measured, BenchPoint{p.Speed * c.Area() / unit.MM3, p.Speed / unit.MM, p.Force, p.Force / unit.KGF, p.SD, string(p.Cause), p.Repeats})
	}
	return nil
}

// temperatures fills the usable flow over the range of block temperatures and the operating map.
func (r *Result) temperatures(c *casefile.Case, m *match.Matcher, opt Options) error {
	const n = 21
	var temps []float64
	for i := range n {
		temps = append(temps, c.Temps[0]+(c.Temps[1]-c.Temps[0])*float64(i)/(n-1))
	}
	rs, err := m.Over(temps)
	if err != nil {
		return err
	}
	for _, x := range rs {
		r.ByTemp = append(r.ByTemp, TempPoint{unit.Celsius(x.Block), x.Flow / unit.MM3, string(x.Binding), x.Binding.Code()})
	}
	if b := match.Best(rs); b >= 0 {
		r.BestTemp = unit.Celsius(rs[b].Block)
	}
	mp := &r.Map
	top := r.Load[0].Points[len(r.Load[0].Points)-1].Flow * unit.MM3
	var ts, qs []float64
	for i := range opt.MapTemps {
		ts = append(ts, c.Temps[0]+(c.Temps[1]-c.Temps[0])*float64(i)/float64(max(1, opt.MapTemps-1)))
		mp.Temps = append(mp.Temps, unit.Celsius(ts[i]))
	}
	for i := range opt.MapFlows {
		qs = append(qs, top*(float64(i)+1)/float64(opt.MapFlows))
		mp.Flows = append(mp.Flows, qs[i]/unit.MM3)
	}
	cells, err := m.Map(ts, qs)
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
	return nil
}
