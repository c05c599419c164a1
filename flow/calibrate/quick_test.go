package calibrate

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// A trace made by the model without noise: the truth, and where a fit with the derivatives of the full resolution ends,
// lie within twice the standard uncertainty of a fit with those of the quick one.
func TestQuickDerivativesFindTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := &casefile.Invented().Setup
	n := s.Clone()
	for id, x := range map[vary.ID]float64{vary.Viscosity: 1.3, vary.Heated: 0.62} {
		q := vary.Must(n, id)
		if err := q.Set(n, x); err != nil {
			t.Fatal(err)
		}
	}
	v := march.New(&n.Case, march.Options{})
	v.Soak(unit.Kelvin(215))
	tr := Trace{Time: []float64{0}, Block: []float64{unit.Kelvin(215)}, Flow: []float64{9e-9},
		Force: []float64{0}, U: 0.2}
	var d flow.Solution
	for k := 1; k <= 60; k++ {
		T := unit.Kelvin(215 - 0.5*math.Max(0, float64(k-20)))
		if err := v.Advance(T, 9e-9, 1, &d); err != nil {
			t.Fatal(err)
		}
		tr.Time, tr.Block = append(tr.Time, float64(k)), append(tr.Block, T)
		tr.Flow, tr.Force = append(tr.Flow, 9e-9), append(tr.Force, d.Push)
	}
	var at [2][]float64
	var u [2][]float64
	var fs []factor
	for i := range at {
		var err error
		if fs, err = factors(s, []Factor{vary.Viscosity, vary.Heated}); err != nil {
			t.Fatal(err)
		}
		p := newProblem(s, nil, fs)
		if err := p.check([]Trace{tr}); err != nil {
			t.Fatal(err)
		}
		if i == 1 {
			p.quick = p.full
		}
		both := []bool{true, true}
		z, err := p.search(t.Context(), both, nil)
		if err != nil {
			t.Fatal(err)
		}
		if at[i], err = p.search(t.Context(), both, z); err != nil {
			t.Fatal(err)
		}
		u[i] = spreads(p.jacobian(at[i]), both)
	}
	for k, f := range fs {
		truth := (f.scale.To(f.q.Get(n)) - f.mid) / f.half
		for _, x := range []float64{truth, at[1][k]} {
			if math.Abs(at[0][k]-x) > 2*u[0][k] {
				t.Errorf("%s: %.4f by quick derivatives, %.4f by full ones, made with %.4f; known within %.4f", f.id,
					at[0][k], at[1][k], truth, u[0][k])
			}
		}
	}
}
