package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// fault is one small change of a source file: the bytes from start to end become text.
type fault struct {
	file         string
	line, column int
	start, end   int
	text         string
	what         string // in words
}

// apply returns the source with the fault in it.
func (f fault) apply(src []byte) []byte {
	return slices.Concat(src[:f.start], []byte(f.text), src[f.end:])
}

// What a token or a function becomes.
var (
	swaps = map[token.Token]token.Token{
		token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
		token.LSS: token.GEQ, token.GEQ: token.LSS, token.GTR: token.LEQ, token.LEQ: token.GTR,
		token.EQL: token.NEQ, token.NEQ: token.EQL, token.LAND: token.LOR, token.LOR: token.LAND,
	}
	assigns = map[token.Token]token.Token{
		token.ADD_ASSIGN: token.SUB_ASSIGN, token.SUB_ASSIGN: token.ADD_ASSIGN,
		token.MUL_ASSIGN: token.QUO_ASSIGN, token.QUO_ASSIGN: token.MUL_ASSIGN, token.INC: token.DEC,
		token.DEC: token.INC,
	}
	functions = map[string]string{
		"math.Max": "math.Min", "math.Min": "math.Max", "max": "min", "min": "max", "math.Sin": "math.Cos",
		"math.Cos":   "math.Sin",
		"math.Floor": "math.Ceil", "math.Ceil": "math.Floor", "math.Sqrt": "math.Abs", "math.Exp": "math.Expm1",
		"math.Log": "math.Log1p",
	}
)

// texts are calls whose arguments are messages: a fault in them is one of wording, not of a rule.
var texts = map[string]bool{"fmt.Sprintf": true, "fmt.Errorf": true, "fmt.Sprint": true, "fmt.Fprintf": true,
	"errors.New": true, "panic": true, "add": true}

// faults lists every fault that can be put into a file.
func faults(name string, src []byte) ([]fault, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, name, src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	m := &maker{name: name, src: src, set: set}
	for _, d := range tree.Decls {
		if g, ok := d.(*ast.GenDecl); ok && (g.Tok == token.IMPORT || g.Tok == token.TYPE) {
			continue
		}
		ast.Inspect(d, m.visit)
	}
	return m.out, nil
}

type maker struct {
	name string
	src  []byte
	set  *token.FileSet
	out  []fault
}

func (m *maker) offset(p token.Pos) int { return m.set.Position(p).Offset }

func (m *maker) between(a, b token.Pos) string { return string(m.src[m.offset(a):m.offset(b)]) }

// put notes a fault that replaces the source from a to b.
func (m *maker) put(a, b token.Pos, text, what string) {
	at := m.set.Position(a)
	m.out = append(m.out, fault{m.name, at.Line, at.Column, m.offset(a), m.offset(b), text, what})
}

func (m *maker) visit(n ast.Node) bool {
	switch x := n.(type) {
	case *ast.BinaryExpr:
		m.binary(x)
	case *ast.AssignStmt:
		m.swap(x.TokPos, x.Tok, assigns)
		if len(x.Lhs) == 1 && x.Tok != token.DEFINE && x.Tok != token.ASSIGN {
			m.put(x.Pos(), x.End(), "_ = "+m.between(x.Rhs[0].Pos(), x.Rhs[0].End()), "left out: "+m.short(x))
		}
	case *ast.IncDecStmt:
		m.swap(x.TokPos, x.Tok, assigns)
	case *ast.UnaryExpr:
		if x.Op == token.SUB || x.Op == token.NOT {
			m.put(x.Pos(), x.X.Pos(), "", fmt.Sprintf("%s dropped: %s", x.Op, m.short(x)))
		}
	case *ast.CallExpr:
		name := m.between(x.Fun.Pos(), x.Fun.End())
		if to, ok := functions[name]; ok {
			m.put(x.Fun.Pos(), x.Fun.End(), to, name+" to "+to)
		}
		return !texts[name]
	case *ast.BasicLit:
		m.number(x)
	case *ast.IfStmt:
		m.put(x.Cond.Pos(), x.Cond.End(), "!("+m.between(x.Cond.Pos(), x.Cond.End())+")", "condition turned: "+
			m.short(x.Cond))
	case *ast.KeyValueExpr: // keys of maps and structs are names
		ast.Inspect(x.Value, m.visit)
		return false
	case *ast.IndexExpr:
		return false // an index off by one ends in a panic, which any test finds
	}
	return true
}

func (m *maker) binary(x *ast.BinaryExpr) {
	if isText(x.X) || isText(x.Y) {
		return
	}
	m.swap(x.OpPos, x.Op, swaps)
	switch x.Op {
	case token.ADD, token.SUB, token.MUL, token.QUO, token.LAND, token.LOR:
		m.put(x.X.End(), x.End(), "", fmt.Sprintf("dropped: %s %s", x.Op, m.short(x.Y)))
	}
}

// isText tells a sum of strings.
func isText(x ast.Expr) bool {
	switch x := x.(type) {
	case *ast.BasicLit:
		return x.Kind == token.STRING
	case *ast.BinaryExpr:
		return isText(x.X) || isText(x.Y)
	}
	return false
}

func (m *maker) swap(at token.Pos, t token.Token, table map[token.Token]token.Token) {
	if to, ok := table[t]; ok {
		m.put(at, at+token.Pos(len(t.String())), to.String(), fmt.Sprintf("%s to %s", t, to))
	}
}

// number changes a constant: a whole one by one, another by a fifth.
func (m *maker) number(x *ast.BasicLit) {
	switch x.Kind {
	case token.INT:
		if v, err := strconv.ParseInt(x.Value, 0, 64); err == nil {
			m.put(x.Pos(), x.End(), strconv.FormatInt(v+1, 10), fmt.Sprintf("%s to %d", x.Value, v+1))
		}
	case token.FLOAT:
		if v, err := strconv.ParseFloat(x.Value, 64); err == nil {
			to := strconv.FormatFloat(v*1.2, 'g', -1, 64)
			if !strings.ContainsAny(to, ".e") {
				to += ".0"
			}
			m.put(x.Pos(), x.End(), to, x.Value+" to "+to)
		}
	}
}

// short is the text of a node, on one line and not long.
func (m *maker) short(n ast.Node) string {
	s := strings.Join(strings.Fields(m.between(n.Pos(), n.End())), " ")
	if r := []rune(s); len(r) > 60 {
		s = string(r[:57]) + "..."
	}
	return s
}

// sample draws n faults at random of those that are fit, without putting one back, all of them if there are no more,
// and sorts them by place.
func sample(all []fault, n int, r *rand.Rand, fit func(fault) bool) []fault {
	var picked []fault
	for _, i := range r.Perm(len(all)) {
		if len(picked) == n {
			break
		}
		if fit(all[i]) {
			picked = append(picked, all[i])
		}
	}
	slices.SortFunc(picked, func(a, b fault) int {
		if c := strings.Compare(a.file, b.file); c != 0 {
			return c
		}
		return a.start - b.start
	})
	return picked
}

// place is a fault by file and line, as a person reads it.
func (f fault) place() string { return fmt.Sprintf("%s:%d", filepath.ToSlash(f.file), f.line) }
