package files

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"meltload/materials/strict"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

var note = Marked("note", "# note\n")

func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// What is there is replaced by its own kind alone, inputs by nothing, not even by force.
func TestWhatMayBeReplaced(t *testing.T) {
	for _, c := range []struct {
		name, was    string
		force, input bool
		ok           bool
	}{
		{"nothing there", "", false, false, true}, {"its own kind", "# note\nold\n", false, false, true},
		{"another kind", "title = 1\n", false, false, false},
		{"another kind by force", "title = 1\n", true, false, true}, {"an input", "# note\nold\n", false, true, false},
		{"an input by force", "# note\nold\n", true, true, false},
	} {
		name := filepath.Join(t.TempDir(), "f")
		if c.was != "" {
			os.WriteFile(name, []byte(c.was), 0o644)
		}
		d := Desk{Force: c.force}
		if c.input { // by another path
			d.Uses(filepath.Join(filepath.Dir(name), ".", "x", "..", "f"))
			os.Symlink("f", filepath.Join(filepath.Dir(name), "link"))
			d.Uses(filepath.Join(filepath.Dir(name), "link"))
		}
		o := Output{name, note, text("# note\nnew\n")}
		free, err := d.Free(o), d.Put(o)
		var no Refusal
		switch {
		case c.ok && (free != nil || err != nil || read(t, name) != "# note\nnew\n"):
			t.Errorf("%s: %v, %v", c.name, free, err)
		case !c.ok && (!errors.As(free, &no) || !errors.As(err, &no) || read(t, name) != c.was):
			t.Errorf("%s: %v, %v, %q", c.name, free, err, read(t, name))
		}
	}
}

// One output that fails leaves all of them as they were, and nothing behind.
func TestAllOrNothing(t *testing.T) {
	dir := t.TempDir()
	a, b, c := filepath.Join(dir, "a"), filepath.Join(dir, "b"), filepath.Join(dir, "c")
	os.WriteFile(a, []byte("# note\nold\n"), 0o644)
	os.WriteFile(c, []byte("mine"), 0o644)
	full := errors.New("disk full")
	for name, second := range map[string]Output{
		"a disk that is full":    {b, note, func(w io.Writer) error { w.Write([]byte("half")); return full }},
		"a file of another kind": {c, note, text("new")},
		"the same name twice":    {filepath.Join(dir, ".", "a"), note, text("new")},
		"no folder":              {filepath.Join(dir, "no", "b"), note, text("new")},
		"a folder":               {dir, note, text("new")},
	} {
		d := Desk{}
		if err := d.Put(Output{a, note, text("# note\nnew\n")}, second); err == nil {
			t.Errorf("%s: no error", name)
		}
		left, _ := os.ReadDir(dir)
		if read(t, a) != "# note\nold\n" || read(t, c) != "mine" || len(left) != 2 {
			t.Errorf("%s: %q, %q, %v", name, read(t, a), read(t, c), left)
		}
	}
}

func TestPermissionsAndLinks(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("permissions of another kind")
	}
	dir := t.TempDir()
	f, link, loose := filepath.Join(dir, "f"), filepath.Join(dir, "link"), filepath.Join(dir, "loose")
	os.WriteFile(f, []byte("# note\nold\n"), 0o600)
	os.Chmod(f, 0o640)
	os.Symlink("f", link)
	os.Symlink("new", loose)
	d := Desk{}
	if err := d.Put(Output{link, note, text("# note\nnew\n")}, Output{loose, note, text("# note\n")}); err != nil {
		t.Fatal(err)
	}
	info, err := os.Lstat(f)
	if l, e := os.Lstat(link); err != nil || e != nil || l.Mode()&os.ModeSymlink == 0 || info.Mode().Perm() != 0o640 ||
		read(t, f) != "# note\nnew\n" {
		t.Errorf("%v %v %v %q", err, e, info.Mode(), read(t, f))
	}
	if read(t, filepath.Join(dir, "new")) != "# note\n" {
		t.Error("a link to a file that was not there was not followed")
	}
	// A new file has what the umask leaves: as any other program's.
	other := filepath.Join(dir, "other")
	g, err := os.Create(other)
	if err != nil {
		t.Fatal(err)
	}
	g.Close()
	a, _ := os.Stat(other)
	if b, err := os.Stat(filepath.Join(dir, "new")); err != nil || a.Mode() != b.Mode() {
		t.Errorf("%v, as any other: %v", b.Mode(), a.Mode())
	}
	os.Chmod(f, 0o444)
	if err := d.Put(Output{f, note, text("x")}); err == nil || !strings.Contains(err.Error(), "write-protected") {
		t.Errorf("a file that may not be written: %v", err)
	}
}

