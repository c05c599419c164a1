package loadcell

import (
	"cmp"
	"fmt"
	"math"

	"meltload/flow/feeder"
)

// Outcome is how a push ended.
type Outcome string

// The outcomes of a push.
const (
	Failed  Outcome = "failed"  // the feeder gave way
	Stopped Outcome = "stopped" // the feed was stopped: the feeder held
	Held    Outcome = "held"    // the log ends, or the push does, with the force still on
	Unclear Outcome = "unclear" // it cannot be told from the log
)

// verdict is what a push is read as.
type verdict struct {
	outcome Outcome
	cause   feeder.Cause
	why     string
	at      int     // row of the push where it gives way or ends
	force   float64 // N, if it is not to be read from the rows before at
	spike   float64 // N, contact spike that was passed over
	notes   []string
	bare    *verdict // without the rows that may be teeth, where they made it unclear
}

// judge reads how a push ended. The first that holds of: the force collapses and stays low (grinding), a saw-tooth that
// keeps pushing (skipping), the feed stopped, the push went on to its end; else it is unclear.
func (p *push) judge(th *Thresholds) verdict {
	c, k := p.coarse(p.windowRows, th)
	v := c.judgeCoarse(th)
	v.at = min(v.at*k+k/2, len(p.y)-1)
	if hidden := c.leastFall(); v.outcome != Failed && hidden > 2*th.Tooth*p.y[v.at] {
		v.notes = append(v.notes, fmt.Sprintf("the force scatters so that teeth below %.2g N cannot be seen", hidden))
	}
	if p.hides(th) && v.cause != feeder.Skip {
		v.hidden(p)
	}
	return v
}

// hidden makes a push unclear from the first of the single rows that may be teeth.
func (v *verdict) hidden(p *push) {
	bare := *v
	v.bare = &bare
	v.outcome, v.cause, v.at, v.force = Unclear, feeder.Mixed, max(0, p.glitches[0]-1), 0
	v.why = "perhaps skipping: too many single rows stand out, too much alike to be stray readings"
	v.notes = append(v.notes, fmt.Sprintf("perhaps skipping: %d single rows stand out from their neighbours, %d of "+
		"them low, too much alike to be stray readings; a tooth may last less than a row, so sample faster; without "+
		"these rows it reads as %s (%s)",
		len(p.glitches), p.lows, cmp.Or(string(bare.cause), string(bare.outcome)), bare.why))
}

func (p *push) judgeCoarse(th *Thresholds) verdict {
	rel := p.release(th)
	body := *p
	body.y, body.t = p.y[:rel], p.t[:rel]
	var v verdict
	from := body.contact(th, &v)
	falls := body.falls(th)
	kept := falls[:0]
	for _, f := range falls {
		if f.top >= from {
			kept = append(kept, f)
		}
	}
	first, teeth := body.sawTooth(kept, th)
	low := body.collapse(kept, th)
	switch {
	case first >= 0 && (low < 0 || kept[first].top <= kept[low].top):
		v.skip(&body, kept, first, teeth, low)
	case low >= 0:
		v.low(&body, kept, low, th)
		if v.outcome == Failed {
			p.flowAtFall(&v, kept[low], th)
		}
	default:
		p.ending(&v, rel, th)
	}
	return v
}

// release returns the row where the final fall to rest begins: backwards from the end, the force rises, and then no
// more.
func (p *push) release(th *Thresholds) int {
	n := len(p.y)
	if p.open {
		return n
	}
	w := max(3, p.rowsOf(0.3))
	for i := n; i-2*w >= 0; i -= max(1, w/3) {
		a, b := p.level(i-w, i), p.level(i-2*w, i-w)
		if b-a < 0.04*math.Abs(b)+2*p.hf/math.Sqrt(float64(w)) && a > 0 {
			// The window may reach a little into the fall: its last row at the level is the end of the body.
			for p.y[i-1] <= a-math.Max(0.08*a, 4*p.hf) { // half of its rows lie higher
				i--
			}
			return i
		}
	}
	return n
}

