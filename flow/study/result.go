// Package study runs a case through solver, feeder and match and gathers
// everything worth showing in one serialisable result. Text, JSON, CSV and
// HTML are renderings of it; none of them computes physics.
package study

// Result is the one result object. Numbers are in edge units, named in the JSON keys.
type Result struct {
	Header
	Verdict Verdict `json:"verdict"`

	Point    Point     `json:"operating_point"`
	Sections []Section `json:"sections"`
	Bounds   []Bound   `json:"bounds"`

	Load       []LoadCurve  `json:"load_curves"`
	Capability []CapPoint   `json:"capability_curve"`
	Measured   []BenchPoint `json:"measured_points"`
	ByTemp     []TempPoint  `json:"by_temperature"`
	BestTemp   float64      `json:"best_block_degC"`
	Map        Map          `json:"map"`
	Melt       *Melt        `json:"melt_zone,omitempty"`
	Range      *Range       `json:"range,omitempty"`
	Gains      []Gain       `json:"gains,omitempty"`
	SetPoints  []SetPoint   `json:"set_points,omitempty"`
	SetLine    *SetLine     `json:"set_line,omitempty"`
	Stats      Stats        `json:"solver_statistics"`
}

// Verdict is the answer in one place.
type Verdict struct {
	Flow     float64 `json:"usable_flow_mm3_s"`
	Speed    float64 `json:"usable_speed_mm_s"`
	Limit    string  `json:"limit"` // "" if nothing binds within the search
	Meaning  string  `json:"limit_meaning"`
	Next     string  `json:"next_limit"`
	NextFlow float64 `json:"next_limit_flow_mm3_s"`
	Target   float64 `json:"target_flow_mm3_s"` // 0 if open
	Held     bool    `json:"target_held"`
	Margin   float64 `json:"margin"` // usable flow over the target, minus one
	LowFlow  float64 `json:"lowest_flow_mm3_s"`
}

// Point is the operating point shown in detail: the target flow if one is given, else the usable flow.
type Point struct {
	Block       float64 `json:"block_degC"`
	Flow        float64 `json:"flow_mm3_s"`
	Speed       float64 `json:"speed_mm_s"`
	Delivered   float64 `json:"delivered_flow_mm3_s"` // after slip, if slip is given
	Pressure    float64 `json:"pressure_MPa"`
	Force       float64 `json:"force_N"`
	Push        float64 `json:"push_N"`
	PushKGF     float64 `json:"push_kgf"`
	Capability  float64 `json:"capability_N"`
	EntryCentre float64 `json:"centre_at_cone_degC"`
	EntryMix    float64 `json:"mix_at_cone_degC"`
	Slide       float64 `json:"stock_slides_mm,omitempty"` // from the inlet, crystalline stock only
	ExitMix     float64 `json:"exit_mix_degC"`
	ExitCentre  float64 `json:"exit_centre_degC"`
	FlowPoint   float64 `json:"flow_point_degC"`
	WallHeat    float64 `json:"wall_heat_W"`
	Viscous     float64 `json:"viscous_heat_W"`
	Heater      float64 `json:"heater_W"`
	Nahme       float64 `json:"nahme_number"` // largest of the sections
	Brinkman    float64 `json:"brinkman_number"`
	Residence   float64 `json:"residence_s"`
	// Quick is the push force by the lumped estimate, for comparison.
	Quick float64 `json:"push_lumped_N"`
	// CapLow and CapHigh are the push for solid-side caps of 1e5 and 1e8 Pa s, where the core
	// enters the cone unmelted; 0 otherwise.
	CapLow  float64 `json:"push_cap_1e5_N,omitempty"`
	CapHigh float64 `json:"push_cap_1e8_N,omitempty"`
	Mount   float64 `json:"force_on_mount_N"`
}

// Section is the drop along the path.
type Section struct {
	Name       string  `json:"name"`
	Drop       float64 `json:"drop_MPa"`
	Shear      float64 `json:"shear_MPa"`
	Elongation float64 `json:"elongation_MPa"`
	Share      float64 `json:"share"`
	PressureIn float64 `json:"inlet_MPa"`
	Mix        float64 `json:"mix_degC"`
	Centre     float64 `json:"centre_degC"`
	Wall       float64 `json:"wall_degC"`
	Core       float64 `json:"core_radius_mm"`
	WallHeat   float64 `json:"wall_heat_W"`
	Viscous    float64 `json:"viscous_W"`
	Residence  float64 `json:"residence_s"`
}

// Bound is the flow that one limit allows.
type Bound struct {
	Limit   string  `json:"limit"`
	Code    string  `json:"code"`
	Flow    float64 `json:"flow_mm3_s"`
	Open    bool    `json:"beyond_search"`
	Room    float64 `json:"room_at_usable_flow"`
	Meaning string  `json:"meaning"`
}

// LoadCurve is push force against flow at one block temperature.
type LoadCurve struct {
	Block  float64     `json:"block_degC"`
	Points []LoadPoint `json:"points"`
}

