package loadcell

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"

	"meltload/flow/feeder"
	"meltload/materials"
	"meltload/materials/unit"
)

// Settings steer an analysis. The zero value is usable.
type Settings struct {
	TareFrom, TareTo float64   // s, stretch without load; both 0: found near the start
	Flows            []float64 // m3/s of the tests in their order, reused from the start when there are more tests
	Area             float64   // m2, filament cross-section; 1.75 mm filament if 0
	Confidence       float64   // of intervals, 0.95 if 0
	Frequencies      []float64 // Hz that the rig could show (steps, gear mesh): named if the ripple is their alias
}

// Test is one push from rest to the end.
type Test struct {
	Start, End float64 // s
	Flow       float64 // m3/s, 0 if not known
	Block      float64 // K at the peak, 0 if not logged

	HasPlateau          bool
	PlateauFrom         float64 // s
	PlateauTo           float64
	Plateau             float64 // N, mean over the flattest stretch before the peak
	PlateauSE           float64 // N, standard error from blocks
	Peak                float64 // N, where the force first gives way; from a line through the half second before
	PeakTime            float64 // s
	PeakError           float64 // N, from noise and from the time between samples
	Cause               feeder.Cause
	Failed              bool
	Why                 string  // how the cause was read
	Ripple              Ripple  // on the plateau
	AliasOf             float64 // Hz of the known frequency that would alias to the ripple, 0 if none
	first, last, peakAt int
}

// Group is the tests of one flow.
type Group struct {
	Flow   float64 // m3/s
	Force  float64 // N, mean of the peaks of the tests that failed
	SD     float64 // N, of single tests
	Half   float64 // N, half-width of the confidence interval of the mean; +Inf for one test
	N      int
	CV     float64
	Cause  feeder.Cause
	Unsure bool // causes differ, or were unclear
}

// Analysis is what a log says.
type Analysis struct {
	Tare, Noise float64 // N
	Drift       float64 // N/s from the stretch before the first test to that after the last
	DriftKnown  bool
	Tests       []Test
	Groups      []Group
	Confidence  float64
	Warnings    []materials.Warning
}

