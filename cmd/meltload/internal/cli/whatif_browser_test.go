package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

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

// whatIf is a what-if page in a browser: one that a server brings, or a live report.
type whatIf struct {
	t   testing.TB
	ctx context.Context
}

// field is a control by the key of the case file.
func field(key string) string { return `document.getElementById('set:` + key + `')` }

// The parts of the page that the tests look at.
const (
	block      = "hot_end.block_degC"
	caseNow    = `document.getElementById('case').value`
	problems   = `document.getElementById('problems').textContent`
	verdictNow = `document.querySelector('#answer .verdict .sentence').textContent`
	anAnswer   = `const n = Number(document.documentElement.dataset.answers || 0); ` + more
	more       = `const more = () => new Promise((ok, no) => { const at = Date.now(); (function wait() {
			if (Number(document.documentElement.dataset.answers || 0) > n) ok(0);
			else if (Date.now() - at > 60000) no('no answer'); else setTimeout(wait, 5); })(); });`
	isReady = `new Promise(ok => { const at = Date.now(); (function wait() { const d = document.documentElement.dataset;
		if (d.ready || d.asleep || Date.now() - at > 60000) ok(d.ready || ''); else setTimeout(wait, 10); })(); })`
)

// await evaluates what may take time.
func (w whatIf) await(js string, to any) {
	w.t.Helper()
	if err := chromedp.Run(w.ctx, chromedp.Evaluate(js, to, func(p *runtime.EvaluateParams) *runtime.EvaluateParams {
		return p.WithAwaitPromise(true)
	})); err != nil {
		w.t.Fatalf("%v in %s", err, js)
	}
}

// open goes to an address and waits until the page can be used.
func (w whatIf) open(url string) {
	w.t.Helper()
	if err := chromedp.Run(w.ctx, network.Enable(), runtime.Enable(), chromedp.Navigate("about:blank"),
		chromedp.Navigate(url)); err != nil {
		w.t.Fatal(err)
	}
	w.ready()
}

func (w whatIf) ready() {
	w.t.Helper()
	var ready string
	if w.await(isReady, &ready); ready == "" {
		w.t.Fatalf("the page cannot be used: %s", w.text(`document.body.textContent.slice(0, 600)`))
	}
}

// answered waits for the first answer after the page was opened.
func (w whatIf) answered() {
	w.t.Helper()
	w.await(`(() => { const n = 0; `+more+` return more(); })()`, nil)
}

// set puts a value into a field as typing or dragging would, and waits for the answer.
func (w whatIf) set(field, value string) {
	w.t.Helper()
	w.await(fmt.Sprintf(`(() => { %s const f = %s; f.value = %q; f.dispatchEvent(new Event('input', {bubbles: true}));
		return more(); })()`, anAnswer, field, value), nil)
}

// press does something and waits for the answer.
func (w whatIf) press(js string) {
	w.t.Helper()
	w.await(`(() => { `+anAnswer+js+`; return more(); })()`, nil)
}

func (w whatIf) text(js string) (s string) {
	w.t.Helper()
	w.await(js, &s)
	return s
}

// narrow makes the window small and dark.
func (w whatIf) narrow(what string) {
	w.t.Helper()
	var over []string
	if err := chromedp.Run(w.ctx, chromedp.EmulateViewport(360, 740), emulation.SetEmulatedMedia().WithFeatures(
		[]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}})); err != nil {
		w.t.Fatal(err)
	}
	if w.await(wide, &over); len(over) > 0 {
		w.t.Errorf("%s at 360 px: too wide %v", what, over)
	}
	w.inSight()
	accessible(w.t, w.ctx, what+" at 360 px, dark")
}

// threads uses undo, redo, the way back and the address: the changes come back over a reload.
func (w whatIf) threads() {
	w.t.Helper()
	w.set(field(block)+".slider", "222")
	w.set(field("hot_end.section[3].diameter_mm"), "0.5")
	both := w.text(verdictNow)
	if beside := w.text(`document.querySelector('#answer .beside').textContent`); !strings.Contains(beside, "215 degC") {
		w.t.Errorf("the verdict at the start is not beside: %s", beside)
	}
	if l := w.text(`document.querySelector('#answer .legend').textContent`); !strings.Contains(l, "load at the start") {
		w.t.Errorf("no curve of the start: %s", l)
	}
	hash := w.text(`location.hash`)
	if !strings.Contains(hash, "block_degC=222") || !strings.Contains(hash, "diameter_mm=0.5") {
		w.t.Errorf("address %s", hash)
	}
	w.press(`document.getElementById('undo').click()`)
	if v := w.text(verdictNow); v == both || w.text(field("hot_end.section[3].diameter_mm")+".value") != "0.4" {
		w.t.Errorf("undo leaves %s", v)
	}
	w.press(`document.body.dispatchEvent(new KeyboardEvent('keydown', {key: 'y', ctrlKey: true, bubbles: true}))`)
	if v := w.text(verdictNow); v != both {
		w.t.Errorf("redo gives %s, not %s", v, both)
	}
	if err := chromedp.Run(w.ctx, chromedp.Reload()); err != nil {
		w.t.Fatal(err)
	}
	w.ready()
	w.answered()
	if v := w.text(verdictNow); v != both || w.text(field(block)+".value") != "222" {
		w.t.Errorf("after a reload: %s", v)
	}
	w.press(`document.getElementById('again-start').click()`)
	if h := w.text(`location.hash`); h != "" {
		w.t.Errorf("back at the start the address has %s", h)
	}
}

