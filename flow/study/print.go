package study

import (
	"fmt"

	"meltload/flow/quantity"
	"meltload/flow/setup"
)

// printed tells the flows of a verdict as print speeds; nil without a line.
func printed(s *setup.Setup, v *Verdict) *Printed {
	l, assumed, ok := s.PrintLine()
	if !ok {
		return nil
	}
	p := &Printed{Layer: l.Height, Width: l.Width, Assumed: assumed, Speed: l.Speed(v.Flow)}
	p.Nozzle = quantity.KnownIf(s.HotEnd.Nozzle() > 0, s.HotEnd.Nozzle())
	if v.Target != nil {
		p.Wanted = quantity.Known(l.Speed(*v.Target))
	}
	return p
}

// printSpeed is a flow (m3/s) as a print speed; nil without a line.
func printSpeed(s *setup.Setup, q float64) *float64 {
	l, _, ok := s.PrintLine()
	return quantity.KnownIf(ok, l.Speed(q))
}

// Line says the line in words: "0.2 x 0.45 mm (assumed for a 0.4 mm nozzle)".
func (p *Printed) Line() string {
	s := quantity.Of("layer_height").Number(p.Layer) + " x " + quantity.Text("line_width", p.Width)
	if p.Assumed && p.Nozzle != nil {
		s += " (assumed for a " + quantity.Text("nozzle", *p.Nozzle) + " nozzle)"
	}
	return s
}

// sentence tells the print speeds; "" where there is no flow to tell.
func (p *Printed) sentence(v *Verdict) string {
	if p == nil || v.Flow == 0 && p.Wanted == nil {
		return ""
	}
	s := fmt.Sprintf(" As print speed, in lines of %s: ", p.Line())
	if v.Flow > 0 {
		s += quantity.Text("print_speed", p.Speed)
		if p.Wanted != nil {
			s += ", wanted " + quantity.Text("wanted_print_speed", *p.Wanted)
		}
		return s + "."
	}
	return s + "wanted " + quantity.Text("wanted_print_speed", *p.Wanted) + "."
}
