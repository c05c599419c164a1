package loadcell

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/stat"

	"meltload/flow/feeder"
	"meltload/materials"
	"meltload/materials/unit"
)

// Settings steer an analysis. The zero value is usable.
type Settings struct {
	TareFrom, TareTo float64     // s, stretch without load; both 0: found out
	Zero             *float64    // N, the reading at rest; nil: found out
	Negative         int         // pushing counts down: 1 yes, -1 no, 0 found out where it is clear
	Flows            []float64   // m3/s of the tests in their order, reused from the start when there are more tests
	Area             float64     // m2, filament cross-section; 1.75 mm filament if 0
	Confidence       float64     // of intervals, 0.95 if 0
	Frequencies      []float64   // Hz that the rig could show (steps, gear mesh): named if the ripple is their alias
	Thresholds       *Thresholds // DefaultThresholds if nil
	// Seen is how the failures were seen to happen, empty if nobody watched. It stands before what the force alone says
	// (a filament that folds collapses as one that is ground), and makes an unclear end a failure; a stop stays a stop.
	Seen feeder.Cause
}

// Test is one push from rest to the end.
type Test struct {
	Start, End float64 // s
	Flow       float64 // m3/s, 0 if not known
	Block      float64 // K at the peak, 0 if not logged

	First, Last *Plateau // the first and the last steady stretch before the end; nil if none is steady; may be the same
	Peak        float64  // N, where the force first gives way; the highest steady level reached if it does not
	PeakTime    float64  // s
	PeakError   float64  // N, from noise and from the time between samples
	Outcome     Outcome
	Cause       feeder.Cause // of a failure, feeder.Mixed if it is not clear, else empty
	Why         string       // how the outcome was read
	Notes       []string     // what to know before using the numbers
	Spike       float64      // N, of a contact spike that was passed over, 0 without
	Ripple      Ripple       // on the last plateau
	AliasOf     float64      // Hz of the known frequency that would alias to the ripple, 0 if none
	Log         string       // name of the log, where tests of several are gathered
	FromRow     int          // rows of the log: the first of the push,
	EndRow      int          // and the last before it gives way or is let go
	first, last int
}

// Failed tells whether the feeder gave way.
func (t *Test) Failed() bool { return t.Outcome == Failed }

// Group is the tests of one flow.
type Group struct {
	Flow   float64 // m3/s
	Force  float64 // N, mean of the peaks of the tests that failed
	SD     float64 // N, of single tests
	Half   float64 // N, half-width of the confidence interval of the mean; +Inf for one test
	N      int
	CV     float64
	Cause  feeder.Cause
	Unsure bool    // causes differ, or were unclear
	Block  float64 // K, mean of the tests at their failure, 0 if one does not know it
	Tests  []Test
}

// Analysis is what a log says.
type Analysis struct {
	Tare, Noise float64 // N
	TareFrom    float64 // s, where the zero was read
	TareTo      float64
	TareHow     string
	Drift       float64 // N/s from the stretch before the first test to that after the last
	DriftKnown  bool
	Flipped     bool // the sign of the force was turned
	Tests       []Test
	Groups      []Group
	Confidence  float64
	Warnings    []materials.Warning
}

