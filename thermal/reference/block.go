package reference

import (
	"meltload/thermal"
)

// TwoNode is a block with a nozzle hung on it: the nozzle is heated only
// through the joint.
type TwoNode struct {
	thermal.Block
	NozzleCapacity float64 // J/K
	NozzleLoss     float64 // W/K
	Joint          float64 // W/K between block and nozzle
}

// Rates returns dT/dt (K/s) of block and nozzle at their temperatures, for
// heater power p and polymer draws qb and qn (W).
func (n TwoNode) Rates(tb, tn, p, qb, qn float64) (dtb, dtn float64) {
	j := n.Joint * (tb - tn)
	dtb = (p - qb - j - n.Loss*(tb-n.Ambient)) / n.Capacity
	dtn = (j - qn - n.NozzleLoss*(tn-n.Ambient)) / n.NozzleCapacity
	return dtb, dtn
}

// SteadyNozzle returns the nozzle temperature (K) under a block held at tb with a polymer draw qn (W).
func (n TwoNode) SteadyNozzle(tb, qn float64) float64 {
	return (n.Joint*tb + n.NozzleLoss*n.Ambient - qn) / (n.Joint + n.NozzleLoss)
}

// HeaterFlow returns the volume flow (m3/s, of the density given) that a power (W) can bring
// through the specific enthalpy rise dh (J/kg): Q = P/(rho dh).
func HeaterFlow(power, rho, dh float64) float64 { return power / (rho * dh) }
