package report

import (
	"fmt"
	"math"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/report/plot"
)

// WhatIf lays out what one looks at while a case is changed: verdict, load, melt zone and limits of the case now. With
// start, the result that it was changed from, both stand in the sentences, in the curves and in a table; changes name
// what was set. lead begins the ids of the page.
func WhatIf(now, start *study.Result, changes []Fact, lead string) *Document {
	d := WhatIfRange(now, start, changes, lead)
	load := loadBlock(now)
	if start != nil {
		overStart(load.Chart.(*chart), now, start)
	}
	d.Blocks = append([]Block{load}, d.Blocks...) // the table of start and now comes second
	if now.Melt != nil {
		d.Blocks = append(d.Blocks, meltBlock(now, lead))
	}
	d.Blocks = append(d.Blocks, limitBlock(now))
	return d
}

// WhatIfRange is the part of WhatIf that the range of the answer stands in: the verdict, and the table of start and
// now. Before the range is there (now.Corners is nil), it says so.
func WhatIfRange(now, start *study.Result, changes []Fact, lead string) *Document {
	d := verdictOf(now)
	d.Lead = lead
	if now.Corners == nil && now.Verdict.Target != nil {
		d.Word += ", best estimate"
	}
	if start != nil {
		d.Beside = append(d.Beside, Fact{"At the start", start.Sentence})
		if len(changes) > 0 {
			d.Beside = append(d.Beside, Fact{"Changed", changeText(changes)})
		}
		d.Blocks = []Block{startBlock(now, start)}
	}
	d.Beside = append(d.Beside, Fact{"Range by two corners", cornersText(now, start)})
	return d
}

// Renew puts a part of the document, laid out again, in its place: the verdict, and blocks by their names.
func (d *Document) Renew(part *Document) {
	blocks := d.Blocks
	for i := range blocks {
		for _, b := range part.Blocks {
			if b.ID == blocks[i].ID {
				blocks[i] = b
			}
		}
	}
	*d = *part
	d.Blocks = blocks
}

// cornersText is the range by two corners, with that of the start found in the same way.
func cornersText(now, start *study.Result) string {
	const not = " Coarse: not to be compared with a range by samples."
	ends := func(x *study.Corners) string {
		end := func(flow float64, text string) string { return yes(x.Beyond(flow), "beyond ", "") + text }
		return end(x.Low, quantity.Of("usable_flow_low_end").Number(x.Low)) + " to " +
			end(x.High, shown("usable_flow_high_end", x.High))
	}
	x := now.Corners
	if x == nil {
		return "being computed; until then the verdict is that of the best estimate alone."
	}
	text := ends(x)
	if start != nil && start.Corners != nil {
		text += " now, " + ends(start.Corners) + " at the start"
	}
	return text + fmt.Sprintf(" (%s; %s).", x.LowIs, x.HighIs) + not
}

// mostChanges is how many changes are named one by one.
const mostChanges = 8

func changeText(changes []Fact) string {
	s := ""
	for i, c := range changes {
		if i == mostChanges {
			return s + fmt.Sprintf(", and %d more", len(changes)-i)
		}
		if i > 0 {
			s += ", "
		}
		s += c.Name + " " + c.Value
	}
	return s
}

// overStart adds the curves of the start to the load chart: its load, its feeder where that is another, its usable
// flow.
func overStart(c *chart, now, start *study.Result) {
	at := start.Point.Block
	for _, l := range start.Load {
		if l.Block == at {
			c.add(plot.Series{Name: "load at the start, " + shown("best_block", at), Dash: 2},
				of(l.Points, func(p *study.LoadPoint) float64 { return p.Flow }),
				of(l.Points, func(p *study.LoadPoint) float64 { return p.Push }))
		}
	}
	if !sameFeeder(now.Capability, start.Capability) {
		high := 0.0
		for _, p := range start.Capability {
			high = max(high, c.y.Unit.Shown(p.High))
		}
		c.YMax = max(c.YMax, niceTop(1.25*high))
		c.add(plot.Series{Name: "feeder held at the start", Dash: 2},
			of(start.Capability, func(p *study.CapPoint) float64 { return p.Flow }),
			of(start.Capability, func(p *study.CapPoint) float64 { return p.Force }))
	}
	if start.Verdict.Flow > 0 && start.Verdict.Flow != now.Verdict.Flow {
		c.mark(start.Verdict.Flow, "at the start "+quantity.Of("usable_flow").Number(start.Verdict.Flow))
	}
}

