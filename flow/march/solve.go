package march

import (
	"math"

	"meltload/flow"
)

// Stretch tells what the stock does at a station.
type Stretch int

// The stretches, from the cold side.
const (
	stretchRod Stretch = iota
	stretchWetted
	stretchHeld
)

func (s Stretch) String() string { return [...]string{"rod", "wetted", "held"}[s] }

// Field is the resolved solution: one entry per station, cells from the axis.
type Field struct {
	Cells   int
	Z       []float64 // m from the inlet of the path
	R       []float64 // m, radius or half gap of the stock: of the rod where it stands in an air gap
	Bore    []float64 // m, radius or half gap of the passage; the air gap is Bore - R
	Stretch []Stretch
	P       []float64 // Pa
	Mix     []float64 // K
	Centre  []float64 // K
	Core    []float64 // m, radius below T_flow
	Section []int
	Radius  []float64 // station by station: outer radius of each cell, m
	T       []float64 // cell temperature, K
	U       []float64 // cell mean velocity, m/s
}

// Solve implements flow.Solver. The march is repeated until the temperature at which the rod gives way is that at which
// its strength equals the push, within softTolerance or what moves the push by softEffect, and, for a
// pressure-sensitive law, until the inlet pressure is that of the march before within pressureTol; where `marches` are
// not enough, Stats.RanOut says so.
func (s *Solver) Solve(block, q float64, r *flow.Solution) error {
	if s.invalid != nil {
		return s.invalid
	}
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.tab.solves.Add(1)
	return s.solve(block, q, r)
}

// solve is Solve on checked input.
func (s *Solver) solve(block, q float64, r *flow.Solution) error {
	if m := s.mem; m != nil {
		s.mem = nil // steady, whatever runs in time
		defer func() { s.mem = m }()
	}
	c := s.c
	sensitive := c.Material.Viscosity.PressureSensitive()
	s.begin(block, q, 0, r)
	s.weighCones(block, q)
	var soft softening
	if !c.Stock.Stick {
		s.rod.n, s.rod.whole = 0, false
		soft.floor, soft.top = c.Filament.Inlet, c.Material.Softens(0)
		soft.lo, soft.hi = soft.floor, soft.top
		soft.T = c.Material.Softens(firstPush / c.Area())
	}
	p, slope := s.firstGuess(block, q, &soft)
	a := answer{slope: slope}
	for range marches {
		if err := s.pass(block, q, p, soft.T, r); err != nil {
			return err
		}
		f := r.Pressure
		a.add(p, f)
		held := !sensitive || a.effect()*math.Abs(f-p) < pressureTol*f && f < mostPressure
		if held && (c.Stock.Stick || soft.found(c, r)) {
			s.trail.add(block, q, &soft, a.slope, r)
			return nil
		}
		if !c.Stock.Stick {
			soft.next(c, r)
		}
		if sensitive {
			p += (f - p) / (1 - max(0, a.slope)) // secant on what a march adds to its guess
		}
	}
	r.Stats.RanOut = "pressure along the path"
	if !c.Stock.Stick && !soft.found(c, r) {
		r.Stats.RanOut = "softening of the rod"
	}
	return nil
}

// state is what a march carries from station to station; heats and works are of all channels.
type state struct {
	block, inlet, mdot float64
	r                  *flow.Solution

	z, zPrev float64 // m from the inlet, of the station in hand and the one before
	spent    float64 // Pa, drop so far
	deferred float64 // W, work of the step before that its cells have not got yet
	tw       float64 // Pa, wall stress; 0 where there is none to go on from
	drift    float64 // found over guessed wall stress at the station before
	wallHeat float64 // W
	viscous  float64 // W
	workDone float64 // W
	released float64 // W, heat given up by the content
	growth0  float64 // growth of the step before, 0 where there was none
	steps    int     // steps taken along a wall that holds the melt
	// m/s of the plug that the next no-slip wall takes hold of; 0 where the stock comes with a profile of its own
	plugSpeed float64
	fresh     bool // no wall has touched the stock yet
	end       ending
}

