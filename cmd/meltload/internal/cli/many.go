package cli

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"meltload/cmd/meltload/internal/files"
	"meltload/flow/casefile"
	"meltload/flow/setup"
	"meltload/flow/study"
	"meltload/report"
)

// caseNames lays folders open: every case file in them and below, in order of name. skipped counts the files that hold
// only a part of a case. Errors: a folder without any.
func caseNames(c *cobra.Command, args []string) (names []string, skipped int, err error) {
	names, err = layOpen(args, "no case files in this folder (.toml, with feeder and hot end)",
		func(path string) (bool, error) {
			if !strings.EqualFold(filepath.Ext(path), ".toml") {
				return false, nil
			}
			text, err := readText(c, path)
			if err != nil {
				return false, err
			}
			if p, err := casefile.ParsePart(path, text); err == nil && !p.Whole() {
				skipped++
				return false, nil
			}
			return true, nil
		})
	return names, skipped, err
}

// doneLine is a line of the journal: a case that was assessed.
type doneLine struct {
	Key  string
	Case study.Brief
}

// manyCases assesses several case files, or all of a folder.
type manyCases struct {
	c       *cobra.Command
	names   []string
	over    *overrides
	opt     study.AssessOptions
	journal string
	known   map[string]study.Brief // by key
	keys    []string               // of the cases, "" for one that cannot be read
}

// key tells a case and all that its answer hangs on from any other: text of its files, changes by the command line,
// samples, solver and version.
func (m *manyCases) key(cs *casefile.Case) string {
	h := sha256.New()
	fmt.Fprintln(h, study.Version, study.Revision(), m.opt.Samples, m.opt.Seed, m.opt.Solver, cs.Hash, cs.Inputs)
	for _, r := range cs.Refs {
		fmt.Fprintln(h, r.Hash)
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:12])
}

// jobs reads the cases; one that is known needs no more.
func (m *manyCases) jobs() []study.ManyJob {
	m.keys = make([]string, len(m.names))
	jobs := make([]study.ManyJob, len(m.names))
	for i, name := range m.names {
		jobs[i].Name = shownName(name)
		cs, err := load(m.c, []string{name}, m.over)
		if err != nil {
			jobs[i].Open = func() (*setup.Setup, error) { return nil, err }
			continue
		}
		m.keys[i] = m.key(cs)
		if b, ok := m.known[m.keys[i]]; ok {
			b.Case = jobs[i].Name
			jobs[i].Done = &b
			continue
		}
		jobs[i].Open = func() (*setup.Setup, error) { return &cs.Setup, nil }
	}
	return jobs
}

// run assesses the cases; what a journal says was done is not done again.
func (m *manyCases) run() (*study.Briefs, error) {
	m.known = map[string]study.Brief{}
	var j *files.Journal
	if m.journal != "" {
		var err error
		if j, err = deskOf(m.c).Journal(m.journal, "assess", func(line []byte) {
			var d doneLine
			if json.Unmarshal(line, &d) == nil && d.Key != "" && d.Case.Usable != nil {
				m.known[d.Key] = d.Case
			}
		}); err != nil {
			return nil, err
		}
	}
	jobs := m.jobs()
	told, said := 0, progress(m.c.ErrOrStderr(), "cases")
	r, err := study.AssessMany(m.c.Context(), jobs, m.opt, func(i int, b study.Brief) error {
		if told++; said != nil {
			said(float64(told) / float64(len(jobs)))
		}
		if j == nil || b.Problem != "" {
			return nil
		}
		return j.Add(doneLine{m.keys[i], b})
	})
	if j != nil {
		if e := j.Close(); err == nil {
			err = e
		}
		if err != nil {
			err = fmt.Errorf("%w; what was done is in %s: the same command goes on from there", err, m.journal)
		}
	}
	return r, err
}

// errNoAnswer carries exit code 2: some case of many has no answer; which and why has been printed.
var errNoAnswer = usageError{errors.New("not every case could be assessed")}

// counted is a number of things, such as 1 file, 2 files.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// assessMany is assess with several files or a folder.
func assessMany(c *cobra.Command, a []string, out *outputs, m *manyCases) error {
	names, skipped, err := caseNames(c, a)
	if err != nil {
		return err
	}
	m.c, m.names = c, names
	r, err := m.run()
	if err != nil {
		return err
	}
	r.Command = commandLine(c, a)
	if skipped > 0 {
		r.Sentence += fmt.Sprintf(" Passed over, as it holds only a part of a case: %s.", counted(skipped, "file"))
	}
	if err := out.emit(c, r, report.Many(r)); err != nil {
		return err
	}
	for i := range r.Cases {
		if b := &r.Cases[i]; b.Problem != "" {
			return errNoAnswer
		}
	}
	if !r.Good {
		return errNotHeld
	}
	return nil
}
