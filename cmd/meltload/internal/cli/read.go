package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"

	"github.com/spf13/cobra"

	"meltload/flow/study"
)

// readFile reads a file with a reader and stamps it with the hash of its bytes.
func readFile[T any](
	c *cobra.Command,
	name string,
	read func(name string, r io.Reader) (T, error),
) (out T, file study.File, err error) {
	f, err := deskOf(c).Open(name)
	if err != nil {
		return out, file, err
	}
	defer f.Close()
	hash := sha256.New()
	var r io.Reader = io.TeeReader(f, hash)
	if file, ok := f.(*os.File); ok {
		if info, err := file.Stat(); err == nil && info.Mode().IsRegular() {
			r = sized{r, info.Size()}
		}
	}
	if out, err = read(shownName(name), r); err != nil {
		return out, file, err
	}
	if _, err := io.Copy(hash, f); err != nil { // what the reader left
		return out, file, err
	}
	return out, study.File{Name: shownName(name), Hash: hex.EncodeToString(hash.Sum(nil))[:12]}, nil
}

// sized is a reader that knows how many bytes it will give, so that its reader can make room for them at once.
type sized struct {
	io.Reader
	size int64
}

func (s sized) Size() int64 { return s.size }
