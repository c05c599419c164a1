package report_test

import (
	"fmt"
	"os"

	"meltload/flow/study"
	"meltload/report"
)

// A document is laid out once; its tables go to the terminal, into the page and into CSV files.
func Example() {
	forces := report.Table{ID: "forces", Title: "Forces",
		Columns: []report.Column{{Key: "flow_mm3_s", Head: "flow mm3/s", Number: true},
			{Key: "force_N", Head: "force N", Number: true}},
		Rows: [][]report.Cell{{{Text: "5", Value: 5.0}, {Text: "74", Value: 74.02}},
			{{Text: "20", Value: 20.0}, {Text: "63", Value: 63.4}}}}
	d := &report.Document{Header: &study.Header{Version: "x", Title: "A bench", Sentence: "It holds."},
		Blocks: []report.Block{{Title: "Forces", Table: []report.Table{forces}}}}
	for _, t := range d.Tables() {
		if err := report.CSV(os.Stdout, t); err != nil {
			fmt.Println(err)
		}
	}
	// Output:
	// flow_mm3_s,force_N
	// 5,74.02
	// 20,63.4
}
