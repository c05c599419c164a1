package loadcell

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// steps is a view at 50 Hz of windows of 20 rows one after another, still at the levels given, of a span of 100 N and
// next to no noise: a level within 4 N is the zero.
func steps(levels ...float64) *view {
	v := &view{l: &Log{Name: "steps"}, th: DefaultThresholds(), fs: 50, rows: 20, noise: 1e-3, hi: 100}
	for i, f := range levels {
		v.windows = append(v.windows, window{from: 20 * i, to: 20*i + 20, mean: f})
		for range 20 {
			v.l.Time = append(v.l.Time, float64(len(v.l.Time))/50)
			v.l.Force = append(v.l.Force, f)
		}
	}
	return v
}

func levels(n int, f float64) []float64 { return slices.Repeat([]float64{f}, n) }

// Windows last 0.4 s, four rows at least, and overlap by half. A flow that never falls below a twentieth of its middle
// is one that stays.
func TestWindowsOfAView(t *testing.T) {
	for _, x := range []struct {
		fs                  float64
		n, rows, count, end int
	}{{50, 101, 20, 9, 100}, {5, 21, 4, 9, 20}, {100, 99, 40, 3, 80}, {50, 3, 3, 1, 3}, {12.5, 23, 5, 10, 23}} {
		l := &Log{Step: 1 / x.fs}
		for i := range x.n {
			l.Time, l.Force = append(l.Time, float64(i)/x.fs), append(l.Force, 2*float64(i))
		}
		v := newView(l, DefaultThresholds())
		last := v.windows[len(v.windows)-1]
		if v.rows != x.rows || len(v.windows) != x.count || last.to != x.end || last.to-last.from != x.rows ||
			math.Abs(last.mean-float64(last.from+last.to-1)) > 1e-9 || v.flowStays || math.Abs(v.fs-x.fs) > 1e-9 ||
			x.rows > 3 && math.Abs(last.rise-2*float64(x.rows-1)) > 1e-9 || v.lo != v.windows[0].mean ||
			v.hi != last.mean {
			t.Errorf("%+v: %d rows, %d windows, last %+v", x, v.rows, len(v.windows), last)
		}
		for least, stays := range map[float32]bool{0.051: true, 0.049: false} {
			l.Flow = slices.Repeat([]float32{1}, x.n)
			l.Flow[1] = least
			if v := newView(l, DefaultThresholds()); v.flowStays != stays {
				t.Errorf("a flow down to %g stays: %t", least, v.flowStays)
			}
		}
	}
}

