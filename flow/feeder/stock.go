package feeder

import (
	"fmt"
	"math"
	"strings"

	"meltload/materials"
	"meltload/materials/unit"
)

// Stock is the filament that a feeder is to push.
type Stock struct {
	Material    *materials.Material
	Diameter    float64 // m
	Temperature float64 // K, in the feeder
}

// SoftModulus is the modulus (Pa) below which filament counts as soft: it folds in the path before the gear or the
// motor gives up. Assumed: between the elastomers (below 0.1 GPa) and the weakest rigid filament (0.2 GPa and more).
const SoftModulus = 0.15e9

// AssumedGap is the unsupported length (m) between gear and guide that is taken for soft stock where none is given.
// Assumed: feeders that are built for soft filament leave 2 to 5 mm.
const AssumedGap = 4e-3

// stockTolerance and currentTolerance say from where on a point counts as measured under other conditions (assumed).
const (
	stockTolerance   = 15.0 // K
	currentTolerance = 0.02 // share
)

// kin is how a point's polymer stands to the stock's.
type kin int

const (
	unknown kin = iota
	same
	other
)

// kin compares the polymer of a point with the stock.
func (f *Feeder) kin(p Point) kin {
	switch {
	case p.Material == "" || f.Stock == nil || f.Stock.Material == nil:
		return unknown
	case strings.EqualFold(p.Material, f.Stock.Material.ID), strings.EqualFold(p.Material, f.Stock.Material.Name):
		return same
	}
	return other
}

// own splits points into those to use and those of another polymer: what was measured with the stock's polymer
// counts before what does not say, and that before what was measured with another.
func (f *Feeder) own(p []Point) (use, leave []Point) {
	best := other
	for _, x := range p {
		switch k := f.kin(x); {
		case k == same:
			best = same
		case k == unknown && best == other:
			best = unknown
		}
	}
	for _, x := range p {
		if f.kin(x) == best || best == other {
			use = append(use, x)
		} else {
			leave = append(leave, x)
		}
	}
	return use, leave
}

// fold is what the stock holds as a column, where the measured points may not know of it.
type fold struct {
	force   float64 // N, 0 if it does not count
	length  float64 // m
	assumed bool    // the length is AssumedGap
	unsaid  bool    // the points do not say of which polymer they are
}

// cuts tells whether the column, and not what the feeder holds otherwise, decides.
func (c fold) cuts(k Capability) bool { return c.force > 0 && k.Force > c.force }

// cut bounds a capability by the column.
func (c fold) cut(k Capability) Capability {
	if c.cuts(k) {
		k.Force, k.Cause, k.SD = c.force, Buckle, modelSpread*c.force
	}
	return k
}

// foldOf is the column of a feeder whose points are not all known to be measured with its stock. It bounds them where
// the stock is soft, also by the assumed gap, or where they are of another polymer and the gap is given: a force that
// rigid filament was pushed with says nothing of one that folds.
func (f *Feeder) foldOf() fold {
	if len(f.Points) == 0 || f.Stock == nil || f.Stock.Material == nil {
		return fold{}
	}
	worst := same
	for _, p := range f.Points {
		switch f.kin(p) {
		case other:
			worst = other
		case unknown:
			if worst == same {
				worst = unknown
			}
		}
	}
	s := f.Stock
	soft := s.Material.Modulus.At(s.Temperature) < SoftModulus
	given := f.Model != nil && f.Model.Gap != nil
	if worst == same || !soft && !(given && worst == other) {
		return fold{}
	}
	gap := Gap{AssumedGap, FixedPinned}
	if given {
		gap = *f.Model.Gap
	}
	return fold{
		force:  gap.Collapse(s.Diameter, s.Material, s.Temperature),
		length: gap.Length, assumed: !given, unsaid: worst == unknown,
	}
}

// Warnings lists what is not known about the capability at a filament speed (m/s): points outside their range or
// measured on another polymer, at another temperature or motor current; soft stock; the motor outside the range it
// was checked on.
func (f *Feeder) Warnings(v float64) []materials.Warning {
	var out []materials.Warning
	add := func(code, format string, a ...any) {
		out = materials.AddWarning(out, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	name := "the stock"
	if f.Stock != nil && f.Stock.Material != nil {
		name = f.Stock.Material.Name
	}
	if len(f.Points) > 0 && f.measured(v).Extrapolated {
		add("capability-range", "at %.1f mm/s of filament the feeder's capability lies outside its measured points; %s",
			v/unit.MM,
			map[bool]string{true: "the model carries the nearest point, with a wider band",
				false: "the nearest point is held"}[f.Model != nil])
	}
	if n := len(f.Unused); n > 0 {
		add("points-left-out",
			"%d of the feeder's %d points were measured with another polymer than %s and are left out", n,
			n+len(f.Points), name)
	}
	var mot *Motor
	if f.Model != nil {
		mot = f.Model.Motor
	}
	f.conditions(name, mot, add)
	if c := f.column; c.cuts(f.free(v)) {
		length := fmt.Sprintf("%.3g mm of unsupported filament", c.length/unit.MM)
		if c.assumed {
			length = fmt.Sprintf("%.3g mm of unsupported filament (assumed; give [feeder.gap])", c.length/unit.MM)
		}
		if c.unsaid {
			add("soft-stock",
				"%s is soft and folds at about %.0f N over %s; that bounds the measured %.0f N, as the feeder's "+
					"points do not say with which polymer they were measured: say it with material, or push %s to "+
					"failure",
				name, c.force, length, f.measured(v).Force, name)
		} else {
			add("soft-stock",
				"%s folds at %.0f N over %s; that bounds the measured %.0f N, which are not known to hold for "+
					"%s", name, c.force, length, f.measured(v).Force, name)
		}
	}
	if mot != nil && (len(f.Points) == 0 || f.measured(v).Extrapolated) {
		if _, stall, _ := f.Model.Parts(v); stall <= 1.25*f.At(v).Force {
			for _, w := range mot.Warnings(f.Model.Drive.Rev(v)) {
				out = materials.AddWarning(out, w)
			}
		}
	}
	return out
}

// conditions warns of points that were measured under other conditions than those of the stock and the motor.
func (f *Feeder) conditions(name string, mot *Motor, add func(code, format string, a ...any)) {
	for _, p := range f.Points {
		if f.kin(p) == other {
			add("points-other-polymer",
				"the feeder's points were measured with %s and are used for %s: grip, motor and column change with "+
					"the polymer; push %s to failure to know", p.Material, name, name)
		}
		if f.Stock != nil && p.Stock > 0 && math.Abs(p.Stock-f.Stock.Temperature) > stockTolerance {
			add("points-other-temperature",
				"the feeder's point at %.3g mm/s was measured with filament of %.0f degC in the feeder, the case has "+
					"%.0f degC: warm filament is ground at a lower force",
				p.Speed/unit.MM, unit.Celsius(p.Stock), unit.Celsius(f.Stock.Temperature))
		}
		if mot != nil && p.Current > 0 && math.Abs(p.Current/mot.Current-1) > currentTolerance {
			add("points-other-current",
				"the feeder's point at %.3g mm/s was measured at %.2f A peak, the motor is set to %.2f A peak: a "+
					"force at which the motor skips goes with the current", p.Speed/unit.MM, p.Current, mot.Current)
		}
	}
}
