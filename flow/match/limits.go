package match

import (
	"math"

	"meltload/flow"
	"meltload/flow/feeder"
)

// Limit names what can stop a flow.
type Limit string

// The limits. Each is one row of the table below.
const (
	Grip          Limit = "grip"
	Stall         Limit = "stall"
	Column        Limit = "buckling"
	Force         Limit = "feeder force"
	Core          Limit = "unmelted core"
	Solid         Limit = "solid stock"
	Heater        Limit = "heater power"
	Mount         Limit = "mount force"
	Window        Limit = "processing window"
	Decomposition Limit = "decomposition"
	FlowPoint     Limit = "flow point"
)

// ofFeeder is the group of the limits that share the feeder's margin: which of them it is depends on the cause.
const ofFeeder = "feeder"

// kind is one row of the table of limits. To add a limit, add its name above and a row below: maps, texts, reports and
// sampling take it from there.
type kind struct {
	limit   Limit
	code    string // letter on a map
	short   string // in the key of a map
	meaning string // what it means and what helps
	use     string // what the share of it in use compares; "" where the flow does not matter
	group   string // limits that share one margin; "" for the limit itself
	// warns tells whether the limit is only told under the settings, and does not count; nil for never.
	warns func(l Limits) bool
	// margin is capacity over demand minus one at a solved point, and whether the limit applies there. c is what the
	// feeder holds.
	margin func(m *Matcher, d *flow.Solution, c feeder.Capability) (value float64, applies bool)
}

// MostMargin bounds every margin: where a demand is under 1 % of its capacity, or nothing at all, a larger number would
// tell of the rounding of the demand alone. A margin at the bound says "at least this" and is shown as none.
const MostMargin = 99

const pushUse = "push times safety factor over what the feeder holds"

// kinds are the limits in the order in which they are looked at.
var kinds = []kind{
	{
		limit: Grip, code: "G", short: "grip: the gear grinds", group: ofFeeder, use: pushUse,
		meaning: "the drive gear grinds the filament: more tension, a second driven wheel, a harder filament, or " +
			"less load",
		margin: func(m *Matcher, d *flow.Solution, c feeder.Capability) (float64, bool) {
			return feederMargin(m, d, c), c.Cause == feeder.Grind
		},
	},
	{
		limit: Stall, code: "S", short: "motor stall", group: ofFeeder, use: pushUse,
		meaning: "the motor skips steps: more current within its rating, a higher gear ratio, or less load",
		margin: func(m *Matcher, d *flow.Solution, c feeder.Capability) (float64, bool) {
			return feederMargin(m, d, c), c.Cause == feeder.Skip
		},
	},
	{
		limit: Column, code: "B", short: "buckling", group: ofFeeder, use: pushUse,
		meaning: "the filament buckles between gear and guide: a shorter gap, a stiffer or cooler filament, or less " +
			"load",
		margin: func(m *Matcher, d *flow.Solution, c feeder.Capability) (float64, bool) {
			return feederMargin(m, d, c), c.Cause == feeder.Buckle
		},
	},
	{
		limit: Force, code: "F", short: "feeder force, cause unknown", group: ofFeeder, use: pushUse,
		meaning: "the feeder fails (cause not recorded): see whether it grinds or skips",
		margin: func(m *Matcher, d *flow.Solution, c feeder.Capability) (float64, bool) {
			known := c.Cause == feeder.Grind || c.Cause == feeder.Skip || c.Cause == feeder.Buckle
			return feederMargin(m, d, c), !known
		},
	},
	{
		limit: Core, code: "C", short: "unmelted core",
		use: "rise from the inlet to the flow point, over the rise of the centre up to the cone",
		meaning: "the core does not melt through before the cone: a longer melt zone, a hotter block, better wall " +
			"contact, or less flow",
		warns: func(l Limits) bool { return !l.Core },
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			// The share of the way from the inlet to the flow point that is to spare.
			melt, in := m.Case.Material.FlowPoint(), m.Case.Filament.Inlet
			return (d.EntryCentre - melt) / (melt - in), melt > in
		},
	},
	{
		limit: Solid, code: "R", short: "solid stock", use: "length of solid rod over heated length before the cone",
		meaning: "the filament reaches the cone as a solid rod: a longer or hotter melt zone, a narrower barrel " +
			"around the filament, or less flow",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			x := &d.Stretches
			if x.Softening == 0 {
				return 0, false // stock that sticks from the inlet, or a solver that knows no rod
			}
			if in := m.Case.Filament.Inlet; x.Solid {
				return (d.EntryBulk-in)/math.Max(x.Softening-in, 1e-9) - 1, true
			}
			return (x.Rod+x.Wetted+x.Held)/x.Rod - 1, true
		},
	},
	{
		limit: Heater, code: "H", short: "heater power", use: "heat needed over heater power",
		meaning: "the heater cannot bring the melt to temperature: more power, less loss, or less flow",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			p := m.Case.HotEnd.Block.Power
			return p/math.Max(d.Heater, 1e-9) - 1, p > 0
		},
	},
	{
		limit: Mount, code: "M", short: "mount force", use: "push times safety factor over the mount's limit",
		meaning: "the push force reaches the limit set for mount and rig",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			return m.Limits.MountMax/(d.Push*m.Limits.Safety) - 1, m.Limits.MountMax > 0
		},
	},
	{
		limit: Window, code: "W", short: "processing window",
		meaning: "the block is outside the material's processing window: change the temperature",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			w := m.Case.Material.Window // in units of the window's width; it does not depend on flow
			return math.Min(d.Block-w[0], w[1]-d.Block) / (w[1] - w[0]), m.Limits.Window
		},
	},
	{
		limit: Decomposition, code: "D", short: "decomposition",
		meaning: "the block is above the decomposition onset: lower the temperature",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			return -1, d.Block > m.Case.Material.Decomposition
		},
	},
	{
		limit: FlowPoint, code: "P", short: "below the flow point",
		meaning: "no wall reaches the flow point: the stock does not melt, and its strength is not known well enough " +
			"to promise a flow: raise the temperature",
		margin: func(m *Matcher, d *flow.Solution, _ feeder.Capability) (float64, bool) {
			return -1, !m.Case.Melts(d.Block)
		},
	},
}

