package report

import (
	"fmt"
	"math"
	"reflect"
	"strconv"

	"meltload/flow/quantity"
	"meltload/flow/study"
)

// Table is a titled table, ready for any rendering.
type Table struct {
	ID      string // file name and anchor
	Title   string
	Columns []Column
	Rows    [][]Cell
	Long    bool // left to the files on a terminal
	Sort    bool // a click on a heading of the page sorts it; its first column stays in sight
}

// Column is a column of a table.
type Column struct {
	Key    string // in files: push_N
	Head   string // for readers: push N
	Number bool   // right-aligned
	Wide   bool   // left to the files on a terminal
}

// Cell is what stands in a table: rounded text for readers, and the value for files (nil where it is not known).
type Cell struct {
	Text  string
	Value any // float64 in the unit of the column, int, bool or string
}

func (c Cell) String() string { return c.Text }

// Plain is the value as a number that a script can compare, empty where there is none.
func (c Cell) Plain() string {
	switch x := c.Value.(type) {
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case int:
		return strconv.Itoa(x)
	}
	return ""
}

// words is a cell of text.
func words(s string) Cell { return Cell{s, s} }

// unknown is a cell without a value.
var unknown = Cell{Text: "–"}

// cell shows a number of a quantity.
func cell(q quantity.Quantity, si float64) Cell {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return unknown
	}
	return Cell{q.Number(si), q.Unit.Edge(si)}
}

// cellOf shows any field of a result.
func cellOf(q quantity.Quantity, v reflect.Value) Cell {
	switch x := v.Interface().(type) {
	case float64:
		return cell(q, x)
	case *float64:
		if x == nil {
			return unknown
		}
		return cell(q, *x)
	case int:
		return Cell{strconv.Itoa(x), x}
	case bool:
		return Cell{yes(x, "yes", "no"), x}
	case *bool:
		if x == nil {
			return unknown
		}
		return Cell{yes(*x, "yes", "no"), *x}
	case *string:
		if x == nil {
			return unknown
		}
		return cellOf(q, v.Elem())
	case string:
		if x == "" {
			return Cell{q.Empty, x}
		}
		return words(x)
	}
	panic(fmt.Sprintf("report: no cell for %s of type %s", q.Name, v.Type()))
}

// column is the column of a quantity.
func column(q quantity.Quantity, number, wide bool) Column {
	return Column{Key: q.Key(), Head: q.Heading(), Number: number, Wide: wide}
}

// roomy is the number of columns beyond which second units are left to files and pages.
const roomy = 9

