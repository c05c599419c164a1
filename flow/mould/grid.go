package mould

import (
	"math"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/materials"
	"meltload/materials/num"
)

// Defaults of the discretisation: the tests of grid convergence say what they cost.
const (
	DefaultCells     = 20 // through the half thickness
	DefaultWallCells = 12 // through the wall of the mould
	DefaultStations  = 32 // at least so many along the filled length of a cavity, at most twice as many
)

// station is a short stretch of an element with one column of melt and wall. Sizes are those of one copy, in the
// equivalent section: the tube of the hydraulic diameter for a duct that is not round.
type station struct {
	e       int
	dx, x   float64 // m; x at its end
	half    float64 // m, half thickness or radius
	planar  bool
	share   float64 // of the whole flow that one copy carries
	speed   float64 // flow of the equivalent section over that of the real one
	duct    *duct.Duct
	volume  float64 // m3, all copies, real section
	room    float64 // m3, one copy, equivalent section
	surface float64 // m2, both faces of a gap or the wetted face of a tube, one copy, equivalent section

	T, h  []float64 // K and J/kg by cell
	wall  []float64 // K by wall cell, from the face to the back
	phi   []float64 // 1/(Pa s)
	rate  []float64 // 1/s
	q     []float64 // m3/s by cell, equivalent section, one copy
	rise  []float64 // J/kg by cell, of enthalpy from the middle of the station to its end
	logS  float64   // log wall stress, the start of the next iteration
	was   float64   // the same at the end of the step before
	tau   float64   // Pa, wall stress of the last iteration
	slope float64   // d ln(stress) / d ln(flow)
	drop  float64   // Pa
	p     float64   // Pa at its start
	front float64   // share of it that is filled
}

// rows is the geometry of a column that all stations of one kind (gap or round) share, per unit of room and surface.
type rows struct {
	vol  []float64 // share of the section in a cell
	con  []float64 // conductance between cells i and i+1 over k, times half^2/room
	last float64   // (1 - xi of the last cell), the way to the face in units of half
	w    []float64 // weights of the rate in the flow
}

// property is one entry of the table of properties: linear from its temperature on.
type property struct{ h, cp, per, k, phi, dphi float64 } // per: 1/cp

const propertyStep = 0.5 // K

const firstStress = 1e4 // Pa, where the search for the wall stress of the first station begins

// properties tabulates enthalpy, conductivity and fluidity (at no pressure) of the melt as it sets.
type properties struct{ at []property }

func (p *properties) of(T float64) (*property, float64) {
	x := (T - materials.TableLow) * (1 / propertyStep)
	i := int(x)
	if x < 0 {
		i = 0
	} else if i >= len(p.at) {
		i = len(p.at) - 1
	}
	return &p.at[i], T - (materials.TableLow + float64(i)*propertyStep)
}

// temperature inverts the enthalpy from a guess (K) near by.
func (p *properties) temperature(h, guess float64) float64 {
	i := int((guess - materials.TableLow) * (1 / propertyStep))
	i = max(0, min(i, len(p.at)-1))
	for i > 0 && h < p.at[i].h {
		i--
	}
	for i < len(p.at)-1 && h >= p.at[i+1].h {
		i++
	}
	return materials.TableLow + float64(i)*propertyStep + (h-p.at[i].h)*p.at[i].per
}

// capacity is dh/dT at T.
func (p *properties) capacity(T float64) float64 {
	a, _ := p.of(T)
	return a.cp
}

// enthalpy at T.
func (p *properties) enthalpy(T float64) float64 {
	a, d := p.of(T)
	return a.h + d*a.cp
}

// filler holds a filling as it goes.
type filler struct {
	m    *Mould
	c    *flow.Case
	s    Settings
	tab  *materials.Table
	law  materials.Viscosity // with the cooling range and the cap of the filling
	heat materials.Heat
	prop properties
	st   []*station // where melt is, in the order of flow; the last one is the front
	free []*station
	xi   []float64 // middles of the cells
	face []float64 // n+1 faces: 0 in the middle of the thickness, 1 at the wall
	kind [2]rows   // gap, round
	rho  float64
	n    int // cells of melt
	nw   int // cells of the wall

	wallEdge []float64 // m from the face, nw+1
	noFlow   float64   // K

	lo, di, up, rh, x        []float64 // one column, melt and wall: tridiagonal system and its solution
	T0, h0, cp, k, hNew, end []float64 // its melt: the temperature worked about, the properties there, the new enthalpy
	in                       []float64 // J/kg that flows in, by cell
	away                     []float64 // m3/s that leaves a cell for the front, negative if it comes from there
	laid                     []float64 // J/kg laid there

	brought, lost, viscous float64 // J: with the melt, into the back of the mould, of shear
}

