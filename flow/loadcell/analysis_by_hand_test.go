package loadcell

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// codes are the codes of warnings, in order.
func codes(a *Analysis) string {
	var s []string
	for _, w := range a.Warnings {
		s = append(s, w.Code)
	}
	return strings.Join(s, " ")
}

// The force where a push gives way is the end of the line through its last half second, four rows at least: through 60,
// 61, 64, 65 N that is 62.5 N and 1.5 rows of 1.8 N, with a scatter of sqrt(0.8/2) N. It may have risen a row more, and
// the end of a line through four rows is known to the scatter. Without a failure it is the highest mean of four rows.
func TestPeakOfFourRows(t *testing.T) {
	th := DefaultThresholds()
	dev := math.Sqrt(0.4)
	for _, x := range []struct {
		y                []float64
		at               int
		fs               float64
		outcome          Outcome
		peak, time, open float64 // rows
	}{
		{[]float64{9, 60, 61, 64, 65, 1}, 4, 8, Failed, 65.2, 4, 1.8 + dev},
		{[]float64{9, 65, 64, 61, 60, 1}, 4, 8, Unclear, 59.8, 4, dev},
		{[]float64{60, 61, 64, 65}, 3, 2, Failed, 65.2, 3, 1.8 + dev},
		{[]float64{60, 61, 64}, 2, 8, Failed, 64, 2, 0.5},
		{[]float64{1, 2, 3, 10, 10, 10, 10, 1}, 7, 8, Held, 10, 6, 0.5}, {[]float64{1, 2, 3, 10, 10, 10, 10, 1}, 5, 8,
			Stopped, 8.25, 5, 0.5},
		{[]float64{5, 9, 7}, 2, 50, Held, 9, 2, 0.2}, {[]float64{5, 7, 9}, 2, 50, Held, 9, 2, 0.2},
		{[]float64{5, 9, 7, 4}, 3, 2, Held, 6.25, 3, 0.5},
		{[]float64{60, 61, 64, 65, 65, 65, 65}, 3, 2, Held, 62.5, 3, 0.5},
	} {
		p := &push{fs: x.fs, hf: 0.5, y: x.y}
		for i := range x.y {
			p.t = append(p.t, float64(i))
		}
		var got Test
		got.peak(p, &verdict{at: x.at, outcome: x.outcome}, &th)
		if math.Abs(got.Peak-x.peak)+math.Abs(got.PeakTime-x.time)+math.Abs(got.PeakError-x.open) > 1e-9 {
			t.Errorf("%+v: %g ± %g N at %g s", x, got.Peak, got.PeakError, got.PeakTime)
		}
	}
	odd := make([]float32, 25000) // of more than 10000 rows of a flow some are taken: every second of these
	for i := 1; i < len(odd); i += 2 {
		odd[i] = 1
	}
	if medianFlow(odd) != 0 || medianFlow(odd[1:]) != 1 || medianFlow(odd[1:16001]) != 0.5 {
		t.Errorf("%g, %g, %g", medianFlow(odd), medianFlow(odd[1:]), medianFlow(odd[1:16001]))
	}
}

