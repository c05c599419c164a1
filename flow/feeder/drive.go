package feeder

import "math"

// Drive is the gearing between motor and filament.
type Drive struct {
	Ratio      float64 // motor turns per turn of the drive wheel
	Efficiency float64
	Diameter   float64 // m, effective: where the teeth carry
}

// Force returns the push (N) of a motor torque (N m): T ratio efficiency/(d/2), the stall force for the pull-out
// torque. Slip and grip are not in it.
func (d Drive) Force(torque float64) float64 {
	return torque * d.Ratio * d.Efficiency / (d.Diameter / 2)
}

// Rev returns the motor speed (rev/s) at a filament speed (m/s).
func (d Drive) Rev(v float64) float64 { return v / (math.Pi * d.Diameter) * d.Ratio }

// FeedPerTurn returns the filament (m) of one motor turn.
func (d Drive) FeedPerTurn() float64 { return math.Pi * d.Diameter / d.Ratio }

// WormEfficiency returns the efficiency of a worm set driving the wheel and driven by it, for lead
// angle and normal pressure angle (rad) and friction f:
//
//	forward (cos phi - f tan lam)/(cos phi + f cot lam),  back (cos phi - f cot lam)/(cos phi + f tan lam)
//
// Back at or below zero means self-locking. Source: J. Carvill, Mechanical
// Engineer's Data Handbook, p. 99.
func WormEfficiency(lead, phi, f float64) (forward, back float64) {
	t, c := math.Tan(lead), math.Cos(phi)
	return (c - f*t) / (c + f/t), (c - f/t) / (c + f*t)
}
