package march

import (
	"math"

	"meltload/flow/duct"
	"meltload/materials/num"
)

// works fills heat with the work of shear and elongation on every cell over the interval (W) and
// returns the part by elongation (W). Rates and fluidities are the mean of both stations. f scales the shear work.
//
// Elongation does w_i 3 eta(sqrt(g^2 + 3 e^2)) e^2 of work per volume (7), e = du/dz along the tube. In a cone w_i = w
// + (1 - w) max(0, 1 - phi_i/phi_s), w the weight of a wide cone, which holds for an isothermal melt, and phi_s the
// fluidity averaged by shear work: stiffer stock than the melt that shears is drawn in full. Below the flow point the
// viscosity is bounded by the strength Y, eta <= Y/(sqrt(3) rate), but not below that of melt at the flow point (8).
func (s *Solver) works(v *interval, f float64) (ext float64) {
	n, g0, g, dz := s.n, &v.g0, &v.g, v.dz
	v.melt = 0
	heat, work, work0 := s.heat[:n], s.work[:n], s.work0[:n]
	for i := range heat {
		heat[i] = f * (work[i] + work0[i])
	}
	if !s.opt.NoElong {
		face, mid, mid0, g2, g20, phi, pts, pts0 := s.face[:n+1], s.mid[:n], s.mid0[:n], s.g2[:n], s.g20[:n],
			s.phi[:n], s.pts[:n], s.pts0[:n]
		trouton := s.tab.m.Viscosity.Trouton
		area := math.Sqrt(g0.area * g.area)
		inv, spread := 1/dz, 1.0
		cone := g.size != g0.size
		if cone {
			// The stretch rate at the mean radius of the interval. Work runs along it as the gradient does, by a power
			// of the radius.
			ratio := math.Sqrt(g.size / g0.size)
			inv *= 2 / (ratio + 1/ratio)
			if v.grad0 > 0 && v.grad > 0 {
				spread = v.shear / (dz * math.Sqrt(v.grad0*v.grad))
			}
		}
		adapted := s.adapted[:n]
		lead, trail := v.lead, v.trail
		least := leastWork * s.sumWork
		d := draw{Solver: s, p: v.p, wide: v.wide, shearing: math.Inf(1), perFlow: 1 / s.flowPhi}
		if cone && v.wide < 1 {
			var sum, w float64
			for i := range work {
				w += work[i]
				sum += work[i] * phi[i]
			}
			if sum > 0 {
				d.shearing = w / sum // 1/phi_s
			}
		}
		for i := range heat {
			e := (mid[i] - mid0[i]) * inv
			if !cone {
				e = (lead*(mid0[i]-adapted[i]) + trail*(mid[i]-mid0[i])) * inv
			}
			e2 := e * e
			gg := g2[i] * g20[i]
			a, b := &pts[i], &pts0[i]
			most := trouton * e2 * area * (face[i+1] - face[i])
			if e2*e2 < leastDrawn*leastDrawn*gg || most < least*a.phi[0] && most < least*a.phi[1] &&
				most < least*b.phi[0] && most < least*b.phi[1] {
				continue
			}
			rate2 := math.Sqrt(gg) + 3*e2
			volume := most * dz * spread
			d.rate2, d.floor = rate2, 0
			w, melt := d.cell(a, b)
			w, melt = w*volume, melt*volume
			v.melt += melt
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
			heat[i] += 0.5 * (s.opt.Source(x, s.z) + s.opt.Source(x, s.z+dz)) * g.area * (hi - lo) * dz
		}
	}
	return ext
}

// draw is the elongation of a cell over an interval.
type draw struct {
	*Solver
	rate2    float64 // squared rate, 1/s2
	p        float64 // Pa, pressure of the fluidities; 0 where they depend on none
	wide     float64 // weight of a wide cone, of melt
	shearing float64 // one over the fluidity averaged by shear work, infinite where no stock is drawn in full
	perFlow  float64 // one over the fluidity at the flow point
	floor    float64 // Pa s, viscosity at that rate of melt at the flow point; 0 before it is asked for
}

// cell returns the viscosity (Pa s) in elongation, weighted for a wide cone, as the mean over the points of the cell at
// the end a and the start b of the interval, and the part of it above the flow point, which fades below, so that no
// cell drops out at once.
func (d *draw) cell(a, b *points) (eta, melt float64) {
	if a.solid+b.solid > 0 {
		for _, q := range [2]*points{a, b} {
			e, m := d.over(&q.pair, &q.pair)
			if q.solid > 0 {
				e, m = d.over(&q.rest, &q.rest)
				e, m = (1-q.solid)*e, (1-q.solid)*m
				e += q.solid * d.weight(q.core.phi[0]) * d.eta(q.core.phi[0], q.core.yield[0])
			}
			eta += 0.5 * e
			melt += 0.5 * m
		}
		return eta, melt
	}
	return d.over(&a.pair, &b.pair)
}

// weight returns w_i of (7).
func (d *draw) weight(phi float64) float64 {
	if x := phi * d.shearing; x < 1 {
		return d.wide + (1-d.wide)*(1-x)
	}
	return d.wide
}

// steep is the ratio of the fluidities at the ends of an interval from which their mean does not stand for what lies
// between.
const steep = 2.5

// even is the range of fluidities, or of strengths squared, over which their mean stands for all of them: viscosity
// within a per cent or so.
const even = 1.5

