package report

import (
	"fmt"
	"io"
	"strings"

	"meltload/flow/study"
	"meltload/report/plot"
)

// RankTables lists the tables of a ranking.
func RankTables(r *study.Ranking) []Table {
	t := Table{ID: "ranking", Title: "Ranking by usable flow (= marks a tie)", Columns: []string{"rank", "feeder", "hot end", "usable flow mm3/s", "low", "high", "limited by", "then by", "capability N", "kgf", "mass g", "flow per 100 g", "force per 100 g N", "cost", "flow per cost", "wanted flow"}}
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
			held = map[bool]string{true: "held", false: "not held"}[e.Held]
		}
		t.Rows = append(t.Rows, []string{rank, e.Feeder, e.HotEnd, fix(e.Flow, 1), fix(e.Low, 1), fix(e.High, 1), orNone(e.Limit), orNone(e.Next), num(e.Force, 3), num(e.ForceKGF, 3), blank(e.Mass, 4), blank(e.PerMass, 3), blank(e.ForceG, 3), blank(e.Cost, 4), blank(e.PerCost, 3), held})
	}
	t.Numeric = []bool{true, false, false, true, true, true, false, false, true, true, true, true, true, true, true, false}
	c := Table{ID: "capability", Title: "Capability of the feeders", Columns: []string{"feeder", "flow mm3/s", "force N"}, Numeric: []bool{false, true, true}}
	for _, x := range r.Curves {
		for i := range x.Flow {
			c.Rows = append(c.Rows, []string{x.Feeder, fix(x.Flow[i], 2), num(x.Force[i], 4)})
		}
	}
	return []Table{t, c}
}

// RankText writes a ranking for the terminal.
func RankText(w io.Writer, r *study.Ranking) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "%s\n\n%s\n", r.Title, Wrap(r.Sentence, 88, ""))
	fmt.Fprintf(b, "Duty: %s at %.0f degC", r.Material, r.Block)
	if r.Target > 0 {
		fmt.Fprintf(b, ", wanted %.3g mm3/s", r.Target)
	}
	fmt.Fprintf(b, "; low and high are the 5 and 95 %% points of %d samples, seed %d.\n", r.Samples, r.Seed)
	for _, x := range r.Warnings {
		fmt.Fprintf(b, "%s\n", Wrap(x.Message, 86, "  ! "))
	}
	b.WriteByte('\n')
	TextTable(b, drop(drop(RankTables(r)[0], "flow per cost"), "force per 100 g N"))
	b.WriteString("\nCautions\n")
	for _, c := range r.Cautions {
		fmt.Fprintf(b, "%s\n", Wrap(c, 86, "  - "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// RankPage lays out the report of a ranking.
func RankPage(r *study.Ranking) *Page {
	p := &Page{Title: r.Title, Verdict: r.Sentence, Good: true, Word: "ranked", Warnings: r.Warnings, Cautions: r.Cautions,
		Facts: []Fact{{"duty", fmt.Sprintf("%s at %.0f °C", r.Material, r.Block)}, {"pairs compared", fmt.Sprint(len(r.Entries))}, {"samples, seed", fmt.Sprintf("%d, %d", r.Samples, r.Seed)}}}
	t := RankTables(r)
	names := make([]string, len(r.Entries))
	bars := plot.Bars{Axis: "usable flow, mm³/s", Names: []string{"low", "best", "high"}, Values: make([][]float64, 3), Horizontal: true}
	for i := len(r.Entries) - 1; i >= 0; i-- {
		e := r.Entries[i]
		names[i] = e.Feeder + " on " + e.HotEnd
		bars.Categories = append(bars.Categories, fmt.Sprintf("%d. %s", e.Rank, names[i]))
		for k, x := range []float64{e.Low, e.Flow, e.High} {
			bars.Values[k] = append(bars.Values[k], round4(x))
		}
	}
	p.Blocks = append(p.Blocks, Block{ID: "rank-block", Title: r.Sentence, Chart: bars.Options(), Table: t[:1], Open: true, How: "Three bars a pair: low, best, high. Pairs with one rank cannot be told apart: neither beats the other in 95 % of the samples."})
	over := plot.XY{X: "flow of filament, mm³/s", Y: "force the feeder holds, N", ZeroBased: true}
	for i, c := range r.Curves {
		over.Series = append(over.Series, plot.Series{Name: c.Feeder, X: c.Flow, Y: c.Force, Dash: i, Symbol: "none"})
	}
	p.Blocks = append(p.Blocks, Block{ID: "overlay-block", Title: "What each feeder holds", Chart: over.Options(), Table: t[1:], How: "Capability against flow; dashes tell the curves apart without colour."})
	force := plot.XY{X: "mass of feeder and hot end, g", Y: "capability at the usable flow, N"}
	usable := plot.XY{X: "mass of feeder and hot end, g", Y: "usable flow, mm³/s"}
	syms := []string{"circle", "triangle", "rect", "diamond", "pin", "arrow"}
	heavy := 0
	for i, e := range r.Entries {
		if e.Mass > 0 {
			s := plot.Series{Name: names[i], Points: true, Symbol: syms[i%len(syms)], X: []float64{e.Mass}, Y: []float64{e.Force}}
			force.Series = append(force.Series, s)
			s.Y = []float64{e.Flow}
			usable.Series = append(usable.Series, s)
			heavy++
		}
	}
	if heavy > 0 {
		p.Blocks = append(p.Blocks,
			Block{ID: "force-mass-block", Title: "Force against mass", Chart: force.Options(), How: "Up and to the left is better. Numbers are in the ranking table."},
			Block{ID: "flow-mass-block", Title: "Usable flow against mass", Chart: usable.Options(), How: "Up and to the left is better. Numbers are in the ranking table."})
	}
	p.Repro = []Fact{{"program", "meltload " + r.Version}, {"command", strings.Join(r.Command, " ")}, {"cases", strings.Join(r.Files, ", ")}, {"samples, seed", fmt.Sprintf("%d, %d", r.Samples, r.Seed)}}
	return p
}