// A ripple is told from a tenth of the variance and from twice the noise of an eighth of its rows on, where no rows are
// missing for half a second or three rows; it may be the alias of a frequency above half the rate if it is a fifth of
// the variance and lies within two lines.
func TestRippleOfAPlateauByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	beside := func(n int, amplitude float64) map[float64]float64 { // a line of ten waves among n others
		c := map[float64]float64{10: 1}
		for i := range n {
			c[20+7*float64(i)] = amplitude
		}
		return c
	}
	for _, x := range []struct {
		lines      map[float64]float64
		fs, noise  float64
		gap        float64
		known      float64 // Hz, beyond the alias of it
		found, hit bool
	}{
		{beside(0, 0), 32, 0, 0, 33.25, true, true}, {beside(0, 0), 32, 0, 0, 33.49, true, true},
		{beside(0, 0), 32, 0, 0, 33.51, true, false}, {beside(0, 0), 32, 0, 0, 33.01, true, true},
		{beside(0, 0), 32, 0, 0, 32.99, true, false}, {beside(0, 0), 32, 0, 0, 1.25, true, false},
		{beside(0, 0), 32, 0, 0, 30.75, true, true},
		{beside(5, math.Sqrt(0.853)), 32, 0, 0, 33.25, true, false},
		{beside(5, math.Sqrt(0.752)), 32, 0, 0, 33.25, true,
			true},
		{beside(10, math.Sqrt(0.9526)), 32, 0, 0, 33.25, false, false},
		{beside(10, math.Sqrt(0.852)), 32, 0, 0, 33.25,
			true, false},
		{beside(0, 0), 32, 2.8, 0, 33.25, true, true}, {beside(0, 0), 32, 2.86, 0, 33.25, false, false},
		{beside(0, 0), 32, 0, 0.49, 33.25, true, true}, {beside(0, 0), 32, 0, 0.51, 33.25, false, false},
		{beside(0, 0), 2, 0, 1.4, 2.078, true, true}, {beside(0, 0), 2, 0, 1.6, 2.078, false, false},
	} {
		p := &push{fs: x.fs, noise: x.noise, gap: x.gap, y: append(levels(40, 3), waves(256, 50, 0, x.lines)...)}
		got := Test{Last: &Plateau{first: 40, last: 296}}
		got.ripple(p, Settings{Frequencies: []float64{x.known}}, &th)
		if (got.Ripple.Share > 0) != x.found || (got.AliasOf == x.known) != x.hit ||
			x.found && math.Abs(got.Ripple.Frequency-10*x.fs/256) > 1e-3*x.fs {
			t.Errorf("%+v: %+v, alias of %g", x, got.Ripple, got.AliasOf)
		}
	}
}

// A push is read into a test: rows and times of the log, flow and block where it gives way and over its plateaus, and
// notes of what to know before its numbers are used.
func TestPushReadIntoATest(t *testing.T) {
	th := DefaultThresholds()
	const first = 100
	cut := func() (*Log, *push) {
		p := held([2]float64{500, 40}, [2]float64{200, 10})
		p.first, p.last, p.lagKnown = first, first+700, true
		l := &Log{Step: 0.02, Format: Format{FlowUnit: "mm3/s"}}
		for i := range 800 {
			l.Block = append(l.Block, 300+float32(i)/128)
		}
		for i := range 700 {
			p.q = append(p.q, 5+float32(i)/1024)
		}
		return l, p
	}
	a := &Analysis{}
	l, p := cut()
	x := a.read(l, p, 3, Settings{}, &th)
	if x.Outcome != Failed || x.Cause != feeder.Grind || x.FromRow != 100 || x.EndRow != 599 || x.Start != 0 ||
		x.End != p.t[699] || math.Abs(x.Block-(300+599.0/128)) > 1e-4 || math.Abs(x.Flow-(5+249.0/1024)) > 1e-4 ||
		x.first != 100 || x.last != 800 || len(x.Notes) != 0 || x.Peak != 40 {
		t.Errorf("%+v", x)
	}
	mid := float64(x.First.first+x.First.last-1) / 2
	if x.First != x.Last || x.First.first != 0 || x.First.last < 450 ||
		math.Abs(x.First.Block-(300+(mid+100)/128)) > 1e-4 || math.Abs(x.First.Flow-(5+mid/1024)) > 1e-4 {
		t.Errorf("%+v", x.First)
	}
	x = a.read(l, p, 3, Settings{Flows: []float64{7, 8}}, &th)
	if x.Flow != 8 || x.First.Flow != 8 {
		t.Errorf("flows that are listed: %g, %g", x.Flow, x.First.Flow)
	}
	l.Flow, l.Format.FlowUnit, l.Block = []float32{1}, "on/off", nil
	x = a.read(l, p, 0, Settings{}, &th)
	if x.Flow != 0 || x.First.Flow != 0 || x.Block != 0 || x.First.Block != 0 {
		t.Errorf("a switch: %g, %g, block %g, %g", x.Flow, x.First.Flow, x.Block, x.First.Block)
	}
	for _, x := range []struct {
		what string
		set  func(l *Log, p *push)
		want string
	}{
		{"2.1 s", func(l *Log, p *push) { p.gap = 2.1 }, "2.1 s without rows"},
		{"1.9 s", func(l *Log, p *push) { p.gap = 1.9 }, ""},
		{"2.9 rows", func(l *Log, p *push) { p.gap, l.Step = 2.9, 1 }, ""},
		{"3.1 rows", func(l *Log, p *push) { p.gap, l.Step = 3.1, 1 }, "3.1 s without rows"},
		{"stray rows", func(l *Log, p *push) { p.glitches = []int{5, 99} }, "2 single rows"},
		{"a stray row", func(l *Log, p *push) { p.glitches = []int{5} }, "1 single rows"},
		{"a start before", func(l *Log, p *push) { p.headless = true }, "the log starts within it"},
		{"both", func(l *Log, p *push) { p.headless, p.gap = true, 9 }, "9 s without rows"},
		{"contact", func(l *Log, p *push) { p.y[10], p.y[11] = 60, 60 }, "a spike of 60 N"},
	} {
		l, p := cut()
		x.set(l, p)
		notes := a.read(l, p, 0, Settings{}, &th).Notes
		if (len(notes) == 1) != (x.want != "") || !strings.Contains(strings.Join(notes, ""), x.want) {
			t.Errorf("%s: %q", x.what, notes)
		}
	}
	// What somebody saw goes before rows that hide teeth; that it skipped does not.
	for seen, at := range map[feeder.Cause]int{feeder.Grind: 499, feeder.Buckle: 499, feeder.Skip: 9, "": 9} {
		l, p := cut()
		for i := range 20 {
			p.glitches = append(p.glitches, 10+i*i)
		}
		p.lows = 20
		if x := a.read(l, p, 0, Settings{Seen: seen}, &th); x.EndRow != first+at ||
			(x.Outcome == Failed) != (seen != "") ||
			seen != "" && x.Cause != seen {
			t.Errorf("seen %q: %+v", seen, x)
		}
	}
}

