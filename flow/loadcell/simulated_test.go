package loadcell_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/transient"
)

// Invented logs: the simulated trace of a heater-off run, cut where it meets a capability drawn at random, a failure,
// noise, written as the text of a logger and read back. The capability's mean must lie within its
// confidence interval as often as that says, over 200 seeded draws of three repeats.
func TestSimulatedLogsGiveBackTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	c := casefile.Invented()
	q := 5e-9
	run := transient.Run{Case: &c.Case, Block: c.Block, Step: 0.1, Column: 0.05,
		Phases: []transient.Phase{{Duration: 20, Flow: q}, {Duration: 200, Flow: q, Heating: transient.Off}}}
	tr, err := run.Play(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	const truth, scatter, noise, fs = 55.0, 2.0, 0.25, 10.0
	if top := tr.Samples[len(tr.Samples)-1].Force; top < truth+5*scatter {
		t.Fatalf("the trace reaches only %.0f N", top)
	}
	inside := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 31))
		var b strings.Builder
		b.WriteString("# invented: simulated trace, random capability, noise\ntime_s,force_N\n")
		now := 0.0
		put := func(f float64) {
			fmt.Fprintf(&b, "%.2f,%.3f\n", now, 2.5+f+noise*rng.NormFloat64())
			now += 1 / fs
		}
		for range 50 {
			put(0)
		}
		for range 3 {
			limit := truth + scatter*rng.NormFloat64()
			for _, x := range tr.Samples {
				if x.Force > limit {
					break
				}
				put(x.Force)
			}
			for i := range 50 {
				s := float64(i) / fs
				if seed%2 == 0 {
					put(limit * (0.3 + 0.7*math.Exp(-s/0.2)))
				} else {
					put(limit * (0.6 + 0.4*math.Mod(s*1.1, 1)))
				}
			}
			for range 40 {
				put(0)
			}
		}
		l, err := loadcell.Parse("invented.csv", []byte(b.String()), loadcell.Format{})
		if err != nil {
			t.Fatal(err)
		}
		a, err := loadcell.Analyse(l, loadcell.Settings{Flows: []float64{q}})
		if err != nil {
			t.Fatal(err)
		}
		want := feeder.Grind
		if seed%2 == 1 {
			want = feeder.Skip
		}
		if len(a.Groups) != 1 || a.Groups[0].N != 3 || a.Groups[0].Cause != want {
			t.Fatalf("seed %d: %+v", seed, a.Groups)
		}
		if math.Abs(a.Groups[0].Force-truth) <= a.Groups[0].Half {
			inside++
		}
	}
	if inside < 180 { // 190 expected, three standard deviations of the count are 9
		t.Errorf("the truth lies inside %d of 200 intervals", inside)
	}
	t.Logf("%d of 200 inside", inside)
}
