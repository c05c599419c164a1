package live

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
)

// The names of the files of a module that is kept.
const (
	PackedName = "module.wasm.gz"
	ExecName   = "wasm_exec.js"
)

// target is the package of the module, from the root of the project.
const target = "./cmd/meltload/internal/whatif/module"

// Load gives the module: the one that is in the program, as in every binary that is released, or one that the Go tool
// makes from the source of the program, where both are on this machine. Errors: neither.
func Load(ctx context.Context, licence string, say func(string)) (*Module, error) {
	m, ok := kept()
	if !ok {
		root, err := source()
		if err != nil {
			return nil, err
		}
		made.Lock()
		defer made.Unlock()
		if made.module == nil {
			say("building the solver for browsers with the Go tool; the first time takes a minute or two")
			if made.module, err = Build(ctx, root); err != nil {
				return nil, err
			}
		}
		m = made.module
	}
	own := *m
	own.Licence = licence
	return &own, nil
}

// made is the module that this process made: its source does not change while it runs, and a second report takes it as
// it is.
var made struct {
	sync.Mutex
	module *Module
}

// source is the root of the project that the program was built from.
func source() (string, error) {
	const instead = "this program holds no solver for browsers, and %s to build one: take a released binary, or " +
		"use go run ./cmd/meltload in a clone of the project with Go installed; without --live the report needs " +
		"none of this"
	_, file, _, _ := runtime.Caller(0)
	root := filepath.Join(filepath.Dir(file), "..", "..", "..", "..", "..")
	_, err := os.Stat(filepath.Join(root, filepath.FromSlash(target), "main.go"))
	if !filepath.IsAbs(file) || err != nil {
		return "", fmt.Errorf(instead, "its source is not here")
	}
	if _, err := exec.LookPath("go"); err != nil {
		return "", fmt.Errorf(instead, "there is no Go tool")
	}
	return root, nil
}

// Build makes the module from the source at root with the Go tool. The same source and the same Go make the same bytes,
// wherever they are. Errors: what the tool says.
func Build(ctx context.Context, root string) (*Module, error) {
	text, err := compiled(ctx, root)
	if err != nil {
		return nil, err
	}
	packed, err := pack(text)
	if err != nil {
		return nil, err
	}
	// The script that runs a module belongs to the Go that made it.
	goroot, err := tool(ctx, root, "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	run, err := os.ReadFile(filepath.Join(strings.TrimSpace(goroot), "lib", "wasm", ExecName))
	if err != nil {
		return nil, err
	}
	return &Module{Packed: packed, Exec: string(run)}, nil
}

// compiled gives the module from the source at root, as it is before it is packed.
func compiled(ctx context.Context, root string) ([]byte, error) {
	dir, err := os.MkdirTemp("", "meltload-module")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "module.wasm")
	if _, err := tool(ctx, root, "build", "-trimpath", "-buildvcs=false", "-ldflags=-s -w -buildid=", "-o", file,
		target); err != nil {
		return nil, err
	}
	return os.ReadFile(file)
}

// tool runs the Go tool for a browser, free of settings of this machine that would change what it makes.
func tool(ctx context.Context, root string, args ...string) (string, error) {
	c := exec.CommandContext(ctx, "go", args...)
	c.Dir = root
	c.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "GOFLAGS=", "GOWASM=", "GOEXPERIMENT=", "GOWORK=off",
		"CGO_ENABLED=0")
	out, err := c.Output()
	var failed *exec.ExitError
	if errors.As(err, &failed) {
		return "", fmt.Errorf("the Go tool cannot build the solver for browsers: %w\n%s", err, failed.Stderr)
	}
	return string(out), err
}
