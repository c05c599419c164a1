package march

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"meltload/flow"
	"meltload/flow/duct"
)

// Field is the resolved solution: one entry per station, cells from the axis.
type Field struct {
	Cells   int
	Z       []float64 // m from the inlet of the path
	R       []float64 // m, radius or half gap
	P       []float64 // Pa
	Mix     []float64 // K
	Centre  []float64 // K
	Core    []float64 // m, radius below T_flow
	Section []int
	Radius  []float64 // station by station: outer radius of each cell, m
	T       []float64 // cell temperature, K
	U       []float64 // cell mean velocity, m/s
}

// Solve implements flow.Solver. For pressure-sensitive laws the march is
// repeated with the pressures of the pass before until the inlet pressure
// changes by less than pressureTol; where pressurePasses are not enough, Stats.RanOut says so.
func (s *Solver) Solve(block, q float64, r *flow.Solution) error {
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.tab.solves.Add(1)
	v := &s.c.Material.Viscosity
	if !v.PressureSensitive() {
		return s.pass(block, q, 0, r)
	}
	p, guess, found := 0.0, 0.0, 0.0 // the guess in hand, and that of the pass before with what it found
	for k := range pressurePasses {
		if err := s.pass(block, q, p, r); err != nil {
			return err
		}
		f := r.Pressure
		if math.Abs(f-p) < pressureTol*f {
			return nil
		}
		// Secant on what a pass adds to its guess, after the first pass; the slope is below one wherever there is an answer.
		slope := 0.0
		if k > 0 && p != guess {
			slope = math.Max(0, math.Min(steepest, (f-found)/(p-guess)))
		}
		guess, found = p, f
		p += (f - p) / (1 - slope)
	}
	r.Stats.RanOut = "pressure along the path"
	return nil
}

// The passes of a pressure-sensitive law.
const (
	pressurePasses = 25
	pressureTol    = 1e-4 // of the inlet pressure
	steepest       = 0.95 // the steepest slope of found over guessed pressure that a step goes by
)

// walk is what a march carries from station to station; heats and works are of all channels.
type walk struct {
	block, inlet, mdot float64
	r                  *flow.Solution

	z, zPrev float64 // m from the inlet, of the station in hand and the one before
	spent    float64 // Pa, drop so far
	owed     float64 // W, work of the step before that its cells have not got yet
	tw       float64 // Pa, wall stress; 0 where there is none to go on from
	wallHeat float64 // W
	viscous  float64 // W
	workDone float64 // W
	given    float64 // W, heat given up by the content
	held     int     // steps taken along a wall that holds the melt
	slides   bool    // the wall does not hold the stock yet
}

// reach is the section in hand; md is the mass flow of one of its channels.
type reach struct {
	*plan
	sec          *flow.Section
	out          *flow.SectionSolution
	index        int
	md, channels float64
}

// pass marches once; inlet is the pressure at the top of the path as far as known.
func (s *Solver) pass(block, q, inlet float64, r *flow.Solution) error {
	c, n := s.c, s.n
	c.Prepare(block, q, r)
	m := c.Material
	s.walk = walk{block: block, inlet: inlet, mdot: s.tab.solid * q, r: r, slides: m.SemiCrystalline() && !s.opt.Stick}
	h0 := m.Heat.Enthalpy(c.Filament.Inlet)
	for i := range n {
		s.T[i], s.T0[i], s.h[i] = c.Filament.Inlet, c.Filament.Inlet, h0
	}
	clear(s.shift) // nothing of the solve before may show in this one
	if s.opt.Fields {
		s.Field = Field{Cells: n}
	}
	r.Stats.Cells = n
	for i := range s.sec {
		sec := &c.HotEnd.Sections[i]
		s.section(&reach{plan: &s.sec[i], sec: sec, out: &r.Sections[i], index: i, md: s.mdot / float64(sec.Channels), channels: float64(sec.Channels)})
	}
	return s.finish(h0)
}

// section marches through one section.
func (s *Solver) section(p *reach) {
	if p.index == 0 || s.sec[p.index-1].planar != p.planar {
		s.resetFaces(p.planar)
		s.tw = 0
	}
	from := 0.0
	if s.slides = s.slides && p.sec.Shape == flow.Tube && p.sec.D1 >= s.c.Filament.Diameter; s.slides {
		from = s.slide(p)
		s.slides = from == 1
	}
	if from < 1 {
		s.hold(p, from)
	}
	out := p.out
	out.Drop = out.Shear + out.Elongation
	g := p.geometry(p.sec.Radius(1))
	out.Wall = p.sec.Wall.At(1, s.block)
	out.Bulk, out.Centre, out.CoreRadius = s.mixing(), s.centre(), s.core(&g)
	out.Residence = p.sec.Volume() / (s.mdot * s.c.Material.Density.Volume(out.Bulk, 0))
}

