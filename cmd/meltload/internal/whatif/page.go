package whatif

import (
	_ "embed" // scripts and styles of the page
	"io"

	"meltload/report"
)

//go:generate go tool qtc -skipLineComments -file=page.qtpl

//go:embed whatif.js
var scriptText string

//go:embed server.js
var serverText string

//go:embed whatif.css
var styleText string

// Live is what makes a page one file that answers by itself. What is packed is compressed by gzip, in base64.
type Live struct {
	Report *report.Document // that it starts from
	Begin  string           // the start as JSON, for the script that loads the module
	Charts string           // the chart library, packed
	Module string           // the program for the browser: WebAssembly, packed
	Loader []string         // the scripts that run it, in place of the one that asks a server
	Terms  string           // licences of what is in it besides
}

// Scripts are those of the page that a server brings, in their order.
func Scripts() []string {
	return []string{report.PageAssets().ECharts, report.PageAssets().Script, scriptText, serverText}
}

// scripts are those of a page that is one file, but for the chart library.
func (l *Live) scripts() []string {
	return append([]string{report.PageAssets().Script, scriptText}, l.Loader...)
}

// Policy is the content policy of a page that is one file.
func (l *Live) Policy() string {
	return report.Policy(append(l.scripts(), report.PageAssets().ECharts), true, "form-action 'none'")
}

// Write writes the page with an answer; live is nil where a server brings it.
func (p *Page) Write(w io.Writer, a *Answer, live *Live) error {
	b := view{Page: p, answer: a, assets: report.PageAssets(), live: live, scripts: Scripts()}
	if live != nil {
		b.scripts = live.scripts()
	}
	_, err := io.WriteString(w, pageMarkup(&b))
	return err
}

// view is the page as its template sees it.
type view struct {
	*Page
	answer  *Answer
	assets  report.Assets
	live    *Live
	scripts []string
}

// markup is verdict and charts of the answer, with drawings for a page without a script.
func (v *view) markup() string {
	if v.answer.Document == nil {
		return ""
	}
	return v.answer.Document.Markup()
}

// cautions are those of the start.
func (v *view) cautions() []string { return v.first.Document.Warned() }
