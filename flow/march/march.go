package march

import (
	"math"
	"slices"
	"sync/atomic"

	"meltload/flow"
	"meltload/materials"
)

// Options set the resolution. The zero value means the default of each field.
type Options struct {
	Cells   int     // radial cells, default DefaultCells or MeltingCells, by the material
	Axial   float64 // multiplier on the number of stations, default 1
	Fields  bool    // keep T, u and p of every station in Solver.Field
	NoElong bool    // leave elongation out: the pure lubrication solution, for comparison
	NoHeat  bool    // leave viscous heating out, for comparison
	// Slip lets stock of full bore slide over the first Slip metres, heated with SlipH (W/(m2 K)), with
	// flow.Case.Stick: the inlet of some finite-element solutions, for comparison.
	Slip, SlipH float64
	// Source adds heat (W/m3) at (r/R or 2y/gap, z from the inlet of the path in m): for
	// the method of manufactured solutions.
	Source func(x, z float64) float64
}

// DefaultCells is the number of radial cells that keeps the drop within 0.3 % of its converged value; stock that melts
// over a range, whose strength gives way within a kelvin of it, takes MeltingCells.
const (
	DefaultCells = 9
	MeltingCells = 13
)

// Solver marches one case. Create it with New; it may be used for any block
// temperature and flow.
type Solver struct {
	c   *flow.Case
	opt Options
	tab *tables
	sec []plan
	ws
	state
	level      float64 // fluidity of the melt is multiplied by this
	trail      trail
	inletGuess float64 // Pa, inlet pressure of the time step before
	solid      float64 // fluidity at the cap
	flowPhi    float64 // fluidity at the flow point and the pressure in hand
	flowPhi0   float64 // the same without pressure
	melting    float64 // K, start of the melting range; 0 for none
	pressed    bool    // whether viscosity depends on pressure
	cone       int     // index of the section where the stock must be squeezed
	tol        float64 // of a profile before its last Newton step
	loadOnly   bool    // whether nothing but the load is asked for
	rod        rod
	grow       growths
	warm       *Solver // whose rod is cut: its own, or, of a look ahead, that of the solver it looks for
	invalid    error   // what is wrong with the case
	glance     flow.Solution
	// a quick look ahead: where about the rod gives way, and the pressure; nil where neither is sought
	coarse *Solver

	Field Field
}

// tables are shared by the clones of a solver; read only but for the count.
type tables struct {
	solves *atomic.Int64
	visc   *materials.Table
	flow   []flowCell
	heat   []heatCell
	rate   bool // density varies
	m      *materials.Material
	solid  float64 // density that meters the filament
}

// flowCell and heatCell hold what flow and heat need of one step of temperature, as a local cubic and lines. Each fills
// a cache line, so that a look-up touches one.
type (
	flowCell struct {
		phi [4]float64
		y   [2]float64 // strength of unmelted stock, 0 above the flow point
		_   [2]float64
	}
	heatCell struct {
		h, rise, per float64    // enthalpy at its start, what it rises by to its end, and a step over that
		k, v         [2]float64 // conductivity, specific volume
		_            float64
	}
)

// The property grid: 0.5 K cells over the range of materials.Table.
const (
	gridStep = 0.5
	gridInv  = 1 / gridStep
)

// plan is a section with its stations: the fractions of the length, and what does not depend on flow.
type plan struct {
	planar      bool
	width, half float64   // planar: width and half gap
	x           []float64 // after another section
	inlet       []float64 // where a thermal layer and a profile begin from nothing
	even        []float64 // of the barrel in unsteady marches
	soaked      []float64 // of a barrel that holds the stock from the inlet on, in unsteady marches
	after       []float64 // where a wall takes hold of a plug that it has heated
	tan         float64   // of the half angle used for marching
	angle       float64   // true half angle
	length      float64
	push        float64 // m2, flow.Case.PushArea of its bore
	wide        float64 // weight of elongation in a cone at the block temperature and flow in hand, 1 elsewhere
}

// maxHalf is the half angle beyond which the stream no longer follows the wall:
// wider cones are marched at this angle (their length is short either way) and
// get their drop from ConeFactor at the true angle.
const maxHalf = math.Pi / 3

