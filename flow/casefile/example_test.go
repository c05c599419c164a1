package casefile_test

import (
	"fmt"

	"meltload/flow/casefile"
)

// Everything that is wrong with a case file comes in one run.
func Example() {
	_, problems := casefile.Parse("mine.toml", []byte(`[filament]
material = "plaa"
diameter_mm = -1.75
[hot_end]
block_degC = 215
[feeder]
`))
	for _, p := range problems {
		fmt.Printf("line %d, %s: found %s; %s\n", p.Line, p.Field, p.Seen, p.Advice)
	}
	// Output:
	// line 2, filament.material: found "plaa"; did you mean "pla"?
	// line 3, filament.diameter_mm: found -1.75; change the value; the unit is mm
	// line 4, hot_end.section: found nothing; add the table
}
