package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials/checks"
)

// manufactured is T = T0 + A (1-x^2)^2 cos(pi z/L) exp(-t/tau), x = r/R, in a tube with u = 2U(1-x^2), and the heat
// source (W/m3) that it needs; kz is the conductivity along the axis, which a march leaves out (0). Method: K. Salari,
// P. Knupp, SAND2000-1444.
func manufactured(T0, A, R, L, tau, rho, cp, k, kz, U float64) (exact, source func(x, z, t float64) float64) {
	shape := func(x, z, t float64) (f, c, s float64) {
		f = 1 - x*x
		g := math.Exp(-t / tau)
		return f, g * math.Cos(math.Pi*z/L), g * math.Sin(math.Pi*z/L)
	}
	exact = func(x, z, t float64) float64 {
		f, c, _ := shape(x, z, t)
		return T0 + A*f*f*c
	}
	source = func(x, z, t float64) float64 {
		f, c, s := shape(x, z, t)
		// (1/r) d/dr (r dT/dr) of (1-x^2)^2 is (-8 + 16 x^2)/R^2.
		return rho*cp*A*f*f*(-c/tau-2*U*f*math.Pi/L*s) - A*(k*(-8+16*x*x)/(R*R)-kz*f*f*math.Pow(math.Pi/L, 2))*c
	}
	return exact, source
}

func TestManufacturedSolutionIsTheKnownOne(t *testing.T) {
	checks.Each(t, "mms_axisym", func(c *checks.Case) {
		exact, source := manufactured(c.In("T0"), c.In("A"), c.In("R"), c.In("Lz"), c.In("tau"), c.In("rho"), c.In("c"),
			c.In("k"), c.In("k"), c.In("U"))
		x, z, at := c.In("r")/c.In("R"), c.In("z"), c.In("t")
		c.Want("T", exact(x, z, at))
		c.Want("source", source(x, z, at))
	})
}

// Manufactured solution T = T0 + A (1 - (r/R)^2)^2 cos(pi z/L) in a tube with
// parabolic flow; the source follows by differentiation. The observed order must be second.
func TestManufacturedSolutionConvergesAtSecondOrder(t *testing.T) {
	const (
		R, L, A, T0 = 1e-3, 20e-3, 40.0, 480.0
		rho, cp, k  = 1200.0, 2000.0, 0.2
		q           = 3e-9
	)
	m := flowtest.Uniform("mms", powerLaw(100, 1), rho, cp, k, 0)
	exact, source := manufactured(T0, A, R, L, math.Inf(1), rho, cp, k, 0, q/(math.Pi*R*R))
	// The inlet must carry the exact profile; march from where it is uniform: cos = 0 at z = L/2.
	shifted := func(x, z float64) float64 { return source(x, z+L/2, 0) }
	var errs []float64
	for _, n := range []int{16, 32, 64} {
		c := tube(m, 2*R, L/2, math.Inf(1), T0)
		s := march.New(c, march.Options{Cells: n, Axial: float64(n) / 16, NoHeat: true, NoElong: true, Fields: true,
			Source: shifted})
		var d flow.Solution
		s.Solve(T0, q, &d)
		f := s.Field
		i := len(f.Z) - 1
		var sum, w, lo float64
		for j := range n {
			r := f.Radius[i*n+j] / R
			// Flow-weighted mean of the exact profile over the cell by three Gauss points.
			var mean, wt float64
			for _, g := range []float64{-0.7745966692, 0, 0.7745966692} {
				x := lo + (r-lo)*(1+g)/2
				gw := 5.0
				if g == 0 {
					gw = 8
				}
				gw *= x * (1 - x*x)
				mean += gw * exact(x, L, 0)
				wt += gw
			}
			e := f.T[i*n+j] - mean/wt
			sum += wt * (r - lo) * e * e
			w += wt * (r - lo)
			lo = r
		}
		errs = append(errs, math.Sqrt(sum/w))
	}
	for i := 1; i < len(errs); i++ {
		if order := math.Log2(errs[i-1] / errs[i]); order < 1.7 {
			t.Errorf("observed order %.2f (errors %v K)", order, errs)
		}
	}
	if errs[2] > 0.05 {
		t.Errorf("error %.3f K at 64 cells", errs[2])
	}
}

