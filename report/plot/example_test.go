package plot_test

import (
	"bytes"
	"fmt"

	"meltload/report/plot"
)

// One description of a chart, drawn as a figure; the second unit has an axis of its own.
func Example() {
	c := plot.XY{X: "flow, mm3/s", Y: "push, N", AlsoY: &plot.Also{Unit: "kgf", By: 0.102},
		Series: []plot.Series{{Name: "load", X: []float64{5, 20}, Y: []float64{13, 45}}}}
	var svg bytes.Buffer
	if err := plot.Write(&svg, c, "svg"); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(bytes.Contains(svg.Bytes(), []byte("push, N")), bytes.Contains(svg.Bytes(), []byte("kgf")),
		c.Keys()[0].Name)
	// Output: true true load
}