func (a *Analysis) warn(code, format string, args ...any) {
	a.Warnings = materials.AddWarning(a.Warnings, materials.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}

// Analyse finds zero, tests, plateaus, peaks, and how each test ended. Forces in the result have the zero taken off as
// it moves from rest to rest. If the sign of the force is turned, it is turned in the log too. Errors: a *ZeroError
// where the zero is not certain, or a log in which no push stands out. The work is linear in the rows.
func Analyse(l *Log, s Settings) (*Analysis, error) {
	if s.Confidence == 0 {
		s.Confidence = 0.95
	}
	th := s.Thresholds
	if th == nil {
		d := DefaultThresholds()
		th = &d
	}
	a := &Analysis{Confidence: s.Confidence}
	if n := len(l.Force); n < 20 {
		return nil, fmt.Errorf("%s: %d rows are too few to analyse; 20 are needed", l.Name, n)
	}
	v := newView(l, *th)
	note, err := v.orient(s.Negative)
	if err != nil && s.Zero == nil && !(s.TareTo > s.TareFrom) {
		return nil, err
	}
	if note != "" {
		a.warn("sign-turned", "%s", note)
	}
	a.Flipped = v.flipped
	b, err := a.zero(v, s)
	if err != nil {
		return nil, err
	}
	if top := v.hi - a.Tare; top <= th.OnNoise*v.noise || top <= 0 {
		return nil, fmt.Errorf("%s: no test stands out: the largest force is %.3g N above the zero, the noise %.3g N; "+
			"check zero and unit", l.Name, top, v.noise)
	}
	a.drift(v, b)
	pushes, spikes := v.find(b)
	if starts := v.findLag(pushes); v.lag > 0 {
		a.warn("flow-lags", "the flow column rises %.2g s after the force (the middle of %d starts), which no feed "+
			"does: it is read as that much earlier", float64(v.lag)/v.fs, starts)
	}
	wanders := 0
	for i := range pushes {
		p := &pushes[i]
		v.cut(b, p)
		if !p.headless && v.wanders(p) {
			wanders++
			continue
		}
		a.Tests = append(a.Tests, a.read(l, p, len(a.Tests), s, th))
		p.y, p.t, p.q = nil, nil, nil
	}
	if len(a.Tests) == 0 {
		return nil, fmt.Errorf("%s: no test stands out: nothing rises above the zero of %.3g N as a push does, for "+
			"longer than %.2g s; check zero and unit", l.Name, a.Tare, th.Shortest)
	}
	if wanders > 0 {
		a.warn("zero-wanders",
			"%d slow rises and falls are taken as a wandering zero, not as pushes; let the cell warm up before the "+
				"test", wanders)
	}
	if spikes > 0 {
		a.warn("short-spikes", "%d rises shorter than %.2g s are taken as knocks, not as pushes", spikes, th.Shortest)
	}
	a.group(s.Confidence)
	a.tell(l, s)
	return a, nil
}

// zero settles the zero line: stated, from a stated stretch, or found.
func (a *Analysis) zero(v *view, s Settings) (*baseline, error) {
	l := v.l
	switch {
	case s.Zero != nil:
		a.Tare = *s.Zero
		if v.flipped {
			a.Tare = -a.Tare
		}
		a.TareHow = "stated"
		a.Noise = v.noise
		// The zero is stated, but not what it does in time: rests near it are followed.
		b := v.follow(a.Tare, 0)
		return b, a.checkBelow(v, b)
	case s.TareTo > s.TareFrom:
		from, to := sort.SearchFloat64s(l.Time, s.TareFrom), sort.SearchFloat64s(l.Time, s.TareTo)
		if to-from < 4 {
			return nil, fmt.Errorf("%s: the tare stretch %.3g to %.3g s holds %d rows; 4 are needed", l.Name,
				s.TareFrom, s.TareTo, to-from)
		}
		a.Tare, a.TareHow = stat.Mean(l.Force[from:to], nil), "the stated stretch"
		a.TareFrom, a.TareTo = l.Time[from], l.Time[to-1]
		b := v.follow(a.Tare, 0)
		v.restNoise(b)
		a.Noise = v.noise
		return b, a.checkBelow(v, b)
	}
	level, from, to, err := v.startRest()
	if err != nil {
		return nil, err
	}
	a.Tare, a.TareHow = level, "the rest at the start, the lowest steady level of the log"
	a.TareFrom, a.TareTo = l.Time[from], l.Time[to-1]
	b := v.follow(level, to)
	v.restNoise(b)
	a.Noise = v.noise
	if d := l.Time[to-1] - l.Time[from] + l.Step; d < v.th.ShortRest {
		a.warn("short-rest", "the zero of %.3g N is read from only %d rows (%.2g s) at the start: it is known to %.2g "+
			"N; let the rig stand unloaded for 2 s before the push",
			level, to-from, d, 2*v.noise/math.Sqrt(float64(to-from)))
	}
	return b, a.checkBelow(v, b)
}

// checkBelow refuses a zero under which too many rows lie.
func (a *Analysis) checkBelow(v *view, b *baseline) error {
	share := v.below(b)
	switch {
	case share > v.th.BelowShare:
		return &ZeroError{v.l.Name,
			fmt.Sprintf("%.0f %% of the rows lie below the zero of %.4g N (%s), so it is not the rest", 100*share,
				a.Tare, a.TareHow)}
	case share > 0.1*v.th.BelowShare:
		a.warn("below-zero", "%.1f %% of the rows lie below the zero of %.4g N: the filament drew back, or the zero "+
			"is off", 100*share, a.Tare)
	}
	return nil
}

// drift says how the zero moves over the log.
func (a *Analysis) drift(v *view, b *baseline) {
	l := v.l
	n := len(b.rests)
	first, last := b.rests[0], b.rests[n-1]
	end := l.Time[len(l.Time)-1]
	if n > 1 && last.from > first.to && last.to > end-math.Max(2, 0.02*end) {
		a.Drift, a.DriftKnown = (last.level-first.level)/((last.from+last.to)/2-(first.from+first.to)/2), true
	} else {
		a.warn("drift-unknown",
			"the log does not end at rest, so drift of the zero cannot be told from load; let the rig stand unloaded "+
				"for 2 s at the end")
	}
	lo, hi := first.level, first.level
	for _, r := range b.rests {
		lo, hi = math.Min(lo, r.level), math.Max(hi, r.level)
	}
	if hi-lo > math.Max(v.th.DriftTold*v.span(), 4*v.noise) {
		a.warn("zero-moves", "the zero moves by %.2g N over the log (%.3g to %.3g N); it is taken off straight from "+
			"rest to rest", hi-lo, lo, hi)
	}
	if n == 1 && a.TareHow != "stated" && math.Abs(a.Tare) > v.th.FarZero*v.span() {
		a.warn("zero-far", "the zero of %.3g N is large beside the load, and no second rest confirms it: if the log "+
			"starts under load, state --zero", a.Tare)
	}
}

// read evaluates one push.
func (a *Analysis) read(l *Log, p *push, i int, s Settings, th *Thresholds) Test {
	v := p.judge(th)
	if v.bare != nil && s.Seen != "" && s.Seen != feeder.Skip { // somebody saw that it did not skip
		v.bare.notes = v.notes
		v = *v.bare
	}
	t := Test{Start: p.t[0], End: p.t[len(p.t)-1], Outcome: v.outcome, Cause: v.cause, Why: v.why, Notes: v.notes,
		Spike: v.spike, FromRow: p.first, EndRow: p.first + v.at, first: p.first, last: p.last}
	t.seen(s.Seen)
	switch {
	case len(s.Flows) > 0:
		t.Flow = s.Flows[i%len(s.Flows)]
	case p.q != nil && !l.Switch():
		t.Flow = medianFlow(p.q[:max(1, v.at)])
	}
	if l.Block != nil {
		t.Block = float64(l.Block[p.first+v.at])
	}
	t.peak(p, &v, th)
	ps := p.plateaus(v.at+1, th)
	for k := range ps {
		if l.Block != nil {
			t := l.Block[p.first+ps[k].first : p.first+ps[k].last]
			ps[k].Block = medianFlow(t)
		}
		ps[k].Flow = t.Flow
		if p.q != nil && len(s.Flows) == 0 && !l.Switch() {
			ps[k].Flow = medianFlow(p.q[ps[k].first:ps[k].last])
		}
	}
	if n := len(ps); n > 0 {
		t.First, t.Last = &ps[0], &ps[n-1]
		t.ripple(p, s, th)
	}
	if v.spike > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("a spike of %.3g N at its start is taken as contact", v.spike))
	}
	if p.gap > math.Max(th.GapTime, 3*l.Step) {
		t.Notes = append(t.Notes, fmt.Sprintf("%.2g s without rows within it", p.gap))
	}
	if n := len(p.glitches); n > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("%d single rows far from their neighbours are passed over", n))
	}
	if p.headless && len(t.Notes) == 0 {
		t.Notes = append(t.Notes, "the log starts within it")
	}
	return t
}

