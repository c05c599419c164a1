// Package casefile reads a case from TOML: strictly, units in the key names,
// every error in one run with file, line, field, the value seen and what is allowed.
package casefile

import (
	"meltload/flow"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/materials/unit"
)

// file is a case file as written. The tags are the one table from which
// checks, help and the starter file take units, bounds and defaults.
type file struct {
	Title string `toml:"title" doc:"a line that names the case"`

	FeederFile string `toml:"feeder_file" doc:"a file with [feeder], relative to this one; keys under [feeder] here go over its"`
	HotEndFile string `toml:"hot_end_file" doc:"a file with [hot_end], relative to this one; keys under [hot_end] here go over its"`

	Filament filament    `toml:"filament" need:"yes"`
	Material *adjustment `toml:"material"`
	HotEnd   hotEnd      `toml:"hot_end" need:"yes"`
	Path     path        `toml:"path"`
	Feeder   feederSpec  `toml:"feeder" need:"yes"`
	Limits   limits      `toml:"limits"`
	Target   target      `toml:"target"`
	Spread   spread      `toml:"spread"`
	Mould    *mouldSpec  `toml:"mould"`
}

type mouldSpec struct {
	Name       string         `toml:"name" doc:"what to call it"`
	Wall       float64        `toml:"mould_degC" min:"-20" max:"350" unit:"degC" need:"yes" doc:"temperature of the mould before the melt comes"`
	Material   string         `toml:"wall_material" enum:"aluminium steel brass cast-epoxy printed-resin plaster" doc:"what the mould is made of, aluminium if not given"`
	WallK      *float64       `toml:"wall_W_mK" min:"0.02" max:"500" unit:"W/(m K)" doc:"its conductivity, in place of that of wall_material"`
	WallRhoC   *float64       `toml:"wall_J_m3K" min:"1e5" max:"1e7" unit:"J/(m3 K)" doc:"its density times heat capacity, in place of that of wall_material"`
	WallDepth  *float64       `toml:"wall_mm" min:"0.5" max:"200" unit:"mm" doc:"from the face of the cavity to the back; 20 for metal and plaster, 10 for epoxy and resin if not given (assumed)"`
	Back       *float64       `toml:"back_W_m2K" min:"0" max:"10000" unit:"W/(m2 K)" doc:"from the back of the mould to air, still air about 10; 0 holds the back at mould_degC; if not given 0 for metal, 10 for the others"`
	Air        float64        `toml:"air_degC" min:"-20" max:"120" unit:"degC" doc:"that air, and the air on the open mould, 25 if not given"`
	Contact    float64        `toml:"contact_W_m2K" min:"1" inf:"yes" unit:"W/(m2 K)" doc:"melt to face of the mould, 3000 if not given (assumed); inf for perfect contact"`
	Contacts   []float64      `toml:"contact_range_W_m2K" len:"2" min:"1" inf:"yes" unit:"W/(m2 K)" doc:"lowest and highest contact, 1000 to inf if not given (assumed)"`
	NoFlow     *float64       `toml:"no_flow_degC" min:"20" max:"400" unit:"degC" doc:"below which melt that cools stands still, in place of the material's"`
	NoFlowBand float64        `toml:"no_flow_range_K" min:"0" max:"60" unit:"K" doc:"plus or minus on it, 15 if not given (assumed)"`
	WallBand   float64        `toml:"mould_range_K" min:"0" max:"60" unit:"K" doc:"plus or minus on mould_degC, 5 if not given (assumed)"`
	Cap        float64        `toml:"set_melt_cap_Pa_s" min:"1e5" max:"1e12" unit:"Pa s" doc:"bound on the viscosity of melt that has set, 1e7 if not given: a numerical statement"`
	Open       float64        `toml:"open_s" min:"0" max:"3600" unit:"s" doc:"from opening the mould to the next shot, 20 if not given (assumed)"`
	Cycle      float64        `toml:"cycle_s" min:"0" max:"36000" unit:"s" doc:"from shot to shot; 0 takes fill, cooling and open_s together"`
	Shots      int            `toml:"shots" min:"0" max:"200" doc:"in a row, for the temperature that the mould comes to, 12 if not given"`
	Flow       float64        `toml:"flow_mm3_s" min:"0.01" zero:"yes" max:"1000" unit:"mm3/s" doc:"set flow while filling; 0 takes the target's flow"`
	Safety     float64        `toml:"clamp_safety_factor" min:"0" max:"10" doc:"clamp over opening force, 1.5 if not given (assumed)"`
	Elements   []mouldElement `toml:"element" need:"yes" doc:"the path from nozzle to end of the cavity"`
}

