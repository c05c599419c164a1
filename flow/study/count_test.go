package study

import (
	"testing"

	"meltload/flow/casefile"
)

// The statistics tell how many solutions an answer took, and how many points were read off a chart: together at least
// one for every point of the map, the curves and the scans, and most of them read.
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
		n, read := r.Stats.Solves, r.Stats.Read
		if least := g.Stats.Solves + 5*7 + 21*24; n+read < least || n > 600 || read < n {
			t.Errorf("%s: a run counts %d solutions and %d points read; at least %d are needed", solver, n, read, least)
		}
	}
}