// contact passes over a spike as the filament meets the gear or the melt: high, narrow, at the very start, and followed
// by a push. It returns the row from which falls count.
func (p *push) contact(th *Thresholds, v *verdict) int {
	n := len(p.y)
	begin := 0
	for begin < n && p.t[begin]-p.t[0] < th.SpikeBegin {
		begin++
	}
	if begin < 2 || p.headless {
		return 0
	}
	top := 0
	for i := range begin {
		if p.y[i] > p.y[top] {
			top = i
		}
	}
	// What stays after it.
	after := top
	for after < n && p.t[after]-p.t[top] < th.SpikeWidth {
		after++
	}
	stay := p.level(after, after+p.rowsOf(0.5)+2)
	d := p.y[top] - stay
	if math.IsNaN(stay) || d < math.Max(th.Tooth*p.y[top], 6*p.hf) {
		return 0
	}
	left, right := top, top
	for left > 0 && p.y[left-1] > stay+0.3*d {
		left--
	}
	for right+1 < n && p.y[right+1] > stay+0.3*d {
		right++
	}
	long := p.t[n-1] - p.t[right]
	if p.t[right]-p.t[left] > th.SpikeWidth || long < th.SpikeAfter {
		return 0
	}
	// Teeth from the start are no contact: then what follows falls again and again.
	rest := *p
	rest.y, rest.t = p.y[right:], p.t[right:]
	if next := rest.falls(th); len(next) > 1 {
		if first, _ := rest.sawTooth(next, th); first == 0 && p.t[right+next[0].top]-p.t[top] < th.ToothApart/2 {
			return 0
		}
	}
	v.spike = p.y[top]
	return right
}

// sawTooth looks for teeth: quick falls of a share of the force, from tops near that of the first, again and again. It
// returns the index of the first fall of the saw-tooth, -1 without one, and the number of teeth.
func (p *push) sawTooth(falls []fall, th *Thresholds) (first, teeth int) {
	begin, n, last := -1, 0, 0
	best, most := -1, 0
	for i, f := range falls {
		if begin >= 0 &&
			(p.t[f.steep]-p.t[falls[last].steep] > th.ToothApart || f.high < th.ToothTop*falls[begin].high) {
			begin, n = -1, 0
		}
		if f.high-f.low < th.Tooth*f.high || f.time(p) > th.Fast/2 && f.flat-f.steep > 2 {
			continue
		}
		// A tooth comes up again; a collapse does not.
		next := p.after(f)
		if i+1 < len(falls) {
			next = falls[i+1].high
		}
		if begin < 0 && next < th.ToothTop*f.high {
			continue
		}
		if begin < 0 {
			begin = i
		}
		n, last = n+1, i
		if n > most {
			best, most = begin, n
		}
	}
	if most < th.Teeth || p.wave(falls, best, most, th) {
		return -1, 0
	}
	return best, most
}

// after is the highest force after a fall.
func (p *push) after(f fall) float64 {
	high := math.Inf(-1)
	for _, y := range p.y[f.bottom:] {
		high = math.Max(high, y)
	}
	return high
}

// wave tells a ripple of the gear from a saw-tooth: it rises as long as it falls, its waves are many, and it was there
// from the start of the load. With few rows a wave the shape cannot be seen; then only a small one from the start
// counts.
func (p *push) wave(falls []fall, first, n int, th *Thresholds) bool {
	var down, period, size []float64
	falls = falls[first : first+n]
	for i, f := range falls {
		down = append(down, p.t[f.bottom]-p.t[f.steep])
		size = append(size, (f.high-f.low)/f.high)
		if i+1 < n {
			period = append(period, p.t[falls[i+1].steep]-p.t[f.steep])
		}
	}
	whole := Median(period)
	fromStart := p.t[falls[0].steep]-p.t[0] < math.Max(3*whole, 0.15*(p.t[len(p.t)-1]-p.t[0]))
	if whole*p.fs < th.WaveRows {
		return fromStart && Median(size) < 1.3*th.Tooth
	}
	skew := Median(down) / math.Max(whole-Median(down), 1/p.fs)
	return skew > th.ToothSkew && (fromStart && Median(size) < 4*th.Tooth || Median(size) < 2*th.Tooth && skew > 0.75)
}