// list lays out rows of a result (a slice of structs) by the quantities of their fields; area is the filament's
// cross-section (m2), nil if there is none.
func list(id, title string, rows any, area *float64) Table {
	t := Table{ID: id, Title: title}
	v := reflect.ValueOf(rows)
	var fields []quantity.Field
	for _, f := range quantity.Fields(v.Type().Elem()) {
		if f.Shown {
			fields = append(fields, f)
		}
	}
	for _, f := range fields {
		kind := f.Type
		if kind.Kind() == reflect.Pointer {
			kind = kind.Elem()
		}
		t.Columns = append(t.Columns,
			column(*f.Is, kind.Kind() == reflect.Float64 || kind.Kind() == reflect.Int, f.Wide))
		if s, ok := f.Is.Second(quantity.Or(area, 0)); ok {
			t.Columns = append(t.Columns, column(s, true, f.Wide || len(fields) > roomy))
		}
	}
	for i := range v.Len() {
		var row []Cell
		for _, f := range fields {
			x := v.Index(i).FieldByIndex(f.Index)
			row = append(row, cellOf(*f.Is, x))
			if s, ok := f.Is.Second(quantity.Or(area, 0)); ok {
				row = append(row, cellOf(s, x))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// summaryColumns are the columns of a table with one quantity a row.
var summaryColumns = []Column{{Key: "quantity", Head: "quantity"}, {Key: "value", Head: "value", Number: true},
	{Key: "unit", Head: "unit"}}

// summary lays out the numbers of one struct, a quantity a row, second units in rows of their own; what is not known is
// left out.
func summary(id, title string, v any, area *float64, only ...string) Table {
	t := Table{ID: id, Title: title, Columns: summaryColumns}
	x := reflect.ValueOf(v)
	for _, f := range quantity.Fields(x.Type()) {
		if !f.Shown || len(only) > 0 && !contains(only, f.Is.Name) {
			continue
		}
		switch n := x.FieldByIndex(f.Index).Interface().(type) {
		case int:
			t.Rows = append(t.Rows, []Cell{words(f.Is.Label), {strconv.Itoa(n), n}, words("")})
		case bool:
			t.Rows = append(t.Rows, []Cell{words(f.Is.Label), {yes(n, "yes", "no"), n}, words("")})
		case study.Interval:
			for _, end := range []struct {
				name string
				si   float64
			}{{"low", n.Low}, {"best", n.Best}, {"high", n.High}} {
				t.Rows = append(t.Rows, []Cell{words(f.Is.Label + ", " + end.name), cell(*f.Is, end.si), unitOf(*f.Is)})
			}
		case float64:
			t.add(f.Is.Name, n, area)
		case *float64:
			if n != nil {
				t.add(f.Is.Name, *n, area)
			}
		}
	}
	return t
}

// unitOf is the unit of a quantity in a column of units; files have shares from 0 to 1.
func unitOf(q quantity.Quantity) Cell {
	if q.Unit.Key == "" {
		return Cell{q.Unit.Text, ""}
	}
	return words(q.Unit.Text)
}

// add appends a quantity to a summary, with its second unit if it has one.
func (t *Table) add(name string, si float64, area *float64) {
	q := quantity.Of(name)
	row := func(q quantity.Quantity) {
		t.Rows = append(t.Rows, []Cell{words(q.Label), cell(q, si), unitOf(q)})
	}
	row(q)
	if s, ok := q.Second(quantity.Or(area, 0)); ok {
		row(s)
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// beyond says in a row that the number of a quantity is the end of what was searched, if it is.
func (t *Table) beyond(row int, name string, is bool) {
	if !is {
		return
	}
	for j := range t.Columns {
		if t.Columns[j].Key == quantity.Of(name).Key() {
			t.Rows[row][j].Text = "beyond " + t.Rows[row][j].Text
		}
	}
}

// fact is a number of a quantity under its label, with its second unit beside it.
func fact(name string, si float64, area *float64) Fact {
	return Fact{quantity.Of(name).Label, both(name, si, area)}
}

// both writes a number for a page, with its second unit beside it.
func both(name string, si float64, area *float64) string {
	q := quantity.Of(name)
	if s, ok := q.Second(quantity.Or(area, 0)); ok {
		return q.Page(si) + " (" + s.Page(si) + ")"
	}
	return q.Page(si)
}

// page is a number of a quantity with its unit, as a page shows it.
func shown(name string, si float64) string { return quantity.Page(name, si) }

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

// long leaves tables to the files on a terminal.
func long(t Table) Table {
	t.Long = true
	return t
}

// rangeTable is one row a quantity: low, best, high.
func rangeTable(r *study.Range) Table {
	t := Table{ID: "range", Title: "Likely range", Columns: []Column{
		{Key: "quantity", Head: "quantity"}, {Key: "unit", Head: "unit"},
		{Key: "low", Head: "low (5 %)", Number: true}, {Key: "best", Head: "best (50 %)", Number: true},
		{Key: "high", Head: "high (95 %)", Number: true}}}
	v := reflect.ValueOf(*r)
	for _, f := range quantity.Fields(v.Type()) {
		if b, ok := v.FieldByIndex(f.Index).Interface().(study.Interval); ok {
			q := *f.Is
			row := []Cell{words(q.Label), unitOf(q)}
			for _, si := range []float64{b.Low, b.Best, b.High} {
				x := cell(q, si)
				if q.Unit == quantity.Flow && r.Beyond(si) {
					x.Text = "beyond " + x.Text
				}
				row = append(row, x)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

// loads are the load curves, one after another.
func loads(r *study.Result) Table {
	var rows []study.LoadPoint
	for _, c := range r.Load {
		rows = append(rows, c.Points...)
	}
	return long(list("load", "Push force against flow", rows, r.Area))
}

// mapTable is the operating map, the hottest block first.
func mapTable(r *study.Result) Table {
	block, flow := quantity.Of("block"), quantity.Of("flow")
	t := Table{ID: "map", Title: "Operating map: + usable, else the nearest limit exceeded",
		Columns: []Column{column(block, true, false)}, Long: true}
	for _, q := range r.Map.Flows {
		t.Columns = append(t.Columns, Column{Key: "at_" + strconv.FormatFloat(flow.Unit.Edge(q), 'g', 6, 64) + "_" +
			flow.Unit.Key, Head: flow.Text(q)})
	}
	for i := len(r.Map.Temps) - 1; i >= 0; i-- {
		row := []Cell{cell(block, r.Map.Temps[i])}
		for _, c := range r.Map.Codes[i] {
			row = append(row, words(c))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// columns lays out lists of equal length side by side.
func columns(id, title string, names []string, lists ...[]float64) Table {
	t := Table{ID: id, Title: title, Long: true}
	for _, n := range names {
		t.Columns = append(t.Columns, column(quantity.Of(n), true, false))
	}
	for i := range lists[0] {
		var row []Cell
		for k, n := range names {
			row = append(row, cell(quantity.Of(n), lists[k][i]))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// meltTable is the temperature of every cell of the melt zone, from the axis to the wall.
func meltTable(m *study.Melt) Table {
	t := columns("melt", "Temperature in the melt zone, from axis to wall", []string{"z", "radius"}, m.Z, m.R)
	q := quantity.Of("cell")
	for j := range m.T[0] {
		t.Columns = append(t.Columns,
			Column{Key: fmt.Sprintf("cell_%d_%s", j+1, q.Unit.Key), Head: fmt.Sprintf("cell %d %s", j+1, q.Unit.Text),
				Number: true})
	}
	for i := range t.Rows {
		for _, x := range m.T[i] {
			t.Rows[i] = append(t.Rows[i], cell(q, x))
		}
	}
	return t
}
