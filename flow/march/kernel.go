package march

import "math"

// pair are two points of a cell or of a part of it, the inner one first: temperature (K), fluidity (1/(Pa s)), and 3
// over strength squared (1/Pa2), 0 above the flow point.
type pair struct {
	T, phi, yield [2]float64
}

// points are the two Gauss points of a cell. Where the start of a melting range, at which the strength gives way within
// a kelvin, passes through the cell, `solid` is the share of the cell that is colder, with one point in its middle, and
// `rest` the points of the remainder.
type points struct {
	pair
	solid float64
	core  pair // only the first of it
	rest  pair
}

// gauss is the distance of the points from the middle of a cell, in widths of the cell.
const gauss = 0.28867513459481287

// ws is the workspace of one march: every array is allocated once.
// Cells are counted from the axis; arrays of faces have one more member.
type ws struct {
	n       int
	frac    []float64 // cells: share of the mass flow
	perFrac []float64 // cells: one over that
	face    []float64 // faces: (r/R)^2, or 2y/gap in planar sections
	face0   []float64 // faces: the same one station back
	u       []float64 // faces: velocity, m/s
	vol     []float64 // faces: volume flow inside the face, the target of the profile
	mid     []float64 // cells: mean velocity
	mid0    []float64 // cells: mean velocity one station back
	adapted []float64 // cells: mean velocity as the stream has taken it up so far
	T       []float64 // cells: temperature, K
	T0      []float64 // cells: temperature one station back
	T1      []float64 // cells: the same two stations back
	Tx      []float64 // cells: temperature expected at the new station
	h       []float64 // cells: enthalpy, J/kg
	lag     []float64 // cells: from the centroid to the inner point, as a share of the way to the centroid before
	lead    []float64 // cells: from the centroid to the outer point, as a share of the way to the next centroid
	pts     []points  // cells: fluidity and strength at their two points
	pts0    []points  // cells: the same one station back
	phi     []float64 // cells: mean fluidity
	phi0    []float64 // cells: the same one station back
	soft    []float64 // cells: dln(fluidity)/dT, 1/K
	shear   []float64 // cells: -du/d(coordinate) on the faces of the last pass, m/s
	bow     []float64 // cells: flow beyond that of a velocity that runs linearly, over the area of the channel
	g2      []float64 // cells: shear rate squared
	g20     []float64 // cells: the same one station back
	k       []float64 // cells: conductivity
	cp      []float64 // cells: heat capacity
	work    []float64 // cells: shear work per length, W/m
	work0   []float64 // cells: the same one station back
	saved   []float64 // cells: enthalpy before a step that may be taken back
	mass    []float64 // cells: mass per length over the time step, kg/(m s); unsteady only
	hOld    []float64 // cells: enthalpy one time step back, at the new station
	hOld0   []float64 // cells: the same at the station before
	next    []float64 // cells: the same at the old station after
	// cells: what the content one time step back departs from a line, at the first stage of a step
	bend           []float64
	stored         []float64 // cells: heat given up by the cell's own content over the step, W
	heat           []float64 // cells: work done on the cell over the step, W
	cond           []float64 // faces: conductance per length, W/(m K)
	cond0          []float64 // faces: the same one station back
	mix            []float64 // faces: conductance inside the step
	flux           []float64 // faces: heat inward over the step, W
	lo, di, up, rh []float64 // tridiagonal system

	mem     *memory // state one time step back; nil in steady marches
	miss    float64 // relative misfit of the last profile
	volPrev float64 // volume flow of one channel one station back
	sumWork float64 // sum of work
	// share of the way from the outermost centroid to the wall's temperature at the polymer's surface
	surfaceShare float64
	sens         float64 // -dln(tau_w)/dln(phi) of the profile at given flow
}

