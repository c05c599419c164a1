package report

import (
	"fmt"

	"meltload/flow/study"
	"meltload/report/plot"
)

// Assess lays out the result of a case.
func Assess(r *study.Result) *Document {
	v := r.Verdict
	word := "not usable"
	switch {
	case v.Target > 0:
		word = yes(v.Held, "held", "not held")
	case v.Flow > 0:
		word = "usable"
	}
	facts := []Fact{
		{"highest usable flow", fmt.Sprintf("%.1f mm³/s = %.2f mm/s of filament", v.Flow, v.Speed)},
		{"limited by", orNone(v.Limit)},
		{"next obstacle", orNone(v.Next)},
		{"push force", fmt.Sprintf("%.0f N (%.1f kgf) at %.3g mm³/s", r.Point.Push, r.Point.PushKGF, r.Point.Flow)},
		{"melt pressure", fmt.Sprintf("%.1f MPa", r.Point.Pressure)},
	}
	if r.BestTemp > 0 {
		facts = append(facts, Fact{"best block temperature", fmt.Sprintf("%.0f °C", r.BestTemp)})
	}
	if v.Next != "" {
		facts[2].Value += fmt.Sprintf(" at %.1f mm³/s", v.NextFlow)
	}
	if x := r.Range; x != nil && len(x.Bands) > 0 {
		facts = append(facts, Fact{"low / best / high", fmt.Sprintf("%.3g / %.3g / %.3g mm³/s", x.Bands[0].Low, x.Bands[0].Best, x.Bands[0].High)})
		if x.HasTarget {
			facts = append(facts, Fact{"wanted flow held", percent(x.Probability) + " of samples"})
		}
	}
	blocks := []Block{limitBlock(r), loadBlock(r)}
	add := func(there bool, f func(*study.Result) Block) {
		if there {
			blocks = append(blocks, f(r))
		}
	}
	add(r.Range != nil, rangeBlock)
	add(len(r.Gains) > 0, gainBlock)
	add(len(r.ByTemp) > 0, temperatureBlock)
	add(len(r.Map.Codes) > 0, mapBlock)
	add(len(r.SetPoints) > 0, setBlock)
	add(true, splitBlock)
	add(r.Melt != nil, meltBlock)
	add(r.Melt != nil, alongBlock)
	d := document(&r.Header, word, facts, blocks...)
	if v.Meaning != "" {
		d.Note = upper(v.Limit) + ": " + v.Meaning + "."
	}
	if r.BestTemp > 0 {
		d.Note += fmt.Sprintf(" The most flow of the range looked at is to be had at %.0f degC.", r.BestTemp)
	}
	d.More = []Fact{{"stations × cells", fmt.Sprintf("%d × %d", r.Stats.Stations, r.Stats.Cells)},
		{"heat balance closes to", fmt.Sprintf("%.0e", r.Stats.HeatBalance)}, {"work balance closes to", fmt.Sprintf("%.0e", r.Stats.WorkBalance)}}
	return d
}

func limitBlock(r *study.Result) Block {
	b := Block{ID: "limits-block", Title: "Nothing limits the flow within the search", Table: []Table{bounds(r), point(r)}, Open: true, How: "Each bar is the flow that one limit alone would allow; the shortest rules."}
	if r.Verdict.Limit != "" {
		b.Title = upper(r.Verdict.Limit) + " gives way first"
	}
	top := 0.0
	for _, x := range r.Bounds {
		top = max(top, x.Flow)
	}
	for _, x := range r.Bounds {
		v := fmt.Sprintf("%.1f mm³/s", x.Flow)
		if x.Open {
			v = "beyond " + v
		}
		share := 0.0
		if top > 0 {
			share = 100 * x.Flow / top
		}
		b.Bars = append(b.Bars, barView{Name: x.Limit, Value: v, Share: share, Code: x.Code})
	}
	return b
}

