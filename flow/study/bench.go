package study

import (
	"context"
	"fmt"
	"math"
	"strings"

	"meltload/flow/assess"
	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/loadcell"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/flow/vary"
)

// TracePoint is one time of a trace, in edge units.
type TracePoint struct {
	Time       float64  `q:"time"`
	Block      float64  `q:"block"`
	Flow       float64  `q:"flow"`
	Force      float64  `q:"force"`
	Steady     float64  `q:"force_without_lag"`
	Centre     float64  `q:"centre_at_cone"`
	ExitBulk   float64  `q:"exit_bulk"`
	Heater     float64  `q:"heater"`
	Capability *float64 `q:"capability"` // nil without a feeder
	Phase      string   `q:"phase"`
}

// TraceResult is a bench run in time.
type TraceResult struct {
	Header
	Points []TracePoint `json:"points"`
	Ends   []TraceEnd   `json:"ends"` // as assess.Corners: the lower load first
	// whether the feeder holds to the end, and how sure that is; see package assess
	Judged  string   `              q:"run_verdict"`
	Failed  bool     `              q:"failed"`
	Time    *float64 `              q:"failure_time"` // nil where the feeder holds to the end
	Block   *float64 `              q:"failure_block"`
	Force   *float64 `              q:"failure_force"`
	Cause   string   `              q:"failure_cause"`
	Lag     float64  `              q:"lag"`
	Balance float64  `              q:"energy_balance"`
}

// TraceEnd is how the run ends at one end of what is not known.
type TraceEnd struct {
	What   string  `q:"what"`
	Failed bool    `q:"failed"`
	Time   float64 `q:"time"`
	Block  float64 `q:"block"`
	Force  float64 `q:"force"`
}

func (e *TraceEnd) text() string {
	if e.Failed {
		return fmt.Sprintf("with %s, it fails after %s at %s", e.What, quantity.Text("failure_time", e.Time),
			quantity.Text("failure_block", e.Block))
	}
	return fmt.Sprintf("with %s, it holds to the end at %s", e.What, quantity.Text("failure_force", e.Force))
}

// play runs a trace on a set-up as it stands and at both corners of what is not known.
func play(ctx context.Context, c *setup.Setup, o TraceOptions) (*TraceResult, error) {
	phases := o.phases()
	run := func(s *setup.Setup) (*transient.Trace, error) {
		return (&transient.Run{Case: &s.Case, Feeder: s.Feeder, Block: s.Block, Phases: phases, Column: o.Column,
			Stop: true}).Play(ctx)
	}
	t, err := run(c)
	if err != nil {
		return nil, err
	}
	out := &TraceResult{Header: headerOf(c, "Run in time: "+c.Title), Balance: t.Balance, Lag: t.Lag[0],
		Points: tracePoints(t, phases), Ends: make([]TraceEnd, 2)}
	out.add(t.Warnings...)
	if err := atCorners(c, func(i int, k assess.Corner) error {
		t, err := run(k.Setup)
		if err != nil {
			return err
		}
		z := t.Samples[len(t.Samples)-1]
		out.Ends[i] = TraceEnd{What: k.What, Failed: t.Failure != nil, Time: z.Time, Block: z.Block, Force: z.Force}
		return nil
	}); err != nil {
		return nil, err
	}
	out.uses(c)
	out.verdict(t.Failure)
	return out, nil
}

// uses says how much of the feeder and of the heater the run takes.
func (r *TraceResult) uses(c *setup.Setup) {
	if last := r.Points[len(r.Points)-1]; last.Capability != nil {
		r.Uses = append(r.Uses, Use{"what the feeder holds", last.Force / *last.Capability,
			"push over what the feeder holds, at the end of the run"})
	}
	if p := c.HotEnd.Block.Power; p > 0 {
		top := 0.0
		for _, x := range r.Points {
			top = math.Max(top, x.Heater)
		}
		r.Uses = append(r.Uses, Use{string(match.Heater), top / p, "most heat drawn over heater power"})
	}
}

