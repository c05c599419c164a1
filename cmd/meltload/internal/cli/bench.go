package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/loadcell"
	"meltload/flow/study"
	"meltload/flow/transient"
	"meltload/materials/unit"
	"meltload/report"
)

// list reads comma-separated numbers of a flag.
func list(name, text string, lo, hi float64, what string) ([]float64, error) {
	if text == "" {
		return nil, nil
	}
	var out []float64
	for _, s := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil || !(x >= lo && x <= hi) {
			return nil, usageError{fmt.Errorf("--%s: found %q; allowed are numbers from %g to %g %s, separated by commas", name, s, lo, hi, what)}
		}
		out = append(out, x)
	}
	return out, nil
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * by
	}
	return out
}

func newPlan() *cobra.Command {
	var out outputs
	var over overrides
	var low, high, cell, step, rate, scatter, half, confidence float64
	var levels, teeth int
	var flows, blocks string
	c := &cobra.Command{
		Use:     "plan [case.toml]",
		GroupID: "bench",
		Short:   "Plan a bench test: temperatures, order, soaks, repeats, and whether the rig suffices",
		Long: `Plan finds the block temperatures at which the load of a case steps evenly through the wanted
range of force at each test flow, puts the runs in order, says how long to soak, purge and hold
(from the predicted trace), how many repeats the wanted confidence needs, and checks load cell,
logger and ripple. Where temperature cannot span the range it says which bore could.

The report prints as a page to take to the bench; --csv writes the run sheet.`,
		Example: `  meltload plan --force-low 15 --force-high 60 --cell 20 --rate 80 --report plan.html

  # two flows, more levels, own case
  meltload plan my-bench.toml --force-low 10 --force-high 50 --flows 5,20 --levels 6`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			fs := c.Flags()
			for _, b := range []struct {
				name   string
				v      float64
				lo, hi float64
				unit   string
			}{{"force-low", low, 0.1, 2000, "N"}, {"force-high", high, 0.1, 2000, "N"}, {"cell", cell, 0.1, 500, "kgf"}, {"cell-step", step, 1e-6, 50, "N"},
				{"rate", rate, 0.1, 1e5, "Hz"}, {"scatter", scatter, 0.001, 1, "as a share"}, {"half-width", half, 0.005, 1, "as a share"}, {"confidence", confidence, 0.5, 0.999, "as a share"}, {"levels", float64(levels), 2, 50, "levels"}} {
				if err := bounded(fs, b.name, b.v, b.lo, b.hi, b.unit); err != nil {
					return err
				}
			}
			if high <= low {
				return usageError{fmt.Errorf("--force-high %g: it must lie above --force-low %g", high, low)}
			}
			q, err := list("flows", flows, 0.01, 1000, "mm3/s")
			if err != nil {
				return err
			}
			t, err := list("blocks", blocks, 50, 500, "degC")
			if err != nil {
				return err
			}
			if len(t) != 0 && (len(t) != 2 || t[1] <= t[0]) {
				return usageError{fmt.Errorf("--blocks %q: two temperatures are needed, low end first", blocks)}
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			w := benchplan.Wish{Low: low, High: high, Levels: levels, Flows: scaled(q, unit.MM3), Confidence: confidence, Scatter: scatter, HalfWidth: half, CellMax: cell * unit.KGF, CellStep: step, Rate: rate, GearTeeth: teeth}
			if len(t) == 2 {
				w.Blocks = [2]float64{unit.Kelvin(t[0]), unit.Kelvin(t[1])}
			}
			r, err := study.MakePlan(c.Context(), cs, w)
			if err != nil {
				return err
			}
			r.Command = commandLine(c, a)
			return out.emit(c, r, report.Plan(r))
		},
	}
	fs := c.Flags()
	fs.Float64Var(&low, "force-low", 15, "low end of the wanted push force, `N`")
	fs.Float64Var(&high, "force-high", 60, "high end of the wanted push force, `N`")
	fs.IntVar(&levels, "levels", 5, "`number` of force levels (2 to 50)")
	fs.StringVar(&flows, "flows", "5,20", "test flows in `mm3/s`, separated by commas")
	fs.StringVar(&blocks, "blocks", "", "lowest and highest block temperature in `degC`, separated by a comma; default: the material's window")
	fs.Float64Var(&cell, "cell", 0, "full scale of the load cell in `kgf` (a 5 kg cell is 5)")
	fs.Float64Var(&step, "cell-step", 0, "smallest step the logger shows, `N`")
	fs.Float64Var(&rate, "rate", 10, "sampling rate of the logger, `Hz`")
	fs.IntVar(&teeth, "gear-teeth", 0, "`number` of teeth of the drive wheel, for the ripple check")
	fs.Float64Var(&scatter, "scatter", 0.05, "expected standard deviation of single tests, as a `share` of the force (assumed)")
	fs.Float64Var(&half, "half-width", 0.10, "wanted half-width of the confidence interval, as a `share` of the force")
	fs.Float64Var(&confidence, "confidence", 0.95, "wanted confidence, as a `share`")
	over.flags(fs)
	out.flags(fs)
	return c
}

