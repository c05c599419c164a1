// Package plot builds the charts of a report from one description each: as ECharts options for the page's script
// (go-echarts), and as a drawing for scripts off, paper and publication (gonum.org/v1/plot). Axes carry units, second
// units have axes with round ticks of their own, and series differ in dash and symbol as well as in colour.
package plot

import (
	"math"
	"sort"
)

// Chart is a chart of any kind.
type Chart interface {
	Options() map[string]any // for the page's script
	Keys() []Key             // the legend, which stands outside the drawing and never covers it
	Rows() int               // categories of a horizontal chart, 0 for others
	figure() *figure
}

// Formats are the file formats of Write.
var Formats = []string{"svg", "png", "pdf"}

// Series is one line or set of points.
type Series struct {
	Name   string
	X, Y   []float64
	Points bool   // symbols only
	Dash   int    // 0 solid, 1 dashed, 2 dotted
	Symbol Symbol // "" for none
	Thin   bool
	Right  bool // on the axis on the right
}

// Mark is a vertical line with a label.
type Mark struct {
	X    float64
	Name string
}

// Also is a second unit that an axis shows on the other side of the chart.
type Also struct {
	Unit string
	By   float64 // second over first
}

// Key is an entry of the legend.
type Key struct {
	Name   string
	Colour int // index of the palette
	Dash   int
	Line   bool
	Thin   bool
	Bar    bool
	Symbol Symbol
}

// XY describes a chart of numbers against numbers.
type XY struct {
	X, Y, Y2  string // axis titles with units; Y2 on the right
	AlsoX     *Also
	AlsoY     *Also
	Series    []Series
	Marks     []Mark
	YMax      float64 // 0 for automatic
	ZeroBased bool
}

// span is an axis: ends and the step of its ticks.
type span struct{ Low, High, Step float64 }

// nice is the span of round ticks around lo to hi, about n of them; from zero on if zero is true and nothing lies
// below.
func nice(lo, hi float64, zero bool, n float64) span {
	if zero {
		lo, hi = math.Min(lo, 0), math.Max(hi, 0)
	}
	if !(hi > lo) { // one value, or none
		d := math.Max(math.Abs(hi)*0.1, 1e-3)
		lo, hi = lo-d, hi+d
	}
	if math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		lo, hi = 0, 1
	}
	s := roundStep((hi - lo) / n)
	return span{math.Floor(lo/s+1e-9) * s, math.Ceil(hi/s-1e-9) * s, s}
}

// roundStep is the next of 1, 2, 5 times a power of ten.
func roundStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, s := range []float64{1, 2, 5} {
		if x <= s*p*(1+1e-9) {
			return s * p
		}
	}
	return 10 * p
}

// times is the span in a second unit, with a round step of its own; its ends need not be round.
func (s span) times(by float64) span {
	return span{s.Low * by, s.High * by, roundStep((s.High - s.Low) * by / 8)}
}

// ticks are the round values within the span.
func (s span) ticks() []float64 {
	var out []float64
	for k := math.Ceil(s.Low/s.Step - 1e-9); k <= s.High/s.Step+1e-9; k++ {
		out = append(out, k*s.Step)
	}
	return out
}

// round tells whether both ends are ticks.
func (s span) round() (low, high bool) {
	whole := func(x float64) bool { return math.Abs(x-math.Round(x)) < 1e-6 }
	return whole(s.Low / s.Step), whole(s.High / s.Step)
}

