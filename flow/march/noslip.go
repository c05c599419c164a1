package march

import "math"

// startProfile solves the velocity profile at the inlet of a no-slip stretch, of the stock as it comes, and the
// velocity from which stream tubes adapt: that of the plug before, if there was one.
func (s *Solver) startProfile(p *section, g *geom, wall float64) {
	n, st := s.n, &s.r.Stats
	if s.steps == 0 || s.sec[p.index-1].planar != p.planar {
		s.resetFaces(p.planar)
		s.tw = 0
	}
	copy(s.Tx[:n], s.T[:n])
	s.drift = 1
	s.properties(s.pressure(0), p.md, wall)
	if s.tw <= 0 {
		s.tw = s.firstStress(g, p.md)
	}
	s.shape(g)
	s.conductances(g, p.sec.H)
	st.Misfit = max(st.Misfit, s.miss)
	s.volPrev = s.vol[n]
	copy(s.adapted[:n], s.mid[:n])
	if s.plugSpeed > 0 {
		for i := range n {
			s.adapted[i] = s.plugSpeed
		}
		s.plugSpeed = 0
	}
}

// pressure returns what fluidities are taken at where a drop (Pa) follows the station in hand: 0 where they depend on
// none.
func (s *Solver) pressure(drop float64) float64 {
	if !s.pressed {
		return 0
	}
	return s.inlet - s.spent - drop
}

// shape brings profile and wall stress up to date.
func (s *Solver) shape(g *geom) {
	var passes int
	s.tw, passes, s.miss = s.profile(g, s.tw)
	s.r.Stats.Passes += passes
	if passes >= maxPasses && s.miss > 10*s.tol {
		s.r.Stats.RanOut = "velocity profile"
	}
}

// interval is one step along a no-slip wall: the cross-sections, wall temperatures (K) and pressure gradients (Pa/m) at
// its two ends.
type interval struct {
	*section
	g0, g       geom
	wall0, wall float64
	grad0, grad float64
	dz, x       float64 // m; fraction of the section at its end
	p           float64 // Pa, pressure that the fluidities at its end were taken at; 0 where they depend on none
	lead, trail float64 // shares by which the stream takes up a change of profile

	shear float64 // Pa, drop by shear
	ext   float64 // W, work of elongation in one channel
	melt  float64 // W, part of ext by stock above the flow point
	flow  float64 // m3/s, mean volume flow of one channel
	heat  float64 // W from the wall into all channels
}

// marchNoSlip marches from the fraction `from` of a section to its end, along a wall that holds the melt.
func (s *Solver) marchNoSlip(p *section, from float64) {
	st := &s.r.Stats
	v := interval{section: p}
	v.g = p.geometry(p.sec.Radius(from))
	v.wall = s.c.WallAt(p.index, from, s.block)
	at := p.x
	switch {
	case s.mem != nil:
		at = s.stationsInTime(p.index)
	case s.fresh || s.opt.Slip > 0 && s.plugSpeed > 0:
		at = p.inlet
	case s.plugSpeed > 0:
		at = p.after
	}
	if v.grad = s.end.carried(p, &v.g, v.wall); v.grad > 0 {
		copy(s.adapted[:s.n], s.mid[:s.n])
	} else {
		s.startProfile(p, &v.g, v.wall)
		v.grad = s.tw * v.g.grad
	}
	s.enter(p, from)
	s.record(stretchHeld, p.index, s.z, v.g.size, from)
	if p.index < s.cone {
		s.r.Stretches.Held += (1 - from) * p.length
	}
	v.x = from
	for _, x := range at {
		x = from + (1-from)*x
		v.dz, v.x = (x-v.x)*p.length, x
		if v.dz <= 0 {
			continue
		}
		v.g0, v.grad0, v.wall0 = v.g, v.grad, v.wall
		v.g = p.geometry(p.sec.Radius(x))
		v.wall = s.c.WallAt(p.index, x, s.block)
		s.stepNoSlip(&v)
		s.book(&v)
		s.zPrev, s.z = s.z, s.z+v.dz
		st.Stations++
		s.steps++
		s.fresh = false
		s.record(stretchHeld, p.index, s.z, v.g.size, x)
	}
	s.end = ending{p.planar, v.g.size, p.md, p.sec.H, v.wall, v.grad}
}

// ending is how the melt leaves a section along a wall that holds it: cross-section, mass flow of a channel, contact
// (W/(m2 K)), wall temperature (K) and pressure gradient (Pa/m).
type ending struct {
	planar                            bool
	size, md, contact, wall, gradient float64
}

// carried returns the gradient at the end of the section before, if nothing changes from there to the start of p, where
// the wall has the temperature `wall` (K): the profile then goes on as it is. Otherwise 0.
func (e *ending) carried(p *section, g *geom, wall float64) float64 {
	if e.gradient > 0 && e.planar == p.planar && math.Abs(e.size-g.size) < atStation*g.size && e.md == p.md &&
		e.contact == p.sec.H && e.wall == wall {
		return e.gradient
	}
	return 0
}