// New prepares a solver for a case, which is completed (flow.Case.Complete). What flow.Case.Validate finds wrong with
// it is the error of every Solve.
func New(c *flow.Case, opt Options) *Solver {
	if opt.Cells <= 0 {
		if opt.Cells = DefaultCells; c.Material != nil && c.Material.SemiCrystalline() {
			opt.Cells = MeltingCells
		}
	}
	if opt.Axial <= 0 {
		opt.Axial = 1
	}
	return newSolver(c, opt, newTables(c.Material))
}

// For returns a solver for another case of the same material (the same
// Viscosity, Density, Heat and Conductivity), sharing the tables: microseconds
// instead of milliseconds. Level, Trouton ratio and all of the geometry may differ, and the flow point: the strength of
// unmelted stock, which ends there, is then tabulated anew.
func (s *Solver) For(c *flow.Case) *Solver {
	tab := s.tab
	if m := c.Material; m != nil && m.FlowPoint() != tab.m.FlowPoint() {
		tab = tab.withStrength(m)
	}
	return newSolver(c, s.opt, tab)
}

// WithFields returns a solver of the same case that keeps the field of its last solution, sharing the tables.
func (s *Solver) WithFields() *Solver {
	opt := s.opt
	opt.Fields = true
	return newSolver(s.c, opt, s.tab)
}

// WithResolution returns a solver of the same case with another number of radial cells and multiplier on the number of
// stations, sharing the tables.
func (s *Solver) WithResolution(cells int, axial float64) *Solver {
	opt := s.opt
	opt.Cells, opt.Axial = cells, axial
	return newSolver(s.c, opt, s.tab)
}

func newSolver(c *flow.Case, opt Options, tab *tables) *Solver {
	s := &Solver{c: c, opt: opt, tab: tab, level: 1, solid: 1 / c.Material.Viscosity.Cap, invalid: c.Validate()}
	if s.invalid != nil {
		return s
	}
	c.Complete()
	if c.ViscosityFactor > 0 {
		s.level = 1 / c.ViscosityFactor
	}
	for i := range c.HotEnd.Sections {
		p := newPlan(&c.HotEnd.Sections[i], opt.Axial, c.Material.SemiCrystalline())
		p.push = c.PushArea(c.HotEnd.Sections[i].D1)
		s.sec = append(s.sec, p)
	}
	s.flowPhi0 = c.Fluidity(c.Material.FlowPoint(), 0)
	s.flowPhi = s.flowPhi0
	s.warm, s.grow = s, plugGrowths
	if c.Material.SemiCrystalline() {
		s.melting, s.grow = c.Material.Viscosity.MeltLow, meltedGrowths
	}
	s.pressed = c.Material.Viscosity.PressureSensitive()
	s.cone = c.ConeEntry()
	s.ws.init(opt.Cells)
	s.tol = profileTol * min(1, 256/float64(opt.Cells*opt.Cells))
	if opt.Cells > coarseCells && (!c.Stock.Stick || c.Material.Viscosity.PressureSensitive()) {
		look := opt
		look.Cells, look.Axial, look.Fields = coarseCells, coarseAxial, false
		s.coarse = newSolver(c, look, tab)
		s.coarse.tol, s.coarse.loadOnly, s.coarse.warm = coarseTol, true, s
	}
	return s
}

// The resolution of the look ahead and the tolerance of its profiles: within a few per cent of the load.
const coarseCells, coarseAxial, coarseTol = 6, 0.3, 0.12

// Solves returns how many times this solver, its clones and those made from it by For and WithFields have been asked to
// solve.
func (s *Solver) Solves() int { return int(s.tab.solves.Load()) }

// Name implements flow.Solver.
func (s *Solver) Name() string { return "marching" }

