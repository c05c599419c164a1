package materials

import (
	"fmt"
	"slices"
	"strings"
)

// Warning is a remark that travels with a result: the number stands, but
// something about it is outside what its sources support.
type Warning struct {
	Code    string `json:"code"`    // stable identifier
	Message string `json:"message"` // what, where, and what to do
}

// AddWarning appends w to list unless a warning of the same code and text is there already.
func AddWarning(list []Warning, w ...Warning) []Warning {
next:
	for _, x := range w {
		for _, y := range list {
			if x == y {
				continue next
			}
		}
		list = append(list, x)
	}
	return list
}

// Warned tells whether a warning of this code is in list.
func Warned(list []Warning, code string) bool {
	return slices.ContainsFunc(list, func(w Warning) bool { return w.Code == code })
}

// Bearer is one of many (a case, a run, a pair) with its warnings.
type Bearer struct {
	Name     string
	Warnings []Warning
}

// mostNamed is how many bearers of a warning are named one by one.
const mostNamed = 6

// Together brings the warnings of many into one of a code each, in the order in which they were found, and says how
// many and which it concerns: all by name where they are few, or else the one that the words are of. A warning that all
// have in the same words stays as it is, and so do those of a single bearer.
func Together(all []Bearer, things string) []Warning {
	if len(all) == 1 {
		return AddWarning(nil, all[0].Warnings...)
	}
	type group struct {
		Warning
		of    []string
		whole bool // the same words everywhere
	}
	var groups []*group
	by := map[string]*group{}
	for _, x := range all {
		for _, w := range x.Warnings {
			g := by[w.Code]
			if g == nil {
				g = &group{Warning: w, whole: true}
				by[w.Code] = g
				groups = append(groups, g)
			}
			if !slices.Contains(g.of, x.Name) {
				g.of = append(g.of, x.Name)
			}
			g.whole = g.whole && g.Message == w.Message
		}
	}
	var out []Warning
	for _, g := range groups {
		w := g.Warning
		at := fmt.Sprintf("in %d of %d %s", len(g.of), len(all), things)
		few := len(g.of) <= mostNamed && len(g.of) < len(all)
		switch {
		case g.whole && len(g.of) == len(all):
			at = ""
		case few && g.whole || few && len(g.of) == 1:
			at += " (" + strings.Join(g.of, "; ") + "): "
		case few:
			at += " (" + strings.Join(g.of, "; ") + "), at the first of them: "
		case g.whole:
			at += ": "
		default:
			at += ", such as " + g.of[0] + ": "
		}
		w.Message = at + w.Message
		out = append(out, w)
	}
	return out
}