// What a log and its tests are warned of.
func TestWarningsOfALog(t *testing.T) {
	one := Rows{Count: 1, First: []Row{{Line: 3}}}
	tests := func(n int, notes int) []Test {
		ts := make([]Test, n)
		for i := range notes {
			ts[0].Notes = append(ts[0].Notes, fmt.Sprint("note ", i))
		}
		return ts
	}
	for _, x := range []struct {
		l    Log
		s    Settings
		ts   []Test
		want string
	}{
		{Log{}, Settings{}, tests(1, 0), ""}, {Log{Notes: []string{"a"}}, Settings{}, nil, "assumed-on-reading"},
		{Log{Stamp: 1}, Settings{}, nil, "coarse-clock"}, {Log{Gaps: one}, Settings{}, nil, "log-faults"},
		{Log{Resets: one}, Settings{}, nil, "log-faults"}, {Log{Held: one}, Settings{}, nil, "values-kept"},
		{Log{Junk: one}, Settings{}, nil, "junk-rows"}, {Log{Repeated: one}, Settings{}, nil, ""},
		{Log{}, Settings{Flows: []float64{1, 2}}, tests(3, 0), "flows-do-not-fit"},
		{Log{}, Settings{Flows: []float64{1, 2}}, tests(4, 0), ""},
		{Log{}, Settings{}, []Test{{}, {Outcome: Unclear}, {Outcome: Unclear}}, "unclear-tests"},
		{Log{}, Settings{}, tests(2, 14), "test-notes"},
	} {
		a := &Analysis{Tests: x.ts}
		x.l.Force = levels(50, 1)
		if a.tell(&x.l, x.s); codes(a) != x.want {
			t.Errorf("%+v: %s, want %s", x.l, codes(a), x.want)
			continue
		}
		if x.want == "unclear-tests" && !strings.Contains(a.Warnings[0].Message, "test 2, 3 ended") {
			t.Error(a.Warnings[0].Message)
		}
		if m := codes(a); m == "test-notes" && (!strings.Contains(a.Warnings[0].Message, "note 11") ||
			strings.Contains(a.Warnings[0].Message, "note 12") ||
			!strings.HasPrefix(a.Warnings[0].Message, "test 1:")) {
			t.Error(a.Warnings[0].Message)
		}
	}
	for _, n := range []int{shownRows, shownRows + 1} {
		var r Rows
		for i := range n {
			r.add(i, strings.Repeat("x", 60+i%2), "why")
		}
		if r.Count != n || len(r.First) != shownRows || shownRows != 200 ||
			r.First[0].Text != strings.Repeat("x", 60) ||
			r.First[1].Text != strings.Repeat("x", 60)+"..." {
			t.Errorf("%d of %d rows are kept", len(r.First), r.Count)
		}
	}
	if s := (Column{Role: "time", Unit: "s", Why: "w"}).String(); s != "time: no column in s (w)" {
		t.Error(s)
	}
	if s := (Column{Role: "force", Number: 2, Unit: "N", Why: "w"}).String(); s != "force: column 2 in N (w)" {
		t.Error(s)
	}
	// A top that stands for ten rows is one if the force rises into it within ten rows by 1 % and ten steps.
	into := func(step, last float64) []float64 {
		y := []float64{}
		for i := range 30 {
			y = append(y, 42-last-step*float64(29-i)-0.001*float64(i%2)*step)
		}
		return append(y, levels(20, 42)...)
	}
	rise := func(share float64) []float64 { // steps of a tenth and of a share of it in turns
		y := []float64{10}
		for i := range 29 {
			y = append(y, y[i]+[]float64{share, 0.1}[i%2])
		}
		return append(y, levels(20, y[29]+0.1)...)
	}
	for what, x := range map[string]struct {
		y    []float64
		rows int
	}{
		"0.9 %": {into(0.02, 0.2), 0}, "1.1 %": {into(0.02, 0.28), 20}, "eleven steps": {rise(0.08), 20},
		"five steps": {rise(0), 0}, "a later, longer top": {slices.Concat(into(0.5, 1)[:42], into(0.5, 1)), 20},
		"a later, shorter top": {slices.Concat(into(0.5, 1), into(0.5, 1)[:42]), 20},
		"from the tenth row":   {into(0.5, 1)[21:], 0}, "from the eleventh": {into(0.5, 1)[20:], 20},
	} {
		if rows, level := flatTop(x.y); rows != x.rows || level != slices.Max(x.y) {
			t.Errorf("%s: %d rows at %g, want %d", what, rows, level, x.rows)
		}
	}
	a := &Analysis{Tare: 2}
	if a.tellForce(&Log{Force: into(0.5, 1)}); codes(a) != "flat-top" ||
		!strings.Contains(a.Warnings[0].Message, "40 N above") {
		t.Errorf("%v", a.Warnings)
	}
}

