package report

import (
	"fmt"
	"strings"

	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// Assess lays out the result of a case.
func Assess(r *study.Result) *Document {
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
	add(r.Melt != nil, func(r *study.Result) Block { return meltBlock(r, "") })
	add(r.Melt != nil, alongBlock)
	return verdictOf(r).with(blocks...)
}

// verdictOf lays out the verdict of a case, without blocks.
func verdictOf(r *study.Result) *Document {
	v := r.Verdict
	word := "not usable"
	switch {
	case v.Target != nil:
		word = yes(v.Held, "held", "not held")
		if v.Judged != "" {
			word = v.Judged
		}
	case v.Flow > 0:
		word = "usable"
	}
	next := orNone(v.Next)
	if v.NextFlow != nil {
		next += " at " + shown("next_limit_flow", *v.NextFlow)
	}
	facts := []Fact{
		fact("usable_flow", v.Flow, r.Area),
		{"limited by", orNone(v.Limit)},
		{"next limit", next},
		{"push force", both("push", r.Point.Push, nil) + " at " + shown("usable_flow", r.Point.Flow)},
		fact("pressure", r.Point.Pressure, nil),
	}
	facts = append(facts, printFacts(v.Printed)...)
	if v.Pushed != nil {
		facts = append(facts, fact("pushed_flow", *v.Pushed, nil))
	}
	if v.Melted != nil {
		facts = append(facts, fact("melted_flow", *v.Melted, nil))
	}
	if r.BestTemp != nil {
		facts = append(facts, fact("best_block", *r.BestTemp, nil))
	}
	if x := r.Range; x != nil {
		facts = append(facts, Fact{"likely range (5 to 95 %)", span("usable_flow", x.Usable)})
		if x.Probability != nil {
			facts = append(facts, Fact{"wanted flow held in", shown("probability_target_held", *x.Probability) +
				" of the samples"})
		}
	}
	d := &Document{Header: &r.Header, Word: word, Facts: facts}
	d.At = usedAt{r.Point.Flow, yes(v.Target != nil, "the wanted flow",
		yes(v.Flow > 0, "the usable flow", "the lower end of the search"))}
	if v.Meaning != "" {
		d.Note = upper(v.Limit) + ": " + v.Meaning + "."
	}
	if r.BestTemp != nil {
		d.Note += fmt.Sprintf(" Best block temperature in the range: %s.", quantity.Text("best_block", *r.BestTemp))
	}
	d.More = []Fact{{"stations × cells", fmt.Sprintf("%d × %d", r.Stats.Stations, r.Stats.Cells)},
		{"solutions", fmt.Sprint(r.Stats.Solves)}, {"points read off a chart", fmt.Sprint(r.Stats.Read)},
		fact("heat_balance", r.Stats.HeatBalance, nil),
		fact("work_balance", r.Stats.WorkBalance, nil)}
	return d
}

// printFacts are the print speeds, and what cross-section they are for.
func printFacts(p *study.Printed) []Fact {
	if p == nil {
		return nil
	}
	out := []Fact{fact("print_speed", p.Speed, nil)}
	if p.Wanted != nil {
		out = append(out, fact("wanted_print_speed", *p.Wanted, nil))
	}
	return append(out, Fact{"layer × line", strings.Replace(p.Line(), " x ", " × ", 1) + ", as a rectangle"})
}

// span writes an interval for a page.
func span(name string, x study.Interval) string {
	return quantity.Of(name).Number(x.Low) + " to " + shown(name, x.High)
}

func limitBlock(r *study.Result) Block {
	b := Block{ID: "limits-block", Title: "Nothing limits the flow within the search",
		Table: []Table{list("limits", "What limits the flow, nearest first", r.Bounds, nil),
			summary("point", "At the operating point", r.Point, r.Area)},
		Open: true,
		How:  "Each bar is the flow that one limit alone would allow. The shortest bar sets the usable flow."}
	warns := false
	for _, x := range r.Bounds {
		warns = warns || x.Warns
	}
	if warns {
		b.How = "Each bar is the flow that one limit alone would allow. A limit marked “warns only” is told and does " +
			"not count; of the others the shortest bar sets the usable flow."
		b.Table[0].Title += "; of those that do not only warn the nearest sets the usable flow"
	}
	if r.Verdict.Limit != "" {
		b.Title = upper(r.Verdict.Limit) + " is the first limit" + yes(r.Bounds[0].Warns, " that counts", "")
	}
	top := 0.0
	for _, x := range r.Bounds {
		top = max(top, x.Flow)
	}
	for _, x := range r.Bounds {
		b.Bars = append(b.Bars, barView{Name: x.Limit, Value: yes(x.Open, "beyond ", "") + shown("limit_flow", x.Flow) +
			yes(x.Warns, ", warns only", ""),
			Share: 100 * x.Flow / max(top, 1e-15), Code: x.Code})
	}
	return b
}

func loadBlock(r *study.Result) Block {
	v := r.Verdict
	b := Block{ID: "load-block",
		Table: nonEmpty(loads(r), long(list("capability", "What the feeder holds", r.Capability, r.Area)),
			long(list("measured", "Measured points", r.Measured, r.Area))),
		How: "Load curves rise with flow; the force the feeder holds falls. A flow is usable where load times safety " +
			"factor stays below that force. The thin lines are two standard deviations either side."}
	b.Title = fmt.Sprintf("Load meets feeder at %s: the usable flow at %s", shown("usable_flow", v.Flow),
		shown("best_block", r.Point.Block))
	if v.Flow == 0 {
		b.Title = "No flow is usable at " + shown("best_block", r.Point.Block)
	}
	c := newChart("flow", "push", r.Area)
	c.ZeroBased = true
	for i, l := range r.Load {
		s := plot.Series{Name: "load at " + shown("best_block", l.Block), Dash: 1 + i%2}
		if l.Block == r.Point.Block {
			s.Dash = 0
		}
		c.add(s, of(l.Points, func(p *study.LoadPoint) float64 { return p.Flow }),
			of(l.Points, func(p *study.LoadPoint) float64 { return p.Push }))
	}
	q := of(r.Capability, func(p *study.CapPoint) float64 { return p.Flow })
	high := of(r.Capability, func(p *study.CapPoint) float64 { return p.High })
	c.add(plot.Series{Name: "feeder holds"}, q, of(r.Capability, func(p *study.CapPoint) float64 { return p.Force }))
	c.add(plot.Series{Name: "over safety factor", Dash: 1}, q,
		of(r.Capability, func(p *study.CapPoint) float64 { return p.Usable }))
	c.add(plot.Series{Name: "feeder − 2 sd", Dash: 2, Thin: true}, q,
		of(r.Capability, func(p *study.CapPoint) float64 { return p.Low }))
	c.add(plot.Series{Name: "feeder + 2 sd", Dash: 2, Thin: true}, q, high)
	top := 0.0
	for _, x := range high {
		top = max(top, x)
	}
	if len(r.Measured) > 0 {
		c.add(plot.Series{Name: "measured", Points: true, Symbol: "diamond"},
			of(r.Measured, func(p *study.BenchPoint) float64 { return p.Flow }),
			of(r.Measured, func(p *study.BenchPoint) float64 { return p.Force }))
		for _, p := range r.Measured {
			top = max(top, p.Force)
		}
	}
	c.YMax = niceTop(1.25 * top)
	if v.Flow > 0 {
		c.mark(v.Flow, "usable "+quantity.Of("usable_flow").Number(v.Flow))
	}
	if v.Target != nil {
		c.mark(*v.Target, "wanted "+quantity.Of("target_flow").Number(*v.Target))
	}
	b.Chart = c
	return b
}

func niceTop(x float64) float64 {
	for _, s := range []float64{1, 2, 5, 10, 20, 25, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500,
		750, 1000} {
		if x <= s {
			return s
		}
	}
	return x
}

func temperatureBlock(r *study.Result) Block {
	b := Block{ID: "temperature-block", Title: "No block temperature in the range gives a usable flow",
		Table: []Table{long(list("by-temperature", "Usable flow by block temperature", r.ByTemp, r.Area))},
		How:   "The symbol at each temperature says which limit sets the flow there; the table names it."}
	if r.BestTemp != nil {
		b.Title = "Best block temperature in the range: " + shown("best_block", *r.BestTemp)
	}
	for i := range r.ByTemp {
		b.Table[0].beyond(i, "usable_flow", r.ByTemp[i].Limit == "" && r.ByTemp[i].Flow > 0)
	}
	c := newChart("block", "usable_flow", r.Area)
	c.ZeroBased = true
	c.add(plot.Series{Name: "usable flow"}, of(r.ByTemp, func(p *study.TempPoint) float64 { return p.Block }),
		of(r.ByTemp, func(p *study.TempPoint) float64 { return p.Flow }))
	by := map[string][]study.TempPoint{}
	var order []string
	for _, p := range r.ByTemp {
		name := orNone(p.Limit)
		if by[name] == nil {
			order = append(order, name)
		}
		by[name] = append(by[name], p)
	}
	for i, n := range order {
		c.add(plot.Series{Name: n, Points: true, Symbol: symbol(i)},
			of(by[n], func(p *study.TempPoint) float64 { return p.Block }),
			of(by[n], func(p *study.TempPoint) float64 { return p.Flow }))
	}
	c.mark(r.Point.Block, "block now")
	b.Chart = c
	return b
}

func mapBlock(r *study.Result) Block {
	b := Block{ID: "map-block", Table: []Table{mapTable(r)},
		How: "Each square is one block temperature and one flow: + is usable, a letter names the limit exceeded most."}
	m := &mapView{}
	used := map[string]bool{}
	block, flow, push := quantity.Of("best_block"), quantity.Of("usable_flow"), quantity.Of("push")
	for j, q := range r.Map.Flows {
		s := ""
		if (j+1)%5 == 0 {
			s = flow.Number(q)
		}
		m.Flows = append(m.Flows, s)
	}
	for i := len(r.Map.Temps) - 1; i >= 0; i-- {
		row := mapRow{Temp: block.Number(r.Map.Temps[i])}
		for j, c := range r.Map.Codes[i] {
			used[c] = true
			row.Cells = append(row.Cells,
				mapCell{c, fmt.Sprintf("%s, %s: %s", block.Page(r.Map.Temps[i]), flow.Page(r.Map.Flows[j]),
					push.Page(r.Map.Push[i][j]))})
		}
		m.Rows = append(m.Rows, row)
	}
	m.Key = append(m.Key, Fact{"+", "usable"})
	for _, l := range match.All() {
		if used[l.Code()] {
			m.Key = append(m.Key, Fact{l.Code(), l.Short()})
		}
	}
	b.Title = shown("share", r.Map.Usable) + " of the map of temperature and flow is usable"
	b.Map = m
	return b
}

func splitBlock(r *study.Result) Block {
	parts := []struct {
		name string
		si   float64
	}{{"barrel", r.Spent.Barrel}, {"cone", r.Spent.Cone}, {"entrance of the bore", r.Spent.Entrance},
		{"bore", r.Spent.Bore}, {"path drag", r.Spent.Drag}}
	c, q := bars("push", nil, "push")
	most, all := parts[0], 0.0
	for _, p := range parts {
		c.Categories, c.Values[0] = append(c.Categories, p.name), append(c.Values[0], q.Unit.Shown(p.si))
		all += p.si
		if p.si > most.si {
			most = p
		}
	}
	b := Block{ID: "split-block", Chart: c,
		Table: []Table{summary("load-spent", "Where the push is spent", r.Spent, nil),
			list("sections", "Pressure drop and temperature along the path", r.Sections, nil)},
		How: "Push at the operating point by where it is spent. The entrance is the elastic loss of the melt where " +
			"it narrows into the bore."}
	b.Title = fmt.Sprintf("Most of the push is spent in the %s: %s", most.name, shown("share", most.si/max(all, 1e-9)))
	return b
}

func meltBlock(r *study.Result, lead string) Block {
	p, x := r.Point, r.Stretches
	title := "The stock melts through before the cone"
	switch {
	case x.Solid:
		title = "The rod reaches the cone solid"
	case !x.MeltsThrough:
		title = "A core reaches the cone unmelted"
	}
	return Block{ID: "melt-block", Title: title,
		SVG: meltPicture(r.Melt, lead, "Temperature in the melt zone; centre at the cone "+
			quantity.Text("best_block", p.EntryCentre), "radius"),
		Text: fmt.Sprintf("Axial section at %s and %s. Rod in the air gap %s, plug on wetted wall %s, held melt %s: "+
			"%s of the wall before the cone is wetted. Centre at the cone: %s; flow point: %s.",
			shown("usable_flow", p.Flow), shown("best_block", p.Block), shown("rod_length", x.Rod),
			shown("wetted_length", x.Wetted), shown("held_length", x.Held), shown("wetted_share", x.WettedShare),
			shown("best_block", p.EntryCentre), shown("best_block", p.FlowPoint)),
		Table: []Table{summary("stretches", "State of the stock before the cone", x, nil), meltTable(r.Melt)},
		How: "Flow runs from left to right; the radius is stretched. Colour is temperature, hatching the air gap " +
			"around the rod; the dashed line is the edge of the core below the flow point."}
}

func alongBlock(r *study.Result) Block {
	m := r.Melt
	c := newChart("z", "melt_pressure", nil)
	c.rightAxis("bulk")
	c.Y2 = "temperature, " + c.right.Unit.Symbol()
	c.add(plot.Series{Name: "pressure"}, m.Z, m.P)
	c.add(plot.Series{Name: "bulk temperature", Dash: 1, Right: true}, m.Z, m.Bulk)
	c.add(plot.Series{Name: "centre temperature", Dash: 2, Right: true}, m.Z, m.Centre)
	return Block{ID: "along-block", Title: fmt.Sprintf("The melt leaves at a bulk temperature of %s, %s in the centre",
		shown("best_block", r.Point.ExitBulk), shown("best_block", r.Point.ExitCentre)), Chart: c,
		Table: []Table{columns("along", "Along the melt path",
			[]string{"z", "radius", "melt_pressure", "bulk", "centre", "core_radius"}, m.Z, m.R, m.P, m.Bulk,
			m.Centre, m.Core)},
		How: "Solid: pressure, left axis. Dashed: bulk (flow-averaged) temperature; dotted: centre temperature, " +
			"right axis."}
}

func rangeBlock(r *study.Result) Block {
	x := r.Range
	b := Block{ID: "range-block", Title: "Likely range",
		How: "Each line is the usable flow with one input at its low and at its high end, all others at their middle.",
		Table: []Table{rangeTable(x), list("influences", "Which unknown matters most", x.Influences, nil),
			long(list("limit-shares", "How often each limit is the first", x.Limits, nil))}}
	if len(x.Influences) > 0 {
		b.Title = upper(x.Influences[0].Input) + " is the unknown that matters most"
	}
	for i := range x.Influences {
		f := &x.Influences[i]
		b.Table[1].beyond(i, "usable_flow_input_low", x.Beyond(f.Low))
		b.Table[1].beyond(i, "usable_flow_input_high", x.Beyond(f.High))
	}
	if x.Beyond(x.Usable.High) {
		b.How += " A flow “beyond” a number was looked for up to it, the end of the search."
	}
	b.Text = fmt.Sprintf("Likely range %s (5 to 95 %%), middle %s.", span("usable_flow", x.Usable),
		shown("usable_flow", x.Usable.Best))
	if x.SurfaceMiss != nil {
		b.Text += fmt.Sprintf(" %d of the %d samples were solved. The others are read off a surface fitted to these, "+
			"which misses the usable flow of a sample by %s (root mean square, by cross-validation).", x.Solved,
			x.Samples, shown("surface_miss", *x.SurfaceMiss))
	}
	if x.Probability != nil {
		b.Text += fmt.Sprintf(" The wanted flow is held in %s of the samples. %s",
			shown("probability_target_held", *x.Probability), x.Thresholds)
	}
	c := newRanges("usable_flow", r.Area, plot.RangePoints{Name: "input low", Symbol: plot.Triangle},
		plot.RangePoints{Name: "input high", Symbol: plot.Square})
	for i := len(x.Influences) - 1; i >= 0; i-- {
		f := x.Influences[i]
		c.row(f.Input, f.Low, f.High)
	}
	c.mark(x.Usable.Best, "best estimate "+quantity.Of("usable_flow").Number(x.Usable.Best))
	b.Chart = c
	return b
}

func gainBlock(r *study.Result) Block {
	b := Block{ID: "gain-block", Table: []Table{list("gains", "What one change would gain", r.Gains, nil)},
		Title: "Largest gain: " + r.Gains[0].Change,
		How:   "Gain in usable flow from one change at a time, computed by the same model."}
	c, q := bars("gain", r.Area, "gain")
	c.Horizontal = true
	for i := len(r.Gains) - 1; i >= 0; i-- {
		c.Categories = append(c.Categories, r.Gains[i].Change)
		c.Values[0] = append(c.Values[0], q.Unit.Shown(r.Gains[i].Gain))
	}
	b.Chart = c
	return b
}

func setBlock(r *study.Result) Block {
	b := Block{ID: "set-block",
		Table: []Table{list("set-points", "Temperature to set at each flow", r.SetPoints, r.Area)},
		Title: "Temperature to set at each flow",
		How:   "The block temperature that keeps the push just under the force to hold."}
	var xs, ys []float64
	for _, p := range r.SetPoints {
		if p.Block != nil {
			xs, ys = append(xs, p.Flow), append(ys, *p.Block)
		}
	}
	c := newChart("flow", "set_block", r.Area)
	c.add(plot.Series{Name: "block temperature", Symbol: "circle"}, xs, ys)
	if l := r.SetLine; l != nil {
		slope, flow := quantity.Of("slope"), quantity.Of("from_flow")
		what := "what the feeder can give"
		if l.Force != nil {
			what = shown("held_force", *l.Force)
		}
		b.Title = fmt.Sprintf("To stay under %s: %s at %s, and %s above", what, shown("best_block", l.Base),
			flow.Page(l.From), slope.Page(l.Slope))
		b.Text = fmt.Sprintf("The straight line from %s to %s misses the points by at most %s.", flow.Number(l.From),
			flow.Page(l.To), shown("largest_miss", l.Worst))
		c.add(plot.Series{Name: "straight line", Dash: 1}, []float64{l.From, l.To},
			[]float64{l.Base, l.Base + l.Slope*(l.To-l.From)})
	}
	b.Chart = c
	return b
}
