package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
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
func browser(t *testing.T) context.Context {
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
func violations(t *testing.T, ctx context.Context, rules ...string) (found []violation) {
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

func accessible(t *testing.T, ctx context.Context, what string, rules ...string) {
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
// reach, and the tables stand without a script.
func TestReportsInABrowser(t *testing.T) {
	ctx := browser(t)
	var faults []string
	watch(ctx, &faults)
	if err := chromedp.Run(ctx, network.Enable(), runtime.Enable()); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name           string
		charts, tables int // at least
	}{
		{"assess", 7, 12}, {"rank", 4, 3}, {"plan", 2, 5}, {"trace", 1, 4}, {"log", 1, 3}, {"cell", 1, 2},
		{"calibrate", 2, 3}, {"survey", 2, 6}, {"mould", 4, 6},
	} {
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
		// Without a script every chart is a drawing with its table; every table has its file.
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
	// The accessibility check can fail.
	if err := chromedp.Run(ctx,
		chromedp.Evaluate(
			`document.querySelector('.how').style.color = 'var(--line)'; document.querySelector('main').insertAdjacentHTML('beforeend', '<img src="data:,">'); 0`, nil)); err != nil || len(violations(t, ctx)) < 2 {
		t.Errorf("the accessibility library overlooks pale text and a picture without a name: %v", err)
	}
	// By keyboard: the first stop skips to the report, and a table unfolds with Enter.
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
	// On paper: A4 pages with the drawings of the page; back on the screen all is as before.
	var pdf []byte
	var drawn, again int
	if err := chromedp.Run(ctx, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = cdppage.PrintToPDF().WithPreferCSSPageSize(true).Do(ctx)
		return err
	})); err != nil || !strings.Contains(string(pdf[:8]), "%PDF") {
		t.Errorf("print: %v", err)
	}
	const live = `[...document.querySelectorAll('.chart')].filter(e => e.getBoundingClientRect().height > 50).length`
	var onPaper int
	if err := chromedp.Run(ctx, emulation.SetEmulatedMedia().WithMedia("print"), chromedp.Evaluate(seen, &drawn),
		chromedp.Evaluate(live, &onPaper),
		emulation.SetEmulatedMedia().WithMedia("screen"), chromedp.Evaluate(live, &again)); err != nil || drawn < 4 ||
		onPaper > 0 || again != drawn {
		t.Errorf("print: %d drawings and %d live charts on paper, %d live charts after, %v", drawn, onPaper, again, err)
	}
	if len(faults) > 0 {
		b, _ := json.MarshalIndent(faults, "", " ")
		t.Errorf("the pages are not clean: %s", b)
	}
}

// openWhatIf runs the page until the test ends and returns its address.
func openWhatIf(t *testing.T, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	done := make(chan int, 1)
	go func() {
		done <- Run(ctx, append([]string{"whatif"}, args...), strings.NewReader(""), in, os.Stderr)
		in.Close()
	}()
	t.Cleanup(func() {
		cancel()
		if code := <-done; code != OK {
			t.Errorf("the page ended with %d", code)
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.Discard, out)
	return strings.TrimSpace(strings.TrimPrefix(line, "The page is at "))
}

// The what-if page used as a reader would: a slider moved, a number typed, a mistake and its repair, the feeder of
// another case, the text edited, the case saved; then without a script. No request leaves the machine.
func TestWhatIfInABrowser(t *testing.T) {
	ctx := browser(t)
	dir := t.TempDir()
	mine, other := filepath.Join(dir, "mine.toml"), filepath.Join(dir, "other.toml")
	mustRun(t, "starter", mine)
	b, err := os.ReadFile(mine)
	if err != nil {
		t.Fatal(err)
	}
	os.WriteFile(other,
		[]byte(strings.NewReplacer(`name = "club feeder"`, `name = "weak feeder"`, "force_N = 74", "force_N = 24",
			"force_N = 66", "force_N = 22", "force_N = 57", "force_N = 20").Replace(string(b))), 0o644)
	url := openWhatIf(t, mine, other)
	var faults []string
	watch(ctx, &faults, url)
	verdict := func() (s string) {
		if err := chromedp.Run(ctx, chromedp.Text(".verdict .sentence", &s)); err != nil {
			t.Fatal(err)
		}
		return s
	}
	// set puts a value into a field as typing or dragging would, and waits for the answer.
	set := func(field, value string) {
		t.Helper()
		js := fmt.Sprintf(
			`(() => { const n = Number(document.documentElement.dataset.answers || 0); const f = %s; f.value = %q; f.dispatchEvent(new Event('input', {bubbles: true}));
			return new Promise((ok, no) => { const at = Date.now(); (function wait() { if (Number(document.documentElement.dataset.answers || 0) > n) ok(0); else if (Date.now() - at > 60000) no('no answer'); else setTimeout(wait, 10); })(); }); })()`,
			field,
			value,
		)
		if err := chromedp.Run(ctx,
			chromedp.Evaluate(js, nil,
				func(p *runtime.EvaluateParams) *runtime.EvaluateParams {
					return p.WithAwaitPromise(true)
				})); err != nil {
			t.Fatalf("%s = %s: %v", field, value, err)
		}
	}
	text := func(js string) (s string) {
		if err := chromedp.Run(ctx, chromedp.Evaluate(js, &s)); err != nil {
			t.Fatal(err)
		}
		return s
	}
	const block, bore = `document.getElementById('set:hot_end.block_degC')`,
		`document.getElementById('set:hot_end.section[3].diameter_mm')`
	if err := chromedp.Run(ctx, network.Enable(), runtime.Enable(), chromedp.EmulateViewport(1300, 1000),
		chromedp.Navigate(url)); err != nil {
		t.Fatal(err)
	}
	before := verdict()
	accessible(t, ctx, "what if")
	set(block+".slider", "235")
	if v := verdict(); v == before || !strings.Contains(v, "235 degC") || text(block+".value") != "235" {
		t.Errorf("slider to 235: %s", v)
	}
	set(bore, "0.6")
	if c := text(`document.getElementById('case').value`); !strings.Contains(c, "end_diameter_mm = 0.6") ||
		!strings.Contains(c, "block_degC = 235") {
		t.Errorf("the case file lags behind:\n%s", c)
	}
	good := verdict()
	set(block, "900")
	if p := text(`document.getElementById('problems').textContent`); !strings.Contains(p, "50 to 500 degC") ||
		verdict() == good && text(`document.body.className`) != "whatif stale" {
		t.Errorf("900 degC: %q", p)
	}
	accessible(t, ctx, "what if with a mistake")
	set(block, "235")
	if p := text(`document.getElementById('problems').textContent`); p != "" || verdict() != good {
		t.Errorf("put right: %q", p)
	}
	set(`document.getElementById('feeder')`, "1")
	if c := text(`document.getElementById('case').value`); !strings.Contains(c, "weak feeder") || verdict() == good {
		t.Errorf("the other feeder is not in:\n%s", c)
	}
	edited := strings.Replace(text(`document.getElementById('case').value`), "flow_mm3_s = 10 ", "flow_mm3_s = 33 ", 1)
	set(`document.getElementById('case')`, edited)
	if v := verdict(); !strings.Contains(v, "wanted flow of 33 mm3/s: not held") ||
		text(`document.getElementById('set:target.flow_mm3_s').value`) != "33" {
		t.Errorf("edited text: %s", v)
	}
	// The case file saved from the page gives the same answer on the command line.
	saved := filepath.Join(dir, "saved.toml")
	os.WriteFile(saved, []byte(text(`document.getElementById('case').value`)), 0o644)
	says, _, _ := strings.Cut(verdict(), ". The wanted flow") // how sure it is, the command line samples
	if code, out, errw := run("assess", saved); code != NotHeld ||
		!strings.Contains(strings.Join(strings.Fields(out), " "), strings.Join(strings.Fields(says), " ")) {
		t.Errorf("the page says %q, the command line (%d) %s%s", says, code, errw, out)
	}
	var over []string
	var charts int
	if err := chromedp.Run(ctx, chromedp.EmulateViewport(360, 740),
		emulation.SetEmulatedMedia().WithFeatures(
			[]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}), chromedp.Reload(),
		chromedp.Evaluate(wide, &over),
		chromedp.Evaluate(`Number(document.documentElement.dataset.charts)`, &charts)); err != nil || len(over) > 0 ||
		charts < 1 {
		t.Errorf("at 360 px: too wide %v, %d charts, %v", over, charts, err)
	}
	accessible(t, ctx, "what if at 360 px, dark")
	// Without a script: the form is sent whole and the page comes back with the answer.
	if err := chromedp.Run(ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Reload(), emulation.SetScriptExecutionDisabled(false), chromedp.SetValue(`input[name="set:hot_end.block_degC"]`, "198", chromedp.ByQuery),
		chromedp.Click("#compute", chromedp.ByQuery), chromedp.WaitVisible(`input[value="198"]`, chromedp.ByQuery)); err != nil {
		t.Fatal(err)
	}
	if v := verdict(); !strings.Contains(v, "At 198 degC") {
		t.Errorf("without a script: %s", v)
	}
	if len(faults) > 0 {
		t.Errorf("the page is not clean: %v", faults)
	}
}
