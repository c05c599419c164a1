// Package march solves the melt path resolved in radius and length: a slender
// channel, pressure and heat coupled, marched from the cold side to the exit.
//
// The radial coordinate is the stream function, so that cells are stream
// tubes: each carries its own mass from inlet to exit, through tubes and cones
// alike, and nothing is convected across their faces. At a station
//
//	tau = tau_w r/R,  g = phi(T) tau W(tau),  du/ds = -(tau_w/2R) phi W  with s = r^2,
//
// tau_w such that the profile carries the flow, dp/dz = -2 tau_w/R. Between
// stations each tube gains enthalpy by conduction through its faces and by
// the work of shear and elongation on it. Elongation adds to the drop by the
// mechanical energy balance; in wide cones it is weighted so that the
// isothermal limit is duct.ConeFactor.
//
// The barrel runs full from the top of its heated length, without slip, from where the stock has softened: crystalline
// stock slides in its passage as a plug until half the crystals at its surface have melted, as nothing holds a solid to
// the wall. Stock without crystals softens by degrees and is held from the inlet, as in the finite-element tables. Both
// are assumptions.
//
// Accuracy, as measured in the tests and in report/docs/accuracy.md: total drop within
// 0.3 % of the grid-converged value at the default resolution on the heated table, within 3 % for the
// worst of the materials library; within 3 to 5 % of full finite-element solutions; heat and work balances to 1e-6.
package march
