package match_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/materials"
)

// What is read off a chart is what the solver says there, for every material about its processing window: within the
// miss that a chart allows but for one point in a hundred (bends narrower than a step) and within four times it there,
// and within a tenth of it in the mean. What it does not read is the solver's to the digit.
func TestChartIsTheSolver(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	all := 0
	for _, name := range materials.Names() {
		m, err := materials.Get(name)
		if err != nil {
			t.Fatal(err)
		}
		s := casefile.Invented().Clone()
		s.Material, s.Temps = m, [2]float64{m.Window[0] - 10, m.Window[1] + 10}
		v := march.New(&s.Case, march.Options{})
		chart := match.NewChart(&s.Case, v, s.Temps, s.Limits)
		var mean, most float64
		read, beyond := 0, 0
		for range 100 {
			block := s.Temps[0] + (s.Temps[1]-s.Temps[0])*rng.Float64()
			q := s.Limits.MinFlow * math.Pow(s.Limits.MaxFlow/s.Limits.MinFlow, rng.Float64())
			var is, want flow.Solution
			before, _ := chart.Read()
			if err := v.Solve(block, q, &want); err != nil {
				t.Fatal(err)
			}
			if err := chart.Solve(block, q, &is); err != nil {
				t.Fatal(err)
			}
			if after, _ := chart.Read(); after == before {
				if is.Push != want.Push {
					t.Errorf("%s: solved, and %g N for %g", name, is.Push, want.Push)
				}
				continue
			}
			read++
			rise := s.Temps[1] - s.Filament.Inlet
			here := 0.0
			for _, x := range [][3]float64{{is.Push, want.Push, want.Push}, {is.Pressure, want.Pressure, want.Pressure},
				{is.Heater, want.Heater, want.Heater}, {is.EntryCentre, want.EntryCentre, rise},
				{is.EntryBulk, want.EntryBulk, rise}, {is.ExitBulk, want.ExitBulk, rise}} {
				e := math.Abs(x[0]-x[1]) / x[2]
				mean, here = mean+e/6, math.Max(here, e)
			}
			if most = math.Max(most, here); here > match.ChartMiss {
				beyond++
			}
			if is.Stretches.Solid != want.Stretches.Solid || is.MeltsThrough != want.MeltsThrough &&
				math.Abs(want.EntryCentre-m.FlowPoint()) > match.ChartMiss*rise {
				t.Errorf("%s: at %g K and %g m3/s the stock is in another state", name, block, q)
			}
		}
		all += read
		if read > 0 && (most > 4*match.ChartMiss || beyond > 1 || mean/float64(read) > match.ChartMiss/10) {
			t.Errorf("%s: a miss of %.2g at most, beyond the bound %d times, %.2g in the mean of %d", name, most,
				beyond, mean/float64(read), read)
		}
	}
	if all < 1000 {
		t.Errorf("only %d of 1700 points were read", all)
	}
}

// bent is a load that is a straight line in the logarithms, with a kink at one flow; it can be read everywhere else.
type bent struct {
	c     *flow.Case
	kink  float64
	steep float64 // by how much the slope grows
}

func (s bent) Clone() flow.Solver { return s }
func (s bent) Name() string       { return "bent" }
func (s bent) Solve(block, q float64, r *flow.Solution) error {
	x := math.Log(q / s.kink)
	r.Block, r.Flow, r.Speed = block, q, q/s.c.Area()
	r.Push = 20 * math.Exp(0.4*x+s.steep*math.Max(0, x)-0.01*(block-500))
	r.Pressure, r.Heater, r.EntryCentre = r.Push*1e5, 5+q*1e9, block-10
	return nil
}

// A kink is not smoothed away: the flows of a chart crowd about it.
func TestChartKeepsAKink(t *testing.T) {
	s := casefile.Invented().Clone()
	v := bent{&s.Case, 7.3e-9, 0.5}
	chart := match.NewChart(&s.Case, v, s.Temps, s.Limits)
	var is, want flow.Solution
	for q := s.Limits.MinFlow; q < s.Limits.MaxFlow; q *= 1.013 {
		if err := errors.Join(chart.Solve(500, q, &is), v.Solve(500, q, &want)); err != nil {
			t.Fatal(err)
		}
		if e := math.Abs(is.Push/want.Push - 1); e > match.ChartMiss/2 {
			t.Errorf("%g m3/s: off by %.2g", q, e)
		}
	}
	if read, solved := chart.Read(); read < 20*solved {
		t.Errorf("%d read, %d solved", read, solved)
	}
}

// Outside of its table, and about a node without a solution, a chart solves.
func TestChartSolvesWhatItDoesNotHold(t *testing.T) {
	m, c := setup(flat(50), wide)
	v := fails{straight{c, 10, 2e9}, 13e-9, 18e-9}
	m.Limits.MinFlow, m.Limits.MaxFlow = 1e-9, 60e-9
	chart := match.NewChart(c, v, [2]float64{480, 520}, m.Limits)
	var d flow.Solution
	if err := chart.Solve(500, 15e-9, &d); !errors.Is(err, flow.ErrUnsolved) {
		t.Errorf("no solution there: %v, %g N", err, d.Push)
	}
	for _, x := range [][2]float64{{470, 10e-9}, {530, 10e-9}, {500, 0.5e-9}, {500, 70e-9}} {
		_, before := chart.Read()
		if err := chart.Solve(x[0], x[1], &d); err != nil {
			t.Fatal(err)
		}
		if _, after := chart.Read(); after != before+1 || math.Abs(d.Push-10-2e9*x[1]) > 1e-9 {
			t.Errorf("at %v, outside, it reads %g N", x, d.Push)
		}
	}
}
