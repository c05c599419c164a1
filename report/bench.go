package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report/plot"
)

func traceBlock(id, title string, pts []study.TracePoint, speed float64) Block {
	var t, force, steady, block, cap []float64
	tab := Table{ID: id, Title: "Trace", Columns: []string{"time s", "block degC", "flow mm3/s", "speed mm/s", "force N", "force kgf", "force without lag N", "capability N", "centre at cone degC", "exit mix degC", "heater W", "phase"},
		Numeric: append(all(11), false), Long: true}
	step := max(1, len(pts)/600)
	for i, p := range pts {
		if i%step != 0 && i != len(pts)-1 {
			continue
		}
		t, force, steady, block, cap = append(t, p.Time), append(force, p.Force), append(steady, p.Steady), append(block, p.Block), append(cap, p.Capability)
		tab.Rows = append(tab.Rows, []string{fix(p.Time, 2), fix(p.Block, 1), fix(p.Flow, 2), fix(p.Flow*speed, 2), num(p.Force, 4), num(p.Force/unit.KGF, 3), num(p.Steady, 4), num(p.Capability, 4), fix(p.Centre, 1), fix(p.ExitMix, 1), num(p.Heater, 3), p.Phase})
	}
	c := plot.XY{X: "time, s", Y2: "block temperature, °C", ZeroBased: true, Series: []plot.Series{{Name: "force", X: t, Y: force}, {Name: "without lag", X: t, Y: steady, Dash: 2, Thin: true}}}
	how := "Solid: force. Dashed: the block temperature on the right axis."
	if slices.Max(cap) > 0 { // a plan's run is not played against a feeder
		c.Series = append(c.Series, plot.Series{Name: "feeder holds", X: t, Y: cap, Dash: 1})
		how = "Solid: force. Dashed: what the feeder holds, and the block temperature on the right axis."
	}
	c.Series = append(c.Series, plot.Series{Name: "block", X: t, Y: block, Dash: 1, Thin: true, Right: true})
	forceAxis(&c, "push force at the feeder")
	return Block{ID: id + "-block", Title: title, Chart: c.Options(), Table: []Table{tab}, How: how}
}

// Trace lays out a run in time.
func Trace(r *study.TraceResult) *Document {
	last := r.Points[len(r.Points)-1]
	t := Table{ID: "summary", Title: "Summary", Columns: []string{"quantity", "value", "unit"}, Numeric: []bool{false, true, false}, Rows: [][]string{
		{"end of the run", fix(last.Time, 1), "s"}, {"block at the end", fix(last.Block, 1), "degC"}, {"force at the end", num(last.Force, 4), "N"}, {"force at the end", num(last.Force/unit.KGF, 4), "kgf"},
		{"exit mixing cup at the end", fix(last.ExitMix, 1), "degC"}, {"centre at the cone at the end", fix(last.Centre, 1), "degC"}, {"elastic lag", num(r.Lag, 2), "s"}}}
	e := Table{ID: "ends", Title: "With what is not known at its ends", Columns: []string{"case", "feeder", "end s", "block degC", "force N", "force kgf"}, Numeric: []bool{false, false, true, true, true, true},
		Rows: [][]string{{"best estimate", yes(r.Failed, "gives way", "holds"), fix(last.Time, 1), fix(last.Block, 1), num(last.Force, 4), num(last.Force/unit.KGF, 3)}}}
	for _, x := range r.Ends {
		e.Rows = append(e.Rows, []string{x.What, yes(x.Failed, "gives way", "holds"), fix(x.Time, 1), fix(x.Block, 1), num(x.Force, 4), num(x.Force/unit.KGF, 3)})
	}
	title := "The push stays below what the feeder holds"
	if r.Failed {
		title = fmt.Sprintf("The load meets what the feeder holds after %.0f s, at %.0f °C", r.Time, r.Block)
	}
	b := traceBlock("trace", title, r.Points, r.Speed)
	b.Table = append([]Table{t, e}, b.Table...)
	d := document(&r.Header, yes(r.Failed, "gives way", "holds"), []Fact{{"elastic lag", fmt.Sprintf("%.2g s", r.Lag)}, {"block at the end", fmt.Sprintf("%.0f °C", last.Block)}, {"force at the end", fmt.Sprintf("%.1f N (%.2f kgf)", last.Force, last.Force/unit.KGF)}}, b)
	d.More = []Fact{{"energy balance closes to", fmt.Sprintf("%.0e", r.Balance)}}
	return d
}

