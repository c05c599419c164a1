package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

// listed is a package as go list gives it.
type listed struct {
	ImportPath, Dir                    string
	GoFiles, TestGoFiles, XTestGoFiles []string
	Imports, TestImports, XTestImports []string
}

// tree is the packages of the module and who tests what.
type tree struct {
	root string
	by   map[string]*listed
	all  []*listed
}

func load(root string) (*tree, error) {
	root, err := filepath.Abs(root)
	if err != nil {
		return nil, err
	}
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,TestGoFiles,XTestGoFiles,Imports,TestImports,"+
		"XTestImports", "./...")
	cmd.Dir = root
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	t := &tree{root: root, by: map[string]*listed{}}
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		p := &listed{}
		if err := d.Decode(p); err != nil {
			return nil, err
		}
		t.all = append(t.all, p)
		t.by[p.ImportPath] = p
	}
	return t, nil
}

// testers are the packages whose tests reach p, itself first and then by how far they stand from it; at most n besides
// itself, and none of those whose path contains one of skip.
func (t *tree) testers(p *listed, n int, skip []string) []string {
	far := map[string]int{}
	for _, q := range t.all {
		if d := t.distance(q, p.ImportPath); d > 0 && len(q.TestGoFiles)+len(q.XTestGoFiles) > 0 &&
			!slices.ContainsFunc(skip, func(s string) bool { return s != "" && strings.Contains(q.ImportPath, s) }) {
			far[q.ImportPath] = d
		}
	}
	var names []string
	for name := range far {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int {
		if far[a] != far[b] {
			return far[a] - far[b]
		}
		return strings.Compare(a, b)
	})
	return append([]string{p.ImportPath}, names[:min(n, len(names))]...)
}

// distance counts the imports from the tests of q to the package named, 0 where they do not reach it.
func (t *tree) distance(q *listed, name string) int {
	if q.ImportPath == name {
		return 0
	}
	seen := map[string]bool{q.ImportPath: true}
	next := slices.Concat(q.Imports, q.TestImports, q.XTestImports)
	for d := 1; len(next) > 0; d++ {
		var after []string
		for _, i := range next {
			if i == name {
				return d
			}
			if p := t.by[i]; p != nil && !seen[i] {
				seen[i] = true
				after = append(after, p.Imports...)
			}
		}
		next = after
	}
	return 0
}

// settings of a run.
type settings struct {
	perPackage, testers, jobs int
	seed                      uint64
	limit                     time.Duration
	skipTests                 *regexp.Regexp
	skipPackages              []string
}

// outcome of one fault.
type outcome int

const (
	missed  outcome = iota // every test passed
	found                  // a test failed
	late                   // it did not end in time
	starved                // it did not end, but hardly had the processor
)

// tally is the result of one package.
type tally struct {
	name                                  string
	places, tried, own, others, unreached int // places: how many faults there could be; own: found by its own tests
}

func (t *tally) share() float64 { return float64(t.own+t.others) / float64(max(1, t.tried)) }

func (t *tally) add(x *tally) {
	t.places, t.tried, t.own = t.places+x.places, t.tried+x.tried, t.own+x.own
	t.others, t.unreached = t.others+x.others, t.unreached+x.unreached
}

// trial is a fault under test.
type trial struct {
	fault
	first, last int    // lines of its function, 0 where it lies in none
	binary      string // the test binary that has it, of the package whose turn it is
	on          int    // its number there
	by          string // the test that found it
	reached     bool
	cut         bool // not all tests that reach it could run in time
}

// run puts faults into one package, one at a time, and counts those that the tests find: its own first, then, for what
// they miss, those of the packages around it.
func (t *tree) run(ctx context.Context, p *listed, s settings, log io.Writer) (*tally, error) {
	src, err := t.parse(ctx, p)
	if err != nil {
		return nil, err
	}
	var all []fault
	for _, f := range src.files {
		fs, err := faults(f.name, f.text)
		if err != nil {
			return nil, err
		}
		all = append(all, fs...)
	}
	out := &tally{name: p.ImportPath, places: len(all)}
	var left []*trial
	for _, f := range sample(all, s.perPackage, rand.New(rand.NewPCG(s.seed, 1)), src.builds) {
		x := &trial{fault: f}
		if fn := src.function(f); fn != nil {
			x.first, x.last = src.set.Position(fn.Pos()).Line, src.set.Position(fn.End()).Line
		}
		left = append(left, x)
	}
	out.tried = len(left)
	for _, name := range t.testers(p, s.testers, s.skipPackages) {
		if len(left) == 0 {
			break
		}
		if err := t.tests(ctx, t.by[name], p, src, left, s, log); err != nil {
			return nil, err
		}
		for _, x := range left {
			switch {
			case x.by != "" && name == p.ImportPath:
				out.own++
			case x.by != "":
				out.others++
			}
		}
		left = slices.DeleteFunc(left, func(x *trial) bool { return x.by != "" })
	}
	for _, x := range left {
		remark := ""
		switch {
		case !x.reached:
			out.unreached++
			remark = " (no test reaches it)"
		case x.cut:
			remark = " (not all tests that reach it could run in time)"
		}
		if rel, err := filepath.Rel(t.root, x.file); err == nil {
			x.file = rel
		}
		fmt.Fprintf(log, "missed %s: %s%s\n", x.place(), x.what, remark)
	}
	return out, nil
}

// tests tries faults of p with the tests of q and notes by which test each was found.
func (t *tree) tests(ctx context.Context, q, p *listed, src *parsed, xs []*trial, s settings, log io.Writer) error {
	own, err := t.suite(ctx, q, p, s, log)
	if err != nil || len(own.Tests) == 0 {
		return err
	}
	dir, err := os.MkdirTemp("", "fault")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	fs := make([]fault, len(xs))
	for i, x := range xs {
		fs[i] = x.fault
	}
	file, err := src.variants(fs, dir)
	if err != nil {
		return err
	}
	many := filepath.Join(dir, "many.test")
	if text, err := t.build(ctx, q, many, "-overlay", file); err != nil {
		return fmt.Errorf("%s with faults: %w\n%s", p.ImportPath, err, text)
	}
	return inTurns(ctx, xs, s.jobs, func(i int, x *trial) error {
		x.binary, x.on = many, i+1
		if x.first == 0 { // in no function: a build of its own
			alone, err := os.MkdirTemp(dir, "alone")
			if err != nil {
				return err
			}
			defer os.RemoveAll(alone)
			file, err := src.single(x.fault, alone)
			if err != nil {
				return err
			}
			x.binary, x.on = filepath.Join(alone, "one.test"), 0
			if text, err := t.build(ctx, q, x.binary, "-overlay", file); err != nil {
				return fmt.Errorf("%s: %s: %w\n%s", x.place(), x.what, err, text)
			}
		}
		return t.try(ctx, q, own.reaching(x.fault, x.first, x.last), x, s)
	})
}

// try runs the tests that reach a fault, one after another, until one fails or the time for the fault is over.
func (t *tree) try(ctx context.Context, q *listed, tests []tested, x *trial, s settings) error {
	x.reached = x.reached || len(tests) > 0
	var spent time.Duration
	for _, one := range tests {
		if spent > s.limit {
			x.cut = true
			return nil
		}
		r, took, err := t.one(ctx, q, x.binary, one.Name, min(s.limit, 2*time.Second+5*one.Took), x.on)
		if err != nil {
			return err
		}
		spent += took
		switch r {
		case starved:
			x.cut = true
		case found, late:
			x.by = q.ImportPath + "." + one.Name
			return nil
		}
	}
	return nil
}