// section is the section in hand; md is the mass flow of one of its channels.
type section struct {
	*plan
	sec          *flow.Section
	out          *flow.SectionSolution
	index        int
	md, channels float64
}

func (s *Solver) sectionOf(i int) section {
	sec := &s.c.HotEnd.Sections[i]
	return section{plan: &s.sec[i], sec: sec, out: &s.r.Sections[i], index: i, md: s.mdot / float64(sec.Channels),
		channels: float64(sec.Channels)}
}

// begin sets state and result for a march; inlet is the pressure at the top of the path as far as known.
func (s *Solver) begin(block, q, inlet float64, r *flow.Solution) {
	s.c.Prepare(block, q, r)
	s.state = state{block: block, inlet: inlet, mdot: s.tab.solid * q, r: r}
	r.Stats.Cells = s.n
	r.PushArea = s.c.Area()
	st := &r.Stretches
	st.Unheated = s.c.Unheated()
	if !s.c.Stock.Stick {
		st.Gap = max(0, (s.c.HotEnd.Sections[0].D1-s.c.Filament.Diameter)/2)
	}
	if s.opt.Fields {
		s.Field = Field{Cells: s.n}
	}
}

// pass marches once, the rod cut at the bulk temperature soft (K).
func (s *Solver) pass(block, q, inlet, soft float64, r *flow.Solution) error {
	c := s.c
	var target float64 // J/kg, bulk enthalpy at which the rod is cut
	if !c.Stock.Stick && s.mem == nil {
		target = c.Material.Heat.Enthalpy(soft)
		s.warm.reachRod(target) // before the march begins: it walks with the same state
	}
	s.begin(block, q, inlet, r)
	h0 := c.Material.Heat.Enthalpy(c.Filament.Inlet)
	var i int
	var x float64
	if c.Stock.Stick {
		i, x = s.start()
		s.fresh = true
		if c.Filament.Inlet < c.Material.FlowPoint() {
			// Solid stock enters as a plug; melt enters with its developed profile.
			s.plugSpeed = s.mdot * c.Material.Density.Volume(c.Filament.Inlet, 0) /
				s.sec[i].geometry(c.HotEnd.Sections[i].Radius(x)).area
		}
		if s.opt.Slip > 0 {
			p := s.sectionOf(i)
			x = s.slip(&p, x)
			s.fresh = false
		}
	} else if s.mem != nil {
		r.PushArea = s.sec[0].push
		s.marchBarrelInTime(soft)
		i = s.cone
	} else {
		i, x = s.cutRod(target)
		r.Stretches.Softening = soft
		r.PushArea = s.sec[min(i, max(0, s.cone-1))].push
		for i < s.cone {
			p := s.sectionOf(i)
			if x = s.marchWetted(&p, x); x < 1 {
				break
			}
			i, x = i+1, 0
		}
	}
	for ; i < len(s.sec); i, x = i+1, 0 {
		p := s.sectionOf(i)
		s.marchNoSlip(&p, x)
		s.endSection(i, p.geometry(p.sec.Radius(1)))
		if i > 0 {
			s.entrance(&p)
		}
	}
	return s.finish(h0)
}

// endSection books temperatures at the end of section i, where the stock has the cross-section g.
func (s *Solver) endSection(i int, g geom) {
	sec, out := &s.c.HotEnd.Sections[i], &s.r.Sections[i]
	out.Drop = out.Shear + out.Elongation
	if s.loadOnly {
		return
	}
	out.Wall = s.c.WallAt(i, 1, s.block)
	out.Bulk, out.Centre, out.CoreRadius = s.mixing(), s.centre(), s.core(&g)
	out.Residence = sec.Volume() / (s.mdot * s.c.Material.Density.Volume(out.Bulk, 0))
}

// entrance adds the elastic loss of the contraction before the passage p, by the mean wall stress of that passage; its
// work is deferred to the end of it.
func (s *Solver) entrance(p *section) {
	if s.opt.NoElong || !s.c.Narrows(p.index-1) {
		return
	}
	out := &s.r.Sections[p.index-1]
	loss, over := s.c.EntranceLoss(p.index-1, s.meanStress(p), out.MeltElongation)
	if over {
		s.r.BeyondEntrance = true
	}
	if loss == 0 {
		return
	}
	out.Entrance = loss
	out.Drop += loss // (12)
	s.spent += loss
	for i := len(s.Field.P) - 1; i >= 0 && s.Field.Section[i] >= p.index; i-- {
		s.Field.P[i] -= loss // it is spent before the passage
	}
	q := s.vol[s.n] * p.channels
	s.workDone += loss * q
	if !s.opt.NoHeat {
		s.deferred += loss * q
	}
}

