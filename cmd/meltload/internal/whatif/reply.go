package whatif

import (
	"encoding/json"
	"io"
	"net/url"
	"slices"
	"strings"

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
	Numbers      map[string]float64 `json:"numbers"`
}

// Reply writes the answer for the page's script, as JSON. The script draws and reads no long tables, so that there are
// no drawings and no long tables in it.
func (a *Answer) Reply(w io.Writer) error {
	out := reply{Text: a.Text, Controls: controlsMarkup(a.Controls), Problems: problemsMarkup(a.Problems),
		Milliseconds: float64(a.Took.Microseconds()) / 1000}
	if a.Document != nil {
		var b strings.Builder
		if err := brief(a.Document).Answer(&b, false); err != nil {
			return err
		}
		out.Answer, out.Numbers = b.String(), Numbers(a.result)
		out.Status = a.Document.Word + ": " + a.Document.Facts[0].Value
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
