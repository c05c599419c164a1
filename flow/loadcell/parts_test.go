package loadcell

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/feeder"
)

// Numbers as loggers write them, with a point or a comma; what is no reading is none.
func TestNumbersOfLoggers(t *testing.T) {
	for _, x := range []struct {
		text  string
		comma bool
		want  float64 // NaN for none
	}{
		{"12.5", false, 12.5}, {" +3 ", false, 3}, {"-0.25", false, -0.25}, {`"7.5"`, false, 7.5}, {"12,5", true, 12.5},
		{"1e3", false, 1000}, {"-1,5e-2", true, -0.015}, {".5", false, 0.5}, {"5.", false, 5}, {"-", false, math.NaN()},
		{"", false, math.NaN()}, {"12,5", false, math.NaN()}, {"1.5", true, math.NaN()}, {"1.2.3", false, math.NaN()},
		{"0x10", false, math.NaN()}, {"inf", false, math.NaN()}, {"nan", false, math.NaN()}, {"1_0", false, math.NaN()},
		{"1e999", false, math.NaN()}, {strings.Repeat("1", 41), false, math.NaN()},
		{"1234567890123456", false, 1234567890123456}, {"123456789012345", false, 123456789012345},
		{"\t8\t", false, 8}, {`"`, false, math.NaN()}, {"1,5,5", true, math.NaN()},
	} {
		got, ok := number([]byte(x.text), x.comma)
		if ok == math.IsNaN(x.want) || ok && math.Abs(got-x.want) > 1e-12*math.Abs(x.want) {
			t.Errorf("%q comma %t: %g, %t", x.text, x.comma, got, ok)
		}
	}
	for text, want := range map[string][2]string{"239.6 g": {"239.6", "g"}, "4 mm3/s": {"4", "mm3/s"}, "12": {"12", ""},
		"N": {"N", ""}, "-3kgf": {"-3", "kgf"}, "1.2.3 g": {"1.2.3 g", ""}, "m3/s": {"m3/s", ""},
		"5 abcdefghijklm": {"5 abcdefghijklm", ""}} {
		if rest, tail := suffix([]byte(text), false); string(rest) != want[0] || tail != want[1] {
			t.Errorf("%q: %q, %q", text, rest, tail)
		}
	}
}

// Clock times go on past midnight unless they carry a date; thousandths may follow a point, a comma or a colon.
func TestClockTimes(t *testing.T) {
	for _, x := range []struct {
		times []string
		want  []float64
	}{
		{[]string{"23:59:58", "23:59:59.5", "00:00:01", "12:30:00", "00:00:00"}, []float64{0, 1.5, 3, 45002, 86402}},
		{[]string{"2026-01-31 23:59:59", "2026-02-01 00:00:01"}, []float64{0, 2}},
		{[]string{"12:03:44:123", "12:03:45:623"}, []float64{0, 1.5}},
		{[]string{"12:03:44,123", "12:03:45,623"}, []float64{0, 1.5}},
		{[]string{"11:59:59 AM", "12:00:01 PM"}, []float64{0, 2}},
		{[]string{"2026-01-31T10:00:00+02:00", "2026-01-31T10:00:01+02:00"}, []float64{0, 1}},
		{[]string{"10:00:05", "10:00:02"}, []float64{0, -3}}, // a clock set back, no midnight
	} {
		var c clock
		for i, s := range x.times {
			if !isClock([]byte(s)) {
				t.Errorf("%q is no clock time", s)
			}
			if got, ok := c.seconds([]byte(s)); !ok || math.Abs(got-x.want[i]) > 1e-9 {
				t.Errorf("%q: %g s, %t, want %g", s, got, ok, x.want[i])
			}
		}
	}
	for _, s := range []string{"12:30", "1:2:3", "12.5", strings.Repeat("1:1:11", 9)} {
		if isClock([]byte(s)) {
			t.Errorf("%q is taken for a clock time", s)
		}
	}
	var c clock
	if _, ok := c.seconds([]byte("12:70:00")); ok {
		t.Error("seventy minutes")
	}
}

