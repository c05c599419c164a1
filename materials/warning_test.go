package materials

import "testing"

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
	if one := Together([]Bearer{{Name: "a", Warnings: []Warning{w("s", "1"), w("s", "2"), w("s", "1")}}}, "runs"); len(
		one) != 2 || one[0].Message != "1" || one[1].Message != "2" {
		t.Errorf("a single bearer: %v", one)
	}
}
