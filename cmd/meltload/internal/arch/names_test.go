package arch

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"meltload/materials/checks"
)

// source is every Go file of the tree, parsed.
func source(t *testing.T) (*token.FileSet, map[string]*ast.File) {
	t.Helper()
	set, files := token.NewFileSet(), map[string]*ast.File{}
	walk(t, ".go", func(name string, text []byte) {
		f, err := parser.ParseFile(set, name, text, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		files[name] = f
	})
	return set, files
}

// walk calls f with every file of the tree whose name ends in ext, by its path from the root.
func walk(t *testing.T, ext string, f func(name string, text []byte)) {
	t.Helper()
	root := checks.Root()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ext) {
			return nil
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(root, path)
		f(filepath.ToSlash(name), text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

var (
	qualified = regexp.MustCompile(`\b([a-z][a-z0-9]*)\.([A-Z]\w*)\b`)
	// two words run together are a name of the code
	humped    = regexp.MustCompile(`\b[A-Z][a-z0-9]+(?:[A-Z][a-z0-9]+)+\b`)
	backquote = regexp.MustCompile("`([^`\n]+)`")
	filePath  = regexp.MustCompile(`^(?:[\w.-]+/)+[\w.-]+\.(?:go|md|csv|json|toml)$`)
)

// names collects every identifier and every literal of the tree, and the exported ones of each package by its name.
func names(files map[string]*ast.File) (all map[string]bool, exported map[string]map[string]bool) {
	all, exported = map[string]bool{}, map[string]map[string]bool{}
	for _, f := range files {
		pkg := f.Name.Name
		if exported[pkg] == nil {
			exported[pkg] = map[string]bool{}
		}
		for _, s := range f.Imports {
			all[s.Path.Value] = true
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if id, ok := n.(*ast.Ident); ok {
				all[id.Name] = true
				exported[pkg][id.Name] = true
			}
			return true
		})
	}
	return all, exported
}

// prose are the words of two humps that comments use and the code does not: names of people, norms and programs.
var prose = map[string]bool{"DeWitt": true, "FritschButland": true, "JavaScript": true, "McCabe": true, "McMahon": true,
	"NumAcc1": true, "NumAcc2": true, "WebAssembly": true}

// A comment that names a thing of the code names one that is there.
func TestNamesInCommentsExist(t *testing.T) {
	set, files := source(t)
	all, exported := names(files)
	for _, f := range files {
		for _, group := range f.Comments {
			for _, c := range group.List {
				for _, m := range qualified.FindAllStringSubmatch(c.Text, -1) {
					if in, ok := exported[m[1]]; ok && !in[m[2]] && !all[m[2]] {
						t.Errorf("%s: %s is not there", set.Position(c.Pos()), m[0])
					}
				}
				for _, w := range humped.FindAllString(c.Text, -1) {
					if !all[w] && !prose[w] {
						t.Errorf("%s: %s is not there", set.Position(c.Pos()), w)
					}
				}
			}
		}
	}
}

// A name of the code or a file that a Markdown text sets between backquotes is there.
func TestNamesInTextsExist(t *testing.T) {
	_, files := source(t)
	all, exported := names(files)
	walk(t, ".md", func(name string, text []byte) {
		for i, line := range bytes.Split(text, []byte("\n")) {
			for _, b := range backquote.FindAllSubmatch(line, -1) {
				code := string(b[1])
				for _, m := range qualified.FindAllStringSubmatch(code, -1) {
					if in, ok := exported[m[1]]; ok && !in[m[2]] {
						t.Errorf("%s:%d: %s is not there", name, i+1, m[0])
					}
				}
				for _, w := range humped.FindAllString(code, -1) {
					if !all[w] && !prose[w] && !(strings.Contains(code, "-run ") && part(all, w)) {
						t.Errorf("%s:%d: %s is not there", name, i+1, w)
					}
				}
				if filePath.MatchString(code) && !there(code, filepath.Dir(name)) {
					t.Errorf("%s:%d: the file %s is not there", name, i+1, code)
				}
			}
		}
	})
}

// part tells whether a word is part of a name, as the pattern of a test run is.
func part(all map[string]bool, w string) bool {
	for n := range all {
		if strings.Contains(n, w) {
			return true
		}
	}
	return false
}

// there tells whether a path exists, from the root or beside the text.
func there(path, beside string) bool {
	for _, base := range []string{"", beside} {
		if _, err := os.Stat(checks.Root(base, path)); err == nil {
			return true
		}
	}
	return false
}
