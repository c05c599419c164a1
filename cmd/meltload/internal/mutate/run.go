package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// listed is a package as go list gives it.
type listed struct {
	ImportPath, Dir                    string
	GoFiles                            []string
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
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestImports,XTestImports", "./...")
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
		if d := t.distance(q, p.ImportPath); d > 0 &&
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
	perPackage, testers int
	seed                uint64
	limit               time.Duration
	skipTests           string
	skipPackages        []string
}

// outcome of one fault.
type outcome int

const (
	missed   outcome = iota // every test passed
	found                   // a test failed
	late                    // the tests did not end in time
	unviable                // it does not build
)

// tally is the result of one package.
type tally struct {
	name                   string
	tried, own, others     int // found by its own tests, or by those of others
	lates, unbuilt, places int // places: how many faults there could be
	missed                 []fault
}

func (t *tally) share() float64 { return float64(t.own+t.others) / float64(max(1, t.tried)) }

// run puts faults into one package, one at a time, and counts those that the tests find.
func (t *tree) run(ctx context.Context, p *listed, s settings, log io.Writer) (*tally, error) {
	out := &tally{name: p.ImportPath}
	var all []fault
	sources := map[string][]byte{}
	for _, f := range p.GoFiles {
		name := filepath.Join(p.Dir, f)
		src, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		fs, err := faults(name, src)
		if err != nil {
			return nil, err
		}
		sources[name] = src
		all = append(all, fs...)
	}
	out.places = len(all)
	var testers []string
	for _, q := range t.testers(p, s.testers, s.skipPackages) {
		switch r, err := t.test(ctx, q, "", s); {
		case err != nil:
			return nil, err
		case r == missed:
			testers = append(testers, q)
		default:
			if q == p.ImportPath {
				return nil, fmt.Errorf("%s: its own tests do not pass as they are", q)
			}
			fmt.Fprintf(log, "%s: its tests do not pass as they are: left out\n", q)
		}
	}
	for _, f := range sample(all, s.perPackage, rand.New(rand.NewPCG(s.seed, 1))) {
		if err := t.try(ctx, f, sources[f.file], testers, p, s, out, log); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// try puts one fault in and counts what becomes of it.
func (t *tree) try(ctx context.Context, f fault, src []byte, testers []string, p *listed, s settings, out *tally,
	log io.Writer) error {
	dir, err := os.MkdirTemp("", "fault")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	changed, overlay := filepath.Join(dir, "fault.go"), filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(changed, f.apply(src), 0o644); err != nil {
		return err
	}
	text, err := json.Marshal(map[string]map[string]string{"Replace": {f.file: changed}})
	if err != nil {
		return err
	}
	if err := os.WriteFile(overlay, text, 0o644); err != nil {
		return err
	}
	if rel, err := filepath.Rel(t.root, f.file); err == nil {
		f.file = rel
	}
	for _, q := range testers {
		r, err := t.test(ctx, q, overlay, s)
		if err != nil {
			return err
		}
		switch r {
		case missed:
			continue
		case unviable:
			out.unbuilt++
			return nil
		case late:
			out.lates++
		}
		out.tried++
		if q == p.ImportPath {
			out.own++
		} else {
			out.others++
		}
		return nil
	}
	out.tried++
	out.missed = append(out.missed, f)
	fmt.Fprintf(log, "missed %s: %s\n", f.place(), f.what)
	return nil
}

// test runs the tests of a package, with a fault by overlay if there is one.
func (t *tree) test(ctx context.Context, name, overlay string, s settings) (outcome, error) {
	if overlay != "" {
		build := exec.CommandContext(ctx, "go", "build", "-overlay", overlay, name)
		build.Dir = t.root
		if err := build.Run(); err != nil {
			return unviable, ctx.Err()
		}
	}
	args := []string{"test", "-short", "-vet=off", "-failfast", "-run", "^Test", "-skip", s.skipTests, "-timeout",
		s.limit.String()}
	if overlay != "" {
		args = append(args, "-overlay", overlay)
	}
	cmd := exec.CommandContext(ctx, "go", append(args, name)...)
	cmd.Dir = t.root
	cmd.Env = append(os.Environ(), "RAPID_NOFAILFILE=true") // a failure is wanted here; the tree stays as it is
	out, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return missed, ctx.Err()
	case err == nil:
		return missed, nil
	case !errors.As(err, &exit):
		return missed, err
	case strings.Contains(string(out), "panic: test timed out"):
		return late, nil
	case strings.Contains(string(out), "[build failed]") || strings.Contains(string(out), "[setup failed]"):
		return unviable, nil
	}
	return found, nil
}
