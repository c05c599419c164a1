package mould

import (
	"math"

	"meltload/materials"
	"meltload/materials/num"
)

// Shrinkage is how much shorter a part is than its cavity, as shares.
type Shrinkage struct {
	Low, High float64
	// Published says that the range is one of published tables, for parts moulded under pressure; else it follows from
	// the volume of the melt where it stands still: Low with the pressure that can be held, High without.
	Published bool
	// Pressure (Pa) to hold until the gate freezes for no shrinkage; 0 where the volume under pressure is not known,
	// +Inf where none that the law covers is enough.
	Pressure float64
}

// shrinkTop is the highest pressure (Pa) looked at: that of injection presses.
const shrinkTop = 300e6

// Shrink returns the shrinkage of a part whose melt is held at a pressure (Pa) until it stands still at the no-flow
// temperature (K). An amorphous polymer with a published equation of state shrinks, per length, by
//
//	S = 1 - (v(25 degC, 0) / v(no-flow, p))^(1/3)
//
// equal in all directions (oriented and clamped parts are not). Others have the range of the record, false where it has
// none.
func Shrink(m *materials.Material, noFlow, held float64) (Shrinkage, bool) {
	d := &m.Density
	if m.SemiCrystalline() || d.Uniform || d.Tait == nil && d.MeltTait == nil {
		return Shrinkage{Low: m.Shrinkage[0], High: m.Shrinkage[1], Published: true}, m.Shrinkage[1] > 0
	}
	room := d.Volume(298.15, 0)
	at := func(p float64) float64 { return 1 - math.Cbrt(room/d.Volume(noFlow, p)) }
	s := Shrinkage{Low: math.Max(0, at(held)), High: math.Max(0, at(0)), Pressure: math.Inf(1)}
	if at(shrinkTop) < 0 {
		if p, err := num.Root(at, 0, shrinkTop, 1e3); err == nil {
			s.Pressure = p
		}
	}
	return s, true
}
