// Package lumped is the quick estimate: closed forms only, about a microsecond
// a case, no allocation.
//
// The stock is a slug that heats by the series for a cylinder with surface conductance, first as a rod through the air
// gap, then, from where it gives way under its own push, in contact with the wall; each section takes the isothermal
// law at one representative temperature, the barrel from where the rod ends. It cannot see a cold core being squeezed:
// where the centre has not melted it can be wrong by tens of per cent (report/docs/accuracy.md tabulates it against
// finite elements and against the marching solver), and it says so.
package lumped

import (
	"math"
	"sync/atomic"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/materials"
	"meltload/thermal"
)

// representative places the representative temperature of a section between the wall
// (0) and the mixing cup of the section (1), the latter taken three quarters of
// the way from that at its start to that at its end. One number for all cases,
// chosen on the finite-element table; an assumption.
const representative = 0.5

// Solver holds what does not depend on block temperature and flow.
type Solver struct {
	c        *flow.Case
	tube     *duct.StressTable
	slit     *duct.StressTable
	thin     *materials.Table
	at       []place
	cone     int
	unheated float64           // m
	rod      *thermal.Cylinder // heating of the rod through the air gap; nil where stock sticks from the inlet
	gapH     float64
	push     float64 // m2, push area
	invalid  error

	solves atomic.Int64
}

// place is what a section end has behind it.
type place struct {
	length float64 // heated length up to the end, per channel flow
	series *thermal.Cylinder
	offset float64 // length-weighted mean wall offset from the block, K
	fixed  float64 // length-weighted mean fixed wall temperature, K
	share  float64 // share of length with fixed wall temperature
}

// New prepares a solver. What flow.Case.Validate finds wrong with the case is the error of every Solve.
func New(c *flow.Case) *Solver {
	s := &Solver{c: c, invalid: c.Validate()}
	if s.invalid != nil {
		return s
	}
	c.Complete()
	s.tube, s.slit, s.thin = duct.NewTubeTable(c.Material.Viscosity.FlowCurve),
		duct.NewSlitTable(c.Material.Viscosity.FlowCurve), materials.NewTable(c.Material.Viscosity.FlowCurve)
	s.cone, s.unheated, s.push = c.ConeEntry(), c.Unheated(), c.Area()
	k := c.Material.Conductivity.At((c.Filament.Inlet + c.Material.Window[1]) / 2)
	if first := &c.HotEnd.Sections[0]; !c.Stock.Stick && s.cone > 0 {
		d := c.Filament.Diameter
		s.gapH = flow.GapH(d, first.D1, c.Stock.Eccentricity, (c.Filament.Inlet+c.Material.Window[1])/2)
		s.rod = thermal.NewCylinder(s.gapH * d / 2 / k)
		s.push = c.PushArea(first.D1)
	}
	var length, resist, offset, fixed, flen float64
	for i := range c.HotEnd.Sections {
		sec := &c.HotEnd.Sections[i]
		// n channels share the flow: each has n times the time over its length.
		l := sec.Length * float64(sec.Channels)
		r := (sec.D1 + sec.D2) / 4
		if _, g, ok := sec.Planar(); ok {
			r = g / 2
			l *= 2 // a gap heats faster than a tube of its half width: Fo is on the half gap
		}
		length += l
		resist += l * k / (sec.H * r)
		w := (c.WallAt(i, 0, 0) + c.WallAt(i, 1, 0)) / 2
		if sec.Wall.Fixed {
			fixed += l * w
			flen += l
		} else {
			offset += l * w
		}
		p := place{length: length}
		if length > 0 {
			bi := math.Inf(1)
			if resist > 0 {
				bi = length / resist
			}
			p.series = thermal.NewCylinder(bi)
			p.share = flen / length
			p.offset = offset / length
			p.fixed = fixed / length
		}
		s.at = append(s.at, p)
	}
	return s
}

// Solves returns how many times this solver has been asked to solve.
func (s *Solver) Solves() int { return int(s.solves.Load()) }

// Name implements flow.Solver.
func (s *Solver) Name() string { return "lumped" }

// Clone implements flow.Solver; the solver has no workspace.
func (s *Solver) Clone() flow.Solver { return s }

// rounds is how often the place where the rod gives way is put to the push of the round before: it settles within a per
// cent.
const rounds = 3

// Solve implements flow.Solver.
func (s *Solver) Solve(block, q float64, r *flow.Solution) error {
	if s.invalid != nil {
		return s.invalid
	}
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.solves.Add(1)
	force := 0.0
	for k := 0; ; k++ {
		if err := s.pass(block, q, force, r); err != nil {
			return err
		}
		if s.rod == nil || k == rounds-1 {
			return nil
		}
		force = r.Force
	}
}

// heating is the slug's way through a rod in an air gap and then along a wall that it wets.
type heating struct {
	diffusivity float64 // m2/s
	q           float64
	end         float64 // m, heated length at which the rod gives way
	mean        float64 // theta there
	solid       bool
}

// fourier returns the Fourier number of a heated length (m): alpha z/(v R^2) does not depend on R.
func (h *heating) fourier(length float64) float64 {
	return h.diffusivity * math.Pi * math.Max(0, length) / h.q
}

// theta returns bulk and centre temperature as theta, 1 at the inlet and 0 at the wall, at a heated length.
func (s *Solver) theta(h *heating, p *place) (mean, centre float64) {
	l := p.length - s.unheated
	if s.rod == nil {
		return p.series.Mean(h.fourier(l)), p.series.Centre(h.fourier(l))
	}
	if l <= h.end {
		return s.rod.Mean(h.fourier(l)), s.rod.Centre(h.fourier(l))
	}
	// On from where the series of the wetted wall has the same mean.
	fo := fourierFor(p.series, h.mean) + h.fourier(l-h.end)
	return p.series.Mean(fo), p.series.Centre(fo)
}

