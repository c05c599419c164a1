package report

import (
	"fmt"

	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report/plot"
)

// rankTables are the ranking and the capability of its feeders.
func rankTables(r *study.Ranking) (ranking, capability Table) {
	t := Table{ID: "ranking", Title: "Ranking by usable flow (= marks a tie)", Wide: []string{"speed mm/s", "force per 100 g N", "flow per cost"}, Columns: []string{"rank", "feeder", "hot end", "usable flow mm3/s", "speed mm/s", "low", "high", "limited by", "then by", "capability N", "kgf", "mass g", "flow per 100 g", "force per 100 g N", "cost", "flow per cost", "wanted flow"}}
	blank := func(x float64, d int) string {
		if x == 0 {
			return "–"
		}
		return num(x, d)
	}
	for _, e := range r.Entries {
		rank := fmt.Sprint(e.Rank)
		if e.Tied {
			rank += " ="
		}
		held := "–"
		if r.Target > 0 {
			held = yes(e.Held, "held", "not held")
		}
		t.Rows = append(t.Rows, []string{rank, e.Feeder, e.HotEnd, fix(e.Flow, 1), fix(e.Flow*r.Speed, 2), fix(e.Low, 1), fix(e.High, 1), orNone(e.Limit), orNone(e.Next), num(e.Force, 3), num(e.ForceKGF, 3), blank(e.Mass, 4), blank(e.PerMass, 3), blank(e.ForceG, 3), blank(e.Cost, 4), blank(e.PerCost, 3), held})
	}
	t.Numeric = []bool{true, false, false, true, true, true, true, false, false, true, true, true, true, true, true, true, false}
	c := Table{ID: "capability", Title: "Capability of the feeders", Columns: []string{"feeder", "flow mm3/s", "speed mm/s", "force N", "force kgf"}, Numeric: []bool{false, true, true, true, true}, Long: true}
	for _, x := range r.Curves {
		for i := range x.Flow {
			c.Rows = append(c.Rows, []string{x.Feeder, fix(x.Flow[i], 2), fix(x.Flow[i]*r.Speed, 2), num(x.Force[i], 4), num(x.Force[i]/unit.KGF, 3)})
		}
	}
	return t, c
}

// Rank lays out a ranking.
func Rank(r *study.Ranking) *Document {
	facts := []Fact{{"duty", fmt.Sprintf("%s at %.0f °C", r.Duty, r.Block)}, {"pairs compared", fmt.Sprint(len(r.Entries))}}
	if r.Target > 0 {
		facts = append(facts, Fact{"wanted flow", fmt.Sprintf("%.3g mm³/s", r.Target)})
	}
	ranking, capability := rankTables(r)
	names := make([]string, len(r.Entries))
	bars := plot.Bars{Axis: "usable flow, mm³/s", Also: &plot.Also{Unit: "mm/s of filament", By: r.Speed}, Names: []string{"low", "best", "high"}, Values: make([][]float64, 3), Horizontal: true}
	for i := len(r.Entries) - 1; i >= 0; i-- {
		e := r.Entries[i]
		names[i] = e.Feeder + " on " + e.HotEnd
		bars.Categories = append(bars.Categories, fmt.Sprintf("%d. %s", e.Rank, names[i]))
		for k, x := range []float64{e.Low, e.Flow, e.High} {
			bars.Values[k] = append(bars.Values[k], round4(x))
		}
	}
	title := fmt.Sprintf("%s is ahead with %.1f mm³/s", names[0], r.Entries[0].Flow)
	if r.Entries[0].Tied {
		title = "The leaders cannot be told apart"
	}
	blocks := []Block{{ID: "rank-block", Title: title, Chart: bars.Options(), Table: []Table{ranking}, Open: true, How: "Three bars a pair: low, best, high. Pairs with one rank cannot be told apart: neither beats the other in 95 % of the samples."}}
	over := plot.XY{ZeroBased: true}
	flowAxis(&over, "flow of filament", r.Speed)
	forceAxis(&over, "force the feeder holds")
	strong, most := "", 0.0
	for i, c := range r.Curves {
		if f := c.Force[len(c.Force)/2]; f > most {
			strong, most = c.Feeder, f
		}
		over.Series = append(over.Series, plot.Series{Name: c.Feeder, X: c.Flow, Y: c.Force, Dash: i, Symbol: "none"})
	}
	blocks = append(blocks, Block{ID: "overlay-block", Title: strong + " holds the most force", Chart: over.Options(), Table: []Table{capability}, How: "Capability against flow; dashes tell the curves apart without colour."})
	force := plot.XY{X: "mass of feeder and hot end, g"}
	forceAxis(&force, "capability at the usable flow")
	usable := plot.XY{X: "mass of feeder and hot end, g", Y: "usable flow, mm³/s", AlsoY: &plot.Also{Unit: "mm/s of filament", By: r.Speed}}
	syms := []string{"circle", "triangle", "rect", "diamond", "pin", "arrow"}
	var byForce, byFlow study.Entry
	masses := Table{ID: "force-mass", Title: "Force and mass", Columns: []string{"pair", "mass g", "capability N", "kgf", "force per 100 g N"}, Numeric: append([]bool{false}, all(4)...), Long: true}
	flows := Table{ID: "flow-mass", Title: "Flow and mass", Columns: []string{"pair", "mass g", "usable flow mm3/s", "speed mm/s", "flow per 100 g"}, Numeric: append([]bool{false}, all(4)...), Long: true}
	for i, e := range r.Entries {
		if e.Mass > 0 {
			s := plot.Series{Name: names[i], Points: true, Symbol: syms[i%len(syms)], X: []float64{e.Mass}, Y: []float64{e.Force}}
			force.Series = append(force.Series, s)
			s.Y = []float64{e.Flow}
			usable.Series = append(usable.Series, s)
			masses.Rows = append(masses.Rows, []string{names[i], num(e.Mass, 4), num(e.Force, 3), num(e.ForceKGF, 3), num(e.ForceG, 3)})
			flows.Rows = append(flows.Rows, []string{names[i], num(e.Mass, 4), fix(e.Flow, 1), fix(e.Flow*r.Speed, 2), num(e.PerMass, 3)})
			if e.ForceG > byForce.ForceG {
				byForce = e
			}
			if e.PerMass > byFlow.PerMass {
				byFlow = e
			}
		}
	}
	if byForce.Mass > 0 {
		blocks = append(blocks,
			Block{ID: "force-mass-block", Title: fmt.Sprintf("%s on %s gives the most force for its mass: %.3g N per 100 g", byForce.Feeder, byForce.HotEnd, byForce.ForceG), Chart: force.Options(), Table: []Table{masses}, How: "Up and to the left is better."},
			Block{ID: "flow-mass-block", Title: fmt.Sprintf("%s on %s gives the most flow for its mass: %.3g mm³/s per 100 g", byFlow.Feeder, byFlow.HotEnd, byFlow.PerMass), Chart: usable.Options(), Table: []Table{flows}, How: "Up and to the left is better."})
	}
	return document(&r.Header, "ranked", facts, blocks...)
}