// The unit of a time column without one, by its size and step.
func TestUnitOfTime(t *testing.T) {
	for _, x := range []struct {
		t0, step float64
		sheet    bool
		want     string
	}{
		{1.7e9, 0.1, false, "s"}, {1.7e12, 100, false, "ms"}, {1.7e15, 1e5, false, "us"}, {1.7e18, 1e8, false, "ns"},
		{46000.25, 0.1 / 86400, true, "day"}, {46000.25, 0.1, false, "s"}, {0, 1, false, "sample"},
		{0, 20, false, "ms"},
		{0, 2000, false, "ms"}, {0, 2500, false, "us"}, {0, 0.1, false, "s"}, {0.5, 1, false, "s"},
		{1.7e9, 70, false, "ms"}, // whole numbers; a minute and more is no step of a logger
	} {
		var col []float64
		for i := range 20 {
			col = append(col, x.t0+float64(i)*x.step)
		}
		if got, why := guessTime(col, x.step, x.sheet); got != x.want || why == "" {
			t.Errorf("from %g in steps of %g: %s (%s), want %s", x.t0, x.step, got, why, x.want)
		}
	}
	// Ten rows a second under a clock of whole seconds, the first stamp and one after a gap incomplete.
	var col []float64
	for _, s := range []struct{ at, rows int }{{100, 4}, {101, 10}, {102, 10}, {103, 10}, {110, 10}, {111, 10}} {
		col = append(col, slices.Repeat([]float64{float64(s.at)}, s.rows)...)
	}
	if gap := spread(col); gap != 1 {
		t.Fatalf("stamps %g s apart", gap)
	}
	for i, want := range map[int]float64{0: 100.6, 3: 100.9, 4: 101, 5: 101.1, 14: 102, 33: 103.9, 34: 110, 35: 110.1,
		44: 111, 53: 111.9} {
		if math.Abs(col[i]-want) > 1e-9 {
			t.Errorf("row %d at %g s, want %g", i, col[i], want)
		}
	}
	twice := []float64{0, 0, 1, 1, 2, 2, 3, 3}
	if spread(slices.Clone(twice)) != 0 {
		t.Error("rows written twice are spread")
	}
}

// A line through values by hand, the noise that a quartile of scatters tells, and the smallest step of a converter.
func TestLinesAndNoise(t *testing.T) {
	mean, slope, dev := lineOf([]float64{1, 4, 4, 7}) // 1.3 + 1.8 i: off by -0.3, 0.9, -0.9, 0.3
	if mean != 4 || math.Abs(slope-1.8) > 1e-12 || math.Abs(dev-math.Sqrt(1.8/2)) > 1e-12 {
		t.Errorf("%g, %g, %g", mean, slope, dev)
	}
	if m, s, d := lineOf([]float64{2, 6}); m != 4 || s != 0 || d != 0 {
		t.Errorf("two values: %g, %g, %g", m, s, d)
	}
	dev4 := []float64{3, 1, 2, 4, 5, 6, 7, 8}
	// The second quarter begins at the third of eight; of chi-squared with 8 degrees of freedom.
	want := 3 / math.Sqrt(distuv.ChiSquared{K: 8}.Quantile(0.25)/8)
	if got := quartileNoise(slices.Clone(dev4), 10); math.Abs(got-want) > 1e-12 {
		t.Errorf("%g, want %g", got, want)
	}
	if quartileNoise(nil, 10) != 0 || quartileNoise(dev4, 2) != 0 {
		t.Error("noise of nothing")
	}
	if q := quantum([]float64{1, 1.5, 1.5, 1.25, 3}); q != 0.25 {
		t.Errorf("step %g", q)
	}
	if q := quantum([]float64{1, 1, 1}); q != 0 {
		t.Errorf("step %g of a level", q)
	}
	// Second differences of independent noise have six times its variance.
	rng := rand.New(rand.NewPCG(1, 2))
	y := make([]float64, 20000)
	for i := range y {
		y[i] = 0.3 * rng.NormFloat64()
	}
	var d2 []float64
	for i := 1; i+1 < len(y); i++ {
		d2 = append(d2, math.Abs(y[i-1]-2*y[i]+y[i+1]))
	}
	if n := rowNoise(d2); math.Abs(n/0.3-1) > 0.03 {
		t.Errorf("noise %g", n)
	}
}

// built is a view of an invented log at 50 Hz with a little noise, through points of time (s) and force (N).
func built(t *testing.T, points ...[2]float64) *view {
	t.Helper()
	p := drawn(points...)
	rng := rand.New(rand.NewPCG(3, 4))
	l := &Log{Name: "built", Time: p.t, Force: p.y, Step: 0.02}
	for i := range l.Force {
		l.Force[i] += 0.02 * rng.NormFloat64()
	}
	return newView(l, DefaultThresholds())
}

