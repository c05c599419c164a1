// Package setup is a whole set-up in SI: hot end, filament and material, feeder, limits, the duty asked for, what is
// not known, and a mould if there is one. A Go program makes one with New; package casefile makes one from a file.
// Everything that answers takes a *Setup.
package setup

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/match"
	"meltload/flow/mould"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Setup is a set-up in SI.
type Setup struct {
	flow.Case
	Title  string
	Block  float64 // K, temperature of the block sensor
	Feeder *feeder.Feeder
	Limits match.Limits
	Target float64    // m3/s, the flow that is wanted; 0 if open
	Line   flow.Line  // of the print; what is 0 in it follows from the nozzle, see PrintLine
	Temps  [2]float64 // K, block temperatures to look at
	Mould  *mould.Spec
	// Contact is the heat-transfer coefficient (W/(m2 K)) from the wall to stock that wets it, of the sections that
	// have none of their own; +Inf for perfect contact.
	Contact float64
	// Doubts says how well single quantities are known, by their key in package vary; a quantity that is not here has
	// the default band that vary gives it.
	Doubts map[string]Doubt
	// Correlations say which of these go together, as after a calibration: forces that tell a sum tell its parts less.
	// Pairs that are not here are independent.
	Correlations []Correlation

	Samples int    // of the sampling of what is not known
	Seed    uint64 // of that sampling
}

// Kind is how a Doubt is meant.
type Kind int

// The kinds of doubt.
const (
	PlusMinus Kind = iota // the value plus or minus High
	Factor                // the value over High to the value times High
	Interval              // from Low to High, with the value between
)

// Doubt is how well a quantity is known. The value itself is the middle of its band: half of the probability lies on
// either side of it.
type Doubt struct {
	Kind       Kind
	Low, High  float64 // SI; Low of an Interval only
	Calibrated bool    // the interval comes with a calibration
}

// Correlation says that two quantities, by their key in package vary, go together: Value is the coefficient of
// correlation of their normal scores, above -1 and below 1.
type Correlation struct {
	First, Second string
	Value         float64
}

// CorrelationMatrix returns the coefficients of correlation between the quantities named, n by n in their order, 1 on
// the diagonal; nil if none of them go together.
func (s *Setup) CorrelationMatrix(names []string) *mat.SymDense {
	var m *mat.SymDense
	for _, c := range s.Correlations {
		i, k := slices.Index(names, c.First), slices.Index(names, c.Second)
		if i < 0 || k < 0 || i == k {
			continue
		}
		if m == nil {
			m = mat.NewSymDense(len(names), nil)
			for j := range names {
				m.SetSym(j, j, 1)
			}
		}
		m.SetSym(i, k, c.Value)
	}
	return m
}

// checkCorrelations reports correlations that cannot be.
func (s *Setup) checkCorrelations(bad func(field, seen, allowed, advice string)) {
	var names []string
	seen := map[[2]string]bool{}
	left := len(s.Correlations) // not yet found in order
	for i, c := range s.Correlations {
		field := fmt.Sprintf("Correlations[%d]", i)
		pair := [2]string{min(c.First, c.Second), max(c.First, c.Second)}
		switch {
		case c.First == c.Second:
			bad(field, c.First+" with itself", "two quantities", "name another one")
		case !(math.Abs(c.Value) < 1):
			bad(field, fmt.Sprint(c.Value), "above -1 and below 1", "correct the coefficient")
		case seen[pair]:
			bad(field, c.First+" with "+c.Second+" again", "each pair once", "remove one of the two")
		default:
			left--
		}
		seen[pair] = true
		for _, x := range pair {
			if !slices.Contains(names, x) {
				names = append(names, x)
			}
		}
	}
	var ch mat.Cholesky
	if m := s.CorrelationMatrix(names); left == 0 && m != nil && !ch.Factorize(m) {
		bad("Correlations", "coefficients that cannot all hold at once", "a positive definite matrix",
			"calibrate again, or remove the correlations")
	}
}

// DefaultSamples and DefaultSeed of the sampling where none are given.
const (
	DefaultSamples = 2048
	DefaultSeed    = 1
)

// DefaultLimits are the limits where none are given; assumed.
func DefaultLimits() match.Limits {
	return match.Limits{Safety: 1.25, MinFlow: 0.5 * unit.MM3, MaxFlow: 60 * unit.MM3, Residence: 600}
}

