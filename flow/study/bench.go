package study

import (
	"context"
	"fmt"
	"math"
	"strings"

	"meltload/flow"
	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/loadcell"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/materials/unit"
)

// TracePoint is one time of a trace, in edge units.
type TracePoint struct {
	Time       float64 `json:"time_s"`
	Block      float64 `json:"block_degC"`
	Flow       float64 `json:"flow_mm3_s"`
	Force      float64 `json:"force_N"`
	Steady     float64 `json:"force_without_lag_N"`
	Centre     float64 `json:"centre_at_cone_degC"`
	ExitMix    float64 `json:"exit_mix_degC"`
	Heater     float64 `json:"heater_W"`
	Capability float64 `json:"capability_N"`
	Phase      string  `json:"phase"`
}

// TraceResult is a bench run in time.
type TraceResult struct {
	Header
	Points  []TracePoint `json:"points"`
	Ends    []TraceEnd   `json:"ends"` // with what is not known at its easy and its stiff end
	Failed  bool         `json:"failed"`
	Time    float64      `json:"failure_time_s"`
	Block   float64      `json:"failure_block_degC"`
	Force   float64      `json:"failure_force_N"`
	Cause   string       `json:"failure_cause"`
	Lag     float64      `json:"lag_s"`
	Balance float64      `json:"energy_balance"`
}

// TraceEnd is how the run ends with what is not known at one end.
type TraceEnd struct {
	What   string  `json:"what"`
	Failed bool    `json:"failed"`
	Time   float64 `json:"time_s"`
	Block  float64 `json:"block_degC"`
	Force  float64 `json:"force_N"`
}

func (e *TraceEnd) text() string {
	if e.Failed {
		return fmt.Sprintf("%s, it gives way after %.0f s at %.0f degC", e.What, e.Time, e.Block)
	}
	return fmt.Sprintf("%s, it holds to the end with %.0f N", e.What, e.Force)
}

// Play runs phases on a case, also with what is not known at both its ends.
func Play(ctx context.Context, c *casefile.Case, phases []transient.Phase, column float64) (*TraceResult, error) {
	r := &transient.Run{Case: &c.Case, Feeder: c.Feeder, Block: c.Block, Phases: phases, Column: column, Stop: true}
	t, err := r.Play(ctx)
	if err != nil {
		return nil, err
	}
	out := &TraceResult{Header: sheetOf(c, "Run in time: "+c.Title), Balance: t.Balance}
	out.Points = tracePoints(t, phases)
	out.Lag = t.Lag[0]
	last := out.Points[len(out.Points)-1]
	out.Warnings = materials.AddWarning(out.Warnings, t.Warnings...)
	both := ends(c)
	out.Ends = make([]TraceEnd, len(both))
	if err := each(&both, func(i int, e *end) error {
		r := &transient.Run{Case: &e.Case.Case, Feeder: e.Feeder, Block: e.Block, Phases: phases, Column: column, Stop: true}
		t, err := r.Play(ctx)
		if err != nil {
			return err
		}
		z := t.Samples[len(t.Samples)-1]
		out.Ends[i] = TraceEnd{e.what, t.Failure != nil, z.Time, unit.Celsius(z.Block), z.Force}
		return nil
	}); err != nil {
		return nil, err
	}
	if last.Capability > 0 {
		out.Uses = append(out.Uses, Use{"what the feeder holds", last.Force / last.Capability, "push over capability at the end of the run"})
	}
	if p := c.HotEnd.Block.Power; p > 0 {
		top := 0.0
		for _, x := range out.Points {
			top = math.Max(top, x.Heater)
		}
		out.Uses = append(out.Uses, Use{string(match.Heater), top / p, "most heat drawn over heater power"})
	}
	if f := t.Failure; f != nil {
		out.Good, out.Failed, out.Time, out.Block, out.Force, out.Cause = false, true, f.Time, unit.Celsius(f.Block), f.Force, string(f.Cause)
		out.Sentence = fmt.Sprintf("The feeder gives way (%s) after %.0f s at %.0f N (%.1f kgf), with the block at %.0f degC.", out.Cause, out.Time, out.Force, out.Force/unit.KGF, out.Block)
	} else {
		out.Sentence = fmt.Sprintf("The feeder holds to the end, %.0f s: %.0f N (%.1f kgf) with the block at %.0f degC.", last.Time, last.Force, last.Force/unit.KGF, last.Block)
	}
	out.Sentence += " With what is not known: " + out.Ends[0].text() + "; " + out.Ends[1].text() + "."
	return out, nil
}

