package report

import (
	"meltload/flow/quantity"
	"meltload/report/plot"
)

// chart is a chart whose axes are quantities: it takes SI values and shows them in the units of the table.
type chart struct {
	plot.XY
	x, y, right quantity.Quantity
}

// newChart starts a chart of one quantity against another; area is the filament's cross-section (m2), nil if there is
// none.
func newChart(x, y string, area *float64) *chart {
	c := &chart{x: quantity.Of(x), y: quantity.Of(y)}
	c.X, c.AlsoX = c.x.Axis(), also(c.x, area)
	c.Y, c.AlsoY = c.y.Axis(), also(c.y, area)
	return c
}

// rightAxis adds a second axis of values.
func (c *chart) rightAxis(name string) {
	c.right = quantity.Of(name)
	c.Y2 = c.right.Axis()
}

// also is the second unit of an axis.
func also(q quantity.Quantity, area *float64) *plot.Also {
	s, ok := q.Second(quantity.Or(area, 0))
	if !ok {
		return nil
	}
	u := s.Unit.Symbol()
	if q.Beside == quantity.AsSpeed {
		u += " of filament"
	}
	return &plot.Also{Unit: u, By: q.Unit.Scale() / s.Unit.Scale()}
}

// add appends a series: xs and ys in SI, looks in s.
func (c *chart) add(s plot.Series, xs, ys []float64) {
	y := c.y
	if s.Right {
		y = c.right
	}
	s.X, s.Y = shownAll(c.x, xs), shownAll(y, ys)
	c.Series = append(c.Series, s)
}

// mark draws a vertical line at x, in SI.
func (c *chart) mark(x float64, name string) {
	c.Marks = append(c.Marks, plot.Mark{X: c.x.Unit.Shown(x), Name: name})
}

func shownAll(q quantity.Quantity, si []float64) []float64 {
	out := make([]float64, len(si))
	for i := range si {
		out[i] = q.Unit.Shown(si[i])
	}
	return out
}

// of collects a number of every row.
func of[T any](rows []T, number func(r *T) float64) []float64 {
	out := make([]float64, len(rows))
	for i := range rows {
		out[i] = number(&rows[i])
	}
	return out
}

// bars are horizontal or vertical bars of a quantity.
func bars(value string, area *float64, names ...string) (plot.Bars, quantity.Quantity) {
	q := quantity.Of(value)
	return plot.Bars{Axis: q.Axis(), Also: also(q, area), Names: names, Values: make([][]float64, len(names))}, q
}

func symbol(i int) plot.Symbol { return plot.Symbols[i%len(plot.Symbols)] }

// ranges is a chart of ranges of a quantity, from SI.
type ranges struct {
	plot.Ranges
	q quantity.Quantity
}

func newRanges(value string, area *float64, points ...plot.RangePoints) *ranges {
	q := quantity.Of(value)
	return &ranges{plot.Ranges{Axis: q.Axis(), Also: also(q, area), Points: points}, q}
}

// row adds a category above those there are, with one value for each kind of point.
func (c *ranges) row(name string, si ...float64) {
	c.Categories = append(c.Categories, name)
	for i, x := range si {
		c.Points[i].Values = append(c.Points[i].Values, c.q.Unit.Shown(x))
	}
}

// mark draws a vertical line at a value.
func (c *ranges) mark(si float64, name string) {
	c.Marks = append(c.Marks, plot.Mark{X: c.q.Unit.Shown(si), Name: name})
}
