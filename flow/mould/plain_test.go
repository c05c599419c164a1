package mould

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// plainStrip is what the plain solution of a strip ends with.
type plainStrip struct {
	reach, time, pressure, mean float64 // m, s, Pa, K
}

// plainColumn is a column of melt and wall of the plain solution, explicit, on uniform cells.
type plainColumn struct {
	h, T, u, g []float64
	wall       []float64
	tau        float64
}

// plain fills a strip by another way than the solver: fixed columns, explicit in time, uniform cells, heat carried
// along and across by the velocities of continuity, the law called directly, the stress by halving, and at the front
// the surplus of the fast core laid outside it well mixed. It stops at the no-flow temperature (K; 0 never) or the end
// of the strip. The wall is that of the mould.
func plain(c *flow.Case, m *Mould, melt, q, noFlow float64, nx, ny int) (out plainStrip) {
	p := newPlain(c, m, melt, q, nx, ny)
	for j := range nx {
		p.enter(j)
		for step := range p.steps {
			if step%16 == 0 {
				for k := range j + 1 {
					p.momentum(&p.col[k])
				}
			}
			p.step(j, float64(step)/float64(p.steps), float64(step+1)/float64(p.steps))
			out.time += p.dt
			if noFlow > 0 && p.coldest(j) < noFlow {
				out.reach = (float64(j) + float64(step+1)/float64(p.steps)) * p.dx
				p.sum(&out, j, float64(step+1)/float64(p.steps))
				return out
			}
		}
	}
	out.reach = float64(nx) * p.dx
	p.sum(&out, nx-1, 1)
	return out
}

type plainRun struct {
	c               *flow.Case
	m               *Mould
	law             materials.Viscosity
	heat            materials.Heat
	col             []plainColumn
	q, width, H     float64
	dx, dy, dz, dt  float64
	rho, melt, hIn  float64
	steps, ny, nw   int
	brought, lost   float64
	arriving, speed []float64
}

func newPlain(c *flow.Case, m *Mould, melt, q float64, nx, ny int) *plainRun {
	e := m.Elements[0]
	p := &plainRun{c: c, m: m, law: c.Material.Viscosity, heat: c.Material.CoolingHeat(), q: q, width: e.Width,
		H: e.Height / 2, dx: e.Length / float64(nx),
		rho: 1 / c.Material.Density.Volume(melt, 0), melt: melt, ny: ny}
	if x := c.Material.Cooling; x[1] > x[0] {
		p.law.MeltLow, p.law.MeltHigh = x[0], x[1]
	}
	p.law.Cap = DefaultSolidCap
	p.hIn = p.heat.Enthalpy(melt)
	p.dy = p.H / float64(ny)
	kMax, cMin := 0.0, math.Inf(1)
	for T := m.Surface; T <= melt; T++ {
		kMax, cMin = math.Max(kMax, c.Material.Conductivity.At(T)), math.Min(cMin, p.heat.Cp.At(T))
	}
	p.dt = math.Min(0.4*p.dy*p.dy*p.rho*cMin/kMax, 0.2*p.dx/(q/e.Width/e.Height))
	if w := &m.Wall; !w.held() {
		// Deep enough for the time that the strip takes to fill, no deeper than the wall; cells that the step in time
		// allows.
		deep := math.Min(w.Depth, 5*math.Sqrt(w.K/w.RhoC*e.Length*e.Width*e.Height/q))
		p.nw = max(2, min(60, int(deep/math.Sqrt(p.dt/0.4*w.K/w.RhoC))))
		p.dz = deep / float64(p.nw)
	}
	fill := e.Width * e.Height * p.dx / q
	p.steps = int(math.Ceil(fill / p.dt))
	p.dt = fill / float64(p.steps)
	p.arriving, p.speed = make([]float64, ny), make([]float64, ny)
	for range nx {
		v := func(n int) []float64 { return make([]float64, n) }
		p.col = append(p.col, plainColumn{h: v(ny), T: v(ny), u: v(ny), g: v(ny), wall: v(p.nw)})
	}
	return p
}

func (p *plainRun) enter(j int) {
	x := &p.col[j]
	for i := range p.ny {
		x.h[i], x.T[i] = p.hIn, p.melt
		if j > 0 {
			x.h[i], x.T[i] = p.col[j-1].h[i], p.col[j-1].T[i]
		}
	}
	for i := range x.wall {
		x.wall[i] = p.m.Surface
	}
}

