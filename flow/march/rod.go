package march

import (
	"math"

	"meltload/flow"
)

// rod is the first stretch: a solid rod in an air gap, heated through it. It does not depend on the load, so it is
// marched once for a block temperature and flow, as far as it is asked for, and cut where the rod gives way. Stations
// are kept with the enthalpies of the cells; slices are reused.
type rod struct {
	n       int
	whole   bool // marched to where it cannot stand under any load, or to the cone
	section []int
	x, z    []float64
	bulk    []float64 // bulk enthalpy, J/kg
	h       []float64 // n cells a station
	gapH    float64   // W/(m2 K) at its top
	from    int       // section and fraction at which heating begins
	fromX   float64
}

// firstStep is the first step along a plug over the length over which the contact heats the surface.
const firstStep = 0.02

// growths are the shares by which each step along a plug is longer than the one before: in the air gap and along a
// wetted wall.
type growths struct{ gap, wet float64 }

var (
	plugGrowths = growths{0.3, 1}
	// of stock that melts over a range: where its core melts within a few flows, the push turns with the rod's length
	meltedGrowths = growths{0.2, 0.7}
)

// add keeps the present state as a station.
func (r *rod) add(s *Solver, section int, x float64) {
	n, k := s.n, r.n
	if k == len(r.x) {
		r.section, r.x, r.z, r.bulk = append(r.section, 0), append(r.x, 0), append(r.z, 0), append(r.bulk, 0)
		r.h = append(r.h, make([]float64, n)...)
	}
	r.section[k], r.x[k], r.z[k], r.bulk[k] = section, x, s.z, s.bulkEnthalpy()
	copy(r.h[k*n:(k+1)*n], s.h[:n])
	r.n++
}

// start puts the stock at the inlet's temperature where heating begins: the top of the effective heated length.
func (s *Solver) start() (section int, x float64) {
	h0 := s.c.Material.Heat.Enthalpy(s.c.Filament.Inlet)
	for i := range s.n {
		s.T[i], s.h[i] = s.c.Filament.Inlet, h0
	}
	clear(s.lag)
	clear(s.lead) // nothing of the solve before may show in this one
	s.surfaceShare = 0
	skip := s.c.Unheated()
	s.z = skip
	s.zPrev = skip // no step leads here
	for i := range s.sec[:s.cone] {
		if l := s.sec[i].length; skip >= l && i+1 < s.cone {
			skip -= l
			continue
		} else if skip > 0 {
			return i, skip / l
		}
		return i, 0
	}
	return 0, 0
}

// reachRod marches the rod to a station beyond that at which it reaches the bulk enthalpy H (J/kg), if it has not got
// there: from the inlet again, so that its stations are the same however far it goes.
func (s *Solver) reachRod(H float64) {
	if r := &s.rod; !r.whole && (r.n < 2 || r.bulk[r.n-2] < H) {
		s.marchRod(H)
	}
}

// marchRod marches the rod from the inlet to a station beyond that at which it reaches the bulk enthalpy H (J/kg), but
// not past where it cannot stand under any load, nor past the cone.
func (s *Solver) marchRod(H float64) {
	r, c := &s.rod, s.c
	r.n, r.whole = 0, false
	i, x := s.start()
	r.from, r.fromX = i, x
	r.add(s, i, x)
	end := c.Material.Heat.Enthalpy(c.Material.Softens(0))
	size := c.Filament.Diameter / 2
	for dz := 0.0; i < s.cone; i, x = i+1, 0 {
		p := s.sectionOf(i)
		g := round(size)
		wall := c.WallAt(i, x, s.block)
		for x < 1 {
			h := flow.GapH(c.Filament.Diameter, p.sec.D1+x*(p.sec.D2-p.sec.D1), c.Stock.Eccentricity,
				(wall+s.surface(wall))/2)
			if dz == 0 {
				r.gapH = h
				dz = s.firstPlugStep(&g, h, wall)
			}
			step := min(dz, (1-x)*p.length)
			if x += step / p.length; 1-x < 1e-9 {
				x = 1
			}
			wall0 := wall
			wall = c.WallAt(i, x, s.block)
			s.plugStep(&p, &g, x, step, h, wall0, wall)
			r.add(s, i, x)
			if r.whole = r.bulk[r.n-1] >= end; r.whole || r.bulk[r.n-2] >= H {
				return
			}
			dz *= 1 + s.grow.gap/s.opt.Axial
		}
	}
	r.whole = true
}