func (w *ws) init(n int) {
	w.n = n
	arrays := []*[]float64{&w.frac, &w.perFrac, &w.face, &w.face0, &w.u, &w.vol, &w.mid, &w.mid0, &w.adapted, &w.T,
		&w.T0, &w.T1, &w.Tx, &w.h, &w.lag, &w.lead, &w.phi, &w.phi0, &w.soft, &w.shear, &w.bow, &w.g2, &w.g20, &w.k,
		&w.cp, &w.work, &w.work0, &w.heat, &w.saved, &w.mass, &w.hOld, &w.hOld0, &w.next, &w.bend, &w.stored,
		&w.cond, &w.cond0, &w.mix, &w.flux,
		&w.lo, &w.di, &w.up, &w.rh}
	buf := make([]float64, len(arrays)*(n+1))
	for i, p := range arrays {
		*p = buf[i*(n+1) : (i+1)*(n+1) : (i+1)*(n+1)]
	}
	both := make([]points, 2*n)
	w.pts, w.pts0 = both[:n:n], both[n:]
	// Faces graded toward the wall, where the melt shears; the shares of flow
	// are those of a parabolic profile on these faces.
	prev := 0.0
	for i := 1; i <= n; i++ {
		x := float64(i) / float64(n)
		r := x * (1 + wallStretch*(1-x))
		o := r * r * (2 - r*r)
		w.frac[i-1], w.perFrac[i-1] = o-prev, 1/(o-prev)
		prev = o
	}
}

// wallStretch grades the cells: the outermost is about (1 - wallStretch) times the mean width.
const wallStretch = 0.75

// geom is the cross-section at a station; the two kinds of channel differ only in these numbers.
type geom struct {
	planar bool
	size   float64 // R, or half the gap, m
	area   float64 // volume flow = area * integral of u over the coordinate
	shear  float64 // du = tau_w * shear * phi W dx (times x in planar channels)
	grad   float64 // dp/dz = tau_w * grad
	wall   float64 // perimeter that takes heat, m
	cond   float64 // conductance between cells is k * cond * (x if round) / dx
}

func (p *plan) geometry(r float64) geom {
	if p.planar {
		return geom{true, p.half, 2 * p.width * p.half, p.half, 1 / p.half, 2 * p.width, 2 * p.width / p.half}
	}
	return round(r)
}

// round is the cross-section of a tube of the radius r (m).
func round(r float64) geom {
	return geom{false, r, math.Pi * r * r, r / 2, 2 / r, 2 * math.Pi * r, 4 * math.Pi}
}

// properties evaluates the cells' properties at the temperatures Tx and the pressure p under a wall at the temperature
// wall, and the volume flows for the mass flow mdot of one channel.
func (s *Solver) properties(p, mdot, wall float64) {
	s.fluidities(p, wall)
	s.thermal(mdot)
}

// thermal fills conductivities, heat capacities and volume flows.
func (s *Solver) thermal(mdot float64) {
	t := s.tab
	n := s.n
	Tx, k, cp, now, h, frac, vol := s.Tx[:n], s.k[:n], s.cp[:n], s.T[:n], s.h[:n], s.frac[:n], s.vol[1:n+1]
	var in float64
	for i, T := range Tx {
		c, x := t.heats(T)
		k[i] = c.conductivity(x)
		// The chord of the enthalpy from the station before: through a melting range the tangent would mislead.
		cap := c.capacity()
		if d := T - now[i]; d > 0.05 || d < -0.05 {
			cap = (c.enthalpy(x) - h[i]) / d
		}
		cp[i] = cap
		in += frac[i] * mdot * c.volume(x)
		vol[i] = in
	}
}

// fluidities fills fluidities and strengths at the two points of every cell; the temperature runs linearly between the
// centroids.
func (s *Solver) fluidities(p, wall float64) {
	t := s.tab
	melting, level, solid := s.melting, s.level, s.solid
	s.flowPhi = s.flowPhi0
	if p > 0 {
		s.flowPhi = (s.flowPhi-solid)*t.m.Viscosity.PressureFactor(t.m.FlowPoint(), p) + solid
	}
	n := s.n
	Tx, lag, lead, pts, phi, soft := s.Tx[:n], s.lag[:n], s.lead[:n], s.pts[:n], s.phi[:n], s.soft[:n]
	before := 2*Tx[0] - Tx[1] // so that the innermost cell is linear throughout
	for i, T := range Tx {
		next := wall
		if i+1 < n {
			next = Tx[i+1]
		}
		inner, outer := T-lag[i]*(T-before), T+lead[i]*(next-T)
		before = T
		q := &pts[i]
		c, x := t.flows(inner)
		fa, slope, ya := c.fluidity(x), c.softening(x), c.strength(x)
		c, x = t.flows(outer)
		fb, yb := c.fluidity(x), c.strength(x)
		slope += c.softening(x)
		fa, fb = (fa-solid)*level, (fb-solid)*level
		soft[i] = slope * level / (fa + fb + 2*solid)
		if p > 0 {
			fa *= t.m.Viscosity.PressureFactor(inner, p)
			fb *= t.m.Viscosity.PressureFactor(outer, p)
		}
		fa, fb = fa+solid, fb+solid
		q.phi = [2]float64{fa, fb}
		q.T = [2]float64{inner, outer}
		q.yield = [2]float64{}
		if ya > 0 {
			q.yield[0] = 3 / (ya * ya)
		}
		if yb > 0 {
			q.yield[1] = 3 / (yb * yb)
		}
		q.solid = 0
		if melting > 0 {
			s.split(q, melting, inner, outer, p)
		}
		phi[i] = 0.5 * (fa + fb)
	}
}

