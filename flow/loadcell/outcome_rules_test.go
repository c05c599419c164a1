package loadcell

import (
	"math"
	"slices"
	"testing"

	"meltload/flow/feeder"
)

// drawn is a push without noise, at 50 Hz, through points of time (s) and force (N).
func drawn(points ...[2]float64) *push {
	p := &push{fs: 50, hf: 0.01, noise: 0.01, windowRows: 20}
	k := 0
	for i := 0; ; i++ {
		x := float64(i) / p.fs
		for k+1 < len(points) && x > points[k+1][0]+1e-9 {
			k++
		}
		if k+1 >= len(points) {
			break
		}
		a, b := points[k], points[k+1]
		p.t, p.y = append(p.t, x), append(p.y, a[1]+(b[1]-a[1])*(x-a[0])/(b[0]-a[0]))
	}
	p.last = len(p.y) - 1
	return p
}

// teeth rises to 60 N in 10 s and then falls n times by the depth within fall seconds, up again within the rest of
// every.
func teeth(n int, depth, fall, every float64) *push {
	at := 10.0
	points := [][2]float64{{0, 10}, {at, 60}}
	for range n {
		points = append(points, [2]float64{at + fall, 60 * (1 - depth)}, [2]float64{at + every, 60})
		at += every
	}
	return drawn(append(points, [2]float64{at + 3, 61})...)
}

// What makes a saw-tooth: three falls at least, each of 6.5 % of the force at least, quick, and no more than 4 s apart.
// Half of the depth asked for would take falls of 5.8 %, which a feeder that holds shows too.
func TestSawToothByItsThresholds(t *testing.T) {
	th := DefaultThresholds()
	half := th
	half.Tooth /= 2
	for _, x := range []struct {
		what  string
		p     *push
		teeth int
		th    *Thresholds
	}{
		{"teeth of 30 %", teeth(5, 0.3, 0.1, 1), 5, &th},
		{"teeth of 7 %", teeth(5, 0.07, 0.1, 1), 5, &th},
		{"falls of 5.8 %", teeth(5, 0.058, 0.1, 1), 0, &th},
		{"falls of 5.8 % with half of the threshold", teeth(5, 0.058, 0.1, 1), 5, &half},
		{"falls of 4.5 % are none, whatever is asked", teeth(5, 0.045, 0.1, 1), 0, &half},
		{"three", teeth(3, 0.3, 0.1, 1), 3, &th},
		{"two", teeth(2, 0.3, 0.1, 1), 0, &th},
		{"3.8 s apart", teeth(4, 0.3, 0.1, 3.8), 4, &th},
		{"4.2 s apart", teeth(4, 0.3, 0.1, 4.2), 0, &th},
		{"each slower than half a second", teeth(5, 0.3, 0.8, 1.8), 0, &th},
		{"tops that sink below three quarters", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.1, 30},
			[2]float64{11, 44}, [2]float64{11.1, 25}, [2]float64{12, 40}, [2]float64{12.1, 20}, [2]float64{15, 20}), 0,
			&th},
		{"tops that stay above", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.1, 30}, [2]float64{11, 47},
			[2]float64{11.1, 25}, [2]float64{12, 46}, [2]float64{12.1, 20}, [2]float64{13, 46}, [2]float64{15, 46}), 3,
			&th},
	} {
		first, n := x.p.sawTooth(x.p.falls(x.th), x.th)
		if n != x.teeth || (first >= 0) != (n > 0) {
			t.Errorf("%s: %d teeth from fall %d, want %d", x.what, n, first, x.teeth)
		}
	}
	// A gear's ripple: as long down as up, from the start of the load.
	var wave [][2]float64
	for i := range 30 {
		wave = append(wave, [2]float64{float64(i), 50 + 6*float64(1-2*(i%2))})
	}
	p := drawn(wave...)
	if first, n := p.sawTooth(p.falls(&th), &th); first >= 0 {
		t.Errorf("a ripple is %d teeth", n)
	}
}

