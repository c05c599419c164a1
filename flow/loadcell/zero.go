package loadcell

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// window is a short stretch of a log: its mean, how far a line through it moves, and the scatter about that line.
type window struct {
	from, to        int
	mean, rise, dev float64
}

// view is the work space of an analysis: the log and what is known of its windows.
type view struct {
	l       *Log
	th      Thresholds
	fs      float64
	rows    int // of a window
	windows []window
	noise   float64 // N, of a row
	lo, hi  float64 // N, the lowest and the highest level of a window
	flipped bool
	// The flow column never comes near 0: it names a flow, and does not tell when the feed runs.
	flowStays bool
	lag       int       // rows by which the flow column lags the force,
	lagKnown  bool      // if the starts of the log tell it
	late      []float32 // flow of the push looked at, earlier by the lag
	buf       []float64 // rows of the push looked at
}

func (v *view) span() float64 { return v.hi - v.lo }

// newView cuts a log into half-overlapping windows. Linear in the rows.
func newView(l *Log, th Thresholds) *view {
	v := &view{l: l, th: th, fs: 1 / l.Step}
	n := len(l.Force)
	v.rows = min(max(th.WindowRows, int(th.WindowTime*v.fs)), n)
	stride := max(1, v.rows/2)
	v.windows = make([]window, 0, n/stride+1)
	for i := 0; i+v.rows <= n; i += stride {
		v.windows = append(v.windows, v.look(i, i+v.rows))
	}
	v.scale()
	v.flowStays = l.Flow != nil && float64(slices.Min(l.Flow)) > flowStopped*medianFlow(l.Flow)
	return v
}

// look measures a stretch.
func (v *view) look(from, to int) window {
	mean, slope, dev := lineOf(v.l.Force[from:to])
	return window{from, to, mean, slope * float64(to-from-1), dev}
}

// lineOf fits a line through evenly spaced values: mean, slope a value, and standard deviation about the line.
func lineOf(y []float64) (mean, slope, dev float64) {
	n := float64(len(y))
	for _, f := range y {
		mean += f
	}
	mean /= n
	if len(y) < 3 {
		return mean, 0, 0
	}
	var xy, yy float64
	for i, f := range y {
		x := float64(i) - (n-1)/2
		xy += x * (f - mean)
		yy += (f - mean) * (f - mean)
	}
	xx := n * (n*n - 1) / 12
	slope = xy / xx
	return mean, slope, math.Sqrt(math.Max(0, yy-slope*xy) / (n - 2))
}

// scale finds noise and span. The noise is the lower quartile of the windows, set right for their few rows
// (chi-squared), but not less than the steps of the converter allow.
func (v *view) scale() {
	var dev []float64
	v.lo, v.hi = math.Inf(1), math.Inf(-1)
	keep := max(1, len(v.windows)/100000)
	for i, w := range v.windows {
		if i%keep == 0 {
			dev = append(dev, w.dev)
		}
		v.lo, v.hi = math.Min(v.lo, w.mean), math.Max(v.hi, w.mean)
	}
	byWindow := quartileNoise(dev, v.rows)
	// A log that is one saw-tooth has no quiet window, but its second differences are mostly noise.
	y := v.l.Force
	var d2 []float64
	step := max(1, len(y)/100000)
	for i := 1; i+1 < len(y); i += step {
		d2 = append(d2, math.Abs(y[i-1]-2*y[i]+y[i+1]))
	}
	v.noise = math.Max(math.Min(byWindow, 2*rowNoise(d2)), quantum(y)/math.Sqrt(12))
	v.noise = math.Max(v.noise, 1e-6*(v.hi-v.lo))
}

// quartileNoise turns the lower quartile of standard deviations about lines through n values into that of a value.
func quartileNoise(dev []float64, n int) float64 {
	if len(dev) == 0 || n < 3 {
		return 0
	}
	slices.Sort(dev)
	dof := float64(n - 2)
	return dev[len(dev)/4] / math.Sqrt(distuv.ChiSquared{K: dof}.Quantile(0.25)/dof)
}

// quantum is the smallest step between readings.
func quantum(y []float64) float64 {
	q := math.Inf(1)
	for i := 1; i < min(len(y), 20000); i++ {
		if d := math.Abs(y[i] - y[i-1]); d > 1e-12 && d < q {
			q = d
		}
	}
	if math.IsInf(q, 1) {
		return 0
	}
	return q
}

// steady tells whether a window neither moves nor scatters much.
func (v *view) steady(w window) bool {
	free := 2 * v.noise * math.Sqrt(12/float64(v.rows)) // a line through noise alone moves by this, 95 % of the time
	return math.Abs(w.rise) <= math.Max(v.th.SteadyRise*v.span(), 1.5*free) &&
		w.dev <= math.Max(v.th.SteadyNoise*v.noise, v.th.SteadyRise*v.span()/2)
}

