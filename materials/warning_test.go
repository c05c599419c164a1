package materials

import (
	"fmt"
	"testing"
)

// Who has a warning is said where not all have it: by name where they are few, and once each.
func TestTogetherNamesTheBearers(t *testing.T) {
	w := func(code, text string) Warning { return Warning{Code: code, Message: text} }
	got := Together([]Bearer{
		{Name: "a", Warnings: []Warning{w("all", "x"), w("two", "core at 120"), w("two", "core at 120")}},
		{Name: "b", Warnings: []Warning{w("all", "x"), w("one", "y")}},
		{Name: "c", Warnings: []Warning{w("all", "x"), w("two", "core at 130")}},
	}, "runs")
	want := []Warning{w("all", "x"), w("two", "in 2 of 3 runs (a; c), at the first of them: core at 120"),
		w("one", "in 1 of 3 runs (b): y")}
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%q, want %q", got[i], want[i])
		}
	}
	twice := []Bearer{{Name: "a", Warnings: []Warning{w("k", "1"), w("k", "2")}}, {Name: "b"}}
	if got := Together(twice, "runs"); len(got) != 1 || got[0].Message != "in 1 of 2 runs (a): 1" {
		t.Errorf("one bearer with two remarks of a kind: %v", got)
	}
	if got := Together(nil, "runs"); got != nil {
		t.Errorf("none at all: %v", got)
	}
	if one := Together([]Bearer{{Name: "a", Warnings: []Warning{w("s", "1"), w("s", "2"), w("s", "1")}}}, "runs"); len(
		one) != 2 || one[0].Message != "1" || one[1].Message != "2" {
		t.Errorf("a single bearer: %v", one)
	}
}

// Seven bearers are too many to name, six are not; words that differ are those of the first; a warning that all have
// names nobody.
func TestTogetherByNumber(t *testing.T) {
	for _, x := range []struct {
		have, of int
		alike    bool
		want     string
	}{
		{1, 2, true, "in 1 of 2 runs (a): x0"},
		{6, 7, true, "in 6 of 7 runs (a; b; c; d; e; f): x0"},
		{6, 7, false, "in 6 of 7 runs (a; b; c; d; e; f), at the first of them: x0"},
		{7, 8, true, "in 7 of 8 runs: x0"},
		{7, 8, false, "in 7 of 8 runs, such as a: x0"},
		{3, 3, true, "x0"},
		{3, 3, false, "in 3 of 3 runs, such as a: x0"},
	} {
		var all []Bearer
		for i := range x.of {
			b := Bearer{Name: string(rune('a' + i))}
			if i < x.have {
				w := Warning{"k", "x0"}
				if !x.alike {
					w.Message = fmt.Sprintf("x%d", i)
				}
				b.Warnings = []Warning{w}
			}
			all = append(all, b)
		}
		if got := Together(all, "runs"); len(got) != 1 || got[0].Message != x.want || got[0].Code != "k" {
			t.Errorf("%d of %d: %v, want %q", x.have, x.of, got, x.want)
		}
	}
}
