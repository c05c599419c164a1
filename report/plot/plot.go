// Package plot builds the charts of a report as ECharts options (go-echarts):
// axes with units, and series that differ in dash and symbol as well as in colour.
package plot

import (
	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
)

// Series is one line or set of points.
type Series struct {
	Name   string
	X, Y   []float64
	Points bool // symbols only
	Dash   int  // 0 solid, 1 dashed, 2 dotted
	Symbol string
	Thin   bool
	Right  bool // on the second y axis
}

// Mark is a vertical line with a label.
type Mark struct {
	X    float64
	Name string
}

// Also is a second unit that an axis shows under its first.
type Also struct {
	Unit string  `json:"unit"`
	By   float64 `json:"by"` // second over first
}

// XY describes a chart of numbers against numbers.
type XY struct {
	X, Y, Y2   string // axis titles with units
	AlsoX      *Also
	AlsoY      *Also
	Series     []Series
	Marks      []Mark
	YMax       float64 // 0 for automatic
	XMin, XMax float64 // automatic if equal
	ZeroBased  bool
}

// hidden is a line width so small that the page draws symbols only (zero would be left out of the options).
const hidden = 0.001

var dashes = []string{"solid", "dashed", "dotted"}

// Options returns the chart as ECharts options.
func (c XY) Options() map[string]any {
	line := charts.NewLine()
	x := opts.XAxis{Type: "value", Name: c.X, NameLocation: "middle", NameGap: 28, Scale: opts.Bool(true)}
	if c.XMax > c.XMin {
		x.Min, x.Max = c.XMin, c.XMax
	}
	y := opts.YAxis{Type: "value", Name: c.Y, NameLocation: "middle", NameGap: 42, Scale: opts.Bool(!c.ZeroBased)}
	if c.YMax > 0 {
		y.Max = c.YMax
	}
	line.SetGlobalOptions(
		charts.WithXAxisOpts(x), charts.WithYAxisOpts(y),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(true), Top: "0", Type: "plain"}),
		charts.WithGridOpts(opts.Grid{Left: "64", Right: "24", Top: "72", Bottom: "48"}),
		charts.WithAnimation(false),
	)
	if c.Y2 != "" {
		line.ExtendYAxis(opts.YAxis{Type: "value", Name: c.Y2, NameLocation: "middle", NameGap: 42, Scale: opts.Bool(true), Position: "right"})
		line.SetGlobalOptions(charts.WithGridOpts(opts.Grid{Left: "64", Right: "64", Top: "72", Bottom: "48"}))
	}
	for i, s := range c.Series {
		data := make([]opts.LineData, len(s.X))
		for j := range s.X {
			data[j] = opts.LineData{Value: [2]float64{s.X[j], s.Y[j]}}
		}
		o := []charts.SeriesOpts{}
		sym := s.Symbol
		if sym == "" {
			sym = "none"
		}
		lc := opts.LineChart{Symbol: sym, SymbolSize: 10, ShowSymbol: opts.Bool(sym != "none")}
		if s.Right {
			lc.YAxisIndex = 1
		}
		o = append(o, charts.WithLineChartOpts(lc))
		width := float32(2.5)
		if s.Thin {
			width = 1.2
		}
		if s.Points {
			width = hidden
		}
		o = append(o, charts.WithLineStyleOpts(opts.LineStyle{Type: dashes[s.Dash%3], Width: width}))
		if i == 0 && len(c.Marks) > 0 {
			items := make([]opts.MarkLineNameXAxisItem, len(c.Marks))
			for k, m := range c.Marks {
				items[k] = opts.MarkLineNameXAxisItem{Name: m.Name, XAxis: m.X}
			}
			o = append(o, charts.WithMarkLineNameXAxisItemOpts(items...),
				charts.WithMarkLineStyleOpts(opts.MarkLineStyle{Symbol: []string{"none", "none"}, Label: &opts.Label{Show: opts.Bool(true), Formatter: "{b}"}}))
		}
		line.AddSeries(s.Name, data, o...)
	}
	line.Validate()
	return also(line.JSON(), c.AlsoX, c.AlsoY)
}

// also hands second units to the page's script, which puts them under the labels of the axes.
func also(o map[string]any, x, y *Also) map[string]any {
	o["also"] = map[string]*Also{"xAxis": x, "yAxis": y}
	return o
}

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

// Options returns the chart as ECharts options.
func (c Bars) Options() map[string]any {
	bar := charts.NewBar()
	bar.SetXAxis(c.Categories)
	bar.SetGlobalOptions(
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(len(c.Names) > 1), Top: "0"}),
		charts.WithAnimation(false),
	)
	if c.Horizontal {
		bar.SetGlobalOptions(charts.WithXAxisOpts(opts.XAxis{Name: c.Axis, NameLocation: "middle", NameGap: 28}), charts.WithGridOpts(opts.Grid{Left: "8", Right: "32", Top: "40", Bottom: "48", ContainLabel: opts.Bool(true)}))
	} else {
		bar.SetGlobalOptions(charts.WithYAxisOpts(opts.YAxis{Name: c.Axis, NameLocation: "middle", NameGap: 42}), charts.WithGridOpts(opts.Grid{Left: "64", Right: "24", Top: "48", Bottom: "32"}))
	}
	for i, n := range c.Names {
		data := make([]opts.BarData, len(c.Values[i]))
		for j, v := range c.Values[i] {
			data[j] = opts.BarData{Value: v}
		}
		o := []charts.SeriesOpts{}
		if c.Stack {
			o = append(o, charts.WithBarChartOpts(opts.BarChart{Stack: "all"}))
		}
		bar.AddSeries(n, data, o...)
	}
	if c.Horizontal {
		bar.XYReversal()
	}
	bar.Validate()
	if c.Horizontal {
		return also(bar.JSON(), c.Also, nil)
	}
	return also(bar.JSON(), nil, c.Also)
}