// Three grids, halved together: the drop converges at second order and the
// default resolution is within 0.3 % of the limit, over the whole heated table.
func TestGridConvergence(t *testing.T) {
	worst := 0.0
	var d flow.Solution
	for _, row := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(row)
		solve := func(f int) float64 {
			march.New(c, march.Options{Cells: march.DefaultCells * f, Axial: float64(f)}).Solve(T, q, &d)
			return d.Pressure
		}
		p1, p4, p8 := solve(1), solve(4), solve(8)
		limit := p8 + (p8-p4)/3 // Richardson at second order
		worst = max(worst, math.Abs(p1/limit-1))
		if e := p1/limit - 1; math.Abs(e) > 3e-3 {
			t.Errorf("%s: default resolution off by %+.3f %% of the converged drop", row["case"], 100*e)
		}
		if a, b := math.Abs(p4-limit), math.Abs(p1-limit); a > b/2 && a > 5e-4*limit {
			t.Errorf("%s: a fourfold grid leaves %.2g of an error of %.2g", row["case"], a/limit, b/limit)
		}
	}
	t.Logf("largest error at the default resolution: %.3f %%", 100*worst)
}

// The bench's cases, with rod, wetted plug and held melt, are within 0.3 % of a grid eight times as fine along the path
// and four times across.
func TestGridConvergenceOfTheBench(t *testing.T) {
	var a, b flow.Solution
	for _, row := range flowtest.Table("stock", "startup_ratio.csv") {
		c, T, q := flowtest.Startup(row)
		if err := march.New(c, march.Options{}).Solve(T, q, &a); err != nil {
			t.Fatal(err)
		}
		if err := march.New(c, march.Options{Cells: 4 * march.DefaultCells, Axial: 8}).Solve(T, q, &b); err != nil {
			t.Fatal(err)
		}
		e := 100 * (a.Force/b.Force - 1)
		t.Logf("%g degC, %g mm3/s: %.2f N, %+.3f %%", T-273.15, q*1e9, b.Force, e)
		if math.Abs(e) > 0.3 {
			t.Errorf("%g degC, %g mm3/s: off by %+.3f %% of %.2f N", T-273.15, q*1e9, e, b.Force)
		}
	}
}

// A bore cut in two is the same bore: where nothing changes the profile goes on. In a wider second half, or a colder
// one, it begins anew.
func TestAPassageCutInTwo(t *testing.T) {
	c, T, q := flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[1])
	c.HotEnd.Sections[2].Length = 4e-3
	c.EntranceFactor = 1e-9 // its work comes at the end of the passage, which is elsewhere in the halves
	whole := c.HotEnd.Sections
	drop := func(change func(first, second *flow.Section)) float64 {
		d := *c
		d.HotEnd.Sections = append(append([]flow.Section(nil), whole...), whole[2])
		first, second := &d.HotEnd.Sections[2], &d.HotEnd.Sections[3]
		first.Length, second.Length = 2e-3, 2e-3
		change(first, second)
		var r flow.Solution
		if err := march.New(&d, march.Options{}).Solve(T, q, &r); err != nil {
			t.Fatal(err)
		}
		return r.Sections[2].Drop + r.Sections[3].Drop
	}
	var r flow.Solution
	if err := march.New(c, march.Options{}).Solve(T, q, &r); err != nil {
		t.Fatal(err)
	}
	one := r.Sections[2].Drop
	if two := drop(func(_, _ *flow.Section) {}); math.Abs(two/one-1) > 5e-4 {
		t.Errorf("%.4f MPa in one, %.4f MPa in two", one/1e6, two/1e6)
	}
	if two := drop(func(_, b *flow.Section) { b.D1, b.D2 = 0.5e-3, 0.5e-3 }); two > 0.9*one {
		t.Errorf("%.4f MPa with a wider second half, %.4f MPa without", two/1e6, one/1e6)
	}
	cold := func(_, b *flow.Section) { b.Wall = flow.Wall{Fixed: true, Start: T - 40, End: T - 40} }
	if two := drop(cold); two < 1.05*one {
		t.Errorf("%.4f MPa with a colder second half, %.4f MPa without", two/1e6, one/1e6)
	}
}

// What flow spends becomes heat, through two bores side by side as through one: pressure times flow, where the density
// is the same everywhere; without an entrance loss, and with one that is two thirds of it.
func TestWorkOfParallelPassagesIsHeat(t *testing.T) {
	c, T, q := flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[1])
	m := *c.Material
	m.Density.Uniform = true
	c.Material = &m
	c.HotEnd.Sections[2].Channels = 2
	for _, factor := range []float64{1e-9, 8} {
		c.EntranceFactor = factor
		var r flow.Solution
		if err := march.New(c, march.Options{}).Solve(T, q, &r); err != nil {
			t.Fatal(err)
		}
		loss := r.Sections[1].Entrance / r.Pressure
		t.Logf("entrance loss %.0f %% of %.2f MPa", 100*loss, r.Pressure/1e6)
		if factor > 1 && loss < 0.3 {
			t.Errorf("an entrance loss of %.0f %% shows nothing", 100*loss)
		}
		if got, want := r.Viscous, r.Pressure*q; math.Abs(got/want-1) > 2e-3 {
			t.Errorf("%.5f W made by flow, pressure times flow is %.5f W", got, want)
		}
	}
}