// stock returns fluidity and 3 over the strength squared of stock at T (K) and p (Pa).
func (s *Solver) stock(T, p float64) (phi, yield float64) {
	c, x := s.tab.flows(T)
	phi = (c.fluidity(x)-s.solid)*s.level + s.solid
	if p > 0 {
		phi = (phi-s.solid)*s.tab.m.Viscosity.PressureFactor(T, p) + s.solid
	}
	if y := c.strength(x); y > 0 {
		yield = 3 / (y * y)
	}
	return phi, yield
}

// point fills the point j of a pair at T (K) and p (Pa).
func (s *Solver) point(q *pair, j int, T, p float64) {
	q.T[j] = T
	q.phi[j], q.yield[j] = s.stock(T, p)
}

// split cuts a cell at the temperature `melting` (K); the temperatures of its Gauss points are inner and outer and run
// linearly between and beyond.
func (s *Solver) split(q *points, melting, inner, outer, p float64) {
	mid, d := 0.5*(inner+outer), (outer-inner)/(2*gauss) // over the width of the cell
	size := math.Abs(d)
	share := 0.5 + (melting-mid)/size // of the colder side
	if !(share > 0 && share < 1) {
		return
	}
	q.solid = share
	cold, hot := mid-0.5*size, mid+0.5*size
	s.point(&q.core, 0, 0.5*(cold+melting), p)
	m, r := 0.5*(melting+hot), gauss*(hot-melting)
	s.point(&q.rest, 0, m-r, p)
	s.point(&q.rest, 1, m+r, p)
}

// profile finds the wall stress (Pa) and the faces that let the cells carry their
// volume flows at their fluidities: Newton steps on the stress and on the
// face positions together, from the values of the station before. It leaves
// velocities, rates and shear work per length, and returns the stress, the
// passes taken and the relative misfit of the flow on the last pass.
func (s *Solver) profile(g *geom, tw float64) (float64, int, float64) {
	q := s.vol[s.n]
	for pass := 1; ; pass++ {
		if pass > newtonPasses {
			var used int
			tw, used = s.bracket(g, tw, q)
			pass += used
		}
		sum, slope := s.sweep(g, tw)
		carried := g.area * sum
		miss := math.Abs(q/carried - 1)
		worst, moved := s.moveFaces(carried / (q * g.area))
		worst = max(worst, miss)
		// Newton in ln(tau_w) for ln(flow) that the moved faces will carry: exact for a power law, however steep; a
		// cold start is allowed at most a doubling a pass.
		ratio := q / (g.area * max(sum+moved, 0.5*sum))
		var step float64
		if e := ratio - 1; e < 0.4 && e > -0.4 {
			// exp(ln(1 + e) sum/slope) by series
			y := e * (1 - e*(0.5-e*(1./3-0.25*e))) * sum / slope
			step = 1 + y*(1+y*(0.5+y/6))
		} else {
			step = math.Exp(max(-0.7, min(0.7, math.Log(ratio)*sum/slope)))
		}
		if worst < s.tol || pass >= maxPasses {
			s.sens = sum / slope
			s.lastStep(g, tw*step, q/carried, worst < s.tol)
			return tw * step, pass, miss
		}
		tw *= step
	}
}

