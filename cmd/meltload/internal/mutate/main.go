// Mutate puts small faults into the packages of this module, one at a time, and counts how many of them the tests find:
// an operator turned, a term or a sign dropped, largest and smallest exchanged, a constant changed, a condition turned,
// a sum left out.
//
//	go run ./cmd/meltload/internal/mutate -n 40 meltload/flow/duct meltload/thermal
//
// Nothing in the tree is changed: faults go to the compiler as an overlay, all of a package in one build, and the
// environment says which is on. For each fault those tests run whose coverage reaches it, quickest first, until one
// fails: the package's own, then, for what they miss, those of the nearest packages that use it. Tests that only
// compare printed text are left out: examples, goldens, pages, pictures. A fault is found if a test fails or does not
// end in time; one that does not build is not drawn. Faults are drawn at random from all places by a seed, so that the
// same tree and seed give the same answer. Some faults change nothing that counts; faults.go says which are not put
// in.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"regexp"
	"strings"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := command(ctx, os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(1)
	}
}

func command(ctx context.Context, args []string, w io.Writer) error {
	f := flag.NewFlagSet("mutate", flag.ContinueOnError)
	var s settings
	var skipTests, skip string
	f.IntVar(&s.perPackage, "n", 20, "faults for each package")
	f.IntVar(&s.testers, "testers", 3, "further packages whose tests are run")
	f.Uint64Var(&s.seed, "seed", 1, "of the draw")
	f.IntVar(&s.jobs, "jobs", 2, "tests that run at the same time")
	f.DurationVar(&s.limit, "limit", time.Minute, "for one fault in the tests of one package")
	f.StringVar(&skipTests, "skip", "(?i)golden|page|picture|demo|accuracy|wanted|bad",
		"tests left out: they compare printed text")
	f.StringVar(&skip, "skip-packages", "/cmd/,/report,/flowtest",
		"packages whose tests are not run for others, by a part of their path")
	root := f.String("root", ".", "root of the module")
	if err := f.Parse(args); err != nil {
		return err
	}
	var err error
	if s.skipTests, err = regexp.Compile(skipTests); err != nil {
		return err
	}
	s.skipPackages = strings.Split(skip, ",")
	t, err := load(*root)
	if err != nil {
		return err
	}
	if f.NArg() == 0 {
		return fmt.Errorf("name the packages to put faults into")
	}
	all := tally{name: "all"}
	var log strings.Builder
	fmt.Fprintf(w, "| package | places | tried | found by its own tests | by others | not reached | share "+
		"|\n|---|---|---|---|---|---|---|\n")
	for _, name := range f.Args() {
		p := t.by[name]
		if p == nil {
			return fmt.Errorf("no package %s", name)
		}
		r, err := t.run(ctx, p, s, io.MultiWriter(&log, os.Stderr)) // as it comes too: a run takes long
		if err != nil {
			return err
		}
		r.write(w)
		all.add(r)
	}
	all.write(w)
	fmt.Fprintf(w, "\n%s", log.String())
	return nil
}

func (t *tally) write(w io.Writer) {
	fmt.Fprintf(w, "| `%s` | %d | %d | %d | %d | %d | %.0f %% |\n", t.name, t.places, t.tried, t.own, t.others,
		t.unreached, 100*t.share())
}
