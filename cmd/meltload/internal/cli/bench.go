package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/cmd/meltload/internal/files"
	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/loadcell"
	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report"
)

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
	var p planFlags
	c := &cobra.Command{
		Use:     "plan [case.toml]",
		GroupID: "bench",
		Short:   "Plan a bench test: temperatures, order, soaks, repeats, and whether the rig suffices",
		Long: `Plan finds the block temperatures at which the load of a case steps evenly through the wanted
range of force at each test flow, puts the runs in order, says how long to soak, purge and hold
(from the predicted trace), how many repeats the wanted confidence needs, and checks load cell,
logger and ripple. Where temperature cannot span the range it says which bore could.

With --ramps it plans ramps to failure instead: for each flow the block temperature to start from, then heater
off and feed on until the feeder fails; predicted force against time with its range, failure temperature
and time, filament, the force to stop at, the load cell, and the repeats.

The report prints as a page to take to the bench; --csv writes the run sheet.`,
		Example: `  meltload plan --force-low 15 --force-high 60 --cell 20 --rate 80 --report plan.html

  # two flows, more levels, own case
  meltload plan my-bench.toml --force-low 10 --force-high 50 --flows 5,20 --levels 6

  # push the feeder to failure at a slow and a fast flow
  meltload plan my-bench.toml --ramps --flows 5,15 --cell 20 --report ramps.html`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if p.High <= p.Low {
				return usageError{fmt.Errorf("--force-high %g: it must lie above --force-low %g", p.High, p.Low)}
			}
			if err := out.free(c, a); err != nil {
				return err
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			if p.ramps {
				r, err := study.MakeRamps(c.Context(), &cs.Setup, p.rampWish())
				if err != nil {
					return err
				}
				stamp(&r.Header, c, a, cs)
				return out.emit(c, r, report.Ramps(r))
			}
			r, err := study.MakePlan(c.Context(), &cs.Setup, p.wish())
			if err != nil {
				return err
			}
			stamp(&r.Header, c, a, cs)
			return out.emit(c, r, report.Plan(r))
		},
	}
	p.flags(c.Flags())
	over.flags(c.Flags())
	out.flags(c.Flags())
	return c
}

// planFlags are the flags of plan, in the units of the bench.
type planFlags struct {
	benchplan.Wish
	ramps         bool
	cell          float64 // kgf
	flows, blocks []float64
}

// span are the block temperatures given, if there are.
func (p *planFlags) span() (blocks [2]float64) {
	if len(p.blocks) == 2 {
		blocks = [2]float64{unit.Kelvin(p.blocks[0]), unit.Kelvin(p.blocks[1])}
	}
	return blocks
}

func (p *planFlags) wish() benchplan.Wish {
	w := p.Wish
	w.Flows, w.CellMax, w.Blocks = scaled(p.flows, unit.MM3), p.cell*unit.KGF, p.span()
	return w
}

func (p *planFlags) rampWish() benchplan.RampWish {
	w := p.wish()
	return benchplan.RampWish{
		Flows: w.Flows, Confidence: w.Confidence, Scatter: w.Scatter, HalfWidth: w.HalfWidth, CellMax: w.CellMax,
		Blocks: w.Blocks,
	}
}

func (p *planFlags) flags(fs *pflag.FlagSet) {
	force := bound{lo: 0.1, hi: 2000, unit: "N"}
	share := func(lo, hi float64) bound { return bound{lo: lo, hi: hi, unit: "share"} }
	fs.BoolVar(&p.ramps, "ramps", false, "plan ramps to failure: heater off while feeding, until the feeder fails")
	numberFlag(fs, &p.Low, "force-low", 15, force, "low end of the wanted push force, %s")
	numberFlag(fs, &p.High, "force-high", 60, force, "high end of the wanted push force, %s")
	wholeFlag(fs, &p.Levels, "levels", 5, bound{lo: 2, hi: 50}, "how many force levels %s")
	listFlag(fs, &p.flows, "flows", []float64{5, 20}, bound{lo: 0.01, hi: 1000, unit: "mm3/s"},
		"test flows in %s, separated by commas")
	pairFlag(fs, &p.blocks, "blocks", bound{lo: 50, hi: 500, unit: "degC"},
		"lowest and highest block temperature in %s, separated by a comma; default: the material's window")
	numberFlag(fs, &p.cell, "cell", 0, bound{lo: 0.1, hi: 500, unit: "kgf"},
		"full scale of the load cell in %s (a 5 kg cell is 5)")
	numberFlag(fs, &p.CellStep, "cell-step", 0, bound{lo: 1e-6, hi: 50, unit: "N"}, "smallest step the logger shows, "+
		"%s")
	numberFlag(fs, &p.Rate, "rate", 10, bound{lo: 0.1, hi: 1e5, unit: "Hz"}, "sampling rate of the logger, %s")
	wholeFlag(fs, &p.GearTeeth, "gear-teeth", 0, bound{lo: 4, hi: 500}, "teeth of the drive wheel %s, for the ripple "+
		"check")
	numberFlag(fs, &p.Scatter, "scatter", 0.05, share(0.001, 1),
		"expected standard deviation of single tests, as a %s of the force (assumed)")
	numberFlag(fs, &p.HalfWidth, "half-width", 0.10, share(0.005, 1),
		"wanted half-width of the confidence interval, as a %s of the force")
	numberFlag(fs, &p.Confidence, "confidence", 0.95, share(0.5, 0.999), "wanted confidence, as a %s")
}

