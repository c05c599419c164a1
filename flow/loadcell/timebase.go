package loadcell

import (
	"fmt"
	"math"
	"sort"
)

// gapSteps is how many steps without a row make a gap.
const gapSteps = 3

// lineMap tells the line of a used row. Most rows follow each other, so only the breaks are kept.
type lineMap struct{ row, line []int32 }

func (m *lineMap) add(row, line int) {
	n := len(m.row)
	if n == 0 || int(m.line[n-1])+row-int(m.row[n-1]) != line {
		m.row, m.line = append(m.row, int32(row)), append(m.line, int32(line))
	}
}

func (m *lineMap) of(row int) int {
	i := sort.Search(len(m.row), func(i int) bool { return int(m.row[i]) > row }) - 1
	if i < 0 {
		return 0
	}
	return int(m.line[i]) + row - int(m.row[i])
}

// base turns raw times, in place, into seconds from the start, and counts repeats, resets and gaps.
func (l *Log) base(lines *lineMap, k, step float64) {
	raw := l.Time
	l.Step = step
	offset := -raw[0] * k
	last := math.Inf(-1)
	out := 0
	for i, r := range raw {
		t := r*k + offset
		switch {
		case i > 0 && t == last && l.Force[i] == l.Force[out-1]:
			l.Repeated.add(lines.of(i), "", "same time and force as the row before")
			continue
		case t < last:
			l.Resets.add(lines.of(i), "", fmt.Sprintf("time falls back by %.3g s", last-t))
			offset += last + step - t
			t = last + step
		case t > last+gapSteps*step && i > 0:
			l.Gaps.add(lines.of(i), "", fmt.Sprintf("%.3g s without a row", t-last))
		}
		l.Time[out] = t
		l.Force[out] = l.Force[i]
		if l.Block != nil {
			l.Block[out] = l.Block[i]
		}
		if l.Flow != nil {
			l.Flow[out] = l.Flow[i]
		}
		out++
		last = t
	}
	l.Time, l.Force = l.Time[:out], l.Force[:out]
	if l.Format.TimeUnit != "sample" { // else the rate is stated
		l.Step = meanStep(l.Time, step)
	}
	if l.Block != nil {
		l.Block = l.Block[:out]
	}
	if l.Flow != nil {
		l.Flow = l.Flow[:out]
	}
}

// stepRows is how many steps the usual step of a log is taken from.
const stepRows = 10001

func medianStep(t []float64) float64 {
	n := min(len(t)-1, stepRows)
	d := make([]float64, 0, n)
	for i := 1; i <= n; i++ {
		if x := t[i] - t[i-1]; x > 0 {
			d = append(d, x)
		}
	}
	if len(d) == 0 {
		return 0
	}
	sort.Float64s(d)
	return d[len(d)/2]
}

// meanStep is the mean step of a log without its gaps; usual is the middle one. Stamps that are written in few digits
// move now by less, now by more than the true step (12.5 ms come as 10 and 20 ms), so the middle one may be far off it.
func meanStep(t []float64, usual float64) float64 {
	sum, n := 0.0, 0
	for i := 1; i < len(t); i++ {
		if d := t[i] - t[i-1]; d <= gapSteps*usual {
			sum += d
			n++
		}
	}
	if n == 0 || sum <= 0 {
		return usual
	}
	return sum / float64(n)
}

// sharedStamps is the share of rows with the stamp of the row before from which a clock counts as coarse: a logger that
// writes every row twice shares half.
const sharedStamps = 0.6

// spread puts rows that share a time stamp evenly between that stamp and the next, where most rows do: a clock that
// shows whole seconds beside ten rows a second. It returns the usual distance of the stamps, 0 if there was nothing to
// spread.
func spread(t []float64) float64 {
	shared := 0
	for i := 1; i < len(t); i++ {
		if t[i] == t[i-1] {
			shared++
		}
	}
	gap := medianStep(t)
	if gap == 0 || float64(shared) < sharedStamps*float64(len(t)) {
		return 0
	}
	var starts []int
	for i := range t {
		if i == 0 || t[i] != t[i-1] {
			starts = append(starts, i)
		}
	}
	starts = append(starts, len(t))
	rows := make([]float64, len(starts)-1)
	for i := range rows {
		rows[i] = float64(starts[i+1] - starts[i])
	}
	sort.Float64s(rows)
	usual := gap / rows[len(rows)/2]
	for i := range len(starts) - 1 {
		a, b := starts[i], starts[i+1]
		from, step := t[a], usual
		if b < len(t) {
			switch to := t[b] - from; {
			case i == 0:
				from = t[b] - usual*float64(b-a) // the log may begin in the middle of a stamp
			case to > 0 && to < gapSteps*gap:
				step = to / float64(b-a)
			}
		}
		for j := a; j < b; j++ {
			t[j] = from + step*float64(j-a)
		}
	}
	return gap
}

// guessTime names the unit of a time column without one. Loggers run between 1 and 5000 Hz; seconds, thousandths and
// millionths since 1970 are told by their size. The second result says what decided, empty if the unit is plain.
func guessTime(t []float64, step float64, sheet bool) (name, why string) {
	whole := true
	for _, x := range t[:min(len(t), 1000)] {
		whole = whole && x == math.Trunc(x)
	}
	// Between 2001 and 2100, in s; a step beyond a minute is no step of a logger.
	epoch := func(k float64) bool { return t[0]*k > 1e9 && t[0]*k < 4.1e9 && step*k < 60 }
	switch {
	case epoch(1):
		return "s", "the size of seconds since 1970"
	case epoch(1e-3):
		return "ms", "the size of milliseconds since 1970"
	case epoch(1e-6):
		return "us", "the size of microseconds since 1970"
	case epoch(1e-9):
		return "ns", "the size of nanoseconds since 1970"
	case sheet && t[0] > 2e4 && t[0] < 9e4 && step*86400 < 60 && !whole:
		return "day", "the size of a spreadsheet's date"
	case whole && step == 1:
		return "sample", "whole numbers, one apart"
	case whole && step > 2000:
		return "us", "whole numbers, more than 2000 apart"
	case whole && step >= 2:
		return "ms", "whole numbers, 2 or more apart"
	}
	return "s", "no unit named: seconds assumed"
}
