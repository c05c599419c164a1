package live

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meltload/materials/checks"
)

// mostPacked is the most that the module may take in a report, packed: with the report itself 4.5 MB in a file.
const mostPacked = 2_700_000

// The same source makes the same module, in whatever folder it lies.
func TestModuleIsReproducible(t *testing.T) {
	if testing.Short() {
		t.Skip("builds a program twice")
	}
	here, err := Build(t.Context(), checks.Root())
	if err != nil {
		t.Fatal(err)
	}
	elsewhere := filepath.Join(t.TempDir(), "clone")
	for _, part := range []string{"go.mod", "go.sum", "cmd", "flow", "materials", "report", "thermal"} {
		from, to := checks.Root(part), filepath.Join(elsewhere, part)
		info, err := os.Stat(from)
		if err == nil && info.IsDir() {
			err = os.CopyFS(to, os.DirFS(from))
		} else if err == nil {
			var b []byte
			if b, err = os.ReadFile(from); err == nil {
				if err = os.MkdirAll(elsewhere, 0o755); err == nil {
					err = os.WriteFile(to, b, 0o644)
				}
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	there, err := compiled(t.Context(), elsewhere)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(here.Packed))
	if err != nil {
		t.Fatal(err)
	}
	if text, err := io.ReadAll(z); err != nil || !bytes.Equal(text, there) {
		t.Error("two folders with the same source make two modules")
	}
	if n := len(here.Packed); n > mostPacked {
		t.Errorf("%d bytes packed, more than %d", n, mostPacked)
	}
	if !strings.Contains(here.Exec, "The Go Authors") {
		t.Error("the script of the Go distribution lacks its notice")
	}
}
