package assess

import (
	"context"
	"math"
	"sync/atomic"

	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/materials/num"
)

// The grid of samples, which are two thirds of the work on it: its forces lie within a per cent or two of those on the
// default grid. What it makes of the middle of the unknowns, over what the default grid makes of that, corrects every
// sample (a control variate), so that what is left is how much that ratio changes over the bands. A test holds samples
// to a plain search on the default grid: 0.5 % of flow and push in the mean, 2.5 % at most.
const sampleCells, sampleAxial = 8, 0.8

// Samples are answered in rounds, each guided by a surface through those before it: the first by the middle of the
// unknowns and each of them at its ends. From solvedFirst samples on, what is left is read off the surface, if by a
// cross-validation it misses none of the numbers of a sample by more than mostMiss (root mean square) of the width of
// its range (5 to 95 per cent): a miss of that size changes the spread of what is read off by a seventieth, and an end
// of the range by less than a hundredth of its width.
const (
	solvedFirst = 512
	mostMiss    = 0.05
)

// rounds are the numbers of samples after which the surface is fitted anew.
var rounds = []int{24, 96, 256, solvedFirst}

// answers are those of the draws of a set-up.
type answers struct {
	samples []Sample
	best    Sample       // of the middle, on the default grid
	ends    [][2]float64 // m3/s, usable flow with one unknown at its 5 and 95 per cent points, the others at the middle
	solved  int          // of the samples; the others are read off the surface
	miss    float64      // by how much that misses the usable flow, root mean square, as a share; 0 where none is
}

// Run answers every draw of the unknowns of a set-up (in the order of Unknowns), at an operating flow (m3/s), spread
// over the cores, on the grid of samples. base is a solver of the set-up's case, near the answer that the first search
// starts from.
func Run(ctx context.Context, s *setup.Setup, us []Unknown, draws [][]float64, base *march.Solver, flow float64,
	near Sample, progress func(done float64)) ([]Sample, error) {
	a, err := answerAll(ctx, s, us, draws, base, flow, near, progress)
	if err != nil {
		return nil, err
	}
	return a.samples, nil
}

// group answers draws of one set-up together.
type group struct {
	ctx   context.Context
	us    []Unknown
	base  *march.Solver
	first sampler // what every sampler starts from
	guide *surface
	draws [][]float64
	out   []Sample
	seen  [][]probe // of every draw
	// the ends of the unknowns, and the flows solved for them: points of the surface that are no samples
	ends     [][]float64
	endsSeen [][]probe
	lost     bool // some flow of a draw has no solution
	report   func(done float64)
}

// answerAll is Run with all that comes of it.
func answerAll(ctx context.Context, s *setup.Setup, us []Unknown, draws [][]float64, base *march.Solver, flow float64,
	near Sample, progress func(done float64)) (*answers, error) {
	quick := base.WithResolution(sampleCells, sampleAxial)
	first := sampler{s: s, us: us, flow: flow, near: near, mid: middle(s, quick, flow)}
	w := first
	w.base = quick
	mid := Middle(us)
	quickBest := w.sample(mid)
	guide := newSurface(us, flow, false)
	guide.add(0, guide.place(mid, nil), w.seen)
	if guide.sum(); !guide.fit(-1) {
		guide = nil // no solution but one
	}
	// The middle on the default grid goes beside the ends of the unknowns on that of samples.
	a := &answers{ends: make([][2]float64, len(us))}
	ends, of := [][]float64{mid}, [][2]int{{}}
	for j := range us {
		for k, p := range [2]float64{0.05, 0.95} {
			if !us[j].Band.Known {
				x := append([]float64(nil), mid...)
				x[j] = us[j].At(p)
				ends, of = append(ends, x), append(of, [2]int{j, k})
			}
		}
	}
	first.near = quickBest
	g := &group{ctx: ctx, us: us, base: quick, first: first, guide: guide, draws: ends,
		out: make([]Sample, len(ends)), seen: make([][]probe, len(ends))}
	if err := g.solve(0, len(ends), func(w *sampler, i int) Sample {
		if i > 0 {
			return w.sample(ends[i])
		}
		full := g.first
		full.base, full.guide = base.Clone().(*march.Solver), g.guide
		return full.sample(mid)
	}); err != nil {
		return nil, err
	}
	a.best = g.out[0]
	c := newControl(a.best, quickBest, s.Limits)
	for i := 1; i < len(ends); i++ {
		a.ends[of[i][0]][of[i][1]] = c.correct(g.out[i]).Usable
	}
	g.ends, g.endsSeen = g.draws, g.seen
	g.draws, g.out, g.seen = draws, make([]Sample, len(draws)), make([][]probe, len(draws))
	g.report = progress
	err := g.all(a)
	for i := range g.out {
		g.out[i] = c.correct(g.out[i])
	}
	a.samples = g.out
	return a, err
}

// all answers the draws in rounds.
func (g *group) all(a *answers) error {
	n := len(g.draws)
	for k := 0; a.solved < n; k++ {
		next := 2 * a.solved
		if k < len(rounds) {
			next = rounds[k]
		}
		next = min(next, n)
		if err := g.solve(a.solved, next, func(w *sampler, i int) Sample { return w.sample(g.draws[i]) }); err != nil {
			return err
		}
		if a.solved = next; a.solved < solvedFirst || a.solved == n || g.guide == nil || g.lost {
			continue
		}
		if miss, good := g.enrich(a.solved); good {
			a.miss = miss
			return g.read(a)
		}
	}
	return nil
}

