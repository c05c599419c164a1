//go:build unix

package files

import (
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// A pipe is written to where it is and stays a pipe; so does a device.
func TestPipesAndDevices(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	got := make(chan string, 1)
	go func() {
		f, err := os.Open(pipe)
		if err != nil {
			got <- err.Error()
			return
		}
		defer f.Close()
		b, _ := io.ReadAll(f)
		got <- string(b)
	}()
	d := Desk{}
	if err := d.Put(Output{pipe, note, text("# note\n")}, Output{"/dev/null", note, text("x")}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{pipe, "/dev/null"} {
		if info, err := os.Lstat(name); err != nil || info.Mode().IsRegular() {
			t.Errorf("%s became a file: %v %v", name, info.Mode(), err)
		}
	}
	if s := <-got; s != "# note\n" {
		t.Errorf("%q came through", s)
	}
}
