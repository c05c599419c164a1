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

// forceMassRow sets the force of a pair against its mass.
type forceMassRow struct {
	Pair   string   `q:"pair"`
	Mass   *float64 `q:"mass"`
	Force  float64  `q:"capability"`
	ForceG *float64 `q:"force_per_100_g"`
}

// flowMassRow sets the usable flow of a pair against its mass.
type flowMassRow struct {
	Pair    string   `q:"pair"`
	Mass    *float64 `q:"mass"`
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
	c := newRanges("usable_flow", r.Area, plot.RangePoints{Name: "low (5 %)", Symbol: plot.Triangle}, plot.RangePoints{Name: "best", Symbol: plot.Circle}, plot.RangePoints{Name: "high (95 %)", Symbol: plot.Square})
	for i := len(r.Entries) - 1; i >= 0; i-- {
		e := &r.Entries[i]
		c.row(fmt.Sprintf("%d. %s", e.Rank, pair(e)), e.Low, e.Flow, e.High)
	}
	if r.Target != nil {
		c.mark(*r.Target, "wanted "+quantity.Of("target_flow").Number(*r.Target))
	}
	title := fmt.Sprintf("%s comes first with %s", pair(&r.Entries[0]), shown("usable_flow", r.Entries[0].Flow))
	if r.Entries[0].Tied {
		title = "The first pairs cannot be told apart"
	}
	blocks := []Block{{ID: "rank-block", Title: title, Chart: c, Table: []Table{list("ranking", "Ranking by usable flow", r.Entries, r.Area)}, Open: true,
		How: "Low, best and high of each pair. Pairs of one rank cannot be told apart: neither beats the other in 95 % of the samples."}}
	over := newChart("flow", "capability", r.Area)
	over.ZeroBased = true
	var capability []capabilityRow
	for i, c := range r.Curves {
		over.add(plot.Series{Name: c.Feeder, Dash: i}, c.Flow, c.Force)
		for k := range c.Flow {
			capability = append(capability, capabilityRow{c.Feeder, c.Flow[k], c.Force[k]})
		}
	}
	blocks = append(blocks, Block{ID: "overlay-block", Title: "Force each feeder holds against flow", Chart: over, Table: []Table{long(list("capability", "Force the feeders hold", capability, r.Area))}, How: "Dashes tell the curves apart without colour."})
	blocks = append(blocks, massBlocks(r, pair)...)
	return document(&r.Header, "ranked", facts, blocks...)
}

// massBlocks set force and flow against mass, where the masses are given.
func massBlocks(r *study.Ranking, pair func(*study.Entry) string) []Block {
	var forces []forceMassRow
	var flows []flowMassRow
	var byForce, byFlow *study.Entry
	force, usable := newChart("mass", "capability", nil), newChart("mass", "usable_flow", r.Area)
	for i := range r.Entries {
		e := &r.Entries[i]
		if e.Mass == nil {
			continue
		}
		forces, flows = append(forces, forceMassRow{pair(e), e.Mass, e.Force, e.ForceG}), append(flows, flowMassRow{pair(e), e.Mass, e.Flow, e.PerMass})
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
	if forces == nil {
		return nil
	}
	per := func(name string, x *float64) string { return quantity.Of(name).Page(*x) + " per 100 g" }
	return []Block{
		{ID: "force-mass-block", Title: fmt.Sprintf("Most force for its mass: %s, %s", pair(byForce), per("force_per_100_g", byForce.ForceG)), Chart: force,
			Table: []Table{long(list("force-mass", "Force and mass", forces, nil))}, How: "Up and to the left is better."},
		{ID: "flow-mass-block", Title: fmt.Sprintf("Most flow for its mass: %s, %s", pair(byFlow), per("flow_per_100_g", byFlow.PerMass)), Chart: usable, Table: []Table{long(list("flow-mass", "Flow and mass", flows, r.Area))}, How: "Up and to the left is better."},
	}
}
