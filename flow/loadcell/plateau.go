package loadcell

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Plateau is a stretch of steady force.
type Plateau struct {
	From, To float64 // s
	Force    float64 // N, mean
	SE       float64 // N, standard error from blocks
	Block    float64 // K, mean over it, 0 if not logged
	Flow     float64 // m3/s, likewise
	first    int     // rows of the push
	last     int
}

// plateaus finds the steady stretches of a push before a row: windows of a share of the push over which the force moves
// little, neither from end to end nor, as about a peak, from its middle to both ends; neighbours at one level joined.
// In order of time. Linear in the rows.
func (p *push) plateaus(stop int, th *Thresholds) []Plateau {
	span := p.t[stop-1] - p.t[0]
	w := max(th.PlateauRows, p.rowsOf(math.Max(th.PlateauTime, span*th.PlateauShare)))
	if w > stop {
		return nil
	}
	stride := max(1, w/8)
	var out []Plateau
	for i := 0; i+w <= stop; i += stride {
		mean, slope, dev := lineOf(p.y[i : i+w])
		move := slope * float64(w-1)
		free := 3.5 * dev / math.Sqrt(float64(w)) * math.Sqrt(3) // what noise alone may tilt it
		most := math.Max(th.PlateauMove*mean, math.Min(free, 0.06*mean))
		if mean <= 0 || math.Abs(move) > most || math.Abs(bow(p.y[i:i+w])) > most {
			continue
		}
		if n := len(out); n > 0 && i <= out[n-1].last && math.Abs(mean-out[n-1].Force) < th.PlateauSame*mean {
			out[n-1].last = i + w
			// The level is that of all of it, not of its first window, so that a slow rise does not creep in.
			continue
		}
		out = append(out, Plateau{Force: mean, first: i, last: i + w})
	}
	for k := range out {
		x := &out[k]
		x.From, x.To = p.t[x.first], p.t[x.last-1]
		_, x.Force, x.SE = BlockMeans(p.y[x.first:x.last], max(1, (x.last-x.first)/8))
	}
	return out
}

// bow is by how much the mean of the middle third of some values lies above that of the rest; 0 of fewer than three.
func bow(y []float64) float64 {
	k := len(y) / 3
	if k == 0 {
		return 0
	}
	return stat.Mean(y[k:len(y)-k], nil) - (stat.Mean(y[:k], nil)+stat.Mean(y[len(y)-k:], nil))/2
}
