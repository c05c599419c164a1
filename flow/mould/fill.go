package mould

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// DefaultSolidCap bounds the viscosity (Pa s) of melt that has set, see Settings.SolidCap, and SolidCapRange is the
// range that an honest answer covers: a numerical statement, not a measurement.
const DefaultSolidCap = 1e7

// SolidCapRange is the range of the bound (Pa s) on the viscosity of set melt: see DefaultSolidCap.
var SolidCapRange = [2]float64{1e7, 1e10}

// stepShare is the share of a station that the front fills in one step.
const stepShare = 0.5

// Settings of a filling.
type Settings struct {
	Melt float64 // K, at the nozzle exit
	Flow float64 // m3/s, the set flow
	// Supply returns the pressure (Pa) that feeder and hot end can give at the nozzle exit at a flow (m3/s); nil for no
	// limit. It should not grow with flow.
	Supply   func(q float64) float64
	Longest  float64 // s, give up after; 0 takes 3600
	SolidCap float64 // Pa s, bound on the viscosity of set melt; 0 takes DefaultSolidCap
	NoFlow   float64 // K, below which nothing flows; 0 takes that of the material as it sets

	Cells, WallCells, Stations int  // 0 for the defaults
	NoHeat                     bool // isothermal, for checks
}

// Sample is the mould at one time.
type Sample struct {
	Time     float64 // s
	Flow     float64 // m3/s
	Pressure float64 // Pa at the nozzle exit
	Front    float64 // m along the path of one copy
	Filled   float64 // share of the volume
	Frozen   float64 // share of the thickness below the no-flow temperature where it is most
	Limited  bool    // the supply decides, not the set flow
	Open     float64 // N that opens the mould, of pressure on the projected area
}

// Stop says what ended a filling.
type Stop string

// The ends of a filling.
const (
	Full   Stop = "full"
	Frozen Stop = "frozen" // the hottest layer of some place is below the no-flow temperature
	Spent  Stop = "spent"  // the flow fell below a thousandth of the set one
	Late   Stop = "late"   // not full within the longest time
)

// Result is a filling.
type Result struct {
	Filled    bool
	Stop      Stop
	Where     string // the element in which the front is at the end
	Why       string // of a short shot
	Time      float64
	Front     float64 // m along the path of one copy, at the end
	Volume    float64 // m3 of the whole mould
	Trace     []Sample
	Limited   float64 // s, from when on the supply decided; 0 if never
	LimitedAt float64 // m, where the front was then

	Peak     float64 // Pa, the highest pressure at the nozzle exit
	Open     float64 // N, the highest opening force while filling, pressures as computed on all elements
	OpenLow  float64 // N, at the end of filling on cavities alone
	OpenHigh float64 // N, the highest pressure on the whole projected area: a mould packed before it freezes

	GateFreeze float64 // s after the end of filling until the thinnest feed element stands still; 0 if it never does
	Cooling    float64 // s after the end of filling until the hottest centre is at the ejection temperature; 0 if never
	Balance    float64 // what the energy balance does not close to, as a share of the heat brought in
	// share of the heat brought in, counted from the mould's temperature, that has gone into the mould
	ToWall  float64
	Shear   float64 // share of that heat that shear has made
	NoFlow  float64 // K, the no-flow temperature used
	Profile Profile // at the end of filling

	Warnings []materials.Warning
}

// Profile is the temperature through the thickness along the path.
type Profile struct {
	X       []float64   // m along the path, station middles
	Half    []float64   // m, half thickness or radius
	Face    []float64   // outer faces of the cells: the middle of the thickness is 0, the wall 1
	T       [][]float64 // K, station by cell
	Surface []float64   // K, face of the mould
	P       []float64   // Pa, pressure at the station
	Element []int
}

// noFlow returns the temperature (K) below which a melt that cools stands still: the middle of the cooling range where
// the record has one, else its no-flow temperature, else its flow point (conventions of this project).
func noFlow(m *materials.Material) float64 {
	if m.Cooling[1] > m.Cooling[0] {
		return (m.Cooling[0] + m.Cooling[1]) / 2
	}
	if m.NoFlow > 0 && !m.SemiCrystalline() {
		return m.NoFlow
	}
	return m.FlowPoint()
}

// NoFlow returns the temperature (K) below which a melt that cools stands still where the case names none: see
// Settings.NoFlow. A convention; DefaultNoFlowRange says how well it is known.
func NoFlow(m *materials.Material) float64 { return noFlow(m) }

