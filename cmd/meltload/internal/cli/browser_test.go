package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"meltload/materials/checks"
)

// window is the one Chromium of all tests, with what ends it.
var window struct {
	sync.Mutex
	ctx context.Context
	end []func()
}

func closeBrowser() {
	for i := len(window.end) - 1; i >= 0; i-- {
		window.end[i]()
	}
}

// browser gives a new tab of headless Chromium, or skips the test where there is none
// (MELTLOAD_BROWSER=must makes that a failure, as the full check does).
func browser(t testing.TB) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("takes long")
	}
	path := ""
	for _, n := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(n); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("MELTLOAD_BROWSER") == "must" {
			t.Fatal("no Chromium found")
		}
		t.Skip("no Chromium found")
	}
	window.Lock()
	defer window.Unlock()
	if window.ctx == nil {
		profile, err := os.MkdirTemp("", "meltload-browser")
		if err != nil {
			t.Fatal(err)
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
			chromedp.Flag("disable-quic", true),
			chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
			chromedp.UserDataDir(profile), chromedp.WSURLReadTimeout(2*time.Minute))
		all, endAll := chromedp.NewExecAllocator(context.Background(), opts...)
		first, endFirst := chromedp.NewContext(all)
		window.ctx, window.end = first, []func(){func() { os.RemoveAll(profile) }, endAll, endFirst}
		if err := chromedp.Run(first); err != nil { // the first to run owns the process
			t.Fatal(err)
		}
	}
	ctx, cancel := chromedp.NewContext(window.ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 8*time.Minute) // a loaded machine is slow; a page that hangs still ends
	t.Cleanup(cancel)
	return ctx
}

// watch collects console errors, exceptions and requests that leave the page, but for those to its own address.
func watch(ctx context.Context, faults *[]string, own ...string) {
	chromedp.ListenTarget(ctx, func(ev any) {
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			*faults = append(*faults, "exception: "+e.ExceptionDetails.Error())
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.APITypeError || e.Type == runtime.APITypeWarning {
				var parts []string
				for _, a := range e.Args {
					parts = append(parts, string(a.Value))
				}
				*faults = append(*faults, "console: "+strings.Join(parts, " "))
			}
		case *log.EventEntryAdded: // what the content policy refuses is said here
			if e.Entry.Level == log.LevelError && strings.Contains(e.Entry.Text, "Content Security Policy") {
				*faults = append(*faults, "log: "+e.Entry.Text)
			}
		case *network.EventRequestWillBeSent:
			for _, p := range append(own, "file:", "data:", "blob:") {
				if strings.HasPrefix(e.Request.URL, p) {
					return
				}
			}
			*faults = append(*faults, "request: "+e.Request.URL)
		}
	})
}

// violation is a fault found by the accessibility library.
type violation struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML, FailureSummary string }
}

