package march

import (
	"math"

	"meltload/flow"
)

// barrel is the march in time before the cone: rod, wetted plug and held melt over the fixed stations of the sections.
// A stretch ends where its condition is met, between two stations as a rule: the step is taken back to that place and
// the next stretch begins there, so that the load is a smooth function of time and of every input.
type barrel struct {
	interval
	now    Stretch
	from   float64 // m, where the stretch began
	target float64 // J/kg, bulk enthalpy at which the rod gives way
	rf     float64 // m, radius of the rod
}

// Steps after a stretch has begun, in time: the first, and how fast the next grow with the distance.
const (
	wetStart   = 0.06          // of the length over which heat crosses the old gap
	heldStart  = 0.05          // radii
	startSpeed = 0.35          // of the distance from the start
	leastStep  = 1e-4          // of the length of a section
	beforeEnd  = 4 * atStation // of the length of a section: the state of a plug at its end is kept this far before it
)

// marchBarrelInTime marches to the cone in one time step; soft is the bulk temperature (K) at which the rod gives way
// under the push of the time step before.
func (s *Solver) marchBarrelInTime(soft float64) {
	c, st := s.c, &s.r.Stretches
	b := barrel{now: stretchRod, target: c.Material.Heat.Enthalpy(soft), rf: c.Filament.Diameter / 2}
	i, x := s.start()
	st.Softening, st.Solid = soft, true
	if m := s.mem; !m.started {
		m.ends, m.started = [2]float64{s.z, s.z}, true
	}
	radius := c.HotEnd.Sections[i].Radius(x)
	st.GapH = flow.GapH(2*b.rf, 2*radius, c.Stock.Eccentricity, (c.WallAt(i, x, s.block)+c.Filament.Inlet)/2)
	for ; i < s.cone; i, x = i+1, 0 {
		p := s.sectionOf(i)
		radius := p.sec.Radius(x)
		b.interval = interval{section: &p, x: x, wall: c.WallAt(i, x, s.block), g: round(radius)}
		if b.now == stretchHeld {
			s.startProfile(&p, &b.g, b.wall)
			b.grad = s.tw * b.g.grad
		} else {
			s.beginPlug(&b)
		}
		s.enter(&p, x)
		s.record(b.now, i, s.z, radius, x)
		for _, to := range p.even {
			for b.x < to-atStation {
				s.stepInBarrel(&b, to)
				s.record(b.now, i, s.z, b.g.size, b.x)
			}
		}
		s.endSection(i, b.g)
	}
	if b.now == stretchWetted {
		s.plugSpeed = s.u[s.n]
	}
}

// beginPlug sets the profile of a rod or a wetted plug at the place in hand.
func (s *Solver) beginPlug(b *barrel) {
	g, h := s.plugOf(b, b.g, b.wall)
	s.firstPlugStep(&g, h, b.wall)
}

// plugOf returns cross-section and contact (W/m2K) of a rod or a wetted plug in a passage of the cross-section g.
func (s *Solver) plugOf(b *barrel, g geom, wall float64) (geom, float64) {
	if b.now == stretchRod {
		return round(b.rf), flow.GapH(2*b.rf, 2*g.size, s.c.Stock.Eccentricity, (wall+s.surface(wall))/2)
	}
	return g, b.sec.H
}

