package study

import (
	"context"
	"fmt"
	"math"
	"strings"

	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/vary"
)

// CalResult is a calibration in SI.
type CalResult struct {
	Header
	Values   []CalValue `json:"values"`
	Points   []CalPoint `json:"points"`
	Mean     *float64   `                        q:"mean_error"` // nil without points
	Was      *float64   `                        q:"mean_error_before"`
	RMS      *float64   `                        q:"rms"`
	Traces   []CalTrace `json:"traces,omitempty"`
	TraceRMS *float64   `q:"trace_rms"`             // nil without traces
	Next     []string   `json:"next_tests"`         // that would tell most
	Misfit   string     `json:"misfit,omitempty"`   // what the fit does not meet; "" where it meets the measurements
	Doubtful bool       `json:"doubtful,omitempty"` // the forces ask for factors that cannot be meant
	Solves   int        `json:"solves"`
	// Setup is the calibrated set-up, with the doubts that are left.
	Setup *setup.Setup `json:"-"`
	edits []vary.Edit  // of the case file, that carry the calibration
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
	if r.Doubtful {
		return c.Rewritten(r.edits, calibrated+", doubtful: far from what was known before")
	}
	return c.Rewritten(r.edits, calibrated)
}

// tradesOff notes beside two factors that each stands for the other.
func (r *CalResult) tradesOff(a, b string) {
	for i := range r.Values {
		v := &r.Values[i]
		other := b
		if v.Factor == b {
			other = a
		} else if v.Factor != a {
			continue
		}
		if v.Why != "" {
			v.Why += "; "
		}
		v.Why += "trades off with the " + other + ": known together, not each"
	}
}

// calibrated is the remark beside each value that a calibration writes into a case file.
const calibrated = "calibrated"

// CalValue is one factor.
type CalValue struct {
	Factor string  `q:"factor"`
	Unit   string  `q:"unit"`
	Start  float64 `q:"before_value"` // in the unit beside it
	Value  float64 `q:"fitted_value"`
	// Ends of the interval; nil where an end is not finite, as that of a contact without resistance.
	Low   *float64 `q:"low_value"`
	High  *float64 `q:"high_value"`
	Known bool     `q:"known"`
	Why   string   `q:"why"`
}

// interval says both ends; one that is not finite is told in words.
func (v *CalValue) interval() string {
	end := func(x *float64) string {
		if x == nil {
			return "infinite"
		}
		return fmt.Sprintf("%.4g", *x)
	}
	return end(v.Low) + " to " + end(v.High)
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
	out.add(r.Warnings()...)
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
			Value: v.Edge(v.Value), Low: quantity.KnownIf(true, v.Edge(v.Low)),
			High: quantity.KnownIf(true, v.Edge(v.High)), Known: v.Known, Why: v.Why})
	}
	for _, pair := range r.Alike {
		out.tradesOff(pair.First, pair.Second)
	}
	out.Sentence = out.sentence()
	out.Good = out.Known() > 0
	for i := range r.Next {
		out.Next = append(out.Next, r.Next[i].Describe())
	}
	out.Doubtful = r.Doubtful()
	if out.Misfit = r.Misfit(); out.Misfit != "" {
		out.Good = false
		for i := range out.Values {
			out.Values[i].Why = "the fit is refused: it keeps what was known before"
		}
		out.Sentence = "The fit is refused: " + out.Misfit + ". " + out.Sentence
	} else if out.Doubtful {
		out.Good = false
		out.Sentence = "Doubtful, see the warnings: the forces do not fit what was known before. " + out.Sentence
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
		at, was, is := "at the one point", share.Text(*r.Was), share.Text(*r.Mean)
		if n := len(r.Points); n > 1 {
			at = fmt.Sprintf("at the %d points", n)
		}
		if change := "falls from " + was + " to " + is; r.Known() > 0 {
			s = fmt.Sprintf("The mean error %s %s (%s rms).", at, change, quantity.Text("rms", *r.RMS))
		} else {
			s = fmt.Sprintf("The mean error %s is %s (%s rms).", at, is, quantity.Text("rms", *r.RMS))
		}
	}
	if r.TraceRMS != nil {
		s = strings.TrimSpace(s + " The rms error along the traces is " + quantity.Text("trace_rms", *r.TraceRMS) + ".")
	}
	lead := " Fitted:"
	for i := range r.Values {
		if v := &r.Values[i]; v.Known {
			unit := strings.TrimRight(" "+v.Unit, " ")
			s += fmt.Sprintf("%s %s %.4g%s (%s)", lead, v.Factor, v.Value, unit, v.interval())
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