// violations runs the accessibility library (testdata/axe) over the page by the rules of WCAG 2.0 to 2.2, levels A and
// AA, or by the rules named.
func violations(t testing.TB, ctx context.Context, rules ...string) (found []violation) {
	t.Helper()
	library, err := os.ReadFile(checks.Root("testdata", "axe", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	if len(rules) == 0 {
		rules = []string{"wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"}
	}
	only, err := json.Marshal(rules)
	if err != nil {
		t.Fatal(err)
	}
	await := func(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }
	if err := chromedp.Run(ctx, chromedp.Evaluate(string(library)+";0", nil), chromedp.Evaluate(
		`axe.run(document, {runOnly: `+string(only)+`}).then(r => r.violations)`, &found, await)); err != nil {
		t.Fatal(err)
	}
	return found
}

func accessible(t testing.TB, ctx context.Context, what string, rules ...string) {
	t.Helper()
	for _, f := range violations(t, ctx, rules...) {
		t.Errorf("%s: %s (%s): %s", what, f.ID, f.Impact, f.Help)
		for i, n := range f.Nodes {
			if i < 3 {
				t.Logf("  %.200s\n  %s", n.HTML, n.FailureSummary)
			}
		}
	}
}

// wide lists what is wider than the window and not in a scrolling box.
const wide = `[...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll') && !e.closest('.hidden') && !e.closest('.chart') && !e.closest('.skip') && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + '.' + e.className)`

// seen counts the drawings that stand in for the live charts.
const seen = `[...document.querySelectorAll('.static')].filter(e => e.getBoundingClientRect().height > 50).length`

// A heading of a ranking sorts its table: numbers the highest first, a second click the other way, texts from A; what
// is not known stays last, the first column stays in sight, and a heading is reached by keyboard.
func TestRankingSortsByItsHeadings(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	dir := t.TempDir()
	var files []string
	for _, f := range []struct {
		name  string
		force int
		mass  string
	}{{"ash", 40, "mass_g = 300"}, {"beech", 60, "mass_g = 100"}, {"cedar", 50, ""}} {
		file := filepath.Join(dir, f.name+".toml")
		text := fmt.Sprintf("[feeder]\nname = %q\n%s\n[[feeder.point]]\nspeed_mm_s = 2\nforce_N = %d\n", f.name,
			f.mass, f.force)
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, file)
	}
	page := filepath.Join(dir, "rank.html")
	if code, _, errw := run(append(append([]string{"rank"}, files...), "--quiet", "--report", page)...); code != OK {
		t.Fatal(errw)
	}
	const names = `[...document.querySelectorAll('table.sort tbody th')].map(e => e.textContent).join(' ')`
	click := func(head string) chromedp.Action {
		return chromedp.Evaluate(
			`[...document.querySelector('table.sort').querySelectorAll('thead button')].find(b => b.textContent.startsWith('`+head+`')).click()`,
			nil,
		)
	}
	got := make([]string, 6)
	var sticky, focus string
	if err := chromedp.Run(ctx, chromedp.EmulateViewport(400, 800), chromedp.Navigate("file://"+page),
		chromedp.Evaluate(names, &got[0]),
		click("feeder g"), chromedp.Evaluate(names, &got[1]), click("feeder g"), chromedp.Evaluate(names, &got[2]),
		click("feeder holds N"), chromedp.Evaluate(names, &got[3]), click("feeder"), chromedp.Evaluate(names, &got[4]),
		chromedp.Evaluate(`getComputedStyle(document.querySelector('table.sort tbody th')).position`, &sticky),
		chromedp.Evaluate(`document.querySelector('table.sort thead button').focus(); document.activeElement.tagName`,
			&focus),
		chromedp.KeyEvent(kb.Enter), chromedp.Evaluate(names, &got[5])); err != nil {
		t.Fatal(err)
	}
	want := []string{"beech cedar ash", "ash beech cedar", "beech ash cedar", "beech cedar ash", "ash beech cedar",
		"cedar beech ash"}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("step %d: %s, want %s", i, got[i], want[i])
		}
	}
	if sticky != "sticky" || focus != "BUTTON" {
		t.Errorf("first column %s, focus on %s", sticky, focus)
	}
}

// Every report opened in a real browser: charts drawn, no console error, no request leaves the page, nothing
// wider than the screen at 360 px, no fault found by the accessibility library in either colour scheme, keyboard
// reach, and the tables stand without a script. Each report has a tab of its own, several at a time.
func TestReportsInABrowser(t *testing.T) {
	browser(t)
	pages := []reportPage{
		{"assess", 7, 12}, {"rank", 4, 3}, {"plan", 2, 5}, {"trace", 1, 4}, {"log", 1, 3}, {"cell", 1, 2},
		{"calibrate", 2, 3}, {"survey", 2, 6}, {"mould", 4, 6},
	}
	for _, c := range pages {
		once(t, c.name) // it changes the folder: not while other tests run
	}
	for i, c := range pages {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			ctx := browser(t)
			var faults []string
			watch(ctx, &faults)
			if err := chromedp.Run(ctx, network.Enable(), runtime.Enable()); err != nil {
				t.Fatal(err)
			}
			c.inBothSchemes(t, ctx)
			c.withoutScript(t, ctx)
			if i == 0 {
				findsFaults(t, ctx)
				byKeyboard(t, ctx)
				onPaper(t, ctx)
			}
			if len(faults) > 0 {
				b, _ := json.MarshalIndent(faults, "", " ")
				t.Errorf("the page is not clean: %s", b)
			}
		})
	}
}

// findsFaults holds that the accessibility check can fail.
func findsFaults(t *testing.T, ctx context.Context) {
	t.Helper()
	const spoil = `document.querySelector('.how').style.color = 'var(--line)';
		document.querySelector('main').insertAdjacentHTML('beforeend', '<img src="data:,">'); 0`
	if err := chromedp.Run(ctx, chromedp.Evaluate(spoil, nil)); err != nil || len(violations(t, ctx)) < 2 {
		t.Errorf("the accessibility library overlooks pale text and a picture without a name: %v", err)
	}
}