// verdict says whether the feeder holds to the end, as the set-up stands and at both corners; f is nil where it does.
func (r *TraceResult) verdict(f *transient.Failure) {
	at := func(time, force, block float64) []any {
		return []any{quantity.Text("failure_time", time), quantity.Both("failure_force", force, 0),
			quantity.Text("failure_block", block)}
	}
	v := assess.JudgeEnds(!r.Ends[0].Failed, f == nil, !r.Ends[1].Failed)
	r.Judged, r.Good = string(v), v.Good()
	if f != nil {
		r.Failed, r.Cause = true, string(f.Cause)
		r.Time, r.Block, r.Force = &f.Time, &f.Block, &f.Force
		r.Sentence = "The feeder fails (" + r.Cause + fmt.Sprintf(") after %s at %s, with the block at %s.",
			at(f.Time, f.Force, f.Block)...)
	} else {
		last := r.Points[len(r.Points)-1]
		r.Sentence = fmt.Sprintf("The feeder holds to the end, %s: %s with the block at %s.",
			at(last.Time, last.Force, last.Block)...)
	}
	r.Sentence += fmt.Sprintf(" Whether the feeder holds to the end: %s. Range: %s; %s.", r.Judged, r.Ends[0].text(),
		r.Ends[1].text())
}

func tracePoints(t *transient.Trace, phases []transient.Phase) []TracePoint {
	out := make([]TracePoint, len(t.Samples))
	for i, x := range t.Samples {
		out[i] = TracePoint{
			Time: x.Time, Block: x.Block, Flow: x.Flow, Force: x.Force, Steady: x.Steady, Centre: x.Centre,
			ExitBulk: x.ExitBulk, Heater: x.Heater, Phase: phases[x.Phase].Name,
			Capability: quantity.KnownIf(x.Capability > 0, x.Capability),
		}
	}
	return out
}

// PlanResult is a bench plan in edge units.
type PlanResult struct {
	Header
	Tells    []string     `json:"would_tell"`     // factors that a calibration by these runs would tell
	Leaves   []string     `json:"would_not_tell"` // and those it would not
	Beside   []string     `json:"tests_beside"`   // tests that would tell most beside the runs
	Repeats  int          `                          q:"repeats"`
	Runs     []PlanRun    `json:"runs"`
	Spans    []PlanSpan   `json:"spans"`
	Checks   []PlanCheck  `json:"checks"`
	Filament float64      `                          q:"filament_total"`
	Duration float64      `                          q:"duration"`
	Trace    []TracePoint `json:"predicted_trace"`
	Which    string       `json:"predicted_trace_of"`
	Ending   string       `json:"ending"`
}

// PlanRun is one line of the run sheet.
type PlanRun struct {
	Number   int     `q:"run"`
	Repeat   int     `q:"repeat"`
	Block    float64 `q:"block"`
	Flow     float64 `q:"flow"`
	Force    float64 `q:"predicted"`
	Low      float64 `q:"predicted_low"`
	High     float64 `q:"predicted_high"`
	Soak     float64 `q:"soak"`
	Purge    float64 `q:"purge"`
	Hold     float64 `q:"hold"`
	Filament float64 `q:"filament_length"`
}

// PlanSpan is the range of forces at one flow.
type PlanSpan struct {
	Flow     float64 `q:"flow"`
	Least    float64 `q:"least_force"`
	Most     float64 `q:"most_force"`
	Settling float64 `q:"settling"`
	Reaches  bool    `q:"reaches"`
	Advice   string  `q:"advice"`
}

// PlanCheck is a question about the rig, answered.
type PlanCheck struct {
	Name string `q:"check"`
	OK   bool   `q:"met"`
	Text string `q:"why"`
}

