package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/cmd/meltload/internal/files"
	"meltload/flow/casefile"
	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// outputs are the flags of every command that gives a result.
type outputs struct {
	html, json, csv, figures string
	quiet, force             bool
	page                     func(io.Writer) error // writes the report in place of the document; nil for none
}

func (o *outputs) flags(fs *pflag.FlagSet) {
	fs.StringVar(
		&o.html,
		"report",
		"",
		"write the report as one HTML `file` that works without a network; - is standard output",
	)
	fs.StringVar(&o.json, "json", "", "write the whole result as JSON to a `file`; - is standard output")
	fs.StringVar(&o.csv, "csv", "", "write every table as CSV into a `folder`")
	fs.StringVar(&o.figures, "figures", "", "write every chart as SVG, PNG and PDF into a `folder`")
	fs.BoolVar(&o.quiet, "quiet", false, "no text on standard output")
	fs.BoolVar(
		&o.force,
		"force",
		false,
		"let outputs replace files that this command did not write; inputs are never replaced",
	)
}

// free says, before anything is computed, what stands against the outputs; a are the files that the command reads.
func (o *outputs) free(c *cobra.Command, a []string, extra ...files.Output) error {
	d := deskOf(c)
	d.Force = d.Force || o.force
	d.Uses(a...)
	for _, f := range append(o.named(c.Name(), nil, nil), extra...) {
		if err := d.Free(f); err != nil {
			return err
		}
	}
	for flag, dir := range map[string]string{"csv": o.csv, "figures": o.figures} {
		if info, err := os.Stat(dir); dir != "" && err == nil && !info.IsDir() {
			return usageError{fmt.Errorf("--%s %s: a file of this name is there; name a folder", flag, dir)}
		}
	}
	return nil
}

// named are the outputs that have a file of their own.
func (o *outputs) named(command string, result any, d *report.Document) []files.Output {
	var out []files.Output
	if o.html != "" {
		write := o.page
		if write == nil {
			write = func(w io.Writer) error { return d.HTML(w) }
		}
		out = append(out, files.Output{Name: o.html, Kind: files.Page(command), Write: write})
	}
	if o.json != "" {
		out = append(
			out,
			files.Output{
				Name:  o.json,
				Kind:  files.Result(command),
				Write: func(w io.Writer) error { return report.JSON(w, result) },
			},
		)
	}
	return out
}

// emit writes what was asked for: files first, so that nothing is lost where the text is not read to its end, then
// text.
func (o *outputs) emit(c *cobra.Command, result any, d *report.Document, extra ...files.Output) error {
	all := append(o.named(c.Name(), result, d), extra...)
	said := make([]string, len(all))
	for i, f := range all {
		said[i] = fmt.Sprintf("%s written to %s", f.Kind.Name, f.Name)
		if f.Name == "-" {
			said[i], o.quiet = "", true
		}
	}
	if o.csv != "" {
		if err := os.MkdirAll(o.csv, 0o777); err != nil {
			return err
		}
		tables, err := csvFiles(o.csv, d.Tables())
		if err != nil {
			return err
		}
		all = append(all, tables...)
		said = append(said, fmt.Sprintf("%d tables written to %s", len(tables), o.csv))
	}
	if o.figures != "" {
		if err := os.MkdirAll(o.figures, 0o777); err != nil {
			return err
		}
		figures := figureFiles(o.figures, d)
		all = append(all, figures...)
		said = append(said, fmt.Sprintf("%d figures written to %s", len(figures), o.figures))
	}
	if err := deskOf(c).Put(all...); err != nil {
		return err
	}
	if !o.quiet {
		if err := d.Text(c.OutOrStdout()); err != nil {
			return err
		}
	}
	for _, s := range said {
		if s != "" {
			fmt.Fprintln(c.ErrOrStderr(), s)
		}
	}
	return nil
}

