// Package duct holds the isothermal pressure laws that the solvers use: any flow curve in tubes, wide slits and cones
// by the rule of Weissenberg and Rabinowitsch (directly and as a table), the factor by which elongation raises the drop
// of a cone, and channels of other than round section by the two-number rule of Kozicki. Closed forms that only tests
// need stand in flow/reference.
//
// All quantities are SI.
package duct
