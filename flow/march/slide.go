package march

import (
	"math"

	"meltload/flow"
)

// Steps along sliding stock: the first is firstStep of the length over which the contact heats the surface, and each
// is longer than the one before by stepGrowth of it, until the surface is within meltedAt (K) of the flow point.
const (
	firstStep  = 0.01
	stepGrowth = 0.25
	meltedAt   = 0.05
)

// slide marches stock through the section si while its surface is below the flow point: crystalline stock slides in its
// passage as a plug, and the wall heats it without holding it (an assumption: friction of the solid on the wall is left
// out, or counted as path drag). pressure is that at the inlet. It returns the fraction of the section passed, the wall
// heat and the heat given up by the content (W, of one channel).
func (s *Solver) slide(si int, z, block, md, pressure float64, r *flow.Drop) (x, in, gave float64) {
	p, sec, n := &s.sec[si], &s.c.HotEnd.Sections[si], s.n
	g := p.geometry(sec.Radius(0))
	target := s.tab.m.FlowPoint()
	surface, wall := s.T[n-1], sec.Wall.At(0, block)
	if math.IsInf(sec.H, 1) {
		surface = wall
	}
	if surface >= target {
		return 0, 0, 0
	}
	copy(s.Tx[:n], s.T[:n])
	s.properties(0, md, wall)
	s.plug(&g)
	s.conductances(&g, sec.H)
	if s.mem != nil {
		s.mem.recall(s, si, 0, s.hOld)
		s.mem.keep(s, si, 0)
	}
	clear(s.heat)
	s.record(si, z, g.size, pressure, 0, block)
	// A surface takes up the wall's temperature over (k/h)^2 of diffusion.
	layer := s.k[n-1] / sec.H
	dz := firstStep / s.opt.Axial * s.u[n] * layer * layer * s.cp[n-1] * md / (s.k[n-1] * s.vol[n])
	dz = math.Max(1e-6*p.length, math.Min(1e-2*p.length, dz))
	slope := 0.0
	for at := 0.0; x < 1; {
		step := math.Min(dz, p.length-at)
		if slope*step > target-surface {
			step = math.Max(0.01*step, (target-surface)/slope)
		}
		s.cond, s.cond0 = s.cond0, s.cond
		wall0 := wall
		if x = (at + step) / p.length; 1-x < 1e-9 {
			x, step = 1, p.length-at
		}
		wall = sec.Wall.At(x, block)
		s.extrapolate(z+at+step, z+at, s.zPrev)
		copy(s.saved[:n], s.h[:n])
		var heat float64
		// Twice: the second time with the heat capacities between the temperatures found, which matter through a melting range.
		for try := range 2 {
			s.properties(0, md, wall)
			s.plug(&g)
			s.conductances(&g, sec.H)
			if s.mem != nil {
				if try == 0 {
					s.hOld, s.hOld0 = s.hOld0, s.hOld
				}
				s.mem.recall(s, si, x, s.hOld)
				s.mem.weigh(s, &g, &g, md)
			}
			heat = s.step(step, md, wall0, wall)
			if try == 0 {
				copy(s.h[:n], s.saved[:n])
				copy(s.Tx[:n], s.T[:n])
				s.T, s.T0 = s.T0, s.T
			}
		}
		in += heat
		if s.mem != nil {
			for _, w := range s.stored[:n] {
				gave += w
			}
			s.mem.keep(s, si, x)
		}
		s.zPrev = z + at
		at += step
		r.Stats.Stations++
		s.record(si, z+at, g.size, pressure, x, block)
		before := surface
		surface = s.T[n-1] + s.rim*(wall-s.T[n-1])
		if surface > target-meltedAt {
			break
		}
		slope = (surface - before) / step
		dz *= 1 + stepGrowth/s.opt.Axial
	}
	return x, in, gave
}

// plug gives all cells one velocity, without shear.
func (s *Solver) plug(g *geom) {
	n := s.n
	u := s.vol[n] / g.area
	for i := range n {
		s.face[i+1] = s.vol[i+1] / s.vol[n]
		s.u[i], s.mid[i] = u, u
		s.g2[i], s.work[i] = 0, 0
	}
	s.u[n] = u
	s.sumWork, s.sens = 0, 1
}