// seen puts the cause that somebody saw in the place of the one read from the force, and says where they differ.
func (t *Test) seen(c feeder.Cause) {
	if c == "" || t.Outcome != Failed && t.Outcome != Unclear {
		return
	}
	if t.Outcome == Unclear {
		t.Notes = append(t.Notes, fmt.Sprintf("seen to fail (%s); the force alone is unclear", c))
	} else if c != t.Cause {
		t.Notes = append(t.Notes, fmt.Sprintf("seen as %s; the force alone reads as %s", c, t.Cause))
	}
	t.Outcome, t.Cause = Failed, c
}

func medianFlow(q []float32) float64 {
	step := max(1, len(q)/10000)
	var x []float64
	for i := 0; i < len(q); i += step {
		x = append(x, float64(q[i]))
	}
	return Median(x)
}

// peak reads the force where it gives way: a straight line through the half second before. A maximum would pick the
// luckiest noise and, of a saw-tooth, the luckiest tooth. Without a failure it is the highest mean of half a second.
func (t *Test) peak(p *push, v *verdict, th *Thresholds) {
	m := max(4, min(p.rowsOf(th.PeakTime), 5000))
	at := v.at
	if v.outcome == Held || v.outcome == Stopped {
		best := math.Inf(-1)
		var sum float64
		for i := range at + 1 {
			sum += p.y[i]
			if i >= m {
				sum -= p.y[i-m]
			}
			if x := sum / float64(m); i >= m-1 && x > best {
				best, t.PeakTime = x, p.t[i]
			}
		}
		if math.IsInf(best, -1) {
			best, t.PeakTime = slices.Max(p.y[:at+1]), p.t[at]
		}
		t.Peak, t.PeakError = best, 2*p.hf/math.Sqrt(float64(m))
		return
	}
	t.Peak, t.PeakTime, t.PeakError = p.y[at], p.t[at], p.hf
	if k := min(at+1, m); k >= 4 {
		y := p.y[at+1-k : at+1]
		mean, slope, dev := lineOf(y)
		t.Peak = mean + slope*float64(k-1)/2
		// The force may have risen for up to one more sample; the end of a fitted line is known to 2 s/sqrt(k).
		t.PeakError = math.Max(0, slope) + 2*dev/math.Sqrt(float64(k))
	}
	if v.force > 0 {
		t.Peak = v.force
	}
}

