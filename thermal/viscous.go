package thermal

// AdiabaticRise returns dT = dp/(rho c) in K: the warming of melt by its own
// pressure drop when no heat leaves. An upper bound.
func AdiabaticRise(dp, rho, cp float64) float64 { return dp / (rho * cp) }

// BrinkmanNumber returns the heat made in the flow over that conducted for a
// temperature step dT: tau_w g_w R^2/(k dT), a pure number.
func BrinkmanNumber(tau, rate, radius, k, dT float64) float64 {
	return tau * rate * radius * radius / (k * dT)
}

// NahmeNumber returns b tau g R^2/k: viscous heating against the temperature
// over which viscosity changes e-fold. Above about 1 isothermal estimates fail.
func NahmeNumber(b, tau, rate, radius, k float64) float64 {
	return b * tau * rate * radius * radius / k
}