// New returns a set-up ready for use: a copy of s with what follows or was left out filled in, or everything that is
// wrong with it, as strict.Problems. Left out, that is zero: Limits (DefaultLimits), Temps (the material's processing
// window), Contact (flow.DefaultWettedH), H of a section (Contact), Samples and Seed. A cone needs Half or Length; a
// tube's D2 follows from D1.
func New(s Setup) (*Setup, error) {
	n := s.Clone()
	if n.Contact == 0 {
		n.Contact = flow.DefaultWettedH
	}
	for i := range n.HotEnd.Sections {
		if n.HotEnd.Sections[i].H == 0 {
			n.HotEnd.Sections[i].H = n.Contact
		}
	}
	n.Complete()
	d := DefaultLimits()
	for _, x := range []struct{ to, from *float64 }{{&n.Limits.Safety, &d.Safety}, {&n.Limits.MinFlow, &d.MinFlow},
		{&n.Limits.MaxFlow, &d.MaxFlow}} {
		if *x.to == 0 {
			*x.to = *x.from
		}
	}
	if n.Temps == [2]float64{} && n.Material != nil {
		n.Temps = n.Material.Window
	}
	if n.Samples == 0 {
		n.Samples = DefaultSamples
	}
	if n.Seed == 0 {
		n.Seed = DefaultSeed
	}
	if n.Mould != nil {
		n.Mould.Complete()
	}
	if err := n.Validate(); err != nil {
		return nil, err
	}
	if n.Feeder.Stock == nil { // the filament in the feeder is as warm as at the inlet unless the feeder says otherwise
		f, err := n.Feeder.With(feeder.Stock{Material: n.Material, Diameter: n.Filament.Diameter,
			Temperature: n.Filament.Inlet})
		if err != nil {
			return nil, err
		}
		n.Feeder = f
	}
	return n, nil
}

// Clone returns a copy so deep that a change to one does not reach the other. Tables that nothing changes (curves of
// the material) are shared.
func (s *Setup) Clone() *Setup {
	n := *s
	if s.Material != nil {
		m := *s.Material
		n.Material = &m
	}
	n.HotEnd.Sections = append([]flow.Section(nil), s.HotEnd.Sections...)
	n.Feeder = s.Feeder.Clone()
	if n.Feeder != nil && n.Feeder.Model != nil && n.Feeder.Model.Material == s.Material {
		n.Feeder.Model.Material = n.Material
	}
	if n.Feeder != nil && n.Feeder.Stock != nil && n.Feeder.Stock.Material == s.Material {
		n.Feeder.Stock.Material = n.Material
	}
	n.Mould = s.Mould.Clone()
	n.Doubts = maps.Clone(s.Doubts)
	n.Correlations = slices.Clone(s.Correlations)
	return &n
}

// SetBlock sets the block temperature (K).
func (s *Setup) SetBlock(block float64) {
	s.Block = block
}

// PrintLine is the line that a print speed is told for: as given, else by the nozzle. assumed says that some of it is
// not given; ok is false where it is not given and the nozzle does not say it, having no round bore.
func (s *Setup) PrintLine() (l flow.Line, assumed, ok bool) {
	l = s.Line.Or(s.HotEnd.Nozzle())
	return l, l != s.Line, l.Area() > 0
}

// Matcher joins the set-up with a solver made for its Case.
func (s *Setup) Matcher(v flow.Solver) *match.Matcher {
	return &match.Matcher{Case: &s.Case, Solver: v, Feeder: s.Feeder, Limits: s.Limits}
}

