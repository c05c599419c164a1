package quantity

import "meltload/materials/unit"

// The units of the bench.
var (
	Plain               = Unit{}
	Share               = Unit{Text: "%", Times: 100} // 0 to 1 in JSON and CSV, per cent in text
	Newton              = Unit{Key: "N", Text: "N"}
	KilogramForce       = Unit{Key: "kgf", Text: "kgf", Factor: unit.KGF}
	Megapascal          = Unit{Key: "MPa", Text: "MPa", Factor: unit.MPa}
	Celsius             = Unit{Key: "degC", Text: "degC", Sign: "°C", Factor: 1, Offset: unit.Zero}
	Kelvin              = Unit{Key: "K", Text: "K"}
	Flow                = Unit{Key: "mm3_s", Text: "mm3/s", Sign: "mm³/s", Factor: unit.MM3}
	MillimetrePerSecond = Unit{Key: "mm_s", Text: "mm/s", Factor: unit.MM}
	Millimetre          = Unit{Key: "mm", Text: "mm", Factor: unit.MM}
	Metre               = Unit{Key: "m", Text: "m"}
	SquareMillimetre    = Unit{Key: "mm2", Text: "mm2", Sign: "mm²", Factor: unit.MM2}
	CubicMillimetre     = Unit{Key: "mm3", Text: "mm3", Sign: "mm³", Factor: unit.MM3}
	HeatTransfer        = Unit{Key: "W_m2K", Text: "W/(m2 K)", Sign: "W/(m² K)"}
	Second              = Unit{Key: "s", Text: "s"}
	Minute              = Unit{Key: "min", Text: "min", Factor: 60}
	Hertz               = Unit{Key: "Hz", Text: "Hz"}
	Watt                = Unit{Key: "W", Text: "W"}
	Gram                = Unit{Key: "g", Text: "g", Factor: 1e-3}
	Kilogram            = Unit{Key: "kg", Text: "kg"}
	NewtonPerMinute     = Unit{Key: "N_per_min", Text: "N/min", Factor: 1.0 / 60}
	FlowPer100g         = Unit{Key: "mm3_s", Text: "mm3/s", Sign: "mm³/s", Factor: unit.MM3 / 0.1} // m3/s per kg
	ForcePer100g        = Unit{Key: "N", Text: "N", Factor: 1 / 0.1}                               // N per kg
	KelvinPerFlow       = Unit{Key: "K_per_mm3_s", Text: "K per mm3/s", Sign: "K per mm³/s", Factor: 1 / unit.MM3}
	NewtonPerCount      = Unit{Key: "N_per_count", Text: "N per count"}
	Count               = Unit{Key: "count", Text: "counts"}
)