// The what-if page used as a reader would: a slider moved, a number typed, a mistake and its repair, the feeder of
// another case, the text edited, the case saved; then without a script. No request leaves the machine.
func TestWhatIfInABrowser(t *testing.T) {
	t.Parallel()
	w := whatIf{t, browser(t)}
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
	watch(w.ctx, &faults, url)
	if err := chromedp.Run(w.ctx, chromedp.EmulateViewport(1300, 1000)); err != nil {
		t.Fatal(err)
	}
	w.open(url)
	w.threads()
	w.set(field(block), "235")
	good := w.text(verdictNow)
	w.set(field(block), "900")
	if p := w.text(problems); !strings.Contains(p, "50 to 500 degC") ||
		!strings.Contains(w.text(`document.body.className`), "stale") {
		t.Errorf("900 degC: %q", p)
	}
	accessible(t, w.ctx, "what if with a mistake")
	w.set(field(block), "235")
	if p := w.text(problems); p != "" || w.text(verdictNow) != good {
		t.Errorf("put right: %q", p)
	}
	w.set(`document.getElementById('feeder')`, "1")
	c := w.text(caseNow)
	if !strings.Contains(c, "weak feeder") || w.text(verdictNow) == good {
		t.Errorf("the other feeder is not in:\n%s", c)
	}
	w.set(`document.getElementById('case')`, strings.Replace(c, "flow_mm3_s = 10 ", "flow_mm3_s = 33 ", 1))
	last := w.text(verdictNow)
	if !strings.Contains(last, "wanted flow of 33 mm3/s: not held") ||
		w.text(field("target.flow_mm3_s")+".value") != "33" {
		t.Errorf("edited text: %s", last)
	}
	// The case file saved from the page gives the same answer on the command line.
	saved := filepath.Join(dir, "saved.toml")
	os.WriteFile(saved, []byte(w.text(caseNow)), 0o644)
	says, _, _ := strings.Cut(last, ". The wanted flow") // how sure it is, the command line samples
	if code, out, errw := run("assess", saved); code != NotHeld ||
		!strings.Contains(strings.Join(strings.Fields(out), " "), strings.Join(strings.Fields(says), " ")) {
		t.Errorf("the page says %q, the command line (%d) %s%s", says, code, errw, out)
	}
	// An edited text stands in the address too.
	w.open(w.text(`location.href`))
	w.answered()
	w.set(`document.getElementById('set:filament.material')`, "petg")
	if c := w.text(caseNow); !strings.Contains(c, "flow_mm3_s = 33") || !strings.Contains(c, "weak feeder") {
		t.Errorf("the address lost the text:\n%s", c)
	}
	w.narrow("what if")
	w.withoutScript()
	if len(faults) > 0 {
		t.Errorf("the page is not clean: %v", faults)
	}
}

// withoutScript sends the form whole: the page comes back with the answer.
func (w whatIf) withoutScript() {
	w.t.Helper()
	if err := chromedp.Run(w.ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Reload(),
		emulation.SetScriptExecutionDisabled(false),
		chromedp.SetValue(`input[name="set:hot_end.block_degC"]`, "198", chromedp.ByQuery),
		chromedp.Click("#compute", chromedp.ByQuery),
		chromedp.WaitVisible(`input[value="198"]`, chromedp.ByQuery)); err != nil {
		w.t.Fatal(err)
	}
	if v := w.text(`document.querySelector('.verdict .sentence').textContent`); !strings.Contains(v, "At 198 degC") {
		w.t.Errorf("without a script: %s", v)
	}
}

// mostBytes is the most that a live report may take.
const mostBytes = 4_500_000