// foresee says what the runs would tell a calibration, and which tests beside them would tell most.
func (r *PlanResult) foresee(c *setup.Setup, p *benchplan.Plan) error {
	var pushes []calibrate.Point
	for _, x := range p.Runs {
		if x.Repeat == 1 {
			pushes = append(pushes, calibrate.Point{Block: x.Block, Flow: x.Flow})
		}
	}
	told, tests, err := calibrate.Foresee(c, pushes, nil)
	if err != nil {
		return err
	}
	for _, v := range told {
		if v.Known {
			r.Tells = append(r.Tells, v.Label)
		} else {
			r.Leaves = append(r.Leaves, v.Label)
		}
	}
	for i := range tests {
		r.Beside = append(r.Beside, tests[i].Describe())
	}
	return nil
}

// MakePlan designs a bench test on a case.
func MakePlan(ctx context.Context, c *setup.Setup, w benchplan.Wish) (*PlanResult, error) {
	p, err := benchplan.New(ctx, c, w)
	if err != nil {
		return nil, err
	}
	out := &PlanResult{Header: headerOf(c, "Bench plan: "+c.Title),
		Repeats: p.Repeats, Filament: p.Filament, Duration: p.Time, Which: p.TraceText, Ending: p.Ending}
	out.add(p.Warnings...)
	top, lowest := 0.0, math.Inf(1)
	for _, r := range p.Runs {
		out.Runs = append(out.Runs, PlanRun{Number: r.Number, Repeat: r.Repeat, Block: r.Block, Flow: r.Flow,
			Force: r.Force, Low: r.Low, High: r.High, Soak: r.Soak, Purge: r.Purge, Hold: r.Hold, Filament: r.Filament})
		top, lowest = math.Max(top, r.High), math.Min(lowest, r.Low)
	}
	if err := out.foresee(c, p); err != nil {
		return nil, err
	}
	if w.CellMax > 0 {
		out.Uses = append(out.Uses, Use{"load cell", top / w.CellMax, "highest predicted force over full scale"})
	}
	if k := c.Feeder.At(p.Runs[0].Flow / c.Area()); k.Force > 0 {
		out.Uses = append(out.Uses, Use{"what the feeder holds", w.High / k.Force,
			"high end of the wanted force over what the feeder holds at the first flow"})
	}
	for _, s := range p.Spans {
		out.Spans = append(out.Spans, PlanSpan{Flow: s.Flow, Least: s.Least, Most: s.Most, Settling: s.Settling,
			Reaches: s.Reaches, Advice: s.Advice})
	}
	for _, k := range p.Checks {
		out.Checks = append(out.Checks, PlanCheck(k))
	}
	out.Trace = tracePoints(p.Trace, []transient.Phase{{Name: "feed"}})
	out.Sentence = fmt.Sprintf("%d runs in %s with %s of filament: %d settings of flow and block temperature, each %d "+
		"times.", len(p.Runs), quantity.Text("duration", out.Duration), quantity.Text("filament_total", p.Filament),
		p.Settings, p.Repeats)
	if n := p.Wish.Levels * len(p.Wish.Flows); p.Settings < n {
		out.Sentence += fmt.Sprintf(" Of the %d levels of force asked for, %d come to the block temperature of "+
			"another.", n,
			n-p.Settings)
	}
	out.Sentence += fmt.Sprintf(" Likely range of the forces: %s to %s.", quantity.Both("predicted", lowest, 0),
		quantity.Both("predicted", top, 0))
	out.fail(out.Checks)
	return out, nil
}

// Unmet counts the checks of the rig that are not met.
func (r *PlanResult) Unmet() int { return unmet(r.Checks) }

// unmet counts the checks that are not met.
func unmet(checks []PlanCheck) int {
	n := 0
	for _, k := range checks {
		if !k.OK {
			n++
		}
	}
	return n
}

// fail marks a plan whose rig does not meet its checks.
func (h *Header) fail(checks []PlanCheck) {
	if bad := unmet(checks); bad > 0 {
		h.Good = false
		h.Sentence += fmt.Sprintf(" Checks of the rig that are not met: %d of %d; see them before starting.", bad,
			len(checks))
	}
}

