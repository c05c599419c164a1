package materials

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"meltload/materials/unit"
)

func near(got, want, rel float64) bool { return math.Abs(got-want) <= rel*math.Abs(want) }

// Temperature and pressure of each law by hand. WLF: -20 (500 - 400 - 1e-7 5e7)/(50 + 100) = -12.6667. Arrhenius:
// 83144.62618 J/mol over the gas constant is 10000 K, times (1/500 - 1/400) = -5, and 1e-8 5e7 = 0.5 by pressure.
// Exponential: -0.03 100 + 0.5.
func TestShiftsByHand(t *testing.T) {
	for _, x := range []struct {
		s    Shift
		want float64 // of ln(eta0/Eta0) at 500 K and 50 MPa
	}{
		{Shift{Kind: WLF, Tref: 400, A1: 20, A2: 50, D3: 1e-7}, -20 * 95.0 / 150},
		{Shift{Kind: Arrhenius, Tref: 400, E: 83144.62618, Beta: 1e-8}, -4.5},
		{Shift{Kind: Exponential, Tref: 400, B: 0.03, Beta: 1e-8}, -2.5},
	} {
		x.s.Eta0 = 1000
		v := Viscosity{FlowCurve: FlowCurve{Kind: Cross, N: 0.5, Tau: 1e4}, Shift: x.s, Cap: 1e40}
		if got := 1 / v.Fluidity(500, 5e7); !near(got, 1000*math.Exp(x.want), 1e-9) {
			t.Errorf("law %d: eta0 %g, want %g", x.s.Kind, got, 1000*math.Exp(x.want))
		}
		v.FlowCurve = FlowCurve{Kind: PowerLaw, N: 0.5, Tau: 1000} // the fluidity carries the exponent 1/n
		if got := v.Fluidity(500, 5e7); !near(got, math.Exp(-2*x.want)/1000, 1e-9) {
			t.Errorf("law %d as a power law: fluidity %g", x.s.Kind, got)
		}
		if got, want := v.PressureFactor(500, 5e7), v.Fluidity(500, 5e7)/v.Fluidity(500, 0); !near(got, want, 1e-9) {
			t.Errorf("law %d: pressure factor %g, want %g", x.s.Kind, got, want)
		}
	}
	frozen := Viscosity{FlowCurve: FlowCurve{Kind: Cross, N: 0.5, Tau: 1e4},
		Shift: Shift{Kind: WLF, Eta0: 1, Tref: 400, A1: 20, A2: 50, D3: 1e-7}, Cap: 1e6}
	if got := frozen.Fluidity(350, 0); got != 1e-6 {
		t.Errorf("no flow below the pole: %g", got)
	}
	if got := frozen.PressureFactor(350, 1e7); got != 1 {
		t.Errorf("pressure factor %g where nothing flows", got)
	}
}

// Pressure counts where either coefficient is there.
func TestPressureSensitive(t *testing.T) {
	for _, x := range []struct {
		d3, beta float64
		want     bool
	}{{0, 0, false}, {1e-7, 0, true}, {0, 1e-8, true}, {1e-7, 1e-8, true}} {
		v := Viscosity{Shift: Shift{D3: x.d3, Beta: x.beta}}
		if v.PressureSensitive() != x.want {
			t.Errorf("%+v", x)
		}
	}
}

// The melted fraction is a smooth step: 0, 5/32, 1/2, 27/32 and 1 at the quarters of the melting range.
func TestMeltedFraction(t *testing.T) {
	v := Viscosity{MeltLow: 400, MeltHigh: 440}
	for T, want := range map[float64]float64{390: 0, 400: 0, 410: 5.0 / 32, 420: 0.5, 430: 27.0 / 32, 440: 1, 450: 1} {
		if got := v.melted(T); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("%g melted at %g K, want %g", got, T, want)
		}
	}
	if v.MeltHigh = 400; v.melted(300) != 1 {
		t.Error("a polymer without a melting range is melt")
	}
}

