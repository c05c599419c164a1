package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"hash/crc32"
	"html"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"sync"

	"meltload/flow/quantity"
	"meltload/flow/study"
)

// ramp is a sequential scale that stays ordered in grey and to colour-blind eyes: dark blue, slate, olive, sand, pale
// yellow.
var ramp = [][3]float64{{18, 32, 86}, {52, 78, 116}, {98, 118, 118}, {164, 152, 98}, {222, 196, 92}, {250, 238, 160}}

// shades are the steps of the scale: more than an eye can tell apart, and few enough for a small picture.
const shades = 200

// scale is the ramp as a palette; the first colour is none.
var scale = func() color.Palette {
	p := color.Palette{color.Transparent}
	for i := range shades {
		p = append(p, shade(float64(i)/(shades-1)))
	}
	return p
}()

// shade is the colour at x, 0 to 1.
func shade(x float64) color.RGBA {
	x = math.Max(0, math.Min(1, x)) * float64(len(ramp)-1)
	i := min(int(x), len(ramp)-2)
	f := x - float64(i)
	mix := func(k int) uint8 { return uint8(ramp[i][k]*(1-f) + ramp[i+1][k]*f + 0.5) }
	return color.RGBA{mix(0), mix(1), mix(2), 255}
}

// The resolution of the picture; the page scales it.
const (
	pictureWidth = 480
	pictureHalf  = 80 // height of one half
)

// section is a station interval of a melt zone as the picture needs it.
type section struct {
	m        *study.Melt
	lo, hi   float64 // temperatures
	rmax     float64
	passages []float64
}

// before is a list with one more at its start.
func before[T any](first T, rest []T) []T { return append([]T{first}, rest...) }

func newSection(m *study.Melt) *section {
	if len(m.Stretch) > 0 && m.Z[0] > 0 { // above the heated length the rod is as it enters
		m = &study.Melt{
			Z: before(0, m.Z), R: before(m.R[0], m.R), Bore: before(m.Bore[0], m.Bore), Core: before(m.Core[0], m.Core),
			CellEdge: before(m.CellEdge[0], m.CellEdge), T: before(m.T[0], m.T), Stretch: before("unheated", m.Stretch),
		}
	}
	s := &section{m: m, lo: math.Inf(1), hi: math.Inf(-1), passages: m.Bore}
	if s.passages == nil {
		s.passages = m.R
	}
	for i := range m.Z {
		s.rmax = math.Max(s.rmax, s.passages[i])
		for _, t := range m.T[i] {
			s.lo, s.hi = math.Min(s.lo, t), math.Max(s.hi, t)
		}
	}
	return s
}

// ray is what a station shows outward of its axis, in steps of the scale: linear between the middles of its cells,
// even outside of them.
type ray struct {
	radius       float64
	middle       []float64 // of the cells
	start, slope []float64 // of the line inside of each middle; the last is that outside of all
}

func (s *section) ray(i int) ray {
	edges, T := s.m.CellEdge[i], s.m.T[i]
	n := len(edges)
	all := make([]float64, 3*n+2)
	r := ray{edges[n-1], all[:n], all[n : 2*n+1], all[2*n+1:]}
	step := func(T float64) float64 { return (T - s.lo) / math.Max(s.hi-s.lo, 1e-9) * (shades - 1) }
	inner := 0.0
	for j := range n {
		r.middle[j] = (inner + edges[j]) / 2
		inner = edges[j]
		if r.start[j+1] = step(T[j]); j == 0 {
			r.start[0] = r.start[1]
		}
	}
	for j := 1; j < n; j++ {
		if d := r.middle[j] - r.middle[j-1]; d > 0 {
			r.slope[j] = (r.start[j+1] - r.start[j]) / d
			r.start[j] -= r.slope[j] * r.middle[j-1]
		}
	}
	return r
}

// picture is the temperature of the upper half as an image; where there is no stock it is clear. Its last row is that
// of the axis once more: the halves overlap there, so that no seam shows between them.
func (s *section) picture() *image.Paletted {
	m := s.m
	img := image.NewPaletted(image.Rect(0, 0, pictureWidth, pictureHalf+1), scale)
	end := m.Z[len(m.Z)-1]
	i := 0
	left, right := s.ray(0), s.ray(1)
	for x := range pictureWidth {
		z := end * (float64(x) + 0.5) / pictureWidth
		for i < len(m.Z)-2 && m.Z[i+1] < z {
			i++
			left, right = right, s.ray(i+1)
		}
		f := 0.0
		if d := m.Z[i+1] - m.Z[i]; d > 0 {
			f = math.Max(0, math.Min(1, (z-m.Z[i])/d))
		}
		R := m.R[i] + f*(m.R[i+1]-m.R[i])
		fillColumn(img, x, s.rmax/R/pictureHalf, f, &left, &right)
	}
	last := img.Pix[pictureHalf*img.Stride:]
	copy(last, img.Pix[(pictureHalf-1)*img.Stride:])
	return img
}

