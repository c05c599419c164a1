package casefile

import (
	"meltload/materials"
	"meltload/materials/strict"
)

// lent are the keys that are needed and that a file may yet do without: one that holds only a feeder or only a hot end,
// or a case that names files with them.
var lent = []string{"filament", "filament.diameter_mm", feederTable, hotEndTable}

// Schema is the JSON Schema (draft 7) of a case file, and of a file with only a feeder or only a hot end: every key
// that the reader takes, with its bounds, words, default and meaning, and no other. Editors of TOML complete and check
// by it. What the reader checks between keys is not in it.
func Schema() map[string]any {
	d := defaults()
	s := strict.Schema("meltload case file", &d, lent...)
	s["anyOf"] = []any{
		map[string]any{"required": []string{feederTable}}, map[string]any{"required": []string{hotEndTable}},
		map[string]any{"required": []string{"feeder_file", "hot_end_file"}},
	}
	filament := s["properties"].(map[string]any)["filament"].(map[string]any)["properties"].(map[string]any)
	filament["material"].(map[string]any)["enum"] = materials.Names()
	return s
}