func (p *plainRun) momentum(x *plainColumn) {
	lo, hi, halvings := math.Log(1.0), math.Log(1e10), 45
	if x.tau > 0 { // near the last one, unless it has run away
		lo, hi, halvings = math.Log(x.tau)-0.2, math.Log(x.tau)+0.2, 16
	}
	for range halvings {
		l := (lo + hi) / 2
		x.tau = math.Exp(l)
		var flow float64
		for i := range p.ny {
			y := (float64(i) + 0.5) * p.dy
			x.g[i] = p.law.Rate(x.tau*y/p.H, x.T[i], 0)
			flow += 2 * p.width * y * x.g[i] * p.dy
		}
		if flow > p.q {
			hi = l
		} else {
			lo = l
		}
	}
	v, sum := 0.0, 0.0
	for i := p.ny - 1; i >= 0; i-- {
		x.u[i] = v + x.g[i]*p.dy/2
		v += x.g[i] * p.dy
		sum += x.u[i]
	}
	mean := p.q / (2 * p.width * p.H)
	for i := range x.u {
		x.u[i] *= mean * float64(p.ny) / sum
	}
}

// step takes all columns up to the front column j, filled from one share to another, over dt.
func (p *plainRun) step(j int, from, to float64) {
	mean := p.q / (2 * p.width * p.H)
	copy(p.speed, p.col[0].u) // as the melt enters: uniform temperature, so the shape of the first column will do
	for i := range p.arriving {
		p.arriving[i] = p.hIn
	}
	p.brought += p.hIn * mean * p.H * p.dt
	leaving := p.leaving(j)
	for k := range j + 1 {
		x := &p.col[k]
		was := append([]float64{}, x.h...)
		s0, s1 := 1.0, 1.0
		if k == j {
			s0, s1 = from, to
		}
		change := make([]float64, p.ny) // J/kg m, of h times the filled length
		p.conduct(x, change, s0, s1)
		if k < j {
			v := 0.0
			for i := range p.ny {
				next := v + (p.speed[i]-x.u[i])*p.dy/p.dx // what does not go on goes across
				flux := (p.speed[i]*p.arriving[i] - x.u[i]*leaving[k][i]) / p.dx
				if i > 0 {
					flux += v * pickUp(v > 0, was[max(0, i-1)], was[i]) / p.dy
				}
				if i+1 < p.ny {
					flux -= next * pickUp(next > 0, was[i], was[min(p.ny-1, i+1)]) / p.dy
				}
				v = next
				change[i] += p.dt * flux
			}
		} else { // the front: fast melt passes through, its surplus is laid outside, well mixed
			var surplus, heat float64
			for i := range p.ny {
				if d := p.speed[i] - mean; d > 0 {
					surplus += d
					heat += d * p.arriving[i]
				}
			}
			for i := range p.ny {
				if d := p.speed[i] - mean; d > 0 {
					change[i] += p.dt * mean * p.arriving[i] / p.dx
				} else {
					change[i] += p.dt * (p.speed[i]*p.arriving[i] - d*heat/surplus) / p.dx
				}
			}
		}
		copy(p.arriving, leaving[k])
		copy(p.speed, x.u)
		for i := range p.ny {
			x.h[i] = (s0*was[i] + change[i]) / s1
			for range 3 {
				x.T[i] += (x.h[i] - p.heat.Enthalpy(x.T[i])) / p.heat.Capacity(x.T[i])
			}
		}
	}
}

// leaving is the enthalpy at the end of each column: half a difference beyond its middle, the smaller of both sides.
func (p *plainRun) leaving(j int) [][]float64 {
	out := make([][]float64, j+1)
	for k := range out {
		out[k] = append([]float64{}, p.col[k].h...)
		if k == j {
			continue
		}
		for i, h := range p.col[k].h {
			left, right := 2*(h-p.hIn), 0.0
			if k > 0 {
				left = h - p.col[k-1].h[i]
			}
			right = left
			if k+1 < j {
				right = p.col[k+1].h[i] - h
			}
			switch {
			case left*right <= 0:
			case math.Abs(left) < math.Abs(right):
				out[k][i] += left / 2
			default:
				out[k][i] += right / 2
			}
		}
	}
	return out
}

func pickUp(yes bool, a, b float64) float64 {
	if yes {
		return a
	}
	return b
}

