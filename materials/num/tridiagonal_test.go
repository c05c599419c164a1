package num

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// Any diagonally dominant system is solved as by gonum's dense solver.
func TestTridiagonal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "n")
		num := rapid.Float64Range(-1, 1)
		lo, di, up, rh, x := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n),
			make([]float64, n)
		a, b := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
		for i := range n {
			lo[i], up[i], rh[i] = num.Draw(t, "lo"), num.Draw(t, "up"), num.Draw(t, "rh")
			di[i] = 2.1 + math.Abs(num.Draw(t, "di"))
			a.Set(i, i, di[i])
			b.SetVec(i, rh[i])
			if i > 0 {
				a.Set(i, i-1, lo[i])
			}
			if i+1 < n {
				a.Set(i, i+1, up[i])
			}
		}
		var want mat.VecDense
		if err := want.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		Tridiagonal(lo, di, up, rh, x)
		for i := range n {
			if !(math.Abs(x[i]-want.AtVec(i)) <= 1e-12) {
				t.Fatalf("x[%d] = %g, gonum %g", i, x[i], want.AtVec(i))
			}
		}
	})
}
