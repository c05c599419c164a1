package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report/plot"
)

// Document is a bench result laid out once: text, page and tables come from it.
type Document struct {
	Sheet  study.Sheet
	Word   string
	Facts  []Fact
	Blocks []Block
	After  string // a closing line
}

// Tables lists the tables of the document.
func (d *Document) Tables() []Table {
	var t []Table
	for _, b := range d.Blocks {
		t = append(t, b.Table...)
	}
	return t
}

// Page is the HTML of the document.
func (d *Document) Page() *Page {
	p := &Page{Title: d.Sheet.Title, Verdict: d.Sheet.Sentence, Good: d.Sheet.Good, Word: d.Word, Facts: d.Facts, Warnings: d.Sheet.Warnings, Blocks: d.Blocks, Cautions: d.Sheet.Cautions}
	if d.After != "" {
		p.Cautions = append([]string{d.After}, p.Cautions...)
	}
	p.Repro = []Fact{{"program", "meltload " + d.Sheet.Version}, {"command", strings.Join(d.Sheet.Command, " ")}, {"files", strings.Join(d.Sheet.Files, ", ")}}
	return p
}

// Text writes the document for the terminal; tables of more than rows lines are left to the files.
func (d *Document) Text(w io.Writer, rows int) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "%s\n\n%s\n", d.Sheet.Title, Wrap(d.Sheet.Sentence, 88, ""))
	if len(d.Sheet.Warnings) > 0 {
		fmt.Fprintf(b, "\nWarnings (%d)\n", len(d.Sheet.Warnings))
		for _, x := range d.Sheet.Warnings {
			fmt.Fprintf(b, "%s\n", Wrap(x.Message, 86, "  ! "))
		}
	}
	for _, t := range d.Tables() {
		b.WriteByte('\n')
		if len(t.Rows) > rows {
			fmt.Fprintf(b, "%s: %d rows, see --csv or --report\n", t.Title, len(t.Rows))
			continue
		}
		TextTable(b, t)
	}
	b.WriteString("\nCautions\n")
	for _, c := range d.Page().Cautions {
		fmt.Fprintf(b, "%s\n", Wrap(c, 86, "  - "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func traceBlock(id, title string, pts []study.TracePoint) Block {
	var t, force, steady, block, cap []float64
	tab := Table{ID: id, Title: "Trace", Columns: []string{"time s", "block degC", "flow mm3/s", "force N", "force without lag N", "capability N", "centre at cone degC", "exit mix degC", "heater W", "phase"},
		Numeric: []bool{true, true, true, true, true, true, true, true, true, false}}
	step := max(1, len(pts)/600)
	for i, p := range pts {
		if i%step != 0 && i != len(pts)-1 {
			continue
		}
		t, force, steady, block, cap = append(t, p.Time), append(force, p.Force), append(steady, p.Steady), append(block, p.Block), append(cap, p.Capability)
		tab.Rows = append(tab.Rows, []string{fix(p.Time, 2), fix(p.Block, 1), fix(p.Flow, 2), num(p.Force, 4), num(p.Steady, 4), num(p.Capability, 4), fix(p.Centre, 1), fix(p.ExitMix, 1), num(p.Heater, 3), p.Phase})
	}
	c := plot.XY{X: "time, s", Y: "push force at the feeder, N", Y2: "block temperature, °C", ZeroBased: true, Series: []plot.Series{{Name: "force", X: t, Y: force}, {Name: "without lag", X: t, Y: steady, Dash: 2, Thin: true}, {Name: "feeder holds", X: t, Y: cap, Dash: 1}, {Name: "block", X: t, Y: block, Dash: 1, Thin: true, Right: true}}}
	return Block{ID: id + "-block", Title: title, Chart: c.Options(), Table: []Table{tab}, How: "Solid: force. Dashed: what the feeder holds, and the block temperature on the right axis."}
}

// TraceDocument lays out a run in time.
func TraceDocument(r *study.TraceResult) *Document {
	d := &Document{Sheet: r.Sheet, Word: map[bool]string{true: "gives way", false: "holds"}[r.Failed]}
	d.Facts = []Fact{{"elastic lag", fmt.Sprintf("%.2g s", r.Lag)}, {"energy balance closes to", fmt.Sprintf("%.0e", r.Balance)}}
	last := r.Points[len(r.Points)-1]
	t := Table{ID: "summary", Title: "Summary", Columns: []string{"quantity", "value", "unit"}, Numeric: []bool{false, true, false}, Rows: [][]string{
		{"end of the run", fix(last.Time, 1), "s"}, {"block at the end", fix(last.Block, 1), "degC"}, {"force at the end", num(last.Force, 4), "N"}, {"force at the end", num(last.Force/unit.KGF, 4), "kgf"},
		{"exit mixing cup at the end", fix(last.ExitMix, 1), "degC"}, {"centre at the cone at the end", fix(last.Centre, 1), "degC"}, {"elastic lag", num(r.Lag, 2), "s"}}}
	b := traceBlock("trace", "The run in time", r.Points)
	b.Table = append([]Table{t}, b.Table...)
	d.Blocks = []Block{b}
	return d
}

// PlanDocument lays out a bench plan: a page to print, and a run sheet.
func PlanDocument(r *study.PlanResult) *Document {
	d := &Document{Sheet: r.Sheet, Word: map[bool]string{true: "ready", false: "check the rig"}[r.Good], After: r.Ending}
	d.Facts = []Fact{{"runs", fmt.Sprint(len(r.Runs))}, {"repeats of each", fmt.Sprint(r.Repeats)}, {"filament", fmt.Sprintf("%.1f m", r.Filament)}, {"time", fmt.Sprintf("%.0f min", r.Minutes)}}
	checks := Table{ID: "rig", Title: "Does the rig suffice?", Columns: []string{"check", "met", "why"}, Numeric: make([]bool, 3)}
	for _, k := range r.Checks {
		checks.Rows = append(checks.Rows, []string{k.Name, map[bool]string{true: "yes", false: "NO"}[k.OK], k.Text})
	}
	runs := Table{ID: "run-sheet", Title: "Run sheet", Columns: []string{"run", "repeat", "block degC", "flow mm3/s", "speed mm/s", "predicted N", "soak s", "purge mm3", "hold s", "filament mm", "measured N", "cause", "done"},
		Numeric: []bool{true, true, true, true, true, true, true, true, true, true, false, false, false}}
	level := plot.XY{X: "run", Y: "predicted force, N", ZeroBased: true}
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
		runs.Rows = append(runs.Rows, []string{fmt.Sprint(p.Number), fmt.Sprint(p.Repeat), fix(p.Block, 0), fix(p.Flow, 1), fix(p.Speed, 2), fix(p.Force, 1), fix(p.Soak, 0), fix(p.Purge, 0), fix(p.Hold, 0), fix(p.Filament, 0), "", "", ""})
	}
	spans := Table{ID: "spans", Title: "What each flow can span", Columns: []string{"flow mm3/s", "least N", "most N", "settles in s", "spans the range", "what could"}, Numeric: []bool{true, true, true, true, false, false}}
	for _, s := range r.Spans {
		spans.Rows = append(spans.Rows, []string{fix(s.Flow, 1), fix(s.Least, 1), fix(s.Most, 1), fix(s.Settling, 1), map[bool]string{true: "yes", false: "no"}[s.Reaches], s.Advice})
	}
	d.Blocks = []Block{
		{ID: "rig-block", Title: "Does the rig suffice?", Table: []Table{checks, spans}, Open: true},
		{ID: "runs-block", Title: "What to run, in this order", Chart: level.Options(), Table: []Table{runs}, Open: true, How: "Print this page: the last three columns are to be filled in. Soak with the feed at rest, then purge, then hold and read."},
		traceBlock("predicted-trace", strings.ToUpper(r.Which[:1])+r.Which[1:], r.Trace),
	}
	return d
}

// LogDocument lays out a log.
func LogDocument(r *study.LogResult) *Document {
	d := &Document{Sheet: r.Sheet, Word: "read"}
	d.Facts = []Fact{{"rows", fmt.Sprintf("%d, of which %d used", r.Rows, r.Used)}, {"rate", fmt.Sprintf("%.4g Hz", r.Rate)}, {"tare", fmt.Sprintf("%.2f N", r.Tare)}, {"noise", fmt.Sprintf("%.2g N", r.Noise)},
		{"faults", fmt.Sprintf("%d not data, %d repeated, %d clock restarts, %d gaps, %d with a value kept", r.Faults.Junk, r.Faults.Repeated, r.Faults.Resets, r.Faults.Gaps, r.Faults.Held)}}
	if r.Drift != nil {
		d.Facts = append(d.Facts, Fact{"drift of the zero", fmt.Sprintf("%.2g N/min", *r.Drift)})
	}
	sum := Table{ID: "log-summary", Title: "The log", Columns: []string{"quantity", "value"}, Numeric: make([]bool, 2)}
	for _, f := range d.Facts {
		sum.Rows = append(sum.Rows, []string{f.Name, f.Value})
	}
	for _, k := range []string{"separator", "decimal_comma", "time_unit", "force_unit"} {
		sum.Rows = append(sum.Rows, []string{"format: " + strings.ReplaceAll(k, "_", " "), strings.ReplaceAll(fmt.Sprint(r.Format[k]), "\t", "tab")})
	}
	tests := Table{ID: "tests", Title: "Tests", Columns: []string{"test", "from s", "to s", "flow mm3/s", "block degC", "plateau N", "± N", "peak N", "± N", "kgf", "at s", "cause", "read from", "ripple N", "ripple Hz"}, Numeric: []bool{true, true, true, true, true, true, true, true, true, true, true, false, false, true, true}}
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
	groups := Table{ID: "repeats", Title: "Repeats", Columns: []string{"flow mm3/s", "force N", "kgf", "sd N", "± N (95 %)", "tests", "coefficient of variation", "cause"}, Numeric: []bool{true, true, true, true, true, true, true, false}}
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
	c := plot.XY{X: "time, s", Y: "force above tare, N", Series: []plot.Series{{Name: "log", X: t, Y: f, Thin: true}}}
	var peaks []plot.Series // one for each cause, each with its shape
	symbol := map[string]string{"grind": "diamond", "skip": "triangle", "unclear": "rect"}
	for _, x := range r.Tests {
		k := 0
		for k < len(peaks) && peaks[k].Name != "peak: "+x.Cause {
			k++
		}
		if k == len(peaks) {
			peaks = append(peaks, plot.Series{Name: "peak: " + x.Cause, Points: true, Symbol: symbol[x.Cause]})
		}
		peaks[k].X, peaks[k].Y = append(peaks[k].X, x.PeakTime), append(peaks[k].Y, x.Peak)
		if x.Plateau > 0 {
			c.Series = append(c.Series, plot.Series{Name: fmt.Sprintf("plateau %d", x.Number), X: []float64{x.From, x.To}, Y: []float64{x.Plateau, x.Plateau}, Dash: 1})
		}
	}
	c.Series = append(c.Series, peaks...)
	d.Blocks = []Block{{ID: "log-block", Title: "Force over time, as read", Chart: c.Options(), Table: []Table{groups, tests}, Open: true, How: "Thin: the log above its tare. Dashed: plateaus as found. Marks: the highest force before it gives way; their shape tells the cause."},
		{ID: "log-rows", Title: "The log itself", Table: []Table{sum, faults}}}
	if len(faults.Rows) == 0 {
		d.Blocks[1].Table = []Table{sum}
	}
	return d
}

// PointsTOML writes the repeats as capability points that a case file takes in.
func PointsTOML(w io.Writer, r *study.LogResult) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "# Capability points read from %s by meltload %s. Paste into a case file.\n", strings.Join(r.Files, ", "), r.Version)
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

// CalDocument lays out a calibration.
func CalDocument(r *study.CalResult) *Document {
	d := &Document{Sheet: r.Sheet, Word: map[bool]string{true: "calibrated", false: "not all known"}[r.Good]}
	v := Table{ID: "factors", Title: "Factors", Columns: []string{"factor", "unit", "before", "fitted", "low (95 %)", "high (95 %)", "known", "why not"}, Numeric: []bool{false, false, true, true, true, true, false, false}}
	for _, x := range r.Values {
		v.Rows = append(v.Rows, []string{x.Factor, x.Unit, num(x.Start, 3), num(x.Value, 3), num(x.Low, 3), num(x.High, 3), map[bool]string{true: "yes", false: "NO"}[x.Known], x.Why})
	}
	p := Table{ID: "points", Title: "Measured and predicted", Columns: []string{"block degC", "flow mm3/s", "measured N", "before N", "calibrated N", "residual N", "residual %"}}
	p.Numeric = []bool{true, true, true, true, true, true, true}
	var m, before, after, q, res []float64
	top := 0.0
	for _, x := range r.Points {
		p.Rows = append(p.Rows, []string{fix(x.Block, 0), fix(x.Flow, 2), num(x.Measured, 4), num(x.Before, 4), num(x.After, 4), fmt.Sprintf("%+.2f", x.After-x.Measured), fmt.Sprintf("%+.1f", 100*(x.After/x.Measured-1))})
		m, before, after, q, res = append(m, x.Measured), append(before, x.Before), append(after, x.After), append(q, x.Flow), append(res, x.After-x.Measured)
		top = math.Max(top, math.Max(x.Measured, x.After))
	}
	c := plot.XY{X: "measured, N", Y: "predicted, N", ZeroBased: true, Series: []plot.Series{{Name: "equal", X: []float64{0, top}, Y: []float64{0, top}, Thin: true, Dash: 1}, {Name: "before", X: m, Y: before, Points: true, Symbol: "triangle"}, {Name: "calibrated", X: m, Y: after, Points: true, Symbol: "circle"}}}
	e := plot.XY{X: "flow, mm³/s", Y: "predicted minus measured, N", Series: []plot.Series{{Name: "residual", X: q, Y: res, Points: true, Symbol: "circle"}}}
	text := ""
	if r.Next != "" {
		text = strings.ToUpper(r.Next[:1]) + r.Next[1:] + "."
	}
	fit := Block{ID: "fit-block", Title: "What was fitted", Text: text, Table: []Table{v}, Open: true}
	var rest []Block
	if len(r.Points) > 0 {
		d.Facts = append(d.Facts, Fact{"mean error at the points", percent(r.Mean)}, Fact{"rms at the points", fmt.Sprintf("%.2f N", r.RMS)})
		fit.Chart, fit.How = c.Options(), "On the dashed line prediction and measurement agree. Triangles: before; circles: calibrated."
		fit.Table = append(fit.Table, p)
		rest = append(rest, Block{ID: "residual-block", Title: "What is left over", Chart: e.Options(), How: "Residuals that follow a curve ask for another factor; scattered ones do not."})
	}
	if len(r.Traces) > 0 {
		d.Facts = append(d.Facts, Fact{"rms along the traces", fmt.Sprintf("%.2f N", r.TraceRMS)})
	}
	for i, x := range r.Traces {
		t := Table{ID: fmt.Sprintf("trace-%d", i+1), Title: fmt.Sprintf("Trace %d", i+1), Columns: []string{"time s", "block degC", "flow mm3/s", "measured N", "before N", "calibrated N"}, Numeric: []bool{true, true, true, true, true, true}}
		for k := range x.Time {
			t.Rows = append(t.Rows, []string{num(x.Time[k], 4), fix(x.Block[k], 1), fix(x.Flow[k], 2), num(x.Measured[k], 4), num(x.Before[k], 4), num(x.After[k], 4)})
		}
		c := plot.XY{X: "time, s", Y: "push force, N", ZeroBased: true, Series: []plot.Series{{Name: "measured", X: x.Time, Y: x.Measured, Points: true, Symbol: "circle"}, {Name: "before", X: x.Time, Y: x.Before, Dash: 1}, {Name: "calibrated", X: x.Time, Y: x.After}}}
		rest = append(rest, Block{ID: fmt.Sprintf("trace-block-%d", i+1), Title: fmt.Sprintf("Trace %d, measured and computed", i+1), Chart: c.Options(), Table: []Table{t}})
	}
	d.Blocks = append([]Block{fit}, rest...)
	return d
}

// CellDocument lays out the calibration of a load cell.
func CellDocument(r *study.CellResult) *Document {
	d := &Document{Sheet: r.Sheet, Word: "calibrated"}
	back := "not read while unloading"
	if r.Return != nil {
		back = fmt.Sprintf("%.3f %% of span", 100**r.Return)
	}
	d.Facts = []Fact{{"N per count", fmt.Sprintf("%.6g ± %.2g", r.PerCount, r.UPerCount)}, {"counts at no load", fmt.Sprintf("%.6g ± %.2g", r.Zero, r.UZero)},
		{"one reading", fmt.Sprintf("± %.2g N (standard deviation)", r.Resid)}, {"departure from straight", fmt.Sprintf("%+.3f %% of span", 100*r.Straight)}, {"hysteresis", back}}
	line := Table{ID: "line", Title: "Line of the cell", Columns: []string{"quantity", "value"}, Numeric: []bool{false, false}}
	for _, f := range d.Facts {
		line.Rows = append(line.Rows, []string{f.Name, f.Value})
	}
	t := Table{ID: "weights", Title: "Dead weights", Columns: []string{"mass kg", "force N", "up", "down", "read minus true N"}, Numeric: []bool{true, true, true, true, true}}
	var x, up []float64
	for _, w := range r.Weights {
		down := ""
		if w.Down != nil {
			down = num(*w.Down, 7)
		}
		t.Rows = append(t.Rows, []string{num(w.Mass, 4), num(w.Force, 5), num(w.Up, 7), down, fmt.Sprintf("%+.3f", w.Error)})
		x, up = append(x, w.Force), append(up, w.Error)
	}
	c := plot.XY{X: "dead weight, N", Y: "read minus true, N", Series: []plot.Series{{Name: "while loading", X: x, Y: up, Points: true, Symbol: "circle"}}}
	d.Blocks = []Block{{ID: "line-block", Title: "The cell against the weights", Chart: c.Options(), Table: []Table{line, t}, Open: true, How: "Errors that follow a curve: the cell is not straight, or a weight is not what it says.",
		Text: fmt.Sprintf("To read logs of this cell: meltload log file.csv --force-unit counts --newton-per-count %.6g --zero-count %.6g", r.PerCount, r.Zero)}}
	return d
}