// A zero that drifts is followed from rest to rest, straight between them; load is not followed; what lies under the
// zero is counted.
func TestZeroIsFollowed(t *testing.T) {
	v := built(t, [2]float64{0, 1}, [2]float64{10, 1}, [2]float64{10.5, 51}, [2]float64{40, 61}, [2]float64{40.5, 2},
		[2]float64{60, 2})
	if v.rows != 20 || math.Abs(v.noise/0.02-1) > 0.3 || math.Abs(v.span()-60) > 1 {
		t.Fatalf("windows of %d rows, noise %g, span %g", v.rows, v.noise, v.span())
	}
	level, from, to, err := v.startRest()
	if err != nil || math.Abs(level-1) > 0.01 || from != 0 || math.Abs(float64(to)/50-10) > 0.5 {
		t.Fatalf("zero %g from row %d to %d, %v", level, from, to, err)
	}
	b := v.follow(level, to)
	for at, want := range map[float64]float64{2: 1, 25.2: 1.5, 55: 2} {
		b.rewind(at)
		if got := b.at(at); math.Abs(got-want) > 0.05 {
			t.Errorf("zero at %g s: %g, want %g", at, got, want)
		}
	}
	if s := v.below(b); s > 1e-3 {
		t.Errorf("%g of the rows lie below", s)
	}
	high := &baseline{rests: []rest{{0, 60, 31}}}
	under := 0
	for _, f := range v.l.Force {
		if f < 31-math.Max(8*v.noise, 0.01*v.span()) {
			under++
		}
	}
	if s := v.below(high); math.Abs(s-float64(under)/float64(len(v.l.Force))) > 1e-12 || s < 0.4 {
		t.Errorf("%g of the rows lie below", s)
	}
	// Both rests lie within the band of a zero; the longer is the middle of them.
	if low, ok := v.lowest(); !ok || math.Abs(low-2) > 0.05 {
		t.Errorf("lowest level %g", low)
	}
	if v.startLevel() > 1.1 || math.Abs(v.endLevel()-2) > 0.1 {
		t.Errorf("starts at %g, ends at %g", v.startLevel(), v.endLevel())
	}
	// Between two rests the zero is straight, before the first and after the last it is level.
	b = &baseline{rests: []rest{{0, 10, 1}, {20, 30, 3}}}
	for _, x := range [][2]float64{{-5, 1}, {5, 1}, {10, 1}, {15, 2}, {20, 3}, {25, 3}, {99, 3}} {
		if got := b.at(x[0]); got != x[1] {
			t.Errorf("at %g: %g, want %g", x[0], got, x[1])
		}
	}
	// A start under load, a start within a rise and a feed that runs tell no zero.
	for what, v := range map[string]*view{
		"under load":    built(t, [2]float64{0, 30}, [2]float64{10, 30}, [2]float64{11, 0}, [2]float64{30, 0}),
		"within a rise": built(t, [2]float64{0, 0}, [2]float64{3, 40}, [2]float64{40, 42}),
	} {
		if _, _, _, err := v.startRest(); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
	// A rest of ten rows before a rise is short of a window, and still one.
	v = built(t, [2]float64{0, 0}, [2]float64{0.2, 0}, [2]float64{0.4, 40}, [2]float64{40, 40})
	if level, _, to, err := v.startRest(); err != nil || math.Abs(level) > 0.05 || to < 10 || to > 13 {
		t.Errorf("a short rest: %g N to row %d, %v", level, to, err)
	}
}

// A log whose force counts down is turned over where its start tells it.
func TestForceThatCountsDown(t *testing.T) {
	down := [][2]float64{{0, 0}, {10, 0}, {11, -40}, {30, -45}, {31, 0}, {40, 0}}
	for _, x := range []struct {
		stated  int
		shift   float64
		turned  bool
		refused bool
	}{{0, 0, true, false}, {1, 0, true, false}, {-1, 0, false, false}, {0, 30, false, true}, {1, 30, true, false}} {
		var ps [][2]float64
		for _, p := range down {
			ps = append(ps, [2]float64{p[0], p[1] + x.shift})
		}
		v := built(t, ps...)
		first, lo, hi := v.l.Force[700], v.lo, v.hi
		note, err := v.orient(x.stated)
		if v.flipped != x.turned || (err != nil) != x.refused || (note != "") != (x.turned && x.stated == 0) {
			t.Errorf("%+v: turned %t, %q, %v", x, v.flipped, note, err)
		}
		if x.turned && (v.l.Force[700] != -first || v.lo != -hi || v.hi != -lo) {
			t.Errorf("%+v: %g N, from %g to %g", x, v.l.Force[700], v.lo, v.hi)
		}
	}
}

// Drift is the change of the zero over the time between the middles of the first and the last rest.
func TestDriftByHand(t *testing.T) {
	v := built(t, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{11, 50}, [2]float64{30, 50}, [2]float64{31, 0},
		[2]float64{60, 0})
	for _, x := range []struct {
		rests []rest
		want  float64 // NaN for not known
		warn  string
	}{
		{[]rest{{0, 10, 1}, {31, 60, 1.5}}, 0.5 / 40.5, ""},
		{[]rest{{0, 10, 1}, {31, 60, 2.5}}, 1.5 / 40.5, "zero-moves"},
		{[]rest{{0, 10, 1}}, math.NaN(), "drift-unknown"},
		{[]rest{{0, 10, 1}, {31, 50, 1.5}}, math.NaN(), "drift-unknown"},
	} {
		a := &Analysis{}
		a.drift(v, &baseline{rests: x.rests})
		if a.DriftKnown == math.IsNaN(x.want) || a.DriftKnown && math.Abs(a.Drift-x.want) > 1e-12 {
			t.Errorf("%v: %g, %t", x.rests, a.Drift, a.DriftKnown)
		}
		if (x.warn == "") != (len(a.Warnings) == 0) || x.warn != "" && a.Warnings[0].Code != x.warn {
			t.Errorf("%v: %v", x.rests, a.Warnings)
		}
	}
	a := &Analysis{}
	a.Tare = -14
	a.drift(v, &baseline{rests: []rest{{0, 10, -14}}})
	if len(a.Warnings) != 2 || a.Warnings[1].Code != "zero-far" {
		t.Errorf("%v", a.Warnings)
	}
}

// How low a force stays tells a cut filament from a slow fall and from a feed that stopped.
func TestWhatAFallIs(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		what    string
		p       *push
		outcome Outcome
		why     string
	}{
		{"stays at a third", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.3, 20}, [2]float64{20, 20}),
			Failed, "falls to 33 % of the force and stays low"},
		{"takes 4 s", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{14, 20}, [2]float64{24, 20}), Unclear,
			"too slowly for a cut filament"},
		{"decays on", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.3, 15}, [2]float64{20, 3}), Stopped,
			"decays smoothly"},
	} {
		fs := x.p.falls(&th)
		var v verdict
		v.low(x.p, fs, 0, &th)
		if v.outcome != x.outcome || !strings.Contains(v.why, x.why) || v.at != fs[0].steep {
			t.Errorf("%s: %s, %q, row %d", x.what, v.outcome, v.why, v.at)
		}
	}
}

