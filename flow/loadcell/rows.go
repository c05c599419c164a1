package loadcell

import (
	"bytes"
	"encoding/json"
	"strings"
)

// maxColumns is how many columns of a row are looked at.
const maxColumns = 64

// splitter cuts a row into cells and returns their number; cells beyond out are dropped.
type splitter interface {
	split(row []byte, out [][]byte) int
}

// table is a row of cells between separators; blanks in a row count as one.
type table struct{ sep byte }

func (t table) split(row []byte, out [][]byte) int {
	if t.sep == ' ' {
		return splitBlanks(row, out)
	}
	if bytes.IndexByte(row, '"') >= 0 {
		return splitQuoted(row, t.sep, out)
	}
	n := 0
	for n < len(out) {
		i := bytes.IndexByte(row, t.sep)
		if i < 0 {
			out[n] = row
			return n + 1
		}
		out[n] = row[:i]
		n++
		row = row[i+1:]
	}
	return n
}

func splitBlanks(row []byte, out [][]byte) int {
	n := 0
	for n < len(out) {
		row = bytes.TrimLeft(row, " \t")
		if len(row) == 0 {
			break
		}
		i := bytes.IndexAny(row, " \t")
		if i < 0 {
			out[n] = row
			return n + 1
		}
		out[n] = row[:i]
		n++
		row = row[i:]
	}
	return n
}

// splitQuoted is split for rows in which a cell in quotes may hold a separator.
func splitQuoted(row []byte, sep byte, out [][]byte) int {
	n, from, quoted := 0, 0, false
	for i := 0; i <= len(row) && n < len(out); i++ {
		switch {
		case i == len(row) || row[i] == sep && !quoted:
			out[n] = row[from:i]
			n++
			from = i + 1
		case row[i] == '"':
			quoted = !quoted
		}
	}
	return n
}

// arrow is a line of a serial monitor: a clock time, "->", and what the device wrote.
type arrow struct{ rest splitter }

var arrowSign = []byte("->")

func cutArrow(row []byte) (stamp, rest []byte, ok bool) {
	i := bytes.Index(row, arrowSign)
	if i < 0 || !isClock(bytes.TrimSpace(row[:i])) {
		return nil, nil, false
	}
	return bytes.TrimSpace(row[:i]), bytes.TrimSpace(row[i+2:]), true
}

func (a arrow) split(row []byte, out [][]byte) int {
	stamp, rest, ok := cutArrow(row)
	if !ok {
		return 0
	}
	out[0] = stamp
	return 1 + a.rest.split(rest, out[1:])
}

// pairs is a line of names with values: "t:0.1 force:23.4", "F=12.3 g; T=215".
type pairs struct{ keys []string }

// cutPair takes the next name and value off a line. A value reaches to the next name or to a separator.
func cutPair(row []byte) (key, value, rest []byte, ok bool) {
	row = bytes.TrimLeft(row, " \t,;|{")
	i := bytes.IndexAny(row, ":=")
	if i <= 0 || i > 40 {
		return nil, nil, nil, false
	}
	key = bytes.TrimSpace(row[:i])
	if len(key) == 0 || !letter(key[0]) || bytes.ContainsAny(key, ",;|") {
		return nil, nil, nil, false
	}
	row = bytes.TrimLeft(row[i+1:], " \t")
	end := bytes.IndexAny(row, ";|\t")
	if end < 0 {
		end = len(row)
	}
	// A comma ends a value unless a digit stands on either side: then it is a decimal sign, if a name does not follow.
	for j := 0; j < end; j++ {
		if row[j] == ',' && !(j > 0 && j+1 < len(row) && digit(row[j-1]) && digit(row[j+1])) {
			end = j
		}
	}
	// The next name on the same line ends the value too.
	if k := bytes.IndexAny(row[:end], ":="); k > 0 && !isClock(row[:end]) {
		if b := bytes.LastIndexAny(bytes.TrimRight(row[:k], " "), " ,"); b > 0 {
			end = b
		}
	} else if k > 0 {
		if b := bytes.IndexByte(row[:end], ' '); b > 0 {
			end = b
		}
	}
	return key, bytes.TrimSpace(row[:end]), row[end:], true
}

func letter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c > 127 }
func digit(c byte) bool  { return c >= '0' && c <= '9' }

func (p pairs) split(row []byte, out [][]byte) int {
	n := min(len(p.keys), len(out))
	clear(out[:n])
	found := 0
	for range maxColumns {
		key, value, rest, ok := cutPair(row)
		if !ok {
			break
		}
		for i := range n {
			if string(key) == p.keys[i] {
				out[i] = value
				found++
				break
			}
		}
		row = rest
	}
	if found == 0 {
		return 0
	}
	return n
}

// keysOf returns the names of a line of pairs.
func keysOf(row []byte) []string {
	var out []string
	for range maxColumns {
		key, _, rest, ok := cutPair(row)
		if !ok {
			break
		}
		out = append(out, string(key))
		row = rest
	}
	return out
}

// object is a line with one JSON object. Objects in it are laid open, their names joined by a blank.
type object struct{ keys []string }

func decodeObject(row []byte) map[string]any {
	row = bytes.Trim(row, " \t\r,[]")
	var m map[string]any
	d := json.NewDecoder(bytes.NewReader(row))
	d.UseNumber()
	if d.Decode(&m) != nil {
		return nil
	}
	flat := map[string]any{}
	flatten(flat, "", m, 3)
	return flat
}

func flatten(to map[string]any, prefix string, m map[string]any, depth int) {
	for k, v := range m {
		if sub, ok := v.(map[string]any); ok && depth > 0 {
			flatten(to, prefix+k+" ", sub, depth-1)
			continue
		}
		to[prefix+k] = v
	}
}

func (o object) split(row []byte, out [][]byte) int {
	m := decodeObject(row)
	if m == nil {
		return 0
	}
	n := min(len(o.keys), len(out))
	for i := range n {
		switch v := m[o.keys[i]].(type) {
		case json.Number:
			out[i] = []byte(v)
		case string:
			out[i] = []byte(v)
		case bool:
			out[i] = []byte("false")
			if v {
				out[i] = []byte("true")
			}
		default:
			out[i] = nil
		}
	}
	return n
}

// objectKeys returns the names of the numbers, texts and switches of a line's object in the order of the text.
func objectKeys(row []byte) []string {
	m := decodeObject(row)
	var out []string
	for k := range m {
		out = append(out, k)
	}
	text := string(row)
	place := func(k string) int {
		w := k
		if i := strings.LastIndexByte(k, ' '); i >= 0 {
			w = k[i+1:]
		}
		return strings.Index(text, `"`+w+`"`)
	}
	sortBy(out, func(a, b string) bool {
		if place(a) != place(b) {
			return place(a) < place(b)
		}
		return a < b
	})
	return out
}
