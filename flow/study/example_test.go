package study_test

import (
	"fmt"

	"meltload/flow/casefile"
	"meltload/flow/study"
)

// The verdict of the built-in case, and how much of each limit is used at the wanted flow.
func Example() {
	c := casefile.Invented()
	r, err := study.Glance(c, study.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Sentence)
	for _, u := range r.Uses {
		fmt.Printf("%s: %.0f %%\n", u.Of, 100*u.Share)
	}
	// Output:
	// At 215 degC the highest usable flow is 24.0 mm3/s (9.96 mm/s of filament), limited by unmelted core. The wanted flow of 10 mm3/s is held with a margin of 140 %. The next limit is stall at 27.3 mm3/s.
	// stall: 37 %
	// unmelted core: 54 %
	// heater power: 27 %
}
