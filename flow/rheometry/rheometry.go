package rheometry

import (
	"math"

	"meltload/flow/duct"
	"meltload/materials"
	"meltload/materials/unit"
)

// Indexer is the melt flow rate apparatus. The standard one is ISO1133.
type Indexer struct {
	Die, Length, Piston float64 // m
}

// ISO1133 is the standard die and the barrel bore on which the melt presses.
// Die 2.095 x 8.000 mm, barrel 9.5504 mm (ISO 1133-1, dimensions from memory).
var ISO1133 = Indexer{Die: 2.095e-3, Length: 8e-3, Piston: 9.5504e-3}

// Pressure returns the pressure (Pa) under a load (kg): its weight on the area of the piston.
func (x Indexer) Pressure(load float64) float64 {
	return load * unit.Gravity / (math.Pi * x.Piston * x.Piston / 4)
}

// WallStress returns the die wall stress (Pa) with the entrance loss
// neglected. L/D is only 3.8, so this is an upper figure and a computed melt
// flow rate is some 10 to 40 % too high (estimate).
func (x Indexer) WallStress(load float64) float64 {
	return x.Pressure(load) * x.Die / (4 * x.Length)
}

// VolumeRate returns the melt volume rate (m3/s) of a law at T (K) under a load (kg): the flow of a tube at WallStress,
// some 10 to 40 % too high for want of the entrance loss. ISO 1133-1 (from memory).
func (x Indexer) VolumeRate(v *materials.Viscosity, T, load float64) float64 {
	return duct.At(v, T, 0).TubeFlow(x.WallStress(load), x.Die/2)
}

// MFR returns the melt flow rate (g/10 min) of a material at T (K) under a load (kg): VolumeRate times the density of
// the melt.
func (x Indexer) MFR(m *materials.Material, T, load float64) float64 {
	return x.VolumeRate(&m.Viscosity, T, load) / m.Density.Volume(T, 0) * 600 * 1000
}

// ScaleToMFR returns the law with eta0 multiplied by the ratio of the computed
// melt flow rate to the data sheet's (g/10 min), so that both agree. Exact for laws with a
// constant stress scale: at fixed stress the rate is inversely proportional to eta0.
func (x Indexer) ScaleToMFR(m *materials.Material, T, load, sheet float64) (v materials.Viscosity, factor float64) {
	// The solid cap does not scale; a second pass would change the factor by less than eta0/cap.
	factor = x.MFR(m, T, load) / sheet
	return m.Viscosity.Scaled(factor), factor
}
