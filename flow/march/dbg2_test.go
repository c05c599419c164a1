package march_test

import (
	"fmt"
	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"testing"
)

func gr(name string, f func(c *flow.Case)) {
	fmt.Printf("%-34s", name)
	for _, r := range flowtest.Table("stock", "flow_growth.csv") {
		c, T, q, ref := flowtest.Growth(r)
		f(c)
		s := march.New(c, march.Options{})
		var a, b flow.Solution
		s.Solve(T, q, &a)
		s.Solve(T, ref, &b)
		fmt.Printf(" %.2f(%s) %.1f/%.1f", a.Force/b.Force, r["ratio"], a.Force, b.Force)
	}
	fmt.Println()
}
func TestDbg2(t *testing.T) {
	gr("base", func(c *flow.Case) {})
 for _,x:=range [][2]float64{{1.18,72e3},{1.18,63e3},{1.18,50e3},{1,50e3},{1.85,50e3}} { gr(fmt.Sprint(x),func(c *flow.Case){c.Material.Viscosity.Eta0=8.52e16*x[0];c.Material.Viscosity.Tau=x[1]}) }
 x:=[2]float64{1.18,63e3}
 gr("tip0",func(c *flow.Case){c.HotEnd.TipDrop=0;c.Material.Viscosity.Eta0=8.52e16*x[0];c.Material.Viscosity.Tau=x[1]})
 gr("h 3000",func(c *flow.Case){for i:=range c.HotEnd.Sections{c.HotEnd.Sections[i].H=3000};c.Material.Viscosity.Eta0=8.52e16*x[0];c.Material.Viscosity.Tau=x[1]})
}
