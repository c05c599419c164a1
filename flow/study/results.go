package study

import "meltload/flow/quantity"

// Kind is a kind of result: the command that gives it, and its type.
type Kind struct {
	Command string
	Of      any // the zero value
}

// Kinds lists the results, by the command that gives each.
func Kinds() []Kind {
	return []Kind{
		{"assess", Result{}}, {"assess-many", Briefs{}}, {"rank", Ranking{}}, {"plan", PlanResult{}},
		{"plan-ramps", RampResult{}}, {"trace", TraceResult{}},
		{"log", LogResult{}}, {"compare", CompareResult{}}, {"cell", CellResult{}}, {"calibrate", CalResult{}},
		{"calibrate-spirals", SpiralResult{}}, {"mould", MouldResult{}}, {"survey", SurveyResult{}},
	}
}

// Schema is the JSON Schema of the result of a command; nil for a command without one.
func Schema(command string) map[string]any {
	for _, k := range Kinds() {
		if k.Command == command {
			return quantity.Schema("result of meltload "+command, k.Of)
		}
	}
	return nil
}
