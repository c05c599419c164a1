package report

import (
	"strings"
	"testing"

	"meltload/flow/quantity"
	"meltload/flow/study"
)

// One pair with a mass is no winner; of two the one with the most force for its mass is.
func TestAWinnerByMassNeedsAnother(t *testing.T) {
	entry := func(pair string, mass, per float64) study.Entry {
		return study.Entry{Pair: pair, Mass: quantity.Known(mass), ForceG: quantity.Known(per),
			PerMass: quantity.Known(per)}
	}
	r := &study.Ranking{Entries: []study.Entry{entry("a", 0.1, 20), {Pair: "b"}}}
	for _, b := range massBlocks(r) {
		if strings.Contains(b.Title, "Most") || !strings.Contains(b.Title, "only pair") {
			t.Errorf("of one pair with a mass: %s", b.Title)
		}
	}
	r.Entries = append(r.Entries, entry("c", 0.1, 30))
	for _, b := range massBlocks(r) {
		if !strings.HasPrefix(b.Title, "Most") || !strings.Contains(b.Title, ": c, ") {
			t.Errorf("of two pairs with a mass: %s", b.Title)
		}
	}
}

// The title over the unknowns of a mould agrees with the range: one that is short at an end does not say that nothing
// changes whether it fills.
func TestDoubtsOfAMouldFollowItsRange(t *testing.T) {
	row := func(full bool) study.MouldGain { return study.MouldGain{Filled: full, Share: quantity.Known(0.6)} }
	for _, x := range []struct {
		ends, doubt bool
		want        string
	}{{true, true, "Nothing that is not known"}, {false, true, "No single unknown"}, {false, false, "depends on"}} {
		r := &study.MouldResult{Filled: true, Ends: []study.MouldGain{row(true), row(x.ends)},
			Doubts: []study.MouldGain{row(true), row(x.doubt)}}
		if b := doubts(r); !strings.Contains(b.Title, x.want) {
			t.Errorf("end full %v, doubt full %v: %s", x.ends, x.doubt, b.Title)
		}
	}
}

// The bars and their caption agree: a limit that only warns is marked, and the caption says that it does not count.
func TestLimitsThatOnlyWarnAreMarked(t *testing.T) {
	r := &study.Result{Verdict: study.Verdict{Limit: "stall"}, Bounds: []study.Bound{
		{Limit: "unmelted core", Flow: 12e-9, Warns: true}, {Limit: "stall", Flow: 24e-9},
		{Limit: "heater power", Flow: 40e-9, Open: true}}}
	b := limitBlock(r)
	for i, want := range []string{"12.0 mm³/s, warns only", "24.0 mm³/s", "beyond 40.0 mm³/s"} {
		if b.Bars[i].Value != want {
			t.Errorf("bar %d: %q, want %q", i, b.Bars[i].Value, want)
		}
	}
	if b.Title != "Stall is the first limit that counts" || !strings.Contains(b.How, "does not count") {
		t.Errorf("%s; %s", b.Title, b.How)
	}
	r.Bounds = r.Bounds[1:]
	if b := limitBlock(r); b.Title != "Stall is the first limit" || strings.Contains(b.How, "warns only") {
		t.Errorf("%s; %s", b.Title, b.How)
	}
}