// csvFiles are the tables as files of a folder; a table that is there is known by its columns.
func csvFiles(dir string, tables []report.Table) ([]files.Output, error) {
	var out []files.Output
	for _, t := range tables {
		var b bytes.Buffer
		if err := report.CSV(&b, t); err != nil {
			return nil, err
		}
		first, _, _ := strings.Cut(b.String(), "\n")
		out = append(
			out,
			files.Output{
				Name:  filepath.Join(dir, t.ID+".csv"),
				Kind:  files.Table(first),
				Write: func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err },
			},
		)
	}
	return out, nil
}

// figureFiles are the charts as files of a folder.
func figureFiles(dir string, d *report.Document) []files.Output {
	var out []files.Output
	for _, f := range d.Figures() {
		out = append(out, files.Output{Name: filepath.Join(dir, f.Name), Kind: files.Figure(f.Format), Write: f.Write})
	}
	return out
}

// overrides are the flags that change a case on the command line. Each goes through package vary, as gains and
// calibration do.
type overrides struct {
	block, flow, print float64
	set                []string // key=value
}

func (o *overrides) flags(fs *pflag.FlagSet) {
	numberFlag(
		fs,
		&o.block,
		"block",
		0,
		unit.Bound{Lo: 50, Hi: 500, Unit: "degC"},
		"block temperature in %s instead of the case's",
	)
	numberFlag(
		fs,
		&o.flow,
		"flow",
		0,
		unit.Bound{Lo: 0.01, Hi: 1000, Unit: "mm3/s"},
		"wanted flow in %s instead of the case's",
	)
	numberFlag(fs, &o.print, "print-speed", 0, unit.Bound{Lo: 0.1, Hi: 5000, Unit: "mm/s"},
		"wanted print speed in %s: the wanted flow is layer height x line width x speed")
	fs.StringArrayVar(
		&o.set,
		"set",
		nil,
		"`key=value` for this run, a key of the case file and a number in its unit, such as hot_end.heated_share=0.6; "+
			"can be given several times",
	)
}

// load reads a case, or the built-in one, with the overrides laid over it.
func load(c *cobra.Command, a []string, o *overrides) (*casefile.Case, error) {
	cs, err := readCase(c, a)
	if err != nil || o == nil {
		return cs, err
	}
	if o.block > 0 {
		if err := change(cs, "--block", string(vary.Block), o.block); err != nil {
			return nil, err
		}
	}
	if o.flow > 0 {
		if err := change(cs, "--flow", string(vary.Target), o.flow); err != nil {
			return nil, err
		}
	}
	for _, kv := range o.set {
		key, value, ok := strings.Cut(kv, "=")
		x, isNumber := unit.Number(strings.TrimSpace(value))
		if strings.TrimSpace(value) == "inf" {
			x, isNumber = math.Inf(1), true
		}
		if !ok || !isNumber {
			return nil, usageError{
				fmt.Errorf(
					"--set %q: a key of the case file, =, and a number in its unit are wanted, such as "+
						"hot_end.heated_share=0.6",
					kv,
				),
			}
		}
		if err := change(cs, "--set "+strings.TrimSpace(key), strings.TrimSpace(key), x); err != nil {
			return nil, err
		}
	}
	if o.print > 0 {
		if err := wantSpeed(cs, o.print*unit.MM, o.flow > 0); err != nil {
			return nil, err
		}
	}
	if cs.Block <= cs.Filament.Inlet {
		return nil, usageError{
			fmt.Errorf(
				"the block at %.4g degC must be warmer than the filament at %.4g degC",
				unit.Celsius(cs.Block),
				unit.Celsius(cs.Filament.Inlet),
			),
		}
	}
	if cs.Target > cs.Limits.MaxFlow {
		return nil, usageError{
			fmt.Errorf(
				"the wanted flow of %.4g mm3/s: the case searches up to limits.max_flow_mm3_s = %.4g",
				cs.Target/unit.MM3,
				cs.Limits.MaxFlow/unit.MM3,
			),
		}
	}
	if ps, ok := cs.Validate().(strict.Problems); ok {
		return nil, usageError{fmt.Errorf("what was changed on the command line does not make a case: %w", ps)}
	}
	return cs, nil
}

