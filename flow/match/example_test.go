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
	if next, ok := r.Next(); ok {
		fmt.Printf("then %s at %.1f mm3/s\n", next.Limit, next.Flow/unit.MM3)
	}
	// Output:
	// 24.0 mm3/s, limited by unmelted core
	// then stall at 27.3 mm3/s
}
