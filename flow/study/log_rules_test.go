package study

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/quantity"
	"meltload/materials"
	"meltload/materials/strict"
)

// named reads the invented log under another name, changed.
func namedLog(name string, change func(l *loadcell.Log)) func() (*loadcell.Log, File, error) {
	return func() (*loadcell.Log, File, error) {
		l, _, _ := grindLog()
		if l.Name = name; change != nil {
			change(l)
		}
		return l, File{Name: name}, nil
	}
}

func failing(err error) func() (*loadcell.Log, File, error) {
	return func() (*loadcell.Log, File, error) { return nil, File{}, err }
}

// Of many logs those that cannot be read are told; where none can, all problems of all of them, else the last error.
func TestLogsThatCannotBeRead(t *testing.T) {
	plain, other := errors.New("no such file"), errors.New("no such folder")
	problem := func(field string) error { return strict.Problems{{Field: field, Seen: "x"}} }
	for _, x := range []struct {
		what     string
		errs     []error // nil for a log that is read
		fields   string  // of the problems returned
		err      error   // returned
		unread   int
		warnings string // beginning of the warning
	}{
		{"one", []error{nil}, "", nil, 0, ""},
		{"one of two", []error{plain, nil}, "", nil, 1, "1 of 2 logs could not be used, log0.csv first: no such file"},
		{"two of three", []error{nil, problem("a"), plain}, "", nil, 2,
			"2 of 3 logs could not be used, log1.csv first"},
		{"problems", []error{problem("a"), problem("b")}, "a,b", nil, 0, ""},
		{"problems and an error", []error{problem("a"), plain}, "a", nil, 0, ""},
		{"errors", []error{plain, other}, "", other, 0, ""},
	} {
		job := LogJob{Settings: loadcell.Settings{Flows: []float64{5e-9}}, By: loadcell.AllOne}
		for i, err := range x.errs {
			name := "log" + string(rune('0'+i)) + ".csv"
			job.Names = append(job.Names, name)
			if err == nil {
				job.Open = append(job.Open, namedLog(name, nil))
			} else {
				job.Open = append(job.Open, failing(err))
			}
		}
		r, err := ReadLogs(job)
		var ps strict.Problems
		if errors.As(err, &ps) != (x.fields != "") || x.err != nil && err != x.err ||
			(err == nil) != (x.fields == "" && x.err == nil) {
			t.Errorf("%s: %v", x.what, err)
		}
		var fields []string
		for _, p := range ps {
			fields = append(fields, p.Field)
		}
		if strings.Join(fields, ",") != x.fields {
			t.Errorf("%s: problems of %v", x.what, fields)
		}
		if err != nil {
			continue
		}
		if len(r.Unread) != x.unread || materials.Warned(r.Warnings, "logs-not-read") != (x.warnings != "") ||
			!strings.Contains(warned(r.Warnings), x.warnings) || len(r.Logs) != len(x.errs)-x.unread {
			t.Errorf("%s: unread %v, %s", x.what, r.Unread, warned(r.Warnings))
		}
		if want := map[bool]string{true: "Log log0.csv", false: "Logs"}[len(x.errs) == 1]; r.Title != want {
			t.Errorf("%s: %q", x.what, r.Title)
		}
	}
}

// A flow in the name of a log counts where nothing else tells the flow: no flow that is stated, and no column but one
// that says on or off.
func TestFlowInTheNameOfALog(t *testing.T) {
	flows := func(unit string) func(l *loadcell.Log) {
		return func(l *loadcell.Log) {
			l.Flow, l.Format.FlowUnit = make([]float32, len(l.Time)), unit
			for i := range l.Flow {
				if l.Time[i] > 10 && l.Time[i] < 50 {
					l.Flow[i] = 7e-9
					if unit == "on/off" {
						l.Flow[i] = 1
					}
				}
			}
		}
	}
	for _, x := range []struct {
		name   string
		stated []float64
		change func(l *loadcell.Log)
		want   float64
		said   bool
	}{
		{"a_5mm3s.csv", nil, nil, 5e-9, true}, {"a.csv", nil, nil, 0, false},
		{"a_5mm3s.csv", []float64{8e-9}, nil, 8e-9, false},
		{"a_5mm3s.csv", nil, flows("mm3/s"), 7e-9, false}, {"a_5mm3s.csv", nil, flows("on/off"), 5e-9, true},
	} {
		r, err := ReadLogs(LogJob{Open: []func() (*loadcell.Log, File, error){namedLog(x.name, x.change)},
			Names: []string{x.name}, Settings: loadcell.Settings{Flows: x.stated}})
		if err != nil {
			t.Errorf("%+v: %v", x, err)
			continue
		}
		if got := quantity.Or(r.Points[0].Flow, 0); math.Abs(got-x.want) > 1e-12*x.want+1e-15 {
			t.Errorf("%s, stated %v: %g m3/s, want %g", x.name, x.stated, got, x.want)
		}
		if said := strings.Contains(warned(r.Warnings), "read from its name: 5 mm3/s"); said != x.said {
			t.Errorf("%s, stated %v: %s", x.name, x.stated, warned(r.Warnings))
		}
	}
}

