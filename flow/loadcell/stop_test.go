package loadcell

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// drawnBack is an invented log of one push: rest, a rise to 34 N, then force and flow gone within a row, rest. The flow
// goes to idle when the force has been gone for late seconds; a late beyond the log leaves it on.
func drawnBack(fs, late, idle float64) *Log {
	l := &Log{Name: "drawn-back.csv", Step: 1 / fs, Format: Format{FlowUnit: "mm3/s"}}
	for i := range int(50 * fs) {
		t := float64(i) / fs
		f, q := 0.0, 5e-9
		if t >= 5 && t < 35 {
			f = 34 * (1 - math.Exp(-(t-5)/8))
		}
		if t < 5 || t >= 35+late {
			q = idle
		}
		l.Time = append(l.Time, t)
		l.Force = append(l.Force, f+0.05*math.Sin(float64(7*i)))
		l.Flow = append(l.Flow, float32(q))
	}
	l.Rows = len(l.Time)
	return l
}

// A feed that draws back takes force and flow away in one row: it is a stop at any rate, and no sight of a failure
// makes it a point. A flow that goes on for seconds without force is a filament that lets go.
func TestFlowThatEndsWithTheForceIsAStop(t *testing.T) {
	for _, fs := range []float64{5, 10, 20, 80, 400} {
		for _, c := range []struct {
			late float64
			want Outcome
		}{{0, Stopped}, {1 / fs, Stopped}, {0.3, Stopped}, {3, Failed}} {
			for _, seen := range []feeder.Cause{"", feeder.Buckle} {
				a := analysed(t, drawnBack(fs, c.late, 0), Settings{Seen: seen})
				if len(a.Tests) != 1 || a.Tests[0].Outcome != c.want {
					t.Errorf("%g Hz, flow ends %.2g s after the force, seen %q: %+v", fs, c.late, seen, a.Tests)
				}
				if points := len(a.Points(0)); points != map[Outcome]int{Failed: 1}[c.want] {
					t.Errorf("%g Hz, flow ends %.2g s after the force, seen %q: %d points", fs, c.late, seen, points)
				}
			}
		}
	}
}

// A column that names the flow all through the log, rests too, tells no stop: the force alone is read, and that is
// said.
func TestFlowThatNeverEndsTellsNoStop(t *testing.T) {
	a := analysed(t, drawnBack(10, 0, 5e-9), Settings{})
	if len(a.Tests) != 1 || a.Tests[0].Failed() || len(a.Groups) != 0 {
		t.Errorf("%+v", a.Tests)
	}
	if !strings.Contains(fmt.Sprint(a.Warnings), "flow column never goes to 0") {
		t.Errorf("warnings %v", a.Warnings)
	}
}
