package march

import (
	"math"

	"meltload/flow"
)

// memory is the melt zone one time step back: at every station the faces of the cells and their enthalpies. Stations
// stay where they are; stream tubes move as the profile changes, and what a tube finds at its new place is recalled by
// the area that it covers there, with a limited slope within the old cells, so that heat is kept and small moves smear
// nothing however many there are.
type memory struct {
	dt       float64
	old, now []station
	at       int     // the last of the old stations at or before the one in hand
	force    float64 // N on the filament one time step back: what the rod stands under
}

// station keeps faces and enthalpies at the fraction x of a section.
type station struct {
	section int
	x       float64
	face, h []float64
}

// recall fills h with the mean enthalpy, one time step back, over each cell's
// present faces at the fraction x of a section.
func (m *memory) recall(s *Solver, section int, x float64, h []float64) {
	last := len(m.old) - 1
	for m.at > 0 && (m.old[m.at].section > section || m.old[m.at].section == section && m.old[m.at].x > x+atStation) {
		m.at--
	}
	for m.at < last && (m.old[m.at+1].section < section || m.old[m.at+1].section == section && m.old[m.at+1].x <= x+
		atStation) {
		m.at++
	}
	m.old[m.at].over(s, h)
}

// atStation is how near two fractions of a section are one station.
const atStation = 1e-9

// over fills h with the mean enthalpies over the present faces, by linear reconstruction in the old cells: slopes by B.
// van Leer, J. Comput. Phys. 32 (1979) 101 (from memory), so that no new extremes arise.
func (a *station) over(s *Solver, h []float64) {
	n := s.n
	slope := s.slope[:n]
	for j := range n {
		slope[j] = 0
		if j == 0 || j == n-1 {
			continue
		}
		left := (a.h[j] - a.h[j-1]) / (a.face[j+1] - a.face[j-1])
		right := (a.h[j+1] - a.h[j]) / (a.face[j+2] - a.face[j])
		if left*right > 0 {
			slope[j] = 4 * left * right / (left + right) // harmonic mean; cell centres are half of those widths apart
		}
	}
	j := 0
	for i := range n {
		lo, hi := s.face[i], s.face[i+1]
		for j > 0 && a.face[j] > lo {
			j--
		}
		for j+1 < n && a.face[j+1] <= lo {
			j++
		}
		var sum float64
		for k := j; k < n && a.face[k] < hi; k++ {
			l, r := math.Max(lo, a.face[k]), math.Min(hi, a.face[k+1])
			sum += (r - l) * (a.h[k] + slope[k]*0.5*(l+r-a.face[k]-a.face[k+1]))
		}
		h[i] = sum / (hi - lo)
	}
}

// ahead fills bend with what makes the time term of second order along the path: the content one time step back is not
// linear between two stations; its slope at the station in hand, limited, comes from the stations on both sides.
// Without it a short time step would carry heat by upwind differences. dz is the interval (m) that ends at the station
// x of the section p, whose content is in hOld.
func (m *memory) ahead(s *Solver, p *section, x, dz float64) {
	n := s.n
	clear(s.bend[:n])
	if m.at+1 >= len(m.old) || m.old[m.at+1].section != p.index || dz <= 0 {
		return
	}
	b := &m.old[m.at+1]
	next := (b.x - x) * p.length
	if next <= 0 {
		return
	}
	b.over(s, s.next)
	for i := range n {
		d := s.hOld[i] - s.hOld0[i]
		e := (s.next[i] - s.hOld[i]) * dz / next
		// Slope at the station, over the interval: weighted by the far distances; between 0 and twice the smaller
		// difference.
		slope := 0.0
		if d*e > 0 {
			slope = (d*next + e*dz) / (dz + next)
			if top := 2 * math.Min(math.Abs(d), math.Abs(e)); math.Abs(slope) > top {
				slope = math.Copysign(top, slope)
			}
		}
		s.bend[i] = -gamma * gamma / (1 - gamma) * (slope - d)
	}
}

// keep stores the present state of the station last recalled.
func (m *memory) keep(s *Solver, section int, x float64) {
	k := len(m.now)
	if k == cap(m.now) {
		m.now = append(m.now, station{})
	}
	m.now = m.now[:k+1]
	a := &m.now[k]
	if a.face == nil {
		a.face, a.h = make([]float64, s.n+1), make([]float64, s.n)
	}
	a.section, a.x = section, x
	copy(a.face, s.face)
	copy(a.h, s.h)
}

// enter begins a stretch of a section at the station x, where no step ends yet.
func (s *Solver) enter(p *section, x float64) {
	if s.mem == nil {
		return
	}
	s.mem.recall(s, p.index, x, s.hOld)
	s.mem.keep(s, p.index, x)
}

// recall brings the content one time step back to the station at x, for the step of dz (m) between two cross-sections.
func (s *Solver) recall(p *section, g0, g *geom, x, dz float64, try int) {
	if s.mem == nil {
		return
	}
	if try == 0 {
		s.hOld, s.hOld0 = s.hOld0, s.hOld
	}
	s.mem.recall(s, p.index, x, s.hOld)
	s.mem.ahead(s, p, x, dz)
	s.mem.weigh(s, g0, g, p.md)
}

// keep counts the heat given up by the content over the step, and stores the station.
func (s *Solver) keep(p *section, x float64) {
	if s.mem == nil {
		return
	}
	for _, w := range s.stored[:s.n] {
		s.released += w * p.channels
	}
	s.mem.keep(s, p.index, x)
}

// weigh fills the mass per length of each cell over the time step.
func (m *memory) weigh(s *Solver, g0, g *geom, mdot float64) {
	area := math.Sqrt(g0.area*g.area) / m.dt
	for i := range s.n {
		s.mass[i] = area * (s.face[i+1] - s.face[i]) * s.frac[i] * mdot / (s.vol[i+1] - s.vol[i])
	}
}

