//go:build js && wasm

// Module is the what-if page as a program for the browser: a live report holds it. Its script opens a case once, and
// asks as often as something is moved: for an answer, then for the rest of it; see live.js.
package main

import (
	"io"
	"net/url"
	"runtime/debug"
	"strings"
	"syscall/js"

	"meltload/cmd/meltload/internal/whatif"
)

// collectAt is how much the memory in use may grow before it is cleaned up, in per cent: an answer takes a few
// megabytes, and a browser has them.
const collectAt = 800

func main() {
	debug.SetGCPercent(collectAt)
	var page *whatif.Page
	var last *whatif.Answer
	text := func(write func(io.Writer) error) string {
		var b strings.Builder
		if err := write(&b); err != nil {
			panic(err) // into memory: cannot be
		}
		return b.String()
	}
	open := func(_ js.Value, a []js.Value) any {
		p, err := whatif.New([]whatif.Source{{File: a[0].String(), Text: []byte(a[1].String())}})
		if err != nil {
			return err.Error()
		}
		page = p
		return ""
	}
	answer := func(_ js.Value, a []js.Value) any {
		form, err := url.ParseQuery(a[0].String())
		if err != nil {
			return "" // which is no answer: the script says so
		}
		last = page.Begin(whatif.Read(form))
		return text(last.Reply)
	}
	rest := func(js.Value, []js.Value) any { return text(last.Rest) }
	js.Global().Set("meltloadModule", map[string]any{"open": js.FuncOf(open), "answer": js.FuncOf(answer),
		"rest": js.FuncOf(rest)})
	select {}
}