// A live report opened from disk answers as the command does, needs no network, keeps its changes, and is the report as
// it was made where scripts are off or its solver gives other numbers.
func TestLiveReportInABrowser(t *testing.T) {
	t.Parallel()
	w := whatIf{t, browser(t)}
	dir := t.TempDir()
	page, result := filepath.Join(dir, "live.html"), filepath.Join(dir, "result.json")
	mustRun(t, "assess", "--quiet", "--live", "--report", page)
	b, err := os.ReadFile(page)
	if err != nil || len(b) > mostBytes {
		t.Errorf("%d bytes, %v", len(b), err)
	}
	var faults []string
	watch(w.ctx, &faults)
	if err := chromedp.Run(w.ctx, chromedp.EmulateViewport(1280, 900)); err != nil {
		t.Fatal(err)
	}
	w.open("file://" + page)
	accessible(t, w.ctx, "live report")
	w.threads()
	w.set(field(block), "232")
	accessible(t, w.ctx, "live report, changed", "color-contrast") // the rest is looked at narrow and dark
	w.oneKindOfRange()
	// The numbers behind the page are those of the command to 1e-9.
	mustRun(t, "assess", "--quiet", "--samples", "16", "--block", "232", "--json", result)
	var of struct {
		Verdict struct {
			Usable float64 `json:"usable_flow_mm3_s"`
		} `json:"verdict"`
		Point struct {
			Push     float64 `json:"push_N"`
			Pressure float64 `json:"pressure_MPa"`
		} `json:"operating_point"`
	}
	if b, err = os.ReadFile(result); err == nil {
		err = json.Unmarshal(b, &of)
	}
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	w.await(`JSON.parse(window.meltloadModule.answer('set:hot_end.block_degC=232')).numbers`, &got)
	for name, want := range map[string]float64{"usable flow": of.Verdict.Usable * 1e-9, "push": of.Point.Push,
		"pressure": of.Point.Pressure * 1e6} {
		if !(want > 0) || math.Abs(got[name]/want-1) > 1e-9 {
			t.Errorf("%s is %g on the page, %g by the command", name, got[name], want)
		}
	}
	w.narrow("live report")
	if len(faults) > 0 {
		t.Errorf("the page is not clean: %v", faults)
	}
	w.asleep(page)
}

// oneKindOfRange looks that the range of a change stands beside that of the start by the same way, and that the report
// below says that its own is by samples.
func (w whatIf) oneKindOfRange() {
	w.t.Helper()
	beside := w.text(`[...document.querySelectorAll('#answer .beside')].map(e => e.textContent).join(' ')`)
	for _, want := range []string{"Range by two corners", " now, ", "mm³/s at the start", "by samples"} {
		if !strings.Contains(beside, want) {
			w.t.Errorf("beside the verdict %q is missing: %s", want, beside)
		}
	}
	if below := w.text(`document.getElementById('below').textContent`); !strings.Contains(below, "samples") {
		w.t.Errorf("the report below does not say how its range was found: %s", below)
	}
}

// inSight looks that the verdict is in sight while each slider is moved, and that no slider is behind it.
func (w whatIf) inSight() {
	w.t.Helper()
	var lost []string
	w.await(`(() => { const s = document.getElementById('status'), out = [];
		document.querySelectorAll('#controls input').forEach(e => {
			if (!e.offsetParent) return;
			e.focus(); e.scrollIntoView({block: 'nearest'});
			const a = s.getBoundingClientRect(), b = e.getBoundingClientRect();
			if (!s.textContent || a.top < -2 || a.bottom > innerHeight || b.top < a.bottom - 1 && b.bottom > a.top + 1)
				out.push(e.name || e.getAttribute('aria-label')); });
		return out; })()`, &lost)
	if len(lost) > 0 {
		w.t.Errorf("the verdict is not in sight, or covers the field, at %v", lost)
	}
}

// asleep looks at a live report whose solver does not answer: the report stands, with its drawings and without fields.
func (w whatIf) asleep(page string) {
	w.t.Helper()
	var fields bool
	var drawn int
	const fieldsShown = `document.getElementById('asked').getBoundingClientRect().height > 0`
	if err := chromedp.Run(w.ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Navigate("file://"+page),
		emulation.SetScriptExecutionDisabled(false), chromedp.Evaluate(fieldsShown, &fields),
		chromedp.Evaluate(seen, &drawn)); err != nil || fields || drawn < 6 {
		w.t.Errorf("scripts off: fields shown %v, %d drawings, %v", fields, drawn, err)
	}
	b, err := os.ReadFile(page)
	if err != nil {
		w.t.Fatal(err)
	}
	// A report with another number than its solver gives.
	other := strings.Replace(string(b), `"usable flow":`, `"usable flow":1`, 1)
	wrong := filepath.Join(filepath.Dir(page), "wrong.html")
	if err := os.WriteFile(wrong, []byte(other), 0o644); err != nil || other == string(b) {
		w.t.Fatal(err)
	}
	if err := chromedp.Run(w.ctx, chromedp.Navigate("file://"+wrong)); err != nil {
		w.t.Fatal(err)
	}
	var ready string
	w.await(isReady, &ready)
	said := w.text(`document.getElementById('asleep').textContent`)
	if w.await(fieldsShown, &fields); fields || ready != "" || !strings.Contains(said, "usable flow") {
		w.t.Errorf("another number: fields shown %v, %q", fields, said)
	}
}

