package march

import (
	"math"
	"testing"

	"meltload/materials"
)

// What the tables hold of a material is what its record says, at any temperature: enthalpy and fluidity within a
// hundred thousandth of their range about there, their slopes as central differences have them.
func TestTablesHoldTheMaterial(t *testing.T) {
	for _, id := range []string{"pla", "abs", "pp", "pa66", "tpu"} {
		m, err := materials.Get(id)
		if err != nil {
			t.Fatal(err)
		}
		tab := newTables(m)
		const d = 0.01
		for T := 290.07; T < 570; T += 3.13 {
			c, x := tab.flows(T)
			heat, at := tab.heats(T)
			slope := func(f func(float64) float64) float64 { return (f(T+d) - f(T-d)) / (2 * d) }
			phi := func(T float64) float64 { return m.Viscosity.Fluidity(T, 0) }
			bend := math.Abs(slope(phi))*gridStep + phi(T)
			kink := m.SemiCrystalline() && math.Abs(T-m.Viscosity.MeltLow) < 2 || m.SemiCrystalline() &&
				math.Abs(T-m.Viscosity.MeltHigh) < 2 || math.Abs(T-m.FlowPoint()) < 1
			for what, v := range map[string][3]float64{
				"fluidity":     {c.fluidity(x), phi(T), 1e-3 * bend},
				"enthalpy":     {heat.enthalpy(at), m.Heat.Enthalpy(T), 2},
				"capacity":     {heat.capacity(), slope(m.Heat.Enthalpy), 0.02 * slope(m.Heat.Enthalpy)},
				"conductivity": {heat.conductivity(at), m.Conductivity.At(T), 1e-4},
				"volume":       {heat.volume(at), m.Density.Volume(T, 0), 1e-7},
				"softening":    {c.softening(x), slope(phi), 0.01 * bend},
			} {
				if math.Abs(v[0]-v[1]) > v[2] && !kink {
					t.Errorf("%s at %.2f K: %s %g, the record has %g", id, T, what, v[0], v[1])
				}
			}
			if y := m.Strength(T); !kink && math.Abs(c.strength(x)-y) > 0.02*y {
				t.Errorf("%s at %.2f K: strength %g Pa, the record has %g", id, T, c.strength(x), y)
			}
			if got := tab.temperature(m.Heat.Enthalpy(T), T+5); math.Abs(got-T) > 0.01 && !kink {
				t.Errorf("%s: the enthalpy of %.2f K is found at %.3f K", id, T, got)
			}
		}
		// Beyond the table enthalpy goes on on its end slope, and the rest holds its end values.
		for T, end := range map[float64]float64{materials.TableLow - 20: materials.TableLow,
			materials.TableHigh + 20: materials.TableHigh} {
			heat, at := tab.heats(T)
			if got, want := heat.enthalpy(at), m.Heat.Enthalpy(end)+(T-end)*heat.capacity(); math.Abs(got-want) > 1 {
				t.Errorf("%s at %g K: %g J/kg, want %g", id, T, got, want)
			}
			if got := tab.temperature(heat.enthalpy(at), end); math.Abs(got-T) > 1e-6 {
				t.Errorf("%s: the enthalpy of %g K is found at %g K", id, T, got)
			}
			c, x := tab.flows(T)
			for what, v := range map[string][2]float64{
				"conductivity": {heat.conductivity(at), m.Conductivity.At(end)},
				"volume":       {heat.volume(at), m.Density.Volume(end, 0)},
				"fluidity":     {c.fluidity(x), m.Viscosity.Fluidity(end, 0)},
			} {
				if math.Abs(v[0]/v[1]-1) > 1e-6 {
					t.Errorf("%s at %g K: %s %g, at the end %g", id, T, what, v[0], v[1])
				}
			}
		}
	}
}

// Stations grow in one ratio from the first to the last and end at the end; a cone has even steps of ln R.
func TestGradedStations(t *testing.T) {
	x := graded(1, 10, 100)
	if len(x) != 10 || math.Abs(x[9]-1) > 1e-12 {
		t.Fatalf("%v", x)
	}
	first, last := x[0], x[9]-x[8]
	if math.Abs(last/first-100) > 1e-9 || math.Abs((x[2]-x[1])/(x[1]-x[0])-math.Pow(100, 1.0/9)) > 1e-9 {
		t.Errorf("from %g to %g", first, last)
	}
	if got := graded(0.25, 10, 100); len(got) != 3 || got[2] != 1 {
		t.Errorf("a quarter of them: %v", got)
	}
}