// meanStress returns the wall stress (Pa) averaged over the length of a passage.
func (s *Solver) meanStress(p *section) float64 {
	if p.length == 0 || p.tan > 0 {
		return p.out.WallStress
	}
	g := p.geometry(p.sec.Radius(1))
	return p.out.Shear / p.length / g.grad
}

// surface returns the temperature of the polymer at the wall (K): short of the wall's by what the contact takes.
func (s *Solver) surface(wall float64) float64 {
	T := s.T[s.n-1]
	return T + s.surfaceShare*(wall-T)
}

// finish puts what is still deferred into the melt, and closes the balances; h0 is the enthalpy of the stock.
func (s *Solver) finish(h0 float64) error {
	r, st := s.r, &s.r.Stats
	if s.loadOnly {
		return s.c.Finish(r)
	}
	s.deposit()
	s.viscous += s.deferred
	if last := &r.Sections[len(r.Sections)-1]; s.deferred != 0 {
		last.Viscous += s.deferred
		last.Bulk, last.Centre = s.mixing(), s.centre()
	}
	if err := s.c.Finish(r); err != nil {
		return err
	}
	var gained, carried float64
	for i := range s.n {
		gained += s.frac[i] * (s.h[i] - h0) * s.mdot
		carried += s.frac[i]
	}
	st.MassBalance = math.Abs(carried - 1)
	s.leak()
	r.Stored = -s.released
	st.HeatBalance = math.Abs(gained-s.wallHeat-s.viscous-s.released) / (math.Abs(s.wallHeat) + s.viscous + 1e-12)
	st.WorkBalance = math.Abs(s.viscous-s.workDone) / (s.workDone + 1e-12)
	if s.opt.NoHeat {
		st.WorkBalance = 0
	}
	for i := range s.Field.P {
		s.Field.P[i] += r.Pressure - s.inlet
	}
	return nil
}

// leak fills how far the pressure squeezes melt back up the gap past the end of the rod, against the rod's own motion
// (a plane gap, reported only):
//
//	L = p g^2/(6 eta V)        (9)
//
// eta at the mean of wall and rod temperature and the rate V/g.
func (s *Solver) leak() {
	x, c := &s.r.Stretches, s.c
	if x.Rod == 0 || x.Gap == 0 {
		return
	}
	T := (c.WallAt(0, 0.5, s.block) + x.Softening) / 2
	g, v := x.Gap, s.r.Speed
	phi := c.Fluidity(T, 0)
	x.Leak = min(x.Rod, s.r.Pressure*g*g/(6*s.tab.visc.Eta(v*v/(g*g), phi)*v))
}

// deposit adds the work still deferred at the exit to the cells, so that the balances close.
func (s *Solver) deposit() {
	if s.sumWork == 0 {
		return
	}
	for i := range s.n {
		d := s.deferred * s.work[i] / s.sumWork / (s.frac[i] * s.mdot)
		s.h[i] += d
		s.T[i] += d / s.cp[i]
	}
}

// resetFaces starts the faces of a new kind of channel from a parabolic profile.
func (s *Solver) resetFaces(planar bool) {
	n := s.n
	in := 0.0
	for i := range n {
		in += s.frac[i]
		// o = x (2 - x) for round tubes in x = (r/R)^2; in a gap the share is near x itself.
		x := 1 - math.Sqrt(max(0, 1-in))
		if planar {
			x = min(1, 1-math.Pow(1-in, 0.6))
		}
		s.face[i+1] = x
	}
	s.face[0], s.face[n] = 0, 1
}

