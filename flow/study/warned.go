package study

import (
	"slices"
	"strings"

	"meltload/materials"
)

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
