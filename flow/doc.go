// Package flow describes hot ends and the loads in them: geometry, and the vocabulary (Case, Solution, Solver) that the
// solvers in its subpackages share. The isothermal pressure laws stand in flow/duct.
//
// All quantities are SI.
package flow
