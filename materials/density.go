package materials

import (
	"math"

	"meltload/materials/unit"
)

// Tait is the two-domain Tait equation of state,
//
//	v = v0 (1 - C ln(1 + p/B)),  v0 = b1 + b2 (T - b5),  B = b3 exp(-b4 (T - b5)),  C = 0.0894,
//
// with melt constants above Tt = b5 + b6 p and solid constants below. T in K,
// p in Pa, v in m3/kg. Form from memory, as in the moulding textbooks.
type Tait struct {
	B5, B6                                 float64
	B1m, B2m, B3m, B4m, B1s, B2s, B3s, B4s float64
}

const taitC = 0.0894

// Volume returns the specific volume (m3/kg) at T (K) and p (Pa, >= 0).
func (t *Tait) Volume(T, p float64) float64 {
	b1, b2, b3, b4 := t.B1s, t.B2s, t.B3s, t.B4s
	if T > t.B5+t.B6*p {
		b1, b2, b3, b4 = t.B1m, t.B2m, t.B3m, t.B4m
	}
	x := T - t.B5
	return (b1 + b2*x) * (1 - taitC*math.Log1p(p/(b3*math.Exp(-b4*x))))
}

// MeltTait is the one-domain melt form of the Tait equation,
//
//	v = (A0 + A1 t + A2 t^2)(1 - C ln(1 + p/B)),  B = B0 exp(-B1 t),
//
// t in degC, p in Pa. Source: R. P. Danner, M. S. High, Handbook of Polymer
// Solution Thermodynamics (1993), Tait table.
type MeltTait struct{ A0, A1, A2, B0, B1, C float64 }

// Volume returns the specific volume of the melt in m3/kg at T (K) and p (Pa).
func (m *MeltTait) Volume(T, p float64) float64 {
	t := unit.Celsius(T)
	return (m.A0 + m.A1*t + m.A2*t*t) * (1 - m.C*math.Log1p(p/(m.B0*math.Exp(-m.B1*t))))
}

// Density is what a material knows about its specific volume.
type Density struct {
	Solid float64 // kg/m3 at room temperature: meters the filament
	Melt  float64 // kg/m3 at MeltT
	MeltT float64 // K
	Glass float64 // K: below it the solid value holds
	// Tait and MeltTait, where published, give the compressibility; nil otherwise.
	Tait     *Tait
	MeltTait *MeltTait
	// Uniform, if true, holds the solid density everywhere: the check fluids of this project's tests.
	Uniform bool
}

// Volume returns the specific volume in m3/kg at T (K) and p (Pa). At zero
// pressure it is the solid value up to the glass transition and then a
// straight line through the melt value at MeltT (an assumption between two
// data); pressure enters by the Tait factor where one is published.
func (d *Density) Volume(T, p float64) float64 {
	vs := 1 / d.Solid
	if d.Uniform {
		return vs
	}
	v := vs
	if T > d.Glass {
		v += (1/d.Melt - vs) * (T - d.Glass) / (d.MeltT - d.Glass)
	}
	if p <= 0 {
		return v
	}
	switch {
	case d.Tait != nil:
		return v * d.Tait.Volume(T, p) / d.Tait.Volume(T, 0)
	case d.MeltTait != nil:
		return v * d.MeltTait.Volume(T, p) / d.MeltTait.Volume(T, 0)
	}
	return v
}

// Compressibility returns -dln(v)/dp in 1/Pa at T (K) and p (Pa), and whether
// it rests on published data; without them 1e-9 1/Pa is returned (assumed: the
// order of polymer melts, from memory).
func (d *Density) Compressibility(T, p float64) (beta float64, published bool) {
	if d.Tait == nil && d.MeltTait == nil {
		return 1e-9, false
	}
	const dp = 1e5
	return -(math.Log(d.Volume(T, p+dp)) - math.Log(d.Volume(T, p))) / dp, true
}
