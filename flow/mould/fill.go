package mould

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// Defaults of the discretisation: the test of grid convergence says what they cost.
const (
	DefaultCells    = 20
	DefaultStations = 60
	DefaultSteps    = 240 // at least so many time steps at the set flow
)

// Settings of a filling.
type Settings struct {
	Melt float64 // K, at the nozzle exit
	Flow float64 // m3/s, the set flow
	// Supply returns the pressure (Pa) that feeder and hot end can give at the nozzle exit at a flow (m3/s); nil for no limit. It should
	// not grow with flow.
	Supply  func(q float64) float64
	Longest float64 // s, give up after; 0 takes 3600

	Cells, Stations, Steps int  // 0 for the defaults
	NoHeat                 bool // isothermal, for checks
}

// Sample is the mould at one time.
type Sample struct {
	Time     float64 // s
	Flow     float64 // m3/s
	Pressure float64 // Pa at the nozzle exit
	Front    float64 // m along the path of one copy
	Filled   float64 // share of the volume
	Frozen   float64 // share of the thickness below the flow point where it is most
	Limited  bool    // the supply decides, not the set flow
	Open     float64 // N that opens the mould, of pressure on the projected area
}

// Result is a filling.
type Result struct {
	Filled  bool
	Where   string // the element in which the front is at the end
	Why     string // of a short shot
	Time    float64
	Volume  float64 // m3 of the whole mould
	Trace   []Sample
	Limited float64 // s, from when on the supply decided; 0 if never

	Peak     float64 // Pa, the highest pressure at the nozzle exit
	Open     float64 // N, the highest opening force while filling, pressures as computed on all elements
	OpenLow  float64 // N, at the end of filling on cavities alone
	OpenHigh float64 // N, the highest pressure on the whole projected area: a mould packed before it freezes

	GateFreeze float64 // s after the end of filling until the thinnest feed element stands still
	Cooling    float64 // s after the end of filling until the hottest centre is at the ejection temperature
	Balance    float64 // what the energy balance does not close to, as a share of the heat brought in
	Profile    Profile // at the end of filling

	Warnings []materials.Warning
}

// Profile is the temperature through the thickness along the path.
type Profile struct {
	X       []float64   // m along the path, station middles
	Half    []float64   // m, half thickness or radius
	Face    []float64   // outer faces of the cells: the middle of the thickness is 0, the wall 1
	T       [][]float64 // K, station by cell
	P       []float64   // Pa, pressure at the station
	Element []int
}

// station is a short stretch of an element.
type station struct {
	e       int
	dx, x   float64 // m; x at its end
	half    float64 // m, half thickness or radius
	planar  bool
	breadth float64 // m, width of a gap
	share   float64 // of the whole flow that one copy carries
	speed   float64 // flow of the equivalent section over that of the real one
	duct    *duct.Duct
	volume  float64 // m3, all copies

	T, h  []float64 // K and J/kg by cell
	phi   []float64 // 1/(Pa s)
	rate  []float64 // 1/s
	q     []float64 // m3/s by cell, equivalent section, one copy
	logS  float64   // log wall stress, the start of the next iteration
	drop  float64   // Pa
	p     float64   // Pa at its start
	front float64   // share of it that is filled
}

// filler holds a filling as it goes.
type filler struct {
	m           *Mould
	c           *flow.Case
	s           Settings
	tab         *materials.Table
	st          []station
	xi          []float64 // centroids
	face        []float64 // n+1
	wp          []float64 // weights of rate in the flow of a gap
	wt          []float64 // and of a tube
	rho         float64
	a, b, cc, d []float64 // tridiagonal
	up          []float64 // enthalpy flowing in, by cell
	n           int

	frozeAt float64 // s, see cool

	brought, lost, viscous float64 // J: with the melt, to the mould, of shear
}