type mouldElement struct {
	Name     string   `toml:"name" doc:"what to call it"`
	Shape    string   `toml:"shape" enum:"sprue round half-round trapezoid rectangle strip disc" need:"yes" doc:"strip: wide flat cavity or gate; disc: gated at its centre"`
	Diameter *float64 `toml:"diameter_mm" min:"0.01" max:"100" unit:"mm" doc:"inlet of a sprue or round; of a half-round; gate of a disc"`
	End      *float64 `toml:"end_diameter_mm" min:"0.01" max:"500" unit:"mm" doc:"outlet of a sprue or round, the same as the inlet if not given; rim of a disc"`
	Width    *float64 `toml:"width_mm" min:"0.01" max:"500" unit:"mm" doc:"of a strip or rectangle; wide side of a trapezoid"`
	Narrow   *float64 `toml:"narrow_width_mm" min:"0.01" max:"500" unit:"mm" doc:"narrow side of a trapezoid"`
	Height   *float64 `toml:"thickness_mm" min:"0.01" max:"50" unit:"mm" doc:"of a strip or disc; height of a trapezoid or rectangle"`
	Length   *float64 `toml:"length_mm" min:"0.01" max:"1000" unit:"mm" doc:"along the flow; not of a disc"`
	Copies   int      `toml:"copies" min:"0" max:"64" doc:"equal ones side by side, 1 if not given; never fewer than in the element before"`
	Cavity   bool     `toml:"cavity" doc:"part of the product, not of the feed"`
}

type filament struct {
	Material  string  `toml:"material" doc:"a built-in material"`
	File      string  `toml:"material_file" doc:"or a material record of your own, relative to the case file"`
	Diameter  float64 `toml:"diameter_mm" min:"1" max:"5" unit:"mm" need:"yes" doc:"filament diameter"`
	Tolerance float64 `toml:"tolerance_mm" min:"0" max:"0.3" unit:"mm" doc:"plus or minus on the diameter"`
	Inlet     float64 `toml:"inlet_degC" min:"-20" max:"120" unit:"degC" doc:"filament temperature at the top of the heated length"`
}

type adjustment struct {
	Factor   *float64 `toml:"viscosity_factor" min:"0.02" max:"50" doc:"multiplies the zero-shear viscosity, also of a law set by a melt flow rate"`
	Rate     *float64 `toml:"melt_flow_rate_g_10min" min:"0.01" max:"1000" unit:"g/10 min" doc:"data sheet value to scale the law to"`
	RateT    *float64 `toml:"melt_flow_rate_degC" min:"100" max:"450" unit:"degC" doc:"temperature of that value"`
	RateKg   *float64 `toml:"melt_flow_rate_kg" min:"0.3" max:"30" unit:"kg" doc:"load of that value"`
	Entrance *float64 `toml:"entrance_factor" min:"0.02" max:"50" doc:"multiplies the material's entrance loss"`
	NoFlow   *float64 `toml:"flow_point_degC" min:"27" max:"427" unit:"degC" doc:"temperature of first flow in place of the record's; amorphous materials only"`
	Cap      *float64 `toml:"solid_cap_Pa_s" min:"1e4" max:"1e10" unit:"Pa s" doc:"bound on the viscosity of unmelted stock"`
}