// A gradient averaged over a step: the logarithmic mean in a tube, nearly, and the mean of a power of the radius in a
// cone.
func TestMeanGradientByHand(t *testing.T) {
	if got, want := meanGradient(1, 2, 1, 1), 1/math.Ln2; math.Abs(got/want-1) > 1e-3 {
		t.Errorf("%g, the logarithmic mean is %g", got, want)
	}
	if meanGradient(-1, 3, 1, 1) != 1 || meanGradient(0, 3, 1, 2) != 1.5 {
		t.Error("a gradient that turns is taken half way")
	}
	// R^-n over the steps of a cone, a sixth of ln R, and over a radius that halves.
	for _, row := range []struct{ to, tol float64 }{{math.Exp(-1.0 / 6), 2e-6}, {0.5, 5e-4}} {
		for _, n := range []float64{1, 2, 4, 0.5} {
			want := -math.Log(row.to) / (1 - row.to)
			if n != 1 {
				want = (math.Pow(row.to, 1-n) - 1) / (n - 1) / (1 - row.to)
			}
			if got := meanGradient(1, math.Pow(row.to, -n), 1, row.to); math.Abs(got/want-1) > row.tol {
				t.Errorf("power %g to %g: %g, want %g", n, row.to, got, want)
			}
		}
	}
	// A stream takes up a change of profile by a lag of 0.45 radii.
	lead, trail := uptake(0.45e-3*2, 1e-3)
	if want := 1 - math.Exp(-2); math.Abs(lead-want) > 1e-12 || math.Abs(trail-(1-want/2)) > 1e-12 {
		t.Errorf("%g, %g", lead, trail)
	}
	for x, want := range map[float64]float64{0.1: math.Exp(0.1), -1.5: math.Exp(-1.5), 1.5: math.Exp(1.5)} {
		if got := about(x); math.Abs(got/want-1) > 0.02 {
			t.Errorf("about e^%g: %g", x, got)
		}
	}
	for _, d := range []float64{0.95, 1.04, 4} { // a power law of index 0.4 between two sizes
		if got, want := guess(&geom{size: d}, &geom{size: 1}, 0.4), math.Pow(d, 1.2); math.Abs(got/want-1) > 1e-3 {
			t.Errorf("from %g to 1: %g, want %g", d, got, want)
		}
	}
}

// Conduction through cells by the elimination from both ends is what the matrix says: for any number of cells, content
// and heat, what enters a cell is what its content takes up.
func TestStagesSolveTheirMatrix(t *testing.T) {
	for n := 1; n < 9; n++ {
		s := &Solver{}
		s.ws.init(n)
		from, to := make([]float64, n), make([]float64, n)
		for i := range n {
			s.cp[i], s.heat[i], from[i] = 1500+100*float64(i), 1e-3*float64(i*i), 300+7*float64(i%3)
			s.cond[i+1], s.cond0[i+1] = 2+float64(i), 1+float64(i)
		}
		const dz, mdot, w0, w1 = 2e-3, 5e-6, 480.0, 500.0
		s.stages(dz, mdot, w0, w1, s.cond0, s.cond, from, to)
		// Both stages by hand, each by Gauss-Seidel passes until nothing moves.
		solve := func(share, wall float64, before []float64) (T, flux []float64) {
			T, flux = append([]float64{}, from...), make([]float64, n+1)
			at := func(i int) float64 {
				if i == n {
					return wall
				}
				return T[i]
			}
			k := func(i int) float64 { return gamma * dz * 0.5 * (s.cond0[i] + s.cond[i]) }
			for range 4000 {
				for i := range n {
					m := s.frac[i] * mdot * s.cp[i]
					sum, in := m, m*from[i]+share*s.heat[i]+before[i+1]-before[i]
					if i > 0 {
						sum, in = sum+k(i), in+k(i)*T[i-1]
					}
					T[i] = (in + k(i+1)*at(i+1)) / (sum + k(i+1))
				}
			}
			for i := 1; i <= n; i++ {
				flux[i] = k(i) * (at(i) - T[i-1])
			}
			return T, flux
		}
		_, one := solve(gamma, w0+gamma*(w1-w0), make([]float64, n+1))
		for i := range one {
			one[i] *= (1 - gamma) / gamma
		}
		want, two := solve(1, w1, one)
		for i := range n {
			if math.Abs(to[i]-want[i]) > 1e-6 || math.Abs(s.flux[i+1]-one[i+1]-two[i+1]) > 1e-8 {
				t.Errorf("%d cells, cell %d: %g K, flux %g W; by hand %g K, %g W", n, i, to[i], s.flux[i+1], want[i],
					one[i+1]+two[i+1])
			}
		}
	}
}

// What a time step left at a station is put on the cells of now: all of it, and a straight run of it exactly, but for
// the outermost cells, which are taken as level; no new extremes come up.
func TestContentIsPutOnOtherCells(t *testing.T) {
	const n = 8
	s := &Solver{}
	s.ws.init(n)
	a := &station{face: make([]float64, n+1), h: make([]float64, n), slope: make([]float64, n)}
	for i := range n + 1 {
		x := float64(i) / n
		a.face[i], s.face[i] = x*x, math.Pow(x, 1.3)
	}
	line := func(x float64) float64 { return 5 + 3*x }
	for i := range n {
		a.h[i] = line((a.face[i] + a.face[i+1]) / 2)
	}
	a.lean()
	for i, got := range a.slope {
		want := 3.0
		if i == 0 || i == n-1 {
			want = 0
		}
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("slope of cell %d: %g, want %g", i, got, want)
		}
	}
	h := make([]float64, n)
	a.over(s, h)
	var old, now float64
	for i := range n {
		old += a.h[i] * (a.face[i+1] - a.face[i])
		now += h[i] * (s.face[i+1] - s.face[i])
		lo, hi := s.face[i], s.face[i+1]
		if lo >= a.face[1] && hi <= a.face[n-1] && math.Abs(h[i]-line((lo+hi)/2)) > 1e-9 {
			t.Errorf("cell %d: %g, the line has %g", i, h[i], line((lo+hi)/2))
		}
	}
	if math.Abs(now/old-1) > 1e-12 {
		t.Errorf("%g becomes %g", old, now)
	}
	// A turn has no slope; beside a step the slope stays under twice the lesser difference.
	copy(a.h, []float64{1, 2, 1, 1, 9, 9.1, 9.3, 9.4})
	a.lean()
	if a.slope[1] != 0 || a.slope[3] != 0 || !(a.slope[5] > 0) {
		t.Errorf("%v", a.slope)
	}
	a.over(s, h)
	for i, x := range h {
		if x < 1 || x > 9.4 {
			t.Errorf("cell %d: %g", i, x)
		}
	}
}
