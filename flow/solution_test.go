package flow_test

import (
	"errors"
	"math"
	"testing"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/thermal"
)

func fits(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Max(math.Abs(want), 1e-9)) {
		t.Errorf("%s: %.10g, want %.10g", what, got, want)
	}
}

// solved is the plain case with sections that a solver might leave: 1, 4 and 3 MPa, 0.5 MPa of the second lost at its
// entrance.
func solved(t *testing.T) (*flow.Case, *flow.Solution) {
	c := plain(t)
	c.Complete()
	c.Path = flow.Path{Drag: 2, Bend: 1, Friction: 0.1}
	c.HotEnd.Block = thermal.Block{Loss: 0.05, Ambient: 298, Power: 40}
	r := &flow.Solution{}
	c.Prepare(488, 12e-9, r)
	for i, drop := range []float64{1e6, 4e6, 3e6} {
		s := &r.Sections[i]
		s.Drop, s.Residence, s.WallHeat, s.Viscous = drop, float64(i+1), 2, 0.5
		s.WallStress, s.WallRate, s.Wall, s.Bulk, s.Centre = 1e4*float64(3-i), 100, 488, 470+float64(i), 440+float64(i)
	}
	r.Sections[1].Entrance = 0.5e6
	r.Stretches.Wetted, r.Stretches.Held = 4e-3, 6e-3
	return c, r
}

// Totals by hand: pressures add up from the exit, forces go with the filament's area, the path adds its drag.
func TestFinishByHand(t *testing.T) {
	c, r := solved(t)
	area := math.Pi / 4 * 1.75e-3 * 1.75e-3
	fits(t, "speed", r.Speed, 12e-9/area)
	if err := c.Finish(r); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{8e6, 7e6, 3e6} {
		fits(t, "pressure at a section's top", r.Sections[i].Pressure, want)
	}
	fits(t, "pressure", r.Pressure, 8e6)
	fits(t, "residence", r.Residence, 6)
	fits(t, "heat", r.WallHeat, 6)
	fits(t, "viscous heat", r.Viscous, 1.5)
	fits(t, "force", r.Force, 8e6*area)
	fits(t, "push", r.Push, (8e6*area+2)*math.Exp(0.1))
	fits(t, "heater", r.Heater, 0.05*190+6)
	fits(t, "exit", r.ExitBulk, 472)
	fits(t, "exit centre", r.ExitCentre, 442)
	fits(t, "entry", r.EntryBulk, 470)
	fits(t, "entry centre", r.EntryCentre, 440)
	fits(t, "barrel", r.Load.Barrel, 1e6*area)
	fits(t, "cone", r.Load.Cone, 3.5e6*area)
	fits(t, "entrance", r.Load.Entrance, 0.5e6*area)
	fits(t, "bore", r.Load.Bore, 3e6*area)
	fits(t, "drag", r.Load.Drag, r.Push-r.Force)
	fits(t, "wall stress", r.WallStress, 3e4)
	fits(t, "wetted share", r.Stretches.WettedShare, 10.0/20)
	if !r.MeltsThrough { // PLA flows from 412.15 K
		t.Error("440 K in the middle is melt")
	}
	if _, r = solved(t); true {
		r.Sections[0].Centre, r.Stretches.Held, r.PushArea = 412, 40e-3, 3e-6
		if err := c.Finish(r); err != nil || r.MeltsThrough {
			t.Errorf("412 K in the middle is melt: %v", err)
		}
		fits(t, "wetted share at most", r.Stretches.WettedShare, 1)
		fits(t, "force by a wider area", r.Force, 24)
	}
	// What is no number, or infinite, is no answer: force, temperatures at the entry of the cone and the exit, heater.
	for what, at := range map[string]func(r *flow.Solution) *float64{
		"drop":         func(r *flow.Solution) *float64 { return &r.Sections[1].Drop },
		"heat":         func(r *flow.Solution) *float64 { return &r.Sections[1].WallHeat },
		"entry centre": func(r *flow.Solution) *float64 { return &r.Sections[0].Centre },
		"exit":         func(r *flow.Solution) *float64 { return &r.Sections[2].Bulk },
		"exit centre":  func(r *flow.Solution) *float64 { return &r.Sections[2].Centre },
	} {
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			if what == "heat" && x < 0 {
				continue // a heater gives no less than nothing
			}
			_, r = solved(t)
			*at(r) = x
			if err := c.Finish(r); !errors.Is(err, flow.ErrUnsolved) {
				t.Errorf("%s of %g: %v", what, x, err)
			}
		}
	}
	// Without a barrel the cone meets the filament as it comes.
	c.HotEnd.Sections = c.HotEnd.Sections[1:]
	c.Prepare(488, 12e-9, r)
	if err := c.Finish(r); err != nil || r.EntryCentre != c.Filament.Inlet || r.EntryBulk != c.Filament.Inlet {
		t.Errorf("the cone is entered at %g K: %v", r.EntryCentre, err)
	}
}

