package loadcell

import (
	"math"
	"slices"
	"testing"
)

// rows is a view at a rate of forces through points of time (s) and force (N), of a span of 100 N and a noise of 0.1 N:
// a push starts above 6 N, at the row from which the force stands above 1.8 N, and ends below 3.6 N.
func rows(fs float64, points ...[2]float64) *view {
	v := &view{l: &Log{Name: "rows"}, th: DefaultThresholds(), fs: fs, rows: 20, noise: 0.1, hi: 100}
	k := 0
	for i := 0; ; i++ {
		x := float64(i) / fs
		for k+1 < len(points) && x > points[k+1][0]+1e-9 {
			k++
		}
		if k+1 >= len(points) {
			return v
		}
		a, b := points[k], points[k+1]
		v.l.Time, v.l.Force = append(v.l.Time, x), append(v.l.Force, a[1]+(b[1]-a[1])*(x-a[0])/(b[0]-a[0]))
	}
}

// block is points of a log that holds a force from one row to another of 50 Hz, at rest else.
func block(spans ...[3]float64) [][2]float64 {
	out := [][2]float64{{0, 0}}
	for _, s := range spans {
		from, to := s[0]/50, s[1]/50
		out = append(out, [2]float64{from - 0.02, 0}, [2]float64{from, s[2]}, [2]float64{to, s[2]},
			[2]float64{to + 0.02, 0})
	}
	return append(out, [2]float64{out[len(out)-1][0] + 4, 0})
}

