package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"meltload/cmd/meltload/internal/files"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/loadcell"
	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report"
)

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
the case's, 0 for a push with the hot end off. Semicolons or tabs may separate the cells; then a decimal
comma is read too.

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
	fs.StringVar(&k.write, "write", "", "write the calibrated case to a `file`; one that this command "+
		"wrote before is replaced, unless it was changed since")
	fs.StringVar(&k.spirals, "spirals", "",
		"`file` of lengths that melt ran in a long strip: tells contact and no-flow temperature of the mould")
	fs.StringArrayVar(&k.plateaus, "log", nil,
		"`log` whose last plateaus are steady pushes, each at its own temperature and flow; can be given several times")
	fs.StringArrayVar(&k.logs, "trace", nil,
		"`log` of a push in time with columns of block temperature and flow; can be given several times")
	numberFlag(fs, &k.tare, "tare", 0, unit.Bound{Hi: 5000, Unit: "N", Either: true},
		"force that the logs show at rest, %s, to take off; default: found out")
	numberFlag(fs, &k.u, "trace-u", 0, unit.Bound{Lo: 0.001, Hi: 1000, Unit: "N"},
		"standard uncertainty of the logged forces, %s; default: 2 % of the largest (assumed)")
	k.format.flags(fs)
	k.out.flags(fs)
	return c
}

// run fits the case to pushes, or its mould to lengths, and writes the calibrated case if it is asked for.
func (k *calibration) run(c *cobra.Command, a []string) error {
	var more []files.Output
	if k.write != "" {
		more = append(more, calibratedText(k.write, nil))
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
		more[0] = calibratedText(k.write, files.Seal(b))
	}
	return k.out.emit(c, r, d, more...)
}

// calibratedText is a calibrated case to be written. One that was written before may be replaced, unless it was changed
// by hand since.
func calibratedText(name string, text []byte) files.Output {
	o := caseText(name, text)
	o.Kind = files.Sealed("case file that calibrate wrote and that was not changed since")
	return o
}