// The force where a push gives way is the end of a line through the half second before; where it holds, the highest
// mean of half a second.
func TestPeakByHand(t *testing.T) {
	th := DefaultThresholds()
	p := drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.2, 20}, [2]float64{14, 20})
	at := 500
	v := verdict{at: at, outcome: Failed}
	var x Test
	// 25 rows of 5 N/s end at 60 N; a row more would be 0.1 N.
	if x.peak(p, &v, &th); math.Abs(x.Peak-60) > 1e-9 || math.Abs(x.PeakTime-10) > 1e-9 ||
		math.Abs(x.PeakError-0.1) > 1e-9 {
		t.Errorf("%g ± %g N at %g s", x.Peak, x.PeakError, x.PeakTime)
	}
	v.outcome = Held
	v.at = len(p.y) - 1
	// The mean of the half second that ends 0.02 s after the top is the highest of those on the grid of rows.
	best, when := 0.0, 0.0
	for i := 24; i < len(p.y); i++ {
		sum := 0.0
		for _, f := range p.y[i-24 : i+1] {
			sum += f / 25
		}
		if sum > best {
			best, when = sum, p.t[i]
		}
	}
	if x.peak(p, &v, &th); math.Abs(x.Peak-best) > 1e-9 || x.PeakTime != when ||
		math.Abs(x.PeakError-2*0.01/5) > 1e-12 {
		t.Errorf("%g ± %g N at %g s, want %g at %g", x.Peak, x.PeakError, x.PeakTime, best, when)
	}
	v = verdict{at: at, outcome: Failed, force: 42}
	if x.peak(p, &v, &th); x.Peak != 42 {
		t.Errorf("%g N", x.Peak)
	}
	// The level of a stretch is its median, cut to the push.
	if got := p.level(-5, 101); math.Abs(got-15) > 1e-9 || !math.IsNaN(p.level(9, 9)) {
		t.Errorf("level %g", got)
	}
	// Rows are averaged to the coarse rate.
	fine := &push{fs: 250, hf: 0.01, noise: 0.02}
	for i := range 100 {
		fine.t, fine.y, fine.q = append(fine.t, float64(i)/250), append(fine.y, float64(i)), append(fine.q, float32(i))
	}
	c, k := fine.coarse(20, &th)
	if k != 2 || len(c.y) != 50 || c.y[1] != 2.5 || c.t[1] != fine.t[3] || c.q[1] != 3 || c.fs != 125 ||
		math.Abs(c.noise-0.02/math.Sqrt2) > 1e-12 {
		t.Errorf("%d rows in one: %v", k, c.y[:3])
	}
	fine.fs = 100
	if _, k := fine.coarse(20, &th); k != 1 {
		t.Errorf("%d rows in one", k)
	}
}

