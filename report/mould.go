package report

import (
	"fmt"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// flowRow is the flow at one time of the filling.
type flowRow struct {
	Time    float64 `q:"time"`
	Flow    float64 `q:"flow"`
	Limited bool    `q:"force_limited"`
}

// Mould lays out the filling of a mould.
func Mould(r *study.MouldResult) *Document {
	facts := []Fact{
		fact("fill_time", r.Time, nil), fact("filled_share", r.Share, nil), fact("peak_pressure", r.Peak, nil),
		fact("dead_end_pressure", r.DeadEnd, nil),
		{"clamp, lowest / best / packed", fmt.Sprintf("%s / %s / %s", quantity.Of("clamp").Number(r.Clamp.Low),
			quantity.Of("clamp").Number(r.Clamp.Best), shown("clamp", r.Clamp.High))},
		{"push on the hot end's mount", both("push", r.Mount, nil)},
		{"cooling after filling", never("cooling", r.Cooling)},
		{"hold until the gate freezes", never("gate_freezes_after", r.GateFreeze)},
		{"from shot to shot", never("cycle", r.Cycle)},
		fact("shot", r.Volume, nil), fact("filament_length", r.Filament, nil)}
	sum := summary("filling", "The filling", *r, r.Area)
	sum.Rows = append(sum.Rows, []Cell{words("material of the mould"), words(r.Wall), words("")},
		[]Cell{words("verdict"), words(r.Verdict), words("")})
	if r.ShrinkLow != nil {
		sum.Rows = append(sum.Rows, []Cell{words("the shrinkage is"), words(r.ShrinkBasis), words("")})
	}
	if r.Map.Thinnest != nil {
		sum.add("thinnest", *r.Map.Thinnest, nil)
	}
	t := of(r.Trace, func(x *study.MouldPoint) float64 { return x.Time })
	c := newChart("time", "front", nil)
	c.ZeroBased = true
	c.rightAxis("nozzle_pressure")
	c.add(plot.Series{Name: "front"}, t, of(r.Trace, func(x *study.MouldPoint) float64 { return x.Front }))
	c.add(plot.Series{Name: "pressure at the nozzle", Dash: 1, Right: true}, t,
		of(r.Trace, func(x *study.MouldPoint) float64 { return x.Pressure }))
	f := newChart("time", "flow", r.Area)
	f.ZeroBased = true
	f.add(plot.Series{Name: "flow"}, t, of(r.Trace, func(x *study.MouldPoint) float64 { return x.Flow }))
	best := r.Gains[0]
	best.Change = "best estimate"
	var flows []flowRow
	for _, x := range r.Trace {
		flows = append(flows, flowRow{x.Time, x.Flow, x.Limited})
	}
	title := fmt.Sprintf("The front stops after %s with %s filled", shown("fill_time", r.Time),
		shown("filled_share", r.Share))
	if r.Filled {
		title = "The front reaches the end after " + shown("fill_time", r.Time)
	}
	held := "The set flow is held to the end"
	if r.LimitedAt != nil {
		held = "From " + shown("force_limited_from", *r.LimitedAt) + " on the force sets the flow"
	}
	blocks := []Block{
		{ID: "fill-block", Title: title, Chart: c,
			Table: []Table{sum, list("ends", "Range: all unknowns at their favourable and at their unfavourable end",
				append([]study.MouldGain{best}, r.Ends...), nil),
				long(list("trace", "Filling in time", r.Trace, r.Area))},
			How: "Solid: the front. Dashed: pressure at the nozzle, right axis."},
		{ID: "flow-block", Title: held, Chart: f, Table: []Table{long(list("flow", "Flow in time", flows, r.Area))}},
		thickness(r),
		doubts(r),
		gainsOf(r),
	}
	if len(r.Shots) > 0 {
		blocks = append(blocks, shots(r))
	}
	if len(r.Map.Mould) > 0 {
		blocks = append(blocks, longest(r))
	}
	d := document(&r.Header, r.Verdict, facts, blocks...)
	d.More = []Fact{fact("energy_balance", r.Balance, nil)}
	return d
}

// doubts shows what one unknown at a time does to the filling.
func doubts(r *study.MouldResult) Block {
	title := "Nothing that is not known changes whether it fills"
	for _, d := range r.Ends {
		if d.Share != nil && d.Filled != r.Filled {
			title = "No single unknown changes whether it fills; all of them together do"
		}
	}
	for _, d := range r.Doubts {
		if d.Share != nil && d.Filled != r.Filled {
			title = "Whether it fills depends on what is not known"
		}
	}
	return Block{ID: "doubt-block", Title: title, Table: []Table{list("doubts", "One unknown at a time", r.Doubts,
		nil)},
		Open: true,
		How: "Each row fills the mould with one unknown at the end of its range. Measure what moves the answer most: " +
			"see the page on filling a mould."}
}

// shots shows how the mould warms up from shot to shot.
func shots(r *study.MouldResult) Block {
	last := r.Shots[len(r.Shots)-1]
	title := fmt.Sprintf("By shot %d the mould starts at %s", last.Number, shown("face_at_start", last.Face))
	c := newChart("shot_number", "face_at_start", nil)
	n := of(r.Shots, func(x *study.MouldShot) float64 { return float64(x.Number) })
	c.add(plot.Series{Name: "face at the start", Symbol: symbol(0)}, n,
		of(r.Shots, func(x *study.MouldShot) float64 { return x.Face }))
	c.add(plot.Series{Name: "centre when the mould opens", Symbol: symbol(1), Dash: 1}, n,
		of(r.Shots, func(x *study.MouldShot) float64 { return x.Centre }))
	first := r.Shots[0]
	text := ""
	if first.Eject != nil && r.Cooling != nil {
		text = fmt.Sprintf("The times of these shots count from a cavity filled at once: %s for the first. The "+
			"filling itself takes %s, and the part then cools for another %s, together %s: the two clocks differ, as "+
			"the melt that comes first cools while the rest still flows.", shown("comes_out_after", *first.Eject),
			shown("fill_time", r.Time), shown("cooling", *r.Cooling), shown("comes_out_after", r.Time+*r.Cooling))
	}
	return Block{ID: "shot-block", Title: title, Text: text, Chart: c,
		Table: []Table{list("shots", "Shot by shot: times from a cavity filled at once", r.Shots, nil)},
		How: "The thickest cavity, filled at once. Solid: face of the mould when the melt comes. Dashed: centre of " +
			"the part when the mould opens."}
}

// never writes a time that may not come: in a mould too hot to set, or without a gate.
func never(name string, t *float64) string {
	if t == nil {
		return "not reached"
	}
	return shown(name, *t)
}

// profileRow is one station through the thickness.
type profileRow struct {
	X        float64 `q:"x"`
	Element  string  `q:"element"`
	Half     float64 `q:"half_thickness"`
	Pressure float64 `q:"melt_pressure"`
	Middle   float64 `q:"middle"`
	Wall     float64 `q:"next_to_wall"`
	Frozen   float64 `q:"frozen_share"`
}

// thickness pictures the temperature through the thickness.
func thickness(r *study.MouldResult) Block {
	m, p := &study.Melt{}, r.Profile
	var rows []profileRow
	worst := 0.0
	for j := range p.X {
		var edge []float64
		for _, face := range p.Face {
			edge = append(edge, face*p.Half[j])
		}
		m.Z, m.R, m.CellEdge, m.T = append(m.Z, p.X[j]), append(m.R, p.Half[j]), append(m.CellEdge, edge),
			append(m.T, p.T[j])
		worst = max(worst, p.Frozen[j])
		m.Core = append(m.Core, (1-p.Frozen[j])*p.Half[j])
		rows = append(rows, profileRow{X: p.X[j], Element: p.Element[j], Half: p.Half[j], Pressure: p.P[j],
			Middle: p.T[j][0], Wall: p.T[j][len(p.Face)-1], Frozen: p.Frozen[j]})
	}
	b := Block{ID: "thickness-block", Title: "When filling ends at most " + shown("frozen_share", worst) +
		" of the thickness is frozen", Table: []Table{long(list("profile", "Through the thickness", rows, nil))},
		How: "Flow from left to right, the wall at top and bottom; the line is the edge of the melt that still flows."}
	if len(m.Z) > 1 {
		b.SVG = meltPicture(m, "", "Temperature through the thickness of the mould", "half thickness")
	} else {
		b.SVG = markup("<p>Nothing filled.</p>")
	}
	return b
}

func gainsOf(r *study.MouldResult) Block {
	value := "filled_share"
	if r.Filled { // then pressure tells
		value = "nozzle_pressure"
	}
	c, q := bars(value, nil, quantity.Of(value).Axis())
	c.Horizontal = true
	top, best := r.Gains[0], "No single change looked at fills more"
	for i, g := range r.Gains {
		if g.Share == nil {
			continue
		}
		x := *g.Share
		if r.Filled {
			x = *g.Peak
		}
		c.Categories, c.Values[0] = append(c.Categories, g.Change), append(c.Values[0], q.Unit.Shown(x))
		if i > 0 && (*g.Share > *top.Share+0.001 || *g.Share > 0.999 && *g.Peak < 0.99**top.Peak) {
			top, best = g, "What helps most: "+g.Change
		}
	}
	return Block{ID: "gain-block", Title: best, Chart: c, Table: []Table{list("gains", "What helps", r.Gains, nil)},
		Open: true}
}

func longest(r *study.MouldResult) Block {
	m := r.Map
	thick, surface, far := quantity.Of("thickness"), quantity.Of("mould"), quantity.Of("longest")
	t := Table{ID: "longest", Title: "Longest flow", Columns: []Column{column(thick, true, false)}}
	c := newChart("thickness", "longest", nil)
	c.X = "thickness of " + m.Element + ", " + thick.Unit.Symbol()
	c.ZeroBased = true
	c.add(plot.Series{Name: "asked for", Dash: 2, Thin: true},
		[]float64{m.Thickness[0], m.Thickness[len(m.Thickness)-1]}, []float64{m.Asked, m.Asked})
	for k, T := range m.Mould {
		t.Columns = append(t.Columns,
			Column{Key: fmt.Sprintf("longest_%s_at_%s_%s", far.Unit.Key, surface.Number(T), surface.Unit.Key),
				Head: fmt.Sprintf("mould %s, %s", surface.Text(T), far.Unit.Text), Number: true})
		var h, l []float64
		for i, x := range m.Longest[k] {
			if x != nil {
				h, l = append(h, m.Thickness[i]), append(l, *x)
			}
		}
		c.add(plot.Series{Name: "mould " + surface.Page(T), Dash: k % 3, Symbol: symbol(k)}, h, l)
	}
	thin := fmt.Sprintf("None of these walls fills %s at the mould of the case", shown("asked", m.Asked))
	if m.Thinnest != nil {
		thin = fmt.Sprintf("The thinnest wall that fills %s at the mould of the case is about %s",
			shown("asked", m.Asked), shown("thinnest", *m.Thinnest))
	}
	for i, h := range m.Thickness {
		row := []Cell{cell(thick, h)}
		for k := range m.Mould {
			if m.Longest[k][i] == nil {
				row = append(row, unknown)
				continue
			}
			x := cell(far, *m.Longest[k][i])
			if *m.Longest[k][i] > 0.999*m.Cap {
				x.Text = "> " + quantity.Of("searched_to").Number(m.Cap)
			}
			row = append(row, x)
		}
		t.Rows = append(t.Rows, row)
	}
	return Block{ID: "longest-block", Title: thin, Chart: c, Table: []Table{t}, Open: true,
		How: "Above the dotted line the part fills. The search ends at " + shown("searched_to", m.Cap) + "."}
}

// Spirals lays out the calibration of a mould by measured lengths.
func Spirals(r *study.SpiralResult) *Document {
	facts := []Fact{fact("length_error", r.RMS, nil), fact("length_error_before", r.Was, nil)}
	top := 0.0
	for _, p := range r.Lengths {
		top = max(top, p.Measured, p.After)
	}
	c := newChart("measured_length", "length_calibrated", nil)
	c.ZeroBased = true
	measured := of(r.Lengths, func(p *study.SpiralPoint) float64 { return p.Measured })
	c.add(plot.Series{Name: "equal", Thin: true, Dash: 1}, []float64{0, top}, []float64{0, top})
	c.add(plot.Series{Name: "before", Points: true, Symbol: "triangle"}, measured,
		of(r.Lengths, func(p *study.SpiralPoint) float64 { return p.Before }))
	c.add(plot.Series{Name: "calibrated", Points: true, Symbol: "circle"}, measured,
		of(r.Lengths, func(p *study.SpiralPoint) float64 { return p.After }))
	b := Block{ID: "spiral-block", Title: fmt.Sprintf("The error of the lengths falls from %s to %s",
		shown("length_error_before", r.Was), shown("length_error", r.RMS)),
		Chart: c, Open: true, Table: []Table{list("factors", "What the lengths tell", r.Values, nil),
			list("lengths", "Measured and predicted", r.Lengths, r.Area)},
		How: "On the dashed line prediction and measurement agree. Triangles: before; circles: calibrated."}
	return document(&r.Header, yes(r.Good, "calibrated", "not all known"), facts, b)
}
