package loadcell

import (
	"math"
	"slices"
)

// push is a stretch of a log from rest to rest, with its zero taken off.
type push struct {
	first, last int // rows of the log
	t, y        []float64
	q           []float32 // flow, nil without a column; it reaches FlowLate into the rest after the push, or FlowLag
	lagKnown    bool      // the starts of the log tell by how much the flow column lags; q is earlier by that
	flowStays   bool      // the flow column never comes near 0 in the log, so it tells no stop
	fs          float64
	noise       float64 // N, of a row at rest
	hf          float64 // N, of a row under load, what is quicker than any tooth
	open        bool    // the log ends before the push does
	headless    bool    // the log starts within it
	gap         float64 // s, the longest stretch without rows
	windowRows  int
	glitches    []int // single rows that stood out and were replaced
	lows        int   // of them, those below their neighbours
}

// find cuts the log into pushes. Rows above the limit start one, a pause below it ends it; shorter ones are spikes.
func (v *view) find(b *baseline) (out []push, spikes int) {
	l, th := v.l, v.th
	on := math.Max(th.OnNoise*v.noise, th.OnSpan*v.span())
	off := th.OffShare * on
	b.next = 0
	start, quiet, above := -1, 0, 0
	ended := 0 // row after the push before: what is left of it belongs to none
	end := func(last int, open bool) {
		if start < 0 {
			return
		}
		if l.Time[last-1]-l.Time[start] < th.Shortest || last-start < 3 {
			spikes++
		} else {
			out = append(out, push{first: start, last: last, open: open, headless: start == 0})
		}
		start, quiet, ended = -1, 0, last
	}
	lastAbove := 0
	for i, f := range l.Force {
		z := f - b.at(l.Time[i])
		switch {
		case start < 0 && z > on:
			if above++; above >= 2 {
				start = i - 1
				for start > ended && i-start < 10*v.rows && l.Force[start-1]-v.levelNear(b) > off/2 {
					start--
				}
				lastAbove = i
			}
		case start < 0:
			above = 0
		case z > off:
			quiet, lastAbove = 0, i
		default:
			if quiet++; l.Time[i]-l.Time[lastAbove] > th.Pause && quiet > 1 {
				end(lastAbove+1, false)
				above = 0
			}
		}
	}
	n := len(l.Force)
	end(min(n, lastAbove+1), n-lastAbove <= 2)
	return out, spikes
}

// wanders tells whether the force, with what is before and after, never changes as quickly as a feed that starts or a
// force that is let go.
func (v *view) wanders(p *push) bool {
	w := max(1, v.rows)
	apart := max(1, int(v.th.WanderTime*v.fs)/w)
	from, to := max(0, p.first-apart*w), min(len(v.l.Force), p.last+apart*w)
	var level []float64
	for i := from; i+w <= to; i += w {
		mean, _, _ := lineOf(v.l.Force[i : i+w])
		level = append(level, mean)
	}
	if len(level) < 4 {
		return false
	}
	least := math.Max(v.th.WanderShare*slices.Max(p.y), 15*p.noise/math.Sqrt(float64(w)))
	for i := range level {
		if math.Abs(level[i]-level[max(0, i-apart)]) > least {
			return false
		}
	}
	return true
}

// levelNear is the zero where the baseline stands now.
func (v *view) levelNear(b *baseline) float64 { return b.rests[min(b.next, len(b.rests)-1)].level }

// cut fills a push from the log and takes out single rows that stand out. Its rows are good until the next is cut.
func (v *view) cut(b *baseline, p *push) {
	l := v.l
	n := p.last - p.first
	p.fs, p.noise = v.fs, v.noise
	p.t = l.Time[p.first:p.last]
	if cap(v.buf) < n {
		v.buf = make([]float64, n)
	}
	p.y = v.buf[:n]
	b.rewind(p.t[0])
	for i := range n {
		p.y[i] = l.Force[p.first+i] - b.at(p.t[i])
		if i > 0 {
			p.gap = math.Max(p.gap, p.t[i]-p.t[i-1])
		}
	}
	if l.Flow != nil {
		p.flowStays, p.lagKnown = v.flowStays, v.lagKnown
		p.q = v.flowOf(p)
	}
	p.deglitch()
	p.loadNoise(v.rows)
	p.windowRows = v.rows
}

// deglitch replaces single rows that stand far from neighbours which agree: by three times the way between those.
func (p *push) deglitch() {
	y := p.y
	for i := 2; i+2 < len(y); i++ {
		a, b, c, d := y[i-2], y[i-1], y[i+1], y[i+2]
		off := math.Abs(y[i] - (b+c)/2)
		if off > 8*p.noise && off > 0.05*math.Abs(b+c)/2 && off > 3*(max(a, b, c, d)-min(a, b, c, d)) {
			if y[i] < (b+c)/2 {
				p.lows++
			}
			y[i] = (b + c) / 2
			p.glitches = append(p.glitches, i)
		}
	}
}

// hides tells whether the single rows that were passed over may be teeth of skipping that last less than a row: they
// are many, and come evenly or lie below their neighbours. Stray readings come at any time and lie on either side.
func (p *push) hides(th *Thresholds) bool {
	n := len(p.glitches)
	if n < th.HiddenRows || float64(n) < th.HiddenShare*float64(len(p.y)) {
		return false
	}
	if float64(p.lows) >= th.HiddenLow*float64(n) {
		return true
	}
	apart := make([]float64, n-1)
	for i := range apart {
		apart[i] = float64(p.glitches[i+1] - p.glitches[i])
	}
	mid, even := Median(apart), 0
	for _, a := range apart {
		if math.Abs(a-mid) <= math.Max(1, 0.1*mid) {
			even++
		}
	}
	return float64(even) >= th.HiddenEven*float64(len(apart))
}

