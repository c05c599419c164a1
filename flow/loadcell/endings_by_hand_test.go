package loadcell

import (
	"slices"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// held is a push at 50 Hz of forces that last so many rows.
func held(spans ...[2]float64) *push {
	p := &push{fs: 50, hf: 0.01, noise: 0.01, windowRows: 20}
	for _, s := range spans {
		for range int(s[0]) {
			p.t, p.y = append(p.t, float64(len(p.t))/50), append(p.y, s[1])
		}
	}
	p.last = len(p.y)
	return p
}

// Backwards from the end, the last fall begins where the force of 0.3 s is no more than 4 % below that of the 0.3 s
// before, or than its noise; its first row is the first that lies more than 8 % or four noises below that level.
func TestReleaseByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	slope := func(perSecond, hf float64) *push { // from 100 N down for half a second, and then let go
		p := drawn([2]float64{0, 100}, [2]float64{10, 100}, [2]float64{10.5, 100 - perSecond/2}, [2]float64{10.52, 0},
			[2]float64{12, 0})
		p.hf = hf
		return p
	}
	noisy := func(p *push, hf float64) *push { p.hf = hf; return p }
	slow := &push{fs: 2, hf: 0.01, y: append(levels(10, 40), 0, 0, 0)}
	for _, x := range []struct {
		what string
		p    *push
		want int
	}{
		{"let go", held([2]float64{500, 40}, [2]float64{60, 0}), 500},
		{"7.5 % below for three rows", held([2]float64{500, 40}, [2]float64{3, 37}, [2]float64{60, 0}), 503},
		{"8.5 % below", held([2]float64{500, 40}, [2]float64{3, 36.6}, [2]float64{60, 0}), 500},
		{"3.9 N below in noise", noisy(held([2]float64{500, 40}, [2]float64{3, 36.1}, [2]float64{60, 0}), 1), 503},
		{"4.1 N below in noise", noisy(held([2]float64{500, 40}, [2]float64{3, 35.9}, [2]float64{60, 0}), 1), 500},
		{"12 N a second, then let go", slope(12, 0.01), 526}, {"15.5 N in noise", slope(13.8, 1), 526},
		{"two rows a second", slow, 10}, {"six rows", held([2]float64{6, 40}), 6},
		{"no force at all", held([2]float64{100, 0}), 100}, {"its whole length", held([2]float64{30, 40}), 30},
	} {
		if got := x.p.release(&th); got != x.want {
			t.Errorf("%s: row %d, want %d", x.what, got, x.want)
		}
	}
	for _, p := range []*push{slope(14, 0.01), slope(16, 1)} { // too steep: the level before is that of the hold
		if got := p.release(&th); got >= 525 {
			t.Errorf("row %d", got)
		}
	}
}

// A spike is one of contact if it stands within 1.5 s of the start, 6.5 % of its top and six noises above what follows,
// no more than 0.6 s wide at three tenths of that, and a push of 1.5 s follows it.
func TestContactByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	noisy := func(p *push) *push { p.hf = 1; return p }
	for _, x := range []struct {
		what string
		p    *push
		want int // row from which falls count, 0 for no contact
	}{
		{"a spike", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{200, 15}), 24},
		{"0.58 s wide", held([2]float64{20, 15}, [2]float64{30, 50}, [2]float64{200, 15}), 49},
		{"0.62 s wide", held([2]float64{20, 15}, [2]float64{32, 50}, [2]float64{200, 15}), 0},
		{"1.46 s from the start", held([2]float64{73, 15}, [2]float64{5, 50}, [2]float64{200, 15}), 77},
		{"1.52 s", held([2]float64{76, 15}, [2]float64{5, 50}, [2]float64{200, 15}), 0},
		{"6.2 % of its top", held([2]float64{20, 15}, [2]float64{5, 16}, [2]float64{200, 15}), 0},
		{"6.8 %", held([2]float64{20, 15}, [2]float64{5, 16.1}, [2]float64{200, 15}), 24},
		{"5.9 noises", noisy(held([2]float64{20, 15}, [2]float64{5, 20.9}, [2]float64{200, 15})), 0},
		{"6.1 noises", noisy(held([2]float64{20, 15}, [2]float64{5, 21.1}, [2]float64{200, 15})), 24},
		{"0.64 s at 28 % of it", held([2]float64{20, 15}, [2]float64{27, 24.8}, [2]float64{5, 50}, [2]float64{200,
			15}),
			51},
		{"0.64 s at 32 % of it", held([2]float64{20, 15}, [2]float64{28, 26.2}, [2]float64{5, 50}, [2]float64{200,
			15}),
			0},
		{"0.64 s at 28 % after it", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{26, 24.8},
			[2]float64{200, 15}), 24},
		{"0.64 s at 32 % after it", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{28, 26.2},
			[2]float64{200, 15}), 0},
		{"from the first row", held([2]float64{5, 50}, [2]float64{200, 15}), 4},
		{"1.52 s after it", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{76, 15}), 24},
		{"1.46 s after it", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{73, 15}), 0},
		{"nothing but a spike", held([2]float64{20, 15}, [2]float64{5, 50}), 0},
		{"a push of 1 s", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{25, 15}), 0},
		{"what follows counts over half a second", held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{25, 15},
			[2]float64{12, 15}, [2]float64{15, 49}, [2]float64{150, 15}), 0},
		{"the first of four teeth 3.9 s later", toothed(199), 0}, {"4.1 s later", toothed(209), 24},
	} {
		v := verdict{}
		top := slices.Max(x.p.y[:min(75, len(x.p.y))])
		if got := x.p.contact(&th, &v); got != x.want || (v.spike > 0) != (x.want > 0) ||
			x.want > 0 && v.spike != top {
			t.Errorf("%s: falls from row %d, a spike of %g N; want %d", x.what, got, v.spike, x.want)
		}
	}
}