// meet finds the first profile along a wall that holds the melt: as it comes, in the new channel.
func (s *Solver) meet(p *reach, g *geom, wall, from float64) {
	n, st := s.n, &s.r.Stats
	copy(s.Tx[:n], s.T[:n])
	s.properties(s.inlet-s.spent, p.md, wall)
	if s.tw <= 0 {
		s.tw = s.firstStress(g, p.md)
	}
	s.shape(g)
	s.conductances(g, p.sec.H)
	if from > 0 {
		// Anew with the surface where this profile has it.
		s.properties(s.inlet-s.spent, p.md, wall)
		s.shape(g)
		s.conductances(g, p.sec.H)
	}
	st.Misfit = math.Max(st.Misfit, s.miss)
	s.volPrev = s.vol[n]
	copy(s.lag[:n], s.mid[:n])
	s.enter(p, from)
}

// shape brings profile and wall stress up to date.
func (s *Solver) shape(g *geom) {
	var passes int
	s.tw, passes, s.miss = s.profile(g, s.tw)
	s.r.Stats.Passes += passes
	if passes == maxPasses && s.miss > 10*s.tol {
		s.r.Stats.RanOut = "velocity profile"
	}
}

// hold marches from the fraction `from` of a section to its end, along a wall that holds the melt.
func (s *Solver) hold(p *reach, from float64) {
	n, m, sec, out, st := s.n, s.c.Material, p.sec, p.out, &s.r.Stats
	g := p.geometry(sec.Radius(from))
	wall0 := sec.Wall.At(from, s.block)
	s.meet(p, &g, wall0, from)
	trouton := m.Viscosity.Trouton
	if p.tan > 0 {
		trouton *= s.wideCone(p)
	}
	G := s.tw * g.grad
	s.record(p.index, s.z, g.size, from)
	xPrev := from
	for _, x := range p.x {
		x = from + (1-from)*x
		dz := (x - xPrev) * p.length
		g0, G0 := g, G
		s.mid, s.mid0 = s.mid0, s.mid
		s.g2, s.g20 = s.g20, s.g2
		s.phi, s.phi0 = s.phi0, s.phi
		s.work, s.work0 = s.work0, s.work
		s.cond, s.cond0 = s.cond0, s.cond
		g = p.geometry(sec.Radius(x))
		wall := sec.Wall.At(x, s.block)
		s.extrapolate(s.z+dz, s.z, s.zPrev)
		s.tw *= guess(&g0, &g, m.Viscosity.N)
		var shear, ext, qm, in float64
		sum0 := s.sumWork
		// At the inlet nothing is known to extrapolate from, and cold stock meets the hot wall: the first
		// steps are taken twice, the second time with the temperatures found by the first.
		for try := 0; ; try++ {
			s.properties(s.inlet-s.spent-G0*dz, p.md, wall)
			if try == 0 {
				s.tw /= s.softening(s.phi0)
			}
			s.shape(&g)
			G = s.tw * g.grad
			if s.z == 0 {
				sum0 = s.sumWork
				G0 = G // the stress on stock that no wall has touched means nothing
				copy(s.work0, s.work)
			}
			shear = meanGradient(G0, G, g0.size, g.size) * dz
			qm = 0.5 * (s.vol[n] + s.volPrev)
			f := 0.0
			if w := s.sumWork + sum0; w > 0 {
				f = (shear*qm + s.owed/p.channels) / w
			}
			ext = s.works(&g0, &g, dz, s.z, f, trouton)
			s.conductances(&g, sec.H)
			if s.z == 0 {
				copy(s.cond0, s.cond)
			}
			s.recall(p, &g0, &g, x, try)
			again := s.held < carefulSteps && try == 0
			if again {
				copy(s.saved[:n], s.h[:n])
			}
			in = s.step(dz, p.md, wall0, wall) * p.channels
			if !again {
				break
			}
			s.undo()
		}
		st.Misfit = math.Max(st.Misfit, s.miss)
		s.settle(dz, g.size)
		s.keep(p, x)
		s.volPrev = s.vol[n]
		wall0 = wall
		// The gradient at the temperatures reached, not those expected; the work
		// that was misjudged is put right in the next step.
		G /= s.correction()
		used := shear
		shear = meanGradient(G0, G, g0.size, g.size) * dz
		s.owed = 0
		if !s.opt.NoHeat {
			s.owed = (shear - used) * qm * p.channels
		}
		elong := ext / qm
		s.spent += shear + elong
		if s.surface(wall) < m.FlowPoint() {
			s.r.BelowFlowPoint += shear + elong
		}
		out.Shear += shear
		out.Elongation += elong
		out.WallHeat += in
		s.wallHeat += in
		var w float64
		for _, x := range s.heat[:n] {
			w += x
		}
		out.Viscous += w * p.channels
		s.viscous += w * p.channels
		s.workDone += (shear + elong) * qm * p.channels
		// Where cold stock first meets the wall the stress is a spike over micrometres; leave it out of the range checks.
		if s.tw > out.WallStress && (p.index > 0 || x > 0.1) {
			out.WallStress = s.tw
			out.WallRate = s.tw * s.wallFluidity(wall, s.tw)
		}
		s.zPrev = s.z
		s.z += dz
		xPrev = x
		st.Stations++
		s.held++
		s.record(p.index, s.z, g.size, x)
	}
}

