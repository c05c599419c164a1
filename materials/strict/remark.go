package strict

import "strings"

// Remark is the remark at the end of a line, from its # on; one inside a quoted text is none.
func Remark(line string) string {
	quote := byte(0)
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case quote == '"' && c == '\\':
			i++
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '#':
			return line[i:]
		}
	}
	return ""
}

// Assumed says that the remark of a line calls its value assumed: one that a program filled in, and nobody has
// confirmed.
func Assumed(line string) bool {
	return strings.HasPrefix(strings.TrimLeft(Remark(line), "# \t"), "assumed")
}

// Assumed tells whether the file that gives a key calls its value assumed, in the remark behind it.
func (d *Doc) Assumed(path string) bool {
	if l, ok := d.lines[path]; ok {
		return d.taken[l]
	}
	return d.base != nil && !d.hides(path) && d.base.Assumed(path)
}