// liveInFront opens a live report in a window that is painted.
func liveInFront(b *testing.B) whatIf {
	b.Helper()
	w := whatIf{b, browser(b)}
	page := filepath.Join(b.TempDir(), "live.html")
	if code := Run(b.Context(), []string{"assess", "--quiet", "--live", "--report", page}, strings.NewReader(""),
		io.Discard, io.Discard); code != OK {
		b.Fatalf("exit code %d", code)
	}
	if err := chromedp.Run(w.ctx, chromedp.EmulateViewport(1280, 900), cdppage.BringToFront()); err != nil {
		b.Fatal(err)
	}
	w.open("file://" + page)
	return w
}

// BenchmarkLiveFirst is a live report opened from disk, to its first answer.
func BenchmarkLiveFirst(b *testing.B) {
	w := liveInFront(b)
	total := 0.0
	for b.Loop() {
		if err := chromedp.Run(w.ctx, chromedp.Reload()); err != nil {
			b.Fatal(err)
		}
		w.ready()
		var ms float64
		w.await(`Number(document.documentElement.dataset.awake)`, &ms)
		total += ms
	}
	b.ReportMetric(total/float64(b.N)*1e6, "ns/op")
}

// BenchmarkLiveMarkup is one move in the WebAssembly of a live report, to the markup of its whole answer, painting left
// out: the median of thirty.
func BenchmarkLiveMarkup(b *testing.B) {
	w := liveInFront(b)
	var ms float64
	for b.Loop() {
		w.await(`(() => { const out = [], name = `+field(block)+`.name;
			for (let T = 216; T < 246; T++) {
				const at = performance.now();
				const first = JSON.parse(meltloadModule.answer(new URLSearchParams({[name]: T}).toString()));
				const rest = JSON.parse(meltloadModule.rest());
				out.push(performance.now() - at);
				if (first.problems + rest.problems !== '' || first.answer.length < 9999) throw new Error('no answer'); }
			return out.sort((a, b) => a - b)[15]; })()`, &ms)
	}
	b.ReportMetric(ms*1e6, "ns/op")
}

// BenchmarkLiveMove is one move of a slider in a live report, to painted verdict of the best estimate, charts, melt
// zone and limits: the median of thirty.
func BenchmarkLiveMove(b *testing.B) { liveMove(b, "shown") }

// BenchmarkLiveRange is one move of a slider in a live report, until the range and the verdict by it are painted too.
func BenchmarkLiveRange(b *testing.B) { liveMove(b, "answers") }

// liveMove times moves until the page has painted what it counts by a name; the chart stands in the window meanwhile.
// None of the moves leads to the start, where the answer is folded away and the window with it.
func liveMove(b *testing.B, counts string) {
	w := liveInFront(b)
	w.set(field(block), "246")
	w.await(`new Promise(ok => { document.querySelector('#answer .chart').scrollIntoView({block: 'center'});
		setTimeout(ok, 500); })`, nil)
	var ms float64
	for b.Loop() {
		w.await(`(async () => { const out = [], f = `+field(block)+`, page = document.documentElement;
			for (let T = 216; T < 246; T++) { `+anAnswer+`
				const at = performance.now();
				const painted = new Promise(ok => { const seen = new MutationObserver(() => { seen.disconnect();
					requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = ok;
						c.port2.postMessage(0); }); });
					seen.observe(page, {attributes: true, attributeFilter: ['data-`+counts+`']}); });
				f.slider.value = T;
				f.slider.dispatchEvent(new Event('input', {bubbles: true}));
				await painted;
				out.push(performance.now() - at);
				const chart = document.querySelector('#answer .chart'), from = document.querySelector('#answer .options');
				if (echarts.getInstanceByDom(chart).drawnFrom !== from.textContent) throw new Error('the chart waits');
				await more(); }
			return out.sort((a, b) => a - b)[15]; })()`, &ms)
	}
	b.ReportMetric(ms*1e6, "ns/op")
}