// conduct adds conduction and the heat of shear to a column, filled from the share s0 to s1.
func (p *plainRun) conduct(x *plainColumn, change []float64, s0, s1 float64) {
	m := p.c.Material
	k := func(a, b float64) float64 { return m.Conductivity.At((a + b) / 2) }
	for i := range p.ny {
		change[i] += p.dt * s0 * x.tau * (float64(i) + 0.5) / float64(p.ny) * x.g[i] / p.rho
		if i+1 < p.ny {
			flux := p.dt * s0 * k(x.T[i], x.T[i+1]) * (x.T[i] - x.T[i+1]) / p.dy / p.dy / p.rho
			change[i] -= flux
			change[i+1] += flux
		}
	}
	n := p.ny - 1
	r := p.dy/2/k(x.T[n], x.T[n]) + 1/p.m.Contact
	against := p.m.Surface
	if p.nw > 0 {
		r += p.dz / 2 / p.m.Wall.K
		against = x.wall[0]
	}
	q := (x.T[n] - against) / r // W/m2
	change[n] -= p.dt * s0 * q / p.dy / p.rho
	if p.nw == 0 {
		p.lost += p.dt * s0 * q / p.rho
		return
	}
	w := &p.m.Wall
	was := append([]float64{}, x.wall...)
	in := q
	for i := range was {
		next := p.m.Surface
		gap := p.dz / 2
		if i+1 < len(was) {
			next, gap = was[i+1], p.dz
		}
		out := w.K * (was[i] - next) / gap
		// What has just been wetted comes with a cold wall.
		x.wall[i] = (s0*(was[i]+p.dt*(in-out)/(w.RhoC*p.dz)) + (s1-s0)*p.m.Surface) / s1
		in = out
	}
	p.lost += p.dt * s0 * in / p.rho
}

// coldest is the hottest layer of the coldest column that counts, the front once it is half full.
func (p *plainRun) coldest(j int) float64 {
	cold := math.Inf(1)
	for k := range j + 1 {
		hot := 0.0
		for _, T := range p.col[k].T {
			hot = math.Max(hot, T)
		}
		cold = math.Min(cold, hot)
	}
	return cold
}

// sum takes pressure and mean temperature, the front column filled to a share.
func (p *plainRun) sum(out *plainStrip, j int, share float64) {
	var area float64
	for k := range j + 1 {
		x := &p.col[k]
		p.momentum(x)
		s := 1.0
		if k == j {
			s = share
		}
		out.pressure += x.tau / p.H * p.dx * s
		for i := range x.T {
			out.mean += s * x.T[i]
			area += s
		}
	}
	out.mean /= area
}

// The solver against the plain solution, on the check fluid poured into a cold strip: pressure and mean temperature at
// the end of filling.
func TestColdStripAgainstAnIndependentSolution(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	const melt, q = 503.0, 60e-9
	c, m := strip()
	r := fill(t, c, m, Settings{Melt: melt, Flow: q})
	x := plain(c, m, melt, q, 0, 40, 24)
	var got, area float64
	for _, T := range r.Profile.T {
		for i, v := range T {
			w := r.Profile.Face[i]
			if i > 0 {
				w -= r.Profile.Face[i-1]
			}
			got += v * w
			area += w
		}
	}
	got /= area
	t.Logf("pressure %.4g Pa, plain %.4g; mean %.2f K, plain %.2f", r.Peak, x.pressure, got, x.mean)
	if math.Abs(r.Peak/x.pressure-1) > 0.03 || math.Abs(got-x.mean) > 0.02*(melt-m.Surface) {
		t.Errorf("pressure %.4g Pa, plain %.4g; mean %.2f K, plain %.2f", r.Peak, x.pressure, got, x.mean)
	}
}

// How far melt runs, by the plain solution and by the solver: wall of the mould, contact and cooling range, in metal
// and in resin.
func TestReachAgainstThePlainSolution(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, id := range []string{"pla03", "abs12", "pp11", "hdpe08"} {
		for _, r := range table(t, "mould_open.csv") {
			if r["id"] != id {
				continue
			}
			c, m, s := tableFilling(t, r)
			s.Supply = nil
			x := fill(t, c, m, s)
			m.Elements[0].Length = 1.3 * x.Front
			coarse, fine := plain(c, m, s.Melt, s.Flow, NoFlow(c.Material), 24, 16).reach,
				plain(c, m, s.Melt, s.Flow, NoFlow(c.Material), 48, 16).reach
			want := 2*fine - coarse // the front is first order in the columns
			t.Logf("%s: %.2f mm, plain %.2f mm (%.2f and %.2f), table %s mm", id, x.Front*1e3, want*1e3, coarse*1e3,
				fine*1e3, r["reach_mm"])
			if math.Abs(x.Front/want-1) > 0.05 {
				t.Errorf("%s at %.0f degC: %.2f mm, plain %.2f mm", id, unit.Celsius(s.Melt), x.Front*1e3, want*1e3)
			}
		}
	}
}
