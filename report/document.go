package report

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // style and script
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"sort"
	"strings"

	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

//go:embed assets/style.css
var styleText string

//go:embed assets/page.js
var scriptText string

//go:generate go tool qtc -skipLineComments -file=page.qtpl

// Document is a result laid out once: text, page and tables of every command come from it.
type Document struct {
	*study.Header
	Word   string // the verdict in a word; with a mark and a colour
	Note   string // a sentence under the verdict
	Facts  []Fact
	Blocks []Block
	After  string // a caution that comes first
	More   []Fact // of the reproduction block, on the page only
	Beside []Fact // sentences under the verdict, with what each is about
	At     usedAt
	Lead   string // begins every id, where two documents stand on one page
}

// markup is text of a page that needs no escaping.
type markup string

// Fact is a named value.
type Fact struct{ Name, Value string }

// usedAt is the flow (m3/s) at which the limits are used so far, and what flow that is; "" if not one flow.
type usedAt struct {
	Flow float64
	What string
}

// Block is a question answered: its title is the finding.
type Block struct {
	ID    string
	Title string
	Text  string
	How   string     // how to read the picture
	Chart plot.Chart // nil for none
	SVG   markup
	Map   *mapView
	Bars  []barView
	Table []Table
	Open  bool // tables unfolded
}

type barView struct {
	Name, Value string
	Share       float64 // of the full width, 0 to 100
	Over        bool    // beyond it
	Code        string
}

type mapView struct {
	Flows []string
	Rows  []mapRow
	Key   []Fact // code, meaning
}

type mapRow struct {
	Temp  string
	Cells []mapCell
}

type mapCell struct{ Code, Tip string }

// document is the layout of a sheet.
func document(s *study.Header, word string, facts []Fact, blocks ...Block) *Document {
	return (&Document{Header: s, Word: word, Facts: facts}).with(blocks...)
}

// with gives the document its blocks; what went in comes last.
func (d *Document) with(blocks ...Block) *Document {
	d.Blocks = blocks
	if len(d.Inputs) > 0 {
		d.Blocks = append(d.Blocks, inputBlock(d.Header))
	}
	return d
}

func inputBlock(s *study.Header) Block {
	in := Texts("inputs", "Inputs", "key", "value", "unit", "trust")
	in.Long = true
	assumed := 0
	for _, i := range s.Inputs {
		from := "given"
		if i.Default {
			from = "assumed (default)"
			assumed++
		}
		in.Row(i.Key, i.Value, i.Unit, from)
	}
	b := Block{ID: "inputs-block", Title: fmt.Sprintf("%d of %d inputs are given, %d assumed", len(s.Inputs)-assumed,
		len(s.Inputs), assumed), Table: []Table{in},
		Text: "Defaults are assumptions of this program. Trust of material values: measured was read in the source " +
			"named, fitted was computed from read data, assumed is from memory or by analogy."}
	if s.Material != nil {
		m := Texts("material", "Material values, their trust and source: "+s.Material.Name, "value", "number", "trust",
			"source", "note")
		m.Long = true
		for _, o := range s.Material.Origins {
			m.Row(o.Key, o.Value, string(o.Trust), o.Source, o.Note)
		}
		b.Table = append(b.Table, m)
	}
	return b
}

// Tables lists the tables of the document.
func (d *Document) Tables() []Table {
	var t []Table
	for _, b := range d.Blocks {
		t = append(t, b.Table...)
	}
	return t
}

// Warned lists the cautions with the document's own first.
func (d *Document) Warned() []string {
	if d.After == "" {
		return d.Cautions
	}
	return append([]string{d.After}, d.Cautions...)
}

// usedTitle stands over the shares of the limits and says at which flow they are; text writes the flow.
func (d *Document) usedTitle(text func(name string, si float64) string) string {
	if d.At.What == "" {
		return "How much of each limit is used"
	}
	return "How much of each limit is used at " + text("usable_flow", d.At.Flow) + ", " + d.At.What
}

// Used are the bars of how much of each limit is used.
func (d *Document) Used() []barView {
	var out []barView
	for _, u := range d.Uses {
		b := barView{Name: u.Of, Value: shown("share", u.Share) + " (" + u.Text + ")", Share: 100 * min(1, u.Share),
			Over: u.Share > 1}
		out = append(out, b)
	}
	return out
}

// Again lists what it takes to run it again.
func (d *Document) Again() []Fact {
	out := []Fact{{"program", "meltload " + study.Stamp()}, {"command", strings.Join(d.Command, " ")}}
	for _, f := range d.Files {
		hash := f.Name
		if f.Hash != "" {
			hash += ", SHA-256 " + f.Hash + "…"
		}
		out = append(out, Fact{"file", hash})
	}
	if d.Solver != "" {
		out = append(out, Fact{"solver", d.Solver})
	}
	if d.Samples > 0 {
		out = append(out, Fact{"samples, seed", fmt.Sprintf("%d, %d", d.Samples, d.Seed)})
	}
	return out
}