// The noise of a row: that of the quieter windows, not more than twice what second differences tell, not less than a
// converter's steps leave (a step over the root of twelve) and a millionth of the span.
func TestNoiseOfALogByHand(t *testing.T) {
	of := func(n int, f func(i int) float64) *view {
		l := &Log{Step: 0.02}
		for i := range n {
			l.Time, l.Force = append(l.Time, float64(i)/50), append(l.Force, f(i))
		}
		return newView(l, DefaultThresholds())
	}
	// Twenty values of +1 and -1 in turn: 20 squares, less those of their line, sum of x y = -10, of x x = 665.
	turns := math.Sqrt((20-100.0/665)/18) / math.Sqrt(distuv.ChiSquared{K: 18}.Quantile(0.25)/18)
	row := func(d2 float64) float64 { return d2 / distuv.UnitNormal.Quantile(0.75) / math.Sqrt(6) }
	for _, x := range []struct {
		what string
		v    *view
		want float64
	}{
		{"in turns", of(200, func(i int) float64 { return float64(1 - 2*(i%2)) }), turns},
		{"a parabola", of(200, func(i int) float64 { return 0.5 * float64(i*i) }), 2 * row(1)},
		{"a step", of(200, func(i int) float64 { return float64(i / 100) }), 1 / math.Sqrt(12)},
		{"a jump among tiny steps", of(200, func(i int) float64 { return 1e-5*float64(i) + 1000*float64(i/100) }),
			1e-6 * 1000.001},
	} {
		if math.Abs(x.v.noise/x.want-1) > 1e-6 {
			t.Errorf("%s: noise %g, want %g", x.what, x.v.noise, x.want)
		}
	}
	// Under load likewise; less than at rest it is not.
	load := func(n int, noise float64, f func(i int) float64) float64 {
		p := &push{noise: noise}
		for i := range n {
			p.y = append(p.y, f(i))
		}
		p.loadNoise(20)
		return p.hf
	}
	parabola := func(i int) float64 { return 0.5 * float64(i*i) }
	for _, x := range [][2]float64{
		{load(200, 0.1, func(i int) float64 { return float64(1 - 2*(i%2)) }), turns},
		{load(200, 0.1, parabola), row(1)}, {load(200, 3, parabola), 3},
		{load(27, 0.1, parabola), row(1)}, {load(6, 0.1, parabola), 0.1}, {load(7, 0.1, parabola), 0.1},
	} {
		if math.Abs(x[0]/x[1]-1) > 1e-9 {
			t.Errorf("noise %g, want %g", x[0], x[1])
		}
	}
	// Of rows at rest: the middle square of the windows' scatters, 9 of 1, 4, 9, 16, 25, set right for 18 degrees of
	// freedom. Windows that are not whole within a rest do not count, and three are too few.
	v := steps(levels(8, 0)...)
	for i, d := range []float64{9, 4, 1, 3, 2, 5, 9, 9} {
		v.windows[i].dev = d
	}
	want := 3 * math.Sqrt(18/distuv.ChiSquared{K: 18}.Quantile(0.5))
	for _, x := range []struct {
		rests []rest
		want  float64
	}{{[]rest{{0.4, 2.38, 0}}, want}, {[]rest{{0.38, 1.2, 0}, {1.21, 2.4, 0}}, want * 4 / 3}, // of 1, 4, 16, 25
		{[]rest{{0.42, 2.37, 0}}, 7}, {[]rest{{0.1, 0.2, 0}, {0.4, 2.38, 0}}, want}} {
		v.noise = 7
		if v.restNoise(&baseline{rests: x.rests}); math.Abs(v.noise-x.want) > 1e-9 {
			t.Errorf("%v: noise %g, want %g", x.rests, v.noise, x.want)
		}
	}
	for i := range v.windows {
		v.windows[i].dev = 0
	}
	if v.restNoise(&baseline{rests: []rest{{0, 9, 0}}}); math.Abs(v.noise-1e-4) > 1e-12 {
		t.Errorf("noise %g of a still log, want a millionth of the span", v.noise)
	}
	v.l.Force[50] = 0.6
	if v.restNoise(&baseline{rests: []rest{{0, 9, 0}}}); math.Abs(v.noise-0.6/math.Sqrt(12)) > 1e-12 {
		t.Errorf("noise %g of steps of 0.6", v.noise)
	}
}

// A window is steady if it moves by no more than 2 % of the span and scatters by no more than 1 %, or than noise may:
// 1.5 times twice the scatter of a line's end, and three times the noise. A rest moves no more than noise and a drift
// of 0.2 % of the span a second do.
func TestSteadyWindowsByTheirLimits(t *testing.T) {
	for _, x := range []struct {
		noise, rise, dev float64 // of a span of 10 N, 20 rows of 50 Hz
		steady, rest     bool
	}{
		{0.01, 0.199, 0, true, false}, {0.01, 0.201, 0, false, false}, {0.01, -0.201, 0, false, false},
		{0.01, 0, 0.099, true, true}, {0.01, 0, 0.101, false, false},
		{0.1, 0.2323, 0, true, true}, {0.1, 0.2325, 0, false, false}, {0.1, 0, 0.299, true, true},
		{0.1, 0, 0.301, false, false}, {0.01, 0.0311, 0, true, true}, {0.01, 0.0313, 0, true, false},
		{0.01, -0.0311, 0, true, true}, {0.01, -0.0313, 0, true, false},
	} {
		v := &view{th: DefaultThresholds(), rows: 20, fs: 50, noise: x.noise, lo: 5, hi: 15}
		w := window{rise: x.rise, dev: x.dev}
		if v.steady(w) != x.steady || v.atRest(w) != x.rest {
			t.Errorf("%+v: steady %t, at rest %t", x, v.steady(w), v.atRest(w))
		}
		if want := math.Max(0.4, 5*x.noise); v.band() != want {
			t.Errorf("a band of %g N, want %g", v.band(), want)
		}
	}
}