// path is an element as the filler walks it: how many stations, how fine at first.
type path struct {
	length, first float64 // m
	most          int     // stations before they are merged two by two
}

// pathOf returns how an element is cut: first into stations short against its thickness; when there are twice as many
// as asked for, two are made into one, so that the filled length is always cut alike.
func (f *filler) pathOf(e *Element) path {
	n := f.s.Stations
	if !e.Cavity {
		n = max(4, n/2)
	}
	l := e.FlowLength()
	p := path{length: l, most: 2 * n, first: l / float64(2*n)}
	for want := 0.05 * e.thickness(); p.first > want && p.first > 1e-4*l; p.first /= 2 {
	}
	return p
}

func newFiller(c *flow.Case, m *Mould, s Settings) *filler {
	n := s.Cells
	f := &filler{m: m, c: c, s: s, n: n, tab: materials.NewTable(c.Material.Viscosity.FlowCurve)}
	f.rho = 1 / c.Material.Density.Volume(s.Melt, 0)
	f.law = c.Material.Viscosity
	if !s.NoHeat {
		f.law.Cap = s.SolidCap
	}
	if x := c.Material.Cooling; x[1] > x[0] {
		f.law.MeltLow, f.law.MeltHigh = x[0], x[1]
	}
	f.heat = c.Material.CoolingHeat()
	f.noFlow = s.NoFlow
	f.tabulate()
	if !m.Wall.held() && !s.NoHeat {
		f.nw = s.WallCells
	}
	f.face = make([]float64, n+1)
	for i := range f.face { // finer towards the wall
		f.face[i] = 1 - math.Pow(1-float64(i)/float64(n), 1.7)
	}
	vec := func(n int) []float64 { return make([]float64, n) }
	f.xi, f.in, f.away, f.laid = vec(n), vec(n), vec(n), vec(n)
	for _, v := range []*[]float64{&f.lo, &f.di, &f.up, &f.rh, &f.x} {
		*v = vec(n + f.nw)
	}
	for _, v := range []*[]float64{&f.T0, &f.h0, &f.cp, &f.k, &f.hNew, &f.end} {
		*v = vec(n)
	}
	for i := range n {
		f.xi[i] = (f.face[i] + f.face[i+1]) / 2
	}
	for kind := range f.kind {
		r := &f.kind[kind]
		r.vol, r.con, r.w, r.last = vec(n), vec(n), vec(n), 1-f.xi[n-1]
		for i := range n {
			a, b := f.face[i], f.face[i+1]
			r.vol[i], r.w[i] = b-a, (b*b-a*a)/2
			if i+1 < n {
				r.con[i] = 1 / (f.xi[i+1] - f.xi[i])
			}
			if kind == 1 {
				r.vol[i], r.w[i] = b*b-a*a, (b*b*b-a*a*a)/3
				r.con[i] *= 2 * b
			}
		}
	}
	f.wallEdge = f.wallFaces()
	return f
}

// tabulate fills the table of properties.
func (f *filler) tabulate() {
	n := int((materials.TableHigh - materials.TableLow) / propertyStep)
	at := make([]property, n+1)
	factor := f.c.ViscosityFactor
	if factor <= 0 {
		factor = 1
	}
	for i := range at {
		T := materials.TableLow + float64(i)*propertyStep
		p := f.law.Fluidity(T, 0)
		at[i] = property{h: f.heat.Enthalpy(T), k: f.c.Material.Conductivity.At(T), phi: (p-1/f.law.Cap)/factor +
			1/f.law.Cap}
	}
	for i := range at[:n] {
		at[i].cp = (at[i+1].h - at[i].h) / propertyStep
		at[i].per = 1 / at[i].cp
		at[i].dphi = (at[i+1].phi - at[i].phi) / propertyStep
	}
	at[n].cp, at[n].per = at[n-1].cp, at[n-1].per
	f.prop.at = at
}

// wallFaces cuts the wall: the first cell is six times as thick as answers as fast as the last cell of melt of the
// thinnest element (a compromise between early and late times), the others grow by one ratio.
func (f *filler) wallFaces() []float64 {
	if f.nw == 0 {
		return nil
	}
	thin := math.Inf(1)
	for i := range f.m.Elements {
		thin = math.Min(thin, f.m.Elements[i].thickness())
	}
	w := &f.m.Wall
	alpha := f.c.Material.Conductivity.At(f.s.Melt) / f.rho / f.c.Material.Heat.Cp.At(f.s.Melt)
	first := 6 * thin / 2 * (1 - f.face[f.n-1]) * math.Sqrt(w.K/w.RhoC/alpha)
	edge := make([]float64, f.nw+1)
	even := w.Depth / float64(f.nw)
	ratio := 1.0
	if first < 0.98*even {
		sum := func(r float64) float64 { return first*(math.Pow(r, float64(f.nw))-1)/(r-1) - w.Depth }
		if r, err := num.Root(sum, 1.0001, 20, 1e-9); err == nil {
			ratio = r
		}
	}
	d, x := 1.0, 0.0
	for i := range f.nw {
		x += d
		edge[i+1] = x
		d *= ratio
	}
	for i := range edge {
		edge[i] *= w.Depth / x
	}
	return edge
}

