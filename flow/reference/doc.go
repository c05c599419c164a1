// Package reference holds published closed forms that no command reaches. They are a checked reference: each is held
// against worked examples of its source (testdata/checks.json), and tests of the solvers are held against them. They
// are exported for programs that need a formula and not a solver: ducts and annuli, capillary rheometry, columns and
// motors, mould filling, cooling and clamping, statistics of a recorded signal, and verification of a computation.
//
// All quantities are SI. A formula checks neither its range nor its inputs: the docstring states the range.
package reference