func newTrace() *cobra.Command {
	var out outputs
	var over overrides
	var feed, then, ramp, column float64
	var off bool
	c := &cobra.Command{
		Use:     "trace [case.toml]",
		GroupID: "bench",
		Short:   "Play a bench run in time: soaked start, feed, and cooling until the feeder gives way",
		Long: `Trace plays a run: the melt zone soaked at the block temperature, feeding at the wanted flow, the
plateau on molten stock, the rise as cold stock arrives, and then, if asked, the heater off or the
set temperature ramped down until the load meets what the feeder holds.`,
		Example: `  # 60 s of feed, then heater off until the feeder gives way
  meltload trace --flow 5 --feed 60 --heater-off --report trace.html

  # ramp the set temperature down by 20 K a minute
  meltload trace my-bench.toml --flow 5 --feed 60 --ramp -20`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			fs := c.Flags()
			if err := bounded(fs, "feed", feed, 0.1, 36000, "s"); err != nil {
				return err
			}
			if err := bounded(fs, "then", then, 0.1, 36000, "s"); err != nil {
				return err
			}
			if err := bounded(fs, "ramp", ramp, -600, 600, "K/min"); err != nil {
				return err
			}
			if err := bounded(fs, "column", column, 0, 5000, "mm"); err != nil {
				return err
			}
			if off && ramp != 0 {
				return usageError{fmt.Errorf("--heater-off and --ramp: give one of them")}
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			q := cs.Target
			if q == 0 {
				return usageError{fmt.Errorf("the case names no wanted flow; give --flow")}
			}
			phases := []transient.Phase{{Name: "feed", Duration: feed, Flow: q}}
			if off {
				phases = append(phases, transient.Phase{Name: "heater off", Duration: then, Flow: q, Heating: transient.Off})
			} else if ramp != 0 {
				phases = append(phases, transient.Phase{Name: "ramp", Duration: then, Flow: q, Heating: transient.Ramp, Rate: ramp / 60})
			}
			r, err := study.Play(c.Context(), cs, phases, column*unit.MM)
			if err != nil {
				return err
			}
			r.Command = commandLine(c, a)
			return out.emit(c, r, report.Trace(r))
		},
	}
	fs := c.Flags()
	fs.Float64Var(&feed, "feed", 60, "feeding at constant block temperature, `s`")
	fs.BoolVar(&off, "heater-off", false, "then switch the heater off and go on feeding")
	fs.Float64Var(&ramp, "ramp", 0, "or then move the set temperature, `K/min`")
	fs.Float64Var(&then, "then", 300, "longest time of that, `s`; it ends when the feeder gives way")
	fs.Float64Var(&column, "column", 50, "length of loaded filament between gear and melt, `mm`, for the elastic lag")
	over.flags(fs)
	out.flags(fs)
	return c
}

// logFormat are the flags that say how a log is written.
type logFormat struct {
	f         loadcell.Format
	separator string
	comma     bool
}

