package cli

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"meltload/materials/checks"
)

// browser starts headless Chromium, or skips the test where there is none
// (MELTLOAD_BROWSER=must makes that a failure, as the full check does).
func browser(t *testing.T) context.Context {
	t.Helper()
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
	// Not t.TempDir: Chromium may still be writing when the test ends.
	profile, err := os.MkdirTemp("", "meltload-browser")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(profile) })
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(profile))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// watch collects console errors, exceptions and requests that leave the page.
func watch(ctx context.Context, faults *[]string) {
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
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; !strings.HasPrefix(u, "file:") && !strings.HasPrefix(u, "data:") {
				*faults = append(*faults, "request: "+u)
			}
		}
	})
}

// The report opened in a real browser: charts drawn, no console error, no
// request leaves the page, nothing wider than the screen at 360 px, and the
// tables stand without a script.
func TestReportInABrowser(t *testing.T) {
	ctx := browser(t)
	file := filepath.Join(t.TempDir(), "report.html")
	if code, _, errw := run("assess", "--quiet", "--report", file); code != OK {
		t.Fatal(errw)
	}
	var faults []string
	watch(ctx, &faults)
	var charts, paths int
	var overflow []string
	err := chromedp.Run(ctx, network.Enable(), runtime.Enable(),
		chromedp.EmulateViewport(1100, 900),
		chromedp.Navigate("file://"+file),
		chromedp.Evaluate(`Number(document.documentElement.dataset.charts)`, &charts),
		chromedp.Evaluate(`Math.min(...[...document.querySelectorAll('.chart')].map(c => c.querySelectorAll('svg path').length))`, &paths),
		chromedp.EmulateViewport(360, 740),
		chromedp.Reload(),
		chromedp.Evaluate(`[...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll') && !e.closest('.hidden') && !e.closest('.chart') && !e.closest('.skip') && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + '.' + e.className)`, &overflow),
	)
	if err != nil {
		t.Fatal(err)
	}
	if charts < 4 || paths < 10 {
		t.Errorf("%d charts drawn, the emptiest with %d paths", charts, paths)
	}
	if len(overflow) > 0 {
		t.Errorf("wider than 360 px: %v", overflow)
	}
	// Both colour schemes draw.
	for _, scheme := range []string{"dark", "light"} {
		if err := chromedp.Run(ctx, emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}), chromedp.Reload(),
			chromedp.Evaluate(`Number(document.documentElement.dataset.charts)`, &charts)); err != nil || charts < 4 {
			t.Errorf("%s: %d charts, %v", scheme, charts, err)
		}
	}
	// Without a script every chart still has its table and the notice.
	var tables, notes int
	if err := chromedp.Run(ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Reload(), emulation.SetScriptExecutionDisabled(false),
		chromedp.Evaluate(`document.querySelectorAll('table').length`, &tables), chromedp.Evaluate(`document.querySelectorAll('.noscript').length`, &notes)); err != nil || tables < 8 || notes < 4 {
		t.Errorf("without a script: %d tables, %d notes, %v", tables, notes, err)
	}
	// The pages of the bench commands draw as cleanly.
	mine := filepath.Join(filepath.Dir(file), "case.toml")
	mustRun(t, "starter", mine)
	demo := func(n string) string { return checks.Root("testdata", "demo", n) }
	for _, args := range [][]string{{"plan", "--force-high", "40"}, {"trace", "--flow", "5", "--feed", "20", "--heater-off"},
		{"log", demo("run.csv")}, {"cell", demo("weights.csv")}, {"calibrate", mine, demo("pushes.csv")}, {"mould"}} {
		page := filepath.Join(filepath.Dir(file), args[0]+".html")
		if code, _, errw := run(append(args, "--quiet", "--report", page)...); code != OK {
			t.Fatal(errw)
		}
		if err := chromedp.Run(ctx, chromedp.Navigate("file://"+page), chromedp.Evaluate(`Number(document.documentElement.dataset.charts)`, &charts)); err != nil || charts < 1 {
			t.Errorf("%s: %d charts, %v", args[0], charts, err)
		}
	}
	if len(faults) > 0 {
		b, _ := json.MarshalIndent(faults, "", " ")
		t.Errorf("the page is not clean: %s", b)
	}
}
