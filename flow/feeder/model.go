package feeder

import (
	"fmt"
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

// prepared returns a copy with the motor's curve fitted.
func (m *Model) prepared() *Model {
	out := *m
	if m.Motor != nil && len(m.Motor.Curve) > 1 && len(m.Motor.Problems()) == 0 {
		mot := *m.Motor
		mot.fitted = mot.fit()
		out.Motor = &mot
	}
	return &out
}

// Problems lists what keeps the model from being computed.
func (m *Model) Problems() []string {
	var out []string
	positive := func(what string, x float64) {
		if !(x > 0) || math.IsInf(x, 0) {
			out = append(out, fmt.Sprintf("feeder: %s %g; more than 0 is needed", what, x))
		}
	}
	if m.Motor != nil {
		out = append(out, m.Motor.Problems()...)
		positive("gear ratio", m.Drive.Ratio)
		positive("effective diameter of the drive wheel (m)", m.Drive.Diameter)
		if !(m.Drive.Efficiency > 0 && m.Drive.Efficiency <= 1) {
			out = append(out, fmt.Sprintf("feeder: efficiency of the gearing %g; more than 0, up to 1",
				m.Drive.Efficiency))
		}
	}
	if m.Grip != nil {
		positive("grip area (m2)", m.Grip.Area)
		positive("driven wheels", float64(m.Grip.Wheels))
		if !(m.Grip.Tension > 0 && m.Grip.Tension <= 1) {
			out = append(out, fmt.Sprintf("feeder: idler tension %g; more than 0, up to 1", m.Grip.Tension))
		}
	}
	if m.Gap != nil {
		positive("unsupported length (m)", m.Gap.Length)
		positive("effective-length factor", m.Gap.K)
	}
	if m.Grip != nil || m.Gap != nil {
		positive("filament diameter (m)", m.Diameter)
		positive("filament temperature (K)", m.Stock)
		if m.Material == nil {
			out = append(out, "feeder: grip and column need a material")
		}
	}
	return out
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
		column = m.Gap.Collapse(m.Diameter, m.Material, m.Stock)
	}
	return grip, stall, column
}

// modelSpread is the relative standard deviation put on a modelled force: grip area, usable torque and
// effective diameter are each known to some 15 per cent (assumed).
const modelSpread = 0.2

// At returns the lowest of the parts at a filament speed (m/s), with the cause of its failure.
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
