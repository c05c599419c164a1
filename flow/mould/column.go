package mould

import "meltload/materials/num"

// state of a station in a step in time.
type state int

const (
	through state = iota // full, melt flows through
	filling              // the front is in it
	still                // cools, no flow
)

// inflow maps the enthalpy that leaves the station before (nil: the melt) onto the cells of s, by equal shares of the
// flow counted from the middle: what flows in is what flowed out, to round-off.
func (f *filler) inflow(before, s *station, melt float64) {
	if before == nil {
		for i := range f.in {
			f.in[i] = melt
		}
		return
	}
	var qa, qb float64
	for i := range f.n {
		qa += before.q[i]
		qb += s.q[i]
	}
	if qa <= 0 || qb <= 0 {
		for i := range f.in {
			f.in[i] = before.h[i] + before.rise[i]
		}
		return
	}
	qa, qb = 1/qa, 1/qb
	n := f.n
	q, h, rise, to, in := before.q[:n], before.h[:n], before.rise[:n], s.q[:n], f.in[:n]
	// x is the share of the flow so far, sum what it carries: both from the start of cell k of the station before.
	k, x, sum := 0, 0.0, 0.0
	share, carried := q[0]*qa, h[0]+rise[0]
	for i, to := range to {
		want := to * qb
		if want <= 0 {
			in[i] = s.h[i]
			continue
		}
		x += want
		taken := sum
		sum = 0
		for x > share && k < n-1 {
			sum += share * carried
			x -= share
			k++
			share, carried = q[k]*qa, h[k]+rise[k]
		}
		whole := sum
		sum = x * carried
		in[i] = (whole + sum - taken) / want
	}
}

// turn fills away: by how much the flow of a cell is faster than the front.
func (f *filler) turn(s *station) {
	var q float64
	for i := range f.n {
		q += s.q[i]
	}
	vol := f.row(s).vol
	for i := range f.n {
		f.away[i] = s.q[i] - q*vol[i]
	}
}

// lay fills laid: what leaves the cells that are faster than the front is laid into the slower ones where the stream
// function
//
//	psi(y) = integral from 0 to y of (u - U) dy
//
// is the same: melt from the middle of the thickness next to the wall, melt from the edge of the fast core beside it. h
// is the enthalpy that leaves. (The kinematics of the fountain as in Z. Tadmor, J. Appl. Polym. Sci. 18 (1974) 1753,
// from memory; the fountain takes no time and loses no heat.)
func (f *filler) lay(h []float64) {
	k := 0
	for k < f.n && f.away[k] <= 0 {
		k++
	}
	left := 0.0
	if k < f.n {
		left = f.away[k]
	}
	for i := f.n - 1; i >= 0; i-- {
		want := -f.away[i]
		if want <= 0 {
			continue
		}
		var sum, got float64
		for got < want && k < f.n {
			take := min(left, want-got)
			sum += take * h[k]
			got += take
			left -= take
			if left <= 1e-15*want {
				for k++; k < f.n && f.away[k] <= 0; k++ {
				}
				if k < f.n {
					left = f.away[k]
				}
			}
		}
		if got > 0 {
			f.laid[i] = sum / got
		} else {
			f.laid[i] = h[i]
		}
	}
}

// energy takes a station over dt (s). In each cell of melt
//
//	d(rho V f h)/dt = rho q (h_in - h) + tau g V f + sum of k A/d dT        (1)
//
// with the filled share f, the heat of shear tau g, and conduction across; in each cell of the wall
//
//	rho c V f dT/dt = sum of k A/d dT                                        (2)
//
// joined at the face by the resistance of the contact. Implicit, one tridiagonal system for melt and wall together,
// solved again with the capacity at the temperatures found where it differs by more than a twentieth. Enthalpies are
// what the balance (1) says, so that energy closes to round-off. At the front what flows faster than it leaves for the
// cells outside, see lay. start is the share that was filled before.
func (f *filler) energy(before, s *station, melt, start, dt float64, what state) {
	n, row := f.n, f.row(s)
	if what != still {
		f.inflow(before, s, melt)
	}
	if what == filling {
		f.turn(s)
	}
	heat := s.tau * s.room * s.front
	if what == still {
		heat = 0
	}
	mass := f.rho * s.room / dt
	copy(f.x[:n], s.T)
	copy(f.hNew, s.h)
	for pass := range 2 {
		if what == filling {
			f.lay(f.leaving(s))
		}
		T0, h0, cp, k, di, rh := f.T0[:n], f.h0[:n], f.cp[:n], f.k[:n], f.di[:n], f.rh[:n]
		vol, xi, in, rate, h, q, rise := row.vol[:n], f.xi[:n], f.in[:n], s.rate[:n], s.h[:n], s.q[:n], s.rise[:n]
		for i, T := range f.x[:n] {
			a, d := f.prop.of(T)
			T0[i], h0[i], cp[i], k[i] = T, a.h+d*a.cp, a.cp, a.k
			m1 := mass * vol[i] * s.front
			rhs := mass*vol[i]*start*h[i] + heat*xi[i]*rate[i]*vol[i]
			switch what {
			case through:
				m1 += f.rho * q[i]
				rhs += f.rho * q[i] * (in[i] - rise[i])
			case filling:
				rhs += f.rho * q[i] * in[i]
				if f.away[i] > 0 {
					m1 += f.rho * f.away[i]
					rhs -= f.rho * f.away[i] * s.rise[i]
				} else {
					rhs -= f.rho * f.away[i] * f.laid[i]
				}
			}
			di[i] = m1 * a.cp
			rh[i] = rhs + m1*(a.cp*T-h0[i])
		}
		f.conduct(s, row, start, dt)
		num.Tridiagonal(f.lo, f.di, f.up, f.rh, f.x)
		x, hNew := f.x[:n], f.hNew[:n]
		for i, T := range x {
			hNew[i] = h0[i] + cp[i]*(T-T0[i])
		}
		if pass == 0 && what != filling && !f.moved(x, cp) {
			break
		}
	}
	if what == filling { // lay once more, so that what has left is what has been laid
		copy(f.in, f.laid)
		f.lay(f.leaving(s))
		for i := range n {
			if f.away[i] < 0 {
				f.hNew[i] -= f.rho * f.away[i] * (f.laid[i] - f.in[i]) / (mass * row.vol[i] * s.front)
			}
		}
	}
	copies := float64(f.m.Elements[s.e].Copies) / s.speed // of the equivalent section
	sheared := 0.0
	x, xi, rate, vol, T := f.x[:n], f.xi[:n], s.rate[:n], row.vol[:n], s.T[:n]
	for i, h := range f.hNew[:n] {
		T[i] = f.prop.temperature(h, x[i])
		sheared += xi[i] * rate[i] * vol[i]
	}
	f.viscous += heat * sheared * dt * copies
	copy(s.h, f.hNew)
	copy(s.wall, f.x[n:])
	f.lost += f.toBack(s, row) * dt * copies
}