// A first row of its own, 2 s before the next, is no spike.
func TestSlowRowsHaveNoContact(t *testing.T) {
	th := DefaultThresholds()
	p := &push{fs: 0.5, hf: 0.01, y: append([]float64{50}, levels(9, 15)...)}
	for i := range p.y {
		p.t = append(p.t, 2*float64(i))
	}
	var v verdict
	if from := p.contact(&th, &v); from != 0 || v.spike != 0 {
		t.Errorf("falls from row %d, a spike of %g N", from, v.spike)
	}
}

// toothed is a spike and, so many rows after its top, the top of the first of four teeth a second apart.
func toothed(after int) *push {
	p := held([2]float64{20, 15}, [2]float64{5, 50}, [2]float64{float64(after) - 5, 15})
	for range 4 {
		for _, s := range [][2]float64{{1, 60}, {1, 30}} {
			for range int(s[0]) {
				p.t, p.y = append(p.t, float64(len(p.t))/50), append(p.y, s[1])
			}
		}
		for i := range 48 {
			p.t, p.y = append(p.t, float64(len(p.t))/50), append(p.y, 30+0.6*float64(i))
		}
	}
	return p
}

// A tooth takes half a second at most, unless it is but three rows; its top reaches three quarters of the first, and
// the force comes up to that again after it.
func TestTeethByTheirLimits(t *testing.T) {
	th := DefaultThresholds()
	ramps := func(fall float64) *push { return teeth(4, 0.3, fall, 1.6) } // four fifths of a fall are steep
	for fall, n := range map[float64]int{0.6: 4, 0.66: 0} {
		p := ramps(fall)
		if _, got := p.sawTooth(p.falls(&th), &th); got != n {
			t.Errorf("falls within %g s: %d teeth, want %d", fall, got, n)
		}
	}
	for again, want := range map[float64][2]int{45.2: {0, 4}, 44.8: {1, 3}} { // N, after a top of 60 N
		p := held([2]float64{100, 60}, [2]float64{50, 30}, [2]float64{50, again}, [2]float64{50, 30},
			[2]float64{50, again}, [2]float64{50, 30}, [2]float64{50, again}, [2]float64{50, 30})
		if first, n := p.sawTooth(p.falls(&th), &th); first != want[0] || n != want[1] {
			t.Errorf("up to %g N: %d teeth from fall %d, want %v", again, n, first, want)
		}
	}
	// A row of its own may be as slow as it likes: a row a second, in which each fall takes one.
	p := &push{fs: 1, hf: 0.01, noise: 0.01}
	for i := range 24 {
		p.t, p.y = append(p.t, float64(i)), append(p.y, []float64{60, 30, 50}[i%3])
	}
	if _, n := p.sawTooth(p.falls(&th), &th); n < 3 {
		t.Errorf("%d teeth of single rows", n)
	}
	// What its depth and its words are, and the force of a log that starts within it.
	fs := []fall{{top: 9, high: 80, low: 40, steep: 10}, {top: 20, high: 60, low: 20, steep: 21},
		{top: 30, high: 50, low: 40, steep: 31}, {top: 40, high: 99, low: 1, steep: 45}}
	for _, x := range []struct {
		headless bool
		top, low int
		force    float64
		note     string
	}{{false, 9, -1, 0, ""}, {true, 9, -1, 60, "starts while it skips"}, {true, 47, -1, 60, "starts while it skips"},
		{true, 48, -1, 0, ""}, {false, 9, 3, 0, "turns to grinding 0.7 s after"}, {false, 9, 0, 0, ""}} {
		p := held([2]float64{100, 50})
		p.headless = x.headless
		fs[0].top = x.top
		var v verdict
		v.skip(p, fs, 0, 3, x.low)
		if v.outcome != Failed || v.cause != feeder.Skip || v.at != 10 || v.force != x.force ||
			!strings.HasPrefix(v.why, "saw-tooth of 3 teeth of 46 %") ||
			strings.Contains(v.why, "collapses") != (x.low > 0) ||
			!strings.Contains(strings.Join(v.notes, ""), x.note) || (len(v.notes) > 0) != (x.note != "") {
			t.Errorf("%+v: %+v", x, v)
		}
	}
}