// Flow curves at their stress scale and at rest.
func TestFlowCurvesByHand(t *testing.T) {
	for _, x := range []struct {
		c           FlowCurve
		h, slope, w float64 // at y = Tau; W at no stress
	}{
		{FlowCurve{Kind: Cross, N: 0.3, Tau: 1e4}, 0.5, 0.65, 1},
		{FlowCurve{Kind: CarreauYasuda, N: 0.3, Tau: 1e4, A: 2}, math.Pow(2, -0.35), 0.65, 1},
		{FlowCurve{Kind: PowerLaw, N: 0.3, Tau: 1e4}, 1, 0.3, 0},
	} {
		if h, n := x.c.H(1e4), x.c.Slope(1e4); !near(h, x.h, 1e-12) || !near(n, x.slope, 1e-12) {
			t.Errorf("%s: H %g, slope %g", x.c.Kind, h, n)
		}
		if s := x.c.Stress(1e4); !near(s, 1e4*x.h, 1e-12) || x.c.Stress(0) != 0 || x.c.Reduced(0) != 0 {
			t.Errorf("%s: stress %g", x.c.Kind, s)
		}
		if x.c.W(0) != x.w {
			t.Errorf("%s: W %g at no stress", x.c.Kind, x.c.W(0))
		}
		if y := x.c.Reduced(1e4 * x.h); !near(y, 1e4, 1e-12) || !near(x.c.W(1e4*x.h), 1/x.h, 1e-12) {
			t.Errorf("%s: reduced rate %g", x.c.Kind, y)
		}
	}
}

// A law is out of its range above its rate and on either side of its temperatures, not at them.
func TestRangeOfALaw(t *testing.T) {
	v := Viscosity{RangeT: [2]float64{450, 500}, RangeRate: [2]float64{1, 1000}}
	for _, x := range []struct {
		g, T float64
		want int
	}{{1000, 450, 0}, {1000, 500, 0}, {1001, 470, 1}, {10, 449, 1}, {10, 501, 1}, {1001, 501, 2}, {0.1, 470, 0}} {
		if w := v.Check("here", x.g, x.T); len(w) != x.want {
			t.Errorf("%+v: %v", x, w)
		}
	}
	if w := (&Viscosity{}).Check("here", 1e9, 20); w != nil {
		t.Errorf("a law without a range: %v", w)
	}
}

// The volume of stock is that of the solid up to the glass transition, then a line through the melt's: 1e-3 m3/kg at
// 350 K, 1.25e-3 at 450 K; an equation of state adds its own ratio under pressure.
func TestVolumeByHand(t *testing.T) {
	d := Density{Solid: 1000, Melt: 800, MeltT: 450, Glass: 350}
	for T, want := range map[float64]float64{300: 1e-3, 350: 1e-3, 400: 1.125e-3, 450: 1.25e-3, 470: 1.3e-3} {
		for _, p := range []float64{0, 5e7} {
			if got := d.Volume(T, p); !near(got, want, 1e-12) {
				t.Errorf("%g m3/kg at %g K, want %g", got, T, want)
			}
		}
	}
	if beta, published := d.Compressibility(400, 0); beta != 1e-9 || published {
		t.Errorf("compressibility %g, published %v", beta, published)
	}
	d.Tait = &Tait{B5: 350, B6: 1e-7, B1m: 1e-3, B2m: 1e-6, B3m: 1e8, B4m: 5e-3, B1s: 9e-4, B2s: 5e-7, B3s: 2e8,
		B4s: 4e-3}
	// Melt at 400 K and 50 MPa, 1 - 0.0894 ln(1 + 0.5 e^0.25); solid at 352 K, that the pressure has frozen.
	melt := 1 - 0.0894*math.Log(1+0.5*math.Exp(0.25))
	if got := d.Volume(400, 5e7); !near(got, 1.125e-3*melt, 1e-12) {
		t.Errorf("%g m3/kg at 50 MPa, want %g", got, 1.125e-3*melt)
	}
	if got, want := d.Tait.Volume(400, 5e7), 1.05e-3*melt; !near(got, want, 1e-12) {
		t.Errorf("Tait melt %g m3/kg, want %g", got, want)
	}
	solid := 1 - 0.0894*math.Log(1+0.25*math.Exp(0.008))
	if got, want := d.Tait.Volume(352, 5e7), 9.01e-4*solid; !near(got, want, 1e-12) {
		t.Errorf("Tait solid %g m3/kg, want %g", got, want)
	}
	beta, published := d.Compressibility(400, 5e7)
	b := 1e8 * math.Exp(-0.25)
	if want := 0.0894 / (b + 5e7) / melt; !published || !near(beta, want, 2e-3) { // over 0.1 MPa
		t.Errorf("compressibility %g 1/Pa, want %g", beta, want)
	}
	if d.Uniform = true; d.Volume(400, 5e7) != 1e-3 {
		t.Error("a check fluid has one density")
	}
}

