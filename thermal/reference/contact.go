package reference

import "math"

// Contact is a rod pressed against a hot surface and melting there, the melt squeezed out through a film so thin that
// heat only crosses it: the bound on feeding an unmelted core. Pressure forces only; viscosity is taken as uniform in
// the film.
//
// Source: E. Stammers, W. J. Beek, Polym. Eng. Sci. 9 (1969) 49; applied to filament heads by T. A. Osswald, J.
// Puentes, J. Kattinger, Additive Manufacturing 22 (2018) 51; neither was open, the closed forms are those of the
// external checks.
type Contact struct {
	Speed    float64 // m/s of the rod
	Film     float64 // m, thickness of the melt film
	Pressure float64 // Pa, at the centre (plate)
	Shape    float64 // m4, of the flow to the hole (0 for the plate)
}

// Pressed is a rod that melts at a hot face.
type Pressed struct {
	Radius, Force float64 // m, N
	Eta           float64 // Pa s, viscosity of the melt in the film
	K             float64 // W/(m K), conductivity of the melt
	Density       float64 // kg/m3, of the melt
	Step          float64 // K, from melting to the face
	Heat          float64 // J/kg, to warm and melt the stock
}

// Plate presses the rod on a flat plate, the melt leaving at its rim:
//
//	V = [2F (k dT)^3/(3 pi eta R^4 (rho dh)^3)]^(1/4)
//
// Speed goes with the fourth root of force.
func (p Pressed) Plate() Contact {
	film := p.K * p.Step / (p.Density * p.Heat) // m2/s: speed times thickness of the film
	v := math.Pow(2*p.Force*math.Pow(film, 3)/(3*math.Pi*p.Eta*math.Pow(p.Radius, 4)), 0.25)
	return Contact{Speed: v, Film: film / v, Pressure: 2 * p.Force / (math.Pi * p.Radius * p.Radius)}
}

// Hole presses the rod into a cone of a half angle (rad; pi/2 is a flat shoulder) with a hole of radius hole (m) at its
// middle, the melt running inward to it against the pressure inner (Pa), the rim sealed:
//
// F - p pi R^2 = 6 pi eta V g/(d^3 sin a),  g = R^4 ln(R/Ri) - R^2 (R^2 - Ri^2) + (R^4 - Ri^4)/4,  k dT/d = rho V
// sin(a) dh
//
// A force that does not overcome the pressure melts nothing.
func (p Pressed) Hole(hole, half, inner float64) Contact {
	r2, h2 := p.Radius*p.Radius, hole*hole
	g := r2*r2*math.Log(p.Radius/hole) - r2*(r2-h2) + (r2*r2-h2*h2)/4
	left := p.Force - inner*math.Pi*r2
	if left <= 0 {
		return Contact{Film: math.Inf(1), Shape: g}
	}
	film, sin := p.K*p.Step/(p.Density*p.Heat), math.Sin(half)
	v := math.Pow(left*math.Pow(film, 3)/(6*math.Pi*p.Eta*g*sin*sin), 0.25)
	return Contact{Speed: v, Film: film / (v * sin), Shape: g}
}

// Effusivity returns sqrt(k rho c), J/(m2 K s^0.5), of a conductivity k, W/(m K), a density rho, kg/m3, and a heat
// capacity c, J/(kg K): how strongly a body holds the temperature of its surface. Exact.
func Effusivity(k, rho, c float64) float64 { return math.Sqrt(k * rho * c) }

// ContactTemperature returns the temperature (K) of the face between two half-spaces of temperatures t1 and t2 (K) that
// are brought together: their mean weighted by effusivity,
//
//	T = (e1 T1 + e2 T2) / (e1 + e2)
//
// Exact for constant properties and perfect contact; a body of finite depth leaves it once heat has come to its back.
// Source: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, sec. 2.15 (from memory).
func ContactTemperature(e1, t1, e2, t2 float64) float64 { return (e1*t1 + e2*t2) / (e1 + e2) }
