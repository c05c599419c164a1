//go:build !js

package plot

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// figure is a chart as a drawing: the plot itself, axes at its right and top, and the legend.
type figure struct {
	p     *plot.Plot
	right []side
	top   *side
	keys  []Key
	rows  int
}

// side is an axis that the plot itself does not have: title, ends, ticks.
type side struct {
	title string
	span  span
}

// The size of a figure, and the room that an axis at a side takes.
const (
	figureWidth  = 17 * vg.Centimeter
	figureHeight = 10 * vg.Centimeter
	rowHeight    = 0.72 * vg.Centimeter
	sideRoom     = 48 * vg.Length(1)
	topRoom      = 32 * vg.Length(1)
	legendLine   = 13 * vg.Length(1)
	fontSize     = 9 * vg.Length(1)
	fewestRows   = 5 // room for the words that stand upright at a mark
)

var (
	ink      = color.Gray{0x1d}
	hairline = color.Gray{0xd5}
)

func style(size vg.Length) text.Style {
	return text.Style{Color: ink, Font: font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size),
		Handler: plot.DefaultTextHandler}
}

func newFigure(x, y string, sx, sy span) *figure {
	p := plot.New()
	p.BackgroundColor = color.White
	p.X.Label.Text, p.Y.Label.Text = x, y
	for _, a := range []struct {
		to *plot.Axis
		s  span
	}{{&p.X, sx}, {&p.Y, sy}} {
		a.to.Min, a.to.Max = a.s.Low, a.s.High
		a.to.Tick.Marker = ticker(a.s)
		a.to.Padding = 0
		a.to.Color, a.to.Tick.Color, a.to.Label.TextStyle.Color, a.to.Tick.Label.Color = ink, ink, ink, ink
		a.to.LineStyle.Color, a.to.Tick.LineStyle.Color = ink, ink
		a.to.Label.TextStyle.Font, a.to.Tick.Label.Font = style(fontSize).Font, style(fontSize).Font
	}
	g := plotter.NewGrid()
	g.Vertical.Color, g.Horizontal.Color = hairline, hairline
	p.Add(g)
	return &figure{p: p}
}

// ticker puts ticks at the round values of a span.
func ticker(s span) plot.ConstantTicks {
	var out plot.ConstantTicks
	for _, x := range s.ticks() {
		out = append(out, plot.Tick{Value: x, Label: number(x, s.Step)})
	}
	return out
}

// names puts categories on an axis, at 0, 1, 2, ...
func names(a *plot.Axis, list []string) {
	var out plot.ConstantTicks
	for i, n := range list {
		if len([]rune(n)) > 42 {
			n = string([]rune(n)[:40]) + "…"
		}
		out = append(out, plot.Tick{Value: float64(i), Label: n})
	}
	a.Tick.Marker = out
	a.Tick.Length, a.Tick.LineStyle.Width = 4, 0
	a.Min, a.Max = -0.6, float64(len(list))-0.4
}

var figureDashes = [][]vg.Length{nil, {6, 3.5}, {1.5, 2.5}}

func lineStyle(colour, dash int, thin bool) draw.LineStyle {
	w := vg.Length(1.6)
	if thin {
		w = 0.8
	}
	return draw.LineStyle{Color: Palette[colour%len(Palette)], Width: w, Dashes: figureDashes[dash%3]}
}

// curve draws a series as its key says.
func (f *figure) curve(k Key, xy plotter.XYs) {
	if k.Line {
		for _, part := range inside(xy, f.p.Y.Min, f.p.Y.Max) {
			f.p.Add(&plotter.Line{XYs: part, LineStyle: lineStyle(k.Colour, k.Dash, k.Thin)})
		}
	}
	if k.Symbol != "" {
		var seen plotter.XYs
		for _, q := range xy {
			if q.Y >= f.p.Y.Min && q.Y <= f.p.Y.Max {
				seen = append(seen, q)
			}
		}
		f.p.Add(&plotter.Scatter{XYs: seen, GlyphStyle: draw.GlyphStyle{Color: Palette[k.Colour%len(Palette)],
			Radius: 3.4, Shape: k.Symbol}})
	}
}

