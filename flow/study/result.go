// Package study runs a job on a set-up (package setup) in one call and gathers everything worth showing in one result:
// Assess, Rank, Survey, MakePlan, MakeRamps, Trace, ReadLogs, Compare, CheckCell, Calibrate, CalibrateMould and
// FillMould. Every job refuses a set-up that cannot be computed with all that is wrong with it. Results hold SI values;
// the table of flow/quantity says how each is named, labelled and shown. Text, JSON, CSV and HTML are renderings of a
// result; none of them computes physics.
package study

import (
	"meltload/flow"
	"meltload/flow/match"
)

// Result is what Assess finds out about a case.
type Result struct {
	Header
	Verdict Verdict `json:"verdict"`

	Point    Point     `json:"operating_point"`
	Sections []Section `json:"sections"`
	// Stretches and Spent are the state of the stock before the cone, and where the push is spent, at the operating
	// point.
	Stretches Stretches `json:"stretches"`
	Spent     Spent     `json:"load_spent"`
	Bounds    []Bound   `json:"bounds"`

	Load       []LoadCurve  `json:"load_curves"`
	Capability []CapPoint   `json:"capability_curve"`
	Measured   []BenchPoint `json:"measured_points"`
	ByTemp     []TempPoint  `json:"by_temperature"`
	// nil where no temperature of the range gives a usable flow
	BestTemp  *float64   `                            q:"best_block"`
	Map       Map        `json:"map"`
	Melt      *Melt      `json:"melt_zone,omitempty"`
	Range     *Range     `json:"range,omitempty"`
	Corners   *Corners   `json:"corners,omitempty"`
	Gains     []Gain     `json:"gains,omitempty"`
	SetPoints []SetPoint `json:"set_points,omitempty"`
	SetLine   *SetLine   `json:"set_line,omitempty"`
	Stats     Stats      `json:"solver_statistics"`

	// What the answer goes on with; nil in a result that was read.
	solver flow.Solver
	found  *match.Result // at the block temperature
	chart  *match.Chart  // of the load over all block temperatures
}

// Corners is the usable flow with what moves the load most at its hard and at its easy side, all of it at once: a
// coarse range near 5 to 95 per cent. It is another kind of range than that of samples: the two are not to be compared.
type Corners struct {
	Low           float64 `q:"usable_flow_low_end"`
	High          float64 `q:"usable_flow_high_end"`
	LowIs, HighIs string  `json:"-"` // what stands at its ends there
	searchEnd     float64 // m3/s
}

// Verdict is the answer in one place.
type Verdict struct {
	Flow     float64  `q:"usable_flow"`
	Limit    string   `q:"limit"` // "" if nothing binds within the search
	Meaning  string   `q:"meaning"`
	Next     string   `q:"next_limit"`
	NextFlow *float64 `q:"next_limit_flow"` // nil if there is no other limit within the search
	Target   *float64 `q:"target_flow"`     // nil if open
	Held     bool     `q:"target_held"`     // by the set-up as it stands
	// how sure that is, once what is not known has been looked at; see package assess
	Judged  string   `q:"verdict"`
	Pushed  *float64 `q:"pushed_flow"` // the most that the feeder can push
	Melted  *float64 `q:"melted_flow"` // the most that melts through before the cone; nil beyond the search
	Margin  *float64 `q:"margin"`      // usable flow over the target, minus one
	LowFlow *float64 `q:"lowest_flow"`
	// Printed is the print speed of the flows above; nil where the nozzle says no line and none is given.
	Printed *Printed `json:"print"`
}

// Printed tells flows as print speeds, in lines of a layer height and a line width, taken as rectangles.
type Printed struct {
	Layer   float64  `q:"layer_height"`
	Width   float64  `q:"line_width"`
	Assumed bool     `q:"line_assumed"` // some of it follows from the nozzle
	Nozzle  *float64 `q:"nozzle"`       // nil where its bore is not round
	Speed   float64  `q:"print_speed"`  // at the usable flow
	Wanted  *float64 `q:"wanted_print_speed"`
}