// bracket returns the wall stress (Pa) at which the profile carries the flow q on the faces as they are, within a
// tenth, and the passes taken: for a law so steep, that of unmelted stock near its strength, that stress and faces
// together go to and fro.
func (s *Solver) bracket(g *geom, tw, q float64) (float64, int) {
	lo, hi := 0.0, math.Inf(1)
	for pass := 1; ; pass++ {
		sum, slope := s.sweep(g, tw)
		ratio := q / (g.area * sum)
		if math.Abs(ratio-1) < 0.1 || pass == bracketPasses {
			return tw, pass
		}
		if ratio > 1 {
			lo = tw
		} else {
			hi = tw
		}
		tw *= math.Exp(max(-0.7, min(0.7, math.Log(ratio)*sum/slope)))
		if tw <= lo || tw >= hi {
			tw = math.Sqrt(lo * hi)
		}
	}
}

// sweep integrates the shear rate from the wall to the axis under the wall stress tw (Pa) and returns the integral of
// the velocity over the coordinate and its slope over ln(tw). It leaves the velocities, and for every cell the integral
// in work, the squared rate, what a bowed velocity adds, and how the integral changes as its inner and outer face move.
func (s *Solver) sweep(g *geom, tw float64) (sum, slope float64) {
	n := s.n
	face, u, pts, bow := s.face[:n+1], s.u[:n+1], s.pts[:n], s.bow[:n]
	g2, work, inner, outer, shear := s.g2[:n], s.work[:n], s.lo[:n], s.up[:n], s.shear[:n]
	tab := s.tab.visc
	tw2 := tw * tw
	k := tw * g.shear
	v := 0.0
	u[n] = 0
	hi := face[n]
	for i := n - 1; i >= 0; i-- {
		lo := face[i]
		m := 0.5 * (lo + hi)
		dx := hi - lo
		d := gauss * dx
		x, wt, half, rel := m, 1.0, 0.5, d/m
		if g.planar {
			x, wt, half, rel = m*m, m, m, 2*rel
		}
		w, dw := tab.WSlope(tw2 * x)
		q := &pts[i]
		pa, pb, bend := q.phi[0], q.phi[1], 0.0
		if tw2*x*q.yield[0] > yieldOnset/2 {
			var ba, bb float64
			pa, ba = s.plastic(pa, tw2*x*(1-rel)*q.yield[0])
			pb, bb = s.plastic(pb, tw2*x*(1+rel)*q.yield[1])
			bend = (ba*pa + bb*pb) / (pa + pb)
		}
		ph := 0.5 * (pa + pb)
		// phi W at the two points: W is taken as linear across the cell.
		turn := dw * rel
		if turn > w {
			turn = w
		}
		va, vb := pa*(w-turn), pb*(w+turn)
		if g.planar {
			va, vb = va*(m-d), vb*(m+d)
		}
		dw += w * bend
		kp := k * ph
		mean := 0.5 * k * (va + vb) // (4)
		du := mean * dx
		b := 0.5 * k * dx * (vb - va) * d
		shear[i] = mean
		bow[i] = b
		v += du
		u[i] = v
		e := m*du + b // the integral of u, by parts
		sum += e
		slope += e + 2*m*kp*dw*wt*dx
		f := ph * w
		g2[i] = tw2 * x * f * f
		work[i] = e
		edge, bent := kp*w*m*wt, kp*(w+dw)*half*dx
		inner[i], outer[i] = bent-edge, bent+edge
		hi = lo
	}
	return sum, slope
}

// moveFaces takes a Newton step on the inverse of the cumulative flow, faces kept between their neighbours; scale is
// the integral of the velocity over the volume flow. It returns the largest move and what the moves add to the
// integral, by the slopes that sweep left.
func (s *Solver) moveFaces(scale float64) (worst, moved float64) {
	n := s.n
	face, u, vol, bow := s.face[:n+1], s.u[:n+1], s.vol[:n+1], s.bow[:n]
	inner, outer, move := s.lo[:n], s.up[:n], s.rh[:n+1]
	var in, lo float64
	for i := 1; i < n; i++ {
		x := face[i]
		in += 0.5*(u[i-1]+u[i])*(x-lo) + bow[i-1]
		lo = x
		d := (vol[i]*scale - in) / u[i]
		if up := 0.4 * (face[i+1] - x); d > up {
			d = up
		} else if down := -0.4 * (x - face[i-1]); d < down {
			d = down
		}
		face[i] = x + d
		move[i] = d
		moved += d * (outer[i-1] + inner[i])
		if d < 0 {
			d = -d
		}
		if d > worst {
			worst = d
		}
	}
	return worst, moved
}