// inside cuts a curve to the parts between lo and hi.
func inside(xy plotter.XYs, lo, hi float64) []plotter.XYs {
	var out []plotter.XYs
	var part plotter.XYs
	end := func() {
		if len(part) > 1 {
			out = append(out, part)
		}
		part = nil
	}
	at := func(a, b plotter.XY, y float64) plotter.XY {
		return plotter.XY{X: a.X + (b.X-a.X)*(y-a.Y)/(b.Y-a.Y), Y: y}
	}
	in := func(q plotter.XY) bool { return q.Y >= lo && q.Y <= hi }
	for i, q := range xy {
		if i > 0 && in(q) != in(xy[i-1]) {
			a := xy[i-1]
			edge := lo
			if a.Y > hi || q.Y > hi {
				edge = hi
			}
			part = append(part, at(a, q, edge))
			if !in(q) {
				end()
			}
		}
		if in(q) {
			part = append(part, q)
		}
	}
	end()
	return out
}

// vertical lines with their names along them.
func (f *figure) marks(ms []Mark) {
	high := heights(ms)
	for i, m := range ms {
		l := &plotter.Line{XYs: plotter.XYs{{X: m.X, Y: f.p.Y.Min}, {X: m.X, Y: f.p.Y.Max}},
			LineStyle: draw.LineStyle{Color: ink, Width: 0.8}}
		st := style(fontSize - 1)
		st.Rotation, st.XAlign, st.YAlign = math.Pi/2, text.XRight, text.YBottom
		y := f.p.Y.Max
		if high[i] == 1 {
			y = (f.p.Y.Min + f.p.Y.Max) / 2
		}
		f.p.Add(l, &plotter.Labels{XYs: plotter.XYs{{X: m.X, Y: y}}, Labels: []string{m.Name + "  "},
			TextStyle: []text.Style{st}, Offset: vg.Point{X: -2}})
	}
}

func (f *figure) second(a *Also, s span, top bool) {
	if a == nil {
		return
	}
	x := side{a.Unit, s.times(a.By)}
	if top {
		f.top = &x
	} else {
		f.right = append(f.right, x)
	}
}

func (c XY) figure() *figure {
	x, y, right := c.spans()
	f := newFigure(c.X, c.Y, x, y)
	f.keys = c.Keys()
	for i, s := range c.Series {
		xy := make(plotter.XYs, len(s.X))
		for j := range s.X {
			xy[j] = plotter.XY{X: s.X[j], Y: s.Y[j]}
			if s.Right { // drawn on the scale of the left axis
				xy[j].Y = y.Low + (s.Y[j]-right.Low)/(right.High-right.Low)*(y.High-y.Low)
			}
		}
		f.curve(f.keys[i], xy)
	}
	f.marks(c.Marks)
	f.second(c.AlsoX, x, true)
	f.second(c.AlsoY, y, false)
	if c.Y2 != "" {
		f.right = append(f.right, side{c.Y2, right})
	}
	return f
}

func (c Bars) figure() *figure {
	s := c.span()
	var f *figure
	if c.Horizontal {
		f = newFigure(c.Axis, "", s, span{0, 1, 1})
		names(&f.p.Y, c.Categories)
		f.rows = len(c.Categories)
	} else {
		f = newFigure("", c.Axis, span{0, 1, 1}, s)
		names(&f.p.X, c.Categories)
	}
	f.keys = c.Keys()
	width := vg.Length(11)
	if !c.Stack {
		width = vg.Length(13 / max(1, len(c.Names)))
	}
	var below *plotter.BarChart
	for i := range c.Names {
		b, err := plotter.NewBarChart(plotter.Values(c.Values[i]), width)
		if err != nil {
			continue // no values
		}
		b.Color, b.Horizontal, b.LineStyle.Width = Palette[i%len(Palette)], c.Horizontal, 0
		if c.Stack && below != nil {
			b.StackOn(below)
		} else if !c.Stack {
			b.Offset = width * vg.Length(float64(i)-float64(len(c.Names)-1)/2)
		}
		below = b
		f.p.Add(b)
	}
	f.second(c.Also, s, c.Horizontal)
	return f
}

