package transient_test

import (
	"context"
	"fmt"

	"meltload/flow/casefile"
	"meltload/flow/transient"
	"meltload/materials/unit"
)

// A run of the built-in case with the heater switched off: when the feeder gives way.
func Example() {
	c := casefile.Invented()
	r := transient.Run{Case: &c.Case, Feeder: c.Feeder, Block: c.Block, Stop: true, Phases: []transient.Phase{
		{Name: "feed", Duration: 20, Flow: 5 * unit.MM3},
		{Name: "heater off", Duration: 600, Flow: 5 * unit.MM3, Heating: transient.Off},
	}}
	t, err := r.Play(context.Background())
	if err != nil || t.Failure == nil {
		fmt.Println("held", err)
		return
	}
	fmt.Printf("%s after %.0f s at %.0f degC\n", t.Failure.Cause, t.Failure.Time, unit.Celsius(t.Failure.Block))
	// Output: grind after 136 s at 144 degC
}
