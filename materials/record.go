package materials

import (
	"embed"
	"fmt"
	"math"
	"path"
	"slices"
	"sort"
	"strings"
	"sync"

	"meltload/materials/strict"
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

// At returns the entrance loss (Pa) of a flat entrance at the wall stress tau (Pa) of the bore,
//
//	p = K (tau/0.1 MPa)^Exponent
//
// for 0 <= tau <= EntranceLimit; above it the loss goes on along the tangent, and EntranceLoss of a case says so.
// Source: the record's. Error: Low and High are its band.
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

// FlowPoint returns T_flow (K): the temperature of first flow of an amorphous polymer, the middle of the melting range
// of a semi-crystalline one (conventions of this project).
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
		w = append(w, Warning{"placeholder-material", fmt.Sprintf("%s: the viscosity law is a placeholder (confidence "+
			"%s), not a measurement; scale it to a data sheet's melt flow rate or calibrate with a short push "+
			"test", m.Name, m.Confidence)})
	}
	if m.Proxy != "" {
		w = append(w, Warning{"proxy-material", m.Name + ": " + m.Proxy})
	}
	return w
}

// ShearStrength returns the shear yield strength (Pa) at T (K), the compressive yield over the root of three (von
// Mises); beyond the table of the record its end values hold.
func (m *Material) ShearStrength(T float64) float64 {
	return m.Compressive.At(T) / math.Sqrt(3)
}

// Parse reads one material record; file names it in messages. Errors: everything that is wrong with it, each with its
// line and field.
func Parse(file string, src []byte) (*Material, strict.Problems) {
	var r record
	doc, ps := strict.Decode(file, src, &r)
	if len(ps) > 0 {
		return nil, ps
	}
	return r.build(doc)
}

//go:embed data/*.toml
var data embed.FS

// library are the records read so far. A record is read when it is asked for: most programs want one.
var library struct {
	sync.Mutex
	read map[string]*Material
}

// built reads a built-in record, or takes it from those that were read.
func built(name string) (*Material, error) {
	library.Lock()
	defer library.Unlock()
	if m := library.read[name]; m != nil {
		return m, nil
	}
	file := path.Join("data", name+".toml")
	src, err := data.ReadFile(file)
	if err != nil {
		return nil, err
	}
	m, ps := Parse(file, src)
	if len(ps) > 0 {
		return nil, ps
	}
	if m.ID != name {
		return nil, fmt.Errorf("materials: %s holds the record of %q", file, m.ID)
	}
	if library.read == nil {
		library.read = map[string]*Material{}
	}
	library.read[name] = m
	return m, nil
}

// Names lists the built-in materials.
func Names() []string {
	files, err := data.ReadDir("data")
	if err != nil {
		panic("materials: the built-in library is broken: " + err.Error())
	}
	names := make([]string, 0, len(files))
	for _, f := range files {
		names = append(names, strings.TrimSuffix(f.Name(), ".toml"))
	}
	sort.Strings(names)
	return names
}

// Get returns a copy of a built-in material by its name, whatever the case of its letters. Error: a name that there is
// not, with the nearest known one.
func Get(name string) (*Material, error) {
	if !slices.Contains(Names(), strings.ToLower(name)) {
		msg := fmt.Sprintf("materials: no built-in material %q; there are %s", name, strings.Join(Names(), ", "))
		if n := strict.Nearest(strings.ToLower(name), Names()); n != "" {
			msg += fmt.Sprintf("; did you mean %q?", n)
		}
		return nil, fmt.Errorf("%s", msg)
	}
	m, err := built(strings.ToLower(name))
	if err != nil {
		return nil, err
	}
	c := *m
	return &c, nil
}

// Source returns the TOML text of a built-in material, as a pattern for a user's own. Error: a name that there is not.
func Source(name string) ([]byte, error) {
	return data.ReadFile(path.Join("data", strings.ToLower(name)+".toml"))
}

// Load reads a user's material file. Errors: a file that cannot be read, or as of Parse.
func Load(file string) (*Material, error) {
	src, err := strict.ReadFile(file, nil, strict.MaxText)
	if err != nil {
		return nil, err
	}
	m, ps := Parse(file, src)
	return m, ps.Err()
}