func newTrace() *cobra.Command {
	var out outputs
	var over overrides
	var feed, then, ramp, column float64
	var off bool
	c := &cobra.Command{
		Use:     "trace [case.toml]",
		GroupID: "bench",
		Short:   "Play a bench run in time: soaked start, feed, and cooling until the feeder fails",
		Long: `Trace plays a run: the melt zone soaked at the block temperature, feeding at the wanted flow, the
plateau on molten stock, the rise as cold stock arrives, and then, if asked, the heater off or the
set temperature ramped down until the load meets what the feeder holds.`,
		Example: `  # 60 s of feed, then heater off until the feeder fails
  meltload trace --flow 5 --feed 60 --heater-off --report trace.html

  # ramp the set temperature down by 20 K a minute
  meltload trace my-bench.toml --flow 5 --feed 60 --ramp -20`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if off && ramp != 0 {
				return usageError{fmt.Errorf("--heater-off and --ramp: give one of them")}
			}
			if err := out.free(c, a); err != nil {
				return err
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			if cs.Target == 0 {
				return usageError{fmt.Errorf("the case names no wanted flow; give --flow")}
			}
			r, err := study.Trace(c.Context(), &cs.Setup, study.TraceOptions{Feed: feed, HeaterOff: off,
				Ramp: ramp / 60, Then: then, Column: column * unit.MM})
			if err != nil {
				return err
			}
			stamp(&r.Header, c, a, cs)
			return out.emit(c, r, report.Trace(r))
		},
	}
	fs := c.Flags()
	numberFlag(fs, &feed, "feed", 60, bound{lo: 0.1, hi: 36000, unit: "s"}, "feeding at constant block temperature, %s")
	fs.BoolVar(&off, "heater-off", false, "then switch the heater off and go on feeding")
	numberFlag(fs, &ramp, "ramp", 0, bound{lo: 0.1, hi: 600, unit: "K/min", either: true},
		"after --feed, ramp the set point by %s")
	numberFlag(fs, &then, "then", 300, bound{lo: 0.1, hi: 36000, unit: "s"},
		"longest time of heater off or ramp, %s; it ends when the feeder fails")
	numberFlag(fs, &column, "column", 50, bound{lo: 0, hi: 5000, unit: "mm"},
		"length of loaded filament between gear and melt, %s, for the elastic lag")
	over.flags(fs)
	out.flags(fs)
	return c
}

// readFile reads a file with a reader and stamps it with the hash of its bytes.
func readFile[T any](
	c *cobra.Command,
	name string,
	read func(name string, r io.Reader) (T, error),
) (out T, file study.File, err error) {
	f, err := deskOf(c).Open(name)
	if err != nil {
		return out, file, err
	}
	defer f.Close()
	hash := sha256.New()
	var r io.Reader = io.TeeReader(f, hash)
	if file, ok := f.(*os.File); ok {
		if info, err := file.Stat(); err == nil && info.Mode().IsRegular() {
			r = sized{r, info.Size()}
		}
	}
	if out, err = read(shownName(name), r); err != nil {
		return out, file, err
	}
	if _, err := io.Copy(hash, f); err != nil { // what the reader left
		return out, file, err
	}
	return out, study.File{Name: shownName(name), Hash: hex.EncodeToString(hash.Sum(nil))[:12]}, nil
}

// sized is a reader that knows how many bytes it will give, so that its reader can make room for them at once.
type sized struct {
	io.Reader
	size int64
}

func (s sized) Size() int64 { return s.size }

// factorNames are the factors on the command line.
func factorNames() []string {
	var out []string
	for _, f := range calibrate.Factors {
		out = append(out, string(f))
	}
	return out
}