// Point is the operating point shown in detail: the target flow if one is given, else the usable flow.
type Point struct {
	Block       float64  `q:"block"`
	Flow        float64  `q:"flow"`
	Delivered   *float64 `q:"delivered_flow"` // after slip; nil if slip is not given
	Pressure    float64  `q:"pressure"`
	Force       float64  `q:"force_on_filament"`
	Push        float64  `q:"push"`
	Capability  float64  `q:"capability"`
	Mount       float64  `q:"force_on_mount"`
	Quick       float64  `q:"push_lumped"` // for comparison
	EntryCentre float64  `q:"centre_at_cone"`
	EntryBulk   float64  `q:"bulk_at_cone"`
	FlowPoint   float64  `q:"flow_point"`
	ExitBulk    float64  `q:"exit_bulk"`
	ExitCentre  float64  `q:"exit_centre"`
	WallHeat    float64  `q:"wall_heat"`
	Viscous     float64  `q:"viscous_heat"`
	Nahme       float64  `q:"nahme_number"` // largest of the sections
	Brinkman    float64  `q:"brinkman_number"`
	Heater      float64  `q:"heater"`
	Residence   float64  `q:"residence"`
	// WeakStock and StrongStock are the push for stock of half and of twice its strength, where the core enters the
	// cone unmelted.
	WeakStock   *float64 `q:"push_weak_stock"`
	StrongStock *float64 `q:"push_strong_stock"`
}

// Stretches are the parts of the path before the cone by the state of the stock, from the cold side.
type Stretches struct {
	Unheated     float64  `q:"unheated_length"`
	Rod          float64  `q:"rod_length"`
	Wetted       float64  `q:"wetted_length"`
	Held         float64  `q:"held_length"`
	Leak         float64  `q:"leak_length"`
	WettedShare  float64  `q:"wetted_share"`
	Gap          float64  `q:"gap"`
	Softening    *float64 `q:"softening"` // nil with no rod
	Solid        bool     `q:"rod_reaches_cone"`
	MeltsThrough bool     `q:"melts_through"`
}

// Spent is the push by where it is spent. The parts sum to the push.
type Spent struct {
	Barrel   float64 `q:"load_barrel"`
	Cone     float64 `q:"load_cone"`
	Entrance float64 `q:"load_entrance"`
	Bore     float64 `q:"load_bore"`
	Drag     float64 `q:"load_drag"`
}

// Section is the drop along the path.
type Section struct {
	Name       string  `q:"section"`
	Drop       float64 `q:"drop"`
	Shear      float64 `q:"shear"`
	Elongation float64 `q:"elongation"`
	Share      float64 `q:"share"`
	PressureIn float64 `q:"inlet_pressure"`
	Bulk       float64 `q:"bulk"`
	Centre     float64 `q:"centre"`
	Wall       float64 `q:"wall"`
	Core       float64 `q:"core_radius"`
	WallHeat   float64 `q:"wall_heat"`
	Viscous    float64 `q:"viscous_heat"`
	Residence  float64 `q:"residence"`
}

// Bound is the flow that one limit allows.
type Bound struct {
	Limit   string   `q:"limit_name"`
	Code    string   `q:"code"`
	Flow    float64  `q:"limit_flow"` // the end of the search if Open
	Open    bool     `q:"beyond_search"`
	Warns   bool     `q:"warns_only"`            // it is told, and does not set the usable flow
	Margin  *float64 `q:"margin_at_usable_flow"` // nil where next to nothing of the limit is used
	Speed   *float64 `q:"print_speed"`           // nil without a line
	Meaning string   `q:"meaning"               show:"wide"`
}

// LoadCurve is push force against flow at one block temperature.
type LoadCurve struct {
	Block  float64     `q:"block"`
	Points []LoadPoint `          json:"points"`
}

// LoadPoint is one point of a load curve.
type LoadPoint struct {
	Block    float64 `q:"block"`
	Flow     float64 `q:"flow"`
	Push     float64 `q:"push"`
	Pressure float64 `q:"pressure"`
	Centre   float64 `q:"centre_at_cone"`
	ExitBulk float64 `q:"exit_bulk"`
	Heater   float64 `q:"heater"`
}

// CapPoint is one point of the capability curve.
type CapPoint struct {
	Flow         float64  `q:"flow"`
	Force        float64  `q:"capability"`
	Usable       float64  `q:"capability_usable"`
	Low          float64  `q:"capability_low"`
	High         float64  `q:"capability_high"`
	Cause        string   `q:"failure_cause"`
	Extrapolated bool     `q:"extrapolated"`
	Grip         *float64 `q:"grip"` // nil without a model of the feeder
	Stall        *float64 `q:"stall"`
	Column       *float64 `q:"column"`
}

// BenchPoint is a measured point as used.
type BenchPoint struct {
	Flow    float64 `q:"flow"`
	Force   float64 `q:"force"`
	SD      float64 `q:"force_sd"`
	Cause   string  `q:"cause"`
	Repeats int     `q:"repeats"`
}

