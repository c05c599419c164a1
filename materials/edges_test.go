package materials

import (
	"math"
	"strings"
	"testing"
)

// At little stress a law with a plateau is Newtonian, and a power law goes on as one.
func TestFlowCurvesAtLittleStress(t *testing.T) {
	for _, x := range []struct {
		c    FlowCurve
		y, w float64 // reduced rate and rate multiplier at 0.5 Pa
	}{
		{FlowCurve{Kind: Cross, N: 0.3, Tau: 1e9}, 0.5, 1},
		{FlowCurve{Kind: CarreauYasuda, N: 0.3, Tau: 1e9, A: 1}, 0.5, 1},
		{FlowCurve{Kind: PowerLaw, N: 0.5, Tau: 2}, 0.125, 0.25},
	} {
		if y, w := x.c.Reduced(0.5), x.c.W(0.5); !near(y, x.y, 1e-5) || !near(w, x.w, 1e-5) {
			t.Errorf("%s: reduced rate %g and multiplier %g, want %g and %g", x.c.Kind, y, w, x.y, x.w)
		}
		if tau := x.c.Stress(x.y); !near(tau, 0.5, 1e-5) {
			t.Errorf("%s: %g Pa, want 0.5", x.c.Kind, tau)
		}
	}
}

// Beyond any rate the slope is the power-law index, where the square of a power overflows too.
func TestSlopeAtTheEnds(t *testing.T) {
	for _, k := range []FlowCurveKind{Cross, CarreauYasuda, PowerLaw} {
		c := FlowCurve{Kind: k, N: 0.3, Tau: 1e-300, A: 5}
		if got := c.Slope(1e300); got != 0.3 {
			t.Errorf("%s: slope %g", k, got)
		}
	}
}

// Half a kelvin above its pole the law of WLF still holds: ln a = -0.1 (-49.5)/0.5 = 9.9, and a pressure of 1 MPa adds
// 0.1 1e-7 1e6/0.5 = 0.02.
func TestShiftNextToThePole(t *testing.T) {
	v := Viscosity{FlowCurve: FlowCurve{Kind: Cross, N: 0.5, Tau: 1e4},
		Shift: Shift{Kind: WLF, Eta0: 1000, Tref: 400, A1: 0.1, A2: 50, D3: 1e-7}, Cap: 1e40}
	if got := v.Fluidity(350.5, 0); !near(got, math.Exp(-9.9)/1000, 1e-9) {
		t.Errorf("fluidity %g", got)
	}
	if got := v.PressureFactor(350.5, 1e6); !near(got, math.Exp(-0.02), 1e-9) {
		t.Errorf("pressure factor %g", got)
	}
	// So runny a melt that the exponential overflows keeps a fluidity that can be reckoned with.
	v.A1 = 1e5
	if got := v.Fluidity(600, 0); !(got > 1e100 && got*1e50 < math.MaxFloat64) {
		t.Errorf("fluidity %g", got)
	}
}

// Half melted stock has half of the fluidity of its melt, and that of the cap on top.
func TestFluidityFadesWithMelting(t *testing.T) {
	v := Viscosity{FlowCurve: FlowCurve{Kind: Cross, N: 0.5, Tau: 1e4},
		Shift: Shift{Kind: Exponential, Eta0: 1000, Tref: 420}, Cap: 1e5, MeltLow: 400, MeltHigh: 440}
	for T, share := range map[float64]float64{390: 0, 420: 0.5, 440: 1} {
		if got, want := v.Fluidity(T, 0), share*1e-3+1e-5; !near(got, want, 1e-12) {
			t.Errorf("fluidity %g at %g K, want %g", got, T, want)
		}
	}
}

// A law fitted to less than 1/s has a range of rates too.
func TestRangeOfSlowRates(t *testing.T) {
	v := Viscosity{RangeRate: [2]float64{0.1, 0.5}}
	if w := v.Check("here", 0.6, 400); !Warned(w, "viscosity-rate-range") {
		t.Errorf("0.6 1/s of 0.5: %v", w)
	}
}

// The slope of a table is the derivative by the logarithm of the squared stress, for any stress scale.
func TestTableSlopesByHand(t *testing.T) {
	c := FlowCurve{Kind: PowerLaw, N: 0.5, Tau: 300} // W = tau/300, half of which is its slope
	tab := NewTable(c)
	for _, tau := range []float64{30, 300, 3000} {
		if w, slope := tab.WSlope(tau * tau); !near(w, tau/300, 1e-4) || !near(slope, tau/600, 1e-3) {
			t.Errorf("%g Pa: W %g, slope %g", tau, w, slope)
		}
	}
}

// Where each value of a record comes from: lists of tables too, tables by their ends.
func TestOriginsByKey(t *testing.T) {
	m, err := Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]Origin{}
	for _, o := range m.Origins {
		by[o.Key] = o
	}
	for key, want := range map[string]Origin{
		"viscosity.n": {Value: "0.25", Trust: Assumed, Source: "MEM"},
		"conductivity": {Value: "0.175 at 20 degC to 0.217 at 230 degC, 4 points", Trust: Measured,
			Source: "OOFEM"},
		"melt_flow_rate[1].range": {Value: "[6 78]", Trust: Measured, Source: "IDES"},
		"melt_flow_rate[3].range": {Value: "[14 20]", Trust: Measured, Source: "TDS_PLA"},
		"transition.glass_degC":   {Value: "60", Trust: Measured, Source: "FIL_TT"},
	} {
		if got := by[key]; got.Value != want.Value || got.Trust != want.Trust || got.Source != want.Source {
			t.Errorf("%s: %+v, want %+v", key, got, want)
		}
	}
}

// A table without points, or with half a point, is summed up as it is.
func TestSummaryOfPoints(t *testing.T) {
	for _, x := range []struct {
		p    [][]float64
		want string
	}{{nil, "no points"}, {[][]float64{{20, 1}}, "1 at 20 degC to 1 at 20 degC, 1 points"},
		{[][]float64{{20, 1}, {30}}, "2 points"}, {[][]float64{{20}, {30, 2}}, "2 points"}} {
		if got := summary(x.p); got != x.want {
			t.Errorf("%v: %q, want %q", x.p, got, x.want)
		}
	}
}

// A polymer that sets over a range of its own need not melt over one; little latent heat needs a melting range.
func TestCoolingAndMeltingRanges(t *testing.T) {
	src := string(lean(t, "pla"))
	const melting = `melting_degC = { value = [150, 165], trust = "assumed", source = "MEM" }`
	none := strings.Replace(src, "latent_J_kg = { value = 1500.0", "latent_J_kg = { value = 0", 1)
	sets := `cooling_degC = { value = [90, 110], trust = "assumed", source = "MEM" }`
	m, ps := Parse("x.toml", []byte(strings.Replace(none, melting, sets, 1)))
	if len(ps) > 0 || m.Cooling != [2]float64{363.15, 383.15} {
		t.Errorf("sets without melting: %v", ps)
	}
	little := strings.Replace(src, "latent_J_kg = { value = 1500.0", "latent_J_kg = { value = 0.5", 1)
	if _, ps = Parse("x.toml", []byte(strings.Replace(little, melting, "", 1))); len(ps) != 1 {
		t.Errorf("0.5 J/kg without a melting range: %v", ps)
	}
}