// Which remark goes with which number: each threshold from both sides, all else being in order.
func TestWarningsByValue(t *testing.T) {
	pla, _ := materials.Get("pla")
	flows := pla.FlowPoint()
	for _, x := range []struct {
		code      string
		set       func(r *flow.Solution, x float64)
		off, from float64
	}{
		{"block-below-flow-point", func(r *flow.Solution, x float64) { r.Block = x }, flows, flows - 0.1},
		{"cold-core", func(r *flow.Solution, x float64) { r.EntryCentre = x }, flows - 0.5, flows - 0.6},
		{"solid-stock", func(r *flow.Solution, x float64) { r.Stretches.Solid = x > 0 }, 0, 1},
		{"rod-crushed", func(r *flow.Solution, x float64) { r.Stretches.Softening = x }, 0, 0.5},
		{"rod-crushed", func(r *flow.Solution, x float64) { r.Stretches.Softening, r.Stretches.Rod = 330, x }, 1e-3, 0},
		{"entrance-range", func(r *flow.Solution, x float64) { r.BeyondEntrance = x > 0 }, 0, 1},
		{"stiff-surface", func(r *flow.Solution, x float64) { r.BelowFlowPoint = x }, 0.1e6, 0.101e6},
		{"viscosity-rate-range", func(r *flow.Solution, x float64) { r.Sections[2].WallRate = x }, 1e4, 1.01e4},
		{"viscous-heating", func(r *flow.Solution, x float64) { r.Pressure, r.BelowFlowPoint = x, 0 },
			10 * pla.Density.Melt * pla.Heat.Capacity(488), 10.1 * pla.Density.Melt * pla.Heat.Capacity(488)},
		{"decomposition", func(r *flow.Solution, x float64) { r.Block = x }, pla.Decomposition,
			pla.Decomposition + 0.1},
		{"above-window", func(r *flow.Solution, x float64) { r.Block = x }, pla.Window[1], pla.Window[1] + 0.1},
		{"below-window", func(r *flow.Solution, x float64) { r.Block = x }, pla.Window[0], pla.Window[0] - 0.1},
		{"not-settled", func(r *flow.Solution, x float64) {
			if x > 0 {
				r.Stats.RanOut = "core"
			}
		}, 0, 1},
	} {
		c, r := solved(t)
		r.EntryCentre, r.Pressure = 440, 1e6
		for i, v := range []float64{x.off, x.from} {
			x.set(r, v)
			on := materials.Warned(c.Warnings(r), x.code)
			if on != (i == 1) {
				t.Errorf("%s at %g: %v", x.code, v, on)
			}
		}
	}
	c, r := solved(t)
	r.EntryCentre, r.Pressure = 440, 1e6
	if w := c.Warnings(r); len(w) != 0 {
		t.Errorf("all in order, and yet %v", w)
	}
}