func tracePoints(t *transient.Trace, phases []transient.Phase) []TracePoint {
	out := make([]TracePoint, len(t.Samples))
	for i, x := range t.Samples {
		out[i] = TracePoint{x.Time, unit.Celsius(x.Block), x.Flow / unit.MM3, x.Force, x.Steady, unit.Celsius(x.Centre), unit.Celsius(x.ExitMix), x.Heater, x.Capability, phases[x.Phase].Name}
	}
	return out
}

// PlanResult is a bench plan in edge units.
type PlanResult struct {
	Header
	Repeats  int          `json:"repeats"`
	Runs     []PlanRun    `json:"runs"`
	Spans    []PlanSpan   `json:"spans"`
	Checks   []PlanCheck  `json:"checks"`
	Filament float64      `json:"filament_m"`
	Minutes  float64      `json:"minutes"`
	Trace    []TracePoint `json:"predicted_trace"`
	Which    string       `json:"predicted_trace_of"`
	Ending   string       `json:"ending"`
}

// PlanRun is one line of the run sheet.
type PlanRun struct {
	Number   int     `json:"run"`
	Repeat   int     `json:"repeat"`
	Block    float64 `json:"block_degC"`
	Flow     float64 `json:"flow_mm3_s"`
	Speed    float64 `json:"speed_mm_s"`
	Force    float64 `json:"predicted_N"`
	Low      float64 `json:"low_N"`  // with an easy melt and a good wall
	High     float64 `json:"high_N"` // with a stiff melt and a poor wall
	Soak     float64 `json:"soak_s"`
	Purge    float64 `json:"purge_mm3"`
	Hold     float64 `json:"hold_s"`
	Filament float64 `json:"filament_mm"`
}

// PlanSpan is the range of forces at one flow.
type PlanSpan struct {
	Flow     float64 `json:"flow_mm3_s"`
	Least    float64 `json:"least_N"`
	Most     float64 `json:"most_N"`
	Reaches  bool    `json:"reaches"`
	Advice   string  `json:"advice,omitempty"`
	Settling float64 `json:"settling_s"`
}

// PlanCheck is a question about the rig, answered.
type PlanCheck struct {
	Name string `json:"name"`
	OK   bool   `json:"ok"`
	Text string `json:"text"`
}

