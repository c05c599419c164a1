package mould

import (
	"math"
	"testing"
)

func TestFrozen(t *testing.T) {
	p := &Profile{Face: []float64{0.25, 0.5, 0.75, 1}, T: [][]float64{{480, 470, 420, 350}, {480, 470, 460, 450},
		{400, 390, 380, 350}}}
	for j, want := range []float64{0.5, 0, 1} {
		if got := p.Frozen(j, 450); math.Abs(got-want) > 1e-15 {
			t.Errorf("station %d: %g, want %g", j, got, want)
		}
	}
}