// The section where a core is squeezed.
func TestConeEntryByHand(t *testing.T) {
	tube := func(d float64) flow.Section { return flow.Section{Shape: flow.Tube, D1: d, D2: d, Channels: 1} }
	cone := func(a, b float64) flow.Section { return flow.Section{Shape: flow.Cone, D1: a, D2: b, Channels: 1} }
	many := tube(0.5e-3)
	many.Channels = 4
	two := tube(2e-3)
	two.Channels = 2
	slit := flow.Section{Shape: flow.Slit, Width: 4e-3, Gap: 1e-3, Channels: 1}
	ring := flow.Section{Shape: flow.Ring, D1: 4e-3, D2: 3e-3, Channels: 1}
	for i, x := range []struct {
		s    []flow.Section
		want int
	}{
		{[]flow.Section{tube(2e-3), cone(2e-3, 0.4e-3), tube(0.4e-3)}, 1},
		{[]flow.Section{tube(2e-3), tube(0.4e-3)}, 1},                       // a flat step
		{[]flow.Section{tube(3e-3), tube(2e-3), tube(0.4e-3)}, 2},           // wider than the filament
		{[]flow.Section{tube(3e-3), cone(3e-3, 2e-3), tube(2e-3)}, 2},       // none: the last
		{[]flow.Section{tube(2e-3), cone(2e-3, 3e-3), cone(3e-3, 1e-3)}, 2}, // it widens first
		{[]flow.Section{tube(2e-3), slit, tube(2e-3)}, 1}, {[]flow.Section{tube(2e-3), ring, tube(2e-3)}, 1},
		{[]flow.Section{tube(2e-3), tube(0.4e-3), tube(0.3e-3)}, 1},               // not the last section
		{[]flow.Section{tube(1.5e-3), tube(1.5e-3), cone(1.5e-3, 0.4e-3)}, 2},     // narrow from the top
		{[]flow.Section{cone(1e-3, 1.5e-3), tube(1.5e-3), cone(1.5e-3, 4e-4)}, 2}, // it widens
		{[]flow.Section{tube(2e-3), two, tube(2e-3)}, 1}, {[]flow.Section{tube(2e-3), many, tube(2e-3)}, 1},
		{[]flow.Section{slit, tube(2e-3), tube(2e-3)}, 2},
		{[]flow.Section{tube(2e-3)}, 0}, {nil, 0},
	} {
		c := flow.Case{Filament: flow.Filament{Diameter: 1.75e-3}, HotEnd: flow.HotEnd{Sections: x.s}}
		if got := c.ConeEntry(); got != x.want {
			t.Errorf("path %d: %d, want %d", i+1, got, x.want)
		}
	}
}

// A heated share of 0.75 of a barrel of 20 mm passes 5 mm; the tip is colder from the cone on.
func TestHeatedLengthAndTip(t *testing.T) {
	c := plain(t)
	c.Complete()
	for share, want := range map[float64]float64{0.75: 5e-3, 0: 0, 1: 0, 1.2: 0, 0.1: 18e-3} {
		c.HotEnd.HeatedShare = share
		if got := c.Unheated(); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("share %g: %g m, want %g m", share, got, want)
		}
	}
	c.HotEnd.TipDrop = 8
	for i, want := range []float64{488, 480, 480} {
		if got := c.WallAt(i, 0.5, 488); got != want {
			t.Errorf("section %d: %g K, want %g K", i, got, want)
		}
	}
	c.HotEnd.Sections[2].Wall = flow.Wall{Fixed: true, Start: 450, End: 460}
	if got := c.WallAt(2, 0.25, 488); got != 452.5 {
		t.Errorf("a fixed wall is at %g K", got)
	}
	c.HotEnd.Sections[2].Wall = flow.Wall{Start: -30, End: -10}
	if got := c.WallAt(2, 0.25, 488); got != 488-8-25 {
		t.Errorf("the wall of the tip is at %g K", got)
	}
	// Two barrels stay at the block, and so does a cone that is all there is.
	barrel := c.HotEnd.Sections[0]
	c.HotEnd.Sections = append([]flow.Section{barrel}, c.HotEnd.Sections...)
	for i, want := range []float64{488, 488, 480} {
		if got := c.WallAt(i, 0.5, 488); got != want {
			t.Errorf("section %d of two barrels: %g K, want %g K", i, got, want)
		}
	}
	c.HotEnd.Sections = c.HotEnd.Sections[2:3]
	if got := c.WallAt(0, 0.5, 488); got != 488 {
		t.Errorf("a cone without a barrel is at %g K", got)
	}
}