func (l *logFormat) flags(fs *pflag.FlagSet) {
	fs.StringVar(&l.separator, "separator", "", "`name`: comma, semicolon, tab, space or bar; default: found out")
	fs.BoolVar(&l.comma, "decimal-comma", false, "numbers are written 1,5")
	fs.StringVar(&l.f.TimeColumn, "time-column", "", "`name` or number of the time column")
	fs.StringVar(&l.f.ForceColumn, "force-column", "", "`name` or number of the force column")
	fs.StringVar(&l.f.BlockColumn, "block-column", "", "`name` or number of the block temperature column, degC")
	fs.StringVar(&l.f.FlowColumn, "flow-column", "", "`name` or number of the flow column, mm3/s")
	fs.StringVar(&l.f.TimeUnit, "time-unit", "", "`unit` of time: s, ms, us, min, clock or sample")
	fs.StringVar(&l.f.ForceUnit, "force-unit", "", "`unit` of force: N, kgf, gf or counts")
	fs.Float64Var(&l.f.Rate, "sample-rate", 0, "sampling rate in `Hz`, for logs by sample count")
	fs.Float64Var(&l.f.PerCount, "newton-per-count", 0, "calibration of raw counts, `N` per count")
	fs.Float64Var(&l.f.CountZero, "zero-count", 0, "`counts` at no load")
}

func (l *logFormat) read(name string) (*loadcell.Log, study.File, error) {
	seps := map[string]byte{"": 0, "comma": ',', "semicolon": ';', "tab": '\t', "space": ' ', "bar": '|'}
	s, ok := seps[l.separator]
	if !ok {
		return nil, study.File{}, oneOf("separator", l.separator, []string{"comma", "semicolon", "tab", "space", "bar"})
	}
	f := l.f
	f.Separator = s
	if l.comma {
		f.DecimalComma = 1
	}
	if f.ForceUnit != "" {
		if err := oneOf("force-unit", f.ForceUnit, loadcell.ForceUnits); err != nil {
			return nil, study.File{}, err
		}
	}
	if f.TimeUnit != "" {
		if err := oneOf("time-unit", f.TimeUnit, loadcell.TimeUnits); err != nil {
			return nil, study.File{}, err
		}
	}
	return readFile(name, func(name string, r io.Reader) (*loadcell.Log, error) { return loadcell.Read(name, r, f) })
}

// readFile reads a file with a reader and stamps it; one that cannot be opened is an error of the command line.
func readFile[T any](name string, read func(name string, r io.Reader) (T, error)) (out T, file study.File, err error) {
	b, err := os.ReadFile(name)
	if err != nil {
		return out, file, usageError{err}
	}
	out, err = read(name, bytes.NewReader(b))
	return out, study.File{Name: name, Hash: casefile.Hash(b)}, err
}

