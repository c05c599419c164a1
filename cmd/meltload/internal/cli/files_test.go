package cli

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"meltload/flow/casefile"
	"meltload/materials/checks"
)

// No output replaces an input of its command or a file of another kind: nothing is computed, and every file is as it
// was.
func TestOutputsReplaceNothingOfAnotherKind(t *testing.T) {
	t.Chdir(t.TempDir())
	demo := checks.Root("testdata", "demo")
	for _, n := range []string{"run.csv", "weights.csv", "pushes.csv"} {
		b, err := os.ReadFile(filepath.Join(demo, n))
		if err != nil {
			t.Fatal(err)
		}
		os.WriteFile(n, b, 0o644)
	}
	mustRun(t, "starter", "mine.toml")
	os.WriteFile("notes.txt", []byte("mine"), 0o644)
	os.WriteFile("other.json", []byte(`{"command": ["meltload", "rank"]}`), 0o644)
	os.Mkdir("tables", 0o755)
	os.WriteFile("tables/inputs.csv", []byte("mine,too\n1,2\n"), 0o644)
	before := snapshot(t)
	for _, args := range [][]string{
		{"log", "run.csv", "--points", "notes.txt"}, {"log", "run.csv", "--report", "run.csv"},
		{"log", "run.csv", "--json", "./run.csv"}, {"assess", "mine.toml", "--json", "mine.toml"},
		{"assess", "mine.toml", "--json", "mine.toml", "--force"}, {"assess", "--report", "notes.txt"},
		{"assess", "--json", "other.json"}, {"assess", "--report", "tables"},
		{"cell", "weights.csv", "--json", "weights.csv", "--force"}, {"cell", "weights.csv", "--csv", "notes.txt"},
		{"rank", "mine.toml", "--report", "mine.toml"},
		{"calibrate", "mine.toml", "pushes.csv", "--write", "mine.toml"},
		{"calibrate", "mine.toml", "pushes.csv", "--write", "mine.toml", "--force"},
		{"calibrate", "mine.toml", "pushes.csv", "--write", "notes.txt"},
		{"mould", "mine.toml", "--report", "notes.txt"}, {"trace", "mine.toml", "--json", "notes.txt"},
		{"plan", "--report", "pushes.csv"},
		{"starter", "notes.txt"}, {"manual", "notes.txt"},
		{"cell", "weights.csv", "--report", "x.html", "--json", "x.html"},
		{"cell", "weights.csv", "--report", "-", "--json", "-"},
	} {
		code, out, errw := run(args...)
		if code != BadUse || out != "" || errw == "" {
			t.Errorf("%v: exit code %d, %q, %q", args, code, out, errw)
		}
		if now := snapshot(t); now != before {
			t.Fatalf("%v: files changed from\n%s\nto\n%s", args, before, now)
		}
	}
	// What the same command wrote may be replaced, and the rest by force.
	for _, args := range [][]string{{"cell", "weights.csv", "--quiet", "--report", "c.html", "--json", "c.json",
		"--csv", "c"}, {"cell", "weights.csv", "--quiet", "--report", "c.html", "--json", "c.json", "--csv", "c"},
		{"cell", "weights.csv", "--quiet", "--report", "notes.txt", "--force"}, {"manual", "man"}, {"manual", "man"}} {
		if code, _, errw := run(args...); code != OK {
			t.Errorf("%v: exit code %d, %s", args, code, errw)
		}
	}
	if code, _, errw := run("log", "run.csv", "--report", "c.html"); code != BadUse || !strings.Contains(errw,
		"no report of meltload log") {
		t.Errorf("the report of another command: exit code %d, %s", code, errw)
	}
}