// firstPlugStep sets the stock's plug profile in a passage and returns the first step (m) along it: a share of the
// length over which a surface takes up the wall's temperature, (k/h)^2 of diffusion.
func (s *Solver) firstPlugStep(g *geom, h, wall float64) float64 {
	n := s.n
	copy(s.Tx[:n], s.T[:n])
	s.thermal(s.mdot)
	s.plug(g)
	s.conductances(g, h)
	layer := min(s.k[n-1]/h, g.size/2)
	return firstStep / s.opt.Axial * s.u[n] * layer * layer * s.cp[n-1] * s.mdot / (s.k[n-1] * s.vol[n])
}

// plugStep advances stock that moves as a plug by dz (m) to the fraction x of the section, and returns the heat from
// the wall (W).
func (s *Solver) plugStep(p *section, g *geom, x, dz, h, wall0, wall float64) (in float64) {
	s.extrapolate(s.longer(dz), 0)
	clear(s.heat)
	s.cond, s.cond0 = s.cond0, s.cond
	s.thermal(p.md)
	s.plug(g)
	s.conductances(g, h)
	s.recall(p, g, g, x, dz)
	in = s.step(dz, p.md, wall0, wall) * p.channels
	s.zPrev, s.z = s.z, s.z+dz
	s.r.Stats.Stations++
	return in
}

// cutRod puts the state where the rod's bulk enthalpy is target (J/kg), or at the cone, and books what lies before; it
// returns the place.
func (s *Solver) cutRod(target float64) (i int, x float64) {
	r, c := &s.warm.rod, s.c
	k := 0
	for k < r.n && r.bulk[k] < target {
		k++
	}
	st := &s.r.Stretches
	st.Solid = k == r.n
	end, share, way := k, 1.0, 1.0
	switch {
	case k == 0: // it gives way where it enters
		end = 0
	case st.Solid:
		end = r.n - 1
	default:
		share = (target - r.bulk[k-1]) / (r.bulk[k] - r.bulk[k-1])
		way = r.between(k, target)
	}
	s.z = r.z[0]
	s.load(0, target, false)
	s.record(stretchRod, r.section[0], s.z, c.Filament.Diameter/2, r.fromX)
	i, x = r.from, r.fromX
	for j := 1; j <= end; j++ {
		part, along := 1.0, 1.0
		if j == end {
			part, along = share, way
		}
		if r.section[j] != i {
			i, x = r.section[j], 0
		}
		heat := s.mdot * part * (r.bulk[j] - r.bulk[j-1])
		s.r.Sections[i].WallHeat += heat
		s.wallHeat += heat
		x += along * (r.x[j] - x)
		s.z = r.z[j-1] + along*(r.z[j]-r.z[j-1])
		s.r.Stats.Stations++
		if s.opt.Fields || j == end || x == 1 {
			s.load(j, target, part < 1)
			s.record(stretchRod, i, s.z, c.Filament.Diameter/2, x)
			if x == 1 {
				s.endSection(i, round(c.Filament.Diameter/2))
			}
		}
	}
	s.zPrev = s.z
	st.Rod = s.z - r.z[0]
	st.GapH = r.gapH
	if x == 1 {
		i, x = i+1, 0
	}
	return i, x
}

// stencil returns the stations, from `lo` up to but not including `hi`, by which the state between the stations k-1 and
// k of the rod is interpolated: up to four of one section, about the place.
func (r *rod) stencil(k int) (lo, hi int) {
	lo, hi = k-1, min(k+2, r.n)
	for lo > 0 && hi-lo < 4 {
		lo--
	}
	for lo < k-1 && r.section[lo] != r.section[k] {
		lo++
	}
	for hi > k+1 && r.section[hi-1] != r.section[k] {
		hi--
	}
	return lo, hi
}

// weights returns the weights of the stations of a stencil, at the bulk enthalpy H (J/kg): the polynomial through all
// of them (Lagrange), which keeps the bulk itself.
func (r *rod) weights(lo, hi int, H float64) (w [4]float64) {
	for j := lo; j < hi; j++ {
		x := 1.0
		for k := lo; k < hi; k++ {
			if k != j {
				x *= (H - r.bulk[k]) / (r.bulk[j] - r.bulk[k])
			}
		}
		w[j-lo] = x
	}
	return w
}

