package casefile

import (
	"fmt"
	"regexp"
	"sort"
	"strings"

	"meltload/materials/strict"
)

// Patch returns a case file's text with single keys set to new values, given as TOML: a key that stands on a line of
// the text has its value replaced, its remark kept; a key that does not is added under its table. Members of arrays are
// counted from 1, as in hot_end.section[2].length_mm. The text is checked again and the case it makes returned too:
// where it no longer is one, the text comes with its problems. Errors: a text that is not a case to begin with, and
// none is returned.
func Patch(file string, src []byte, values map[string]string, remark string) ([]byte, *Case, error) {
	t, err := ReadText(file, src)
	if err != nil {
		return nil, nil, err
	}
	return t.Patch(values, remark)
}

// Text is a case file's text that was read once and is patched many times.
type Text struct {
	file string
	src  []byte
	f    file
	doc  *strict.Doc // where the keys of this text stand, not those of files that it names
}

// ReadText reads a text to be patched. Errors: a text that is not a case.
func ReadText(file string, src []byte) (*Text, error) {
	src = strict.Plain(src)
	p := parsePart(file, src)
	if len(p.all) > 0 {
		return nil, p.all
	}
	t := &Text{file, src, p.f, p.doc}
	if len(p.ref) > 0 {
		t.f = defaults()
		t.doc, _ = strict.Decode(file, src, &t.f)
	}
	return t, nil
}

// Patch is the function of that name.
func (t *Text) Patch(values map[string]string, remark string) ([]byte, *Case, error) {
	file, src, f, doc := t.file, t.src, &t.f, t.doc
	for k := range values {
		if (f.FeederFile != "" || f.HotEndFile != "") && strings.Contains(k, "[") && !doc.Has(k) {
			// A member of an array that stands in another file: that file is left alone.
			whole, err := Inline(file, src)
			if err != nil {
				return nil, nil, err
			}
			return Patch(file, whole, values, remark)
		}
	}
	if remark != "" {
		remark = "  # " + remark
	}
	lines := strings.Split(string(src), "\n")
	keys := make([]string, 0, len(values))
	for k := range values {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	added := map[string][]string{}
	for _, k := range keys {
		if doc.Has(k) {
			i := doc.Line(k) - 1
			left, _, _ := strings.Cut(lines[i], "=")
			text := strings.TrimRight(left, " \t") + " = " + values[k]
			// what is set now is assumed no more
			if old := strict.Remark(lines[i]); old != "" && !strict.Assumed(lines[i]) {
				lines[i] = text + "  " + old
			} else {
				lines[i] = text + remark
			}
			continue
		}
		dot := strings.LastIndexByte(k, '.')
		table, key := k[:max(dot, 0)], k[dot+1:]
		added[table] = append(added[table], key+" = "+values[k]+remark)
	}
	tables := make([]string, 0, len(added))
	for t := range added {
		tables = append(tables, t)
	}
	// From the last table to the first, so that lines in front keep their numbers.
	sort.Slice(tables, func(i, j int) bool { return doc.Line(tables[i]) > doc.Line(tables[j]) })
	var tail []string
	for _, t := range tables {
		switch {
		case t == "":
			lines = append(append([]string{}, added[t]...), lines...)
		case doc.Has(t):
			i := doc.Line(t)
			lines = append(lines[:i], append(append([]string{}, added[t]...), lines[i:]...)...)
		default:
			tail = append(tail, "", "["+t+"]")
			tail = append(tail, added[t]...)
		}
	}
	out := strings.TrimRight(strings.Join(lines, "\n"), "\n") + "\n"
	if len(tail) > 0 {
		out += strings.Join(tail, "\n") + "\n"
	}
	c, ps := Parse(file, []byte(out))
	return []byte(out), c, ps.Err()
}

var tableHead = regexp.MustCompile(`^\s*\[\[?\s*([A-Za-z_][A-Za-z0-9_]*)(\s*\.\s*[A-Za-z0-9_]+)*\s*\]\]?\s*(#.*)?$`)

// split cuts a text into the lines that belong to a top-level table and its sub-tables, and the others.
func split(src []byte, table string) (inside, outside []string, at int) {
	in := false
	for _, l := range strings.Split(strings.TrimRight(string(src), "\n"), "\n") {
		if m := tableHead.FindStringSubmatch(l); m != nil {
			if in = m[1] == table; in && len(inside) == 0 {
				at = len(outside)
			}
		}
		if in {
			inside = append(inside, l)
		} else {
			outside = append(outside, l)
		}
	}
	return inside, outside, at
}

// Graft returns dst with its feeder replaced by that of src, both texts of case files. The result is checked, as by
// Patch.
func Graft(file string, dst, src []byte) ([]byte, *Case, error) {
	const table = feederTable
	var texts [2][]byte
	for i, x := range [][]byte{src, dst} {
		if texts[i] = strict.Plain(x); names(texts[i]) {
			whole, err := Inline(file, texts[i])
			if err != nil {
				return nil, nil, err
			}
			texts[i] = whole
		}
	}
	feeder, _, _ := split(texts[0], table)
	_, rest, at := split(texts[1], table)
	if len(feeder) == 0 {
		return nil, nil, fmt.Errorf("casefile: no [%s] table heads a line of the text to take it from", table)
	}
	for len(feeder) > 0 && strings.TrimSpace(feeder[len(feeder)-1]) == "" {
		feeder = feeder[:len(feeder)-1]
	}
	out := append(append(append([]string{}, rest[:at]...), feeder...), "")
	out = append(out, rest[at:]...)
	text := []byte(strings.Join(out, "\n") + "\n")
	c, ps := Parse(file, text)
	return text, c, ps.Err()
}
