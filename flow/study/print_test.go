package study_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/study"
)

// Print speeds of a verdict are its flows over layer height times line width, in table, numbers and sentence.
func TestPrintSpeedOfAVerdict(t *testing.T) {
	c := casefile.Invented()
	r, err := study.Assess(context.Background(), &c.Setup, study.AssessOptions{Samples: 16})
	if err != nil {
		t.Fatal(err)
	}
	p := r.Verdict.Printed
	near := func(what string, got, want float64) {
		if math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%s is %g, want %g", what, got, want)
		}
	}
	near("layer", p.Layer, 0.2e-3)
	near("line", p.Width, 0.45e-3)
	near("speed", p.Speed, r.Verdict.Flow/0.09e-6)
	near("wanted speed", *p.Wanted, 10e-9/0.09e-6)
	for _, b := range r.Bounds {
		near("speed at "+b.Limit, *b.Speed, b.Flow/0.09e-6)
	}
	if !p.Assumed || !strings.Contains(r.Sentence, "in lines of 0.2 x 0.45 mm (assumed for a 0.4 mm nozzle): ") ||
		!strings.Contains(r.Sentence, "mm/s, wanted 111 mm/s.") {
		t.Errorf("assumed %v: %s", p.Assumed, r.Sentence)
	}
	c.Line.Height, c.Line.Width = 0.3e-3, 0.5e-3
	r, err = study.Glance(&c.Setup, study.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p = r.Verdict.Printed
	near("speed of a given line", p.Speed, r.Verdict.Flow/0.15e-6)
	if p.Assumed || !strings.Contains(r.Sentence, "in lines of 0.3 x 0.5 mm: ") {
		t.Errorf("given line: assumed %v: %s", p.Assumed, r.Sentence)
	}
}