// CalResult is a calibration in edge units.
type CalResult struct {
	Header
	Values   []CalValue `json:"values"`
	Points   []CalPoint `json:"points"`
	Mean     *float64   `                        q:"mean_error"` // nil without points
	Was      *float64   `                        q:"mean_error_before"`
	RMS      *float64   `                        q:"rms"`
	Traces   []CalTrace `json:"traces,omitempty"`
	TraceRMS *float64   `q:"trace_rms"`           // nil without traces
	Next     []string   `json:"next_tests"`       // that would tell most
	Misfit   string     `json:"misfit,omitempty"` // what the fit does not meet; "" where it meets the measurements
	Solves   int        `json:"solves"`
	// Setup is the calibrated set-up, with the doubts that are left.
	Setup *setup.Setup `json:"-"`
	edits []vary.Edit  // of the case file, that carry the calibration
}

func tests(n int) string {
	if n == 1 {
		return "1 test"
	}
	return fmt.Sprintf("%d tests", n)
}

// Known counts the factors that the measurements tell.
func (r *CalResult) Known() int { return known(r.Values) }

// known counts the values that measurements tell.
func known(values []CalValue) int {
	n := 0
	for _, v := range values {
		if v.Known {
			n++
		}
	}
	return n
}

// CaseText is the text of the case file that the set-up was read from with the calibration written into it: values of
// the factors that are known, and their intervals under [spread]. Errors: a fit that is refused; a text that no longer
// makes a case, as strict.Problems.
func (r *CalResult) CaseText(c *casefile.Case) ([]byte, error) {
	if r.Misfit != "" {
		return nil, fmt.Errorf("the fit is refused, and no case is written: %s; cut what is not melt, or fit other "+
			"factors", r.Misfit)
	}
	return c.Rewritten(r.edits, calibrated)
}

// calibrated is the remark beside each value that a calibration writes into a case file.
const calibrated = "calibrated"

// CalValue is one factor.
type CalValue struct {
	Factor string  `q:"factor"`
	Unit   string  `q:"unit"`
	Start  float64 `q:"before_value"` // in the unit beside it
	Value  float64 `q:"fitted_value"`
	Low    float64 `q:"low_value"`
	High   float64 `q:"high_value"`
	Known  bool    `q:"known"`
	Why    string  `q:"why"`
}

// CalPoint is one steady push, measured and predicted.
type CalPoint struct {
	Block         float64  `q:"block"`
	Flow          float64  `q:"flow"`
	Measured      float64  `q:"measured"`
	U             *float64 `q:"standard_uncertainty"` // nil where it was not given
	Before        float64  `q:"before"`
	After         float64  `q:"calibrated"`
	Residual      float64  `q:"residual"             show:"no"`
	ResidualShare float64  `q:"residual_share"       show:"no"`
}

// CalTrace is a push in time, measured and predicted.
type CalTrace struct {
	Time     []float64 `q:"time"`
	Block    []float64 `q:"block"`
	Flow     []float64 `q:"flow"`
	Measured []float64 `q:"measured"`
	Before   []float64 `q:"before"`
	After    []float64 `q:"calibrated"`
	U        float64   `q:"standard_uncertainty"`
	RMS      float64   `q:"trace_rms"`
}

