package report

import (
	"fmt"

	"meltload/flow/study"
	"meltload/report/plot"
)

// mostDrawn is how many cases a chart still tells apart.
const mostDrawn = 60

// Many lays out the answers for many cases: one table to sort, and a chart of the usable flows where they are not too
// many to be told apart.
func Many(r *study.Briefs) *Document {
	b := Block{ID: "cases-block", Title: "Usable flow of each case", Open: true,
		How: "Low and high are the likely range. Click a heading to sort by it."}
	t := list("cases", "Usable flow of each case", r.Cases, nil)
	t.Sort = true
	b.Table = []Table{t}
	c := newRanges("usable_flow", nil, plot.RangePoints{Name: "low (5 %)", Symbol: plot.Triangle},
		plot.RangePoints{Name: "best", Symbol: plot.Circle}, plot.RangePoints{Name: "high (95 %)", Symbol: plot.Square})
	drawn := 0
	for i := len(r.Cases) - 1; i >= 0; i-- {
		x := &r.Cases[i]
		if x.Low != nil && x.High != nil {
			c.row(x.Case, *x.Low, *x.Usable, *x.High)
			drawn++
		}
	}
	if drawn > 0 && drawn <= mostDrawn {
		b.Chart = c
	}
	return document(&r.Header, "assessed", []Fact{{"cases", fmt.Sprint(len(r.Cases))}}, b)
}
