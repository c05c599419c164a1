package loadcell

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"slices"
	"testing"
)

// A long log from a pipe, or packed, is read as from memory, with room made for its rows at once, and leaves no
// temporary file behind.
func TestLongLogOfUnknownLength(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	t.Setenv("TMP", os.Getenv("TMPDIR"))
	var text, packed bytes.Buffer
	text.WriteString("t_s,force_N\n")
	for i := range 60000 {
		fmt.Fprintf(&text, "%.4f,%.3f\n", float64(i)/80, 20+float64(i%7))
	}
	z := gzip.NewWriter(&packed)
	z.Write(text.Bytes())
	z.Close()
	want, err := Parse("known.csv", text.Bytes(), Format{})
	if err != nil {
		t.Fatal(err)
	}
	pipe := io.MultiReader(bytes.NewReader(text.Bytes()))
	for name, r := range map[string]io.Reader{"pipe": pipe, "packed": &packed} {
		l, err := Read(name, r, Format{})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(l.Time, want.Time) || !slices.Equal(l.Force, want.Force) || l.Rows != 60000 {
			t.Errorf("%s: %d rows, %d read", name, len(l.Time), l.Rows)
		}
		if most := 1.1 * float64(len(l.Time)); float64(cap(l.Time)) > most || float64(cap(l.Force)) > most {
			t.Errorf("%s: room for %d rows, %d are needed", name, cap(l.Time), len(l.Time))
		}
	}
	if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
