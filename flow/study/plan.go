package study

import (
	"context"
	"fmt"
	"math"

	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/materials"
)

// PlanResult is a bench plan in SI.
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
	out.add(materials.Together(p.Found, "settings")...)
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
	holds := math.Inf(1)
	for _, s := range p.Spans {
		out.Spans = append(out.Spans, PlanSpan{Flow: s.Flow, Least: s.Least, Most: s.Most, Settling: s.Settling,
			Reaches: s.Reaches, Advice: s.Advice})
		holds = math.Min(holds, c.Feeder.At(s.Flow/c.Area()).Force)
	}
	if holds > 0 && holds < math.Inf(1) {
		out.Uses = append(out.Uses, Use{"what the feeder holds", w.High / holds,
			"high end of the wanted force over the least that the feeder holds at the flows of the plan"})
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