type hotEnd struct {
	Name      string    `toml:"name" doc:"what to call it"`
	Block     float64   `toml:"block_degC" min:"50" max:"500" unit:"degC" need:"yes" doc:"block sensor temperature"`
	Contact   float64   `toml:"contact_W_m2K" min:"1" inf:"yes" unit:"W/(m2 K)" doc:"heat transfer from the wall to melt that wets it; inf for perfect contact. The air gap above comes from the diameters"`
	Heated    float64   `toml:"heated_share" min:"0.1" max:"1" doc:"share of the stated length before the cone that heats: the top of a barrel is colder than its block"`
	Eccentric float64   `toml:"eccentricity" min:"0" max:"0.95" doc:"offset of the filament in the barrel over the gap: 0 in the middle, near 1 it touches"`
	Tip       float64   `toml:"tip_drop_K" min:"0" max:"100" unit:"K" doc:"how far the nozzle is below the block sensor"`
	Stick     bool      `toml:"full_bore" doc:"stock fills the bore and sticks to the wall from the inlet on, with contact_W_m2K throughout: for comparison only"`
	Heater    float64   `toml:"heater_W" min:"0" max:"2000" unit:"W" doc:"heater power, 0 to leave this limit out"`
	Capacity  float64   `toml:"block_capacity_J_K" min:"0.1" max:"10000" unit:"J/K" doc:"heat capacity of block and nozzle"`
	Loss      float64   `toml:"loss_W_K" min:"0" max:"10" unit:"W/K" doc:"heat lost per kelvin above ambient"`
	Ambient   float64   `toml:"ambient_degC" min:"-20" max:"120" unit:"degC" doc:"surroundings"`
	Mass      float64   `toml:"mass_g" min:"0" max:"10000" unit:"g" doc:"for comparisons"`
	Cost      float64   `toml:"cost" min:"0" doc:"for comparisons, in your money"`
	Sections  []section `toml:"section" need:"yes" doc:"the melt path from the cold side to the exit"`
}

type section struct {
	Name     string    `toml:"name" doc:"what to call it"`
	Shape    string    `toml:"shape" enum:"tube cone slit annulus" need:"yes" doc:"cross-section"`
	Diameter *float64  `toml:"diameter_mm" min:"0.01" max:"50" unit:"mm" doc:"of a tube; inlet of a cone; outer of an annulus"`
	End      *float64  `toml:"end_diameter_mm" min:"0.01" max:"50" unit:"mm" doc:"outlet of a cone"`
	Inner    *float64  `toml:"inner_diameter_mm" min:"0.01" max:"50" unit:"mm" doc:"core of an annulus"`
	Width    *float64  `toml:"width_mm" min:"0.01" max:"200" unit:"mm" doc:"of a slit"`
	Gap      *float64  `toml:"gap_mm" min:"0.01" max:"20" unit:"mm" doc:"of a slit"`
	Length   *float64  `toml:"length_mm" min:"0.01" max:"500" unit:"mm" doc:"along the flow"`
	Angle    *float64  `toml:"angle_deg" above:"1" max:"180" unit:"deg" doc:"included angle of a cone; 180 is a flat step"`
	Channels int       `toml:"channels" min:"0" max:"1000" doc:"identical parallel channels, 1 if not given"`
	Contact  *float64  `toml:"contact_W_m2K" min:"1" inf:"yes" unit:"W/(m2 K)" doc:"in place of the hot end's"`
	Offset   []float64 `toml:"wall_offset_K" len:"2" min:"-300" max:"100" unit:"K" doc:"wall minus block at start and end"`
	WallT    []float64 `toml:"wall_degC" len:"2" min:"-20" max:"500" unit:"degC" doc:"or fixed wall temperatures at start and end"`
}

type path struct {
	Drag     float64 `toml:"drag_N" min:"0" max:"200" unit:"N" doc:"constant drag of spool and guides"`
	Bend     float64 `toml:"bend_deg" min:"0" max:"3600" unit:"deg" doc:"sum of bend angles between feeder and hot end"`
	Friction float64 `toml:"friction" min:"0" max:"1" doc:"filament on guide"`
}

