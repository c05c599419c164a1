package report

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/flow/study"
	"meltload/report/plot"
)

// Tests are numbered within their log, so the text table names the log where there are several, and only there.
func TestTestsOfSeveralLogsNameTheirLog(t *testing.T) {
	for n, named := range map[int]bool{1: false, 2: true} {
		r := &study.LogResult{}
		for i := range n {
			name := fmt.Sprintf("elm_%d.csv", i+1)
			r.Logs = append(r.Logs, study.LogFile{Log: name})
			r.Tests = append(r.Tests, study.LogTest{Log: name, Number: 1, Cause: "grind"})
		}
		var text strings.Builder
		for _, x := range Log(r).Blocks[0].Table {
			if x.ID == "tests" {
				TextTable(&text, x)
			}
		}
		if got := strings.Contains(text.String(), fmt.Sprintf("elm_%d.csv", n)); got != named {
			t.Errorf("%d logs: the table names the log: %t\n%s", n, got, text.String())
		}
	}
}

// Every cause that a log can end with has a mark of its own shape in the chart.
func TestEveryCauseOfALogHasItsOwnMark(t *testing.T) {
	causes := []string{string(feeder.Grind), string(feeder.Skip), string(feeder.Buckle),
		string(feeder.Mixed), "stopped"}
	r := &study.LogResult{Logs: []study.LogFile{{}},
		Curves: []study.LogCurve{{Time: []float64{0, 1, 2, 3, 4, 5}, Force: []float64{0, 5, 0, 5, 0, 5}}}}
	for i, c := range causes {
		r.Tests = append(r.Tests, study.LogTest{Number: i + 1, PeakTime: float64(i), Peak: 5, Cause: c})
	}
	var chart string
	for _, b := range Log(r).Blocks {
		if b.Chart != nil {
			text, err := json.Marshal(b.Chart.Options())
			if err != nil {
				t.Fatal(err)
			}
			chart += string(text)
		}
	}
	seen := map[plot.Symbol]string{}
	for _, c := range causes {
		s := causeSymbol[c]
		if s == "" {
			t.Errorf("%s has no mark", c)
		}
		if other, ok := seen[s]; ok {
			t.Errorf("%s and %s have the same mark", c, other)
		}
		seen[s] = c
		at := strings.Index(chart, fmt.Sprintf("%q", "peak: "+c))
		if at < 0 {
			t.Fatalf("%s is not in the chart", c)
		}
		if end := min(len(chart), at+4000); !strings.Contains(chart[at:end], fmt.Sprintf("%q", s)) {
			t.Errorf("%s is not drawn as a %s", c, s)
		}
	}
}
