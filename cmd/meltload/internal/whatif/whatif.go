// Package whatif is a page that answers while one changes a case: temperature, nozzle, feeder, material, flow. The case
// file is its whole state. Package serve brings the page from a server on this machine; package live writes it as one
// file, with this package in it as WebAssembly. Page and answer are the same.
package whatif

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"meltload/flow/casefile"
	"meltload/flow/setup"
	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// Source is a case file to start from; further ones lend their feeders.
type Source struct {
	File string
	Text []byte
}

// Control sets one or several keys of the case file.
type Control struct {
	Name     string // of the form field
	Keys     []string
	Label    string
	Unit     string
	Value    string
	Was      string // the value in the case file
	Low      float64
	High     float64 // of the slider; Low = High for none
	Step     float64
	Choices  []Choice
	Problem  string // what is wrong with the value
	Describe string
	id       vary.ID // of the quantity that it changes, "" for a key alone
}

// Choice is one line of a list.
type Choice struct{ Value, Label string }

// Asked is what the page sends: a text of the case file, and controls with the values they had when the page was made.
// A control that moved since, or that has no such value, is written into the case file, so that page and file cannot
// disagree. A script sends what is changed from the start, a page without one all that it shows.
type Asked struct {
	Edited bool // the text counts; if not, it is the one that the page starts from
	Text   string
	Feeder string // number of the source to take the feeder from, "" for none
	Set    map[string]string
	Was    map[string]string
}

// Answer is what the page shows.
type Answer struct {
	Text     string
	Controls []Control
	Document *report.Document // nil if there are problems
	Problems strict.Problems
	Took     time.Duration
	result   *study.Result
	of       *casefile.Case // that it answers for
	start    *study.Result  // that it is set beside, nil for none
	changes  []report.Fact  // from it
}

// Page holds what all answers share; it is not changed after New.
type Page struct {
	sources []Source
	feeders []Choice
	named   map[string]bool // files that the sources name: the page opens no other
	text    string          // that the page starts from
	lines   *casefile.Text  // read, nil where it is no case
	base    *casefile.Case  // of it
	shown   []Control       // of it
	start   *study.Result   // of it
	first   *Answer         // to it
}

// New makes a page that starts from the first source. Errors: strict.Problems of the case files.
func New(sources []Source) (*Page, error) {
	p, ps := newPage(sources)
	if len(ps) > 0 {
		return nil, ps
	}
	a := &Answer{Text: p.text}
	c, ps := p.read(Asked{}, a)
	if len(ps) == 0 {
		ps = p.compute(c, a)
	}
	if len(ps) == 0 {
		a.Finish()
		ps = a.Problems
	}
	if len(ps) > 0 {
		return nil, ps
	}
	p.start, p.first = a.result, a
	return p, nil
}

func newPage(sources []Source) (*Page, strict.Problems) {
	p := &Page{sources: sources, named: map[string]bool{}, text: plain(string(sources[0].Text))}
	var all strict.Problems
	for i, s := range sources {
		c, ps := casefile.Parse(s.File, s.Text)
		all = append(all, ps...)
		if i == 0 {
			if p.base = c; c != nil {
				p.shown = controls(c)
			}
			p.lines, _ = casefile.ReadText(s.File, []byte(p.text)) // what is wrong is among the problems
		}
		if c != nil {
			p.feeders = append(p.feeders, Choice{strconv.Itoa(i), fmt.Sprintf("%s (%s)", c.Feeder.Name, s.File)})
			for _, name := range filesOf(s.Text) {
				p.named[name] = true
			}
		}
	}
	return p, all
}

// filesOf are the files that a case file names: a material record, a feeder's, a hot end's; by their keys.
func filesOf(text []byte) map[string]string {
	var f map[string]any // not a struct: its keys would be met in any case, and a second spelling could hide the first
	if toml.Unmarshal(strict.Plain(text), &f) != nil {
		return nil
	}
	out := map[string]string{}
	put := func(key string, v any) {
		if name, _ := v.(string); name != "" {
			out[key] = name
		}
	}
	filament, _ := f["filament"].(map[string]any)
	put("filament.material_file", filament["material_file"])
	put("feeder_file", f["feeder_file"])
	put("hot_end_file", f["hot_end_file"])
	return out
}