// Single rows that stand out are put on the line of their neighbours; many that come evenly, or low, hide teeth.
func TestStrayRows(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		what  string
		at    []int
		by    float64
		hides bool
	}{
		{"few", []int{10, 30, 60, 80}, -20, false}, {"low", []int{10, 27, 61, 80, 111, 130}, -20, true},
		{"high and uneven", []int{10, 27, 61, 80, 111, 130}, 20, false},
		{"high and even", []int{10, 30, 50, 70, 90, 110}, 20, true},
	} {
		p := &push{noise: 0.1}
		for range 150 {
			p.y = append(p.y, 50)
		}
		for _, i := range x.at {
			p.y[i] += x.by
		}
		p.y[140] += 0.7 // less than noise can
		p.deglitch()
		if !slices.Equal(p.glitches, x.at) || p.hides(&th) != x.hides || (p.lows == len(x.at)) != (x.by < 0) {
			t.Errorf("%s: %v, %d low, hides %t", x.what, p.glitches, p.lows, p.hides(&th))
		}
		if p.y[x.at[0]] != 50 || p.y[140] != 50.7 {
			t.Errorf("%s: %g N, %g N", x.what, p.y[x.at[0]], p.y[140])
		}
	}
	p := &push{noise: 0.1, y: slices.Repeat([]float64{50}, 400), glitches: []int{10, 30, 50, 70, 90, 110}}
	if p.hides(&th) { // 1.5 % of the rows
		t.Error("six rows of 400 hide teeth")
	}
}

// A flow column lags by the time from the rise of the force to that of the flow; one that was on before tells none.
func TestLagOfAFlowColumn(t *testing.T) {
	for _, x := range []struct {
		what   string
		on     float64 // s, the force rises at 10 s
		before float32 // flow until then
		lag    float64
		known  bool
	}{{"1 s late", 11, 0, 1, true}, {"early", 8, 0, 0, true}, {"on since long before", 6, 0, 0, false},
		{"never off", 10, 5e-9, 0, false}, {"too late", 13.5, 0, 0, false}} {
		v := built(t, [2]float64{0, 0}, [2]float64{10, 0}, [2]float64{11, 50}, [2]float64{30, 50}, [2]float64{31, 0},
			[2]float64{40, 0})
		for _, at := range v.l.Time {
			q := x.before
			if at >= x.on && at < 30 {
				q = 5e-9
			}
			v.l.Flow = append(v.l.Flow, q)
		}
		p := &push{first: 500, last: 1500}
		if lag, known := v.startLag(p); known != x.known || math.Abs(lag-x.lag) > 0.05 {
			t.Errorf("%s: %g s, %t", x.what, lag, known)
		}
		p.headless = true
		if _, known := v.startLag(p); known {
			t.Errorf("%s: the log starts within the push", x.what)
		}
	}
	// The flow of a push is that of its rows, earlier by the lag; past the log the last value stays.
	v := built(t, [2]float64{0, 0}, [2]float64{2, 0})
	for i := range v.l.Time {
		v.l.Flow = append(v.l.Flow, float32(i))
	}
	p := &push{first: 10, last: 20, fs: 50}
	v.lagKnown, v.lag = true, 3
	if q := v.flowOf(p); q[0] != 13 || len(q) != 10+p.lateRows(&v.th) {
		t.Errorf("%v", q)
	}
	p.first, p.last = len(v.l.Flow)-10, len(v.l.Flow)
	if q := v.flowOf(p); len(q) != 10 || q[0] != float32(p.first+3) || q[9] != float32(len(v.l.Flow)-1) ||
		q[7] != q[6] {
		t.Errorf("%v", q)
	}
}

// A cause that somebody saw goes before the one read from the force, and the difference is noted.
func TestCauseSeen(t *testing.T) {
	for _, x := range []struct {
		outcome Outcome
		cause   feeder.Cause
		seen    feeder.Cause
		want    feeder.Cause
		note    string
	}{
		{Failed, feeder.Grind, feeder.Buckle, feeder.Buckle, "seen as buckle; the force alone reads as grind"},
		{Failed, feeder.Grind, feeder.Grind, feeder.Grind, ""}, {Unclear, feeder.Mixed, feeder.Skip, feeder.Skip,
			"seen to fail (skip); the force alone is unclear"},
		{Held, "", feeder.Grind, "", ""}, {Failed, feeder.Grind, "", feeder.Grind, ""},
	} {
		v := Test{Outcome: x.outcome, Cause: x.cause}
		v.seen(x.seen)
		if v.Cause != x.want || strings.Join(v.Notes, "") != x.note || x.seen != "" && x.outcome == Unclear &&
			v.Outcome != Failed {
			t.Errorf("%+v: %s, %v", x, v.Cause, v.Notes)
		}
	}
}

