package report

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"meltload/flow/quantity"
	"meltload/flow/study"
)

// ramp is a sequential scale that stays ordered in grey and to colour-blind eyes: dark blue, slate, olive, sand, pale yellow.
var ramp = [][3]float64{{18, 32, 86}, {52, 78, 116}, {98, 118, 118}, {164, 152, 98}, {222, 196, 92}, {250, 238, 160}}

// shades are enough to look smooth, and few enough for neighbours to share one.
const shades = 80

func shade(x float64) string {
	x = math.Round(math.Max(0, math.Min(1, x))*shades) / shades * float64(len(ramp)-1)
	i := min(int(x), len(ramp)-2)
	f := x - float64(i)
	c := [3]int{}
	for k := range c {
		c[k] = int(ramp[i][k]*(1-f) + ramp[i+1][k]*f + 0.5)
	}
	return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2])
}

// meltPicture draws the temperature over the axial section, mirrored about the axis, as SVG; across names the measure from the axis.
func meltPicture(m *study.Melt, label, across string) template.HTML {
	const w, h, left, right, top, bottom = 860.0, 300.0, 50.0, 96.0, 16.0, 44.0
	long, warm := quantity.Of("z").Unit, quantity.Of("cell").Unit
	zmax := m.Z[len(m.Z)-1]
	rmax, lo, hi := 0.0, math.Inf(1), math.Inf(-1)
	for i := range m.Z {
		rmax = math.Max(rmax, m.R[i])
		for _, t := range m.T[i] {
			lo, hi = math.Min(lo, t), math.Max(hi, t)
		}
	}
	px := func(z float64) float64 { return left + (w-left-right)*z/zmax }
	mid := top + (h-top-bottom)/2
	py := func(r float64) float64 { return mid - (h-top-bottom)/2*r/rmax }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="%s, %.0f to %.0f degC, flow from left to right" xmlns="http://www.w3.org/2000/svg" class="melt">`, w, h, template.HTMLEscapeString(label), warm.Shown(lo), warm.Shown(hi))
	// Each ring of cells from left to right, neighbours of one colour in one outline, both halves of the section; all outlines of a
	// colour in one path.
	area := map[string][]byte{}
	var order []string
	point := func(b []byte, op byte, x, y float64) []byte {
		b = strconv.AppendFloat(append(b, op), x, 'f', 1, 64)
		return strconv.AppendFloat(append(b, ' '), y, 'f', 1, 64)
	}
	inner := func(i, j int) float64 {
		if j == 0 {
			return 0
		}
		return m.CellEdge[i][j-1]
	}
	for j := range m.T[0] {
		from, colour := 0, ""
		flush := func(to int) {
			if colour == "" || to == from {
				return
			}
			b, seen := area[colour]
			if !seen {
				order = append(order, colour)
			}
			for _, s := range []float64{1, -1} {
				op := byte('M')
				for i := from; i <= to; i++ {
					b = point(b, op, px(m.Z[i]), py(s*m.CellEdge[i][j]))
					op = 'L'
				}
				for i := to; i >= from; i-- {
					b = point(b, op, px(m.Z[i]), py(s*inner(i, j)))
				}
				b = append(b, 'Z')
			}
			area[colour] = b
		}
		for i := 1; i < len(m.Z); i++ {
			c := shade((0.5*(m.T[i][j]+m.T[i-1][j]) - lo) / (hi - lo))
			if m.Z[i]-m.Z[i-1] < 1e-12 {
				c = "" // a step between sections
			}
			if c != colour {
				flush(i - 1)
				from, colour = i-1, c
			}
		}
		flush(len(m.Z) - 1)
	}
	for _, c := range order {
		fmt.Fprintf(&b, `<path d="%s" fill="%s"/>`, area[c], c)
	}
	for _, s := range []float64{1, -1} { // bore outline and core edge
		var wall, core []string
		for i := range m.Z {
			wall = append(wall, fmt.Sprintf("%.1f,%.1f", px(m.Z[i]), py(s*m.R[i])))
			if m.Core[i] > 0 || i > 0 && m.Core[i-1] > 0 { // to where it ends
				core = append(core, fmt.Sprintf("%.1f,%.1f", px(m.Z[i]), py(s*m.Core[i])))
			}
		}
		fmt.Fprintf(&b, `<polyline points="%s" class="wall"/>`, strings.Join(wall, " "))
		if len(core) > 1 {
			fmt.Fprintf(&b, `<polyline points="%s" class="core"/>`, strings.Join(core, " "))
		}
	}
	step := niceStep(long.Shown(zmax) / 6)
	for z := 0.0; z <= long.Shown(zmax)*1.0001; z += step {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%g</text>`, px(long.SI(z)), h-bottom+18, math.Round(z*100)/100)
	}
	fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">distance along the path, mm</text>`, (left+w-right)/2, h-6)
	for _, y := range []float64{-rmax, 0, rmax} {
		fmt.Fprintf(&b, `<text x="%g" y="%.1f" text-anchor="end">%.2g</text>`, left-6, py(y)+4, long.Shown(math.Abs(y)))
	}
	fmt.Fprintf(&b, `<text x="14" y="%.1f" transform="rotate(-90 14 %.1f)" text-anchor="middle">%s, mm</text>`, mid, mid, across)
	const n = 24
	for i := range n {
		f := float64(i) / (n - 1)
		y := h - bottom - (h-top-bottom)*float64(i+1)/n
		fmt.Fprintf(&b, `<rect x="%g" y="%.1f" width="16" height="%.1f" fill="%s"/>`, w-right+20, y, (h-top-bottom)/n+0.5, shade(f))
	}
	for _, f := range []float64{0, 0.5, 1} {
		fmt.Fprintf(&b, `<text x="%g" y="%.1f">%.0f °C</text>`, w-right+40, h-bottom-(h-top-bottom)*f+4, warm.Shown(lo+(hi-lo)*f))
	}
	b.WriteString(`</svg>`)
	// Numbers formatted here and fixed or escaped labels: no text from the case enters the markup.
	return template.HTML(b.String())
}

func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, s := range []float64{1, 2, 5} {
		if x <= s*p {
			return s * p
		}
	}
	return 10 * p
}