// loadNoise finds what scatters from row to row under load: the lesser of the quiet windows and of the second
// differences, which a saw-tooth with rows enough leaves small.
func (p *push) loadNoise(rows int) {
	var dev []float64
	for i := 0; i+rows <= len(p.y); i += rows {
		_, _, d := lineOf(p.y[i : i+rows])
		dev = append(dev, d)
	}
	byWindow := quartileNoise(dev, rows)
	var d2 []float64
	step := max(1, len(p.y)/20000)
	for i := 1; i+1 < len(p.y); i += step {
		d2 = append(d2, math.Abs(p.y[i-1]-2*p.y[i]+p.y[i+1]))
	}
	byRow := byWindow
	if len(d2) > 4 {
		byRow = rowNoise(d2)
	}
	p.hf = math.Max(p.noise, math.Min(byWindow, byRow))
}

// rowNoise turns the sizes of second differences into the standard deviation of a row: their variance is six times its.
func rowNoise(d2 []float64) float64 {
	slices.Sort(d2)
	return madFactor * d2[len(d2)/2] / math.Sqrt(6)
}

// coarseLeast is how many rows a push keeps when its rows are averaged (assumed): fewer show no course of the force.
const coarseLeast = 8

// coarse averages rows so that a push has no more than CoarseRate rows a second, and, where noise would hide a tooth,
// fewer: the rows of what is returned are means of k rows, and there are at least coarseLeast of them if p has as many.
func (p *push) coarse(rows int, th *Thresholds) (*push, int) {
	top := slices.Max(p.y)
	k := max(1, int(p.fs/th.CoarseRate))
	for k < 64 && p.hf/math.Sqrt(float64(k)) > th.CoarseNoise*top && float64(k+1)/p.fs <= th.CoarseTime {
		k++
	}
	k = min(k, max(1, len(p.y)/coarseLeast))
	if k == 1 {
		return p, 1
	}
	n := len(p.y) / k
	c := *p
	c.fs, c.noise = p.fs/float64(k), p.noise/math.Sqrt(float64(k))
	c.y, c.t = make([]float64, n), make([]float64, n)
	if p.q != nil {
		c.q = make([]float32, len(p.q)/k)
		for i := range c.q {
			c.q[i] = p.q[i*k+k/2]
		}
	}
	for i := range n {
		for j := i * k; j < (i+1)*k; j++ {
			c.y[i] += p.y[j] / float64(k)
		}
		c.t[i] = p.t[i*k+k/2]
	}
	c.loadNoise(max(th.WindowRows, rows/k))
	return &c, k
}

// span of rows in s, whole rows, at least one.
func (p *push) rowsOf(seconds float64) int { return max(1, int(math.Round(seconds*p.fs))) }

// level is the median of a stretch, cut to the push.
func (p *push) level(from, to int) float64 {
	from, to = max(0, from), min(len(p.y), to)
	if from >= to {
		return math.NaN()
	}
	const most = 20000 // rows of a longer stretch are taken from all over it
	if step := (to-from)/most + 1; step > 1 {
		var x []float64
		for i := from; i < to; i += step {
			x = append(x, p.y[i])
		}
		return Median(x)
	}
	return Median(p.y[from:to])
}

// fall is a fall of the force from a top to a bottom.
type fall struct {
	top, bottom int     // rows in the push
	high, low   float64 // N
	steep, flat int     // where the steep part starts and ends
}

// time is how long the steep part lasts.
func (f fall) time(p *push) float64 { return p.t[f.flat] - p.t[f.steep] }

// leastFall is the smallest fall that is not noise: the range of n values of noise is about 2 sqrt(2 ln n) of its
// standard deviation.
func (p *push) leastFall() float64 { return 2 * math.Sqrt(2*math.Log(float64(len(p.y))+1)) * p.hf }

// falls finds every fall beyond the noise: a zigzag whose turns need a way that is larger than noise and than a share
// of the force. One pass.
func (p *push) falls(th *Thresholds) []fall {
	var out []fall
	top, bottom := 0, 0
	down := false
	least := p.leastFall()
	for i, f := range p.y {
		way := math.Max(least, th.FallShare*math.Abs(p.y[top]))
		switch {
		case !down && f >= p.y[top]:
			top = i
		case !down && f < p.y[top]-way:
			down, bottom = true, i
		case down && f <= p.y[bottom]:
			bottom = i
		case down && f > p.y[bottom]+way:
			out = append(out, p.shape(top, bottom))
			down, top = false, i
		}
	}
	if down {
		out = append(out, p.shape(top, bottom))
	}
	return out
}

// shape finds the steep part of a fall: from the last row near the top (a twentieth of the fall, or the noise, below
// it) to the first in the lowest fifth. A noisy hold or a low that goes on is not part of it.
func (p *push) shape(top, bottom int) fall {
	f := fall{top: top, bottom: bottom, high: p.y[top], low: p.y[bottom]}
	d := f.high - f.low
	f.flat = bottom
	for i := top; i <= bottom; i++ {
		if p.y[i] <= f.low+0.2*d {
			f.flat = i
			break
		}
	}
	f.steep = top
	for i := f.flat; i >= top; i-- {
		if p.y[i] >= f.high-math.Max(d/20, 5*p.hf) {
			f.steep = i
			break
		}
	}
	for f.steep > top && p.y[f.steep] < p.y[f.steep-1]-3*p.hf { // a row within the fall
		f.steep--
	}
	return f
}