// Where pushes start and end, and which are but knocks.
func TestPushesAreCutByHand(t *testing.T) {
	still := &baseline{rests: []rest{{0, 1e9, 0}}}
	type cut struct {
		first, last    int
		open, headless bool
	}
	for _, x := range []struct {
		what   string
		v      *view
		want   []cut
		spikes int
	}{
		{"a block", rows(50, block([3]float64{100, 200, 50})...), []cut{{first: 100, last: 201}}, 0},
		{"6.1 N", rows(50, block([3]float64{100, 200, 6.1})...), []cut{{first: 100, last: 201}}, 0},
		{"5.9 N", rows(50, block([3]float64{100, 200, 5.9})...), nil, 0},
		{"one row", rows(50, block([3]float64{100, 100, 50})...), nil, 0},
		{"two rows", rows(50, block([3]float64{100, 101, 50})...), nil, 1},
		{"one row and one again", rows(50, block([3]float64{100, 100, 50}, [3]float64{102, 102, 50})...), nil, 0},
		{"0.78 s", rows(50, block([3]float64{100, 139, 50})...), nil, 1},
		{"0.82 s", rows(50, block([3]float64{100, 141, 50})...), []cut{{first: 100, last: 142}}, 0},
		{"0.66 s between", rows(50, block([3]float64{100, 200, 50}, [3]float64{234, 300, 50})...),
			[]cut{{first: 100, last: 301}}, 0},
		{"0.74 s between", rows(50, block([3]float64{100, 200, 50}, [3]float64{238, 300, 50})...),
			[]cut{{first: 100, last: 201}, {first: 238, last: 301}}, 0},
		{"3.7 N between", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{2.02, 50}, [2]float64{4, 50},
			[2]float64{4.02, 3.7}, [2]float64{6, 3.7}, [2]float64{6.02, 50}, [2]float64{8, 50}, [2]float64{8.02, 0},
			[2]float64{10, 0}), []cut{{first: 101, last: 401}}, 0},
		{"3.5 N between", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{2.02, 50}, [2]float64{4, 50},
			[2]float64{4.02, 3.5}, [2]float64{6, 3.5}, [2]float64{6.02, 50}, [2]float64{8, 50}, [2]float64{8.02, 0},
			[2]float64{10, 0}), []cut{{first: 101, last: 201}, {first: 201, last: 401}}, 0}, // not back into the first
		{"a rise of 0.16 N a row", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{7, 40}, [2]float64{7.02,
			0},
			[2]float64{10, 0}), []cut{{first: 112, last: 351}}, 0},
		{"of 0.01 N a row: 200 rows are gone back", rows(50, [2]float64{0, 0}, [2]float64{20, 10}, [2]float64{20.02,
			0},
			[2]float64{24, 0}), []cut{{first: 402, last: 1001}}, 0},
		{"from the first row", rows(50, [2]float64{0, 50}, [2]float64{4, 50}, [2]float64{4.02, 0}, [2]float64{8, 0}),
			[]cut{{first: 0, last: 201, headless: true}}, 0},
		{"from the second", rows(50, [2]float64{0, 0}, [2]float64{0.02, 50}, [2]float64{4, 50}, [2]float64{4.02, 0},
			[2]float64{8, 0}), []cut{{first: 1, last: 201}}, 0},
		{"to the last row", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{2.02, 50}, [2]float64{6, 50}),
			[]cut{{first: 101, last: 301, open: true}}, 0},
		{"to the last but one", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{2.02, 50}, [2]float64{6, 50},
			[2]float64{6.02, 0}), []cut{{first: 101, last: 301, open: true}}, 0},
		{"to the last but two", rows(50, [2]float64{0, 0}, [2]float64{2, 0}, [2]float64{2.02, 50}, [2]float64{6, 50},
			[2]float64{6.02, 0}, [2]float64{6.04, 0}), []cut{{first: 101, last: 301}}, 0},
		{"a row a second, two of them", rows(1, [2]float64{0, 0}, [2]float64{5, 0}, [2]float64{6, 50}, [2]float64{7,
			50},
			[2]float64{8, 0}, [2]float64{20, 0}), nil, 1},
		{"three of them", rows(1, [2]float64{0, 0}, [2]float64{5, 0}, [2]float64{6, 50}, [2]float64{8, 50},
			[2]float64{9, 0}, [2]float64{20, 0}), []cut{{first: 6, last: 9}}, 0},
		{"one low row among them", rows(1, [2]float64{0, 0}, [2]float64{5, 0}, [2]float64{6, 50}, [2]float64{9, 50},
			[2]float64{10, 0}, [2]float64{11, 50}, [2]float64{14, 50}, [2]float64{15, 0}, [2]float64{20, 0}),
			[]cut{{first: 6, last: 15}}, 0},
	} {
		for _, zero := range []float64{0, 30} { // a zero of its own changes nothing
			b := still
			if zero > 0 {
				for i := range x.v.l.Force {
					x.v.l.Force[i] += zero
				}
				b = &baseline{rests: []rest{{0, 1e9, zero}}}
			}
			ps, spikes := x.v.find(b)
			var got []cut
			for _, p := range ps {
				got = append(got, cut{p.first, p.last, p.open, p.headless})
			}
			if !slices.Equal(got, x.want) || spikes != x.spikes {
				t.Errorf("%s, zero %g: %+v and %d knocks, want %+v and %d", x.what, zero, got, spikes, x.want,
					x.spikes)
			}
		}
	}
	// In a noise of 1 N a push starts above 8 N.
	for f, n := range map[float64]int{7.9: 0, 8.1: 1} {
		v := rows(50, block([3]float64{100, 200, f})...)
		v.noise = 1
		if ps, _ := v.find(still); len(ps) != n {
			t.Errorf("%g N in noise: %+v", f, ps)
		}
	}
}

// What changes by less than a quarter of its force within 10 s, from 10 s before to 10 s after, is a zero that wanders.
func TestWanderingByItsLimits(t *testing.T) {
	hill := func(seconds float64) [][2]float64 {
		return [][2]float64{{0, 0}, {20, 0}, {20 + seconds, 40}, {20 + 2*seconds, 0}, {50 + 2*seconds, 0}}
	}
	step := func(at float64) [][2]float64 { // a slow hill, and then a step
		return [][2]float64{{0, 0}, {20, 0}, {80, 40}, {140, 0}, {140 + at, 0}, {140.02 + at, 15}, {170, 15}}
	}
	for _, x := range []struct {
		what        string
		points      [][2]float64
		first, last float64 // s
		noise       float64
		want        bool
	}{
		{"10 N in 10.5 s", hill(42), 20, 104, 0.1, true}, {"10 N in 9.5 s", hill(38), 20, 96, 0.1, false},
		// Fifteen times the noise of a window, 4 N over the root of 20 rows, is 13.4 N.
		{"12.5 N in 10 s in noise", hill(32), 20, 84, 4, true}, {"14.3 N in noise", hill(28), 20, 76, 4, false},
		{"a step 9 s after", step(9), 20, 140, 0.1, false}, {"a step 11 s after", step(11), 20, 140, 0.1, true},
		{"a step 9 s before", [][2]float64{{0, 15}, {11, 15}, {11.02, 0}, {20, 0}, {80, 40}, {140, 0},
			{160, 0}}, 20, 140,
			0.1, false},
		{"a step 11 s before", [][2]float64{{0, 15}, {9, 15}, {9.02, 0}, {20, 0}, {80, 40}, {140, 0},
			{160, 0}}, 20, 140,
			0.1, true},
		{"three windows", [][2]float64{{0, 0}, {1.3, 1}}, 0, 1, 0.1, false},
		{"four windows", [][2]float64{{0, 0}, {1.7, 0.1}}, 0, 1, 0.1, true},
	} {
		v := rows(50, x.points...)
		p := &push{first: int(50 * x.first), last: int(50 * x.last), noise: x.noise}
		p.y = v.l.Force[p.first:p.last]
		if got := v.wanders(p); got != x.want {
			t.Errorf("%s: wanders %t", x.what, got)
		}
	}
}

