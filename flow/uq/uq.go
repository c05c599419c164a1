// Package uq samples inputs that are not known and summarises what comes out: quasi-random points with a recorded
// seed, quantiles and rank correlation. It is generic: the model is a function of numbers. How an input is spread is
// for the caller to say, by its quantile at a coordinate of the point (package vary has that of every quantity).
package uq

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r1"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/samplemv"

	"meltload/materials/num"
)

// Points returns n points of dim coordinates in (0, 1), one a row: a Halton sequence with Owen's scrambling (gonum),
// reproducible from the seed.
func Points(n, dim int, seed uint64) *mat.Dense {
	b := mat.NewDense(n, dim, nil)
	bounds := make([]r1.Interval, dim)
	for i := range bounds {
		bounds[i] = r1.Interval{Min: 0, Max: 1}
	}
	src := rand.NewPCG(seed, 0x6d656c74)
	samplemv.Halton{Kind: samplemv.Owen, Q: distmv.NewUniform(bounds, src), Src: src}.Sample(b)
	raw := b.RawMatrix().Data
	for i, x := range raw {
		raw[i] = inside(x)
	}
	return b
}

// inside keeps a coordinate off the ends of 0 to 1, which are not in the domain of a quantile function.
func inside(x float64) float64 {
	const edge = 1e-9
	return math.Min(1-edge, math.Max(edge, x))
}

// Run evaluates a model at every sample, spread over the cores. worker makes a model for one goroutine; progress, if
// not nil, is called with the share done, from one goroutine at a time. A cancelled context ends the run with its
// error.
func Run(ctx context.Context, samples [][]float64, worker func() func(x []float64) []float64,
	progress func(done float64)) ([][]float64, error) {
	out := make([][]float64, len(samples))
	var done atomic.Int64
	var mu sync.Mutex
	err := num.Parallel(len(samples), func() func(int) error {
		f := worker()
		return func(i int) error {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			out[i] = f(samples[i])
			if n := done.Add(1); progress != nil && n%64 == 0 {
				mu.Lock()
				progress(float64(n) / float64(len(samples)))
				mu.Unlock()
			}
			return nil
		}
	})
	return out, err
}

// Column returns one output of all samples.
func Column(out [][]float64, j int) []float64 {
	x := make([]float64, len(out))
	for i := range out {
		x[i] = out[i][j]
	}
	return x
}

// Quantiles returns the p-quantiles of x (linear interpolation of the empirical distribution).
func Quantiles(x []float64, p ...float64) []float64 {
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	q := make([]float64, len(p))
	for i := range p {
		q[i] = stat.Quantile(p[i], stat.LinInterp, s, nil)
	}
	return q
}

// RankCorrelation returns Spearman's coefficient: the correlation of ranks, ties sharing theirs.
// 0 if either side does not vary.
func RankCorrelation(x, y []float64) float64 {
	r := stat.Correlation(ranks(x), ranks(y), nil)
	if math.IsNaN(r) {
		return 0
	}
	return r
}

func ranks(x []float64) []float64 {
	idx := make([]int, len(x))
	for i := range idx {
		idx[i] = i
	}
	sort.Slice(idx, func(a, b int) bool { return x[idx[a]] < x[idx[b]] })
	r := make([]float64, len(x))
	for i := 0; i < len(idx); {
		j := i
		for j < len(idx) && x[idx[j]] == x[idx[i]] {
			j++
		}
		for k := i; k < j; k++ {
			r[idx[k]] = float64(i+j-1) / 2
		}
		i = j
	}
	return r
}
