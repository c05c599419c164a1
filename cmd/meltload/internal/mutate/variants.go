package main

import (
	"context"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// One build holds many faults: every function with a fault gets a copy of itself with the fault in it, and begins by
// asking which fault is wanted. A test binary built once tries them all, told by the environment.

// number is the name of the variable that holds the fault wanted, and the name of its variable in the environment.
const (
	number      = "fault__"
	environment = "MELTLOAD_FAULT"
)

const chooser = `package %s

import (
	"os"
	"strconv"
)

var ` + number + ` = func() int { n, _ := strconv.Atoi(os.Getenv("` + environment + `")); return n }()
`

// edit replaces the bytes from start to end.
type edit struct {
	start, end int
	text       string
}

// edited returns a source with edits that do not overlap made in it.
func edited(src []byte, edits []edit) []byte {
	slices.SortStableFunc(edits, func(a, b edit) int { return a.start - b.start })
	var out []byte
	at := 0
	for _, e := range edits {
		out = append(append(out, src[at:e.start]...), e.text...)
		at = e.end
	}
	return append(out, src[at:]...)
}

// source is a parsed file of a package.
type source struct {
	name string
	text []byte
	tree *ast.File
}

// parsed is a package with what it takes to tell whether a fault builds.
type parsed struct {
	set     *token.FileSet
	files   []*source
	path    string
	imports types.Importer
}

// parse reads a package and the types of what it imports.
func (t *tree) parse(ctx context.Context, p *listed) (*parsed, error) {
	out := &parsed{set: token.NewFileSet(), path: p.ImportPath}
	for _, f := range p.GoFiles {
		name := filepath.Join(p.Dir, f)
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		tree, err := parser.ParseFile(out.set, name, text, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		out.files = append(out.files, &source{name, text, tree})
	}
	cmd := exec.CommandContext(ctx, "go", "list", "-export", "-deps", "-json=ImportPath,Export", p.ImportPath)
	cmd.Dir = t.root
	list, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list -export: %w", err)
	}
	exports := map[string]string{}
	for d := json.NewDecoder(strings.NewReader(string(list))); d.More(); {
		var x struct{ ImportPath, Export string }
		if err := d.Decode(&x); err != nil {
			return nil, err
		}
		exports[x.ImportPath] = x.Export
	}
	out.imports = importer.ForCompiler(out.set, "gc", func(path string) (io.ReadCloser, error) {
		return os.Open(exports[path])
	})
	return out, nil
}

// builds tells whether the package compiles with a fault in it.
func (p *parsed) builds(f fault) bool {
	files := make([]*ast.File, len(p.files))
	for i, s := range p.files {
		files[i] = s.tree
		if s.name == f.file {
			tree, err := parser.ParseFile(p.set, s.name, f.apply(s.text), parser.SkipObjectResolution)
			if err != nil {
				return false
			}
			files[i] = tree
		}
	}
	_, err := (&types.Config{Importer: p.imports}).Check(p.path, p.set, files, nil)
	return err == nil
}

// function is the function of a file that a fault lies in, nil where it lies in a variable of the package.
func (p *parsed) function(f fault) *ast.FuncDecl {
	for _, s := range p.files {
		if s.name != f.file {
			continue
		}
		for _, d := range s.tree.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil && p.offset(fn.Pos()) <= f.start &&
				f.end <= p.offset(fn.End()) {
				return fn
			}
		}
	}
	return nil
}

func (p *parsed) offset(at token.Pos) int { return p.set.Position(at).Offset }