// surface returns the temperature of the polymer at the wall (K): short of the wall's by what the contact takes.
func (s *Solver) surface(wall float64) float64 {
	T := s.T[s.n-1]
	return T + s.rim*(wall-T)
}

// undo takes a step back, so that it can be taken again with the temperatures it found.
func (s *Solver) undo() {
	n := s.n
	copy(s.h[:n], s.saved[:n])
	copy(s.Tx[:n], s.T[:n])
	s.T, s.T0 = s.T0, s.T
}

// finish puts what is still owed into the melt, and closes the balances; h0 is the enthalpy of the stock.
func (s *Solver) finish(h0 float64) error {
	r, st := s.r, &s.r.Stats
	s.deposit()
	s.viscous += s.owed
	if last := &r.Sections[len(r.Sections)-1]; s.owed != 0 {
		last.Viscous += s.owed
		last.Bulk, last.Centre = s.mixing(), s.centre()
	}
	if err := s.c.Finish(r); err != nil {
		return err
	}
	var gained, carried float64
	for i := range s.n {
		gained += s.frac[i] * (s.h[i] - h0) * s.mdot
		carried += s.frac[i]
	}
	st.MassBalance = math.Abs(carried - 1)
	r.Stored = -s.given
	st.HeatBalance = math.Abs(gained-s.wallHeat-s.viscous-s.given) / (math.Abs(s.wallHeat) + s.viscous + 1e-12)
	st.WorkBalance = math.Abs(s.viscous-s.workDone) / (s.workDone + 1e-12)
	if s.opt.NoHeat {
		st.WorkBalance = 0
	}
	for i := range s.Field.P {
		s.Field.P[i] += r.Pressure - s.inlet
	}
	return nil
}

// deposit adds the work still owed at the exit to the cells, so that the balances close.
func (s *Solver) deposit() {
	if s.sumWork == 0 {
		return
	}
	for i := range s.n {
		d := s.owed * s.work[i] / s.sumWork / (s.frac[i] * s.mdot)
		s.h[i] += d
		s.T[i] += d / s.cp[i]
	}
}

// resetFaces starts the faces of a new kind of channel from a parabolic profile.
func (s *Solver) resetFaces(planar bool) {
	n := s.n
	in := 0.0
	for i := range n {
		in += s.frac[i]
		// o = x (2 - x) for round tubes in x = (r/R)^2; in a gap the share is near x itself.
		x := 1 - math.Sqrt(math.Max(0, 1-in))
		if planar {
			x = math.Min(1, 1-math.Pow(1-in, 0.6))
		}
		s.face[i+1] = x
	}
	s.face[0], s.face[n] = 0, 1
}

// firstStress guesses the wall stress from the mean fluidity.
func (s *Solver) firstStress(g *geom, md float64) float64 {
	var f float64
	for i := range s.n {
		f += s.frac[i] * s.phi[i]
	}
	rate := 4 * s.vol[s.n] / (g.area * g.size)
	v := &s.tab.m.Viscosity
	return v.Stress(rate/f) + 1e-9
}

// extrapolate puts the temperatures expected at z1 in Tx, from those at z and z0: linear in the root of the
// distance from the inlet, along which a thermal layer grows.
func (s *Solver) extrapolate(z1, z, z0 float64) {
	n := s.n
	f := 0.0
	if z > z0 {
		f = (math.Sqrt(z1) - math.Sqrt(z)) / (math.Sqrt(z) - math.Sqrt(z0))
	}
	T, T0, Tx := s.T[:n], s.T0[:n], s.Tx[:n]
	for i := range Tx {
		Tx[i] = T[i] + f*(T[i]-T0[i])
	}
}