// sameForce is how far two forces may be apart, as a share, and still be drawn as one: both curves are straight between
// flows of their own.
const sameForce = 0.01

// sameFeeder tells whether two curves of what a feeder holds are one, where both are known.
func sameFeeder(a, b []study.CapPoint) bool {
	i := 0
	for _, p := range a {
		for i+2 < len(b) && b[i+1].Flow < p.Flow {
			i++
		}
		if len(b) < 2 || p.Flow < b[i].Flow || p.Flow > b[i+1].Flow {
			continue
		}
		f := (p.Flow - b[i].Flow) / (b[i+1].Flow - b[i].Flow)
		if math.Abs(b[i].Force+f*(b[i+1].Force-b[i].Force)-p.Force) > sameForce*p.Force {
			return false
		}
	}
	return true
}

// startBlock compares the headline numbers.
func startBlock(now, start *study.Result) Block {
	t := Texts("start", "Start and now", "quantity", "at the start", "now", "change")
	t.Columns[1].Number, t.Columns[2].Number, t.Columns[3].Number = true, true, true
	words := func(name, a, b string) {
		t.Row(name, a, b, yes(a == b, "none", "changed"))
	}
	number := func(name string, a, b *float64) {
		q := quantity.Of(name)
		text := func(x *float64) string {
			if x == nil {
				return "–"
			}
			return q.Page(*x)
		}
		t.Row(q.Label, text(a), text(b), changeOf(q, a, b))
	}
	v, w := &start.Verdict, &now.Verdict
	number("usable_flow", &v.Flow, &w.Flow)
	words("limited by", orNone(v.Limit), orNone(w.Limit))
	words("next limit", orNone(v.Next), orNone(w.Next))
	low, high := cornersOf(start)
	lowNow, highNow := cornersOf(now)
	number("usable_flow_low_end", low, lowNow)
	number("usable_flow_high_end", high, highNow)
	number("pushed_flow", v.Pushed, w.Pushed)
	number("melted_flow", v.Melted, w.Melted)
	if v.Target != nil || w.Target != nil {
		number("target_flow", v.Target, w.Target)
		words("wanted flow is", orNone(judgedOf(v)), orNone(judgedOf(w)))
	}
	p, q := &start.Point, &now.Point
	number("flow", &p.Flow, &q.Flow)
	number("push", &p.Push, &q.Push)
	number("pressure", &p.Pressure, &q.Pressure)
	number("centre_at_cone", &p.EntryCentre, &q.EntryCentre)
	number("exit_bulk", &p.ExitBulk, &q.ExitBulk)
	number("heater", &p.Heater, &q.Heater)
	b := Block{ID: "start-block", Open: true, Table: []Table{t}, Text: "Forces and temperatures are those at the " +
		"wanted flow, or at the highest usable flow where none is wanted. Low and high end are those by two corners."}
	b.Title = fmt.Sprintf("The highest usable flow was %s at the start and is %s now", shown("usable_flow", v.Flow),
		shown("usable_flow", w.Flow))
	if math.Abs(w.Flow-v.Flow) <= 5e-4*v.Flow {
		b.Title = "The highest usable flow is as at the start: " + shown("usable_flow", w.Flow)
	}
	return b
}

// cornersOf are the ends of the range by two corners, nil while they are not known.
func cornersOf(r *study.Result) (low, high *float64) {
	if r.Corners == nil {
		return nil, nil
	}
	return &r.Corners.Low, &r.Corners.High
}

// judgedOf is the verdict on the wanted flow, "" where none is wanted.
func judgedOf(v *study.Verdict) string {
	if v.Target == nil {
		return "none wanted"
	}
	if v.Judged != "" {
		return v.Judged
	}
	return yes(v.Held, "held", "not held")
}

// changeOf is the difference of temperatures, and the change of other numbers in per cent.
func changeOf(q quantity.Quantity, a, b *float64) string {
	switch {
	case a == nil && b == nil, a != nil && b != nil && *a == *b:
		return "none"
	case a == nil || b == nil:
		return "–"
	case q.Unit.Offset != 0:
		return fmt.Sprintf("%+.1f K", *b-*a)
	case *a == 0:
		return "–"
	}
	return fmt.Sprintf("%+.1f %%", 100*(*b / *a - 1))
}
