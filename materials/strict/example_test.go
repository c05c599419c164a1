package strict_test

import (
	"fmt"

	"meltload/materials/strict"
)

// A value out of range and a key that is misspelt, both told at once.
func Example() {
	var f struct {
		Bore float64 `toml:"bore_mm" above:"0" max:"2" unit:"mm" need:"yes"`
		Kind string  `toml:"kind" enum:"tube cone"`
	}
	_, problems := strict.Decode("x.toml", []byte("bore_mm = 40\nkidn = \"tube\"\n"), &f)
	for _, p := range problems {
		fmt.Println(p.Error())
	}
	// Output:
	// x.toml:1: bore_mm: found 40; allowed: more than 0, at most 2 mm; change the value; the unit is mm
	// x.toml:2: kidn: found an unknown key; allowed: bore_mm, kind at the top level; did you mean "kind"?
}