func newFiller(c *flow.Case, m *Mould, s Settings) *filler {
	n := s.Cells
	f := &filler{m: m, c: c, s: s, n: n, tab: materials.NewTable(c.Material.Viscosity.FlowCurve)}
	f.rho = 1 / c.Material.Density.Volume(s.Melt, 0)
	f.face = make([]float64, n+1)
	for i := range f.face { // finer towards the wall
		f.face[i] = 1 - math.Pow(1-float64(i)/float64(n), 1.6)
	}
	vec := func() []float64 { return make([]float64, n) }
	f.xi, f.wp, f.wt, f.a, f.b, f.cc, f.d, f.up = vec(), vec(), vec(), vec(), vec(), vec(), vec(), vec()
	for i := range n {
		a, b := f.face[i], f.face[i+1]
		f.wp[i] = (b*b - a*a) / 2
		f.wt[i] = (b*b*b - a*a*a) / 3
		f.xi[i] = (a + b) / 2
	}
	var length float64
	measure := func(e *Element) float64 {
		if e.Shape == DiscGap {
			return (e.D2 - e.D1) / 2
		}
		return e.Length
	}
	for i := range m.Elements {
		length += measure(&m.Elements[i])
	}
	x := 0.0
	for i := range m.Elements {
		e := &m.Elements[i]
		copies := float64(e.Copies)
		l := measure(e)
		k := max(4, int(math.Round(float64(s.Stations)*l/length)))
		for j := range k {
			st := station{e: i, dx: l / float64(k), share: 1 / copies, speed: 1, T: vec(), h: vec(), phi: vec(), rate: vec(), q: vec(), logS: math.Log(1e4)}
			x += st.dx
			st.x = x
			at := (float64(j) + 0.5) / float64(k)
			switch e.Shape {
			case Sprue, Round:
				st.half = (e.D1 + at*(e.D2-e.D1)) / 2
				st.volume = math.Pi * st.half * st.half * st.dx
			case StripGap:
				st.planar, st.half, st.breadth = true, e.Height/2, e.Width
				st.volume = e.Width * e.Height * st.dx
			case DiscGap:
				r := e.D1/2 + at*l
				st.planar, st.half, st.breadth = true, e.Height/2, 2*math.Pi*r
				st.volume = 2 * math.Pi * r * e.Height * st.dx
			default:
				d := e.duct()
				st.duct = &d
				st.half = d.HydraulicDiameter() / 2
				st.speed = math.Pi * st.half * st.half / d.Area
				st.volume = d.Area * st.dx
			}
			st.volume *= copies
			f.st = append(f.st, st)
		}
	}
	return f
}

// momentum finds the wall stress of a station that carries q (m3/s, equivalent section) and its drop over the filled stretch.
// Flow follows from the rates by parts: Q = 2 B H^2 int xi g dxi in a gap, pi R^3 int xi^2 g dxi in a tube.
func (f *filler) momentum(s *station, q float64) {
	n := f.n
	w, scale := f.wt, math.Pi*s.half*s.half*s.half
	if s.planar {
		w, scale = f.wp, 2*s.breadth*s.half*s.half
	}
	want := math.Log(q / scale)
	eval := func(l float64) float64 {
		tau := math.Exp(l)
		var sum float64
		for i := range n {
			t := tau * f.xi[i]
			g := s.phi[i] * t * f.tab.W(t*t)
			s.rate[i] = g
			sum += w[i] * g
		}
		return math.Log(sum) - want
	}
	l := num.RootFrom(eval, s.logS, math.Inf(-1), math.Inf(1), [3]float64{2, 0.9, 20}, 1e-8)
	s.logS = l
	grad := math.Exp(l) / s.half
	if !s.planar {
		grad *= 2
	}
	if s.duct != nil {
		grad *= f.ratio(s)
	}
	s.drop = grad * s.dx * s.front
}

// ratio is the drop of a duct over that of the tube of its hydraulic diameter at the same mean speed: [(B + A/n)/(3/4 + 1/4n)]^n
// (Kozicki et al. 1966, see duct.Duct), n the local power index at the wall.
func (f *filler) ratio(s *station) float64 {
	t := math.Exp(s.logS)
	w, slope := f.tab.WSlope(t * t)
	n := 1 / (1 + 2*slope/w) // d ln tau / d ln g, for g = phi tau W
	return math.Pow((s.duct.B+s.duct.A/n)/(0.75+0.25/n), n)
}

// pressure returns the pressure (Pa) at the nozzle exit for a flow, with the temperatures as they are.
func (f *filler) pressure(filled int, q float64) float64 {
	var p float64
	for j := filled; j >= 0; j-- {
		s := &f.st[j]
		f.momentum(s, q*s.share*s.speed)
		p += s.drop
		s.p = p
	}
	return p
}

// refresh takes fluidities at the temperatures and pressures of the stations.
func (f *filler) refresh(filled int) {
	for j := range filled + 1 {
		s := &f.st[j]
		for i := range f.n {
			s.phi[i] = f.c.Fluidity(s.T[i], s.p)
		}
	}
}

