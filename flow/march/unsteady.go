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
	at       int        // the last of the old stations at or before the one in hand
	ends     [2]float64 // m, where rod and wetted plug ended one time step back
	started  bool       // whether ends are known
	invading bool       // whether the step in hand begins where its stretch ended one time step back, or beyond
	force    float64    // N on the filament one time step back: what the rod stands under
}

// station keeps faces, enthalpies and their slopes over (r/R)^2 at the fraction x of a section.
type station struct {
	section        int
	x              float64
	face, h, slope []float64
}

// recall fills h with the mean enthalpy, one time step back, over each cell's
// present faces at the fraction x of a section: linear between two stations.
func (m *memory) recall(s *Solver, section int, x float64, h []float64) {
	last := len(m.old) - 1
	for m.at > 0 && (m.old[m.at].section > section || m.old[m.at].section == section && m.old[m.at].x > x+atStation) {
		m.at--
	}
	for m.at < last && (m.old[m.at+1].section < section || m.old[m.at+1].section == section && m.old[m.at+1].x <= x+
		atStation) {
		m.at++
	}
	a := &m.old[m.at]
	a.over(s, h)
	if a.section != section || x <= a.x+atStation || m.at == last || m.old[m.at+1].section != section {
		return
	}
	b := &m.old[m.at+1]
	b.over(s, s.next)
	share := (x - a.x) / (b.x - a.x)
	for i, n := range s.next[:s.n] {
		h[i] += share * (n - h[i])
	}
}

// atStation is how near two fractions of a section are one station.
const atStation = 1e-9

// over fills h with the mean enthalpies over the present faces, by linear reconstruction in the old cells.
func (a *station) over(s *Solver, h []float64) {
	n := s.n
	now, face, old, slope, h := s.face[:n+1], a.face[:n+1], a.h[:n], a.slope[:n], h[:n]
	j := 0
	lo := now[0]
	for i := range h {
		hi := now[i+1]
		for j > 0 && face[j] > lo {
			j--
		}
		for j+1 < n && face[j+1] <= lo {
			j++
		}
		var sum float64
		for k := j; k < n && face[k] < hi; k++ {
			a, b := face[k], face[k+1]
			l, r := max(lo, a), min(hi, b)
			sum += (r - l) * (old[k] + slope[k]*0.5*(l+r-a-b))
		}
		h[i] = sum / (hi - lo)
		lo = hi
	}
}

// lean fills the slopes of a station, by B. van Leer, J. Comput. Phys. 32 (1979) 101 (from memory), so that no new
// extremes arise: the harmonic mean of the differences to both sides; cell centres are half of those widths apart.
func (a *station) lean() {
	n := len(a.h)
	face, h := a.face, a.h
	a.slope[0], a.slope[n-1] = 0, 0
	left := (h[1] - h[0]) / (face[2] - face[0])
	for j := 1; j < n-1; j++ {
		right := (h[j+1] - h[j]) / (face[j+2] - face[j])
		a.slope[j] = 0
		if x := left * right; x > 0 {
			a.slope[j] = 4 * x / (left + right)
		}
		left = right
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
			if top := 2 * min(math.Abs(d), math.Abs(e)); math.Abs(slope) > top {
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
		a.face, a.h, a.slope = make([]float64, s.n+1), make([]float64, s.n), make([]float64, s.n)
	}
	a.section, a.x = section, x
	copy(a.face, s.face)
	copy(a.h, s.h[:s.n])
	a.lean()
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
func (s *Solver) recall(p *section, g0, g *geom, x, dz float64) {
	if s.mem == nil {
		return
	}
	s.hOld, s.hOld0 = s.hOld0, s.hOld
	if s.mem.invading {
		// A plug that moves on takes its content along.
		copy(s.hOld[:s.n], s.hOld0[:s.n])
		clear(s.bend[:s.n])
	} else {
		s.mem.recall(s, p.index, x, s.hOld)
		s.mem.ahead(s, p, x, dz)
	}
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
		return s.sec[i].soaked
	case !s.c.Stock.Stick && i < s.cone:
		return s.sec[i].even
	}
	return s.sec[i].x
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
	s.weighCones(block, q)
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
