package cli

import (
	"errors"
	"fmt"
	"io"
	"maps"

	"github.com/spf13/cobra"

	"meltload/cmd/meltload/internal/licences"
	"meltload/cmd/meltload/internal/whatif/live"
	"meltload/flow/casefile"
	"meltload/flow/study"
	"meltload/flow/vary"
)

// liveReport is a report that answers by itself: the solver for browsers, and the text of the case that it starts from.
type liveReport struct {
	on     bool
	module *live.Module
	name   string // of the case file
	text   []byte
}

// prepare makes everything that can go wrong before anything is computed. Errors: flags that do not go together, a
// case that needs a file which a browser cannot open, no module.
func (l *liveReport) prepare(c *cobra.Command, cs *casefile.Case, out *outputs, solver string) error {
	switch {
	case !l.on:
		return nil
	case out.html == "":
		return usageError{errors.New("--live makes the report answer: name its file with --report")}
	case solver != "" && solver != "marching":
		return usageError{errors.New("--live answers by the marching solver alone")}
	}
	for _, in := range cs.Inputs {
		if in.Key == "filament.material_file" && in.Value != "" {
			return usageError{fmt.Errorf("--live: the case takes its material from %s, a file that a browser cannot "+
				"open; meltload whatif can", in.Value)}
		}
	}
	var err error
	l.name = cs.File
	if l.text, err = textOf(cs); err != nil {
		return err
	}
	terms, err := licences.InBrowser()
	if err != nil {
		return err
	}
	l.module, err = live.Load(c.Context(), terms, func(s string) { fmt.Fprintln(c.ErrOrStderr(), s) })
	return err
}

// textOf is the text of a case as it stands, in one piece: what other files hold is in it, and what the command line
// changed.
func textOf(cs *casefile.Case) ([]byte, error) {
	text, err := cs.Rewritten(nil, "")
	if err == nil {
		text, err = casefile.Inline(cs.File, text)
	}
	if err != nil {
		return nil, err
	}
	base, ps := casefile.Parse(cs.File, text)
	if len(ps) > 0 {
		return nil, ps
	}
	set := map[string]string{}
	for _, q := range vary.Table(&cs.Setup) {
		if was, ok := vary.Find(&base.Setup, string(q.ID)); !ok || was.Get(&base.Setup) != q.Get(&cs.Setup) {
			maps.Copy(set, base.Edits(q.Edits(&cs.Setup)))
		}
	}
	if len(set) == 0 {
		return text, nil
	}
	text, _, err = casefile.Patch(cs.File, text, set, "")
	return text, err
}

// page writes the report of a result.
func (l *liveReport) page(r *study.Result) func(io.Writer) error {
	if !l.on {
		return nil
	}
	return func(w io.Writer) error { return l.module.Write(w, l.name, l.text, r) }
}
