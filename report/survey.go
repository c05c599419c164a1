package report

import (
	"fmt"
	"math"
	"strings"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// mostLines is how many lines a chart of a survey draws: more cannot be told apart.
const mostLines = 6

// Survey lays out a survey.
func Survey(r *study.SurveyResult) *Document {
	facts := []Fact{{"combinations", fmt.Sprint(len(r.Rows))}}
	if r.Target != nil {
		facts = append(facts, fact("target_flow", *r.Target, r.Area))
	}
	if r.Wanted != nil {
		facts = append(facts, fact("wanted_print_speed", *r.Wanted, nil))
	}
	_, ends, _, _ := r.Several()
	if r.Best != nil {
		x := &r.Rows[*r.Best]
		f := fact("usable_flow", *x.Flow, r.Area)
		f.Value = yes(x.Limit == "", "at least ", "") + f.Value
		facts = append(facts, f, Fact{"at", x.Name(ends)})
	}
	if r.Fastest != nil {
		x := &r.Rows[*r.Fastest]
		facts = append(facts, Fact{"highest print speed", yes(x.Limit == "", "at least ", "") +
			shown("print_speed", *x.Speed) + ", " + x.Name(ends)})
	}
	word := yes(r.Good, "surveyed", "nothing usable")
	if r.Target != nil || r.Wanted != nil {
		word = "held in none"
		if n := r.Held(); n == len(r.Rows) {
			word = "held in all"
		} else if n > 0 {
			word = "held in some"
		}
	}
	return document(&r.Header, word, facts, append(surveyCharts(r), tableToType(r)...)...)
}

// surveyTable is every combination in a row; columns of which all rows have the same are left to the files, and so are
// those that nothing is known of.
func surveyTable(r *study.SurveyResult) Table {
	t := list("survey", "Every combination", r.Rows, r.Area)
	t.Sort = true
	for i := range r.Rows {
		x := &r.Rows[i]
		for name, si := range map[string]*float64{"usable_flow": x.Flow, "usable_flow_low_end": x.Low,
			"usable_flow_high_end": x.High} {
			t.beyond(i, name, si != nil && x.Beyond(*si))
		}
	}
	stocks, ends, nozzles, blocks := r.Several()
	wide := map[string]bool{"material": !stocks && (ends || nozzles || blocks), "hot_end": !ends,
		"nozzle_mm": !nozzles && (stocks || ends || blocks), "block_degC": !blocks && (stocks || ends || nozzles)}
	for j := range t.Columns {
		c := &t.Columns[j]
		known := false
		for i := range t.Rows {
			known = known || t.Rows[i][j].Value != nil && t.Rows[i][j].Value != ""
		}
		c.Wide = c.Wide || wide[c.Key] || !known
	}
	return t
}

// line is the rows of a survey that differ in one number alone; what is the same throughout has no name.
type line struct {
	stock, end, rest string
	rows             []*study.SurveyRow
}

func (l line) same(m line) bool { return l.stock == m.stock && l.end == m.end && l.rest == m.rest }

// grouped puts lines into charts: all into one or, if they are too many for that, one for each material, or for each
// material and hot end. titles are in order; the lines of a chart are named by what its title does not say.
func grouped(all []line) (titles []string, groups map[string][]line) {
	ways := []func(l line) (title, name []string){
		func(l line) ([]string, []string) { return nil, []string{l.stock, l.end, l.rest} },
		func(l line) ([]string, []string) { return []string{l.stock}, []string{l.end, l.rest} },
		func(l line) ([]string, []string) { return []string{l.stock, l.end}, []string{l.rest} },
	}
	for i, way := range ways {
		titles, groups = nil, map[string][]line{}
		most := 0
		for _, l := range all {
			title, name := way(l)
			of := named(title)
			if groups[of] == nil {
				titles = append(titles, of)
			}
			groups[of] = append(groups[of], line{rest: named(name), rows: l.rows})
			most = max(most, len(groups[of]))
		}
		if most <= mostLines || i == len(ways)-1 {
			break
		}
	}
	return titles, groups
}

// named joins the words that there are.
func named(words []string) string {
	var out []string
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	return strings.Join(out, ", ")
}

// surveyCharts are the usable flow against block temperature or, if that is the same throughout, against the nozzle;
// one chart for each material and hot end if the lines are many. Where neither differs there is one chart of ranges.
func surveyCharts(r *study.SurveyResult) []Block {
	table := Block{ID: "survey-block", Title: "Usable flow of every combination", Open: true,
		Table: []Table{surveyTable(r)},
		How: "Low end: the usable flow with high viscosity, high entrance loss and a short heated length. High " +
			"end: with all three the other way. They lie near 5 and 95 %. The unknowns are the same for all rows. " +
			"So rows whose ranges overlap may still differ for sure. “beyond” is said of a flow at the end of the " +
			"search (limits.max_flow_mm3_s): it may be higher. Click a heading to sort by it."}
	byBlock := func(x *study.SurveyRow) *float64 { return &x.Block }
	byNozzle := func(x *study.SurveyRow) *float64 { return x.Nozzle }
	switch {
	case varies(r, byBlock, byNozzle):
		return append(lineCharts(r, "block", byBlock), table)
	case varies(r, byNozzle, byBlock):
		return append(lineCharts(r, "nozzle", byNozzle), table)
	}
	table.Chart = rangesOf(r)
	return []Block{table}
}

// varies tells whether a number differs between rows of one material, hot end and other number: what a line needs.
func varies(r *study.SurveyResult, number, other func(x *study.SurveyRow) *float64) bool {
	a := &r.Rows[0]
	for i := range r.Rows {
		b := &r.Rows[i]
		if a.Material == b.Material && a.HotEnd == b.HotEnd && quantity.Or(other(a), 0) == quantity.Or(other(b), 0) &&
			quantity.Or(number(a), 0) != quantity.Or(number(b), 0) {
			return true
		}
	}
	return false
}

// rangesOf draws each row as a range; the highest 30 where they are more.
func rangesOf(r *study.SurveyResult) plot.Chart {
	c := newRanges("usable_flow", r.Area, plot.RangePoints{Name: "low end", Symbol: plot.Triangle},
		plot.RangePoints{Name: "usable flow", Symbol: plot.Circle},
		plot.RangePoints{Name: "high end", Symbol: plot.Square})
	_, ends, _, _ := r.Several()
	for i := min(len(r.Rows), 30) - 1; i >= 0; i-- {
		if x := &r.Rows[i]; x.Flow != nil {
			c.row(x.Name(ends), *x.Low, *x.Flow, *x.High)
		}
	}
	if r.Target != nil {
		c.mark(*r.Target, "wanted "+quantity.Of("target_flow").Number(*r.Target))
	}
	return c
}

// lineCharts draw usable flow and print speed against a number of the rows.
func lineCharts(r *study.SurveyResult, name string, at func(x *study.SurveyRow) *float64) []Block {
	stocks, ends, _, _ := r.Several()
	x := quantity.Of(name)
	var all []line
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Flow == nil || at(row) == nil {
			continue
		}
		l := line{}
		if stocks {
			l.stock = row.Material
		}
		if ends {
			l.end = row.HotEnd
		}
		if name == "block" && row.Nozzle != nil {
			l.rest = quantity.Text("nozzle", *row.Nozzle) + " nozzle"
		}
		if n := len(all); n == 0 || !all[n-1].same(l) {
			all = append(all, l)
		}
		n := len(all) - 1
		all[n].rows = append(all[n].rows, row)
	}
	titles, groups := grouped(all)
	var out []Block
	for i, of := range titles {
		out = append(out, lineBlock(r, x, at, fmt.Sprintf("survey-%d-block", i+1), of, groups[of], usable))
	}
	if r.Fastest == nil {
		return out
	}
	for i, of := range titles {
		out = append(out, lineBlock(r, x, at, fmt.Sprintf("speed-%d-block", i+1), of, groups[of], speed))
	}
	return out
}

