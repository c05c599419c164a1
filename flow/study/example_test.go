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
	// At 215 degC the highest usable flow is 36.2 mm3/s (15.0 mm/s of filament), limited by stall. The wanted flow of 10 mm3/s is held with a margin of 262 %. No other limit lies within the search. Melts through: up to 25.8 mm3/s; above it the core reaches the cone unmelted.
	// stall: 32 %
	// unmelted core: 52 %
	// heater power: 27 %
}