// Stock melts where one end of one wall is at the flow point.
func TestAnyWallAtTheFlowPointMelts(t *testing.T) {
	c := plain(t)
	c.Complete()
	tf := c.Material.FlowPoint()
	for _, x := range []struct {
		at         int
		start, end float64 // K beside the flow point
		want       bool
	}{{0, 0, -50, true}, {0, -0.1, -50, false}, {0, -50, 0, true}, {0, -50, -0.1, false}, {2, -50, 0, true},
		{2, 0, -50, true}} {
		for i := range c.HotEnd.Sections {
			c.HotEnd.Sections[i].Wall = flow.Wall{Start: -80, End: -80}
		}
		c.HotEnd.Sections[x.at].Wall = flow.Wall{Start: x.start, End: x.end}
		if got := c.Melts(tf); got != x.want {
			t.Errorf("section %d from %g to %g K beside the flow point: %v", x.at, x.start, x.end, got)
		}
	}
}

// Only a cone whose outlet is the narrower end is a contraction.
func TestContractionsAreConesThatNarrow(t *testing.T) {
	for _, x := range []struct {
		s    flow.Section
		want bool
	}{{flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 1e-3}, true}, {flow.Section{Shape: flow.Cone, D1: 1e-3, D2: 2e-3},
		false}, {flow.Section{Shape: flow.Tube, D1: 2e-3, D2: 1e-3}, false},
		{flow.Section{Shape: flow.Ring, D1: 2e-3, D2: 1e-3}, false}} {
		c := flow.Case{HotEnd: flow.HotEnd{Sections: []flow.Section{x.s}}}
		if got := c.Narrows(0); got != x.want {
			t.Errorf("%+v narrows: %v", x.s, got)
		}
	}
}

// What is assumed where nothing is given: the middle of the plausible range of the heated share (50 to 100 %), within
// those of tip (0 to 15 K), eccentricity (0 to 0.9) and wall contact (3,000 W/(m2 K) to perfect: half of the resistance
// of the poorest, or less).
func TestDefaultsLieInTheirRanges(t *testing.T) {
	fits(t, "heated share", flow.DefaultHeatedShare, (0.5+1)/2)
	if flow.DefaultTipDrop != 5 || flow.DefaultEccentricity != 0.4 || flow.DefaultWettedH != 10000 {
		t.Errorf("%g K, %g, %g W/(m2 K); the pages on assumptions say 5 K, 0.4, 10,000", float64(flow.DefaultTipDrop),
			flow.DefaultEccentricity, flow.DefaultWettedH)
	}
}

// A barrel that may jam: no wider than the thickest filament, where the filament has to fit at all.
func TestTightBarrel(t *testing.T) {
	for _, x := range []struct {
		what  string
		d     float64 // m, of the first section
		shape flow.Shape
		stick bool
		want  bool
	}{{"as wide as the filament may be", 1.78e-3, flow.Tube, false, true}, {"wider", 1.781e-3, flow.Tube, false, false},
		{"as a cone", 1.78e-3, flow.Cone, false, true}, {"stock that fills it", 1.78e-3, flow.Tube, true, false},
		{"a ring", 1.78e-3, flow.Ring, false, false}} {
		c, r := solved(t)
		c.Filament.Tolerance = 0.03e-3
		c.HotEnd.Sections[0].D1, c.HotEnd.Sections[0].Shape, c.Stock.Stick = x.d, x.shape, x.stick
		if got := materials.Warned(c.Warnings(r), "tight-barrel"); got != x.want {
			t.Errorf("%s: %v", x.what, got)
		}
	}
}