// wantSpeed sets the wanted flow to what a print speed (m/s) needs.
func wantSpeed(cs *casefile.Case, speed float64, flow bool) error {
	l, _, ok := cs.PrintLine()
	switch {
	case flow:
		return usageError{errors.New("--print-speed and --flow both say the wanted flow: give one of them")}
	case !ok:
		return usageError{errors.New("--print-speed: the nozzle has no round bore to take layer and line from: give " +
			"target.layer_height_mm and target.line_width_mm in the case")}
	}
	return change(cs, "--print-speed", string(vary.Target), l.Flow(speed)/unit.MM3)
}

// change sets one quantity of a case, by its key of the case file or its name in package vary, to a number in the unit
// of the case file, and marks the input.
func change(cs *casefile.Case, what, name string, x float64) error {
	var keys []string
	for _, q := range vary.Table(&cs.Setup) {
		key, ok := cs.FileKey(q.Key)
		if !ok {
			continue
		}
		keys = append(keys, key)
		if name != key && name != string(q.ID) {
			continue
		}
		if err := q.Set(&cs.Setup, q.SI(x)); err != nil {
			return usageError{fmt.Errorf("%s %g: allowed are %s", what, x, q.Allowed())}
		}
		override(cs, key, vary.Number(x))
		return nil
	}
	msg := fmt.Sprintf("%s: there is no such key to change; there are %s", what, strings.Join(keys, ", "))
	if n := strict.Nearest(name, keys); n != "" {
		msg += fmt.Sprintf("; did you mean %q?", n)
	}
	return usageError{errors.New(msg)}
}

// override marks an input as changed on the command line.
func override(c *casefile.Case, key, value string) {
	for i := range c.Inputs {
		if c.Inputs[i].Key == key {
			c.Inputs[i].Value = value + " (command line)"
			return
		}
	}
	c.Inputs = append(c.Inputs, casefile.Input{Key: key, Value: value + " (command line)"})
}

func readCase(c *cobra.Command, a []string) (*casefile.Case, error) {
	if len(a) == 0 {
		return casefile.Invented(), nil
	}
	b, err := readText(c, a[0])
	if err != nil {
		return nil, err
	}
	cs, ps := casefile.Parse(shownName(a[0]), b)
	if err := ps.Err(); err != nil {
		return nil, err
	}
	for _, r := range cs.Refs {
		deskOf(c).Uses(r.File)
	}
	for _, in := range cs.Inputs {
		if in.Key == "filament.material_file" { // read by the case itself
			deskOf(c).Uses(in.Value, filepath.Join(filepath.Dir(a[0]), in.Value))
		}
	}
	return cs, nil
}

// shownName is a file as messages and results name it.
func shownName(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}

// readText reads the text of a case file.
func readText(c *cobra.Command, name string) ([]byte, error) {
	b, err := deskOf(c).Read(name, strict.MaxText)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, usageError{
			fmt.Errorf("there is no case file %s; `meltload starter %s` writes a commented one", name, name),
		}
	}
	return b, err
}

// caseText is a case file to be written. Users work on case files, so that one that is there is only replaced by force.
func caseText(name string, text []byte) files.Output {
	return files.Output{
		Name:  name,
		Kind:  files.Kind{Name: "case file"},
		Write: func(w io.Writer) error { _, err := w.Write(text); return err },
	}
}

