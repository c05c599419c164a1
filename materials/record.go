package materials

import (
	"embed"
	"fmt"
	"math"
	"path"
	"sort"
	"strings"
	"sync"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Trust says how far a value can be relied on.
type Trust string

// The grades of trust.
const (
	Measured Trust = "measured" // read in the source named
	Fitted   Trust = "fitted"   // computed from read data
	Assumed  Trust = "assumed"  // from memory, or by analogy
)

// Quantity is one published number with its origin.
type Quantity struct {
	Value  float64 `toml:"value" need:"yes"`
	Trust  Trust   `toml:"trust" enum:"measured fitted assumed" need:"yes"`
	Source string  `toml:"source" need:"yes"`
	Note   string  `toml:"note"`
}

// Span is a published range with its origin.
type Span struct {
	Value  []float64 `toml:"value" len:"2" need:"yes"`
	Trust  Trust     `toml:"trust" enum:"measured fitted assumed" need:"yes"`
	Source string    `toml:"source" need:"yes"`
	Note   string    `toml:"note"`
}

// Banded is a number with the band that it may lie in, and its origin.
type Banded struct {
	Value  float64 `toml:"value" need:"yes"`
	Low    float64 `toml:"low" need:"yes"`
	High   float64 `toml:"high" need:"yes"`
	Trust  Trust   `toml:"trust" enum:"measured fitted assumed" need:"yes"`
	Source string  `toml:"source" need:"yes"`
	Note   string  `toml:"note"`
}

// Points is a published table with its origin.
type Points struct {
	Points [][]float64 `toml:"points" need:"yes"`
	Trust  Trust       `toml:"trust" enum:"measured fitted assumed" need:"yes"`
	Source string      `toml:"source" need:"yes"`
	Note   string      `toml:"note"`
}

// record is a material as its TOML file writes it. Units are in the keys.
type record struct {
	ID          string            `toml:"id" need:"yes"`
	Name        string            `toml:"name" need:"yes"`
	Placeholder bool              `toml:"placeholder"`
	Proxy       string            `toml:"proxy"`
	GradeNote   string            `toml:"grade_note"`
	Gaps        []string          `toml:"gaps"`
	Viscosity   viscosityRecord   `toml:"viscosity" need:"yes"`
	Entrance    *entranceRecord   `toml:"entrance"`
	Density     densityRecord     `toml:"density" need:"yes"`
	Heat        heatRecord        `toml:"heat_capacity" need:"yes"`
	K           Points            `toml:"conductivity" need:"yes"`
	Transition  transitionRecord  `toml:"transition" need:"yes"`
	Processing  processingRecord  `toml:"processing" need:"yes"`
	Mechanical  mechanicalRecord  `toml:"mechanical" need:"yes"`
	FlowRate    []flowRateRecord  `toml:"melt_flow_rate"`
	Sources     map[string]string `toml:"sources" need:"yes"`
}

type viscosityRecord struct {
	Law         string    `toml:"law" enum:"cross carreau-yasuda power-law" need:"yes"`
	Temperature string    `toml:"temperature" enum:"wlf arrhenius exponential" need:"yes"`
	N           *Quantity `toml:"n" need:"yes" min:"0.01" max:"1"`
	TauStar     *Quantity `toml:"tau_star_Pa" min:"1" max:"1e9" unit:"Pa"`
	Lambda      *Quantity `toml:"lambda_s" min:"1e-8" max:"1e5" unit:"s"`
	YasudaA     *Quantity `toml:"yasuda_a" min:"0.05" max:"20"`
	D1          *Quantity `toml:"D1_Pa_s" above:"0" max:"1e60" unit:"Pa s"`
	D2          *Quantity `toml:"D2_K" min:"50" max:"900" unit:"K"`
	D3          *Quantity `toml:"D3_K_Pa" min:"0" max:"1e-5" unit:"K/Pa"`
	A1          *Quantity `toml:"A1" above:"0" max:"1e7"`
	A2          *Quantity `toml:"A2_K" min:"0.1" max:"1e9" unit:"K"`
	Eta0        *Quantity `toml:"eta0_Pa_s" min:"1e-3" max:"1e15" unit:"Pa s"`
	K           *Quantity `toml:"K_Pa_sn" min:"1e-3" max:"1e15" unit:"Pa s^n"`
	Tref        *Quantity `toml:"reference_K" min:"200" max:"900" unit:"K"`
	E           *Quantity `toml:"activation_energy_J_mol" min:"1000" max:"2e6" unit:"J/mol"`
	B           *Quantity `toml:"decay_1_K" min:"1e-5" max:"1" unit:"1/K"`
	Beta        *Quantity `toml:"pressure_coefficient_1_Pa" min:"0" max:"1e-6" unit:"1/Pa"`
	RangeT      []float64 `toml:"valid_degC" len:"2" need:"yes"`
	RangeRate   []float64 `toml:"valid_rate_1_s" len:"2" need:"yes"`
	Cap         *Quantity `toml:"solid_cap_Pa_s" need:"yes" min:"1000" max:"1e15" unit:"Pa s"`
	Trouton     *Quantity `toml:"trouton_ratio" need:"yes" above:"0" max:"100"`
	Confidence  string    `toml:"confidence" enum:"A B C D" need:"yes"`
	Note        string    `toml:"note"`
}

type entranceRecord struct {
	Loss     *Banded   `toml:"loss_MPa" need:"yes"`
	Exponent *Quantity `toml:"exponent" need:"yes" above:"0" max:"4"`
}

type densityRecord struct {
	Solid    *Quantity       `toml:"solid_kg_m3" need:"yes" min:"100" max:"10000" unit:"kg/m3"`
	Melt     *Quantity       `toml:"melt_kg_m3" need:"yes" min:"100" max:"10000" unit:"kg/m3"`
	MeltT    float64         `toml:"melt_reference_degC" need:"yes" min:"20" max:"500" unit:"degC"`
	Tait     *taitRecord     `toml:"tait"`
	MeltTait *meltTaitRecord `toml:"melt_tait"`
}

type taitRecord struct {
	B5       *Quantity `toml:"b5_K" need:"yes" min:"150" max:"900" unit:"K"`
	B6       *Quantity `toml:"b6_K_Pa" need:"yes" min:"0" max:"1e-5" unit:"K/Pa"`
	B1m      *Quantity `toml:"b1m_m3_kg" need:"yes" min:"1e-4" max:"1e-2" unit:"m3/kg"`
	B2m      *Quantity `toml:"b2m_m3_kgK" need:"yes" min:"0" max:"1e-4" unit:"m3/(kg K)"`
	B3m      *Quantity `toml:"b3m_Pa" need:"yes" min:"1e6" max:"1e11" unit:"Pa"`
	B4m      *Quantity `toml:"b4m_1_K" need:"yes" min:"0" max:"0.1" unit:"1/K"`
	B1s      *Quantity `toml:"b1s_m3_kg" need:"yes" min:"1e-4" max:"1e-2" unit:"m3/kg"`
	B2s      *Quantity `toml:"b2s_m3_kgK" need:"yes" min:"0" max:"1e-4" unit:"m3/(kg K)"`
	B3s      *Quantity `toml:"b3s_Pa" need:"yes" min:"1e6" max:"1e11" unit:"Pa"`
	B4s      *Quantity `toml:"b4s_1_K" need:"yes" min:"0" max:"0.1" unit:"1/K"`
	ValidK   []float64 `toml:"valid_K" len:"2"`
	ValidMPa []float64 `toml:"valid_MPa" len:"2"`
	Note     string    `toml:"note"`
}

type meltTaitRecord struct {
	A0       *Quantity `toml:"A0_m3_kg" need:"yes" min:"1e-4" max:"1e-2" unit:"m3/kg"`
	A1       *Quantity `toml:"A1_m3_kgK" need:"yes" min:"-1e-5" max:"1e-4" unit:"m3/(kg K)"`
	A2       *Quantity `toml:"A2_m3_kgK2" need:"yes" min:"-1e-7" max:"1e-7" unit:"m3/(kg K2)"`
	B0       *Quantity `toml:"B0_Pa" need:"yes" min:"1e6" max:"1e11" unit:"Pa"`
	B1       *Quantity `toml:"B1_1_K" need:"yes" min:"0" max:"0.1" unit:"1/K"`
	C        *Quantity `toml:"C" need:"yes" min:"0.01" max:"0.5"`
	ValidK   []float64 `toml:"valid_K" len:"2"`
	ValidMPa []float64 `toml:"valid_MPa" len:"2"`
	Note     string    `toml:"note"`
}

type heatRecord struct {
	Points  [][]float64 `toml:"points" need:"yes"`
	Trust   Trust       `toml:"trust" enum:"measured fitted assumed" need:"yes"`
	Source  string      `toml:"source" need:"yes"`
	Note    string      `toml:"note"`
	Latent  *Quantity   `toml:"latent_J_kg" need:"yes" min:"0" max:"1e6" unit:"J/kg"`
	Melting *Span       `toml:"melting_degC"`
	Cooling *Span       `toml:"cooling_degC"`
}

type transitionRecord struct {
	Glass    *Quantity `toml:"glass_degC" need:"yes" min:"-200" max:"450" unit:"degC"`
	Melting  *Quantity `toml:"melting_degC" min:"-50" max:"600" unit:"degC"`
	NoFlow   *Quantity `toml:"no_flow_degC" need:"yes" min:"-100" max:"600" unit:"degC"`
	First    *Quantity `toml:"first_flow_degC" min:"-100" max:"600" unit:"degC"`
	Ejection *Quantity `toml:"ejection_degC" need:"yes" min:"-150" max:"500" unit:"degC"`
}

type processingRecord struct {
	Window        *Span     `toml:"window_degC" need:"yes"`
	Moulding      *Span     `toml:"moulding_degC"`
	Decomposition *Quantity `toml:"decomposition_degC" need:"yes" min:"50" max:"900" unit:"degC"`
	MeltMax       *Quantity `toml:"melt_max_degC" min:"50" max:"900" unit:"degC"`
	Shrinkage     *Span     `toml:"shrinkage_percent"`
	Drying        string    `toml:"drying"`
	Hazard        string    `toml:"hazard" need:"yes"`
}

type mechanicalRecord struct {
	Modulus     *Points `toml:"modulus_MPa" need:"yes"`
	Tensile     *Points `toml:"tensile_yield_MPa" need:"yes"`
	Compressive *Points `toml:"compressive_yield_MPa" need:"yes"`
}

type flowRateRecord struct {
	Kind string  `toml:"kind" enum:"MFR MVR" need:"yes"`
	T    float64 `toml:"temperature_degC" need:"yes" min:"50" max:"450" unit:"degC"`
	Load float64 `toml:"load_kg" need:"yes" min:"0.1" max:"30" unit:"kg"`
	Span Span    `toml:"range" need:"yes"`
}

// Origin is the provenance of one value of a material, for tables.
type Origin struct {
	Key    string `json:"key"`
	Value  string `json:"value"`
	Trust  Trust  `json:"trust"`
	Source string `json:"source"`
	Note   string `json:"note,omitempty"`
}

// FlowRateCheck is a published melt flow rate range to hold the law against.
type FlowRateCheck struct {
	Volume    bool    // MVR in cm3/10 min rather than MFR in g/10 min
	T         float64 // K
	Load      float64 // kg
	Low, High float64
	Source    string
}

// Material is a validated material in SI units.
type Material struct {
	ID, Name    string
	Placeholder bool   // the viscosity law is an estimate: calibrate before use
	Proxy       string // what stands in for what, or empty
	Confidence  string // A to D, of the viscosity law
	GradeNote   string
	Gaps        []string

	Viscosity    Viscosity
	Entrance     Entrance
	Density      Density
	Heat         Heat
	Conductivity Curve

	Glass, Ejection float64 // K
	// FirstFlow (K) is the temperature at which stock that is heated first flows through a nozzle: the flow point of
	// an amorphous polymer in the hot end. NoFlow (K) is that below which melt that cools in a mould stands still; it
	// is lower, and 0 takes FirstFlow.
	FirstFlow, NoFlow float64
	// Cooling is the range (K) over which a semi-crystalline melt sets while it cools, below its melting range; both 0
	// for an amorphous one. Filling and cooling of moulds use it, the hot end uses the melting range.
	Cooling        [2]float64
	Shrinkage      [2]float64 // linear, published range as shares; both 0 where none is given
	Window         [2]float64 // K, processing window
	Decomposition  float64    // K
	MeltMax        float64    // K, 0 if unknown
	Drying, Hazard string

	Modulus, Tensile, Compressive Curve // Pa against K

	FlowRates []FlowRateCheck
	Origins   []Origin
	Sources   map[string]string
}

// Entrance is the pressure that an elastic melt loses where it contracts into a bore, by its wall stress there, the
// viscous part contained: K (tau_w/EntranceStress)^Exponent for a flat entrance. K 0 means no such loss.
type Entrance struct {
	K, Low, High float64 // Pa at EntranceStress: best estimate and band
	Exponent     float64
	Trust        Trust
	Source, Note string
}

// EntranceStress is the wall stress (Pa) at which Entrance.K holds, EntranceLimit that up to which the law is taken:
// beyond it melts fracture and slip, the law goes on linearly and the result says so.
const (
	EntranceStress = 1e5
	EntranceLimit  = 2.5e5
)

// At returns the entrance loss (Pa) of a flat entrance at the wall stress tau (Pa).
func (e *Entrance) At(tau float64) float64 {
	x := tau / EntranceStress
	const top = EntranceLimit / EntranceStress
	if x <= top {
		return e.K * math.Pow(x, e.Exponent)
	}
	f := e.K * math.Pow(top, e.Exponent)
	return f * (1 + e.Exponent*(x-top)/top)
}

// Strength returns the stress (Pa) at which unmelted stock yields in compression at T (K): the table of the record,
// falling linearly to zero from its last point, or from the start of the melting range, to the flow point. Above that
// the law of the melt holds alone; Strength is then 0.
func (m *Material) Strength(T float64) float64 {
	top := m.FlowPoint()
	if T >= top {
		return 0
	}
	if len(m.Compressive.T) == 0 {
		return math.MaxFloat32 // no data: nothing yields
	}
	last := m.Compressive.T[len(m.Compressive.T)-1]
	if m.SemiCrystalline() {
		last = math.Min(last, m.Viscosity.MeltLow)
	}
	last = math.Min(last, top-strengthFade)
	y := m.Compressive.At(T)
	if T > last {
		y *= (top - T) / (top - last)
	}
	return y
}

// strengthFade is the least length (K) over which the strength falls to zero below the flow point: assumed.
const strengthFade = 1

// WithStrength returns a copy of the material whose compressive yield is multiplied by f > 0 at every temperature.
func (m *Material) WithStrength(f float64) *Material {
	c := *m
	points := make([][2]float64, len(m.Compressive.T))
	for i := range points {
		points[i] = [2]float64{m.Compressive.T[i], f * m.Compressive.Y[i]}
	}
	if len(points) > 0 {
		c.Compressive = NewCurve(points)
	}
	return &c
}

// Softens returns the temperature (K) at which stock stops carrying the compressive stress y (Pa), at least that of the
// first table point: for an amorphous polymer never above Tg + 10 K, for a semi-crystalline one never above the start
// of its melting range.
func (m *Material) Softens(y float64) float64 {
	top := m.Glass + softAboveGlass
	if m.SemiCrystalline() {
		top = m.Viscosity.MeltLow
	}
	c := &m.Compressive
	if len(c.T) == 0 {
		return top
	}
	for i := len(c.T) - 1; i > 0; i-- {
		if c.Y[i-1] <= y {
			continue
		}
		if c.Y[i] >= y {
			return math.Min(top, c.T[i])
		}
		return math.Min(top, c.T[i-1]+(c.Y[i-1]-y)/(c.Y[i-1]-c.Y[i])*(c.T[i]-c.T[i-1]))
	}
	return math.Min(top, c.T[0])
}

// softAboveGlass is how far above Tg (K) amorphous stock still counts as a rod at most: its modulus has fallen to
// rubber there; assumed.
const softAboveGlass = 10

// SemiCrystalline tells whether melting, not the glass transition, lets the material flow.
func (m *Material) SemiCrystalline() bool { return m.Viscosity.MeltHigh > m.Viscosity.MeltLow }

// FlowPoint returns T_flow in K: the temperature of first flow of an amorphous
// polymer, the middle of the melting range of a semi-crystalline one
// (conventions of this project).
func (m *Material) FlowPoint() float64 {
	if m.SemiCrystalline() {
		return (m.Viscosity.MeltLow + m.Viscosity.MeltHigh) / 2
	}
	return m.FirstFlow
}

// CoolingHeat is the enthalpy side of a melt that cools: the latent heat comes free over the cooling range. It is that
// of the record where no cooling range is given.
func (m *Material) CoolingHeat() Heat {
	if m.Cooling[1] > m.Cooling[0] {
		return NewHeat(m.Heat.Cp, m.Heat.Latent, m.Cooling[0], m.Cooling[1])
	}
	return m.Heat
}

// Warnings returns the remarks that every result with this material carries.
func (m *Material) Warnings() []Warning {
	var w []Warning
	if m.Placeholder {
		w = append(w, Warning{"placeholder-material", fmt.Sprintf("%s: the viscosity law is a placeholder "+
			"(confidence %s), not a measurement; scale it to a data sheet's melt flow rate or calibrate with a "+
			"short push test", m.Name, m.Confidence)})
	}
	if m.Proxy != "" {
		w = append(w, Warning{"proxy-material", m.Name + ": " + m.Proxy})
	}
	return w
}

// ShearStrength returns the shear yield strength (Pa) at T (K): compressive
// yield over the root of three (von Mises).
func (m *Material) ShearStrength(T float64) float64 {
	return m.Compressive.At(T) / math.Sqrt(3)
}

// Parse reads one material record. Every problem is returned at once.
func Parse(file string, src []byte) (*Material, strict.Problems) {
	var r record
	doc, ps := strict.Decode(file, src, &r)
	if len(ps) > 0 {
		return nil, ps
	}
	return r.build(doc)
}

func (r *record) build(doc *strict.Doc) (*Material, strict.Problems) {
	var ps strict.Problems
	bad := func(path, seen, allowed, advice string) {
		ps = append(ps, doc.Problem(path, seen, allowed, advice))
	}
	// val fetches a number that the chosen law needs and checks its sign.
	val := func(key string, q *Quantity, positive bool) float64 {
		switch {
		case q == nil:
			bad("viscosity."+key, "nothing", "a quantity { value, trust, source }", "the chosen law needs this key")
			return 1
		case positive && !(q.Value > 0):
			bad("viscosity."+key, fmt.Sprint(q.Value), "more than 0", "change the value")
			return 1
		}
		return q.Value
	}
	opt := func(q *Quantity) float64 {
		if q == nil {
			return 0
		}
		return q.Value
	}
	v := &r.Viscosity
	var visc Viscosity
	n := val("n", v.N, true)
	if n > 1 {
		bad("viscosity.n", fmt.Sprint(n), "more than 0, at most 1", "shear-thickening laws are not supported")
	}
	visc.N = n
	switch v.Temperature {
	case "wlf":
		visc.Shift = Shift{Kind: WLF, Eta0: val("D1_Pa_s", v.D1, true), Tref: val("D2_K", v.D2, true), D3: opt(v.D3),
			A1: val("A1", v.A1, true), A2: val("A2_K", v.A2, true)}
	case "arrhenius":
		visc.Shift = Shift{Kind: Arrhenius, Tref: val("reference_K", v.Tref, true),
			E: val("activation_energy_J_mol", v.E, true), Beta: opt(v.Beta)}
	case "exponential":
		visc.Shift = Shift{Kind: Exponential, Tref: val("reference_K", v.Tref, true), B: val("decay_1_K", v.B, true),
			Beta: opt(v.Beta)}
	}
	switch {
	case v.Law == "power-law":
		visc.Shift.Eta0 = val("K_Pa_sn", v.K, true)
	case v.Temperature != "wlf":
		visc.Shift.Eta0 = val("eta0_Pa_s", v.Eta0, true)
	}
	switch v.Law {
	case "cross":
		visc.FlowCurve.Kind, visc.Tau = Cross, val("tau_star_Pa", v.TauStar, true)
	case "carreau-yasuda":
		visc.FlowCurve.Kind, visc.A = CarreauYasuda, val("yasuda_a", v.YasudaA, true)
		visc.Tau = visc.Shift.Eta0 / val("lambda_s", v.Lambda, true)
	case "power-law":
		visc.FlowCurve.Kind, visc.Tau = PowerLaw, visc.Shift.Eta0
	}
	visc.Cap = val("solid_cap_Pa_s", v.Cap, true)
	visc.Trouton = val("trouton_ratio", v.Trouton, true)
	visc.RangeT = [2]float64{unit.Kelvin(v.RangeT[0]), unit.Kelvin(v.RangeT[1])}
	visc.RangeRate = [2]float64{v.RangeRate[0], v.RangeRate[1]}

	positive := func(path string, q *Quantity) {
		if !(q.Value > 0) {
			bad(path, fmt.Sprint(q.Value), "more than 0", "change the value")
		}
	}
	positive("density.solid_kg_m3", r.Density.Solid)
	positive("density.melt_kg_m3", r.Density.Melt)
	if r.Heat.Latent.Value < 0 {
		bad("heat_capacity.latent_J_kg", fmt.Sprint(r.Heat.Latent.Value), "at least 0", "change the value")
	}
	curve := func(path string, pts [][]float64, scale, lo, hi float64) Curve {
		var out [][2]float64
		for i, p := range pts {
			switch {
			case len(p) != 2:
				bad(fmt.Sprintf("%s[%d]", path, i+1), fmt.Sprintf("%d numbers", len(p)), "[degC, value]", "give pairs")
			case !(p[0] >= -250 && p[0] <= 1000):
				bad(fmt.Sprintf("%s[%d]", path, i+1), fmt.Sprint(p[0]), "-250 to 1000 degC", "change the temperature")
			case !(p[1] >= lo && p[1] <= hi):
				bad(fmt.Sprintf("%s[%d]", path, i+1), fmt.Sprint(p[1]), fmt.Sprintf("%g to %g", lo, hi),
					"change the value; the unit is in the key")
			case i > 0 && len(pts[i-1]) == 2 && !(p[0] > pts[i-1][0]):
				bad(fmt.Sprintf("%s[%d]", path, i+1), fmt.Sprint(p[0]), "temperatures that rise", "sort the points")
			default:
				out = append(out, [2]float64{unit.Kelvin(p[0]), p[1] * scale})
			}
		}
		if len(out) == 0 {
			bad(path, "no points", "at least one [degC, value]", "add a point")
			return Constant(1)
		}
		return NewCurve(out)
	}
	glass := unit.Kelvin(r.Transition.Glass.Value)
	latent := r.Heat.Latent.Value
	var lo, hi float64
	if r.Heat.Melting != nil {
		lo, hi = unit.Kelvin(r.Heat.Melting.Value[0]), unit.Kelvin(r.Heat.Melting.Value[1])
		if hi <= lo {
			bad("heat_capacity.melting_degC", fmt.Sprint(r.Heat.Melting.Value), "[low, high], low first",
				"swap the ends")
		}
	} else if latent > 0 {
		bad("heat_capacity.melting_degC", "nothing", "[low, high] in degC", "a latent heat needs a melting range")
	}
	var cooling, shrinkage [2]float64
	if x := r.Heat.Cooling; x != nil {
		cooling = [2]float64{unit.Kelvin(x.Value[0]), unit.Kelvin(x.Value[1])}
		if cooling[1] <= cooling[0] {
			bad("heat_capacity.cooling_degC", fmt.Sprint(x.Value), "[low, high], low first", "swap the ends")
		} else if r.Heat.Melting != nil && x.Value[1] > r.Heat.Melting.Value[1] {
			bad("heat_capacity.cooling_degC", fmt.Sprint(x.Value),
				fmt.Sprintf("at most melting_degC = %g", r.Heat.Melting.Value[1]),
				"a melt sets below the temperature at which it melts")
		}
	}
	if x := r.Processing.Shrinkage; x != nil {
		shrinkage = [2]float64{x.Value[0] / 100, x.Value[1] / 100}
		if !(shrinkage[0] > 0) || shrinkage[1] < shrinkage[0] {
			bad("processing.shrinkage_percent", fmt.Sprint(x.Value), "[low, high], above 0, low first",
				"change the values")
		}
	}
	// A small latent heat marks a polymer that is amorphous as extruded and
	// softens at its glass transition; 10 kJ/kg is this project's dividing line.
	if latent > 10e3 {
		visc.MeltLow, visc.MeltHigh = lo, hi
	}
	first := unit.Kelvin(r.Transition.NoFlow.Value)
	if f := r.Transition.First; f != nil {
		first = unit.Kelvin(f.Value)
	}
	m := &Material{
		ID: r.ID, Name: r.Name, Placeholder: r.Placeholder, Proxy: r.Proxy, Confidence: v.Confidence,
		GradeNote: r.GradeNote, Gaps: r.Gaps,
		Viscosity: visc,
		Density: Density{Solid: r.Density.Solid.Value, Melt: r.Density.Melt.Value,
			MeltT: unit.Kelvin(r.Density.MeltT), Glass: glass},
		Heat:         NewHeat(curve("heat_capacity.points", r.Heat.Points, 1, 100, 1e5), latent, lo, hi),
		Conductivity: curve("conductivity.points", r.K.Points, 1, 0.01, 20),
		Glass:        glass, FirstFlow: first, NoFlow: unit.Kelvin(r.Transition.NoFlow.Value),
		Ejection:      unit.Kelvin(r.Transition.Ejection.Value),
		Window:        [2]float64{unit.Kelvin(r.Processing.Window.Value[0]), unit.Kelvin(r.Processing.Window.Value[1])},
		Decomposition: unit.Kelvin(r.Processing.Decomposition.Value),
		Drying:        r.Processing.Drying, Hazard: r.Processing.Hazard,
		Cooling: cooling, Shrinkage: shrinkage,
		Modulus:     curve("mechanical.modulus_MPa", r.Mechanical.Modulus.Points, unit.MPa, 1e-6, 1e6),
		Tensile:     curve("mechanical.tensile_yield_MPa", r.Mechanical.Tensile.Points, unit.MPa, 1e-6, 1e6),
		Compressive: curve("mechanical.compressive_yield_MPa", r.Mechanical.Compressive.Points, unit.MPa, 1e-6, 1e6),
		Sources:     r.Sources,
	}
	if e := r.Entrance; e != nil {
		l := e.Loss
		m.Entrance = Entrance{K: l.Value * unit.MPa, Low: l.Low * unit.MPa, High: l.High * unit.MPa,
			Exponent: e.Exponent.Value, Trust: l.Trust, Source: l.Source, Note: l.Note}
		if !(l.Low >= 0 && l.Low <= l.Value && l.Value <= l.High) {
			bad("entrance.loss_MPa", fmt.Sprintf("low %g, value %g, high %g", l.Low, l.Value, l.High),
				"0 <= low <= value <= high", "put the three in order")
		}
		if !(e.Exponent.Value > 0 && e.Exponent.Value <= 4) {
			bad("entrance.exponent", fmt.Sprint(e.Exponent.Value), "more than 0, at most 4", "change the value")
		}
	}
	if glass >= m.Density.MeltT {
		bad("density.melt_reference_degC", fmt.Sprint(r.Density.MeltT), "above the glass transition",
			"give the temperature of the melt density")
	}
	if m.Window[1] <= m.Window[0] {
		bad("processing.window_degC", fmt.Sprint(r.Processing.Window.Value), "[low, high], low first", "swap the ends")
	}
	if r.Processing.MeltMax != nil {
		m.MeltMax = unit.Kelvin(r.Processing.MeltMax.Value)
	}
	if t := r.Density.Tait; t != nil {
		m.Density.Tait = &Tait{t.B5.Value, t.B6.Value, t.B1m.Value, t.B2m.Value, t.B3m.Value, t.B4m.Value, t.B1s.Value,
			t.B2s.Value, t.B3s.Value, t.B4s.Value}
	}
	if t := r.Density.MeltTait; t != nil {
		m.Density.MeltTait = &MeltTait{t.A0.Value, t.A1.Value, t.A2.Value, t.B0.Value, t.B1.Value, t.C.Value}
	}
	r.compressible(m, bad)
	for _, f := range r.FlowRate {
		m.FlowRates = append(m.FlowRates, FlowRateCheck{f.Kind == "MVR", unit.Kelvin(f.T), f.Load, f.Span.Value[0],
			f.Span.Value[1], f.Span.Source})
	}
	m.Origins = origins(r)
	for _, o := range m.Origins {
		if _, ok := r.Sources[o.Source]; !ok {
			bad(o.Key, fmt.Sprintf("source %q", o.Source), "a key of [sources]", "add the source with its citation")
		}
	}
	if len(ps) > 0 {
		ps.Sort()
		return nil, ps
	}
	return m, nil
}

// compressible holds the equations of state against what a melt can be: a volume that pressure lowers and heat raises.
func (r *record) compressible(m *Material, bad func(path, seen, allowed, advice string)) {
	look := func(path string, volume func(T, p float64) float64, lo, hi float64) {
		if !(lo < hi) {
			return
		}
		cold, hot, pressed := volume(lo, 0), volume(hi, 0), volume(hi, 100*unit.MPa)
		switch {
		case !(cold > 1e-4 && hot < 1e-2):
			bad(path, fmt.Sprintf("%.3g to %.3g m3/kg between %.0f and %.0f degC", cold, hot, unit.Celsius(lo),
				unit.Celsius(hi)), "0.0001 to 0.01 m3/kg", "check signs and units of the constants")
		case !(hot > cold):
			bad(path, fmt.Sprintf("a melt that shrinks from %.4g to %.4g m3/kg between %.0f and %.0f degC", cold, hot,
				unit.Celsius(lo), unit.Celsius(hi)), "a volume that rises with temperature",
				"check signs and units of the constants")
		case !(pressed < hot && pressed > hot/2):
			bad(path, fmt.Sprintf("%.4g m3/kg at 100 MPa, %.4g without", pressed, hot), "less, but more than half",
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

//go:embed data/*.toml
var data embed.FS

var library = sync.OnceValues(func() (map[string]*Material, error) {
	files, err := data.ReadDir("data")
	if err != nil {
		return nil, err
	}
	lib := map[string]*Material{}
	for _, f := range files {
		name := path.Join("data", f.Name())
		src, err := data.ReadFile(name)
		if err != nil {
			return nil, err
		}
		m, ps := Parse(name, src)
		if len(ps) > 0 {
			return nil, ps
		}
		lib[m.ID] = m
	}
	return lib, nil
})

// Names lists the built-in materials.
func Names() []string {
	lib, err := library()
	if err != nil {
		panic("materials: the built-in library is broken: " + err.Error())
	}
	names := make([]string, 0, len(lib))
	for n := range lib {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// Get returns a copy of a built-in material, or an error that names the
// nearest known one. Names are lower case; case is ignored.
func Get(name string) (*Material, error) {
	lib, err := library()
	if err != nil {
		return nil, err
	}
	if m, ok := lib[strings.ToLower(name)]; ok {
		c := *m
		return &c, nil
	}
	msg := fmt.Sprintf("materials: no built-in material %q; there are %s", name, strings.Join(Names(), ", "))
	if n := strict.Nearest(strings.ToLower(name), Names()); n != "" {
		msg += fmt.Sprintf("; did you mean %q?", n)
	}
	return nil, fmt.Errorf("%s", msg)
}

// Source returns the TOML text of a built-in material, as a pattern for a user's own.
func Source(name string) ([]byte, error) {
	return data.ReadFile(path.Join("data", strings.ToLower(name)+".toml"))
}

// Load reads a user's material file.
func Load(file string) (*Material, error) {
	src, err := strict.ReadFile(file, nil, strict.MaxText)
	if err != nil {
		return nil, err
	}
	m, ps := Parse(file, src)
	return m, ps.Err()
}