// before returns the enthalpy one time step back at a stage of the step along the path.
func (s *Solver) before(i int, share float64) float64 {
	h := s.hOld0[i] + share*(s.hOld[i]-s.hOld0[i])
	if share < 1 {
		h += s.bend[i]
	}
	return h
}

// Soak sets the melt zone to rest at the wall temperature of every place under a block at the
// temperature block (K): the state before feeding starts.
func (s *Solver) Soak(block float64) {
	if s.invalid != nil {
		return // Advance says why
	}
	s.mem = &memory{}
	put := func(section int, x float64) {
		s.resetFaces(s.sec[section].planar)
		h := s.c.Material.Heat.Enthalpy(s.c.WallAt(section, x, block))
		for i := range s.n {
			s.h[i] = h
		}
		s.mem.keep(s, section, x)
	}
	for i := range s.sec {
		put(i, 0)
		for _, x := range s.stationsInTime(i) {
			put(i, x)
		}
	}
	s.mem.now, s.mem.old = s.mem.old, s.mem.now
}

// stationsInTime returns the fixed stations of section i in unsteady marches.
func (s *Solver) stationsInTime(i int) []float64 {
	switch {
	case s.c.Stock.Stick && i == 0:
		return s.sec[i].inlet
	case !s.c.Stock.Stick && i < s.cone:
		return s.sec[i].even
	}
	return s.sec[i].x
}

// marchBarrelInTime marches rod, wetted plug and held melt over the fixed stations before the cone in one time step;
// soft is the bulk temperature (K) at which the rod gives way under the push of the time step before.
func (s *Solver) marchBarrelInTime(soft float64) {
	c, st := s.c, &s.r.Stretches
	target, rf := c.Material.Heat.Enthalpy(soft), c.Filament.Diameter/2
	i, x := s.start()
	now := stretchRod
	st.Softening = soft
	st.Solid = true
	first := true
	for ; i < s.cone; i, x = i+1, 0 {
		p := s.sectionOf(i)
		radius := p.sec.Radius(x)
		v := interval{section: &p, wide: 1, x: x, wall: c.WallAt(i, x, s.block), g: round(radius)}
		if now == stretchHeld {
			s.startProfile(&p, &v.g, v.wall, x)
			s.enter(&p, x)
			v.grad = s.tw * v.g.grad
		} else {
			g, h := v.g, p.sec.H
			if now == stretchRod {
				g, h = round(rf), flow.GapH(2*rf, 2*radius, c.Stock.Eccentricity, (v.wall+s.surface(v.wall))/2)
			}
			s.firstPlugStep(&g, h, v.wall)
			s.enter(&p, x)
		}
		if first {
			st.GapH = flow.GapH(2*rf, 2*radius, c.Stock.Eccentricity, (v.wall+c.Filament.Inlet)/2)
			first = false
		}
		s.record(now, i, s.z, radius, x)
		for _, to := range p.even {
			if to <= x {
				continue
			}
			dz := (to - x) * p.length
			x = to
			radius = p.sec.Radius(x)
			v.g0, v.grad0, v.wall0 = v.g, v.grad, v.wall
			v.g, v.dz, v.x, v.wall = round(radius), dz, x, c.WallAt(i, x, s.block)
			switch now {
			case stretchRod:
				g := round(rf)
				h := flow.GapH(2*rf, 2*radius, c.Stock.Eccentricity, (v.wall+s.surface(v.wall))/2)
				in := s.plugStep(&p, &g, x, dz, h, v.wall0, v.wall)
				p.out.WallHeat += in
				s.wallHeat += in
				st.Rod += dz
				if s.bulkEnthalpy() >= target {
					now, st.Solid = stretchWetted, false
					s.firstPlugStep(&v.g, p.sec.H, v.wall)
				}
			case stretchWetted:
				in := s.plugStep(&p, &v.g, x, dz, p.sec.H, v.wall0, v.wall)
				p.out.WallHeat += in
				s.wallHeat += in
				st.Wetted += dz
			case stretchHeld:
				s.stepNoSlip(&v)
				s.book(&v)
				s.zPrev, s.z = s.z, s.z+dz
				s.r.Stats.Stations++
				s.steps++
				st.Held += dz
			}
			if now == stretchWetted && s.at(rf/radius, v.wall) >= c.Material.FlowPoint() {
				// The content one time step back stays with the stream tubes as the plug had them.
				now = stretchHeld
				s.plugSpeed = s.u[s.n]
				s.startProfile(&p, &v.g, v.wall, x)
				v.grad = s.tw * v.g.grad
			}
			s.record(now, i, s.z, radius, x)
		}
		s.endSection(i, v.g)
	}
}

// Advance takes one time step dt (s) at the block temperature (K) and filament flow (m3/s): heat unsteady, momentum
// quasi-steady, implicit in time (first order) and along the path (second order). Soak must have been called. Heat that
// the melt's own content takes up is in r.Stored. A long enough series of steps ends in the result of Solve. The heat
// balance closes to round-off but for the flow of the exit cells' own volume.
func (s *Solver) Advance(block, q, dt float64, r *flow.Solution) error {
	if s.invalid != nil {
		return s.invalid
	}
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	m := s.mem
	m.dt, m.at, m.now = dt, 0, m.now[:0]
	err := s.pass(block, q, s.inletGuess, s.c.Material.Softens(m.force/s.c.Area()), r)
	m.now, m.old = m.old, m.now
	if err == nil {
		s.inletGuess = r.Pressure
		m.force = r.Force
	}
	return err
}

// Steady forgets the state: Solve is steady again.
func (s *Solver) Steady() { s.mem = nil }
