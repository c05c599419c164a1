package materials

import (
	"fmt"
	"math"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// build makes the material of a record, or lists everything that is wrong with it.
func (r *record) build(doc *strict.Doc) (*Material, strict.Problems) {
	b := builder{r: r, doc: doc}
	m := &Material{ID: r.ID, Name: r.Name, Placeholder: r.Placeholder, Proxy: r.Proxy,
		Confidence: r.Viscosity.Confidence, GradeNote: r.GradeNote, Gaps: r.Gaps, Sources: r.Sources}
	b.transitions(m)
	m.Viscosity = b.viscosity()
	b.heat(m)
	m.Density = b.density(m.Glass)
	m.Conductivity = b.curve("conductivity.points", r.K.Points, 1, 0.01, 20)
	b.processing(m)
	b.strength(m)
	m.Entrance = b.entrance()
	b.compressible(m)
	for _, f := range r.FlowRate {
		m.FlowRates = append(m.FlowRates, FlowRateCheck{Volume: f.Kind == "MVR", T: unit.Kelvin(f.T), Load: f.Load,
			Low: f.Span.Value[0], High: f.Span.Value[1], Source: f.Span.Source})
	}
	m.Origins = origins(r)
	for _, o := range m.Origins {
		if _, ok := r.Sources[o.Source]; !ok {
			b.bad(o.Key, fmt.Sprintf("source %q", o.Source), "a key of [sources]", "add the source with its citation")
		}
	}
	if len(b.found) > 0 {
		b.found.Sort()
		return nil, b.found
	}
	return m, nil
}

// builder makes the parts of a material and gathers what is wrong with its record.
type builder struct {
	r     *record
	doc   *strict.Doc
	found strict.Problems
}

func (b *builder) bad(path, seen, allowed, advice string) {
	b.found = append(b.found, b.doc.Problem(path, seen, allowed, advice))
}

// rising refuses a pair whose second number is not above its first, and says whether it is.
func (b *builder) rising(path string, seen any, low, high float64) bool {
	if high <= low {
		b.bad(path, fmt.Sprint(seen), "[low, high], low first", "swap the ends")
	}
	return high > low
}

// curve is a quantity over temperature: pairs of degC and a value from lo to hi in the unit of the file, times scale.
func (b *builder) curve(path string, pts [][]float64, scale, lo, hi float64) Curve {
	var out [][2]float64
	for i, p := range pts {
		at := fmt.Sprintf("%s[%d]", path, i+1)
		switch {
		case len(p) != 2:
			b.bad(at, fmt.Sprintf("%d numbers", len(p)), "[degC, value]", "give pairs")
		case !(p[0] >= -250 && p[0] <= 1000):
			b.bad(at, fmt.Sprint(p[0]), "-250 to 1000 degC", "change the temperature")
		case !(p[1] >= lo && p[1] <= hi):
			b.bad(at, fmt.Sprint(p[1]), fmt.Sprintf("%g to %g", lo, hi), "change the value; the unit is in the key")
		case i > 0 && len(pts[i-1]) == 2 && !(p[0] > pts[i-1][0]):
			b.bad(at, fmt.Sprint(p[0]), "temperatures that rise", "sort the points")
		default:
			out = append(out, [2]float64{unit.Kelvin(p[0]), p[1] * scale})
		}
	}
	if len(out) == 0 {
		b.bad(path, "no points", "at least one [degC, value]", "add a point")
		return Constant(1)
	}
	return NewCurve(out)
}

// needed is a number that the chosen viscosity law needs; the reader keeps it within its bounds.
func (b *builder) needed(key string, q *Quantity) float64 {
	if q == nil {
		b.bad("viscosity."+key, "nothing", "a quantity { value, trust, source }", "the chosen law needs this key")
		return 1
	}
	return q.Value
}

// orZero is the value of a quantity that may be missing.
func orZero(q *Quantity) float64 {
	if q == nil {
		return 0
	}
	return q.Value
}

// amorphousLatent is the latent heat (J/kg) up to which a polymer is taken to be amorphous as extruded and to soften
// at its glass transition: this project's dividing line.
const amorphousLatent = 10e3

// viscosity is the flow curve with its shift by temperature and pressure.
func (b *builder) viscosity() Viscosity {
	v := &b.r.Viscosity
	var out Viscosity
	out.N = b.needed("n", v.N)
	switch v.Temperature {
	case "wlf":
		out.Shift = Shift{Kind: WLF, Eta0: b.needed("D1_Pa_s", v.D1), Tref: b.needed("D2_K", v.D2), D3: orZero(v.D3),
			A1: b.needed("A1", v.A1), A2: b.needed("A2_K", v.A2)}
	case "arrhenius":
		out.Shift = Shift{Kind: Arrhenius, Tref: b.needed("reference_K", v.Tref),
			E: b.needed("activation_energy_J_mol", v.E), Beta: orZero(v.Beta)}
	case "exponential":
		out.Shift = Shift{Kind: Exponential, Tref: b.needed("reference_K", v.Tref), B: b.needed("decay_1_K", v.B),
			Beta: orZero(v.Beta)}
	}
	switch {
	case v.Law == "power-law":
		out.Shift.Eta0 = b.needed("K_Pa_sn", v.K)
	case v.Temperature != "wlf":
		out.Shift.Eta0 = b.needed("eta0_Pa_s", v.Eta0)
	}
	switch v.Law {
	case "cross":
		out.FlowCurve.Kind, out.Tau = Cross, b.needed("tau_star_Pa", v.TauStar)
	case "carreau-yasuda":
		out.FlowCurve.Kind, out.A = CarreauYasuda, b.needed("yasuda_a", v.YasudaA)
		out.Tau = out.Shift.Eta0 / b.needed("lambda_s", v.Lambda)
	case "power-law":
		out.FlowCurve.Kind, out.Tau = PowerLaw, out.Shift.Eta0
	}
	out.Cap = b.needed("solid_cap_Pa_s", v.Cap)
	out.Trouton = b.needed("trouton_ratio", v.Trouton)
	out.RangeT = [2]float64{unit.Kelvin(v.RangeT[0]), unit.Kelvin(v.RangeT[1])}
	out.RangeRate = [2]float64{v.RangeRate[0], v.RangeRate[1]}
	if x := b.r.Heat.Melting; x != nil && b.r.Heat.Latent.Value > amorphousLatent {
		out.MeltLow, out.MeltHigh = unit.Kelvin(x.Value[0]), unit.Kelvin(x.Value[1])
	}
	return out
}

// transitions are the temperatures at which the polymer softens and sets.
func (b *builder) transitions(m *Material) {
	x := &b.r.Transition
	m.Glass, m.NoFlow = unit.Kelvin(x.Glass.Value), unit.Kelvin(x.NoFlow.Value)
	m.Ejection = unit.Kelvin(x.Ejection.Value)
	if m.FirstFlow = m.NoFlow; x.First != nil {
		m.FirstFlow = unit.Kelvin(x.First.Value)
	}
}

// heat is the enthalpy with its melting range, and the range over which a cooling melt sets.
func (b *builder) heat(m *Material) {
	x := &b.r.Heat
	var lo, hi float64
	switch {
	case x.Melting != nil:
		lo, hi = unit.Kelvin(x.Melting.Value[0]), unit.Kelvin(x.Melting.Value[1])
		b.rising("heat_capacity.melting_degC", x.Melting.Value, lo, hi)
	case x.Latent.Value > 0:
		b.bad("heat_capacity.melting_degC", "nothing", "[low, high] in degC", "a latent heat needs a melting range")
	}
	if c := x.Cooling; c != nil {
		m.Cooling = [2]float64{unit.Kelvin(c.Value[0]), unit.Kelvin(c.Value[1])}
		const path = "heat_capacity.cooling_degC"
		if b.rising(path, c.Value, m.Cooling[0], m.Cooling[1]) && x.Melting != nil && m.Cooling[1] > hi {
			b.bad(path, fmt.Sprint(c.Value), fmt.Sprintf("at most melting_degC = %g", x.Melting.Value[1]),
				"a melt sets below the temperature at which it melts")
		}
	}
	m.Heat = NewHeat(b.curve("heat_capacity.points", x.Points, 1, 100, 1e5), x.Latent.Value, lo, hi)
}

// density is the density of stock and melt, and the equations of state where the record has them.
func (b *builder) density(glass float64) Density {
	x := &b.r.Density
	out := Density{Solid: x.Solid.Value, Melt: x.Melt.Value, MeltT: unit.Kelvin(x.MeltT), Glass: glass}
	if glass >= out.MeltT {
		b.bad("density.melt_reference_degC", fmt.Sprint(x.MeltT), "above the glass transition",
			"give the temperature of the melt density")
	}
	// The line through both would otherwise end in a volume of nothing.
	if out.Melt > out.Solid {
		b.bad("density.melt_kg_m3", fmt.Sprint(out.Melt), fmt.Sprintf("at most the %g kg/m3 of the solid", out.Solid),
			"check both densities: a polymer takes more room as it melts")
	}
	if t := x.Tait; t != nil {
		out.Tait = &Tait{B5: t.B5.Value, B6: t.B6.Value,
			B1m: t.B1m.Value, B2m: t.B2m.Value, B3m: t.B3m.Value, B4m: t.B4m.Value,
			B1s: t.B1s.Value, B2s: t.B2s.Value, B3s: t.B3s.Value, B4s: t.B4s.Value}
	}
	if t := x.MeltTait; t != nil {
		out.MeltTait = &MeltTait{A0: t.A0.Value, A1: t.A1.Value, A2: t.A2.Value, B0: t.B0.Value, B1: t.B1.Value,
			C: t.C.Value}
	}
	return out
}

// processing is what people who process the polymer keep to.
func (b *builder) processing(m *Material) {
	x := &b.r.Processing
	m.Window = [2]float64{unit.Kelvin(x.Window.Value[0]), unit.Kelvin(x.Window.Value[1])}
	b.rising("processing.window_degC", x.Window.Value, m.Window[0], m.Window[1])
	m.Decomposition, m.Drying, m.Hazard = unit.Kelvin(x.Decomposition.Value), x.Drying, x.Hazard
	if x.MeltMax != nil {
		m.MeltMax = unit.Kelvin(x.MeltMax.Value)
	}
	if s := x.Shrinkage; s != nil {
		m.Shrinkage = [2]float64{s.Value[0] / 100, s.Value[1] / 100}
		if !(m.Shrinkage[0] > 0) || m.Shrinkage[1] < m.Shrinkage[0] {
			b.bad("processing.shrinkage_percent", fmt.Sprint(s.Value), "[low, high], above 0, low first",
				"change the values")
		}
	}
}

// strength is what unmelted stock withstands.
func (b *builder) strength(m *Material) {
	x := &b.r.Mechanical
	m.Modulus = b.curve("mechanical.modulus_MPa", x.Modulus.Points, unit.MPa, 1e-6, 1e6)
	m.Tensile = b.curve("mechanical.tensile_yield_MPa", x.Tensile.Points, unit.MPa, 1e-6, 1e6)
	m.Compressive = b.curve("mechanical.compressive_yield_MPa", x.Compressive.Points, unit.MPa, 1e-6, 1e6)
}

// entrance is the loss of an elastic melt where the passage narrows; none where the record has none.
func (b *builder) entrance() Entrance {
	e := b.r.Entrance
	if e == nil {
		return Entrance{}
	}
	l := e.Loss
	if !(l.Low >= 0 && l.Low <= l.Value && l.Value <= l.High) {
		b.bad("entrance.loss_MPa", fmt.Sprintf("low %g, value %g, high %g", l.Low, l.Value, l.High),
			"0 <= low <= value <= high", "put the three in order")
	}
	return Entrance{K: l.Value * unit.MPa, Low: l.Low * unit.MPa, High: l.High * unit.MPa, Exponent: e.Exponent.Value,
		Trust: l.Trust, Source: l.Source, Note: l.Note}
}

// compressible holds the equations of state against what a melt can be: a volume that pressure lowers and heat raises.
func (b *builder) compressible(m *Material) {
	look := func(path string, volume func(T, p float64) float64, lo, hi float64) {
		if !(lo < hi) {
			return
		}
		cold, hot, pressed := volume(lo, 0), volume(hi, 0), volume(hi, 100*unit.MPa)
		switch {
		case !(cold > 1e-4 && hot < 1e-2):
			b.bad(path, fmt.Sprintf("%.3g to %.3g m3/kg between %.0f and %.0f degC", cold, hot, unit.Celsius(lo),
				unit.Celsius(hi)), "0.0001 to 0.01 m3/kg", "check signs and units of the constants")
		case !(hot > cold):
			b.bad(path, fmt.Sprintf("a melt that shrinks from %.4g to %.4g m3/kg between %.0f and %.0f degC", cold, hot,
				unit.Celsius(lo), unit.Celsius(hi)), "a volume that rises with temperature",
				"check signs and units of the constants")
		case !(pressed < hot && pressed > hot/2):
			b.bad(path, fmt.Sprintf("%.4g m3/kg at 100 MPa, %.4g without", pressed, hot), "less, but more than half",
				"check signs and units of the constants")
		}
	}
	if t := m.Density.Tait; t != nil {
		look("density.tait", t.Volume, math.Max(m.Window[0], t.B5+10), m.Window[1])
	}
	if t := m.Density.MeltTait; t != nil {
		look("density.melt_tait", t.Volume, m.Window[0], m.Window[1])
	}
}