// TempPoint is the usable flow at one block temperature.
type TempPoint struct {
	Block float64  `q:"block"`
	Flow  float64  `q:"usable_flow"`
	Speed *float64 `q:"print_speed"`
	Limit string   `q:"limit"`
	Code  string   `q:"code"`
}

// Map is the operating map: rows by temperature, columns by flow.
type Map struct {
	Temps  []float64   `q:"block"`
	Flows  []float64   `q:"flow"`
	Codes  [][]string  `          json:"codes"` // "+" usable, else the code of the nearest limit exceeded
	Push   [][]float64 `q:"push"`
	Usable float64     `q:"share"` // of the map
}

// Melt is the resolved melt zone at the operating point.
type Melt struct {
	Z []float64 `q:"z"`
	R []float64 `q:"radius"`
	// of the passage; what lies between it and the radius of the stock is an air gap
	Bore     []float64   `q:"bore_radius"`
	Stretch  []string    `                      json:"stretch"` // rod, wetted or held
	P        []float64   `q:"melt_pressure"`
	Bulk     []float64   `q:"bulk"`
	Centre   []float64   `q:"centre"`
	Core     []float64   `q:"core_radius"`
	Section  []int       `                      json:"section"`
	CellEdge [][]float64 `q:"cell_outer_radius"`
	T        [][]float64 `q:"cell"`
	U        [][]float64 `q:"cell_speed"`
}

// Stats tells what it took.
type Stats struct {
	Solves      int     `json:"solves"`      // solutions that the answer took
	Read        int     `json:"points_read"` // points of maps and curves that were read off a match.Chart instead
	Stations    int     `json:"stations"`
	Cells       int     `json:"cells"`
	HeatBalance float64 `                q:"heat_balance"`
	WorkBalance float64 `                q:"work_balance"`
}

// Interval is low, best and high of one number in SI: the 5 and 95 per cent points of the samples, and between them the
// number for the case as it stands.
type Interval struct {
	Low  float64 `json:"low"`
	Best float64 `json:"best"`
	High float64 `json:"high"`
}

// Influence is how much one uncertain input moves the usable flow.
type Influence struct {
	Input string  `q:"input"`
	Dist  string  `q:"distribution"`
	Rank  float64 `q:"rank_correlation"`
	Low   float64 `q:"usable_flow_input_low"`
	High  float64 `q:"usable_flow_input_high"`
}

// Range is the result of sampling what is not known.
type Range struct {
	Samples int `json:"samples"`
	Solved  int `json:"solved"` // of the samples; the others are read off a surface through these
	// by how much that surface misses the usable flow of a sample: root mean square of a cross-validation, as a share;
	// nil where all are solved
	SurfaceMiss *float64 `                                    q:"surface_miss"`
	Seed        uint64   `json:"seed"`
	Usable      Interval `                                    q:"usable_flow"`
	Pushed      Interval `                                    q:"pushed_flow"`
	Melted      Interval `                                    q:"melted_flow"`
	Push        Interval `                                    q:"push"`
	Pressure    Interval `                                    q:"pressure"`
	ExitBulk    Interval `                                    q:"exit_bulk"`
	EntryCentre Interval `                                    q:"centre_at_cone"`
	Heater      Interval `                                    q:"heater"`
	// nil without a wanted flow
	Probability *float64    `                                    q:"probability_target_held"`
	Thresholds  string      `json:"verdict_thresholds,omitempty"`
	Influences  []Influence `json:"influences"`
	Limits      []Share     `json:"limits"`

	searchEnd float64 // m3/s
}

// Share is how often a limit bound.
type Share struct {
	Limit string  `q:"limit_name"`
	Share float64 `q:"share_of_samples"`
}

// Gain is what one change would do to the usable flow.
type Gain struct {
	Change string  `q:"change"`
	Flow   float64 `q:"usable_flow"`
	Gain   float64 `q:"gain"`
	Limit  string  `q:"limit"`
}

// SetPoint is the block temperature that keeps the force under a chosen value at a flow.
type SetPoint struct {
	Flow  float64  `q:"flow"`
	Force float64  `q:"held_force"`
	Block *float64 `q:"set_block"` // nil where no temperature of the range will do
	Note  string   `q:"remark"`
}

// SetLine is the straight line through two of the set points.
type SetLine struct {
	Force *float64 `q:"held_force"` // nil: what the feeder can give
	Base  float64  `q:"base"`
	Slope float64  `q:"slope"`
	From  float64  `q:"from_flow"`
	To    float64  `q:"to_flow"`
	Worst float64  `q:"largest_miss"`
}
