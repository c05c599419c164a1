package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// Kind is a kind of test.
type Kind int

// The kinds of test.
const (
	Steady   Kind = iota // a steady push at a block temperature and flow
	TwoLands             // the same push through two land lengths at one bore: what both share is the entrance
	NoNozzle             // a push with the hot end off: the drag of the path
)

// Test is a proposed test.
type Test struct {
	Kind        Kind
	Block, Flow float64 // K, m3/s
	Land        float64 // m, the second land of TwoLands
	Tells       Factor  // that it tells most about
	Label       string  // of it
	Shrinks     float64 // standard uncertainty of that factor after the test over before
}

// longLand is the second land of a test with two, over the case's.
const longLand = 3

// Foresee says what planned pushes would tell of the factors that are looked at (nil for Candidates), before they are
// made, and which tests would tell most beside them: the next steady push, two land lengths at one bore, a push with
// the hot end off. The forces are predicted from the set-up as it stands.
func Foresee(s *setup.Setup, points []Point, ids []Factor) (told []Value, tests []Test, err error) {
	fs, err := factors(s, ids)
	if err != nil {
		return nil, nil, err
	}
	if len(points) == 0 {
		return nil, nil, fmt.Errorf("calibrate: no pushes are planned")
	}
	p := newProblem(s, slices.Clone(points), fs)
	z := make([]float64, len(fs))
	force := make([]float64, len(points))
	p.force(&p.full, z, p.points, force)
	for i := range p.points {
		p.points[i].Force = math.Max(0.1, force[i])
		if err := p.points[i].check(); err != nil {
			return nil, nil, fmt.Errorf("calibrate: planned push %d: %w", i+1, err)
		}
	}
	known := p.told(z)
	left := p.leftOver(z)
	for i := range fs {
		f, u := &fs[i], math.Sqrt(left.At(i, i))
		v := Value{Factor: f.id, Label: f.label, Unit: f.unit, Start: f.value(0), Value: f.value(0),
			Low: f.band[0], High: f.band[1], Tells: 1, Known: known[i], toEdge: f.edge}
		if known[i] {
			half := math.Min(1.96*u, knownHalf)
			v.Tells, v.Low, v.High = 1/u, f.value(-half), f.value(half)
		}
		told = append(told, v)
	}
	return told, p.next(z), nil
}

// next proposes the steady push that tells most, and the two tests that separate entrance loss and drag, with what they
// tell.
func (p *problem) next(z []float64) []Test {
	all := make([]bool, len(p.f))
	for i := range all {
		all[i] = true
	}
	c := covariance(p.jacobian(z), all)
	s := p.s
	flows := [2]float64{math.Max(1e-9, s.Limits.MinFlow), math.Min(25e-9, s.Limits.MaxFlow)}
	var out []Test
	best := 0.0
	for a := range 5 {
		for b := range 5 {
			t := Test{Block: s.Temps[0] + (s.Temps[1]-s.Temps[0])*float64(a)/4,
				Flow: flows[0] * math.Pow(flows[1]/flows[0], float64(b)/4)}
			if gain := p.tells(&t, z, c); gain > best {
				best, out = gain, []Test{t}
			}
		}
	}
	if q, ok := vary.Find(s, string(vary.Land)); ok {
		// Hot, as the cone melts through there: what the land does not explain is the entrance.
		t := Test{Kind: TwoLands, Block: s.Temps[1], Flow: math.Sqrt(flows[0] * flows[1]), Land: longLand * q.Get(s),
			Tells: vary.Entrance}
		if p.tells(&t, z, c) > 0 {
			out = append(out, t)
		}
	}
	if t := (Test{Kind: NoNozzle, Tells: vary.Drag}); p.tells(&t, z, c) > 0 {
		out = append(out, t)
	}
	return out
}

// tells returns how much a test tells, half the logarithm by which the volume of what is not known shrinks, and fills
// in about which factor it tells most (or how much about the one named). 0 if the factor named is not among those
// looked at.
func (p *problem) tells(t *Test, z []float64, c *mat.SymDense) float64 {
	var pts []Point
	switch t.Kind {
	case NoNozzle:
		pts = []Point{{NoNozzle: true}}
	case TwoLands:
		pts = []Point{{Block: t.Block, Flow: t.Flow}, {Block: t.Block, Flow: t.Flow, Land: t.Land}}
	default:
		pts = []Point{{Block: t.Block, Flow: t.Flow}}
	}
	f := make([]float64, len(pts))
	p.force(&p.quick, z, pts, f)
	for i := range pts {
		if pts[i].Force = math.Max(0.1, f[i]); math.IsInf(f[i], 0) {
			return 0
		}
	}
	j := p.derivatives(z, func(q *problem, w []float64) []float64 {
		out := make([]float64, len(pts))
		q.force(&q.quick, w, pts, out)
		for i := range out {
			out[i] /= pts[i].u()
		}
		return out
	})
	// The covariance after, one push after another: C - C g g^T C/(1 + g^T C g).
	n := len(p.f)
	after := mat.NewDense(n, n, nil)
	after.Copy(c)
	gain := 0.0
	for i := range pts {
		g := mat.NewVecDense(n, nil)
		for k := range n {
			g.SetVec(k, j.At(i, k))
		}
		var cg mat.VecDense
		cg.MulVec(after, g)
		d := 1 + mat.Dot(g, &cg)
		gain += 0.5 * math.Log(d)
		var less mat.Dense
		less.Outer(1/d, &cg, &cg)
		after.Sub(after, &less)
	}
	best := -1
	for k := range n {
		shrinks := math.Sqrt(math.Max(0, after.At(k, k)) / c.At(k, k))
		if t.Tells != "" && p.f[k].id != t.Tells {
			continue
		}
		if best < 0 || shrinks < t.Shrinks {
			best, t.Shrinks = k, shrinks
		}
	}
	if best < 0 {
		return 0
	}
	t.Tells, t.Label = p.f[best].id, p.f[best].label
	return gain
}

// Describe returns the proposal in words.
func (t *Test) Describe() string {
	var s string
	switch t.Kind {
	case NoNozzle:
		s = "a push with the hot end off, through the same path (its force is the drag)"
	case TwoLands:
		s = fmt.Sprintf("two land lengths at one bore, the second %.2g mm, both at %.0f degC and %.3g mm3/s",
			t.Land/unit.MM, unit.Celsius(t.Block), t.Flow/unit.MM3)
	default:
		s = fmt.Sprintf("a steady push at %.0f degC and %.3g mm3/s", unit.Celsius(t.Block), t.Flow/unit.MM3)
	}
	return s + fmt.Sprintf(": it would cut the uncertainty of the %s to %.0f %%", t.Label, 100*t.Shrinks)
}
