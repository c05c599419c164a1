package study

import (
	"fmt"
	"math"
	"strings"

	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/quantity"
)

// CompareResult is two feeders side by side, by what was measured of each.
type CompareResult struct {
	Header
	First      string       `json:"first"`
	Second     string       `json:"second"`
	Confidence float64      `q:"share"`
	Rows       []CompareRow `json:"rows"`
}

// CompareRow is the comparison at one flow.
type CompareRow struct {
	Flow        *float64 `q:"flow"`
	First       float64  `q:"first_force"`
	FirstSD     *float64 `q:"first_sd"`
	FirstTests  int      `q:"first_tests"`
	Second      float64  `q:"second_force"`
	SecondSD    *float64 `q:"second_sd"`
	SecondTests int      `q:"second_tests"`
	Delta       float64  `q:"difference"`
	Half        *float64 `q:"half_width"`
	Share       float64  `q:"difference_share"`
	P           *float64 `q:"p_value"`
	Verdict     string   `q:"comparison"`
	Why         string   `q:"note"`
}

// Measured is what is known of one side of a comparison: points with their scatter, by flow.
type Measured struct {
	Name   string
	Flows  []float64 // m3/s, 0 where not named
	Points []loadcell.Sample
}

// MeasuredOf gathers the points of logs; all series together.
func MeasuredOf(name string, r *LogResult) Measured {
	m := Measured{Name: name}
	for _, p := range r.Points {
		m.Flows = append(m.Flows, quantity.Or(p.Flow, 0))
		m.Points = append(m.Points, loadcell.Sample{Mean: p.Force, SD: quantity.Or(p.SD, 0), N: p.Repeats,
			Cause: feeder.Cause(p.Cause)})
	}
	return m
}

// MeasuredFeeder gathers the points of a feeder; area is the filament's cross-section, m2.
func MeasuredFeeder(name string, f *feeder.Feeder, area float64) Measured {
	m := Measured{Name: name}
	for _, p := range f.Points {
		m.Flows = append(m.Flows, p.Speed*area)
		m.Points = append(m.Points, loadcell.Sample{Mean: p.Force, SD: p.SD, N: max(1, p.Repeats), Cause: p.Cause})
	}
	return m
}

// Compare lays two sides over each other at the flows that both know (within 2 %). Errors: none in common.
func Compare(a, b Measured, confidence float64) (*CompareResult, error) {
	out := &CompareResult{Header: Header{Version: Version, Title: "Comparison: " + a.Name + " and " + b.Name,
		Cautions: Cautions, Good: true},
		First: a.Name, Second: b.Name, Confidence: confidence}
	const same = 0.02
	var say []string
	for i, q := range a.Flows {
		for j, p := range b.Flows {
			if math.Abs(q-p) > same*q {
				continue
			}
			x, y := a.Points[i], b.Points[j]
			d := loadcell.Compare(x, y, confidence)
			known := !math.IsInf(d.Half, 0)
			row := CompareRow{Flow: quantity.KnownIf(q > 0, q), First: x.Mean, FirstSD: quantity.KnownIf(x.N > 1, x.SD),
				FirstTests: x.N, Second: y.Mean,
				SecondSD: quantity.KnownIf(y.N > 1, y.SD), SecondTests: y.N, Delta: d.Delta,
				Half: quantity.KnownIf(true, d.Half), Share: d.Delta / x.Mean,
				P: quantity.KnownIf(known, d.P), Verdict: string(d.Verdict), Why: d.Why}
			if x.Cause != y.Cause {
				row.Why = strings.TrimPrefix(row.Why+fmt.Sprintf("; the first fails by %s, the second by %s", x.Cause,
					y.Cause), "; ")
			}
			out.Rows = append(out.Rows, row)
			at := "at a flow not named"
			if q > 0 {
				at = "at " + quantity.Text("target_flow", q)
			}
			s := fmt.Sprintf("%s %s: %s", at, row.Verdict, quantity.Text("difference", d.Delta))
			if known {
				s += " ± " + quantity.Text("half_width", d.Half)
			}
			say = append(say, s)
			break
		}
	}
	if len(out.Rows) == 0 {
		return nil, fmt.Errorf("%s and %s share no flow: the first has %s, the second %s", a.Name, b.Name, flowsOf(a),
			flowsOf(b))
	}
	out.Sentence = fmt.Sprintf("%s against %s: %s (%.0f %% intervals, Welch's t).", b.Name, a.Name,
		strings.Join(say, "; "), 100*confidence)
	return out, nil
}

func flowsOf(m Measured) string {
	var s []string
	for _, q := range m.Flows {
		if q > 0 {
			s = append(s, quantity.Text("target_flow", q))
		} else {
			s = append(s, "one without a flow (name it with --flows)")
		}
	}
	if s == nil {
		return "no failure"
	}
	return strings.Join(s, ", ")
}