// between returns how far between the stations k-1 and k, 0 to 1, the bulk enthalpy is H (J/kg).
func (r *rod) between(k int, H float64) float64 {
	lo, hi := r.stencil(k)
	w := r.weights(lo, hi, H)
	var z float64
	for j := lo; j < hi; j++ {
		z += w[j-lo] * (r.z[j] - r.z[k-1])
	}
	return max(0, min(1, z/(r.z[k]-r.z[k-1])))
}

// load puts the state of station k of the rod in hand, or, if cut, that before it at which the bulk enthalpy is H
// (J/kg).
func (s *Solver) load(k int, H float64, cut bool) {
	n := s.n
	s.warm.blend(k, H, cut)
	if s.warm != s {
		regroup(s.warm.h[:s.warm.n], s.warm.frac, s.h[:n], s.frac)
	}
	T := s.c.Filament.Inlet
	in := 0.0
	for i := range n {
		T = s.tab.temperature(s.h[i], T)
		s.T[i] = T
		in += s.frac[i]
		s.face[i+1] = in
		s.u[i] = 1
	}
	s.face[n] = 1
	s.u[n] = 1
	clear(s.lag)
	clear(s.lead)
}

// blend fills the enthalpies of the cells as load does.
func (s *Solver) blend(k int, H float64, cut bool) {
	r, n := &s.rod, s.n
	if !cut {
		copy(s.h[:n], r.h[k*n:])
		return
	}
	lo, hi := r.stencil(k)
	w := r.weights(lo, hi, H)
	clear(s.h[:n])
	for j := lo; j < hi; j++ {
		for i, h := range r.h[j*n : (j+1)*n] {
			s.h[i] += w[j-lo] * h
		}
	}
}

// regroup gives cells of the shares `to` of the mass flow the mean of what those of the shares `from` hold.
func regroup(held, from, mean, to []float64) {
	k, left := 0, from[0]
	for i := range mean {
		need := to[i]
		var sum float64
		for k+1 < len(held) && left < need {
			sum += left * held[k]
			need -= left
			k++
			left = from[k]
		}
		mean[i] = (sum + need*held[k]) / to[i]
		left -= need
	}
}

// marchWetted marches the third stretch from the fraction x of a section: the bore is full and the wall wets the stock,
// but its core still slides as a plug, on melt that circulates in the old gap without net flow, until the layer above
// the flow point is as thick as that gap. It returns the fraction passed.
func (s *Solver) marchWetted(p *section, x float64) float64 {
	c := s.c
	rf := c.Filament.Diameter / 2
	start := s.z
	radius := p.sec.Radius(x)
	g := round(radius)
	wall := c.WallAt(p.index, x, s.block)
	target := s.holds(wall)
	dz := s.firstPlugStep(&g, p.sec.H, wall)
	// Where contact is good the layer that counts is as thick as the gap.
	gap := max(radius-rf, 0.01*radius)
	dz = max(dz, firstStep/s.opt.Axial*s.u[s.n]*gap*gap*s.cp[s.n-1]*s.mdot/(s.k[s.n-1]*s.vol[s.n]))
	s.record(stretchWetted, p.index, s.z, radius, x)
	T, slope := s.at(rf/radius, wall), 0.0
	for x < 1 && T < target {
		step := min(dz, (1-x)*p.length)
		if ahead := landing * (target - T); slope*step > ahead {
			step = max(0.02*step, ahead/slope)
		}
		x0, z0, wall0, T0 := x, s.z, wall, T
		copy(s.saved[:s.n], s.h[:s.n])
		if x += step / p.length; 1-x < 1e-9 {
			x = 1
		}
		radius = p.sec.Radius(x)
		g = round(radius)
		wall = c.WallAt(p.index, x, s.block)
		target = s.holds(wall)
		in := s.plugStep(p, &g, x, step, p.sec.H, wall0, wall)
		if T = s.at(rf/radius, wall); T > target {
			// The end lies within the step: enthalpies run linearly over it.
			w := s.goBack(func() float64 { return s.at(rf/radius, wall) }, target)
			x, s.z = x0+w*(x-x0), z0+w*(s.z-z0)
			radius, wall, in = p.sec.Radius(x), c.WallAt(p.index, x, s.block), w*in
			g = round(radius)
			step *= w
			T = target
		}
		p.out.WallHeat += in
		s.wallHeat += in
		s.record(stretchWetted, p.index, s.z, radius, x)
		slope = (T - T0) / step
		dz *= 1 + s.grow.wet/s.opt.Axial
	}
	s.r.Stretches.Wetted += s.z - start
	s.plugSpeed = s.u[s.n]
	if x == 1 {
		s.endSection(p.index, g)
	}
	return x
}

