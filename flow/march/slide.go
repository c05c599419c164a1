package march

import "math"

// Steps along sliding stock: the first is firstStep of the length over which the contact heats the surface, and each
// is longer than the one before by stepGrowth of it, until the surface is within meltedAt (K) of the flow point.
const (
	firstStep  = 0.01
	stepGrowth = 0.25
	meltedAt   = 0.05
)

// slide marches stock through a section while its surface is below the flow point: crystalline stock slides in its
// passage as a plug, and the wall heats it without holding it (an assumption: friction of the solid on the wall is left
// out, or counted as path drag). It returns the fraction of the section passed.
func (s *Solver) slide(p *reach) (x float64) {
	sec, n := p.sec, s.n
	g := p.geometry(sec.Radius(0))
	target := s.c.Material.FlowPoint()
	surface, wall := s.T[n-1], sec.Wall.At(0, s.block)
	if math.IsInf(sec.H, 1) {
		surface = wall
	}
	if surface >= target {
		return 0
	}
	copy(s.Tx[:n], s.T[:n])
	s.properties(0, p.md, wall)
	s.plug(&g)
	s.conductances(&g, sec.H)
	s.enter(p, 0)
	clear(s.heat)
	start := s.z
	s.record(p.index, start, g.size, 0)
	// A surface takes up the wall's temperature over (k/h)^2 of diffusion.
	layer := s.k[n-1] / sec.H
	dz := firstStep / s.opt.Axial * s.u[n] * layer * layer * s.cp[n-1] * p.md / (s.k[n-1] * s.vol[n])
	dz = math.Max(1e-6*p.length, math.Min(1e-2*p.length, dz))
	slope := 0.0
	for at := 0.0; x < 1; {
		step := math.Min(dz, p.length-at)
		if slope*step > target-surface {
			step = math.Max(0.01*step, (target-surface)/slope)
		}
		if x = (at + step) / p.length; 1-x < 1e-9 {
			x, step = 1, p.length-at
		}
		s.cond, s.cond0 = s.cond0, s.cond
		wall0 := wall
		wall = sec.Wall.At(x, s.block)
		s.extrapolate(start+at+step, s.z, s.zPrev)
		copy(s.saved[:n], s.h[:n])
		var in float64
		// Twice: the second time with the heat capacities between the temperatures found, which matter through a melting range.
		for try := range 2 {
			s.properties(0, p.md, wall)
			s.plug(&g)
			s.conductances(&g, sec.H)
			s.recall(p, &g, &g, x, try)
			in = s.step(step, p.md, wall0, wall) * p.channels
			if try == 0 {
				s.undo()
			}
		}
		p.out.WallHeat += in
		s.wallHeat += in
		s.keep(p, x)
		at += step
		s.zPrev, s.z = s.z, start+at
		s.r.Slide = s.z
		s.r.Stats.Stations++
		s.record(p.index, s.z, g.size, x)
		before := surface
		surface = s.surface(wall)
		if surface > target-meltedAt {
			break
		}
		slope = (surface - before) / step
		dz *= 1 + stepGrowth/s.opt.Axial
	}
	return x
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
