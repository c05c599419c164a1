package cli

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/flow/study"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// sampling are the flags of commands that sample.
type sampling struct {
	samples int
	seed    uint64
}

func (s *sampling) flags(fs *pflag.FlagSet, samples int) {
	wholeFlag(fs, &s.samples, "samples", samples, unit.Bound{Lo: 16, Hi: 1_000_000, Zero: true},
		"how many samples %s; 0 takes the case's")
	fs.Uint64Var(&s.seed, "seed", 0, "`seed` of the sampling; 0 takes the case's")
}

// progress reports to w once a run has taken two seconds, and every second from there; only to a terminal, so that what
// is kept of
// the output has no traces of it.
func progress(w io.Writer, what string) func(float64) {
	if !terminal(w) {
		return nil
	}
	next := time.Now().Add(2 * time.Second)
	return func(done float64) {
		if now := time.Now(); now.After(next) {
			fmt.Fprintf(w, "%s: %.0f %%\n", what, 100*done)
			next = now.Add(time.Second)
		}
	}
}

// terminal tells whether w is one.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// orders lists what --by takes, a line each.
func orders() string {
	keys, docs := study.Orders()
	var b strings.Builder
	for i, k := range keys {
		fmt.Fprintf(&b, "  %-17s %s\n", k, docs[i])
	}
	return b.String()
}

func newRank() *cobra.Command {
	var out outputs
	var s sampling
	var files study.RankFiles
	var speeds []float64
	var by string
	c := &cobra.Command{
		Use:     "rank file.toml... [--hot-end file.toml]...",
		GroupID: "answer",
		Short:   "Rank feeders by the force they hold, and feeders on hot ends by usable flow",
		Long: `Rank compares feeders by the force that each holds at stated speeds of filament (by default those
measured), without any hot end: with its cause, scatter, and per 100 g and cost of the feeder. Feeders whose
95 % intervals overlap share a rank.

Then it joins every feeder with every hot end and compares their usable flow on one duty: filament, block
temperature, path, limits and wanted flow of the first whole case, or of --duty. What is not known (viscosity,
heated length, ...) is sampled with the same values for all pairs, so that it cancels where pairs share it.
Pairs that cannot be told apart share a rank.

A file may be a whole case, or hold only [feeder] or only [hot_end]. Without --hot-end the hot ends
of the files count, else that of --duty: a calibrated case takes feeders of files of their own at once.
Two different feeders or hot ends of one name are an error. Mass and cost come from the files.

--by sorts the tables:
` + orders(),
		Example: `  meltload rank bench-a.toml bench-b.toml --report ranking.html

  # three feeders on two hot ends, sorted by force per mass
  meltload rank feeders/a.toml feeders/b.toml feeders/c.toml --hot-end hot/short.toml --hot-end hot/long.toml \
      --duty my-bench.toml --by force-per-mass

  # feeders of files of their own on a calibrated hot end
  meltload rank feeders/a.toml feeders/b.toml --duty calibrated.toml

  # forces only, at two speeds
  meltload rank feeders/a.toml feeders/b.toml --speeds 2,8`,
		Args: args(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			inputs := append(append([]string(nil), a...), files.HotEnds...)
			if files.Duty != "" {
				inputs = append(inputs, files.Duty)
			}
			if err := out.free(c, inputs); err != nil {
				return err
			}
			files.Feeders = a
			job, err := study.Gather(files)
			if err != nil {
				return bad(err)
			}
			for _, f := range job.Header.Files {
				deskOf(c).Uses(f.Name)
			}
			job.By, job.Speeds = by, scaled(speeds, unit.MM)
			job.Samples = study.Quick
			if s.samples != 0 {
				job.Samples = s.samples
			}
			if s.seed != 0 {
				job.Seed = s.seed
			}
			r, err := study.Rank(c.Context(), *job, progress(c.ErrOrStderr(), "sampling"))
			if err != nil {
				if c.Context().Err() == nil {
					return usageError{err}
				}
				return err
			}
			r.Command = commandLine(c, a)
			return out.emit(c, r, report.Rank(r))
		},
	}
	fs := c.Flags()
	fs.StringArrayVar(&files.HotEnds, "hot-end", nil, "a `file` with a hot end to put the feeders on; may be given "+
		"several times")
	fs.StringVar(&files.Duty, "duty", "", "the case `file` whose duty counts; default: the first whole case")
	fs.StringVar(&files.Material, "material", "", "`name` of the polymer where no file is a whole case; default: the "+
		"one that all points name")
	listFlag(fs, &speeds, "speeds", nil, unit.Bound{Lo: 0.001, Hi: 500, Unit: "mm/s"},
		"speeds of filament in %s at which to compare forces, separated by commas; default: those measured")
	keys, _ := study.Orders()
	choiceFlag(fs, &by, "by", "force", keys, "what to sort by, a `key` of the list above")
	s.flags(fs, study.Quick)
	out.flags(fs)
	return c
}

// bad is an error of input files as it is, and another of what was asked as a wrong use.
func bad(err error) error {
	if _, ok := err.(strict.Problems); ok {
		return err
	}
	return usageError{err}
}