// A curve of three points, given out of order: its values and the area below it.
func TestCurvesByHand(t *testing.T) {
	c := NewCurve([][2]float64{{400, 10}, {300, 2}, {350, 4}})
	for _, x := range [][3]float64{{290, 2, -20}, {300, 2, 0}, {310, 2.4, 22}, {350, 4, 150}, {375, 7, 287.5},
		{400, 10, 500}, {420, 10, 700}} {
		if got := c.At(x[0]); !(math.Abs(got-x[1]) <= 1e-12) {
			t.Errorf("%g at %g K, want %g", got, x[0], x[1])
		}
		if got := c.Integral(x[0]); !(math.Abs(got-x[2]) <= 1e-9) {
			t.Errorf("area %g to %g K, want %g", got, x[0], x[2])
		}
	}
	flat := Constant(3)
	if flat.At(10) != 3 || flat.At(900) != 3 || !(math.Abs(flat.Integral(unit.Zero+100)-300) <= 1e-9) {
		t.Error("a constant is not constant")
	}
}

// 2000 J/(kg K) and 30 kJ/kg of latent heat from 400 to 420 K, by hand.
func TestHeatByHand(t *testing.T) {
	h := NewHeat(Constant(2000), 30e3, 400, 420)
	for _, x := range [][3]float64{{298.15, 0, 2000}, {398.15, 200e3, 2000}, {400, 203.7e3, 3500}, {410, 238.7e3, 3500},
		{420, 273.7e3, 2000}, {430, 293.7e3, 2000}, {288.15, -20e3, 2000}} {
		if got := h.Enthalpy(x[0]); !(math.Abs(got-x[1]) <= 1e-6) {
			t.Errorf("%g J/kg at %g K, want %g", got, x[0], x[1])
		}
		if got := h.Capacity(x[0]); !(math.Abs(got-x[2]) <= 1e-9) {
			t.Errorf("%g J/(kg K) at %g K, want %g", got, x[0], x[2])
		}
		if got := h.Temperature(x[1]); !(math.Abs(got-x[0]) <= 1e-8) {
			t.Errorf("%g K at %g J/kg, want %g", got, x[1], x[0])
		}
	}
	// Where stock that is warm takes three times as much, a first guess by the cold lies far beyond.
	steep := NewHeat(NewCurve([][2]float64{{300, 1000}, {310, 3000}}), 0, 0, 0)
	for _, T := range []float64{2, 305, 4990} {
		if got := steep.Temperature(steep.Enthalpy(T)); !(math.Abs(got-T) <= 1e-7) {
			t.Errorf("%g K at the heat content of %g K", got, T)
		}
	}
	m := Material{Heat: h, Cooling: [2]float64{380, 390}}
	cool := m.CoolingHeat()
	if got := cool.Enthalpy(395); !(math.Abs(got-2000*96.85-30e3) <= 1e-6) {
		t.Errorf("melt that cools holds %g J/kg at 395 K", got)
	}
	m.Cooling = [2]float64{}
	if cool = m.CoolingHeat(); cool.Enthalpy(395) != h.Enthalpy(395) {
		t.Error("without a cooling range the melting range holds")
	}
}