// each answers the draws from one to before another, spread over the cores.
func (g *group) each(from, to int, report func(done float64), answer func(w *sampler, i int)) error {
	index := make([][]float64, to-from) // package uq hands over a row: here its number
	for i := range index {
		index[i] = []float64{float64(from + i)}
	}
	var progress func(done float64)
	if report != nil {
		progress = func(done float64) {
			report((float64(from) + done*float64(to-from)) / float64(len(g.draws)))
		}
	}
	_, err := uq.Run(g.ctx, index, func() func(x []float64) []float64 {
		w := g.first
		w.base, w.guide = g.base.Clone().(*march.Solver), g.guide
		return func(x []float64) []float64 {
			answer(&w, int(x[0]))
			return nil
		}
	}, progress)
	return err
}

// solve answers draws by solutions, and fits the surface anew with them.
func (g *group) solve(from, to int, answer func(w *sampler, i int) Sample) error {
	if err := g.each(from, to, g.report, func(w *sampler, i int) {
		g.out[i] = answer(w, i)
		g.seen[i] = append([]probe(nil), w.seen...)
		w.seen = w.seen[:0]
	}); err != nil {
		return err
	}
	if g.guide == nil || to == len(g.draws) && g.ends != nil {
		return nil // there is nothing more to guide
	}
	var z []float64
	for i := from; i < to; i++ {
		z = g.guide.place(g.draws[i], z)
		g.guide.add(i%folds, z, g.seen[i])
		for k := range g.seen[i] {
			g.lost = g.lost || !g.seen[i][k].solved
		}
	}
	if g.guide.sum(); !g.guide.fit(-1) {
		g.guide = nil
	}
	return nil
}

// enrich takes the surface of third order through the samples solved; see miss.
func (g *group) enrich(n int) (usable float64, good bool) {
	lean := g.guide
	f := newSurface(g.us, lean.ref, true)
	for i := range g.ends {
		f.add(i%folds, f.place(g.ends[i], nil), g.endsSeen[i])
	}
	var z []float64
	for i := range n {
		z = f.place(g.draws[i], z)
		f.add(i%folds, z, g.seen[i])
	}
	f.sum()
	if !f.fit(-1) {
		return 0, false
	}
	g.guide = f
	if usable, good = g.miss(n); !good {
		g.guide = lean
	}
	return usable, good
}

// miss tells by how much the surface, fitted without a quarter of the first n samples, misses the usable flow of those:
// root mean square, as a share. It is good if none of the numbers of a sample is missed by more than mostMiss.
func (g *group) miss(n int) (usable float64, good bool) {
	var without [folds]*surface
	_ = num.Parallel(folds, func() func(int) error {
		return func(k int) error {
			without[k] = g.guide.without(k)
			return nil
		}
	})
	read, ok := make([]Sample, n), make([]bool, n)
	rest := make([]float64, n) // squares of what outRest misses by
	if g.each(0, n, nil, func(w *sampler, i int) {
		if w.guide = without[i%folds]; w.guide == nil {
			return
		}
		read[i], ok[i] = w.read(g.draws[i])
		for k := range g.seen[i] {
			p := &g.seen[i][k]
			d := p.y[outRest] - w.lines[outRest].at(w.guide.ln(p.q))
			rest[i] += d * d / float64(len(g.seen[i]))
		}
	}) != nil {
		return 0, false
	}
	for _, d := range rest {
		g.guide.rest += d / float64(n)
	}
	g.guide.rest = math.Sqrt(g.guide.rest)
	for k, of := range compared {
		var y []float64
		sum := 0.0
		for i := range read {
			if ok[i] {
				want := of(&g.out[i])
				d := of(&read[i]) - want
				y, sum = append(y, want), sum+d*d
			}
		}
		if len(y) < n/2 {
			return 0, false // most would have to be solved anyway
		}
		miss, q := math.Sqrt(sum/float64(len(y))), uq.Quantiles(y, 0.05, 0.95)
		if !(miss <= math.Max(tolerance, mostMiss*(q[1]-q[0]))) {
			return 0, false
		}
		if k == 0 {
			usable = miss
		}
	}
	return usable, true
}

// compared are the numbers of a sample that a surface must not miss, the usable flow first; flows, forces and heat by
// their logarithms.
var compared = []func(x *Sample) float64{
	func(x *Sample) float64 { return lnFlow(x.Usable) },
	func(x *Sample) float64 { return lnFlow(x.Pushed) },
	func(x *Sample) float64 { return lnFlow(x.Melted) },
	func(x *Sample) float64 { return math.Log(x.Push) },
	func(x *Sample) float64 { return math.Log(x.Pressure) },
	func(x *Sample) float64 { return math.Log(x.Heater) },
	func(x *Sample) float64 { return x.EntryCentre },
	func(x *Sample) float64 { return x.ExitBulk },
}

func lnFlow(q float64) float64 { return math.Log(math.Max(q, noFlow)) }

// noFlow (m3/s) stands for none.
const noFlow = 1e-12

// read answers the draws that are left by the surface, and solves those that it cannot tell.
func (g *group) read(a *answers) error {
	var solved atomic.Int64
	err := g.each(a.solved, len(g.draws), g.report, func(w *sampler, i int) {
		var ok bool
		if g.out[i], ok = w.read(g.draws[i]); !ok {
			g.out[i] = w.sample(g.draws[i])
			solved.Add(1)
		}
	})
	a.solved += int(solved.Load())
	return err
}