// A wave is a ripple of the gear if it falls for more than three fifths of the time that it rises, from the start of
// the load and by less than 26 % of the force, or for more than three quarters and by less than 13 %. Of fewer than six
// rows it must be small and there from the start.
func TestRippleOfTheGearByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		start, period, down int // rows
		size                float64
		ripple              bool
	}{
		{100, 50, 20, 0.25, true}, {100, 50, 18, 0.25, false}, {100, 50, 20, 0.265, false},
		{100, 50, 22, 0.265, false}, {740, 50, 20, 0.25, true}, {760, 50, 20, 0.25, false},
		{760, 50, 22, 0.125, true},
		{760, 50, 21, 0.125, false}, {760, 50, 22, 0.135, false}, {890, 300, 120, 0.25, true},
		{910, 300, 120, 0.25, false}, {100, 5, 1, 0.084, true}, {100, 5, 1, 0.085, false}, {760, 5, 1, 0.084, false},
		{100, 6, 2, 0.084, false}, {100, 6, 3, 0.25, true}, {100, 50, 60, 0.25, true}, {100, 50, 60, 0.27, false},
	} {
		p := &push{fs: 50}
		for i := range 5001 {
			p.t = append(p.t, 7+float64(i)/50)
		}
		// A fall before and one after it that are no part of it.
		fs := []fall{{steep: 0, bottom: 90, high: 10, low: 1}}
		for k := range 5 {
			at := x.start + k*x.period
			fs = append(fs, fall{steep: at, bottom: at + x.down, high: 40, low: 40 * (1 - x.size)})
		}
		fs = append(fs, fall{steep: 4000, bottom: 4900, high: 10, low: 1}, fall{steep: 4950, bottom: 5000, high: 10,
			low: 1})
		if got := p.wave(fs, 1, 5, &th); got != x.ripple {
			t.Errorf("%+v: ripple %t", x, got)
		}
	}
}

// A collapse goes to 80 % of the force or less, within 12 s, and stays there for 0.6 s and more: it comes up to 85 %
// again in no stretch of 0.15 s.
func TestCollapseByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	slow := func(seconds float64) *push { // four fifths of it are its steep part
		return drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10 + seconds, 20}, [2]float64{60, 20})
	}
	for _, x := range []struct {
		what string
		p    *push
		want int
	}{
		{"to 79.8 %", held([2]float64{100, 60}, [2]float64{200, 47.9}), 0},
		{"to 80.2 %", held([2]float64{100, 60}, [2]float64{200, 48.1}), -1},
		{"for 0.62 s", held([2]float64{100, 60}, [2]float64{32, 20}), 0},
		{"for 0.58 s", held([2]float64{100, 60}, [2]float64{30, 20}), -1},
		{"up to 84.5 %", held([2]float64{100, 60}, [2]float64{200, 20}, [2]float64{50, 50.7}, [2]float64{25, 20}), 0},
		{"up to 85.5 %", held([2]float64{100, 60}, [2]float64{200, 20}, [2]float64{50, 51.3}, [2]float64{25, 20}),
			-1},
		{"up for three rows", held([2]float64{100, 60}, [2]float64{203, 20}, [2]float64{3, 55}, [2]float64{25, 20}),
			0},
		{"up for ten rows", held([2]float64{100, 60}, [2]float64{201, 20}, [2]float64{10, 55}, [2]float64{25, 20}),
			-1},
		{"within 11.9 s", slow(14.8), 0}, {"within 12.1 s", slow(15.2), -1},
		{"the second of two", held([2]float64{100, 60}, [2]float64{50, 20}, [2]float64{100, 60}, [2]float64{100,
			20}), 1},
		{"a rise alone", held([2]float64{100, 20}, [2]float64{100, 60}), -1},
	} {
		if got := x.p.collapse(x.p.falls(&th), &th); got != x.want {
			t.Errorf("%s: fall %d, want %d", x.what, got, x.want)
		}
	}
	few := &push{fs: 1, hf: 0.01, y: []float64{60, 60, 60, 20, 20}, t: []float64{0, 1, 2, 3, 4}}
	if got := few.collapse(few.falls(&th), &th); got != -1 {
		t.Error("two rows are a collapse")
	}
	few.y, few.t = append(few.y, 20), append(few.t, 5)
	if got := few.collapse(few.falls(&th), &th); got != 0 {
		t.Error("three rows are none")
	}
}