// What unmelted stock carries: 80 MPa at 300 K, 40 at 340 K, 10 at 360 K.
func TestStrengthByHand(t *testing.T) {
	table := NewCurve([][2]float64{{300, 80e6}, {340, 40e6}, {360, 10e6}})
	amorphous := Material{Glass: 330, FirstFlow: 400, Compressive: table}
	cold := Material{Glass: 345, FirstFlow: 360.5, Compressive: table} // flows before the table ends, less 1 K
	melting := Material{Compressive: table, Viscosity: Viscosity{MeltLow: 350, MeltHigh: 370}}
	for _, x := range []struct {
		m       *Material
		T, want float64 // K, MPa
	}{
		{&amorphous, 290, 80}, {&amorphous, 310, 70}, {&amorphous, 350, 25}, {&amorphous, 360, 10},
		{&amorphous, 380, 5}, {&amorphous, 399, 0.25}, {&amorphous, 400, 0}, {&amorphous, 500, 0},
		{&cold, 359.5, 10.75}, {&cold, 360, 5}, {&cold, 360.5, 0},
		{&melting, 350, 25}, {&melting, 355, 17.5 / 2}, {&melting, 360, 0},
	} {
		if got := x.m.Strength(x.T) / 1e6; !(math.Abs(got-x.want) <= 1e-9) {
			t.Errorf("%g MPa at %g K, want %g", got, x.T, x.want)
		}
	}
	if got := (&Material{FirstFlow: 400}).Strength(300); got != math.MaxFloat32 {
		t.Errorf("without data nothing yields: %g", got)
	}
	if got := amorphous.ShearStrength(320); !near(got, 60e6/1.7320508075688772, 1e-12) {
		t.Errorf("shear strength %g Pa", got)
	}
	if got := amorphous.WithStrength(2).Compressive.At(320); !near(got, 120e6, 1e-12) ||
		amorphous.Compressive.At(320) != 60e6 {
		t.Errorf("twice the strength is %g Pa", got)
	}
	for _, x := range []struct {
		m       *Material
		y, want float64 // MPa, K
	}{
		{&amorphous, 90, 300}, {&amorphous, 80, 300}, {&amorphous, 70, 310}, {&amorphous, 50, 330},
		{&amorphous, 40, 340}, {&amorphous, 39, 340}, {&cold, 25, 350}, {&cold, 11, 355}, {&cold, 5, 355}, // Tg + 10 K
		{&melting, 25, 350}, {&melting, 31, 346}, {&melting, 5, 350},
		{&Material{Glass: 330}, 50, 340},
	} {
		if got := x.m.Softens(x.y * 1e6); !(math.Abs(got-x.want) <= 1e-9) {
			t.Errorf("%g MPa are carried to %g K, want %g", x.y, got, x.want)
		}
	}
	if amorphous.FlowPoint() != 400 || melting.FlowPoint() != 360 {
		t.Error("flow points")
	}
}

// The loss at an entrance: 0.4 MPa at 0.1 MPa of wall stress with the exponent 2, its tangent above 0.25 MPa.
func TestEntranceByHand(t *testing.T) {
	e := Entrance{K: 0.4e6, Exponent: 2}
	for _, x := range [][2]float64{{0, 0}, {0.05, 0.1}, {0.1, 0.4}, {0.25, 2.5}, {0.5, 2.5 * (1 + 2)}} {
		if got := e.At(x[0]*1e6) / 1e6; !(math.Abs(got-x[1]) <= 1e-12) {
			t.Errorf("%g MPa at %g MPa, want %g", got, x[0], x[1])
		}
	}
}