func loadBlock(r *study.Result) Block {
	v := r.Verdict
	b := Block{ID: "load-block", Table: nonEmpty(loads(r), capability(r), measured(r)), How: "Load curves rise with flow, the feeder's capability falls; the flow is usable where the load times the safety factor stays below. The thin lines are two standard deviations either side. Dashes and symbols tell the curves apart without colour."}
	b.Title = fmt.Sprintf("Load meets capability: %.1f mm³/s is usable at %.0f °C", v.Flow, r.Point.Block)
	c := plot.XY{ZeroBased: true}
	flowAxis(&c, "flow of filament", r.Speed)
	forceAxis(&c, "push force at the feeder")
	top := 0.0
	for i, l := range r.Load {
		s := plot.Series{Name: fmt.Sprintf("load at %.0f °C", l.Block), Dash: map[bool]int{true: 0, false: 1 + i%2}[l.Block == r.Point.Block]}
		for _, p := range l.Points {
			s.X, s.Y = append(s.X, p.Flow), append(s.Y, p.Push)
		}
		c.Series = append(c.Series, s)
	}
	var force, usable, low, high plot.Series
	for _, p := range r.Capability {
		force.X, force.Y = append(force.X, p.Flow), append(force.Y, p.Force)
		usable.X, usable.Y = append(usable.X, p.Flow), append(usable.Y, p.Usable)
		low.X, low.Y = append(low.X, p.Flow), append(low.Y, p.Low)
		high.X, high.Y = append(high.X, p.Flow), append(high.Y, p.High)
		top = max(top, p.High)
	}
	force.Name, usable.Name, low.Name, high.Name = "feeder holds", "over safety factor", "feeder − 2 sd", "feeder + 2 sd"
	usable.Dash, low.Thin, high.Thin, low.Dash, high.Dash = 1, true, true, 2, 2
	c.Series = append(c.Series, force, usable, low, high)
	if len(r.Measured) > 0 {
		m := plot.Series{Name: "measured", Points: true, Symbol: "diamond"}
		for _, p := range r.Measured {
			m.X, m.Y = append(m.X, p.Flow), append(m.Y, p.Force)
			top = max(top, p.Force)
		}
		c.Series = append(c.Series, m)
	}
	c.YMax = niceTop(1.25 * top)
	if v.Flow > 0 {
		c.Marks = append(c.Marks, plot.Mark{X: v.Flow, Name: fmt.Sprintf("usable %.1f", v.Flow)})
	}
	if v.Target > 0 {
		c.Marks = append(c.Marks, plot.Mark{X: v.Target, Name: fmt.Sprintf("wanted %.3g", v.Target)})
	}
	b.Chart = c.Options()
	return b
}

func niceTop(x float64) float64 {
	for _, s := range []float64{1, 2, 5, 10, 20, 25, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500, 750, 1000} {
		if x <= s {
			return s
		}
	}
	return x
}

func temperatureBlock(r *study.Result) Block {
	b := Block{ID: "temperature-block", Title: fmt.Sprintf("The most flow is to be had at %.0f °C", r.BestTemp), Table: []Table{byTemperature(r)}, How: "The symbol at each temperature tells which limit rules there; the table names it."}
	c := plot.XY{X: "block temperature, °C", Y: "highest usable flow, mm³/s", AlsoY: &plot.Also{Unit: "mm/s of filament", By: r.Speed}, ZeroBased: true}
	all := plot.Series{Name: "usable flow"}
	by := map[string]*plot.Series{}
	var order []string
	syms := []string{"circle", "triangle", "rect", "diamond", "pin", "arrow"}
	for _, p := range r.ByTemp {
		all.X, all.Y = append(all.X, p.Block), append(all.Y, p.Flow)
		name := orNone(p.Limit)
		s := by[name]
		if s == nil {
			s = &plot.Series{Name: name, Points: true, Symbol: syms[len(order)%len(syms)]}
			by[name] = s
			order = append(order, name)
		}
		s.X, s.Y = append(s.X, p.Block), append(s.Y, p.Flow)
	}
	c.Series = append(c.Series, all)
	for _, n := range order {
		c.Series = append(c.Series, *by[n])
	}
	c.Marks = []plot.Mark{{X: r.Point.Block, Name: "block now"}}
	b.Chart = c.Options()
	return b
}