// check validates and fills in the defaults.
func (s *Settings) check(c *flow.Case, m *Mould) error {
	if err := m.Validate(); err != nil {
		return err
	}
	if !(s.Melt > m.Surface) || !(s.Melt < materials.TableHigh) {
		return fmt.Errorf(
			"mould: melt at %.4g degC; it must be hotter than the mould at %.4g degC, and below %.0f degC",
			unit.Celsius(s.Melt), unit.Celsius(m.Surface), unit.Celsius(materials.TableHigh))
	}
	if !(s.Flow >= 1e-12 && s.Flow <= 1e-3) {
		return fmt.Errorf("mould: a flow of %g mm3/s; 0.001 to 1e6 are allowed", s.Flow/unit.MM3)
	}
	def := func(x *int, d int) {
		if *x <= 0 {
			*x = d
		}
	}
	def(&s.Cells, DefaultCells)
	def(&s.WallCells, DefaultWallCells)
	def(&s.Stations, DefaultStations)
	if s.Longest == 0 {
		s.Longest = 3600
	}
	if s.SolidCap == 0 {
		s.SolidCap = DefaultSolidCap
	}
	if s.NoFlow == 0 {
		s.NoFlow = noFlow(c.Material)
	}
	if s.NoHeat {
		return nil
	}
	if !(s.SolidCap > 0) || !(s.NoFlow > 0) {
		return fmt.Errorf("mould: a viscosity of at most %g Pa s and a no-flow temperature of %g degC; the first must "+
			"be above 0, the second above -273 degC",
			s.SolidCap, unit.Celsius(s.NoFlow))
	}
	return nil
}

// fillRun is a filling on its way.
type fillRun struct {
	*filler
	r     *Result
	melt  float64 // J/kg
	total float64 // m3
	// s, longest step once the supply decides: a fiftieth of the time in which heat crosses the thinnest section
	creep   float64
	pace    float64 // longest step now, in steps of creep: see settle
	now     float64
	done    float64 // m3
	element int
	path    path
	from    float64 // m along the path where the element starts
	first   int     // number of its first station
	tip     float64 // share of the front station that is filled when the filling ends within a step
	warmest float64 // K, hottest layer of the coldest place, after the last step
	flow    float64 // m3/s of the last step
	limited bool    // the supply decided in the last step
}

// Fill fills a mould. Errors: an impossible mould or setting, a cancelled context; a short shot is a result, not an
// error.
func Fill(ctx context.Context, c *flow.Case, m *Mould, s Settings) (*Result, error) {
	if err := s.check(c, m); err != nil {
		return nil, err
	}
	f := newRun(c, m, s)
	for steps := 0; ; steps++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if steps > 200000 {
			return nil, fmt.Errorf("mould: no end after %d steps", steps)
		}
		if f.step() {
			break
		}
	}
	f.finish()
	return f.r, nil
}

func newRun(c *flow.Case, m *Mould, s Settings) *fillRun {
	f := &fillRun{filler: newFiller(c, m, s), r: &Result{NoFlow: s.NoFlow}, flow: s.Flow, warmest: s.Melt, pace: 1}
	f.melt = f.prop.enthalpy(s.Melt)
	thin := math.Inf(1)
	for i := range m.Elements {
		f.r.Volume += m.Elements[i].Volume()
		thin = math.Min(thin, m.Elements[i].thickness())
	}
	f.total = f.r.Volume
	alpha := c.Material.Conductivity.At(s.Melt) / f.rho / c.Material.Heat.Cp.At(s.Melt)
	f.creep = 0.02 * thin * thin / 4 / alpha
	f.enter(0)
	return f
}

// enter begins element e with its first station.
func (f *fillRun) enter(e int) {
	if e > 0 {
		f.from += f.path.length
	}
	f.element, f.first = e, len(f.st)
	f.path = f.pathOf(&f.m.Elements[e])
	f.open(f.path.first)
}

// open begins a station: melt as the front lays it.
func (f *fillRun) open(dx float64) {
	n := len(f.st)
	along := 0.0
	if n > f.first {
		along = f.st[n-1].x - f.from
	}
	s := f.add(f.element, &f.path, dx, along)
	s.x = f.from + along + dx
	if n == 0 {
		for i := range f.n {
			s.T[i], s.h[i] = f.s.Melt, f.melt
		}
		return
	}
	b := f.st[n-1]
	s.logS, s.was, s.tau, s.p, s.slope = b.logS, b.logS, b.tau, b.p, b.slope
	copy(s.h, b.h)
	f.turn(b)
	f.lay(b.h)
	for i := range f.n {
		if f.away[i] < 0 { // what arrives and what is laid, in proportion
			s.h[i] = (b.q[i]*b.h[i] - f.away[i]*f.laid[i]) / (b.q[i] - f.away[i])
		}
		s.T[i] = f.prop.temperature(s.h[i], b.T[i])
	}
}

