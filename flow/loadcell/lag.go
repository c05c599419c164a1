package loadcell

import "math"

// findLag finds by how much the flow column lags the force, and returns how many starts tell it. Force needs a feed, so
// a flow that rises after the force comes late into the log: averaged, asked for more slowly, or stamped on arrival.
// The lag is the middle of those starts before which the flow was near 0. (A correlation of the whole log would
// measure the lag of the force behind the flow, seconds of an elastic column and of melt, instead.) A lag within half
// of FlowLate is none.
func (v *view) findLag(pushes []push) (starts int) {
	if v.l.Flow == nil || v.flowStays {
		return 0
	}
	var lags []float64
	for i := range pushes {
		if x, ok := v.startLag(&pushes[i]); ok {
			lags = append(lags, x)
		}
	}
	if lags == nil {
		return 0
	}
	v.lagKnown = true
	if x := Median(lags); x > v.th.FlowLate/2 {
		v.lag = int(math.Round(x * v.fs))
	}
	return len(lags)
}

// startLag is the time from the rise of the force to that of the flow through half of its middle in the push; 0 where
// the flow comes first. It is not known where the flow was on all the time before, or comes later than FlowLag.
func (v *view) startLag(p *push) (float64, bool) {
	t, q := v.l.Time, v.l.Flow
	if p.headless {
		return 0, false
	}
	half := medianFlow(q[p.first:p.last]) / 2
	if !(half > 0) {
		return 0, false
	}
	if float64(q[p.first]) > half { // before the force: from rest, or on since before?
		for i := p.first - 1; i >= 0 && t[p.first]-t[i] < v.th.FlowLag; i-- {
			if float64(q[i]) < 2*flowStopped*half {
				return 0, true
			}
		}
		return 0, false
	}
	for i := p.first; i < p.last && t[i]-t[p.first] < v.th.FlowLag; i++ {
		if float64(q[i]) > half {
			return t[i] - t[p.first], true
		}
	}
	return 0, false
}

// flowOf returns the flow of the rows of a push and of some after it, earlier by the lag. What the log no longer holds
// of the push keeps the last value. Good until the next call.
func (v *view) flowOf(p *push) []float32 {
	q, n := v.l.Flow, p.last-p.first
	more := p.lateRows(&v.th)
	if !v.lagKnown {
		more = max(more, p.rowsOf(v.th.FlowLag))
	}
	from := p.first + v.lag
	end := min(len(q), from+n+more)
	if end-from >= n {
		return q[from:end]
	}
	v.late = append(v.late[:0], q[min(from, end):end]...)
	for len(v.late) < n {
		v.late = append(v.late, q[len(q)-1])
	}
	return v.late
}