// ripple looks for a wave on the last plateau.
func (t *Test) ripple(p *push, s Settings, th *Thresholds) {
	x := t.Last
	y := p.y[x.first:x.last]
	if p.gap > math.Max(0.5, 3/p.fs) {
		return // spectra of broken time are not to be trusted
	}
	r := FindRipple(y, p.fs, th.RippleCycles)
	if r.Share < th.RippleShare || r.Amplitude < 2*p.noise/math.Sqrt(float64(len(y))/8) {
		return
	}
	t.Ripple = r
	for _, f := range s.Frequencies {
		if f > p.fs/2 && r.Share > 0.2 && math.Abs(Alias(f, p.fs)-r.Frequency) < 2*p.fs/float64(len(y)) {
			t.AliasOf = f
		}
	}
}

// tell gathers what the reader of the result must know.
func (a *Analysis) tell(l *Log, s Settings) {
	for _, n := range l.Notes {
		a.warn("assumed-on-reading", "%s", n)
	}
	if l.Stamp > 0 {
		a.warn("coarse-clock",
			"the clock of the log moves in steps of %.3g s: the rows within a step are taken as evenly spaced, %.3g s "+
				"apart", l.Stamp, l.Step)
	}
	f := l.Faults()
	if f.Gaps > 0 || f.Resets > 0 {
		a.warn("log-faults", "the log has %d gaps and %d restarts of its clock; tests that straddle one are not to be "+
			"trusted", f.Gaps, f.Resets)
	}
	if f.Held > 0 {
		a.warn("values-kept", "in %d cells block temperature or flow was not a number: the value before is used (line "+
			"%d first)", f.Held, l.Held.First[0].Line)
	}
	if f.Junk > 0 {
		a.warn("junk-rows", "%d of %d rows were not data and were left out (line %d first: %s)", f.Junk, l.Rows,
			l.Junk.First[0].Line, l.Junk.First[0].Why)
	}
	if len(s.Flows) > 0 && len(a.Tests)%len(s.Flows) != 0 {
		a.warn("flows-do-not-fit", "%d tests were found for a list of %d flows: check which is which", len(a.Tests),
			len(s.Flows))
	}
	a.tellSpeed(l, s)
	a.tellForce(l)
	var unclear, noted []string
	for i, t := range a.Tests {
		if t.Outcome == Unclear {
			unclear = append(unclear, fmt.Sprint(i+1))
		}
		for _, n := range t.Notes {
			noted = append(noted, fmt.Sprintf("test %d: %s", i+1, n))
		}
	}
	if unclear != nil {
		a.warn("unclear-tests",
			"how test %s ended cannot be told from the log, so it gives no point: log the commanded flow beside the "+
				"force, and sample faster where skipping may be hidden", strings.Join(unclear, ", "))
	}
	if noted != nil {
		a.warn("test-notes", "%s", strings.Join(noted[:min(len(noted), 12)], "; "))
	}
}

// strongestFilament is the push (N) that no filament is taken to stand (assumed): 60 MPa on 2.85 mm, and a third more.
const strongestFilament = 500

