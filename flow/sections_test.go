package flow_test

import (
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/materials/strict"
)

// What follows from the rest: the length of a cone from its angle unless it is flat or has one, the angle from its
// length.
func TestCompleteByHand(t *testing.T) {
	for _, x := range []struct{ d1, d2, half, length, wantHalf, wantLength float64 }{
		{2e-3, 1e-3, math.Pi / 4, 0, math.Pi / 4, 0.5e-3},
		{1e-3, 2e-3, math.Pi / 4, 0, math.Pi / 4, 0.5e-3}, // it widens
		{2e-3, 1e-3, math.Pi / 2, 0, math.Pi / 2, 0},
		{2e-3, 1e-3, 1.57, 0, 1.57, 0.5e-3 * math.Tan(math.Pi/2-1.57)},
		{2e-3, 1e-3, 0, 0.5e-3, math.Pi / 4, 0.5e-3},
		{2e-3, 1e-3, 1, 0.5e-3, 1, 0.5e-3}, // both given: as they are
		{2e-3, 1e-3, 0, 0, 0, 0},
	} {
		c := flow.Case{HotEnd: flow.HotEnd{Sections: []flow.Section{{Shape: flow.Cone, D1: x.d1, D2: x.d2, Half: x.half,
			Length: x.length}}}}
		c.Complete()
		s := c.HotEnd.Sections[0]
		if s.Channels != 1 || !(math.Abs(s.Half-x.wantHalf) <= 1e-12) || !(math.Abs(s.Length-x.wantLength) <= 1e-12) ||
			x.wantLength == 0 && s.Length != 0 {
			t.Errorf("%+v: half angle %g, length %g", x, s.Half, s.Length)
		}
	}
}

// Paths that are fine, and those of which one thing is wrong, with the field and part of the words.
func TestPathsThatAreRefused(t *testing.T) {
	const contact = flow.DefaultWettedH
	tube := func(d float64) flow.Section { return flow.Section{Shape: flow.Tube, D1: d, Length: 5e-3, H: contact} }
	cone := func(a, b, half float64) flow.Section {
		return flow.Section{Shape: flow.Cone, D1: a, D2: b, Half: half, H: contact}
	}
	slit := func(w, g float64) flow.Section {
		return flow.Section{Shape: flow.Slit, Width: w, Gap: g, Length: 5e-3, H: contact}
	}
	ring := func(a, b float64) flow.Section {
		return flow.Section{Shape: flow.Ring, D1: a, D2: b, Length: 5e-3, H: contact}
	}
	with := func(s flow.Section, change func(s *flow.Section)) flow.Section { change(&s); return s }
	channels := func(s flow.Section, n int) flow.Section { s.Channels = n; return s }
	length := func(s flow.Section, l float64) flow.Section { s.Length = l; return s }
	wall := func(start, end float64, fixed bool) flow.Section {
		return with(tube(2e-3), func(s *flow.Section) { s.Wall = flow.Wall{Start: start, End: end, Fixed: fixed} })
	}
	flat := cone(2e-3, 1e-3, math.Pi/2)
	want := 0.5e-3 / math.Tan(0.5) // length of a cone of 0.5 rad from 2 mm to 1 mm
	for _, x := range []struct {
		path  []flow.Section
		field string // "" if all is well
		says  string
	}{
		{[]flow.Section{slit(0.2, 1e-3)}, "", ""},
		{[]flow.Section{slit(0.21, 1e-3)}, "Width", "0.2"},
		{[]flow.Section{slit(5e-3, 5e-3)}, "", ""},
		{[]flow.Section{slit(5e-3, 5.01e-3)}, "Gap", "at most Width"},
		{[]flow.Section{slit(0.3, 0.06)}, "Width Gap", ""},
		{[]flow.Section{slit(5e-3, 0.06)}, "Gap", "0.05"}, // and not again as wider than wide
		{[]flow.Section{ring(4e-3, 3.9e-3)}, "", ""},
		{[]flow.Section{ring(4e-3, 4e-3)}, "D2", "below D1"},
		{[]flow.Section{ring(4e-3, 5e-3)}, "D2", "below D1"},
		{[]flow.Section{ring(0.06, 0.07)}, "D1 D2", ""},
		{[]flow.Section{ring(1e-3, 0.5e-3)}, "", ""}, // only a round first section has to hold the filament
		{[]flow.Section{tube(0.05)}, "", ""},
		{[]flow.Section{tube(0.051)}, "D1", "0.05"},
		{[]flow.Section{with(tube(2e-3), func(s *flow.Section) { s.D2 = 2.000001e-3 })}, "", ""},
		{[]flow.Section{with(tube(2e-3), func(s *flow.Section) { s.D2 = 2.00001e-3 })}, "D2", "or 0 for the same"},
		{[]flow.Section{with(tube(2e-3), func(s *flow.Section) { s.Shape = 7 })}, "Shape", "Tube, Cone"},
		{[]flow.Section{channels(tube(2e-3), 1000)}, "", ""},
		{[]flow.Section{channels(tube(2e-3), 1001)}, "Channels", "1 to 1000"},
		{[]flow.Section{channels(tube(2e-3), -1)}, "Channels", "1 to 1000"},
		{[]flow.Section{tube(2e-3), cone(2e-3, 2e-3, 0.5)}, "D2", "another diameter"},
		{[]flow.Section{tube(2e-3), cone(2e-3, 1e-3, 0)}, "Half", "Half or Length"},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 1e-3, 0), 0.5)}, "", ""},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 1e-3, 0), 0.51)}, "Length", "0 to 0.5"},
		{[]flow.Section{tube(2e-3), cone(2e-3, 1e-3, 1.58)}, "Half", "at most pi/2"},
		{[]flow.Section{tube(2e-3), cone(2e-3, 1e-3, -0.5)}, "Half", "at most pi/2"},
		{[]flow.Section{tube(2e-3), flat, tube(1e-3)}, "", ""},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 1e-3, 0.5), 1.009*want)}, "", ""},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 1e-3, 0.5), 1.011*want)}, "Half", "for this Length"},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 1e-3, 0.5), 0.989*want)}, "Half", "(here 57.8 deg)"},
		{[]flow.Section{tube(2e-3), cone(0.06, 0.055, 0.5)}, "D1 D2", ""},
		{[]flow.Section{tube(2e-3), length(cone(2e-3, 0.06, 1), 1)}, "D2", "0.05"}, // and not again by its angle
		{[]flow.Section{tube(2e-3), tube(1.99e-3)}, "", ""},
		{[]flow.Section{tube(2e-3), tube(3e-3)}, "", ""}, // a step outwards
		{[]flow.Section{tube(2e-3), tube(1e-3)}, "D1", "the outlet of the section before; put a Cone"},
		{[]flow.Section{tube(2e-3), cone(3e-3, 1e-3, 0.5)}, "D1", "the outlet of the section before; make"},
		{[]flow.Section{tube(2e-3), slit(5e-3, 1e-3), tube(1e-3)}, "", ""},
		{[]flow.Section{slit(5e-3, 1e-3), cone(2e-3, 1e-3, 0.5)}, "", ""},
		{[]flow.Section{tube(2e-3), channels(tube(1e-3), 2), tube(0.5e-3)}, "", ""},
		{[]flow.Section{tube(2e-3), cone(2e-3, 0, 0.5), tube(1e-3)}, "D2", "1e-05"},
		{[]flow.Section{wall(-300, 100, false)}, "", ""},
		{[]flow.Section{wall(250, 800, true)}, "", ""},
		{[]flow.Section{wall(249, 801, true)}, "Wall.Start Wall.End", "kelvin"},
		{[]flow.Section{wall(-301, 101, false)}, "Wall.Start Wall.End", "kelvin"},
		{[]flow.Section{with(tube(2e-3), func(s *flow.Section) { s.H = math.Inf(1) })}, "", ""},
	} {
		c := plain(t)
		c.HotEnd.Sections = x.path
		var fields []string
		var words string
		if err := c.Validate(); err != nil {
			for _, p := range err.(strict.Problems) {
				fields = append(fields, p.Field[strings.Index(p.Field, "].")+2:])
				words += p.Error()
			}
		}
		if strings.Join(fields, " ") != x.field || !strings.Contains(words, x.says) {
			t.Errorf("%+v: %v are blamed (%s), want %q with %q", x.path, fields, words, x.field, x.says)
		}
	}
}

