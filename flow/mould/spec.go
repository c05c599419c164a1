package mould

import (
	"meltload/flow"
	"meltload/thermal"
)

// Spec is a mould to fill and how: what a case file or a Go program asks for.
type Spec struct {
	Mould
	Name       string
	Surface    float64 // K, of the mould before the melt comes
	Effusivity float64 // W s^0.5/(m2 K) of the mould, 0 to leave the surface at its temperature
	Flow       float64 // m3/s, set
	Safety     float64 // of the clamp
}

// SetSurface sets the temperature (K) of the mould and from it that of the wall in contact with melt as hot as the
// block (K).
func (m *Spec) SetSurface(c *flow.Case, block, surface float64) {
	m.Surface, m.Wall = surface, surface
	if m.Effusivity > 0 {
		p := c.Material
		e := thermal.Effusivity(p.Conductivity.At(block), 1/p.Density.Volume(block, 0), p.Heat.Cp.At(block))
		m.Wall = thermal.ContactTemperature(e, block, m.Effusivity, surface)
	}
}

// Clone returns a copy that shares nothing with m.
func (m *Spec) Clone() *Spec {
	if m == nil {
		return nil
	}
	x := *m
	x.Elements = append([]Element(nil), m.Elements...)
	return &x
}
