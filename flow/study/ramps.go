package study

import (
	"context"
	"fmt"
	"math"
	"strings"

	"meltload/flow/benchplan"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
)

// RampResult is a plan of ramps to failure.
type RampResult struct {
	Header
	Repeats  int         `q:"repeats"`
	Scatter  float64     `q:"scatter"` // of single failures, that the repeats count with
	Measured bool        `                   json:"scatter_from_the_feeder"`
	Highest  float64     `q:"highest_force"` // with what is not known at its ends
	Cell     float64     `q:"cell_needed"`
	Stop     float64     `q:"stop_force"`
	StopWhy  string      `                   json:"stop_because_of"`
	Filament float64     `q:"filament_total"`
	Duration float64     `q:"duration"`
	Ramps    []RampRow   `                   json:"ramps"`
	Checks   []PlanCheck `                   json:"checks"`
	Traces   []RampTrace `                   json:"predicted_traces"`
	Ending   string      `                   json:"ending"`
}

// RampRow is one feed. What does not come to pass is nil: a feeder that holds to the end.
type RampRow struct {
	Flow       float64  `q:"flow"`
	Start      float64  `q:"ramp_start"`
	Soak       float64  `q:"soak"`
	Settle     float64  `q:"feed_before"`
	StartForce float64  `q:"start_force"`
	Force      float64  `q:"fail_force"`
	ForceLow   float64  `q:"fail_force_low"`
	ForceHigh  float64  `q:"fail_force_high"`
	Cause      string   `q:"cause"`
	Time       *float64 `q:"fail_time"`
	TimeEarly  *float64 `q:"fail_time_early"`
	TimeLate   *float64 `q:"fail_time_late"`
	Block      *float64 `q:"fail_block"`
	BlockEarly *float64 `q:"fail_block_early"`
	BlockLate  *float64 `q:"fail_block_late"`
	Filament   float64  `q:"filament_length"` // of one ramp
	Note       string   `q:"note"             show:"wide"`
}

// RampTrace is a ramp played with one set of assumptions.
type RampTrace struct {
	Flow   float64     `q:"flow"`
	What   string      `         json:"what"`
	Points []RampPoint `         json:"points"`
}

// RampPoint is one time; 0 is when the heater goes off.
type RampPoint struct {
	What  string  `q:"what"`
	Time  float64 `q:"time"`
	Force float64 `q:"push"`
	Block float64 `q:"block"`
}

// MakeRamps plans ramps to failure on a case. What is not known of the load comes from assess.Corners, of the feeder
// from its scatter.
func MakeRamps(ctx context.Context, c *setup.Setup, w benchplan.RampWish) (*RampResult, error) {
	p, err := benchplan.Ramps(ctx, c, w)
	if err != nil {
		return nil, err
	}
	out := &RampResult{Header: headerOf(c, "Ramps to failure: "+c.Title), Repeats: p.Repeats, Scatter: p.Scatter,
		Measured: p.Measured,
		Highest:  p.Highest, Cell: p.Cell, Stop: p.Stop, StopWhy: p.StopWhy, Filament: p.Filament, Duration: p.Time,
		Ending: p.Ending}
	out.add(materials.Together(p.Found, "ramps")...)
	for _, x := range p.Ramps {
		at := func(t benchplan.RampTrace) (time, block *float64) {
			// A failure while the block is still held is one at the start of the ramp; a note says when.
			return quantity.KnownIf(t.Failed, math.Max(0, t.At)), quantity.KnownIf(t.Failed, t.FailTemp)
		}
		row := RampRow{Flow: x.Flow, Start: x.Start, Soak: x.Soak, Settle: x.Settle, StartForce: x.StartForce,
			Force: x.Hold[1], ForceLow: x.Hold[0],
			ForceHigh: x.Hold[2], Cause: string(x.Cause), Filament: x.Filament, Note: strings.Join(x.Notes, "; ")}
		row.Time, row.Block = at(x.Expected)
		row.TimeEarly, row.BlockEarly = at(x.Early)
		row.TimeLate, row.BlockLate = at(x.Late)
		out.Ramps = append(out.Ramps, row)
		for _, n := range x.Notes {
			out.warn("ramp", "at %s: %s", quantity.Text("flow", x.Flow), n)
		}
		for _, t := range []benchplan.RampTrace{x.Expected, x.Early, x.Late} {
			y := RampTrace{Flow: x.Flow, What: t.What}
			for i := range t.Time {
				y.Points = append(y.Points, RampPoint{t.What, t.Time[i], t.Force[i], t.Block[i]})
			}
			out.Traces = append(out.Traces, y)
		}
	}
	for _, k := range p.Checks {
		out.Checks = append(out.Checks, PlanCheck(k))
	}
	if w.CellMax > 0 {
		out.Uses = append(out.Uses, Use{"load cell", p.Highest / w.CellMax,
			"highest force to be expected over full scale"})
	}
	out.say(len(p.Ramps))
	return out, nil
}

// say writes the sentence.
func (r *RampResult) say(feeds int) {
	var fails []string
	for _, x := range r.Ramps {
		at := quantity.Text("flow", x.Flow)
		if x.Time == nil {
			fails = append(fails, "at "+at+" the feeder is not brought to failure")
			continue
		}
		fails = append(fails, fmt.Sprintf("at %s from %s to failure at %s (%s to %s) after %s, with the block at %s",
			at,
			quantity.Text("ramp_start", x.Start), quantity.Text("fail_force",
				x.Force), quantity.Of("fail_force").Number(x.ForceLow),
			quantity.Of("fail_force").Number(x.ForceHigh), quantity.Text("fail_time",
				*x.Time), quantity.Text("fail_block", *x.Block)))
	}
	r.Sentence = fmt.Sprintf("%d ramps (flows: %d, each %d times) in %s with %s of filament: %s. Stop a run at %s.",
		feeds*r.Repeats, feeds, r.Repeats,
		quantity.Text("duration", r.Duration), quantity.Text("filament_total", r.Filament), strings.Join(fails,
			"; "), quantity.Both("stop_force", r.Stop, 0))
	r.fail(r.Checks)
}

// Unmet counts the checks of the rig that are not met.
func (r *RampResult) Unmet() int { return unmet(r.Checks) }
