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

// Faults that change nothing that counts are not put in: those of wording, those that say how a search proceeds and not
// where it ends, and those that no caller can see.
var (
	// texts are calls whose arguments are messages.
	texts = map[string]bool{"fmt.Sprintf": true, "fmt.Errorf": true, "fmt.Sprint": true, "fmt.Fprintf": true,
		"errors.New": true, "panic": true, "add": true}
	// layout are the fields that say with how many digits a number is shown.
	layout = map[string]bool{"Digits": true, "Decimal": true}
	// tolerances are calls whose last argument is the tolerance of a search.
	tolerances = map[string]bool{"num.Root": true, "num.RootBetween": true}
	// unseen are calls whose numbers name a seed, the width of a type or a sign.
	unseen = map[string]bool{"rand.NewPCG": true, "strconv.ParseFloat": true, "strconv.ParseInt": true,
		"strconv.FormatFloat": true, "math.IsInf": true, "math.Inf": true}
)

// guess is the remark that marks a line on which a search starts: it settles from anywhere near. A function whose
// comment speaks of a first guess makes nothing else.
const guess = "first guess"

// searchPasses is the number of passes from which on a fixed one is taken to be that of a search that settles earlier.
const searchPasses = 20

// faults lists every fault that can be put into a file.
func faults(name string, src []byte) ([]fault, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, name, src, parser.SkipObjectResolution|parser.ParseComments)
	if err != nil {
		return nil, err
	}
	m := &maker{name: name, src: src, set: set}
	for _, d := range tree.Decls {
		if g, ok := d.(*ast.GenDecl); ok && (g.Tok == token.IMPORT || g.Tok == token.TYPE) {
			continue
		}
		if f, ok := d.(*ast.FuncDecl); ok && strings.Contains(f.Doc.Text(), guess) {
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
	if line, _, _ := strings.Cut(string(m.src[at.Offset:]), "\n"); strings.Contains(line, "// "+guess) {
		return
	}
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
		return m.call(x)
	case *ast.ReturnStmt: // beside an error the numbers are not looked at
		if n := len(x.Results); n > 1 && m.isError(x.Results[n-1]) {
			ast.Inspect(x.Results[n-1], m.visit)
			return false
		}
	case *ast.RangeStmt:
		if l, ok := x.X.(*ast.BasicLit); ok && m.passes(l) {
			ast.Inspect(x.Body, m.visit)
			return false
		}
	case *ast.BasicLit:
		m.number(x)
	case *ast.IfStmt:
		if m.settles(x) { // how closely is a tolerance; that it does is not
			m.put(x.Cond.Pos(), x.Cond.End(), "!("+m.between(x.Cond.Pos(), x.Cond.End())+")", "condition turned: "+
				m.short(x.Cond))
			return false
		}
		m.put(x.Cond.Pos(), x.Cond.End(), "!("+m.between(x.Cond.Pos(), x.Cond.End())+")", "condition turned: "+
			m.short(x.Cond))
	case *ast.KeyValueExpr: // keys of maps and structs are names
		if !layout[m.between(x.Key.Pos(), x.Key.End())] {
			ast.Inspect(x.Value, m.visit)
		}
		return false
	case *ast.IndexExpr:
		return false // an index off by one ends in a panic, which any test finds
	}
	return true
}

// call puts faults into a call, and says whether to look at what it is given.
func (m *maker) call(x *ast.CallExpr) bool {
	name := m.between(x.Fun.Pos(), x.Fun.End())
	if to, ok := functions[name]; ok {
		m.put(x.Fun.Pos(), x.Fun.End(), to, name+" to "+to)
	}
	given := x.Args
	switch n := len(given); {
	case texts[name]:
		return false
	case unseen[name]:
		for _, a := range given {
			if _, plain := a.(*ast.BasicLit); !plain {
				ast.Inspect(a, m.visit)
			}
		}
		return false
	case name == "make": // sizes: a wrong length ends in a panic, a capacity is a hint
		return false
	case tolerances[name] && n > 0:
		for _, a := range given[:n-1] {
			ast.Inspect(a, m.visit)
		}
		return false
	}
	return true
}

// settles tells the end of a search: if math.Abs(step) < tolerance { break }.
func (m *maker) settles(x *ast.IfStmt) bool {
	if len(x.Body.List) != 1 || x.Else != nil || x.Init != nil {
		return false
	}
	b, ok := x.Body.List[0].(*ast.BranchStmt)
	cond := m.between(x.Cond.Pos(), x.Cond.End())
	return ok && b.Tok == token.BREAK && strings.HasPrefix(cond, "math.Abs(") && strings.Contains(cond, " < ")
}

// isError tells an error that is made or passed on.
func (m *maker) isError(x ast.Expr) bool {
	switch x := x.(type) {
	case *ast.Ident:
		return x.Name == "err" || strings.HasPrefix(x.Name, "Err")
	case *ast.CallExpr:
		name := m.between(x.Fun.Pos(), x.Fun.End())
		return name == "fmt.Errorf" || name == "errors.New"
	}
	return false
}

// passes tells the number of passes of a search.
func (m *maker) passes(x *ast.BasicLit) bool {
	v, err := strconv.ParseInt(x.Value, 0, 64)
	return err == nil && v >= searchPasses
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

// number changes a constant by a fifth, a whole one by one at least.
func (m *maker) number(x *ast.BasicLit) {
	switch x.Kind {
	case token.INT:
		if v, err := strconv.ParseInt(x.Value, 0, 64); err == nil {
			to := v + max(1, v/5)
			m.put(x.Pos(), x.End(), strconv.FormatInt(to, 10), fmt.Sprintf("%s to %d", x.Value, to))
		}
	case token.FLOAT:
		if v, err := strconv.ParseFloat(x.Value, 64); err == nil {
			by := v * 1.2
			if v == 0 {
				by = 1
			}
			to := strconv.FormatFloat(by, 'g', -1, 64)
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