// lastStep brings velocities, rates and work along with the last Newton step, which took the flow by ratio and the wall
// stress to tw; near tells whether the faces moved so little that slopes tell what they changed. On the faces as moved
// the profile carries the flow to round-off, and shear does the work of the stress.
func (s *Solver) lastStep(g *geom, tw, ratio float64, near bool) {
	n := s.n
	face, u, mid, bow, g2, work := s.face[:n+1], s.u[:n+1], s.mid[:n], s.bow[:n], s.g2[:n], s.work[:n]
	shear := s.shear[:n]
	if inner, outer, move := s.lo[:n], s.up[:n], s.rh[:n+1]; near {
		move[0], move[n] = 0, 0
		for i := 1; i < n; i++ {
			work[i-1] += inner[i-1]*move[i-1] + outer[i-1]*move[i]
			u[i] -= 0.5 * (shear[i-1] + shear[i]) * move[i]
		}
		work[n-1] += inner[n-1] * move[n-1]
	}
	in := 0.0
	for i := range bow {
		in += 0.5*(u[i]+u[i+1])*(face[i+1]-face[i]) + bow[i]
	}
	exact := s.vol[n] / (g.area * in)
	for i := range u {
		u[i] *= exact
	}
	var sum float64
	for _, x := range work {
		sum += x
	}
	s.sumWork = tw * s.vol[n] / g.shear
	w := s.sumWork / sum
	for i := range mid {
		mid[i] = 0.5*(u[i]+u[i+1]) + exact*bow[i]/(face[i+1]-face[i])
		work[i] *= w
		g2[i] *= ratio * ratio
	}
}

// Onset and end of plastic flow in shear, as (sqrt(3) tau/strength)^2: a smooth switch about 1.
const (
	yieldOnset = 0.5
	yieldEnd   = 1.4
)

var yieldSpan = math.Log(yieldEnd / yieldOnset)

// plastic returns the fluidity of unmelted stock under a shear stress near its strength, r = (sqrt(3) tau/strength)^2 >
// yieldOnset, and its slope dln(phi)/dln(r): beyond the strength the stock shears as easily as melt at its flow point,
// so that the stress stays near the strength.
func (s *Solver) plastic(phi, r float64) (float64, float64) {
	l := math.Log(s.flowPhi / phi)
	if l <= 0 || r <= yieldOnset {
		return phi, 0
	}
	if r >= yieldEnd {
		return s.flowPhi, 0
	}
	x := math.Log(r/yieldOnset) / yieldSpan
	return phi * math.Exp(l*x*x*(3-2*x)), l * 6 * x * (1 - x) / yieldSpan
}

const (
	maxPasses     = 300
	newtonPasses  = 12   // from which on the stress is brought to the flow before the faces move
	bracketPasses = 30   // of that, at most
	profileTol    = 2e-2 // of flow and of (r/R)^2, before the last Newton step; what it leaves is about the square
)

// centroid is where a cell's mean temperature sits: weighted by velocity, which is linear across it.
func centroid(lo, hi, u0, u1 float64) float64 { return lo + (hi-lo)*(u0+2*u1)/(3*(u0+u1)) }

// conductances fills cond, and the shift from centroids to cell middles, for the profile at hand; the wall is the last
// face, in series with the wall conductance hw (W/m2K).
func (s *Solver) conductances(g *geom, hw float64) {
	n := s.n
	face, u, k, cond := s.face[:n+1], s.u[:n+1], s.k[:n], s.cond[:n+1]
	lag, lead := s.lag[:n], s.lead[:n]
	prev := centroid(face[0], face[1], u[0], u[1])
	cond[0] = 0
	lo := 0.0
	for i := 1; i < n; i++ {
		f := face[i]
		c := centroid(f, face[i+1], u[i], u[i+1])
		w := 1 / (c - prev)
		cond[i] = 0.5 * (k[i-1] + k[i]) * g.cond * w
		lead[i-1] = (0.5*(lo+f) + gauss*(f-lo) - prev) * w
		lag[i] = (c - 0.5*(f+face[i+1]) + gauss*(face[i+1]-f)) * w
		if i == 1 {
			lag[0] = (prev - (0.5-gauss)*f) * w
		}
		lo, prev = f, c
	}
	if !g.planar {
		for i := 1; i < n; i++ {
			cond[i] *= face[i]
		}
	}
	d := g.size * (1 - prev)
	if !g.planar {
		d /= 2 // dx = 2 r dr/R^2
	}
	d /= k[n-1]
	cond[n] = g.wall / (d + 1/hw)
	s.surfaceShare = d / (d + 1/hw)
	lead[n-1] = (0.5*(lo+1) + gauss*(1-lo) - prev) / (1 - prev) * s.surfaceShare
}