// fillColumn fills a column of the picture, at a share f of the way between two stations; dot is the height of one dot
// as a share of the radius there.
func fillColumn(img *image.Paletted, x int, dot, f float64, left, right *ray) {
	at := (pictureHalf-1)*img.Stride + x
	j, k := 0, 0 // the cells whose middles lie outside of where the ray is
	for y := range pictureHalf {
		share := (float64(y) + 0.5) * dot
		if share > 1 {
			break
		}
		a, b := share*left.radius, share*right.radius
		for j < len(left.middle) && a >= left.middle[j] {
			j++
		}
		for k < len(right.middle) && b >= right.middle[k] {
			k++
		}
		step := (1-f)*(left.start[j]+left.slope[j]*a) + f*(right.start[k]+right.slope[k]*b)
		img.Pix[at] = uint8(1 + int(step+0.5))
		at -= img.Stride
	}
}

// pngs packs fast: the picture is a few kilobytes either way.
var pngs = png.Encoder{CompressionLevel: png.BestSpeed, BufferPool: &packers{}}

// packers keep what an encoder works with, a megabyte, for the next picture.
type packers struct{ sync.Pool }

func (p *packers) Get() *png.EncoderBuffer {
	b, _ := p.Pool.Get().(*png.EncoderBuffer)
	return b
}

func (p *packers) Put(b *png.EncoderBuffer) { p.Pool.Put(b) }

// meltPicture draws the temperature over the axial section, mirrored about the axis, as SVG; lead begins its ids,
// across names the measure from the axis.
func meltPicture(m *study.Melt, lead, label, across string) markup {
	const w, h, left, right, top, bottom = 860.0, 320.0, 50.0, 96.0, 34.0, 44.0
	long, warm := quantity.Of("z").Unit, quantity.Of("cell").Unit
	s := newSection(m)
	m = s.m
	zmax := m.Z[len(m.Z)-1]
	px := func(z float64) float64 { return left + (w-left-right)*z/zmax }
	mid := top + (h-top-bottom)/2
	py := func(r float64) float64 { return mid - (h-top-bottom)/2*r/s.rmax }
	var b strings.Builder
	fmt.Fprintf(
		&b,
		`<svg viewBox="0 0 %g %g" role="img" aria-label="%s, %.0f to %.0f degC, flow from left to right" `+
			`xmlns="http://www.w3.org/2000/svg" class="melt">`,
		w,
		h,
		html.EscapeString(label),
		warm.Shown(s.lo),
		warm.Shown(s.hi),
	)
	fmt.Fprintf(&b, `<defs><pattern id="%sair" width="5" height="5" patternUnits="userSpaceOnUse" `+
		`patternTransform="rotate(45)"><path d="M0 0V5" class="hatch"/></pattern></defs>`, lead)
	s.gap(&b, lead, px, py)
	var img bytes.Buffer
	if err := pngs.Encode(&img, s.picture()); err != nil {
		panic("report: " + err.Error()) // a picture of fixed size in memory: cannot fail
	}
	// The lower half is the upper one turned over. Its name is made of its pixels: two of one name are one picture.
	name := fmt.Sprintf("%shalf-%08x", lead, crc32.ChecksumIEEE(img.Bytes()))
	fmt.Fprintf(&b,
		`<image id="%s" x="%g" y="%g" width="%g" height="%g" preserveAspectRatio="none" href="data:image/png;base64,%s"/>`+
			`<use href="#%s" transform="matrix(1 0 0 -1 0 %g)"/>`,
		name, left, top, w-left-right, (h-top-bottom)/2*(1+1.0/pictureHalf),
		base64.StdEncoding.EncodeToString(img.Bytes()), name, 2*mid)
	for _, side := range []float64{1, -1} { // the wall, the outline of the rod, the edge of the core
		line := func(class string, r func(i int) float64, drawn func(i int) bool) {
			var pts []string
			for i := range m.Z {
				if drawn(i) {
					pts = append(pts, fmt.Sprintf("%.1f,%.1f", px(m.Z[i]), py(side*r(i))))
				}
			}
			if len(pts) > 1 {
				fmt.Fprintf(&b, `<polyline points="%s" class="%s"/>`, strings.Join(pts, " "), class)
			}
		}
		line("wall", func(i int) float64 { return s.passages[i] }, func(int) bool { return true })
		line("rod", func(i int) float64 { return m.R[i] }, s.bare)
		line("core", func(i int) float64 { return m.Core[i] },
			func(i int) bool { return m.Core[i] > 0 || i > 0 && m.Core[i-1] > 0 })
	}
	s.names(&b, px, top)
	step := niceStep(long.Shown(zmax) / 6)
	for z := 0.0; z <= long.Shown(zmax)*1.0001; z += step {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%g</text>`, px(long.SI(z)), h-bottom+18,
			math.Round(z*100)/100)
	}
	fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">distance along the path, mm</text>`,
		(left+w-right)/2, h-6)
	for _, y := range []float64{-s.rmax, 0, s.rmax} {
		fmt.Fprintf(&b, `<text x="%g" y="%.1f" text-anchor="end">%.2g</text>`, left-6, py(y)+4, long.Shown(math.Abs(y)))
	}
	fmt.Fprintf(&b, `<text x="14" y="%.1f" transform="rotate(-90 14 %.1f)" text-anchor="middle">%s, mm</text>`, mid,
		mid, across)
	fmt.Fprintf(&b, `<linearGradient id="%swarmth" x1="0" y1="1" x2="0" y2="0">`, lead)
	for i := range ramp {
		f := float64(i) / float64(len(ramp)-1)
		c := shade(f)
		fmt.Fprintf(&b, `<stop offset="%g" stop-color="#%02x%02x%02x"/>`, f, c.R, c.G, c.B)
	}
	fmt.Fprintf(&b, `</linearGradient><rect x="%g" y="%g" width="16" height="%g" fill="url(#%swarmth)"/>`, w-right+20,
		top, h-top-bottom, lead)
	for _, f := range []float64{0, 0.5, 1} {
		fmt.Fprintf(&b, `<text x="%g" y="%.1f">%.0f °C</text>`, w-right+40, h-bottom-(h-top-bottom)*f+4,
			warm.Shown(s.lo+(s.hi-s.lo)*f))
	}
	b.WriteString(`</svg>`)
	// Numbers formatted here and fixed or escaped labels: no text from the case enters the markup.
	return markup(b.String())
}