func newLog() *cobra.Command {
	var out outputs
	var format logFormat
	var flows, freqs, tare, points string
	var diameter float64
	c := &cobra.Command{
		Use:     "log file.csv",
		GroupID: "bench",
		Short:   "Read a load-cell log: plateaus, peaks, cause of failure, repeats",
		Long: `Log reads a log from any logger. Separator, decimal sign, header, columns, time base and unit are found
out, or stated with flags where they cannot be. Rows that are not data are counted and shown with
their line, never dropped in silence.

It takes off the tare and its drift, finds each push, its plateau, the force at which it first gives
way, and the cause: grinding collapses and stays low, skipping is a saw-tooth that keeps pushing,
and unclear is an answer. Repeats are gathered with their confidence interval; --points writes
them as capability points for a case file.`,
		Example: `  meltload log bench.csv --flows 5,20 --points points.toml

  # a logger with decimal commas that writes grams by sample count
  meltload log old.txt --separator semicolon --decimal-comma --force-unit gf --sample-rate 80`,
		Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			q, err := list("flows", flows, 0.01, 1000, "mm3/s")
			if err != nil {
				return err
			}
			hz, err := list("ripple-from", freqs, 0.01, 1e5, "Hz")
			if err != nil {
				return err
			}
			tr, err := list("tare", tare, 0, 1e6, "s")
			if err != nil {
				return err
			}
			if len(tr) != 0 && (len(tr) != 2 || tr[1] <= tr[0]) {
				return usageError{fmt.Errorf("--tare %q: start and end in seconds are needed", tare)}
			}
			l, file, err := format.read(a[0])
			if err != nil {
				return err
			}
			set := loadcell.Settings{Flows: scaled(q, unit.MM3), Frequencies: hz, Area: unit.Disc(diameter * unit.MM)}
			if len(tr) == 2 {
				set.TareFrom, set.TareTo = tr[0], tr[1]
			}
			r, err := study.ReadLog(l, set)
			if err != nil {
				return usageError{err}
			}
			r.Command, r.Files = commandLine(c, a), []study.File{file}
			if err := out.emit(c, r, report.Log(r)); err != nil {
				return err
			}
			if points != "" {
				if err := report.WriteFile(points, func(w io.Writer) error { return report.PointsTOML(w, r) }); err != nil {
					return usageError{err}
				}
				fmt.Fprintf(c.ErrOrStderr(), "capability points written to %s\n", points)
			}
			return nil
		},
	}
	fs := c.Flags()
	fs.StringVar(&flows, "flows", "", "flows of the tests in their order, `mm3/s`, separated by commas; reused from the start for repeats")
	fs.StringVar(&points, "points", "", "write the repeats as capability points to a `file`")
	fs.Float64Var(&diameter, "diameter", 1.75, "filament diameter, `mm`")
	fs.StringVar(&tare, "tare", "", "stretch without load, start and end in `s` separated by a comma; default: found near the start")
	fs.StringVar(&freqs, "ripple-from", "", "frequencies the rig could make, `Hz`: steps, gear mesh; aliases of them are named")
	format.flags(fs)
	out.flags(fs)
	return c
}

// factorNames are the short names of the factors on the command line.
var factorNames = map[string]calibrate.Factor{"level": calibrate.Level, "conductance": calibrate.Conductance, "trouton": calibrate.Trouton, "offset": calibrate.Offset, "drag": calibrate.Drag}

// factorKeys are the case-file keys that take a fitted factor.
var factorKeys = map[calibrate.Factor]string{calibrate.Level: "material.viscosity_factor", calibrate.Conductance: "hot_end.contact_W_m2K", calibrate.Drag: "path.drag_N"}