// MakePlan designs a bench test on a case.
func MakePlan(ctx context.Context, c *casefile.Case, w benchplan.Wish) (*PlanResult, error) {
	p, err := benchplan.New(ctx, &c.Case, c.Feeder, w)
	if err != nil {
		return nil, err
	}
	out := &PlanResult{Header: sheetOf(c, "Bench plan: "+c.Title),
		Repeats: p.Repeats, Filament: p.Filament, Minutes: p.Time / 60, Which: p.TraceText, Ending: p.Ending}
	out.Warnings = materials.AddWarning(out.Warnings, p.Warnings...)
	var top, lowest float64
	var solvers []*march.Solver
	both := ends(c)
	for _, e := range both {
		solvers = append(solvers, march.New(&e.Case.Case, march.Options{}))
	}
	for _, r := range p.Runs {
		x := PlanRun{r.Number, r.Repeat, unit.Celsius(r.Block), r.Flow / unit.MM3, r.Flow / c.Area() / unit.MM, r.Force, 0, 0, r.Soak, r.Purge / unit.MM3, r.Hold, r.Filament / unit.MM}
		for k, f := range []*float64{&x.Low, &x.High} {
			var d flow.Solution
			if err := solvers[k].Solve(r.Block, r.Flow, &d); err != nil {
				return nil, err
			}
			*f = d.Push
		}
		top = math.Max(top, x.High)
		if lowest == 0 || x.Low < lowest {
			lowest = x.Low
		}
		out.Runs = append(out.Runs, x)
	}
	if w.CellMax > 0 {
		out.Uses = append(out.Uses, Use{"load cell", top / w.CellMax, "highest force thinkable over full scale"})
	}
	if k := c.Feeder.At(p.Runs[0].Flow / c.Area()); k.Force > 0 {
		out.Uses = append(out.Uses, Use{"what the feeder holds", w.High / k.Force, "high end of the wanted force over capability at the first flow"})
	}
	for _, s := range p.Spans {
		out.Spans = append(out.Spans, PlanSpan{s.Flow / unit.MM3, s.Least, s.Most, s.Reaches, s.Advice, s.Settling})
	}
	for _, k := range p.Checks {
		out.Checks = append(out.Checks, PlanCheck(k))
	}
	out.Trace = tracePoints(p.Trace, []transient.Phase{{Name: "feed"}})
	out.Sentence = fmt.Sprintf("%d runs in %.0f minutes with %.1f m of filament: %d levels at %d speeds, %d times each.", len(p.Runs), out.Minutes, p.Filament, p.Wish.Levels, len(p.Wish.Flows), p.Repeats)
	out.Sentence += fmt.Sprintf(" With what is not known the forces may lie anywhere from %.0f to %.0f N (%.1f to %.1f kgf).", lowest, top, lowest/unit.KGF, top/unit.KGF)
	if bad := out.Unmet(); bad > 0 {
		out.Good = false
		out.Sentence += fmt.Sprintf(" %d of %d checks of the rig are not met: see them before starting.", bad, len(p.Checks))
	}
	return out, nil
}

// Unmet counts the checks of the rig that are not met.
func (r *PlanResult) Unmet() int {
	n := 0
	for _, k := range r.Checks {
		if !k.OK {
			n++
		}
	}
	return n
}

// LogResult is a log read and analysed, in edge units.
type LogResult struct {
	Header
	Rows   int              `json:"rows"`
	Used   int              `json:"rows_used"`
	Rate   float64          `json:"rate_Hz"`
	Format map[string]any   `json:"format"`
	Faults loadcell.Counted `json:"faults"`
	Shown  []LogRow         `json:"fault_rows"`
	Tare   float64          `json:"tare_N"`
	Noise  float64          `json:"noise_N"`
	Drift  *float64         `json:"drift_N_per_min"`
	Tests  []LogTest        `json:"tests"`
	Groups []LogGroup       `json:"groups"`
	Time   []float64        `json:"-"`
	Force  []float64        `json:"-"`
}

// LogRow is a row that was not plain data.
type LogRow struct {
	Line int    `json:"line"`
	Kind string `json:"kind"`
	Why  string `json:"why"`
	Text string `json:"text,omitempty"`
}

// LogTest is one push.
type LogTest struct {
	Number    int     `json:"test"`
	Start     float64 `json:"start_s"`
	End       float64 `json:"end_s"`
	Flow      float64 `json:"flow_mm3_s"`
	Block     float64 `json:"block_degC"`
	Plateau   float64 `json:"plateau_N"`
	PlateauSE float64 `json:"plateau_standard_error_N"`
	From      float64 `json:"plateau_from_s"`
	To        float64 `json:"plateau_to_s"`
	Peak      float64 `json:"peak_N"`
	PeakKGF   float64 `json:"peak_kgf"`
	PeakTime  float64 `json:"peak_time_s"`
	PeakError float64 `json:"peak_error_N"`
	Cause     string  `json:"cause"`
	Why       string  `json:"why"`
	Ripple    float64 `json:"ripple_N"`
	RippleHz  float64 `json:"ripple_Hz"`
	AliasOf   float64 `json:"alias_of_Hz"`
}

