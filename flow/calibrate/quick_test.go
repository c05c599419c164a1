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

// A trace made by the model without noise: where a fit with the quick derivatives ends, the sum of squares by the full
// forces lies above that of the truth, and of the end of a fit with full derivatives, by no more than it does at twice
// the standard uncertainty, which is 4.
func TestQuickDerivativesFindTheTruth(t *testing.T) {
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
	var sums [2]float64
	var p *problem
	var fs []factor
	for i := range at {
		var err error
		if fs, err = factors(s, []Factor{vary.Viscosity, vary.Heated}); err != nil {
			t.Fatal(err)
		}
		p = newProblem(s, nil, fs)
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
		sums[i] = p.sum(&p.full, at[i])
	}
	truth := make([]float64, len(fs))
	for k, f := range fs {
		truth[k] = (f.scale.To(f.q.Get(n)) - f.mid) / f.half
	}
	if least := math.Min(p.sum(&p.full, truth), sums[1]); sums[0] > least+4 {
		t.Errorf("sum of squares %.2f at %.3f by quick derivatives, %.2f at %.3f by full ones, %.2f at the truth %.3f",
			sums[0], at[0], sums[1], at[1], p.sum(&p.full, truth), truth)
	}
}