// A force that stays below three tenths, scatters little, and sinks to less than 70 % from the first third of what
// stays to the last is a feed that stopped, if the fall took 0.08 s. Of a fall that takes more than a second the
// cause is not told.
func TestDecayByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	shape := func(from, to, scatter float64) *push {
		p := held([2]float64{100, 60}, [2]float64{10, 50})
		for i := range 301 {
			f := from + (to-from)*float64(i)/300 + scatter*float64(1-2*(i%2))
			p.t, p.y = append(p.t, float64(len(p.t))/50), append(p.y, f)
		}
		return p
	}
	for _, x := range []struct {
		what     string
		p        *push
		fallRows int
		outcome  Outcome
	}{
		{"to 69 % of it", shape(15, 8.5, 0), 10, Stopped}, {"to 71 %", shape(15, 8.9, 0), 10, Failed},
		{"17.8 N", shape(23, 12.6, 0), 10, Stopped}, {"18.2 N", shape(23.5, 12.9, 0), 10, Failed},
		{"scatter of 1.1 N", shape(15, 3, 1.1), 10, Stopped}, {"of 1.3 N", shape(15, 3, 1.3), 10, Failed},
		{"within 0.08 s", shape(15, 3, 0), 5, Stopped}, {"within 0.06 s", shape(15, 3, 0), 3, Failed},
		{"within 0.98 s", shape(15, 15, 0), 49, Failed}, {"within 1.02 s", shape(15, 15, 0), 51, Unclear},
	} {
		var v verdict
		v.low(x.p, []fall{{}, {steep: 110 - x.fallRows, flat: 110, high: 60}}, 1, &th)
		if v.outcome != x.outcome || v.at != 110-x.fallRows || (v.cause == "") != (x.outcome == Stopped) {
			t.Errorf("%s: %+v, want %s", x.what, v, x.outcome)
		}
	}
	p := shape(15, 3, 2.4)
	if p.hf = 1; true { // 2.5 noises
		var v verdict
		if v.low(p, []fall{{steep: 100, flat: 110, high: 60}}, 0, &th); v.outcome != Stopped ||
			!strings.Contains(v.why, "to 8 %") {
			t.Errorf("%+v", v)
		}
	}
}

