package report

import (
	"fmt"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// capabilityRow is one point of a feeder's capability.
type capabilityRow struct {
	Feeder string  `q:"feeder"`
	Flow   float64 `q:"flow"`
	Force  float64 `q:"capability"`
}

// massRow sets a pair against its mass.
type massRow struct {
	Pair    string   `q:"pair"`
	Mass    *float64 `q:"mass"`
	Force   float64  `q:"capability"`
	ForceG  *float64 `q:"force_per_100_g"`
	Flow    float64  `q:"usable_flow"`
	PerMass *float64 `q:"flow_per_100_g"`
}

// Rank lays out a ranking.
func Rank(r *study.Ranking) *Document {
	facts := []Fact{{"duty", r.Duty + " at " + shown("best_block", r.Block)}, {"pairs compared", fmt.Sprint(len(r.Entries))}}
	if r.Target != nil {
		facts = append(facts, fact("target_flow", *r.Target, r.Area))
	}
	pair := func(e *study.Entry) string { return e.Feeder + " on " + e.HotEnd }
	c, q := bars("usable_flow", r.Area, "low", "best", "high")
	c.Horizontal = true
	for i := len(r.Entries) - 1; i >= 0; i-- {
		e := &r.Entries[i]
		c.Categories = append(c.Categories, fmt.Sprintf("%d. %s", e.Rank, pair(e)))
		for k, x := range []float64{e.Low, e.Flow, e.High} {
			c.Values[k] = append(c.Values[k], q.Unit.Shown(x))
		}
	}
	title := fmt.Sprintf("%s comes first with %s", pair(&r.Entries[0]), shown("usable_flow", r.Entries[0].Flow))
	if r.Entries[0].Tied {
		title = "The first pairs cannot be told apart"
	}
	blocks := []Block{{ID: "rank-block", Title: title, Chart: c.Options(), Table: []Table{list("ranking", "Ranking by usable flow", r.Entries, r.Area)}, Open: true,
		How: "Low, best and high of each pair. Pairs of one rank cannot be told apart: neither beats the other in 95 % of the samples."}}
	over := newChart("flow", "capability", r.Area)
	over.ZeroBased = true
	var capability []capabilityRow
	for i, c := range r.Curves {
		over.add(plot.Series{Name: c.Feeder, Dash: i, Symbol: "none"}, c.Flow, c.Force)
		for k := range c.Flow {
			capability = append(capability, capabilityRow{c.Feeder, c.Flow[k], c.Force[k]})
		}
	}
	blocks = append(blocks, Block{ID: "overlay-block", Title: "Force each feeder holds against flow", Chart: over.Options(), Table: []Table{long(list("capability", "Force the feeders hold", capability, r.Area))}, How: "Dashes tell the curves apart without colour."})
	blocks = append(blocks, massBlocks(r, pair)...)
	return document(&r.Header, "ranked", facts, blocks...)
}

// massBlocks set force and flow against mass, where the masses are given.
func massBlocks(r *study.Ranking, pair func(*study.Entry) string) []Block {
	var rows []massRow
	var byForce, byFlow *study.Entry
	force, usable := newChart("mass", "capability", nil), newChart("mass", "usable_flow", r.Area)
	for i := range r.Entries {
		e := &r.Entries[i]
		if e.Mass == nil {
			continue
		}
		rows = append(rows, massRow{Pair: pair(e), Mass: e.Mass, Force: e.Force, ForceG: e.ForceG, Flow: e.Flow, PerMass: e.PerMass})
		s := plot.Series{Name: pair(e), Points: true, Symbol: symbol(i)}
		force.add(s, []float64{*e.Mass}, []float64{e.Force})
		usable.add(s, []float64{*e.Mass}, []float64{e.Flow})
		if byForce == nil || *e.ForceG > *byForce.ForceG {
			byForce = e
		}
		if byFlow == nil || *e.PerMass > *byFlow.PerMass {
			byFlow = e
		}
	}
	if rows == nil {
		return nil
	}
	per := func(name string, x *float64) string { return quantity.Of(name).Page(*x) + " per 100 g" }
	return []Block{
		{ID: "force-mass-block", Title: fmt.Sprintf("Most force for its mass: %s, %s", pair(byForce), per("force_per_100_g", byForce.ForceG)), Chart: force.Options(),
			Table: []Table{long(list("mass", "Force, flow and mass", rows, r.Area))}, How: "Up and to the left is better."},
		{ID: "flow-mass-block", Title: fmt.Sprintf("Most flow for its mass: %s, %s", pair(byFlow), per("flow_per_100_g", byFlow.PerMass)), Chart: usable.Options(), How: "Up and to the left is better."},
	}
}