// Plan lays out a bench plan: a page to print, and a run sheet.
func Plan(r *study.PlanResult) *Document {
	facts := []Fact{{"runs", fmt.Sprint(len(r.Runs))}, {"repeats of each", fmt.Sprint(r.Repeats)}, {"filament", fmt.Sprintf("%.1f m", r.Filament)}, {"time", fmt.Sprintf("%.0f min", r.Minutes)}}
	checks := Table{ID: "rig", Title: "Does the rig suffice?", Columns: []string{"check", "met", "why"}, Numeric: make([]bool, 3)}
	for _, k := range r.Checks {
		checks.Rows = append(checks.Rows, []string{k.Name, yes(k.OK, "yes", "NO"), k.Text})
	}
	runs := Table{ID: "run-sheet", Title: "Run sheet", Columns: []string{"run", "repeat", "block degC", "flow mm3/s", "speed mm/s", "predicted N", "kgf", "low N", "high N", "soak s", "purge mm3", "hold s", "filament mm", "measured N", "cause", "done"},
		Numeric: append(all(13), false, false, false), Wide: []string{"kgf", "measured N", "cause", "done"}}
	level := plot.XY{X: "run", ZeroBased: true}
	forceAxis(&level, "predicted force")
	least, most := r.Runs[0].Force, r.Runs[0].Force
	at := map[float64]int{} // flow to series
	symbols := []string{"circle", "triangle", "diamond", "rect"}
	for _, p := range r.Runs {
		k, seen := at[p.Flow]
		if !seen {
			k = len(at)
			at[p.Flow] = k
			level.Series = append(level.Series, plot.Series{Name: fmt.Sprintf("%.3g mm³/s", p.Flow), Points: true, Symbol: symbols[k%len(symbols)]})
		}
		level.Series[k].X, level.Series[k].Y = append(level.Series[k].X, float64(p.Number)), append(level.Series[k].Y, p.Force)
		least, most = min(least, p.Force), max(most, p.Force)
		runs.Rows = append(runs.Rows, []string{fmt.Sprint(p.Number), fmt.Sprint(p.Repeat), fix(p.Block, 0), fix(p.Flow, 1), fix(p.Speed, 2), fix(p.Force, 1), fix(p.Force/unit.KGF, 2), fix(p.Low, 1), fix(p.High, 1), fix(p.Soak, 0), fix(p.Purge, 0), fix(p.Hold, 0), fix(p.Filament, 0), "", "", ""})
	}
	spans := Table{ID: "spans", Title: "What each flow can span", Columns: []string{"flow mm3/s", "least N", "most N", "settles in s", "spans the range", "what could"}, Numeric: []bool{true, true, true, true, false, false}}
	for _, s := range r.Spans {
		spans.Rows = append(spans.Rows, []string{fix(s.Flow, 1), fix(s.Least, 1), fix(s.Most, 1), fix(s.Settling, 1), yes(s.Reaches, "yes", "no"), s.Advice})
	}
	rig := "The rig suffices"
	if missed := r.Unmet(); missed > 0 {
		rig = fmt.Sprintf("%d of %d checks of the rig are not met", missed, len(r.Checks))
	}
	d := document(&r.Header, yes(r.Good, "ready", "check the rig"), facts,
		Block{ID: "rig-block", Title: rig, Table: []Table{checks, spans}, Open: true},
		Block{ID: "runs-block", Title: fmt.Sprintf("%d runs in this order put %.0f to %.0f N on the feeder", len(r.Runs), least, most), Chart: level.Options(), Table: []Table{runs}, Open: true, How: "Print this page: the last three columns are to be filled in. Soak with the feed at rest, then purge, then hold and read."},
		traceBlock("predicted-trace", upper(r.Which), r.Trace, r.Speed))
	d.After = r.Ending
	return d
}

