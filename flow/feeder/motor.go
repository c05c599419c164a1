package feeder

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// Motor is a two-phase hybrid stepping motor on a chopper driver.
type Motor struct {
	Holding    float64 // N m, data sheet, both phases on at Rated
	Rated      float64 // A per phase
	Current    float64 // A per phase as set, peak of the sine: RMS times the root of two
	Resistance float64 // ohm per phase
	Inductance float64 // H per phase
	Supply     float64 // V
	Teeth      int     // rotor teeth, 50 for 1.8 deg a step
	// Usable is the share of pull-out torque that can be counted on: ripple, resonance and
	// microstepping take the rest. Common practice, no source.
	Usable float64
	// Curve, if not empty, is a data-sheet pull-out curve at rated current: {rev/s, N m} by rising
	// speed. It replaces the closed form; torque scales with current.
	Curve [][2]float64
}

// Flux returns the flux amplitude psi (V s): holding torque is sqrt2 p psi I with both phases on.
func (m *Motor) Flux() float64 {
	return m.Holding / (math.Sqrt2 * float64(m.Teeth) * m.Rated)
}

// PullOut returns the torque (N m) at which a two-phase hybrid motor on a fixed voltage
// amplitude V falls out of step at omega (rad/s, electrical):
//
//	T = p [V psi/Z - w psi^2 R/Z^2],  Z^2 = R^2 + (w L)^2
//
// Source: P. P. Acarnley, Stepping Motors (from memory), re-derived from the phasor power.
func PullOut(v, r, l, psi float64, teeth int, omega float64) float64 {
	z2 := r*r + omega*omega*l*l
	return float64(teeth) * (v*psi/math.Sqrt(z2) - omega*psi*psi*r/z2)
}

// Torque returns the usable torque (N m) at a shaft speed (rev/s): the lower of the
// current limit p psi I and the voltage limit, times Usable. Never negative.
func (m *Motor) Torque(rev float64) float64 {
	if len(m.Curve) > 0 {
		return m.Usable * m.curve(rev) * m.Current / m.Rated
	}
	psi := m.Flux()
	limit := float64(m.Teeth) * psi * m.Current
	omega := 2 * math.Pi * rev * float64(m.Teeth)
	return math.Max(0, m.Usable*math.Min(limit, PullOut(m.Supply, m.Resistance, m.Inductance, psi, m.Teeth, omega)))
}

func (m *Motor) curve(rev float64) float64 {
	n := len(m.Curve)
	if rev <= m.Curve[0][0] || n == 1 {
		return m.Curve[0][1]
	}
	if rev >= m.Curve[n-1][0] {
		return m.Curve[n-1][1]
	}
	x, y := make([]float64, n), make([]float64, n)
	for i, p := range m.Curve {
		x[i], y[i] = p[0], p[1]
	}
	var f interp.FritschButland
	if f.Fit(x, y) != nil {
		return m.Curve[0][1]
	}
	return f.Predict(rev)
}

// Heat returns the copper heat (W) of both phases: I^2 R of a sine of peak Current, twice
// half of it. It goes with the current squared: the mount decides the temperature.
func (m *Motor) Heat() float64 { return m.Current * m.Current * m.Resistance }

// Drive is the gearing between motor and filament.
type Drive struct {
	Ratio      float64 // motor turns per turn of the drive wheel
	Efficiency float64
	Diameter   float64 // m, effective: where the teeth carry
}

// Force returns the push (N) of a motor torque (N m): T ratio efficiency/(d/2), the ideal stall force
// for holding torque. Beware of rules off by the unit of force.
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
