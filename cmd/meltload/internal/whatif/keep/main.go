// Keep makes the solver for browsers and puts it where a build with the tag livemodule takes it from:
//
//	go run ./cmd/meltload/internal/whatif/keep
package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"meltload/cmd/meltload/internal/whatif/live"
)

func main() {
	if err := keep("."); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// keep makes the module from the source at root.
func keep(root string) error {
	m, err := live.Build(context.Background(), root)
	if err != nil {
		return err
	}
	dir := filepath.Join(root, "cmd", "meltload", "internal", "whatif", "live", "kept")
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, live.PackedName), m.Packed, 0o666); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, live.ExecName), []byte(m.Exec), 0o666)
}