func newAssess() *cobra.Command {
	var out outputs
	var over overrides
	var opt study.AssessOptions
	var smp sampling
	var spread bool
	var journal string
	var live liveReport
	c := &cobra.Command{
		Use:     "assess [case.toml]...",
		GroupID: "answer",
		Short:   "Find the highest usable flow of a case, and what limits it",
		Long: `Assess lays the predicted push force over what the feeder can hold and finds the highest
usable flow, the limit that sets it, the next limit, the best block temperature, what one
change at a time would gain, and the temperature to set at each flow. It samples what is not
known and says how wide the answer is, and which unknown matters most: quickly by 256 samples,
with --spread by as many as the case says. The lumped solver gives no range.

Without a case file the built-in invented case runs. The verdict comes first; warnings
say where a number leaves what its sources support.

Several case files, or a folder of them, give one table with a row for each: usable flow, likely
range, limit, load. --journal keeps each row as it is done: the same command goes on from there
after it was stopped, and cases that changed are done anew.`,
		Example: `  # the built-in case, with a report
  meltload assess --report report.html

  # a report that answers while the case is changed, in one file and without a network
  meltload assess my-bench.toml --live --report live.html

  # how sure is it? by as many samples as the case says
  meltload assess my-bench.toml --spread

  # your own case at another temperature, for a wanted flow, result as JSON
  meltload assess my-bench.toml --block 230 --flow 14 --json result.json

  # a folder of cases: one table, stopped and taken up again without loss
  meltload assess cases/ --journal done.jsonl --csv tables`,
		Args: args(cobra.ArbitraryArgs),
		RunE: func(c *cobra.Command, a []string) error {
			if err := out.free(c, a); err != nil {
				return err
			}
			opt.Samples, opt.Seed, opt.Progress = smp.samples, smp.seed, progress(c.ErrOrStderr(), "sampling")
			if spread && smp.samples == 0 {
				opt.Samples = -1
			}
			if len(a) > 1 || len(a) == 1 && isFolder(a[0]) {
				if live.on {
					return usageError{errors.New("--live is for one case")}
				}
				return assessMany(c, a, &out, &manyCases{over: &over, opt: opt, journal: journal})
			}
			if journal != "" {
				return usageError{errors.New("--journal is for several cases: name more files, or a folder")}
			}
			cs, err := load(c, a, &over)
			if err == nil {
				err = live.prepare(c, cs, &out, opt.Solver)
			}
			if err != nil {
				return err
			}
			r, err := study.Assess(c.Context(), &cs.Setup, opt)
			if err != nil {
				return err
			}
			stamp(&r.Header, c, a, cs)
			out.page = live.page(r)
			if err := out.emit(c, r, report.Assess(r)); err != nil {
				return err
			}
			if r.Verdict.Target != nil && !r.Good {
				return errNotHeld
			}
			return nil
		},
	}
	over.flags(c.Flags())
	choiceFlag(c.Flags(), &opt.Solver, "solver", "marching", study.Solvers,
		"`name` of the solver: marching (resolved) or lumped (quick estimate)")
	c.Flags().BoolVar(&spread, "spread", false, "sample what is not known as often as the case says (spread.samples), "+
		"not just 256 times")
	smp.flags(c.Flags(), 0)
	c.Flags().StringVar(&journal, "journal", "", "of several cases: `file` that keeps what is done, a line for each")
	numberFlag(c.Flags(), &opt.HoldForce, "hold-force", 0, unit.Bound{Lo: 1, Hi: 2000, Unit: "N"},
		"push in %s that the temperature-for-flow line holds; default: what the feeder holds over the safety factor")
	out.flags(c.Flags())
	c.Flags().BoolVar(&live.on, "live", false, "put the what-if page and the solver into the report: it answers in a "+
		"browser, without a network")
	c.RegisterFlagCompletionFunc("solver", cobra.FixedCompletions(study.Solvers, cobra.ShellCompDirectiveNoFileComp))
	return c
}

// stamp notes in a result what made it: the command as given, and the case file.
func stamp(h *study.Header, c *cobra.Command, a []string, cs *casefile.Case) {
	h.Command = commandLine(c, a)
	h.From(cs)
}

// commandLine is the command as given, for the reproduction block.
func commandLine(c *cobra.Command, a []string) []string {
	line := append([]string{}, "meltload")
	line = append(line, c.Name())
	line = append(line, a...)
	c.Flags().Visit(func(f *pflag.Flag) {
		if f.Name != "report" && f.Name != "json" && f.Name != "csv" && f.Name != "figures" && f.Name != "quiet" &&
			f.Name != "force" && f.Name != "live" {
			switch v, ok := f.Value.(pflag.SliceValue); {
			case ok: // given several times
				for _, x := range v.GetSlice() {
					line = append(line, "--"+f.Name, x)
				}
			case f.Value.Type() == "bool":
				line = append(line, "--"+f.Name+strings.TrimSuffix("="+f.Value.String(), "=true"))
			default:
				line = append(line, "--"+f.Name, f.Value.String())
			}
		}
	})
	return line
}

