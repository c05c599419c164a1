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
		fmt.Println(p.Error())
	}
	// Output:
	// mine.toml:2: filament.material: found "plaa"; allowed: abs, asa, hdpe, hips, ldpe, pa12, pa6, pa66, pc, peek,
	// petg, pla, pmma, pom, pp, ps, tpu; did you mean "pla"? mine.toml:3: filament.diameter_mm: found -1.75; allowed: 1
	// to 5 mm; change the value; the unit is mm mine.toml:4: hot_end.section: found nothing; allowed: at least one
	// [[hot_end.section]]; add the table
}