// Clone implements flow.Solver: tables are shared, the workspace is not.
func (s *Solver) Clone() flow.Solver {
	n := *s
	n.ws, n.sec = ws{}, slices.Clone(s.sec)
	n.inletGuess = 0
	n.ws.init(s.opt.Cells)
	n.Field = Field{}
	n.rod, n.glance, n.trail = rod{}, flow.Solution{}, trail{}
	n.warm = &n
	if s.coarse != nil {
		n.coarse = s.coarse.Clone().(*Solver)
		n.coarse.warm = &n
	}
	return &n
}

func newTables(m *materials.Material) *tables {
	t := &tables{solves: new(atomic.Int64), visc: materials.NewTable(m.Viscosity.FlowCurve), m: m,
		solid: m.Density.Solid, rate: !m.Density.Uniform}
	n := int((materials.TableHigh - materials.TableLow) * gridInv)
	t.flow, t.heat = make([]flowCell, n), make([]heatCell, n)
	for i := range n {
		a := materials.TableLow + float64(i)*gridStep
		h := line(m.Heat.Enthalpy, a)
		y0, y1, y2, y3 := m.Viscosity.Fluidity(a, 0), m.Viscosity.Fluidity(a+gridStep/3, 0),
			m.Viscosity.Fluidity(a+2*gridStep/3, 0), m.Viscosity.Fluidity(a+gridStep, 0)
		t.flow[i] = flowCell{
			phi: [4]float64{y0, (-11*y0 + 18*y1 - 9*y2 + 2*y3) / 2, (18*y0 - 45*y1 + 36*y2 - 9*y3) / 2,
				(-9*y0 + 27*y1 - 27*y2 + 9*y3) / 2},
			y: line(m.Strength, a),
		}
		t.heat[i] = heatCell{h: h[0], rise: h[1], per: gridStep / h[1], k: line(m.Conductivity.At, a),
			v: line(func(T float64) float64 { return m.Density.Volume(T, 0) }, a)}
	}
	// Beyond the table the end values of conductivity and volume hold: its first and last step have none but these.
	first, last := &t.heat[0], &t.heat[n-1]
	first.k[1], first.v[1] = 0, 0
	last.k, last.v = [2]float64{last.k[0] + last.k[1]}, [2]float64{last.v[0] + last.v[1]}
	return t
}

// line is a property over one step of the table from a (K).
func line(f func(float64) float64, a float64) [2]float64 {
	y := f(a)
	return [2]float64{y, f(a+gridStep) - y}
}

// withStrength are the tables with the strength of another material, its flow point among it, the rest the same.
func (t *tables) withStrength(m *materials.Material) *tables {
	n := *t
	n.m, n.flow = m, slices.Clone(t.flow)
	for i := range n.flow {
		n.flow[i].y = line(m.Strength, materials.TableLow+float64(i)*gridStep)
	}
	return &n
}

// flows returns what flow needs about T (K) and the place within its step; beyond the table the end values hold.
func (t *tables) flows(T float64) (*flowCell, float64) {
	x := (T - materials.TableLow) * gridInv
	if !(x > 0) {
		x = 0
	} else if last := float64(len(t.flow)) - 1e-9; x > last {
		x = last
	}
	i := int(x)
	return &t.flow[i], x - float64(i)
}

func (c *flowCell) fluidity(x float64) float64 {
	return c.phi[0] + x*(c.phi[1]+x*(c.phi[2]+x*c.phi[3]))
}

// softening is the slope of the fluidity over temperature, 1/(Pa s K).
func (c *flowCell) softening(x float64) float64 {
	return (c.phi[1] + x*(2*c.phi[2]+x*3*c.phi[3])) * gridInv
}
func (c *flowCell) strength(x float64) float64 { return c.y[0] + x*c.y[1] }

// heats returns what heat needs about T (K) and the place within its step, which lies outside 0 to 1 beyond the table:
// enthalpy goes on there on its end slope.
func (t *tables) heats(T float64) (*heatCell, float64) {
	x := (T - materials.TableLow) * gridInv
	i := max(0, min(len(t.heat)-1, int(x)))
	return &t.heat[i], x - float64(i)
}

func (c *heatCell) enthalpy(x float64) float64 { return c.h + x*c.rise }
func (c *heatCell) capacity() float64          { return c.rise * gridInv }

