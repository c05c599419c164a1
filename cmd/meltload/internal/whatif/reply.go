package whatif

import (
	"encoding/json"
	"io"
	"net/url"
	"slices"
	"strings"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report"
)

// SavedAs is the name of a case file that the page saves.
const SavedAs = "what-if.toml"

// Read reads what a form or a script asks.
func Read(form url.Values) Asked {
	a := Asked{Edited: form.Has("case"), Text: form.Get("case"), Feeder: form.Get("feeder"), Set: map[string]string{},
		Was: map[string]string{}}
	for k, v := range form {
		if n, ok := strings.CutPrefix(k, "set:"); ok {
			a.Set[n] = v[0]
		} else if n, ok := strings.CutPrefix(k, "was:"); ok {
			a.Was[n] = v[0]
		}
	}
	return a
}

// reply is an answer as the page's script takes it: the case file, and controls, verdict and charts as markup.
type reply struct {
	Text         string             `json:"text"`
	Controls     string             `json:"controls"`
	Answer       string             `json:"answer"`
	Problems     string             `json:"problems"`
	Status       string             `json:"status"`
	Milliseconds float64            `json:"milliseconds"`
	More         bool               `json:"more"` // the range follows
	Part         bool               `json:"part"` // of an answer: its verdict, and the blocks that changed with it
	Numbers      map[string]float64 `json:"numbers"`
}

// Reply writes the answer for the page's script, as JSON. The script draws and reads no long tables, so that there are
// no drawings and no long tables in it.
func (a *Answer) Reply(w io.Writer) error {
	out := reply{Text: a.Text, Controls: controlsMarkup(a.Controls), Problems: problemsMarkup(a.Problems),
		Milliseconds: a.milliseconds(), More: a.unfinished()}
	return out.write(w, a, a.Document)
}

// Rest finishes an answer and writes what the range adds to it, as Reply does.
func (a *Answer) Rest(w io.Writer) error {
	a.Finish()
	out := reply{Problems: problemsMarkup(a.Problems), Milliseconds: a.milliseconds(), Part: true}
	var d *report.Document
	if a.Document != nil {
		d = a.ranged()
	}
	return out.write(w, a, d)
}

func (a *Answer) milliseconds() float64 { return float64(a.Took.Microseconds()) / 1000 }

// status is the answer in a line, which stays in sight while something is moved.
func (a *Answer) status() string {
	if a.Document == nil {
		return ""
	}
	mark := "✗ "
	if a.Document.Good {
		mark = "✓ "
	}
	s := mark + a.Document.Word + ": usable " + quantity.Page("usable_flow", a.result.Verdict.Flow)
	if a.start != nil {
		s += ", at the start " + quantity.Page("usable_flow", a.start.Verdict.Flow)
	}
	if l := a.result.Verdict.Limit; l != "" {
		s += "; limited by " + l
	}
	return s
}

// write writes the reply with a document, nil for none.
func (out *reply) write(w io.Writer, a *Answer, d *report.Document) error {
	if d != nil {
		var b strings.Builder
		if err := brief(d).Answer(&b, false); err != nil {
			return err
		}
		out.Answer, out.Numbers = b.String(), Numbers(a.result)
		out.Status = a.status()
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false) // half the answer is markup
	return e.Encode(out)
}

// brief is a document without its long tables.
func brief(d *report.Document) *report.Document {
	out := *d
	out.Blocks = slices.Clone(d.Blocks)
	for i := range out.Blocks {
		b := &out.Blocks[i]
		b.Table = slices.DeleteFunc(slices.Clone(b.Table), func(t report.Table) bool { return t.Long })
	}
	return &out
}

// Numbers are the headline numbers of a result in SI, unrounded: by them a live report knows that the solver in it
// gives what the report says.
func Numbers(r *study.Result) map[string]float64 {
	out := map[string]float64{"usable flow": r.Verdict.Flow, "flow": r.Point.Flow, "push": r.Point.Push,
		"pressure": r.Point.Pressure, "centre at the cone": r.Point.EntryCentre, "bulk at the exit": r.Point.ExitBulk,
		"heater": r.Point.Heater, "heat from the wall": r.Point.WallHeat, "viscous heat": r.Point.Viscous}
	for _, b := range r.Bounds {
		out["flow allowed by "+b.Limit] = b.Flow
	}
	return out
}
