package study

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/quantity"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// LogResult is what logs say, one or many.
type LogResult struct {
	Header
	Points  []LogPoint  `json:"points"` // what the feeder holds, pooled over the logs of a series
	Tests   []LogTest   `json:"tests"`
	Logs    []LogFile   `json:"logs"`
	Columns []LogColumn `json:"columns"`
	Shown   []LogRow    `json:"fault_rows"`
	Unread  []LogUnread `json:"unread"`
	Curves  []LogCurve  `json:"-"`
}

// LogPoint is the repeats of a series at one flow.
type LogPoint struct {
	Series  string   `q:"series"`
	Flow    *float64 `q:"flow"`  // nil if not named
	Block   *float64 `q:"block"` // at failure; nil if not logged
	Force   float64  `q:"force"`
	SD      *float64 `q:"force_sd"`
	Half    *float64 `q:"half_width"` // nil for a single test
	Repeats int      `q:"repeats"`
	CV      *float64 `q:"coefficient_of_variation"`
	Cause   string   `q:"cause"`
	Logs    string   `q:"files"                    show:"wide"`
}

// LogTest is one push. What is not known, or was not found, is nil.
type LogTest struct {
	Log       string   `q:"log"                    show:"wide"`
	Number    int      `q:"test"`
	Start     float64  `q:"start"`
	End       float64  `q:"end"`
	Flow      *float64 `q:"flow"`
	Block     *float64 `q:"block"`
	First     *float64 `q:"first_plateau"` // the first steady stretch; Plateau is the last
	Plateau   *float64 `q:"plateau"`
	PlateauSE *float64 `q:"plateau_standard_error"`
	From      *float64 `q:"plateau_from"           show:"no"`
	To        *float64 `q:"plateau_to"             show:"no"`
	Peak      float64  `q:"peak"`
	PeakError float64  `q:"peak_error"`
	PeakTime  float64  `q:"peak_time"`
	Cause     string   `q:"cause"` // of a failure; else how the push ended
	Why       string   `q:"why"`
	Note      string   `q:"note"                   show:"wide"`
	Ripple    *float64 `q:"ripple"`
	RippleHz  *float64 `q:"ripple_frequency"`
	AliasOf   *float64 `q:"alias_of"`

	PlateauBlock *float64 `q:"plateau_block" show:"no"` // mean over the last plateau
	PlateauFlow  *float64 `q:"plateau_flow"  show:"no"`
	series       string
}

// LogFile is one log.
type LogFile struct {
	Log    string   `q:"log"`
	Series string   `q:"series"`
	Rows   int      `q:"rows"`
	Used   int      `q:"rows_used"`
	Rate   float64  `q:"rate"`
	Tare   float64  `q:"tare"`
	How    string   `q:"why"` // where the zero is from
	Noise  float64  `q:"noise"`
	Drift  *float64 `q:"drift"`
	Tests  int      `q:"tests"`
	Faults string   `q:"faults"`
}

// LogColumn is a column of a log and what it was taken for.
type LogColumn struct {
	Log    string `q:"log"`
	Role   string `q:"role"`
	Number int    `q:"log_column"`
	Name   string `q:"column_name"`
	Unit   string `q:"unit"`
	Why    string `q:"why"`
}

// LogRow is a row that was not plain data.
type LogRow struct {
	Log  string `q:"log"  show:"wide"`
	Line int    `q:"line"`
	Kind string `q:"kind"`
	Why  string `q:"why"`
	Text string `q:"text"`
}

// LogUnread is a log that could not be read, or not analysed.
type LogUnread struct {
	Log string `q:"log"`
	Why string `q:"why"`
}

// LogCurve is a log above its zero, thinned for a picture: the extremes of each stretch are kept.
type LogCurve struct {
	Log         string
	Time, Force []float64
}

