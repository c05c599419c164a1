package loadcell

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// An invented cell of 500 counts per N and zero 1200 comes back from noisy weights, inside its own uncertainty.
func TestCellComesBackFromWeights(t *testing.T) {
	inside, total := 0, 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 7))
		var w []Weight
		for _, m := range []float64{5, 0, 1, 2, 3, 4} { // in any order
			read := func() float64 { return 1200 + 500*m*Gravity + 20*rng.NormFloat64() }
			w = append(w, Weight{m, read(), read(), true})
		}
		c, err := FitCell(w, Gravity)
		if err != nil {
			t.Fatal(err)
		}
		total++
		if math.Abs(c.PerCount-1.0/500) < TQuantile(0.975, 10)*c.UPerCount {
			inside++
		}
		if math.Abs(c.Span-5*Gravity) > 1e-9 || math.Abs(c.Zero-1200) > 100 || math.Abs(c.Check.Nonlinearity) > 0.01 ||
			c.Resid > 0.15 || c.UAtSpan < c.Resid {
			t.Fatalf("seed %d: %+v", seed, c)
		}
	}
	if inside < 180 || inside > 199 { // 95 per cent of 200, four standard deviations wide
		t.Errorf("the truth lies inside %d of %d intervals of 95 per cent", inside, total)
	}
}

func TestCellRefuses(t *testing.T) {
	if _, err := FitCell([]Weight{{0, 1, 0, false}, {1, 2, 0, false}, {1, 2, 0, false}}, Gravity); err == nil {
		t.Error("two weights were accepted")
	}
	if _, err := FitCell([]Weight{{0, 1, 0, false}, {1, 9, 0, false}, {2, 1, 0, false}}, Gravity); err == nil {
		t.Error("readings that do not follow the weights were accepted")
	}
	if _, err := FitCell([]Weight{{0, 5, 0, false}, {1, 5, 0, false}, {2, 5, 0, false}}, Gravity); err == nil {
		t.Error("a dead cell was accepted")
	}
	_, err := ReadWeights("w.csv", strings.NewReader("mass_kg,up\n0,1\n-1,x\n"))
	if err == nil || strings.Count(err.Error(), "w.csv:3") != 2 {
		t.Errorf("got %v", err)
	}
	w, err := ReadWeights("w.csv", strings.NewReader("mass_kg,up,down\n0,1,2\n1,5,\n"))
	if err != nil || len(w) != 2 || !w[0].HasDown || w[1].HasDown || w[1].Up != 5 {
		t.Errorf("%+v %v", w, err)
	}
}
