package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials"
)

// The push is a smooth function of the flow: cells that pass the flow point, and stations that pass the ends of the
// stretches, leave no ripple. The ripple is what a solution at the default resolution departs, flow by flow, from one
// on a doubled grid, less the mean of that at the flows 2 % below and above.
func TestPushIsSmoothInFlow(t *testing.T) {
	const step = 0.02
	for _, row := range []struct {
		id       string
		from, to float64 // m3/s
		ripple   float64 // root mean square
		turn     float64 // most that the slope dlnF/dlnq changes from one flow to the next
	}{
		{"abs", 8e-9, 22e-9, 0.5e-3, 0.28}, {"pla", 5e-9, 20e-9, 0.1e-3, 0.08}, {"petg", 5e-9, 20e-9, 0.02e-3, 0.01},
		// A core that melts within a few flows turns the slope of these.
		{"pp", 3e-9, 20e-9, 0.6e-3, 1.1}, {"pa12", 3e-9, 20e-9, 0.6e-3, 1}, {"pa66", 3e-9, 20e-9, 0.5e-3, 1},
		{"pom", 3e-9, 20e-9, 0.6e-3, 0.3},
	} {
		m, err := materials.Get(row.id)
		if err != nil {
			t.Fatal(err)
		}
		c := flowtest.Free(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, flow.DefaultWettedH))
		block := (m.Window[0] + m.Window[1]) / 2
		if row.id == "abs" {
			c, block, _, _ = flowtest.Growth(flowtest.Table("stock", "flow_growth.csv")[0])
		}
		s, fine := march.New(c, march.Options{}), march.New(c, march.Options{Cells: 2 * march.DefaultCells, Axial: 2})
		var d flow.Solution
		force := func(s *march.Solver, q float64) float64 {
			if err := s.Solve(block, q, &d); err != nil {
				t.Fatal(err)
			}
			return math.Log(d.Force)
		}
		var f, e []float64
		for q := row.from; q < row.to; q *= 1 + step {
			f = append(f, force(s, q))
			e = append(e, f[len(f)-1]-force(fine, q))
		}
		var sum, turn, worst float64
		for i := 1; i+1 < len(f); i++ {
			r := e[i] - (e[i-1]+e[i+1])/2
			sum += r * r * 2 / 3
			turn = max(turn, math.Abs(f[i+1]-2*f[i]+f[i-1])/step)
		}
		for _, x := range e {
			worst = max(worst, math.Abs(x))
		}
		ripple := math.Sqrt(sum / float64(len(f)-2))
		t.Logf("%s: ripple %.3f %%, the slope turns by at most %.3f, doubled grid %.2f %%", row.id, 100*ripple, turn,
			100*worst)
		if ripple > row.ripple || turn > row.turn {
			t.Errorf("%s: ripple %.3f %%, allowed %.3f %%; the slope turns by %.3f a flow, allowed %.3f",
				row.id, 100*ripple, 100*row.ripple, turn, row.turn)
		}
	}
}

// In time the push is a smooth function of every input and of time: the ends of the stretches lie between two stations.
// Second differences, of the push over the viscosity factor in steps of 0.1 % and over time, against what a change at
// whole stations would make of them (up to 0.05 N and 0.5 N).
func TestPushInTimeIsSmooth(t *testing.T) {
	const dt = 0.05
	for _, k := range []int{0, 2, 4} {
		base, block, q := flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[k])
		var runs [][]float64
		for i := range 9 {
			c := *base
			c.ViscosityFactor = 1 + 1e-3*float64(i)
			s := march.New(&c, march.Options{})
			s.Soak(block)
			var d flow.Solution
			var f []float64
			for now := dt; now < 5; now += dt {
				if err := s.Advance(block, q, dt, &d); err != nil {
					t.Fatal(err)
				}
				f = append(f, d.Force)
			}
			runs = append(runs, f)
		}
		second := func(a, b, c float64) float64 { return math.Abs(a-2*b+c) / 2 }
		var factor, worst, time, n float64
		for j := range runs[0] {
			for i := 1; i+1 < len(runs); i++ {
				x := second(runs[i-1][j], runs[i][j], runs[i+1][j])
				factor += x * x
				worst = max(worst, x)
				n++
			}
			if f := runs[0]; j > 0 && j+1 < len(f) {
				time += math.Pow(second(f[j-1], f[j], f[j+1]), 2) / float64(len(f))
			}
		}
		factor, time = math.Sqrt(factor/n), math.Sqrt(time)
		t.Logf("row %d: over the factor %.4f N, at most %.3f N; over time %.3f N", k, factor, worst, time)
		if factor > 0.02 || time > 0.08 {
			t.Errorf("row %d: second differences of %.4f N over the factor, %.3f N over time", k, factor, time)
		}
	}
}
