package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"meltload/cmd/meltload/internal/files"
	"meltload/cmd/meltload/internal/licences"
	"meltload/flow/study"
)

// first is what the bare command says.
const first = `meltload says how fast a filament hot end can be fed, and what stops it: grip, motor,
a buckling filament, a core that has not melted, or the heater.

To begin:
  meltload starter --ask mine.toml              a dozen questions; Enter where you do not know
  meltload assess mine.toml --report mine.html  the answer, and a report to look at
  meltload whatif mine.toml                     change things and see the answer at once

To look around first: meltload assess (an invented case). All commands: meltload --help
`

func newManual() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:     "manual folder",
		GroupID: "prepare",
		Short:   "Write the manual pages of all commands into a folder",
		Long: "Manual writes a manual page of section 1 for meltload and for each of its commands, to be read " +
			"with man.",
		Example: "  meltload manual ~/.local/share/man/man1",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if info, err := os.Stat(a[0]); err == nil && !info.IsDir() {
				return usageError{fmt.Errorf("%s is a file; name a folder", a[0])}
			}
			var out []files.Output
			err := manuals(c.Root(), func(name string, page []byte) {
				out = append(out,
					files.Output{Name: filepath.Join(a[0], name),
						Kind:  files.Marked("manual page of meltload", manualMark),
						Write: func(w io.Writer) error { _, err := w.Write(page); return err }})
			})
			if err != nil {
				return err
			}
			if err := os.MkdirAll(a[0], 0o777); err != nil {
				return err
			}
			d := deskOf(c)
			d.Force = force
			if err := d.Put(out...); err != nil {
				return err
			}
			fmt.Fprintf(c.ErrOrStderr(), "%d manual pages written to %s\n", len(out), a[0])
			return nil
		},
	}
	c.Flags().BoolVar(&force, "force", false, "replace files of the same names that are no manual pages of meltload")
	return c
}

// manualMark is the line by which a manual page is known again.
const manualMark = `.\" Manual page of meltload` + "\n"

// manuals makes the page of a command and of those under it.
func manuals(c *cobra.Command, put func(name string, page []byte)) error {
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() && !sub.IsAdditionalHelpTopicCommand() {
			if err := manuals(sub, put); err != nil {
				return err
			}
		}
	}
	c.DisableAutoGenTag = true
	var b bytes.Buffer
	b.WriteString(manualMark)
	if err := doc.GenMan(c, &doc.GenManHeader{Section: "1", Source: "meltload " + study.Version, Manual: "meltload"},
		&b); err != nil {
		return err
	}
	put(strings.ReplaceAll(c.CommandPath(), " ", "-")+".1", b.Bytes())
	return nil
}

func newLicences() *cobra.Command {
	return &cobra.Command{
		Use:     "licences",
		GroupID: "prepare",
		Short:   "Print the licences of meltload and of everything that is in it",
		Long: "Licences prints the licence of meltload, and those of the libraries and of the chart script that " +
			"the program carries.",
		Example: "  meltload licences",
		Args:    args(cobra.NoArgs),
		RunE:    func(c *cobra.Command, _ []string) error { return licences.Write(c.OutOrStdout()) },
	}
}
