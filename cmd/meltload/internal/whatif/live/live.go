// Package live writes a report that answers by itself: one file with the what-if page, the report that it starts from,
// and the solver as WebAssembly. Where scripts or WebAssembly are off, it is the report as it was made.
package live

import (
	"bytes"
	"compress/gzip"
	_ "embed" // the script that loads the module
	"encoding/base64"
	"encoding/json"
	"io"

	"meltload/cmd/meltload/internal/whatif"
	"meltload/flow/study"
	"meltload/report"
)

//go:embed live.js
var loaderText string

// Module is the what-if page as a program for browsers.
type Module struct {
	Packed  []byte // WebAssembly, by gzip
	Exec    string // the script of the Go distribution that runs it
	Licence string // of Go
}

// Write writes the report of a case whose text is given, with a page that starts from that text. The numbers of the
// report stand in it: the page does not answer where its solver does not give them.
// Errors: strict.Problems of the text, a writer's.
func (m *Module) Write(w io.Writer, name string, text []byte, r *study.Result) error {
	p, err := whatif.New([]whatif.Source{{File: name, Text: text}})
	if err != nil {
		return err
	}
	begin, err := json.Marshal(map[string]any{"name": name, "text": string(text), "numbers": whatif.Numbers(r)})
	if err != nil {
		return err
	}
	charts, err := pack([]byte(report.PageAssets().ECharts))
	if err != nil {
		return err
	}
	return p.Write(w, p.Answer(whatif.Asked{}), &whatif.Live{Report: report.Assess(r), Begin: string(begin),
		Charts: base64.StdEncoding.EncodeToString(charts), Module: base64.StdEncoding.EncodeToString(m.Packed),
		Loader: []string{m.Exec, loaderText}, Terms: m.Licence})
}

// pack compresses by gzip; the same bytes come of the same.
func pack(b []byte) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err == nil {
		_, err = z.Write(b)
	}
	if err == nil {
		err = z.Close()
	}
	return out.Bytes(), err
}
