package casefile

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"meltload/flow/feeder"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// A library of one's own: a file may hold only a feeder or only a hot end, and a case names it by path with feeder_file
// and
// hot_end_file. What the case itself says under [feeder] or [hot_end] goes over what the file says; an array of
// tables of the case ([[feeder.point]], [[hot_end.section]]) takes the place of the file's. Materials have records of
// their own, filament.material_file.

// The top-level tables that a file of its own may hold.
const (
	feederTable = "feeder"
	hotEndTable = "hot_end"
)

// Ref is a file that went into a case, with the hash of its text.
type Ref struct{ File, Hash string }

// Part is a file that holds a feeder, a hot end, or a whole case, read but not yet built.
type Part struct {
	Ref
	f   file
	doc *strict.Doc
	ps  strict.Problems // what is wrong with it, missing tables left out
	all strict.Problems // the same with what a whole case lacks
	ref []Ref           // files that it names
}

// ReadPart reads a file that holds a feeder, a hot end or a whole case. Errors: the file cannot be read, or
// everything that is wrong with it.
func ReadPart(name string) (*Part, error) {
	src, err := strict.ReadFile(name, nil, strict.MaxText)
	if err != nil {
		return nil, err
	}
	return ParsePart(name, src)
}

// ParsePart is ReadPart of a text.
func ParsePart(name string, src []byte) (*Part, error) {
	p := parsePart(name, src)
	if len(p.ps) > 0 {
		p.ps.Sort()
		return nil, p.ps
	}
	return p, nil
}

// parsePart decodes a text and lays what the files that it names hold under it.
func parsePart(name string, src []byte) *Part {
	p := &Part{Ref: Ref{name, Hash(src)}, f: defaults()}
	p.doc, p.all = strict.Decode(name, src, &p.f)
	renamed(p.all)
	if p.f.FeederFile != "" || p.f.HotEndFile != "" {
		p.layer(name, src)
	}
	for _, x := range p.all {
		if x.Seen != "nothing" || x.File != name ||
			x.Field != "hot_end.block_degC" && !slices.Contains(lent, x.Field) {
			p.ps = append(p.ps, x)
		}
	}
	if len(p.ps) == 0 && !p.HasFeeder() && !p.HasHotEnd() {
		p.ps = append(p.ps, strict.Problem{File: name, Seen: "neither a feeder nor a hot end",
			Allowed: "[feeder], [hot_end], or both", Advice: "name a case, a feeder's file or a hot end's"})
	}
	return p
}

// layer reads the files that a case names and lays them under its own text.
func (p *Part) layer(name string, src []byte) {
	var under []*Part
	var found strict.Problems
	under = append(under, p.named(p.f.FeederFile, "feeder_file", feederTable, &found),
		p.named(p.f.HotEndFile, "hot_end_file", hotEndTable, &found))
	over := defaults()
	doc := p.doc
	for i, u := range under {
		if u == nil {
			continue
		}
		if i == 0 {
			over.Feeder = u.feeder(p.f.Filament.Diameter)
		} else {
			over.HotEnd = u.f.HotEnd
		}
		p.ref = append(append(p.ref, u.Ref), u.ref...)
		doc = doc.Over(u.doc.Only([]string{feederTable, hotEndTable}[i]))
	}
	// The text of the case once more, over what it names.
	_, ps := strict.Decode(name, src, &over)
	renamed(ps)
	for _, x := range ps {
		// What is missing in the text but there in the file is not missing; a table that cannot be read has been
		// reported.
		lost := x.Field == feederTable && p.f.FeederFile != "" || x.Field == hotEndTable && p.f.HotEndFile != ""
		if x.Seen == "nothing" && (doc.Has(x.Field) || lost) {
			continue
		}
		found = append(found, x)
	}
	if p.f.HotEndFile != "" && under[1] != nil && !doc.Has("hot_end.block_degC") && !p.doc.Holds(hotEndTable) {
		found = append(found, doc.Problem("hot_end.block_degC", "nothing", "50 to 500 degC", "add this key"))
	}
	p.f, p.doc, p.all = over, doc, found
}

