// Package materials describes thermoplastics: viscosity laws in both
// directions, density, enthalpy, conductivity, strength and limits, each value
// with its source and a grade of trust.
//
// Units are SI throughout (Pa, s, K, kg, m, J, W). A built-in library is
// embedded as one TOML file per material; Load reads a user's own in the same
// form. Leaving the range over which a law was fitted is a Warning, never a
// refusal.
package materials