// LogJob is what to do with logs.
type LogJob struct {
	Open     []func() (*loadcell.Log, File, error) // reads one log; one after another, so that one is held at a time
	Names    []string                              // of the logs
	Settings loadcell.Settings
	By       loadcell.PoolBy // name if empty
	Cell     bool            // counts were turned by the file of a cell: its zero serves where the log shows no rest
	Material string          // name of the polymer pushed, "" if not said
}

// ReadLogs reads and analyses logs and pools their repeats. Errors: the problems of a single log; of many, those of all
// if none could be read; else the others are told in the result.
func ReadLogs(job LogJob) (*LogResult, error) {
	if job.By == "" {
		job.By = loadcell.ByName
	}
	title := "Logs"
	if len(job.Names) == 1 {
		title = "Log " + job.Names[0]
	}
	out := &LogResult{Header: Header{Version: Version, Title: title, Cautions: Cautions, Good: true}}
	var all strict.Problems
	var last error
	var names []string
	var tests [][]loadcell.Test
	for i, open := range job.Open {
		name := job.Names[i]
		a, err := out.one(job, name, open)
		if err != nil {
			var ps strict.Problems
			if errors.As(err, &ps) {
				all = append(all, ps...)
			}
			last = err
			out.Unread = append(out.Unread, LogUnread{name, err.Error()})
			continue
		}
		names, tests = append(names, loadcell.SeriesOf(name, job.By)), append(tests, a.Tests)
	}
	switch {
	case len(tests) == 0 && len(all) > 0:
		return nil, all
	case len(tests) == 0 && last != nil:
		return nil, last
	case len(out.Unread) > 0:
		out.warn("logs-not-read", "%d of %d logs could not be used, %s first: %s", len(out.Unread),
			len(job.Open), out.Unread[0].Log, out.Unread[0].Why)
	}
	if n := loadcell.Numbered(names); job.By == loadcell.ByName && len(n) > 0 {
		out.warn("series-by-number", "%s differ by a number at the end of the name alone and are taken as different "+
			"feeders; if they are repeats of one, end the names in _run1, _run2, ... or pool them as all or by "+
			"folder", strings.Join(n, ", "))
	}
	out.folding(job)
	out.points(loadcell.Gather(names, tests, orDefault(job.Settings.Confidence)))
	out.Sentence = out.sentence()
	return out, nil
}

// folding warns where soft stock collapsed and nobody says how: a filament that folds before the gear or the melt loses
// its force as one that is ground.
func (r *LogResult) folding(job LogJob) {
	if job.Settings.Seen != "" || !slices.ContainsFunc(r.Tests, func(t LogTest) bool {
		return t.Cause == string(feeder.Grind)
	}) {
		return
	}
	const shelf = 298.15 // K: filament as it comes to the feeder
	m, err := materials.Get(job.Material)
	if err != nil || m.Modulus.At(shelf) >= feeder.SoftModulus {
		return
	}
	r.warn("folds-or-grinds", "%s is soft: a filament that folds loses its force as one that is ground, and the force "+
		"alone cannot tell them; watch the gear and state what was seen (--seen buckle or grind)",
		m.Name)
}

func orDefault(confidence float64) float64 {
	if confidence == 0 {
		return 0.95
	}
	return confidence
}

