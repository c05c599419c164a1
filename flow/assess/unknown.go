// Package assess answers for a set-up and everything it may be, given what is not known: the range of its headline
// numbers, how sure a verdict is, what one change at a time would gain, and the temperature to set at each flow.
// Numbers are in SI.
package assess

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/flow/vary"
)

// sampled are the quantities that are sampled, in the order of the coordinates: the filament before the barrel, which
// it must fit.
var sampled = []vary.ID{vary.Viscosity, vary.Heated, vary.Contact, vary.Eccentricity, vary.Entrance, vary.FlowPoint,
	vary.Tip, vary.Block, vary.Filament,
	vary.Barrel, vary.Bore, vary.Drag, vary.Force}

// Unknown is a quantity of a set-up with how well it is known.
type Unknown struct {
	vary.Quantity
	Band vary.Band
	Has  bool // false: the set-up does not have it; it keeps its coordinate, so that two set-ups can share draws
	// mix makes the normal score of this one of the independent scores of several, as the set-up's correlations ask
	// for: a row of the Cholesky factor of their matrix; nil for an unknown that goes with none before it.
	mix []term
}

// term is a share of the normal score of the unknown at a place.
type term struct {
	of    int
	share float64
}

// Unknowns lists what is sampled, always the same quantities in the same order.
func Unknowns(s *setup.Setup) []Unknown {
	out := make([]Unknown, len(sampled))
	for i, id := range sampled {
		u := &out[i]
		if u.Quantity, u.Has = vary.Find(s, string(id)); u.Has {
			u.Band = u.Quantity.Band(s)
		} else {
			u.ID, u.Band.Known = id, true
		}
	}
	correlate(s, out)
	return out
}

// correlate fills the mixes. What several set-ups share (stock and rig) comes first, so that its values are the same in
// all of them whatever a hot end adds. A matrix that cannot be factorised is refused by the set-up's Validate; here it
// counts as none.
func correlate(s *setup.Setup, us []Unknown) {
	if len(s.Correlations) == 0 {
		return
	}
	order := make([]int, len(us))
	for i := range order {
		order[i] = i
	}
	turn := map[vary.Scope]int{vary.OfHotEnd: 1, vary.OfFeeder: 2}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(turn[us[a].ID.Scope()], turn[us[b].ID.Scope()])
	})
	names := make([]string, len(us))
	for i, j := range order {
		names[i] = string(us[j].ID)
	}
	m := s.CorrelationMatrix(names)
	var ch mat.Cholesky
	if m == nil || !ch.Factorize(m) {
		return
	}
	var l mat.TriDense
	ch.LTo(&l)
	for i, j := range order {
		if l.At(i, i) == 1 {
			continue
		}
		for k := range i + 1 {
			if w := l.At(i, k); w != 0 {
				us[j].mix = append(us[j].mix, term{order[k], w})
			}
		}
	}
}

// Values are the unknowns at a point of independent coordinates, 0 < p < 1 each: as many below as p says, and those
// that go together by their normal scores (a Gaussian copula; R.B. Nelsen, An Introduction to Copulas, 2nd ed. 2006,
// from memory).
func Values(us []Unknown, p []float64) []float64 {
	out := make([]float64, len(us))
	for i := range us {
		at := p[i]
		if us[i].mix != nil {
			z := 0.0
			for _, t := range us[i].mix {
				z += t.share * distuv.UnitNormal.Quantile(p[t.of])
			}
			at = math.Min(1-edge, math.Max(edge, distuv.UnitNormal.CDF(z)))
		}
		out[i] = us[i].At(at)
	}
	return out
}

// edge keeps coordinates off the ends of a distribution, which are not in the domain of its quantiles.
const edge = 1e-9

// Draw returns n draws of the unknowns, quasi-random and the same for the same seed.
func Draw(us []Unknown, n int, seed uint64) [][]float64 {
	points := uq.Points(n, len(us), seed)
	out := make([][]float64, n)
	for i := range out {
		out[i] = Values(us, points.RawRowView(i))
	}
	return out
}

// At returns the value below which the unknown lies with the probability p; 0 for one that the set-up does not have.
func (u *Unknown) At(p float64) float64 {
	if !u.Has {
		return 0
	}
	return u.Band.At(p)
}

// Apply returns a copy of a set-up with the unknowns at the values x.
func Apply(s *setup.Setup, us []Unknown, x []float64) *setup.Setup {
	n := s.Clone()
	for i := range us {
		if u := &us[i]; u.Has && !u.Band.Known {
			_ = u.Set(n, x[i]) // a band lies within the bounds
		}
	}
	return n
}

// Middle are the values at which every unknown is as likely above as below: those of the set-up.
func Middle(us []Unknown) []float64 {
	x := make([]float64, len(us))
	for i := range us {
		x[i] = us[i].At(0.5)
	}
	return x
}

// Corner is a set-up with what moves the load most at one end.
type Corner struct {
	*setup.Setup
	What string
}

// cornerShare is the point of each of the three unknowns at a corner: for three that move the load alike, all of them
// there at once is as rare as the load at its 5 per cent point, the normal distribution's 1.645/sqrt(3).
const cornerShare = 0.171

// Corners are the set-up with viscosity, entrance loss and heated share, which move the load most: all three at the
// ends of a low load, and all three at those of a high load; all else stays. They give a coarse range, near 5 to 95 per
// cent, for answers that take too long to sample.
func Corners(s *setup.Setup) [2]Corner {
	us := Unknowns(s)
	at := func(load float64) *setup.Setup {
		x := Middle(us)
		for i := range us {
			switch us[i].ID {
			case vary.Viscosity, vary.Entrance:
				x[i] = us[i].At(load)
			case vary.Heated:
				x[i] = us[i].At(1 - load)
			}
		}
		return Apply(s, us, x)
	}
	return [2]Corner{{at(cornerShare), "low viscosity and entrance loss, long heated length"},
		{at(1 - cornerShare), "high viscosity and entrance loss, short heated length"}}
}
