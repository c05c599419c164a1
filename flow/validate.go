package flow

import (
	"fmt"
	"math"

	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// The bounds of a Case, those of the case file in SI. They hold off numbers in another unit, not odd designs.
const (
	minSize, maxSize         = 1e-5, 0.05    // m, diameter or gap
	maxWidth                 = 0.2           // m, of a slit
	minLength, maxLength     = 1e-5, 0.5     // m, of a section
	minFilament, maxFilament = 1e-3, 5e-3    // m
	maxTolerance             = 0.3e-3        // m
	minInlet, maxInlet       = 253.15, 800.0 // K
	minTransfer              = 1.0           // W/(m2 K)
	maxChannels              = 1000          // equal ones side by side
	maxDrag                  = 200.0         // N
	maxBend                  = 20 * math.Pi  // rad
	maxTipDrop               = 100.0         // K
	minFactor, maxFactor     = 0.02, 50      // viscosity and entrance factor
	meet                     = 0.01          // share by which two diameters that meet may differ
	coneAgree                = 0.01          // share by which length and angle of a cone may differ
	perDegree                = 180 / math.Pi
)

// Complete fills in what follows from the other fields: Half or Length of a cone, D2 of a tube, one channel for none.
// Fields that are given stay as they are; Validate tells where they contradict each other.
func (c *Case) Complete() {
	for i := range c.HotEnd.Sections {
		c.HotEnd.Sections[i].complete()
	}
}

func (s *Section) complete() {
	if s.Channels == 0 {
		s.Channels = 1
	}
	switch s.Shape {
	case Tube:
		if s.D2 == 0 {
			s.D2 = s.D1
		}
	case Cone:
		dr := math.Abs(s.D1-s.D2) / 2
		switch {
		case s.Half == 0 && s.Length > 0:
			s.Half = math.Atan(dr / s.Length)
		case s.Length == 0 && s.Half > 0 && s.Half < math.Pi/2*(1-1e-9):
			s.Length = dr / math.Tan(s.Half)
		}
	}
}

// Validate returns everything that is wrong with a case, each with its field, the value met, what is allowed and what
// to do, as strict.Problems; nil if nothing is. Sections are counted from 1, values are in SI as the fields are. It
// changes nothing: see Complete for what may be left out.
func (c *Case) Validate() error { return c.problems().Err() }

// checker collects problems.
type checker struct{ strict.Problems }

func (c *Case) problems() strict.Problems {
	k := &checker{}
	if c.Material == nil {
		k.Add("Material", "nil", "a material", "take one of materials.Get or materials.Load")
	}
	f := c.Filament
	wide := k.Within("Filament.Diameter", f.Diameter, minFilament, maxFilament, "m",
		"a diameter in metres: 1.75 mm is 1.75e-3")
	k.Within("Filament.Tolerance", f.Tolerance, 0, maxTolerance, "m", "a tolerance in metres: 0.03 mm is 3e-5")
	k.Within("Filament.Inlet", f.Inlet, minInlet, maxInlet, "K", "a temperature in kelvin: 25 degC is 298.15")
	if m := c.Material; m != nil && !c.Stock.Stick && m.FlowPoint() > 0 && f.Inlet <= maxInlet {
		if top := SolidTo(m); f.Inlet > top {
			k.Add("Filament.Inlet", fmt.Sprintf("%.6g K (%.4g degC)", f.Inlet, unit.Celsius(f.Inlet)),
				fmt.Sprintf("at most %.6g K (%.4g degC) for %s", top, unit.Celsius(top), m.ID), SoftInlet)
		}
	}
	if n := len(c.HotEnd.Sections); n == 0 {
		k.Add("HotEnd.Sections", "none", "at least one section",
			"describe the melt path from the cold side to the exit")
	}
	for i := range c.HotEnd.Sections {
		s := c.HotEnd.Sections[i]
		s.complete()
		at := fmt.Sprintf("HotEnd.Sections[%d]", i+1)
		if s.Name != "" {
			at += " (" + s.Name + ")"
		}
		if !k.section(at+".", &s) {
			continue
		}
		if i == 0 && s.round() && wide && !c.Stock.Stick && s.D1 <= f.Diameter {
			k.Add(at+".D1", fmt.Sprintf("%.6g m", s.D1),
				fmt.Sprintf("more than Filament.Diameter = %.6g m", f.Diameter),
				"the filament must fit the first section, with a gap")
		}
		if i > 0 {
			k.joint(at, &c.HotEnd.Sections[i-1], &s)
		}
	}
	k.Within("HotEnd.TipDrop", c.HotEnd.TipDrop, 0, maxTipDrop, "K", "how far the tip is below the block sensor")
	k.Within("HotEnd.HeatedShare", c.HotEnd.HeatedShare, 0, 1, "as a share",
		"0 is the same as 1: the whole length is heated")
	if !(c.Stock.Eccentricity >= 0 && c.Stock.Eccentricity < 1) {
		k.Add("Stock.Eccentricity", fmt.Sprint(c.Stock.Eccentricity), "at least 0, below 1",
			"0 is a rod in the middle of the barrel, 1 one that touches")
	}
	k.Within("Path.Drag", c.Path.Drag, 0, maxDrag, "N", "the constant drag of spool and guides")
	k.Within("Path.Bend", c.Path.Bend, 0, maxBend, "rad", "the sum of bends in radians: 90 deg is 1.571")
	k.Within("Path.Friction", c.Path.Friction, 0, 1, "", "filament on guide")
	if c.ViscosityFactor != 0 {
		k.Within("ViscosityFactor", c.ViscosityFactor, minFactor, maxFactor, "", "0 is the same as 1")
	}
	k.Within("EntranceFactor", c.EntranceFactor, 0, maxFactor, "", "0 is the same as 1")
	return k.Problems
}

// SoftInlet is what to do about filament that enters softer than SolidTo allows.
const SoftInlet = "above it the filament is no rod that a feeder could push: give its temperature where it enters " +
	"the heated length, 20 to 60 degC as a rule"

// SolidTo returns the highest temperature (K) at which filament of a material still is a solid that can be pushed into
// a hot end: the glass transition plus 10 K where that lies above 0 degC, the start of the melting range for a
// semi-crystalline polymer, and 30 K below the flow point for a rubber. Both distances are assumed. Warmer filament is
// refused: the share of the melting that is left for the hot end would tend to nothing, and a flow without a limit be
// computed for stock that no feeder can push.
func SolidTo(m *materials.Material) float64 {
	const aboveGlass, belowFlow, freezing = 10, 30, unit.Zero
	switch {
	case m.SemiCrystalline():
		return m.Viscosity.MeltLow
	case m.Glass > freezing:
		return math.Min(m.Glass+aboveGlass, m.FlowPoint()-belowFlow)
	}
	return m.FlowPoint() - belowFlow
}

func (s *Section) round() bool { return s.Shape == Tube || s.Shape == Cone }

// section checks one section by itself; true if its sizes can be used for further checks.
func (k *checker) section(at string, s *Section) bool {
	const metres = "a length in metres: 0.4 mm is 4e-4"
	ok := true
	need := func(field string, x, lo, hi float64) { ok = k.Within(at+field, x, lo, hi, "m", metres) && ok }
	switch s.Shape {
	case Tube:
		need("D1", s.D1, minSize, maxSize)
		need("Length", s.Length, minLength, maxLength)
		if ok && math.Abs(s.D2/s.D1-1) > 1e-6 {
			k.Add(at+"D2", fmt.Sprintf("%.6g m", s.D2), fmt.Sprintf("D1 = %.6g m, or 0 for the same", s.D1),
				"use a Cone where the diameter changes")
			ok = false
		}
	case Cone:
		need("D1", s.D1, minSize, maxSize)
		need("D2", s.D2, minSize, maxSize)
		ok = ok && k.cone(at, s)
	case Slit:
		need("Width", s.Width, minSize, maxWidth)
		need("Gap", s.Gap, minSize, maxSize)
		need("Length", s.Length, minLength, maxLength)
		if ok && s.Gap > s.Width {
			k.Add(at+"Gap", fmt.Sprintf("%.6g m", s.Gap), fmt.Sprintf("at most Width = %.6g m", s.Width),
				"the gap is the shorter side")
			ok = false
		}
	case Ring:
		need("D1", s.D1, minSize, maxSize)
		need("D2", s.D2, minSize, maxSize)
		need("Length", s.Length, minLength, maxLength)
		if ok && s.D2 >= s.D1 {
			k.Add(at+"D2", fmt.Sprintf("%.6g m", s.D2), fmt.Sprintf("below D1 = %.6g m", s.D1),
				"the core must fit the bore")
			ok = false
		}
	default:
		k.Add(at+"Shape", fmt.Sprint(int(s.Shape)), "Tube, Cone, Slit or Ring", "name the cross-section")
		ok = false
	}
	if !(s.H >= minTransfer) { // +Inf is allowed
		k.Add(at+"H", fmt.Sprintf("%g", s.H), fmt.Sprintf("at least %g W/(m2 K), or +Inf for perfect contact",
			minTransfer),
			fmt.Sprintf("give the heat-transfer coefficient of the wall; %g is the default of the case file",
				DefaultWettedH))
	}
	if s.Channels < 1 || s.Channels > maxChannels {
		k.Add(at+"Channels", fmt.Sprint(s.Channels), fmt.Sprintf("1 to %d", maxChannels),
			"the number of equal passages side by side")
	}
	lo, hi, what := -300.0, 100.0, "kelvin beside the block"
	if s.Wall.Fixed {
		lo, hi, what = 250, 800, "a temperature in kelvin: 200 degC is 473.15"
	}
	k.Within(at+"Wall.Start", s.Wall.Start, lo, hi, "K", what)
	k.Within(at+"Wall.End", s.Wall.End, lo, hi, "K", what)
	return ok
}

// cone checks that angle and length of a cone say the same; one of them, the other 0, is enough.
func (k *checker) cone(at string, s *Section) bool {
	dr := math.Abs(s.D1-s.D2) / 2
	switch {
	case dr == 0:
		k.Add(at+"D2", fmt.Sprintf("%.6g m", s.D2), "another diameter than D1",
			"use a Tube where the diameter does not change")
		return false
	case s.Half == 0 && s.Length == 0:
		k.Add(at+"Half", "0, with no Length", "Half or Length", "give one of them: the other follows")
		return false
	case !(s.Half > 0 && s.Half <= math.Pi/2*(1+1e-9)):
		k.Add(at+"Half", fmt.Sprintf("%.6g", s.Half), "above 0, at most pi/2 rad",
			"half of the included angle, in radians: a 60 deg cone has 0.5236")
		return false
	case !(s.Length >= 0 && s.Length <= maxLength):
		k.Add(at+"Length", fmt.Sprintf("%.6g", s.Length), fmt.Sprintf("0 to %g m", maxLength), "a length in metres")
		return false
	}
	if want := dr * math.Cos(s.Half) / math.Sin(s.Half); math.Abs(s.Length-want) > coneAgree*want+1e-9 {
		by := math.Atan2(dr, s.Length)
		k.Add(at+"Half", fmt.Sprintf("%.6g rad with a Length of %.6g m", s.Half, s.Length),
			fmt.Sprintf("%.6g rad for this Length, or a Length of %.6g m", by, want),
			fmt.Sprintf("give one of them, the other follows; Half is half of the included angle (here %.3g deg)",
				2*by*perDegree))
		return false
	}
	return true
}

// joint checks that a section begins where the one before it ends.
func (k *checker) joint(at string, before, s *Section) {
	b := *before
	b.complete()
	if !b.round() || !s.round() || b.Channels != 1 || s.Channels != 1 || !(b.D2 > 0) || math.Abs(s.D1/b.D2-1) <= meet {
		return
	}
	seen, allowed := fmt.Sprintf("%.6g m", s.D1), fmt.Sprintf("%.6g m, the outlet of the section before", b.D2)
	switch {
	case s.Shape == Cone:
		k.Add(at+".D1", seen, allowed, "make the diameters meet")
	case s.D1 < b.D2:
		k.Add(at+".D1", seen, allowed, "put a Cone between the two; Half = pi/2 is a flat step")
	}
}

// The temperature of a block (K) that solvers take.
const minBlock, maxBlock = 250, 800

// CheckBlock says what is wrong with a block temperature (K) for a case, in the manner of Validate.
func (c *Case) CheckBlock(block float64) strict.Problems {
	k := &checker{}
	if k.Within("Block", block, minBlock, maxBlock, "K", "a temperature in kelvin: 215 degC is 488.15") &&
		block <= c.Filament.Inlet {
		k.Add("Block", fmt.Sprintf("%.6g K (%.4g degC)", block, unit.Celsius(block)),
			fmt.Sprintf("above Filament.Inlet = %.6g K", c.Filament.Inlet),
			"a block no warmer than the filament melts nothing")
	}
	return k.Problems
}