// The entrance loss by hand: K (tau/0.1 MPa)^c times the factor and that of the cone, less what was counted.
func TestEntranceLossByHand(t *testing.T) {
	c := plain(t)
	c.Complete()
	m := *c.Material
	m.Entrance = materials.Entrance{K: 1e6, Exponent: 1}
	c.Material = &m
	k := 0.16 * math.Pow(2, 5.0/3) // 30 degrees of half angle
	cone := (k + 0.15) / (k + 0.45)
	for _, x := range []struct{ factor, tau, viscous, want float64 }{{0, 1e5, 0, cone * 1e6},
		{2, 0.5e5, 2e5, cone*1e6 - 2e5}, {0.5, 1e5, 0, cone * 0.5e6}, {1, 1e5, 9e6, 0}, {1, 0, 0, 0}} {
		c.EntranceFactor = x.factor
		got, over := c.EntranceLoss(1, x.tau, x.viscous)
		fits(t, "loss", got, x.want)
		if over {
			t.Errorf("%+v is over the range of the law", x)
		}
	}
	if _, over := c.EntranceLoss(1, 2.51e5, 0); !over {
		t.Error("0.251 MPa is within the range of the law")
	}
	m.Entrance.K = 0
	if got, over := c.EntranceLoss(1, 3e5, 0); got != 0 || over {
		t.Errorf("a material without loss loses %g Pa", got)
	}
	fits(t, "a flat entrance", flow.EntranceCone(math.Pi/2), 1)
}

// Up to where filament is a rod: Tg + 10 K, 30 K below the flow point where that is less or it is a rubber, the start
// of the melting range.
func TestSolidToByHand(t *testing.T) {
	for _, x := range []struct {
		m    materials.Material
		want float64
	}{
		{materials.Material{Glass: 333, FirstFlow: 412}, 343}, {materials.Material{Glass: 373, FirstFlow: 412}, 382},
		{materials.Material{Glass: 240, FirstFlow: 430}, 400},
		{materials.Material{Glass: 320, Viscosity: materials.Viscosity{MeltLow: 420, MeltHigh: 440}}, 420},
	} {
		if got := flow.SolidTo(&x.m); got != x.want {
			t.Errorf("%g K, want %g K", got, x.want)
		}
	}
}

