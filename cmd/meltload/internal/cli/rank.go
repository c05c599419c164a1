package cli

import (
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/flow/study"
	"meltload/report"
)

// sampling are the flags of commands that sample.
type sampling struct {
	samples int
	seed    uint64
}

func (s *sampling) flags(fs *pflag.FlagSet, samples int) {
	wholeFlag(fs, &s.samples, "samples", samples, bound{lo: 16, hi: 1_000_000, zero: true}, "how many samples %s; 0 takes the case's")
	fs.Uint64Var(&s.seed, "seed", 0, "`seed` of the sampling; 0 takes the case's")
}

// progress reports to w once a run has taken two seconds, and every second from there.
func progress(w io.Writer, what string) func(float64) {
	next := time.Now().Add(2 * time.Second)
	return func(done float64) {
		if now := time.Now(); now.After(next) {
			fmt.Fprintf(w, "%s: %.0f %%\n", what, 100*done)
			next = now.Add(time.Second)
		}
	}
}

func newRank() *cobra.Command {
	var out outputs
	var s sampling
	c := &cobra.Command{
		Use:     "rank case.toml case.toml...",
		GroupID: "answer",
		Short:   "Rank feeders and hot ends on one duty",
		Long: `Rank joins every feeder with every hot end of the case files and puts the pairs in order of usable
flow on the duty of the first file: its filament, block temperature, limits and wanted flow.

What is not known (viscosity, heat transfer at the wall, ...) is sampled with the same values for every
pair, so that it cancels where the pairs share it. Pairs that cannot be told apart share a
rank. Force, usable flow, mass and cost stand side by side; mass and cost come from the files.`,
		Example: "  meltload rank bench-a.toml bench-b.toml --report ranking.html",
		Args:    args(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if err := out.free(c, a); err != nil {
				return err
			}
			cases, err := readCases(c, a)
			if err != nil {
				return err
			}
			if s.samples == 0 {
				s.samples = quickSamples
			}
			if s.seed == 0 {
				s.seed = cases[0].Seed
			}
			r, err := study.Rank(c.Context(), cases, s.samples, s.seed, progress(c.ErrOrStderr(), "sampling"))
			if err != nil {
				if c.Context().Err() == nil && r == nil {
					return usageError{err}
				}
				return err
			}
			r.Command = commandLine(c, a)
			return out.emit(c, r, report.Rank(r))
		},
	}
	s.flags(c.Flags(), quickSamples)
	out.flags(c.Flags())
	return c
}