func (c *heatCell) conductivity(x float64) float64 { return c.k[0] + x*c.k[1] }
func (c *heatCell) volume(x float64) float64       { return c.v[0] + x*c.v[1] }

// temperature returns T with enthalpy h, from a near value: most often one Newton step away.
func (t *tables) temperature(h, T float64) float64 {
	c, x := t.heats(T)
	d := (h - c.enthalpy(x)) * c.per
	if d < nearTemperature && d > -nearTemperature {
		return T + d
	}
	return t.search(h, T, d)
}

// search goes on from T (K) with the Newton step d; where the slope of h(T) changes much steps are halved.
func (t *tables) search(h, T, d float64) float64 {
	last := math.Abs(d)
	T += d
	for range 30 {
		c, x := t.heats(T)
		d = (h - c.enthalpy(x)) * c.per
		if a := math.Abs(d); a > 0.5*last {
			d *= 0.5
		} else if last = a; a < nearTemperature {
			return T + d
		}
		T += d
	}
	return T
}

// nearTemperature (K) is the last Newton step towards a temperature: what it leaves is its part in the next step of the
// table times the relative change of the heat capacity to there, under a millikelvin but at the edge of a melting
// range.
const nearTemperature = 0.02

// Stations of a section: how many (for each unit of ln R in a cone), and by how many times the last step is longer than
// the first.
const (
	coneStations   = 5
	meltedCone     = 6 // of stock that melts over a range
	laterStations  = 3 // after another section
	laterRatio     = 8
	inletStations  = 30 // where a thermal layer and a profile begin from nothing
	inletRatio     = 1400
	afterStations  = 9 // behind a plug
	afterRatio     = 28
	meltedStations = 28 // of stock that melts over a range: its core loses its strength over some hundredths of a mm
	meltedRatio    = 160
)

func newPlan(s *flow.Section, axial float64, melts bool) plan {
	p := plan{angle: s.Half, length: s.Length}
	p.width, p.half, p.planar = s.Planar()
	p.half /= 2
	if s.Shape == flow.Cone {
		a := min(s.Half, maxHalf)
		if s.Half == 0 || s.D1 == s.D2 {
			a = 0
		}
		p.tan = math.Tan(a)
		if s.D2 > s.D1 {
			p.tan = 0 // a widening passage: lubrication only
		}
		if p.tan > 0 {
			p.length = (s.D1 - s.D2) / 2 / p.tan
		}
		// Even steps in ln R: velocity goes with R^-2, the gradient with up to R^-4.
		l := math.Log(s.D1 / s.D2)
		each := coneStations
		if melts {
			each = meltedCone
		}
		n := int(math.Ceil(max(4*min(1, axial), axial*float64(each)*math.Abs(l))))
		for i := 1; i <= n; i++ {
			r := s.D1 * math.Exp(-l*float64(i)/float64(n))
			x := float64(i) / float64(n)
			if s.D1 != s.D2 {
				x = (s.D1 - r) / (s.D1 - s.D2)
			}
			p.x = append(p.x, x)
		}
		p.x[n-1] = 1
		p.inlet, p.after, p.even, p.soaked = p.x, p.x, p.x, p.x
		return p
	}
	// Graded stations: the thermal layer grows from nothing at the inlet of the path, and
	// anew where wall or size changes.
	p.soaked = graded(axial, 31, 550)
	p.x, p.inlet = graded(axial, laterStations, laterRatio), graded(axial, inletStations, inletRatio)
	p.after, p.even = graded(axial, afterStations, afterRatio), graded(axial, 32, 1)
	if melts {
		p.after = graded(axial, meltedStations, meltedRatio)
	}
	return p
}

// graded returns fractions of a length in geometric progression, n times axial steps, the last `ratio` times the first.
func graded(axial, n, ratio float64) (x []float64) {
	steps := int(math.Ceil(axial * n))
	q := math.Pow(ratio, 1/float64(max(1, steps-1)))
	sum, d := 0.0, 1.0
	for range steps {
		sum += d
		x = append(x, sum)
		d *= q
	}
	for i := range x {
		x[i] /= sum
	}
	return x
}