func (c Ranges) figure() *figure {
	s := c.span()
	f := newFigure(c.Axis, "", s, span{0, 1, 1})
	names(&f.p.Y, c.Categories)
	f.rows = len(c.Categories)
	f.keys = c.Keys()
	for j := range c.Categories {
		lo, hi := c.ends(j)
		f.p.Add(&plotter.Line{XYs: plotter.XYs{{X: lo, Y: float64(j)}, {X: hi, Y: float64(j)}},
			LineStyle: draw.LineStyle{Color: ink, Width: 1}})
	}
	for i, p := range c.Points {
		xy := make(plotter.XYs, len(p.Values))
		for j, v := range p.Values {
			xy[j] = plotter.XY{X: v, Y: float64(j)}
		}
		f.curve(f.keys[i], xy)
	}
	f.marks(c.Marks)
	f.second(c.Also, s, true)
	return f
}

// size is the width and height of the drawing with or without its legend.
func (f *figure) size(legend bool) (w, h vg.Length) {
	w, h = figureWidth, figureHeight
	if f.rows > 0 {
		h = 2.4*vg.Centimeter + rowHeight*vg.Length(max(f.rows, fewestRows))
	}
	if legend {
		h += legendLine*vg.Length(len(f.legendLines(w))) + 4
	}
	return w, h
}

// legendLines breaks the legend into lines.
func (f *figure) legendLines(w vg.Length) [][]Key {
	var lines [][]Key
	var line []Key
	at, st := vg.Length(0), style(fontSize)
	for _, k := range f.keys {
		need := 44 + st.Width(k.Name)
		if at > 0 && at+need > w-20 {
			lines, line, at = append(lines, line), nil, 0
		}
		line, at = append(line, k), at+need
	}
	if line != nil {
		lines = append(lines, line)
	}
	return lines
}

// draw puts the figure on a canvas.
func (f *figure) draw(c draw.Canvas, legend bool) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	if legend {
		y := c.Max.Y - 10
		for _, line := range f.legendLines(c.Max.X - c.Min.X) {
			f.legend(c, line, y)
			y -= legendLine
		}
		c = draw.Crop(c, 0, 0, 0, y+legendLine-12-c.Max.Y)
	}
	room := draw.Crop(c, 4, -6-sideRoom*vg.Length(len(f.right)), 4, -6)
	if len(f.right) == 0 {
		room.Max.X -= 8
	}
	if f.top != nil {
		room.Max.Y -= topRoom
	}
	f.p.Draw(room)
	data := f.p.DataCanvas(room)
	for i, s := range f.right {
		f.rightAxis(data, s, data.Max.X+sideRoom*vg.Length(i))
	}
	if f.top != nil {
		f.topAxis(data, *f.top)
	}
}

func (f *figure) legend(c draw.Canvas, line []Key, y vg.Length) {
	x := c.Min.X + 10
	st := style(fontSize)
	st.YAlign = text.YCenter
	for _, k := range line {
		mid := vg.Point{X: x + 14, Y: y}
		if k.Line {
			c.StrokeLine2(lineStyle(k.Colour, k.Dash, k.Thin), x, y, x+28, y)
		}
		if k.Bar {
			c.SetColor(Palette[k.Colour%len(Palette)])
			c.Fill(vg.Rectangle{Min: vg.Point{X: x + 6, Y: y - 4}, Max: vg.Point{X: x + 22, Y: y + 4}}.Path())
		}
		if k.Symbol != "" {
			k.Symbol.DrawGlyph(&c, draw.GlyphStyle{Color: Palette[k.Colour%len(Palette)], Radius: 3.4, Shape: k.Symbol},
				mid)
		}
		c.FillText(st, vg.Point{X: x + 32, Y: y + 1.2}, k.Name)
		x += 44 + st.Width(k.Name)
	}
}

var sideLine = draw.LineStyle{Color: ink, Width: 0.5}

func (f *figure) rightAxis(data draw.Canvas, s side, x vg.Length) {
	c := data
	c.StrokeLine2(sideLine, x, data.Min.Y, x, data.Max.Y)
	st := style(fontSize)
	st.YAlign = text.YCenter
	for _, v := range s.span.ticks() {
		y := data.Min.Y + (data.Max.Y-data.Min.Y)*vg.Length((v-s.span.Low)/(s.span.High-s.span.Low))
		c.StrokeLine2(sideLine, x, y, x+5, y)
		c.FillText(st, vg.Point{X: x + 7, Y: y + 1.2}, number(v, s.span.Step))
	}
	st.Rotation, st.XAlign, st.YAlign = math.Pi/2, text.XCenter, text.YCenter
	c.FillText(st, vg.Point{X: x + 38, Y: (data.Min.Y + data.Max.Y) / 2}, s.title)
}

