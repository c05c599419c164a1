package study

import (
	"testing"

	"meltload/flow/casefile"
)

// The statistics tell how many solutions an answer took: at least one for every point of the map, the curves and the
// scans.
func TestSolvesAreCounted(t *testing.T) {
	c := casefile.Invented()
	for _, solver := range Solvers {
		opt := Options{Solver: solver, Curve: 10, MapTemps: 5, MapFlows: 7}
		g, err := Glance(&c.Setup, opt)
		if err != nil {
			t.Fatal(err)
		}
		if least := 24 + 10; g.Stats.Solves < least || g.Stats.Solves > 500 {
			t.Errorf("%s: a glance counts %d solutions; at least %d are needed", solver, g.Stats.Solves, least)
		}
		r, err := Run(&c.Setup, opt)
		if err != nil {
			t.Fatal(err)
		}
		if least := g.Stats.Solves + 5*7 + 21*24; r.Stats.Solves < least || r.Stats.Solves > 5000 {
			t.Errorf("%s: a run counts %d solutions; at least %d are needed", solver, r.Stats.Solves, least)
		}
	}
}
