package march

import (
	"math"

	"meltload/flow"
)

// memory is the melt zone one time step back: at every station the faces of the
// cells and their enthalpies. Stream tubes move as the profile changes, and stations as the stock melts sooner or later;
// what a tube finds at its new place is recalled by the area it covers there, so that heat is kept, and evenly between stations.
type memory struct {
	dt       float64
	old, now []station
	at       int       // the last of the old stations at or before the one in hand
	stay     []float64 // faces of the old station that the one in hand goes on with; nil if it has moved
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
	if m.old[m.at].section == section && m.old[m.at].x > x {
		m.at--
	}
	for m.at < last && (m.old[m.at].section < section || m.old[m.at+1].section == section && m.old[m.at+1].x <= x) {
		m.at++
	}
	a := &m.old[m.at]
	m.stay = nil
	if x == a.x && !a.moved(s) {
		m.stay = a.face
		copy(h[:s.n], a.h)
		return
	}
	a.over(s, h)
	if x == a.x || m.at == last || m.old[m.at+1].section != section {
		return
	}
	b := &m.old[m.at+1]
	b.over(s, s.next)
	w := (x - a.x) / (b.x - a.x)
	for i := range s.n {
		h[i] += w * (s.next[i] - h[i])
	}
}

// over fills h with the mean enthalpies over the present faces.
func (a *station) over(s *Solver, h []float64) {
	j := 0
	for i := range s.n {
		lo, hi := s.face[i], s.face[i+1]
		for j > 0 && a.face[j] > lo {
			j--
		}
		for j+1 < s.n && a.face[j+1] <= lo {
			j++
		}
		var sum float64
		for k := j; k < s.n && a.face[k] < hi; k++ {
			sum += (math.Min(hi, a.face[k+1]) - math.Max(lo, a.face[k])) * a.h[k]
		}
		h[i] = sum / (hi - lo)
	}
}

// moved tells whether the faces have left those of the memory by more than the profile's own
// tolerance: below it a tube is where it was, and averaging over it would only smear.
func (a *station) moved(s *Solver) bool {
	for i, x := range s.face[1:s.n] {
		if math.Abs(x-a.face[i+1]) > 2*profileTol {
			return true
		}
	}
	return false
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
	if m.stay != nil {
		copy(a.face, m.stay)
	}
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

// recall brings the content one time step back to the station at x, for the step between two cross-sections.
func (s *Solver) recall(p *section, g0, g *geom, x float64, try int) {
	if s.mem == nil {
		return
	}
	if try == 0 {
		s.hOld, s.hOld0 = s.hOld0, s.hOld
	}
	s.mem.recall(s, p.index, x, s.hOld)
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
	return s.hOld0[i] + share*(s.hOld[i]-s.hOld0[i])
}

// Soak sets the melt zone to rest at the wall temperature of every place under a block at the
// temperature block (K): the state before feeding starts.
func (s *Solver) Soak(block float64) {
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
		for _, x := range s.sec[i].x {
			put(i, x)
		}
	}
	s.mem.now, s.mem.old = s.mem.old, s.mem.now
}

// Advance takes one time step dt (s) at the block temperature (K) and filament flow (m3/s): heat unsteady,
// momentum quasi-steady, implicit in time (first order) and along the path (second order). Soak must have been called. Heat that the
// melt's own content takes up is in r.Stored. A long enough series of steps ends in the result of Solve.
// The heat balance closes to round-off but for the flow of the exit cells' own volume.
func (s *Solver) Advance(block, q, dt float64, r *flow.Solution) error {
	if s.invalid != nil {
		return s.invalid
	}
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	m := s.mem
	m.dt, m.at, m.now = dt, 0, m.now[:0]
	err := s.pass(block, q, s.inletGuess, 0, r)
	m.now, m.old = m.old, m.now
	if err == nil {
		s.inletGuess = r.Pressure
	}
	return err
}

// Steady forgets the state: Solve is steady again.
func (s *Solver) Steady() { s.mem = nil }