// The lowest level holds for two windows out of five, or the log has but seven; it is the middle of what lies within
// half a band of it. Fifty stands for a window that is not steady.
func TestLowestLevelByHand(t *testing.T) {
	const no = 50
	for _, x := range []struct {
		levels []float64
		want   float64 // no for none
	}{
		{[]float64{9, 9, 9, 9, 9, 9, 9, 9, 0}, 9}, {[]float64{9, 9, 9, 9, 9, 9, 0}, 0},
		{[]float64{9, 9, 9, 9, 9, 9, 9, 0}, 9}, {[]float64{0, 9, 3.9, 9, 9, 9, 9, 9, 9}, 0},
		{[]float64{0, 3.9, 9, 9, 9, 9, 9, 9, 9}, 0}, {[]float64{9, 9, 9, 9, 9, 9, 9, 3.9, 0}, 0},
		{[]float64{9, 9, 9, 9, 9, 9, 3.9, 9, 0}, 0}, {[]float64{9, 9, 9, 9, 9, 3.9, 9, 9, 0}, 9},
		{[]float64{0, 9, 4.1, 9, 9, 9, 9, 9, 9}, 9}, {[]float64{0, 0.9, 1.9, 2.1, 9, 9, 9, 9, 9}, 0.9},
		{[]float64{1, 1, 0, 0, 30, 30, 30, 30, 30}, 0.5}, {[]float64{no, no, no, no, no, no, no, no}, no},
		{[]float64{0, no, no, 9, 9, 9, 9, 9, 9}, 9},
	} {
		v := steps(x.levels...)
		for i, f := range x.levels {
			if f == no {
				v.windows[i].rise = 99
			}
		}
		got, ok := v.lowest()
		if ok != (x.want != no) || ok && math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%v: %g, %t, want %g", x.levels, got, ok, x.want)
		}
	}
	v := &view{l: &Log{Force: []float64{1, 2, 3, 100, 7, 7, 9, 11, 13}}}
	if v.startLevel() != 2.5 || v.endLevel() != 10 {
		t.Errorf("starts at %g, ends at %g", v.startLevel(), v.endLevel())
	}
	if !math.IsNaN(Median(nil)) || Median([]float64{3, 1, 2}) != 2 || Median([]float64{4, 1, 2, 3}) != 2.5 {
		t.Error("the middle of values")
	}
	v.l.Force = []float64{1, 5}
	if v.startLevel() != 3 || v.endLevel() != 3 {
		t.Errorf("starts at %g, ends at %g", v.startLevel(), v.endLevel())
	}
}

// Pushing counts down where the log starts within a tenth of its highest level, and that lies within a quarter of the
// span from nothing; farther off, a log that ends there too is refused.
func TestSignByItsLimits(t *testing.T) {
	for _, x := range []struct {
		start, end, hi  float64 // N, of a span of 100 N
		turned, refused bool
	}{
		{0, 0, 0, true, false}, {-9.9, 0, 0, true, false}, {-10.1, 0, 0, false, false}, {24.9, 0, 24.9, true, false},
		{-24.9, 0, -24.9, true, false}, {25.1, 25, 25.1, false, true}, {-25.1, -25, -25.1, false, true},
		{40, 25.1, 40, false, true}, {40, 24.9, 40, false, false}, {0, 0, 100, false, false},
		{50, 99, 100, false, false},
	} {
		v := &view{l: &Log{Force: append(levels(9, x.start), levels(9, x.end)...)}, th: DefaultThresholds(),
			lo: x.hi - 100, hi: x.hi, windows: []window{{mean: 3, rise: 2}}}
		note, err := v.orient(0)
		if v.flipped != x.turned || (note != "") != x.turned || (err != nil) != x.refused {
			t.Errorf("%+v: turned %t, %q, %v", x, v.flipped, note, err)
		}
		if x.turned && (v.lo != -x.hi || v.hi != 100-x.hi || v.l.Force[0] != -x.start || v.windows[0].mean != -3 ||
			v.windows[0].rise != -2) {
			t.Errorf("%+v: %+v", x, v)
		}
	}
	v := &view{l: &Log{Force: levels(9, 5)}, lo: 5, hi: 5}
	if note, err := v.orient(0); note != "" || err != nil {
		t.Errorf("a level: %q, %v", note, err)
	}
}