// Sources lists the sources of material values by their key.
func (d *Document) Sources() []Fact {
	if d.Material == nil {
		return nil
	}
	var out []Fact
	for k, s := range d.Material.Sources {
		out = append(out, Fact{k, s})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// longText is how many rows of a table the terminal is given.
const longText = 60

// Text writes the document for the terminal: verdict first, then what stands behind it.
func (d *Document) Text(w io.Writer) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "%s\n\n%s\n", d.Title, Wrap(d.Sentence, 88, ""))
	if d.Note != "" {
		fmt.Fprintf(b, "%s\n", Wrap(d.Note, 88, ""))
	}
	if len(d.Uses) > 0 {
		fmt.Fprintf(b, "\n%s\n", d.usedTitle(quantity.Text))
		for _, u := range d.Uses {
			fmt.Fprintf(b, "%s\n", Wrap(fmt.Sprintf("%s: %s (%s)", u.Of, quantity.Text("share", u.Share), u.Text),
				86, "  - "))
		}
	}
	if len(d.Warnings) > 0 {
		fmt.Fprintf(b, "\nWarnings (%d)\n", len(d.Warnings))
		for _, x := range d.Warnings {
			fmt.Fprintf(b, "%s\n", Wrap(x.Message, 86, "  ! "))
		}
	}
	var left []string
	for _, t := range d.Tables() {
		if t.Long || len(t.Rows) > longText {
			left = append(left, t.ID)
			continue
		}
		b.WriteByte('\n')
		TextTable(b, t)
	}
	b.WriteString("\nCautions\n")
	for _, c := range d.Warned() {
		fmt.Fprintf(b, "%s\n", Wrap(c, 86, "  - "))
	}
	b.WriteByte('\n')
	if len(left) > 0 {
		fmt.Fprintf(b, "%s\n", Wrap("More tables with --report or --csv: "+strings.Join(left, ", ")+".", 88, ""))
	}
	for _, f := range d.Again() {
		if f.Name != "command" {
			fmt.Fprintf(b, "%s\n", Wrap(f.Name+": "+f.Value, 88, ""))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// packed is a table as a file of its own, as a link holds it.
func packed(t *Table) string {
	var b bytes.Buffer
	if CSV(&b, *t) != nil {
		return ""
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

// options are a chart's for the page's script. Package json escapes < and >, so that no text ends the element.
func options(c plot.Chart) []byte {
	b, err := json.Marshal(c.Options())
	if err != nil {
		panic("report: " + err.Error()) // numbers and texts only: cannot be
	}
	return b
}

// colour is the style of a cell of the operating map.
func colour(code string) string {
	if code == "+" {
		return "ok"
	}
	return fmt.Sprintf("k%d", match.OfCode(code).Index()+1)
}

// Assets are what a page needs beside its own markup.
type Assets struct {
	Style         string
	Script        string
	ECharts       string
	Notice, Terms string
	Version       string
}

// PageAssets returns style, script, the chart library with its notice and licence, and the version.
func PageAssets() Assets {
	return Assets{styleText, scriptText, echartsText, echartsNotice,
		echartsLicense + "\n\nPortions derived from d3:\n\n" + echartsLicenseD3, study.Version}
}

// Policy is the content security policy of a page: the scripts that are in it, by their hashes, WebAssembly where it
// has some, styles and pictures that are in it, and nothing else, unless more says so; no network whatever a file or a
// title is called.
func Policy(scripts []string, wasm bool, more ...string) string {
	b := "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; script-src"
	for _, s := range scripts {
		sum := sha256.Sum256([]byte(s))
		b += " 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	if wasm {
		b += " 'wasm-unsafe-eval'"
	}
	return strings.Join(append([]string{b}, more...), "; ")
}

var policy = Policy([]string{echartsText, scriptText}, false, "form-action 'none'")

// Policy is the content security policy of the page.
func (d *Document) Policy() string { return policy }

// Program names the program and the command that made the document, by which a report is known again.
func (d *Document) Program() string { return strings.Join(d.Command[:min(2, len(d.Command))], " ") }

// HTML writes the document as one page that needs no network.
func (d *Document) HTML(w io.Writer) error {
	charts := false
	for _, b := range d.Blocks {
		charts = charts || b.Chart != nil
	}
	e := &erring{w: w}
	writepageMarkup(e, d, PageAssets(), charts)
	return e.err
}

// Answer writes verdict, warnings and blocks of the document as a fragment of a page: with drawings for a page without
// a script, or without.
func (d *Document) Answer(w io.Writer, drawn bool) error {
	e := &erring{w: w}
	writeverdictMarkup(e, d)
	writeblocksMarkup(e, d, d.Blocks, drawn)
	return e.err
}

// Markup is what Answer writes, with drawings.
func (d *Document) Markup() string { return verdictMarkup(d) + blocksMarkup(d, d.Blocks, true) }

// Body is all of a report but its title.
func (d *Document) Body() string { return bodyMarkup(d) }

// Head is the beginning of the head of a page; with a policy of content, and the name of the program by which a report
// is known again, if they are not "".
func Head(policy, program string) string { return headMarkup(policy, program) }

// Terms are notice and licence of the chart library, folded away.
func Terms() string { return termsMarkup(PageAssets()) }

// erring keeps the first error of a writer.
type erring struct {
	w   io.Writer
	err error
}

func (e *erring) Write(p []byte) (int, error) {
	if e.err != nil {
		return 0, e.err
	}
	n, err := e.w.Write(p)
	e.err = err
	return n, err
}

func orNone(s string) string {
	if s == "" {
		return "none within the search"
	}
	return s
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func yes(b bool, t, f string) string {
	if b {
		return t
	}
	return f
}