// A zero of less than a second of rest is told; so is one that moves by 2 % of the span or four noises, and one that
// lies a quarter of the span from nothing while no second rest confirms it. Drift needs a rest that ends within the
// last 2 s, or 2 % of the log.
func TestWhatIsToldOfTheZero(t *testing.T) {
	for n, want := range map[int]string{2: "short-rest", 3: ""} {
		v := steps(append(levels(n, 2), levels(9, 60)...)...)
		v.l.Step = 0.02
		a := &Analysis{}
		if _, err := a.zero(v, Settings{}); err != nil || codes(a) != want || a.Tare != 2 || a.TareFrom != 0 ||
			math.Abs(a.TareTo-(0.4*float64(n)-0.02)) > 1e-9 || a.Noise != v.noise {
			t.Errorf("%d windows: %+v, %v", n, a, err)
		}
		if n == 2 && !strings.Contains(a.Warnings[0].Message, "2 N is read from only 40 rows (0.8 s) at the start: it "+
			"is known to 0.00032 N") { // 2 0.001/sqrt(40)
			t.Error(a.Warnings[0].Message)
		}
	}
	for _, x := range []struct {
		end, noise, tare float64
		how              string
		rests            []rest
		want             string
		drift            float64
	}{
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {50, 58.5, 2}}, "", 1 / 49.25},
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {50, 57.5, 2}}, "drift-unknown", 0},
		{200, 0.01, 0, "", []rest{{0, 10, 1}, {50, 196.5, 2}}, "", 1 / 118.25},
		{200, 0.01, 0, "", []rest{{0, 10, 1}, {50, 195.5, 2}}, "drift-unknown", 0},
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {50, 60, 2.9}}, "", 1.9 / 50},
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {50, 60, 3.1}}, "zero-moves", 2.1 / 50},
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {20, 30, 4}, {50, 60, 1}}, "zero-moves", 0},
		{60, 0.01, 0, "", []rest{{0, 10, 1}, {20, 30, -2}, {50, 60, 1}}, "zero-moves", 0},
		{60, 0.7, 0, "", []rest{{0, 10, 1}, {50, 60, 3.7}}, "", 2.7 / 50},
		{60, 0.7, 0, "", []rest{{0, 10, 1}, {50, 60, 3.9}}, "zero-moves", 2.9 / 50},
		{60, 0.01, 24.9, "", []rest{{0, 60, 1}}, "drift-unknown", 0},
		{60, 0.01, 25.1, "", []rest{{0, 60, 1}}, "drift-unknown zero-far", 0},
		{60, 0.01, -25.1, "", []rest{{0, 60, 1}}, "drift-unknown zero-far", 0},
		{60, 0.01, 25.1, "stated", []rest{{0, 60, 1}}, "drift-unknown", 0},
		{60, 0.01, 25.1, "", []rest{{0, 10, 1}, {50, 60, 1}}, "", 0},
	} {
		v := &view{l: &Log{Time: []float64{0, x.end}}, th: DefaultThresholds(), noise: x.noise, hi: 100}
		a := &Analysis{Tare: x.tare, TareHow: x.how}
		a.drift(v, &baseline{rests: x.rests})
		if codes(a) != x.want || math.Abs(a.Drift-x.drift) > 1e-12 ||
			a.DriftKnown == strings.Contains(x.want, "unknown") {
			t.Errorf("%+v: %s, drift %g", x, codes(a), a.Drift)
		}
		if x.drift == 2.1/50 && !strings.Contains(a.Warnings[0].Message, "by 2.1 N over the log (1 to 3.1 N)") {
			t.Error(a.Warnings[0].Message)
		}
	}
}