// gamma makes the two-stage step below L-stable and of second order.
const gamma = 1 - math.Sqrt2/2

// step advances the enthalpy of every cell over dz with the two-stage
// diagonally implicit Runge-Kutta method of R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006
// (from memory): second order, and stiff wall cells do not ring. Conductances
// are those of the middle of the step, so that both stages share one
// factorisation. What enters a cell is what leaves its neighbour, to round-off.
// wall0 and wall are the wall temperatures at both ends. It returns the wall heat of the step (W).
func (s *Solver) step(dz, mdot, wall0, wall float64) float64 {
	n := s.n
	s.T, s.T0, s.T1 = s.T1, s.T, s.T0
	s.stages(dz, mdot, wall0, wall, s.cond0, s.cond, s.T0, s.T)
	// Enthalpy from the fluxes themselves; the temperature follows from it.
	flux, perFrac := s.flux[:n+1], s.perFrac[:n]
	h, heat, T, stored := s.h[:n], s.heat[:n], s.T[:n], s.stored[:n]
	per := 1 / mdot
	for i := range h {
		e := h[i] + (flux[i+1]-flux[i]+heat[i]+stored[i])*per*perFrac[i] // (10), (11)
		h[i] = e
		T[i] = s.tab.temperature(e, T[i])
	}
	return flux[n]
}

// predict puts the temperatures expected at the end of a step of dz (m) in Tx: a step with the conductances and heat
// capacities of the station at its start, and with the heat by work and from the content that the step before had,
// `more` times. mdot, wall0 and wall are those of step.
func (s *Solver) predict(dz, more, mdot, wall0, wall float64) {
	n := s.n
	heat, stored := s.heat[:n], s.stored[:n]
	for i := range heat {
		heat[i] = more * (heat[i] + stored[i])
	}
	m := s.mem
	s.mem = nil
	s.stages(dz, mdot, wall0, wall, s.cond, s.cond, s.T, s.Tx)
	s.mem = m
	if s.melting == 0 {
		return
	}
	// Through a melting range the temperature follows from the enthalpy.
	per := 1 / mdot
	flux, perFrac, h, Tx := s.flux[:n+1], s.perFrac[:n], s.h[:n], s.Tx[:n]
	for i := range h {
		Tx[i] = s.tab.temperature(h[i]+(flux[i+1]-flux[i]+heat[i])*per*perFrac[i], Tx[i])
	}
}

// extrapolate puts the temperatures expected at the end of a step in Tx. They go on as in the step before, f times as
// far, on a line, or, where f0 says how much farther that step went than the one before it, with the share `bent` of
// the bend of the parabola through the last three stations. What depends on Tx is put right to first order once the
// temperatures reached are known.
func (s *Solver) extrapolate(f, f0 float64) {
	n := s.n
	if f == 0 {
		copy(s.Tx[:n], s.T[:n])
		return
	}
	bend := bent * f * (f + 1) * f0 / (1 + f0)
	now, before := f+bend, bend*f0
	T, T0, T1, Tx := s.T[:n], s.T0[:n], s.T1[:n], s.Tx[:n]
	for i, t := range T {
		t0 := T0[i]
		Tx[i] = t + now*(t-t0) - before*(t0-T1[i])
	}
}

// bent leaves the least error of the drop: with the whole bend steps err to one side, with none of it to the other.
const bent = 0.45

