package reference

import "math"

// Euler returns the buckling force (N) of a round rod of diameter d (m), modulus E (Pa), free
// length (m) and effective-length factor K: pi^2 E I/(K L)^2.
func Euler(d, modulus, length, k float64) float64 {
	i := math.Pi * math.Pow(d, 4) / 64
	return math.Pi * math.Pi * modulus * i / (k * k * length * length)
}

// Secant returns the greatest stress (Pa) in a column loaded by p (N) with the eccentricity
// ratio e c/r^2: (p/A)[1 + ratio sec((L/2r) sqrt(p/(A E)))].
func Secant(area, gyration, effective, modulus, ratio, p float64) float64 {
	return p / area * (1 + ratio/math.Cos(effective/(2*gyration)*math.Sqrt(p/(area*modulus))))
}

// RiseTime returns the time (s) for the current to reach i against R and L:
// -(L/R) ln(1 - i R/V); +Inf if the supply cannot drive it.
func RiseTime(v, r, l, i float64) float64 {
	if i*r >= v {
		return math.Inf(1)
	}
	return -l / r * math.Log1p(-i*r/v)
}

// StaticAngle returns the rotor's lag (rad) under a torque, holding torque and teeth given: asin(T/T_hold)/p.
func StaticAngle(torque, holding float64, teeth int) float64 {
	return math.Asin(torque/holding) / float64(teeth)
}

// SpurEfficiency returns the efficiency of meshes in series.
func SpurEfficiency(perMesh float64, meshes int) float64 { return math.Pow(perMesh, float64(meshes)) }

// Worm is the geometry of a worm set in one unit of length: diametral pitch, threads, worm
// pitch diameter and wheel teeth. Source: R. L. Mott, Machine Elements in Mechanical Design, worked example.
type Worm struct {
	Threads   int
	Pitch     float64 // teeth per unit of wheel diameter
	Diameter  float64
	GearTeeth int
}

// Geometry returns lead, lead angle (rad), wheel diameter, centre distance and ratio.
func (w Worm) Geometry() (lead, angle, wheel, centre, ratio float64) {
	lead = float64(w.Threads) * math.Pi / w.Pitch
	angle = math.Atan(lead / (math.Pi * w.Diameter))
	wheel = float64(w.GearTeeth) / w.Pitch
	return lead, angle, wheel, (wheel + w.Diameter) / 2, float64(w.GearTeeth) / float64(w.Threads)
}

// Winding is a two-phase hybrid motor on a fixed voltage.
type Winding struct {
	Voltage    float64 // V, amplitude
	Resistance float64 // ohm a phase
	Inductance float64 // H a phase
	Flux       float64 // V s, amplitude psi
	Teeth      int     // p, of the rotor
}

// PullOut returns the torque (N m) at which the motor falls out of step at omega (rad/s, electrical):
//
//	T = p [V psi/Z - w psi^2 R/Z^2],  Z^2 = R^2 + (w L)^2
//
// Exact for steady synchronous running with sinusoidal currents and no other loss; the current is not bounded. Source:
// P. P. Acarnley, Stepping Motors (from memory), re-derived from the phasor power.
func (m Winding) PullOut(omega float64) float64 {
	z2 := m.Resistance*m.Resistance + omega*omega*m.Inductance*m.Inductance
	return float64(m.Teeth) * m.Flux * (m.Voltage/math.Sqrt(z2) - omega*m.Flux*m.Resistance/z2)
}