// LogGroup is the repeats at one flow.
type LogGroup struct {
	Flow    float64  `json:"flow_mm3_s"`
	Force   float64  `json:"force_N"`
	KGF     float64  `json:"force_kgf"`
	SD      float64  `json:"sd_N"`
	Half    *float64 `json:"half_width_N"` // nil for a single test
	Repeats int      `json:"repeats"`
	CV      float64  `json:"coefficient_of_variation"`
	Cause   string   `json:"cause"`
}

// ReadLog analyses a log.
func ReadLog(l *loadcell.Log, s loadcell.Settings) (*LogResult, error) {
	a, err := loadcell.Analyse(l, s)
	if err != nil {
		return nil, err
	}
	f := l.Format
	out := &LogResult{Header: Header{Version: Version, Title: "Log " + l.Name, Files: []File{{Name: l.Name}}, Warnings: a.Warnings, Cautions: Cautions, Good: true},
		Rows: l.Rows, Used: len(l.Time), Rate: 1 / l.Step, Faults: l.Faults(), Tare: a.Tare, Noise: a.Noise, Time: l.Time, Force: l.Force,
		Format: map[string]any{"separator": string(f.Separator), "decimal_comma": f.DecimalComma > 0, "time_unit": f.TimeUnit, "force_unit": f.ForceUnit}}
	if a.DriftKnown {
		d := a.Drift * 60
		out.Drift = &d
	}
	for _, k := range []struct {
		kind string
		rows []loadcell.Row
	}{{"not data", l.Junk}, {"repeated", l.Repeated}, {"clock restart", l.Resets}, {"gap", l.Gaps}, {"value kept", l.Held}} {
		for i, r := range k.rows {
			if i == 200 {
				out.Shown = append(out.Shown, LogRow{r.Line, k.kind, fmt.Sprintf("and %d more of this kind from here", len(k.rows)-i), ""})
				break
			}
			out.Shown = append(out.Shown, LogRow{r.Line, k.kind, r.Why, r.Text})
		}
	}
	for i, t := range a.Tests {
		x := LogTest{Number: i + 1, Start: t.Start, End: t.End, Flow: t.Flow / unit.MM3, Peak: t.Peak, PeakKGF: t.Peak / unit.KGF, PeakTime: t.PeakTime, PeakError: t.PeakError,
			Cause: string(t.Cause), Why: t.Why, Ripple: t.Ripple.Amplitude, RippleHz: t.Ripple.Frequency, AliasOf: t.AliasOf}
		if !t.Failed {
			x.Cause = "no failure"
		}
		if t.Block > 0 {
			x.Block = unit.Celsius(t.Block)
		}
		if t.HasPlateau {
			x.Plateau, x.PlateauSE, x.From, x.To = t.Plateau, t.PlateauSE, t.PlateauFrom, t.PlateauTo
		}
		out.Tests = append(out.Tests, x)
	}
	for _, g := range a.Groups {
		x := LogGroup{g.Flow / unit.MM3, g.Force, g.Force / unit.KGF, g.SD, nil, g.N, g.CV, string(g.Cause)}
		if !math.IsInf(g.Half, 0) {
			h := g.Half
			x.Half = &h
		}
		out.Groups = append(out.Groups, x)
	}
	switch len(out.Groups) {
	case 0:
		out.Sentence = tests(len(out.Tests)) + ", without a failure of the feeder."
	default:
		out.Sentence = tests(len(out.Tests)) + ":"
		for _, g := range out.Groups {
			at := "flow not named"
			if g.Flow > 0 {
				at = fmt.Sprintf("%.3g mm3/s", g.Flow)
			}
			out.Sentence += fmt.Sprintf(" %s %.1f N (%.2f kgf) by %s", at, g.Force, g.KGF, g.Cause)
			if g.Half != nil {
				out.Sentence += fmt.Sprintf(", ±%.1f N", *g.Half)
			}
			out.Sentence += ";"
		}
		out.Sentence = out.Sentence[:len(out.Sentence)-1] + "."
	}
	return out, nil
}

