package feeder

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

// The check values and their sources are in testdata/checks.json.

func TestMotorClosedForms(t *testing.T) {
	checks.Each(t, "stepper_pullout", func(c *checks.Case) {
		rev := c.In("rpm") / 60
		p := int(c.In("p"))
		omega := 2 * math.Pi * rev * float64(p)
		c.Want("omega_e", omega)
		c.Want("step_rate", rev*float64(4*p))
		c.Want("torque", reference.Winding{Voltage: c.In("V"), Resistance: c.In("R"), Inductance: c.In("L"),
			Flux: c.In("psi"), Teeth: p}.PullOut(omega))
		c.Want("torque_zero_speed", reference.Winding{Voltage: c.In("V"), Resistance: c.In("R"), Inductance: c.In("L"),
			Flux: c.In("psi"), Teeth: p}.PullOut(0))
	})
	checks.Each(t, "stepper_envelope", func(c *checks.Case) {
		p := int(c.In("p"))
		m := Motor{Holding: math.Sqrt2 * float64(p) * c.In("psi") * c.In("I"), Rated: c.In("I"), Current: c.In("I"),
			Resistance: c.In("R"),
			Inductance: c.In("L"), Supply: c.In("V"), Teeth: p, Usable: 1}
		rev := c.In("rpm") / 60
		c.Want("torque", m.Torque(rev))
		c.Want("torque_current_limit", float64(p)*m.Flux()*m.Current)
		c.Want("torque_voltage_limit", reference.Winding{Voltage: m.Supply, Resistance: m.Resistance,
			Inductance: m.Inductance, Flux: m.Flux(), Teeth: p}.PullOut(
			2*math.Pi*rev*float64(p)))
	})
	checks.Each(t, "feed_force", func(c *checks.Case) {
		d := Drive{c.In("ratio"), c.In("eff"), c.In("d_drive")}
		c.Want("force", d.Force(c.In("torque")))
		c.Want("mm_per_rev_motor", d.FeedPerTurn()*1e3)
		c.Want("steps_per_mm", c.In("steps_rev")*c.In("microsteps")/(d.FeedPerTurn()*1e3))
	})
}

func TestWorms(t *testing.T) {
	checks.Each(t, "worm_eff", func(c *checks.Case) {
		f, b := WormEfficiency(unit.Deg(c.In("lead_angle_deg")), unit.Deg(c.In("phi_n_deg")), c.In("f"))
		c.Want("eff_forward", f)
		c.Want("eff_back", b)
		locks := 0.0
		if b <= 0 {
			locks = 1
		}
		c.Want("self_locking", locks)
		c.Want("f_lock", math.Cos(unit.Deg(c.In("phi_n_deg")))*math.Tan(unit.Deg(c.In("lead_angle_deg"))))
	})
}

func TestColumnsAndGuides(t *testing.T) {
	checks.Each(t, "end_fixity", func(c *checks.Case) {
		x := math.Pi / FixedPinned
		c.Want("fixed_pinned_root", x)
		if r := math.Tan(x) - x; math.Abs(r) > 1e-12 {
			t.Errorf("tan x - x = %g", r)
		}
		c.Want("K_fixed_pinned", FixedPinned)
		c.Want("K_fixed_fixed", FixedFixed)
		c.Want("K_pinned", PinnedPinned)
		c.Want("K_fixed_free", FixedFree)
	})
	checks.Each(t, "johnson_column", func(c *checks.Case) {
		a, r, le, E, sy := c.In("A"), c.In("r_gyr"), c.In("K")*c.In("L"), c.In("E"), c.In("Sy")
		c.Want("P_cr", Column{a, r, le, E, sy}.Collapse())
		c.Want("slenderness", le/r)
		c.Want("Cc", math.Sqrt(2*math.Pi*math.Pi*E/sy))
		c.Want("P_euler", math.Pi*math.Pi*E*a*r*r/(le*le))
		c.Want("P_johnson", a*sy*(1-sy*le*le/(r*r)/(4*math.Pi*math.Pi*E)))
	})
	checks.Each(t, "capstan", func(c *checks.Case) {
		c.Want("ratio", flow.Path{Bend: unit.Deg(c.In("angle_deg")), Friction: c.In("mu")}.Force(1))
	})
	checks.Each(t, "capstan_push", func(c *checks.Case) {
		f := flow.Path{Bend: unit.Deg(c.In("angle_deg")), Friction: c.In("mu")}.Force(c.In("F_out"))
		c.Want("F_in", f)
		c.Want("loss", f-c.In("F_out"))
	})
}

// Common practice, no source: bench pairs of current and stall force. From the
// first the second must follow within 7 per cent, since torque goes with current.
func TestForceFollowsCurrent(t *testing.T) {
	for _, p := range [][4]float64{{0.65, 5.4, 1.0, 8.3}, {0.9, 9.2, 1.3, 13}, {1.2, 6.2, 1.8, 9.4}} {
		m := Motor{Holding: 0.15, Rated: 2, Current: p[0], Resistance: 2, Inductance: 3e-3, Supply: 24, Teeth: 50,
			Usable: 1}
		a := m.Torque(1)
		m.Current = p[2]
		if got := p[1] * m.Torque(1) / a; math.Abs(got/p[3]-1) > 0.07 {
			t.Errorf("from %.1f kgf at %g A: %.2f kgf at %g A, measured %.1f", p[1], p[0], got, p[2], p[3])
		}
	}
}