// A rest at the start lies no more than two bands above the lowest level; it reaches as far as windows stay within a
// band of it. Below that level by more than a band it is read from its few rows alone.
func TestRestAtTheStart(t *testing.T) {
	for _, x := range []struct {
		what string
		v    *view
		want float64
		to   int
		bad  string
	}{
		{"a rest", steps(append(levels(5, 2), levels(9, 60)...)...), 2, 100, ""},
		{"7.9 N above the lowest", steps(append(levels(5, 7.9), 60, 60, 60, 0, 0, 0)...), 7.9, 100, ""},
		{"8.1 N above", steps(append(levels(5, 8.1), 60, 60, 60, 0, 0, 0)...), 0, 0, "starts under load"},
		{"3.9 N on", steps(append(levels(5, 0), 3.9, 4.1, 0, 60, 60, 60)...), 0, 120, ""},
		{"3.9 N below the lowest", steps(append(levels(1, 0), levels(9, 3.9)...)...), 0, 200, ""},
		{"in the first rows alone", steps(append(levels(1, -5), levels(9, 0)...)...), -5, 20, ""},
	} {
		got, from, to, err := x.v.startRest()
		if (err != nil) != (x.bad != "") || err != nil && !strings.Contains(err.Error(), x.bad) {
			t.Errorf("%s: %v", x.what, err)
			continue
		}
		if x.what == "3.9 N below the lowest" { // most of it lies there
			x.want = 3.9
		}
		if math.Abs(got-x.want) > 1e-9 || from != 0 || to != x.to {
			t.Errorf("%s: %g N from row %d to %d, want %g to %d", x.what, got, from, to, x.want, x.to)
		}
	}
	// A feed that runs from the first row on is none, if the force stands above the lowest by more than a band.
	for _, x := range []struct {
		flow float32
		f    float64
		bad  bool
	}{{1, 4.1, true}, {1, 3.9, false}, {0, 4.1, false}} {
		v := steps(append(levels(5, x.f), levels(9, 60)...)...)
		v.l.Flow = slices.Repeat([]float32{x.flow}, len(v.l.Force))
		if _, _, _, err := v.startRest(); (err != nil) != x.bad {
			t.Errorf("%+v: %v", x, err)
		}
	}
	v := steps(1, 2, 3)
	for i := range v.windows {
		v.windows[i].rise = 99
	}
	if _, _, _, err := v.startRest(); err == nil || !strings.Contains(err.Error(), "no level is steady") {
		t.Errorf("%v", err)
	}
	// The first rows, as far as each lies near the middle of those before it: six noises, or 1 % of the span.
	for _, x := range []struct {
		y     []float64
		noise float64
		want  float64
		to    int // 0 for none
	}{
		{[]float64{0, 0.5, 0, 0.55, 2}, 0.1, 0, 4}, {[]float64{0, 0.5, 0, 0.65, 2}, 0.1, 0, 3},
		{[]float64{0, 0.09, 0.05, 5}, 0.001, 0.05, 3}, {[]float64{0, 0.11, 0.05, 5}, 0.001, 0, 0},
		{[]float64{0, 0.09, 5}, 0.001, 0, 0}, {[]float64{0, -0.09, 0.01, -0.16, 5}, 0.001, 0, 3},
		{[]float64{1, 1, 1, 1, 1, 1.05, 1.08, 1.09, 9}, 0.001, 1, 8}, {[]float64{1, 2, 3}, 1, 2, 3},
	} {
		v := &view{l: &Log{Force: x.y}, noise: x.noise, hi: 10}
		got, _, to, err := v.shortRest(7)
		if (err != nil) != (x.to == 0) || math.Abs(got-x.want) > 1e-9 || to != x.to {
			t.Errorf("%v: %g N to row %d, %v; want %g to %d", x.y, got, to, err, x.want, x.to)
		}
	}
}

