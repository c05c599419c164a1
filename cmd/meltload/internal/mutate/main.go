// Mutate puts small faults into the packages of this module, one at a time, and counts how many of them the tests find:
// an operator turned, a term or a sign dropped, largest and smallest exchanged, a constant changed, a condition turned,
// a sum left out.
//
//	go run ./cmd/meltload/internal/mutate -n 40 meltload/flow/duct meltload/thermal
//
// Nothing in the tree is changed: the faulty file goes to the compiler as an overlay. A package's own tests run first,
// then those of the nearest packages whose tests reach it (-short). Tests that only compare printed text are left out:
// examples, goldens, pages, pictures. A fault is found if a test fails or does not end in time; one that does not build
// is not counted. Faults are drawn at random from all places by a seed, so that the same tree and seed give the same
// answer. Some faults change nothing that counts (a tolerance, a first guess), so that not all can be found.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
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
	var skip string
	f.IntVar(&s.perPackage, "n", 20, "faults for each package")
	f.IntVar(&s.testers, "testers", 3, "further packages whose tests are run")
	f.Uint64Var(&s.seed, "seed", 1, "of the draw")
	f.DurationVar(&s.limit, "limit", time.Minute, "for the tests of one package")
	f.StringVar(&s.skipTests, "skip", "(?i)golden|page|picture|demo|accuracy|wanted|bad",
		"tests left out: they compare printed text")
	f.StringVar(&skip, "skip-packages", "/cmd/,/report,/flowtest",
		"packages whose tests are not run for others, by a part of their path")
	root := f.String("root", ".", "root of the module")
	if err := f.Parse(args); err != nil {
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
	var all tally
	var log strings.Builder
	fmt.Fprintf(w, "| package | places | tried | found by its own tests | by others | share "+
		"|\n|---|---|---|---|---|---|\n")
	for _, name := range f.Args() {
		p := t.by[name]
		if p == nil {
			return fmt.Errorf("no package %s", name)
		}
		r, err := t.run(ctx, p, s, io.MultiWriter(&log, os.Stderr)) // as it comes too: a run takes long
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "| `%s` | %d | %d | %d | %d | %.0f %% |\n", r.name, r.places, r.tried, r.own, r.others,
			100*r.share())
		all.places, all.tried, all.own, all.others = all.places+r.places, all.tried+r.tried, all.own+r.own,
			all.others+r.others
	}
	fmt.Fprintf(w, "| all | %d | %d | %d | %d | %.0f %% |\n\n%s", all.places, all.tried, all.own, all.others,
		100*all.share(), log.String())
	return nil
}