type feederSpec struct {
	Name   string     `toml:"name" doc:"what to call it"`
	Mass   float64    `toml:"mass_g" min:"0" max:"10000" unit:"g" doc:"for comparisons"`
	Cost   float64    `toml:"cost" min:"0" doc:"for comparisons, in your money"`
	Slip   float64    `toml:"slip_per_N" min:"0" max:"0.02" unit:"1/N" doc:"share of the feed lost per newton of push"`
	Factor float64    `toml:"force_factor" min:"0.05" max:"20" doc:"multiplies every force that the feeder holds"`
	Stock  float64    `toml:"stock_degC" min:"0" max:"100" unit:"degC" doc:"filament temperature in the feeder"`
	Points []point    `toml:"point" doc:"measured capability"`
	Motor  *motorSpec `toml:"motor"`
	Drive  *driveSpec `toml:"drive"`
	Grip   *gripSpec  `toml:"grip"`
	Gap    *gapSpec   `toml:"gap"`
}

type point struct {
	Speed   *float64 `toml:"speed_mm_s" min:"0.001" max:"500" unit:"mm/s" doc:"filament speed"`
	Flow    *float64 `toml:"flow_mm3_s" min:"0.001" max:"2000" unit:"mm3/s" doc:"or filament flow"`
	ForceN  *float64 `toml:"force_N" min:"0.001" max:"2000" unit:"N" doc:"highest force held"`
	ForceKG *float64 `toml:"force_kgf" min:"0.001" max:"200" unit:"kgf" doc:"or in kgf"`
	Cause   string   `toml:"cause" enum:"grind skip buckle unknown" doc:"how it failed"`
	Repeats int      `toml:"repeats" min:"0" max:"10000" doc:"runs behind the mean"`
	SD      float64  `toml:"sd_N" min:"0" max:"500" unit:"N" doc:"standard deviation of single runs"`

	Material string   `toml:"material" doc:"polymer it was measured with"`
	Stock    *float64 `toml:"stock_degC" min:"0" max:"100" unit:"degC" doc:"filament temperature in the feeder when measured"`
	Block    *float64 `toml:"block_degC" min:"20" max:"500" unit:"degC" doc:"block sensor temperature at failure"`
	Current  float64  `toml:"current_A" min:"0" max:"20" unit:"A" doc:"motor current per phase when measured"`
	Kind     string   `toml:"current_kind" enum:"rms peak" doc:"of that current; as the motor's if not given"`
}

type motorSpec struct {
	Holding    float64     `toml:"holding_torque_Ncm" min:"0.1" max:"1000" unit:"N cm" need:"yes" doc:"data sheet, both phases on at rated current"`
	Rated      float64     `toml:"rated_A" min:"0.01" max:"20" unit:"A" need:"yes" doc:"rated current per phase"`
	Current    float64     `toml:"current_A" min:"0.01" max:"20" unit:"A" need:"yes" doc:"set current per phase"`
	Kind       string      `toml:"current_kind" enum:"rms peak" need:"yes" doc:"what the driver setting means; peak is 1.414 times RMS"`
	Resistance float64     `toml:"resistance_ohm" min:"0.01" max:"200" unit:"ohm" doc:"per phase"`
	Inductance float64     `toml:"inductance_mH" min:"0.01" max:"200" unit:"mH" doc:"per phase"`
	Supply     float64     `toml:"supply_V" min:"1" max:"100" unit:"V" doc:"driver supply"`
	Step       float64     `toml:"step_deg" min:"0.45" max:"15" unit:"deg" doc:"full step"`
	Usable     float64     `toml:"usable_share" min:"0.01" max:"1" doc:"share of the supply voltage that works against the winding"`
	IronLoss   *float64    `toml:"iron_loss_share" min:"0" max:"0.5" doc:"torque lost in the iron at 1 kHz electrical (1,200 rpm at 1.8 deg), as a share of holding torque"`
	Curve      [][]float64 `toml:"curve_rpm_Ncm" min:"0" max:"100000" doc:"data-sheet pull-out curve, with or without R, L and supply"`

	CurveCurrent float64 `toml:"curve_current_A" min:"0" max:"20" unit:"A" doc:"current the curve was taken at, of the same kind as current_A; if not given, from the top of the curve"`
	CurveSupply  float64 `toml:"curve_supply_V" min:"0" max:"100" unit:"V" doc:"supply the curve was taken at; supply_V if not given"`
}