// What a record may not say, rule by rule; the record is as it stands otherwise.
func TestRulesOfARecord(t *testing.T) {
	src := string(lean(t, "pla"))
	melts := string(lean(t, "hdpe"))
	heavy := strings.Replace(src, "b2m_m3_kgK = { value = 8.5e-07", "b2m_m3_kgK = { value = 1e-7", 1)
	taller := strings.Replace(src, "b1s_m3_kg = { value = 0.000821", "b1s_m3_kg = { value = 0.0012", 1)
	for _, x := range []struct {
		text, old, new string
		where          string // the field blamed, "" for none
	}{
		{src, "[20, 0.175]", "[-251, 0.175]", "conductivity.points[1]"},
		{src, "[20, 0.175]", "[-250, 0.175]", ""},
		{src, "[230, 0.217]", "[1000, 0.217]", ""},
		{src, "[230, 0.217]", "[1001, 0.217]", "conductivity.points[4]"},
		{src, "[230, 0.217]", "[230, 21]", "conductivity.points[4]"},
		{src, "[230, 0.217]", "[230, 20]", ""},
		{src, "[230, 0.217]", "[230, 0.009]", "conductivity.points[4]"},
		{src, "[230, 0.217]", "[230, 0.01]", ""},
		{src, "[230, 0.217]", "[200, 0.217]", "conductivity.points[4]"},
		{src, "[230, 0.217]", "[230]", "conductivity.points[4]"},
		{src, "[100, 0.191]", "[20, 0.191]", "conductivity.points[2]"}, // the second below the first
		{src, "[200, 0.211]", "[]", "conductivity.points[3]"},
		{src, "[[20, 0.175], [100, 0.191], [200, 0.211], [230, 0.217]]", "[[20, 0.175]]", ""},
		{src, "[[20, 0.175], [100, 0.191], [200, 0.211], [230, 0.217]]", "[]", "conductivity.points"},
		{src, "[70.0, 35.0]", "[70.0, 1e6]", ""},
		{src, "[70.0, 35.0]", "[70.0, 1.1e6]", "mechanical.modulus_MPa[4]"},
		{src, "[70.0, 35.0]", "[70.0, 1e-6]", ""},
		{src, "[70.0, 35.0]", "[70.0, 0.9e-6]", "mechanical.modulus_MPa[4]"},
		{src, "[20, 1220]", "[20, 99]", "heat_capacity.points[1]"},
		{src, "[20, 1220]", "[20, 100]", ""},
		{src, "[230, 2090]", "[230, 1e5]", ""},
		{src, "[230, 2090]", "[230, 1.1e5]", "heat_capacity.points[6]"},
		{src, "[70.0, 35.0]", "[70.0, 0]", "mechanical.modulus_MPa[4]"},
		{src, "[70.0, 35.0]", "[70.0, 2e6]", "mechanical.modulus_MPa[4]"},
		{src, "n = { value = 0.25", "n = { value = 1.1", "viscosity.n"},
		{src, "n = { value = 0.25", "n = { value = 1", ""},
		{src, "exponent = { value = 1.7", "exponent = { value = 0", "entrance.exponent"},
		{src, "exponent = { value = 1.7", "exponent = { value = 4.1", "entrance.exponent"},
		{src, "exponent = { value = 1.7", "exponent = { value = 4", ""},
		{src, "low = 0.1, high = 1.6", "low = -0.1, high = 1.6", "entrance.loss_MPa"},
		{src, "low = 0.1, high = 1.6", "low = 0.5, high = 1.6", "entrance.loss_MPa"},
		{src, "low = 0.1, high = 1.6", "low = 0.1, high = 0.3", "entrance.loss_MPa"},
		{src, "low = 0.1, high = 1.6", "low = 0.4, high = 0.4", ""},
		{src, "latent_J_kg = { value = 1500.0", "latent_J_kg = { value = -1.0", "heat_capacity.latent_J_kg"},
		{src, "melting_degC = { value = [150, 165]", "melting_degC = { value = [165, 165]",
			"heat_capacity.melting_degC"},
		{src, `melting_degC = { value = [150, 165], trust = "assumed", source = "MEM" }`, "",
			"heat_capacity.melting_degC"},
		{melts, "cooling_degC = { value = [100, 118]", "cooling_degC = { value = [118, 100]",
			"heat_capacity.cooling_degC"},
		{melts, "cooling_degC = { value = [100, 118]", "cooling_degC = { value = [100, 138]",
			"heat_capacity.cooling_degC"},
		{melts, "cooling_degC = { value = [100, 118]", "cooling_degC = { value = [100, 137]", ""},
		{src, "melt_reference_degC = 200.0", "melt_reference_degC = 60.0", "density.melt_reference_degC"},
		{src, "melt_reference_degC = 200.0", "melt_reference_degC = 61.0", ""},
		{src, "value = 1084,", "value = 1241,", "density.melt_kg_m3"},
		{src, "value = 1084,", "value = 1240,", ""},
		{src, "solid_kg_m3 = { value = 1240", "solid_kg_m3 = { value = 99", "density.solid_kg_m3"},
		{src, "window_degC = { value = [180, 220]", "window_degC = { value = [220, 180]", "processing.window_degC"},
		{src, "shrinkage_percent = { value = [0.3, 0.5]", "shrinkage_percent = { value = [0, 0.5]",
			"processing.shrinkage_percent"},
		{src, "shrinkage_percent = { value = [0.3, 0.5]", "shrinkage_percent = { value = [0.6, 0.5]",
			"processing.shrinkage_percent"},
		{src, "shrinkage_percent = { value = [0.3, 0.5]", "shrinkage_percent = { value = [0.5, 0.5]", ""},
		{src, "b1m_m3_kg = { value = 0.000827", "b1m_m3_kg = { value = 0.00995", "density.tait"},
		{src, "b2m_m3_kgK = { value = 8.5e-07", "b2m_m3_kgK = { value = 0", "density.tait"},
		{src, "b4m_1_K = { value = 0.006196", "b4m_1_K = { value = 0.1", "density.tait"},
		{melts, "A1_m3_kgK = { value = 6.2888e-07", "A1_m3_kgK = { value = -1e-6", "density.melt_tait"},
		// heavy to the edge: 1e-4 and 1e-7 times the 92 K of 180 degC above b5 make 1.09e-4 m3/kg
		{heavy, "b1m_m3_kg = { value = 0.000827", "b1m_m3_kg = { value = 0.0001", ""},
		// the melt's equation is looked at from 10 K above b5 on: as a solid, at 180 degC, the stock takes more than it
		{taller, "b5_K = { value = 361.26", "b5_K = { value = 455", ""},
		{src, "latent_J_kg = { value = 1500.0", "latent_J_kg = { value = 0", ""},
		{src, "D1_Pa_s = { value = 1605000000.0", "D1_Pa_s = { value = 0", "viscosity.D1_Pa_s"},
	} {
		text := strings.Replace(x.text, x.old, x.new, 1)
		if text == x.text {
			t.Errorf("%q is not in the record", x.old)
			continue
		}
		m, ps := Parse("x.toml", []byte(text))
		switch {
		case x.where == "" && len(ps) > 0:
			t.Errorf("%s: %v", x.new, ps)
		case x.where != "" && (m != nil || len(ps) != 1 || !strings.HasPrefix(ps[0].Field, x.where)):
			t.Errorf("%s: %v, want %s blamed", x.new, ps, x.where)
		}
	}
}