// firstStress is the first guess of the wall stress, from the mean fluidity.
func (s *Solver) firstStress(g *geom, md float64) float64 {
	var f float64
	for i := range s.n {
		f += s.frac[i] * s.phi[i]
	}
	rate := 4 * s.vol[s.n] / (g.area * g.size)
	v := &s.tab.m.Viscosity
	return v.Stress(rate/f) + 1e-9
}

// growth returns how far what grows with the root of the distance from the inlet, as a thermal layer does, goes on over
// a step of dz (m), over its last change; 0 at the start of a stretch that holds the stock. A first guess rests on it.
func (s *Solver) growth(dz float64) float64 {
	if s.steps < 2 || s.z <= s.zPrev {
		return 0
	}
	now := math.Sqrt(s.z)
	return min(farthest, (math.Sqrt(s.z+dz)-now)/(now-math.Sqrt(s.zPrev)))
}

// farthest is how many times their last move the faces go on at most: after a short step, which ends a section or a
// stretch, that move is known too little.
const farthest = 4

// followFaces moves the faces on as they moved in the step before, times f: the first guess of a profile. No cell gives
// up more than a tenth of itself.
func (s *Solver) followFaces(f float64) {
	face, face0 := s.face[:s.n+1], s.face0[:s.n+1]
	prev := face[0]
	for i := 1; i < s.n; i++ {
		x := face[i]
		d := f * (x - face0[i])
		if up := 0.1 * (face[i+1] - x); d > up {
			d = up
		} else if down := -0.1 * (x - prev); d < down {
			d = down
		}
		prev = x
		face0[i] = x
		face[i] = x + d
	}
}

// correction returns the factor by which the wall stress falls when the fluidities expected at the station give way to
// those at the temperatures reached and at a pressure higher by dp (Pa): the profile's own sensitivity, to first order.
func (s *Solver) correction(dp float64) float64 {
	if s.sumWork == 0 {
		return 1 // no stress
	}
	n := s.n
	soft, work, T, Tx := s.soft[:n], s.work[:n], s.T[:n], s.Tx[:n]
	var d float64
	for i := range soft {
		x := soft[i] * (T[i] - Tx[i])
		x *= 1 + 0.5*x
		if s.pressed {
			x += s.tab.m.Viscosity.PressureFactor(T[i], dp) - 1
		}
		d += work[i] * x
	}
	return max(0.2, 1+s.sens*d/s.sumWork)
}

// softening is the same factor from the fluidities one station back to those at hand: the first guess of the stress.
func (s *Solver) softening(phi0 []float64) float64 {
	var d, sum float64
	for i, w := range s.work0[:s.n] {
		sum += w
		d += w * (s.phi[i] - phi0[i]) / (s.phi[i] + phi0[i]) // half of ln(phi/phi0), to third order
	}
	if sum == 0 {
		return 1
	}
	return about(max(-1.6, min(1.6, 2*s.sens*d/sum)))
}

// guess is the first guess of the ratio of wall stress between two sizes: power law of index n.
func guess(g0, g *geom, n float64) float64 {
	if g0.size == g.size {
		return 1
	}
	if y := 6 * n * (g0.size - g.size) / (g0.size + g.size); y < 1 && y > -1 {
		return about(y)
	}
	return math.Pow(g0.size/g.size, 3*n)
}

// about is exp(x) within 2 % for |x| < 1.6, enough for a first guess: the Pade approximant of second order.
func about(x float64) float64 {
	even, odd := 1+x*x/12, 0.5*x
	return (even + odd) / (even - odd)
}

// meanGradient averages the gradient over a step from the radius ra to rb: as an exponential of the distance in a tube,
// as a power of the radius where that changes. Both are (b rb - a ra)/ln(b rb/(a ra)) over the same of ra and rb alone.
func meanGradient(a, b, ra, rb float64) float64 {
	if a <= 0 || b <= 0 {
		return 0.5 * (a + b)
	}
	if ra == rb {
		return logMean(a, b)
	}
	return logMean(a*ra, b*rb) / logMean(ra, rb)
}

