package flow_test

import (
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/strict"
)

// plain is the path of a common nozzle: 2 mm barrel of 20 mm, 60 deg cone, 0.4 mm bore of 1 mm.
func plain(t *testing.T) *flow.Case {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	return &flow.Case{Material: m, Filament: flow.Filament{Diameter: 1.75e-3, Tolerance: 3e-5, Inlet: 298.15},
		HotEnd: flow.HotEnd{Sections: []flow.Section{
			{Name: "barrel", Shape: flow.Tube, D1: 2e-3, Length: 20e-3, H: flow.DefaultWettedH},
			{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6, H: flow.DefaultWettedH},
			{Name: "bore", Shape: flow.Tube, D1: 0.4e-3, Length: 1e-3, H: flow.DefaultWettedH},
		}}}
}

func TestCompleteFillsInWhatFollows(t *testing.T) {
	c := plain(t)
	if err := c.Validate(); err != nil {
		t.Fatal(err)
	}
	c.Complete()
	cone, want := c.HotEnd.Sections[1], 0.8e-3/math.Tan(math.Pi/6)
	if !(math.Abs(cone.Length/want-1) <= 1e-12) {
		t.Errorf("length of the cone %g m, want %g", cone.Length, want)
	}
	if b := c.HotEnd.Sections[0]; b.D2 != b.D1 || b.Channels != 1 {
		t.Errorf("barrel not completed: %+v", b)
	}
	c.HotEnd.Sections[1].Half = 0
	c.Complete()
	if h := c.HotEnd.Sections[1].Half; !(math.Abs(h-math.Pi/6) <= 1e-12) {
		t.Errorf("half angle from the length: %g rad, want %g", h, math.Pi/6)
	}
}

// Faults that once gave a number without a word.
func TestFaultsAreNamed(t *testing.T) {
	for _, x := range []struct {
		name string
		make func(c *flow.Case)
		want string // field and part of the message
	}{
		{"cone left out",
			func(c *flow.Case) { c.HotEnd.Sections = append(c.HotEnd.Sections[:1], c.HotEnd.Sections[2]) },
			"HotEnd.Sections[2] (bore).D1: found 0.0004 m; allowed: 0.002 m, the outlet of the section before; put a " +
				"Cone"},
		{"bore in mm", func(c *flow.Case) { c.HotEnd.Sections[2].D1 = 0.4 },
			"HotEnd.Sections[3] (bore).D1: found 0.4; allowed: 1e-05 to 0.05 m"},
		{"filament in mm", func(c *flow.Case) { c.Filament.Diameter = 1.75 }, "Filament.Diameter: found 1.75"},
		{"inlet in degC", func(c *flow.Case) { c.Filament.Inlet = 25 }, "Filament.Inlet: found 25"},
		{"inlet next to the flow point", func(c *flow.Case) { c.Filament.Inlet = 273.15 + 105 },
			"Filament.Inlet: found 378.15 K (105 degC); allowed: at most 343.15 K (70 degC) for pla; above it the " +
				"filament is no rod"},
		{"inlet above the flow point", func(c *flow.Case) { c.Filament.Inlet = 273.15 + 150 },
			"Filament.Inlet: found 423.15 K (150 degC)"},
		{"full angle as half angle", func(c *flow.Case) {
			c.Complete()
			c.HotEnd.Sections[1].Half = math.Pi / 3
		}, "HotEnd.Sections[2] (cone).Half: found 1.0472 rad with a Length of 0.00138564 m; allowed: 0.523599 rad"},
		{"angle in degrees", func(c *flow.Case) { c.HotEnd.Sections[1].Half = 30 },
			"HotEnd.Sections[2] (cone).Half: found 30"},
		{"no wall contact", func(c *flow.Case) { c.HotEnd.Sections[0].H = 0 },
			"HotEnd.Sections[1] (barrel).H: found 0"},
		{"no sections", func(c *flow.Case) { c.HotEnd.Sections = nil }, "HotEnd.Sections: found none"},
		{"no material", func(c *flow.Case) { c.Material = nil }, "Material: found nil"},
		{"filament wider than the barrel", func(c *flow.Case) { c.Filament.Diameter = 2.2e-3 },
			"HotEnd.Sections[1] (barrel).D1: found 0.002 m"},
		{"eccentricity 1", func(c *flow.Case) { c.Stock.Eccentricity = 1 }, "Stock.Eccentricity: found 1"},
		{"heated share in per cent", func(c *flow.Case) { c.HotEnd.HeatedShare = 80 }, "HotEnd.HeatedShare: found 80"},
		{"not a number", func(c *flow.Case) { c.HotEnd.Sections[0].Length = math.NaN() },
			"HotEnd.Sections[1] (barrel).Length: found NaN"},
	} {
		c := plain(t)
		x.make(c)
		ps, ok := c.Validate().(strict.Problems)
		if !ok || len(ps) != 1 {
			t.Errorf("%s: %d problems (%v), want one", x.name, len(ps), ps)
			continue
		}
		if !strings.HasPrefix(ps[0].Error(), x.want) {
			t.Errorf("%s:\n got %s\nwant %s", x.name, ps[0].Error(), x.want)
		}
	}
	// All of them at once.
	c := plain(t)
	c.Filament.Inlet, c.HotEnd.Sections[0].H, c.HotEnd.Sections[2].D1, c.Material = 25, 0, 0.4, nil
	if ps := c.Validate().(strict.Problems); len(ps) != 4 {
		t.Errorf("%d problems, want 4: %v", len(ps), ps)
	}
}

// The inlet that is allowed lies above any room and below the flow point, for every material.
func TestFilamentStaysSolidToASensibleTemperature(t *testing.T) {
	for _, id := range materials.Names() {
		m, err := materials.Get(id)
		if err != nil {
			t.Fatal(err)
		}
		if top := flow.SolidTo(m); top < 273.15+50 || top > m.FlowPoint()-10 {
			t.Errorf("%s: solid to %.0f degC, flow point %.0f degC", id, top-273.15, m.FlowPoint()-273.15)
		}
	}
}