// Confidence by hand: the half-width of a mean of n values is t s/sqrt(n), t(0.975) of 4 degrees of freedom 2.776445
// (any table of Student's t); one value tells none. As many repeats as bring it down to what is asked.
func TestIntervalsAndRepeatsByHand(t *testing.T) {
	if got := Interval(2, 5, 0.95); math.Abs(got-2.776445*2/math.Sqrt(5)) > 1e-5 {
		t.Errorf("%g", got)
	}
	if !math.IsInf(Interval(2, 1, 0.95), 1) {
		t.Error("one value has an interval")
	}
	for _, x := range []struct {
		sd, half float64
		want     int
	}{{0, 1, 2}, {-1, 1, 2}, {1, 0, 2}, {1, 9.1, 2}, {1, 8.9, 3}, {1, 2.5, 3}, {1, 2.48, 4}, {1, 1e-3, 1000}} {
		// t(0.975): 12.7062 and 4.3027 for one and two degrees of freedom.
		if got := Repeats(x.sd, x.half, 0.95); got != x.want {
			t.Errorf("scatter %g to within %g: %d repeats, want %d", x.sd, x.half, got, x.want)
		}
	}
	// A parabola through (-1, 1), (0, 4), (1, 3): 4 + x - 2 x^2, its top at 1/4.
	if at, top := PeakParabola(1, 4, 3); at != 0.25 || top != 4.125 {
		t.Errorf("top %g at %g", top, at)
	}
	if at, top := PeakParabola(2, 2, 2); at != 0 || top != 2 {
		t.Errorf("a level has its top %g at %g", top, at)
	}
	// Of two sides with one push each side nothing is told; with one push on one, the scatter of the other serves.
	for _, x := range []struct {
		a, b Sample
		dof  float64
		half float64
		why  string
	}{
		{Sample{Mean: 5, N: 1}, Sample{Mean: 6, N: 1}, 0, math.Inf(1), "repeat at least one"},
		{Sample{Mean: 5, N: 0}, Sample{Mean: 6, SD: 1, N: 3}, 0, math.Inf(1), "no test on one side"},
		{Sample{Mean: 5, N: 1}, Sample{Mean: 6, SD: 1, N: 5}, 4, 2.776445 * math.Sqrt(1.2), "scatter of the second"},
		{Sample{Mean: 5, SD: 1, N: 5}, Sample{Mean: 6, N: 1}, 4, 2.776445 * math.Sqrt(1.2), "scatter of the first"},
		{Sample{Mean: 5, N: 3}, Sample{Mean: 6, N: 3}, 0, math.Inf(1), "not known"},
	} {
		d := Compare(x.a, x.b, 0.95)
		if d.DOF != x.dof || !strings.Contains(d.Why, x.why) || math.IsInf(x.half, 1) != math.IsInf(d.Half, 1) ||
			x.dof > 0 && math.Abs(d.Half-x.half) > 1e-4 {
			t.Errorf("%+v: %+v", x, d)
		}
	}
}

// Rows after one another have lines after one another; where rows were left out the line jumps.
func TestLinesOfRows(t *testing.T) {
	var m lineMap
	for _, x := range [][2]int{{0, 2}, {1, 3}, {2, 4}, {3, 9}, {4, 10}, {5, 12}} {
		m.add(x[0], x[1])
	}
	if len(m.row) != 3 {
		t.Errorf("%d breaks kept", len(m.row))
	}
	for row, line := range map[int]int{0: 2, 2: 4, 3: 9, 4: 10, 5: 12, 8: 15} {
		if got := m.of(row); got != line {
			t.Errorf("row %d is on line %d, want %d", row, got, line)
		}
	}
	if (&lineMap{}).of(3) != 0 {
		t.Error("a line of nothing")
	}
}