// named reads a file that a key of the case names, and checks that it holds the table; nil if not.
func (p *Part) named(file, key, table string, found *strict.Problems) *Part {
	if file == "" {
		return nil
	}
	name := file
	if !filepath.IsAbs(name) {
		name = filepath.Join(filepath.Dir(p.File), name)
	}
	src, err := strict.ReadFile(name, nil, strict.MaxText)
	if err != nil {
		if ps, ok := err.(strict.Problems); ok {
			*found = append(*found, ps...)
			return nil
		}
		why := err.Error()
		if os.IsNotExist(err) {
			why = "there is no such file; the path is taken from the folder of the case"
		}
		*found = append(*found, p.doc.Problem(key, fmt.Sprintf("%q", file), "a readable file with ["+table+"]", why))
		return nil
	}
	u := &Part{Ref: Ref{name, Hash(src)}, f: defaults()}
	u.doc, u.all = strict.Decode(name, src, &u.f)
	renamed(u.all)
	for _, x := range u.all { // only its own table counts, and its block temperature may come from the case
		if (x.Field == "" || x.Field == table || strings.HasPrefix(x.Field, table+".") ||
			strings.HasPrefix(x.Field, table+"[")) &&
			!(x.Seen == "nothing" && x.Field == "hot_end.block_degC") || x.Seen == "an unknown key" {
			*found = append(*found, x)
		}
	}
	if u.f.FeederFile != "" || u.f.HotEndFile != "" {
		*found = append(*found, u.doc.Problem(map[bool]string{true: "feeder_file",
			false: "hot_end_file"}[u.f.FeederFile != ""], "a file that names another", "a file with ["+table+"] of "+
			"its own", "name that file in the case"))
		return nil
	}
	if !u.doc.Whole || !u.doc.Holds(table) {
		return nil
	}
	return u
}

// HasFeeder tells whether the file holds a feeder, or names one.
func (p *Part) HasFeeder() bool { return p.doc.Holds(feederTable) }

// HasHotEnd tells whether the file holds a hot end, or names one.
func (p *Part) HasHotEnd() bool { return p.doc.Holds(hotEndTable) }

// Whole tells whether the file is a whole case: nothing is missing.
func (p *Part) Whole() bool { return len(p.all) == 0 }

// FeederName is the name of the feeder; that of the file where it has none.
func (p *Part) FeederName() string { return p.name("feeder.name", p.f.Feeder.Name) }

// HotEndName is the name of the hot end; that of the file where it has none.
func (p *Part) HotEndName() string { return p.name("hot_end.name", p.f.HotEnd.Name) }

func (p *Part) name(key, given string) string {
	if p.doc.Has(key) && strings.TrimSpace(given) != "" {
		return given
	}
	base := filepath.Base(p.File)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

// SameFeeder tells whether two files hold the same feeder, key by key.
func (p *Part) SameFeeder(q *Part) bool {
	a, b := p.feeder(0), q.feeder(0)
	a.Name, b.Name = "", ""
	return reflect.DeepEqual(a, b)
}

// SameHotEnd tells whether two files hold the same hot end, key by key; the block temperature is a matter of the duty.
func (p *Part) SameHotEnd(q *Part) bool {
	a, b := p.f.HotEnd, q.f.HotEnd
	a.Name, b.Name, a.Block, b.Block = "", "", 0, 0
	return reflect.DeepEqual(a, b)
}

// feeder returns the feeder with its flows as speeds where the file says what filament it was tested with, and that
// is not of the diameter given (mm).
func (p *Part) feeder(diameter float64) feederSpec {
	out := p.f.Feeder
	own := p.f.Filament.Diameter
	if own == 0 || own == diameter {
		return out
	}
	out.Points = append([]point(nil), out.Points...)
	for i := range out.Points {
		if q := &out.Points[i]; q.Flow != nil && q.Speed == nil {
			v := *q.Flow * unit.MM3 / unit.Disc(own*unit.MM) / unit.MM
			q.Speed, q.Flow = &v, nil
		}
	}
	return out
}

// Build makes the case of a whole file.
func (p *Part) Build() (*Case, error) {
	c, ps := p.build()
	return c, ps.Err()
}

// Join makes a case on the duty of one file (filament, block temperature, path, limits, target, what is not known) with
// the feeder
// and the hot end of two others. Errors: everything that is wrong with the case that comes out.
func Join(duty, feed, hot *Part) (*Case, error) {
	n := &Part{Ref: duty.Ref, f: duty.f, all: duty.all, ref: duty.ref}
	n.doc = duty.doc
	if feed != duty {
		n.take(feed, feederTable, vary.OfFeeder)
		n.f.Feeder = feed.feeder(duty.f.Filament.Diameter)
	}
	if hot != duty {
		n.take(hot, hotEndTable, vary.OfHotEnd)
		n.f.HotEnd = hot.f.HotEnd
		if duty.HasHotEnd() && duty.f.HotEnd.Block > 0 {
			n.f.HotEnd.Block = duty.f.HotEnd.Block
		}
	}
	n.f.Feeder.Name, n.f.HotEnd.Name = feed.FeederName(), hot.HotEndName()
	// The joined case has both tables, and all that a hot end of another file has; what else its duty lacks stays
	// missing.
	n.all = nil
	for _, x := range duty.all {
		if !(x.Seen == "nothing" && (x.Field == feederTable || x.Field == hotEndTable ||
			hot != duty && strings.HasPrefix(x.Field, hotEndTable+"."))) {
			n.all = append(n.all, x)
		}
	}
	if n.f.HotEnd.Block == 0 {
		n.all = append(n.all, hot.doc.Problem("hot_end.block_degC", "nothing", "50 to 500 degC",
			"give it in the file of the hot end, or on the duty"))
	}
	c, ps := n.build()
	return c, ps.Err()
}

// take has a table come from another file, and with it how well what belongs to it is known.
func (p *Part) take(from *Part, table string, scope vary.Scope) {
	keys := []string{table}
	to, v := reflect.ValueOf(&p.f.Spread).Elem(), reflect.ValueOf(from.f.Spread)
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag
		if id := tag.Get("id"); id != "" && vary.ID(id).Scope() == scope {
			to.Field(i).Set(v.Field(i))
			keys = append(keys, "spread."+tag.Get("toml"))
		}
	}
	p.doc = p.doc.Without(keys...).Over(from.doc.Only(keys...))
	p.ref = append(append([]Ref(nil), p.ref...), from.Ref)
}

