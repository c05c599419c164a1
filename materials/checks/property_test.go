package checks

import (
	"flag"
	"testing"

	"pgregory.net/rapid"
)

// A property is held as often as is said, a fifth of it with -short, and the settings are as before afterwards.
func TestPropertyRunsAsOftenAsIsSaid(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	shrink := flag.Lookup("rapid.shrinktime").Value.String() // it may be given from outside
	before := checks.Value.String()
	if before != "100" {
		t.Skip("the number of checks is given from outside")
	}
	n := 0
	Property(t, 35, func(t *rapid.T) {
		rapid.Bool().Draw(t, "any")
		n++
	})
	want := 35
	if testing.Short() {
		want = 7
	}
	if n != want {
		t.Errorf("%d checks", n)
	}
	if now := checks.Value.String(); now != before {
		t.Errorf("%s checks after it, %s before", now, before)
	}
	if s := flag.Lookup("rapid.shrinktime").Value.String(); s != shrink {
		t.Errorf("shrink time %s after it, %s before", s, shrink)
	}
}
