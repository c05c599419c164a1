package thermal

// AdiabaticRise returns the warming (K) of melt by its own pressure drop dp (Pa) when no heat leaves:
//
//	dT = dp/(rho c)
//
// by density rho (kg/m3) and heat capacity cp (J/(kg K)). An upper bound: heat that goes to the wall lowers it. Energy
// balance.
func AdiabaticRise(dp, rho, cp float64) float64 { return dp / (rho * cp) }

// Shear is the flow next to a wall, for the numbers that compare the heat it makes with conduction.
type Shear struct {
	Stress float64 // Pa, at the wall
	Rate   float64 // 1/s, at the wall
	Radius float64 // m; half the gap of a slit
	K      float64 // W/(m K), conductivity of the melt
}

// Brinkman returns the heat made in the flow over that conducted for a temperature step dT (K):
//
//	Br = tau_w g_w R^2/(k dT)
//
// A pure number; above about 1 the flow heats more than the step conducts. Definition.
func (s Shear) Brinkman(dT float64) float64 {
	return s.Stress * s.Rate * s.Radius * s.Radius / (s.K * dT)
}

// Nahme returns the heat made in the flow against the temperature step 1/b over which viscosity changes e-fold, b in
// 1/K:
//
//	Na = b tau_w g_w R^2/k
//
// A pure number; above about 1 an isothermal estimate fails. Definition.
func (s Shear) Nahme(b float64) float64 { return b * s.Stress * s.Rate * s.Radius * s.Radius / s.K }