// correction returns the factor by which the wall stress falls when the
// fluidities expected at the station give way to those at the temperatures
// reached: the profile's own sensitivity, to first order.
func (s *Solver) correction() float64 {
	if s.sumWork == 0 || s.tab.m.Viscosity.PressureSensitive() {
		return 1 // no stress, or phiT is that of zero pressure
	}
	n := s.n
	phi, work, phiT := s.phi[:n], s.work[:n], s.phiT[:n]
	var d float64
	for i := range phi {
		d += work[i] * (phiT[i]/phi[i] - 1)
	}
	return 1 + s.sens*d/s.sumWork
}

// softening is the same factor from the fluidities one station back to those at hand: the first guess of the stress.
func (s *Solver) softening(phi0 []float64) float64 {
	var d, sum float64
	for i, w := range s.work0[:s.n] {
		sum += w
		d += w * (s.phi[i]/phi0[i] - 1)
	}
	if sum == 0 {
		return 1
	}
	return math.Max(0.2, math.Min(5, 1+s.sens*d/sum))
}

// guess returns the expected ratio of wall stress between two sizes: power law of index n.
func guess(g0, g *geom, n float64) float64 {
	if g0.size == g.size {
		return 1
	}
	return math.Pow(g0.size/g.size, 3*n)
}

// meanGradient averages the gradient over a step: as an exponential in a tube, as a power of the radius where that changes.
func meanGradient(a, b, ra, rb float64) float64 {
	if a <= 0 || b <= 0 {
		return 0.5 * (a + b)
	}
	if ra == rb {
		return 0.5 * (a + b)
	}
	// Integral of R^-e dR between the ends, over the distance.
	lr := math.Log(rb / ra)
	e := -math.Log(b/a) / lr
	if math.Abs(e-1) < 1e-6 {
		return a * ra * lr / (rb - ra)
	}
	return (b*rb - a*ra) / ((1 - e) * (rb - ra))
}

// settling is the length, in radii, over which a velocity profile takes up a change:
// creeping flow in a tube forgets a disturbance as exp(-4.46 z/R) to both sides (first eigenvalue of
// the end problem, from memory), and a one-sided lag of twice that length does the same work.
const settling = 0.45

// uptake returns the shares of a step in a tube: the stream takes up a change of profile m(z) as
// dU/dz = (m - U)/l; over the step, m running linearly, U gains lead (m0 - U) + trail (m1 - m0).
func uptake(dz, size float64) (lead, trail float64) {
	x := dz / (settling * size)
	lead = -math.Expm1(-x)
	return lead, 1 - lead/x
}

// settle lets the stream take up the profile of the step.
func (s *Solver) settle(dz, size float64) {
	lead, trail := uptake(dz, size)
	mid, mid0, lag := s.mid[:s.n], s.mid0[:s.n], s.lag[:s.n]
	for i := range lag {
		lag[i] += lead*(mid0[i]-lag[i]) + trail*(mid[i]-mid0[i])
	}
}

// carefulSteps is the number of first steps that are taken twice.
const carefulSteps = 4

// works fills heat with the work of shear and elongation on every cell over the step (W) and
// returns the part by elongation (W). Rates and fluidities are the mean of both stations.
func (s *Solver) works(g0, g *geom, dz, z, f, trouton float64) (ext float64) {
	n := s.n
	heat, work, work0 := s.heat[:n], s.work[:n], s.work0[:n]
	for i := range heat {
		heat[i] = f * (work[i] + work0[i])
	}
	if !s.opt.NoElong {
		face, mid, mid0, g2, g20, phi, phi0 := s.face[:n+1], s.mid[:n], s.mid0[:n], s.g2[:n], s.g20[:n], s.phi[:n], s.phi0[:n]
		area := math.Sqrt(g0.area * g.area)
		inv := 1 / dz
		cone := g.size != g0.size
		lag, tab := s.lag[:n], s.tab.visc
		lead, trail := uptake(dz, g.size)
		for i := range heat {
			e := (mid[i] - mid0[i]) * inv
			if !cone {
				e = (lead*(mid0[i]-lag[i]) + trail*(mid[i]-mid0[i])) * inv
			}
			e2 := e * e
			gg := g2[i] * g20[i]
			if e2*e2 < 1e-10*gg {
				continue // its share is Trouton times the 1e-5 here
			}
			gg = math.Sqrt(gg)
			w := trouton * tab.Eta(gg+3*e2, 0.5*(phi[i]+phi0[i])) * e2 * area * (face[i+1] - face[i]) * dz
			ext += w
			heat[i] += w
		}
	}
	if s.opt.NoHeat {
		for i := range heat {
			heat[i] = 0
		}
	}
	if s.opt.Source != nil {
		for i := range heat {
			lo, hi := s.face[i], s.face[i+1]
			x := centroid(lo, hi, s.u[i], s.u[i+1])
			if !g.planar {
				x = math.Sqrt(x)
			}
			heat[i] += 0.5 * (s.opt.Source(x, z) + s.opt.Source(x, z+dz)) * g.area * (hi - lo) * dz
		}
	}
	return ext
}