// Rows lie below a zero by 8 noises or 1 % of the span; from 2 % of them on it is refused, from 0.2 % on told.
func TestRowsBelowTheZero(t *testing.T) {
	for _, x := range []struct {
		noise, by float64
		rows      int // of 1000
		want      string
		bad       bool
	}{{0.01, 1.01, 10, "below-zero", false}, {0.01, 0.99, 10, "", false}, {0.5, 4.1, 10, "below-zero", false},
		{0.5, 3.9, 10, "", false}, {0.01, 9, 2, "", false}, {0.01, 9, 3, "below-zero", false},
		{0.01, 9, 20, "below-zero",
			false}, {0.01, 9, 21, "", true}} {
		v := &view{l: &Log{}, th: DefaultThresholds(), noise: x.noise, hi: 100}
		for i := range 1000 {
			f := 3.0
			if i >= 100 && i < 100+x.rows {
				f -= x.by
			}
			v.l.Time, v.l.Force = append(v.l.Time, float64(i)), append(v.l.Force, f)
		}
		a := &Analysis{}
		b := &baseline{rests: []rest{{0, 1000, 3}}, next: 1}
		err := a.checkBelow(v, b)
		if codes(a) != x.want || (err != nil) != x.bad {
			t.Errorf("%+v: %s, %v", x, codes(a), err)
		}
		if x.want != "" && !strings.HasPrefix(a.Warnings[0].Message,
			fmt.Sprintf("%.1f %% of the", float64(x.rows)/10)) ||
			x.bad && !strings.Contains(err.Error(), ": 2 % of the") {
			t.Error(a.Warnings, err)
		}
	}
}

// Twenty rows are needed, and a force that stands out of the noise by eight of it; one that counts down is turned.
func TestWhatALogNeeds(t *testing.T) {
	l := rows(50, [2]float64{0, 0}, [2]float64{4, 0}, [2]float64{4.02, 50}, [2]float64{8, 50}, [2]float64{8.02, 0},
		[2]float64{12, 0}).l
	l.Step = 0.02
	for i := range l.Force {
		l.Force[i] += 0.05 * float64(i%2)
	}
	for n, want := range map[int]string{19: "19 rows are too few", 20: "no test stands out", 601: ""} {
		_, err := Analyse(&Log{Step: l.Step, Time: l.Time[:n], Force: slices.Clone(l.Force[:n])}, Settings{})
		if (err != nil) != (want != "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%d rows: %v", n, err)
		}
	}
	for given, want := range map[float64]float64{0: 0.95, 0.9: 0.9} {
		if a := analysed(t, l, Settings{Confidence: given}); a.Confidence != want || len(a.Tests) != 1 ||
			a.Tests[0].Start != l.Time[201] && a.Tests[0].Start != l.Time[200] ||
			strings.Contains(codes(a), "sign-turned") {
			t.Errorf("%+v", a)
		}
	}
	for i := range l.Force {
		l.Force[i] = -l.Force[i]
	}
	if a := analysed(t, l, Settings{}); !strings.Contains(codes(a), "sign-turned") || !a.Flipped {
		t.Errorf("a force that counts down: %+v", a)
	}
}