func mapBlock(r *study.Result) Block {
	b := Block{ID: "map-block", Table: []Table{mapTable(r)}, How: "Each square is one block temperature and one flow; + is usable, a letter names the limit exceeded most."}
	m := &mapView{}
	used := map[string]bool{}
	usable, cells := 0, 0
	for j, q := range r.Map.Flows {
		s := ""
		if (j+1)%5 == 0 {
			s = fix(q, 1)
		}
		m.Flows = append(m.Flows, s)
	}
	for i := len(r.Map.Temps) - 1; i >= 0; i-- {
		row := mapRow{Temp: fix(r.Map.Temps[i], 0)}
		for j, c := range r.Map.Codes[i] {
			used[c] = true
			cells++
			if c == "+" {
				usable++
			}
			row.Cells = append(row.Cells, mapCell{c, fmt.Sprintf("%.0f °C, %.1f mm³/s: %.0f N", r.Map.Temps[i], r.Map.Flows[j], r.Map.Push[i][j])})
		}
		m.Rows = append(m.Rows, row)
	}
	for _, k := range []Fact{{"+", "usable"}, {"G", "grip: the gear grinds"}, {"S", "motor stall"}, {"B", "buckling"}, {"F", "feeder force, cause unknown"}, {"C", "unmelted core"}, {"H", "heater power"}, {"M", "mount force"}, {"W", "processing window"}, {"D", "decomposition"}} {
		if used[k.Name] {
			m.Key = append(m.Key, k)
		}
	}
	b.Title = fmt.Sprintf("%.0f %% of the map of temperature and flow is usable", 100*float64(usable)/float64(max(1, cells)))
	b.Map = m
	return b
}

func splitBlock(r *study.Result) Block {
	b := Block{ID: "split-block", Table: []Table{sections(r)}, How: "Pressure spent in each section, by shear and by elongation."}
	worst := 0
	bars := plot.Bars{Axis: "pressure drop, MPa", Names: []string{"shear", "elongation"}, Values: make([][]float64, 2), Stack: true}
	for i, s := range r.Sections {
		if s.Drop > r.Sections[worst].Drop {
			worst = i
		}
		bars.Categories = append(bars.Categories, s.Name)
		bars.Values[0] = append(bars.Values[0], round4(s.Shear))
		bars.Values[1] = append(bars.Values[1], round4(s.Elongation))
	}
	b.Title = fmt.Sprintf("%s takes %s of the pressure", upper(r.Sections[worst].Name), percent(r.Sections[worst].Share))
	b.Chart = bars.Options()
	return b
}

func round4(x float64) float64 { return float64(int64(x*1e4+0.5)) / 1e4 }

func meltBlock(r *study.Result) Block {
	title := "The stock melts through before the cone"
	if r.Point.EntryCentre < r.Point.FlowPoint {
		title = "A core reaches the cone unmelted"
	}
	return Block{ID: "melt-block", Title: title, SVG: meltPicture(r.Melt, fmt.Sprintf("Temperature in the melt zone; centre at the cone %.0f degC", r.Point.EntryCentre), "radius"),
		Text:  fmt.Sprintf("Axial section at %.3g mm³/s and %.0f °C. Centre at the cone: %.0f °C; flow point: %.0f °C.", r.Point.Flow, r.Point.Block, r.Point.EntryCentre, r.Point.FlowPoint),
		Table: []Table{meltTable(r.Melt)}, How: "Flow runs from left to right; the radius is stretched. Colour is temperature, the dashed line the edge of the core still below the flow point."}
}