// wideCone returns the weight of elongation that makes the isothermal drop of a
// power-law melt equal to duct.ConeFactor times the gradient integrated over R:
//
//	1/tan(b) + weight E(m)/tan(b) = K(a, m)
//
// b the half angle marched, a the true one, E the ratio of elongational to shear work of the
// slender profile at the index m of the bore wall.
func (s *Solver) wideCone(p *reach) float64 {
	v := &s.tab.m.Viscosity
	wall := p.sec.Wall.At(1, s.block)
	r := p.sec.D2 / 2
	rate := 4 * s.vol[s.n] / (math.Pi * r * r * r)
	m := v.Slope(rate / s.c.Fluidity(wall, 0))
	return (duct.ConeFactor(p.angle, m)*p.tan - 1) / elongationRatio(m, p.tan)
}

// elongationRatio is E(m) for a slender cone: u = 1 - x^(1/m+1), g = |du/dx|, e = 2 u tan(b) at
// equal mean flow, all per U/R; Trouton ratio 3.
func elongationRatio(m, tan float64) float64 {
	q := 1/m + 1
	var sh, ex float64
	for i, x := range gaussX {
		u := 1 - math.Pow(x, q)
		g := q * math.Pow(x, 1/m)
		e := 2 * u * tan
		w := gaussW[i] * x
		sh += w * math.Pow(g, m+1)
		ex += w * 3 * math.Pow(g*g+3*e*e, (m-1)/2) * e * e
	}
	return ex / sh
}

// wallFluidity is phi W at the wall itself: shear rate over stress there.
func (s *Solver) wallFluidity(T, tau float64) float64 {
	c, x := s.tab.at(T)
	return ((c.fluidity(x)-s.solid)*s.level + s.solid) * s.tab.visc.W(tau*tau)
}

// mixing returns the mixing-cup temperature (K).
func (s *Solver) mixing() float64 {
	var h float64
	for i := range s.n {
		h += s.frac[i] * s.h[i]
	}
	return s.c.Material.Heat.Temperature(h)
}

// centre returns the temperature on the axis (K): the inner cells' parabola.
func (s *Solver) centre() float64 {
	a := centroid(s.face[0], s.face[1], s.u[0], s.u[1])
	b := centroid(s.face[1], s.face[2], s.u[1], s.u[2])
	return s.T[0] - (s.T[1]-s.T[0])*a/(b-a)
}

// core returns the radius (m) inside which the melt is below T_flow.
func (s *Solver) core(g *geom) float64 {
	tf := s.c.Material.FlowPoint()
	if s.centre() >= tf {
		return 0
	}
	prevX, prevT := 0.0, s.centre()
	for i := range s.n {
		x := centroid(s.face[i], s.face[i+1], s.u[i], s.u[i+1])
		if s.T[i] >= tf {
			x = prevX + (x-prevX)*(tf-prevT)/(s.T[i]-prevT)
			if !g.planar {
				x = math.Sqrt(x)
			}
			return x * g.size
		}
		prevX, prevT = x, s.T[i]
	}
	return g.size
}

// record keeps a station of the field.
func (s *Solver) record(si int, z, size, x float64) {
	if !s.opt.Fields {
		return
	}
	f := &s.Field
	g := s.sec[si].geometry(size)
	f.Z = append(f.Z, z)
	f.R = append(f.R, size)
	f.P = append(f.P, s.inlet-s.spent)
	f.Mix = append(f.Mix, s.mixing())
	f.Centre = append(f.Centre, s.centre())
	f.Core = append(f.Core, s.core(&g))
	f.Section = append(f.Section, si)
	for i := range s.n {
		r := s.face[i+1]
		if !g.planar {
			r = math.Sqrt(r)
		}
		f.Radius = append(f.Radius, r*size)
		f.T = append(f.T, s.T[i])
		f.U = append(f.U, s.mid[i])
	}
}

// gaussX, gaussW are the 16 points of elongationRatio on [0, 1].
var gaussX, gaussW = func() (x, w [16]float64) {
	quad.Legendre{}.FixedLocations(x[:], w[:], 0, 1)
	return x, w
}()
