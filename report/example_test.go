package report_test

import (
	"fmt"
	"os"

	"meltload/flow/study"
	"meltload/report"
)

// A document is laid out once; its tables go to the terminal, into the page and into CSV files.
func Example() {
	d := &report.Document{Header: &study.Header{Version: "x", Title: "A bench", Sentence: "It holds."}, Blocks: []report.Block{{Title: "Forces",
		Table: []report.Table{{ID: "forces", Title: "Forces", Columns: []string{"flow mm3/s", "force N"}, Rows: [][]string{{"5", "74"}, {"20", "63"}}, Numeric: []bool{true, true}}}}}}
	for _, t := range d.Tables() {
		if err := report.CSV(os.Stdout, t); err != nil {
			fmt.Println(err)
		}
	}
	// Output:
	// flow mm3/s,force N
	// 5,74
	// 20,63
}