// stages takes both stages of a step over dz (m) from the temperatures `from` to those in `to`, with the mean of the
// conductances cond0 and cond. It leaves the heat through every face and the heat stored in every cell over the step.
func (s *Solver) stages(dz, mdot, wall0, wall float64, cond0, cond, from, to []float64) {
	n := s.n
	cond, cond0 = cond[:n+1], cond0[:n+1]
	mix, inv, content := s.mix[:n+1], s.di[:n], s.up[:n]
	frac, cp := s.frac[:n], s.cp[:n]
	g := gamma * dz
	half := 0.5 * g
	var low float64
	for i := range inv {
		k := half * (cond0[i+1] + cond[i+1])
		mix[i+1] = k
		m := frac[i] * mdot * cp[i]
		content[i] = m
		if s.mem != nil {
			m += g * s.mass[i] * cp[i]
		}
		inv[i] = m + low + k
		low = k
	}
	s.factors()
	clear(s.flux)
	clear(s.stored)
	s.stage(dz, gamma, wall0+gamma*(wall-wall0), from, to)
	s.stage(dz, 1, wall, from, to)
}

// factors eliminates the matrix with di on its diagonal and -mix beside it, from both ends towards the cell in the
// middle: each end waits for its own cells only. It leaves the inverse pivots in di and the factors by face in lo.
func (s *Solver) factors() {
	n := s.n
	mix, inv, ratio := s.mix[:n+1], s.di[:n], s.lo[:n+1]
	mid := n / 2
	var a, b float64 // inverse pivots of the cells before
	for i := range mid {
		k := mix[i]
		r := k * a
		a = 1 / (inv[i] - r*k)
		ratio[i], inv[i] = r, a
		if j := n - 1 - i; j > mid {
			k, r = mix[j+1], 0
			if j < n-1 { // beyond the last is the wall
				r = k * b
			}
			b = 1 / (inv[j] - r*k)
			ratio[j+1], inv[j] = r, b
		}
	}
	low, up := mix[mid]*a, mix[mid+1]*b
	ratio[mid], ratio[mid+1] = low, up
	inv[mid] = 1 / (inv[mid] - low*mix[mid] - up*mix[mid+1])
}

// stage solves m (h - h0) = flux + gamma dz F(T) + share heat for T, from T0, and adds to
// flux the heat through every face as the next stage, or the step, weights it.
func (s *Solver) stage(dz, share, wall float64, T0, T []float64) {
	n := s.n
	flux, mix := s.flux[:n+1], s.mix[:n+1] // mix: conductances times gamma dz
	ratio, inv, d, content := s.lo[:n+1], s.di[:n], s.rh[:n], s.up[:n]
	heat := s.heat[:n]
	T0, T = T0[:n], T[:n]
	for i := range d {
		d[i] = content[i]*T0[i] + share*heat[i] + flux[i+1] - flux[i]
	}
	if s.mem != nil {
		// h - h0 = cp (T - T0), cp the chord.
		g := gamma * dz
		for i := range d {
			d[i] += s.stored[i] + g*s.mass[i]*(s.before(i, share)-s.h[i]+s.cp[i]*T0[i])
		}
	}
	d[n-1] += mix[n] * wall
	mid := n / 2
	var low, up float64
	for i := range mid {
		low = d[i] + ratio[i]*low
		d[i] = low
		if j := n - 1 - i; j > mid {
			up = d[j] + ratio[j+1]*up
			d[j] = up
		}
	}
	low = (d[mid] + ratio[mid]*low + ratio[mid+1]*up) * inv[mid]
	up = low
	T[mid] = low
	for i := mid - 1; i >= 0; i-- {
		low = d[i]*inv[i] + ratio[i+1]*low
		T[i] = low
		if j := 2*mid - i; j < n {
			up = d[j]*inv[j] + ratio[j]*up
			T[j] = up
		}
	}
	g := 1.0
	if share < 1 {
		g = (1 - gamma) / gamma // weight of the first stage in the step
	}
	last := T[0]
	for i := 1; i < n; i++ {
		t := T[i]
		flux[i] += g * mix[i] * (t - last)
		last = t
	}
	flux[n] += g * mix[n] * (wall - last)
	if s.mem != nil {
		g *= gamma * dz
		for i := range d {
			s.stored[i] += g * s.mass[i] * (s.before(i, share) - s.h[i] - s.cp[i]*(T[i]-T0[i]))
		}
	}
}
