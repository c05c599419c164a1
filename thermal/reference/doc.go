// Package reference holds published closed forms of heat transfer that no command reaches. They are a checked
// reference: each is held against worked examples of its source (testdata/checks.json), and tests of the solvers are
// held against them: thermal entrance flow (Graetz), viscous heating (Brinkman, Nahme), freezing (Stefan, Neumann),
// contact melting, the moving rod, and the block with a nozzle hung on it.
//
// All quantities are SI. A formula checks neither its range nor its inputs: the docstring states the range.
package reference
