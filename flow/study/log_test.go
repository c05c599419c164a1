package study

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/flow/loadcell"
)

// grindLog is an invented log: rest, a rise to 40 N, a collapse to 30 per cent, rest.
func grindLog() (*loadcell.Log, File, error) {
	l := &loadcell.Log{Name: "soft.csv", Step: 0.05}
	for i := range 1200 {
		t := float64(i) * 0.05
		f := 0.0
		switch {
		case t > 10 && t < 40:
			f = 40 * (1 - math.Exp(-(t-10)/5))
		case t >= 40 && t < 50:
			f = 12 + 28*math.Exp(-(t-40)/0.1)
		}
		l.Time = append(l.Time, t)
		l.Force = append(l.Force, f+0.05*math.Sin(float64(7*i)))
	}
	l.Rows = len(l.Time)
	return l, File{Name: "soft.csv"}, nil
}

// A collapse of soft stock may be a filament that folds: the log says so, unless somebody saw it; a stiff one does not.
func TestLogOfSoftStockAsksWhatWasSeen(t *testing.T) {
	for _, c := range []struct {
		material string
		seen     feeder.Cause
		warned   bool
	}{{"tpu", "", true}, {"tpu", feeder.Buckle, false}, {"pla", "", false}, {"", "", false}} {
		r, err := ReadLogs(LogJob{Open: []func() (*loadcell.Log, File, error){grindLog}, Names: []string{"soft.csv"},
			Material: c.material, Settings: loadcell.Settings{Flows: []float64{5e-9}, Seen: c.seen}})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(fmt.Sprint(r.Warnings), "folds-or-grinds"); got != c.warned {
			t.Errorf("%q seen %q: warned %t", c.material, c.seen, got)
		}
		want := feeder.Grind
		if c.seen != "" {
			want = c.seen
		}
		if len(r.Points) != 1 || r.Points[0].Cause != string(want) {
			t.Errorf("%q seen %q: points %+v", c.material, c.seen, r.Points)
		}
	}
}