// Calibrate fits factors of a set-up to steady pushes and, by set.Traces, to pushes in time. Errors: as of
// calibrate.Fit. A fit that does not meet the measurements is no error: Misfit says where.
func Calibrate(ctx context.Context, c *setup.Setup, points []calibrate.Point, set calibrate.Settings) (*CalResult,
	error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	r, err := calibrate.Fit(ctx, c, points, set)
	if err != nil {
		return nil, err
	}
	some := len(points) > 0
	out := &CalResult{Header: headerOf(c, "Calibration: "+c.Title), Solves: r.Solves, Setup: r.Setup, edits: r.Edits(),
		Mean: quantity.KnownIf(some, r.Mean), RMS: quantity.KnownIf(some, r.RMS),
		TraceRMS: quantity.KnownIf(len(set.Traces) > 0, r.TraceRMS)}
	out.add(c.Material.Warnings()...)
	if r.RanOut {
		out.warn("fit-not-settled", "the search for the factors ran out of evaluations before it settled: start it "+
			"again from the case that it writes, or fit fewer factors")
	}
	was := 0.0
	for i, p := range points {
		out.Points = append(out.Points, CalPoint{Block: p.Block, Flow: p.Flow, Measured: p.Force,
			U: quantity.KnownIf(p.U > 0, p.U), Before: r.Before[i], After: r.Predicted[i],
			Residual: r.Predicted[i] - p.Force, ResidualShare: r.Predicted[i]/p.Force - 1})
		was += math.Abs(r.Before[i]/p.Force-1) / float64(len(points))
	}
	out.Was = quantity.KnownIf(some, was)
	for i := range r.Traces {
		out.Traces = append(out.Traces, traceOf(&r.Traces[i]))
	}
	for _, v := range r.Values {
		out.Values = append(out.Values, CalValue{Factor: v.Label, Unit: v.Unit, Start: v.Edge(v.Start),
			Value: v.Edge(v.Value), Low: v.Edge(v.Low), High: v.Edge(v.High), Known: v.Known, Why: v.Why})
	}
	out.Sentence = out.sentence()
	out.Good = out.Known() > 0
	for i := range r.Next {
		out.Next = append(out.Next, r.Next[i].Describe())
	}
	if out.Misfit = r.Misfit(); out.Misfit != "" {
		out.Good = false
		out.Sentence = "The fit is refused: " + out.Misfit + ". " + out.Sentence
	}
	return out, nil
}

// traceOf is a fitted trace as the result has it: without its first row, which has no time step before it.
func traceOf(t *calibrate.Fitted) CalTrace {
	x := CalTrace{
		Time: t.Time[1:], Block: t.Block[1:], Flow: t.Flow[1:],
		Measured: t.Force[1:], Before: t.Before[1:], After: t.Predicted[1:], U: t.U,
	}
	for i := range x.Time {
		x.RMS += math.Pow(x.Measured[i]-x.After[i], 2) / float64(len(x.Time))
	}
	x.RMS = math.Sqrt(x.RMS)
	return x
}

func (r *CalResult) sentence() string {
	s := ""
	if r.Mean != nil {
		share := quantity.Of("mean_error")
		s = fmt.Sprintf("The mean error at the %d points falls from %s to %s (%s rms).",
			len(r.Points), share.Text(*r.Was), share.Text(*r.Mean), quantity.Text("rms", *r.RMS))
	}
	if r.TraceRMS != nil {
		s = strings.TrimSpace(s + " The rms error along the traces is " + quantity.Text("trace_rms", *r.TraceRMS) + ".")
	}
	lead := " Fitted:"
	for _, v := range r.Values {
		if v.Known {
			unit := strings.TrimRight(" "+v.Unit, " ")
			s += fmt.Sprintf("%s %s %.4g%s (%.4g to %.4g)", lead, v.Factor, v.Value, unit, v.Low, v.High)
			lead = ","
		}
	}
	if strings.HasSuffix(s, ")") {
		s += "; 95 % intervals."
	}
	if unknown := len(r.Values) - r.Known(); unknown > 0 {
		s += fmt.Sprintf(" These measurements do not tell %d of %d factors: they keep the range known before.",
			unknown, len(r.Values))
	}
	return s
}

// CellResult is the calibration of a load cell by dead weights.
type CellResult struct {
	Header
	PerCount  float64      `q:"per_count"`
	UPerCount float64      `q:"per_count_standard_uncertainty"`
	Zero      float64      `q:"zero"`
	UZero     float64      `q:"zero_standard_uncertainty"`
	Span      float64      `q:"span"`
	Resid     float64      `q:"single_reading"`
	UAtSpan   float64      `q:"standard_uncertainty_at_span"`
	Straight  float64      `q:"nonlinearity_of_span"`
	Return    *float64     `q:"hysteresis_of_span"` // nil if not read while unloading
	Weights   []CellWeight `                                   json:"weights"`
	// nil without a calibration before
	Drift *CellDrift `                                   json:"against_before"`
	Line  string     `                                   json:"-"` // text of the file of the cell
}

