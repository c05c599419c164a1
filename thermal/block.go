package thermal

import "math"

// Block is the energy balance of a heater block, C dT/dt = P - L (T - Ta) - q,
// with P the heater power, L the loss coefficient and q the heat taken by the polymer.
// One lumped node: valid while the block is nearly uniform (Biot number of the metal below 0.1).
type Block struct {
	Capacity float64 // J/K
	Loss     float64 // W/K to the surroundings
	Ambient  float64 // K
	Power    float64 // W, heater rating
}

// Steady returns the temperature (K) that a constant power p (W) holds against a polymer draw q (W): Ta + (p - q)/L.
// Loss must be above 0.
func (b Block) Steady(p, q float64) float64 { return b.Ambient + (p-q)/b.Loss }

// After returns the temperature (K) t seconds after T0 (K) at constant power p (W) and polymer draw q (W),
//
//	T = S + (T0 - S) exp(-t L/C),  S of Steady
//
// Loss and Capacity must be above 0.
func (b Block) After(T0, p, q, t float64) float64 {
	s := b.Steady(p, q)
	return s + (T0-s)*math.Exp(-t*b.Loss/b.Capacity)
}

// WarmUp returns the time (s) at full power, nothing drawn, to go from T0 to T (K): (C/L) ln((S - T0)/(S - T)) with S
// of Steady; +Inf if the heater cannot reach it.
func (b Block) WarmUp(T0, T float64) float64 {
	s := b.Steady(b.Power, 0)
	if T >= s {
		return math.Inf(1)
	}
	return b.Capacity / b.Loss * math.Log((s-T0)/(s-T))
}

// PowerFor returns the electrical power (W) to hold T (K) while the polymer takes q (W): L (T - Ta) + q.
func (b Block) PowerFor(T, q float64) float64 { return b.Loss*(T-b.Ambient) + q }

// Available returns the power (W) left for the polymer at T (K): the heater's less L (T - Ta); negative where the block
// cannot be held.
func (b Block) Available(T float64) float64 { return b.Power - b.Loss*(T-b.Ambient) }