// A fall by hand: from 60 to 40 N within 0.4 s, seen from its top to its lowest row.
func TestFallsByHand(t *testing.T) {
	th := DefaultThresholds()
	p := drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{10.4, 40}, [2]float64{14, 39}, [2]float64{15, 45})
	fs := p.falls(&th)
	if len(fs) != 1 {
		t.Fatalf("%+v", fs)
	}
	f := fs[0]
	if p.t[f.top] != 10 || p.t[f.bottom] != 14 || math.Abs(f.high-60) > 1e-9 || math.Abs(f.low-39) > 1e-9 {
		t.Errorf("%+v from %g to %g s", f, p.t[f.top], p.t[f.bottom])
	}
	if d := f.time(p); math.Abs(d-0.34) > 0.03 { // to the lowest fifth: 43.2 N
		t.Errorf("%g s", d)
	}
	for n, want := range map[int]float64{0: 0, 1000: 2 * math.Sqrt(2*math.Log(1001)) * 0.01} {
		if got := (&push{y: make([]float64, n), hf: 0.01}).leastFall(); math.Abs(got-want) > 1e-12 {
			t.Errorf("the least fall of %d rows is %g N, want %g", n, got, want)
		}
	}
}

// How a push ends, by its last fall and by what came before it.
func TestEndingsByHand(t *testing.T) {
	th := DefaultThresholds()
	for _, x := range []struct {
		what    string
		p       *push
		outcome Outcome
		cause   feeder.Cause
		open    bool
	}{
		{"decays within 0.5 s", drawn([2]float64{0, 10}, [2]float64{1, 40}, [2]float64{20, 40}, [2]float64{20.5, 0},
			[2]float64{22, 0}), Stopped, "", false},
		{"sinks over 20 s", drawn([2]float64{0, 10}, [2]float64{1, 40}, [2]float64{20, 40}, [2]float64{40, 0},
			[2]float64{42, 0}), Unclear, feeder.Mixed, false},
		{"let go at once, steady", drawn([2]float64{0, 10}, [2]float64{1, 40}, [2]float64{20, 40}, [2]float64{20.02, 0},
			[2]float64{22, 0}), Stopped, "", false},
		{"let go at once, rising", drawn([2]float64{0, 10}, [2]float64{20, 40}, [2]float64{20.02, 0},
			[2]float64{22, 0}), Unclear, feeder.Mixed, false},
		{"the log ends", drawn([2]float64{0, 10}, [2]float64{20, 40}), Held, "", true},
		{"cut, and stays low", drawn([2]float64{0, 10}, [2]float64{20, 60}, [2]float64{20.1, 20}, [2]float64{25, 20}),
			Failed, feeder.Grind, true},
		{"falls to 70 % in 3 s", drawn([2]float64{0, 10}, [2]float64{20, 60}, [2]float64{23, 40}, [2]float64{30, 40}),
			Unclear, feeder.Mixed, true},
		{"cut, and comes back", drawn([2]float64{0, 10}, [2]float64{20, 60}, [2]float64{20.1, 20}, [2]float64{25, 20},
			[2]float64{26, 55}, [2]float64{30, 55}), Held, "", true},
		{"a saw-tooth", teeth(5, 0.3, 0.1, 1), Failed, feeder.Skip, true},
	} {
		x.p.open = x.open
		v := x.p.judgeCoarse(&th)
		if v.outcome != x.outcome || v.cause != x.cause {
			t.Errorf("%s: %s %s, %s", x.what, v.outcome, v.cause, v.why)
		}
	}
}