func feederMargin(m *Matcher, d *flow.Solution, c feeder.Capability) float64 {
	return c.Force/(d.Push*m.Limits.Safety) - 1
}

// All lists the limits in the order in which they are looked at.
func All() []Limit {
	out := make([]Limit, len(kinds))
	for i := range kinds {
		out[i] = kinds[i].limit
	}
	return out
}

// Index is the place of a limit in All; -1 for none.
func (l Limit) Index() int {
	for i := range kinds {
		if kinds[i].limit == l {
			return i
		}
	}
	return -1
}

// OfCode is the limit of a letter of a map; "" for the sign of a usable point.
func OfCode(code string) Limit {
	for i := range kinds {
		if kinds[i].code == code {
			return kinds[i].limit
		}
	}
	return ""
}

func (l Limit) kind() kind {
	if i := l.Index(); i >= 0 {
		return kinds[i]
	}
	return kind{code: "+", short: "usable"}
}

// Code is the letter of a limit on a map; + for none.
func (l Limit) Code() string { return l.kind().code }

// Short names a limit in the key of a map.
func (l Limit) Short() string { return l.kind().short }

// Meaning says in a few words what a limit means and what helps.
func (l Limit) Meaning() string { return l.kind().meaning }

// Use says what the share of a limit in use compares; "" where the flow does not matter.
func (l Limit) Use() string { return l.kind().use }

// Feeder tells whether it is the feeder that fails.
func (l Limit) Feeder() bool { return l.kind().group == ofFeeder }

// warns tells whether a limit is only told, and does not count.
func (l Limit) warns(s Limits) bool {
	w := l.kind().warns
	return w != nil && w(s)
}

func (l Limit) group() string {
	if g := l.kind().group; g != "" {
		return g
	}
	return string(l)
}
