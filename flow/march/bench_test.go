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
	var d flow.Drop
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