// areas of a cell, equivalent section, m2.
func (f *filler) area(s *station, i int) float64 {
	if s.planar {
		return 2 * s.breadth * s.half * (f.face[i+1] - f.face[i])
	}
	return math.Pi * s.half * s.half * (f.face[i+1]*f.face[i+1] - f.face[i]*f.face[i])
}

// flows fills the flow of each cell: the speed falls from face to face by the rate times the width of the cell.
func (f *filler) flows(s *station) (total float64) {
	u := 0.0
	for i := f.n - 1; i >= 0; i-- {
		w := f.face[i+1] - f.face[i]
		inner := u + s.rate[i]*w*s.half
		if s.planar {
			s.q[i] = 2 * s.breadth * s.half * w * (u + inner) / 2
		} else {
			a, b := f.face[i], f.face[i+1]
			// int u xi dxi with u = inner at a and u at b
			m := (u - inner) / w
			s.q[i] = 2 * math.Pi * s.half * s.half * ((inner-m*a)*(b*b-a*a)/2 + m*(b*b*b-a*a*a)/3)
		}
		u = inner
		total += s.q[i]
	}
	return total
}

// inflow maps the enthalpy that leaves the station before (nil: the melt) onto the cells of s, by equal shares of the flow counted
// from the middle: what flows in is what flowed out, to round-off.
func (f *filler) inflow(before, s *station, melt float64) {
	if before == nil {
		for i := range f.n {
			f.up[i] = melt
		}
		return
	}
	var qa, qb float64
	for i := range f.n {
		qa += before.q[i]
		qb += s.q[i]
	}
	if qa <= 0 || qb <= 0 {
		copy(f.up, before.h)
		return
	}
	k := 0
	left := before.q[0] / qa
	for i := range f.n {
		want := s.q[i] / qb
		if want <= 0 {
			f.up[i] = s.h[i]
			continue
		}
		var sum, got float64
		for got < want {
			take := math.Min(left, want-got)
			sum += take * before.h[k]
			got += take
			left -= take
			if left <= 1e-15 {
				if k == f.n-1 {
					sum += (want - got) * before.h[k]
					break
				}
				k++
				left = before.q[k] / qa
			}
		}
		f.up[i] = sum / want
	}
}

// state of a station in an energy step.
type state int

const (
	full  state = iota // flows through
	front              // fills
	still              // cools, no flow
)

// energy takes a station over dt: implicit conduction through the thickness, heat carried in (implicit, upwind) and the heat of shear,
// by three Newton steps on the enthalpy. A station that fills, from the share start of it on, receives the mixing cup of what arrives, spread
// over its thickness by the turn of the front.
func (f *filler) energy(before, s *station, melt, start, dt float64, what state) {
	n := f.n
	dx := s.dx * s.front
	held := dx
	switch what {
	case full:
		f.flows(s)
		f.inflow(before, s, melt)
	case front:
		q := f.flows(s)
		held = s.dx * start
		mix := melt
		if before != nil {
			mix = mixed(before)
		}
		var area float64
		for i := range n {
			area += f.area(s, i)
		}
		for i := range n {
			s.q[i] = q * f.area(s, i) / area
			f.up[i] = mix
		}
	default:
		for i := range n {
			s.q[i], s.rate[i] = 0, 0
		}
	}
	tau := math.Exp(s.logS)
	heat := &f.c.Material.Heat
	T, rhs := f.d, s.phi // fluidities are taken anew at the next step
	copy(T, s.T)
	var lost float64
	for range 3 {
		for i := range n {
			area := f.area(s, i)
			m, conv := f.rho*area*held/dt, f.rho*s.q[i]
			h, cp := heat.Enthalpy(T[i]), heat.Capacity(T[i])
			f.b[i] = (m + conv) * cp
			rhs[i] = m*s.h[i] + conv*f.up[i] + tau*f.xi[i]*s.rate[i]*area*dx + (m+conv)*(cp*T[i]-h)
			f.a[i], f.cc[i] = 0, 0
		}
		for i := 0; i+1 < n; i++ {
			g := f.conduct(s, T, i, dx)
			f.b[i] += g
			f.b[i+1] += g
			f.cc[i] = -g
			f.a[i+1] = -g
		}
		g := f.toWall(s, T[n-1], dx)
		f.b[n-1] += g
		rhs[n-1] += g * f.m.Wall
		solve(f.a, f.b, f.cc, rhs, T)
		lost = g * (T[n-1] - f.m.Wall)
	}
	copies := float64(f.m.Elements[s.e].Copies) / s.speed // of the equivalent section
	for i := range n {
		s.T[i] = T[i]
		s.h[i] = heat.Enthalpy(T[i])
		f.viscous += tau * f.xi[i] * s.rate[i] * f.area(s, i) * dx * dt * copies
	}
	f.lost += lost * dt * copies
}

