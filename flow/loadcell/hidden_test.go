package loadcell

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// struck is an invented log at 10 Hz of one push: rest, a rise to 34 N, from 15 s on single rows changed by strike, a
// collapse to 10 N at 65 s, rest.
func struck(strike func(row int) float64) *Log {
	l := &Log{Name: "struck.csv", Step: 0.1}
	for i := range 850 {
		t := float64(i) / 10
		f := 0.0
		switch {
		case t >= 5 && t < 65:
			f = 34 * (1 - math.Exp(-(t-5)/2))
			if t >= 15 {
				f += strike(i)
			}
		case t >= 65 && t < 75:
			f = 10 + 24*math.Exp(-(t-65)/0.1)
		}
		l.Time = append(l.Time, t)
		l.Force = append(l.Force, f+0.05*math.Sin(float64(7*i)))
	}
	l.Rows = len(l.Time)
	return l
}

// A skip that lasts less than a row is a single low row each time. Many of them, alike, make no point of grinding; what
// somebody saw decides, and skipping then fails at the first of them, 15 s into the log.
func TestSkippingOfSingleRowsIsNotPassedOver(t *testing.T) {
	strikes := map[string]func(int) float64{
		"every 7th row": func(i int) float64 { return map[bool]float64{true: -10}[i%7 == 0] },
		"every 9th row, either side": func(i int) float64 {
			return map[bool]float64{true: float64(20*(i%2) - 10)}[i%9 == 0]
		},
		"two of three": func(i int) float64 { return map[bool]float64{true: -10}[i%7 == 0 && i%21 > 0] },
	}
	for name, strike := range strikes {
		a := analysed(t, struck(strike), Settings{Flows: []float64{5e-9}})
		if len(a.Tests) != 1 || a.Tests[0].Outcome != Unclear || len(a.Points(0)) != 0 {
			t.Errorf("%s: %+v", name, a.Tests)
		}
		w := fmt.Sprint(a.Warnings)
		if !strings.Contains(w, "perhaps skipping") || !strings.Contains(w, "sample faster") {
			t.Errorf("%s: warnings %s", name, w)
		}
		for seen, at := range map[feeder.Cause]float64{feeder.Skip: 15, feeder.Grind: 65} {
			x := analysed(t, struck(strike), Settings{Flows: []float64{5e-9}, Seen: seen}).Tests[0]
			if !x.Failed() || x.Cause != seen || math.Abs(x.PeakTime-at) > 1.5 || math.Abs(x.Peak-34) > 0.5 {
				t.Errorf("%s, seen %s: %s by %s at %.1f s, %.2f N", name, seen, x.Outcome, x.Cause, x.PeakTime, x.Peak)
			}
		}
	}
}

// Stray readings come at any time and to either side, or are few: the collapse is read through them.
func TestStrayReadingsHideNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	last := 0
	strikes := map[string]func(int) float64{
		"either side": func(i int) float64 {
			if rng.IntN(20) > 0 || i-last < 6 {
				return 0
			}
			last = i
			return float64(30*rng.IntN(2) - 15)
		},
		"few": func(i int) float64 { return map[bool]float64{true: -10}[i%60 == 0] },
	}
	for name, strike := range strikes {
		x := analysed(t, struck(strike), Settings{Flows: []float64{5e-9}}).Tests[0]
		if x.Cause != feeder.Grind || math.Abs(x.Peak-34) > 0.5 ||
			!strings.Contains(fmt.Sprint(x.Notes), "passed over") {
			t.Errorf("%s: %+v", name, x)
		}
	}
}
