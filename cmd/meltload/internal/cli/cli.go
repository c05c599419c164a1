// Package cli is the command line: it parses, calls the library, and prints.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/flow/study"
	"meltload/materials/strict"
)

// Exit codes.
const (
	OK      = 0
	Failure = 1 // something went wrong while running: a file that cannot be written, an interruption
	BadUse  = 2 // the command line or an input file is not right
	NotHeld = 3 // the answer is there, and the wanted flow is not held, or the mould does not fill
)

const exitHelp = `Exit codes:
  0  done; a wanted flow, if one was named, is held
  1  something failed while running (a file that cannot be written, an interruption)
  2  the command line or an input file is not right; every error is listed
  3  done, and the wanted flow is not held, or the mould does not fill`

// errNotHeld carries exit code 3; the verdict has been printed already.
var errNotHeld = errors.New("the wanted flow is not held")

// usageError marks an error of the command line itself.
type usageError struct{ error }

// Run executes a command line and returns the exit code.
func Run(ctx context.Context, args []string, in io.Reader, out, errw io.Writer) int {
	root := newRoot()
	kept := &keeper{w: out}
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(kept)
	root.SetErr(errw)
	err := root.ExecuteContext(ctx)
	if kept.err != nil && (err == nil || errors.Is(err, errNotHeld)) {
		err = kept.err
	}
	var ps strict.Problems
	var ue usageError
	switch {
	case err == nil:
		return OK
	case errors.Is(err, errNotHeld):
		return NotHeld
	case errors.As(err, &ps):
		for _, p := range ps {
			fmt.Fprintln(errw, p.Error())
		}
		noun := "errors"
		if len(ps) == 1 {
			noun = "error"
		}
		fmt.Fprintf(errw, "%d %s; nothing was computed\n", len(ps), noun)
		return BadUse
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		fmt.Fprintln(errw, "meltload: stopped; nothing was written")
		return Failure
	case errors.As(err, &ue), strings.HasPrefix(err.Error(), "unknown command"):
		fmt.Fprintf(errw, "meltload: %v\n", err)
		return BadUse
	}
	fmt.Fprintf(errw, "meltload: %v\n", err)
	return Failure
}

// keeper remembers the first failure of an output, so that tables printed to a full disk do not pass as done.
type keeper struct {
	w   io.Writer
	err error
}

func (k *keeper) Write(b []byte) (int, error) {
	n, err := k.w.Write(b)
	if err != nil && k.err == nil {
		k.err = err
	}
	return n, err
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "meltload",
		Short: "Load of a filament hot end against what a feeder can push",
		Long: `meltload predicts the pressure and push force that drive a thermoplastic filament
through a heated melt zone and nozzle, lays that load over what a feeder can push,
and finds the highest usable flow and what limits it.

Units: mm, mm3/s of filament, degC, MPa, N (kgf beside it). Temperatures are those
of the block sensor unless said otherwise.`,
		Example: `  # the built-in invented case, with a report to look at
  meltload assess --report report.html

  # write a commented case file, then check and run it
  meltload starter my-bench.toml
  meltload check my-bench.toml
  meltload assess my-bench.toml`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Version:       study.Stamp(),
	}
	root.SetVersionTemplate("meltload {{.Version}}\n")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%w; see `%s --help`", err, c.CommandPath())}
	})
	root.SetUsageTemplate(root.UsageTemplate() + "\n" + exitHelp + "\n")
	root.AddGroup(&cobra.Group{ID: "answer", Title: "To get an answer:"}, &cobra.Group{ID: "bench", Title: "For the bench:"}, &cobra.Group{ID: "prepare", Title: "To prepare and look things up:"})
	root.AddCommand(newAssess(), newWhatIf(), newRank(), newPlan(), newTrace(), newLog(), newCell(), newCalibrate(), newMould(), newCheck(), newStarter(), newMaterials(), newKeys(), newSchema())
	root.SetHelpCommandGroupID("prepare")
	root.SetCompletionCommandGroupID("prepare")
	return root
}

// args turns cobra's argument errors into usage errors.
func args(f cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, a []string) error {
		if err := f(c, a); err != nil {
			return usageError{fmt.Errorf("%w; see `%s --help`", err, c.CommandPath())}
		}
		return nil
	}
}

// bounded checks a number flag that was given.
func bounded(fs *pflag.FlagSet, name string, v, lo, hi float64, unit string) error {
	if fs.Changed(name) && !(v >= lo && v <= hi) {
		return usageError{fmt.Errorf("--%s %g: allowed are %g to %g %s", name, v, lo, hi, unit)}
	}
	return nil
}

// oneOf checks a choice flag.
func oneOf(name, v string, allowed []string) error {
	for _, a := range allowed {
		if v == a {
			return nil
		}
	}
	msg := fmt.Sprintf("--%s %q: allowed are %s", name, v, strings.Join(allowed, ", "))
	if n := strict.Nearest(v, allowed); n != "" {
		msg += fmt.Sprintf("; did you mean %q?", n)
	}
	return usageError{errors.New(msg)}
}
