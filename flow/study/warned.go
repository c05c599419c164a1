package study

import (
	"fmt"
	"slices"
	"strings"

	"meltload/materials"
)

// bearer is one of many (a case, a pair, a combination) with its warnings.
type bearer struct {
	name     string
	warnings []materials.Warning
}

// codes are the codes of warnings, each once, with spaces between.
func codes(ws []materials.Warning) string {
	var out []string
	for _, w := range ws {
		if !slices.Contains(out, w.Code) {
			out = append(out, w.Code)
		}
	}
	return strings.Join(out, " ")
}

// together brings the warnings of many into one of a code each, with how many it concerns and one of them by name.
func together(all []bearer, things string) []materials.Warning {
	type group struct {
		materials.Warning
		of    string
		n     int
		whole bool // the same words everywhere
	}
	var groups []*group
	by := map[string]*group{}
	for _, x := range all {
		counted := map[string]bool{}
		for _, w := range x.warnings {
			g := by[w.Code]
			if g == nil {
				g = &group{w, x.name, 0, true}
				by[w.Code] = g
				groups = append(groups, g)
			}
			if !counted[w.Code] {
				g.n++
			}
			counted[w.Code] = true
			g.whole = g.whole && g.Message == w.Message
		}
	}
	var out []materials.Warning
	for _, g := range groups {
		w := g.Warning
		switch {
		case g.whole && g.n == len(all):
		case g.whole:
			w.Message = fmt.Sprintf("in %d of %d %s: %s", g.n, len(all), things, w.Message)
		default:
			w.Message = fmt.Sprintf("in %d of %d %s, such as %s: %s", g.n, len(all), things, g.of, w.Message)
		}
		out = append(out, w)
	}
	return out
}
