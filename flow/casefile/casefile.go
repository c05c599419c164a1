package casefile

import (
	"crypto/sha256"
	_ "embed" // the built-in case
	"encoding/hex"
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"strings"

	"meltload/flow"
	"meltload/flow/match"
	"meltload/flow/rheometry"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/thermal"
)

// BuiltIn is the invented case that runs when no file is given; it is also the
// commented starter. Its scenario and all of its numbers are made up.
//
//go:embed builtin.toml
var BuiltIn []byte

// BuiltInName stands for the file name of the built-in case.
const BuiltInName = "built-in case"

// Invented returns the built-in case.
func Invented() *Case {
	c, ps := Parse(BuiltInName, BuiltIn)
	if len(ps) > 0 { // a test keeps this from being
		panic(ps)
	}
	return c
}

// Case is a validated set-up in SI with what only a file has: its name, hash, text of the inputs and remarks on them.
type Case struct {
	setup.Setup
	File       string
	Hash       string  // SHA-256 of the text, first 12 hex digits
	Refs       []Ref   // files of the feeder and the hot end that it names
	RateFactor float64 // what a melt flow rate puts on the viscosity law; 1 without one
	Inputs     []Input
	Notes      []materials.Warning // remarks on the input itself

	text     []byte // as read; nil for a case joined from several files
	sections []int  // number in the file of each section of the set-up, 0 for one that was put in
	points   []int  // number in the file of each point of the feeder, by rising speed; nil where points were pooled
}

// Input is one line of the table of inputs.
type Input struct {
	Key     string `json:"key"`
	Value   string `json:"value"`
	Unit    string `json:"unit"`
	Default bool   `json:"default"`
}

// Hash stamps a text: SHA-256, first 12 hex digits.
func Hash(src []byte) string {
	sum := sha256.Sum256(src)
	return hex.EncodeToString(sum[:])[:12]
}

// Read reads a case file.
func Read(file string) (*Case, error) {
	src, err := strict.ReadFile(file, nil, strict.MaxText)
	if err != nil {
		return nil, err
	}
	c, ps := Parse(file, src)
	return c, ps.Err()
}

// Parse reads a case from text; file names it in messages and locates a material file, and the files of a feeder and
// a hot end, beside it.
func Parse(file string, src []byte) (*Case, strict.Problems) {
	c, ps := parsePart(file, src).build()
	if c != nil {
		c.text = src
	}
	return c, ps
}

// Rewritten is the text that the case was read from with the edits written into it, each with a remark beside it, as by
// Patch. Errors: a case that has no text of its own; a text that no longer makes a case, as strict.Problems.
func (c *Case) Rewritten(edits []vary.Edit, remark string) ([]byte, error) {
	if c.text == nil {
		return nil, fmt.Errorf("casefile: %s has no text to write into", c.File)
	}
	text, _, err := Patch(c.File, c.text, c.Edits(edits), remark)
	return text, err
}

// build makes the case of a whole file, or lists all that is wrong with it.
func (p *Part) build() (*Case, strict.Problems) {
	f := p.f
	if !p.doc.Has("mould") { // its defaults are for those who have one
		f.Mould = nil
	}
	b := builder{f: &f, doc: p.doc, found: p.all[:len(p.all):len(p.all)], decoded: len(p.all)}
	c := b.build()
	if len(b.found) == 0 {
		// What the checks above let through, by the field of the set-up: a line of the file cannot be named.
		if ps, ok := c.Validate().(strict.Problems); ok {
			for _, x := range ps {
				x.File = p.File
				b.found = append(b.found, x)
			}
		}
	}
	if len(b.found) > 0 {
		b.found.Sort()
		return nil, b.found
	}
	c.File, c.Hash, c.Refs = p.File, p.Hash, p.ref
	c.Inputs = inputs(&f, p.doc)
	return c, nil
}

type builder struct {
	f       *file
	doc     *strict.Doc
	found   strict.Problems
	decoded int // how many of found came from decoding
	notes   []materials.Warning
	alone   bool // a feeder by itself: its polymer need not be known
}

