package match_test

import (
	"fmt"

	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/materials/unit"
)

// The highest usable flow of the built-in case and what limits it.
func Example() {
	c := casefile.Invented()
	r, err := c.Matcher(march.New(&c.Case, march.Options{})).Find(c.Block)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f mm3/s, limited by %s\n", r.Flow/unit.MM3, r.Binding)
	fmt.Printf("up to %.1f mm3/s melts through\n", r.MeltsThrough().Flow/unit.MM3)
	// Output:
	// 24.8 mm3/s, limited by stall
	// up to 12.0 mm3/s melts through
}
