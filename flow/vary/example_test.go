package vary_test

import (
	"fmt"

	"meltload/flow/casefile"
	"meltload/flow/vary"
)

// A quantity by its key: its value, how well it is known, a copy of the set-up with another value, and what goes into
// the case file.
func Example() {
	s := &casefile.Invented().Setup
	q, _ := vary.Find(s, "hot_end.heated_share")
	band := q.Band(s)
	fmt.Println(q.Label, q.Text(q.Get(s)), "from", q.Text(band.Low), "to", q.Text(band.High))
	longer, _ := q.With(s, 0.9)
	fmt.Println(q.Edits(longer)[0])
	// Output:
	// heated share of the barrel 0.75 from 0.5 to 1
	// {hot_end.heated_share 0.9 false}
}
