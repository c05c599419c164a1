package loadcell

import (
	"math"
	"math/rand/v2"
	"testing"

	"meltload/flow/feeder"
)

func analysed(t *testing.T, l *Log, s Settings) *Analysis {
	t.Helper()
	a, err := Analyse(l, s)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The drift of the zero has its size and its sign.
func TestDriftHasItsSign(t *testing.T) {
	for _, drift := range []float64{0.02, -0.02} {
		l := invented(rand.New(rand.NewPCG(5, 6)), 40, 0.05, drift, []float64{60, 61, 62}, feeder.Grind)
		if a := analysed(t, l, Settings{Flows: []float64{5e-9}}); !a.DriftKnown || math.Abs(a.Drift/drift-1) > 0.05 {
			t.Errorf("drift read as %.4f N/s (known: %v), true %.4f N/s", a.Drift, a.DriftKnown, drift)
		}
	}
}

// Without noise the doubt of a peak is what the force may have risen in one more sample: 36 N in 15 s at 10 Hz are 0.24
// N.
func TestPeakErrorIsTheSlopeOverASample(t *testing.T) {
	for fs, want := range map[float64]float64{10: 0.24, 40: 0.06} {
		l := invented(rand.New(rand.NewPCG(7, 8)), fs, 1e-6, 0, []float64{60, 60}, feeder.Grind)
		for _, x := range analysed(t, l, Settings{Flows: []float64{5e-9}}).Tests {
			if math.Abs(x.PeakError/want-1) > 0.1 || math.Abs(x.Peak-60) > 2*want {
				t.Errorf("%g Hz: peak %.3f ± %.4f N, want 60 ± %.4f N", fs, x.Peak, x.PeakError, want)
			}
		}
	}
}

// Repeats that end differently have no one cause.
func TestRepeatsOfDifferingCause(t *testing.T) {
	l := invented(rand.New(rand.NewPCG(9, 1)), 40, 0.1, 0, []float64{60}, feeder.Grind)
	more := invented(rand.New(rand.NewPCG(9, 2)), 40, 0.1, 0, []float64{61}, feeder.Skip)
	from := l.Time[len(l.Time)-1] + l.Step
	for i, x := range more.Time {
		l.Time, l.Force = append(l.Time, from+x), append(l.Force, more.Force[i])
	}
	l.Rows = len(l.Time)
	a := analysed(t, l, Settings{Flows: []float64{5e-9}})
	if len(a.Tests) != 2 || a.Tests[0].Cause != feeder.Grind || a.Tests[1].Cause != feeder.Skip {
		t.Fatalf("tests %+v", a.Tests)
	}
	if g := a.Groups; len(g) != 1 || g[0].N != 2 || g[0].Cause != feeder.Mixed {
		t.Errorf("groups %+v", g)
	}
	same := invented(rand.New(rand.NewPCG(9, 3)), 40, 0.1, 0, []float64{60, 61}, feeder.Skip)
	if g := analysed(t, same, Settings{Flows: []float64{5e-9}}).Groups; len(g) != 1 || g[0].Cause != feeder.Skip {
		t.Errorf("groups of one cause %+v", g)
	}
	// Mean, scatter and interval by hand: 60 and 61 N, standard deviation 0.71 N, Student's t 12.71 for one degree of
	// freedom.
	if g := a.Groups[0]; math.Abs(g.Force-60.5) > 0.5 || math.Abs(g.Half-12.706*g.SD/math.Sqrt2) > 1e-3*g.Half {
		t.Errorf("%.2f N ± %.2f N, scatter %.3f N", g.Force, g.Half, g.SD)
	}
}
