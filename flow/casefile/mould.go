package casefile

import (
	"fmt"

	"meltload/flow/mould"
	"meltload/materials/unit"
)

// mould builds the mould of a case, nil if it has none.
func (b *builder) mould() *mould.Spec {
	in := b.f.Mould
	if in == nil {
		return nil
	}
	out := &mould.Spec{Name: in.Name, Flow: in.Flow * unit.MM3, Safety: in.Safety, NoFlowRange: in.NoFlowBand,
		SurfaceRange: in.WallBand,
		Open:         in.Open, Cycle: in.Cycle, Shots: in.Shots}
	out.Surface, out.Contact = unit.Kelvin(in.Wall), in.Contact
	if in.NoFlow != nil {
		out.NoFlow = unit.Kelvin(*in.NoFlow)
	}
	out.SolidCap = in.Cap
	out.Wall = b.wall(in)
	out.ContactRange = b.contacts(in)
	if out.Safety == 0 {
		out.Safety = mould.DefaultSafety
	} else if out.Safety < 1 {
		b.bad("mould.clamp_safety_factor", fmt.Sprint(in.Safety), "at least 1",
			"a clamp below the opening force lets melt out")
	}
	if out.Flow == 0 {
		out.Flow = b.f.Target.Flow * unit.MM3
	}
	if out.Flow == 0 {
		b.bad("mould.flow_mm3_s", "nothing", "a flow above 0, here or in target.flow_mm3_s", "say how fast to fill")
	}
	if in.Wall >= b.f.HotEnd.Block {
		b.bad("mould.mould_degC", fmt.Sprint(in.Wall), fmt.Sprintf("below hot_end.block_degC = %g", b.f.HotEnd.Block),
			"a mould as hot as the melt never sets")
	}
	if len(in.Elements) == 0 {
		b.bad("mould.element", "no element", "at least one [[mould.element]]",
			"describe the path from the nozzle to the end of the cavity")
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
			b.bad(p+".copies", fmt.Sprint(x.Copies), fmt.Sprintf("at least the %d of the element before", copies),
				"a flow that has divided does not join again")
		}
		copies = max(copies, e.Copies)
		if x.Cavity {
			cavities++
		}
		out.Elements = append(out.Elements, e)
	}
	if len(in.Elements) > 0 && cavities == 0 {
		b.bad("mould.element", "no cavity", "cavity = true on at least one element",
			"say which elements are the product")
	}
	return out
}

// wall builds the wall of a mould: a material by name, any of its numbers replaced.
func (b *builder) wall(in *mouldSpec) mould.Wall {
	w, _ := mould.WallOf(in.Material) // a bad name has been reported
	own := false
	for _, x := range []struct {
		v     *float64
		to    *float64
		scale float64
	}{{in.WallK, &w.K, 1}, {in.WallRhoC, &w.RhoC, 1}, {in.WallDepth, &w.Depth, unit.MM}} {
		if x.v != nil {
			*x.to = *x.v * x.scale
			own = own || x.to != &w.Depth
		}
	}
	if own {
		w.Name = "own"
		if b.doc.Has("mould.wall_material") {
			w.Name = in.Material + ", own numbers"
		}
	}
	w.AirT = unit.Kelvin(in.Air)
	if in.Back != nil {
		w.Air = *in.Back
	}
	return w
}

// contacts is the range of the contact: the default one reaches to the value of the case.
func (b *builder) contacts(in *mouldSpec) [2]float64 {
	r := [2]float64{in.Contacts[0], in.Contacts[1]}
	if !b.doc.Has("mould.contact_range_W_m2K") {
		return [2]float64{min(r[0], in.Contact), max(r[1], in.Contact)}
	}
	if r[1] < r[0] || in.Contact < r[0] || in.Contact > r[1] {
		b.bad("mould.contact_range_W_m2K", fmt.Sprint(in.Contacts),
			fmt.Sprintf("low end first, contact_W_m2K = %g between the two", in.Contact),
			"change the range or the value")
	}
	return r
}

// element builds one element: the keys its shape needs, and none it does not use.
func (b *builder) element(p string, x *mouldElement) mould.Element {
	e := mould.Element{Name: x.Name, Shape: mould.Shape(x.Shape), Copies: x.Copies, Cavity: x.Cavity}
	keys := []struct {
		name string
		v    *float64
		to   *float64
	}{{"diameter_mm", x.Diameter, &e.D1}, {"end_diameter_mm", x.End, &e.D2}, {"width_mm", x.Width, &e.Width},
		{"narrow_width_mm", x.Narrow, &e.Narrow}, {"thickness_mm", x.Height, &e.Height},
		{"length_mm", x.Length, &e.Length}}
	// y needed, o optional, n not used, in the order of the keys.
	use := map[string]string{"sprue": "yonnny", "round": "yonnny", "half-round": "ynnnny", "trapezoid": "nnyyyy",
		"rectangle": "nnynyy", "strip": "nnynyy", "disc": "yynnyn"}[x.Shape]
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
		b.bad(p+".end_diameter_mm", fmt.Sprint(*x.End), fmt.Sprintf("more than diameter_mm = %g", *x.Diameter),
			"the rim lies outside the gate")
	}
	if e.Shape == mould.StripGap && x.Width != nil && x.Height != nil && e.Height > e.Width {
		b.bad(p+".thickness_mm", fmt.Sprint(*x.Height), fmt.Sprintf("at most width_mm = %g", *x.Width),
			"the thickness is the shorter side; a thick one is a rectangle")
	}
	return e
}
