package calibrate

import (
	"fmt"
	"io"

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

// FromLog makes a trace of a log that has columns of block temperature and flow: the tare (N, read at rest) is taken
// off. Time starts where the first flow does. Errors: no such column, or no flow at all.
func FromLog(l *loadcell.Log, tare float64) (Trace, error) {
	if l.Block == nil || l.Flow == nil {
		return Trace{}, fmt.Errorf("%s: a trace needs the columns block temperature and flow beside time and force; "+
			"name them with --block-column and --flow-column, or add them to the log", l.Name)
	}
	var t Trace
	for i, q := range l.Flow {
		if len(t.Time) == 0 && !(q > 0) {
			continue
		}
		t.Time, t.Block = append(t.Time, l.Time[i]), append(t.Block, float64(l.Block[i]))
		t.Flow, t.Force = append(t.Flow, float64(q)), append(t.Force, l.Force[i]-tare)
	}
	if len(t.Time) == 0 {
		return Trace{}, fmt.Errorf("%s: the flow column is 0 throughout; nothing was fed", l.Name)
	}
	first := t.Time[0]
	for i := range t.Time {
		t.Time[i] -= first
	}
	return t, nil
}