// collapse looks for a fall after which the force stays low to the end of the body: the index of the fall, -1 without
// one.
func (p *push) collapse(falls []fall, th *Thresholds) int {
	n := len(p.y)
	for i, f := range falls {
		stay := p.t[n-1] - p.t[f.flat]
		if stay < th.StayLow || n-f.flat < 3 {
			return -1
		}
		if p.level(f.flat, n) > th.Collapse*f.high || f.time(p) > th.StopSlowest {
			continue // hotter melt, or a slower feed: no failure is so slow
		}
		// The highest of what follows, single rows aside.
		w := max(1, p.rowsOf(0.15))
		high := 0.0
		for j := f.flat; j+w <= n; j += w {
			high = math.Max(high, p.level(j, j+w))
		}
		if high < th.Recovered*f.high {
			return i
		}
	}
	return -1
}

// skip writes a saw-tooth down.
func (v *verdict) skip(p *push, falls []fall, first, teeth, low int) {
	f := falls[first]
	v.outcome, v.cause, v.at = Failed, feeder.Skip, f.steep
	depth := 0.0
	for _, x := range falls[first : first+teeth] {
		depth += (x.high - x.low) / x.high / float64(teeth)
	}
	v.why = fmt.Sprintf("saw-tooth of %d teeth of %.0f %% that goes on pushing", teeth, 100*depth)
	if low > first {
		v.notes = append(v.notes, fmt.Sprintf("the skipping turns to grinding %.1f s after its first tooth",
			p.t[falls[low].steep]-p.t[f.steep]))
		v.why += ", then collapses"
	}
	if p.headless && f.top < 3*p.rowsOf(0.3)+3 {
		var tops []float64
		for _, x := range falls[first : first+teeth] {
			tops = append(tops, x.high)
		}
		v.force = Median(tops)
		v.notes = append(v.notes,
			"the log starts while it skips: the force is the median of the teeth, the first failure is not in it")
	}
}

// low writes a collapse down, or sees that it is a decay.
func (v *verdict) low(p *push, falls []fall, at int, th *Thresholds) {
	f := falls[at]
	n := len(p.y)
	v.at = f.steep
	third := max(1, (n-f.flat)/3)
	head, tail := p.level(f.flat, f.flat+third), p.level(n-third, n)
	level := p.level(f.flat, n)
	_, _, dev := lineOf(p.y[max(f.flat, n-2*third):n])
	quiet := dev < math.Max(2.5*p.hf, 0.02*f.high)
	switch {
	case level < 0.3*f.high && quiet && tail < th.StopFall*head && f.time(p) >= th.StopFastest:
		v.outcome = Stopped
		v.why = fmt.Sprintf("decays smoothly to %.0f %% of the force and on: the feed stopped", 100*tail/f.high)
	case f.time(p) > th.Fast:
		v.outcome, v.cause = Unclear, feeder.Mixed
		v.why = fmt.Sprintf("falls to %.0f %% of its force in %.1f s, too slowly for a cut filament: less feed, "+
			"more heat or slow grinding", 100*level/f.high, f.time(p))
	default:
		v.outcome, v.cause = Failed, feeder.Grind
		v.why = fmt.Sprintf("falls to %.0f %% of the force and stays low", 100*level/f.high)
	}
}

// flowAtFall corrects a collapse by the flow column: a feed that was stopped or slowed is no failure.
func (p *push) flowAtFall(v *verdict, f fall, th *Thresholds) {
	if p.q == nil {
		return
	}
	before, after := p.flowAround(f.steep, th)
	switch {
	case !(before > 0):
	case after < flowStopped*before:
		v.outcome, v.cause = Stopped, ""
		v.why = "the flow column goes to 0 where the force falls: the feed stopped"
	case p.stopsSoon(f.flat, before):
		v.outcome, v.cause, v.why = Unclear, feeder.Mixed, stopsSoonAfter
	case after < 0.9*before:
		v.outcome, v.cause = Unclear, feeder.Mixed
		v.why = "the flow column falls with the force: the feed was slowed"
	}
}

// flowStopped is the share of the flow before below which the flow column says that the feed stopped (assumed).
const flowStopped = 0.05

// flowSlowed is the share of the flow before below which a flow that does not stop goes down with the force (assumed).
const flowSlowed = 0.5

// stopsSoonAfter says why a push is unclear whose flow ends after the force (see stopsSoon).
const stopsSoonAfter = "the flow column goes to 0 shortly after the force falls, and no start in the log tells " +
	"whether the column lags: a stop told late, or a failure and then a stop"

// stopsSoon tells whether the flow ends after a fall, within the lag that a column may have, where the lag of this one
// is not known.
func (p *push) stopsSoon(fall int, before float64) bool {
	if p.lagKnown {
		return false
	}
	for _, q := range p.q[min(fall, len(p.q)):] {
		if float64(q) < flowStopped*before {
			return true
		}
	}
	return false
}

