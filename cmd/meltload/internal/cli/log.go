package cli

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/cmd/meltload/internal/files"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/study"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// logFormat are the flags that say how a log is written.
type logFormat struct {
	f         loadcell.Format
	separator string
	comma     bool
	cell      string
	diameter  float64
}

func (l *logFormat) flags(fs *pflag.FlagSet) {
	choiceFlag(fs, &l.separator, "separator", "", []string{"comma", "semicolon", "tab", "space", "bar"},
		"`name`: comma, semicolon, tab, space or bar; default: found out")
	fs.BoolVar(&l.comma, "decimal-comma", false, "numbers are written 1,5")
	fs.StringVar(&l.f.TimeColumn, "time-column", "", "`name` or number of the time column")
	fs.StringVar(&l.f.ForceColumn, "force-column", "", "`name` or number of the force column")
	fs.StringVar(&l.f.BlockColumn, "block-column", "", "`name` or number of the block temperature column")
	fs.StringVar(&l.f.FlowColumn, "flow-column", "",
		"`name` or number of the column of flow, speed of filament, or a switch")
	unitFlag(fs, &l.f.TimeUnit, "time-unit", loadcell.TimeUnits, "`unit` of time: "+
		strings.Join(loadcell.TimeUnits, ", "))
	unitFlag(fs, &l.f.ForceUnit, "force-unit", loadcell.ForceUnits, "`unit` of force: "+
		strings.Join(loadcell.ForceUnits, ", "))
	unitFlag(fs, &l.f.FlowUnit, "flow-unit", loadcell.FlowUnits, "`unit` of flow: "+
		strings.Join(loadcell.FlowUnits, ", "))
	numberFlag(fs, &l.f.Rate, "sample-rate", 0, unit.Bound{Lo: 0.001, Hi: 1e6, Unit: "Hz"},
		"sampling rate in %s; makes the time, whatever a time column says")
	numberFlag(fs, &l.f.PerCount, "newton-per-count", 0, unit.Bound{Lo: 1e-9, Hi: 1000, Unit: "N", Either: true},
		"calibration of raw counts, %s per count; less than 0 for a cell that counts down")
	numberFlag(fs, &l.f.CountZero, "zero-count", 0, unit.Bound{Hi: 1e10, Either: true}, "counts at no load %s")
	fs.StringVar(&l.cell, "cell", "", "`file` of the cell, as written by meltload cell --write: N per count and zero")
	numberFlag(fs, &l.diameter, "diameter", 1.75, unit.Bound{Lo: 1, Hi: 5, Unit: "mm"}, "filament diameter, %s")
}

// unitFlag makes a flag of a unit. Another name of a unit leads to the one that is allowed, never the nearest in
// letters: kg is near to kN in letters alone.
func unitFlag(fs *pflag.FlagSet, p *string, name string, allowed []string, text string) {
	fs.Var(&choice{p: p, allowed: allowed, meant: func(s string) string { return loadcell.UnitMeant(s, allowed) }},
		name, text)
}

// inputs are the files that the flags name.
func (l *logFormat) inputs() []string {
	if l.cell == "" {
		return nil
	}
	return []string{l.cell}
}

// settle reads the file of the cell, once, and returns the format.
func (l *logFormat) settle(c *cobra.Command) (loadcell.Format, error) {
	seps := map[string]byte{"": 0, "comma": ',', "semicolon": ';', "tab": '\t', "space": ' ', "bar": '|'}
	f := l.f
	f.Separator = seps[l.separator]
	f.Diameter = l.diameter * unit.MM
	if l.comma {
		f.DecimalComma = 1
	}
	if l.cell == "" {
		return f, nil
	}
	if f.PerCount != 0 {
		return f, usageError{fmt.Errorf("--cell and --newton-per-count: give one of them")}
	}
	cell, _, err := readFile(c, l.cell, loadcell.ReadCell)
	if err != nil {
		return f, err
	}
	f.PerCount, f.CountZero = cell.PerCount, cell.Zero
	return f, nil
}

func (l *logFormat) read(c *cobra.Command, name string) (*loadcell.Log, study.File, error) {
	f, err := l.settle(c)
	if err != nil {
		return nil, study.File{}, err
	}
	return readLog(c, name, f)
}

