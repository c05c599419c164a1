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
// itself, a bisection for the wall stress, profiles renewed every tenth of a second. It returns the pressure drop at
// each of the times (s).
func unsteadyTwin(c *flow.Case, block, q float64, nr, nz int, times []float64) []float64 {
	m, s := c.Material, &c.HotEnd.Sections[0]
	rho, cp, k := m.Density.Solid, m.Heat.Cp.At(400), m.Conductivity.At(400)
	R, dz := s.D1/2, s.Length/float64(nz)
	dr := R / float64(nr)
	ring := func(i int) float64 { return math.Pi * dr * dr * float64(2*i+1) } // area
	T, flows, work := make([][]float64, nz), make([][]float64, nz), make([][]float64, nz)
	tau := make([]float64, nz)
	for j := range T {
		T[j], flows[j], work[j] = make([]float64, nr), make([]float64, nr), make([]float64, nr)
		for i := range T[j] {
			T[j][i] = block
		}
		tau[j] = 1e5
	}
	profile := func(j int) {
		total := func(tau float64) float64 {
			var u, sum float64
			for i := nr - 1; i >= 0; i-- {
				x := (float64(i) + 0.5) / float64(nr)
				g := m.Viscosity.Rate(tau*x, T[j][i], 0)
				flows[j][i] = (u + g*dr/2) * ring(i)
				work[j][i] = tau * x * g
				u += g * dr
				sum += flows[j][i]
			}
			return sum
		}
		lo, hi := tau[j]/1.5, tau[j]*1.5
		for total(lo) > q {
			lo /= 2
		}
		for total(hi) < q {
			hi *= 2
		}
		for range 30 {
			if tau[j] = math.Sqrt(lo * hi); total(tau[j]) > q {
				hi = tau[j]
			} else {
				lo = tau[j]
			}
		}
		for i, f := 0, q/total(tau[j]); i < nr; i++ {
			flows[j][i] *= f
		}
	}
	// The flow of a ring at the upstream face of slab j.
	at := func(j, i int) float64 {
		switch j {
		case 0:
			return flows[0][i]
		case nz:
			return flows[nz-1][i]
		}
		return (flows[j-1][i] + flows[j][i]) / 2
	}
	const renew = 0.1
	dt := 0.2 * dr * dr * rho * cp / k
	dt = math.Min(dt, 0.3*dz*R*R/q*math.Pi/2)
	dt = renew / math.Ceil(renew/dt)
	var out []float64
	next := make([][]float64, nz)
	for j := range next {
		next[j] = make([]float64, nr)
	}
	for step := 0; len(out) < len(times); step++ {
		if step%int(renew/dt+0.5) == 0 {
			for j := range nz {
				profile(j)
			}
		}
		for float64(step)*dt >= times[len(out)]-1e-9 {
			drop := 0.0
			for j := range nz {
				drop += 2 * tau[j] / R * dz
			}
			if out = append(out, drop); len(out) == len(times) {
				return out
			}
		}
		for j := range nz {
			outward := 0.0 // volume through the ring's inner face
			for i := range nr {
				t := T[j][i]
				up := c.Filament.Inlet
				if j > 0 {
					up = T[j-1][i]
				}
				heat := rho*cp*(at(j, i)*up-at(j+1, i)*t) + work[j][i]*ring(i)*dz
				if i > 0 {
					x := T[j][i-1]
					if outward < 0 {
						x = t
					}
					heat += rho*cp*outward*x + k*2*math.Pi*dr*float64(i)*dz*(T[j][i-1]-t)/dr
				}
				outward += at(j, i) - at(j+1, i)
				if i < nr-1 {
					x := t
					if outward < 0 {
						x = T[j][i+1]
					}
					heat += -rho*cp*outward*x + k*2*math.Pi*dr*float64(i+1)*dz*(T[j][i+1]-t)/dr
				} else {
					heat += 2 * math.Pi * R * dz * (s.Wall.At(0, block) - t) / (dr/2/k + 1/s.H)
				}
				next[j][i] = t + dt*heat/(rho*cp*ring(i)*dz)
			}
		}
		T, next = next, T
	}
	return out
}

// plainUnsteady takes the twin to its limit: it is of second order in the rings' width and, upwind, of first in the
// slabs' length.
func plainUnsteady(c *flow.Case, block, q float64, times []float64) []float64 {
	a, b, fine := unsteadyTwin(c, block, q, 16, 16, times), unsteadyTwin(c, block, q, 24, 16, times),
		unsteadyTwin(c, block, q, 24, 32, times)
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
