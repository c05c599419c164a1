// Package lumped is the quick estimate: closed forms only, about a microsecond
// a case, no allocation.
//
// The stock is a slug that heats by the series for a cylinder with surface
// conductance; each section takes the isothermal law at one representative
// temperature. It cannot see a cold core being squeezed: where the centre has
// not melted it can be wrong by tens of per cent (report/docs/accuracy.md tabulates it against
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
	c    *flow.Case
	tube *duct.StressTable
	slit *duct.StressTable
	thin *materials.Table
	at   []place

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

// New prepares a solver.
func New(c *flow.Case) *Solver {
	s := &Solver{c: c, tube: duct.NewTubeTable(c.Material.Viscosity.FlowCurve), slit: duct.NewSlitTable(c.Material.Viscosity.FlowCurve), thin: materials.NewTable(c.Material.Viscosity.FlowCurve)}
	k := c.Material.Conductivity.At((c.Filament.Inlet + c.Material.Window[1]) / 2)
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
		w := (sec.Wall.Start + sec.Wall.End) / 2
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

// Solve implements flow.Solver.
func (s *Solver) Solve(block, q float64, r *flow.Solution) error {
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.solves.Add(1)
	c, m := s.c, s.c.Material
	c.Prepare(block, q, r)
	mdot := m.Density.Solid * q
	inlet := c.Filament.Inlet
	mix, centre := inlet, inlet
	rho := m.Density.Solid
	mean := (inlet + block) / 2
	alpha := m.Conductivity.At(mean) / (rho * (m.Heat.Enthalpy(block) - m.Heat.Enthalpy(inlet)) / (block - inlet + 1e-9))
	h0 := m.Heat.Enthalpy(inlet)
	hPrev := h0
	for i := range c.HotEnd.Sections {
		sec, p, out := &c.HotEnd.Sections[i], &s.at[i], &r.Sections[i]
		wall := block*(1-p.share) + p.offset + p.fixed
		before := mix
		if p.length > 0 {
			fo := alpha * math.Pi * p.length / q // alpha z/(v R^2) does not depend on R
			mix = wall + (inlet-wall)*p.series.Mean(fo)
			centre = wall + (inlet-wall)*p.series.Centre(fo)
		}
		local := sec.Wall.At(0.5, block)
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
			lub := 0.0
			if sec.D1 != sec.D2 {
				lub = sec.Length / math.Abs(sec.D2-sec.D1) * 2 * out.Drop
			}
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
				out.Drop = 2 * tau * sec.Length / g
			} else {
				tau = s.tube.Tube(qc, sec.D1/2, phi)
				out.Drop = 4 * tau * sec.Length / sec.D1
			}
			out.Shear = out.Drop
			out.WallStress = tau
		}
		out.WallRate = phi * tau * s.thin.W(tau*tau)
		out.Wall = sec.Wall.At(1, block)
		out.Bulk, out.Centre = mix, centre
		h := m.Heat.Enthalpy(mix)
		out.WallHeat = mdot * (h - hPrev)
		hPrev = h
		out.Viscous = out.Drop * qc * float64(sec.Channels)
		out.Residence = sec.Volume() / (mdot * m.Density.Volume(mix, 0))
	}
	return c.Finish(r)
}