// holds returns the temperature (K) at the old surface of the rod from which a wall at the temperature wall (K) holds
// the stock: the flow point, or, under a wall that hardly reaches it or does not, the temperature at which that surface
// has come all but the share `unreached` of the way to the wall's. Stock against such a wall does not soften further,
// and nothing lets it slide for ever.
func (s *Solver) holds(wall float64) float64 {
	return min(s.c.Material.FlowPoint(), wall-unreached*(wall-s.c.Filament.Inlet))
}

// unreached is the share of the way from the inlet's to the wall's temperature that the layer of the old gap may be
// short of, where the wall itself is not above the flow point by more: assumed.
const unreached = 0.05

// landing is how far the step that should end a wetted stretch is taken, as a share of the way expected: a little too
// far, so that the end lies within it.
const landing = 1.2

// goBack takes the last step along a plug back to where a quantity that rises, value(), is target, and returns the
// share of the step that is left, 0 where it was there already; the enthalpies before the step are in saved.
func (s *Solver) goBack(value func() float64, target float64) float64 {
	n := s.n
	h, old := s.h[:n], s.saved[:n]
	copy(s.Tx[:n], h)
	put := func(w float64) float64 {
		for i := range h {
			h[i] = old[i] + w*(s.Tx[i]-old[i])
			s.T[i] = s.tab.temperature(h[i], s.T[i])
		}
		return value()
	}
	lo, hi, above := 0.0, 1.0, value()
	below := put(0)
	near := landed * (above - below)
	if below >= target {
		return 0
	}
	w := 0.0
	for range 8 {
		w = lo + (hi-lo)*(target-below)/(above-below)
		v := put(w)
		if math.Abs(v-target) < near {
			break
		}
		if v < target {
			lo, below = w, v
		} else {
			hi, above = w, v
		}
	}
	return w
}

// landed is how near its target goBack comes, over the change in the step.
const landed = 1e-6

// at returns the temperature (K) at the radius ratio x of a plug under a wall at the temperature wall (K).
func (s *Solver) at(x, wall float64) float64 {
	x *= x
	n := s.n
	prevX, prevT := 0.0, s.T[0]
	for i := range n {
		m := centroid(s.face[i], s.face[i+1], s.u[i], s.u[i+1])
		if m >= x {
			return prevT + (s.T[i]-prevT)*(x-prevX)/(m-prevX)
		}
		prevX, prevT = m, s.T[i]
	}
	return prevT + (s.surface(wall)-prevT)*(x-prevX)/(1-prevX)
}

// slip marches stock of full bore over the first metres given by the options, free of friction: an inlet of the
// finite-element tables.
func (s *Solver) slip(p *section, x float64) float64 {
	g := round(p.sec.Radius(x))
	wall := s.c.WallAt(p.index, x, s.block)
	dz := s.firstPlugStep(&g, s.opt.SlipH, wall)
	end := min(1, x+s.opt.Slip/p.length)
	for x < end {
		step := min(dz, (end-x)*p.length)
		if x += step / p.length; end-x < 1e-9 {
			x = end
		}
		in := s.plugStep(p, &g, x, step, s.opt.SlipH, wall, wall)
		p.out.WallHeat += in
		s.wallHeat += in
		dz *= 1 + s.grow.wet/s.opt.Axial
	}
	s.plugSpeed = s.u[s.n]
	return x
}

// plug gives all cells one velocity, without shear.
func (s *Solver) plug(g *geom) {
	n := s.n
	u, per := s.vol[n]/g.area, 1/s.vol[n]
	face, vol, us, mid := s.face[1:n+1], s.vol[1:n+1], s.u[:n], s.mid[:n]
	g2, work, bow := s.g2[:n], s.work[:n], s.bow[:n]
	for i, v := range vol {
		face[i] = v * per
		us[i], mid[i] = u, u
		g2[i], work[i], bow[i] = 0, 0, 0
	}
	face[n-1], s.u[n] = 1, u
	s.volPrev = s.vol[n]
	s.sumWork, s.sens = 0, 1
}