// A log of counts that shows no rest takes the zero of the cell's file, if there is one, and says so; any other log
// without a rest is refused.
func TestZeroOfTheCell(t *testing.T) {
	late := func(unit string) func(l *loadcell.Log) {
		return func(l *loadcell.Log) { // it starts under load, fed from its first row
			l.Format.ForceUnit = unit
			l.Time, l.Force = l.Time[300:900], l.Force[300:900]
			l.Rows, l.Flow = len(l.Time), slices.Repeat([]float32{5e-9}, len(l.Time))
		}
	}
	zero := 0.0
	for _, x := range []struct {
		unit      string
		cell      bool
		zero      *float64
		ok, taken bool
	}{{"counts", true, nil, true, true}, {"counts", false, nil, false, false}, {"N", true, nil, false, false},
		{"counts", true, &zero, true, false}} {
		r, err := ReadLogs(LogJob{Open: []func() (*loadcell.Log, File, error){namedLog("a.csv", late(x.unit))},
			Names: []string{"a.csv"}, Cell: x.cell, Settings: loadcell.Settings{Flows: []float64{5e-9}, Zero: x.zero}})
		if (err == nil) != x.ok {
			t.Errorf("%+v: %v", x, err)
		}
		if err != nil {
			continue
		}
		if materials.Warned(r.Warnings, "zero-of-cell") != x.taken ||
			(r.Logs[0].How == "the file of the cell") != x.taken || r.Logs[0].Tare != 0 {
			t.Errorf("%+v: %+v, %s", x, r.Logs[0], warned(r.Warnings))
		}
	}
}

// Of several logs each warning says whose it is; logs that differ by a number alone are told, pooled by name only.
func TestWarningsOfManyLogs(t *testing.T) {
	odd := func(l *loadcell.Log) { l.Force[100] = 25 } // a spike at rest
	for _, x := range []struct {
		by       loadcell.PoolBy
		numbered bool
		series   bool
	}{{"", true, true}, {loadcell.ByName, true, true}, {loadcell.AllOne, false, false}} {
		job := LogJob{By: x.by, Settings: loadcell.Settings{Flows: []float64{5e-9}}}
		for _, n := range []string{"feeder-1.csv", "feeder-2.csv"} {
			job.Names = append(job.Names, n)
			job.Open = append(job.Open, namedLog(n, odd))
		}
		r, err := ReadLogs(job)
		if err != nil {
			t.Fatal(err)
		}
		if materials.Warned(r.Warnings, "series-by-number") != x.numbered || r.ManySeries() != x.series ||
			len(r.Files) != 2 || len(r.Logs) != 2 || len(r.Points) != map[bool]int{true: 2, false: 1}[x.series] {
			t.Errorf("%q: %s, %+v", x.by, warned(r.Warnings), r.Points)
		}
		for _, w := range r.Warnings {
			if w.Code != "series-by-number" && !strings.HasPrefix(w.Message, "feeder-") {
				t.Errorf("%q: %s: %s", x.by, w.Code, w.Message)
			}
		}
	}
	one, err := ReadLogs(LogJob{Names: []string{"feeder-1.csv"}, Settings: loadcell.Settings{Flows: []float64{5e-9}},
		Open: []func() (*loadcell.Log, File, error){namedLog("feeder-1.csv", odd)}})
	if err != nil || strings.Contains(warned(one.Warnings), "feeder-1.csv: ") {
		t.Errorf("%v, %s", err, warned(one.Warnings))
	}
}