// flowAround is the flow before a fall, and the least from shortly before to shortly after it, in the rest too if the
// push ends there: a feed that draws back takes flow and force away in one row.
func (p *push) flowAround(steep int, th *Thresholds) (before, least float64) {
	early, late := max(1, p.rowsOf(th.FlowEarly)), p.lateRows(th)
	a := max(0, steep-early)
	var x []float64
	for i := max(0, a-early); i <= a; i++ {
		x = append(x, float64(p.q[i]))
	}
	before = Median(x)
	least = before
	for i := a; i < min(len(p.q), steep+late+1); i++ {
		least = math.Min(least, float64(p.q[i]))
	}
	return before, least
}

// lateRows is how many rows after the last one before a fall are looked at for a flow that stops: the fall begins
// somewhere on the way to the next row, so FlowLate counts from there.
func (p *push) lateRows(th *Thresholds) int { return int(math.Ceil(th.FlowLate*p.fs)) + 1 }

// ending reads a push without a failure in its body: stopped, held, or unclear.
func (p *push) ending(v *verdict, rel int, th *Thresholds) {
	n := len(p.y)
	v.at = rel - 1
	if p.open {
		v.outcome, v.why = Held, "the log ends with the force on"
		return
	}
	w := max(3, p.rowsOf(th.PeakTime))
	force := p.level(rel-w, rel)
	flat := n - 1
	for i := rel - 1; i < n; i++ {
		if p.y[i] < 0.2*force {
			flat = i
			break
		}
	}
	steep := rel - 1
	for i := flat; i > max(0, rel-w); i-- {
		if p.y[i] >= force*5/6 {
			steep = i
			break
		}
	}
	v.at = steep
	decay := p.t[flat] - p.t[steep]
	if p.flowStays {
		v.notes = append(v.notes, "the flow column never goes to 0 in this log, so it does not tell whether the feed "+
			"stopped")
	}
	if p.q != nil && !p.flowStays {
		before, least := p.flowAround(steep, th)
		switch {
		case before > 0 && least < flowStopped*before:
			v.outcome, v.why = Stopped, "the flow column goes to 0 where the force falls: the feed stopped"
		case p.stopsSoon(flat, before):
			v.outcome, v.cause, v.why = Unclear, feeder.Mixed, stopsSoonAfter
		case least < flowSlowed*before:
			v.outcome, v.cause = Unclear, feeder.Mixed
			v.why = "the flow column falls with the force: the feed was slowed, or the column follows slowly"
		case before > 0:
			v.outcome, v.cause = Failed, feeder.Grind
			v.why = "the force falls to nothing while the flow column goes on"
		default:
			v.outcome, v.cause, v.why = Unclear, feeder.Mixed,
				"the force falls to nothing with the flow column at 0 before"
		}
		return
	}
	rising := p.rising(steep)
	resolved := 1/p.fs < th.StopFastest
	switch {
	case decay > th.StopSlowest:
		v.outcome, v.why = Held, fmt.Sprintf("the force sinks to nothing over %.0f s without a failure", decay)
	case resolved && decay >= th.StopFastest:
		v.outcome, v.why = Stopped, fmt.Sprintf("decays to nothing within %.2g s: the feed stopped", decay)
	case !rising && !resolved:
		v.outcome, v.why = Stopped, "a steady force falls to nothing within a row: the feed stopped"
	case !rising && decay < th.StopFastest:
		v.outcome, v.why = Stopped, "a steady force is let go at once: the feed stopped or drew back"
	default:
		v.outcome, v.cause = Unclear, feeder.Mixed
		v.why = "a rising force falls to nothing at once: a stop and a filament that lets go look alike"
	}
}

// rising tells whether the force before a row goes up by more than its noise and a share of it explain.
func (p *push) rising(at int) bool {
	w := max(6, p.rowsOf(math.Max(2, (p.t[at]-p.t[0])/8)))
	from := max(0, at+1-w)
	y := p.y[from : at+1]
	if len(y) < 4 {
		return true
	}
	mean, slope, dev := lineOf(y)
	move := slope * float64(len(y)-1)
	return move > math.Max(0.03*mean, 4*dev/math.Sqrt(float64(len(y))))
}
