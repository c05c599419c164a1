package mould

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// StillAir is the heat transfer (W/(m2 K)) from an open face of the mould to still air, radiation counted (common
// practice; assumed).
const StillAir = 10

// RepeatSettings say how shots follow each other.
type RepeatSettings struct {
	Melt   float64 // K, in the cavity when it is full
	Shots  int
	Cycle  float64 // s from shot to shot, the open time in it; 0 keeps each part in until it can be taken out
	Open   float64 // s from opening the mould to the next shot
	Air    float64 // W/(m2 K) from the open face to air; 0 takes StillAir
	AirT   float64 // K
	NoFlow float64 // K; 0 takes that of the material as it sets
}

// RepeatedShot is one shot of a row.
type RepeatedShot struct {
	Face    float64 // K, face of the mould at the start of the shot
	Set     float64 // s until the centre is at the no-flow temperature; 0 if it never is while the mould is shut
	Eject   float64 // s until the centre is at the ejection temperature; 0 if it never is while the mould is shut
	Shut    float64 // s that the mould stays shut
	Centre  float64 // K, centre when the mould opens
	Opening float64 // K, face when the mould opens
}

// LongestShut is the longest time (s) for which a mould is kept shut when no cycle is given.
const LongestShut = 1800

// Repeat follows the wall of the mould over a row of shots at its thickest cavity, filled at once: shut with melt on
// the face, then open, the face to air, and the next shot comes. Errors: an impossible mould or setting, a cancelled
// context.
func Repeat(ctx context.Context, c *flow.Case, m *Mould, s RepeatSettings) ([]RepeatedShot, error) {
	set := Settings{Melt: s.Melt, Flow: 1e-9, NoFlow: s.NoFlow, WallCells: 2 * DefaultWallCells}
	if err := set.check(c, m); err != nil {
		return nil, err
	}
	if s.Air == 0 {
		s.Air = StillAir
	}
	if s.Shots < 1 || !(s.Open >= 0) || s.Cycle != 0 && !(s.Cycle > s.Open) || !(s.AirT > 200 && s.AirT < 700) ||
		!(s.Air > 0) {
		return nil, fmt.Errorf("mould: %d shots every %g s, %g s of it open to air at %.4g degC; at least 1 shot, a "+
			"cycle longer than the open time and air at -73 to 427 degC are "+
			"allowed", s.Shots, s.Cycle, s.Open, unit.Celsius(s.AirT))
	}
	f := newFiller(c, m, set)
	e := thickest(m)
	p := f.pathOf(&m.Elements[e])
	st := f.add(e, &p, p.length, 0)
	st.front = 1
	open := opened{f: f, s: st, air: s.Air, airT: s.AirT}
	var out []RepeatedShot
	for range s.Shots {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		x := RepeatedShot{Face: m.Surface}
		if len(out) > 0 && f.nw > 0 {
			x.Face = open.face()
		}
		h := f.prop.enthalpy(s.Melt)
		for i := range f.n {
			st.T[i], st.h[i] = s.Melt, h
		}
		shut := s.Cycle - s.Open
		if s.Cycle == 0 {
			shut = LongestShut
		}
		x.Set, x.Eject, x.Shut = f.coolFor(st, c.Material.Ejection, shut, s.Cycle == 0)
		x.Centre, x.Opening = st.T[0], f.surfaceOf(st)
		out = append(out, x)
		open.rest(s.Open)
	}
	return out, nil
}

// thickest is the number of the thickest cavity, or of the thickest element of a mould without one.
func thickest(m *Mould) int {
	best, thick := 0, 0.0
	for i := range m.Elements {
		t := m.Elements[i].thickness()
		if m.Elements[i].Cavity {
			t *= 1e6
		}
		if t > thick {
			best, thick = i, t
		}
	}
	return best
}

// opened is the wall of a mould that stands open.
type opened struct {
	f         *filler
	s         *station
	air, airT float64
}

// link is the conductance (W/K) from the first wall cell to the air.
func (o *opened) link() float64 {
	f := o.f
	d := f.wallEdge[1] / 2
	return o.s.surface / (d/f.m.Wall.K + 1/o.air)
}

// face is the temperature (K) of the open face.
func (o *opened) face() float64 {
	q := o.link() / o.s.surface * (o.s.wall[0] - o.airT)
	return o.airT + q/o.air
}

// rest lets the wall stand open for a time (s).
func (o *opened) rest(time float64) {
	f, s, nw := o.f, o.s, o.f.nw
	if nw == 0 || time <= 0 {
		return
	}
	lo, di, up, rh, x := f.lo[:nw], f.di[:nw], f.up[:nw], f.rh[:nw], f.x[:nw]
	const steps = 100
	dt := time / steps
	for range steps {
		for i := range nw {
			v := f.m.Wall.RhoC * f.wallRoom(s, i) / dt
			di[i], rh[i] = v, v*s.wall[i]
		}
		for i := 0; i+1 < nw; i++ {
			g := f.wallLink(s, i)
			di[i] += g
			di[i+1] += g
			up[i], lo[i+1] = -g, -g
		}
		g := o.link()
		di[0] += g
		rh[0] += g * o.airT
		g, T := f.back(s)
		di[nw-1] += g
		rh[nw-1] += g * T
		num.Tridiagonal(lo, di, up, rh, x)
		copy(s.wall, x)
	}
}

// coolFor lets a station stand for at most a time (s), or until its centre is at a temperature (K) if early; see cool.
func (f *filler) coolFor(s *station, until, longest float64, early bool) (shut, out, time float64) {
	alpha := f.conductivity(s.T[0]) / f.rho / f.prop.capacity(s.T[0])
	first := 0.001 * s.half * s.half / alpha
	t := 0.0
	for t < longest*(1-1e-9) && !(early && s.T[0] <= until && s.T[0] <= f.noFlow) {
		last := s.T[0]
		dt := math.Min(longest-t, math.Max(first, 0.006*t))
		f.energy(nil, s, 0, 1, dt, still)
		passed := func(T float64, at *float64) {
			if last > T && s.T[0] <= T {
				*at = t + dt*(last-T)/(last-s.T[0])
			}
		}
		passed(f.noFlow, &shut)
		passed(until, &out)
		t += dt
	}
	return shut, out, t
}