// advance opens the next station or element once the front station is full; false at the end of the mould.
func (f *fillRun) advance() bool {
	st := f.st[len(f.st)-1]
	st.front, f.tip = 1, 1
	if st.x-f.from > f.path.length*(1-1e-9) {
		if f.element == len(f.m.Elements)-1 {
			return false
		}
		f.enter(f.element + 1)
		return true
	}
	dx := st.dx
	if len(f.st)-f.first >= f.path.most {
		f.merge(f.first)
		dx *= 2
	}
	f.open(dx)
	return true
}

// step takes the filling through one step in time, in which the front stays in one station; true at the end.
func (f *fillRun) step() (end bool) {
	r, st := f.r, f.st[len(f.st)-1]
	f.refresh()
	start := st.front
	dt := math.Min(1-start, stepShare) * st.volume / f.s.Flow
	ahead := func(q float64) { st.front = math.Min(1, start+q*dt/st.volume) }
	q, p, before := f.s.Flow, 0.0, 0.0
	limited := f.limited // likely again: the set flow is then not looked at
	if !limited {
		ahead(q)
		p, _ = f.pressure(q)
		before = p - st.drop*(1-start/st.front)
		if f.s.Supply != nil {
			if most := f.s.Supply(q); p > most {
				limited = true
				f.sinceWhen(p, most, st, start, dt)
			}
		}
	}
	if limited {
		dt = math.Min(1-start, stepShare) * st.volume / f.flow
		if !f.s.NoHeat { // slow flow: as long as freezing allows
			dt = math.Min(dt, f.creep*f.pace)
		}
		q, p = f.limit(f.flow, func(q float64) { ahead(q / 2) }) // at the middle of the step: second order in time
		dt = math.Min(dt, (1-start)*st.volume/q)
		ahead(q)
		limited = q < f.s.Flow*(1-1e-6)
	}
	last := f.flow
	f.flow, f.limited = q, limited
	if q < 1e-3*f.s.Flow || f.now > f.s.Longest {
		st.front, f.tip = start, start
		r.Stop = Spent
		if f.now > f.s.Longest {
			r.Stop = Late
		}
		return true
	}
	if !f.s.NoHeat {
		f.heatStep(q, start, dt)
	}
	warm := f.warmest
	part := f.frozenWithin() // of this step
	f.settle(math.Abs(q/last-1), math.Abs(warm-f.warmest))
	f.tip = start + part*(st.front-start)
	if part < 1 {
		r.Stop = Frozen
		dt *= part
	}
	f.now += dt
	f.done += q * dt
	all, cavity := f.opening()
	if n := len(r.Trace); n > 0 && !r.Trace[n-1].Limited && before > 0 {
		r.Trace[n-1].Pressure = before
	}
	r.Open, r.OpenLow = math.Max(r.Open, all), cavity
	r.Peak = math.Max(r.Peak, p)
	share, _ := f.frozen()
	r.Trace = append(r.Trace, Sample{Time: f.now, Flow: q, Pressure: p, Front: st.x - (1-f.tip)*st.dx,
		Filled: math.Min(1, f.done/f.total), Frozen: share, Limited: limited, Open: all})
	if part < 1 {
		return true
	}
	if st.front > 1-1e-9 && !f.advance() {
		r.Filled, r.Stop = true, Full
		return true
	}
	return false
}

// These say when a slow filling stands still enough for longer steps: by how much the flow (ratio) and the coldest
// place (K) change in a step, by how much a step then grows, and the longest step in steps of creep. Assumed; with
// them the reach moves by less than 0.4 per cent (18 cases of three melts and two walls), mostly by none.
const (
	stillFlow    = 1e-3
	stillHeat    = 0.02
	paceGrowth   = 1.1
	longestSteps = 100.0
)

// settle lengthens the next step where the last one hardly changed the flow (ratio) and the coldest place (K), and
// shortens it else. Without it a melt that creeps between walls above its no-flow temperature takes hundreds of
// thousands of steps.
func (f *fillRun) settle(flow, heat float64) {
	if flow < stillFlow && heat < stillHeat {
		f.pace = math.Min(f.pace*paceGrowth, longestSteps)
		return
	}
	f.pace = math.Max(1, f.pace/2)
}

