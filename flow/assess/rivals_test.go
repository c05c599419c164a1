package assess_test

import (
	"context"
	"math"
	"testing"

	"meltload/flow/assess"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/setup"
)

// feeders are set-ups that differ in the feeder only.
func feeders(t *testing.T, change func(s *setup.Setup)) []*setup.Setup {
	t.Helper()
	base := starter().Clone()
	change(base)
	var out []*setup.Setup
	for _, points := range [][]feeder.Point{
		{{Speed: 2e-3, Force: 74, SD: 3, Repeats: 3}, {Speed: 8e-3, Force: 57, SD: 3, Repeats: 3}},
		{{Speed: 2e-3, Force: 30}, {Speed: 8e-3, Force: 24}},
		{{Speed: 4e-3, Force: 140, SD: 10, Repeats: 2}},
		{{Speed: 2e-3, Force: 1}},
	} {
		f, err := feeder.New(feeder.Feeder{Points: points})
		if err != nil {
			t.Fatal(err)
		}
		other := base.Clone()
		other.Feeder = f
		out = append(out, assess.Pair(base, base, other))
	}
	return out
}

// All feeders at once on loads that are solved once are the same as each by itself: draw by draw within what the
// solver's own
// roughness leaves open (the load is smooth to some 0.5 % from one flow to the next), and in the mean.
func TestRivalsAgainstEachAlone(t *testing.T) {
	for name, change := range map[string]func(s *setup.Setup){
		"feeder limits": func(s *setup.Setup) { s.Limits.Core = false },
		"core limits":   func(s *setup.Setup) { s.Limits.Core = true },
		"heater limits": func(s *setup.Setup) { s.Limits.Core, s.HotEnd.Block.Power = false, 12 },
		"short search":  func(s *setup.Setup) { s.Limits.Core, s.Limits.MaxFlow = false, 9e-9 },
	} {
		pairs := feeders(t, change)
		const samples = 16
		d := assess.NewShared(samples, 1, 1, len(pairs))
		base := march.New(&pairs[0].Case, march.Options{})
		var draws [][][]float64
		var near []float64
		const wanted = 8e-9
		for k, p := range pairs {
			draws = append(draws, d.Draws(assess.Unknowns(p), 0, k))
			near = append(near, 7e-9)
		}
		got, err := assess.Rivals(context.Background(), pairs, draws, base, wanted, near, nil)
		if err != nil {
			t.Fatal(err)
		}
		mean, n := 0.0, 0.0
		for k, p := range pairs {
			want, err := assess.Run(context.Background(), p, assess.Unknowns(p), draws[k], base, wanted,
				assess.Sample{Pushed: 7e-9, Melted: 7e-9}, nil)
			if err != nil {
				t.Fatal(err)
			}
			held := 0.0
			for i := range want {
				a, b := got[k].Usable[i], want[i].Usable
				if math.Abs(a-b) > 0.04*math.Max(a, b) {
					t.Errorf("%s, feeder %d, draw %d: %.4g mm3/s, alone %.4g", name, k+1, i, a*1e9, b*1e9)
				}
				if b > 0 {
					mean, n = mean+math.Abs(a/b-1), n+1
				}
				// Alone and together may lie on two sides of the wanted flow.
				if apart := (a < wanted) != (b < wanted); want[i].Held != apart {
					held += 1.0 / samples
				}
			}
			if math.Abs(held-got[k].Held) > 1e-9 {
				t.Errorf("%s, feeder %d: %.3f hold the wanted flow, alone %.3f", name, k+1, got[k].Held, held)
			}
		}
		if mean /= n; mean > 0.005 {
			t.Errorf("%s: mean difference %.2f %%", name, 100*mean)
		}
	}
}

// A pair pushes the filament of its duty, whatever the feeder was made with.
func TestPairPushesTheDutysFilament(t *testing.T) {
	duty := starter().Clone()
	other := starter().Clone()
	thick := *other.Material
	thick.ID, thick.Name = "other", "another polymer"
	f, err := other.Feeder.With(feeder.Stock{Material: &thick, Diameter: 2.85e-3, Temperature: 300})
	if err != nil {
		t.Fatal(err)
	}
	other.Feeder = f
	p := assess.Pair(duty, duty, other)
	if s := p.Feeder.Stock; s.Material != p.Material || s.Diameter != duty.Filament.Diameter || s.Temperature != 300 {
		t.Errorf("%+v", s)
	}
}
