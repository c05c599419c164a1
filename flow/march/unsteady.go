package march

import (
	"math"

	"meltload/flow"
)

// memory is the melt zone one time step back: at every station the faces of the
// cells and their enthalpies. Stream tubes move as the profile changes; what a tube finds at
// its new place is recalled by the area it covers there, so that heat is kept.
type memory struct {
	dt    float64
	n     int
	at    int // station in hand
	faces [][]float64
	h     [][]float64
}

// recall fills h with the mean enthalpy, one time step back, over each cell's
// present faces at the station in hand.
func (m *memory) recall(s *Solver, h []float64) {
	face, old := m.faces[m.at], m.h[m.at]
	if !m.moved(s) {
		copy(h[:m.n], old)
		return
	}
	j := 0
	for i := range m.n {
		lo, hi := s.face[i], s.face[i+1]
		for j > 0 && face[j] > lo {
			j--
		}
		for j+1 < m.n && face[j+1] <= lo {
			j++
		}
		var sum float64
		for k := j; k < m.n && face[k] < hi; k++ {
			sum += (math.Min(hi, face[k+1]) - math.Max(lo, face[k])) * old[k]
		}
		h[i] = sum / (hi - lo)
	}
}

// keep stores the present state of the station in hand and goes to the next.
func (m *memory) keep(s *Solver) {
	if m.moved(s) {
		copy(m.faces[m.at], s.face[:m.n+1])
	}
	copy(m.h[m.at], s.h[:m.n])
	m.at++
}

// moved tells whether the faces have left those of the memory by more than the profile's own
// tolerance: below it a tube is where it was, and averaging over it would only smear.
func (m *memory) moved(s *Solver) bool {
	old := m.faces[m.at]
	for i, x := range s.face[1:m.n] {
		if math.Abs(x-old[i+1]) > 2*profileTol {
			return true
		}
	}
	return false
}

// weigh fills the mass per length of each cell over the time step.
func (m *memory) weigh(s *Solver, g0, g *geom, mdot float64) {
	area := math.Sqrt(g0.area*g.area) / m.dt
	for i := range m.n {
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
	s.remember()
	k := 0
	put := func(T float64, planar bool) {
		s.resetFaces(planar)
		h := s.c.Material.Heat.Enthalpy(T)
		copy(s.mem.faces[k], s.face[:s.n+1])
		for i := range s.n {
			s.mem.h[k][i] = h
		}
		k++
	}
	for i := range s.sec {
		sec := &s.c.HotEnd.Sections[i]
		put(sec.Wall.At(0, block), s.sec[i].planar)
		for _, x := range s.sec[i].x {
			put(sec.Wall.At(x, block), s.sec[i].planar)
		}
	}
}

func (s *Solver) remember() {
	n := 0
	for i := range s.sec {
		n += len(s.sec[i].x) + 1
	}
	s.mem = &memory{n: s.n, faces: make([][]float64, n), h: make([][]float64, n)}
	for i := range n {
		s.mem.faces[i] = make([]float64, s.n+1)
		s.mem.h[i] = make([]float64, s.n)
	}
}

// Advance takes one time step dt (s) at the block temperature (K) and filament flow (m3/s): heat unsteady,
// momentum quasi-steady, implicit in time (first order) and along the path (second order). Soak must have been called. Heat that the
// melt's own content takes up is in r.Stored. A long enough series of steps ends in the result of Solve.
// The heat balance closes to round-off but for the flow of the exit cells' own volume.
func (s *Solver) Advance(block, q, dt float64, r *flow.Drop) error {
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.mem.dt, s.mem.at = dt, 0
	s.pass(block, q, s.inletGuess, r)
	s.inletGuess = r.Pressure
	return nil
}

// Steady forgets the state: Solve is steady again.
func (s *Solver) Steady() { s.mem = nil }