// bare tells whether the stock stands in an air gap at a station.
func (s *section) bare(i int) bool { return s.m.R[i] < s.passages[i]*(1-1e-6) }

// gap hatches the air between rod and wall.
func (s *section) gap(b *strings.Builder, lead string, px, py func(float64) float64) {
	for _, side := range []float64{1, -1} {
		var there, back []string
		for i := range s.m.Z {
			if s.bare(i) {
				there = append(there, fmt.Sprintf("%.1f,%.1f", px(s.m.Z[i]), py(side*s.passages[i])))
				back = append([]string{fmt.Sprintf("%.1f,%.1f", px(s.m.Z[i]), py(side*s.m.R[i]))}, back...)
			}
		}
		if len(there) > 1 {
			fmt.Fprintf(b, `<polygon points="%s" fill="url(#%sair)"/>`, strings.Join(append(there, back...), " "), lead)
		}
	}
}

// names writes what state the stock is in over each stretch, and marks where one ends.
func (s *section) names(b *strings.Builder, px func(float64) float64, top float64) {
	m := s.m
	if len(m.Stretch) == 0 {
		return
	}
	text := map[string]string{"unheated": "not heated", "rod": "rod in air gap", "wetted": "plug on wetted wall",
		"held": "melt held by the wall"}
	from := 0
	for i := 1; i <= len(m.Z); i++ {
		if i < len(m.Z) && m.Stretch[i] == m.Stretch[from] {
			continue
		}
		last := i - 1
		if m.Stretch[from] == "unheated" {
			last = i
		}
		x0, x1 := px(m.Z[from]), px(m.Z[last])
		name := text[m.Stretch[from]]
		if width := x1 - x0; width > 6.6*float64(len(name)) {
			fmt.Fprintf(b, `<text x="%.1f" y="%g" text-anchor="middle">%s</text>`, (x0+x1)/2, top-12, name)
		} else if short := m.Stretch[from]; width > 7*float64(len(short)) {
			fmt.Fprintf(b, `<text x="%.1f" y="%g" text-anchor="middle">%s</text>`, (x0+x1)/2, top-12, short)
		}
		if i < len(m.Z) {
			fmt.Fprintf(b, `<path d="M%.1f %gV%g" class="end"/>`, px(m.Z[last]), top-26, top+2)
		}
		from = i
	}
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