// reportPage is the report of a common command line, with the fewest charts and tables that are in it.
type reportPage struct {
	name           string
	charts, tables int
}

// inBothSchemes looks at a report in light and wide, and in dark and narrow.
func (c reportPage) inBothSchemes(t *testing.T, ctx context.Context) {
	t.Helper()
	page := once(t, c.name).html
	for _, v := range []struct {
		width  int64
		scheme string
	}{{1100, "light"}, {360, "dark"}} {
		what := c.name + " " + v.scheme
		var charts, paths int
		var over []string
		if err := chromedp.Run(ctx, chromedp.EmulateViewport(v.width, 800),
			emulation.SetEmulatedMedia().WithFeatures(
				[]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: v.scheme}}),
			chromedp.Navigate("file://"+page),
			chromedp.Evaluate(`Number(document.documentElement.dataset.charts)`, &charts),
			chromedp.Evaluate(
				`Math.min(...[...document.querySelectorAll('.chart')].map(c => c.querySelectorAll('svg path').length))`, &paths),
			chromedp.Evaluate(wide, &over)); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if charts < c.charts || paths < 8 {
			t.Errorf("%s: %d charts drawn, the emptiest with %d paths", what, charts, paths)
		}
		if len(over) > 0 {
			t.Errorf("%s: wider than %d px: %v", what, v.width, over)
		}
		if v.scheme == "light" { // all but the colours is the same in both
			accessible(t, ctx, what, "color-contrast")
		} else {
			accessible(t, ctx, what)
		}
	}
}

// withoutScript looks at a report with scripts off: every chart is a drawing with its table; every table has its file.
func (c reportPage) withoutScript(t *testing.T, ctx context.Context) {
	t.Helper()
	var tables, files, drawn, bare int
	if err := chromedp.Run(ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Reload(),
		emulation.SetScriptExecutionDisabled(false),
		chromedp.Evaluate(`document.querySelectorAll('.block:has(.chart, svg):not(:has(table))').length`, &bare),
		chromedp.Evaluate(`document.querySelectorAll('details table').length`, &tables),
		chromedp.Evaluate(`document.querySelectorAll('a.csv[href^="data:text/csv"]').length`, &files),
		chromedp.Evaluate(seen, &drawn)); err != nil || tables < c.tables || files != tables ||
		drawn < c.charts || bare > 0 {
		t.Errorf("%s without a script: %d tables, %d files, %d drawings, %d pictures without a table, %v",
			c.name, tables, files, drawn, bare, err)
	}
}

// byKeyboard uses a report by keyboard: the first stop skips to it, and a table unfolds with Enter.
func byKeyboard(t *testing.T, ctx context.Context) {
	t.Helper()
	var first string
	var open bool
	if err := chromedp.Run(ctx, chromedp.Reload(), chromedp.KeyEvent(kb.Tab),
		chromedp.Evaluate(`document.activeElement.textContent`, &first),
		chromedp.Evaluate(
			`document.querySelector('details:not([open]) summary').focus(); document.activeElement.parentElement.id = 'folded'; 0`, nil),
		chromedp.KeyEvent(kb.Enter), chromedp.Evaluate(`document.getElementById('folded').open`, &open)); err != nil ||
		first != "Skip to the report" || !open {
		t.Errorf("by keyboard: first stop %q, table open %v, %v", first, open, err)
	}
}

// onPaper prints a report: A4 pages with the drawings of the page; back on the screen all is as before.
func onPaper(t *testing.T, ctx context.Context) {
	t.Helper()
	var pdf []byte
	var drawn, again int
	if err := chromedp.Run(ctx, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = cdppage.PrintToPDF().WithPreferCSSPageSize(true).Do(ctx)
		return err
	})); err != nil || !strings.Contains(string(pdf[:8]), "%PDF") {
		t.Errorf("print: %v", err)
	}
	const live = `[...document.querySelectorAll('.chart')].filter(e => e.getBoundingClientRect().height > 50).length`
	var paper int
	if err := chromedp.Run(ctx, emulation.SetEmulatedMedia().WithMedia("print"), chromedp.Evaluate(seen, &drawn),
		chromedp.Evaluate(live, &paper),
		emulation.SetEmulatedMedia().WithMedia("screen"), chromedp.Evaluate(live, &again)); err != nil || drawn < 4 ||
		paper > 0 || again != drawn {
		t.Errorf("print: %d drawings and %d live charts on paper, %d live charts after, %v", drawn, paper, again, err)
	}
}