// logMean is (b - a)/ln(b/a), within 5e-6 for a ratio of 2 and 6e-4 for one of 10: it is the mean of the roots p and q
// times their logarithmic mean, and that is two thirds of their geometric and a third of their arithmetic mean, to
// fourth order in ln(q/p).
func logMean(a, b float64) float64 {
	p, q := math.Sqrt(a), math.Sqrt(b)
	m := 0.5 * (p + q)
	return m * (2*math.Sqrt(p*q) + m) / 3
}

// settling is the length, in radii, over which a velocity profile takes up a change:
// creeping flow in a tube forgets a disturbance as exp(-4.46 z/R) to both sides (first eigenvalue of
// the end problem, from memory), and a one-sided lag of twice that length does the same work.
const settling = 0.45

// uptake returns the shares of a step in a tube: the stream takes up a change of profile m(z) as
// dU/dz = (m - U)/l; over the step, m running linearly, U gains lead (m0 - U) + trail (m1 - m0).
func uptake(dz, size float64) (lead, trail float64) {
	x := dz / (settling * size)
	lead = 1 - math.Exp(-x)
	return lead, 1 - lead/x
}

// settle lets the stream take up the profile of the step.
func (s *Solver) settle(lead, trail float64) {
	mid, mid0, adapted := s.mid[:s.n], s.mid0[:s.n], s.adapted[:s.n]
	for i := range adapted {
		adapted[i] += lead*(mid0[i]-adapted[i]) + trail*(mid[i]-mid0[i])
	}
}

// wallFluidity is phi W at the wall itself: shear rate over stress there.
func (s *Solver) wallFluidity(T, tau float64) float64 {
	phi, _ := s.stock(T, 0)
	return phi * s.tab.visc.W(tau*tau)
}

// bulkEnthalpy returns the enthalpy of the mixing cup, J/kg.
func (s *Solver) bulkEnthalpy() float64 {
	var h float64
	for i := range s.n {
		h += s.frac[i] * s.h[i]
	}
	return h
}

// mixing returns the mixing-cup temperature (K).
func (s *Solver) mixing() float64 { return s.tab.temperature(s.bulkEnthalpy(), s.T[s.n/2]) }

// centre returns the temperature on the axis (K): the inner cells' parabola.
func (s *Solver) centre() float64 {
	a := centroid(s.face[0], s.face[1], s.u[0], s.u[1])
	b := centroid(s.face[1], s.face[2], s.u[1], s.u[2])
	return s.T[0] - (s.T[1]-s.T[0])*a/(b-a)
}

// core returns the radius (m) inside which the melt is below T_flow.
func (s *Solver) core(g *geom) float64 {
	tf := s.c.Material.FlowPoint()
	if s.centre() >= tf {
		return 0
	}
	prevX, prevT := 0.0, s.centre()
	for i := range s.n {
		x := centroid(s.face[i], s.face[i+1], s.u[i], s.u[i+1])
		if s.T[i] >= tf {
			x = prevX + (x-prevX)*(tf-prevT)/(s.T[i]-prevT)
			if !g.planar {
				x = math.Sqrt(x)
			}
			return x * g.size
		}
		prevX, prevT = x, s.T[i]
	}
	return g.size
}

// record keeps a station of the field at the fraction x of section si, z from the inlet, size the radius or half gap of
// the stock.
func (s *Solver) record(stretch Stretch, si int, z, size, x float64) {
	if !s.opt.Fields {
		return
	}
	f := &s.Field
	g := s.sec[si].geometry(size)
	bore := size
	if stretch == stretchRod {
		bore = s.c.HotEnd.Sections[si].Radius(x)
	}
	f.Z = append(f.Z, z)
	f.R = append(f.R, size)
	f.Bore = append(f.Bore, bore)
	f.Stretch = append(f.Stretch, stretch)
	f.P = append(f.P, s.inlet-s.spent)
	f.Mix = append(f.Mix, s.mixing())
	f.Centre = append(f.Centre, s.centre())
	f.Core = append(f.Core, s.core(&g))
	f.Section = append(f.Section, si)
	for i := range s.n {
		r := s.face[i+1]
		if !g.planar {
			r = math.Sqrt(r)
		}
		f.Radius = append(f.Radius, r*size)
		f.T = append(f.T, s.T[i])
		f.U = append(f.U, s.mid[i])
	}
}
