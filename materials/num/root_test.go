package num

import (
	"math"
	"testing"
)

// The search is quick: no more evaluations than its steps by secant and inverse parabola need. Halving alone takes 40
// for a bracket of 2 to 1e-12.
func TestRootIsQuick(t *testing.T) {
	for _, c := range []struct {
		what string
		f    func(float64) float64
		a, b float64
		want float64
		most int
	}{
		{"a line", func(x float64) float64 { return 3*x - 1 }, 0, 2, 1.0 / 3, 3},
		{"a cubic", func(x float64) float64 { return x*x*x - 2 }, 0, 2, math.Cbrt(2), 9},
		{"a cosine", func(x float64) float64 { return math.Cos(x) - x }, 0, 2, 0.7390851332151607, 8},
		{"an exponential", func(x float64) float64 { return math.Exp(x) - 2 }, 0, 2, math.Ln2, 10},
		{"a hyperbola", func(x float64) float64 { return 1 - 0.3/(x+0.1) }, 0, 2, 0.2, 12},
	} {
		n := 0
		x, err := Root(func(x float64) float64 { n++; return c.f(x) }, c.a, c.b, 1e-12)
		if err != nil || !(math.Abs(x-c.want) <= 1e-11) {
			t.Errorf("%s: %g, want %g (%v)", c.what, x, c.want, err)
		}
		if n > c.most {
			t.Errorf("%s: %d evaluations, more than %d", c.what, n, c.most)
		}
	}
}