// mixed is the mixing cup (J/kg) of what leaves a station.
func mixed(s *station) float64 {
	var q, e float64
	for i := range s.q {
		q += s.q[i]
		e += s.q[i] * s.h[i]
	}
	if q > 0 {
		return e / q
	}
	return s.h[0]
}

// content is the heat (J, from the enthalpy's zero) of what is in the mould.
func (f *filler) content(filled int) (sum float64) {
	for j := range filled + 1 {
		s := &f.st[j]
		for i := range f.n {
			sum += f.rho * f.area(s, i) * s.dx * s.front * s.h[i] * float64(f.m.Elements[s.e].Copies) / s.speed
		}
	}
	return sum
}

// conduct is the conductance (W/K) between cells i and i+1 over dx.
func (f *filler) conduct(s *station, T []float64, i int, dx float64) float64 {
	k := f.c.Material.Conductivity.At((T[i] + T[i+1]) / 2)
	gap := (f.xi[i+1] - f.xi[i]) * s.half
	if s.planar {
		return k * 2 * s.breadth * dx / gap
	}
	return k * 2 * math.Pi * f.face[i+1] * s.half * dx / gap
}

// toWall is the conductance (W/K) from the last cell to the mould surface.
func (f *filler) toWall(s *station, T, dx float64) float64 {
	r := (1-f.xi[f.n-1])*s.half/f.c.Material.Conductivity.At((T+f.m.Wall)/2) + 1/f.m.H
	if s.planar {
		return 2 * s.breadth * dx / r
	}
	return 2 * math.Pi * s.half * dx / r
}

// solve is the tridiagonal sweep; b and d are overwritten.
func solve(a, b, c, d, x []float64) {
	n := len(b)
	for i := 1; i < n; i++ {
		w := a[i] / b[i-1]
		b[i] -= w * c[i-1]
		d[i] -= w * d[i-1]
	}
	x[n-1] = d[n-1] / b[n-1]
	for i := n - 2; i >= 0; i-- {
		x[i] = (d[i] - c[i]*x[i+1]) / b[i]
	}
}

// frozen returns the share of the thickness below the flow point where it is most, and the station.
func (f *filler) frozen(filled int) (share float64, at int) {
	limit := f.c.Material.FlowPoint()
	for j := range filled + 1 {
		s := &f.st[j]
		x := 0.0
		for i := range f.n {
			if s.T[i] < limit {
				x += f.face[i+1] - f.face[i]
			}
		}
		if x > share {
			share, at = x, j
		}
	}
	return share, at
}

// open returns the force that opens the mould (N) and that on cavities alone.
func (f *filler) open(filled int) (all, cavity float64) {
	for j := range filled + 1 {
		s := &f.st[j]
		e := &f.m.Elements[s.e]
		mid := s.p - s.drop/2
		a := e.Projected() * s.dx * s.front
		switch e.Shape {
		case DiscGap:
			a = s.breadth * s.dx * s.front * float64(e.Copies)
		case Sprue:
			a = 0 // stands on the plane: its melt pushes on the nozzle
		default:
			a /= e.Length
		}
		all += mid * a
		if e.Cavity {
			cavity += mid * a
		}
	}
	return all, cavity
}