// snapshot is every file under the working directory with its text.
func snapshot(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		b.WriteString(path + " " + casefile.Hash(text) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A directory where a file is wanted is an error of the command line, whatever the command; assess takes a folder of
// cases, and refuses one without any.
func TestDirectoriesAreNoFiles(t *testing.T) {
	dir := t.TempDir()
	if code, _, errw := run("assess", dir); code != BadUse || !strings.Contains(errw, "no case files in this folder") {
		t.Errorf("assess: exit code %d, %s", code, errw)
	}
	for _, args := range [][]string{{"check", dir}, {"rank", dir}, {"cell", dir}, {"mould", dir}, {"plan", dir},
		{"trace", dir}, {"whatif", dir}, {"calibrate", dir, dir}} {
		if code, _, errw := run(args...); code != BadUse || !strings.Contains(errw, "a directory") {
			t.Errorf("%v: exit code %d, %s", args, code, errw)
		}
	}
}

// Standard input stands for a file of any kind, standard output for an output.
func TestStandardStreams(t *testing.T) {
	feed := func(text string, args ...string) (int, string, string) {
		var out, errw bytes.Buffer
		code := Run(context.Background(), args, strings.NewReader(text), &out, &errw)
		return code, out.String(), errw.String()
	}
	weights, err := os.ReadFile(checks.Root("testdata", "demo", "weights.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if code, out, errw := feed(string(weights), "cell", "-", "--json", "-"); code != OK || !strings.HasPrefix(out,
		"{") || !strings.Contains(out, "standard input") {
		t.Errorf("%d %.60q %s", code, out, errw)
	}
	if code, out, errw := feed(string(weights), "cell", "-", "--report", "-"); code != OK || !strings.HasPrefix(out,
		"<!DOCTYPE html>") || !strings.Contains(out, "Content-Security-Policy") {
		t.Errorf("%d %.60q %s", code, out, errw)
	}
	if code, _, errw := feed("x = 1\n", "check", "-"); code != BadUse || !strings.Contains(errw,
		"standard input:1: x") {
		t.Errorf("%d %s", code, errw)
	}
	if code, _, errw := feed("\xef\xbb\xbf"+string(casefile.BuiltIn), "check", "-"); code != OK {
		t.Errorf("%d %s", code, errw)
	}
}

// The bare command says what to do first.
func TestBareCommand(t *testing.T) {
	if code, out, errw := run(); code != OK || out != first || errw != "" || strings.Count(out, "\n") > 12 {
		t.Errorf("%d %q %q", code, out, errw)
	}
}

// Interrupt and terminate end a command that reads a pipe nobody writes to, within a second; so does the end of its
// context.
func TestSignalsEndReading(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("pipes of another kind")
	}
	program := filepath.Join(t.TempDir(), "meltload")
	if b, err := exec.Command("go", "build", "-o", program, "meltload/cmd/meltload").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	mine := filepath.Join(t.TempDir(), "mine.toml")
	mustRun(t, "starter", mine)
	t.Run("commands", func(t *testing.T) { // all at once: each waits and computes next to nothing
		for _, c := range []struct {
			args []string
			sig  os.Signal
		}{
			{[]string{"check", "-"}, os.Interrupt}, {[]string{"assess", "-"}, syscall.SIGTERM},
			{[]string{"log", "-"}, os.Interrupt}, {[]string{"cell", "-"}, syscall.SIGTERM},
			{[]string{"calibrate", mine, "-"}, os.Interrupt}, {[]string{"starter", "--ask", "x.toml"}, os.Interrupt},
			{[]string{"whatif"}, syscall.SIGTERM},
		} {
			t.Run(strings.Join(c.args[:1], " "), func(t *testing.T) {
				t.Parallel()
				endsWith(t, program, filepath.Dir(mine), c.args, c.sig)
			})
		}
	})
	endsWith(t, program, filepath.Dir(mine), []string{"assess", "--samples", "1000000"}, os.Interrupt)
}

// endsWith runs the program, sends it a signal after half a second, and fails if it goes on.
func endsWith(t *testing.T, program, dir string, args []string, sig os.Signal) {
	t.Helper()
	p := exec.Command(program, args...)
	p.Dir = dir
	if _, err := p.StdinPipe(); err != nil { // open, and silent
		t.Fatal(err)
	}
	var said bytes.Buffer
	p.Stdout, p.Stderr = &said, &said
	if err := p.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- p.Wait() }()
	select {
	case <-ended:
		t.Fatalf("%v ended by itself: %s", args, said.String())
	case <-time.After(500 * time.Millisecond):
	}
	p.Process.Signal(sig)
	start := time.Now()
	select {
	case <-ended:
		if took := time.Since(start); took > 3*time.Second { // one, on a machine that is not busy
			t.Errorf("%v ended after %v", args, took)
		}
	case <-time.After(10 * time.Second):
		p.Process.Kill()
		t.Errorf("%v goes on: %s", args, said.String())
	}
}