// CalResult is a calibration in edge units.
type CalResult struct {
	Header
	Values   []CalValue `json:"values"`
	Points   []CalPoint `json:"points"`
	Mean     float64    `json:"mean_error"`
	Was      float64    `json:"mean_error_before"`
	RMS      float64    `json:"rms_N"`
	Traces   []CalTrace `json:"traces,omitempty"`
	TraceRMS float64    `json:"trace_rms_N,omitempty"`
	Next     string     `json:"next_test,omitempty"`
	Solves   int        `json:"solves"`
}

func tests(n int) string {
	if n == 1 {
		return "1 test"
	}
	return fmt.Sprintf("%d tests", n)
}

// Known counts the factors that the measurements tell.
func (r *CalResult) Known() int {
	n := 0
	for _, v := range r.Values {
		if v.Known {
			n++
		}
	}
	return n
}

// CalValue is one factor.
type CalValue struct {
	Factor string  `json:"factor"`
	Unit   string  `json:"unit"`
	Start  float64 `json:"before"`
	Value  float64 `json:"value"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Known  bool    `json:"known"`
	Why    string  `json:"why,omitempty"`
}

// CalPoint is one steady push, measured and predicted.
type CalPoint struct {
	Block    float64 `json:"block_degC"`
	Flow     float64 `json:"flow_mm3_s"`
	Measured float64 `json:"measured_N"`
	U        float64 `json:"standard_uncertainty_N"`
	Before   float64 `json:"before_N"`
	After    float64 `json:"calibrated_N"`
}

// CalTrace is a push in time, measured and predicted.
type CalTrace struct {
	Time     []float64 `json:"time_s"`
	Block    []float64 `json:"block_degC"`
	Flow     []float64 `json:"flow_mm3_s"`
	Measured []float64 `json:"measured_N"`
	Before   []float64 `json:"before_N"`
	After    []float64 `json:"calibrated_N"`
	U        float64   `json:"standard_uncertainty_N"`
	RMS      float64   `json:"rms_N"`
}

// Calibrate fits factors of a case to steady pushes and to pushes in time.
func Calibrate(ctx context.Context, c *casefile.Case, points []calibrate.Point, traces []calibrate.Trace, factors []calibrate.Factor) (*CalResult, error) {
	r, err := calibrate.Fit(ctx, &c.Case, points, calibrate.Settings{Factors: factors, Traces: traces, Blocks: c.Temps, Flows: [2]float64{math.Max(1e-9, c.Limits.MinFlow), math.Min(25e-9, c.Limits.MaxFlow)}})
	if err != nil {
		return nil, err
	}
	out := &CalResult{Header: sheetOf(c, "Calibration: "+c.Title), Mean: r.Mean, RMS: r.RMS, TraceRMS: r.TraceRMS, Solves: r.Solves}
	out.Warnings = materials.AddWarning(out.Warnings, c.Material.Warnings()...)
	for i, p := range points {
		out.Points = append(out.Points, CalPoint{unit.Celsius(p.Block), p.Flow / unit.MM3, p.Force, p.U, r.Before[i], r.Predicted[i]})
		out.Was += math.Abs(r.Before[i]/p.Force-1) / float64(len(points))
	}
	for _, t := range r.Traces {
		x := CalTrace{U: t.U}
		for i := 1; i < len(t.Time); i++ {
			x.Time, x.Block, x.Flow = append(x.Time, t.Time[i]), append(x.Block, unit.Celsius(t.Block[i])), append(x.Flow, t.Flow[i]/unit.MM3)
			x.Measured, x.Before, x.After = append(x.Measured, t.Force[i]), append(x.Before, t.Before[i]), append(x.After, t.Predicted[i])
			x.RMS += math.Pow(t.Force[i]-t.Predicted[i], 2) / float64(len(t.Time)-1)
		}
		x.RMS = math.Sqrt(x.RMS)
		out.Traces = append(out.Traces, x)
	}
	for _, v := range r.Values {
		out.Values = append(out.Values, CalValue{string(v.Factor), v.Factor.Unit(), v.Start, v.Value, v.Low, v.High, v.Known, v.Why})
	}
	if len(points) > 0 {
		out.Sentence = fmt.Sprintf("The mean error at the %d points falls from %.0f %% to %.1f %% (%.2f N rms).", len(points), 100*out.Was, 100*r.Mean, r.RMS)
	}
	if len(traces) > 0 {
		out.Sentence = strings.TrimSpace(out.Sentence + fmt.Sprintf(" The traces are met to %.2f N rms.", r.TraceRMS))
	}
	lead := " Fitted:"
	for _, v := range out.Values {
		if v.Known {
			out.Sentence += fmt.Sprintf("%s %s %.4g%s (%.4g to %.4g)", lead, v.Factor, v.Value, strings.TrimRight(" "+v.Unit, " "), v.Low, v.High)
			lead = ","
		}
	}
	if strings.HasSuffix(out.Sentence, ")") {
		out.Sentence += "; 95 % intervals."
	}
	if unknown := len(out.Values) - out.Known(); unknown > 0 {
		out.Good = false
		out.Sentence += fmt.Sprintf(" %d of %d factors cannot be told from these measurements: predict between them, not beyond.", unknown, len(r.Values))
	}
	if r.Next != nil {
		out.Next = r.Next.Describe()
	}
	return out, nil
}

// CellResult is the calibration of a load cell by dead weights.
type CellResult struct {
	Header
	PerCount  float64      `json:"newton_per_count"`
	UPerCount float64      `json:"newton_per_count_standard_uncertainty"`
	Zero      float64      `json:"zero_count"`
	UZero     float64      `json:"zero_count_standard_uncertainty"`
	Span      float64      `json:"span_N"`
	Resid     float64      `json:"single_reading_N"`
	UAtSpan   float64      `json:"standard_uncertainty_at_span_N"`
	Straight  float64      `json:"nonlinearity_of_span"`
	Return    *float64     `json:"hysteresis_of_span"` // nil if not read while unloading
	Weights   []CellWeight `json:"weights"`
}

// CellWeight is one dead weight.
type CellWeight struct {
	Mass  float64  `json:"mass_kg"`
	Force float64  `json:"force_N"`
	Up    float64  `json:"up"`
	Down  *float64 `json:"down"`
	Error float64  `json:"read_minus_true_N"` // while loading
}

// CheckCell fits the line of a load cell.
func CheckCell(file string, w []loadcell.Weight, gravity float64) (*CellResult, error) {
	f, err := loadcell.FitCell(w, gravity)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	out := &CellResult{Header: Header{Version: Version, Title: "Load cell " + file, Files: []File{{Name: file}}, Cautions: []string{
		"Secure weights against falling; keep hands and feet out from under them. Do not exceed the rated load of the cell.",
		"Calibrate in the direction and at the place of use, warmed up; the line holds for this cell, amplifier and supply."}, Good: true},
		PerCount: f.PerCount, UPerCount: f.UPerCount, Zero: f.Zero, UZero: f.UZero, Span: f.Span, Resid: f.Resid, UAtSpan: f.UAtSpan, Straight: f.Check.Nonlinearity}
	if f.HasDown {
		h := f.Check.Hysteresis
		out.Return = &h
	}
	for _, x := range w {
		y := CellWeight{Mass: x.Mass, Force: x.Mass * gravity, Up: x.Up, Error: (x.Up-f.Zero)*f.PerCount - x.Mass*gravity}
		if x.HasDown {
			d := x.Down
			y.Down = &d
		}
		out.Weights = append(out.Weights, y)
	}
	out.Sentence = fmt.Sprintf("Force = (counts - %.6g) x %.5g N; a force near %.3g N is read with a standard uncertainty of %.2g N.", f.Zero, f.PerCount, f.Span, f.UAtSpan)
	return out, nil
}