// steadyPushes takes the last plateaus of logs.
func steadyPushes(c *cobra.Command, format *logFormat, names []string, zero *float64) (pts []calibrate.Point,
	used []study.File, err error) {
	for _, name := range names {
		l, file, err := format.read(c, name)
		if err != nil {
			return nil, nil, err
		}
		a, err := loadcell.Analyse(l, loadcell.Settings{Zero: zero})
		if err != nil {
			return nil, nil, usageError{err}
		}
		p, left := calibrate.Plateaus(a.Tests)
		for _, s := range left {
			fmt.Fprintf(c.ErrOrStderr(), "%s: not used: %s\n", shownName(name), s)
		}
		if len(p) == 0 {
			return nil, nil, usageError{fmt.Errorf("%s: no plateau that can be used: %s", shownName(name),
				strings.Join(left, "; "))}
		}
		pts, used = append(pts, p...), append(used, file)
	}
	return pts, used, nil
}

// tracesOf takes the pushes of logs in time.
func tracesOf(c *cobra.Command, format *logFormat, names []string, zero *float64, u float64) (
	traces []calibrate.Trace, used []study.File, err error) {
	for _, name := range names {
		l, file, err := format.read(c, name)
		if err != nil {
			return nil, nil, err
		}
		ts, err := calibrate.FromLog(l, zero)
		if err != nil {
			return nil, nil, usageError{err}
		}
		for _, t := range ts {
			t.U = u
			traces = append(traces, t)
		}
		used = append(used, file)
	}
	return traces, used, nil
}

// calibration is what the calibrate command is asked for.
type calibration struct {
	out            outputs
	format         logFormat
	write, spirals string
	fit            []string
	logs, plateaus []string // to be fitted in time, and by their last plateaus
	tare, u        float64
}

func newCalibrate() *cobra.Command {
	var k calibration
	c := &cobra.Command{
		Use:     "calibrate case.toml [pushes.csv]",
		GroupID: "bench",
		Short:   "Fit what is not known to measured steady forces, and write a calibrated case",
		Long: `Calibrate fits what is not known about a case to steady push forces: of viscosity, heated share of the
barrel, entrance loss, eccentricity and drag those that the measurements can tell apart, each with a
95 % interval. The others keep the range known before, with the reason. It names the tests that
would tell most: the next steady push, two land lengths at one bore (entrance loss), a push with
the hot end off (drag). --write writes values, intervals and which
factors go together, so that the range of an answer narrows.

The pushes are a CSV file with the columns block_degC, flow_mm3_s, force_N (or force_kgf) and, if
wanted, u_N, the standard uncertainty, and land_mm, the land length of that push where it is not
the case's, 0 for a push with the hot end off.

With --spirals the measurements are lengths that melt ran in a long strip or spiral, a CSV file with the
columns block_degC, mould_degC, flow_mm3_s, thickness_mm, width_mm, length_mm and, if wanted, u_mm; they
tell the contact of melt and mould and the no-flow temperature of the [mould] of the case.

Logs give steady pushes with --log: the last plateau of each push, at its own temperature and flow.
Logs of pushes from a soaked start can be fitted in time with --trace: each push is a trace, cut where
the feeder gives way. Both need columns of time, block temperature, flow and force. A fit that does not
meet the measurements is refused, with the stretch that does not fit.

Factors for --fit: viscosity, heated, entrance, eccentricity, drag, contact, tip, block, offset (load cell).`,
		Example: `  meltload calibrate my-bench.toml pushes.csv --write calibrated.toml
  meltload assess calibrated.toml

  # from one run with the heater off, 2.4 N shown at rest
  meltload calibrate my-bench.toml --trace cooling.csv --tare 2.4 --write calibrated.toml`,
		Args: args(cobra.RangeArgs(1, 2)),
		RunE: k.run,
	}
	fs := c.Flags()
	choicesFlag(fs, &k.fit, "fit", nil, factorNames(), "`factors` to fit, separated by commas; default: of viscosity, "+
		"heated, entrance, eccentricity and drag those that the measurements tell")
	fs.StringVar(&k.write, "write", "", "write the calibrated case to a `file`")
	fs.StringVar(&k.spirals, "spirals", "",
		"`file` of lengths that melt ran in a long strip: tells contact and no-flow temperature of the mould")
	fs.StringArrayVar(&k.plateaus, "log", nil,
		"`log` whose last plateaus are steady pushes, each at its own temperature and flow; can be given several times")
	fs.StringArrayVar(&k.logs, "trace", nil,
		"`log` of a push in time with columns of block temperature and flow; can be given several times")
	numberFlag(fs, &k.tare, "tare", 0, bound{hi: 5000, unit: "N", either: true},
		"force that the logs show at rest, %s, to take off; default: found out")
	numberFlag(fs, &k.u, "trace-u", 0, bound{lo: 0.001, hi: 1000, unit: "N"},
		"standard uncertainty of the logged forces, %s; default: 2 % of the largest (assumed)")
	k.format.flags(fs)
	k.out.flags(fs)
	return c
}