// What is kept of a log, by hand.
func TestWhatIsKeptOfALog(t *testing.T) {
	l := &loadcell.Log{Rows: 9, Time: []float64{0, 1, 2, 3}, Force: []float64{5, 6, 7, 5}, Step: 0.25,
		Junk: loadcell.Rows{Count: 5, First: []loadcell.Row{{Line: 3, Text: "x", Why: "a"}, {Line: 8, Text: "y",
			Why: "b"}}},
		Resets:  loadcell.Rows{Count: 1, First: []loadcell.Row{{Line: 6}}},
		Columns: []loadcell.Column{{Role: "force", Number: 2, Name: "F", Unit: "N", Why: "its name"}}}
	for _, known := range []bool{true, false} {
		var r LogResult
		r.keep("a.csv", "a", l, &loadcell.Analysis{Tare: 5, TareHow: "rest", Noise: 0.1, Drift: 2e-3, DriftKnown: known,
			Tests: []loadcell.Test{{Peak: 1}, {Peak: 2}}})
		x := r.Logs[0]
		if x.Log != "a.csv" || x.Series != "a" || x.Rows != 9 || x.Used != 4 || x.Rate != 4 || x.Tare != 5 ||
			x.How != "rest" || x.Noise != 0.1 || x.Tests != 2 || (x.Drift != nil) != known || known &&
			*x.Drift != 2e-3 || x.Faults != "5 not data, 0 repeated, 1 clock restarts, 0 gaps, 0 with a value kept" {
			t.Errorf("%+v", x)
		}
		// Two of five rows are kept, the rest is counted after the last of them; the one clock restart stands alone.
		want := []LogRow{{"a.csv", 3, "not data", "a", "x"}, {"a.csv", 8, "not data", "b", "y"},
			{"a.csv", 8, "not data", "and 3 more of this kind from here", ""}, {"a.csv", 6, "clock restart", "", ""}}
		if !slices.Equal(r.Shown, want) {
			t.Errorf("%+v", r.Shown)
		}
		if !slices.Equal(r.Columns, []LogColumn{{"a.csv", "force", 2, "F", "N", "its name"}}) {
			t.Errorf("%+v", r.Columns)
		}
		if len(r.Tests) != 2 || r.Tests[0].Number != 1 || r.Tests[1].Number != 2 || r.Tests[1].Log != "a.csv" ||
			r.Tests[1].Peak != 2 || len(r.Curves) != 1 || !slices.Contains(r.Curves[0].Force, 2) {
			t.Errorf("%+v, %+v", r.Tests, r.Curves)
		}
	}
}

// A test says what is known of it, and no more.
func TestATestOfALogByHand(t *testing.T) {
	full := loadcell.Test{Log: "a", Start: 1, End: 9, Flow: 5e-9, Block: 480, Peak: 70, PeakError: 0.5, PeakTime: 8,
		Outcome: loadcell.Failed, Cause: feeder.Grind, Why: "w", Notes: []string{"m", "n"}, AliasOf: 50,
		Ripple: loadcell.Ripple{Amplitude: 2, Frequency: 3}, First: &loadcell.Plateau{Force: 60},
		Last: &loadcell.Plateau{Force: 65, SE: 0.2, From: 5, To: 7, Block: 479, Flow: 4.9e-9}}
	x := logTest("s", 3, &full)
	for what, v := range map[string][2]float64{"flow": {*x.Flow, 5e-9}, "block": {*x.Block, 480}, "ripple": {*x.Ripple,
		2}, "its frequency": {*x.RippleHz, 3}, "alias": {*x.AliasOf, 50}, "first": {*x.First, 60}, "last": {*x.Plateau,
		65},
		"its error": {*x.PlateauSE, 0.2}, "from": {*x.From, 5}, "to": {*x.To, 7}, "block there": {*x.PlateauBlock, 479},
		"flow there": {*x.PlateauFlow, 4.9e-9}, "start": {x.Start, 1}, "end": {x.End, 9}, "peak": {x.Peak, 70},
		"error": {x.PeakError, 0.5}, "time": {x.PeakTime, 8}} {
		if v[0] != v[1] {
			t.Errorf("%s: %g, want %g", what, v[0], v[1])
		}
	}
	if x.Cause != "grind" || x.Note != "m; n" || x.Why != "w" || x.Number != 3 || x.series != "s" {
		t.Errorf("%+v", x)
	}
	x = logTest("s", 1, &loadcell.Test{Outcome: loadcell.Stopped, First: &loadcell.Plateau{Force: 60},
		Last: &loadcell.Plateau{Force: 65}})
	if x.Cause != "stopped" || x.Flow != nil || x.Block != nil || x.Ripple != nil || x.RippleHz != nil ||
		x.AliasOf != nil || x.PlateauBlock != nil || x.PlateauFlow != nil || *x.Plateau != 65 {
		t.Errorf("%+v", x)
	}
	if x = logTest("s", 1, &loadcell.Test{}); x.Plateau != nil || x.First != nil || x.From != nil {
		t.Errorf("%+v", x)
	}
}

