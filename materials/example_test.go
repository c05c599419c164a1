package materials_test

import (
	"fmt"

	"meltload/materials"
)

// The viscosity of PLA at 210 degC and two shear rates, and the inverse.
func Example() {
	pla, err := materials.Get("pla")
	if err != nil {
		fmt.Println(err)
		return
	}
	T := 210 + 273.15
	eta := pla.Viscosity.Eta(1000, T, 0)
	fmt.Printf("%.0f Pa s at 100 1/s\n", pla.Viscosity.Eta(100, T, 0))
	fmt.Printf("%.0f Pa s at 1000 1/s\n", eta)
	fmt.Printf("%.0f 1/s at that stress\n", pla.Viscosity.Rate(eta*1000, T, 0))
	// Output:
	// 847 Pa s at 100 1/s
	// 253 Pa s at 1000 1/s
	// 1000 1/s at that stress
}
