package report

import (
	"fmt"
	"math"
	"strconv"

	"meltload/flow/study"
	"meltload/materials/unit"
)

// Table is a titled table whose cells are text, ready for any rendering.
type Table struct {
	ID      string // file name and anchor
	Title   string
	Columns []string
	Rows    [][]string
	Numeric []bool   // right-aligned columns
	Long    bool     // left to the files on a terminal
	Wide    []string // columns left to the files on a terminal
}

// num prints a number with a fixed count of significant digits and no exponent for bench-sized values.
func num(x float64, digits int) string {
	if x == 0 || math.Abs(x) < 1e-9 {
		return "0"
	}
	if a := math.Abs(x); a >= 1e6 || a < 1e-3 {
		return strconv.FormatFloat(x, 'g', digits, 64)
	}
	dec := digits - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	return strconv.FormatFloat(x, 'f', max(0, dec), 64)
}

func fix(x float64, dec int) string { return strconv.FormatFloat(x, 'f', dec, 64) }

func percent(x float64) string {
	if x != 0 && math.Abs(x) < 0.0005 {
		return "< 0.1 %"
	}
	return fix(100*x, 1) + " %"
}

// nonEmpty leaves out tables without rows.
func nonEmpty(tables ...Table) []Table {
	var out []Table
	for _, t := range tables {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// all marks n columns as numbers.
func all(n int) []bool {
	out := make([]bool, n)
	for i := range out {
		out[i] = true
	}
	return out
}

func bounds(r *study.Result) Table {
	t := Table{ID: "limits", Title: "What limits the flow, nearest first", Columns: []string{"limit", "code", "highest flow mm3/s", "room at the usable flow", "what it means"}, Numeric: []bool{false, false, true, true, false}, Wide: []string{"what it means"}}
	for _, b := range r.Bounds {
		f := fix(b.Flow, 2)
		if b.Open {
			f = "beyond " + fix(b.Flow, 1)
		}
		t.Rows = append(t.Rows, []string{b.Limit, b.Code, f, percent(b.Room), b.Meaning})
	}
	return t
}

func point(r *study.Result) Table {
	p := r.Point
	t := Table{ID: "point", Title: "At the operating point", Columns: []string{"quantity", "value", "unit"}}
	add := func(name, value, unit string) { t.Rows = append(t.Rows, []string{name, value, unit}) }
	add("block temperature", fix(p.Block, 1), "degC")
	add("flow of filament", num(p.Flow, 4), "mm3/s")
	add("filament speed", num(p.Speed, 4), "mm/s")
	if p.Delivered != p.Flow {
		add("flow delivered after slip", num(p.Delivered, 4), "mm3/s")
	}
	add("melt pressure at the inlet", num(p.Pressure, 4), "MPa")
	add("force on the filament", num(p.Force, 4), "N")
	add("push force at the feeder", num(p.Push, 4), "N")
	add("push force at the feeder", num(p.PushKGF, 4), "kgf")
	add("feeder capability there", num(p.Capability, 4), "N")
	add("force on the hot-end mount", num(p.Mount, 4), "N")
	add("push force by the quick (lumped) estimate", num(p.Quick, 4), "N")
	if p.Slide > 0 {
		add("stock slides before its surface melts", num(p.Slide, 3), "mm")
	}
	add("centre temperature at the cone", fix(p.EntryCentre, 1), "degC")
	add("flow point of the material", fix(p.FlowPoint, 1), "degC")
	add("mixing-cup temperature at the exit", fix(p.ExitMix, 1), "degC")
	add("centre temperature at the exit", fix(p.ExitCentre, 1), "degC")
	add("heat from the wall", num(p.WallHeat, 3), "W")
	add("heat made by flow", num(p.Viscous, 3), "W")
	add("Nahme number of a long channel, largest", num(p.Nahme, 2), "")
	add("Brinkman number there", num(p.Brinkman, 2), "")
	add("heater power needed", num(p.Heater, 3), "W")
	add("time in the melt path", num(p.Residence, 3), "s")
	if p.CapHigh > 0 {
		add("push force, unmelted cap 1e5 Pa s", num(p.CapLow, 4), "N")
		add("push force, unmelted cap 1e8 Pa s", num(p.CapHigh, 4), "N")
	}
	t.Numeric = []bool{false, true, false}
	return t
}

func ranges(r *study.Result) Table {
	t := Table{ID: "range", Title: "Low, best and high", Columns: []string{"quantity", "unit", "low (5 %)", "best (50 %)", "high (95 %)"}, Numeric: []bool{false, false, true, true, true}}
	for _, b := range r.Range.Bands {
		t.Rows = append(t.Rows, []string{b.Name, b.Unit, num(b.Low, 3), num(b.Best, 3), num(b.High, 3)})
	}
	return t
}

func limitShares(r *study.Result) Table {
	t := Table{ID: "limit-shares", Title: "How often each limit binds", Columns: []string{"limit", "share of samples"}, Numeric: []bool{false, true}, Long: true}
	for _, s := range r.Range.Limits {
		t.Rows = append(t.Rows, []string{s.Limit, percent(s.Share)})
	}
	return t
}

func influences(r *study.Result) Table {
	t := Table{ID: "influences", Title: "Which unknown matters most", Columns: []string{"input", "distribution", "rank correlation with usable flow", "usable flow, input low mm3/s", "usable flow, input high mm3/s"}, Numeric: []bool{false, false, true, true, true}}
	for _, x := range r.Range.Influences {
		t.Rows = append(t.Rows, []string{x.Input, x.Dist, fix(x.Rank, 2), num(x.Low, 3), num(x.High, 3)})
	}
	return t
}

func gains(r *study.Result) Table {
	t := Table{ID: "gains", Title: "What would move it most", Columns: []string{"change", "usable flow mm3/s", "gain mm3/s", "then limited by"}, Numeric: []bool{false, true, true, false}}
	for _, g := range r.Gains {
		t.Rows = append(t.Rows, []string{g.Change, num(g.Flow, 3), fmt.Sprintf("%+.2f", g.Gain), g.Limit})
	}
	return t
}

func loads(r *study.Result) Table {
	t := Table{ID: "load", Title: "Push force against flow", Columns: []string{"block degC", "flow mm3/s", "speed mm/s", "push N", "push kgf", "pressure MPa", "centre at cone degC", "exit mix degC", "heater W"}, Numeric: all(9), Long: true}
	for _, c := range r.Load {
		for _, p := range c.Points {
			t.Rows = append(t.Rows, []string{fix(c.Block, 0), fix(p.Flow, 2), fix(p.Speed, 2), num(p.Push, 4), num(p.Push/unit.KGF, 4), num(p.Pressure, 4), fix(p.Centre, 0), fix(p.ExitMix, 0), num(p.Heater, 3)})
		}
	}
	return t
}

func capability(r *study.Result) Table {
	t := Table{ID: "capability", Title: "What the feeder holds", Columns: []string{"flow mm3/s", "speed mm/s", "force N", "force kgf", "force over safety factor N", "low N", "high N", "gives up by", "inside measured range"}, Numeric: []bool{true, true, true, true, true, true, true, false, false}, Long: true}
	for _, p := range r.Capability {
		t.Rows = append(t.Rows, []string{fix(p.Flow, 2), fix(p.Flow*r.Speed, 2), num(p.Force, 4), num(p.Force/unit.KGF, 3), num(p.Usable, 4), num(p.Low, 4), num(p.High, 4), p.Cause, map[bool]string{true: "no", false: "yes"}[p.Extrapolated]})
	}
	return t
}

func measured(r *study.Result) Table {
	t := Table{ID: "measured", Title: "Measured points", Columns: []string{"flow mm3/s", "speed mm/s", "force N", "force kgf", "sd N", "cause", "repeats"}, Numeric: []bool{true, true, true, true, true, false, true}, Long: true}
	for _, p := range r.Measured {
		t.Rows = append(t.Rows, []string{fix(p.Flow, 2), fix(p.Speed, 2), num(p.Force, 4), num(p.KGF, 3), num(p.SD, 2), p.Cause, strconv.Itoa(p.Repeats)})
	}
	return t
}

func byTemperature(r *study.Result) Table {
	t := Table{ID: "by-temperature", Title: "Usable flow by block temperature", Columns: []string{"block degC", "usable flow mm3/s", "speed mm/s", "limit", "code"}, Numeric: []bool{true, true, true, false, false}, Long: true}
	for _, p := range r.ByTemp {
		l := p.Limit
		if l == "" {
			l = "none within the search"
		}
		t.Rows = append(t.Rows, []string{fix(p.Block, 1), fix(p.Flow, 2), fix(p.Flow*r.Speed, 2), l, p.Code})
	}
	return t
}

func mapTable(r *study.Result) Table {
	t := Table{ID: "map", Title: "Operating map: + usable, else the nearest limit exceeded", Columns: []string{"block degC"}, Long: true}
	for _, q := range r.Map.Flows {
		t.Columns = append(t.Columns, fix(q, 2)+" mm3/s")
	}
	t.Numeric = append([]bool{true}, make([]bool, len(r.Map.Flows))...)
	for i := len(r.Map.Temps) - 1; i >= 0; i-- {
		t.Rows = append(t.Rows, append([]string{fix(r.Map.Temps[i], 1)}, r.Map.Codes[i]...))
	}
	return t
}

func sections(r *study.Result) Table {
	t := Table{ID: "sections", Title: "Pressure drop and temperature along the path", Columns: []string{"section", "drop MPa", "by shear MPa", "by elongation MPa", "share", "inlet MPa", "mix degC", "centre degC", "wall degC", "core radius mm", "wall heat W", "flow heat W", "stay s"}, Numeric: append([]bool{false}, all(12)...)}
	for _, s := range r.Sections {
		t.Rows = append(t.Rows, []string{s.Name, num(s.Drop, 4), num(s.Shear, 4), num(s.Elongation, 3), percent(s.Share), num(s.PressureIn, 4), fix(s.Mix, 1), fix(s.Centre, 1), fix(s.Wall, 1), num(s.Core, 3), num(s.WallHeat, 3), num(s.Viscous, 3), num(s.Residence, 3)})
	}
	return t
}

func along(r *study.Result) Table {
	t := Table{ID: "along", Title: "Along the melt path", Columns: []string{"z mm", "radius mm", "pressure MPa", "mix degC", "centre degC", "core radius mm"}, Numeric: all(6), Long: true}
	m := r.Melt
	for i := range m.Z {
		t.Rows = append(t.Rows, []string{fix(m.Z[i], 3), fix(m.R[i], 3), num(m.P[i], 4), fix(m.Mix[i], 1), fix(m.Centre[i], 1), num(m.Core[i], 3)})
	}
	return t
}

// meltTable is the temperature of every cell of the melt zone, from the axis to the wall.
func meltTable(m *study.Melt) Table {
	t := Table{ID: "melt", Title: "Temperature in the melt zone, degC, from axis to wall", Columns: []string{"z mm", "radius mm"}, Long: true}
	for j := range m.T[0] {
		t.Columns = append(t.Columns, fmt.Sprintf("cell %d", j+1))
	}
	t.Numeric = all(len(t.Columns))
	for i := range m.Z {
		row := []string{fix(m.Z[i], 3), fix(m.R[i], 3)}
		for _, x := range m.T[i] {
			row = append(row, fix(x, 1))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func setPoints(r *study.Result) Table {
	t := Table{ID: "set-points", Title: "Temperature to set at each flow", Columns: []string{"flow mm3/s", "speed mm/s", "block degC", "remark"}, Numeric: []bool{true, true, true, false}}
	for _, p := range r.SetPoints {
		block := "–"
		if p.Block > 0 {
			block = fix(p.Block, 1)
		}
		t.Rows = append(t.Rows, []string{fix(p.Flow, 1), fix(p.Flow*r.Speed, 2), block, p.Note})
	}
	return t
}
