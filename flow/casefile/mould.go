package casefile

import (
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/mould"
	"meltload/materials"
	"meltload/materials/unit"
)

// mould builds the mould of a case, nil if it has none.
func (b *builder) mould(m *materials.Material) *mould.Spec {
	in := b.f.Mould
	if in == nil {
		return nil
	}
	out := &mould.Spec{Name: in.Name, Surface: unit.Kelvin(in.Wall), Flow: in.Flow * unit.MM3, Safety: in.Safety}
	if out.Safety == 0 {
		out.Safety = 1.5
	} else if out.Safety < 1 {
		b.bad("mould.clamp_safety_factor", fmt.Sprint(in.Safety), "at least 1", "a clamp below the opening force lets melt out")
	}
	if out.Flow == 0 {
		out.Flow = b.f.Target.Flow * unit.MM3
	}
	if out.Flow == 0 {
		b.bad("mould.flow_mm3_s", "nothing", "a flow above 0, here or in target.flow_mm3_s", "say how fast to fill")
	}
	out.H = math.Inf(1)
	if in.Contact != nil {
		out.H = *in.Contact
	}
	out.Effusivity = in.Effusivity
	if m != nil {
		out.SetSurface(&flow.Case{Material: m}, unit.Kelvin(b.f.HotEnd.Block), out.Surface)
	}
	if in.Wall >= b.f.HotEnd.Block {
		b.bad("mould.mould_degC", fmt.Sprint(in.Wall), fmt.Sprintf("below hot_end.block_degC = %g", b.f.HotEnd.Block), "a mould as hot as the melt never sets")
	}
	if len(in.Elements) == 0 {
		b.bad("mould.element", "no element", "at least one [[mould.element]]", "describe the path from the nozzle to the end of the cavity")
	}
	b.most("mould.element", len(in.Elements), maxElements)
	copies, cavities := 1, 0
	for i := range in.Elements {
		x := &in.Elements[i]
		p := fmt.Sprintf("mould.element[%d]", i+1)
		e := b.element(p, x)
		if e.Name == "" {
			e.Name = fmt.Sprintf("%s %d", x.Shape, i+1)
		}
		if x.Copies == 0 {
			e.Copies = copies
		}
		if e.Copies < copies {
			b.bad(p+".copies", fmt.Sprint(x.Copies), fmt.Sprintf("at least the %d of the element before", copies), "a flow that has divided does not join again")
		}
		copies = max(copies, e.Copies)
		if x.Cavity {
			cavities++
		}
		out.Elements = append(out.Elements, e)
	}
	if len(in.Elements) > 0 && cavities == 0 {
		b.bad("mould.element", "no cavity", "cavity = true on at least one element", "say which elements are the product")
	}
	return out
}

// element builds one element: the keys its shape needs, and none it does not use.
func (b *builder) element(p string, x *mouldElement) mould.Element {
	e := mould.Element{Name: x.Name, Shape: mould.Shape(x.Shape), Copies: x.Copies, Cavity: x.Cavity}
	keys := []struct {
		name string
		v    *float64
		to   *float64
	}{{"diameter_mm", x.Diameter, &e.D1}, {"end_diameter_mm", x.End, &e.D2}, {"width_mm", x.Width, &e.Width}, {"narrow_width_mm", x.Narrow, &e.Narrow}, {"thickness_mm", x.Height, &e.Height}, {"length_mm", x.Length, &e.Length}}
	// y needed, o optional, n not used, in the order of the keys.
	use := map[string]string{"sprue": "yonnny", "round": "yonnny", "half-round": "ynnnny", "trapezoid": "nnyyyy", "rectangle": "nnynyy", "strip": "nnynyy", "disc": "yynnyn"}[x.Shape]
	if use == "" {
		return e
	}
	for i, k := range keys {
		switch {
		case k.v != nil && use[i] == 'n':
			b.bad(p+"."+k.name, fmt.Sprint(*k.v), "not used by a "+x.Shape, "remove it or change the shape")
		case k.v == nil && use[i] == 'y':
			b.bad(p+"."+k.name, "nothing", "a number in mm", fmt.Sprintf("a %s needs this key", x.Shape))
		case k.v != nil:
			*k.to = *k.v * unit.MM
		}
	}
	if (e.Shape == mould.Sprue || e.Shape == mould.Round) && x.End == nil {
		e.D2 = e.D1
	}
	if e.Shape == mould.DiscGap && x.Diameter != nil && x.End != nil && e.D2 <= e.D1 {
		b.bad(p+".end_diameter_mm", fmt.Sprint(*x.End), fmt.Sprintf("more than diameter_mm = %g", *x.Diameter), "the rim lies outside the gate")
	}
	if e.Shape == mould.StripGap && x.Width != nil && x.Height != nil && e.Height > e.Width {
		b.bad(p+".thickness_mm", fmt.Sprint(*x.Height), fmt.Sprintf("at most width_mm = %g", *x.Width), "the thickness is the shorter side; a thick one is a rectangle")
	}
	return e
}