// Common practice, no source: a single-wheel direct feeder grinds PLA near 2.8 kgf at 5 and at
// 20 mm3/s alike; geared dual-wheel feeders lose 0 to 30 per cent of force between the two.
func TestShapesOfCapability(t *testing.T) {
	pla, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	area := unit.Disc(1.75e-3)
	slow, fast := 5e-9/area, 20e-9/area
	direct := &Model{Grip: &Grip{Area: 0.6e-6, Wheels: 1, Tension: 1}, Diameter: 1.75e-3, Stock: 298.15, Material: pla,
		Motor: &Motor{Holding: 0.45, Rated: 1.7, Current: 1.7, Resistance: 1.5, Inductance: 2.8e-3, Supply: 24,
			Teeth: 50, Usable: 0.75},
		Drive: Drive{1, 1, 10.7e-3}}
	for _, v := range []float64{slow, fast} {
		c := direct.At(v)
		if c.Cause != Grind || math.Abs(c.Force/unit.KGF/2.8-1) > 0.1 {
			t.Errorf("direct feeder at %.1f mm/s: %.2f kgf by %s", v*1e3, c.Force/unit.KGF, c.Cause)
		}
	}
	geared := &Model{Diameter: 1.75e-3, Stock: 298.15, Material: pla,
		Motor: &Motor{Holding: 0.11, Rated: 1, Current: 0.65, Resistance: 2.1, Inductance: 1.6e-3, Supply: 24,
			Teeth: 50, Usable: 0.75},
		Drive: Drive{7.5, 0.85, 8.4e-3}}
	if loss := 1 - geared.At(fast).Force/geared.At(slow).Force; loss < 0 || loss > 0.3 {
		t.Errorf("geared feeder loses %.0f %% between 5 and 20 mm3/s", 100*loss)
	}
}

func TestMeasuredPoints(t *testing.T) {
	f, err := New(Feeder{Points: []Point{
		{Speed: 8e-3, Force: 60, Cause: Skip, Repeats: 2, SD: 2},
		{Speed: 2e-3, Force: 80, Cause: Grind, Repeats: 1},
		{Speed: 2e-3, Force: 84, Cause: Grind, Repeats: 1},
		{Speed: 4e-3, Force: 78, Cause: Skip, Repeats: 3, SD: 3},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Points) != 3 || f.Points[0].Force != 82 || f.Points[0].Repeats != 2 ||
		math.Abs(f.Points[0].SD-math.Sqrt(8)) > 1e-12 {
		t.Errorf("repeats pooled to %+v", f.Points)
	}
	if c := f.At(2e-3); c.Force != 82 || c.Cause != Grind || c.Extrapolated {
		t.Errorf("at a point: %+v", c)
	}
	if c := f.At(1e-3); c.Force != 82 || !c.Extrapolated {
		t.Errorf("below the range: %+v", c)
	}
	if c := f.At(20e-3); c.Force != 60 || !c.Extrapolated {
		t.Errorf("above the range: %+v", c)
	}
	for _, bad := range []Feeder{{}, {Points: []Point{{Speed: 0, Force: 1}}}, {Points: []Point{{Speed: 1, Force: -1}}},
		{Points: []Point{{Speed: math.NaN(), Force: 1}}}} {
		if _, err := New(bad); err == nil {
			t.Errorf("%+v accepted", bad)
		}
	}
}

func TestModelScaledByOnePoint(t *testing.T) {
	pla, _ := materials.Get("pla")
	m := &Model{Diameter: 1.75e-3, Stock: 298.15, Material: pla,
		Motor: &Motor{Holding: 0.11, Rated: 1, Current: 0.65, Resistance: 2.1, Inductance: 1.6e-3, Supply: 24,
			Teeth: 50, Usable: 0.75},
		Drive: Drive{7.5, 0.85, 8.4e-3}}
	f, err := New(Feeder{Model: m, Points: []Point{{Speed: 2e-3, Force: 70, Cause: Skip, Repeats: 2, SD: 2}}})
	if err != nil {
		t.Fatal(err)
	}
	c := f.At(8e-3)
	want := 70 * m.At(8e-3).Force / m.At(2e-3).Force
	if math.Abs(c.Force-want) > 1e-9 || !c.Extrapolated || c.SD <= 2 {
		t.Errorf("%+v, want %.3f N with a wider band", c, want)
	}
}

func TestInterpolationIsMonotoneBetweenPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "n")
		var p []Point
		v := 1e-3
		for range n {
			v *= rapid.Float64Range(1.05, 2).Draw(t, "step")
			p = append(p, Point{Speed: v, Force: rapid.Float64Range(5, 200).Draw(t, "force")})
		}
		f, err := New(Feeder{Points: p})
		if err != nil {
			t.Fatal(err)
		}
		i := rapid.IntRange(1, n-1).Draw(t, "interval")
		x := rapid.Float64Range(p[i-1].Speed, p[i].Speed).Draw(t, "v")
		lo, hi := math.Min(p[i-1].Force, p[i].Force), math.Max(p[i-1].Force, p[i].Force)
		if c := f.At(x); c.Force < lo-1e-9 || c.Force > hi+1e-9 {
			t.Fatalf("%g outside %g to %g", c.Force, lo, hi)
		}
	})
}
