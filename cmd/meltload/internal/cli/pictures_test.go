package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"meltload/materials/checks"
)

// The pictures of README and docs are screenshots of the program's own pages, made with -update.
func TestPictures(t *testing.T) {
	pictures := []struct {
		name   string
		height int64
		args   []string
	}{
		{"report", 1500, []string{"assess"}},
		{"plan", 1250, []string{"plan", "--force-low", "15", "--force-high", "40", "--flows", "5,20", "--cell", "10",
			"--rate", "80"}},
		{"log", 1000, []string{"log", "testdata/demo/run.csv"}},
		{"calibration", 1150, []string{"calibrate", "case.toml", "testdata/demo/pushes.csv"}},
		{"mould", 1500, []string{"mould"}},
	}
	file := func(name string) string { return checks.Root("report", "docs", name+".png") }
	if *update {
		ctx := browser(t)
		dir, demo := t.TempDir(), os.DirFS(checks.Root("testdata", "demo"))
		t.Chdir(dir) // so that pictures show no folder of this machine
		if err := os.CopyFS("testdata/demo", demo); err != nil {
			t.Fatal(err)
		}
		shoot := func(name, url string, height int64) {
			var png []byte
			if err := chromedp.Run(ctx, chromedp.EmulateViewport(1000, height),
				emulation.SetEmulatedMedia().WithFeatures(
					[]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "light"}}),
				chromedp.Navigate(url), chromedp.WaitReady("[data-charts]", chromedp.ByQuery),
				chromedp.CaptureScreenshot(&png)); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file(name), png, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		mustRun(t, "starter", "case.toml")
		for _, p := range pictures {
			page := filepath.Join(dir, p.name+".html")
			mustRun(t, append(p.args, "--quiet", "--report", page)...)
			shoot(p.name, "file://"+page, p.height)
		}
		shoot("whatif", openWhatIf(t), 1250)
	}
	for _, n := range []string{"report", "plan", "log", "calibration", "mould", "whatif"} {
		if i, err := os.Stat(file(n)); err != nil || i.Size() < 20000 || i.Size() > 600000 {
			t.Errorf("%s: %v", n, err)
		}
	}
}
