package report

import (
	"fmt"
	"strings"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// longestTrace is how many points of a trace a table and a chart take.
const longestTrace = 600

// thin leaves at most about n of the rows, the last among them.
func thin[T any](rows []T, n int) []T {
	step := max(1, len(rows)/n)
	var out []T
	for i := range rows {
		if i%step == 0 || i == len(rows)-1 {
			out = append(out, rows[i])
		}
	}
	return out
}

func traceBlock(id, title string, all []study.TracePoint, area *float64) Block {
	pts := thin(all, longestTrace)
	c := newChart("time", "push", area)
	c.ZeroBased = true
	c.rightAxis("block")
	t := of(pts, func(p *study.TracePoint) float64 { return p.Time })
	c.add(plot.Series{Name: "force"}, t, of(pts, func(p *study.TracePoint) float64 { return p.Force }))
	c.add(
		plot.Series{Name: "without lag", Dash: 2, Thin: true},
		t,
		of(pts, func(p *study.TracePoint) float64 { return p.Steady }),
	)
	how := "Solid: force. Dashed: block temperature, right axis."
	if pts[0].Capability != nil { // a plan's run is not played against a feeder
		c.add(
			plot.Series{Name: "feeder holds", Dash: 1},
			t,
			of(pts, func(p *study.TracePoint) float64 { return quantity.Or(p.Capability, 0) }),
		)
		how = "Solid: force. Dashed: the force the feeder holds, and the block temperature on the right axis."
	}
	c.add(
		plot.Series{Name: "block temperature", Dash: 1, Thin: true, Right: true},
		t,
		of(pts, func(p *study.TracePoint) float64 { return p.Block }),
	)
	return Block{
		ID:    id + "-block",
		Title: title,
		Chart: c,
		Table: []Table{long(list(id, "Trace", pts, area))},
		How:   how,
	}
}

// endRow is how a run in time ends, best estimate or one end of what is not known.
type endRow struct {
	What   string  `q:"what"`
	Failed bool    `q:"failed"`
	Time   float64 `q:"end_time"`
	Block  float64 `q:"block"`
	Force  float64 `q:"force"`
}

// Trace lays out a run in time.
func Trace(r *study.TraceResult) *Document {
	last := r.Points[len(r.Points)-1]
	t := summary(
		"summary",
		"At the end of the run",
		last,
		r.Area,
		"time",
		"block",
		"force",
		"exit_bulk",
		"centre_at_cone",
	)
	t.add("lag", r.Lag, nil)
	ends := []endRow{{What: "best estimate", Failed: r.Failed, Time: last.Time, Block: last.Block, Force: last.Force}}
	for _, x := range r.Ends {
		ends = append(ends, endRow{What: x.What, Failed: x.Failed, Time: x.Time, Block: x.Block, Force: x.Force})
	}
	title := "The push stays below the force the feeder holds"
	if r.Failed {
		title = fmt.Sprintf(
			"The push meets the force the feeder holds after %s, at %s",
			shown("failure_time", *r.Time),
			shown("failure_block", *r.Block),
		)
	}
	b := traceBlock("trace", title, r.Points, r.Area)
	b.Table = append([]Table{t, list("ends", "Range", ends, nil)}, b.Table...)
	d := document(
		&r.Header,
		yes(r.Failed, "feeder fails", "holds"),
		[]Fact{
			fact("lag", r.Lag, nil),
			{"block at the end", shown("block", last.Block)},
			{"force at the end", both("force", last.Force, nil)},
		},
		b,
	)
	d.More = []Fact{fact("energy_balance", r.Balance, nil)}
	return d
}

// Plan lays out a bench plan: a page to print, and a run sheet.
func Plan(r *study.PlanResult) *Document {
	facts := []Fact{
		{"runs", fmt.Sprint(len(r.Runs))},
		{"repeats of each", fmt.Sprint(r.Repeats)},
		fact("filament_total", r.Filament, nil),
		fact("duration", r.Duration, nil),
	}
	runs := list("run-sheet", "Run sheet", r.Runs, r.Area)
	for _, head := range []string{"measured N", "cause", "done"} { // to be filled in on paper
		runs.Columns = append(runs.Columns, Column{Key: strings.ReplaceAll(head, " ", "_"), Head: head, Wide: true})
	}
	for i := range runs.Rows {
		runs.Rows[i] = append(runs.Rows[i], words(""), words(""), words(""))
	}
	c := newChart("run", "predicted", r.Area)
	c.ZeroBased = true
	least, most := r.Runs[0].Force, r.Runs[0].Force
	by := map[float64][]study.PlanRun{}
	var flows []float64
	for _, p := range r.Runs {
		if by[p.Flow] == nil {
			flows = append(flows, p.Flow)
		}
		by[p.Flow] = append(by[p.Flow], p)
		least, most = min(least, p.Force), max(most, p.Force)
	}
	for i, q := range flows {
		c.add(
			plot.Series{Name: shown("target_flow", q), Points: true, Symbol: symbol(i)},
			of(
				by[q],
				func(p *study.PlanRun) float64 { return float64(p.Number) },
			),
			of(by[q], func(p *study.PlanRun) float64 { return p.Force }),
		)
	}
	rig := "The rig suffices"
	if missed := r.Unmet(); missed > 0 {
		rig = fmt.Sprintf("%d of %d checks of the rig are not met", missed, len(r.Checks))
	}
	force := quantity.Of("predicted")
	d := document(
		&r.Header,
		yes(r.Good, "ready", "check the rig"),
		facts,
		Block{
			ID:    "rig-block",
			Title: rig,
			Table: []Table{
				list("rig", "Does the rig suffice?", r.Checks, nil),
				list("spans", "Range of force at each flow", r.Spans, r.Area),
			},
			Open: true,
		},
		Block{
			ID: "runs-block",
			Title: fmt.Sprintf(
				"%d runs in this order load the feeder with %s to %s",
				len(r.Runs),
				force.Number(least),
				force.Page(most),
			),
			Chart: c,
			Table: []Table{runs},
			Open:  true,
			How: "Print this page: the last three columns are to be filled in. Soak without feed, then purge, then " +
				"hold and read.",
		},
		tellsBlock(r),
		traceBlock("predicted-trace", upper(r.Which), r.Trace, r.Area),
	)
	d.After = r.Ending
	return d
}

// tellsBlock says what a calibration by the runs of a plan would learn, and what would tell it more.
func tellsBlock(r *study.PlanResult) Block {
	b := Block{ID: "tells-block", Title: "A calibration by these runs would tell nothing", Open: true}
	if len(r.Tells) > 0 {
		b.Title = "A calibration by these runs would tell: " + strings.Join(r.Tells, ", ")
	}
	if len(r.Leaves) > 0 {
		b.Text = "It would not tell: " + strings.Join(r.Leaves, ", ") + ". "
	}
	if len(r.Beside) > 0 {
		b.Text += "Tests that would tell most beside the runs: " + strings.Join(r.Beside, "; ") + "."
	}
	return b
}

// residualRow is what is left over at one point.
type residualRow struct {
	Block    float64 `q:"block"`
	Flow     float64 `q:"flow"`
	Residual float64 `q:"residual"`
	Share    float64 `q:"residual_share"`
}

// Calibration lays out a calibration.
func Calibration(r *study.CalResult) *Document {
	var facts []Fact
	text := ""
	if len(r.Next) > 0 {
		text = "Tests that would tell most: " + strings.Join(r.Next, "; ") + "."
	}
	fit := Block{
		ID:    "fit-block",
		Title: fmt.Sprintf("The measurements tell %d of %d factors", r.Known(), len(r.Values)),
		Text:  text,
		Table: []Table{list("factors", "Factors", r.Values, nil)},
		Open:  true,
	}
	var rest []Block
	if len(r.Points) > 0 {
		fit.Title += fmt.Sprintf(
			"; the mean error falls from %s to %s",
			shown("mean_error", *r.Was),
			shown("mean_error", *r.Mean),
		)
		facts = append(facts, fact("mean_error", *r.Mean, nil), fact("rms", *r.RMS, nil))
		fit.How = "On the dashed line prediction and measurement agree. Triangles: before; circles: calibrated."
		fit.Table = append(fit.Table, list("points", "Measured and predicted", r.Points, r.Area))
		measured := of(r.Points, func(p *study.CalPoint) float64 { return p.Measured })
		after := of(r.Points, func(p *study.CalPoint) float64 { return p.After })
		res := of(r.Points, func(p *study.CalPoint) float64 { return p.Residual })
		top, worst := 0.0, 0.0
		for i := range measured {
			top = max(top, measured[i], after[i])
			if max(res[i], -res[i]) > max(worst, -worst) {
				worst = res[i]
			}
		}
		c := newChart("measured", "predicted", nil)
		c.ZeroBased = true
		c.add(plot.Series{Name: "equal", Thin: true, Dash: 1}, []float64{0, top}, []float64{0, top})
		c.add(
			plot.Series{Name: "before", Points: true, Symbol: "triangle"},
			measured,
			of(r.Points, func(p *study.CalPoint) float64 { return p.Before }),
		)
		c.add(plot.Series{Name: "calibrated", Points: true, Symbol: "circle"}, measured, after)
		fit.Chart = c
		var residuals []residualRow
		for _, p := range r.Points {
			residuals = append(residuals, residualRow{p.Block, p.Flow, p.Residual, p.ResidualShare})
		}
		e := newChart("flow", "residual", r.Area)
		e.add(
			plot.Series{Name: "residual", Points: true, Symbol: "circle"},
			of(r.Points, func(p *study.CalPoint) float64 { return p.Flow }),
			res,
		)
		rest = append(
			rest,
			Block{
				ID: "residual-block",
				Title: fmt.Sprintf(
					"The prediction misses by %s rms, by %s at most",
					shown("rms", *r.RMS),
					shown("residual", worst),
				),
				Chart: e,
				Table: []Table{
					list("residuals", "Predicted minus measured", residuals, r.Area),
				},
				How: "Residuals that follow a curve ask for another factor; scattered ones do not.",
			},
		)
	}
	if r.TraceRMS != nil {
		facts = append(facts, fact("trace_rms", *r.TraceRMS, nil))
	}
	for i := range r.Traces {
		rest = append(rest, calTrace(i+1, &r.Traces[i]))
	}
	otherwise := "nothing told"
	if r.Doubtful {
		otherwise = "doubtful"
	}
	return document(&r.Header, yes(r.Good, "calibrated", otherwise), facts, append([]Block{fit}, rest...)...)
}

// calTrace shows one push in time, measured and predicted.
func calTrace(number int, x *study.CalTrace) Block {
	c := newChart("time", "push", nil)
	c.ZeroBased = true
	c.add(plot.Series{Name: "measured", Points: true, Symbol: plot.Circle}, x.Time, x.Measured)
	c.add(plot.Series{Name: "before", Dash: 1}, x.Time, x.Before)
	c.add(plot.Series{Name: "calibrated"}, x.Time, x.After)
	names := []string{"time", "block", "flow", "measured", "before", "calibrated"}
	t := columns(fmt.Sprintf("trace-%d", number), fmt.Sprintf("Trace %d", number), names,
		x.Time, x.Block, x.Flow, x.Measured, x.Before, x.After)
	return Block{
		ID:    fmt.Sprintf("trace-block-%d", number),
		Title: fmt.Sprintf("Trace %d: rms error %s", number, shown("trace_rms", x.RMS)),
		Chart: c,
		Table: []Table{t},
	}
}

// LoadCell lays out the calibration of a load cell.
func LoadCell(r *study.CellResult) *Document {
	back := "not read while unloading"
	if r.Return != nil {
		back = shown("hysteresis_of_span", *r.Return)
	}
	perCount, zero := quantity.Of("per_count"), quantity.Of("zero")
	facts := []Fact{
		{"force of a count", perCount.Page(r.PerCount) + " ± " + shown("per_count_standard_uncertainty", r.UPerCount)},
		{"counts at no load", zero.Number(r.Zero) + " ± " + shown("zero_standard_uncertainty", r.UZero)},
		fact(
			"single_reading",
			r.Resid,
			nil,
		),
		fact("nonlinearity_of_span", r.Straight, nil),
		{"hysteresis, of the span", back},
	}
	tables := []Table{summary("line", "Line of the cell", *r, nil), list("weights", "Dead weights", r.Weights, nil)}
	if d := r.Drift; d != nil {
		tables = append(tables, summary("cell-drift", "Against the calibration before", *d, nil))
		facts = append(facts, fact("sensitivity_change", d.Sensitivity, nil), fact("zero_change", d.Zero, nil))
	}
	c := newChart("force", "read_minus_true", nil)
	c.X = "dead weight, N"
	c.add(
		plot.Series{Name: "while loading", Points: true, Symbol: "circle"},
		of(r.Weights, func(w *study.CellWeight) float64 { return w.Force }),
		of(r.Weights, func(w *study.CellWeight) float64 { return w.Error }),
	)
	return document(
		&r.Header,
		"calibrated",
		facts,
		Block{
			ID: "line-block",
			Title: "The cell is straight to " + shown(
				"nonlinearity_of_span",
				max(r.Straight, -r.Straight),
			) + " of its span",
			Chart: c,
			Table: tables,
			Open:  true,
			How:   "Errors that follow a curve: the cell is not straight, or a weight is not what it says.",
			Text: fmt.Sprintf(
				"To read logs of this cell: keep the line with --write cell.toml, then meltload log file.csv --cell "+
					"cell.toml; or --force-unit counts --newton-per-count %s --zero-count %s",
				perCount.Number(r.PerCount),
				zero.Number(r.Zero),
			),
		},
	)
}
