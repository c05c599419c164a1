package strict

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Limits of what is read at once: far more than any honest file holds, and few enough to be read in a moment.
const (
	MaxText    = 1 << 20 // bytes of a case file or a material record; the built-in case has 6 kB
	MaxTable   = 4 << 20 // bytes of a table of weights or pushes
	MaxRows    = 10_000  // rows of such a table
	MaxColumns = 64      // columns of such a table
	MaxKeys    = 5_000   // keys and tables of a TOML text
	MaxDepth   = 16      // parts of a dotted key, and arrays or inline tables one in another
	MaxShown   = 40      // problems that are shown of one run; the others are counted
)

// UTF8 gives text as UTF-8: a byte-order mark is taken off, and UTF-16 that begins with one, as spreadsheets and
// editors write it, is decoded. Text without a mark comes through as it is.
func UTF8(r io.Reader) io.Reader {
	return transform.NewReader(r, unicode.BOMOverride(transform.Nop))
}

// Plain is UTF8 for text in memory; a text that is plain already is not copied.
func Plain(src []byte) []byte {
	if len(src) < 2 || src[0] < 0xef { // the marks begin with EF, FE or FF
		return src
	}
	out, _, err := transform.Bytes(unicode.BOMOverride(transform.Nop), src)
	if err != nil {
		return src
	}
	return out
}

// ReadFile reads a whole file of at most limit bytes, as it is; - is standard input, which is in. Errors: Problems for
// what is not a file of text (a directory, one that is too long, bytes that are not text); the system's error for one
// that cannot be opened.
func ReadFile(file string, in io.Reader, limit int) ([]byte, error) {
	if file == "-" {
		if in == nil {
			return nil, Problems{{File: file, Seen: "standard input where a file is needed", Advice: "name a file"}}
		}
		return readAll("standard input", in, limit)
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, Problems{{File: file, Seen: "a directory", Allowed: "a file", Advice: "name a file in it"}}
	}
	return readAll(file, f, limit)
}

func readAll(file string, r io.Reader, limit int) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, int64(limit)+1))
	switch {
	case err != nil:
		return nil, err
	case len(b) > limit:
		return nil,
			Problems{{File: file, Seen: fmt.Sprintf("more than %d bytes", limit), Allowed: "at most that many",
				Advice: "check that this is the file you mean"}}
	}
	return b, nil
}

// notText says why bytes are no text, or "".
func notText(src []byte) string {
	if bytes.IndexByte(src, 0) < 0 {
		return ""
	}
	if n := min(len(src), 1<<12); bytes.Count(src[:n], []byte{0})*3 > n {
		return "bytes that look like UTF-16 without a byte-order mark"
	}
	return "bytes that are not text"
}