// A push is what stands above the zero as it moves; the longest stretch without rows in it is known.
func TestPushIsCutFromItsLog(t *testing.T) {
	v := rows(50, [2]float64{0, 0}, [2]float64{20, 100})
	for i := 600; i < len(v.l.Time); i++ {
		v.l.Time[i] += 3
	}
	b := &baseline{rests: []rest{{0, 2, 1}, {10, 12, 5}}}
	p := &push{first: 200, last: 700}
	v.cut(b, p)
	// At 4 s the zero is 2 N, at 8 s 4 N: a quarter and three quarters of the way from 1 to 5 N.
	if math.Abs(p.y[0]-(20-2)) > 1e-9 || math.Abs(p.y[200]-(40-4)) > 1e-9 || math.Abs(p.y[499]-(69.9-2)) > 4 ||
		len(p.y) != 500 || math.Abs(p.gap-3.02) > 1e-9 || p.t[0] != 4 || p.fs != 50 || p.noise != 0.1 || p.q != nil ||
		p.windowRows != 20 || math.Abs(p.y[499]-(100*699.0/1000-5)) > 1e-9 {
		t.Errorf("%g, %g, %g N, gap %g s", p.y[0], p.y[200], p.y[499], p.gap)
	}
}

// A single row stands out if it lies off the middle of its neighbours by 8 noises, by a twentieth of them, and by three
// times the way between the four rows about it.
func TestRowsThatStandOutByTheirLimits(t *testing.T) {
	for _, x := range []struct {
		about [4]float64
		by    float64
		out   bool
	}{
		{[4]float64{50, 50, 50, 50}, 2.6, true}, {[4]float64{50, 50, 50, 50}, 2.4, false},
		{[4]float64{50, 50, 50, 50}, -2.6, true}, {[4]float64{50, 50, 50, 50}, -2.4, false},
		{[4]float64{10, 10, 10, 10}, 0.85, true}, {[4]float64{10, 10, 10, 10}, 0.75, false},
		{[4]float64{-50, -50, -50, -50}, 2.4, false},
		{[4]float64{51, 50, 50, 50}, 3.1, true}, {[4]float64{51, 50, 50, 50}, 2.9, false},
		{[4]float64{50, 50, 50, 49}, 3.1, true}, {[4]float64{50, 50, 50, 49}, 2.9, false},
		{[4]float64{50, 51, 50, 50}, 2.9, false}, {[4]float64{50, 50, 49, 50}, 2.9, false},
		{[4]float64{50, 51, 50, 50}, -3.1, true}, {[4]float64{51, 50, 50, 49}, 5.9, false},
		{[4]float64{51, 50, 50, 49}, 6.1, true},
	} {
		mid := (x.about[1] + x.about[2]) / 2
		p := &push{noise: 0.1, y: []float64{x.about[0], x.about[1], mid + x.by, x.about[2], x.about[3]}}
		p.deglitch()
		lows := 0
		if x.out && x.by < 0 {
			lows = 1
		}
		if (len(p.glitches) == 1) != x.out || p.lows != lows || (p.y[2] == mid) != x.out ||
			x.out && p.glitches[0] != 2 {
			t.Errorf("%+v: %+v", x, p)
		}
	}
	for n, at := range map[int]int{4: 2, 5: 1, 6: 4} { // too near an end
		p := &push{noise: 0.1, y: levels(n, 50)}
		p.y[at] = 90
		if p.deglitch(); len(p.glitches) != 0 || p.y[at] != 90 {
			t.Errorf("row %d of %d stands out", at, n)
		}
	}
	// They may hide teeth if they are five at least, two in a hundred, and nine of ten low or four of five ways alike.
	th := DefaultThresholds()
	uneven := []int{10, 40, 50, 95, 120, 170, 180, 250, 260, 330}
	alike := func(odd int, by int) (at []int) { // ten ways of 20, some of them longer
		at = []int{10}
		for i := range 10 {
			way := 20
			if i < odd {
				way += by
			}
			at = append(at, at[i]+way)
		}
		return at
	}
	for _, x := range []struct {
		what string
		at   []int
		lows int
		n    int
		want bool
	}{
		{"nine of ten low", uneven, 9, 400, true}, {"eight low", uneven, 8, 400, false},
		{"none low", uneven, 0, 400, false},
		{"of 500 rows", uneven, 9, 500, true}, {"of 510", uneven, 9, 510, false}, {"five", uneven[:5], 5, 200, true},
		{"four", uneven[:4], 4, 100, false}, {"eight ways alike", alike(2, 9), 0, 400, true},
		{"seven ways alike", alike(3, 9), 0, 400, false}, {"two rows off 20", alike(3, 2), 0, 400, true},
		{"three rows off", alike(3, 3), 0, 400, false}, {"two rows less", alike(3, -2), 0, 400, true},
		{"three less", alike(3, -3), 0, 400, false},
		{"one row off 3", []int{10, 13, 16, 19, 23, 27, 30, 33}, 0, 60, true},
		{"two rows off 3", []int{10, 13, 16, 19, 24, 29, 32, 35}, 0, 60, false},
	} {
		p := &push{glitches: x.at, lows: x.lows, y: make([]float64, x.n)}
		if p.hides(&th) != x.want {
			t.Errorf("%s: hides %t", x.what, !x.want)
		}
	}
}