// run fits the case to pushes, or its mould to lengths, and writes the calibrated case if it is asked for.
func (k *calibration) run(c *cobra.Command, a []string) error {
	var more []files.Output
	if k.write != "" {
		more = append(more, caseText(k.write, nil))
	}
	inputs := append(append(a[:len(a):len(a)], k.logs...), k.plateaus...)
	if k.spirals != "" {
		inputs = append(inputs, k.spirals)
	}
	if err := k.out.free(c, inputs, more...); err != nil {
		return err
	}
	cs, err := readCase(c, a[:1])
	if err != nil {
		return err
	}
	switch {
	case k.spirals != "" && (len(a) > 1 || len(k.logs)+len(k.fit) > 0):
		return usageError{errors.New("--spirals fits contact and no-flow temperature of the mould to lengths alone: " +
			"leave out pushes, --trace and --fit")}
	case k.spirals != "":
		return k.lengths(c, a, cs, more)
	case len(a) == 1 && len(k.logs)+len(k.plateaus) == 0:
		return usageError{errors.New("no measurements: give a file of steady pushes, --log or --trace with a log, or " +
			"--spirals with lengths")}
	}
	return k.pushes(c, a, cs, more)
}

// pushes fits the case to steady pushes and to pushes in time.
func (k *calibration) pushes(c *cobra.Command, a []string, cs *casefile.Case, more []files.Output) error {
	var set calibrate.Settings
	for _, n := range k.fit {
		set.Factors = append(set.Factors, calibrate.Factor(n))
	}
	pts, from, err := k.measured(c, a[1:], &set)
	if err != nil {
		return err
	}
	r, err := study.Calibrate(c.Context(), &cs.Setup, pts, set)
	if err != nil {
		return badFit(c, err)
	}
	stamp(&r.Header, c, a, cs)
	r.Files = append(r.Files, from...)
	d := report.Calibration(r)
	if r.Misfit != "" { // shown, but nothing is written
		if err := k.out.emit(c, r, d); err != nil {
			return err
		}
		_, err := r.CaseText(cs)
		return usageError{err}
	}
	return k.emit(c, r, d, more, func() ([]byte, error) { return r.CaseText(cs) })
}

// measured reads the pushes: steady ones from files and plateaus, those in time into the settings.
func (k *calibration) measured(c *cobra.Command, names []string, set *calibrate.Settings) (pts []calibrate.Point,
	from []study.File, err error) {
	for _, n := range names {
		some, file, err := readFile(c, n, calibrate.ReadPoints)
		if err != nil {
			return nil, nil, err
		}
		pts, from = append(pts, some...), append(from, file)
	}
	var zero *float64
	if c.Flags().Changed("tare") {
		zero = &k.tare
	}
	steady, used, err := steadyPushes(c, &k.format, k.plateaus, zero)
	if err != nil {
		return nil, nil, err
	}
	pts, from = append(pts, steady...), append(from, used...)
	set.Traces, used, err = tracesOf(c, &k.format, k.logs, zero, k.u)
	return pts, append(from, used...), err
}

// lengths fits the mould of the case to measured lengths.
func (k *calibration) lengths(c *cobra.Command, a []string, cs *casefile.Case, more []files.Output) error {
	if cs.Mould == nil {
		return usageError{fmt.Errorf("%s has no [mould]: --spirals needs its material and the way from the nozzle to "+
			"the gate", cs.File)}
	}
	pts, file, err := readFile(c, k.spirals, calibrate.ReadSpirals)
	if err != nil {
		return err
	}
	r, err := study.CalibrateMould(c.Context(), &cs.Setup, pts)
	if err != nil {
		return badFit(c, err)
	}
	stamp(&r.Header, c, a, cs)
	r.Files = append(r.Files, file)
	return k.emit(c, r, report.Spirals(r), more, func() ([]byte, error) { return r.CaseText(cs) })
}

// badFit is the error of measurements that cannot be fitted.
func badFit(c *cobra.Command, err error) error {
	if c.Context().Err() != nil {
		return err
	}
	return usageError{err}
}

// emit gives out the result, and the calibrated case if it is asked for.
func (k *calibration) emit(c *cobra.Command, r any, d *report.Document, more []files.Output,
	text func() ([]byte, error)) error {
	if len(more) > 0 {
		b, err := text()
		if err != nil {
			return err
		}
		more[0] = caseText(k.write, b)
	}
	return k.out.emit(c, r, d, more...)
}
