package strict

import "strings"

// Over returns the document with another laid under it: keys that d does not give are looked up in base. An array
// of tables that d gives hides that of base. Neither is changed.
func (d *Doc) Over(base *Doc) *Doc {
	n := *d
	if n.base != nil {
		n.base = n.base.Over(base)
	} else {
		n.base = base
	}
	return &n
}

// Only returns the part of a document under some paths, Without the rest of it.
func (d *Doc) Only(keys ...string) *Doc { return d.filter(keys, true) }

// Without returns a document without what stands under some paths.
func (d *Doc) Without(keys ...string) *Doc { return d.filter(keys, false) }

func (d *Doc) filter(keys []string, keep bool) *Doc {
	n := *d
	n.lines = map[string]int{}
	for path, line := range d.lines {
		in := false
		for _, k := range keys {
			in = in || under(path, k)
		}
		if in == keep {
			n.lines[path] = line
		}
	}
	if d.base != nil {
		n.base = d.base.filter(keys, keep)
	}
	return &n
}

// under tells whether a path is a key or lies under it.
func under(path, key string) bool {
	rest, ok := strings.CutPrefix(path, key)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// hides says that a path lies in an array of tables that d gives itself.
func (d *Doc) hides(path string) bool {
	for i, c := range path {
		if c == '[' {
			if _, ok := d.lines[path[:i]]; ok {
				return true
			}
		}
	}
	return false
}

// home returns the document that gives a path, or the nearest parent of it.
func (d *Doc) home(path string) *Doc {
	if d.base == nil || d.hides(path) {
		return d
	}
	if _, ok := d.lines[path]; ok {
		return d
	}
	if below := d.base.home(path); below.near(path) > d.near(path) {
		return below
	}
	return d
}

// near is how much of a path the document itself gives, in bytes; 0 for nothing.
func (d *Doc) near(path string) int {
	for {
		if _, ok := d.lines[path]; ok {
			return len(path)
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return 0
		}
		path = path[:i]
	}
}

// Holds tells whether the document, or one laid under it, gives anything under a key.
func (d *Doc) Holds(table string) bool {
	for path := range d.lines {
		if under(path, table) {
			return true
		}
	}
	return d.base != nil && d.base.Holds(table)
}