func alongBlock(r *study.Result) Block {
	m := r.Melt
	c := plot.XY{X: "distance along the path, mm", Y: "pressure, MPa", Y2: "temperature, °C", Series: []plot.Series{
		{Name: "pressure", X: m.Z, Y: m.P}, {Name: "mixing cup", X: m.Z, Y: m.Mix, Dash: 1, Right: true}, {Name: "centre", X: m.Z, Y: m.Centre, Dash: 2, Right: true}}}
	return Block{ID: "along-block", Title: fmt.Sprintf("The melt leaves at %.0f °C on average, %.0f °C in the centre", r.Point.ExitMix, r.Point.ExitCentre), Chart: c.Options(), Table: []Table{along(r)},
		How: "Solid: pressure, left axis. Dashed: flow-averaged temperature; dotted: centre temperature, right axis."}
}

func rangeBlock(r *study.Result) Block {
	x := r.Range
	b := Block{ID: "range-block", Table: []Table{ranges(r), influences(r), limitShares(r)}, Title: "What is not known", How: "Each pair of bars is the usable flow with one unknown at its low and at its high end, all others at their best value."}
	if len(x.Influences) > 0 {
		b.Title = "Not knowing the " + x.Influences[0].Input + " costs the most certainty"
	}
	if len(x.Bands) > 0 {
		b.Text = fmt.Sprintf("Sampling what cannot be known gives %.3g to %.3g mm³/s (5 to 95 %%), middle %.3g.", x.Bands[0].Low, x.Bands[0].High, x.Bands[0].Best)
	}
	bars := plot.Bars{Axis: "usable flow, mm³/s", Also: &plot.Also{Unit: "mm/s of filament", By: r.Speed}, Names: []string{"input low", "input high"}, Values: make([][]float64, 2), Horizontal: true}
	for i := len(x.Influences) - 1; i >= 0; i-- {
		f := x.Influences[i]
		bars.Categories = append(bars.Categories, f.Input)
		bars.Values[0] = append(bars.Values[0], round4(f.Low))
		bars.Values[1] = append(bars.Values[1], round4(f.High))
	}
	b.Chart = bars.Options()
	return b
}

func gainBlock(r *study.Result) Block {
	b := Block{ID: "gain-block", Table: []Table{gains(r)}, Title: "What would move it most: " + r.Gains[0].Change, How: "Gain in usable flow from one change at a time, computed by the same model."}
	bars := plot.Bars{Axis: "gain, mm³/s", Also: &plot.Also{Unit: "mm/s of filament", By: r.Speed}, Names: []string{"gain"}, Values: make([][]float64, 1), Horizontal: true}
	for i := len(r.Gains) - 1; i >= 0; i-- {
		bars.Categories = append(bars.Categories, r.Gains[i].Change)
		bars.Values[0] = append(bars.Values[0], round4(r.Gains[i].Gain))
	}
	b.Chart = bars.Options()
	return b
}

func setBlock(r *study.Result) Block {
	b := Block{ID: "set-block", Table: []Table{setPoints(r)}, Title: "Temperature to set at each flow", How: "The block temperature that keeps the push just under the chosen force."}
	s := plot.Series{Name: "block temperature", Symbol: "circle"}
	for _, p := range r.SetPoints {
		if p.Block > 0 {
			s.X, s.Y = append(s.X, p.Flow), append(s.Y, p.Block)
		}
	}
	c := plot.XY{Y: "block temperature, °C", Series: []plot.Series{s}}
	flowAxis(&c, "flow of filament", r.Speed)
	if l := r.SetLine; l != nil {
		b.Title = fmt.Sprintf("To stay under %.0f N: %.0f °C and %.1f K for every mm³/s above %.3g", l.Force, l.Base, l.Slope, l.From)
		b.Text = fmt.Sprintf("The straight line from %.3g to %.3g mm³/s misses the points by at most %.1f K.", l.From, l.To, l.Worst)
		c.Series = append(c.Series, plot.Series{Name: "straight line", Dash: 1, X: []float64{l.From, l.To}, Y: []float64{l.Base, l.Base + l.Slope*(l.To-l.From)}})
	}
	b.Chart = c.Options()
	return b
}
