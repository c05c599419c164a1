// Package march solves the melt path resolved in radius and length: a slender channel, pressure and heat coupled,
// marched from the cold side to the exit, steady (Solve) or in time (Soak, Advance).
//
// # Four stretches
//
//		wall  ==================================================\
//		gap     . . . air . . . |~~~~ wetted ~~~~|               \___ cone
//		rod   ------------------|  plug, slides  |  held by wall      \_____ bore
//		axis  - - - - - - - - - | - - - - - - - -| - - - - - - - - - - - - - - - ->  z
//		       1 rod             2 gives way      3 held from here (4)
//
//	 1. A solid rod in an air gap, its own speed V = Q/A_f, without pressure drop; heated by conduction between
//	    eccentric cylinders and radiation: h of flow.GapH (1).
//	 2. The rod ends where its bulk temperature T_s is that at which its strength is the push over its cross-section,
//	    materials.Material.Softens(F/A_f) = T_s (3); F is the result, and the root is one: more push, softer sooner,
//	    shorter rod, less push. See type softening.
//	 3. The bore is full and the wall wets the stock with the heat-transfer coefficient of the section, but the core
//	    slides as a plug on melt that circulates in the old gap without net flow. Its drag is in the push area,
//	    F = p A_f (1 + 4 c g/d), flow.GapDrag (2). It ends where the layer above the flow point is as thick as the
//	    gap.
//	 4. Melt held by the wall, to the exit.
//
// With flow.Stock.Stick the last stretch begins at the inlet: the boundary condition of the finite-element tables.
//
// # Equations of the held melt
//
// The radial coordinate is the stream function, so that cells are stream tubes: each carries its own mass from inlet
// to exit, through tubes and cones alike, and nothing is convected across their faces. With s = (r/R)^2 on the faces,
//
//	tau = tau_w sqrt(s),  g = phi(T) tau W(tau),  du/ds = -(tau_w R/2) phi W              momentum     (4)
//	dp/dz = -2 tau_w/R,  tau_w such that the profile carries the flow                      pressure     (5)
//	dp_ext = (1/Q) sum w_i 3 eta e^2 V_i,  e = du/dz along the tube                        elongation   (6, 7)
//	eta <= Y(T)/(sqrt(3) rate) below the flow point, not below melt at the flow point      strength     (8)
//	m dh_i/dz = [k 2 pi r dT/dr] at the outer face - the same at the inner face + work_i   energy       (10)
//	m (h_i - h_i,before)/(U dt) besides, in time                                           storage      (11)
//	p = sum over stations of dp + elastic entrance losses (flow.Case.EntranceLoss)         pressure sum (12)
//
// phi is the fluidity 1/eta0, W the factor by which the melt shears faster than a Newtonian one. In wide cones the
// weight w makes the isothermal limit duct.ConeFactor; stiffer stock than the melt that shears is drawn in full (7).
// Stock that was solid enters a no-slip stretch as a plug: every tube starts at the plug's speed and takes up the
// profile over 0.45 R.
//
// One station, cells counted from the axis:
//
//	 axis                                                wall
//	  |    cell 0     |   cell 1   |  ...  | cell n-1 |    | T_w
//	  |  T h phi mid  |            |       |          |-h--|
//	face 0         face 1       face 2             face n
//	u = max        u            u                  u = 0 (the plug's speed where it slides)
//	             cond          cond               cond = wall in series with half a cell
//
// Temperature, enthalpy and mean velocity live in the cells, at their centroid; velocity, position and conductance on
// the faces. Fluidity and strength are taken at the two Gauss points of a cell, by temperatures that run linearly
// between the centroids, and a cell that the start of a melting range passes through is cut there: so the load is a
// smooth function of flow and temperature, however few the cells. Rod and wetted plug end between two stations.
//
// # In time
//
// The same stretches, momentum quasi-steady, the place where the rod gives way that of the push one step before. Rod
// and wetted plug end between two stations. Where such an end moves on, no faster than the plug itself, it pushes the
// melt before it: of the flow into the next stretch as much as the end has moved is what was in that place. What
// a stream tube finds at its place is recalled by the area it covers, with limited slopes, so that a small step smears
// nothing; the time term is of second order along the path. First order in time.
//
// # Accuracy
//
// As measured in the tests and in report/docs/accuracy.md: total drop within 0.3 % of the grid-converged value at the
// default resolution on the heated table, within 2.5 % for the worst of the materials library; within 3 to 5 % of full
// finite-element solutions, 6 % with a cold core limited by its strength; heat and work balances to 1e-6.
package march
