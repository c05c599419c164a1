package uq

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The check values and their sources are in testdata/checks.json. Indices are estimated from samples, so the
// tolerance is that of the estimator at this number of points.

// The coordinates of the points are even: their quantiles are the shares, also once they are turned into others.
func TestPointsAreEven(t *testing.T) {
	const n = 1 << 13
	p := Points(n, 3, 7)
	for j := range 3 {
		x := mat.Col(nil, j, p)
		for _, share := range []float64{0.02275, 0.25, 0.5, 0.97725} {
			if got := Quantiles(x, share)[0]; !(math.Abs(got-share) <= 0.002) {
				t.Errorf("coordinate %d at %g: %.4g", j, share, got)
			}
		}
		for i := range x { // two standard deviations are a factor of 1.5
			x[i] = math.Exp(math.Log(1.5) / 2 * distuv.UnitNormal.Quantile(x[i]))
		}
		if got := Quantiles(x, 0.97725)[0]; !(math.Abs(got/1.5-1) <= 0.01) {
			t.Errorf("coordinate %d: the upper end of a factor of 1.5 at %.4g", j, got)
		}
	}
}

func TestSeedMakesItTheSameAgain(t *testing.T) {
	a, b, c := Points(100, 2, 3), Points(100, 2, 3), Points(100, 2, 4)
	if same, other := mat.Equal(a, b), mat.Equal(a, c); !same || other {
		t.Errorf("same seed same points: %v; other seed same points: %v", same, other)
	}
}

func TestRankCorrelation(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5}
	if r := RankCorrelation(x, []float64{1, 8, 27, 64, 125}); !(math.Abs(r-1) <= 1e-12) {
		t.Error(r)
	}
	if r := RankCorrelation(x, []float64{5, 4, 3, 2, 1}); !(math.Abs(r+1) <= 1e-12) {
		t.Error(r)
	}
	if r := RankCorrelation(x, []float64{2, 2, 2, 2, 2}); r != 0 {
		t.Error(r)
	}
}

func TestRunStopsWhenToldTo(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	_, err := Run(ctx, make([][]float64, 10000), func() func([]float64) []float64 {
		return func(x []float64) []float64 { return x }
	}, func(float64) {
		if n++; n == 3 {
			cancel()
		}
	})
	if err != context.Canceled {
		t.Errorf("got %v", err)
	}
}
