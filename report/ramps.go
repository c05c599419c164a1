package report

import (
	"fmt"

	"meltload/flow/study"
	"meltload/report/plot"
)

// Ramps lays out a plan of ramps to failure: a page to take to the bench.
func Ramps(r *study.RampResult) *Document {
	facts := []Fact{{"feeds", fmt.Sprint(len(r.Ramps))}, {"repeats of each", fmt.Sprint(r.Repeats)},
		fact("stop_force", r.Stop, nil),
		{"stop because of", r.StopWhy}, fact("cell_needed", r.Cell, nil), fact("highest_force", r.Highest, nil),
		fact("filament_total", r.Filament, nil), fact("duration", r.Duration, nil)}
	sheet := list("ramp-sheet", "Ramps: hold, feed until steady, heater off, feed on until the feeder fails",
		r.Ramps, r.Area)
	// To be filled in on paper.
	sheet.Columns = append(sheet.Columns, Column{Key: "measured_N", Head: "measured N", Wide: true},
		Column{Key: "block_then_degC", Head: "block degC", Wide: true}, Column{Key: "how", Head: "cause", Wide: true})
	for i := range sheet.Rows {
		sheet.Rows[i] = append(sheet.Rows[i], words(""), words(""), words(""))
	}
	rig := "The rig suffices"
	if missed := r.Unmet(); missed > 0 {
		rig = fmt.Sprintf("%d of %d checks of the rig are not met", missed, len(r.Checks))
	}
	blocks := []Block{
		{ID: "rig-block", Title: rig, Table: []Table{list("rig", "Does the rig suffice?", r.Checks, nil)}, Open: true},
		{ID: "ramps-block", Title: "Start temperature, failure and its range at each feed", Table: []Table{sheet},
			Open: true,
			How: "Earliest: the highest load against a weak feeder. Latest: the lowest load against a strong one. " +
				"Times count from when the heater goes off; 0 s says that the feeder fails before that. " +
				"Print this page: the last three columns are to be filled in; one line a repeat."},
	}
	for i := range r.Ramps {
		blocks = append(blocks, rampBlock(r, i))
	}
	d := document(&r.Header, yes(r.Good, "ready", "check the rig"), facts, blocks...)
	d.After = r.Ending
	return d
}

// rampBlock is the predicted force against time of the i-th feed.
func rampBlock(r *study.RampResult, i int) Block {
	x := &r.Ramps[i]
	c := newChart("time", "push", nil)
	c.ZeroBased = true
	c.rightAxis("block")
	var rows []study.RampPoint
	n := 0
	for _, t := range r.Traces {
		if t.Flow != x.Flow {
			continue
		}
		pts := thin(t.Points, longestTrace/3)
		at := of(pts, func(p *study.RampPoint) float64 { return p.Time })
		c.add(plot.Series{Name: t.What, Dash: n, Thin: n > 0}, at,
			of(pts, func(p *study.RampPoint) float64 { return p.Force }))
		if n == 0 {
			c.add(plot.Series{Name: "block temperature", Dash: 1, Thin: true, Right: true}, at,
				of(pts, func(p *study.RampPoint) float64 { return p.Block }))
		}
		rows = append(rows, pts...)
		n++
	}
	c.mark(0, "heater off")
	title := fmt.Sprintf("Force against time at %s: the feeder is not brought to failure", shown("flow", x.Flow))
	if x.Time != nil {
		title = fmt.Sprintf("Force against time at %s: failure after %s, %s", shown("flow", x.Flow),
			shown("fail_time", *x.Time), shown("fail_block", *x.Block))
	}
	id := fmt.Sprintf("ramp-%d", i+1)
	return Block{ID: id + "-block", Title: title, Chart: c,
		Table: []Table{long(list(id, "Predicted force against time", rows, nil))},
		How: "Each curve ends where its feeder fails. Time 0 is heater off; the block temperature is on the right " +
			"axis."}
}