// stepInBarrel takes a step in the stretch in hand, up to the station `to` at most, and begins the next stretch where
// this one ends within the step.
func (s *Solver) stepInBarrel(b *barrel, to float64) {
	p, st := b.section, &s.r.Stretches
	if b.now != stretchHeld && s.ripeness(b) >= 0 {
		s.nextStretch(b)
		return
	}
	end := min(to, b.x+s.lengthInBarrel(b)/p.length)
	stop, push := false, false // at where the stretch ended one time step back; at as far as it can have come since
	s.mem.invading = false
	if b.now != stretchHeld {
		old := s.mem.ends[b.now] - s.z
		if x := b.x + old/p.length - beforeEnd; x > b.x+leastStep {
			if stop = x < end; stop {
				end = x
			}
		} else {
			s.mem.invading = true
			x = b.x + max(0, old+s.u[s.n]*s.mem.dt)/p.length
			if push = x < end; push {
				end = x
			}
		}
	}
	if to-end < leastStep && !stop {
		end = to
	}
	if end-b.x < leastStep && push {
		s.nextStretch(b)
		return
	}
	x0, z0, wall0 := b.x, s.z, b.wall
	b.dz, b.x = (end-x0)*p.length, end
	b.g0, b.grad0, b.wall0 = b.g, b.grad, wall0
	b.g, b.wall = round(p.sec.Radius(end)), s.c.WallAt(p.index, end, s.block)
	if b.now == stretchHeld {
		s.stepNoSlip(&b.interval)
		s.book(&b.interval)
		s.zPrev, s.z = s.z, s.z+b.dz
		s.r.Stats.Stations++
		s.steps++
		st.Held += b.dz
		return
	}
	copy(s.saved[:s.n], s.h[:s.n])
	g, h := s.plugOf(b, b.g, b.wall)
	in := s.plugStep(p, &g, end, b.dz, h, wall0, b.wall)
	share := 1.0
	done := push
	if s.ripeness(b) >= 0 {
		done = true
		share = s.goBack(func() float64 { return s.ripeness(b) }, 0)
		b.x = x0 + share*(end-x0)
		s.z = z0 + share*b.dz
		b.g, b.wall = round(p.sec.Radius(b.x)), s.c.WallAt(p.index, b.x, s.block)
		s.backInTime(share)
	}
	if done {
		s.keep(p, b.x-beforeEnd)
	} else {
		s.keep(p, b.x)
	}
	in *= share
	p.out.WallHeat += in
	s.wallHeat += in
	length := share * b.dz
	if b.now == stretchRod {
		st.Rod += length
	} else {
		st.Wetted += length
	}
	if done {
		s.nextStretch(b)
	}
}

// lengthInBarrel returns the next step (m) of the stretch in hand as far as the stretch itself asks.
func (s *Solver) lengthInBarrel(b *barrel) float64 {
	n := s.n
	far := startSpeed * (s.z - b.from)
	switch b.now {
	case stretchWetted:
		gap := max(b.g.size-b.rf, 0.01*b.g.size)
		return wetStart*s.u[n]*gap*gap*s.cp[n-1]*s.mdot/(s.k[n-1]*s.vol[n]) + far
	case stretchHeld:
		return heldStart*b.g.size + far
	}
	return math.Inf(1)
}

// ripeness is below zero before the end of a plug's stretch and above it beyond: of a rod the bulk enthalpy over that
// at which it gives way (J/kg), of a wetted plug the temperature at the rod's old surface over that at
// which the wall holds it (K).
func (s *Solver) ripeness(b *barrel) float64 {
	if b.now == stretchRod {
		return s.bulkEnthalpy() - b.target
	}
	return s.at(b.rf/b.g.size, b.wall) - s.holds(b.wall)
}

// nextStretch begins the next stretch at the place in hand. Where the end of the plug has moved on since the time step
// before, it has pushed the melt there ahead of itself: as much as it moved of the flow that enters the next stretch is
// what was in this place, not stock out of the plug.
func (s *Solver) nextStretch(b *barrel) {
	n, m := s.n, s.mem
	b.from = s.z
	moved := max(0, min(1, (s.z-m.ends[b.now])/(s.u[n]*m.dt)))
	m.ends[b.now] = s.z
	m.invading = false
	m.recall(s, b.index, b.x, s.hOld)
	if moved > 0 {
		gained := 0.0
		for i := range n {
			d := moved * (s.hOld[i] - s.h[i])
			gained += s.frac[i] * d
			s.h[i] += d
			s.T[i] = s.tab.temperature(s.h[i], s.T[i])
		}
		s.released += s.mdot * gained
	}
	m.keep(s, b.index, b.x)
	s.zPrev = s.z
	if b.now++; b.now == stretchWetted {
		s.r.Stretches.Solid = false
		s.beginPlug(b)
		return
	}
	// The content one time step back stays with the stream tubes as the plug had them.
	s.plugSpeed = s.u[n]
	s.startProfile(b.section, &b.g, b.wall)
	b.grad = s.tw * b.g.grad
}

// backInTime takes what the step in hand stored, and the content one time step back at its end, to a share of it.
func (s *Solver) backInTime(share float64) {
	for i := range s.n {
		s.stored[i] *= share
		s.hOld[i] = s.hOld0[i] + share*(s.hOld[i]-s.hOld0[i])
	}
}