func extent(lo, hi float64, xs []float64) (float64, float64) {
	for _, x := range xs {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return lo, hi
}

// heights are the places of the names of marks along their lines, 0 at the top and 1 in the middle: neighbours by value
// take turns, so that names of lines close to each other do not print over each other.
func heights(ms []Mark) []int {
	var order []int
	for i := range ms {
		if ms[i].Name != "" {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(i, j int) bool { return ms[order[i]].X < ms[order[j]].X })
	out := make([]int, len(ms))
	for k, i := range order {
		out[i] = k % 2
	}
	return out
}

// spans are the axes of the chart: x, y and the one on the right.
func (c XY) spans() (x, y, right span) {
	inf := math.Inf(1)
	xl, xh, yl, yh, rl, rh := inf, -inf, inf, -inf, inf, -inf
	for _, s := range c.Series {
		xl, xh = extent(xl, xh, s.X)
		if s.Right {
			rl, rh = extent(rl, rh, s.Y)
		} else {
			yl, yh = extent(yl, yh, s.Y)
		}
	}
	for _, m := range c.Marks {
		xl, xh = math.Min(xl, m.X), math.Max(xh, m.X)
	}
	x = nice(xl, xh, xl >= 0 && xl < 0.25*xh, 7)
	if c.YMax > 0 {
		yh = c.YMax
	}
	y = nice(yl, yh, c.ZeroBased, 5)
	if c.Y2 != "" {
		right = nice(rl, rh, false, 5)
	}
	return x, y, right
}

// Keys lists the series.
func (c XY) Keys() []Key {
	var out []Key
	for i, s := range c.Series {
		out = append(out, Key{Name: s.Name, Colour: i % len(Palette), Dash: s.Dash % 3, Line: !s.Points, Thin: s.Thin,
			Symbol: s.Symbol})
	}
	return out
}

// Rows is 0.
func (c XY) Rows() int { return 0 }

// Bars describes horizontal or vertical bars by category, optionally stacked.
type Bars struct {
	Categories []string
	Axis       string // value axis title with unit
	Also       *Also
	Names      []string
	Values     [][]float64 // per name, per category
	Horizontal bool
	Stack      bool
}

func (c Bars) span() span {
	lo, hi := 0.0, 0.0
	for j := range c.Categories {
		up, down := 0.0, 0.0
		for i := range c.Values {
			v := c.Values[i][j]
			lo, hi = math.Min(lo, v), math.Max(hi, v)
			up, down = up+math.Max(0, v), down+math.Min(0, v)
		}
		if c.Stack {
			lo, hi = math.Min(lo, down), math.Max(hi, up)
		}
	}
	return nice(lo, hi, true, 6)
}

// Keys lists the names where there are several.
func (c Bars) Keys() []Key {
	var out []Key
	for i, n := range c.Names {
		if len(c.Names) > 1 {
			out = append(out, Key{Name: n, Colour: i, Bar: true})
		}
	}
	return out
}

// Rows is the number of bars of a horizontal chart.
func (c Bars) Rows() int {
	if c.Horizontal {
		return len(c.Categories)
	}
	return 0
}

// Ranges describes ranges by category: a line from the lowest to the highest value, and a symbol for each.
type Ranges struct {
	Categories []string // from the bottom up
	Axis       string   // value axis title with unit
	Also       *Also
	Points     []RangePoints
	Marks      []Mark
}

// RangePoints are one kind of value of every category: low, best or high.
type RangePoints struct {
	Name   string
	Symbol Symbol
	Values []float64
}

func (c Ranges) span() span {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range c.Points {
		lo, hi = extent(lo, hi, p.Values)
	}
	for _, m := range c.Marks {
		lo, hi = math.Min(lo, m.X), math.Max(hi, m.X)
	}
	return nice(lo, hi, lo >= 0 && lo < 0.4*hi, 6)
}

// ends are the lowest and the highest value of a category.
func (c Ranges) ends(j int) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range c.Points {
		lo, hi = math.Min(lo, p.Values[j]), math.Max(hi, p.Values[j])
	}
	return lo, hi
}

// Keys lists the kinds of value.
func (c Ranges) Keys() []Key {
	var out []Key
	for i, p := range c.Points {
		out = append(out, Key{Name: p.Name, Colour: i, Symbol: p.Symbol})
	}
	return out
}

// Rows is the number of ranges.
func (c Ranges) Rows() int { return len(c.Categories) }