func (f *figure) topAxis(data draw.Canvas, s side) {
	c, y := data, data.Max.Y
	c.StrokeLine2(sideLine, data.Min.X, y, data.Max.X, y)
	st := style(fontSize)
	st.XAlign, st.YAlign = text.XCenter, text.YBottom
	for _, v := range s.span.ticks() {
		x := data.Min.X + (data.Max.X-data.Min.X)*vg.Length((v-s.span.Low)/(s.span.High-s.span.Low))
		c.StrokeLine2(sideLine, x, y, x, y+5)
		c.FillText(st, vg.Point{X: x, Y: y + 6}, number(v, s.span.Step))
	}
	c.FillText(st, vg.Point{X: (data.Min.X + data.Max.X) / 2, Y: y + 19}, s.title)
}

// Write writes a chart with its legend as a figure ready to publish: svg, png (300 dots an inch) or pdf.
func Write(w io.Writer, c Chart, format string) error {
	f := c.figure()
	width, height := f.size(true)
	var out interface {
		vg.CanvasSizer
		io.WriterTo
	}
	switch format {
	case "svg":
		out = vgsvg.New(width, height)
	case "png":
		out = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(300))}
	case "pdf":
		out = vgpdf.New(width, height)
	default:
		return fmt.Errorf("plot: no format %q; there are %s", format, strings.Join(Formats, ", "))
	}
	f.draw(draw.New(out), true)
	var b bytes.Buffer
	if _, err := out.WriteTo(&b); err != nil {
		return err
	}
	text := b.Bytes()
	if format == "svg" {
		text = []byte(fonts(b.String()))
	}
	_, err := w.Write(text)
	return err
}

var svgText = regexp.MustCompile(`(?s)<text ([^>]*?font-size:([0-9.]+)px[^>]*)>([^<]*)</text>`)

// fonts lets an SVG fall back to the fonts that the reader has: each text keeps the width that the drawing was laid out
// for.
func fonts(svg string) string {
	svg = strings.ReplaceAll(svg, "font-family:Liberation Sans;",
		`font-family:'Liberation Sans',Arial,'DejaVu Sans',sans-serif;`)
	return svgText.ReplaceAllStringFunc(svg, func(s string) string {
		m := svgText.FindStringSubmatch(s)
		size, err := strconv.ParseFloat(m[2], 64)
		if err != nil || strings.TrimSpace(m[3]) == "" {
			return s
		}
		width := style(vg.Length(size)).Width(html.UnescapeString(m[3]))
		return fmt.Sprintf(`<text %s textLength="%.1f" lengthAdjust="spacingAndGlyphs">%s</text>`, m[1],
			width.Points(), m[3])
	})
}

// Inline draws a chart without its legend as markup for a page; label says in words what it shows.
func Inline(c Chart, label string) string {
	f := c.figure()
	w, h := f.size(false)
	out := vgsvg.New(w, h)
	f.draw(draw.New(out), false)
	var b bytes.Buffer
	if _, err := out.WriteTo(&b); err != nil {
		panic("plot: " + err.Error()) // a buffer takes everything
	}
	s := fonts(b.String())
	if i := strings.Index(s, "<svg"); i >= 0 {
		s = s[i:]
	}
	open := strings.Index(s, ">")
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.1f %.1f" role="img" aria-label="%s">`,
		w.Points(), h.Points(), escape(label)) + s[open+1:]
}

// DrawGlyph draws the symbol.
func (s Symbol) DrawGlyph(c *draw.Canvas, st draw.GlyphStyle, p vg.Point) {
	out, ok := outlines[s]
	switch {
	case s == Ring:
		draw.RingGlyph{}.DrawGlyph(c, st, p)
	case !ok:
		draw.CircleGlyph{}.DrawGlyph(c, st, p)
	default:
		var path vg.Path
		for i, q := range out {
			at := vg.Point{X: p.X + st.Radius*vg.Length(q[0]), Y: p.Y + st.Radius*vg.Length(q[1])}
			if i == 0 {
				path.Move(at)
			} else {
				path.Line(at)
			}
		}
		path.Close()
		c.SetColor(st.Color)
		c.Fill(path)
	}
}
