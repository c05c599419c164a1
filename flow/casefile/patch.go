package casefile

import (
	"fmt"
	"sort"
	"strings"

	"meltload/materials/strict"
)

// Patch returns a case file's text with single keys set to new values: a key that stands in the text
// has its value replaced, its remark kept; a key that does not is added under its table. Only keys of plain tables ([material], [hot_end],
// [path] ...) can be patched. The result is parsed again before it is returned.
func Patch(file string, src []byte, values map[string]float64, remark string) ([]byte, error) {
	f := defaults()
	doc, ps := strict.Decode(file, src, &f)
	if len(ps) > 0 {
		return nil, ps
	}
	lines := strings.Split(string(src), "\n")
	keys := make([]string, 0, len(values))
	for k := range values {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	added := map[string][]string{}
	for _, k := range keys {
		dot := strings.LastIndexByte(k, '.')
		table, key := k[:dot], k[dot+1:]
		text := fmt.Sprintf("%s = %.6g", key, values[k])
		if doc.Has(k) {
			i := doc.Line(k) - 1
			if j := strings.IndexByte(lines[i], '#'); j >= 0 {
				text += "  " + lines[i][j:]
			}
			lines[i] = text + "  # " + remark
			if strings.Count(lines[i], "#") > 1 {
				lines[i] = text
			}
			continue
		}
		added[table] = append(added[table], text+"  # "+remark)
	}
	tables := make([]string, 0, len(added))
	for t := range added {
		tables = append(tables, t)
	}
	// From the last table to the first, so that lines in front keep their numbers.
	sort.Slice(tables, func(i, j int) bool { return doc.Line(tables[i]) > doc.Line(tables[j]) })
	var tail []string
	for _, t := range tables {
		if doc.Has(t) {
			i := doc.Line(t)
			lines = append(lines[:i], append(append([]string{}, added[t]...), lines[i:]...)...)
		} else {
			tail = append(tail, "", "["+t+"]")
			tail = append(tail, added[t]...)
		}
	}
	out := []byte(strings.TrimRight(strings.Join(lines, "\n"), "\n") + "\n" + strings.Join(tail, "\n") + "\n")
	if _, ps := Parse(file, out); len(ps) > 0 {
		return nil, fmt.Errorf("casefile: the patched text does not read back: %w", ps)
	}
	return out, nil
}
