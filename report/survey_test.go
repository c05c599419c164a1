package report

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/unit"
)

// charts lists the blocks that have one.
func charts(d *Document) (out []Block) {
	for _, b := range d.Blocks {
		if b.Chart != nil {
			out = append(out, b)
		}
	}
	return out
}

// The flow caps are the usable flows of the rows, each in the table of its hot end, at its temperature and nozzle;
// every chart has its numbers in a table, and the text says the sentence.
func TestSurveyDocumentShowsItsRows(t *testing.T) {
	base := &casefile.Invented().Setup
	long := base.Clone()
	z := vary.Must(long, vary.Zone)
	if err := z.Set(long, 30e-3); err != nil {
		t.Fatal(err)
	}
	r, err := study.Survey(context.Background(), study.SurveyJob{Base: base, Nozzles: []float64{0.4e-3, 0.6e-3},
		HotEnds: []study.Place{{Name: "short", Setup: base}, {Name: "long", Setup: long}},
		Blocks:  []float64{unit.Kelvin(205), unit.Kelvin(225)}, Flow: 12e-9}, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := Survey(r)
	compared := 0
	for _, tab := range d.Tables() {
		if !strings.HasPrefix(tab.ID, "caps-") {
			continue
		}
		for i := range r.Rows {
			x := &r.Rows[i]
			if !strings.Contains(tab.Title, x.HotEnd) {
				continue
			}
			for _, row := range tab.Rows {
				for j, c := range tab.Columns {
					if j > 0 && c.Head == quantity.Text("nozzle", *x.Nozzle) &&
						math.Abs(row[0].Value.(float64)-unit.Celsius(x.Block)) < 1e-6 {
						compared++
						if row[j].Value.(float64) != *x.Flow/unit.MM3 {
							t.Errorf("%s: the table says %v, the row %g", x.Name(true), row[j], *x.Flow/unit.MM3)
						}
					}
				}
			}
		}
	}
	if compared != len(r.Rows) {
		t.Errorf("%d of %d flow caps found", compared, len(r.Rows))
	}
	cs := charts(d)
	if len(cs) != 2 {
		t.Fatalf("%d charts, want one of flow and one of print speed", len(cs))
	}
	for _, b := range cs {
		if n := len(b.Chart.(*chart).Series); n != 4 || len(b.Table) == 0 || len(b.Table[0].Rows) != 8 {
			t.Errorf("%s: %d lines, want 4, and a table of 8 rows", b.Title, n)
		}
	}
	var text bytes.Buffer
	if err := d.Text(&text); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(strings.Fields(text.String()), " "), r.Sentence) {
		t.Errorf("the text does not say: %s", r.Sentence)
	}
}

// Many lines go into charts of their own; of more than a chart can tell apart some are drawn, and that is said.
// Materials at their own temperatures are ranges.
func TestSurveyCharts(t *testing.T) {
	row := func(stock, end string, nozzle, block float64) study.SurveyRow {
		return study.SurveyRow{Material: stock, HotEnd: end, Nozzle: quantity.Known(nozzle), Block: block,
			Flow: quantity.Known(9e-9), Low: quantity.Known(5e-9), High: quantity.Known(15e-9),
			Speed: quantity.Known(0.1), Layer: quantity.Known(2e-4), Width: quantity.Known(4e-4)}
	}
	job := func(stocks, ends, nozzles, blocks int) *Document {
		r := &study.SurveyResult{Header: study.Header{Title: "many"}}
		r.Best, r.Fastest = new(int), new(int)
		for i := range stocks {
			for j := range ends {
				for k := range nozzles {
					for l := range blocks {
						r.Rows = append(r.Rows, row(string(rune('a'+i)), string(rune('k'+j)), 1e-4*float64(k+2),
							480+10*float64(l)))
					}
				}
			}
		}
		return Survey(r)
	}
	for _, c := range []struct{ stocks, ends, nozzles, blocks, charts, lines int }{
		{1, 1, 1, 5, 2, 3},  // one line with its ends
		{1, 1, 4, 5, 2, 4},  // a line a nozzle
		{2, 2, 3, 2, 4, 6},  // a chart a material
		{2, 3, 4, 2, 12, 4}, // a chart a material and hot end
		{1, 1, 20, 2, 2, 6}, // too many
		{3, 2, 4, 1, 2, 6},  // against the nozzle, all in one
	} {
		d := job(c.stocks, c.ends, c.nozzles, c.blocks)
		cs := charts(d)
		if len(cs) != c.charts {
			t.Errorf("%+v: %d charts", c, len(cs))
			continue
		}
		if n := len(cs[0].Chart.(*chart).Series); n != c.lines {
			t.Errorf("%+v: %d lines", c, n)
		}
		if many := c.nozzles == 20; many != strings.Contains(cs[0].Text, "6 of 20 lines are drawn") {
			t.Errorf("%+v: %q", c, cs[0].Text)
		}
	}
	pla, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	r := &study.SurveyResult{Header: study.Header{Title: "own temperatures"}, Best: new(int), Fastest: new(int),
		Rows: []study.SurveyRow{row(pla.ID, "k", 4e-4, 480), row("abs", "k", 4e-4, 510)}}
	cs := charts(Survey(r))
	if len(cs) != 1 {
		t.Fatalf("%d charts", len(cs))
	}
	if c, ok := cs[0].Chart.(*ranges); !ok || len(c.Categories) != 2 {
		t.Errorf("%T", cs[0].Chart)
	}
}
