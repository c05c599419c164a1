package plot_test

import (
	"fmt"

	"meltload/report/plot"
)

// A chart as the options that the page draws.
func Example() {
	o := plot.XY{X: "flow, mm3/s", Y: "push, N", AlsoY: &plot.Also{Unit: "kgf", By: 0.102}, Series: []plot.Series{{Name: "load", X: []float64{5, 20}, Y: []float64{13, 45}}}}.Options()
	fmt.Println(o["xAxis"] != nil, o["yAxis"] != nil, o["series"] != nil, o["also"] != nil)
	// Output: true true true true
}