// table is every quantity of a result. Groups follow the results; a name is used again wherever the same thing is meant.
var table = []Quantity{
	// What every result carries, and columns of words.
	{Name: "filament_area", Label: "cross-section of the filament", Unit: SquareMillimetre, Digits: 4},
	{Name: "share", Label: "share", Unit: Share, Decimal: 1},
	{Name: "window", Label: "processing window", Unit: Celsius},
	{Name: "viscosity_factor", Label: "viscosity factor", Digits: 3},
	{Name: "limit", Label: "limited by", Empty: "none within the search"},
	{Name: "limit_name", Label: "limit"},
	{Name: "next_limit", Label: "then by", Empty: "none within the search"},
	{Name: "code", Label: "code"},
	{Name: "meaning", Label: "what it means"},
	{Name: "beyond_search", Label: "beyond the search"},
	{Name: "cause", Label: "cause"},
	{Name: "failure_cause", Label: "feeder fails by"},
	{Name: "phase", Label: "phase"},
	{Name: "section", Label: "section"},
	{Name: "change", Label: "change"},
	{Name: "remark", Label: "remark"},
	{Name: "why", Label: "why"},
	{Name: "what", Label: "case"},
	{Name: "failed", Label: "feeder fails"},
	{Name: "repeats", Label: "repeats"},
	{Name: "extrapolated", Label: "outside measured range"},
	{Name: "input", Label: "input"},
	{Name: "distribution", Label: "distribution"},
	{Name: "key", Label: "key"},
	{Name: "value", Label: "value"},
	{Name: "unit", Label: "unit"},
	{Name: "trust", Label: "trust"},
	{Name: "source", Label: "source"},
	{Name: "note", Label: "note"},

	// Block, flow, load.
	{Name: "block", Label: "block temperature", Head: "block", Unit: Celsius, Decimal: 1},
	{Name: "best_block", Label: "best block temperature in the range", Unit: Celsius},
	{Name: "flow", Label: "flow of filament", Head: "flow", Unit: Flow, Digits: 3, Beside: AsSpeed},
	{Name: "usable_flow", Label: "highest usable flow", Head: "usable flow", Unit: Flow, Digits: 3, Beside: AsSpeed},
	{Name: "usable_flow_low", Label: "usable flow, low (5 %)", Head: "low (5 %)", Unit: Flow, Digits: 3},
	{Name: "usable_flow_high", Label: "usable flow, high (95 %)", Head: "high (95 %)", Unit: Flow, Digits: 3},
	{Name: "usable_flow_input_low", Label: "usable flow, input low", Unit: Flow, Digits: 3},
	{Name: "usable_flow_input_high", Label: "usable flow, input high", Unit: Flow, Digits: 3},
	{Name: "pushed_flow", Label: "flow the feeder can push", Head: "can be pushed", Unit: Flow, Digits: 3},
	{Name: "melted_flow", Label: "flow that melts through", Head: "melts through", Unit: Flow, Digits: 3},
	{Name: "verdict", Label: "wanted flow"},
	{Name: "limit_flow", Label: "highest flow under this limit", Head: "highest flow", Unit: Flow, Digits: 3},
	{Name: "next_limit_flow", Label: "flow at the next limit", Unit: Flow, Digits: 3},
	{Name: "target_flow", Label: "wanted flow", Unit: Flow, Digits: 3, Beside: AsSpeed, Given: true},
	{Name: "margin", Label: "margin on the wanted flow", Unit: Share, Decimal: 0},
	{Name: "margin_at_usable_flow", Label: "margin at the usable flow", Unit: Share, Decimal: 1},
	{Name: "lowest_flow", Label: "lowest flow for the longest stay allowed", Unit: Flow, Digits: 3},
	{Name: "delivered_flow", Label: "flow delivered after slip", Unit: Flow, Digits: 4},
	{Name: "gain", Label: "gain in usable flow", Head: "gain", Unit: Flow, Digits: 3, Sign: true},
	{Name: "pressure", Label: "melt pressure at the inlet", Head: "pressure", Unit: Megapascal, Digits: 4},
	{Name: "force_on_filament", Label: "force on the filament", Unit: Newton, Digits: 4},
	{Name: "push", Label: "push force at the feeder", Head: "push", Unit: Newton, Digits: 4, Beside: InKGF},
	{Name: "push_lumped", Label: "push force by the quick (lumped) estimate", Unit: Newton, Digits: 4},
	{Name: "push_weak_stock", Label: "push force, unmelted stock half as strong", Unit: Newton, Digits: 4},
	{Name: "push_strong_stock", Label: "push force, unmelted stock twice as strong", Unit: Newton, Digits: 4},
	{Name: "capability", Label: "force the feeder holds", Head: "feeder holds", Unit: Newton, Digits: 4, Beside: InKGF},
	{Name: "capability_usable", Label: "force the feeder holds over the safety factor", Head: "over safety factor", Unit: Newton, Digits: 4},
	{Name: "capability_low", Label: "force the feeder holds, 2 sd lower", Head: "2 sd lower", Unit: Newton, Digits: 4},
	{Name: "capability_high", Label: "force the feeder holds, 2 sd higher", Head: "2 sd higher", Unit: Newton, Digits: 4},
	{Name: "grip", Label: "force at which the gear grinds", Head: "grip", Unit: Newton, Digits: 4},
	{Name: "stall", Label: "force at which the motor stalls", Head: "stall", Unit: Newton, Digits: 4},
	{Name: "column", Label: "force at which the filament buckles", Head: "buckling", Unit: Newton, Digits: 4},
	{Name: "force_on_mount", Label: "force on the hot-end mount", Unit: Newton, Digits: 4},
	{Name: "force", Label: "force", Unit: Newton, Digits: 4, Beside: InKGF},
	{Name: "force_sd", Label: "standard deviation of the force", Head: "sd", Unit: Newton, Digits: 2},
	{Name: "slide", Label: "stock slides before its surface melts", Unit: Millimetre, Digits: 3},

	// Temperatures, heat.
	{Name: "centre_at_cone", Label: "centre temperature at the cone", Head: "centre at cone", Unit: Celsius, Decimal: 1},
	{Name: "bulk_at_cone", Label: "bulk temperature at the cone", Head: "bulk at cone", Unit: Celsius, Decimal: 1},
	{Name: "exit_bulk", Label: "bulk temperature at the exit", Head: "exit bulk", Unit: Celsius, Decimal: 1},
	{Name: "exit_centre", Label: "centre temperature at the exit", Head: "exit centre", Unit: Celsius, Decimal: 1},
	{Name: "flow_point", Label: "flow point of the material", Head: "flow point", Unit: Celsius, Decimal: 1},
	{Name: "wall_heat", Label: "heat from the wall", Head: "wall heat", Unit: Watt, Digits: 3},
	{Name: "viscous_heat", Label: "heat made by flow", Head: "flow heat", Unit: Watt, Digits: 3},
	{Name: "heater", Label: "heater power", Head: "heater", Unit: Watt, Digits: 3},
	{Name: "nahme_number", Label: "Nahme number of a long channel, largest", Digits: 2},
	{Name: "brinkman_number", Label: "Brinkman number there", Digits: 2},
	{Name: "residence", Label: "time in the melt path", Head: "stay", Unit: Second, Digits: 3},

	// Along the path.
	{Name: "drop", Label: "pressure drop", Head: "drop", Unit: Megapascal, Digits: 4},
	{Name: "shear", Label: "pressure drop by shear", Head: "by shear", Unit: Megapascal, Digits: 4},
	{Name: "elongation", Label: "pressure drop by elongation", Head: "by elongation", Unit: Megapascal, Digits: 3},
	{Name: "inlet_pressure", Label: "pressure at the inlet of the section", Head: "inlet", Unit: Megapascal, Digits: 4},
	{Name: "bulk", Label: "bulk temperature", Head: "bulk", Unit: Celsius, Decimal: 1},
	{Name: "centre", Label: "centre temperature", Head: "centre", Unit: Celsius, Decimal: 1},
	{Name: "wall", Label: "wall temperature", Head: "wall", Unit: Celsius, Decimal: 1},
	{Name: "core_radius", Label: "radius of the core below the flow point", Head: "core radius", Unit: Millimetre, Digits: 3},
	{Name: "z", Label: "distance along the path", Head: "z", Unit: Millimetre, Decimal: 3},
	{Name: "radius", Label: "radius", Unit: Millimetre, Decimal: 3},
	{Name: "melt_pressure", Label: "pressure", Unit: Megapascal, Digits: 4},
	{Name: "cell_outer_radius", Label: "outer radius of the cell", Unit: Millimetre, Decimal: 3},
	{Name: "cell", Label: "temperature of the cell", Unit: Celsius, Decimal: 1},
	{Name: "cell_speed", Label: "speed of the cell", Unit: MillimetrePerSecond, Digits: 3},
	{Name: "heat_balance", Label: "heat balance closes to", Digits: 1},
	{Name: "work_balance", Label: "work balance closes to", Digits: 1},
	{Name: "energy_balance", Label: "energy balance closes to", Digits: 1},

	// What is not known.
	{Name: "probability_target_held", Label: "wanted flow held in", Unit: Share, Decimal: 0},
	{Name: "rank_correlation", Label: "rank correlation with usable flow", Decimal: 2},
	{Name: "share_of_samples", Label: "share of samples", Unit: Share, Decimal: 1},

	// The set temperature by flow.
	{Name: "set_block", Label: "block temperature to set", Head: "set block to", Unit: Celsius, Decimal: 1},
	{Name: "held_force", Label: "force to hold", Unit: Newton, Digits: 3, Beside: InKGF, Given: true},
	{Name: "base", Label: "block temperature at the start of the line", Unit: Celsius, Decimal: 1},
	{Name: "slope", Label: "slope of the line", Unit: KelvinPerFlow, Decimal: 1},
	{Name: "from_flow", Label: "start of the line", Unit: Flow, Digits: 3},
	{Name: "to_flow", Label: "end of the line", Unit: Flow, Digits: 3},
	{Name: "largest_miss", Label: "largest miss of the line", Unit: Kelvin, Decimal: 1},

	// Ranking.
	{Name: "rank", Label: "rank"},
	{Name: "tied", Label: "tied"},
	{Name: "feeder", Label: "feeder"},
	{Name: "hot_end", Label: "hot end"},
	{Name: "pair", Label: "pair"},
	{Name: "target_held", Label: "wanted flow held"},
	{Name: "test_speed", Label: "speed of filament", Head: "filament", Unit: MillimetrePerSecond, Digits: 3},
	{Name: "force_held_low", Label: "force held, low end (95 %)", Head: "low (95 %)", Unit: Newton, Digits: 3},
	{Name: "force_held_high", Label: "force held, high end (95 %)", Head: "high (95 %)", Unit: Newton, Digits: 3},
	{Name: "basis", Label: "force comes from", Head: "from"},
	{Name: "interval_assumed", Label: "interval assumed"},
	{Name: "feeder_mass", Label: "mass of the feeder", Head: "feeder", Unit: Gram, Digits: 4},
	{Name: "feeder_cost", Label: "cost of the feeder", Head: "cost", Digits: 4},
	{Name: "force_per_100_g_feeder", Label: "force per 100 g of feeder", Head: "per 100 g feeder", Unit: ForcePer100g, Digits: 3},
	{Name: "force_per_100_g_system", Label: "force per 100 g of feeder and hot end", Head: "per 100 g system", Unit: ForcePer100g, Digits: 3},
	{Name: "force_per_cost", Label: "force per cost of the feeder", Head: "per cost", Unit: Newton, Digits: 3},
	{Name: "mass", Label: "mass of feeder and hot end", Head: "mass", Unit: Gram, Digits: 4},
	{Name: "flow_per_100_g", Label: "usable flow per 100 g", Head: "flow per 100 g", Unit: FlowPer100g, Digits: 3},
	{Name: "force_per_100_g", Label: "force per 100 g", Unit: ForcePer100g, Digits: 3},
	{Name: "cost", Label: "cost", Digits: 4},
	{Name: "flow_per_cost", Label: "usable flow per cost", Head: "flow per cost", Unit: Flow, Digits: 3},

	// Runs in time.
	{Name: "time", Label: "time", Unit: Second, Digits: 4},
	{Name: "force_without_lag", Label: "force without the elastic lag", Head: "without lag", Unit: Newton, Digits: 4},
	{Name: "failure_time", Label: "time at which the feeder fails", Unit: Second, Decimal: 0},
	{Name: "failure_block", Label: "block temperature at which the feeder fails", Unit: Celsius, Decimal: 0},
	{Name: "failure_force", Label: "force at which the feeder fails", Unit: Newton, Digits: 3, Beside: InKGF},
	{Name: "lag", Label: "elastic lag", Unit: Second, Digits: 2},
	{Name: "end_time", Label: "end of the run", Head: "end", Unit: Second, Decimal: 1},

	// Bench plan.
	{Name: "run", Label: "run"},
	{Name: "repeat", Label: "repeat"},
	{Name: "predicted", Label: "predicted force", Head: "predicted", Unit: Newton, Digits: 3, Beside: InKGF},
	{Name: "predicted_low", Label: "predicted force, low viscosity and good contact", Head: "low", Unit: Newton, Digits: 3},
	{Name: "predicted_high", Label: "predicted force, high viscosity and poor contact", Head: "high", Unit: Newton, Digits: 3},
	{Name: "soak", Label: "soak", Unit: Second},
	{Name: "purge", Label: "purge", Unit: CubicMillimetre},
	{Name: "hold", Label: "hold", Unit: Second},
	{Name: "filament_length", Label: "length of filament", Head: "filament", Unit: Millimetre},
	{Name: "filament_total", Label: "filament in all", Unit: Metre, Decimal: 1},
	{Name: "duration", Label: "time in all", Unit: Minute},
	{Name: "least_force", Label: "least force", Head: "least", Unit: Newton, Digits: 3},
	{Name: "most_force", Label: "most force", Head: "most", Unit: Newton, Digits: 3},
	{Name: "reaches", Label: "spans the range"},
	{Name: "advice", Label: "what could"},
	{Name: "settling", Label: "settling time", Head: "settles in", Unit: Second, Digits: 3},
	{Name: "check", Label: "check"},
	{Name: "met", Label: "met"},
	{Name: "text", Label: "text"},

	// Logs.
	{Name: "rows", Label: "rows"},
	{Name: "rows_used", Label: "rows used"},
	{Name: "rate", Label: "rows a second", Unit: Hertz, Digits: 4},
	{Name: "tare", Label: "zero taken off", Unit: Newton, Digits: 3},
	{Name: "noise", Label: "noise", Unit: Newton, Digits: 2},
	{Name: "drift", Label: "drift of the zero", Unit: NewtonPerMinute, Digits: 2},
	{Name: "line", Label: "line"},
	{Name: "kind", Label: "kind"},
	{Name: "test", Label: "test"},
	{Name: "start", Label: "start", Head: "from", Unit: Second, Decimal: 1},
	{Name: "end", Label: "end", Head: "to", Unit: Second, Decimal: 1},
	{Name: "first_plateau", Label: "first plateau", Unit: Newton, Digits: 4},
	{Name: "plateau", Label: "last plateau", Unit: Newton, Digits: 4},
	{Name: "plateau_standard_error", Label: "standard error of the plateau", Head: "±", Unit: Newton, Digits: 2},
	{Name: "plateau_from", Label: "start of the plateau", Unit: Second, Decimal: 1},
	{Name: "plateau_to", Label: "end of the plateau", Unit: Second, Decimal: 1},
	{Name: "peak", Label: "highest force", Head: "peak", Unit: Newton, Digits: 4, Beside: InKGF},
	{Name: "peak_time", Label: "time of the highest force", Head: "peak at", Unit: Second, Decimal: 1},
	{Name: "peak_error", Label: "uncertainty of the highest force", Head: "±", Unit: Newton, Digits: 2},
	{Name: "ripple", Label: "ripple", Unit: Newton, Digits: 2},
	{Name: "ripple_frequency", Label: "frequency of the ripple", Head: "ripple", Unit: Hertz, Digits: 3},
	{Name: "alias_of", Label: "alias of", Unit: Hertz, Digits: 4},
	{Name: "half_width", Label: "half-width of the 95 % interval", Head: "± (95 %)", Unit: Newton, Digits: 3},
	{Name: "coefficient_of_variation", Label: "coefficient of variation", Unit: Share, Decimal: 1},

	// Calibration.
	{Name: "factor", Label: "factor"},
	{Name: "before_value", Label: "before", Digits: 3},
	{Name: "fitted_value", Label: "fitted", Digits: 3},
	{Name: "low_value", Label: "low (95 %)", Digits: 3},
	{Name: "high_value", Label: "high (95 %)", Digits: 3},
	{Name: "known", Label: "known"},
	{Name: "mean_error", Label: "mean error at the points", Unit: Share, Decimal: 1},
	{Name: "mean_error_before", Label: "mean error before", Unit: Share, Decimal: 1},
	{Name: "rms", Label: "rms error at the points", Unit: Newton, Digits: 3},
	{Name: "trace_rms", Label: "rms error along the traces", Unit: Newton, Digits: 3},
	{Name: "measured", Label: "measured force", Head: "measured", Unit: Newton, Digits: 4, Beside: InKGF},
	{Name: "standard_uncertainty", Label: "standard uncertainty", Unit: Newton, Digits: 2},
	{Name: "before", Label: "predicted before", Head: "before", Unit: Newton, Digits: 4},
	{Name: "calibrated", Label: "predicted after calibration", Head: "calibrated", Unit: Newton, Digits: 4},
	{Name: "residual", Label: "predicted minus measured", Head: "residual", Unit: Newton, Digits: 3, Sign: true, Beside: InKGF},
	{Name: "residual_share", Label: "residual over measured", Head: "residual", Unit: Share, Decimal: 1, Sign: true},

	// Load cell.
	{Name: "per_count", Label: "force of a count", Unit: NewtonPerCount, Digits: 6},
	{Name: "per_count_standard_uncertainty", Label: "standard uncertainty of that", Unit: NewtonPerCount, Digits: 2},
	{Name: "zero", Label: "counts at no load", Unit: Count, Digits: 6},
	{Name: "zero_standard_uncertainty", Label: "standard uncertainty of that", Unit: Count, Digits: 2},
	{Name: "span", Label: "span", Unit: Newton, Digits: 3},
	{Name: "single_reading", Label: "standard deviation of one reading", Unit: Newton, Digits: 2},
	{Name: "standard_uncertainty_at_span", Label: "standard uncertainty at the span", Unit: Newton, Digits: 2},
	{Name: "nonlinearity_of_span", Label: "departure from straight, of the span", Unit: Share, Decimal: 3},
	{Name: "hysteresis_of_span", Label: "hysteresis, of the span", Unit: Share, Decimal: 3},
	{Name: "weight_mass", Label: "mass", Unit: Kilogram, Digits: 4},
	{Name: "up", Label: "reading while loading", Head: "up", Unit: Count, Digits: 7},
	{Name: "down", Label: "reading while unloading", Head: "down", Unit: Count, Digits: 7},
	{Name: "read_minus_true", Label: "read minus true", Unit: Newton, Digits: 3, Sign: true},

	// Mould.
	{Name: "filled", Label: "filled"},
	{Name: "filled_share", Label: "filled", Unit: Share, Decimal: 1},
	{Name: "fill_time", Label: "fill time", Unit: Second, Digits: 3},
	{Name: "force_limited_from", Label: "the force of the feeder sets the flow from", Unit: Second, Digits: 3},
	{Name: "melt", Label: "melt enters at", Unit: Celsius},
	{Name: "comes_out", Label: "comes out of the mould"},
	{Name: "melt_available", Label: "melt in the hot end at rest", Unit: CubicMillimetre, Digits: 3},
	{Name: "mould_surface", Label: "face of the mould", Unit: Celsius},
	{Name: "mould_contact", Label: "contact of melt and mould", Unit: HeatTransfer, Digits: 3, Given: true},
	{Name: "no_flow", Label: "no-flow temperature", Unit: Celsius},
	{Name: "cycle", Label: "from shot to shot", Unit: Second, Digits: 3},
	{Name: "shrinkage_low", Label: "shrinkage along a length, low", Unit: Share, Decimal: 1},
	{Name: "shrinkage_high", Label: "shrinkage along a length, high", Unit: Share, Decimal: 1},
	{Name: "hold_pressure", Label: "pressure to hold for no shrinkage", Unit: Megapascal, Digits: 3},
	{Name: "shot_number", Label: "shot"},
	{Name: "face_at_start", Label: "face of the mould at the start", Head: "face at start", Unit: Celsius},
	{Name: "centre_sets_after", Label: "centre sets after", Unit: Second, Digits: 3},
	{Name: "comes_out_after", Label: "comes out after", Unit: Second, Digits: 3},
	{Name: "shut", Label: "mould shut for", Head: "shut", Unit: Second, Digits: 3},
	{Name: "centre_at_opening", Label: "centre when the mould opens", Head: "centre at opening", Unit: Celsius},
	{Name: "face_at_opening", Label: "face when the mould opens", Head: "face at opening", Unit: Celsius},
	{Name: "set_flow", Label: "set flow", Unit: Flow, Digits: 3, Beside: AsSpeed, Given: true},
	{Name: "shot", Label: "volume of the shot", Head: "shot", Unit: CubicMillimetre, Digits: 4},
	{Name: "peak_pressure", Label: "highest pressure at the nozzle", Head: "peak pressure", Unit: Megapascal, Digits: 3},
	{Name: "dead_end_pressure", Label: "pressure the feeder can give at a dead end", Unit: Megapascal, Digits: 3},
	{Name: "clamp", Label: "clamp force", Head: "clamp", Unit: Newton, Decimal: 0},
	{Name: "clamp_safety_factor", Label: "safety factor of the clamp", Digits: 2},
	{Name: "gate_freezes_after", Label: "gate freezes after", Unit: Second, Digits: 3},
	{Name: "cooling", Label: "cooling after filling", Unit: Second, Digits: 3},
	{Name: "frozen_share", Label: "most of the thickness frozen", Head: "frozen", Unit: Share, Decimal: 1},
	{Name: "nozzle_pressure", Label: "pressure at the nozzle", Head: "pressure", Unit: Megapascal, Digits: 3},
	{Name: "front", Label: "front along the path", Head: "front", Unit: Millimetre, Digits: 4},
	{Name: "opening", Label: "force that opens the mould", Head: "opening", Unit: Newton, Digits: 3},
	{Name: "force_limited", Label: "flow set by the force"},
	{Name: "x", Label: "distance along the path", Head: "at", Unit: Millimetre, Decimal: 1},
	{Name: "half_thickness", Label: "half thickness", Unit: Millimetre, Decimal: 2},
	{Name: "cell_outer_share", Label: "outer edge of the cell, of the half thickness", Digits: 3},
	{Name: "element", Label: "element"},
	{Name: "thickness", Label: "thickness", Unit: Millimetre, Digits: 3, Given: true},
	{Name: "mould", Label: "mould surface", Unit: Celsius},
	{Name: "longest", Label: "longest flow", Unit: Millimetre, Decimal: 1},
	{Name: "asked", Label: "length asked for", Unit: Millimetre, Digits: 3, Given: true},
	{Name: "searched_to", Label: "end of the search", Unit: Millimetre},
	{Name: "thinnest", Label: "thinnest wall that fills", Unit: Millimetre, Digits: 2},
	{Name: "middle", Label: "middle of the thickness", Head: "middle", Unit: Celsius},
	{Name: "next_to_wall", Label: "next to the wall", Unit: Celsius},
}
