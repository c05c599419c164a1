package quantity_test

import (
	"fmt"

	"meltload/flow/quantity"
)

// A result holds SI; the table gives it names, units and digits.
func Example() {
	type point struct {
		Block  float64  `q:"block"`
		Push   float64  `q:"push"`
		Flow   float64  `q:"usable_flow"`
		Target *float64 `q:"target_flow"`
	}
	p := point{Block: 488.15, Push: 34.2, Flow: 24e-9}
	text, err := quantity.JSON(p)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(string(text))
	fmt.Println(quantity.Both("push", p.Push, 0), "at", quantity.Text("block", p.Block))
	// Output:
	// {"block_degC":215,"push_N":34.2,"usable_flow_mm3_s":24,"target_flow_mm3_s":null}
	// 34.20 N (3.487 kgf) at 215.0 degC
}
