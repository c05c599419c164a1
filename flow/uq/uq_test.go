package uq

import (
	"context"
	"math"
	"testing"
)

// The check values and their sources are in testdata/checks.json. Indices are estimated from samples, so the
// tolerance is that of the estimator at this number of points.

func TestDistributionsHaveTheirQuantiles(t *testing.T) {
	in := []Input{Normal("n", "", 10, 2), LogNormal("l", "", 1, 1.5), LogUniform("u", "", 100, 10000), Fixed("f", 3)}
	x := Draw(in, 1<<13, 7)
	for _, c := range []struct {
		j       int
		p, want float64
	}{{0, 0.5, 10}, {0, 0.97725, 14}, {1, 0.5, 1}, {1, 0.97725, 1.5}, {1, 0.02275, 1 / 1.5}, {2, 0.5, 1000},
		{2, 0.25, math.Pow(10, 2.5)}, {3, 0.3, 3}} {
		if got := Quantiles(Column(x, c.j), c.p)[0]; math.Abs(got/c.want-1) > 0.01 {
			t.Errorf("%s at %g: %.4g, want %.4g", in[c.j].Name, c.p, got, c.want)
		}
	}
}

func TestSeedMakesItTheSameAgain(t *testing.T) {
	in := []Input{Normal("a", "", 0, 1), Normal("b", "", 0, 1)}
	a, b, c := Draw(in, 100, 3), Draw(in, 100, 3), Draw(in, 100, 4)
	same, other := true, true
	for i := range a {
		for j := range a[i] {
			same = same && a[i][j] == b[i][j]
			other = other && a[i][j] == c[i][j]
		}
	}
	if !same || other {
		t.Errorf("same seed same points: %v; other seed same points: %v", same, other)
	}
}

func TestRankCorrelation(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5}
	if r := RankCorrelation(x, []float64{1, 8, 27, 64, 125}); math.Abs(r-1) > 1e-12 {
		t.Error(r)
	}
	if r := RankCorrelation(x, []float64{5, 4, 3, 2, 1}); math.Abs(r+1) > 1e-12 {
		t.Error(r)
	}
	if r := RankCorrelation(x, []float64{2, 2, 2, 2, 2}); r != 0 {
		t.Error(r)
	}
}

func TestRunStopsWhenToldTo(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	_, err := Run(ctx, Draw([]Input{Fixed("a", 1)}, 10000, 1), func() func([]float64) []float64 {
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