type driveSpec struct {
	Ratio      float64   `toml:"ratio" min:"0.05" max:"500" need:"yes" doc:"motor turns per turn of the drive wheel"`
	Efficiency float64   `toml:"efficiency" min:"0.01" max:"1" doc:"of the gearing"`
	Diameter   float64   `toml:"diameter_mm" min:"2" max:"60" unit:"mm" need:"yes" doc:"effective diameter of the drive wheel"`
	Worm       *wormSpec `toml:"worm" doc:"a worm stage: sets the efficiency"`
}

type wormSpec struct {
	Lead     float64 `toml:"lead_angle_deg" min:"0.5" max:"60" unit:"deg" need:"yes" doc:"lead angle"`
	Pressure float64 `toml:"pressure_angle_deg" min:"10" max:"30" unit:"deg" need:"yes" doc:"normal pressure angle"`
	Friction float64 `toml:"friction" min:"0.001" max:"0.5" need:"yes" doc:"worm on wheel"`
}

type gripSpec struct {
	Area    float64 `toml:"area_mm2" min:"0.001" max:"50" unit:"mm2" need:"yes" doc:"filament area engaged per driven wheel"`
	Wheels  int     `toml:"wheels" min:"1" max:"8" need:"yes" doc:"driven wheels"`
	Tension float64 `toml:"tension" min:"0.01" max:"1" doc:"share of full engagement that the idler gives"`
}

type gapSpec struct {
	Length float64 `toml:"length_mm" min:"0.01" max:"500" unit:"mm" need:"yes" doc:"unsupported filament between gear and guide"`
	Factor float64 `toml:"length_factor" min:"0.5" max:"2" doc:"effective over free length: 0.5 fixed ends, 0.7 fixed and pinned, 1 pinned"`
}

type limits struct {
	Safety    float64 `toml:"safety_factor" min:"1" max:"10" doc:"load times this must stay below capability"`
	Core      string  `toml:"cold_core" enum:"warn limit" doc:"what a core that has not melted before the cone is: a warning (quality), or a limit to the usable flow"`
	Window    bool    `toml:"processing_window" doc:"count a block outside the material's processing window as a limit, not only as a warning"`
	Mount     float64 `toml:"mount_max_N" min:"0.1" zero:"yes" max:"5000" unit:"N" doc:"push force not to exceed, 0 for none"`
	MinFlow   float64 `toml:"min_flow_mm3_s" min:"0.001" max:"1000" unit:"mm3/s" doc:"lower end of the search"`
	MaxFlow   float64 `toml:"max_flow_mm3_s" min:"0.001" max:"1000" unit:"mm3/s" doc:"upper end of the search"`
	Residence float64 `toml:"residence_s" min:"0.1" zero:"yes" max:"100000" unit:"s" doc:"longest stay in the melt zone, 0 for none"`
}

type target struct {
	Flow  float64   `toml:"flow_mm3_s" min:"0.01" zero:"yes" max:"1000" unit:"mm3/s" doc:"the flow you want, 0 if open"`
	Temps []float64 `toml:"temperatures_degC" len:"2" min:"50" max:"500" unit:"degC" doc:"range of block temperatures to look at"`
	Layer float64   `toml:"layer_height_mm" min:"0.01" zero:"yes" max:"5" unit:"mm" doc:"layer height of the print, to tell flow as print speed; 0 for half of the nozzle's bore"`
	Width float64   `toml:"line_width_mm" min:"0.01" zero:"yes" max:"50" unit:"mm" doc:"line width of the print; 0 for 1.125 times the nozzle's bore"`
}

