//go:build livemodule

package live

import _ "embed" // the module

//go:embed kept/module.wasm.gz
var packed []byte

//go:embed kept/wasm_exec.js
var run string

// kept is the module in the program: .ci/binaries makes it before it builds with the tag livemodule.
func kept() (*Module, bool) { return &Module{Packed: packed, Exec: run}, true }