// LoadPoint is one point of a load curve.
type LoadPoint struct {
	Flow     float64 `json:"flow_mm3_s"`
	Speed    float64 `json:"speed_mm_s"`
	Push     float64 `json:"push_N"`
	Pressure float64 `json:"pressure_MPa"`
	Centre   float64 `json:"centre_at_cone_degC"`
	ExitMix  float64 `json:"exit_mix_degC"`
	Heater   float64 `json:"heater_W"`
}

// CapPoint is one point of the capability curve.
type CapPoint struct {
	Flow         float64 `json:"flow_mm3_s"`
	Force        float64 `json:"force_N"`
	Usable       float64 `json:"usable_N"` // over the safety factor
	Low          float64 `json:"low_N"`    // minus two standard deviations
	High         float64 `json:"high_N"`
	Cause        string  `json:"cause"`
	Extrapolated bool    `json:"extrapolated"`
	Grip         float64 `json:"grip_N,omitempty"`
	Stall        float64 `json:"stall_N,omitempty"`
	Column       float64 `json:"column_N,omitempty"`
}

// BenchPoint is a measured point as used.
type BenchPoint struct {
	Flow    float64 `json:"flow_mm3_s"`
	Speed   float64 `json:"speed_mm_s"`
	Force   float64 `json:"force_N"`
	KGF     float64 `json:"force_kgf"`
	SD      float64 `json:"sd_N"`
	Cause   string  `json:"cause"`
	Repeats int     `json:"repeats"`
}

// TempPoint is the usable flow at one block temperature.
type TempPoint struct {
	Block float64 `json:"block_degC"`
	Flow  float64 `json:"usable_flow_mm3_s"`
	Limit string  `json:"limit"`
	Code  string  `json:"code"`
}

// Map is the operating map: rows by temperature, columns by flow.
type Map struct {
	Temps []float64   `json:"block_degC"`
	Flows []float64   `json:"flow_mm3_s"`
	Codes [][]string  `json:"codes"` // "+" usable, else the code of the nearest limit exceeded
	Push  [][]float64 `json:"push_N"`
}

// Melt is the resolved melt zone at the operating point.
type Melt struct {
	Z        []float64   `json:"z_mm"`
	R        []float64   `json:"radius_mm"`
	P        []float64   `json:"pressure_MPa"`
	Mix      []float64   `json:"mix_degC"`
	Centre   []float64   `json:"centre_degC"`
	Core     []float64   `json:"core_radius_mm"`
	Section  []int       `json:"section"`
	CellEdge [][]float64 `json:"cell_outer_radius_mm"`
	T        [][]float64 `json:"cell_degC"`
	U        [][]float64 `json:"cell_speed_mm_s"`
}

// Stats tells what it took.
type Stats struct {
	Solves      int     `json:"solves"`
	Stations    int     `json:"stations"`
	Cells       int     `json:"cells"`
	HeatBalance float64 `json:"heat_balance"`
	WorkBalance float64 `json:"work_balance"`
}

// Low, best and high of one number: the 5, 50 and 95 per cent points.
type Band struct {
	Name string  `json:"name"`
	Unit string  `json:"unit"`
	Low  float64 `json:"low"`
	Best float64 `json:"best"`
	High float64 `json:"high"`
}

// Influence is how much one uncertain input moves the usable flow.
type Influence struct {
	Input string  `json:"input"`
	Dist  string  `json:"distribution"`
	Rank  float64 `json:"rank_correlation"`
	Low   float64 `json:"flow_at_low_mm3_s"`
	High  float64 `json:"flow_at_high_mm3_s"`
}

// Range is the result of sampling what is not known.
type Range struct {
	Samples     int         `json:"samples"`
	Seed        uint64      `json:"seed"`
	Bands       []Band      `json:"bands"`
	Probability float64     `json:"probability_target_held"`
	HasTarget   bool        `json:"has_target"`
	Influences  []Influence `json:"influences"`
	Limits      []Share     `json:"limits"`
}

// Share is how often a limit bound.
type Share struct {
	Limit string  `json:"limit"`
	Share float64 `json:"share"`
}

// Gain is what one change would do to the usable flow.
type Gain struct {
	Change string  `json:"change"`
	Flow   float64 `json:"usable_flow_mm3_s"`
	Gain   float64 `json:"gain_mm3_s"`
	Limit  string  `json:"limit"`
}

// SetPoint is the block temperature that keeps the force under a chosen value at a flow.
type SetPoint struct {
	Flow  float64 `json:"flow_mm3_s"`
	Block float64 `json:"block_degC"`
	Note  string  `json:"note,omitempty"`
}

// SetLine is the straight line through two of the set points.
type SetLine struct {
	Force float64 `json:"force_N"`
	Base  float64 `json:"base_degC"`
	Slope float64 `json:"slope_K_per_mm3_s"`
	From  float64 `json:"from_flow_mm3_s"`
	To    float64 `json:"to_flow_mm3_s"`
	Worst float64 `json:"largest_miss_K"`
}
