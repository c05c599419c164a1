//go:build !livemodule

package live

// kept is for programs that are built with the tag livemodule.
func kept() (*Module, bool) { return nil, false }