// The row where the last fall to rest begins, and a spike of contact at the very start.
func TestReleaseAndContactByHand(t *testing.T) {
	th := DefaultThresholds()
	p := drawn([2]float64{0, 10}, [2]float64{1, 40}, [2]float64{20, 40}, [2]float64{20.5, 0}, [2]float64{23, 0})
	if at := p.release(&th); at < 1000 || at > 1005 {
		t.Errorf("released at row %d, want 1001", at)
	}
	if p.open = true; p.release(&th) != len(p.y) {
		t.Error("a log that ends before is released")
	}
	spike := func(top, wide, from float64, more ...[2]float64) *push {
		return drawn(append([][2]float64{{0, 0}, {from, 15}, {from + 0.04, top}, {from + 0.04 + wide, 15}}, more...)...)
	}
	for _, x := range []struct {
		what string
		p    *push
		want float64 // N, the spike passed over
	}{
		{"a spike", spike(50, 0.1, 0.2, [2]float64{20, 20}), 50},
		{"a spike after 2 s", spike(50, 0.1, 2, [2]float64{20, 20}), 0},
		{"a second wide", spike(50, 1.2, 0.2, [2]float64{20, 20}), 0},
		{"too low", spike(15.5, 0.1, 0.2, [2]float64{20, 20}), 0},
		{"nothing after it", spike(50, 0.1, 0.2, [2]float64{1.2, 15}), 0},
		{"teeth from the start", spike(50, 0.1, 0.2, [2]float64{1, 50}, [2]float64{1.1, 15}, [2]float64{2, 50},
			[2]float64{2.1, 15}, [2]float64{3, 50}, [2]float64{3.1, 15}, [2]float64{4, 50}, [2]float64{4.1, 15},
			[2]float64{6, 20}), 0},
		{"a spike, and teeth later", spike(50, 0.1, 0.2, [2]float64{9, 50}, [2]float64{9.1, 15}, [2]float64{10, 50},
			[2]float64{10.1, 15}, [2]float64{11, 50}, [2]float64{11.1, 15}, [2]float64{12, 50}, [2]float64{12.1, 15},
			[2]float64{14, 20}), 50},
	} {
		var v verdict
		from := x.p.contact(&th, &v)
		if math.Abs(v.spike-x.want) > 0.02*x.want || (from > 0) != (x.want > 0) {
			t.Errorf("%s: %g N passed over, falls from row %d", x.what, v.spike, from)
		}
		if x.p.headless = true; x.p.contact(&th, &v) != 0 {
			t.Errorf("%s: a push whose start is not in the log has a contact", x.what)
		}
	}
}

// The flow before a fall is the median of a second and a half, the least from then to 0.4 s and a row after it.
func TestFlowAroundAFall(t *testing.T) {
	th := DefaultThresholds()
	p := drawn([2]float64{0, 10}, [2]float64{20, 60}, [2]float64{20.1, 20}, [2]float64{25, 20})
	steep := 1000
	for _, x := range []struct {
		from    int // the row from which the flow is 1 instead of 8
		least   float64
		outcome Outcome
	}{{steep + 5, 1, Unclear}, {steep + 21, 1, Unclear}, {steep + 22, 8, Failed}, {steep - 60, 1, Unclear}} {
		p.q = slices.Repeat([]float32{8}, len(p.y))
		for i := x.from; i < len(p.q); i++ {
			p.q[i] = 1
		}
		before, least := p.flowAround(steep, &th)
		if before != 8 || least != x.least {
			t.Errorf("from row %d: %g before, %g least", x.from, before, least)
		}
		v := verdict{outcome: Failed, cause: feeder.Grind}
		p.flowAtFall(&v, fall{steep: steep, flat: steep + 5}, &th)
		if v.outcome != x.outcome {
			t.Errorf("from row %d: %s", x.from, v.outcome)
		}
	}
	for i := range p.q {
		p.q[i] = 8
		if i > steep {
			p.q[i] = 0.3
		}
	}
	v := verdict{outcome: Failed, cause: feeder.Grind}
	if p.flowAtFall(&v, fall{steep: steep, flat: steep + 5}, &th); v.outcome != Stopped {
		t.Errorf("no flow: %s", v.outcome)
	}
	if p.fs = 50; p.lateRows(&th) != 21 {
		t.Errorf("%d rows late, want 21", p.lateRows(&th))
	}
}

// A force rises if it goes up by more than 3 % of itself over the last eighth of the push, or 2 s.
func TestRisingByHand(t *testing.T) {
	for _, x := range []struct {
		to   float64 // N at 32 s, from 40 N at 28 s
		want bool
	}{{40, false}, {41, false}, {41.5, true}, {38, false}} {
		p := drawn([2]float64{0, 10}, [2]float64{1, 40}, [2]float64{28, 40}, [2]float64{32, x.to})
		if got := p.rising(len(p.y) - 1); got != x.want {
			t.Errorf("from 40 to %g N: rising is %v", x.to, got)
		}
	}
	short := drawn([2]float64{0, 40}, [2]float64{6, 40}, [2]float64{8, 44}) // 2 s, not the last second
	if !short.rising(len(short.y)-1) || short.rising(250) {
		t.Error("the last 2 s decide")
	}
}