// Stock that fills the bore need not fit with a gap, nor be a rod; a material without a flow point bounds no inlet; an
// inlet beyond all is blamed once.
func TestInletAndFitByStock(t *testing.T) {
	for _, x := range []struct {
		what    string
		change  func(c *flow.Case)
		problem string
	}{
		{"fills a narrow bore", func(c *flow.Case) { c.Stock.Stick, c.Filament.Diameter = true, 2.2e-3 }, ""},
		{"a filament out of bounds", func(c *flow.Case) { c.Filament.Diameter = 6e-3 }, "Filament.Diameter"},
		{"as wide as the bore", func(c *flow.Case) { c.Filament.Diameter = 2e-3 }, "HotEnd.Sections[1] (barrel).D1"},
		{"melt that enters", func(c *flow.Case) { c.Stock.Stick, c.Filament.Inlet = true, 500 }, ""},
		{"the warmest melt", func(c *flow.Case) { c.Stock.Stick, c.Filament.Inlet = true, 800 }, ""},
		{"warmer than that", func(c *flow.Case) { c.Stock.Stick, c.Filament.Inlet = true, 801 }, "Filament.Inlet"},
		{"a rod warmer than that", func(c *flow.Case) { c.Filament.Inlet = 801 }, "Filament.Inlet"},
		{"no flow point", func(c *flow.Case) {
			m := *c.Material
			m.FirstFlow, m.Glass = 0, 200
			c.Material, c.Filament.Inlet = &m, 400
		}, ""},
		{"factors that count as 1", func(c *flow.Case) { c.ViscosityFactor, c.EntranceFactor = 0, 0 }, ""},
		{"no entrance loss to speak of", func(c *flow.Case) { c.EntranceFactor = 0.001 }, ""},
		{"an entrance loss below none", func(c *flow.Case) { c.EntranceFactor = -0.1 }, "EntranceFactor"},
	} {
		c := plain(t)
		x.change(c)
		var fields []string
		if err := c.Validate(); err != nil {
			for _, p := range err.(strict.Problems) {
				fields = append(fields, p.Field)
			}
		}
		if strings.Join(fields, " ") != x.problem {
			t.Errorf("%s: %v are blamed, want %q", x.what, fields, x.problem)
		}
	}
}