// atRest tells whether a window moves no more than a wandering zero does: what is left of a push sinks faster.
func (v *view) atRest(w window) bool {
	free := 2 * v.noise * math.Sqrt(12/float64(v.rows))
	return v.steady(w) && math.Abs(w.rise) <= 1.5*free+2*v.th.DriftRate*v.span()*float64(v.rows)/v.fs
}

// band is the distance within which a level is the zero.
func (v *view) band() float64 { return math.Max(v.th.RestNoise*v.noise, v.th.RestBand*v.span()) }

// ZeroError says that the zero of a log cannot be found out.
type ZeroError struct {
	Log, What string
}

func (e *ZeroError) Error() string {
	return fmt.Sprintf("%s: %s; give the reading at rest with --zero, a stretch at rest with --tare, or the file of "+
		"the cell with --cell",
		e.Log, e.What)
}

// rest is a stretch without load.
type rest struct {
	from, to float64 // s
	level    float64 // N
}

// baseline is the zero of a log in time: level between the rests, straight from one to the next.
type baseline struct {
	rests []rest
	next  int
}

// at returns the zero at a time; times are asked for in rising order.
func (b *baseline) at(t float64) float64 {
	r := b.rests
	for b.next < len(r) && r[b.next].to < t {
		b.next++
	}
	switch i := b.next; {
	case i == 0:
		return r[0].level
	case i == len(r):
		return r[i-1].level
	case t >= r[i].from:
		return r[i].level
	default:
		a, z := r[i-1], r[i]
		return a.level + (z.level-a.level)*(t-a.to)/(z.from-a.to)
	}
}

func (b *baseline) rewind(t float64) {
	b.next = sort.Search(len(b.rests), func(i int) bool { return b.rests[i].to >= t })
}

// lowest returns the lowest steady level of the whole log.
func (v *view) lowest() (level float64, ok bool) {
	low := math.Inf(1)
	for i, w := range v.windows {
		// A level holds for two windows at least, or the log has but few.
		if !v.steady(w) || w.mean >= low {
			continue
		}
		second := len(v.windows) < 8
		for _, j := range []int{i - 2, i - 1, i + 1, i + 2} {
			if j >= 0 && j < len(v.windows) && v.steady(v.windows[j]) && math.Abs(v.windows[j].mean-w.mean) < v.band() {
				second = true
			}
		}
		if second {
			low = w.mean
		}
	}
	if math.IsInf(low, 1) {
		return 0, false
	}
	var near []float64
	for _, w := range v.windows {
		if v.steady(w) && w.mean < low+v.band()/2 && len(near) < 100000 {
			near = append(near, w.mean)
		}
	}
	return Median(near), true
}

// startLevel is the median of the first rows.
func (v *view) startLevel() float64 { return Median(v.l.Force[:min(4, len(v.l.Force))]) }

func (v *view) endLevel() float64 {
	n := len(v.l.Force)
	return Median(v.l.Force[n-min(4, n):])
}

// orient turns the log over where pushing counts down. negative: 1 stated, -1 stated not, 0 to be found out. The sign
// is clear where the log starts near nothing and goes far below.
func (v *view) orient(negative int) (note string, err error) {
	if negative == 0 {
		s, span := v.startLevel(), v.span()
		high := s >= v.hi-0.1*span
		switch {
		case !high || span == 0:
			return "", nil
		case math.Abs(s) <= v.th.NegativeOffset*span: // so that the lowest lies far below 0
			note = "the force falls from near zero when it pushes: its sign is turned (--push-negative)"
		case v.endLevel() >= v.hi-0.15*span:
			return "", &ZeroError{v.l.Name, fmt.Sprintf("the log starts and ends at its highest level, %.4g N: "+
				"either it is under load there, or pushing counts down (then --push-negative)", s)}
		default:
			return "", nil
		}
		negative = 1
	}
	if negative > 0 {
		for i, f := range v.l.Force {
			v.l.Force[i] = -f
		}
		for i := range v.windows {
			v.windows[i].mean, v.windows[i].rise = -v.windows[i].mean, -v.windows[i].rise
		}
		v.lo, v.hi = -v.hi, -v.lo
		v.flipped = true
	}
	return note, nil
}