// longer returns by how many times a step of dz (m) is longer than the one before of the same stretch, 0 where there
// was none.
func (s *Solver) longer(dz float64) float64 {
	if s.z <= s.zPrev {
		return 0
	}
	return dz / (s.z - s.zPrev)
}

// stepNoSlip solves profile, stress and heat at the end of an interval.
func (s *Solver) stepNoSlip(v *interval) {
	n, p := s.n, v.section
	growth := s.growth(v.dz)
	if growth > 0 && growth < sureGrowth && s.melting == 0 && s.mem == nil {
		s.extrapolate(growth, s.growth0)
	} else {
		s.predict(v.dz, s.longer(v.dz), p.md, v.wall0, v.wall)
	}
	s.mid, s.mid0 = s.mid0, s.mid
	s.g2, s.g20 = s.g20, s.g2
	s.phi, s.phi0 = s.phi0, s.phi
	s.pts, s.pts0 = s.pts0, s.pts
	s.work, s.work0 = s.work0, s.work
	s.cond, s.cond0 = s.cond0, s.cond
	s.growth0 = growth
	s.followFaces(growth)
	s.tw *= guess(&v.g0, &v.g, s.sens)
	sum0 := s.sumWork
	v.lead, v.trail = uptake(v.dz, v.g.size)
	v.p = s.pressure(v.grad0 * v.dz)
	s.properties(v.p, p.md, v.wall)
	s.tw /= s.softening(s.phi0)
	guess := s.tw
	if s.steps > 0 {
		s.tw *= s.drift
	}
	s.shape(&v.g)
	s.drift = max(0.8, min(1.25, s.tw/guess)) // what the guess misses, it misses about so at the next too
	v.grad = s.tw * v.g.grad                  // (5)
	if s.fresh {
		sum0 = s.sumWork
		v.grad0 = v.grad // the stress on stock that no wall has touched means nothing
		copy(s.work0, s.work)
	}
	v.shear = meanGradient(v.grad0, v.grad, v.g0.size, v.g.size) * v.dz
	v.flow = 0.5 * (s.vol[n] + s.volPrev)
	f := 0.0
	if w := s.sumWork + sum0; w > 0 {
		f = (v.shear*v.flow + s.deferred/p.channels) / w
	}
	v.ext = s.works(v, f)
	s.conductances(&v.g, p.sec.H)
	if s.fresh {
		copy(s.cond0, s.cond)
	}
	s.recall(p, &v.g0, &v.g, v.x, v.dz)
	v.heat = s.step(v.dz, p.md, v.wall0, v.wall) * p.channels
}

// sureGrowth is how many times the change of the step before temperatures may go on, where the next is not solved for
// ahead: a longer step of few stations would be led astray.
const sureGrowth = 2

// settlings is how many times gradient and pressure at the end of an interval are brought in line.
const settlings = 3

// book adds an interval to the sums of the march.
func (s *Solver) book(v *interval) {
	n, p, out := s.n, v.section, v.section.out
	s.r.Stats.Misfit = max(s.r.Stats.Misfit, s.miss)
	s.settle(v.lead, v.trail)
	s.keep(p, v.x)
	s.volPrev = s.vol[n]
	// The gradient at the temperatures and the pressure reached, not those expected; the work
	// that was misjudged is put right in the next step.
	grad, used := v.grad, v.shear
	for range settlings {
		v.grad = grad / s.correction(s.inlet-s.spent-v.shear-v.ext/v.flow-v.p)
		v.shear = meanGradient(v.grad0, v.grad, v.g0.size, v.g.size) * v.dz
		if !s.pressed {
			break
		}
	}
	s.deferred = 0
	if !s.opt.NoHeat {
		s.deferred = (v.shear - used) * v.flow * p.channels
	}
	elong := v.ext / v.flow // (6)
	s.spent += v.shear + elong
	if s.surface(v.wall) < s.tab.m.FlowPoint() {
		s.r.BelowFlowPoint += v.shear + elong
	}
	out.Shear += v.shear
	out.Elongation += elong
	out.MeltElongation += v.melt / v.flow
	out.WallHeat += v.heat
	s.wallHeat += v.heat
	var w float64
	for _, x := range s.heat[:n] {
		w += x
	}
	out.Viscous += w * p.channels
	s.viscous += w * p.channels
	s.workDone += (v.shear + elong) * v.flow * p.channels
	// Where cold stock first meets the wall the stress is a spike over micrometres; leave it out of the range checks.
	if s.tw > out.WallStress && (p.index > 0 || v.x > 0.1) {
		out.WallStress = s.tw
		out.WallRate = s.tw * s.wallFluidity(v.wall, s.tw)
	}
}
