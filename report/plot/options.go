package plot

import (
	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
)

// hidden is a line width so small that the page draws symbols only (zero would be left out of the options).
const hidden = 0.001

var dashes = []string{"solid", "dashed", "dotted"}

// axis is a value axis as ECharts takes it.
func axis(name string, s span, position string, offset int) map[string]any {
	low, high := s.round()
	a := map[string]any{
		"type": "value", "name": name, "nameLocation": "middle", "nameGap": 30, "position": position,
		"min": s.Low, "max": s.High, "interval": s.Step,
		"axisLabel": map[string]any{"showMinLabel": low, "showMaxLabel": high},
		"axisLine":  map[string]any{"show": true},
	}
	if position == "left" || position == "right" {
		a["nameGap"] = 42
	}
	if offset > 0 {
		a["offset"] = offset
	}
	return a
}

// second is the axis of a second unit on the other side: it has round ticks of its own, and no grid lines.
func second(a *Also, s span, position string) map[string]any {
	t := s.times(a.By)
	m := axis(a.Unit, t, position, 0)
	delete(m, "interval") // its ticks need not start at an end
	m["axisLabel"], m["axisTick"] = map[string]any{"customValues": t.ticks()},
		map[string]any{"show": true, "customValues": t.ticks()}
	m["splitLine"], m["second"] = map[string]any{"show": false}, true
	return m
}

// grid leaves room for the axes that there are.
func grid(top, right, both bool) map[string]any {
	g := map[string]any{"left": 64, "right": 24, "top": 28, "bottom": 52}
	if top {
		g["top"] = 54
	}
	if right {
		g["right"] = 64
	}
	if both {
		g["right"] = 124
	}
	return g
}

// Options returns the chart as ECharts options.
func (c XY) Options() map[string]any {
	x, y, right := c.spans()
	line := charts.NewLine()
	line.SetGlobalOptions(
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithAnimation(false),
	)
	for i, s := range c.Series {
		data := make([][2]float64, len(s.X))
		for j := range s.X {
			data[j] = [2]float64{s.X[j], s.Y[j]}
		}
		sym := string(s.Symbol)
		if sym == "" {
			sym = "none"
		}
		lc := opts.LineChart{Symbol: sym, SymbolSize: 10, ShowSymbol: opts.Bool(sym != "none")}
		if s.Right { // the last axis
			lc.YAxisIndex = 1
			if c.AlsoY != nil {
				lc.YAxisIndex = 2
			}
		}
		width := float32(2.5)
		if s.Thin {
			width = 1.2
		}
		if s.Points {
			width = hidden
		}
		o := []charts.SeriesOpts{charts.WithLineChartOpts(lc),
			charts.WithLineStyleOpts(opts.LineStyle{Type: dashes[s.Dash%3], Width: width})}
		if i == 0 && len(c.Marks) > 0 {
			o = append(o, marks(c.Marks)...)
		}
		line.AddSeries(s.Name, nil, append(o, pairs(data))...)
	}
	line.Validate()
	o := line.JSON()
	xs, ys := []any{axis(c.X, x, "bottom", 0)}, []any{axis(c.Y, y, "left", 0)}
	if c.AlsoX != nil {
		xs = append(xs, second(c.AlsoX, x, "top"))
	}
	offset := 0
	if c.AlsoY != nil {
		ys = append(ys, second(c.AlsoY, y, "right"))
		offset = 60
	}
	if c.Y2 != "" {
		a := axis(c.Y2, right, "right", offset)
		a["splitLine"] = map[string]any{"show": false}
		ys = append(ys, a)
	}
	o["xAxis"], o["yAxis"], o["grid"] = xs, ys, grid(c.AlsoX != nil, c.AlsoY != nil || c.Y2 != "", c.AlsoY != nil &&
		c.Y2 != "")
	return o
}

// pairs are the data of a series as plain pairs of numbers: the library's own item of a line is an object with a dozen
// fields, which takes ten times as long to write and twice the room.
func pairs(data [][2]float64) charts.SeriesOpts {
	return func(s *charts.SingleSeries) { s.Data = data }
}