// Log lays out a log.
func Log(r *study.LogResult) *Document {
	facts := []Fact{{"rows", fmt.Sprintf("%d, of which %d used", r.Rows, r.Used)}, {"rate", fmt.Sprintf("%.4g Hz", r.Rate)}, {"tare", fmt.Sprintf("%.2f N", r.Tare)}, {"noise", fmt.Sprintf("%.2g N", r.Noise)},
		{"faults", fmt.Sprintf("%d not data, %d repeated, %d clock restarts, %d gaps, %d with a value kept", r.Faults.Junk, r.Faults.Repeated, r.Faults.Resets, r.Faults.Gaps, r.Faults.Held)}}
	if r.Drift != nil {
		facts = append(facts, Fact{"drift of the zero", fmt.Sprintf("%.2g N/min", *r.Drift)})
	}
	sum := Table{ID: "log-summary", Title: "The log", Columns: []string{"quantity", "value"}, Numeric: make([]bool, 2)}
	for _, f := range facts {
		sum.Rows = append(sum.Rows, []string{f.Name, f.Value})
	}
	for _, k := range []string{"separator", "decimal_comma", "time_unit", "force_unit"} {
		sum.Rows = append(sum.Rows, []string{"format: " + strings.ReplaceAll(k, "_", " "), strings.ReplaceAll(fmt.Sprint(r.Format[k]), "\t", "tab")})
	}
	tests := Table{ID: "tests", Title: "Tests", Columns: []string{"test", "from s", "to s", "flow mm3/s", "block degC", "plateau N", "± N", "peak N", "± N", "kgf", "at s", "cause", "read from", "ripple N", "ripple Hz"}, Numeric: append(all(11), false, false, true, true)}
	dash := func(x float64, s string) string {
		if x == 0 {
			return "–"
		}
		return s
	}
	for _, t := range r.Tests {
		hz := fix(t.RippleHz, 2)
		if t.AliasOf > 0 {
			hz += fmt.Sprintf(" (alias of %.4g)", t.AliasOf)
		}
		tests.Rows = append(tests.Rows, []string{fmt.Sprint(t.Number), fix(t.Start, 1), fix(t.End, 1), dash(t.Flow, num(t.Flow, 3)), dash(t.Block, fix(t.Block, 0)), dash(t.Plateau, num(t.Plateau, 4)), dash(t.PlateauSE, num(t.PlateauSE, 2)), num(t.Peak, 4), num(t.PeakError, 2), num(t.PeakKGF, 3), fix(t.PeakTime, 1), t.Cause, t.Why, dash(t.Ripple, num(t.Ripple, 2)), dash(t.Ripple, hz)})
	}
	groups := Table{ID: "repeats", Title: "Repeats", Columns: []string{"flow mm3/s", "force N", "kgf", "sd N", "± N (95 %)", "tests", "coefficient of variation", "cause"}, Numeric: append(all(7), false)}
	for _, g := range r.Groups {
		half := "one test only"
		if g.Half != nil {
			half = num(*g.Half, 3)
		}
		groups.Rows = append(groups.Rows, []string{dash(g.Flow, num(g.Flow, 3)), num(g.Force, 4), num(g.KGF, 3), num(g.SD, 3), half, fmt.Sprint(g.Repeats), percent(g.CV), g.Cause})
	}
	faults := Table{ID: "faults", Title: "Rows that were not plain data", Columns: []string{"line", "kind", "why", "text"}, Numeric: []bool{true, false, false, false}}
	for _, x := range r.Shown {
		faults.Rows = append(faults.Rows, []string{fmt.Sprint(x.Line), x.Kind, x.Why, x.Text})
	}
	// The picture: at most 1500 points, the extremes of each stretch kept.
	var t, f []float64
	step := max(1, len(r.Time)/750)
	for i := 0; i < len(r.Time); i += step {
		lo, hi := i, i
		for j := i; j < min(i+step, len(r.Time)); j++ {
			if r.Force[j] < r.Force[lo] {
				lo = j
			}
			if r.Force[j] > r.Force[hi] {
				hi = j
			}
		}
		a, b := min(lo, hi), max(lo, hi)
		t, f = append(t, r.Time[a]), append(f, r.Force[a]-r.Tare)
		if b > a {
			t, f = append(t, r.Time[b]), append(f, r.Force[b]-r.Tare)
		}
	}
	c := plot.XY{X: "time, s", Series: []plot.Series{{Name: "log", X: t, Y: f, Thin: true}}}
	forceAxis(&c, "force above tare")
	var peaks []plot.Series // one for each cause, each with its shape
	for _, x := range r.Tests {
		k := 0
		for k < len(peaks) && peaks[k].Name != "peak: "+x.Cause {
			k++
		}
		if k == len(peaks) {
			peaks = append(peaks, plot.Series{Name: "peak: " + x.Cause, Points: true, Symbol: causeSymbol[x.Cause]})
		}
		peaks[k].X, peaks[k].Y = append(peaks[k].X, x.PeakTime), append(peaks[k].Y, x.Peak)
		if x.Plateau > 0 {
			c.Series = append(c.Series, plot.Series{Name: fmt.Sprintf("plateau %d", x.Number), X: []float64{x.From, x.To}, Y: []float64{x.Plateau, x.Plateau}, Dash: 1})
		}
	}
	c.Series = append(c.Series, peaks...)
	title := "No push ended in a failure"
	if n := len(r.Groups); n > 0 {
		title = "It gives way at"
		for i, g := range r.Groups {
			title += fmt.Sprintf("%s %.3g N", yes(i == 0, "", ","), g.Force)
			if g.Flow > 0 {
				title += fmt.Sprintf(" (%.3g mm³/s)", g.Flow)
			}
		}
	}
	return document(&r.Header, "read", facts,
		Block{ID: "log-block", Title: title, Chart: c.Options(), Table: nonEmpty(groups, tests), Open: true, How: "Thin: the log above its tare. Dashed: plateaus as found. Marks: the highest force before it gives way; their shape tells the cause."},
		Block{ID: "log-rows", Title: fmt.Sprintf("%d of %d rows are used; %d were not data", r.Used, r.Rows, r.Faults.Junk), Table: nonEmpty(sum, faults)})
}