// moved tells whether the capacity at any of the temperatures x (K) differs from cp (J/(kg K)) by over a twentieth.
func (f *filler) moved(x, cp []float64) bool {
	for i, T := range x {
		if d := f.prop.capacity(T) - cp[i]; d > 0.05*cp[i] || -d > 0.05*cp[i] {
			return true
		}
	}
	return false
}

// leaving is the enthalpy (J/kg) at the end of a station, by cell.
func (f *filler) leaving(s *station) []float64 {
	for i, h := range f.hNew {
		f.end[i] = h + s.rise[i]
	}
	return f.end
}

// conduct adds conduction across melt and wall to the system of a column.
func (f *filler) conduct(s *station, row *rows, start, dt float64) {
	n, nw := f.n, f.nw
	unit := s.room * s.front / (s.half * s.half)
	f.lo[0] = 0
	for i := 0; i+1 < n; i++ {
		g := unit * row.con[i] * (f.k[i] + f.k[i+1]) / 2
		f.di[i] += g
		f.di[i+1] += g
		f.up[i], f.lo[i+1] = -g, -g
	}
	g := f.toFace(s, row)
	f.di[n-1] += g
	f.up[n-1] = -g
	if nw == 0 {
		f.rh[n-1] += g * f.m.Surface
		return
	}
	f.lo[n] = -g
	w := &f.m.Wall
	for i := range nw {
		v := w.RhoC * f.wallRoom(s, i) / dt
		f.di[n+i] = v * s.front
		f.rh[n+i] = v * (start*s.wall[i] + (s.front-start)*f.m.Surface)
	}
	f.di[n] += g
	for i := 0; i+1 < nw; i++ {
		g := f.wallLink(s, i)
		f.di[n+i] += g
		f.di[n+i+1] += g
		f.up[n+i], f.lo[n+i+1] = -g, -g
	}
	g, T := f.back(s)
	f.di[n+nw-1] += g
	f.rh[n+nw-1] += g * T
}

// toFace is the conductance (W/K) from the last cell of the melt to the first of the wall, or to the held face.
func (f *filler) toFace(s *station, row *rows) float64 {
	r := row.last*s.half/f.k[f.n-1] + 1/f.m.Contact
	if f.nw > 0 {
		d := f.wallEdge[1] / 2
		r += d / f.m.Wall.K * s.surface / f.wallArea(s, d/2)
	}
	return s.surface * s.front / r
}

// wallLink is the conductance (W/K) between wall cells i and i+1.
func (f *filler) wallLink(s *station, i int) float64 {
	gap := (f.wallEdge[i+2] - f.wallEdge[i]) / 2
	return f.m.Wall.K * f.wallArea(s, f.wallEdge[i+1]) * s.front / gap
}

// back is the conductance (W/K) from the last wall cell to what is behind the mould, and its temperature (K).
func (f *filler) back(s *station) (g, T float64) {
	w := &f.m.Wall
	d := (f.wallEdge[f.nw] - f.wallEdge[f.nw-1]) / 2
	area := f.wallArea(s, f.wallEdge[f.nw]) * s.front
	if w.Air > 0 {
		return area / (d/w.K + 1/w.Air), w.AirT
	}
	return area * w.K / d, f.m.Surface
}

// toBack is the heat (W) that leaves a column at its back, with the solution just found.
func (f *filler) toBack(s *station, row *rows) float64 {
	if f.nw == 0 {
		return f.toFace(s, row) * (f.x[f.n-1] - f.m.Surface)
	}
	g, T := f.back(s)
	return g * (f.x[f.n+f.nw-1] - T)
}

// content is the heat (J) in melt, from the zero of enthalpy, and in the wall, above the temperature of the mould.
func (f *filler) content() (melt, wall float64) {
	for _, s := range f.st {
		copies := float64(f.m.Elements[s.e].Copies) / s.speed
		for i, v := range f.row(s).vol {
			melt += f.rho * s.room * v * s.front * s.h[i] * copies
		}
		for i, T := range s.wall {
			wall += f.m.Wall.RhoC * f.wallRoom(s, i) * s.front * (T - f.m.Surface) * copies
		}
	}
	return melt, wall
}