// The pooled points by hand: a single test has no scatter, a flow or block that is not known is none, each log is named
// once, and several tests without a flow are warned of.
func TestPointsOfLogsByHand(t *testing.T) {
	test := func(log string) loadcell.Test { return loadcell.Test{Log: log} }
	var r LogResult
	r.points([]loadcell.Series{{Name: "a", Groups: []loadcell.Group{
		{Flow: 5e-9, Force: 70, SD: 3, Half: 7.5, N: 3, CV: 0.04, Cause: feeder.Grind, Block: 480,
			Tests: []loadcell.Test{test("x"), test("y"), test("x")}},
		{Force: 50, Half: math.Inf(1), N: 1, Cause: feeder.Skip, Tests: []loadcell.Test{test("y")}}}}})
	if p := r.Points[0]; *p.Flow != 5e-9 || *p.Block != 480 || p.Force != 70 || *p.SD != 3 || *p.Half != 7.5 ||
		p.Repeats != 3 || *p.CV != 0.04 || p.Cause != "grind" || p.Logs != "x, y" || p.Series != "a" {
		t.Errorf("%+v", p)
	}
	if p := r.Points[1]; p.Flow != nil || p.Block != nil || p.SD != nil || p.Half != nil || p.CV != nil ||
		p.Repeats != 1 || p.Logs != "y" {
		t.Errorf("%+v", p)
	}
	if len(r.Warnings) != 0 {
		t.Errorf("%+v", r.Warnings)
	}
	r.points([]loadcell.Series{{Groups: []loadcell.Group{{Force: 50, N: 2, Half: math.Inf(1)}}}})
	if !strings.Contains(warned(r.Warnings), "flow-not-named: 2 tests") || r.Points[2].Half != nil ||
		r.Points[2].SD == nil {
		t.Errorf("%+v", r.Warnings)
	}
}

// The sentence of logs: how many tests in how many logs, each point with its half width, six of them at most; without a
// point how the tests ended.
func TestSentenceOfLogs(t *testing.T) {
	point := func(series string, flow, half float64) LogPoint {
		return LogPoint{Series: series, Flow: quantity.KnownIf(flow > 0, flow), Force: 70, Cause: "grind",
			Half: quantity.KnownIf(half > 0, half)}
	}
	one := LogResult{Logs: []LogFile{{Series: "a"}}, Tests: make([]LogTest, 1), Points: []LogPoint{point("a", 5e-9, 2)}}
	if got, want := one.sentence(), "1 test. at 5 mm3/s: "; !strings.HasPrefix(got, strings.Replace(want, " at", "",
		1)) || !strings.HasSuffix(got, ", grind, ±2.00 N.") {
		t.Errorf("%q", got)
	}
	two := LogResult{Logs: []LogFile{{Series: "a"}, {Series: "b"}}, Tests: make([]LogTest, 2),
		Points: []LogPoint{point("a", 0, 0)}}
	if got := two.sentence(); !strings.HasPrefix(got, "2 tests in 2 logs. a at flow not named: ") ||
		strings.Contains(got, "±") {
		t.Errorf("%q", got)
	}
	for n, want := range map[int]string{6: "", 7: "; and 1 more.", 9: "; and 3 more."} {
		r := LogResult{Logs: one.Logs, Tests: make([]LogTest, n), Points: slices.Repeat(one.Points, n)}
		if got := r.sentence(); strings.Count(got, "grind") != min(n, 6) || !strings.HasSuffix(got, want) ||
			strings.Contains(got, "more") != (want != "") {
			t.Errorf("%d points: %q", n, got)
		}
	}
	held := LogResult{Logs: one.Logs, Tests: []LogTest{{Cause: "held"}, {Cause: "stopped"}, {Cause: "held"}}}
	if got := held.sentence(); got != "3 tests, without a failure of the feeder (2 held, 1 stopped)." {
		t.Errorf("%q", got)
	}
}
