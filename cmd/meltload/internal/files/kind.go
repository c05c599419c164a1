package files

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
)

// Kind is what an output is, and how a file that the same command wrote before is known by its content.
type Kind struct {
	Name string                 // with a noun, for messages
	Same func(r io.Reader) bool // nil: no file counts as one of the kind
}

// isOf says that a file is one of the kind.
func (k Kind) isOf(name string) bool {
	if k.Same == nil {
		return false
	}
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	return k.Same(bufio.NewReader(f))
}

// head is how much of a file is read to find a mark.
const head = 8 << 10

// Marked is a kind that holds one of the marks near its beginning.
func Marked(name string, marks ...string) Kind {
	return Kind{name, func(r io.Reader) bool {
		b, err := io.ReadAll(io.LimitReader(r, head))
		for _, m := range marks {
			if err == nil && bytes.Contains(b, []byte(m)) {
				return true
			}
		}
		return false
	}}
}

// sealHead begins the last line of a sealed text.
const sealHead = "# meltload wrote the text above; unchanged as long as its SHA-256 begins with "

// Seal ends a text in which # begins a remark with a line that tells whether it was changed since. An older seal goes.
func Seal(text []byte) []byte {
	var kept [][]byte
	for line := range bytes.Lines(text) {
		if !bytes.HasPrefix(line, []byte(sealHead)) {
			kept = append(kept, line)
		}
	}
	body := bytes.Join(kept, nil)
	if n := len(body); n > 0 && body[n-1] != '\n' {
		body = append(body, '\n')
	}
	return fmt.Appendf(body, "%s%s\n", sealHead, sealOf(body))
}

func sealOf(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:8])
}

// Sealed is a kind whose texts end with their Seal: one that was changed by hand since it was written is none.
func Sealed(name string) Kind {
	return Kind{name, func(r io.Reader) bool {
		b, err := io.ReadAll(io.LimitReader(r, maxSealed))
		at := bytes.LastIndex(b, []byte(sealHead))
		return err == nil && at >= 0 && string(b[at+len(sealHead):]) == sealOf(b[:at])+"\n"
	}}
}

// maxSealed is the longest text that is looked at for its seal, in bytes.
const maxSealed = 4 << 20

// Page is the HTML report of a command.
func Page(command string) Kind {
	return Marked("report of meltload "+command, `<meta name="generator" content="meltload `+command+`">`)
}

// Result is the JSON result of a command.
func Result(command string) Kind {
	return Kind{"result of meltload " + command, func(r io.Reader) bool {
		d := json.NewDecoder(r)
		if t, err := d.Token(); err != nil || t != json.Delim('{') {
			return false
		}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return false
			}
			if key != "command" {
				var skip json.RawMessage
				if d.Decode(&skip) != nil {
					return false
				}
				continue
			}
			var line []string
			return d.Decode(&line) == nil && len(line) > 1 && line[0] == "meltload" && line[1] == command
		}
		return false
	}}
}

// Table is a CSV table with this first line.
func Table(first string) Kind {
	return Kind{"table with the same columns", func(r io.Reader) bool {
		b, err := bufio.NewReader(io.LimitReader(r, head)).ReadString('\n')
		return err == nil && strings.TrimRight(b, "\r\n") == strings.TrimRight(first, "\r\n")
	}}
}

// figureStarts are the first bytes of the formats of figures.
var figureStarts = map[string][]string{"svg": {"<?xml", "<svg"}, "png": {"\x89PNG\r\n"}, "pdf": {"%PDF-"}}

// Figure is a drawing of a format: svg, png or pdf.
func Figure(format string) Kind {
	return Kind{"figure in " + strings.ToUpper(format), func(r io.Reader) bool {
		b := make([]byte, 8)
		n, _ := io.ReadFull(r, b)
		for _, s := range figureStarts[format] {
			if strings.HasPrefix(string(b[:n]), s) {
				return true
			}
		}
		return false
	}}
}