// add appends station number k of an element to the path, empty.
func (f *filler) add(e int, p *path, dx, from float64) *station {
	el := &f.m.Elements[e]
	var s *station
	if n := len(f.free); n > 0 {
		s = f.free[n-1]
		f.free = f.free[:n-1]
	} else {
		all := make([]float64, 6*f.n+f.nw)
		cut := func(n int) []float64 { v := all[:n:n]; all = all[n:]; return v }
		s = &station{T: cut(f.n), h: cut(f.n), phi: cut(f.n), rate: cut(f.n), q: cut(f.n), rise: cut(f.n),
			wall: cut(f.nw)}
	}
	s.e, s.dx, s.share, s.speed, s.duct, s.planar = e, dx, 1/float64(el.Copies), 1, nil, false
	s.front, s.drop, s.slope, s.tau, s.logS, s.p = 0, 0, 1, firstStress, math.Log(firstStress), 0
	s.was = s.logS
	at := func(x float64) (r float64) { return (el.D1 + x/p.length*(el.D2-el.D1)) / 2 }
	switch el.Shape {
	case Sprue, Round:
		a, b := at(from), at(from+dx)
		s.room = math.Pi / 3 * (a*a + a*b + b*b) * dx
		s.half = math.Sqrt(s.room / (math.Pi * dx))
		s.surface = math.Pi * (a + b) * dx
		s.volume = s.room
	case StripGap, DiscGap:
		breadth := el.Width
		if el.Shape == DiscGap {
			breadth = 2 * math.Pi * (el.D1/2 + from + dx/2)
		}
		s.planar, s.half = true, el.Height/2
		s.room, s.surface = breadth*el.Height*dx, 2*breadth*dx
		s.volume = s.room
	default:
		d := el.duct()
		s.duct = &d
		s.half = d.HydraulicDiameter() / 2
		s.speed = math.Pi * s.half * s.half / d.Area
		s.room, s.surface = math.Pi*s.half*s.half*dx, 2*math.Pi*s.half*dx
		s.volume = d.Area * dx
	}
	s.volume *= float64(el.Copies)
	for i := range s.wall {
		s.wall[i] = f.m.Surface
	}
	f.st = append(f.st, s)
	return s
}

// merge makes two full stations of an element into one, from station number first on: mass and heat of melt and wall
// are kept.
func (f *filler) merge(first int) {
	to := first
	for k := first; k+1 < len(f.st); k += 2 {
		a, b := f.st[k], f.st[k+1]
		wa := a.room / (a.room + b.room)
		for i := range f.n {
			a.h[i] = wa*a.h[i] + (1-wa)*b.h[i]
			a.T[i] = f.prop.temperature(a.h[i], a.T[i])
			a.q[i] = b.q[i]
		}
		for i := range f.nw {
			va, vb := f.wallRoom(a, i), f.wallRoom(b, i)
			a.wall[i] = (va*a.wall[i] + vb*b.wall[i]) / (va + vb)
		}
		a.dx, a.x = a.dx+b.dx, b.x
		a.room, a.surface, a.volume, a.drop = a.room+b.room, a.surface+b.surface, a.volume+b.volume, a.drop+b.drop
		if !a.planar && a.duct == nil {
			a.half = math.Sqrt(a.room / (math.Pi * a.dx))
		}
		f.st[to] = a
		f.free = append(f.free, b)
		to++
	}
	f.st = f.st[:to]
}

// wallRoom is the volume (m3) of wall cell i of a station, both faces of a gap.
func (f *filler) wallRoom(s *station, i int) float64 {
	a, b := f.wallEdge[i], f.wallEdge[i+1]
	v := s.surface * (b - a)
	if !s.planar {
		v += math.Pi * s.dx * (b*b - a*a)
	}
	return v
}

// wallArea is the area (m2) across which heat flows at a depth in the wall.
func (f *filler) wallArea(s *station, depth float64) float64 {
	if s.planar {
		return s.surface
	}
	return s.surface + 2*math.Pi*s.dx*depth
}

func (f *filler) row(s *station) *rows {
	if s.planar {
		return &f.kind[0]
	}
	return &f.kind[1]
}