// one reads and analyses one log and takes from it what the result keeps.
func (r *LogResult) one(job LogJob, name string, open func() (*loadcell.Log, File, error)) (*loadcell.Analysis, error) {
	l, file, err := open()
	if err != nil {
		return nil, err
	}
	set := job.Settings
	inName := false
	if q := loadcell.FlowInName(name); q > 0 && len(set.Flows) == 0 && (l.Flow == nil || l.Switch()) {
		set.Flows, inName = []float64{q * unit.MM3}, true
	}
	a, err := loadcell.Analyse(l, set)
	var unknown *loadcell.ZeroError
	if errors.As(err, &unknown) && job.Cell && l.Format.ForceUnit == "counts" && set.Zero == nil {
		zero := 0.0
		set.Zero = &zero
		if a, err = loadcell.Analyse(l, set); err == nil {
			a.TareHow = "the file of the cell"
			r.warn("zero-of-cell",
				"%s: %s; the zero of the cell's file is taken, without the load that this rig puts on the cell at rest",
				name, unknown.What)
		}
	}
	if err != nil {
		return nil, err
	}
	if inName {
		r.warn("flow-by-name", "the flow of %s is read from its name: %.3g mm3/s", name,
			set.Flows[0]/unit.MM3)
	}
	many := len(job.Open) > 1
	for _, w := range a.Warnings {
		if many {
			w.Message = name + ": " + w.Message
		}
		r.add(w)
	}
	r.Files = append(r.Files, file)
	r.keep(name, loadcell.SeriesOf(name, job.By), l, a)
	return a, nil
}

// keep takes what the result shows of a log.
func (r *LogResult) keep(name, series string, l *loadcell.Log, a *loadcell.Analysis) {
	f := l.Faults()
	x := LogFile{Log: name, Series: series, Rows: l.Rows, Used: len(l.Time), Rate: 1 / l.Step, Tare: a.Tare,
		How: a.TareHow, Noise: a.Noise, Tests: len(a.Tests),
		Faults: fmt.Sprintf("%d not data, %d repeated, %d clock restarts, %d gaps, %d with a value kept", f.Junk,
			f.Repeated, f.Resets, f.Gaps, f.Held)}
	if a.DriftKnown {
		x.Drift = &a.Drift
	}
	r.Logs = append(r.Logs, x)
	for _, c := range l.Columns {
		r.Columns = append(r.Columns, LogColumn{Log: name, Role: c.Role, Number: c.Number, Name: c.Name, Unit: c.Unit,
			Why: c.Why})
	}
	for _, k := range []struct {
		kind string
		rows loadcell.Rows
	}{{"not data", l.Junk}, {"repeated", l.Repeated}, {"clock restart", l.Resets}, {"gap", l.Gaps},
		{"value kept", l.Held}} {
		for _, row := range k.rows.First {
			r.Shown = append(r.Shown, LogRow{Log: name, Line: row.Line, Kind: k.kind, Why: row.Why, Text: row.Text})
		}
		if more := k.rows.Count - len(k.rows.First); more > 0 {
			last := k.rows.First[len(k.rows.First)-1]
			r.Shown = append(r.Shown,
				LogRow{Log: name, Line: last.Line, Kind: k.kind, Why: fmt.Sprintf("and %d more of this kind from here",
					more)})
		}
	}
	for i := range a.Tests {
		a.Tests[i].Log = name
		r.Tests = append(r.Tests, logTest(series, i+1, &a.Tests[i]))
	}
	r.Curves = append(r.Curves, thinned(name, l, a.Tare))
}

func logTest(series string, number int, t *loadcell.Test) LogTest {
	x := LogTest{
		Log: t.Log, Number: number, Start: t.Start, End: t.End, Flow: quantity.KnownIf(t.Flow > 0, t.Flow),
		Block: quantity.KnownIf(t.Block > 0, t.Block),
		Peak:  t.Peak, PeakError: t.PeakError, PeakTime: t.PeakTime, Cause: string(t.Cause), Why: t.Why,
		Note:     strings.Join(t.Notes, "; "),
		Ripple:   quantity.KnownIf(t.Ripple.Amplitude > 0, t.Ripple.Amplitude),
		RippleHz: quantity.KnownIf(t.Ripple.Amplitude > 0, t.Ripple.Frequency),
		AliasOf:  quantity.KnownIf(t.AliasOf > 0, t.AliasOf), series: series,
	}
	if !t.Failed() {
		x.Cause = string(t.Outcome)
	}
	if p := t.Last; p != nil {
		x.Plateau, x.PlateauSE, x.From, x.To = quantity.Known(p.Force), quantity.Known(p.SE), quantity.Known(p.From),
			quantity.Known(p.To)
		x.First = quantity.Known(t.First.Force)
		x.PlateauBlock, x.PlateauFlow = quantity.KnownIf(p.Block > 0, p.Block), quantity.KnownIf(p.Flow > 0, p.Flow)
	}
	return x
}

