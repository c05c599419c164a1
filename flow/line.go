package flow

import "math"

// Line is the cross-section of a printed line: layer height and line width. It turns a flow into a print speed.
type Line struct {
	Height float64 // m, of the layer; 0 if it is not given
	Width  float64 // m, of the line; 0 if it is not given
}

// A line that is not given, as shares of the nozzle's bore: 0.2 x 0.45 mm of a 0.4 mm nozzle. Assumed, by common
// practice (layers of a quarter to three quarters of the bore, lines of 100 to 120 % of it).
const (
	LayerShare = 0.5
	WidthShare = 1.125
)

// Or fills what is not given from the bore of the nozzle (m); a bore of 0 fills nothing.
func (l Line) Or(bore float64) Line {
	if l.Height == 0 {
		l.Height = LayerShare * bore
	}
	if l.Width == 0 {
		l.Width = WidthShare * bore
	}
	return l
}

// Area is the cross-section (m2) that a flow is laid down in, as a rectangle, A = h w: lines that lie side by side at
// their width fill the layer, so that a solid part takes h w of melt for every length of line. Valid for h <= w. It is
// common practice, and the careful side: the rounded line is smaller, and with it the print speed higher. Where a
// program that makes the paths counts the rounded line, Rounded is right.
func (l Line) Area() float64 { return l.Height * l.Width }

// Rounded is the cross-section (m2) of a single line with round sides, A = (w - h) h + pi h^2/4: a rectangle between
// two half circles of the layer's height. Valid for h <= w. It is 10 % below Area at 0.2 x 0.45 mm.
func (l Line) Rounded() float64 {
	return (l.Width-l.Height)*l.Height + math.Pi*l.Height*l.Height/4
}

// Speed is the print speed (m/s) that a flow (m3/s) allows, v = Q/A; 0 for a line without a cross-section.
func (l Line) Speed(q float64) float64 {
	if a := l.Area(); a > 0 {
		return q / a
	}
	return 0
}

// Flow is the flow (m3/s) that a print speed (m/s) needs, Q = A v.
func (l Line) Flow(speed float64) float64 { return l.Area() * speed }

// Nozzle is the diameter (m) that the melt leaves through; 0 where the exit is not one round bore.
func (h *HotEnd) Nozzle() float64 {
	if len(h.Sections) == 0 {
		return 0
	}
	s := &h.Sections[len(h.Sections)-1]
	if s.Channels > 1 {
		return 0
	}
	switch s.Shape {
	case Tube:
		return s.D1
	case Cone:
		return s.D2
	}
	return 0
}
