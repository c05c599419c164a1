// Package vary is the one table of what can change in a set-up: key as in the case file, label, unit, bounds, how well
// it is known, get, set, and how it is written back. Sampling, gains, calibration, plan advice, the what-if page and
// the command line all go through it; a new quantity is one entry of the table.
//
// The table holds numbers. Another material, another feeder or another section is another set-up and not a value of
// this one: a Go program puts it into a Clone (Setup.Material, assess.Pair), a text gets it by casefile.Patch (key
// filament.material) or casefile.Graft, and is checked as a whole again.
package vary

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"meltload/flow/setup"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// ID names a quantity, whatever set-up it is looked for in.
type ID string

// The quantities. Key gives the key of the case file that one has in a set-up.
const (
	Viscosity    ID = "viscosity"
	Entrance     ID = "entrance"
	FlowPoint    ID = "flow-point"
	Filament     ID = "filament"
	Inlet        ID = "inlet"
	Block        ID = "block"
	Contact      ID = "contact"
	Heated       ID = "heated"
	Eccentricity ID = "eccentricity"
	Tip          ID = "tip"
	Barrel       ID = "barrel"
	Bore         ID = "bore"
	Zone         ID = "zone"
	Land         ID = "land"
	Heater       ID = "heater"
	Drag         ID = "drag"
	Bend         ID = "bend"
	Force        ID = "force"
	Current      ID = "current"
	Ratio        ID = "ratio"
	Wheels       ID = "wheels"
	Gap          ID = "gap"
	Target       ID = "target"
	Safety       ID = "safety"
	Mould        ID = "mould"
	FillFlow     ID = "fill-flow"
	MouldContact ID = "mould-contact"
	MouldNoFlow  ID = "mould-no-flow"
	Feed         ID = "feed"
	Wall         ID = "wall"
	Layer        ID = "layer"
	LineWidth    ID = "line-width"
)

// Scale is the scale on which a quantity is sampled, stepped and fitted.
type Scale int

// The scales.
const (
	Linear     Scale = iota
	Log              // factors
	Reciprocal       // a transfer coefficient by its resistance: infinity is 0
)

// To takes a value to the scale.
func (s Scale) To(x float64) float64 {
	switch s {
	case Log:
		return math.Log(x)
	case Reciprocal:
		return -1 / x // rises with x
	}
	return x
}

// From takes a value back from the scale.
func (s Scale) From(y float64) float64 {
	switch s {
	case Log:
		return math.Exp(y)
	case Reciprocal:
		if y >= 0 {
			return math.Inf(1)
		}
		return -1 / y
	}
	return y
}

// Scope is what an unknown belongs to: set-ups that share it share its value.
type Scope int

// The scopes.
const (
	OfRig    Scope = iota // the path and what else all share
	OfStock               // material and filament: shared too
	OfHotEnd              // each hot end has its own
	OfFeeder              // each feeder has its own
)

// Quantity is one thing that can change, in one set-up.
type Quantity struct {
	ID        ID
	Key       string  // of the case file; sections and the like are counted from 1 as they stand in the set-up
	Label     string  // in plain words
	Unit      string  // of the case file, "" for a plain number
	Low, High float64 // bounds, SI
	Scale     Scale
	Spread    string // the key under [spread] that says how well it is known, "" if that cannot be said

	toSI, toEdge func(float64) float64 // nil for the same number
	get          func(s *setup.Setup) float64
	set          func(s *setup.Setup, x float64)
	band         func(s *setup.Setup, x float64) Band // the default band about the value x; nil for none
	edits        func(s *setup.Setup) []Edit          // nil for the key alone
}

// Edit is a new value of one key of the case file, as TOML.
type Edit struct {
	Key, Value string
	IfPresent  bool // only if the file has the key; another key, or a default, says it otherwise
}

// Get returns the value in a set-up, SI.
func (q *Quantity) Get(s *setup.Setup) float64 { return q.get(s) }

// Set changes a set-up, SI. Change a Clone: what is shared with others changes with it. Errors: a value outside the
// bounds, with what is allowed in the unit of the case file.
func (q *Quantity) Set(s *setup.Setup, x float64) error {
	if !(x >= q.Low*(1-1e-12)-1e-15 && x <= q.High*(1+1e-12)) {
		return strict.Problems{{Field: q.Key, Seen: Number(q.Edge(x)), Allowed: q.Allowed(),
			Advice: "change the value of the " + q.Label}}
	}
	q.set(s, x)
	return nil
}

// SetClipped is Set to the nearest value within the bounds.
func (q *Quantity) SetClipped(s *setup.Setup, x float64) { q.set(s, q.Clip(x)) }

// Clip brings a value within the bounds.
func (q *Quantity) Clip(x float64) float64 { return math.Min(q.High, math.Max(q.Low, x)) }

// With returns a copy of a set-up with the quantity set. Errors: as of Set.
func (q *Quantity) With(s *setup.Setup, x float64) (*setup.Setup, error) {
	n := s.Clone()
	return n, q.Set(n, x)
}

// Edge turns a value into the unit of the case file.
func (q *Quantity) Edge(x float64) float64 {
	if q.toEdge == nil {
		return x
	}
	return q.toEdge(x)
}

