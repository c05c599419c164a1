package arch

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"meltload/materials/checks"
)

// The code of every page is made from its template as it stands: go generate makes it anew.
func TestTemplatesAreCompiled(t *testing.T) {
	n := 0
	walk(t, ".qtpl", func(name string, text []byte) {
		n++
		// The compiler takes the name of the package from the folder.
		dir := filepath.Join(t.TempDir(), filepath.Base(filepath.Dir(name)))
		copied := filepath.Join(dir, filepath.Base(name))
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(copied, text, 0o644); err != nil {
			t.Fatal(err)
		}
		c := exec.Command("go", "tool", "qtc", "-skipLineComments", "-file="+copied)
		c.Dir = checks.Root()
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		want, err := os.ReadFile(copied + ".go")
		if err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(checks.Root(name + ".go")); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s.go is not what %s makes (%v); run go generate in its folder", name, name, err)
		}
	})
	if n == 0 {
		t.Error("no template found")
	}
}