func readLog(c *cobra.Command, name string, f loadcell.Format) (*loadcell.Log, study.File, error) {
	return readFile(c, name, func(name string, r io.Reader) (*loadcell.Log, error) { return loadcell.Read(name, r, f) })
}

// logEndings are the endings by which logs are found in a folder.
var logEndings = []string{".csv", ".txt", ".log", ".tsv", ".dat", ".json", ".jsonl", ".ndjson", ".xlsx", ".gz"}

// logNames lays folders open: every log in them and below, in order of name. Errors: a folder without any.
func logNames(args []string) ([]string, error) {
	none := "no logs in this folder (" + strings.Join(logEndings, ", ") + ")"
	return layOpen(args, none, func(path string) (bool, error) {
		return slices.Contains(logEndings, strings.ToLower(filepath.Ext(path))), nil
	})
}

// isFolder tells whether a name is that of a folder.
func isFolder(name string) bool {
	info, err := os.Stat(name)
	return name != "-" && err == nil && info.IsDir()
}

// layOpen lays folders open: every file in them and below that is wanted, in order of name; hidden ones are not. Other
// names stay as they are. Errors: those of wanted, and a folder without any, with what to say of it.
func layOpen(args []string, none string, wanted func(path string) (bool, error)) ([]string, error) {
	var out []string
	for _, a := range args {
		if !isFolder(a) {
			out = append(out, a)
			continue
		}
		n := len(out)
		err := filepath.WalkDir(a, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case strings.HasPrefix(d.Name(), ".") && path != a && d.IsDir():
				return filepath.SkipDir
			case d.IsDir() || strings.HasPrefix(d.Name(), "."):
				return nil
			}
			ok, err := wanted(path)
			if ok && err == nil {
				out = append(out, path)
			}
			return err
		})
		if err != nil {
			return nil, usageError{err}
		}
		if len(out) == n {
			return nil, usageError{fmt.Errorf("%s: %s", a, none)}
		}
	}
	return out, nil
}

// logReading are the flags that say how logs are read and analysed, of every command that takes several.
type logReading struct {
	logFormat
	flows, freqs, tare []float64
	zero               string
	negative           bool
	pool               string
	seen               string
}

func (l *logReading) flags(fs *pflag.FlagSet) {
	listFlag(fs, &l.flows, "flows", nil, unit.Bound{Lo: 0.01, Hi: 1000, Unit: "mm3/s"},
		"flows of the tests of each log in their order, %s, separated by commas; reused from the start for repeats")
	fs.StringVar(&l.zero, "zero", "", "reading of the log at rest, in `N`; default: found out")
	pairFlag(fs, &l.tare, "tare", unit.Bound{Hi: 1e6, Unit: "s"},
		"stretch without load, start and end in %s separated by a comma; default: found out")
	fs.BoolVar(&l.negative, "push-negative", false,
		"the force falls when it pushes; found out by itself where the log starts near zero")
	choiceFlag(fs, &l.pool, "pool", string(loadcell.ByName), loadcell.PoolWays,
		"which logs are repeats of one feeder: by `name` (without flow and count of repeats, such as run2), folder, "+
			"all or none")
	listFlag(fs, &l.freqs, "ripple-from", nil, unit.Bound{Lo: 0.01, Hi: 1e5, Unit: "Hz"},
		"frequencies the rig could make, %s: steps, gear mesh; aliases of them are named")
	choiceFlag(fs, &l.seen, "seen", "", []string{"grind", "skip", "buckle"},
		"`cause` that somebody saw when the feeder gave way: grind, skip or buckle; default: read from the force, "+
			"which cannot tell a filament that folds from one that is ground")
	l.logFormat.flags(fs)
}

