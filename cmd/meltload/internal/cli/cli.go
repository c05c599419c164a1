// Package cli is the command line: it parses, calls the library, and prints.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"meltload/cmd/meltload/internal/files"
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

// grace is how long a command may take to end by itself once it is told to stop; reading a pipe that nobody writes to
// never would.
const grace = 600 * time.Millisecond

// Run executes a command line and returns the exit code. When ctx ends it returns within a second, whatever the command
// is doing, and nothing is written any more.
func Run(ctx context.Context, args []string, in io.Reader, out, errw io.Writer) int {
	root := newRoot()
	kept, said := &keeper{w: out}, &keeper{w: errw}
	root.SetArgs(append([]string{}, args...)) // none at all would be those of the process
	root.SetIn(in)
	root.SetOut(kept)
	root.SetErr(said)
	desk := &files.Desk{In: in, Out: kept}
	done := make(chan error, 1)
	go func() {
		done <- root.ExecuteContext(context.WithValue(ctx, deskKey{}, desk))
	}()
	var err error
	select {
	case err = <-done:
	case <-ctx.Done():
		select {
		case err = <-done:
		case <-time.After(grace):
			desk.Abandon()
			err = ctx.Err()
		}
	}
	full := kept.close()
	said.close()
	if full != nil && (err == nil || errors.Is(err, errNotHeld)) {
		err = full
	}
	return tell(errw, desk, err)
}

// tell says what went wrong, if anything, and returns the exit code of it.
func tell(errw io.Writer, desk *files.Desk, err error) int {
	var ps strict.Problems
	var ue usageError
	var no files.Refusal
	switch {
	case err == nil:
		return OK
	case errors.Is(err, errNotHeld):
		return NotHeld
	case errors.As(err, &ps):
		noun := "errors"
		if len(ps) == 1 {
			noun = "error"
		}
		fmt.Fprintf(errw, "%v\n%d %s; nothing was computed\n", ps, len(ps), noun)
		return BadUse
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		what := "nothing was written"
		if j := desk.Journals(); len(j) > 0 {
			what = "what was done is kept in " + strings.Join(j, ", ") + ": the same command goes on from there; no " +
				"other output was written"
		}
		fmt.Fprintln(errw, "meltload: stopped; "+what)
		return Failure
	case errors.As(err, &ue), errors.As(err, &no), strings.HasPrefix(err.Error(), "unknown command"):
		fmt.Fprintf(errw, "meltload: %v\n", err)
		return BadUse
	}
	fmt.Fprintf(errw, "meltload: %v\n", err)
	return Failure
}

type deskKey struct{}

// deskOf is the desk of a run.
func deskOf(c *cobra.Command) *files.Desk { return c.Context().Value(deskKey{}).(*files.Desk) }

// keeper remembers the first failure of an output, so that tables printed to a full disk do not pass as done. Once it
// is closed nothing comes through: a command that goes on after it was stopped says no more.
type keeper struct {
	mu   sync.Mutex
	w    io.Writer
	err  error
	shut bool
}

func (k *keeper) Write(b []byte) (int, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.shut {
		return 0, io.ErrClosedPipe
	}
	n, err := k.w.Write(b)
	if err != nil && k.err == nil {
		k.err = err
	}
	return n, err
}

func (k *keeper) close() error {
	if !k.mu.TryLock() { // a write that never ends: the reader of a pipe stands still
		return nil
	}
	defer k.mu.Unlock()
	k.shut = true
	return k.err
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
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := io.WriteString(c.OutOrStdout(), first)
			return err
		},
		SilenceUsage:  true,
		SilenceErrors: true,
		Version:       study.Stamp(),
	}
	root.SetVersionTemplate("meltload {{.Version}}\n")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%s; see `%s --help`", flagError(c.Flags(), err), c.CommandPath())}
	})
	root.SetUsageTemplate(root.UsageTemplate() + "\n" + exitHelp + "\n")
	root.AddGroup(&cobra.Group{ID: "answer", Title: "To get an answer:"},
		&cobra.Group{ID: "bench", Title: "For the bench:"},
		&cobra.Group{ID: "prepare", Title: "To prepare and look things up:"})
	root.AddCommand(newAssess(), newWhatIf(), newRank(), newSurvey(), newPlan(), newTrace(), newLog(), newCompare(),
		newCell(), newCalibrate(), newMould(), newCheck(), newStarter(), newMaterials(), newKeys(), newManual(),
		newLicences(), newSchema())
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

// oneOf checks a word of the command line, as a flag of words is checked.
func oneOf(name, v string, allowed []string) error {
	if err := (&choice{p: new(string), allowed: allowed}).Set(v); err != nil {
		return usageError{fmt.Errorf("%s %q: %w", name, v, err)}
	}
	return nil
}
