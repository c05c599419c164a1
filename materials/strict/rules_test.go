package strict

import (
	"reflect"
	"strings"
	"testing"
)

// The remark of a line begins at a # outside of quotes; a backslash takes the next sign with it between double quotes
// only.
func TestRemarks(t *testing.T) {
	for line, want := range map[string]string{
		`a = 1 # one`: "# one", `a = "#" # two`: "# two", `a = '#' # three`: "# three", `a = "x\"#" # four`: "# four",
		`a = 'x\' # five`: "# five", `a = "it's" # six`: "# six", `a = 'say "#' # seven`: "# seven", `a = 1`: "",
		`a = "#`: "", `# all`: "# all", `a = "\\" # eight`: "# eight",
	} {
		if got := Remark(line); got != want {
			t.Errorf("%s: %q, want %q", line, got, want)
		}
	}
	for line, want := range map[string]bool{"a = 1 # assumed": true, "a = 1 #assumed, by analogy": true,
		"a = 1 # is assumed": false, `a = "assumed"`: false, "a = 1 ## assumed": true} {
		if Assumed(line) != want {
			t.Errorf("%s: assumed is %v", line, !want)
		}
	}
}

// A problem as it is read, part by part.
func TestProblemsAsTheyRead(t *testing.T) {
	for _, x := range []struct {
		p    Problem
		want string
	}{
		{Problem{File: "a.toml", Line: 3, Field: "k", Seen: "1", Allowed: "2", Advice: "do"},
			"a.toml:3: k: found 1; allowed: 2; do"},
		{Problem{File: "a.toml", Seen: "1", Allowed: "2"}, "a.toml: found 1; allowed: 2"},
		{Problem{Field: "k", Allowed: "2"}, "k: allowed: 2"}, {Problem{Field: "k", Seen: "1"}, "k: found 1"},
	} {
		if got := strings.TrimSpace(x.p.Error()); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
}

// Which tables fit a layer: a table for a record, tables for a list of records, nothing else.
func TestTablesFit(t *testing.T) {
	type record struct{ A float64 }
	type m = map[string]any
	for _, x := range []struct {
		v    any
		t    reflect.Type
		want bool
	}{
		{m{}, reflect.TypeFor[record](), true}, {m{}, reflect.TypeFor[*record](), true},
		{1.0, reflect.TypeFor[record](), false}, {[]any{m{}}, reflect.TypeFor[record](), false},
		{[]any{m{}, m{}}, reflect.TypeFor[[]record](), true}, {[]any{m{}, 1.0}, reflect.TypeFor[[]record](), false},
		{[]any{}, reflect.TypeFor[[]record](), true}, {m{}, reflect.TypeFor[[]record](), false},
		{[]any{1.0}, reflect.TypeFor[[]float64](), false}, {1.0, reflect.TypeFor[float64](), false},
	} {
		if got := tables(reflect.ValueOf(&x.v).Elem(), x.t); got != x.want {
			t.Errorf("%v for %v: %v", x.v, x.t, got)
		}
	}
}

// Two edits away at most, or a third of a long name, or the same name with another unit; the nearest of several.
func TestNearestByValue(t *testing.T) {
	names := []string{"length_mm", "diameter_mm", "pla", "contact_W_m2K", "polyoxymethylene"}
	for s, want := range map[string]string{"length_m": "length_mm", "length_in": "length_mm", "length": "length_mm",
		"diametre_mm": "diameter_mm", "pal": "pla", "abs": "", "xyz_K": "", "LENGTH_MM": "length_mm",
		"contact_kW_m2K": "contact_W_m2K", "polyoxymethyle": "polyoxymethylene", "polyoxymeth": "polyoxymethylene",
		"polyoxymet": "", "plabc": "pla", "plabcd": ""} {
		if got := Nearest(s, names); got != want {
			t.Errorf("%s: %q, want %q", s, got, want)
		}
	}
	for _, x := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"abc", "abc", 0}, {"abc", "acb", 1}, {"abc", "ab", 1}, {"abc", "abcd", 1}, {"abc", "axc", 1},
		{"kitten", "sitting", 3}, {"", "abc", 3}, {"ab", "ba", 1}} {
		if got := edits(x.a, x.b); got != x.want {
			t.Errorf("%s to %s: %d edits, want %d", x.a, x.b, got, x.want)
		}
	}
}

// Too deep a key is told with its own line.
func TestTooDeepAKeyHasItsLine(t *testing.T) {
	deep := strings.Repeat("a.", MaxDepth) + "a = 1\n"
	for n := range 3 {
		var x struct{}
		_, ps := Decode("x.toml", []byte(strings.Repeat("\n", n)+deep), &x)
		if len(ps) != 1 || ps[0].Line != n+1 {
			t.Errorf("after %d lines: %v", n, ps)
		}
	}
}