// fourierFor returns the Fourier number at which the mean of a series is theta, by bisection.
func fourierFor(c *thermal.Cylinder, theta float64) float64 {
	lo, hi := 0.0, 3.0
	for range 24 {
		if m := (lo + hi) / 2; c.Mean(m) > theta {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}

// pass solves with the push (N) that the rod stands under.
func (s *Solver) pass(block, q, force float64, r *flow.Solution) error {
	c, m := s.c, s.c.Material
	c.Prepare(block, q, r)
	r.PushArea = s.push
	mdot := m.Density.Solid * q
	inlet := c.Filament.Inlet
	mix, centre := inlet, inlet
	rho := m.Density.Solid
	mean := (inlet + block) / 2
	h := heating{q: q,
		diffusivity: m.Conductivity.At(mean) / (rho * (m.Heat.Enthalpy(block) - m.Heat.Enthalpy(inlet)) /
			(block - inlet + 1e-9))}
	barrel := s.softening(&h, block, force, r)
	h0 := m.Heat.Enthalpy(inlet)
	hPrev := h0
	from := 0.0
	for i := range c.HotEnd.Sections {
		sec, p, out := &c.HotEnd.Sections[i], &s.at[i], &r.Sections[i]
		wall := block*(1-p.share) + p.offset + p.fixed
		before := mix
		if p.length > 0 {
			a, b := s.theta(&h, p)
			mix, centre = wall+(inlet-wall)*a, wall+(inlet-wall)*b
		}
		// Only the part of the barrel in which melt is held carries load.
		length := sec.Length
		if i < s.cone {
			length = math.Max(0, math.Min(length, from+length-s.unheated-barrel))
		}
		from += sec.Length
		local := c.WallAt(i, 0.5, block)
		T := local - representative*(local-(before+3*mix)/4)
		phi := c.Fluidity(T, 0)
		qc := mdot * m.Density.Volume((before+mix)/2, 0) / float64(sec.Channels)
		var tau float64
		switch {
		case sec.Shape == flow.Cone:
			small := math.Min(sec.D1, sec.D2) / 2
			y := 4 * qc / (math.Pi * small * small * small * phi)
			tau = s.tube.At(y)
			out.Drop = s.tube.Radial(qc, sec.D1/2, sec.D2/2, phi)
			lub := sec.Length / math.Abs(sec.D2-sec.D1) * 2 * out.Drop
			if sec.D2 < sec.D1 {
				out.Drop *= duct.ConeFactor(sec.Half, s.tube.Index(y))
			} else {
				out.Drop = lub
			}
			out.Shear = lub
			out.Elongation = math.Max(0, out.Drop-lub)
			out.WallStress = tau
		default:
			if w, g, ok := sec.Planar(); ok {
				tau = s.slit.Slit(qc, w, g, phi)
				out.Drop = 2 * tau * length / g
			} else {
				tau = s.tube.Tube(qc, sec.D1/2, phi)
				out.Drop = 4 * tau * length / sec.D1
			}
			out.Shear = out.Drop
			out.WallStress = tau
		}
		out.WallRate = phi * tau * s.thin.W(tau*tau)
		out.Wall = c.WallAt(i, 1, block)
		out.Bulk, out.Centre = mix, centre
		e := m.Heat.Enthalpy(mix)
		out.WallHeat = mdot * (e - hPrev)
		hPrev = e
		out.Viscous = out.Drop * qc * float64(sec.Channels)
		out.Residence = sec.Volume() / (mdot * m.Density.Volume(mix, 0))
	}
	for i := 0; i+1 < len(r.Sections); i++ {
		if out := &r.Sections[i]; c.Narrows(i) {
			loss, over := c.EntranceLoss(i, r.Sections[i+1].WallStress, out.Elongation)
			out.Entrance = loss
			out.Drop += loss
			r.BeyondEntrance = r.BeyondEntrance || over
		}
	}
	return c.Finish(r)
}

// softening fills where and how warm the rod gives way under a push (N), and the stretches of r; it returns the heated
// length (m) of rod.
func (s *Solver) softening(h *heating, block, force float64, r *flow.Solution) float64 {
	c := s.c
	st := &r.Stretches
	st.Unheated = s.unheated
	var length float64
	for i := range c.HotEnd.Sections[:s.cone] {
		length += c.HotEnd.Sections[i].Length
	}
	length -= s.unheated
	if s.rod == nil {
		st.Held = length
		return 0
	}
	soft := c.Material.Softens(force / c.Area())
	wall := c.WallAt(0, 0.5, block)
	h.mean = (soft - wall) / (c.Filament.Inlet - wall)
	switch {
	case h.mean >= 1:
		h.mean = 1
	case h.mean <= 0:
		h.end, h.solid = math.Inf(1), true
	default:
		h.end = fourierFor(s.rod, h.mean) * h.q / (h.diffusivity * math.Pi)
	}
	if h.end > length {
		// The rod meets the cone and is squeezed there: from then on it touches the wall.
		h.end, h.solid = length, true
		h.mean = s.rod.Mean(h.fourier(length))
	}
	st.Rod, st.Held, st.Softening, st.GapH, st.Solid = h.end, length-h.end, soft, s.gapH, h.solid
	st.Gap = (c.HotEnd.Sections[0].D1 - c.Filament.Diameter) / 2
	return h.end
}
