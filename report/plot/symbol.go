package plot

import (
	"fmt"
	"html"
	"image/color"
	"math"
	"strings"
)

// Palette are the colours of the series on white; the page has its own of the same order for a dark background. They
// keep a contrast of at least 3 to 1 to the ground.
var Palette = []color.RGBA{
	{0x1f, 0x56, 0x73, 255}, {0xb1, 0x57, 0x1b, 255}, {0x5b, 0x4a, 0x8a, 255}, {0x2c, 0x7a, 0x4b, 255},
	{0x7a, 0x7a, 0x7a, 255}, {0x9b, 0x2c, 0x5f, 255}, {0x6b, 0x6b, 0x00, 255},
}

// Symbol is the shape of a point.
type Symbol string

// The symbols.
const (
	Circle   Symbol = "circle"
	Triangle Symbol = "triangle"
	Square   Symbol = "rect"
	Diamond  Symbol = "diamond"
	Ring     Symbol = "emptyCircle"
	Arrow    Symbol = "arrow"
)

// Symbols are all of them, in the order in which a chart hands them out.
var Symbols = []Symbol{Circle, Triangle, Square, Diamond, Ring, Arrow}

// outlines are the corners of the symbols in a circle of radius 1, y up.
var outlines = map[Symbol][][2]float64{
	Triangle: {{0, 1}, {0.87, -0.75}, {-0.87, -0.75}},
	Square:   {{-0.8, -0.8}, {0.8, -0.8}, {0.8, 0.8}, {-0.8, 0.8}},
	Diamond:  {{0, 1.1}, {0.8, 0}, {0, -1.1}, {-0.8, 0}},
	Arrow:    {{0, -1}, {0.87, 0.9}, {0, 0.4}, {-0.87, 0.9}},
}

// svgDashes are the dash patterns of SVG.
var svgDashes = []string{"", "7 4", "2 3"}

// SVG draws the entry of the legend: a short line, a bar or a symbol in the page's colour for the series.
func (k Key) SVG() string {
	var b strings.Builder
	colour := fmt.Sprintf("var(--c%d,#%02x%02x%02x)", k.Colour+1, Palette[k.Colour].R, Palette[k.Colour].G,
		Palette[k.Colour].B)
	b.WriteString(`<svg viewBox="0 0 34 14" width="34" height="14" aria-hidden="true">`)
	width := 2.5
	if k.Thin {
		width = 1.2
	}
	if k.Line {
		fmt.Fprintf(&b, `<path d="M1 7H33" fill="none" stroke="%s" stroke-width="%g" stroke-dasharray="%s"/>`, colour,
			width, svgDashes[k.Dash])
	}
	if k.Bar {
		fmt.Fprintf(&b, `<path d="M8 2H26V12H8Z" fill="%s"/>`, colour)
	}
	switch out := outlines[k.Symbol]; {
	case k.Symbol == "":
	case k.Symbol == Ring:
		fmt.Fprintf(&b, `<circle cx="17" cy="7" r="4" fill="none" stroke="%s" stroke-width="1.5"/>`, colour)
	case out == nil:
		fmt.Fprintf(&b, `<circle cx="17" cy="7" r="4.5" fill="%s"/>`, colour)
	default:
		b.WriteString(`<path d="`)
		for i, p := range out {
			fmt.Fprintf(&b, "%s%.1f %.1f", map[bool]string{true: "M", false: "L"}[i == 0], 17+5*p[0], 7-5*p[1])
		}
		fmt.Fprintf(&b, `Z" fill="%s"/>`, colour)
	}
	b.WriteString(`</svg>`)
	return b.String()
}

// number writes a tick.
func number(x, step float64) string {
	dec := 0
	if step < 1 {
		dec = int(math.Ceil(-math.Log10(step) - 1e-9))
	}
	s := fmt.Sprintf("%.*f", dec, x)
	if strings.Trim(s, "-0.") == "" {
		return "0"
	}
	return s
}

func escape(s string) string { return html.EscapeString(s) }