// The zero is followed from rest to rest by what a drift can do: 4 N of band and 0.1 N for each second since, 8 N at
// most. A level more than half a band below shows that what came before was the end of a push.
func TestRestsThatAreFollowed(t *testing.T) {
	around := func(seconds int, after float64) *view {
		return steps(slices.Concat(levels(10, 0), levels(seconds*5/2, 50), levels(10, after))...)
	}
	first := rest{0, 3.98, 0}
	tilted := func(rise float64) *view {
		v := steps(levels(10, 0)...)
		for i := range v.windows {
			v.windows[i].rise = rise
		}
		return v
	}
	fed := func(from, to int) *view { // so many rows of which a feed runs, in the last window
		v := steps(levels(10, 0)...)
		v.l.Flow = make([]float32, len(v.l.Force))
		for i := from; i <= to; i++ {
			v.l.Flow[i] = 1
		}
		return v
	}
	for _, x := range []struct {
		what  string
		v     *view
		start int
		want  []rest
	}{
		{"5 N after 10 s", around(10, 5), 0, []rest{first, {14, 17.98, 5}}},
		{"5.1 N after 10 s is one after 11 s", around(10, 5.1), 0, []rest{first, {14.8, 17.98, 5.1}}},
		{"11.9 N after 200 s", around(200, 11.9), 0, []rest{first, {204, 207.98, 11.9}}},
		{"12.1 N after 200 s", around(200, 12.1), 0, []rest{first}},
		{"1.9 N lower", around(10, -1.9), 0, []rest{first, {14, 17.98, -1.9}}},
		{"2.1 N lower", around(10, -2.1), 0, []rest{{14, 17.98, -2.1}}},
		{"11.9 N lower", around(10, -11.9), 0, []rest{{14, 17.98, -11.9}}},
		{"12.1 N lower", around(10, -12.1), 0, []rest{first}},
		{"a minute of rest in parts of half a minute", steps(levels(160, 0)...), 0, []rest{{0, 30.38, 0},
			{30.4, 60.78, 0}, {60.8, 63.98, 0}}},
		{"the lower quarter of a rest", steps(3, 1, 2, 0, 3, 3, 3, 3), 0, []rest{{0, 3.18, 2}}},
		{"followed by 0.04 N a window", steps(slices.Concat(levels(10, 0), levels(10, 3.9), levels(1, 4.43),
			levels(9, 50))...), 0, []rest{{0, 8.38, 0}}},
		{"and no more", steps(slices.Concat(levels(10, 0), levels(10, 3.9), levels(1, 4.45), levels(9, 50))...), 0,
			[]rest{{0, 7.98, 0}}},
		{"1.2 s of load", steps(slices.Concat(levels(10, 0), levels(2, 50), levels(10, 0))...), 0,
			[]rest{{0, 8.78, 0}}},
		{"1.6 s of load", steps(slices.Concat(levels(10, 0), levels(3, 50), levels(10, 0))...), 0,
			[]rest{first, {5.2, 9.18, 0}}},
		{"far off, but the start", steps(slices.Concat(levels(10, 20), levels(10, 50))...), 200, []rest{{0, 3.98,
			20}}},
		{"far off after the start", steps(levels(10, 20)...), 60, []rest{{0, 1.18, 20}}},
		{"nowhere", steps(levels(10, 50)...), 0, []rest{{0, 0, 0}}},
		{"that moves by 0.07 N a window", tilted(0.07), 0, []rest{{0, 3.98, 0}}},
		{"by 0.09 N", tilted(0.09), 0, []rest{{0, 0, 0}}},
		{"of a feed", fed(180, 199), 0, []rest{{0, 3.58, 0}}},
		{"of a feed from its second row on", fed(181, 199), 0, []rest{{0, 3.98, 0}}},
		{"of a feed to the row before its last", fed(180, 198), 0, []rest{{0, 3.98, 0}}},
	} {
		b := x.v.follow(0, x.start)
		if len(b.rests) != len(x.want) {
			t.Errorf("%s: %v, want %v", x.what, b.rests, x.want)
			continue
		}
		for i, w := range x.want {
			r := b.rests[i]
			if math.Abs(r.from-w.from)+math.Abs(r.to-w.to)+math.Abs(r.level-w.level) > 1e-9 {
				t.Errorf("%s: %v, want %v", x.what, b.rests, x.want)
			}
		}
	}
}