func newCalibrate() *cobra.Command {
	var out outputs
	var format logFormat
	var fit, write string
	var logs []string
	var tare, u float64
	var force bool
	c := &cobra.Command{
		Use:     "calibrate case.toml [pushes.csv]",
		GroupID: "bench",
		Short:   "Fit what is not known to measured steady forces, and write a calibrated case",
		Long: `Calibrate fits named factors of a case to steady push forces, within bounds and with confidence
intervals. A factor that the measurements cannot tell is refused, with the reason and the test that
would tell it best. The pushes are a CSV file with the columns block_degC, flow_mm3_s, force_N (or
force_kgf) and, if wanted, u_N, the standard uncertainty.

Logs of pushes from a soaked start can be fitted beside them, or alone, with --trace: they need
columns of time, block temperature, flow and force. A single run that cools tells level and
conductance apart where a steady force cannot.

Factors: level (viscosity), conductance (wall), trouton, offset (load cell), drag (path).`,
		Example: `  meltload calibrate my-bench.toml pushes.csv --fit level,conductance --write calibrated.toml
  meltload assess calibrated.toml

  # from one run with the heater off, 2.4 N shown at rest
  meltload calibrate my-bench.toml --trace cooling.csv --tare 2.4 --write calibrated.toml`,
		Args: args(cobra.RangeArgs(1, 2)),
		RunE: func(c *cobra.Command, a []string) error {
			var factors []calibrate.Factor
			for _, n := range strings.Split(fit, ",") {
				n = strings.TrimSpace(n)
				if err := oneOf("fit", n, []string{"level", "conductance", "trouton", "offset", "drag"}); err != nil {
					return err
				}
				factors = append(factors, factorNames[n])
			}
			if write != "" {
				if err := spare(write, force); err != nil {
					return err
				}
			}
			cs, err := readCase(a[:1])
			if err != nil {
				return err
			}
			if len(a) == 1 && len(logs) == 0 {
				return usageError{fmt.Errorf("no measurements: give a file of steady pushes, or --trace with a log")}
			}
			if err := bounded(c.Flags(), "tare", tare, -5000, 5000, "N"); err != nil {
				return err
			}
			if err := bounded(c.Flags(), "trace-u", u, 0.001, 1000, "N"); err != nil {
				return err
			}
			var pts []calibrate.Point
			var files []study.File
			if len(a) == 2 {
				var file study.File
				if pts, file, err = readFile(a[1], calibrate.ReadPoints); err != nil {
					return err
				}
				files = append(files, file)
			}
			var traces []calibrate.Trace
			for _, name := range logs {
				l, file, err := format.read(name)
				if err != nil {
					return err
				}
				files = append(files, file)
				t, err := calibrate.FromLog(l, tare)
				if err != nil {
					return usageError{err}
				}
				t.U = u
				traces = append(traces, t)
			}
			r, err := study.Calibrate(c.Context(), cs, pts, traces, factors)
			if err != nil {
				if c.Context().Err() != nil {
					return err
				}
				return usageError{err}
			}
			r.Command = commandLine(c, a)
			r.Files = append(r.Files, files...)
			if err := out.emit(c, r, report.Calibration(r)); err != nil {
				return err
			}
			if write == "" {
				return nil
			}
			src, err := readText(a[0])
			if err != nil {
				return err
			}
			set := map[string]string{}
			for _, v := range r.Values {
				if k, ok := factorKeys[calibrate.Factor(v.Factor)]; ok {
					set[k] = fmt.Sprintf("%.6g", v.Value)
				}
			}
			text, _, err := casefile.Patch(a[0], src, set, "calibrated")
			if err != nil {
				return err
			}
			if err := writeText(write, text); err != nil {
				return err
			}
			fmt.Fprintf(c.ErrOrStderr(), "calibrated case written to %s\n", write)
			return nil
		},
	}
	fs := c.Flags()
	fs.StringVar(&fit, "fit", "level,conductance", "`factors` to fit, separated by commas: level, conductance, trouton, offset, drag")
	fs.StringVar(&write, "write", "", "write the calibrated case to a `file`")
	fs.BoolVar(&force, "force", false, "replace an existing file")
	fs.StringArrayVar(&logs, "trace", nil, "`log` of a push in time with columns of block temperature and flow; can be given several times")
	fs.Float64Var(&tare, "tare", 0, "force that the logs show at rest, `N`, to take off")
	fs.Float64Var(&u, "trace-u", 0, "standard uncertainty of the logged forces, `N`; default: 2 % of the largest (assumed)")
	format.flags(fs)
	out.flags(fs)
	return c
}

func newCell() *cobra.Command {
	var out outputs
	var gravity float64
	c := &cobra.Command{
		Use:     "cell weights.csv",
		GroupID: "bench",
		Short:   "Calibrate a load cell from dead weights: N per count, zero, straightness, hysteresis",
		Long: `Cell fits a straight line to the readings of a load cell under dead weights and says how well a force
is known: uncertainty of line and reading, departure from straight, and hysteresis if the weights were
also read on the way down. The file is CSV with the columns mass_kg, up and, if wanted, down.`,
		Example: `  meltload cell weights.csv --gravity 9.81 --report cell.html
  meltload log raw.csv --force-unit counts --newton-per-count 0.0023 --zero-count 1184`,
		Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if err := bounded(c.Flags(), "gravity", gravity, 9.7, 9.9, "m/s2"); err != nil {
				return err
			}
			w, file, err := readFile(a[0], loadcell.ReadWeights)
			if err != nil {
				return err
			}
			r, err := study.CheckCell(a[0], w, gravity)
			if err != nil {
				return usageError{err}
			}
			r.Command, r.Files = commandLine(c, a), []study.File{file}
			return out.emit(c, r, report.LoadCell(r))
		},
	}
	fs := c.Flags()
	fs.Float64Var(&gravity, "gravity", loadcell.Gravity, "local acceleration of free fall, `m/s2`")
	out.flags(fs)
	return c
}
