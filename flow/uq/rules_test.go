package uq

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
)

// Ranks from 0, ties share the mean of theirs; a rising function keeps them, a falling one turns them.
func TestRanks(t *testing.T) {
	if got, want := ranks([]float64{5, 1, 5, 3, 5}), []float64{3, 0, 3, 1, 3}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	x := []float64{3, 1, 4, 1.5, 9, 2.6}
	up, down := make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		up[i], down[i] = math.Exp(v), 1/v
	}
	for _, c := range []struct {
		y    []float64
		want float64
	}{{up, 1}, {down, -1}, {make([]float64, len(x)), 0}} {
		got := RankCorrelation(x, c.y)
		if !(math.Abs(got-c.want) <= 1e-12) {
			t.Errorf("%g, want %g", got, c.want)
		}
	}
}

// Progress is told at every 64th sample, as a share of all, and never when nobody asks.
func TestProgress(t *testing.T) {
	samples := make([][]float64, 130)
	worker := func() func(x []float64) []float64 { return func([]float64) []float64 { return []float64{1} } }
	var got []float64
	if _, err := Run(context.Background(), samples, worker, func(x float64) { got = append(got, x) }); err != nil {
		t.Fatal(err)
	}
	slices.Sort(got)
	if want := []float64{64.0 / 130, 128.0 / 130}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if out, err := Run(context.Background(), samples, worker, nil); err != nil || len(out) != 130 || out[129][0] != 1 {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Run(ctx, samples, worker, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// The points lie within the unit cube, its ends left out, each coordinate on its own.
func TestPointsAreInside(t *testing.T) {
	p := Points(4096, 2, 3)
	for i := range 4096 {
		for j := range 2 {
			if x := p.At(i, j); !(x >= 1e-9 && x <= 1-1e-9) {
				t.Fatalf("point %d: %g", i, x)
			}
		}
	}
}

// Only the ends are moved, by a billionth: the normal distribution has six standard deviations there.
func TestEndsAreMovedInside(t *testing.T) {
	for x, want := range map[float64]float64{0: 1e-9, 1: 0.999999999, 0.25: 0.25, 1e-8: 1e-8, 1 - 1e-8: 1 - 1e-8} {
		if got := inside(x); got != want {
			t.Errorf("%g becomes %.12g, want %.12g", x, got, want)
		}
	}
}

// Quantiles of 1 to 5 by hand: linear in the empirical distribution, which is i/5 at i.
func TestQuantilesByHand(t *testing.T) {
	got := Quantiles([]float64{5, 3, 1, 2, 4}, 0.2, 0.5, 0.9, 1)
	if want := []float64{1, 2.5, 4.5, 5}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