// Rows are averaged to 100 Hz, and further while noise is above half a per cent of the top, over a twentieth of a
// second at most; an eighth of the push is the most.
func TestRowsAreAveragedByHand(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		fs, hf float64 // of a top of 40 N: noise is to come down to 0.2 N
		n      int
		want   int
	}{
		{50, 0.19, 400, 1}, {50, 0.21, 400, 2}, {50, 5, 400, 2}, {30, 5, 400, 1}, {100, 0.19, 400, 1},
		{190, 0.19, 400, 1},
		{200, 0.19, 400, 2}, {1000, 0.6, 4000, 10}, {1000, 0.65, 4000, 11}, {1000, 0.99, 4000, 25},
		{1000, 5, 4000, 50},
		{10000, 5, 4000, 100}, {2000, 5, 4000, 64}, {1000, 5, 100, 12}, {1000, 0.1, 80, 10}, {1000, 0.1, 79, 9},
		{1000, 0.1, 7, 1},
	} {
		p := &push{fs: x.fs, hf: x.hf, noise: 0.1, y: levels(x.n, 40), t: levels(x.n, 0)}
		if _, k := p.coarse(20, &th); k != x.want {
			t.Errorf("%+v: %d rows in one, want %d", x, k, x.want)
		}
	}
	p := &push{fs: 1000, hf: 0.1, noise: 0.3}
	for i := range 1005 {
		x := float64(i)
		p.t, p.y, p.q = append(p.t, x/1000), append(p.y, 40+3*math.Sin(x*x/3e4)), append(p.q, float32(i))
	}
	p.q = append(p.q, 1005, 1006, 1007, 1008, 1009)
	c, k := p.coarse(73, &th)
	if k != 10 || len(c.y) != 100 || len(c.t) != 100 || len(c.q) != 101 || c.q[100] != 1005 || c.t[99] != p.t[995] ||
		math.Abs(c.noise-0.3/math.Sqrt(10)) > 1e-12 || c.fs != 100 {
		t.Fatalf("%d rows in one, %d and %d left", k, len(c.y), len(c.q))
	}
	sum := 0.0
	for _, f := range p.y[990:1000] {
		sum += f / 10
	}
	if math.Abs(c.y[99]-sum) > 1e-9 {
		t.Errorf("%g N, want %g", c.y[99], sum)
	}
	twin := &push{noise: c.noise, y: c.y} // its noise is that of windows of 7 rows, as many seconds as before
	if twin.loadNoise(7); c.hf != twin.hf {
		t.Errorf("noise %g, want %g", c.hf, twin.hf)
	}
	if c, _ := p.coarse(20, &th); true { // four rows at least
		if twin.loadNoise(4); c.hf != twin.hf {
			t.Errorf("noise %g, want %g", c.hf, twin.hf)
		}
	}
	// A level of many rows is that of rows from all over it: every third of 45000.
	long := &push{y: make([]float64, 45010), fs: 50}
	for i := 5; i < len(long.y); i += 3 {
		long.y[i] = 1
	}
	if got := long.level(5, 45005); got != 1 {
		t.Errorf("level %g", got)
	}
	if got := long.level(5, 20004); got != 0 { // of fewer than 20000 all count
		t.Errorf("level %g", got)
	}
	if got := long.level(-3, 2); got != 0 || !math.IsNaN(long.level(7, 5)) || !math.IsNaN(long.level(45010, 45020)) {
		t.Errorf("level %g", got)
	}
	for s, want := range map[float64]int{0.001: 1, 0.029: 1, 0.031: 2, 1: 50} {
		if got := long.rowsOf(s); got != want {
			t.Errorf("%g s are %d rows", s, got)
		}
	}
}

