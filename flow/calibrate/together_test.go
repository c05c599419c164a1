package calibrate

import (
	"testing"

	"gonum.org/v1/gonum/mat"

	"meltload/flow/vary"
)

// Three factors of which two go together closely, and the third with one of them: without its small coefficient with
// the other the three could not hold at once, so that it is kept. Where they can, it is left out.
func TestSmallCorrelationsAreKeptWhereTheyAreNeeded(t *testing.T) {
	q := &vary.Quantity{}
	p := &problem{f: []factor{{id: "a", q: q}, {id: "b", q: q}, {id: "c", q: q}}}
	for _, c := range []struct {
		ac   float64
		want int
	}{{0.16, 3}, {0.12, 2}} {
		m := mat.NewSymDense(3, []float64{4, 2 * 3 * 0.99, 2 * c.ac, 0, 9, 3 * 0.04, 0, 0, 1})
		got := p.together(m)
		if len(got) != c.want || !holdAtOnce(got) {
			t.Errorf("%g: %d coefficients, want %d; hold at once: %v", c.ac, len(got), c.want, holdAtOnce(got))
		}
	}
}