// alike tells whether four values lie within that range.
func alike(a, b, c, d float64) bool {
	if b < a {
		a, b = b, a
	}
	if d < c {
		c, d = d, c
	}
	return b < even*a && b < even*c && d < even*a && d < even*c
}

// over is the same for two points at both ends of an interval.
func (d *draw) over(a, b *pair) (sum, melt float64) {
	pa0, pa1, pb0, pb1 := a.phi[0], a.phi[1], b.phi[0], b.phi[1]
	ya0, ya1, yb0, yb1 := a.yield[0], a.yield[1], b.yield[0], b.yield[1]
	if alike(pa0, pa1, pb0, pb1) && (ya0+ya1+yb0+yb1 == 0 || alike(ya0, ya1, yb0, yb1)) {
		phi := 0.25 * (pa0 + pa1 + pb0 + pb1)
		sum = d.weight(phi) * d.eta(phi, 0.25*(ya0+ya1+yb0+yb1))
		return sum, sum * d.melted(phi)
	}
	for j := range 2 {
		pa, pb := a.phi[j], b.phi[j]
		var eta float64
		if ya, yb := a.yield[j], b.yield[j]; d.loadOnly {
			eta = d.eta(math.Sqrt(pa*pb), 0.5*(ya+yb))
		} else if ya+yb > 0 || pa > steep*pb || pb > steep*pa {
			// The temperature runs linearly along the interval: two Gauss points there.
			mid, off := 0.5*(a.T[j]+b.T[j]), gauss*(a.T[j]-b.T[j])
			eta = 0.5 * (d.eta(d.stock(mid-off, d.p)) + d.eta(d.stock(mid+off, d.p)))
		} else {
			eta = d.tab.visc.Eta(d.rate2, math.Sqrt(pa*pb))
		}
		part := 0.5 * d.weight(pa) * eta
		sum += part
		melt += part * d.melted(pa)
	}
	return sum, melt
}

// melted is the share of stock of a fluidity that counts as above the flow point.
func (d *draw) melted(phi float64) float64 {
	if x := phi * d.perFlow; x < 1 {
		return x
	}
	return 1
}

// Elongation is left out where its squared rate is less than leastDrawn of that of shear (its work would be that times
// the Trouton ratio of the cell's own shear work), and where its work, at the zero-shear viscosity, is less than
// leastWork of the shear work of all cells.
const (
	leastDrawn = 3e-4
	leastWork  = 1e-6
)

// eta returns the viscosity (Pa s) of stock of a fluidity and of 3 over its strength squared (8).
func (d *draw) eta(phi, yield float64) float64 {
	eta := d.tab.visc.Eta(d.rate2, phi)
	if yield == 0 {
		return eta
	}
	x := d.rate2 * eta * eta * yield
	if x <= 0.1 {
		return eta
	}
	if d.floor == 0 {
		d.floor = d.tab.visc.Eta(d.rate2, d.flowPhi)
	}
	bound := eta / math.Sqrt(math.Sqrt(1+x*x))
	if bound > d.floor {
		return bound
	}
	return min(eta, d.floor)
}

// weighCones fills the weight of elongation in every cone, which makes the isothermal drop of a power-law melt equal to
// duct.ConeFactor times the gradient integrated over R:
//
//	1/tan(b) + weight E(m)/tan(b) = K(a, m)
//
// b the half angle marched, a the true one, E the ratio of elongational to shear work of the slender profile at the
// index m of the bore wall, for melt of its temperature. block and q are those of Solve.
func (s *Solver) weighCones(block, q float64) {
	m := s.c.Material
	for i := range s.sec {
		p := &s.sec[i]
		if p.wide = 1; p.tan == 0 {
			continue
		}
		wall := s.c.WallAt(i, 1, block)
		sec := &s.c.HotEnd.Sections[i]
		r := sec.D2 / 2
		rate := 4 * s.tab.solid * q * m.Density.Volume(wall, 0) / (float64(sec.Channels) * math.Pi * r * r * r)
		n := m.Viscosity.Slope(rate / s.c.Fluidity(wall, 0))
		p.wide = (duct.ConeFactor(p.angle, n)*p.tan - 1) / elongationRatio(n, p.tan)
	}
}

// elongationRatio is E(m) for a slender cone: u = 1 - x^(1/m+1), g = |du/dx|, e = 2 u tan(b) at
// equal mean flow, all per U/R; Trouton ratio 3.
func elongationRatio(m, tan float64) float64 {
	q := 1/m + 1
	slope := math.Pow(q, m+1)
	var sh, ex float64
	for i, x := range gaussX {
		p := math.Exp(gaussLn[i] / m) // x^(1/m)
		g, e := q*p, 2*(1-x*p)*tan
		w := gaussW[i] * x
		sh += w * slope * x * p // g^(m+1)
		ex += w * 3 * math.Exp((m-1)/2*math.Log(g*g+3*e*e)) * e * e
	}
	return ex / sh
}

// gaussX, gaussW are the six points of elongationRatio on [0, 1], which leave 0.5 % of it at most from an index of 0.2
// on; gaussLn are the logarithms of the points.
var (
	gaussX, gaussW = num.GaussNodes(6)
	gaussLn        = func() (ln []float64) {
		for _, x := range gaussX {
			ln = append(ln, math.Log(x))
		}
		return ln
	}()
)