// twin is the plain form of the same physics without elongation: fixed radial
// grid, the law itself instead of tables, a bisection for the wall stress, backward Euler.
func twin(c *flow.Case, block, q float64, n, perMM int) (drop float64) {
	m := c.Material
	rho, cp, k := m.Density.Solid, m.Heat.Cp.At(400), m.Conductivity.At(400)
	psi := make([]float64, n+1) // stream function shares on the faces
	T := make([]float64, n)
	for i := range T {
		T[i] = c.Filament.Inlet
		x := float64(i+1) / float64(n)
		psi[i+1] = 1 - math.Pow(1-x, 2)
	}
	r2 := append([]float64(nil), psi...) // (r/R)^2 of the faces, found by iteration
	for si := range c.HotEnd.Sections {
		s := &c.HotEnd.Sections[si]
		steps := int(s.Length*1e3*float64(perMM)) + 1
		tau := 0.0
		for j := range steps {
			R := s.Radius((float64(j) + 0.5) / float64(steps))
			dz := s.Length / float64(steps)
			u := make([]float64, n+1)
			work := make([]float64, n)
			for range 8 { // fixed point between faces and stress
				flowAt := func(tau float64) float64 {
					var sum float64
					for i := n - 1; i >= 0; i-- {
						mid := (r2[i] + r2[i+1]) / 2
						g := m.Viscosity.Rate(tau*math.Sqrt(mid), T[i], 0)
						du := g * R * (r2[i+1] - r2[i]) / (2 * math.Sqrt(mid))
						u[i] = u[i+1] + du
						sum += mid * du
						work[i] = tau * math.Sqrt(mid) * g * math.Pi * R * R * (r2[i+1] - r2[i])
					}
					return math.Pi * R * R * sum
				}
				lo, hi := 1.0, 1e8
				if tau > 0 {
					lo, hi = tau/3, tau*3
				}
				for range 24 {
					tau = math.Sqrt(lo * hi)
					if flowAt(tau) > q {
						hi = tau
					} else {
						lo = tau
					}
				}
				in := 0.0
				next := append([]float64(nil), r2...)
				for i := 1; i < n; i++ {
					in += (u[i-1] + u[i]) / 2 * (r2[i] - r2[i-1]) * math.Pi * R * R / q
					next[i] = r2[i] + 0.5*(psi[i]-in)*q/(math.Pi*R*R*u[i])
				}
				copy(r2, next)
			}
			drop += 2 * tau / R * dz
			// Backward Euler by Gauss-Seidel sweeps on the conduction between cells.
			wall := s.Wall.At(0, block)
			old := append([]float64(nil), T...)
			centre := func(i int) float64 { return r2[i] + (r2[i+1]-r2[i])*(u[i]+2*u[i+1])/(3*(u[i]+u[i+1])) }
			for range 150 {
				for i := range n {
					mc := rho * q * (psi[i+1] - psi[i]) * cp
					num, den := mc*old[i]+work[i]*dz, mc
					if i > 0 {
						g := 4 * math.Pi * k * r2[i] / (centre(i) - centre(i-1)) * dz
						num, den = num+g*T[i-1], den+g
					}
					if i < n-1 {
						g := 4 * math.Pi * k * r2[i+1] / (centre(i+1) - centre(i)) * dz
						num, den = num+g*T[i+1], den+g
					} else {
						g := 2 * math.Pi * R / (R*(1-centre(i))/2/k + 1/s.H) * dz
						num, den = num+g*wall, den+g
					}
					T[i] = num / den
				}
			}
		}
	}
	return drop
}

func TestAgainstTheReadableTwin(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[3])
	var d flow.Solution
	march.New(c, march.Options{NoElong: true}).Solve(T, q, &d)
	// The twin is of first order along the path: extrapolate. From 16 and 8 it is 0.1 % less.
	plain := 2*twin(c, T, q, 20, 12) - twin(c, T, q, 20, 6)
	if e := d.Pressure/plain - 1; math.Abs(e) > 0.01 {
		t.Errorf("marching %.4f MPa, plain twin %.4f MPa (%+.2f %%)", d.Pressure/1e6, plain/1e6, 100*e)
	}
}