// job prepares the reading of logs.
func (l *logReading) job(c *cobra.Command, names []string) (study.LogJob, error) {
	f, err := l.settle(c)
	if err != nil {
		return study.LogJob{}, err
	}
	job := study.LogJob{By: loadcell.PoolBy(l.pool), Cell: l.cell != "",
		Settings: loadcell.Settings{Flows: scaled(l.flows, unit.MM3), Frequencies: l.freqs,
			Seen: feeder.Cause(l.seen),
			Area: unit.Disc(l.diameter * unit.MM)}}
	if len(l.tare) == 2 {
		job.Settings.TareFrom, job.Settings.TareTo = l.tare[0], l.tare[1]
	}
	if l.negative {
		job.Settings.Negative = 1
	}
	if l.zero != "" {
		z, err := unit.Bound{Hi: 1e5, Unit: "N", Either: true}.Read(l.zero)
		if err != nil {
			return job, usageError{fmt.Errorf("--zero: %w", err)}
		}
		job.Settings.Zero = &z
	}
	for _, n := range names {
		job.Names = append(job.Names, shownName(n))
		job.Open = append(job.Open, func() (*loadcell.Log, study.File, error) { return readLog(c, n, f) })
	}
	return job, nil
}

// logMemory keeps the heap close to what a log holds: its columns are large and without pointers, so that collecting is
// cheap.
const logMemory = 10

// run reads the logs of pushes of a polymer, "" if it is not said.
func (l *logReading) run(c *cobra.Command, names []string, material string) (*study.LogResult, error) {
	job, err := l.job(c, names)
	if err != nil {
		return nil, err
	}
	was := debug.SetGCPercent(logMemory)
	defer func() {
		runtime.GC() // what the logs took is free before the heap may grow again
		debug.SetGCPercent(was)
	}()
	job.Material = material
	r, err := study.ReadLogs(job)
	if err != nil {
		if _, ok := err.(strict.Problems); ok {
			return nil, err
		}
		return nil, usageError{err}
	}
	return r, nil
}

// pointFlags say what points remember.
type pointFlags struct {
	file, material, kind string
	current              float64
}

func (p *pointFlags) flags(fs *pflag.FlagSet) {
	fs.StringVar(&p.file, "points", "",
		"put the repeats as capability points into a feeder's or case `file`, made if it is not there; old text is "+
			"kept in file.old. A folder takes a file for each series")
	fs.StringVar(&p.material, "material", "", "`name` of the polymer, remembered with the points")
	numberFlag(fs, &p.current, "current", 0, unit.Bound{Lo: 0.01, Hi: 20, Unit: "A"},
		"motor current per phase, %s, remembered with the points")
	choiceFlag(fs, &p.kind, "current-kind", "rms", []string{"rms", "peak"}, "`kind` of that current: rms or peak")
}

// folder tells whether points go to a folder, a file for each series.
func (p *pointFlags) folder() bool {
	info, err := os.Stat(p.file)
	return strings.HasSuffix(p.file, "/") || err == nil && info.IsDir()
}

// outputs makes the files of points and says what changes in each.
func (p *pointFlags) outputs(desk *files.Desk, r *study.LogResult, diameter float64) (
	out []files.Output, said []string, err error) {
	by := map[string][]casefile.NewPoint{}
	var order []string
	for _, g := range r.Points {
		if g.Flow == nil {
			continue
		}
		x := casefile.NewPoint{Flow: *g.Flow, Force: g.Force, Repeats: g.Repeats, Cause: feeder.Cause(g.Cause),
			Stock: p.material, Current: p.current, Kind: p.kind, From: g.Logs}
		if g.SD != nil {
			x.SD = *g.SD
		}
		if g.Block != nil {
			x.Block = *g.Block
		}
		if by[g.Series] == nil {
			order = append(order, g.Series)
		}
		by[g.Series] = append(by[g.Series], x)
	}
	if len(order) == 0 {
		return nil, nil,
			usageError{fmt.Errorf("--points: no failed test with a known flow: name the flows with --flows")}
	}
	if len(order) > 1 && !p.folder() {
		return nil, nil, usageError{fmt.Errorf("--points %s: the logs hold %d series (%s): name a folder, or pool "+
			"them with --pool all", p.file, len(order), strings.Join(order, ", "))}
	}
	for _, s := range order {
		name := p.file
		if p.folder() {
			if err := os.MkdirAll(p.file, 0o777); err != nil {
				return nil, nil, usageError{err}
			}
			name = filepath.Join(p.file, fileName(s)+".toml")
		}
		old, err := desk.Before(name, strict.MaxText)
		if err != nil {
			return nil, nil, err
		}
		text, changes, err := casefile.MergePoints(name, old, by[s], diameter)
		if err != nil {
			return nil, nil, err
		}
		if len(old) > 0 {
			kept := spareName(name + ".old")
			out = append(out, files.Output{Name: kept, Kind: files.Kind{Name: "text before"},
				Write: func(w io.Writer) error { _, err := w.Write(old); return err }})
		}
		// it was read and taken as a feeder's file
		out = append(out,
			files.Output{Name: name,
				Kind:  files.Kind{Name: "capability points", Same: func(io.Reader) bool { return true }},
				Write: func(w io.Writer) error { _, err := w.Write(text); return err }})
		for _, ch := range changes {
			said = append(said, fmt.Sprintf("%s: %s", name, ch))
		}
	}
	return out, said, nil
}