// Bounds of a case from both sides; the field blamed first.
func TestBoundsOfACase(t *testing.T) {
	for _, x := range []struct {
		field     string
		good, bad float64
		at        func(c *flow.Case) *float64
	}{
		{"Filament.Tolerance", 0.3e-3, 0.31e-3, func(c *flow.Case) *float64 { return &c.Filament.Tolerance }},
		{"Filament.Tolerance", 0, -1e-6, func(c *flow.Case) *float64 { return &c.Filament.Tolerance }},
		{"Filament.Diameter", 1e-3, 0.99e-3, func(c *flow.Case) *float64 { return &c.Filament.Diameter }},
		{"Filament.Diameter", 1.99e-3, 5.1e-3, func(c *flow.Case) *float64 { return &c.Filament.Diameter }},
		{"Filament.Inlet", 253.15, 253, func(c *flow.Case) *float64 { return &c.Filament.Inlet }},
		{"Filament.Inlet", 343.1, 343.2, func(c *flow.Case) *float64 { return &c.Filament.Inlet }}, // Tg + 10 K
		{"HotEnd.TipDrop", 100, 101, func(c *flow.Case) *float64 { return &c.HotEnd.TipDrop }},
		{"HotEnd.HeatedShare", 1, 1.01, func(c *flow.Case) *float64 { return &c.HotEnd.HeatedShare }},
		{"Stock.Eccentricity", 0.999, 1, func(c *flow.Case) *float64 { return &c.Stock.Eccentricity }},
		{"Stock.Eccentricity", 0, -0.01, func(c *flow.Case) *float64 { return &c.Stock.Eccentricity }},
		{"Path.Drag", 200, 201, func(c *flow.Case) *float64 { return &c.Path.Drag }},
		{"Path.Bend", 20 * math.Pi, 63, func(c *flow.Case) *float64 { return &c.Path.Bend }},
		{"Path.Friction", 1, 1.01, func(c *flow.Case) *float64 { return &c.Path.Friction }},
		{"ViscosityFactor", 0.02, 0.019, func(c *flow.Case) *float64 { return &c.ViscosityFactor }},
		{"ViscosityFactor", 50, 51, func(c *flow.Case) *float64 { return &c.ViscosityFactor }},
		{"EntranceFactor", 50, 51, func(c *flow.Case) *float64 { return &c.EntranceFactor }},
		{"HotEnd.Sections[1] (barrel).Length", 0.5, 0.51, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[0].Length
		}},
		{"HotEnd.Sections[1] (barrel).Length", 1e-5, 0.9e-5, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[0].Length
		}},
		{"HotEnd.Sections[1] (barrel).H", 1, 0.99, func(c *flow.Case) *float64 { return &c.HotEnd.Sections[0].H }},
		{"HotEnd.Sections[1] (barrel).Wall.Start", 100, 101, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[0].Wall.Start
		}},
		{"HotEnd.Sections[1] (barrel).Wall.End", -300, -301, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[0].Wall.End
		}},
		{"HotEnd.Sections[2] (cone).D1", 2.019e-3, 2.021e-3, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[1].D1
		}},
		{"HotEnd.Sections[2] (cone).D1", 1.981e-3, 1.979e-3, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[1].D1
		}},
		{"HotEnd.Sections[2] (cone).Half", math.Pi / 2, 1.58, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[1].Half
		}},
		{"HotEnd.Sections[3] (bore).D1", 0.397e-3, 0.39e-3, func(c *flow.Case) *float64 {
			return &c.HotEnd.Sections[2].D1
		}},
	} {
		for _, v := range []float64{x.good, x.bad} {
			c := plain(t)
			for i := range c.HotEnd.Sections {
				if c.HotEnd.Sections[i].H == 0 {
					c.HotEnd.Sections[i].H = 1e4
				}
			}
			*x.at(c) = v
			var fields []string
			if err := c.Validate(); err != nil {
				for _, p := range err.(strict.Problems) {
					fields = append(fields, p.Field)
				}
			}
			if v == x.good && len(fields) > 0 || v == x.bad && (len(fields) != 1 || fields[0] != x.field) {
				t.Errorf("%s = %g: %v are blamed", x.field, v, fields)
			}
		}
	}
	c := plain(t)
	for block, fine := range map[float64]bool{800: true, 801: false, 298.15: false, 298.2: true, 249: false} {
		c.Filament.Inlet = 298.15
		if got := len(c.CheckBlock(block)) == 0; got != fine {
			t.Errorf("a block at %g K: %v", block, got)
		}
	}
	for _, x := range []struct {
		block, q float64
		fine     bool
	}{{488, 1e-9, true}, {488, 0, false}, {488, math.Inf(1), false}, {488, 1e-3, true}, {488, 1.1e-3, false},
		{250, 1e-9, true}, {249, 1e-9, false}, {800, 1e-9, true}, {801, 1e-9, false}, {math.NaN(), 1e-9, false}} {
		err := flow.CheckInput(x.block, x.q)
		if (err == nil) != x.fine || err != nil && !errors.Is(err, flow.ErrInput) {
			t.Errorf("%+v: %v", x, err)
		}
	}
}
