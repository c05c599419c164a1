package march

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/materials"
)

// soften returns a solver of a library material in a bore with a cone, and a block temperature (K) in the middle of the
// material's window.
func soften(t *testing.T, id string, h flow.HotEnd) (*Solver, float64) {
	t.Helper()
	m, err := materials.Get(id)
	if err != nil {
		t.Fatal(err)
	}
	return New(flowtest.Free(m, h), Options{}), (m.Window[0] + m.Window[1]) / 2
}

// How far the rod is marched changes none of its stations: it ends one beyond the enthalpy that it was asked for, or
// where it cannot stand.
func TestRodIsTheSameHoweverFar(t *testing.T) {
	s, block := soften(t, "pla", flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, flow.DefaultWettedH))
	m := s.c.Material
	var r flow.Solution
	s.begin(block, 10e-9, 0, &r)
	near, far := m.Heat.Enthalpy(320), m.Heat.Enthalpy(335)
	s.reachRod(near)
	n := s.rod.n
	if s.rod.whole || s.rod.bulk[n-2] < near || s.rod.bulk[n-3] >= near {
		t.Fatalf("%d stations, the last at %.6g J/kg, for %.6g: want one beyond it", n, s.rod.bulk[:n], near)
	}
	x, h := slices.Clone(s.rod.x[:n]), slices.Clone(s.rod.h[:n*s.n])
	s.reachRod(m.Heat.Enthalpy(310)) // it has been there
	if s.rod.n != n {
		t.Errorf("%d stations after a nearer place, want the %d there were", s.rod.n, n)
	}
	s.reachRod(far)
	if k := s.rod.n; k <= n || s.rod.bulk[k-2] < far || s.rod.bulk[k-3] >= far {
		t.Errorf("%d stations after a farther place, want one beyond it and more than %d", k, n)
	}
	if !slices.Equal(x, s.rod.x[:n]) || !slices.Equal(h, s.rod.h[:n*s.n]) {
		t.Error("the stations of the shorter rod are others in the longer one")
	}
	s.reachRod(m.Heat.Enthalpy(m.Softens(0) + 50))
	n = s.rod.n
	if end := m.Heat.Enthalpy(m.Softens(0)); !s.rod.whole || s.rod.bulk[n-1] < end || s.rod.bulk[n-2] >= end {
		t.Error("the rod does not end at the first station where it gives way under no load")
	}
}

// The look ahead cuts the rod of the march it looks for: on its own cells the state has the bulk enthalpy at which the
// rod gives way, and no cell is hotter or colder than those of the rod.
func TestLookAheadCutsTheSameRod(t *testing.T) {
	s, block := soften(t, "pla", flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, flow.DefaultWettedH))
	var r flow.Solution
	s.begin(block, 10e-9, 0, &r)
	f := s.coarse
	f.begin(block, 10e-9, 0, &f.glance)
	target := s.c.Material.Heat.Enthalpy(330)
	s.reachRod(target)
	i, x := f.cutRod(target)
	place := f.z
	if got := f.bulkEnthalpy(); math.Abs(got-target) > 1e-9*target {
		t.Errorf("bulk enthalpy of the look ahead %.9g J/kg, want %.9g", got, target)
	}
	j, y := s.cutRod(target)
	if i != j || x != y || place != s.z || place <= 0 {
		t.Errorf("cut at %g m, fraction %g of section %d; the march cuts it at %g m, %g of %d", place, x, i, s.z, y, j)
	}
	if f.T[0] < s.T[0] || f.T[f.n-1] > s.T[s.n-1] || f.T[f.n-1] < s.T[s.n-2] {
		t.Errorf("cells of %.6g K between %.6g and %.6g in the middle and at the wall", f.T[:f.n], s.T[0], s.T[s.n-1])
	}
}

// Content put on cells of other shares: halves that hold 1 and 3 give a quarter of 1 and three quarters of (1/4 + 3/2)
// over 3/4. On any cells nothing is lost and nothing lies beyond what there was.
func TestRegroup(t *testing.T) {
	out := make([]float64, 2)
	regroup([]float64{1, 3}, []float64{0.5, 0.5}, out, []float64{0.25, 0.75})
	if out[0] != 1 || math.Abs(out[1]-7./3) > 1e-15 {
		t.Errorf("%v, want 1 and 7/3", out)
	}
	shares := func(t *rapid.T, name string) []float64 {
		s := rapid.SliceOfN(rapid.Float64Range(0.01, 1), 1, 20).Draw(t, name)
		sum := 0.0
		for _, x := range s {
			sum += x
		}
		for i := range s {
			s[i] /= sum
		}
		return s
	}
	rapid.Check(t, func(t *rapid.T) {
		from, to := shares(t, "from"), shares(t, "to")
		held := rapid.SliceOfN(rapid.Float64Range(-1, 5), len(from), len(from)).Draw(t, "held")
		mean := make([]float64, len(to))
		regroup(held, from, mean, to)
		var before, after float64
		for i, x := range held {
			before += x * from[i]
		}
		for i, x := range mean {
			after += x * to[i]
			if x < slices.Min(held)-1e-9 || x > slices.Max(held)+1e-9 {
				t.Errorf("%g of %v", x, held)
			}
		}
		if math.Abs(after-before) > 1e-9 {
			t.Errorf("%g held before, %g after", before, after)
		}
	})
}

// What the tolerance of the softening temperature leaves in the push: within 0.1 % of that at which strength and push
// are equal to a ten thousandth of a kelvin, found by steps of its own.
func TestSofteningLeavesThePush(t *testing.T) {
	var worst, most float64
	for _, h := range []flow.HotEnd{
		flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, flow.DefaultWettedH),
		flowtest.Nozzle(2e-3, 12e-3, 90, 0.6e-3, 1.2e-3, flow.DefaultWettedH),
	} {
		for _, id := range []string{"abs", "asa", "pla", "pc", "pa12", "pa66", "pom", "peek"} {
			s, block := soften(t, id, h)
			for q := 2e-9; q < 30e-9; q *= 1.5 {
				var d, exact flow.Solution
				if err := s.Solve(block, q, &d); err != nil {
					t.Fatal(err)
				}
				T, miss := d.Stretches.Softening, 0.0
				exact = d
				for range 60 {
					miss = s.c.Material.Softens(exact.Force/s.c.Area()) - T
					if math.Abs(miss) < 1e-4 || d.Stretches.Solid {
						break
					}
					T += 0.5 * miss
					if err := s.pass(block, q, d.Pressure, T, &exact); err != nil {
						t.Fatal(err)
					}
				}
				if math.Abs(miss) > 0.01 {
					continue // nothing between two guesses: the push jumps there
				}
				e := math.Abs(d.Force/exact.Force - 1)
				worst, most = math.Max(worst, e), math.Max(most, math.Abs(T-d.Stretches.Softening))
				if e > 1e-3 {
					t.Errorf("%s at %.3g mm3/s: %.5g N, at the root %.5g", id, q*1e9, d.Force, exact.Force)
				}
			}
		}
	}
	t.Logf("push within %.3f %%, softening temperature within %.3f K", 100*worst, most)
	if most > softTolerance {
		t.Errorf("a softening temperature is off by %.3f K", most)
	}
}
