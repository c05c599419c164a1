package arch

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// The bounds of a function: lines from its first to its last, and cyclomatic complexity (one, and one more for every
// if, loop, case and logical connection; T. J. McCabe, IEEE Trans. Softw. Eng. 2 (1976) 308).
const (
	maxLines      = 100
	maxCyclomatic = 25
	maxWidth      = 120
)

// tooLarge are functions that are over the bounds and being split. The list is to be empty.
var tooLarge = map[string]bool{}

func TestFunctionsAreSmall(t *testing.T) {
	set, files := source(t)
	over := map[string]bool{}
	for name, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			id := name[:strings.LastIndex(name, "/")+1] + receiver(fn) + fn.Name.Name
			lines := set.Position(fn.End()).Line - set.Position(fn.Pos()).Line + 1
			paths := cyclomatic(fn)
			if strings.HasSuffix(name, "_test.go") {
				paths = 1 // a test is a row of comparisons, each an if of its own
			}
			if lines <= maxLines && paths <= maxCyclomatic {
				continue
			}
			over[id] = true
			if !tooLarge[id] {
				t.Errorf("%s: %s has %d lines and a complexity of %d; at most %d and %d: split it, or add it to "+
					"tooLarge for the time being", set.Position(fn.Pos()), id, lines, paths, maxLines, maxCyclomatic)
			}
		}
	}
	for id := range tooLarge {
		if !over[id] {
			t.Logf("%s is small now: take it off the list", id)
		}
	}
}

// receiver is the type of a method with a dot, "" for a function.
func receiver(fn *ast.FuncDecl) string {
	if fn.Recv == nil {
		return ""
	}
	t := fn.Recv.List[0].Type
	if star, ok := t.(*ast.StarExpr); ok {
		t = star.X
	}
	if generic, ok := t.(*ast.IndexExpr); ok {
		t = generic.X
	}
	return fmt.Sprint(t) + "."
}

// cyclomatic counts the independent paths through a function and the functions written out within it.
func cyclomatic(fn *ast.FuncDecl) int {
	n := 1
	ast.Inspect(fn.Body, func(x ast.Node) bool {
		switch x := x.(type) {
		case *ast.IfStmt, *ast.ForStmt, *ast.RangeStmt:
			n++
		case *ast.CaseClause:
			if x.List != nil {
				n++
			}
		case *ast.CommClause:
			if x.Comm != nil {
				n++
			}
		case *ast.BinaryExpr:
			if x.Op == token.LAND || x.Op == token.LOR {
				n++
			}
		}
		return true
	})
	return n
}

// unwrapped are lines that cannot be wrapped: rows of tables and quotations of output, links and images in Markdown.
var unwrapped = regexp.MustCompile(`^\s*(\||!?\[[^\]]*\]\([^)]*\)[.,;]?$|<|//go:|- \[)`)

// notWrapped are files with lines that are not wrapped yet. The list is to be empty.
var notWrapped = map[string]bool{}

// raw marks the lines of a Go file that a raw string covers: tags of fields, markup, and texts as they are read or
// printed.
func raw(t *testing.T, name string, text []byte) map[int]bool {
	t.Helper()
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, name, text, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	lines := map[int]bool{}
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.BasicLit); ok && s.Kind == token.STRING && s.Value[0] == '`' {
			for l := set.Position(s.Pos()).Line; l <= set.Position(s.End()).Line; l++ {
				lines[l] = true
			}
		}
		return true
	})
	return lines
}

// Lines of Go and Markdown are narrow, but for raw strings, tables, links, fenced text and what is generated.
func TestLinesAreNarrow(t *testing.T) {
	walk(t, ".go", func(name string, text []byte) {
		free := raw(t, name, text)
		tooWide(t, name, text, func(i int, _ string) bool { return free[i] })
	})
	walk(t, ".md", func(name string, text []byte) {
		fenced := false
		tooWide(t, name, text, func(_ int, l string) bool {
			if strings.HasPrefix(l, "```") {
				fenced = !fenced
			}
			return fenced || unwrapped.MatchString(l)
		})
	})
}

// tooWide reports the wide lines of a file, but for those that free lets pass.
func tooWide(t *testing.T, name string, text []byte, free func(i int, l string) bool) {
	t.Helper()
	if generated.Match(text[:min(len(text), 300)]) {
		return
	}
	over := 0
	for i, l := range strings.Split(string(text), "\n") {
		n := utf8.RuneCountInString(strings.ReplaceAll(l, "\t", "    "))
		if free(i+1, l) || n <= maxWidth {
			continue
		}
		if over++; !notWrapped[name] {
			t.Errorf("%s:%d is wider than %d; wrap it, or add the file to notWrapped for the time being", name,
				i+1, maxWidth)
		}
	}
	if notWrapped[name] && over == 0 {
		t.Logf("%s is wrapped now: take it off the list", name)
	}
}

// generated tells a file that a command or a test writes.
var generated = regexp.MustCompile("(?i)generated|written by (one command|a test|`go)|is written by")