// Fill fills a mould. Errors: an impossible mould or setting; a short shot is a result, not an error.
func Fill(ctx context.Context, c *flow.Case, m *Mould, s Settings) (*Result, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if !(s.Melt > m.Wall) || !(s.Melt < 900) {
		return nil, fmt.Errorf("mould: melt at %g K; it must be hotter than the mould at %g K, and below 900 K", s.Melt, m.Wall)
	}
	if !(s.Flow >= 1e-12 && s.Flow <= 1e-3) {
		return nil, fmt.Errorf("mould: a flow of %g m3/s; 1e-12 to 1e-3 are allowed", s.Flow)
	}
	def := func(x *int, d int) {
		if *x <= 0 {
			*x = d
		}
	}
	def(&s.Cells, DefaultCells)
	def(&s.Stations, DefaultStations)
	def(&s.Steps, DefaultSteps)
	if s.Longest == 0 {
		s.Longest = 3600
	}
	f := newFiller(c, m, s)
	r := &Result{}
	for i := range m.Elements {
		r.Volume += m.Elements[i].Volume()
	}
	var total float64
	for j := range f.st {
		total += f.st[j].volume
	}
	dtMax := total / s.Flow / float64(s.Steps)
	freezing := math.Inf(1) // s, a fiftieth of the time in which heat crosses the thinnest section
	alpha := c.Material.Conductivity.At(s.Melt) / f.rho / c.Material.Heat.Cp.At(s.Melt)
	for j := range f.st {
		freezing = math.Min(freezing, 0.02*f.st[j].half*f.st[j].half/alpha)
	}
	melt := c.Material.Heat.Enthalpy(s.Melt)
	now, done, j := 0.0, 0.0, 0
	f.begin(j, melt)
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		st := &f.st[j]
		// The drop over what is filled, the stretch of this step included.
		f.refresh(j)
		remaining := (1 - st.front) * st.volume
		dt := math.Min(remaining/s.Flow, dtMax)
		start := st.front
		ahead := func(q float64) { st.front = math.Min(1, start+q*dt/st.volume) }
		ahead(s.Flow)
		p := f.pressure(j, s.Flow)
		limited := false
		q := s.Flow
		if s.Supply != nil && p > s.Supply(q) {
			limited = true
			if len(r.Trace) > 0 && r.Trace[len(r.Trace)-1].Limited {
				q = r.Trace[len(r.Trace)-1].Flow
			}
			dt = total / q / float64(s.Steps)
			if !s.NoHeat { // slow flow: as long as freezing allows
				dt = math.Min(dt, math.Max(dtMax, freezing))
			}
			dt = math.Min(dt, (1-start)*st.volume/q)
			q, p = f.limit(j, q, func(q float64) { ahead(q / 2) }) // at the middle of the step: second order in time
			dt = math.Min(dt, (1-start)*st.volume/q)
			ahead(q)
		}
		// Below the flow point from wall to middle: what still creeps is the solid-side cap, not melt. The front itself is left out: it is
		// cold melt that hotter melt pushes.
		share, _ := f.frozen(j - 1)
		shut := share > 1-1e-9
		if shut || q < 1e-3*s.Flow || now > s.Longest {
			st.front = start
			r.Where, r.Why = m.Elements[st.e].Name, f.why(j, now > s.Longest)
			break
		}
		if limited && r.Limited == 0 {
			r.Limited = math.Max(now, 1e-9)
		}
		if !s.NoHeat {
			for k := range j + 1 {
				var before *station
				if k > 0 {
					before = &f.st[k-1]
				}
				if k < j {
					f.energy(before, &f.st[k], melt, 1, dt, full)
				} else {
					f.energy(before, st, melt, start, dt, front)
				}
			}
			f.brought += f.rho * q * dt * melt
		}
		now += dt
		done += q * dt
		fr, _ := f.frozen(j)
		all, cavity := f.open(j)
		r.Open, r.OpenLow = math.Max(r.Open, all), cavity
		r.Peak = math.Max(r.Peak, p)
		r.Trace = append(r.Trace, Sample{Time: now, Flow: q, Pressure: p, Front: st.x - (1-st.front)*st.dx, Filled: math.Min(1, done/total), Frozen: fr, Limited: limited, Open: all})
		if st.front > 1-1e-9 {
			st.front = 1
			if j == len(f.st)-1 {
				r.Filled, r.Where = true, m.Elements[st.e].Name
				break
			}
			j++
			f.begin(j, melt)
		}
		if len(r.Trace) > 200000 {
			return nil, fmt.Errorf("mould: no end after %d steps", len(r.Trace))
		}
	}
	r.Time = now
	var projected float64
	for i := range m.Elements {
		if m.Elements[i].Shape != Sprue {
			projected += m.Elements[i].Projected()
		}
	}
	r.OpenHigh = r.Peak * projected
	if s.Supply != nil {
		r.OpenHigh = math.Max(r.Peak, s.Supply(0)) * projected
	}
	f.profile(r, j)
	if !s.NoHeat {
		r.Balance = math.Abs(f.brought+f.viscous-f.lost-f.content(j)) / f.brought
		f.rest(r, j)
	}
	r.Warnings = f.warnings(r)
	return r, nil
}

// begin opens station j: it fills with the mixing cup of what leaves the one before.
func (f *filler) begin(j int, melt float64) {
	s := &f.st[j]
	h := melt
	if j > 0 && !f.s.NoHeat {
		h = mixed(&f.st[j-1])
	}
	if j > 0 {
		s.logS, s.p = f.st[j-1].logS, f.st[j-1].p
	}
	T := f.c.Material.Heat.Temperature(h)
	for i := range f.n {
		s.T[i], s.h[i] = T, h
	}
}

