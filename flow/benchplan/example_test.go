package benchplan_test

import (
	"context"
	"fmt"

	"meltload/flow/benchplan"
	"meltload/flow/casefile"
)

// A plan for three levels of force at two speeds.
func Example() {
	c := casefile.Invented()
	p, err := benchplan.New(context.Background(), &c.Setup, benchplan.Wish{Low: 15, High: 40, Levels: 3})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d runs, %d of each, %.1f m of filament\n", len(p.Runs), p.Repeats, p.Filament)
	for _, s := range p.Spans {
		fmt.Printf("%.0f mm3/s: %.0f to %.0f N\n", s.Flow*1e9, s.Least, s.Most)
	}
	// Output:
	// 20 runs, 4 of each, 2.0 m of filament
	// 5 mm3/s: 17 to 34 N
	// 20 mm3/s: 40 to 66 N
}
