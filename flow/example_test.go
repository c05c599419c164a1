package flow_test

import (
	"fmt"
	"math"

	"meltload/flow"
)

// A guide tube with bends of a quarter turn in all and a spool that drags with 2 N adds to the load of the hot end: 40
// N there are what at the feeder?
func ExamplePath_Force() {
	p := flow.Path{Drag: 2, Bend: math.Pi / 2, Friction: 0.15}
	fmt.Printf("%.1f N at the feeder\n", p.Force(40))
	fmt.Printf("%.1f N of it arrive\n", p.Inverse(p.Force(40)))
	// Output:
	// 53.2 N at the feeder
	// 40.0 N of it arrive
}
