package report

import (
	"fmt"
	"slices"
	"strings"

	"meltload/flow/study"
	"meltload/report/plot"
)

// Log lays out logs, one or many.
func Log(r *study.LogResult) *Document {
	var facts []Fact
	rows, used, junk := 0, 0, 0
	for _, l := range r.Logs {
		rows, used = rows+l.Rows, used+l.Used
	}
	for _, x := range r.Shown {
		if x.Kind == "not data" {
			junk++
		}
	}
	facts = append(facts, Fact{"rows", fmt.Sprintf("%d, of which %d used", rows, used)})
	if len(r.Logs) == 1 {
		l := r.Logs[0]
		facts = append(facts, fact("rate", l.Rate, nil), fact("tare", l.Tare, nil), fact("noise", l.Noise, nil),
			Fact{"faults", l.Faults})
		if l.Drift != nil {
			facts = append(facts, fact("drift", *l.Drift, nil))
		}
	} else {
		facts = append(facts, Fact{"logs", fmt.Sprint(len(r.Logs))})
	}
	title := "No push ended in a failure"
	if len(r.Points) > 0 {
		const most = 4
		var at []string
		for i, g := range r.Points {
			if i == most {
				at = append(at, fmt.Sprintf("and %d more", len(r.Points)-most))
				break
			}
			s := shown("failure_force", g.Force)
			if g.Flow != nil {
				s += " (" + shown("target_flow", *g.Flow) + ")"
			}
			if r.ManySeries() {
				s = g.Series + " " + s
			}
			at = append(at, s)
		}
		title = "The feeder fails at " + strings.Join(at, ", ")
		if r.ManySeries() {
			title = "The feeders fail at " + strings.Join(at, ", ")
		}
	}
	tests := list("tests", "Tests", r.Tests, r.Area)
	if len(r.Logs) > 1 { // tests are numbered within their log
		i := slices.IndexFunc(tests.Columns, func(c Column) bool { return c.Key == "log" })
		tests.Columns[i].Wide = false
	}
	blocks := []Block{{ID: "log-block", Title: title,
		Table: nonEmpty(list("repeats", "What the feeder holds", r.Points, r.Area), tests), Open: true,
		How: "Thin: the log above its zero. Dashed: the last plateau of each push. Marks: the highest force before " +
			"the feeder fails; the shape of a mark tells how the push ended."}}
	const pictures = 12
	for i, c := range r.Curves {
		if i == 0 {
			blocks[0].Chart = logChart(r, &c)
			continue
		}
		if i == pictures {
			blocks[0].Text = fmt.Sprintf("The first %d of %d logs are drawn.", pictures, len(r.Curves))
			break
		}
		blocks = append(blocks, Block{ID: fmt.Sprintf("log-block-%d", i+1), Title: c.Log,
			Chart: logChart(r, &r.Curves[i])})
	}
	blocks = append(blocks,
		Block{ID: "log-rows", Title: fmt.Sprintf("%d of %d rows are used; %d are shown as not data", used, rows, junk),
			Table: nonEmpty(list("logs", "The logs and their zeros", r.Logs, nil),
				list("columns", "What each column was taken for", r.Columns, nil),
				list("unread", "Logs that could not be used", r.Unread, nil),
				list("faults", "Rows that are not plain data", r.Shown, nil))})
	return document(&r.Header, "read", facts, blocks...)
}

// causeSymbol gives each end of a push, as the result spells it, a mark of its own shape, so that it can be told
// without colour.
var causeSymbol = map[string]plot.Symbol{"grind": plot.Diamond, "skip": plot.Triangle, "buckle": plot.Arrow,
	"unknown": plot.Square,
	"stopped": plot.Ring, "held": plot.Circle, "unclear": plot.Square}

// drawnPlateaus is how many plateaus of a log have a line of their own.
const drawnPlateaus = 24

// logChart draws a log with its plateaus and the ends of its pushes.
func logChart(r *study.LogResult, curve *study.LogCurve) *chart {
	c := newChart("time", "force", r.Area)
	c.Y = "force above zero, N"
	c.add(plot.Series{Name: "log", Thin: true}, curve.Time, curve.Force)
	by := map[string][]study.LogTest{}
	var causes []string
	for _, x := range r.Tests {
		if x.Log != curve.Log {
			continue
		}
		if by[x.Cause] == nil {
			causes = append(causes, x.Cause)
		}
		by[x.Cause] = append(by[x.Cause], x)
		if x.Plateau != nil && x.Number <= drawnPlateaus {
			c.add(plot.Series{Name: fmt.Sprintf("plateau %d", x.Number), Dash: 1}, []float64{*x.From, *x.To},
				[]float64{*x.Plateau, *x.Plateau})
		}
	}
	for _, cause := range causes {
		mark := causeSymbol[cause]
		if mark == "" {
			mark = plot.Ring
		}
		c.add(plot.Series{Name: "peak: " + cause, Points: true, Symbol: mark},
			of(by[cause], func(x *study.LogTest) float64 { return x.PeakTime }),
			of(by[cause], func(x *study.LogTest) float64 { return x.Peak }))
	}
	return c
}

// Compare lays out a comparison of two feeders.
func Compare(r *study.CompareResult) *Document {
	t := list("comparison", r.Second+" against "+r.First, r.Rows, r.Area)
	title := "No difference beyond the scatter"
	count := map[string]int{}
	for _, x := range r.Rows {
		count[x.Verdict]++
	}
	switch {
	case count["better"] > 0 && count["worse"] > 0:
		title = "Better at one flow, worse at another"
	case count["better"] > 0:
		title = fmt.Sprintf("The second holds more at %d of %d flows", count["better"], len(r.Rows))
	case count["worse"] > 0:
		title = fmt.Sprintf("The second holds less at %d of %d flows", count["worse"], len(r.Rows))
	case count["cannot tell"] == len(r.Rows):
		title = "It cannot be told without repeats"
	}
	return document(&r.Header, "compared", []Fact{{"first", r.First}, {"second", r.Second}},
		Block{ID: "comparison-block", Title: title, Table: []Table{t}, Open: true,
			How: "Better and worse are said where the interval of the difference leaves out 0. No difference means " +
				"that these tests cannot tell one, not that there is none."})
}