// A fall counts from a twentieth of its top on, or the range of noise; its steep part goes from the last row within a
// twentieth of the fall, or five noises, below the top to the first in its lowest fifth.
func TestSteepPartOfAFall(t *testing.T) {
	th := DefaultThresholds()
	for depth, n := range map[float64]int{2.9: 0, 3.1: 1} {
		p := drawn([2]float64{0, 10}, [2]float64{1, 60}, [2]float64{1.1, 60 - depth}, [2]float64{2, 60})
		if fs := p.falls(&th); len(fs) != n {
			t.Errorf("a fall of %g N from 60 N: %+v", depth, fs)
		}
	}
	for share, n := range map[float64]int{0.98: 0, 1.02: 1} { // and as much up again before the next
		p := drawn([2]float64{0, 10}, [2]float64{1, 60}, [2]float64{1.1, 30}, [2]float64{1.2, 30 + 3*share},
			[2]float64{1.3, 20}, [2]float64{2, 20})
		if fs := p.falls(&th); len(fs) != 1+n {
			t.Errorf("%g of 3 N up again: %+v", share, fs)
		}
	}
	for by, n := range map[float64]int{0.98: 0, 1.02: 1} {
		p := drawn([2]float64{0, 10}, [2]float64{1, 60}, [2]float64{2, 60})
		p.hf = 2
		p.y[80] -= by * 4 * math.Sqrt(2*math.Log(102))
		if fs := p.falls(&th); len(fs) != n {
			t.Errorf("%g of the range of noise: %+v", by, fs)
		}
	}
	for _, x := range []struct {
		hf          float64
		y           []float64
		steep, flat int
	}{
		{0.01, []float64{60, 60, 59.2, 50, 45, 44.1, 43.9, 41, 40}, 1, 6}, // 59.2 lies within 1 N, but falls already
		{0.01, []float64{60, 60, 59.99, 59.98, 50, 44, 40}, 3, 5},
		{0.5, []float64{60, 60, 59, 57.6, 50, 44, 40}, 3, 5}, {0.5, []float64{60, 60, 59, 57.4, 50, 44, 40}, 2, 5},
		{0.5, []float64{60, 60, 58.4, 57.6, 50, 44, 40}, 1 + 2, 5}, {0.01, []float64{60, 40}, 0, 1},
		{0.01, []float64{60, 50, 59.5, 59.5, 40}, 3, 4}, {0.01, []float64{60, 58.9, 50, 43.9, 50, 40}, 0, 3},
	} {
		p := &push{y: x.y, hf: x.hf}
		f := p.shape(0, len(x.y)-1)
		if f.steep != x.steep || f.flat != x.flat || f.high != 60 || f.low != 40 || f.top != 0 ||
			f.bottom != len(x.y)-1 {
			t.Errorf("%v: %+v, want rows %d to %d", x.y, f, x.steep, x.flat)
		}
	}
}