// marks are vertical lines with their names along them.
func marks(ms []Mark) []charts.SeriesOpts {
	// The library's own item of a mark has no label of its own.
	type item struct {
		Name  string         `json:"name,omitempty"`
		XAxis float64        `json:"xAxis"`
		Label map[string]any `json:"label,omitempty"`
	}
	high := heights(ms)
	return []charts.SeriesOpts{
		func(s *charts.SingleSeries) {
			s.MarkLines = &opts.MarkLines{}
			for k, m := range ms {
				x := item{Name: m.Name, XAxis: m.X}
				if high[k] == 1 {
					x.Label = map[string]any{"position": "insideMiddleTop"}
				}
				s.MarkLines.Data = append(s.MarkLines.Data, x)
			}
		},
		charts.WithMarkLineStyleOpts(opts.MarkLineStyle{Symbol: []string{"none", "none"},
			Label: &opts.Label{Show: opts.Bool(true), Position: "insideEndTop", Formatter: "{b}"}})}
}

// categories is the axis of categories.
func categories(names []string) map[string]any {
	return map[string]any{"type": "category", "data": names, "axisLabel": map[string]any{"interval": 0},
		"axisTick": map[string]any{"show": false}}
}

// sideways arranges the axes of a chart with categories on the left.
func sideways(o map[string]any, names []string, title string, s span, also *Also) {
	xs := []any{axis(title, s, "bottom", 0)}
	if also != nil {
		xs = append(xs, second(also, s, "top"))
	}
	g := grid(also != nil, false, false)
	g["containLabel"], g["left"], g["bottom"] = true, 8, 30
	if also != nil {
		g["top"] = 34
	}
	o["xAxis"], o["yAxis"], o["grid"] = xs, []any{categories(names)}, g
}

// Options returns the chart as ECharts options.
func (c Bars) Options() map[string]any {
	bar := charts.NewBar()
	bar.SetGlobalOptions(
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithAnimation(false),
	)
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
	bar.Validate()
	o := bar.JSON()
	s := c.span()
	if c.Horizontal {
		sideways(o, c.Categories, c.Axis, s, c.Also)
		return o
	}
	ys := []any{axis(c.Axis, s, "left", 0)}
	if c.Also != nil {
		ys = append(ys, second(c.Also, s, "right"))
	}
	g := grid(false, c.Also != nil, false)
	g["bottom"] = 32
	o["xAxis"], o["yAxis"], o["grid"] = []any{categories(c.Categories)}, ys, g
	return o
}

// Options returns the chart as ECharts options.
func (c Ranges) Options() map[string]any {
	line := charts.NewLine()
	line.SetGlobalOptions(
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithAnimation(false),
	)
	for i, p := range c.Points {
		data := make([]opts.LineData, len(p.Values))
		for j, v := range p.Values {
			data[j] = opts.LineData{Value: [2]any{v, j}}
		}
		o := []charts.SeriesOpts{charts.WithLineChartOpts(opts.LineChart{Symbol: string(p.Symbol), SymbolSize: 11,
			ShowSymbol: opts.Bool(true)}), charts.WithLineStyleOpts(opts.LineStyle{Width: hidden})}
		if i == 0 && len(c.Marks) > 0 {
			o = append(o, marks(c.Marks)...)
		}
		line.AddSeries(p.Name, data, o...)
	}
	for j := range c.Categories { // the whiskers, one line each: a gap in a line would need a value that is no number
		lo, hi := c.ends(j)
		line.AddSeries("range of "+c.Categories[j], []opts.LineData{{Value: [2]any{lo, j}}, {Value: [2]any{hi, j}}},
			charts.WithLineChartOpts(opts.LineChart{Symbol: "none"}),
			charts.WithLineStyleOpts(opts.LineStyle{Width: 2, Color: "@whisker"}))
	}
	line.Validate()
	o := line.JSON()
	sideways(o, c.Categories, c.Axis, c.span(), c.Also)
	return o
}
