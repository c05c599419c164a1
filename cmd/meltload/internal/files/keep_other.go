//go:build !unix

package files

import (
	"io/fs"
	"os"
)

// keep gives a new file the permissions of the one it will replace.
func keep(f *os.File, was fs.FileInfo) { f.Chmod(was.Mode().Perm()) }
