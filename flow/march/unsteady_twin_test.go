package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// soaked is a heated tube, 2 mm wide and 20 mm long, filled with melt at the wall's temperature.
func soaked() (c *flow.Case, block, q float64) {
	return tube(flowtest.HeatedFluid(), 2e-3, 20e-3, 6000, 298.15), 493.15, 10e-9
}

// unsteadyTwin is the plain form of the march in time: rings and slabs fixed in space, explicit upwind steps, the law
// itself, a bisection for the wall stress, profiles renewed every tenth of a second.
type unsteadyTwin struct {
	c              *flow.Case
	s              *flow.Section
	block, q       float64
	nr, nz         int
	dr, dz         float64     // m, width of a ring and length of a slab
	rho, cp, k     float64     // of the stock, as constants
	tau            []float64   // Pa, wall stress by slab
	T, flows, work [][]float64 // K, m3/s, W/m3 by slab and ring
}

func newUnsteadyTwin(c *flow.Case, block, q float64, nr, nz int) *unsteadyTwin {
	m, s := c.Material, &c.HotEnd.Sections[0]
	w := &unsteadyTwin{c: c, s: s, block: block, q: q, nr: nr, nz: nz, dr: s.D1 / 2 / float64(nr),
		dz: s.Length / float64(nz), rho: m.Density.Solid, cp: m.Heat.Cp.At(400), k: m.Conductivity.At(400),
		tau: make([]float64, nz), T: table(nz, nr), flows: table(nz, nr), work: table(nz, nr)}
	for j := range w.T {
		for i := range w.T[j] {
			w.T[j][i] = block
		}
		w.tau[j] = 1e5
	}
	return w
}

func table(rows, columns int) [][]float64 {
	out := make([][]float64, rows)
	for i := range out {
		out[i] = make([]float64, columns)
	}
	return out
}

// ring is the area of a ring, m2.
func (w *unsteadyTwin) ring(i int) float64 { return math.Pi * w.dr * w.dr * float64(2*i+1) }

// total is the flow of slab j at a wall stress; it fills the rings' flows and work.
func (w *unsteadyTwin) total(j int, tau float64) float64 {
	var u, sum float64
	for i := w.nr - 1; i >= 0; i-- {
		x := (float64(i) + 0.5) / float64(w.nr)
		g := w.c.Material.Viscosity.Rate(tau*x, w.T[j][i], 0)
		w.flows[j][i] = (u + g*w.dr/2) * w.ring(i)
		w.work[j][i] = tau * x * g
		u += g * w.dr
		sum += w.flows[j][i]
	}
	return sum
}

// profile finds the wall stress at which slab j carries the flow.
func (w *unsteadyTwin) profile(j int) {
	lo, hi := w.tau[j]/1.5, w.tau[j]*1.5
	for w.total(j, lo) > w.q {
		lo /= 2
	}
	for w.total(j, hi) < w.q {
		hi *= 2
	}
	for range 30 {
		if w.tau[j] = math.Sqrt(lo * hi); w.total(j, w.tau[j]) > w.q {
			hi = w.tau[j]
		} else {
			lo = w.tau[j]
		}
	}
	for i, f := 0, w.q/w.total(j, w.tau[j]); i < w.nr; i++ {
		w.flows[j][i] *= f
	}
}

// through is the flow of a ring at the upstream face of slab j.
func (w *unsteadyTwin) through(j, i int) float64 {
	switch j {
	case 0:
		return w.flows[0][i]
	case w.nz:
		return w.flows[w.nz-1][i]
	}
	return (w.flows[j-1][i] + w.flows[j][i]) / 2
}