// A record in SI: the numbers of its file by hand.
func TestRecordInSI(t *testing.T) {
	src := string(lean(t, "hdpe"))
	m, ps := Parse("hdpe.toml", []byte(src))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	pla, _ := Get("pla")
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"stress scale eta0/lambda", m.Viscosity.Tau, 24198 / 1.38}, {"melts from", m.Viscosity.MeltLow, 373.15},
		{"melts to", m.Viscosity.MeltHigh, 410.15}, {"sets to", m.Cooling[1], 391.15},
		{"range", m.Viscosity.RangeT[1], 533.15}, {"rates", m.Viscosity.RangeRate[1], 1e4},
		{"entrance", m.Entrance.K, 1e6}, {"entrance, high", m.Entrance.High, 2e6},
		{"shrinks", pla.Shrinkage[1], 0.005}, {"strength", pla.Compressive.At(unit.Kelvin(40)), 73.472e6},
		{"entrance, low", m.Entrance.Low, 0.5e6}, {"conducts", pla.Conductivity.At(unit.Kelvin(200)), 0.211},
		{"modulus", pla.Modulus.At(unit.Kelvin(70)), 35e6}, {"moulds to", pla.Window[1], 493.15},
		{"no pressure in the law", m.Viscosity.Beta, 0}, {"Tait's b6", pla.Density.Tait.B6, 7.5e-8},
		{"first flow", pla.FirstFlow, 412.15}, {"no flow", pla.NoFlow, 383.15}, {"no cooling range", pla.Cooling[1], 0},
		{"amorphous as extruded", pla.Viscosity.MeltHigh, 0}, {"melt at most", pla.MeltMax, 513.15},
		{"flow rate", pla.FlowRates[0].High, 78}, {"flow rate at", pla.FlowRates[0].T, 483.15},
	} {
		if !(math.Abs(x.got-x.want) <= 1e-9*math.Max(1, math.Abs(x.want))) {
			t.Errorf("%s: %g, want %g", x.what, x.got, x.want)
		}
	}
	for latent, melts := range map[string]bool{"10000": false, "10001": true} { // the dividing line
		text := strings.Replace(src, "latent_J_kg = { value = 190000.0", "latent_J_kg = { value = "+latent, 1)
		if m, ps = Parse("x.toml", []byte(text)); len(ps) > 0 || m.SemiCrystalline() != melts {
			t.Errorf("%s J/kg: %v", latent, ps)
		}
	}
	first := fmt.Sprint(m.Origins[0])
	if len(AddWarning([]Warning{{"a", "b"}}, Warning{"a", "b"}, Warning{"a", "c"})) != 2 || first == "" {
		t.Error("the same remark twice")
	}
}
