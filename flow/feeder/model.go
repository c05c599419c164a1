package feeder

import (
	"math"

	"meltload/materials"
)

// Grip is the gear's hold on the filament: the teeth shear out.
type Grip struct {
	Area    float64 // m2, filament area engaged per driven wheel
	Wheels  int     // driven wheels that carry
	Tension float64 // share of the full engagement that the idler tension gives, 0 to 1
}

// Force returns the force (N) at which the filament is ground: area, wheels and
// tension times the shear strength (Pa).
func (g Grip) Force(strength float64) float64 {
	return g.Area * float64(g.Wheels) * g.Tension * strength
}

// Gap is the unsupported filament between drive and guide.
type Gap struct {
	Length float64 // m
	K      float64 // effective-length factor
}

// Model is a feeder on paper. Parts that are nil are not counted.
type Model struct {
	Motor    *Motor
	Drive    Drive
	Grip     *Grip
	Gap      *Gap
	Diameter float64             // m, filament
	Stock    float64             // K, temperature of the filament in the feeder
	Material *materials.Material // strength and modulus
}

// Parts returns the force (N) of each part at a filament speed (m/s), +Inf for parts not modelled.
func (m *Model) Parts(v float64) (grip, stall, column float64) {
	grip, stall, column = math.Inf(1), math.Inf(1), math.Inf(1)
	if m.Grip != nil {
		grip = m.Grip.Force(m.Material.ShearStrength(m.Stock))
	}
	if m.Motor != nil {
		stall = m.Drive.Force(m.Motor.Torque(m.Drive.Rev(v)))
	}
	if m.Gap != nil {
		column = Rod(m.Diameter, m.Gap.Length, m.Gap.K, m.Material.Modulus.At(m.Stock), m.Material.Compressive.At(m.Stock))
	}
	return grip, stall, column
}

// modelSpread is the relative standard deviation put on a modelled force: grip area, usable torque and
// effective diameter are each known to some 15 per cent (assumed).
const modelSpread = 0.2

// At returns the lowest part.
func (m *Model) At(v float64) Capability {
	grip, stall, column := m.Parts(v)
	c := Capability{Force: grip, Cause: Grind}
	if stall < c.Force {
		c.Force, c.Cause = stall, Skip
	}
	if column < c.Force {
		c.Force, c.Cause = column, Buckle
	}
	c.SD = modelSpread * c.Force
	return c
}