// The flow column tells a stop below a twentieth of the flow before, a slower feed below nine tenths where the force
// falls and below half where it falls to nothing; without a start that tells its lag, a flow that ends later makes the
// push unclear.
func TestFlowThatFallsWithTheForce(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		before, after, end float32 // flow until the fall, after it, and at the end of the push
		known              bool
		fall, ending       Outcome
	}{
		{8, 0.39, 0.39, true, Stopped, Stopped}, {8, 0.41, 0.41, true, Unclear, Unclear},
		{8, 3.9, 3.9, true, Unclear, Unclear},
		{8, 4.1, 4.1, true, Unclear, Failed}, {8, 7.1, 7.1, true, Unclear, Failed},
		{8, 7.3, 7.3, true, Failed, Failed},
		{8, 8, 0.39, true, Failed, Failed}, {8, 8, 0.39, false, Unclear, Unclear},
		{8, 8, 0.41, false, Failed, Failed},
		{0, 0, 0, true, Failed, Unclear}, {0, 8, 8, true, Failed, Unclear},
	} {
		p := held([2]float64{500, 40}, [2]float64{200, 0})
		p.lagKnown = x.known
		p.q = append(append(slices.Repeat([]float32{x.before}, 500), slices.Repeat([]float32{x.after}, 100)...),
			slices.Repeat([]float32{x.end}, 100)...)
		v := verdict{outcome: Failed, cause: feeder.Grind}
		if p.flowAtFall(&v, fall{steep: 499, flat: 505}, &th); v.outcome != x.fall ||
			(v.cause == "") != (x.fall == Stopped) {
			t.Errorf("%+v: a fall is %s", x, v.outcome)
		}
		v = verdict{}
		if p.ending(&v, 500, &th); v.outcome != x.ending || v.at != 499 ||
			(v.cause == feeder.Mixed) != (x.ending == Unclear) || strings.Contains(v.why, "no start") != (!x.known &&
			x.ending == Unclear) {
			t.Errorf("%+v: an ending is %+v", x, v)
		}
		p.flowStays = true
		v = verdict{}
		if p.ending(&v, 500, &th); v.outcome != Stopped || len(v.notes) != 1 {
			t.Errorf("%+v: with a flow that stays %+v", x, v)
		}
	}
	// The flow before is the middle of 1.5 s that end 1.5 s before the fall.
	p := held([2]float64{700, 40})
	for i := range 700 {
		p.q = append(p.q, float32(min(i, 425)))
	}
	if before, least := p.flowAround(500, &th); before != 387.5 && before != 388 || least != before {
		t.Errorf("%g before, %g least", before, least)
	}
	for at, want := range map[int]float64{424: 387, 425: 1, 521: 1, 522: 387} { // one low row
		p.q[at] = 1
		if _, least := p.flowAround(500, &th); (least == 1) != (want == 1) {
			t.Errorf("a low row %d: %g", at, least)
		}
		p.q[at] = 425
	}
	for i := range p.q {
		p.q[i] = 5
	}
	p.q[10] = 0
	if before, least := p.flowAround(20, &th); before != 5 && before != 2.5 || least != 0 {
		t.Errorf("near the start: %g, %g", before, least)
	}
	if p.stopsSoon(11, 5) || !p.stopsSoon(10, 5) || p.stopsSoon(9999, 5) {
		t.Error("a flow that ends is looked for from the fall on")
	}
}

