package march_test

import (
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

func TestConv(t *testing.T) {
	var d flow.Drop
	rows := flowtest.Table("fem_heated.csv")
	for _, i := range []int{0, 2, 6, 9, 13, 16, 20, 23, 27} {
		c, T, q := flowtest.Heated(rows[i])
		solve := func(n int, ax float64) (float64, float64) {
			march.New(c, march.Options{Cells: n, Axial: ax}).Solve(T, q, &d)
			return d.Pressure, d.ExitMix
		}
		p0, m0 := solve(160, 16)
		for _, n := range []int{16, 20, 24} {
			p, m := solve(n, 16)
			t.Logf("row %d cells %d: %+.3f%% %+.3f K", i, n, 100*(p/p0-1), m-m0)
		}
		for _, ax := range []float64{1} {
			p, m := solve(160, ax)
			t.Logf("row %d axial %g: %+.3f%% %+.3f K", i, ax, 100*(p/p0-1), m-m0)
		}
	}
}
