package arch

import (
	"fmt"
	"go/ast"
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
var tooLarge = map[string]bool{
	"cmd/meltload/internal/cli/TestReportsInABrowser": true,
	"cmd/meltload/internal/cli/TestWhatIfInABrowser":  true,
	"cmd/meltload/internal/cli/newCalibrate":          true,
	"flow/casefile/builder.model":                     true,
	"flow/flowtest/force":                             true,
	"flow/march/unsteadyTwin":                         true,
	"materials/record.build":                          true,
	"materials/strict/Table":                          true,
	"materials/strict/checker.value":                  true,
}

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

// wide are the directories whose lines are not wrapped yet. The list is to be empty.
var wide = []string{""}

func TestLinesAreNarrow(t *testing.T) {
	check := func(name string, text []byte) {
		for _, d := range wide {
			if strings.HasPrefix(name, d) {
				return
			}
		}
		fenced, generated := false, strings.Contains(string(text[:min(len(text), 300)]), "enerated")
		if generated {
			return
		}
		for i, l := range strings.Split(string(text), "\n") {
			if strings.HasPrefix(l, "```") {
				fenced = !fenced
			}
			if strings.HasSuffix(name, ".md") && (fenced || unwrapped.MatchString(l)) {
				continue
			}
			if n := utf8.RuneCountInString(strings.ReplaceAll(l, "\t", "    ")); n > maxWidth {
				t.Errorf("%s:%d is %d wide; at most %d", name, i+1, n, maxWidth)
			}
		}
	}
	walk(t, ".go", check)
	walk(t, ".md", check)
}