// plain is a text with the line ends of a case file, whatever those of a form are.
func plain(text string) string { return strings.ReplaceAll(text, "\r\n", "\n") }

// Answer computes what is asked. Whatever is wrong comes back as problems, with the text as asked.
func (p *Page) Answer(a Asked) *Answer {
	out := p.Begin(a)
	out.Finish()
	return out
}

// Begin is Answer but for the range, which takes as long as all else together: until Finish the verdict is that of the
// best estimate, and says so.
func (p *Page) Begin(a Asked) *Answer {
	begun := time.Now()
	out := &Answer{Text: plain(a.Text)}
	if !a.Edited {
		out.Text = p.text
	}
	c, ps := p.read(a, out)
	if len(ps) == 0 && out.Text == p.text && p.first != nil {
		first := *p.first
		first.Took = time.Since(begun)
		return &first
	}
	if len(ps) == 0 {
		ps = p.compute(c, out)
	}
	if len(ps) > 0 {
		return p.refuse(out, a, c, ps)
	}
	out.Took = time.Since(begun)
	return out
}

// Finish finds the range, and the verdict by it, of an answer that has none yet.
func (a *Answer) Finish() {
	if !a.unfinished() {
		return
	}
	begun := time.Now()
	if err := a.result.FindCorners(&a.of.Setup); err != nil {
		a.Problems, a.Document = problems(a.of.File, err), nil
		return
	}
	a.Document.Renew(a.ranged())
	a.Took += time.Since(begun)
}

// ranged is the part of the document that the range stands in.
func (a *Answer) ranged() *report.Document {
	return report.WhatIfRange(a.result, a.start, a.changes, lead)
}

func (a *Answer) unfinished() bool { return a.result != nil && a.result.Corners == nil }

// compute answers for a case, but for the range.
func (p *Page) compute(c *casefile.Case, out *Answer) strict.Problems {
	r, err := study.Glance(&c.Setup, study.Options{Curve: 21, Here: true})
	if err != nil {
		return problems(p.sources[0].File, err)
	}
	out.result, out.Controls, out.of, out.start = r, controls(c), c, p.start
	if out.start != nil {
		if out.changes = p.changes(c, out.Controls); len(out.changes) == 0 {
			out.start = nil
		}
	}
	out.Document = report.WhatIf(r, out.start, out.changes, lead)
	return nil
}

// lead begins the ids of an answer: a live report has those of its own blocks besides.
const lead = "now-"

// changes are the inputs that differ from those of the start, by the names that the page has for them.
func (p *Page) changes(c *casefile.Case, controls []Control) []report.Fact {
	label, sign := map[string]string{}, map[string]string{}
	for _, k := range controls {
		label[k.Name] = k.Label
		if k.Unit != "" {
			sign[k.Name] = " " + k.Unit
		}
	}
	was := map[string]string{}
	for _, x := range p.base.Inputs {
		was[x.Key] = x.Value
	}
	var out []report.Fact
	put := func(key, from, to string) {
		name, ok := label[key]
		if !ok {
			name = key
		}
		out = append(out, report.Fact{Name: name, Value: from + " → " + to + sign[key]})
	}
	for _, x := range c.Inputs {
		if from, ok := was[x.Key]; !ok {
			put(x.Key, "not given", x.Value)
		} else if from != x.Value {
			put(x.Key, from, x.Value)
		}
		delete(was, x.Key)
	}
	for _, x := range p.base.Inputs {
		if from, left := was[x.Key]; left {
			put(x.Key, from, "not given")
		}
	}
	return out
}

// refuse is the answer that there are problems; c is what the text makes, nil while it makes no case.
func (p *Page) refuse(out *Answer, a Asked, c *casefile.Case, ps strict.Problems) *Answer {
	out.Problems = ps
	if c == nil { // the fields of the first case, so that the page keeps its form
		c = p.base
	}
	out.Controls = controls(c)
	for i := range out.Controls {
		k := &out.Controls[i]
		if v, ok := a.Set[k.Name]; ok {
			k.Value, k.Was = v, a.Was[k.Name]
		}
		for _, q := range ps {
			if slices.Contains(k.Keys, q.Field) {
				k.Problem = q.Error()
			}
		}
	}
	return out
}