// plotted is a number of the rows that a chart draws.
type plotted struct {
	name string
	of   func(x *study.SurveyRow) *float64
}

var (
	usable = plotted{"usable_flow", func(x *study.SurveyRow) *float64 { return x.Flow }}
	speed  = plotted{"print_speed", func(x *study.SurveyRow) *float64 { return x.Speed }}
)

// lineBlock is one chart of usable flow or print speed, the flow with its ends where there is one line.
func lineBlock(r *study.SurveyResult, x quantity.Quantity, at func(x *study.SurveyRow) *float64, id, of string,
	lines []line, y plotted) Block {
	c := newChart(x.Name, y.name, r.Area)
	c.ZeroBased = true
	add := func(l line, s plot.Series, of func(x *study.SurveyRow) *float64) {
		var xs, ys []float64
		for _, row := range l.rows {
			if v := of(row); v != nil {
				xs, ys = append(xs, *at(row)), append(ys, *v)
			}
		}
		c.add(s, xs, ys)
	}
	kept := pick(len(lines), mostLines)
	for i, k := range kept {
		l := lines[k]
		name := l.rest
		if name == "" {
			name = quantity.Of(y.name).Label
		}
		add(l, plot.Series{Name: name, Dash: i, Symbol: symbol(i)}, y.of)
	}
	if len(lines) == 1 && y.name == usable.name {
		add(lines[0], plot.Series{Name: "low end", Dash: 2, Thin: true},
			func(x *study.SurveyRow) *float64 { return x.Low })
		add(lines[0], plot.Series{Name: "high end", Dash: 1, Thin: true},
			func(x *study.SurveyRow) *float64 { return x.High })
	}
	best := 0.0
	for _, l := range lines {
		for _, row := range l.rows {
			best = max(best, quantity.Or(y.of(row), 0))
		}
	}
	title := upper(quantity.Of(y.name).Label) + " against " + x.Label
	if of != "" {
		title += ", " + of
	}
	if best > 0 {
		title += ": up to " + shown(y.name, best)
	}
	b := Block{ID: id, Title: title, Chart: c, Table: []Table{linesTable(strings.TrimSuffix(id, "-block"), title, lines,
		r.Area)}, How: "Dashes and symbols tell the lines apart without colour."}
	if y.name == speed.name {
		b.How += " Flow over layer height times line width of each nozzle; acceleration and cooling are not in it."
	}
	if n := len(lines) - len(kept); n > 0 {
		b.Text = fmt.Sprintf("%d of %d lines are drawn; the table has all.", len(kept), len(lines))
	}
	return b
}