// fileName makes a name for a file of a series.
func fileName(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '/' || r == '\\' || r == ':' || r < ' ' {
			return '-'
		}
		return r
	}, s)
}

// spareName is the name, or the first with a number that is not taken.
func spareName(name string) string {
	for i := 1; ; i++ {
		n := name
		if i > 1 {
			n = fmt.Sprintf("%s%d", name, i)
		}
		if _, err := os.Lstat(n); err != nil {
			return n
		}
	}
}

func newLog() *cobra.Command {
	var out outputs
	var read logReading
	var points pointFlags
	c := &cobra.Command{
		Use:     "log file.csv...",
		GroupID: "bench",
		Short:   "Read load-cell logs: plateaus, peaks, cause of failure, repeats pooled",
		Long: `Log reads logs from any logger: tables with any separator, dumps of a serial monitor, lines of names
and values, lines of JSON, packed with gzip, spreadsheets (.xlsx), or standard input (-). Separator,
decimal sign, header, columns, time base and unit are found out, or stated with flags; the result
says which column was taken for what. Where nothing decides, the log is refused with the list. Rows
that are not data are counted and shown with their line, never dropped in silence.

It takes off the zero as it moves from rest to rest (a log that starts under load is asked for its
zero), finds each push, its first and last plateau, the force at which it first gives way, and how
it ended: grinding collapses and stays low, skipping is a saw-tooth that keeps pushing, a stopped
feed is no failure, and unclear is an answer.

Several files and folders are read in one call. Repeats in separate files are pooled by name
(--pool), and a flow in a name (feeder-b_5mm3s_2.csv) is used where no column tells it. --points
merges the points into a feeder's file and shows what changes there.`,
		Example: `  meltload log bench.csv --flows 5,20 --points feeder.toml

  # a folder of repeats, raw counts of a calibrated cell
  meltload log logs/ --cell cell.toml --points feeders/

  # a logger with decimal commas that writes grams by sample count
  meltload log old.txt --separator semicolon --decimal-comma --force-unit gf --sample-rate 80`,
		Args: args(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			names, err := logNames(a)
			if err != nil {
				return err
			}
			if err := out.free(c, append(slices.Clone(names), read.inputs()...)); err != nil {
				return err
			}
			r, err := read.run(c, names, points.material)
			if err != nil {
				return err
			}
			r.Command = commandLine(c, a)
			var more []files.Output
			var said []string
			if points.file != "" {
				if more, said, err = points.outputs(deskOf(c), r, read.diameter*unit.MM); err != nil {
					return err
				}
			}
			if err := out.emit(c, r, report.Log(r), more...); err != nil {
				return err
			}
			for _, s := range said {
				fmt.Fprintln(c.ErrOrStderr(), s)
			}
			return nil
		},
	}
	points.flags(c.Flags())
	read.flags(c.Flags())
	out.flags(c.Flags())
	return c
}