// read makes the case that is asked for, and the text of it. Where something is wrong it comes with its problems.
func (p *Page) read(a Asked, out *Answer) (*casefile.Case, strict.Problems) {
	file := p.sources[0].File
	c, ps := p.base, strict.Problems(nil)
	if c == nil || out.Text != p.text {
		if ps := p.unnamed(file, out.Text); len(ps) > 0 {
			return nil, ps
		}
		c, ps = casefile.Parse(file, []byte(out.Text))
	}
	if len(ps) > 0 && a.Feeder == "" { // another feeder may mend it
		return c, ps
	}
	if a.Feeder != "" {
		i, err := strconv.Atoi(a.Feeder)
		if err != nil || i < 0 || i >= len(p.sources) {
			return c, strict.Problems{
				{
					File:    "form",
					Field:   "feeder",
					Seen:    strconv.Quote(a.Feeder),
					Allowed: fmt.Sprintf("0 to %d", len(p.sources)-1),
				},
			}
		}
		text, grafted, err := casefile.Graft(file, []byte(out.Text), p.sources[i].Text)
		if err != nil {
			return c, problems(file, err)
		}
		out.Text, c = string(text), grafted
	}
	there := p.shown
	if c != p.base {
		there = controls(c)
	}
	set, ps := moved(c, there, a)
	if len(ps) > 0 {
		return c, ps
	}
	if len(set) > 0 {
		lines, err := p.lines, error(nil)
		if lines == nil || out.Text != p.text {
			lines, err = casefile.ReadText(file, []byte(out.Text))
		}
		if err != nil {
			return c, problems(file, err)
		}
		text, patched, err := lines.Patch(set, "")
		if err != nil {
			return c, problems(file, err)
		}
		out.Text, c = string(text), patched
	}
	return c, nil
}

// unnamed lists the files that a text names and that no case file given at the start does.
func (p *Page) unnamed(file, text string) strict.Problems {
	var ps strict.Problems
	for key, name := range filesOf([]byte(text)) {
		if !p.named[name] {
			ps = append(
				ps,
				strict.Problem{
					File:    file,
					Field:   key,
					Seen:    strconv.Quote(name),
					Allowed: "a file that a case file given at the start names",
					Advice:  "start the page with that case file",
				},
			)
		}
	}
	return ps
}

func problems(file string, err error) strict.Problems {
	if ps, ok := err.(strict.Problems); ok {
		return ps
	}
	return strict.Problems{{File: file, Advice: err.Error()}}
}

// moved lists the keys of the controls of a case that differ from what they were, as TOML.
func moved(c *casefile.Case, controls []Control, a Asked) (map[string]string, strict.Problems) {
	var ps strict.Problems
	set, there, now := map[string]string{}, map[string]bool{}, &c.Setup
	for _, k := range controls {
		there[k.Name] = true
		v, ok := a.Set[k.Name]
		if v = strings.TrimSpace(v); !ok || v == strings.TrimSpace(a.Was[k.Name]) {
			continue
		}
		value := strconv.Quote(v)
		if len(k.Choices) > 0 {
			if !strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r == '"' || r == '\\' }) {
				value = `"` + v + `"`
			}
		} else if value, ok = number(v); !ok {
			ps = append(ps, strict.Problem{File: "form", Field: k.Keys[0], Seen: strconv.Quote(v), Allowed: "a number",
				Advice: "with a decimal point"})
			continue
		}
		for _, key := range k.Keys {
			set[key] = value
		}
		if k.id != "" {
			var more map[string]string
			if more, now = edits(c, now, k, value); more != nil {
				maps.Copy(set, more)
			}
		}
	}
	for name, v := range a.Set { // of a link to another case
		if was, ok := a.Was[name]; !there[name] && (!ok || was != v) {
			ps = append(ps, strict.Problem{File: "form", Field: name, Seen: strconv.Quote(v),
				Allowed: "a quantity that this case has", Advice: "the address may belong to another case"})
		}
	}
	return set, ps
}