// Validate returns everything that is wrong with the set-up as strict.Problems, each with its field, the value met in
// SI, what is allowed and what to do; nil if nothing is. It changes nothing.
func (s *Setup) Validate() error {
	var ps strict.Problems
	if err := s.Case.Validate(); err != nil {
		ps = append(ps, err.(strict.Problems)...)
	}
	bad, within := ps.Add, ps.Within
	ps = append(ps, s.CheckBlock(s.Block)...)
	if !(s.Contact >= 1) {
		bad("Contact", fmt.Sprint(s.Contact), "at least 1 W/(m2 K), or +Inf for perfect contact",
			"give the heat-transfer coefficient of the wall")
	}
	if s.Feeder == nil {
		bad("Feeder", "nil", "a feeder", "make one with feeder.New")
	} else if len(s.Feeder.Points) == 0 && s.Feeder.Model == nil {
		bad("Feeder", "neither points nor a model", "a feeder", "make one with feeder.New")
	}
	l := s.Limits
	within("Limits.Safety", l.Safety, 1, 10, "", "load times this must stay below what the feeder holds")
	within("Limits.MountMax", l.MountMax, 0, 5000, "N", "0 for no such limit")
	within("Limits.Residence", l.Residence, 0, 1e5, "s", "0 for no such limit")
	const flows = "a flow in m3/s: 10 mm3/s is 10e-9"
	search := within("Limits.MinFlow", l.MinFlow, 1e-12, 1e-6, "m3/s", flows)
	search = within("Limits.MaxFlow", l.MaxFlow, 1e-12, 1e-6, "m3/s", flows) && search
	if search && l.MaxFlow <= l.MinFlow {
		bad("Limits.MaxFlow", fmt.Sprintf("%g m3/s", l.MaxFlow),
			fmt.Sprintf("above Limits.MinFlow = %g m3/s", l.MinFlow), "widen the search")
	}
	if within("Target", s.Target, 0, 1e-6, "m3/s", flows) && search && s.Target > l.MaxFlow {
		bad("Target", fmt.Sprintf("%g m3/s", s.Target), fmt.Sprintf("at most Limits.MaxFlow = %g m3/s", l.MaxFlow),
			"raise the end of the search or lower the target")
	}
	within("Line.Height", s.Line.Height, 0, 5e-3, "m", "0 for half of the nozzle's bore")
	within("Line.Width", s.Line.Width, 0, 50e-3, "m", "0 for 1.125 times the nozzle's bore")
	if l, _, ok := s.PrintLine(); ok && l.Height > l.Width {
		bad("Line", fmt.Sprintf("a layer of %.4g m, a line of %.4g m", l.Height, l.Width),
			"a layer no higher than the line is wide", "lower the layer or widen the line")
	}
	for i, T := range s.Temps {
		within(fmt.Sprintf("Temps[%d]", i), T, 250, 800, "K", "a temperature in kelvin")
	}
	if s.Temps[1] <= s.Temps[0] {
		bad("Temps", fmt.Sprintf("%g to %g K", s.Temps[0], s.Temps[1]), "low end first, then a higher one",
			"swap the ends")
	}
	if s.Samples < 0 {
		bad("Samples", fmt.Sprint(s.Samples), "at least 16", "0 takes the default")
	}
	keys := make([]string, 0, len(s.Doubts))
	for k := range s.Doubts {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		if why := s.Doubts[k].fault(); why != "" {
			bad("Doubts["+k+"]", fmt.Sprintf("%+v", s.Doubts[k]), why, "correct the band")
		}
	}
	s.checkCorrelations(bad)
	s.checkMould(bad)
	return ps.Err()
}

// checkMould reports what is wrong with the mould, if there is one.
func (s *Setup) checkMould(bad func(field, seen, allowed, advice string)) {
	m := s.Mould
	if m == nil {
		return
	}
	if !(m.Flow > 0) {
		bad("Mould.Flow", fmt.Sprint(m.Flow), "above 0 m3/s", "say how fast to fill")
	}
	if m.Safety < 1 {
		bad("Mould.Safety", fmt.Sprint(m.Safety), "at least 1", "a clamp below the opening force lets melt out")
	}
	if m.Surface >= s.Block {
		bad("Mould.Surface", fmt.Sprintf("%.6g K", m.Surface), fmt.Sprintf("below Block = %.6g K", s.Block),
			"a mould as hot as the melt never sets")
	}
	if err := m.Mould.Validate(); err != nil && len(m.Elements) > 0 {
		bad("Mould", err.Error(), "a mould that can be made", "correct the measure")
	}
	if len(m.Elements) == 0 {
		bad("Mould.Elements", "none", "at least one element",
			"describe the path from the nozzle to the end of the cavity")
	}
}

// fault says what is allowed if a doubt is not.
func (d Doubt) fault() string {
	switch d.Kind {
	case PlusMinus:
		if !(d.High >= 0) || math.IsInf(d.High, 0) {
			return "High of at least 0"
		}
	case Factor:
		if !(d.High >= 1) || math.IsInf(d.High, 0) {
			return "a factor High of at least 1"
		}
	case Interval:
		if !(d.Low <= d.High) {
			return "Low not above High"
		}
	default:
		return "PlusMinus, Factor or Interval"
	}
	return ""
}