// Feeder builds the feeder of the file by itself, for filament of another file's duty, or where that is nil of its own.
// The
// polymer is then the one the file names, or the one of all its points; nil if it is not known. The warnings say what
// was assumed.
func (p *Part) Feeder(duty *Part) (*feeder.Feeder, []materials.Warning, error) {
	f := p.f
	f.Feeder.Name = p.FeederName()
	b := builder{f: &f, doc: p.doc, alone: true}
	if duty != nil {
		f.Feeder = p.feeder(duty.f.Filament.Diameter)
		f.Feeder.Name = p.FeederName()
		f.Filament, f.Material = duty.f.Filament, duty.f.Material
		b.doc = p.doc.Only(feederTable).Over(duty.doc.Without(feederTable))
	}
	if f.Filament.Diameter == 0 {
		f.Filament.Diameter = DefaultFilament
		b.note("default-filament", "%s does not say what filament its feeder pushes; %.2f mm is assumed",
			filepath.Base(p.File), DefaultFilament)
	}
	if f.Filament.Material == "" && f.Filament.File == "" {
		f.Filament.Material = common(f.Feeder.Points)
	}
	var m *materials.Material
	if f.Filament.Material != "" || f.Filament.File != "" {
		if m = b.material(&Case{RateFactor: 1}); m == nil && len(b.found) == 0 {
			return nil, nil, fmt.Errorf("casefile: no material for the feeder of %s", p.File)
		}
	}
	var out *feeder.Feeder
	if len(b.found) == 0 {
		out = b.feeder(m)
	}
	if len(b.found) > 0 {
		b.found.Sort()
		return nil, nil, b.found
	}
	return out, b.notes, nil
}

// DefaultFilament is the diameter (mm) that a feeder's file without [filament] is taken for.
const DefaultFilament = 1.75

// common is the built-in polymer that all points name, "" if they do not agree or name none.
func common(points []point) string {
	name := ""
	for i, q := range points {
		if i > 0 && !strings.EqualFold(q.Material, name) {
			return ""
		}
		name = q.Material
	}
	for _, k := range materials.Names() {
		if strings.EqualFold(k, name) {
			return k
		}
	}
	return ""
}

// OptionDuty stands for the file of a duty that was given by options.
const OptionDuty = "duty by option"

// Duty is a part that holds no more than a filament and, if above 0, a block temperature (degC): enough to join a
// feeder and a hot end on. diameter 0 takes DefaultFilament. Errors: a material that is none.
func Duty(material string, diameter, block float64) (*Part, error) {
	if diameter == 0 {
		diameter = DefaultFilament
	}
	text := fmt.Sprintf("[filament]\nmaterial = %s\ndiameter_mm = %g\n", quote(material), diameter)
	if block > 0 {
		text += fmt.Sprintf("[hot_end]\nblock_degC = %g\n", block)
	}
	p := parsePart(OptionDuty, []byte(text))
	var bad strict.Problems
	for _, x := range p.ps {
		if x.Seen != "nothing" && !strings.HasPrefix(x.Seen, "neither") {
			bad = append(bad, x)
		}
	}
	if len(bad) > 0 {
		return nil, bad
	}
	b := builder{f: &p.f, doc: p.doc}
	if b.material(&Case{RateFactor: 1}); len(b.found) > 0 {
		return nil, b.found
	}
	return p, nil
}

// Polymer is the material that the file names for its filament, "" for none.
func (p *Part) Polymer() string {
	if p.f.Filament.File != "" {
		return p.f.Filament.File
	}
	return p.f.Filament.Material
}

// OfPoints is the built-in polymer that all points of the feeder were measured with, "" if that is not known.
func (p *Part) OfPoints() string { return common(p.f.Feeder.Points) }

// Refs are the file and those that it names.
func (p *Part) Refs() []Ref { return append([]Ref{p.Ref}, p.ref...) }
