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
	Speed  float64 `q:"test_speed"`
	Force  float64 `q:"capability"`
}

// Rank lays out a ranking: the force that feeders hold first, then the usable flow of pairs.
func Rank(r *study.Ranking) *Document {
	var facts []Fact
	if r.Duty != "" {
		duty := r.Duty
		if r.Block != nil {
			duty += " at " + shown("best_block", *r.Block)
		}
		facts = append(facts, Fact{"duty", duty})
	}
	if n := len(r.Curves); n > 0 {
		facts = append(facts, Fact{"feeders compared", fmt.Sprint(n)})
	}
	if n := len(r.Entries); n > 0 {
		facts = append(facts, Fact{"pairs compared", fmt.Sprint(n)})
	}
	facts = append(facts, Fact{"sorted by", r.By})
	if r.Target != nil {
		facts = append(facts, fact("target_flow", *r.Target, r.Area))
	}
	blocks := []Block{forceBlock(r), overlayBlock(r)}
	if len(r.Entries) > 0 {
		blocks = append(append(blocks, pairBlock(r)), massBlocks(r)...)
	}
	return document(&r.Header, "ranked", facts, blocks...)
}

// forceBlock is what the feeders hold at the stated speeds.
func forceBlock(r *study.Ranking) Block {
	b := Block{ID: "force-block", Title: "Force each feeder holds, without any hot end", Open: true,
		How: "Feeders whose 95 % intervals overlap share a rank. The force is that at the feeder; “from” says " +
			"whether it was measured at this speed. Click a heading to sort by it."}
	for i := range r.Forces {
		t := list(fmt.Sprintf("force-%d", i+1), "Force at "+shown("test_speed", r.Forces[i].Speed)+" of filament",
			r.Forces[i].Rows, nil)
		t.Sort = true
		b.Table = append(b.Table, t)
	}
	return b
}

// overlayBlock is what the feeders hold against speed.
func overlayBlock(r *study.Ranking) Block {
	over := newChart("test_speed", "capability", nil)
	over.ZeroBased = true
	var capability []capabilityRow
	for i, c := range r.Curves {
		over.add(plot.Series{Name: c.Feeder, Dash: i}, c.Speed, c.Force)
		for k := range c.Speed {
			capability = append(capability, capabilityRow{c.Feeder, c.Speed[k], c.Force[k]})
		}
	}
	for i := range r.Forces {
		over.mark(r.Forces[i].Speed, "")
	}
	return Block{ID: "overlay-block", Title: "Force each feeder holds against speed", Chart: over,
		Table: []Table{long(list("capability", "Force the feeders hold against speed", capability, nil))},
		How:   "Vertical lines are the speeds of the tables. Dashes tell the curves apart without colour."}
}

// pairBlock is the usable flow of every pair, in the order of the table.
func pairBlock(r *study.Ranking) Block {
	c := newRanges("usable_flow", r.Area, plot.RangePoints{Name: "low (5 %)", Symbol: plot.Triangle},
		plot.RangePoints{Name: "best", Symbol: plot.Circle}, plot.RangePoints{Name: "high (95 %)", Symbol: plot.Square})
	for i := len(r.Entries) - 1; i >= 0; i-- {
		e := &r.Entries[i]
		c.row(fmt.Sprintf("%d. %s", e.Rank, e.Pair), e.Low, e.Flow, e.High)
	}
	if r.Target != nil {
		c.mark(*r.Target, "wanted "+quantity.Of("target_flow").Number(*r.Target))
	}
	t := list("ranking", "Usable flow of each pair", r.Entries, r.Area)
	t.Sort = true
	return Block{ID: "rank-block", Title: "Usable flow of each feeder on each hot end", Chart: c,
		Table: []Table{t}, Open: true,
		How: "Pairs of one rank cannot be told apart: neither beats the other in 95 % of the samples. Low and high " +
			"are the likely range. Click a heading to sort by it."}
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

// massBlocks set force and flow against mass, where the masses are given.
func massBlocks(r *study.Ranking) []Block {
	var forces []forceMassRow
	var flows []flowMassRow
	var byForce, byFlow *study.Entry
	force, usable := newChart("mass", "capability", nil), newChart("mass", "usable_flow", r.Area)
	for i := range r.Entries {
		e := &r.Entries[i]
		if e.Mass == nil {
			continue
		}
		forces = append(forces, forceMassRow{e.Pair, e.Mass, e.Force, e.ForceG})
		flows = append(flows, flowMassRow{e.Pair, e.Mass, e.Flow, e.PerMass})
		s := plot.Series{Name: e.Pair, Points: true, Symbol: symbol(i)}
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
	block := func(id, title string, c *chart, t Table) Block {
		t.Sort = true
		return Block{ID: id + "-block", Title: title, Chart: c, Table: []Table{long(t)},
			How: "Up and to the left is better."}
	}
	most := "Most "
	if len(forces) == 1 { // none to compare with
		most = "The only pair with a mass, "
	}
	return []Block{
		block("force-mass", upper(most+fmt.Sprintf("force at its usable flow for the mass of the pair: %s, %s",
			byForce.Pair, per("force_per_100_g", byForce.ForceG))), force, list("force-mass", "Force and "+
			"mass", forces, nil)),
		block("flow-mass", upper(most+fmt.Sprintf("flow for the mass of the pair: %s, %s",
			byFlow.Pair, per("flow_per_100_g", byFlow.PerMass))), usable, list("flow-mass", "Flow and "+
			"mass", flows, r.Area)),
	}
}