func newCompare() *cobra.Command {
	var out outputs
	var read logReading
	var confidence float64
	c := &cobra.Command{
		Use:     "compare first second",
		GroupID: "bench",
		Short:   "Compare what two feeders hold, from logs or files: better, worse, or no difference",
		Long: `Compare lays the points of two feeders over each other at the flows that both were measured at: the
difference with its interval, and a verdict. Each side is a log, a folder of logs, or the file of a
feeder or case with measured points. No difference means that these tests cannot tell one.`,
		Example: `  meltload compare feeder-a/ feeder-b/ --flows 5,20

  meltload compare before.toml after.toml`,
		Args: args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, a []string) error {
			if err := out.free(c, append(slices.Clone(a), read.inputs()...)); err != nil {
				return err
			}
			read.pool = string(loadcell.AllOne)
			var sides [2]study.Measured
			var used []study.File
			var header study.Header
			for i, name := range a {
				side, h, err := read.side(c, name)
				if err != nil {
					return err
				}
				sides[i] = side
				used = append(used, h.Files...)
				header.Warnings = append(header.Warnings, h.Warnings...)
			}
			r, err := study.Compare(sides[0], sides[1], confidence)
			if err != nil {
				return usageError{err}
			}
			r.Command, r.Files, r.Warnings = commandLine(c, a), used, header.Warnings
			return out.emit(c, r, report.Compare(r))
		},
	}
	numberFlag(c.Flags(), &confidence, "confidence", 0.95, unit.Bound{Lo: 0.5, Hi: 0.999},
		"confidence of the intervals, as a share %s")
	read.flags(c.Flags())
	out.flags(c.Flags())
	return c
}

// side reads one side of a comparison.
func (l *logReading) side(c *cobra.Command, name string) (study.Measured, study.Header, error) {
	if strings.EqualFold(filepath.Ext(name), ".toml") {
		p, err := casefile.ReadPart(name)
		if err != nil {
			return study.Measured{}, study.Header{}, err
		}
		f, notes, err := p.Feeder(nil)
		if err != nil {
			return study.Measured{}, study.Header{}, err
		}
		return study.MeasuredFeeder(shownName(name), f, unit.Disc(l.diameter*unit.MM)),
			study.Header{Files: []study.File{{Name: p.File, Hash: p.Hash}}, Warnings: notes}, nil
	}
	names, err := logNames([]string{name})
	if err != nil {
		return study.Measured{}, study.Header{}, err
	}
	r, err := l.run(c, names, "")
	if err != nil {
		return study.Measured{}, study.Header{}, err
	}
	return study.MeasuredOf(shownName(name), r), r.Header, nil
}

func newCell() *cobra.Command {
	var out outputs
	var gravity float64
	var write, before string
	c := &cobra.Command{
		Use:     "cell weights.csv",
		GroupID: "bench",
		Short:   "Calibrate a load cell from dead weights: N per count, zero, straightness, hysteresis",
		Long: `Cell fits a straight line to the readings of a load cell under dead weights and says how well a force
is known: uncertainty of line and reading, departure from straight, and hysteresis if the weights were
also read on the way down. The file is CSV with the columns mass_kg, up and, if wanted, down.

--write keeps the line in a file that log takes with --cell; --before compares with such a file of
an earlier calibration and says whether the cell has moved.`,
		Example: `  meltload cell weights.csv --gravity 9.81 --write cell.toml --report cell.html
  meltload log raw.csv --cell cell.toml

  # a month later
  meltload cell weights-june.csv --before cell.toml --write cell-june.toml`,
		Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			var more []files.Output
			var text []byte
			inputs := slices.Clone(a)
			if before != "" {
				inputs = append(inputs, before)
			}
			if write != "" {
				more = append(more, files.Output{Name: write, Kind: files.Marked("file of the cell", loadcell.CellMark),
					Write: func(w io.Writer) error { _, err := w.Write(text); return err }})
			}
			if err := out.free(c, inputs, more...); err != nil {
				return err
			}
			w, file, err := readFile(c, a[0], loadcell.ReadWeights)
			if err != nil {
				return err
			}
			used := []study.File{file}
			var was *loadcell.CellLine
			if before != "" {
				var f study.File
				if was, f, err = readFile(c, before, loadcell.ReadCell); err != nil {
					return err
				}
				used = append(used, f)
			}
			r, err := study.CheckCell(a[0], w, gravity, was)
			if err != nil {
				return usageError{err}
			}
			text = []byte(r.Line)
			r.Command, r.Files = commandLine(c, a), used
			return out.emit(c, r, report.LoadCell(r), more...)
		},
	}
	fs := c.Flags()
	numberFlag(fs, &gravity, "gravity", loadcell.Gravity, unit.Bound{Lo: 9.7, Hi: 9.9, Unit: "m/s2"},
		"local acceleration of free fall, %s")
	fs.StringVar(&write, "write", "", "keep the line of the cell in a `file` for log --cell")
	fs.StringVar(&before, "before", "", "`file` of the same cell from an earlier calibration, to compare with")
	out.flags(fs)
	return c
}
