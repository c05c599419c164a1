package calibrate

import (
	"fmt"
	"io"
	"math"
	"slices"

	"meltload/flow/loadcell"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// ReadPoints reads steady pushes from CSV with a header: block_degC, flow_mm3_s, force_N or force_kgf, and if wanted
// u_N, the standard uncertainty, and land_mm, the land length of the nozzle of that push where it is not the case's: 0
// for a push with the hot end off. Lines that begin with # are remarks. Every bad cell is reported.
func ReadPoints(name string, r io.Reader) ([]Point, error) {
	rows, err := strict.Table(name, r, []strict.Column{
		{Name: "block_degC", Lo: 20, Hi: 500},
		{Name: "flow_mm3_s", Lo: 0.01, Hi: 1000},
		{Name: "force_N", Lo: 0.1, Hi: 5000, Instead: "force_kgf"},
		{Name: "force_kgf", Lo: 0.01, Hi: 500, Optional: true},
		{Name: "u_N", Lo: 0.001, Hi: 1000, Optional: true},
		{Name: "land_mm", Lo: 0, Hi: 100, Optional: true},
	})
	if err != nil {
		return nil, err
	}
	out := make([]Point, len(rows))
	for i, m := range rows {
		out[i] = Point{Block: unit.Kelvin(m["block_degC"]), Flow: m["flow_mm3_s"] * unit.MM3, Force: m["force_N"],
			U: m["u_N"]}
		if l, ok := m["land_mm"]; ok {
			out[i].Land, out[i].NoNozzle = l*unit.MM, l == 0
		}
		if f, ok := m["force_kgf"]; ok {
			out[i].Force = f * unit.KGF
		}
	}
	return out, nil
}

// FromLog makes traces of a log that has columns of block temperature and flow: one of each push, from where its flow
// starts to where the feeder gives way or the force is let go, since what comes after is not the melt's. The zero is
// the log's own, or the stated one (N, read at rest). Errors: no such column, no flow at all, no push, or no zero.
func FromLog(l *loadcell.Log, zero *float64) ([]Trace, error) {
	if l.Block == nil || l.Flow == nil || l.Switch() {
		return nil, fmt.Errorf("%s: a trace needs the columns block temperature and flow beside time and force; name "+
			"them with --block-column and --flow-column, or add them to the log", l.Name)
	}
	if !slices.ContainsFunc(l.Flow, func(q float32) bool { return q > 0 }) {
		return nil, fmt.Errorf("%s: the flow column is 0 throughout; nothing was fed", l.Name)
	}
	a, err := loadcell.Analyse(l, loadcell.Settings{Zero: zero})
	if err != nil {
		return nil, err
	}
	var out []Trace
	end := 0 // of the push before
	for i := range a.Tests {
		t := &a.Tests[i]
		from := t.FromRow
		for from > end && l.Flow[from-1] > 0 { // the feed starts before the force is up
			from--
		}
		for from < t.EndRow && !(l.Flow[from] > 0) {
			from++
		}
		if end = t.EndRow; end-from+1 >= minTraceRows {
			out = append(out, traceOf(l, from, end, a.Tare))
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s: no push of %d rows or more with a flow; a trace needs it", l.Name, minTraceRows)
	}
	return out, nil
}

// minTraceRows is how many rows make a trace.
const minTraceRows = 10

func traceOf(l *loadcell.Log, from, end int, zero float64) Trace {
	var t Trace
	for i := from; i <= end; i++ {
		t.Time, t.Block = append(t.Time, l.Time[i]-l.Time[from]), append(t.Block, float64(l.Block[i]))
		t.Flow, t.Force = append(t.Flow, float64(l.Flow[i])), append(t.Force, l.Force[i]-zero)
	}
	return t
}

// Plateaus makes steady pushes of analysed logs: the last plateau of each test, at its own block temperature and flow.
// left says which tests have none that can be used, and why.
func Plateaus(tests []loadcell.Test) (out []Point, left []string) {
	for i := range tests {
		t := &tests[i]
		name := fmt.Sprintf("test %d", i+1)
		if t.Log != "" {
			name += " of " + t.Log
		}
		switch p := t.Last; {
		case p == nil:
			left = append(left, name+": no steady stretch")
		case p.Block == 0:
			left = append(left, name+": no block temperature; name its column with --block-column")
		case p.Flow == 0:
			left = append(left, name+": no flow; name it with --flows")
		default:
			x := Point{Block: p.Block, Flow: p.Flow, Force: p.Force}
			x.U = math.Hypot(x.u(), p.SE)
			out = append(out, x)
		}
	}
	return out, left
}