// CellDrift is how a cell changed since the calibration before.
type CellDrift struct {
	Sensitivity  float64 `q:"sensitivity_change"`
	USensitivity float64 `q:"sensitivity_change_u"`
	Zero         float64 `q:"zero_change"`
	UZero        float64 `q:"zero_change_u"`
	AtSpan       float64 `q:"misread_at_span"`
}

// CellWeight is one dead weight.
type CellWeight struct {
	Mass  float64  `q:"weight_mass"`
	Force float64  `q:"force"`
	Up    float64  `q:"up"`
	Down  *float64 `q:"down"`
	Error float64  `q:"read_minus_true"` // while loading
}

// against says how the cell changed since the calibration before.
func (r *CellResult) against(d loadcell.CellDrift) {
	r.Drift = &CellDrift{Sensitivity: d.Sensitivity, USensitivity: d.USensitivity, Zero: d.Zero, UZero: d.UZero,
		AtSpan: d.AtSpan}
	moved := "neither moved beyond chance"
	switch {
	case d.SensitivityMoved && d.ZeroMoved:
		moved = "both moved"
	case d.SensitivityMoved:
		moved = "the force of a count moved"
	case d.ZeroMoved:
		moved = "the zero moved"
	}
	r.Sentence += fmt.Sprintf(" Against the calibration before, the force of a count changed by %+.2f %% ± %.2f and "+
		"the zero by %+.2f N ± %.2f (standard uncertainties): %s.", 100*d.Sensitivity, 100*d.USensitivity, d.Zero,
		d.UZero, moved)
	if d.SensitivityMoved {
		r.warn("cell-drift", "with the line before, a force of %.3g N is misread by %+.2g N: look at mounting, "+
			"temperature and supply, and read earlier logs with care", r.Span, d.AtSpan)
	}
}

// CheckCell fits the line of a load cell, and compares it with the calibration before, if there is one.
func CheckCell(file string, w []loadcell.Weight, gravity float64, before *loadcell.CellLine) (*CellResult, error) {
	f, err := loadcell.FitCell(w, gravity)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	out := &CellResult{
		Header: Header{Version: Version, Title: "Load cell " + file, Files: []File{{Name: file}}, Cautions: []string{
			"Secure weights against falling; keep hands and feet out from under them. Do not exceed the rated load " +
				"of the cell.",
			"Calibrate in the direction and at the place of use, warmed up; the line holds for this cell, amplifier " +
				"and supply."}, Good: true},
		PerCount: f.PerCount, UPerCount: f.UPerCount, Zero: f.Zero, UZero: f.UZero, Span: f.Span, Resid: f.Resid,
		UAtSpan: f.UAtSpan, Straight: f.Check.Nonlinearity,
	}
	if f.HasDown {
		h := f.Check.Hysteresis
		out.Return = &h
	}
	for _, x := range w {
		y := CellWeight{Mass: x.Mass, Force: x.Mass * gravity, Up: x.Up,
			Error: (x.Up-f.Zero)*f.PerCount - x.Mass*gravity}
		if x.HasDown {
			d := x.Down
			y.Down = &d
		}
		out.Weights = append(out.Weights, y)
	}
	out.Sentence = fmt.Sprintf("Force = (counts - %.6g) x %.5g N; a force near %.3g N is read with a standard "+
		"uncertainty of %.2g N.", f.Zero, f.PerCount, f.Span, f.UAtSpan)
	line := f.Line(file, gravity)
	out.Line = line.TOML()
	if before != nil {
		out.against(loadcell.DriftOf(*before, line))
	}
	return out, nil
}