// A clock that falls back goes on one step later, repeated rows go, gaps are counted; the step is the mean of what is
// no gap.
func TestTimeBaseByHand(t *testing.T) {
	l := &Log{Time: []float64{100, 200, 300, 300, 400, 1400, 1500, 50, 150},
		Force: []float64{1, 2, 3, 3, 4, 5, 6, 7, 8},
		Block: []float32{1, 2, 3, 9, 4, 5, 6, 7, 8}, Flow: []float32{1, 2, 3, 9, 4, 5, 6, 7, 8}}
	var lines lineMap
	for i := range l.Time {
		lines.add(i, i+2)
	}
	l.base(&lines, 1e-3, 0.1)
	want := []float64{0, 0.1, 0.2, 0.3, 1.3, 1.4, 1.5, 1.6}
	for i := range want {
		if len(l.Time) != 8 || math.Abs(l.Time[i]-want[i]) > 1e-9 {
			t.Fatalf("%v, want %v", l.Time, want)
		}
	}
	if l.Force[3] != 4 || l.Block[3] != 4 || l.Flow[7] != 8 || len(l.Block) != 8 || math.Abs(l.Step-0.1) > 1e-9 {
		t.Errorf("%v, %v, step %g", l.Force, l.Block, l.Step)
	}
	if c := l.Faults(); c != (Counted{Repeated: 1, Resets: 1, Gaps: 1}) {
		t.Errorf("%+v", c)
	}
	if got := l.Gaps.First[0].Line; got != 7 {
		t.Errorf("the gap is before line %d", got)
	}
	for _, x := range []struct {
		t    []float64
		want float64
	}{{[]float64{0, 0.01, 0.03, 0.04, 0.06, 5}, 0.015}, {[]float64{0, 9}, 0.02}, {[]float64{1}, 0.02}} {
		if got := meanStep(x.t, 0.02); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%v: mean step %g, want %g", x.t, got, x.want)
		}
	}
	if got := medianStep([]float64{0, 1, 1, 3, 6}); got != 2 {
		t.Errorf("middle step %g", got)
	}
}

// Names of units in any dress, and the units that other names stand for.
func TestUnitsOfHeaders(t *testing.T) {
	for s, want := range map[string]string{"Newton": "N", "kgf": "kgf", "mm³/s": "mm3/s", "MN": "MN", "mN": "mN",
		"degC": "degC",
		"°C":   "degC", "K": "K", "ms": "ms", "furlong": ""} {
		if got, _ := unitOf(s); got != want {
			t.Errorf("%q is %q, want %q", s, got, want)
		}
	}
	for s, want := range map[string]string{"kg": "kgf", "lbs": "lbf", "sec": "", "furlong": ""} {
		if got := UnitMeant(s, []string{"kgf", "lbf", "N"}); got != want {
			t.Errorf("%q stands for %q, want %q", s, got, want)
		}
	}
	for h, want := range map[string][2]string{"push force (N)": {"push force", "N"}, "F [N]": {"F", "N"},
		"flow_mm3_s": {"flow", "mm3/s"}, "weight g": {"weight", "gf"}} {
		name, u, _ := splitHeader(h)
		if name != want[0] || u != want[1] {
			t.Errorf("%q: %q, %q", h, name, u)
		}
	}
	for unit, want := range map[string][3]any{"K": {"K", 1.0, 0.0}, "degF": {"degF", 5.0 / 9, 273.15 - 32*5.0/9},
		"degC": {"degC", 1.0, 273.15}, "": {"degC", 1.0, 273.15}} {
		l := &layout{cols: []column{{unit: unit, header: "T"}}}
		name, scale, zero := l.blockUnit()
		if name != want[0] || scale != want[1] || zero != want[2] || (len(l.notes) == 1) != (unit == "") {
			t.Errorf("%q: %s, %g, %g, %v", unit, name, scale, zero, l.notes)
		}
	}
}

// What speaks for a column being force, flow or block temperature: name and unit most, a name of something else against
// it.
func TestWhatSpeaksForAColumn(t *testing.T) {
	col := func(header string) *column {
		name, u, dim := splitHeader(header)
		return &column{header: header, name: name, unit: u, dim: dim, words: words(name), numeric: true}
	}
	still, flag := col("feed"), col("feed")
	still.still, flag.flag = true, true
	text, clock := col("force (N)"), col("force")
	text.numeric, clock.clock = false, true
	bare := &column{numeric: true}
	l := &layout{}
	for _, x := range []struct {
		c                  *column
		force, flow, block int
	}{
		{col("push force (N)"), 9, 0, 0}, {col("F [N]"), 9, 0, 0}, {col("pressure (N)"), 0, 0, 0},
		{col("weight g"), 9, 0, 0},
		{col("x (N)"), 7, 0, 0}, {col("load"), 5, 0, 0}, {col("adc"), 4, 0, 0}, {col("value"), 3, 0, 0},
		{col("torque"), 0, 0, 0},
		{col("battery"), 0, 0, 0}, {col("something"), 1, 0, 0}, {text, 9, 0, 0}, {clock, 0, 0, 0}, {bare, 1, 0, 0},
		{col("flow (mm3/s)"), 0, 9, 0}, {col("measured flow (mm3/s)"), 0, 8, 0}, {col("q (mm3/s)"), 0, 7, 0},
		{col("q (mm/s)"), 0, 5, 0}, {col("flow"), 0, 4, 0}, {col("actual flow"), 0, 3, 0}, {col("feed"), 0, 3, 0},
		{still, 0, 0, 0}, {flag, 0, 2, 0}, {col("block (degC)"), 0, 0, 9}, {col("melt (degC)"), 0, 0, 8},
		{col("x (degC)"), 0, 0, 5}, {col("nozzle"), 1, 0, 4}, {col("bed (degC)"), 0, 0, 0},
		{col("block target (degC)"), 0, 0, 0},
	} {
		force, _ := l.forceScore(x.c)
		flow, _ := l.scoreFlow(x.c)
		block, _ := l.scoreBlock(x.c)
		if force != x.force || flow != x.flow || block != x.block {
			t.Errorf("%q %+v: force %d, flow %d, block %d; want %d, %d, %d", x.c.header, x.c.words, force, flow, block,
				x.force, x.flow, x.block)
		}
	}
}

