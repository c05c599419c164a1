package loadcell

import (
	"math"
	"math/rand/v2"
	"testing"

	"meltload/flow/feeder"
)

// invented makes a log of pushes to failure: plateau, ramp to a capability, failure, rest. All numbers are made up.
func invented(rng *rand.Rand, fs, noise, drift float64, truth []float64, cause feeder.Cause) *Log {
	l := &Log{Name: "invented", Step: 1 / fs}
	t := 0.0
	put := func(seconds float64, f func(x float64) float64) {
		for i := 0; i < int(seconds*fs); i++ {
			x := float64(i) / fs
			l.Time = append(l.Time, t)
			l.Force = append(l.Force, 3+drift*t+f(x)+noise*rng.NormFloat64())
			t += 1 / fs
		}
	}
	put(4, func(float64) float64 { return 0 })
	for _, force := range truth {
		plateau := 0.4 * force
		put(10, func(x float64) float64 { return plateau * (1 - math.Exp(-x/0.4)) })
		put(15, func(x float64) float64 { return plateau + (force-plateau)*x/15 })
		switch cause {
		case feeder.Grind:
			put(6, func(x float64) float64 { return force * (0.3 + 0.7*math.Exp(-x/0.25)) })
		case feeder.Skip:
			put(6, func(x float64) float64 {
				ph := math.Mod(x*1.3, 1) // slow build-up, sudden fall
				return force * (0.6 + 0.4*ph)
			})
		}
		put(5, func(float64) float64 { return 0 })
	}
	l.Rows = len(l.Time)
	return l
}

func TestCausePlateauAndPeak(t *testing.T) {
	for _, cause := range []feeder.Cause{feeder.Grind, feeder.Skip} {
		for _, fs := range []float64{10, 80} {
			rng := rand.New(rand.NewPCG(1, 2))
			l := invented(rng, fs, 0.3, 0.002, []float64{60, 62}, cause)
			a, err := Analyse(l, Settings{Flows: []float64{5e-9}})
			if err != nil {
				t.Fatal(err)
			}
			if len(a.Tests) != 2 {
				t.Fatalf("%s at %g Hz: %d tests", cause, fs, len(a.Tests))
			}
			if math.Abs(a.Tare-3) > 0.4 || !a.DriftKnown || math.Abs(a.Drift-0.002) > 0.006 {
				t.Errorf("tare %.2f, drift %.4f", a.Tare, a.Drift)
			}
			for i, x := range a.Tests {
				want := []float64{60, 62}[i]
				if x.Cause != cause || !x.Failed() {
					t.Errorf("%s at %g Hz read as %s: %s", cause, fs, x.Cause, x.Why)
				}
				if math.Abs(x.Peak-want) > 2 {
					t.Errorf("%s at %g Hz: peak %.2f, true %.2f", cause, fs, x.Peak, want)
				}
				if x.Last == nil || math.Abs(x.Last.Force-0.4*want) > 1 {
					t.Errorf("%s at %g Hz: plateau %v %v, true %.2f", cause, fs, x.Last != nil, x.Last, 0.4*want)
				}
			}
			p := a.Points(2.4e-6)
			if len(p) != 1 || p[0].Repeats != 2 || p[0].SD <= 0 {
				t.Errorf("points %+v", p)
			}
		}
	}
}

func TestUnclearIsAnAnswer(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	l := invented(rng, 20, 0.3, 0, []float64{50}, "")
	a, err := Analyse(l, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Tests) != 1 || a.Tests[0].Cause != feeder.Mixed {
		t.Errorf("a push that stops at its peak is read as %q: %s", a.Tests[0].Cause, a.Tests[0].Why)
	}
}

// A steady hold is no failure.
func TestHoldIsNoFailure(t *testing.T) {
	l := &Log{Step: 0.1}
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range 400 {
		f := 0.0
		if i > 40 && i < 350 {
			f = 30
		}
		l.Time = append(l.Time, float64(i)/10)
		l.Force = append(l.Force, f+0.2*rng.NormFloat64())
	}
	l.Rows = 400
	a, err := Analyse(l, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Tests) != 1 || a.Tests[0].Failed() || math.Abs(a.Tests[0].Last.Force-30) > 0.3 {
		t.Errorf("%+v", a.Tests)
	}
	if len(a.Groups) != 0 {
		t.Errorf("groups %+v", a.Groups)
	}
}

// The true capability lies within the confidence interval as often as it says, over 200 seeded draws of four repeats.
func TestIntervalsCoverTheTruth(t *testing.T) {
	const truth, scatter = 60.0, 2.5
	inside := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 77))
		forces := make([]float64, 4)
		for i := range forces {
			forces[i] = truth + scatter*rng.NormFloat64()
		}
		cause := feeder.Grind
		if seed%2 == 1 {
			cause = feeder.Skip
		}
		a, err := Analyse(invented(rng, 20, 0.25, 0.001, forces, cause), Settings{Flows: []float64{5e-9}})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Groups) != 1 || a.Groups[0].N != 4 {
			t.Fatalf("seed %d: groups %+v", seed, a.Groups)
		}
		if math.Abs(a.Groups[0].Force-truth) <= a.Groups[0].Half {
			inside++
		}
	}
	// 95 per cent of 200 is 190; three standard deviations of the count are 9.
	if inside < 180 {
		t.Errorf("the truth lies inside %d of 200 intervals", inside)
	}
	t.Logf("%d of 200 inside", inside)
}

func TestAnalysisRefusesWhatItCannotRead(t *testing.T) {
	l := &Log{Step: 0.1, Time: make([]float64, 100), Force: make([]float64, 100)}
	for i := range l.Time {
		l.Time[i] = float64(i) / 10
		l.Force[i] = math.Sin(float64(i))
	}
	if _, err := Analyse(l, Settings{}); err == nil {
		t.Error("noise was analysed")
	}
	if _, err := Analyse(&Log{Step: 1, Time: []float64{0, 1}, Force: []float64{0, 1}}, Settings{}); err == nil {
		t.Error("two rows were analysed")
	}
}
