package files

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A journal keeps what was added, passes over a line that was cut short, and is never taken for another file.
func TestJournal(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "done.jsonl")
	read := func() []string {
		t.Helper()
		var got []string
		j, err := (&Desk{}).Journal(name, "assess", func(line []byte) { got = append(got, string(line)) })
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Add(len(got)); err != nil {
			t.Fatal(err)
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := read(); len(got) != 0 {
		t.Errorf("a new journal holds %q", got)
	}
	if got := strings.Join(read(), " "); got != `{"journal":"meltload assess"} 0` {
		t.Errorf("%q", got)
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(`{"cut": sh`); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	read()
	if got := strings.Join(read(), " "); got != `{"journal":"meltload assess"} 0 2 3` {
		t.Errorf("after a line that was cut short: %q", got)
	}
	for text, want := range map[string]string{"a = 1\n": "is no journal", `{"journal":"meltload rank"}` + "\n": "is no journal"} {
		other := filepath.Join(dir, "other")
		if err := os.WriteFile(other, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		d := &Desk{Force: true} // also by force
		if _, err := d.Journal(other, "assess", func([]byte) {}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
		if b, err := os.ReadFile(other); err != nil || string(b) != text {
			t.Errorf("%q became %q, %v", text, b, err)
		}
	}
	d := &Desk{}
	d.Uses(name)
	if _, err := d.Journal(name, "assess", func([]byte) {}); err == nil {
		t.Error("an input was opened as a journal")
	}
}