// lookAgain are the remarks on a case that may be owed to a slip: check tells them. The others say what was assumed,
// and come with every result.
var lookAgain = []string{"flat-step", "sudden-widening", "motor-overdriven"}

// checkFile checks a case, or a file that holds only a feeder or only a hot end.
func checkFile(c *cobra.Command, name string) error {
	text, err := readText(c, name)
	if err != nil {
		return err
	}
	name = shownName(name)
	p, err := casefile.ParsePart(name, text)
	if err == nil && p.HasFeeder() && !p.HasHotEnd() {
		_, _, err = p.Feeder(nil)
		return err
	}
	if err == nil && !p.HasFeeder() {
		return nil
	}
	cs, ps := casefile.Parse(name, text)
	if cs != nil && len(ps) == 0 {
		for _, n := range cs.Notes {
			if slices.Contains(lookAgain, n.Code) {
				fmt.Fprintf(c.ErrOrStderr(), "%s: warning: %s\n", name, n.Message)
			}
		}
	}
	missing := 0
	for _, x := range ps {
		if x.Seen == "nothing" && (x.Field == "feeder" || x.Field == "hot_end") {
			missing++
		}
	}
	if part, ok := err.(strict.Problems); ok && missing == 1 {
		return part // what a whole case would need besides is not asked for
	}
	return ps.Err()
}

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:     "check case.toml...",
		GroupID: "prepare",
		Short:   "Check case files; silent when all is well",
		Long: `Check reads case files as strictly as assess does and lists every error at once: file,
line, field, the value seen, what is allowed, and what to do. A file may also hold only [feeder] or only
[hot_end], as a case names it with feeder_file or hot_end_file. It computes nothing and prints
nothing when all is well. A path or a motor current that may be a slip is a warning; the exit code stays 0.`,
		Example: "  meltload check my-bench.toml",
		Args:    args(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			var all strict.Problems
			for _, name := range a {
				if err := checkFile(c, name); err != nil {
					ps, ok := err.(strict.Problems)
					if !ok {
						return err
					}
					all = append(all, ps...)
				}
			}
			return all.Err()
		},
	}
}

func newStarter() *cobra.Command {
	var force, asked bool
	c := &cobra.Command{
		Use:     "starter file.toml",
		GroupID: "prepare",
		Short:   "Write a commented case file to start from, or one from questions in plain words",
		Long: `Starter writes the built-in invented case, with a comment on every key, as a file to change into your
own. With --ask it asks a dozen questions in plain words instead and writes the case from your answers;
what you do not know is assumed, marked so in the file, and given a spread.

An existing file is left alone unless --force is given; - writes to standard output.`,
		Example: `  meltload starter my-bench.toml

  # be asked
  meltload starter --ask my-bench.toml`,
		Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			d := deskOf(c)
			d.Force = force
			if err := d.Free(caseText(a[0], nil)); err != nil {
				return err
			}
			text := casefile.BuiltIn
			if asked {
				var err error
				if text, err = askCase(a[0], c.InOrStdin(), c.ErrOrStderr()); err != nil {
					return err
				}
			}
			if err := d.Put(caseText(a[0], text)); err != nil || a[0] == "-" {
				return err
			}
			fmt.Fprintf(
				c.ErrOrStderr(),
				"case file written to %s; next: meltload assess %s --report report.html\n",
				a[0],
				a[0],
			)
			return nil
		},
	}
	c.Flags().BoolVar(&force, "force", false, "replace an existing file")
	c.Flags().BoolVar(&asked, "ask", false, "ask for what is needed, in plain words")
	return c
}