// causeSymbol gives each cause of failure in a log, as the result spells it, a mark of its own shape, so that it can be told without colour.
var causeSymbol = map[string]string{"grind": "diamond", "skip": "triangle", "buckle": "arrow", "unknown": "rect", "no failure": "circle"}

// PointsTOML writes the repeats as capability points that a case file takes in.
func PointsTOML(w io.Writer, r *study.LogResult) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "# Capability points read from %s by meltload %s. Paste into a case file.\n", r.Files[0].Name, r.Version)
	n := 0
	for _, g := range r.Groups {
		if g.Flow <= 0 {
			continue
		}
		n++
		fmt.Fprintf(b, "\n[[feeder.point]]\nflow_mm3_s = %.6g\nforce_N = %.4g\ncause = %q\nrepeats = %d\n", g.Flow, g.Force, g.Cause, g.Repeats)
		if g.Repeats > 1 && g.SD > 0 {
			fmt.Fprintf(b, "sd_N = %.3g\n", g.SD)
		}
	}
	if n == 0 {
		return fmt.Errorf("report: no failed test with a known flow: name the flows with --flows")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Calibration lays out a calibration.
func Calibration(r *study.CalResult) *Document {
	var facts []Fact
	v := Table{ID: "factors", Title: "Factors", Columns: []string{"factor", "unit", "before", "fitted", "low (95 %)", "high (95 %)", "known", "why not"}, Numeric: []bool{false, false, true, true, true, true, false, false}}
	for _, x := range r.Values {
		v.Rows = append(v.Rows, []string{x.Factor, x.Unit, num(x.Start, 3), num(x.Value, 3), num(x.Low, 3), num(x.High, 3), yes(x.Known, "yes", "NO"), x.Why})
	}
	p := Table{ID: "points", Title: "Measured and predicted", Columns: []string{"block degC", "flow mm3/s", "measured N", "measured kgf", "before N", "calibrated N"}, Numeric: all(6)}
	left := Table{ID: "residuals", Title: "What is left over", Columns: []string{"block degC", "flow mm3/s", "speed mm/s", "residual N", "residual kgf", "residual %"}, Numeric: all(6)}
	var m, before, after, q, res []float64
	top, worst := 0.0, 0.0
	for _, x := range r.Points {
		p.Rows = append(p.Rows, []string{fix(x.Block, 0), fix(x.Flow, 2), num(x.Measured, 4), num(x.Measured/unit.KGF, 3), num(x.Before, 4), num(x.After, 4)})
		left.Rows = append(left.Rows, []string{fix(x.Block, 0), fix(x.Flow, 2), fix(x.Flow*r.Speed, 2), fmt.Sprintf("%+.2f", x.After-x.Measured), fmt.Sprintf("%+.3f", (x.After-x.Measured)/unit.KGF), fmt.Sprintf("%+.1f", 100*(x.After/x.Measured-1))})
		m, before, after, q, res = append(m, x.Measured), append(before, x.Before), append(after, x.After), append(q, x.Flow), append(res, x.After-x.Measured)
		top = math.Max(top, math.Max(x.Measured, x.After))
		if d := x.After - x.Measured; math.Abs(d) > math.Abs(worst) {
			worst = d
		}
	}
	c := plot.XY{X: "measured, N", AlsoX: &plot.Also{Unit: "kgf", By: 1 / unit.KGF}, ZeroBased: true, Series: []plot.Series{{Name: "equal", X: []float64{0, top}, Y: []float64{0, top}, Thin: true, Dash: 1}, {Name: "before", X: m, Y: before, Points: true, Symbol: "triangle"}, {Name: "calibrated", X: m, Y: after, Points: true, Symbol: "circle"}}}
	forceAxis(&c, "predicted")
	e := plot.XY{Series: []plot.Series{{Name: "residual", X: q, Y: res, Points: true, Symbol: "circle"}}}
	flowAxis(&e, "flow of filament", r.Speed)
	forceAxis(&e, "predicted minus measured")
	text := ""
	if r.Next != "" {
		text = upper(r.Next) + "."
	}
	fit := Block{ID: "fit-block", Title: fmt.Sprintf("%d of %d factors can be told from the measurements", r.Known(), len(r.Values)), Text: text, Table: []Table{v}, Open: true}
	var rest []Block
	if len(r.Points) > 0 {
		fit.Title += fmt.Sprintf("; the mean error falls from %.0f to %.1f %%", 100*r.Was, 100*r.Mean)
		facts = append(facts, Fact{"mean error at the points", percent(r.Mean)}, Fact{"rms at the points", fmt.Sprintf("%.2f N", r.RMS)})
		fit.Chart, fit.How = c.Options(), "On the dashed line prediction and measurement agree. Triangles: before; circles: calibrated."
		fit.Table = append(fit.Table, p)
		rest = append(rest, Block{ID: "residual-block", Title: fmt.Sprintf("The prediction misses by %.2f N rms, by %+.2f N at most", r.RMS, worst), Chart: e.Options(), Table: []Table{left}, How: "Residuals that follow a curve ask for another factor; scattered ones do not."})
	}
	if len(r.Traces) > 0 {
		facts = append(facts, Fact{"rms along the traces", fmt.Sprintf("%.2f N", r.TraceRMS)})
	}
	for i, x := range r.Traces {
		t := Table{ID: fmt.Sprintf("trace-%d", i+1), Title: fmt.Sprintf("Trace %d", i+1), Columns: []string{"time s", "block degC", "flow mm3/s", "measured N", "measured kgf", "before N", "calibrated N"}, Numeric: all(7)}
		for k := range x.Time {
			t.Rows = append(t.Rows, []string{num(x.Time[k], 4), fix(x.Block[k], 1), fix(x.Flow[k], 2), num(x.Measured[k], 4), num(x.Measured[k]/unit.KGF, 3), num(x.Before[k], 4), num(x.After[k], 4)})
		}
		c := plot.XY{X: "time, s", ZeroBased: true, Series: []plot.Series{{Name: "measured", X: x.Time, Y: x.Measured, Points: true, Symbol: "circle"}, {Name: "before", X: x.Time, Y: x.Before, Dash: 1}, {Name: "calibrated", X: x.Time, Y: x.After}}}
		forceAxis(&c, "push force at the feeder")
		rest = append(rest, Block{ID: fmt.Sprintf("trace-block-%d", i+1), Title: fmt.Sprintf("Trace %d is met to %.2f N rms", i+1, x.RMS), Chart: c.Options(), Table: []Table{t}})
	}
	return document(&r.Header, yes(r.Good, "calibrated", "not all known"), facts, append([]Block{fit}, rest...)...)
}

// Cell lays out the calibration of a load cell.
func Cell(r *study.CellResult) *Document {
	back := "not read while unloading"
	if r.Return != nil {
		back = fmt.Sprintf("%.3f %% of span", 100**r.Return)
	}
	facts := []Fact{{"N per count", fmt.Sprintf("%.6g ± %.2g", r.PerCount, r.UPerCount)}, {"counts at no load", fmt.Sprintf("%.6g ± %.2g", r.Zero, r.UZero)},
		{"one reading", fmt.Sprintf("± %.2g N (standard deviation)", r.Resid)}, {"departure from straight", fmt.Sprintf("%+.3f %% of span", 100*r.Straight)}, {"hysteresis", back}}
	line := Table{ID: "line", Title: "Line of the cell", Columns: []string{"quantity", "value"}, Numeric: []bool{false, false}}
	for _, f := range facts {
		line.Rows = append(line.Rows, []string{f.Name, f.Value})
	}
	t := Table{ID: "weights", Title: "Dead weights", Columns: []string{"mass kg", "force N", "force kgf", "up", "down", "read minus true N"}, Numeric: all(6)}
	var x, up []float64
	for _, w := range r.Weights {
		down := ""
		if w.Down != nil {
			down = num(*w.Down, 7)
		}
		t.Rows = append(t.Rows, []string{num(w.Mass, 4), num(w.Force, 5), num(w.Force/unit.KGF, 5), num(w.Up, 7), down, fmt.Sprintf("%+.3f", w.Error)})
		x, up = append(x, w.Force), append(up, w.Error)
	}
	c := plot.XY{X: "dead weight, N", AlsoX: &plot.Also{Unit: "kgf", By: 1 / unit.KGF}, Series: []plot.Series{{Name: "while loading", X: x, Y: up, Points: true, Symbol: "circle"}}}
	forceAxis(&c, "read minus true")
	return document(&r.Header, "calibrated", facts, Block{ID: "line-block", Title: fmt.Sprintf("The cell is straight to %.2g %% of its span", 100*math.Abs(r.Straight)), Chart: c.Options(), Table: []Table{line, t}, Open: true, How: "Errors that follow a curve: the cell is not straight, or a weight is not what it says.",
		Text: fmt.Sprintf("To read logs of this cell: meltload log file.csv --force-unit counts --newton-per-count %.6g --zero-count %.6g", r.PerCount, r.Zero)})
}