// sound says that decoding found nothing wrong under any of the paths, so that what depends on them can be checked
// further.
func (b *builder) sound(paths ...string) bool {
	if !b.doc.Whole {
		return false
	}
	for _, p := range b.found[:b.decoded] {
		for _, q := range paths {
			if strings.HasPrefix(p.Field, q) || strings.HasPrefix(q, p.Field) {
				return false
			}
		}
	}
	return true
}

func (b *builder) bad(path, seen, allowed, advice string) {
	b.found = append(b.found, b.doc.Problem(path, seen, allowed, advice))
}

func (b *builder) note(code, format string, a ...any) {
	b.notes = append(b.notes, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
}

// build makes the case; every cross-field check is here or in the builders it calls.
func (b *builder) build() *Case {
	f := b.f
	c := &Case{RateFactor: 1}
	c.Title = f.Title
	if b.sound("filament.material", "material") {
		c.Material = b.material(c)
	}
	c.Filament = flow.Filament{Diameter: f.Filament.Diameter * unit.MM, Tolerance: f.Filament.Tolerance * unit.MM,
		Inlet: unit.Kelvin(f.Filament.Inlet)}
	c.Path = flow.Path{Drag: f.Path.Drag, Bend: unit.Deg(f.Path.Bend), Friction: f.Path.Friction}
	c.Block = unit.Kelvin(f.HotEnd.Block)
	c.Contact = f.HotEnd.Contact
	c.Stock = flow.Stock{Stick: f.HotEnd.Stick, Eccentricity: f.HotEnd.Eccentric}
	if b.sound("filament.diameter_mm", "filament.tolerance_mm", "hot_end") {
		c.HotEnd, c.sections = b.hotEnd()
	}
	if b.sound("filament.diameter_mm", "feeder") {
		c.Feeder = b.feeder(c.Material)
	}
	c.Samples, c.Seed = f.Spread.Samples, uint64(f.Spread.Seed)
	l := f.Limits
	c.Limits = match.Limits{Safety: l.Safety, Core: l.Core == "limit", Window: l.Window, MountMax: l.Mount,
		MinFlow: l.MinFlow * unit.MM3, MaxFlow: l.MaxFlow * unit.MM3, Residence: l.Residence}
	if b.sound("limits") && l.MaxFlow <= l.MinFlow {
		b.bad("limits.max_flow_mm3_s", fmt.Sprint(l.MaxFlow), fmt.Sprintf("more than min_flow_mm3_s = %g", l.MinFlow),
			"widen the search")
	}
	if b.sound("hot_end.block_degC", "filament.inlet_degC") && f.HotEnd.Block <= f.Filament.Inlet {
		b.bad("hot_end.block_degC", fmt.Sprint(f.HotEnd.Block), fmt.Sprintf("above filament.inlet_degC = %g",
			f.Filament.Inlet), "a block no warmer than the filament melts nothing")
	}
	if c.Material != nil && b.sound("filament.inlet_degC") {
		if top := flow.SolidTo(c.Material); c.Filament.Inlet > top {
			b.bad("filament.inlet_degC", fmt.Sprint(f.Filament.Inlet), fmt.Sprintf("at most %.4g for %s",
				unit.Celsius(top), c.Material.ID), flow.SoftInlet)
		}
	}
	c.Target = f.Target.Flow * unit.MM3
	if b.sound("target.flow_mm3_s", "limits") && f.Target.Flow > l.MaxFlow {
		b.bad("target.flow_mm3_s", fmt.Sprint(f.Target.Flow), fmt.Sprintf("at most limits.max_flow_mm3_s = %g",
			l.MaxFlow), "raise the end of the search or lower the target")
	}
	c.Line = flow.Line{Height: f.Target.Layer * unit.MM, Width: f.Target.Width * unit.MM}
	if l, _, ok := c.PrintLine(); ok && l.Height > l.Width && b.sound("target", "hot_end") {
		b.bad("target.layer_height_mm", fmt.Sprintf("%.4g", l.Height/unit.MM),
			fmt.Sprintf("at most the width of the line, %.4g mm", l.Width/unit.MM), "lower the layer or give "+
				"line_width_mm")
	}
	if t := f.Target.Temps; t != nil && b.sound("target.temperatures_degC") {
		c.Temps = [2]float64{unit.Kelvin(t[0]), unit.Kelvin(t[1])}
		if t[1] <= t[0] {
			b.bad("target.temperatures_degC", fmt.Sprint(t), "low end first, then a higher one", "swap the ends")
		}
	} else if c.Material != nil {
		c.Temps = c.Material.Window
	}
	if b.sound("mould", "filament", "target.flow_mm3_s", "hot_end.block_degC") {
		c.Mould = b.mould()
	}
	c.points = pointOrder(c.Feeder, f.Feeder.Points, c.Area())
	if b.sound("spread") {
		b.doubts(c)
	}
	c.Notes = b.notes
	return c
}

func (b *builder) material(c *Case) *materials.Material {
	f := b.f
	var m *materials.Material
	var err error
	switch {
	case f.Filament.Material != "" && f.Filament.File != "":
		b.bad("filament.material_file", f.Filament.File, "either material or material_file", "remove one of the two")
		return nil
	case f.Filament.File != "":
		name := f.Filament.File
		if !filepath.IsAbs(name) {
			name = filepath.Join(filepath.Dir(b.doc.File), name)
		}
		m, err = materials.Load(name)
		if ps, ok := err.(strict.Problems); ok {
			b.found = append(b.found, ps...)
			return nil
		}
		if err != nil {
			b.bad("filament.material_file", fmt.Sprintf("%q", f.Filament.File), "a readable material record",
				err.Error())
			return nil
		}
	case f.Filament.Material != "":
		m, err = materials.Get(f.Filament.Material)
		if err != nil {
			advice := "choose one, or give material_file"
			if n := strict.Nearest(f.Filament.Material, materials.Names()); n != "" {
				advice = fmt.Sprintf("did you mean %q?", n)
			}
			b.bad("filament.material", fmt.Sprintf("%q", f.Filament.Material), strings.Join(materials.Names(), ", "),
				advice)
			return nil
		}
	default:
		b.bad("filament.material", "nothing", strings.Join(materials.Names(), ", "), "name a material, or give "+
			"material_file")
		return nil
	}
	a := f.Material
	if a == nil {
		return m
	}
	given := 0
	for _, p := range []*float64{a.Rate, a.RateT, a.RateKg} {
		if p != nil {
			given++
		}
	}
	switch {
	case given == 3:
		m.Viscosity, c.RateFactor = rheometry.ISO1133.ScaleToMFR(m, unit.Kelvin(*a.RateT), *a.RateKg, *a.Rate)
		b.note("scaled-viscosity", "the viscosity law was multiplied by %.3g to meet a melt flow rate of %g g/10 min "+
			"(%g degC, %g kg); the entrance loss of the test is neglected", c.RateFactor, *a.Rate, *a.RateT, *a.RateKg)
	case given > 0:
		b.bad("material", fmt.Sprintf("%d of 3 melt flow rate keys", given), "all of melt_flow_rate_g_10min, "+
			"melt_flow_rate_degC, melt_flow_rate_kg", "add the missing ones")
	}
	if a.Factor != nil {
		c.ViscosityFactor = *a.Factor
	}
	if a.Entrance != nil {
		c.EntranceFactor = *a.Entrance
	}
	switch {
	case a.NoFlow == nil:
	case m.SemiCrystalline():
		b.bad("material.flow_point_degC", fmt.Sprint(*a.NoFlow), "amorphous materials only",
			"remove it: "+m.Name+" flows where it melts")
	default:
		m.FirstFlow = unit.Kelvin(*a.NoFlow)
	}
	if a.Cap != nil {
		m.Viscosity.Cap = *a.Cap
	}
	return m
}

// hotEnd builds the hot end, and says which section of the file each of its sections is.
func (b *builder) hotEnd() (out flow.HotEnd, number []int) {
	h := b.f.HotEnd
	out = flow.HotEnd{Name: h.Name, Mass: h.Mass / 1000, Cost: h.Cost, TipDrop: h.Tip, HeatedShare: h.Heated,
		Block: thermal.Block{Capacity: h.Capacity, Loss: h.Loss, Ambient: unit.Kelvin(h.Ambient), Power: h.Heater}}
	if len(h.Sections) == 0 {
		b.bad("hot_end.section", "no section", "at least one [[hot_end.section]]", "describe the melt path from the "+
			"cold side to the exit")
	}
	b.most("hot_end.section", len(h.Sections), maxSections)
	prev := 0.0 // outlet diameter of the section before, 0 if not round
	for i := range h.Sections {
		p := fmt.Sprintf("hot_end.section[%d]", i+1)
		s, ok := b.section(p, &h.Sections[i])
		if s.Name == "" {
			s.Name = fmt.Sprintf("%s %d", h.Sections[i].Shape, i+1)
		}
		if !ok {
			prev = 0
			continue
		}
		round := s.Shape == flow.Tube || s.Shape == flow.Cone
		if i == 0 && round && !b.f.HotEnd.Stick && s.D1 <= b.f.Filament.Diameter*unit.MM {
			b.bad(p+".diameter_mm", fmt.Sprint(round6(s.D1/unit.MM)), fmt.Sprintf("more than filament.diameter_mm = %g",
				b.f.Filament.Diameter), "the filament must fit the first section, with a gap")
		}
		if round && prev > 0 && s.Channels == 1 {
			switch {
			case s.Shape == flow.Cone && math.Abs(s.D1/prev-1) > 0.01:
				b.bad(p+".diameter_mm", fmt.Sprint(s.D1/unit.MM), fmt.Sprintf("the outlet of the section before, %g mm",
					round6(prev/unit.MM)), "make the diameters meet")
			case s.Shape == flow.Tube && s.D1 < prev*0.99:
				// An abrupt narrowing is a flat entrance; it is not free.
				out.Sections = append(out.Sections, flow.Section{Name: "step to " + s.Name, Shape: flow.Cone, D1: prev,
					D2: s.D1, Half: math.Pi / 2, Channels: 1, Wall: flow.Wall{Start: s.Wall.Start, End: s.Wall.Start,
						Fixed: s.Wall.Fixed}, H: s.H})
				number = append(number, 0)
				b.note("flat-step", "section %q is narrower than the one before it and no cone lies between: a flat "+
					"180 deg step was put in", s.Name)
			case s.D1 > mostWidening*prev:
				b.note("sudden-widening", "section %q is %.3g mm wide and the one before it ends at %.3g mm: a path "+
					"that widens so much towards the exit is rare; check diameter_mm (the force is computed as it "+
					"stands, and the widening itself is taken to cost none)", s.Name, s.D1/unit.MM, prev/unit.MM)
			}
		}
		out.Sections, number = append(out.Sections, s), append(number, i+1)
		prev = 0
		if round && s.Channels == 1 {
			prev = s.D2
		}
	}
	return out, number
}

// mostWidening is by how much a section may be wider than the end of the one before it without a remark (assumed).
const mostWidening = 2

// The most sections and elements that a path may have: far more than one is made of, and few enough to be computed in
// no time.
const maxSections, maxElements = 40, 40

// most refuses more than a number of tables of one kind.
func (b *builder) most(field string, n, limit int) {
	if n > limit {
		b.bad(field, fmt.Sprintf("%d of them", n), fmt.Sprintf("at most %d", limit), "leave out what does not matter, "+
			"or join equal ones")
	}
}

func round6(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// section builds one section; ok is false if it cannot be used for further checks.
func (b *builder) section(p string, in *section) (flow.Section, bool) {
	before := len(b.found)
	s := flow.Section{Name: in.Name, Channels: max(1, in.Channels), H: b.f.HotEnd.Contact}
	if in.Contact != nil {
		s.H = *in.Contact
	}
	switch {
	case in.Offset != nil && in.WallT != nil:
		b.bad(p+".wall_degC", fmt.Sprint(in.WallT), "either wall_offset_K or wall_degC", "remove one of the two")
	case in.Offset != nil:
		s.Wall = flow.Wall{Start: in.Offset[0], End: in.Offset[1]}
	case in.WallT != nil:
		s.Wall = flow.Wall{Start: unit.Kelvin(in.WallT[0]), End: unit.Kelvin(in.WallT[1]), Fixed: true}
	}
	need := func(key string, v *float64) float64 {
		if v == nil {
			b.bad(p+"."+key, "nothing", "a number in mm", fmt.Sprintf("a %s needs this key", in.Shape))
			return 1
		}
		return *v * unit.MM
	}
	extra := func(vs map[string]*float64) {
		keys := make([]string, 0, len(vs))
		for k := range vs {
			keys = append(keys, k)
		}
		sort.Strings(keys)
		for _, k := range keys {
			if vs[k] != nil {
				b.bad(p+"."+k, fmt.Sprint(*vs[k]), "not used by a "+in.Shape, "remove it or change the shape")
			}
		}
	}
	switch in.Shape {
	case "tube":
		s.Shape = flow.Tube
		s.D1 = need("diameter_mm", in.Diameter)
		s.D2 = s.D1
		s.Length = need("length_mm", in.Length)
		extra(map[string]*float64{"end_diameter_mm": in.End, "inner_diameter_mm": in.Inner, "width_mm": in.Width,
			"gap_mm": in.Gap, "angle_deg": in.Angle})
	case "cone":
		s.Shape = flow.Cone
		s.D1, s.D2 = need("diameter_mm", in.Diameter), need("end_diameter_mm", in.End)
		extra(map[string]*float64{"inner_diameter_mm": in.Inner, "width_mm": in.Width, "gap_mm": in.Gap})
		dr := math.Abs(s.D1-s.D2) / 2
		if dr == 0 {
			b.bad(p+".end_diameter_mm", fmt.Sprint(s.D2/unit.MM), "another diameter than the inlet's",
				"use a tube where the diameter does not change")
			break
		}
		switch {
		case in.Angle != nil && in.Length != nil:
			b.bad(p+".angle_deg", fmt.Sprint(*in.Angle), "either angle_deg or length_mm", "remove one of the two")
		case in.Angle != nil:
			s.Half = unit.Deg(*in.Angle / 2)
			if *in.Angle < 180 {
				s.Length = dr / math.Tan(s.Half)
			}
		case in.Length != nil:
			s.Length = *in.Length * unit.MM
			s.Half = math.Atan(dr / s.Length)
		default:
			b.bad(p+".angle_deg", "nothing", "angle_deg or length_mm", "a cone needs one of them")
		}
	case "slit":
		s.Shape = flow.Slit
		s.Width, s.Gap, s.Length = need("width_mm", in.Width), need("gap_mm", in.Gap), need("length_mm", in.Length)
		extra(map[string]*float64{"diameter_mm": in.Diameter, "end_diameter_mm": in.End, "inner_diameter_mm": in.Inner,
			"angle_deg": in.Angle})
		if s.Gap > s.Width {
			b.bad(p+".gap_mm", fmt.Sprint(s.Gap/unit.MM), fmt.Sprintf("at most width_mm = %g", s.Width/unit.MM),
				"the gap is the shorter side")
		}
	case "annulus":
		s.Shape = flow.Ring
		s.D1, s.D2, s.Length = need("diameter_mm", in.Diameter), need("inner_diameter_mm", in.Inner), need("length_mm",
			in.Length)
		extra(map[string]*float64{"end_diameter_mm": in.End, "width_mm": in.Width, "gap_mm": in.Gap,
			"angle_deg": in.Angle})
		if in.Diameter != nil && in.Inner != nil && s.D2 >= s.D1 {
			b.bad(p+".inner_diameter_mm", fmt.Sprint(s.D2/unit.MM), fmt.Sprintf("less than diameter_mm = %g",
				s.D1/unit.MM), "the core must fit the bore")
		}
	}
	return s, len(b.found) == before
}
