// Package flow describes hot ends and the loads in them: geometry, the
// isothermal pressure laws of tubes, slits, annuli, cones and runners, and the
// vocabulary (Case, Drop, Solver) that the solvers in its subpackages share.
//
// All quantities are SI.
package flow
