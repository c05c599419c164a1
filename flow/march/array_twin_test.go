package march_test

import (
	"math"
	"sort"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack"
	lapackgonum "gonum.org/v1/gonum/lapack/gonum"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// arrays is the plain form as it is written in a language of whole arrays: every expression over the cells of a station
// makes an array of its own, the law is a table looked up by interpolation, the wall stress comes by Newton's method
// from the station before, conduction is one banded solution. It is what a careful programmer would time against.
type arrays struct {
	lnTau, lnRate []float64 // of the law at a fluidity of 1
}

// over makes a new array of a function of the elements of one.
func over(x []float64, f func(float64) float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = f(v)
	}
	return y
}

func times(a, b []float64) []float64 { return floats.MulTo(make([]float64, len(a)), a, b) }

func scaledBy(f float64, a []float64) []float64 { return floats.ScaleTo(make([]float64, len(a)), f, a) }

func diff(a []float64) []float64 { return floats.SubTo(make([]float64, len(a)-1), a[1:], a[:len(a)-1]) }

// means are the middles of neighbours.
func means(a []float64) []float64 {
	return scaledBy(0.5, floats.AddTo(make([]float64, len(a)-1), a[1:], a[:len(a)-1]))
}

// outside sums from the last to each, with nothing beyond the last.
func outside(a []float64) []float64 {
	s := make([]float64, len(a)+1)
	for i := len(a) - 1; i >= 0; i-- {
		s[i] = s[i+1] + a[i]
	}
	return s
}

func newArrays(c *flow.Case) *arrays {
	a := &arrays{lnTau: floats.Span(make([]float64, 4000), math.Log(1e-2), math.Log(1e9))}
	a.lnRate = over(a.lnTau, func(l float64) float64 { return math.Log(c.Material.Viscosity.Reduced(math.Exp(l))) })
	return a
}

// rate is the shear rate at stresses, with fluidities.
func (a *arrays) rate(tau, phi []float64) []float64 {
	step := a.lnTau[1] - a.lnTau[0]
	return times(phi, over(over(tau, math.Log), func(l float64) float64 {
		i := min(max(sort.SearchFloat64s(a.lnTau, l)-1, 0), len(a.lnTau)-2)
		w := (l - a.lnTau[i]) / step
		return math.Exp(a.lnRate[i] + w*(a.lnRate[i+1]-a.lnRate[i]))
	}))
}

// drop marches a case with n cells and so many steps a millimetre, of first order along the path.
func (a *arrays) drop(c *flow.Case, block, q float64, n, perMM int) float64 {
	m := c.Material
	rho, cp, k := m.Density.Solid, m.Heat.Cp.At(400), m.Conductivity.At(400)
	x := floats.Span(make([]float64, n+1), 0, 1)
	psi := over(x, func(x float64) float64 { return 1 - (1-x)*(1-x) })
	share := diff(psi)
	r2 := append([]float64(nil), psi...)
	T := over(share, func(float64) float64 { return c.Filament.Inlet })
	total, tau := 0.0, 1e4
	for si := range c.HotEnd.Sections {
		s := &c.HotEnd.Sections[si]
		steps := int(s.Length*1e3*float64(perMM)) + 1
		dz := s.Length / float64(steps)
		for j := range steps {
			R := s.Radius((float64(j) + 0.5) / float64(steps))
			area := math.Pi * R * R
			phi := over(T, func(T float64) float64 { return m.Viscosity.Fluidity(T, 0) })
			var u, work []float64
			for range 3 { // faces and stress in turn
				mid := means(r2)
				root := over(mid, math.Sqrt)
				width := times(diff(r2), over(root, func(r float64) float64 { return R / 2 / r }))
				flowAt := func(tau float64) (float64, []float64) {
					du := times(a.rate(scaledBy(tau, root), phi), width)
					return area * floats.Dot(mid, du), du
				}
				var du []float64
				for range 30 {
					var got float64
					got, du = flowAt(tau)
					if math.Abs(got/q-1) < 1e-6 {
						break
					}
					more, _ := flowAt(tau * 1.001)
					tau *= math.Exp(max(-1, min(1, math.Log(q/got)/(math.Log(more/got)/math.Log(1.001)))))
				}
				u = outside(du)
				work = scaledBy(2*area*tau/R, times(mid, du)) // stress times rate times area of the ring
				inside := floats.CumSum(make([]float64, n), scaledBy(area/q, times(means(u), diff(r2))))
				for i := 1; i < n; i++ {
					r2[i] += 0.7 * (psi[i] - inside[i-1]) * q / (area * u[i])
				}
			}
			total += 2 * tau / R * dz
			T = conduct(T, share, r2, u, work, rho*q*cp, k, R, s.H, s.Wall.At(0, block), dz)
		}
	}
	return total
}

// conduct takes the temperatures over a step by backward Euler: one tridiagonal solution (LAPACK's dgtsv).
func conduct(T, share, r2, u, work []float64, capacity, k, R, h, wall, dz float64) []float64 {
	n := len(T)
	inner, outer := u[:n], u[1:]
	centre := make([]float64, n)
	for i := range centre {
		centre[i] = r2[i] + (r2[i+1]-r2[i])*(inner[i]+2*outer[i])/(3*(inner[i]+outer[i]))
	}
	between := scaledBy(-4*math.Pi*k*dz, floats.DivTo(make([]float64, n-1), r2[1:n], diff(centre)))
	film := 2 * math.Pi * R * dz / (R*(1-centre[n-1])/2/k + 1/h)
	d := scaledBy(capacity, share)
	b := floats.AddTo(make([]float64, n), times(d, T), scaledBy(dz, work))
	floats.Sub(d[:n-1], between)
	floats.Sub(d[1:], between)
	d[n-1] += film
	b[n-1] += film * wall
	var l lapack.Float64 = lapackgonum.Implementation{}
	impl := l.(lapackgonum.Implementation)
	impl.Dgtsv(n, 1, append([]float64(nil), between...), d, append([]float64(nil), between...), b, 1)
	return b
}

// The form of whole arrays meets the solver within 1 per cent at the resolution at which it is timed.
func TestAgainstTheTwinOfArrays(t *testing.T) {
	for _, i := range []int{3, 4} {
		c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[i])
		var d flow.Solution
		march.New(c, march.Options{NoElong: true}).Solve(T, q, &d)
		a := newArrays(c)
		got := 2*a.drop(c, T, q, 20, 12) - a.drop(c, T, q, 20, 6)
		if e := got/d.Pressure - 1; math.Abs(e) > 0.01 {
			t.Errorf("arrays %.4f MPa, solver %.4f MPa (%+.2f %%)", got/1e6, d.Pressure/1e6, 100*e)
		}
	}
}

// BenchmarkArrays is the form of whole arrays on the case of BenchmarkSolve.
func BenchmarkArrays(b *testing.B) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	a := newArrays(c)
	for b.Loop() {
		_ = 2*a.drop(c, T, q, 20, 12) - a.drop(c, T, q, 20, 6)
	}
}
