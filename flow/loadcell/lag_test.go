package loadcell

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// lagging is an invented log of two pushes whose flow column is late (s): one ends by a stop, its force decaying within
// half a second, the other is cut while the feed goes on for 12 s.
func lagging(fs, late float64) *Log {
	rng := rand.New(rand.NewPCG(3, 4))
	l := &Log{Name: "lag.csv", Step: 1 / fs, Format: Format{FlowUnit: "mm3/s"}}
	feeds := func(t float64) bool { return t >= 5 && t < 35 || t >= 45 && t < 87 }
	for i := range int(100 * fs) {
		t := float64(i) / fs
		f := 0.0
		switch {
		case t >= 5 && t < 35:
			f = 30 * (1 - math.Exp(-(t-5)/1.5))
		case t >= 35 && t < 45:
			f = 30 * math.Exp(-(t-35)/0.15)
		case t >= 45 && t < 75:
			f = 40 * (1 - math.Exp(-(t-45)/1.5))
		case t >= 75 && t < 87:
			f = 10 + 30*math.Exp(-(t-75)/0.05)
		}
		q := 0.0
		if feeds(t - late) {
			q = 8e-9
		}
		l.Time = append(l.Time, t)
		l.Force = append(l.Force, f+0.05*rng.NormFloat64())
		l.Flow = append(l.Flow, float32(q))
	}
	l.Rows = len(l.Time)
	return l
}

// A flow column that comes late makes no failure of a stop, and no stop of a failure; by how much it is late is found.
func TestFlowColumnThatLags(t *testing.T) {
	for _, fs := range []float64{10, 80} {
		for _, late := range []float64{0, 0.3, 0.6, 1, 2} {
			a := analysed(t, lagging(fs, late), Settings{})
			if len(a.Tests) != 2 || a.Tests[0].Outcome != Stopped || a.Tests[1].Outcome != Failed ||
				a.Tests[1].Cause != "grind" {
				t.Errorf("%g Hz, %g s late: %+v", fs, late, a.Tests)
			}
			said := ""
			for _, w := range a.Warnings {
				if w.Code == "flow-lags" {
					said = w.Message
				}
			}
			var found float64
			fmt.Sscanf(said[strings.Index(said, "rises ")+1:], "ises %g s", &found)
			if late > 0.5 && said == "" || late == 0 && said != "" || said != "" && math.Abs(found-late) > 0.2 {
				t.Errorf("%g Hz, %g s late: %q", fs, late, said)
			}
		}
	}
}

// Where no start tells whether the column lags, a flow that ends a second after the force leaves the push unclear.
func TestLagThatNoStartTells(t *testing.T) {
	l := lagging(20, 1)
	for i, at := range l.Time {
		if at < 20 {
			l.Flow[i] = 8e-9
		}
	}
	n := 0
	for n < len(l.Time) && l.Time[n] < 44 {
		n++
	}
	l.Time, l.Force, l.Flow, l.Rows = l.Time[:n], l.Force[:n], l.Flow[:n], n
	a := analysed(t, l, Settings{})
	if len(a.Tests) != 1 || a.Tests[0].Outcome != Unclear || !strings.Contains(a.Tests[0].Why, "no start") ||
		len(a.Groups) != 0 {
		t.Errorf("%+v", a.Tests)
	}
}

// The rate is that of the rows, whatever grain their stamps have, and gaps do not count.
func TestRateOfCoarseStamps(t *testing.T) {
	for _, grain := range []float64{0.001, 0.01, 0.02} {
		for _, fs := range []float64{80, 81, 93} {
			var b strings.Builder
			b.WriteString("t_s,force_N\n")
			for i := range 4000 {
				at := float64(i) / fs
				if i >= 2000 {
					at += 5
				}
				fmt.Fprintf(&b, "%.3f,%.3f\n", math.Floor(at/grain+1e-9)*grain, 10+math.Sin(float64(i)))
			}
			l, err := Parse("coarse.csv", []byte(b.String()), Format{})
			if err != nil {
				t.Fatal(err)
			}
			if got := 1 / l.Step; math.Abs(got/fs-1) > 1e-3 {
				t.Errorf("%g rows a second, stamps of %g s: %g found", fs, grain, got)
			}
		}
	}
}