// number turns a number as it is typed into one of TOML.
func number(v string) (string, bool) {
	x, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	switch {
	case err != nil:
		return "", false
	case math.IsInf(x, 1):
		return "inf", true
	case math.IsInf(x, -1):
		return "-inf", true
	case math.IsNaN(x):
		return "nan", true
	case math.Abs(x) > 1e9:
		return strconv.FormatFloat(x, 'g', -1, 64), true
	}
	return strconv.FormatFloat(x, 'f', -1, 64), true
}

// edits are the keys of the case file that a moved control sets, all that hangs on its quantity, and the set-up with
// it. There are none for a value outside the bounds: the key alone is written, so that the check of the file says what
// is allowed.
func edits(c *casefile.Case, s *setup.Setup, k Control, value string) (map[string]string, *setup.Setup) {
	q, ok := vary.Find(s, string(k.id))
	x, err := strconv.ParseFloat(value, 64)
	if !ok || err != nil {
		return nil, s
	}
	n, err := q.With(s, q.SI(x))
	if err != nil {
		return nil, s
	}
	return c.Edits(q.Edits(n)), n
}

// controls lists what can be changed in a case without touching its text.
func controls(c *casefile.Case) []Control {
	in := map[string]string{}
	for _, x := range c.Inputs {
		in[x.Key] = x.Value
	}
	var out []Control
	add := func(k Control) {
		if v, ok := in[k.Keys[0]]; ok {
			k.Name, k.Value, k.Was = k.Keys[0], v, v
			out = append(out, k)
		}
	}
	material := Control{Keys: []string{"filament.material"}, Label: "material"}
	for _, n := range materials.Names() {
		material.Choices = append(material.Choices, Choice{n, n})
	}
	add(material)
	var fed []knob
	for i := range c.Feeder.Points {
		fed = append(fed, knob{vary.PointID(i + 1), 0, 200, 1, ""})
	}
	fed = append(fed, knob{ID: vary.Current}, knob{ID: vary.Ratio})
	table := vary.Table(&c.Setup)
	for _, k := range append(slices.Clone(knobs), fed...) {
		i := slices.IndexFunc(table, func(q vary.Quantity) bool { return q.ID == k.ID })
		if i < 0 {
			continue
		}
		if x, ok := k.control(c, table[i]); ok {
			out = append(out, x)
		}
	}
	return out
}

// knob is a quantity of package vary that the page shows, with the ends of its slider in the unit of the case file.
type knob struct {
	ID              vary.ID
	Low, High, Step float64
	Describe        string
}

// control is the knob of a quantity as a case has it; false where its file does not have the key.
func (k knob) control(c *casefile.Case, q vary.Quantity) (Control, bool) {
	key, ok := c.FileKey(q.Key)
	if !ok {
		return Control{}, false
	}
	v := vary.Number(q.Edge(q.Get(&c.Setup)))
	x := Control{Name: key, Keys: []string{key}, Label: q.Label, Unit: signs.Replace(q.Unit), Value: v, Was: v,
		Low: k.Low, High: k.High, Step: k.Step, Describe: k.Describe, id: k.ID}
	switch k.ID {
	case vary.Block:
		w := c.Material.Window
		x.Low, x.High = math.Floor(unit.Celsius(w[0]))-20, math.Ceil(unit.Celsius(w[1]))+40
	case vary.Target:
		x.High = c.Limits.MaxFlow / unit.MM3
	}
	return x, true
}

// knobs are shown in this order.
var knobs = []knob{
	{
		vary.Block,
		0,
		0,
		1,
		"",
	}, {vary.Target, 0, 0, 0.5, "0 leaves it open"}, {vary.Bore, 0.15, 1.2, 0.05, ""}, {vary.Zone, 2, 80, 1, ""},
	{
		vary.Heated,
		0.1,
		1,
		0.05,
		"the top of a barrel is colder than its block",
	}, {vary.Viscosity, 0.2, 5, 0.05, "grades differ: a calibration tells"},
	{
		vary.Contact,
		1000,
		50000,
		1000,
		"rarely known: 3000 poor, inf perfect",
	}, {vary.Eccentricity, 0, 0.9, 0.05, "0 in the middle, near 1 it touches"},
}

// signs writes units as a page does.
var signs = strings.NewReplacer("degC", "°C", "mm3", "mm³", "m2", "m²")