func TestStandardOutput(t *testing.T) {
	var out bytes.Buffer
	d := Desk{Out: &out}
	if err := d.Put(Output{"-", note, text("# note\n")}); err != nil || out.String() != "# note\n" {
		t.Errorf("%v %q", err, out.String())
	}
	if err := d.Put(Output{"-", note, text("a")}, Output{"-", note, text("b")}); err == nil {
		t.Error("two outputs on one stream")
	}
}

func TestStandardInputOnce(t *testing.T) {
	d := Desk{In: strings.NewReader("x")}
	if b, err := d.Read("-", 10); err != nil || string(b) != "x" {
		t.Errorf("%q %v", b, err)
	}
	if b, err := d.Read("-", 10); err != nil || string(b) != "x" {
		t.Errorf("again: %q %v", b, err)
	}
	if _, err := d.Open("-"); err == nil {
		t.Error("standard input is read twice")
	}
}

// A run that is being stopped leaves no temporary file, and nothing takes its place any more.
func TestAbandon(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "f")
	d := Desk{}
	err := d.Put(Output{name, note, func(w io.Writer) error { fmt.Fprint(w, "half"); d.Abandon(); return nil }})
	left, _ := os.ReadDir(dir)
	if !errors.Is(err, errStopped) || len(left) > 0 {
		t.Errorf("%v, %v", err, left)
	}
}

func TestKinds(t *testing.T) {
	for _, c := range []struct {
		kind Kind
		text string
		want bool
	}{
		{Page("log"), `<html><meta name="generator" content="meltload log">`, true},
		{Page("log"), `<html><meta name="generator" content="meltload assess">`, false}, {Page("log"), "", false},
		{Result("log"), `{"version": "1", "x": {"command": 3}, "command": ["meltload", "log", "a.csv"]}`, true},
		{Result("log"), `{"command": ["meltload", "assess"]}`, false},
		{Result("log"), `{"command": "meltload log"}`, false}, {Result("log"), `["meltload", "log"]`, false},
		{Result("log"), `{"a": `, false},
		{Table("a,b"), "a,b\r\n1,2\r\n", true}, {Table("a,b"), "a,b,c\n1,2,3\n", false}, {Table("a,b"), "a,b", false},
	} {
		if got := c.kind.Same(strings.NewReader(c.text)); got != c.want {
			t.Errorf("%s: %q: %v", c.kind.Name, c.text, got)
		}
	}
}

// The text that a file had before is read within a limit and is no input: the file may be written anew.
func TestTextBefore(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "f")
	os.WriteFile(name, []byte("# note\nold\n"), 0o644)
	var d Desk
	if b, err := d.Before(filepath.Join(dir, "none"), 100); b != nil || err != nil {
		t.Errorf("no file: %q, %v", b, err)
	}
	if b, err := d.Before(name, 100); string(b) != "# note\nold\n" || err != nil {
		t.Errorf("%q, %v", b, err)
	}
	if err := d.Put(Output{name, note, text("# note\nnew\n")}); err != nil || read(t, name) != "# note\nnew\n" {
		t.Errorf("written anew: %v, %q", err, read(t, name))
	}
	var ps strict.Problems
	for what, f := range map[string]string{"a directory": dir, "more than 5 bytes": name} {
		if b, err := d.Before(f, 5); b != nil || !errors.As(err, &ps) || !strings.Contains(ps.Error(), what) {
			t.Errorf("%s: %q, %v", f, b, err)
		}
	}
	var no Refusal
	if _, err := d.Before("-", 100); !errors.As(err, &no) {
		t.Errorf("standard input: %v", err)
	}
	if runtime.GOOS == "linux" {
		if b, err := d.Before("/dev/zero", 100); b != nil || err != nil {
			t.Errorf("a device: %q, %v", b, err)
		}
	}
}