// surveyPoint is one point of a chart of a survey.
type surveyPoint struct {
	Material string   `q:"material"`
	HotEnd   string   `q:"hot_end"`
	Nozzle   *float64 `q:"nozzle"`
	Block    float64  `q:"block"`
	Flow     *float64 `q:"usable_flow"`
	Speed    *float64 `q:"print_speed"`
}

// linesTable is what a chart draws, as a table.
func linesTable(id, title string, lines []line, area *float64) Table {
	var points []surveyPoint
	for _, l := range lines {
		for _, x := range l.rows {
			points = append(points, surveyPoint{x.Material, x.HotEnd, x.Nozzle, x.Block, x.Flow, x.Speed})
		}
	}
	return long(list(id, title, points, area))
}

// pick is up to most of n numbers, evenly over them, both ends among them.
func pick(n, most int) []int {
	var out []int
	for i := range min(n, most) {
		k := i
		if n > most {
			k = int(math.Round(float64(i) * float64(n-1) / float64(most-1)))
		}
		out = append(out, k)
	}
	return out
}

// tableToType is the usable flow by block temperature and nozzle, a table for each material and hot end: what is typed
// where a program wants a flow cap. Only where both differ.
func tableToType(r *study.SurveyResult) []Block {
	stocks, ends, nozzles, blocks := r.Several()
	if !nozzles || !blocks {
		return nil
	}
	b := Block{ID: "cap-block", Title: "Flow caps by block temperature and nozzle",
		How: "The usable flow, not derated: printing on a part, another batch and wear take some of it. 10 % off is " +
			"common practice."}
	var at *Table
	last := ""
	flow, nozzle, block := quantity.Of("usable_flow"), quantity.Of("nozzle"), quantity.Of("block")
	rows := map[float64]int{}
	for i := range r.Rows {
		x := &r.Rows[i]
		if x.Nozzle == nil {
			continue
		}
		name := "Usable flow"
		if stocks {
			name += ", " + x.Material
		}
		if ends {
			name += ", " + x.HotEnd
		}
		if at == nil || last != name {
			b.Table = append(b.Table, Table{ID: fmt.Sprintf("caps-%d", len(b.Table)+1), Title: name + ", " +
				flow.Unit.Text, Columns: []Column{column(block, true, false)}})
			at, last, rows = &b.Table[len(b.Table)-1], name, map[float64]int{}
		}
		col := 0
		key := "nozzle_" + plainValue(nozzle.Unit.Edge(*x.Nozzle)) + "_mm_" + flow.Key()
		for j := range at.Columns {
			if at.Columns[j].Key == key {
				col = j
			}
		}
		if col == 0 {
			at.Columns = append(at.Columns, Column{Key: key, Head: nozzle.Text(*x.Nozzle), Number: true})
			col = len(at.Columns) - 1
			for k := range at.Rows {
				at.Rows[k] = append(at.Rows[k], unknown)
			}
		}
		k, there := rows[x.Block]
		if !there {
			k = len(at.Rows)
			rows[x.Block] = k
			row := []Cell{cell(block, x.Block)}
			for len(row) < len(at.Columns) {
				row = append(row, unknown)
			}
			at.Rows = append(at.Rows, row)
		}
		if x.Flow != nil {
			at.Rows[k][col] = cell(flow, *x.Flow)
		}
	}
	return []Block{b}
}
