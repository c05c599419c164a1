package march_test

import (
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// BenchmarkSolve marches one heated case at the default resolution.
func BenchmarkSolve(b *testing.B) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	s := march.New(c, march.Options{})
	var d flow.Solution
	if err := s.Solve(T, q, &d); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		s.Solve(T, q, &d)
		n += d.Stats.Stations * d.Stats.Cells
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/cell")
}

// BenchmarkSolveFree marches a case as the bench runs it: rod, wetted plug and held melt, the place where the rod gives
// way found.
func BenchmarkSolveFree(b *testing.B) {
	c, T, q := flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[1])
	s := march.New(c, march.Options{})
	var d flow.Solution
	if err := s.Solve(T, q, &d); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		s.Solve(T, q, &d)
	}
}

// BenchmarkPlain is the readable twin on the same case, at the resolution at which the two are compared (extrapolated
// from two step lengths, within 1 % of the drop).
func BenchmarkPlain(b *testing.B) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	for b.Loop() {
		_ = 2*twin(c, T, q, 20, 16) - twin(c, T, q, 20, 8)
	}
}