// SI turns a number in the unit of the case file into SI.
func (q *Quantity) SI(x float64) float64 {
	if q.toSI == nil {
		return x
	}
	return q.toSI(x)
}

// Allowed says the bounds in the unit of the case file.
func (q *Quantity) Allowed() string {
	s := fmt.Sprintf("%s to %s", Number(q.Edge(q.Low)), Number(q.Edge(q.High)))
	if q.Unit != "" {
		s += " " + q.Unit
	}
	return s
}

// Text shows a value with its unit.
func (q *Quantity) Text(x float64) string {
	if math.IsInf(x, 1) {
		return "infinite"
	}
	s := fmt.Sprintf("%.4g", q.Edge(x))
	if q.Unit != "" {
		s += " " + q.Unit
	}
	return s
}

// Edits lists the keys of the case file that say the value that a set-up has, sections with values of their own and all
// that hangs on it among them.
func (q *Quantity) Edits(s *setup.Setup) []Edit {
	if q.edits != nil {
		return q.edits(s)
	}
	return []Edit{{Key: q.Key, Value: Number(q.Edge(q.get(s)))}}
}

// CalibratedEdits are the keys under [spread] that carry the bands which come with a calibration, and the list of these
// keys.
func CalibratedEdits(s *setup.Setup) []Edit {
	var out []Edit
	var keys []string
	for _, q := range Table(s) {
		d, ok := s.Doubts[string(q.ID)]
		if !ok || !d.Calibrated || q.Spread == "" {
			continue
		}
		e := Edit{Key: "spread." + q.Spread}
		switch d.Kind {
		case setup.Interval:
			e.Value = fmt.Sprintf("[%s, %s]", Number(q.Edge(d.Low)), Number(q.Edge(d.High)))
		case setup.Factor:
			e.Value = Number(d.High)
		default:
			e.Value = Number(math.Abs(q.Edge(d.High) - q.Edge(0)))
		}
		out, keys = append(out, e), append(keys, strconv.Quote(q.Spread))
	}
	if len(keys) == 0 {
		return nil
	}
	out = append(out, Edit{Key: "spread.calibrated", Value: "[" + strings.Join(keys, ", ") + "]"})
	return append(out, correlationEdits(s)...)
}

// correlationEdits is the key that says what goes together; none if nothing does.
func correlationEdits(s *setup.Setup) []Edit {
	spread := func(id string) string {
		if q, ok := Find(s, id); ok {
			return q.Spread
		}
		return ""
	}
	var items []string
	for _, c := range s.Correlations {
		if a, b := spread(c.First), spread(c.Second); a != "" && b != "" {
			items = append(items, fmt.Sprintf("{of = %q, with = %q, value = %s}", a, b, Number(c.Value)))
		}
	}
	if len(items) == 0 {
		return nil
	}
	return []Edit{{Key: "spread.correlations", Value: "[" + strings.Join(items, ", ") + "]"}}
}

// Number writes a number as TOML, to seven digits.
func Number(x float64) string {
	switch {
	case math.IsInf(x, 1):
		return "inf"
	case math.IsInf(x, -1):
		return "-inf"
	case math.IsNaN(x):
		return "nan"
	}
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 7, 64), 64)
	if a := math.Abs(x); a != 0 && (a < 1e-4 || a >= 1e9) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Table lists what can change in a set-up: quantities that it does not have (the current of a feeder without a motor)
// are left out.
func Table(s *setup.Setup) []Quantity {
	var out []Quantity
	for _, e := range entries {
		if q, ok := e(s); ok {
			out = append(out, q)
		}
	}
	return append(out, measured(s)...)
}

// Find returns a quantity of a set-up by its ID or by its key of the case file; false if the set-up does not have it.
func Find(s *setup.Setup, name string) (Quantity, bool) {
	is := func(q Quantity) bool { return string(q.ID) == name || q.Key == name }
	for _, e := range entries {
		if q, ok := e(s); ok && is(q) {
			return q, true
		}
	}
	rest := measured(s)
	if i := slices.IndexFunc(rest, is); i >= 0 {
		return rest[i], true
	}
	return Quantity{}, false
}

// Must is Find for a quantity that every set-up has: Viscosity, Block, Contact and others that do not hang on parts.
func Must(s *setup.Setup, id ID) Quantity {
	q, ok := Find(s, string(id))
	if !ok {
		panic("vary: no quantity " + string(id))
	}
	return q
}

func times(f float64) (toSI, toEdge func(float64) float64) {
	return func(x float64) float64 { return x * f }, func(x float64) float64 { return x / f }
}

// mm, mm3, degC and deg give a quantity its unit.
func (q Quantity) mm() Quantity   { q.Unit = "mm"; q.toSI, q.toEdge = times(unit.MM); return q }
func (q Quantity) flow() Quantity { q.Unit = "mm3/s"; q.toSI, q.toEdge = times(unit.MM3); return q }
func (q Quantity) degC() Quantity {
	q.Unit, q.toSI, q.toEdge = "degC", unit.Kelvin, unit.Celsius
	return q
}
func (q Quantity) deg() Quantity { q.Unit = "deg"; q.toSI, q.toEdge = times(math.Pi / 180); return q }