// spread says how well single values are known. The tags id and kind tie a key to its quantity of package vary.
type spread struct {
	Viscosity    *float64  `toml:"viscosity_factor" id:"viscosity" kind:"factor" min:"1" max:"10" doc:"viscosity known within this factor either way"`
	Entrance     []float64 `toml:"entrance_factor" id:"entrance" len:"2" min:"0.02" max:"50" doc:"lowest and highest entrance loss factor"`
	FlowPoint    *float64  `toml:"flow_point_K" id:"flow-point" min:"0" max:"60" unit:"K" doc:"plus or minus on the flow point"`
	Contact      []float64 `toml:"contact_W_m2K" id:"contact" len:"2" min:"1" inf:"yes" unit:"W/(m2 K)" doc:"lowest and highest wall contact"`
	Heated       []float64 `toml:"heated_share" id:"heated" len:"2" min:"0.1" max:"1" doc:"lowest and highest heated share"`
	Eccentricity []float64 `toml:"eccentricity" id:"eccentricity" len:"2" min:"0" max:"0.95" doc:"lowest and highest eccentricity"`
	Tip          []float64 `toml:"tip_drop_K" id:"tip" len:"2" min:"0" max:"100" unit:"K" doc:"least and most that the nozzle is below the sensor"`
	Block        *float64  `toml:"block_K" id:"block" min:"0" max:"50" unit:"K" doc:"plus or minus on the sensor"`
	Barrel       *float64  `toml:"barrel_mm" id:"barrel" min:"0" max:"1" unit:"mm" doc:"plus or minus on the barrel's diameter: with the filament's it sets the air gap"`
	Bore         *float64  `toml:"bore_mm" id:"bore" min:"0" max:"0.5" unit:"mm" doc:"plus or minus on the nozzle's bore"`
	Zone         *float64  `toml:"zone_mm" id:"zone" min:"0" max:"100" unit:"mm" doc:"plus or minus on the length of the melt zone; 0 if not given"`
	Land         *float64  `toml:"land_mm" id:"land" min:"0" max:"20" unit:"mm" doc:"plus or minus on the length of the nozzle's narrow end; 0 if not given"`
	Drag         []float64 `toml:"drag_N" id:"drag" len:"2" min:"0" max:"200" unit:"N" doc:"least and most drag of the path"`
	Torque       *float64  `toml:"motor_torque_share" id:"force" kind:"share" min:"0" max:"0.9" doc:"plus or minus on a modelled feeder force, as a share"`
	Feeder       *float64  `toml:"feeder_force_share" id:"force" kind:"share" min:"0" max:"0.9" doc:"plus or minus on a measured feeder force, as a share; the repeats say it if not given"`
	Calibrated   []string  `toml:"calibrated" doc:"keys of [spread] that a calibration wrote: their bands are its 95 % intervals"`

	Correlations []correlation `toml:"correlations" doc:"which keys of [spread] go together, as a calibration found them"`

	Samples int `toml:"samples" min:"16" max:"1000000" doc:"number of samples"`
	Seed    int `toml:"seed" min:"0" doc:"seed of the sampling"`
}

// correlation says that two keys of [spread] go together.
type correlation struct {
	Of    string  `toml:"of" need:"yes" doc:"a key of [spread]"`
	With  string  `toml:"with" need:"yes" doc:"another one"`
	Value float64 `toml:"value" min:"-1" max:"1" need:"yes" doc:"coefficient of correlation"`
}

// defaults is a file as it stands before the user's text is laid over it. Each value is
// an assumption of this project unless the field says otherwise; the result lists those that were used.
func defaults() file {
	l := setup.DefaultLimits()
	return file{
		Filament: filament{Tolerance: 0.03, Inlet: 25},
		HotEnd: hotEnd{Name: "hot end", Contact: flow.DefaultWettedH, Heated: flow.DefaultHeatedShare,
			Eccentric: flow.DefaultEccentricity, Tip: flow.DefaultTipDrop,
			Capacity: 15, Loss: 0.05, Ambient: 25},
		Path:   path{Drag: 2, Friction: 0.2},
		Feeder: feederSpec{Name: "feeder", Stock: 30},
		Limits: limits{Safety: l.Safety, Core: "warn", MinFlow: round6(l.MinFlow / unit.MM3),
			MaxFlow: round6(l.MaxFlow / unit.MM3), Residence: l.Residence},
		Mould: &mouldSpec{Material: mould.DefaultWall, Contact: mould.DefaultContact,
			Contacts: []float64{mould.ContactRange[0], mould.ContactRange[1]}, NoFlowBand: mould.DefaultNoFlowRange,
			WallBand: mould.DefaultSurfaceRange, Air: 25, Cap: mould.DefaultSolidCap, Open: mould.DefaultOpen,
			Shots: mould.DefaultShots},
		Spread: spread{Samples: setup.DefaultSamples, Seed: setup.DefaultSeed},
	}
}
