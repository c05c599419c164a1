package march

import (
	"math"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/materials/num"
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

// The search for the temperature at which the rod gives way and for the pressure that a pressure-sensitive law is taken
// at.
const (
	softTolerance = 0.1  // K, of the softening temperature
	softEffect    = 3e-4 // of the push: what a softening temperature that is off may do, as far as known
	leastSoft     = 5e-3 // K, the least tolerance of the softening temperature for that
	pressureTol   = 5e-4 // of the inlet pressure: it moves viscosity by less than a thousandth
	marches       = 40   // the most of them
	mostPressure  = 1e11 // Pa: beyond, a pressure-sensitive law has no answer but its cap
	steepest      = 0.95 // the steepest slope of found over guessed pressure that a step goes by
	unknown       = -1.0 // that slope before there are two marches
	sure          = 3    // by how many times an estimate of it may be too low
	sameSoft      = 1e-3 // K, between bounds of the softening temperature that are one
	firstPush     = 10   // N, the push at which the search begins
)

// Solve implements flow.Solver. The march is repeated until the temperature at which the rod gives way is that at which
// its strength equals the push within softTolerance, and, for a pressure-sensitive law, until the inlet pressure is
// that of the march before within pressureTol; where `marches` are not enough, Stats.RanOut says so.
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

// answer is how the pressure that a march finds goes with the pressure that it was guessed to be.
type answer struct {
	seen         bool
	guess, found float64 // Pa, of the march before
	slope        float64 // of found over guessed, unknown before there are two marches
}

// add takes up a march. The slope is kept where a step by it makes sense: it is below one wherever there is an answer.
func (a *answer) add(guess, found float64) {
	if a.seen && guess != a.guess {
		a.slope = max(0, min(steepest, (found-a.found)/(guess-a.guess)))
	}
	a.seen, a.guess, a.found = true, guess, found
}

// effect is the most that a step of the guess moves what a march finds, over the step, by the slope as estimated.
func (a *answer) effect() float64 {
	if a.slope < 0 {
		return 1
	}
	return min(1, sure*a.slope)
}

// trail is where the searches before ended, for one that begins where they point to.
type trail struct {
	follow bool
	n      int // of the following, the last first
	block  [2]float64
	lnQ    [2]float64
	T      [2]float64 // K, softening temperature
	p      [2]float64 // Pa
	slope  float64    // of the softening temperature's miss
	effect float64    // of the softening temperature on the push
	press  float64    // of found over guessed pressure
}

// Follow makes every search begin where the last ones ended, which takes fewer marches along a curve of flows: the
// first from near, a solution of a case like this one (nil for a look ahead of its own). A solution then depends on
// those before it, by less than its tolerance: softTolerance and pressureTol. Without Follow it does not.
func (s *Solver) Follow(near *flow.Solution) {
	s.trail = trail{follow: true}
	if near != nil && near.Pressure > 0 {
		s.trail.n = 1
		s.trail.T[0], s.trail.p[0], s.trail.slope = near.Stretches.Softening, near.Pressure, -1
		s.trail.press = unknown
	}
}

// add keeps the end of a search.
func (t *trail) add(block, q float64, soft *softening, press float64, r *flow.Solution) {
	if !t.follow {
		return
	}
	t.block[1], t.lnQ[1], t.T[1], t.p[1] = t.block[0], t.lnQ[0], t.T[0], t.p[0]
	t.block[0], t.lnQ[0], t.T[0], t.p[0], t.slope = block, math.Log(q), soft.T, r.Pressure, soft.slope
	t.effect, t.press = soft.effect, press
	t.n = min(2, t.n+1)
}

// firstGuess sets the first guess of the softening temperature and returns that of the inlet pressure (Pa), with the
// slope of found over guessed pressure: from the searches before, on a line through the last two where these were at
// this block temperature and near, or by a look ahead.
func (s *Solver) firstGuess(block, q float64, soft *softening) (p, slope float64) {
	t := &s.trail
	if t.n == 0 {
		return s.lookAhead(block, q, soft)
	}
	T := t.T[0]
	p = t.p[0]
	if d := t.lnQ[0] - t.lnQ[1]; t.n == 2 && t.block == [2]float64{block, block} && d != 0 {
		if x := (math.Log(q) - t.lnQ[0]) / d; math.Abs(x) < 2 {
			T += x * (T - t.T[1])
			p += x * (p - t.p[1])
		}
	}
	if T > soft.lo && T < soft.hi {
		soft.T, soft.slope, soft.effect = T, t.slope, t.effect
	}
	if !s.pressed || p < 0 {
		p = 0
	}
	return p, t.press
}

// lookAhead makes the first guess of softening temperature, inlet pressure (Pa) and the slope of found over guessed
// pressure from a few marches at low resolution. It does not depend on what was solved before, so that a solution is
// the same in whatever order it is asked for.
func (s *Solver) lookAhead(block, q float64, soft *softening) (p, slope float64) {
	f, c := s.coarse, s.c
	if f == nil {
		return 0, unknown
	}
	r := &f.glance
	f.begin(block, q, 0, r)
	for i := range f.sec {
		f.sec[i].wide = s.sec[i].wide
	}
	look := *soft
	a := answer{slope: unknown}
	for range looks {
		if f.pass(block, q, p, look.T, r) != nil {
			return p, a.slope
		}
		r.Force *= lookShare
		r.Pressure *= lookShare
		settled := math.Abs(r.Pressure-p) < lookTol*r.Pressure || !c.Material.Viscosity.PressureSensitive()
		a.add(p, r.Pressure)
		p = r.Pressure
		if c.Stock.Stick || look.found(c, r) {
			if settled {
				break
			}
			continue
		}
		if look.next(c, r); settled && math.Abs(look.miss) < nearMiss {
			break
		}
	}
	soft.T, soft.slope, soft.effect = look.T, look.slope, look.effect
	return p, a.slope
}

// The look ahead: marches at low resolution, at most, and the pressure that they settle to.
const (
	looks    = 6
	lookTol  = 0.02
	nearMiss = 5 // K, from which one step lands within the tolerance as a rule
	// by which the load at low resolution falls short: the median of the library over flows and nozzles is 1 to 2 %
	lookShare = 1.01
)

// softening searches the bulk temperature T (K) at which the rod gives way, Strength(T) = F/A_f (3): the temperature at
// which the push of a march would soften the rod, less the one that the march took, falls with T, as a hotter, longer
// rod needs more push and more push softens sooner. So the root is one, kept between lo and hi.
type softening struct {
	floor, top   float64 // K, temperature of the stock as it enters, and at which it gives way under no push
	T, lo, hi    float64
	before, miss float64 // T of the march before, and what it missed by; 0 for none
	push         float64 // N, of the march before
	slope        float64 // of the miss over T, as far as known: -1 or steeper
	effect       float64 // 1/K, of T on the push, as a share of it and without its sign; 0 where it is not known
}

// missed returns by how much (K) the temperature taken lies below the one that belongs to the push found.
func (x *softening) missed(c *flow.Case, r *flow.Solution) float64 {
	if c.Stock.Stick {
		return 0
	}
	return c.Material.Softens(r.Force/c.Area()) - x.T
}

func (x *softening) found(c *flow.Case, r *flow.Solution) bool {
	miss := x.missed(c, r)
	near := softTolerance
	if near*x.effect > softEffect {
		near = max(leastSoft, softEffect/x.effect)
	}
	return math.Abs(miss) < near || r.Stretches.Solid && miss > 0 || x.hi-x.lo < sameSoft
}

// next takes a secant step, kept in the bracket.
func (x *softening) next(c *flow.Case, r *flow.Solution) {
	miss := x.missed(c, r)
	if miss > 0 {
		x.lo = max(x.lo, x.T)
	} else {
		x.hi = min(x.hi, x.T)
	}
	x.slope = min(-1, x.slope)
	if d := x.T - x.before; x.before > 0 && math.Abs(d) > 1e-6 {
		x.slope = min(-1, (miss-x.miss)/d)
		x.effect = math.Abs(2 * (r.Force - x.push) / (r.Force + x.push) / d)
	}
	x.before, x.miss, x.push = x.T, miss, r.Force
	if x.T -= miss / x.slope; x.T <= x.lo || x.T >= x.hi {
		if x.T <= x.lo && x.lo == x.floor {
			x.T = x.floor + sameSoft/2 // it gives way where it enters, as a rule
			return
		}
		if x.T >= x.hi && x.hi == x.top {
			x.T = x.top // under next to no push, as a rule
			return
		}
		x.T = (x.lo + x.hi) / 2
	}
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
	free := !c.Stock.Stick && s.mem == nil
	var target float64
	if free {
		target = c.Material.Heat.Enthalpy(soft)
		s.warm.reachRod(target)
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
	} else if !free {
		r.PushArea = s.sec[0].push
		s.marchBarrelInTime(soft)
		i = s.cone
	} else {
		i, x = s.cutRod(target, soft)
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

// undo takes a step back, so that it can be taken again with the temperatures it found.
func (s *Solver) undo() {
	n := s.n
	copy(s.h[:n], s.saved[:n])
	copy(s.Tx[:n], s.T[:n])
	s.T, s.T0, s.T1 = s.T0, s.T1, s.T
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

// works fills heat with the work of shear and elongation on every cell over the interval (W) and
// returns the part by elongation (W). Rates and fluidities are the mean of both stations. f scales the shear work.
//
// Elongation does w_i 3 eta(sqrt(g^2 + 3 e^2)) e^2 of work per volume (7), e = du/dz along the tube. In a cone w_i = w
// + (1 - w) max(0, 1 - phi_i/phi_s), w the weight of a wide cone, which holds for an isothermal melt, and phi_s the
// fluidity averaged by shear work: stiffer stock than the melt that shears is drawn in full. Below the flow point the
// viscosity is bounded by the strength Y, eta <= Y/(sqrt(3) rate), but not below that of melt at the flow point (8).
func (s *Solver) works(v *interval, f float64) (ext float64) {
	n, g0, g, dz := s.n, &v.g0, &v.g, v.dz
	v.melt = 0
	heat, work, work0 := s.heat[:n], s.work[:n], s.work0[:n]
	for i := range heat {
		heat[i] = f * (work[i] + work0[i])
	}
	if !s.opt.NoElong {
		face, mid, mid0, g2, g20, phi, pts, pts0 := s.face[:n+1], s.mid[:n], s.mid0[:n], s.g2[:n], s.g20[:n],
			s.phi[:n], s.pts[:n], s.pts0[:n]
		trouton := s.tab.m.Viscosity.Trouton
		area := math.Sqrt(g0.area * g.area)
		inv, spread := 1/dz, 1.0
		cone := g.size != g0.size
		if cone {
			// The stretch rate at the mean radius of the interval. Work runs along it as the gradient does, by a power
			// of the radius.
			ratio := math.Sqrt(g.size / g0.size)
			inv *= 2 / (ratio + 1/ratio)
			if v.grad0 > 0 && v.grad > 0 {
				spread = v.shear / (dz * math.Sqrt(v.grad0*v.grad))
			}
		}
		adapted := s.adapted[:n]
		lead, trail := v.lead, v.trail
		least := leastWork * s.sumWork
		d := draw{Solver: s, p: v.p, wide: v.wide, perFlow: 1 / s.flowPhi}
		if cone && v.wide < 1 {
			var sum, w float64
			for i := range work {
				w += work[i]
				sum += work[i] * phi[i]
			}
			if sum > 0 {
				d.shearing, d.full = w/sum, 1 // 1/phi_s
			}
		}
		for i := range heat {
			e := (mid[i] - mid0[i]) * inv
			if !cone {
				e = (lead*(mid0[i]-adapted[i]) + trail*(mid[i]-mid0[i])) * inv
			}
			e2 := e * e
			gg := g2[i] * g20[i]
			a, b := &pts[i], &pts0[i]
			most := trouton * e2 * area * (face[i+1] - face[i])
			if e2*e2 < leastDrawn*leastDrawn*gg || most < least*a.phi[0] && most < least*a.phi[1] &&
				most < least*b.phi[0] && most < least*b.phi[1] {
				continue
			}
			rate2 := math.Sqrt(gg) + 3*e2
			volume := most * dz * spread
			d.rate2, d.floor = rate2, 0
			w, melt := d.cell(a, b)
			w, melt = w*volume, melt*volume
			v.melt += melt
			ext += w
			heat[i] += w
		}
	}
	if s.opt.NoHeat {
		for i := range heat {
			heat[i] = 0
		}
	}
	if s.opt.Source != nil {
		for i := range heat {
			lo, hi := s.face[i], s.face[i+1]
			x := centroid(lo, hi, s.u[i], s.u[i+1])
			if !g.planar {
				x = math.Sqrt(x)
			}
			heat[i] += 0.5 * (s.opt.Source(x, s.z) + s.opt.Source(x, s.z+dz)) * g.area * (hi - lo) * dz
		}
	}
	return ext
}

// draw is the elongation of a cell over an interval.
type draw struct {
	*Solver
	rate2    float64 // squared rate, 1/s2
	p        float64 // Pa, pressure of the fluidities; 0 where they depend on none
	wide     float64 // weight of a wide cone, of melt
	shearing float64 // one over the fluidity averaged by shear work
	full     float64 // 1 where stock stiffer than that is drawn in full, 0 where none is
	perFlow  float64 // one over the fluidity at the flow point
	floor    float64 // Pa s, viscosity at that rate of melt at the flow point; 0 before it is asked for
}

// cell returns the viscosity (Pa s) in elongation, weighted for a wide cone, as the mean over the points of the cell at
// the end a and the start b of the interval, and the part of it above the flow point, which fades below, so that no
// cell drops out at once.
func (d *draw) cell(a, b *points) (eta, melt float64) {
	if a.solid+b.solid > 0 {
		for _, q := range [2]*points{a, b} {
			e, m := d.over(&q.pair, &q.pair)
			if q.solid > 0 {
				e, m = d.over(&q.rest, &q.rest)
				e, m = (1-q.solid)*e, (1-q.solid)*m
				e += q.solid * d.weight(q.core.phi[0]) * d.eta(q.core.phi[0], q.core.yield[0])
			}
			eta += 0.5 * e
			melt += 0.5 * m
		}
		return eta, melt
	}
	return d.over(&a.pair, &b.pair)
}

// weight returns w_i of (7).
func (d *draw) weight(phi float64) float64 {
	if x := phi * d.shearing; x < d.full {
		return d.wide + (1-d.wide)*(1-x)
	}
	return d.wide
}

// steep is the ratio of the fluidities at the ends of an interval from which their mean does not stand for what lies
// between.
const steep = 2.5

// even is the range of fluidities, or of strengths squared, over which their mean stands for all of them: viscosity
// within a per cent or so.
const even = 1.5

// alike tells whether four values lie within that range.
func alike(a, b, c, d float64) bool {
	if b < a {
		a, b = b, a
	}
	if d < c {
		c, d = d, c
	}
	return b < even*a && b < even*c && d < even*a && d < even*c
}

// over is the same for two points at both ends of an interval.
func (d *draw) over(a, b *pair) (sum, melt float64) {
	pa0, pa1, pb0, pb1 := a.phi[0], a.phi[1], b.phi[0], b.phi[1]
	ya0, ya1, yb0, yb1 := a.yield[0], a.yield[1], b.yield[0], b.yield[1]
	if alike(pa0, pa1, pb0, pb1) && (ya0+ya1+yb0+yb1 == 0 || alike(ya0, ya1, yb0, yb1)) {
		phi := 0.25 * (pa0 + pa1 + pb0 + pb1)
		sum = d.weight(phi) * d.eta(phi, 0.25*(ya0+ya1+yb0+yb1))
		return sum, sum * d.melted(phi)
	}
	for j := range 2 {
		pa, pb := a.phi[j], b.phi[j]
		var eta float64
		if ya, yb := a.yield[j], b.yield[j]; d.loadOnly {
			eta = d.eta(math.Sqrt(pa*pb), 0.5*(ya+yb))
		} else if ya+yb > 0 || pa > steep*pb || pb > steep*pa {
			// The temperature runs linearly along the interval: two Gauss points there.
			mid, off := 0.5*(a.T[j]+b.T[j]), gauss*(a.T[j]-b.T[j])
			eta = 0.5 * (d.eta(d.stock(mid-off, d.p)) + d.eta(d.stock(mid+off, d.p)))
		} else {
			eta = d.tab.visc.Eta(d.rate2, math.Sqrt(pa*pb))
		}
		part := 0.5 * d.weight(pa) * eta
		sum += part
		melt += part * d.melted(pa)
	}
	return sum, melt
}

// melted is the share of stock of a fluidity that counts as above the flow point.
func (d *draw) melted(phi float64) float64 {
	if x := phi * d.perFlow; x < 1 {
		return x
	}
	return 1
}

// Elongation is left out where its squared rate is less than leastDrawn of that of shear (its work would be that times
// the Trouton ratio of the cell's own shear work), and where its work, at the zero-shear viscosity, is less than
// leastWork of the shear work of all cells.
const (
	leastDrawn = 3e-4
	leastWork  = 1e-6
)

// eta returns the viscosity (Pa s) of stock of a fluidity and of 3 over its strength squared (8).
func (d *draw) eta(phi, yield float64) float64 {
	eta := d.tab.visc.Eta(d.rate2, phi)
	if yield == 0 {
		return eta
	}
	x := d.rate2 * eta * eta * yield
	if x <= 0.1 {
		return eta
	}
	if d.floor == 0 {
		d.floor = d.tab.visc.Eta(d.rate2, d.flowPhi)
	}
	bound := eta / math.Sqrt(math.Sqrt(1+x*x))
	if bound < d.floor && d.floor < eta {
		return d.floor
	} else if bound < d.floor {
		return eta
	}
	return bound
}

// weighCones fills the weight of elongation in every cone, which makes the isothermal drop of a power-law melt equal to
// duct.ConeFactor times the gradient integrated over R:
//
//	1/tan(b) + weight E(m)/tan(b) = K(a, m)
//
// b the half angle marched, a the true one, E the ratio of elongational to shear work of the slender profile at the
// index m of the bore wall, for melt of its temperature. block and q are those of Solve.
func (s *Solver) weighCones(block, q float64) {
	m := s.c.Material
	for i := range s.sec {
		p := &s.sec[i]
		if p.wide = 1; p.tan == 0 {
			continue
		}
		wall := s.c.WallAt(i, 1, block)
		sec := &s.c.HotEnd.Sections[i]
		r := sec.D2 / 2
		rate := 4 * s.tab.solid * q * m.Density.Volume(wall, 0) / (float64(sec.Channels) * math.Pi * r * r * r)
		n := m.Viscosity.Slope(rate / s.c.Fluidity(wall, 0))
		p.wide = (duct.ConeFactor(p.angle, n)*p.tan - 1) / elongationRatio(n, p.tan)
	}
}

// elongationRatio is E(m) for a slender cone: u = 1 - x^(1/m+1), g = |du/dx|, e = 2 u tan(b) at
// equal mean flow, all per U/R; Trouton ratio 3.
func elongationRatio(m, tan float64) float64 {
	q := 1/m + 1
	slope := math.Pow(q, m+1)
	var sh, ex float64
	for i, x := range gaussX {
		p := math.Exp(gaussLn[i] / m) // x^(1/m)
		g, e := q*p, 2*(1-x*p)*tan
		w := gaussW[i] * x
		sh += w * slope * x * p // g^(m+1)
		ex += w * 3 * math.Exp((m-1)/2*math.Log(g*g+3*e*e)) * e * e
	}
	return ex / sh
}

// wallFluidity is phi W at the wall itself: shear rate over stress there.
func (s *Solver) wallFluidity(T, tau float64) float64 {
	c, x := s.tab.flows(T)
	return ((c.fluidity(x)-s.solid)*s.level + s.solid) * s.tab.visc.W(tau*tau)
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

// gaussX, gaussW are the six points of elongationRatio on [0, 1], which leave 0.5 % of it at most from an index of 0.2
// on; gaussLn are the logarithms of the points.
var (
	gaussX, gaussW = num.GaussNodes(6)
	gaussLn        = func() (ln []float64) {
		for _, x := range gaussX {
			ln = append(ln, math.Log(x))
		}
		return ln
	}()
)