// sinceWhen notes when the supply began to decide: where the pressure passed what it gives, by a straight line over the
// step.
func (f *fillRun) sinceWhen(p, most float64, st *station, start, dt float64) {
	r := f.r
	if r.Limited > 0 {
		return
	}
	part := 0.0
	if n := len(r.Trace); n > 0 {
		if last := r.Trace[n-1].Pressure; last < most {
			part = (most - last) / (p - last)
		}
	}
	r.Limited = math.Max(1e-9, f.now+part*dt)
	r.LimitedAt = st.x - st.dx + (start+part*(math.Min(1, start+f.s.Flow*dt/st.volume)-start))*st.dx
}

// heatStep takes all stations over dt, in the order of flow.
func (f *fillRun) heatStep(q, start, dt float64) {
	var before *station
	last := len(f.st) - 1
	f.slopes()
	for j, s := range f.st {
		f.flows(s, q*s.share*s.speed)
		if j < last {
			f.energy(before, s, f.melt, 1, dt, through)
		} else {
			f.energy(before, s, f.melt, start, dt, filling)
		}
		before = s
	}
	f.brought += f.rho * q * dt * f.melt
}

// slopes fills rise from the enthalpies before the step, by the differences to the stations on both sides, limited so
// that no new extremes come up (monotonized central differences, B. van Leer, J. Comput. Phys. 23 (1977) 276, from
// memory).
func (f *fillRun) slopes() {
	last := len(f.st) - 1
	for j, s := range f.st {
		switch {
		case j == last && j > 0 && f.st[j-1].e == s.e: // the core's way to the tip
			b := f.st[j-1]
			f.turn(b)
			for i, away := range f.away {
				s.rise[i] = 0
				if away > 0 {
					s.rise[i] = b.rise[i] * s.front
				}
			}
		case j == last || j > 0 && f.st[j-1].e != s.e:
			clear(s.rise)
		case j == 0:
			for i, h := range s.h {
				s.rise[i] = limited(2*(h-f.melt), f.st[1].h[i]-h)
			}
		case j == last-1 || f.st[j+1].e != s.e: // the front cell is another kind of mean
			for i, h := range s.h {
				s.rise[i] = (h - f.st[j-1].h[i]) / 2
			}
		default:
			for i, h := range s.h {
				s.rise[i] = limited(h-f.st[j-1].h[i], f.st[j+1].h[i]-h)
			}
		}
	}
}

// limited is half the change over a station from those to its middle from both sides.
func limited(x, y float64) float64 {
	if x*y <= 0 {
		return 0
	}
	m := (x + y) / 4
	if x < 0 {
		return max(m, x, y)
	}
	return min(m, x, y)
}

// frozenWithin returns after what part of the step the hottest layer of some place fell below the no-flow temperature,
// by a straight line; 1 if it did not.
func (f *fillRun) frozenWithin() float64 {
	if f.s.NoHeat {
		return 1
	}
	cold := math.Inf(1)
	for _, s := range f.st[:len(f.st)-1] {
		hot := 0.0
		for _, T := range s.T {
			hot = max(hot, T)
		}
		cold = min(cold, hot)
	}
	tip, hot := f.st[len(f.st)-1], 0.0
	for i, T := range tip.T {
		hot = max(hot, T+tip.rise[i]/f.prop.capacity(T))
	}
	cold = min(cold, hot)
	was := f.warmest
	f.warmest = cold
	if cold >= f.noFlow {
		return 1
	}
	if was <= f.noFlow {
		return 0
	}
	return (was - f.noFlow) / (was - cold)
}

// finish fills what follows from the end of filling.
func (f *fillRun) finish() {
	r := f.r
	if !f.s.NoHeat {
		r.Balance = f.balance()
	}
	last := f.st[len(f.st)-1]
	last.front = f.tip
	r.Time, r.Front = f.now, last.x-(1-last.front)*last.dx
	r.Where = f.m.Elements[last.e].Name
	if !r.Filled {
		r.Why = f.why(r.Stop)
	}
	var projected float64
	for i := range f.m.Elements {
		if f.m.Elements[i].Shape != Sprue {
			projected += f.m.Elements[i].Projected()
		}
	}
	r.OpenHigh = r.Peak * projected
	if f.s.Supply != nil {
		r.OpenHigh = math.Max(r.Peak, f.s.Supply(0)) * projected
	}
	f.profile(r)
	if !f.s.NoHeat {
		base := f.rho * f.done * (f.melt - f.prop.enthalpy(f.m.Surface))
		_, wall := f.content()
		r.ToWall, r.Shear = (f.lost+wall)/base, f.viscous/base
		f.rest(r)
	}
	r.Warnings = f.warnings(r)
}