// limit finds the flow at which what the mould wants is what the supply gives: a secant in logarithms, kept in a bracket. Below a
// ten-thousandth of the set flow it stops.
func (f *filler) limit(j int, q float64, ahead func(float64)) (float64, float64) {
	var p float64
	over := func(l float64) float64 {
		q := math.Exp(l)
		ahead(q)
		p = f.pressure(j, q)
		return math.Log(p) - math.Log(math.Max(1, f.s.Supply(q)))
	}
	l := num.RootFrom(over, math.Log(q), math.Log(f.s.Flow*1e-4), math.Log(f.s.Flow), [3]float64{0.5, 0.02, 20}, 1e-6)
	return math.Exp(l), p
}

// why says what stopped a short shot.
func (f *filler) why(j int, late bool) string {
	share, at := f.frozen(j)
	where := f.m.Elements[f.st[at].e].Name
	switch {
	case late:
		return fmt.Sprintf("it creeps: not full after %.0f s", f.s.Longest)
	case share > 0.6:
		return fmt.Sprintf("frozen: %.0f %% of the thickness stands still in %s", 100*share, where)
	}
	return "the force of the feeder is used up before the melt freezes"
}

func (f *filler) profile(r *Result, filled int) {
	r.Profile.Face = append([]float64{}, f.face[1:]...)
	for j := range filled + 1 {
		s := &f.st[j]
		r.Profile.X = append(r.Profile.X, s.x-s.dx/2)
		r.Profile.Half = append(r.Profile.Half, s.half)
		r.Profile.T = append(r.Profile.T, append([]float64{}, s.T...))
		r.Profile.P = append(r.Profile.P, s.p)
		r.Profile.Element = append(r.Profile.Element, s.e)
	}
}

// rest lets the melt stand and cool: when the thinnest feed element freezes shut, and when the hottest centre can be ejected. A mould
// too hot for that gives 0, and a warning.
func (f *filler) rest(r *Result, filled int) {
	gate := -1
	for j := range filled + 1 {
		if e := f.element(j); !e.Cavity && (gate < 0 || e.thickness() < f.element(gate).thickness()) {
			gate = j
		}
	}
	for j := range filled + 1 {
		s := &f.st[j]
		s.front = 1
		if t := f.cool(s, f.c.Material.Ejection); t > r.Cooling {
			r.Cooling = t
		}
		if j == gate {
			r.GateFreeze = f.frozeAt
		}
	}
}

// cool lets a station stand until its centre is at a temperature (K), and returns the time (s); frozeAt is when it passed the flow point.
func (f *filler) cool(s *station, until float64) (t float64) {
	f.frozeAt = 0
	if until <= f.m.Wall {
		return 0
	}
	alpha := f.c.Material.Conductivity.At(s.T[0]) / f.rho / f.c.Material.Heat.Cp.At(s.T[0])
	dt := 0.002 * s.half * s.half / alpha
	shut := false
	for s.T[0] > until && t < 1e5 {
		last := s.T[0]
		f.energy(nil, s, 0, 1, dt, still)
		if limit := f.c.Material.FlowPoint(); !shut && s.T[0] <= limit {
			f.frozeAt, shut = t+dt*math.Max(0, (last-limit)/(last-s.T[0])), true
		}
		t += dt
		dt *= 1.003
	}
	return t
}

func (f *filler) element(j int) *Element { return &f.m.Elements[f.st[j].e] }

func (f *filler) warnings(r *Result) []materials.Warning {
	list := f.c.Material.Warnings()
	add := func(code, format string, args ...any) {
		list = materials.AddWarning(list, materials.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
	}
	mat := f.c.Material
	if f.m.Wall >= mat.Ejection {
		add("mould-too-hot", "the mould at %.0f degC is not below the ejection temperature of %.0f degC: the part cannot be taken out", unit.Celsius(f.m.Wall), unit.Celsius(mat.Ejection))
	}
	if f.s.Melt < mat.FlowPoint() {
		add("melt-too-cold", "the melt enters at %.0f degC, below its flow point of %.0f degC", unit.Celsius(f.s.Melt), unit.Celsius(mat.FlowPoint()))
	}
	if r.Time > 30 {
		add("slow-fill", "filling takes %.0f s; an injection press takes about one: at filament flows it is freezing that decides, so warm the mould and thicken the wall", r.Time)
	}
	return list
}