// thinned keeps at most 1500 points of a log.
func thinned(name string, l *loadcell.Log, tare float64) LogCurve {
	const stretches = 750
	c := LogCurve{Log: name}
	step := max(1, len(l.Time)/stretches)
	for i := 0; i < len(l.Time); i += step {
		lo, hi := i, i
		for j := i; j < min(i+step, len(l.Time)); j++ {
			if l.Force[j] < l.Force[lo] {
				lo = j
			}
			if l.Force[j] > l.Force[hi] {
				hi = j
			}
		}
		a, b := min(lo, hi), max(lo, hi)
		c.Time, c.Force = append(c.Time, l.Time[a]), append(c.Force, l.Force[a]-tare)
		if b > a {
			c.Time, c.Force = append(c.Time, l.Time[b]), append(c.Force, l.Force[b]-tare)
		}
	}
	return c
}

// points writes the pooled repeats of all series.
func (r *LogResult) points(series []loadcell.Series) {
	for _, s := range series {
		for _, g := range s.Groups {
			many := g.N > 1
			if many && g.Flow == 0 {
				r.warn("flow-not-named", "%d tests have no flow and are pooled as repeats of one: if they are of "+
					"several feeds, name these with --flows", g.N)
			}
			var logs []string
			for _, t := range g.Tests {
				if !slices.Contains(logs, t.Log) {
					logs = append(logs, t.Log)
				}
			}
			r.Points = append(r.Points, LogPoint{
				Series: s.Name, Flow: quantity.KnownIf(g.Flow > 0, g.Flow),
				Block: quantity.KnownIf(g.Block > 0, g.Block), Force: g.Force,
				SD: quantity.KnownIf(many, g.SD), Half: quantity.KnownIf(true, g.Half),
				Repeats: g.N, CV: quantity.KnownIf(many, g.CV), Cause: string(g.Cause), Logs: strings.Join(logs, ", "),
			})
		}
	}
}

// ManySeries tells whether the points are of more than one series.
func (r *LogResult) ManySeries() bool {
	for _, l := range r.Logs {
		if l.Series != r.Logs[0].Series {
			return true
		}
	}
	return false
}

func (r *LogResult) sentence() string {
	lead := tests(len(r.Tests))
	if len(r.Logs) > 1 {
		lead += fmt.Sprintf(" in %d logs", len(r.Logs))
	}
	if len(r.Points) == 0 {
		ends := map[string]int{}
		var order []string
		for _, t := range r.Tests {
			if ends[t.Cause]++; ends[t.Cause] == 1 {
				order = append(order, t.Cause)
			}
		}
		for i, o := range order {
			order[i] = fmt.Sprintf("%d %s", ends[o], o)
		}
		return lead + ", without a failure of the feeder (" + strings.Join(order, ", ") + ")."
	}
	const most = 6
	var parts []string
	for i, g := range r.Points {
		if i == most {
			parts = append(parts, fmt.Sprintf(" and %d more", len(r.Points)-most))
			break
		}
		at := "flow not named"
		if g.Flow != nil {
			at = quantity.Text("target_flow", *g.Flow)
		}
		if r.ManySeries() {
			at = g.Series + " at " + at
		}
		s := fmt.Sprintf(" %s: %s, %s", at, quantity.Both("force", g.Force, 0), g.Cause)
		if g.Half != nil {
			s += ", ±" + quantity.Text("half_width", *g.Half)
		}
		parts = append(parts, s)
	}
	return lead + "." + strings.Join(parts, ";") + "."
}

func tests(n int) string {
	if n == 1 {
		return "1 test"
	}
	return fmt.Sprintf("%d tests", n)
}