// balance is what the books of heat do not close to, as a share of the heat brought in.
func (f *filler) balance() float64 {
	melt, wall := f.content()
	if f.brought == 0 {
		return 0
	}
	return math.Abs(f.brought+f.viscous-f.lost-melt-wall) / math.Abs(f.brought)
}

// frozen returns the share of the thickness below the no-flow temperature where it is most, and the station.
func (f *filler) frozen() (share float64, at int) {
	for j, s := range f.st {
		x := 0.0
		for i := range f.n {
			if s.T[i] < f.noFlow {
				x += f.face[i+1] - f.face[i]
			}
		}
		if x > share {
			share, at = x, j
		}
	}
	return share, at
}

// opening returns the force that opens the mould (N) and that on cavities alone.
func (f *filler) opening() (all, cavity float64) {
	for _, s := range f.st {
		e := &f.m.Elements[s.e]
		mid := s.p - s.drop/2
		a := e.Projected() * s.dx * s.front
		switch e.Shape {
		case DiscGap:
			a = s.surface / 2 * s.front * float64(e.Copies)
		case Sprue:
			a = 0 // stands on the plane: its melt pushes on the nozzle
		default:
			a /= e.Length
		}
		all += mid * a
		if e.Cavity {
			cavity += mid * a
		}
	}
	return all, cavity
}

// why says what stopped a short shot.
func (f *filler) why(stop Stop) string {
	share, at := f.frozen()
	where := f.m.Elements[f.st[at].e].Name
	switch {
	case stop == Late:
		return fmt.Sprintf("it creeps: not full after %.0f s", f.s.Longest)
	case stop == Frozen || share > 0.6:
		return fmt.Sprintf("frozen: %.0f %% of the thickness is below %.0f degC in %s", 100*share,
			unit.Celsius(f.noFlow), where)
	}
	return "the force of the feeder is used up before the melt freezes"
}

func (f *filler) profile(r *Result) {
	r.Profile.Face = append([]float64{}, f.face[1:]...)
	p := &r.Profile
	for _, s := range f.st {
		p.X = append(p.X, s.x-s.dx*(1-s.front/2))
		p.Half = append(p.Half, s.half)
		p.T = append(p.T, append([]float64{}, s.T...))
		p.Surface = append(p.Surface, f.surfaceOf(s))
		p.P = append(p.P, s.p)
		p.Element = append(p.Element, s.e)
	}
}

// surfaceOf is the temperature (K) of the mould's face at a station.
func (f *filler) surfaceOf(s *station) float64 {
	if f.nw == 0 {
		return f.m.Surface
	}
	f.k[f.n-1] = f.conductivity(s.T[f.n-1])
	g := f.toFace(s, f.row(s)) / (s.surface * s.front)
	q := g * (s.T[f.n-1] - s.wall[0]) // W/m2
	return s.wall[0] + q*f.wallEdge[1]/2/f.m.Wall.K
}

func (f *filler) conductivity(T float64) float64 {
	a, _ := f.prop.of(T)
	return a.k
}

func (f *filler) warnings(r *Result) []materials.Warning {
	list := f.c.Material.Warnings()
	add := func(code, format string, args ...any) {
		list = materials.AddWarning(list, materials.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
	}
	mat := f.c.Material
	if f.m.Surface >= mat.Ejection {
		add("mould-too-hot", "the mould at %.0f degC is not below the ejection temperature of %.0f degC: the part "+
			"cannot be taken out", unit.Celsius(f.m.Surface), unit.Celsius(mat.Ejection))
	}
	if f.s.Melt < f.noFlow {
		add("melt-too-cold", "the melt enters at %.0f degC, below the no-flow temperature of %.0f degC",
			unit.Celsius(f.s.Melt), unit.Celsius(f.noFlow))
	}
	if r.Time > 30 {
		add("slow-fill", "filling takes %.0f s; an injection press takes about one: at filament flows it is freezing "+
			"that decides, so warm the mould and thicken the wall", r.Time)
	}
	return list
}