// startRest finds the zero at the start of the log, or says why it cannot. from and to are the rows it was read from.
func (v *view) startRest() (level float64, from, to int, err error) {
	fail := func(format string, args ...any) (float64, int, int, error) {
		return 0, 0, 0, &ZeroError{v.l.Name, fmt.Sprintf(format, args...)}
	}
	l := v.l
	if l.Flow != nil {
		if l.Flow[0] > 0 && v.startLevel() > v.lo+v.band() {
			return fail("the feed runs from the first row, so that no rest tells the zero")
		}
	}
	low, ok := v.lowest()
	if !ok {
		return fail("no level is steady anywhere, so that the zero cannot be told from load")
	}
	s := v.startLevel()
	switch {
	case s > low+2*v.band():
		return fail("the log starts under load: %.4g N in the first rows, %.4g N at its lowest steady level", s, low)
	case s < low-v.band():
		// A rest too short for a window, or the middle of a rise.
		return v.shortRest(low)
	}
	// The rest reaches as far as windows stay at the level.
	to = v.rows
	for _, w := range v.windows {
		if math.Abs(w.mean-s) > v.band() || !v.steady(w) {
			break
		}
		to = w.to
	}
	return Median(l.Force[:min(to, 1<<20)]), 0, to, nil
}

// shortRest reads a zero from the few rows at the start that lie below every steady level.
func (v *view) shortRest(low float64) (float64, int, int, error) {
	y := v.l.Force
	k := 1
	for k < len(y) && math.Abs(y[k]-Median(y[:k])) < math.Max(6*v.noise, 0.01*v.span()) {
		k++
	}
	if k < 3 {
		return 0, 0, 0, &ZeroError{v.l.Name, fmt.Sprintf("the log starts within a rise: it begins at %.4g N, and "+
			"its lowest steady level is %.4g N", y[0], low)}
	}
	// The last of them may have begun to rise.
	return Median(y[:k-k/4]), 0, k, nil
}

// follow tracks the zero through the log: rests are steady windows near the zero before them.
func (v *view) follow(level float64, startTo int) *baseline {
	l, th := v.l, v.th
	b := &baseline{}
	base := level
	var run []float64
	var runFrom, runTo float64
	close := func() {
		if len(run) == 0 {
			return
		}
		sort.Float64s(run)
		// What is left of a push sinks into the rest after it, so the level is nearer the lowest than the middle.
		b.rests = append(b.rests, rest{runFrom, runTo, run[len(run)/4]})
		run = run[:0]
	}
	const longest = 30 // s of one rest: longer ones follow a drift in parts
	last := l.Time[0]
	for _, w := range v.windows {
		t := l.Time[(w.from+w.to)/2]
		gap := t - last
		tol := v.band() + math.Min(th.DriftRate*gap, th.DriftMost)*v.span()
		down := v.band() + th.DriftMost*v.span() // a steady level under the zero is nearer the zero than that was
		if w.to <= startTo {
			tol, down = math.Inf(1), math.Inf(1)
		}
		fed := l.Flow != nil && l.Flow[w.from] > 0 && l.Flow[w.to-1] > 0
		if !v.atRest(w) || w.mean > base+tol || w.mean < base-down || fed {
			continue
		}
		if w.mean < base-v.band()/2 { // what was taken for rest was the end of a push
			run, base = run[:0], w.mean
		}
		if gap > 2*th.Pause || len(run) > 0 && runTo-runFrom > longest {
			close()
		}
		if len(run) == 0 {
			runFrom = l.Time[w.from]
		}
		// What a quick drift cannot reach is load; what lies near is followed.
		move := math.Max(th.DriftRate*v.span(), v.noise/10) * math.Max(gap, float64(v.rows)/v.fs/2)
		if gap > 2*th.Pause {
			move = tol
		}
		base += math.Max(-move, math.Min(move, w.mean-base))
		run = append(run, w.mean)
		runTo = l.Time[w.to-1]
		last = t
	}
	close()
	if len(b.rests) == 0 {
		b.rests = []rest{{l.Time[0], l.Time[max(0, startTo-1)], level}}
	}
	return b
}

// restNoise is the scatter of the rows at rest, where there are enough of them.
func (v *view) restNoise(b *baseline) {
	var dev []float64
	i := 0
	for _, w := range v.windows {
		for i < len(b.rests) && b.rests[i].to < v.l.Time[w.to-1] {
			i++
		}
		if i < len(b.rests) && v.l.Time[w.from] >= b.rests[i].from && len(dev) < 100000 {
			dev = append(dev, w.dev*w.dev)
		}
	}
	if len(dev) < 4 {
		return
	}
	sort.Float64s(dev)
	// The median of s2 about a line through n values, set right for their number.
	dof := float64(v.rows - 2)
	n := math.Sqrt(dev[len(dev)/2] * dof / distuv.ChiSquared{K: dof}.Quantile(0.5))
	v.noise = math.Max(n, math.Max(quantum(v.l.Force)/math.Sqrt(12), 1e-6*v.span()))
}

// below returns the share of rows that lie under the zero by more than noise can.
func (v *view) below(b *baseline) float64 {
	b.next = 0
	n := 0
	deep := math.Max(v.th.BelowNoise*v.noise, 0.01*v.span())
	for i, f := range v.l.Force {
		if f < b.at(v.l.Time[i])-deep {
			n++
		}
	}
	return float64(n) / float64(len(v.l.Force))
}
