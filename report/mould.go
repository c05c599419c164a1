package report

import (
	"fmt"
	"html/template"

	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report/plot"
)

// Mould lays out the filling of a mould.
func Mould(r *study.MouldResult) *Document {
	facts := []Fact{{"fill time", fmt.Sprintf("%.1f s", r.Time)}, {"filled", percent(r.Share)}, {"pressure at the nozzle", fmt.Sprintf("%.1f MPa, at a dead end up to %.0f MPa", r.Peak, r.DeadEnd)},
		{"clamp, low / best / packed", fmt.Sprintf("%.0f / %.0f / %.0f N", r.Clamp[0], r.Clamp[1], r.Clamp[2])}, {"push on the hot end's mount", fmt.Sprintf("%.0f N (%.1f kgf)", r.Mount, r.Mount/unit.KGF)},
		{"cooling after filling", never(r.Cooling)}, {"gate freezes after", never(r.GateFreeze)}, {"shot", fmt.Sprintf("%.2f cm3, %.0f mm of filament", r.Volume/1000, r.Filament)}}
	sum := Table{ID: "filling", Title: "The filling", Columns: []string{"quantity", "value"}, Numeric: []bool{false, false}}
	for _, f := range facts {
		sum.Rows = append(sum.Rows, []string{f.Name, f.Value})
	}
	if r.Map.Thinnest > 0 {
		sum.Rows = append(sum.Rows, []string{"thinnest wall of " + r.Map.Element + " that fills", fmt.Sprintf("about %.2g mm", r.Map.Thinnest)})
	}
	sum.Rows = append(sum.Rows, [][]string{{"melt enters at", fmt.Sprintf("%.0f degC", r.Melt)}, {"mould surface in contact", fmt.Sprintf("%.0f degC", r.Surface)}, {"set flow", fmt.Sprintf("%.3g mm3/s: 1 cm3 takes %.0f s, so freezing usually decides", r.SetFlow, 1000/r.SetFlow)},
		{"most of the thickness frozen while filling", percent(r.Frozen)}, {"clamp safety factor", fmt.Sprintf("%.2g", r.Safety)}, {"energy balance closes to", fmt.Sprintf("%.0e", r.Balance)}}...)
	tr := Table{ID: "trace", Title: "Filling in time", Columns: []string{"time s", "flow mm3/s", "speed mm/s", "pressure MPa", "push N", "push kgf", "front mm", "filled", "frozen", "opening N", "set by"}, Numeric: append(all(10), false), Long: true}
	fl := Table{ID: "flow", Title: "Flow in time", Columns: []string{"time s", "flow mm3/s", "speed mm/s", "set by"}, Numeric: append(all(3), false), Long: true}
	var t, front, p, q []float64
	for _, x := range r.Trace {
		by := yes(x.Limited, "force", "flow")
		tr.Rows = append(tr.Rows, []string{num(x.Time, 4), num(x.Flow, 3), num(x.Flow*r.Speed, 3), num(x.Pressure, 3), num(x.Force, 3), num(x.Force/unit.KGF, 3), num(x.Front, 4), percent(x.Filled), percent(x.Frozen), num(x.Open, 3), by})
		fl.Rows = append(fl.Rows, []string{num(x.Time, 4), num(x.Flow, 3), num(x.Flow*r.Speed, 3), by})
		t, front, p, q = append(t, x.Time), append(front, x.Front), append(p, x.Pressure), append(q, x.Flow)
	}
	c := plot.XY{X: "time, s", Y: "front along the path, mm", Y2: "pressure, MPa", ZeroBased: true, Series: []plot.Series{{Name: "front", X: t, Y: front}, {Name: "pressure at the nozzle", X: t, Y: p, Dash: 1, Right: true}}}
	f := plot.XY{X: "time, s", Y: "flow, mm³/s", AlsoY: &plot.Also{Unit: "mm/s of filament", By: r.Speed}, ZeroBased: true, Series: []plot.Series{{Name: "flow", X: t, Y: q}}}
	e := Table{ID: "ends", Title: "With what is not known at its ends", Columns: []string{"case", "filled", "fill time s", "pressure MPa", "clamp N"}, Numeric: []bool{false, true, true, true, true},
		Rows: [][]string{{"best estimate", percent(r.Share), num(r.Time, 3), num(r.Peak, 3), fix(r.Clamp[1], 0)}}}
	for _, x := range r.Ends {
		e.Rows = append(e.Rows, []string{x.Change, percent(x.Share), num(x.Time, 3), num(x.Peak, 3), fix(x.Clamp, 0)})
	}
	title := fmt.Sprintf("The front stops after %.0f s with %.0f %% filled", r.Time, 100*r.Share)
	if r.Filled {
		title = fmt.Sprintf("The front reaches the end after %.0f s", r.Time)
	}
	held := "The set flow is held to the end"
	if r.LimitedAt > 0 {
		held = fmt.Sprintf("From %.0f s on the force sets the flow", r.LimitedAt)
	}
	blocks := []Block{
		{ID: "fill-block", Title: title, Chart: c.Options(), Table: []Table{sum, e, tr}, How: "Solid: the front. Dashed: pressure at the nozzle, on the right."},
		{ID: "flow-block", Title: held, Chart: f.Options(), Table: []Table{fl}},
		thickness(r),
		gainsOf(r),
	}
	if len(r.Map.Mould) > 0 {
		blocks = append(blocks, longest(r))
	}
	d := document(&r.Header, yes(r.Filled, "fills", "short"), facts, blocks...)
	d.More = []Fact{{"energy balance closes to", fmt.Sprintf("%.0e", r.Balance)}}
	return d
}