// variants writes the package with all faults that lie in functions into a folder, as an overlay whose file it returns.
// Fault i is on if the environment says i+1.
func (p *parsed) variants(fs []fault, dir string) (string, error) {
	replace := map[string]string{}
	for k, s := range p.files {
		within := map[*ast.FuncDecl][]int{}
		for i, f := range fs {
			if fn := p.function(f); f.file == s.name && fn != nil {
				within[fn] = append(within[fn], i)
			}
		}
		if len(within) == 0 {
			continue
		}
		var edits []edit
		var copies []byte
		for fn, list := range within {
			call, named := p.call(fn, s.text)
			edits = append(edits, named...)
			at := p.offset(fn.Body.Lbrace) + 1
			hook := fmt.Sprintf(" switch %s {", number)
			for _, i := range list {
				name := fmt.Sprintf("%s_%d%s", fn.Name.Name, i+1, number)
				do := "return " + call(name)
				if fn.Type.Results == nil {
					do = call(name) + "; return"
				}
				hook += fmt.Sprintf("\ncase %d: %s", i+1, do)
				copies = append(append(copies, '\n'), p.copy(fn, fs[i], name, s.text)...)
			}
			edits = append(edits, edit{at, at, hook + "\n};"})
		}
		file := filepath.Join(dir, fmt.Sprintf("variant%d.go", k))
		if err := os.WriteFile(file, append(edited(s.text, edits), copies...), 0o644); err != nil {
			return "", err
		}
		replace[s.name] = file
	}
	if len(replace) > 0 {
		file := filepath.Join(dir, "chooser.go")
		text := fmt.Sprintf(chooser, p.files[0].tree.Name.Name)
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			return "", err
		}
		replace[filepath.Join(filepath.Dir(p.files[0].name), "zz_"+number+".go")] = file
	}
	return overlay(replace, dir)
}

// single writes the package with one fault as an overlay.
func (p *parsed) single(f fault, dir string) (string, error) {
	for _, s := range p.files {
		if s.name == f.file {
			file := filepath.Join(dir, "fault.go")
			if err := os.WriteFile(file, f.apply(s.text), 0o644); err != nil {
				return "", err
			}
			return overlay(map[string]string{f.file: file}, dir)
		}
	}
	return "", fmt.Errorf("no file %s", f.file)
}

func overlay(replace map[string]string, dir string) (string, error) {
	text, err := json.Marshal(map[string]map[string]string{"Replace": replace})
	if err != nil {
		return "", err
	}
	file := filepath.Join(dir, "overlay.json")
	return file, os.WriteFile(file, text, 0o644)
}

// copy is the text of a function with a fault in it, under another name.
func (p *parsed) copy(fn *ast.FuncDecl, f fault, name string, text []byte) []byte {
	from := p.offset(fn.Pos())
	at := p.offset(fn.Name.Pos())
	return edited(text[from:p.offset(fn.End())], []edit{
		{at - from, at - from + len(fn.Name.Name), name}, {f.start - from, f.end - from, f.text}})
}

// call returns what writes a call with the function's own arguments to another function, and the edits that name the
// arguments that have no name.
func (p *parsed) call(fn *ast.FuncDecl, text []byte) (func(name string) string, []edit) {
	var edits []edit
	unnamed := 0
	names := func(list *ast.FieldList) []string {
		var out []string
		if list == nil {
			return nil
		}
		for _, field := range list.List {
			tail := ""
			if _, ok := field.Type.(*ast.Ellipsis); ok {
				tail = "..."
			}
			if len(field.Names) == 0 {
				unnamed++
				name := fmt.Sprintf("unnamed%d__", unnamed)
				at := p.offset(field.Type.Pos())
				edits = append(edits, edit{at, at, name + " "})
				out = append(out, name+tail)
			}
			for _, n := range field.Names {
				name := n.Name
				if name == "_" {
					unnamed++
					name = fmt.Sprintf("unnamed%d__", unnamed)
					at := p.offset(n.Pos())
					edits = append(edits, edit{at, at + 1, name})
				}
				out = append(out, name+tail)
			}
		}
		return out
	}
	receiver := names(fn.Recv)
	arguments := strings.Join(names(fn.Type.Params), ", ")
	kinds := ""
	if fn.Type.TypeParams != nil {
		kinds = "[" + strings.Join(names(fn.Type.TypeParams), ", ") + "]"
	}
	return func(name string) string {
		if receiver != nil {
			name = receiver[0] + "." + name
		}
		return name + kinds + "(" + arguments + ")"
	}, edits
}