// heat is what the cell of slab j and ring i takes up, W; outward is the volume flow through its inner face.
func (w *unsteadyTwin) heat(j, i int, outward float64) (heat, next float64) {
	t, up := w.T[j][i], w.c.Filament.Inlet
	if j > 0 {
		up = w.T[j-1][i]
	}
	rc := w.rho * w.cp
	heat = rc*(w.through(j, i)*up-w.through(j+1, i)*t) + w.work[j][i]*w.ring(i)*w.dz
	across := func(i int, other float64) float64 { // conduction through the face outside ring i-1
		return w.k * 2 * math.Pi * w.dr * float64(i) * w.dz * (other - t) / w.dr
	}
	if i > 0 {
		x := w.T[j][i-1]
		if outward < 0 {
			x = t
		}
		heat += rc*outward*x + across(i, w.T[j][i-1])
	}
	next = outward + w.through(j, i) - w.through(j+1, i)
	if i == w.nr-1 {
		wall := w.s.Wall.At(0, w.block)
		return heat + math.Pi*w.s.D1*w.dz*(wall-t)/(w.dr/2/w.k+1/w.s.H), next
	}
	x := t
	if next < 0 {
		x = w.T[j][i+1]
	}
	return heat - rc*next*x + across(i+1, w.T[j][i+1]), next
}

// drops marches from the soaked start and returns the pressure drop at each of the times (s).
func (w *unsteadyTwin) drops(times []float64) []float64 {
	const renew = 0.1
	R := w.s.D1 / 2
	dt := 0.2 * w.dr * w.dr * w.rho * w.cp / w.k
	dt = min(dt, 0.3*w.dz*R*R/w.q*math.Pi/2)
	dt = renew / math.Ceil(renew/dt)
	var out []float64
	next := table(w.nz, w.nr)
	for step := 0; ; step++ {
		if step%int(renew/dt+0.5) == 0 {
			for j := range w.nz {
				w.profile(j)
			}
		}
		for float64(step)*dt >= times[len(out)]-1e-9 {
			drop := 0.0
			for j := range w.nz {
				drop += 2 * w.tau[j] / R * w.dz
			}
			if out = append(out, drop); len(out) == len(times) {
				return out
			}
		}
		for j := range w.nz {
			outward := 0.0
			for i := range w.nr {
				var heat float64
				heat, outward = w.heat(j, i, outward)
				next[j][i] = w.T[j][i] + dt*heat/(w.rho*w.cp*w.ring(i)*w.dz)
			}
		}
		w.T, next = next, w.T
	}
}

// plainUnsteady takes the twin to its limit: it is of second order in the rings' width and, upwind, of first in the
// slabs' length.
func plainUnsteady(c *flow.Case, block, q float64, times []float64) []float64 {
	drops := func(nr, nz int) []float64 { return newUnsteadyTwin(c, block, q, nr, nz).drops(times) }
	a, b, fine := drops(16, 16), drops(24, 16), drops(24, 32)
	for i := range fine {
		fine[i] += fine[i] - b[i] - (a[i]-b[i])*(16*16)/(24*24-16*16)
	}
	return fine
}

// From a soaked start the drop rises as the plain solution's does.
func TestUnsteadyAgainstThePlainTwin(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	c, block, q := soaked()
	times := []float64{1, 2, 4}
	plain := plainUnsteady(c, block, q, times)
	s := march.New(c, march.Options{NoElong: true})
	s.Soak(block)
	var d flow.Solution
	const dt = 0.05
	now := 0.0
	for i, at := range times {
		for now < at-1e-9 {
			if err := s.Advance(block, q, dt, &d); err != nil {
				t.Fatal(err)
			}
			now += dt
		}
		t.Logf("%g s: %.4f MPa, plain %.4f", at, d.Pressure/1e6, plain[i]/1e6)
		if e := d.Pressure/plain[i] - 1; math.Abs(e) > 0.015 {
			t.Errorf("%g s: %.4f MPa, plain %.4f MPa (%+.2f %%)", at, d.Pressure/1e6, plain[i]/1e6, 100*e)
		}
	}
}

// BenchmarkUnsteady marches 4 s of feeding in steps of 0.05 s.
func BenchmarkUnsteady(b *testing.B) {
	c, block, q := soaked()
	s := march.New(c, march.Options{NoElong: true})
	var d flow.Solution
	for b.Loop() {
		s.Soak(block)
		for range 80 {
			s.Advance(block, q, 0.05, &d)
		}
	}
}

// BenchmarkUnsteadyPlain is the plain form of that, at the resolutions that are compared.
func BenchmarkUnsteadyPlain(b *testing.B) {
	c, block, q := soaked()
	for b.Loop() {
		plainUnsteady(c, block, q, []float64{4})
	}
}