// A force that falls to nothing: within 12 s it was held; within 0.08 s and more it decayed; at once it was let go if
// it was steady. A fifth of the force is nothing, five sixths are the force still.
func TestFallToNothingByItsLimits(t *testing.T) {
	th := DefaultThresholds()
	const steady, rise = 0.0, 10.0 // N over 10 s
	for _, x := range []struct {
		what  string
		fs    float64
		rise  float64
		after []float64 // force over that before the fall, row by row, then nothing
		want  Outcome
		why   string
		back  int // rows by which it begins later
	}{
		{"at once", 50, steady, nil, Stopped, "let go at once", 0},
		{"at once, rising", 50, rise, nil, Unclear, "look alike", 0},
		{"over 0.06 s", 50, steady, []float64{0.6, 0.4}, Stopped, "let go at once", 0},
		{"over 0.06 s, rising", 50, rise, []float64{0.6, 0.4}, Unclear, "look alike", 0},
		{"over 0.08 s, rising", 50, rise, []float64{0.8, 0.6, 0.4}, Stopped, "decays to nothing within 0.08 s", 0},
		{"with a row near the force", 50, rise, []float64{0.84, 0.6, 0.4, 0.3}, Stopped, "within 0.08 s", 1},
		{"with a row not so near", 50, rise, []float64{0.82, 0.6, 0.4, 0.3}, Stopped, "within 0.1 s", 0},
		{"to 21 % and on", 50, rise, []float64{0.5, 0.21, 0.21, 0.21}, Stopped, "within 0.1 s", 0},
		{"to 19 % and on", 50, rise, []float64{0.5, 0.19, 0.19, 0.19}, Unclear, "look alike", 0},
		{"over 11.9 s", 50, rise, levels(594, 0.5), Stopped, "decays", 0},
		{"over 12.1 s", 50, rise, levels(604, 0.5), Held, "sinks to nothing over 12 s", 0},
		{"of few rows a second", 10, steady, nil, Stopped, "within a row", 0},
		{"of few rows, rising", 10, rise, nil, Unclear, "look alike", 0},
		{"of thirteen rows a second", 13, steady, nil, Stopped, "at once", 0},
		{"of twelve", 12, steady, nil, Stopped, "within a row", 0},
	} {
		p := &push{fs: x.fs, hf: 0.01, noise: 0.01}
		n := int(10 * x.fs)
		add := func(f float64) { p.t, p.y = append(p.t, float64(len(p.t))/x.fs), append(p.y, f) }
		for i := range n {
			add(40 + x.rise*float64(i)/float64(n))
		}
		for _, share := range x.after {
			add(share * p.level(n-int(x.fs/2), n))
		}
		for range 30 {
			add(0)
		}
		var v verdict
		p.ending(&v, n, &th)
		if v.outcome != x.want || !strings.Contains(v.why, x.why) || v.at != n-1+x.back ||
			(v.cause == feeder.Mixed) != (x.want == Unclear) {
			t.Errorf("%s: %+v, want %s at row %d", x.what, v, x.want, n-1+x.back)
		}
		p.open = true
		v = verdict{}
		if p.ending(&v, len(p.y), &th); v.outcome != Held || v.at != len(p.y)-1 {
			t.Errorf("%s, where the log ends: %+v", x.what, v)
		}
	}
	// It rises by more than 3 % over the last 2 s or eighth, or than four times the error of noise. Scatter of
	// 6 N in turns tilts the line by 0.36 N.
	line := func(n int, rise, scatter float64) *push {
		p := &push{fs: 50}
		for i := range n {
			f := 40 + rise*float64(i)/100 + scatter*float64(1-2*(i%2))
			p.t, p.y = append(p.t, float64(i)/50), append(p.y, f)
		}
		return p
	}
	for _, x := range []struct {
		n             int
		rise, scatter float64 // N in 100 rows, N
		want          bool
	}{{101, 1.26, 0, true}, {101, 1.18, 0, false}, {3, 0, 0, true}, {4, 0, 0, false},
		{101, 2.3, 6, true}, {101, 1.9, 6, false},
		{2001, 0.66, 0, true}, {2001, 0.6, 0, false}} {
		if got := line(x.n, x.rise, x.scatter).rising(x.n - 1); got != x.want {
			t.Errorf("%+v: rising %t", x, got)
		}
	}
}

// A verdict on averaged rows is one on the row in their middle. Noise whose range hides teeth is told, and rows that
// may be teeth make a push unclear from the row before the first of them.
func TestVerdictOnTheRowsOfTheLog(t *testing.T) {
	th := DefaultThresholds()
	p := &push{fs: 1000, hf: 0.001, noise: 0.001, windowRows: 400}
	for i := range 8000 {
		f := 60.0
		if i >= 4203 {
			f = 20
		}
		p.t, p.y = append(p.t, float64(i)/1000), append(p.y, f)
	}
	if v := p.judge(&th); v.outcome != Failed || v.at != 4195 { // of the rows 4190 to 4199
		t.Errorf("%+v", v)
	}
	p.open, p.y = true, levels(8000, 60)
	if v := p.judge(&th); v.outcome != Held || v.at != 7995 {
		t.Errorf("%+v", v)
	}
	for hf, notes := range map[float64]int{0.76: 0, 0.78: 1} { // 2 sqrt(2 ln 301) hf is 5.2 N at 0.77 N
		p := &push{fs: 30, hf: hf, noise: 0.01, open: true}
		for i := range 300 {
			p.t, p.y = append(p.t, float64(i)/30), append(p.y, 40)
		}
		if v := p.judge(&th); len(v.notes) != notes || v.outcome != Held {
			t.Errorf("noise %g: %+v", hf, v)
		}
	}
	p = &push{fs: 30, hf: 0.01, noise: 0.01, open: true, glitches: []int{40, 47, 55, 70, 81, 83, 90}, lows: 7}
	for i := range 300 {
		p.t, p.y = append(p.t, float64(i)/30), append(p.y, 40)
	}
	if v := p.judge(&th); v.outcome != Unclear || v.cause != feeder.Mixed || v.at != 39 || v.bare == nil ||
		v.bare.outcome != Held || v.bare.at != 299 || len(v.notes) != 1 {
		t.Errorf("%+v", v)
	}
	p.glitches[0] = 0
	if v := p.judge(&th); v.at != 0 {
		t.Errorf("%+v", v)
	}
}
