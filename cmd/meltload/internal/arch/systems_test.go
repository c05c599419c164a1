package arch

import (
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The program and all that it imports fits together on every system that it is made for: types are checked from the
// source, which takes a thirtieth of what compiling takes. MELTLOAD_SYSTEMS names them: .ci/run gives those that it
// does not compile.
func TestTypesFitOnEverySystem(t *testing.T) {
	systems := strings.Fields(os.Getenv("MELTLOAD_SYSTEMS"))
	if len(systems) == 0 {
		t.Skip("MELTLOAD_SYSTEMS names no system")
	}
	fset, parsed := token.NewFileSet(), map[string]*ast.File{}
	for _, system := range systems {
		goos, arch, ok := strings.Cut(system, "/")
		if !ok {
			t.Fatalf("%q is no system: want one as in linux/arm64", system)
		}
		checkTypes(t, fset, parsed, goos, arch)
	}
}

// listed is what go list tells of a package of a program for one system.
type listed struct {
	ImportPath, Dir string
	GoFiles         []string
	ImportMap       map[string]string
}

// checkTypes checks the types of the program on one system, dependencies first; function bodies of others are taken as
// right.
func checkTypes(t *testing.T, fset *token.FileSet, parsed map[string]*ast.File, goos, arch string) {
	t.Helper()
	known := map[string]*types.Package{"unsafe": types.Unsafe}
	for _, p := range list[listed](t, []string{"GOOS=" + goos, "GOARCH=" + arch, "CGO_ENABLED=0"}, "-deps",
		"-json=ImportPath,Dir,GoFiles,ImportMap", "./cmd/meltload") {
		if p.ImportPath == "unsafe" {
			continue
		}
		var files []*ast.File
		for _, f := range p.GoFiles {
			name := filepath.Join(p.Dir, f)
			if parsed[name] == nil {
				file, err := parser.ParseFile(fset, name, nil, parser.SkipObjectResolution)
				if err != nil {
					t.Fatal(err)
				}
				parsed[name] = file
			}
			files = append(files, parsed[name])
		}
		ours := strings.HasPrefix(p.ImportPath, "meltload/")
		if ours { // a result of this test that is kept by the Go tool holds until a file is added
			if _, err := os.ReadDir(p.Dir); err != nil {
				t.Fatal(err)
			}
		}
		conf := types.Config{
			Importer: importer(func(path string) *types.Package {
				if to, ok := p.ImportMap[path]; ok {
					path = to
				}
				return known[path]
			}),
			Sizes:            types.SizesFor("gc", arch),
			IgnoreFuncBodies: !ours,
			Error: func(err error) {
				if ours {
					t.Errorf("%s/%s: %v", goos, arch, err)
				}
			},
		}
		// An error of a package of others shows where ours uses it.
		known[p.ImportPath], _ = conf.Check(p.ImportPath, fset, files, nil)
	}
	if known["meltload/cmd/meltload"] == nil {
		t.Errorf("%s/%s: the program is not among its own packages", goos, arch)
	}
}

// importer gives a package that was checked before.
type importer func(path string) *types.Package

func (i importer) Import(path string) (*types.Package, error) {
	p := i(path)
	if p == nil {
		return nil, &os.PathError{Op: "import", Path: path, Err: os.ErrNotExist}
	}
	return p, nil
}