// tellForce warns of forces that can hardly be in their unit, and of a flat top, which a cell or an amplifier at its
// end leaves.
func (a *Analysis) tellForce(l *Log) {
	top := 0.0
	for _, t := range a.Tests {
		top = math.Max(top, t.Peak)
	}
	if top > strongestFilament {
		a.warn("force-unit", "a push of %.4g N is more than any filament is taken to stand (%d N, assumed): check the "+
			"unit of the force column, taken as %s (--force-unit)", top, strongestFilament, l.Format.ForceUnit)
	}
	if rows, level := flatTop(l.Force); rows > 0 {
		a.warn("flat-top", "the highest reading, %.4g N above the zero, stands unchanged in %d rows, into which the "+
			"force rises: cell or amplifier may be at their end, and the true force higher", level-a.Tare, rows)
	}
}

// flatRows is how many rows of one reading make a flat top (assumed).
const flatRows = 10

// flatTop counts the rows in which the highest reading stands unchanged, where the force rises into them by more than a
// steady force wanders; 0 where it does not.
func flatTop(y []float64) (rows int, level float64) {
	level = slices.Max(y)
	start := 0
	for i := 0; i < len(y); {
		j := i
		for j < len(y) && y[j] == level {
			j++
		}
		if j-i > rows {
			rows, start = j-i, i
		}
		i = max(j, i+1)
	}
	if rows < flatRows || start < flatRows {
		return 0, level
	}
	rise := level - y[start-flatRows] // over as many rows
	if rise < math.Max(0.01*math.Abs(level), 10*quantum(y)) {
		return 0, level
	}
	return rows, level
}

// fastestFeed is the speed of filament (m/s) that no feeder is taken to reach (assumed): 240 mm3/s of 1.75 mm filament.
const fastestFeed = 0.1

// tellSpeed warns of a flow column that can hardly be in its unit.
func (a *Analysis) tellSpeed(l *Log, s Settings) {
	if l.Flow == nil || l.Switch() || len(s.Flows) > 0 {
		return
	}
	area := s.Area
	if area == 0 {
		area = unit.Disc(1.75e-3)
	}
	top := 0.0
	for _, t := range a.Tests {
		top = math.Max(top, t.Flow)
	}
	if v := top / area; v > fastestFeed {
		a.warn("flow-unit", "the flow column, taken in %s, gives up to %.3g mm3/s, filament at %.3g mm/s, "+
			"more than any feeder is taken to reach (%.3g mm/s, assumed): check the unit (--flow-unit) and the "+
			"diameter (--diameter)", l.Format.FlowUnit, top/unit.MM3, v/unit.MM, fastestFeed/unit.MM)
	}
}

// group gathers the failed tests by flow.
func (a *Analysis) group(confidence float64) { a.Groups = Pool(a.Tests, confidence) }

// Pool gathers tests that failed by flow; flows within 0.5 % are one.
func Pool(tests []Test, confidence float64) []Group {
	var failed []Test
	for _, t := range tests {
		if t.Failed() {
			failed = append(failed, t)
		}
	}
	slices.SortStableFunc(failed, func(a, b Test) int {
		switch {
		case a.Flow < b.Flow:
			return -1
		case a.Flow > b.Flow:
			return 1
		}
		return 0
	})
	var out []Group
	for i := 0; i < len(failed); {
		j := i + 1
		for j < len(failed) && failed[j].Flow-failed[i].Flow <= 0.005*failed[i].Flow {
			j++
		}
		out = append(out, groupOf(failed[i:j], confidence))
		i = j
	}
	return out
}

func groupOf(ts []Test, confidence float64) Group {
	g := Group{Flow: ts[0].Flow, N: len(ts), Cause: ts[0].Cause, Half: math.Inf(1), Tests: ts}
	x := make([]float64, len(ts))
	known := true
	for i, t := range ts {
		x[i] = t.Peak
		known = known && t.Block > 0
		g.Block += t.Block / float64(len(ts))
		if t.Cause != g.Cause || t.Cause == feeder.Mixed {
			g.Unsure = true
		}
	}
	if !known {
		g.Block = 0
	}
	if g.Unsure {
		g.Cause = feeder.Mixed
	}
	g.Force = stat.Mean(x, nil)
	if len(x) > 1 {
		g.SD = stat.StdDev(x, nil)
		g.Half = Interval(g.SD, len(x), confidence)
		g.CV = g.SD / g.Force
	}
	return g
}

// Points turns the groups with a known flow into capability points; area is that of the filament, m2.
func (a *Analysis) Points(area float64) []feeder.Point {
	if area == 0 {
		area = unit.Disc(1.75e-3)
	}
	var out []feeder.Point
	for _, g := range a.Groups {
		if g.Flow > 0 {
			out = append(out, feeder.Point{Speed: g.Flow / area, Force: g.Force, Cause: g.Cause,
				Repeats: g.N, SD: g.SD})
		}
	}
	return out
}