// A zero that is stated is taken as it is, turned over with the log; one of a stated stretch is its mean; a zero under
// which rows lie is refused from 2 per cent of them on, and told from a tenth of that.
func TestStatedZeros(t *testing.T) {
	shape := [][2]float64{{0, 2}, {10, 2}, {10.5, 52}, {40, 62}, {40.5, 2}, {60, 2}}
	v := built(t, shape...)
	two := 2.0
	a := &Analysis{}
	if _, err := a.zero(v, Settings{Zero: &two}); err != nil || a.Tare != 2 || a.TareHow != "stated" ||
		math.Abs(a.Noise/0.02-1) > 0.3 {
		t.Errorf("%g, %s, noise %g, %v", a.Tare, a.TareHow, a.Noise, err)
	}
	v = built(t, shape...)
	a = &Analysis{}
	if _, err := a.zero(v, Settings{TareFrom: 3, TareTo: 8}); err != nil || math.Abs(a.Tare-2) > 0.01 ||
		math.Abs(a.TareFrom-3) > 0.03 || math.Abs(a.TareTo-8) > 0.03 {
		t.Errorf("%g from %g to %g s, %v", a.Tare, a.TareFrom, a.TareTo, err)
	}
	if _, err := a.zero(v, Settings{TareFrom: 3, TareTo: 3.05}); err == nil ||
		!strings.Contains(err.Error(), "3 rows") {
		t.Errorf("three rows: %v", err)
	}
	v = built(t, shape...)
	if v.orient(1); !v.flipped {
		t.Fatal("not turned over")
	}
	a = &Analysis{}
	top := 62.0 // of the log as it came: turned over, the rest lies below it
	if _, err := a.zero(v, Settings{Zero: &top}); err == nil || a.Tare != -62 {
		t.Errorf("%g, %v", a.Tare, err)
	}
	for _, x := range []struct {
		below float64 // share of the rows
		warn  bool
		bad   bool
	}{{0.001, false, false}, {0.004, true, false}, {0.03, false, true}} {
		v := built(t, shape...)
		n := len(v.l.Force)
		for i := range int(x.below * float64(n)) {
			v.l.Force[n-1-i] = -20
		}
		a := &Analysis{}
		err := a.checkBelow(v, &baseline{rests: []rest{{0, 60, 2}}})
		if (err != nil) != x.bad || (len(a.Warnings) == 1) != x.warn ||
			err != nil && !strings.Contains(err.Error(), "3 % of") {
			t.Errorf("%g below: %v, %v", x.below, a.Warnings, err)
		}
	}
}

// A cell at its end leaves a flat top into which the force rises; a steady force in coarse steps does not. Forces that
// no filament stands are told.
func TestForcesThatCannotBe(t *testing.T) {
	var rising, steady []float64
	for i := range 400 {
		f := 60 * (1 - math.Exp(-float64(i)/120))
		rising = append(rising, f)
		steady = append(steady, math.Round(10*20*(1-math.Exp(-float64(i)/20)))/10) // steps of 0.1 N, settled at 20 N
	}
	clipped := slices.Clone(rising)
	for i := range clipped {
		clipped[i] = math.Min(clipped[i], 42)
	}
	at := slices.IndexFunc(rising, func(f float64) bool { return f >= 42 })
	for what, x := range map[string]struct {
		y    []float64
		rows int
	}{"rising": {rising, 0}, "steady": {steady, 0}, "clipped": {clipped, 400 - at},
		"clipped at its end": {clipped[:at+9], 0}, "clipped a row longer": {clipped[:at+10], 10},
		"nothing": {make([]float64, 50), 0}} {
		if rows, level := flatTop(x.y); rows != x.rows || rows > 0 && level != 42 {
			t.Errorf("%s: %d rows at %g, want %d", what, rows, level, x.rows)
		}
	}
	for peak, want := range map[float64]int{499: 0, 501: 1} {
		a := &Analysis{Tests: []Test{{Peak: peak}}}
		if a.tellForce(&Log{Force: rising}); len(a.Warnings) != want {
			t.Errorf("%g N: %v", peak, a.Warnings)
		}
	}
}
