package match

import (
	"math"
	"testing"
)

// A margin of which the logarithm of flow is a parabola: the guess is its zero, whichever neighbour is the third point.
// The margins of the scan are of both signs and unevenly spaced; the third point is the one with the nearer margin.
func TestGuessIsTheZeroOfAParabola(t *testing.T) {
	for _, bend := range []float64{-0.4, 0, 0.3} {
		for name, rooms := range map[string][]float64{
			"the one before": {0.9, 0.5, -0.7, -2.5}, "the one after": {3, 0.6, -0.4, -0.9},
			"only one after": {0.8, -0.3, -1}, "only one before": {2, 0.7, -0.2},
		} {
			const zero = 1.7
			f := &finder{rooms: [][]float64{rooms}}
			i := 0
			for k, y := range rooms {
				f.flows = append(f.flows, math.Exp(zero-0.5*y+bend*y*y))
				if i == 0 && y < 0 {
					i = k
				}
			}
			if got := f.guess(0, i); math.Abs(got-zero) > 1e-12 {
				t.Errorf("%s, bend %g: %g, the parabola is zero at %g", name, bend, got, zero)
			}
		}
	}
	// A third point must be the nearer one: of a curve that is a parabola through the nearer three alone.
	f := &finder{rooms: [][]float64{{5, 0.6, -0.4, -0.9}}}
	for _, y := range f.rooms[0] {
		x := 1.7 - 0.5*y + 0.3*y*y
		if y == 5 {
			x += 40
		}
		f.flows = append(f.flows, math.Exp(x))
	}
	if got := f.guess(0, 2); math.Abs(got-1.7) > 1e-12 {
		t.Errorf("through the nearer neighbour %g, want 1.7", got)
	}
	if got := (&finder{rooms: [][]float64{{1, -1}}, flows: []float64{1, 2}}).guess(0, 1); !math.IsNaN(got) {
		t.Errorf("%g from two points", got)
	}
}