// Analyse finds tare, tests, plateaus, peaks and causes. Forces in the result have the tare taken off, with
// its drift where both ends show it.
func Analyse(l *Log, s Settings) (*Analysis, error) {
	if s.Confidence == 0 {
		s.Confidence = 0.95
	}
	if s.Area == 0 {
		s.Area = unit.Disc(1.75e-3)
	}
	a := &Analysis{Confidence: s.Confidence}
	warn := func(code, format string, args ...any) {
		a.Warnings = materials.AddWarning(a.Warnings, materials.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
	}
	n := len(l.Force)
	if n < 20 {
		return nil, fmt.Errorf("%s: %d rows are too few to analyse; 20 are needed", l.Name, n)
	}
	if l.Stamp > 0 {
		warn("coarse-clock", "the clock of the log moves in steps of %.3g s: the rows within a step are taken as evenly spaced, %.3g s apart", l.Stamp, l.Step)
	}
	fs := 1 / l.Step
	w := max(8, int(fs)) // about a second
	w = min(w, n/4)
	var from, to int
	if s.TareTo > s.TareFrom {
		from, to = sort.SearchFloat64s(l.Time, s.TareFrom), sort.SearchFloat64s(l.Time, s.TareTo)
		if to-from < 4 {
			return nil, fmt.Errorf("%s: the tare stretch %.3g to %.3g s holds %d rows; 4 are needed", l.Name, s.TareFrom, s.TareTo, to-from)
		}
	} else {
		head := max(w, n/10)
		from = lowestFlat(l.Force[:min(n, head+w)], w, l.Force[0])
		to = from + w
	}
	a.Tare, a.Noise = stat.MeanStdDev(l.Force[from:to], nil)
	_, robust := MAD(l.Force[from:to])
	if robust > 0 {
		a.Noise = robust
	}
	y := make([]float64, n)
	top := 0.0
	for i, f := range l.Force {
		y[i] = f - a.Tare
		top = math.Max(top, y[i])
	}
	limit := math.Max(8*a.Noise, 0.08*top)
	if top <= 8*a.Noise || top <= 0 {
		return nil, fmt.Errorf("%s: no test stands out: the largest force is %.3g N above the tare, the noise %.3g N; check tare and unit", l.Name, top, a.Noise)
	}
	// Drift: the rest after the last test against the rest before the first.
	tail := lowestFlat(y[n-max(w, n/10):], w, y[n-1]) + n - max(w, n/10)
	if m := stat.Mean(y[tail:tail+w], nil); math.Abs(m) < limit/2 && tail > to {
		dt := l.Time[tail+w/2] - l.Time[(from+to)/2]
		a.Drift, a.DriftKnown = m/dt, true
		for i := range y {
			y[i] -= a.Drift * (l.Time[i] - l.Time[(from+to)/2])
		}
	} else {
		warn("drift-unknown", "the log does not end at rest, so drift of the zero cannot be told from load; let the rig stand unloaded for %.0f s at the end", math.Max(2, 2*float64(w)/fs))
	}
	a.find(l, y, limit, int(fs))
	for i := range a.Tests {
		t := &a.Tests[i]
		switch {
		case len(s.Flows) > 0:
			t.Flow = s.Flows[i%len(s.Flows)]
		case l.Flow != nil:
			t.Flow = Median(l.Flow[t.first:t.last])
		}
		if l.Block != nil {
			t.Block = l.Block[t.peakAt]
		}
		t.read(l, y, a.Noise, fs)
		for _, f := range s.Frequencies {
			if f > fs/2 && t.Ripple.Share > 0.2 && math.Abs(Alias(f, fs)-t.Ripple.Frequency) < 2*fs/float64(t.last-t.first) {
				t.AliasOf = f
			}
		}
	}
	a.group(s.Confidence)
	if f := l.Faults(); f.Gaps > 0 || f.Resets > 0 {
		warn("log-faults", "the log has %d gaps and %d restarts of its clock; tests that straddle one are not to be trusted", f.Gaps, f.Resets)
	}
	if f := l.Faults(); f.Held > 0 {
		warn("values-kept", "in %d cells block temperature or flow was not a number: the value before is used (line %d first)", f.Held, l.Held[0].Line)
	}
	if f := l.Faults(); f.Junk > 0 {
		warn("junk-rows", "%d of %d rows were not data and were left out (line %d first: %s)", f.Junk, l.Rows, l.Junk[0].Line, l.Junk[0].Why)
	}
	if len(s.Flows) > 0 && len(a.Tests)%len(s.Flows) != 0 {
		warn("flows-do-not-fit", "%d tests were found for a list of %d flows: check which is which", len(a.Tests), len(s.Flows))
	}
	return a, nil
}

// lowestFlat returns the start of the window of w values with the least spread, those near the value at the log's end preferred.
func lowestFlat(x []float64, w int, end float64) int {
	best, at := math.Inf(1), 0
	for i := 0; i+w <= len(x); i += max(1, w/4) {
		m, sd := stat.MeanStdDev(x[i:i+w], nil)
		if v := sd + 0.2*math.Abs(m-end); v < best {
			best, at = v, i
		}
	}
	return at
}

// find cuts the log into tests: above the limit for a second, with pauses under a second bridged.
func (a *Analysis) find(l *Log, y []float64, limit float64, second int) {
	second = max(3, second)
	start, quiet := -1, 0
	end := func(last int) {
		if start >= 0 && last-start >= second {
			a.Tests = append(a.Tests, Test{Start: l.Time[start], End: l.Time[last-1], first: start, last: last})
		}
		start, quiet = -1, 0
	}
	for i, v := range y {
		if v > limit {
			if start < 0 {
				start = i
			}
			quiet = 0
		} else if start >= 0 {
			if quiet++; quiet > second {
				end(i - quiet + 1)
			}
		}
	}
	end(len(y) - quiet)
	for i := range a.Tests {
		t := &a.Tests[i]
		t.peakAt = t.first
		for j := t.first; j < t.last; j++ {
			if y[j] > y[t.peakAt] {
				t.peakAt = j
			}
		}
	}
}

// read evaluates one test.
func (t *Test) read(l *Log, y []float64, noise, fs float64) {
	// Peak: where the force first gives way near its top. A maximum would pick the luckiest noise and, of a
	// saw-tooth, the luckiest tooth; a straight line through the half second before does not.
	top := y[t.peakAt]
	window := max(2, int(0.4*fs))
	for i := t.first; i < t.last; i++ {
		if y[i] < 0.93*top {
			continue
		}
		low := y[i]
		for j := i; j < min(t.last, i+window+1); j++ {
			low = math.Min(low, y[j])
		}
		if low < y[i]-0.1*top && i+1 < t.last && y[i+1] < y[i]-0.02*top {
			t.peakAt = i
			break
		}
	}
	p := t.peakAt
	m := max(4, min(40, int(0.5*fs)))
	from := max(t.first, p-m+1)
	t.Peak, t.PeakTime, t.PeakError = y[p], l.Time[p], noise
	if k := p - from + 1; k >= 4 {
		x := make([]float64, k)
		for i := range x {
			x[i] = float64(i - k + 1)
		}
		at, slope := stat.LinearRegression(x, y[from:p+1], nil, false)
		t.Peak = at
		// The force may have risen for up to one more sample; the end of a fitted line is known to 2 s/sqrt(k).
		t.PeakError = math.Max(0, slope) + 2*noise/math.Sqrt(float64(k))
	}
	t.cause(y, noise, fs)
	// Plateau: the flattest stretch of a sixth of the time before the peak, but two seconds at least.
	stop := p
	if !t.Failed {
		stop = t.last
	}
	w := max(int(2*fs), (stop-t.first)/6)
	if stop-t.first >= w+int(fs/2) {
		from := t.first + int(fs/2)
		best, at := math.Inf(1), -1
		x := make([]float64, w)
		for i := range x {
			x[i] = float64(i)
		}
		for i := from; i+w <= stop; i += max(1, w/8) {
			_, slope := stat.LinearRegression(x, y[i:i+w], nil, false)
			if v := math.Abs(slope) * float64(w); v < best {
				best, at = v, i
			}
		}
		if at >= 0 && best < 0.1*t.Peak+3*noise {
			t.HasPlateau = true
			t.PlateauFrom, t.PlateauTo = l.Time[at], l.Time[at+w-1]
			_, t.Plateau, t.PlateauSE = BlockMeans(y[at:at+w], max(1, w/8))
			t.Ripple = FindRipple(y[at:at+w], fs)
			if t.Ripple.Amplitude < 2*noise/math.Sqrt(float64(w)/8) {
				t.Ripple = Ripple{}
			}
		}
	}
}

// cause reads how the test ended. Grinding collapses and stays low; skipping is a saw-tooth that keeps pushing.
func (t *Test) cause(y []float64, noise, fs float64) {
	after := y[t.peakAt+1 : t.last]
	span := float64(len(after)) / fs
	if len(after) < 6 || span < 0.6 {
		t.Cause, t.Why = feeder.Mixed, "the push ends at its peak"
		t.Failed = true
		return
	}
	// What happens at the very end is the feed stopping.
	tail := after[:max(4, len(after)-max(2, len(after)/20))]
	level := Median(tail) / t.Peak
	var low, high float64 = math.Inf(1), 0
	for _, v := range tail[len(tail)/4:] {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	_, prom := Peaks(append([]float64{t.Peak}, tail...))
	teeth := 0
	for _, q := range prom {
		if q > math.Max(0.12*t.Peak, 6*noise) {
			teeth++
		}
	}
	switch {
	case teeth >= 3 && level > 0.35 && high > 0.7*t.Peak:
		t.Cause, t.Failed = feeder.Skip, true
		t.Why = fmt.Sprintf("saw-tooth of %d teeth that keeps pushing at %.0f %% of the peak", teeth, 100*level)
	case level < 0.6 && high < 0.8*t.Peak && teeth < 3:
		t.Cause, t.Failed = feeder.Grind, true
		t.Why = fmt.Sprintf("falls to %.0f %% of the peak and stays low", 100*level)
	case level > 0.88 && teeth < 2:
		t.Cause, t.Why = "", "holds its force: no failure"
	default:
		t.Cause, t.Failed = feeder.Mixed, true
		t.Why = fmt.Sprintf("%d teeth at %.0f %% of the peak: neither a clear collapse nor a clear saw-tooth", teeth, 100*level)
	}
}

// group gathers the failed tests by flow.
func (a *Analysis) group(confidence float64) {
	by := map[int64][]Test{}
	for _, t := range a.Tests {
		if t.Failed {
			k := int64(math.Round(t.Flow * 1e13)) // flows within 1e-4 mm3/s are one
			by[k] = append(by[k], t)
		}
	}
	for _, ts := range by {
		x := make([]float64, len(ts))
		g := Group{Flow: ts[0].Flow, N: len(ts), Cause: ts[0].Cause}
		for i, t := range ts {
			x[i] = t.Peak
			if t.Cause != g.Cause || t.Cause == feeder.Mixed {
				g.Unsure = true
			}
		}
		if g.Unsure {
			g.Cause = feeder.Mixed
		}
		g.Force = stat.Mean(x, nil)
		g.Half = math.Inf(1)
		if len(x) > 1 {
			g.SD = stat.StdDev(x, nil)
			g.Half = Interval(g.SD, len(x), confidence)
			g.CV = g.SD / g.Force
		}
		a.Groups = append(a.Groups, g)
	}
	sort.Slice(a.Groups, func(i, j int) bool { return a.Groups[i].Flow < a.Groups[j].Flow })
}

// Points turns the groups with a known flow into capability points.
func (a *Analysis) Points(area float64) []feeder.Point {
	var out []feeder.Point
	for _, g := range a.Groups {
		if g.Flow > 0 {
			out = append(out, feeder.Point{Speed: g.Flow / area, Force: g.Force, Cause: g.Cause, Repeats: g.N, SD: g.SD})
		}
	}
	return out
}
