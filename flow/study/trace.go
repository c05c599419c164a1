package study

import (
	"context"
	"fmt"
	"math"

	"meltload/flow/assess"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/materials/strict"
)

// TracePoint is one time of a trace, in SI.
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
	out.add(materials.Together(t.Found, "phases")...)
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

// TraceOptions describe a run in time: a soaked start, a feed, and then, if asked, the heater off or the set point
// ramped until the feeder fails.
type TraceOptions struct {
	Flow      float64 // m3/s; 0 for the flow that the case wants
	Feed      float64 // s at constant block temperature
	HeaterOff bool    // after the feed
	Ramp      float64 // K/s, change of the set point after the feed; not with HeaterOff
	Then      float64 // s, longest time of heater off or ramp
	Column    float64 // m, loaded filament between gear and melt, for the elastic lag
}

// phases are the parts of the run.
func (o TraceOptions) phases() []transient.Phase {
	out := []transient.Phase{{Name: "feed", Duration: o.Feed, Flow: o.Flow}}
	switch {
	case o.HeaterOff:
		out = append(out, transient.Phase{Name: "heater off", Duration: o.Then, Flow: o.Flow, Heating: transient.Off})
	case o.Ramp != 0:
		out = append(out, transient.Phase{Name: "ramp", Duration: o.Then, Flow: o.Flow, Heating: transient.Ramp,
			Rate: o.Ramp})
	}
	return out
}

// Trace plays a run in time on a case, as it is and at both ends of what is not known.
// Errors: strict.Problems of options that contradict each other, no flow in options and case, a cancelled context.
func Trace(ctx context.Context, c *setup.Setup, o TraceOptions) (*TraceResult, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if o.Flow == 0 {
		o.Flow = c.Target
	}
	var ps strict.Problems
	bad := func(field, seen, allowed string) {
		ps = append(ps, strict.Problem{Field: field, Seen: seen, Allowed: allowed})
	}
	if !(o.Flow > 0) {
		bad("Flow", fmt.Sprint(o.Flow), "more than 0, or a case with a wanted flow")
	}
	if !(o.Feed > 0) {
		bad("Feed", fmt.Sprint(o.Feed), "more than 0 s")
	}
	if o.HeaterOff && o.Ramp != 0 {
		bad("HeaterOff and Ramp", fmt.Sprint(o.Ramp), "one of them")
	}
	if (o.HeaterOff || o.Ramp != 0) && !(o.Then > 0) {
		bad("Then", fmt.Sprint(o.Then), "more than 0 s")
	}
	if len(ps) > 0 {
		return nil, ps
	}
	return play(ctx, c, o)
}