// never writes a time that may not come: in a mould too hot to set, or without a gate.
func never(t float64) string {
	if t == 0 {
		return "not reached"
	}
	return num(t, 3) + " s"
}

// thickness pictures the temperature through the thickness.
func thickness(r *study.MouldResult) Block {
	m, p := &study.Melt{}, r.Profile
	t := Table{ID: "profile", Title: "Through the thickness", Columns: []string{"at mm", "element", "half thickness mm", "pressure MPa", "middle degC", "next to the wall degC", "frozen"}, Numeric: []bool{true, false, true, true, true, true, true}, Long: true}
	worst := 0.0
	for j := range p.X {
		var edge []float64
		melt := 0.0
		for i, face := range p.Face {
			edge = append(edge, face*p.Half[j])
			if p.T[j][i] >= p.NoFlow {
				melt = face
			}
		}
		m.Z, m.R, m.CellEdge, m.T = append(m.Z, p.X[j]), append(m.R, p.Half[j]), append(m.CellEdge, edge), append(m.T, p.T[j])
		worst = max(worst, 1-melt)
		m.Core = append(m.Core, melt*p.Half[j])
		t.Rows = append(t.Rows, []string{fix(p.X[j], 1), p.Element[j], fix(p.Half[j], 2), num(p.P[j], 3), fix(p.T[j][0], 0), fix(p.T[j][len(p.Face)-1], 0), percent(1 - melt)})
	}
	b := Block{ID: "thickness-block", Title: fmt.Sprintf("When filling ends at most %.0f %% of the thickness is frozen", 100*worst), Table: []Table{t}, How: "Flow from left to right, the wall at top and bottom; the line is the edge of what still flows."}
	if len(m.Z) > 1 {
		b.SVG = meltPicture(m, "Temperature through the thickness of the mould", "half thickness")
	} else {
		b.SVG = template.HTML("<p>Nothing filled.</p>")
	}
	return b
}

func gainsOf(r *study.MouldResult) Block {
	t := Table{ID: "gains", Title: "What helps", Columns: []string{"change", "filled", "fill time s", "pressure MPa", "clamp N"}, Numeric: []bool{false, true, true, true, true}}
	var names []string
	var v []float64
	top := r.Gains[0]
	for _, g := range r.Gains {
		t.Rows = append(t.Rows, []string{g.Change, percent(g.Share), num(g.Time, 3), num(g.Peak, 3), fix(g.Clamp, 0)})
		names, v = append(names, g.Change), append(v, 100*g.Share)
	}
	axis, best := "filled, %", "No single change looked at fills more"
	for _, g := range r.Gains[1:] {
		if g.Share > top.Share+0.001 || g.Share > 0.999 && g.Peak < 0.99*top.Peak {
			top, best = g, "What helps most: "+g.Change
		}
	}
	if r.Filled { // then pressure tells
		axis = "pressure at the nozzle, MPa"
		for i, g := range r.Gains {
			v[i] = g.Peak
		}
	}
	return Block{ID: "gain-block", Title: best, Chart: plot.Bars{Categories: names, Axis: axis, Names: []string{axis}, Values: [][]float64{v}, Horizontal: true}.Options(), Table: []Table{t}, Open: true}
}

func longest(r *study.MouldResult) Block {
	m := r.Map
	t := Table{ID: "longest", Title: "Longest flow", Columns: []string{"thickness mm"}, Numeric: []bool{true}}
	c := plot.XY{X: "thickness of " + m.Element + ", mm", Y: "longest flow in it, mm", ZeroBased: true}
	c.Series = append(c.Series, plot.Series{Name: "asked", X: []float64{m.Thickness[0], m.Thickness[len(m.Thickness)-1]}, Y: []float64{m.Asked, m.Asked}, Dash: 2, Thin: true})
	for k, T := range m.Mould {
		t.Columns, t.Numeric = append(t.Columns, fmt.Sprintf("surface %.0f degC, mm", T)), append(t.Numeric, true)
		c.Series = append(c.Series, plot.Series{Name: fmt.Sprintf("surface %.0f °C", T), X: m.Thickness, Y: m.Longest[k], Dash: k % 3, Symbol: []string{"circle", "triangle", "diamond", "rect"}[k%4]})
	}
	thin := fmt.Sprintf("None of these walls fills %.3g mm at the mould of the case", m.Asked)
	if m.Thinnest > 0 {
		thin = fmt.Sprintf("The thinnest wall that fills %.3g mm at the mould of the case is about %.2g mm", m.Asked, m.Thinnest)
	}
	for i, h := range m.Thickness {
		row := []string{num(h, 3)}
		for k := range m.Mould {
			x := fix(m.Longest[k][i], 1)
			if m.Longest[k][i] > 0.999*m.Cap {
				x = "> " + fix(m.Cap, 0)
			}
			row = append(row, x)
		}
		t.Rows = append(t.Rows, row)
	}
	return Block{ID: "longest-block", Title: thin, Chart: c.Options(), Table: []Table{t}, Open: true,
		How: fmt.Sprintf("Above the dotted line the part fills. The search ends at %.0f mm.", m.Cap)}
}
