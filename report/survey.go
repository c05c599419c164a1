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
		facts = append(facts, fact("usable_flow", *x.Flow, r.Area), Fact{"at", x.Name(ends)})
	}
	if r.Fastest != nil {
		x := &r.Rows[*r.Fastest]
		facts = append(facts, Fact{"highest print speed", shown("print_speed", *x.Speed) + ", " + x.Name(ends)})
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

// line is the rows of a survey that differ in one number alone.
type line struct {
	name string
	rows []*study.SurveyRow
}

// surveyCharts are the usable flow against block temperature or, if that is the same throughout, against the nozzle;
// one chart for each material and hot end if the lines are many. Where neither differs there is one chart of ranges.
func surveyCharts(r *study.SurveyResult) []Block {
	_, _, nozzles, blocks := r.Several()
	table := Block{ID: "survey-block", Title: "Usable flow of every combination", Open: true,
		Table: []Table{surveyTable(r)},
		How: "Hard and easy end: the usable flow with viscosity, entrance loss and heated length all at their " +
			"hard and at their easy side, near 5 and 95 %. They are the same unknowns for all rows, so that rows " +
			"whose ranges overlap may still differ for sure. A flow at the end of the search " +
			"(limits.max_flow_mm3_s) may be higher. Click a heading to sort by it."}
	switch {
	case blocks:
		return append(lineCharts(r, "block", func(x *study.SurveyRow) *float64 { return &x.Block }), table)
	case nozzles:
		return append(lineCharts(r, "nozzle", func(x *study.SurveyRow) *float64 { return x.Nozzle }), table)
	}
	table.Chart = rangesOf(r)
	return []Block{table}
}

// rangesOf draws each row as a range; the highest 30 where they are more.
func rangesOf(r *study.SurveyResult) plot.Chart {
	c := newRanges("usable_flow", r.Area, plot.RangePoints{Name: "hard end", Symbol: plot.Triangle},
		plot.RangePoints{Name: "usable flow", Symbol: plot.Circle},
		plot.RangePoints{Name: "easy end", Symbol: plot.Square})
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
	var order []string
	by := map[string][]line{}
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Flow == nil || at(row) == nil {
			continue
		}
		of := ""
		if stocks {
			of = row.Material
		}
		if ends {
			of = strings.TrimPrefix(of+" on "+row.HotEnd, " on ")
		}
		inner := ""
		if name == "block" && row.Nozzle != nil {
			inner = quantity.Text("nozzle", *row.Nozzle) + " nozzle"
		}
		if by[of] == nil {
			order = append(order, of)
		}
		k := len(by[of]) - 1
		if k < 0 || by[of][k].name != inner {
			by[of], k = append(by[of], line{name: inner}), k+1
		}
		by[of][k].rows = append(by[of][k].rows, row)
	}
	groups := map[string][]line{}
	var titles []string
	total := 0
	for _, of := range order {
		total += len(by[of])
	}
	if total <= mostLines { // all in one chart
		for _, of := range order {
			for _, l := range by[of] {
				l.name = strings.Trim(of+", "+l.name, ", ")
				groups[""] = append(groups[""], l)
			}
		}
		titles = []string{""}
	} else {
		groups, titles = by, order
	}
	var out []Block
	for i, of := range titles {
		out = append(out, lineBlock(r, x, at, fmt.Sprintf("survey-%d-block", i+1), of, groups[of]))
	}
	return out
}

// lineBlock is one chart of usable flow, with its low ends where there are few lines.
func lineBlock(r *study.SurveyResult, x quantity.Quantity, at func(x *study.SurveyRow) *float64, id, of string,
	lines []line) Block {
	c := newChart(x.Name, "usable_flow", r.Area)
	c.ZeroBased = true
	kept := pick(len(lines), mostLines)
	best := lines[0].rows[0]
	for _, l := range lines {
		for _, row := range l.rows {
			if *row.Flow > *best.Flow {
				best = row
			}
		}
	}
	add := func(l line, s plot.Series, of func(x *study.SurveyRow) float64) {
		var xs, ys []float64
		for _, row := range l.rows {
			xs, ys = append(xs, *at(row)), append(ys, of(row))
		}
		c.add(s, xs, ys)
	}
	for i, k := range kept {
		l := lines[k]
		name := l.name
		if name == "" {
			name = "usable flow"
		}
		add(l, plot.Series{Name: name, Dash: i, Symbol: symbol(i)},
			func(x *study.SurveyRow) float64 { return *x.Flow })
	}
	if len(lines) == 1 {
		add(lines[0], plot.Series{Name: "hard end", Dash: 2, Thin: true},
			func(x *study.SurveyRow) float64 { return *x.Low })
		add(lines[0], plot.Series{Name: "easy end", Dash: 1, Thin: true},
			func(x *study.SurveyRow) float64 { return *x.High })
	}
	title := "Usable flow against " + x.Label
	if of != "" {
		title = of + ": usable flow against " + x.Label
	}
	if b := *best.Flow; b > 0 {
		title += ", up to " + shown("usable_flow", b)
	}
	b := Block{ID: id, Title: title, Chart: c, How: "Dashes and symbols tell the lines apart without colour."}
	if n := len(lines) - len(kept); n > 0 {
		b.Text = fmt.Sprintf("%d of %d lines are drawn; the table has all.", len(kept), len(lines))
	}
	return b
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
