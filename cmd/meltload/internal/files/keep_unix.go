//go:build unix

package files

import (
	"io/fs"
	"os"
	"syscall"
)

// keep gives a new file the permissions of the one it will replace, and its owner where that is allowed.
func keep(f *os.File, was fs.FileInfo) {
	if s, ok := was.Sys().(*syscall.Stat_t); ok {
		f.Chown(int(s.Uid), int(s.Gid)) // only root may give a file away
	}
	f.Chmod(was.Mode().Perm())
}
