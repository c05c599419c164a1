package loadcell

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"meltload/materials/strict"
)

// column is what is known of a column before its role is.
type column struct {
	header  string // as in the file, "" without a header
	name    string // the header without its unit
	unit    string // of the header, of a row of units, or behind every reading
	dim     dimension
	words   []string
	numeric bool // most cells are numbers
	clock   bool // most cells are clock times
	flag    bool // most cells are words of a switch, or only 0 and 1
	rising  bool // never falls, and moves
	still   bool // the same in every row looked at
	suffix  bool // readings carry their unit
}

// names that speak for a role, and for none. Timing words beside a force ("dwell") are kept out by their own list.
var (
	timeWords = []string{"time", "timestamp", "t", "millis", "micros", "elapsed", "seconds", "sec", "zeit", "clock",
		"sample", "samples", "index", "no", "nr", "row", "tick", "ticks"}
	countWords = []string{"sample", "samples", "index", "no", "nr", "row"}
	forceWords = []string{"force", "load", "push", "thrust", "weight", "mass", "kraft", "newton", "f", "fz", "cell",
		"loadcell", "scale", "gram", "grams"}
	rawWords   = []string{"raw", "counts", "count", "adc", "reading", "value", "hx", "ch1", "channel", "data"}
	blockWords = []string{"block", "hotend", "nozzle", "heater", "extruder", "temperature", "temp", "t0",
		"degc", "melt"}
	bestBlock  = []string{"block", "hotend", "nozzle", "heater", "extruder", "end", "hot"}
	otherTemps = []string{"bed", "ambient", "room", "chamber", "motor", "cell", "board", "cpu", "mcu", "set",
		"target", "setpoint", "air", "driver", "rate"}
	flowWords = []string{"flow", "volumetric", "feed", "feedrate", "speed", "velocity", "mm3", "command",
		"commanded", "cmd", "feeding", "extruding", "v"}
	switchWords = []string{"feeding", "extruding", "command", "cmd", "on", "run", "running", "feed", "state", "enable",
		"enabled", "motor", "move", "moving", "phase", "event", "note", "status"}
	notForce = []string{"torque", "battery", "voltage", "volt", "current", "temp", "temperature", "position", "pos",
		"humidity", "level", "rssi", "checksum", "crc", "status", "error", "errors", "power", "pwm", "duty", "pressure",
		"stroke", "distance", "travel", "displacement", "length", "diameter", "speed", "velocity", "feed", "flow",
		"rpm", "id", "bed", "ambient", "drift", "temperatur", "weg", "drehmoment", "offset", "gain", "rate", "moment",
		"steps", "count", "seq"}
	notTime = []string{"dwell", "lag", "dt", "interval", "period", "remaining", "on", "off", "latency", "delta",
		"force", "load", "flow", "feed"}
	measuredFlow = []string{"measured", "actual", "encoder", "real", "true", "sensor"}
)

func (c *column) has(list []string) bool {
	for _, w := range c.words {
		if slices.Contains(list, w) {
			return true
		}
		// "force1", "load2": the number of a channel is no part of the name
		if t := strings.TrimRight(w, "0123456789"); t != w && len(t) > 1 && slices.Contains(list, t) {
			return true
		}
	}
	return false
}

// label names column i for a message.
func label(cols []column, i int) string {
	if i < len(cols) && cols[i].header != "" {
		return fmt.Sprintf("%d %q", i+1, cols[i].header)
	}
	return strconv.Itoa(i + 1)
}

// choice is a column taken for a role: its index, -1 for none, and why.
type choice struct {
	at  int
	why string
}

// layout is the columns of a log and which of them are used.
type layout struct {
	file                    string
	line                    int // of the header
	cols                    []column
	time, force, temp, flow choice
	notes                   []string
}

func (l *layout) fail(field, seen, allowed, advice string) error {
	return strict.Problems{{File: l.file, Line: l.line, Field: field, Seen: seen, Allowed: allowed, Advice: advice}}
}

// stated finds a column that the user names by header or number. ok is false if nothing was named.
func (l *layout) stated(field, want string) (choice, bool, error) {
	if want == "" {
		return choice{at: -1}, false, nil
	}
	if n, err := strconv.Atoi(want); err == nil && n >= 1 {
		if n > len(l.cols) {
			return choice{}, true, l.fail(field, want, fmt.Sprintf("1 to %d", len(l.cols)),
				"the rows have no more columns")
		}
		return choice{n - 1, "stated"}, true, nil
	}
	var names []string
	for i, c := range l.cols {
		if strings.EqualFold(strings.TrimSpace(c.header), want) || c.name != "" && strings.EqualFold(c.name, want) {
			return choice{i, "stated"}, true, nil
		}
		if c.header != "" {
			names = append(names, c.header)
		}
	}
	if names == nil {
		return choice{}, true, l.fail(field, strconv.Quote(want), fmt.Sprintf("a number from 1 to %d", len(l.cols)),
			"the log has no header: name the column by its number")
	}
	return choice{}, true, l.fail(field, strconv.Quote(want), "a column number or one of "+strings.Join(names, ", "),
		"name the column as the header does")
}

// choose settles which column is what. Errors name the candidates and the option that decides between them.
func (l *layout) choose(f *Format) error {
	var ps strict.Problems
	for _, x := range []struct {
		to          *choice
		field, want string
	}{{&l.time, "time column", f.TimeColumn}, {&l.force, "force column", f.ForceColumn},
		{&l.temp, "block column", f.BlockColumn}, {&l.flow, "flow column", f.FlowColumn}} {
		c, _, err := l.stated(x.field, x.want)
		if err != nil {
			ps = append(ps, err.(strict.Problems)...)
		}
		*x.to = c
	}
	if len(ps) > 0 {
		return ps
	}
	if l.temp.at < 0 {
		l.temp = l.pick(l.scoreBlock)
	}
	if l.flow.at < 0 {
		l.flow = l.pick(l.scoreFlow)
	}
	if l.time.at < 0 {
		l.time = l.pick(l.scoreTime)
	}
	if l.force.at < 0 {
		if err := l.chooseForce(); err != nil {
			return err
		}
	}
	return nil
}

// taken tells whether a column has a role already.
func (l *layout) taken(i int) bool {
	return i == l.time.at || i == l.force.at || i == l.temp.at || i == l.flow.at
}

// pick returns the free column of the highest score above 0, the first of equals.
func (l *layout) pick(score func(c *column) (int, string)) choice {
	best, out := 0, choice{at: -1}
	for i := range l.cols {
		if l.taken(i) {
			continue
		}
		if s, why := score(&l.cols[i]); s > best {
			best, out = s, choice{i, why}
		}
	}
	return out
}

func (l *layout) scoreTime(c *column) (int, string) {
	named := c.has(timeWords) && !c.has(notTime)
	switch {
	case c.clock && named:
		return 9, "clock times under a name of time"
	case c.clock:
		return 4, "clock times"
	case !c.numeric:
		return 0, ""
	case c.dim == timeDim:
		return scoreTimeUnit(c, named)
	case c.dim == noDimension && named && !c.has(countWords):
		return 7, "name"
	case c.header == "n" || c.header != "" && c.dim == noDimension && c.has(countWords) && !c.has(notForce):
		return 3, "name of a count"
	case c.header == "" && c.rising && len(l.cols) > 1:
		return 2, "no header: the column that only rises"
	}
	return 0, ""
}

// scoreTimeUnit is scoreTime of a column with a unit of time.
func scoreTimeUnit(c *column, named bool) (int, string) {
	switch {
	case named:
		return 8, "name and unit"
	case c.name == "" || !c.has(notTime) && !c.has(notForce):
		return 6, "unit of time"
	}
	return 0, ""
}

func (l *layout) scoreBlock(c *column) (int, string) {
	if !c.numeric || c.has(otherTemps) || c.header == "" {
		return 0, ""
	}
	named := c.has(blockWords)
	switch {
	case c.dim == temperatureDim && c.has(bestBlock):
		return 9, "name and unit"
	case c.dim == temperatureDim && named:
		return 8, "name and unit"
	case c.dim == temperatureDim:
		return 5, "unit of temperature"
	case c.dim == noDimension && named && !c.has(forceWords) && !c.has(timeWords):
		return 4, "name"
	}
	return 0, ""
}

func (l *layout) scoreFlow(c *column) (int, string) {
	measured := 0
	if c.has(measuredFlow) {
		measured = 1 // what was fed by command tells a stop from a failure; what came out does not
	}
	switch {
	case c.header == "":
		return 0, ""
	case c.dim == flowDim && c.numeric && c.has(flowWords):
		return 9 - measured, "name and unit"
	case c.dim == flowDim && c.numeric && (c.unit == "mm3/s" || c.unit == "mm3/min" || c.unit == "cm3/min"):
		return 7 - measured, "unit of flow"
	case c.dim == flowDim && c.numeric:
		return 5 - measured, "unit of speed"
	case c.dim == noDimension && c.numeric && c.has([]string{"flow", "volumetric", "mm3"}):
		return 4 - measured, "name"
	case c.flag && (c.dim == noDimension || c.dim == otherDim) && (c.has(switchWords) || c.has(flowWords)):
		return 2, "name, and readings of a switch"
	case c.dim == noDimension && c.numeric && !c.still && c.has(flowWords):
		return 3 - measured, "name"
	}
	return 0, ""
}

// forceScore says how much speaks for a column being the force; 0 for one that cannot be.
func (l *layout) forceScore(c *column) (int, string) {
	named := c.has(forceWords)
	switch {
	case !c.numeric && c.dim != forceDim || c.clock || c.dim == otherDim || c.dim == temperatureDim ||
		c.dim == flowDim || c.dim == timeDim:
		return 0, ""
	case c.has(notForce) && !(named && c.dim == forceDim):
		return 0, ""
	case c.has([]string{"torque", "drehmoment", "moment", "battery"}):
		return 0, ""
	case c.dim == forceDim && named:
		return 9, "name and unit"
	case c.dim == forceDim:
		return 7, "unit of force"
	case named && c.dim == countDim:
		return 6, "name"
	case named:
		return 5, "name"
	case c.dim == countDim:
		return 4, "raw counts"
	case c.has(rawWords):
		return 3, "name of a reading"
	}
	return 1, "the only column left"
}

// chooseForce takes the force column, or refuses where more than one could be it and no unit of force decides.
func (l *layout) chooseForce() error {
	best, why := 0, ""
	var at []int
	others, likely := 0, 0
	for i := range l.cols {
		if l.taken(i) {
			continue
		}
		s, w := l.forceScore(&l.cols[i])
		if s > 0 {
			others++
		}
		if s >= 3 {
			likely++
		}
		switch {
		case s > best:
			best, why, at = s, w, []int{i}
		case s == best && s > 0:
			at = append(at, i)
		}
	}
	if len(at) == 0 {
		var names []string
		for i := range l.cols {
			names = append(names, label(l.cols, i))
		}
		return l.fail("force column", strings.Join(names, ", "), "a column of force",
			"add it, or say which it is with --force-column")
	}
	// A unit of force decides, or the one name of a force; readings of unknown kind do not.
	named := best == 5 || best == 6
	if best < 7 && (len(at) > 1 || likely > 2 || !named && others > 2) {
		var names []string
		for i := range l.cols {
			if s, _ := l.forceScore(&l.cols[i]); s > 0 && !l.taken(i) {
				names = append(names, label(l.cols, i))
			}
		}
		return l.fail("force column", strconv.Itoa(len(names))+" columns that could be it: "+strings.Join(names, ", "),
			"one of them, by name or number", "say which with --force-column, and its unit with --force-unit")
	}
	l.force = choice{at[0], why}
	if len(at) > 1 {
		l.notes = append(l.notes,
			fmt.Sprintf("columns %s both look like the force; the first is used: choose with --force-column",
				joinLabels(l.cols, at)))
	} else if others > 1 && best < 7 {
		l.notes = append(l.notes,
			fmt.Sprintf("column %s is taken as the force by its %s; another could be chosen with --force-column",
				label(l.cols, at[0]), why))
	}
	return nil
}

func joinLabels(cols []column, at []int) string {
	var s []string
	for _, i := range at {
		s = append(s, label(cols, i))
	}
	return strings.Join(s, " and ")
}

// blockUnit settles the unit of the temperature column: K per unit and K at zero.
func (l *layout) blockUnit() (name string, scale, zero float64) {
	switch c := l.cols[l.temp.at]; c.unit {
	case "K":
		return "K", 1, 0
	case "degF":
		return "degF", 5.0 / 9, 273.15 - 32*5.0/9
	case "degC":
	default:
		l.notes = append(l.notes, fmt.Sprintf("column %s names no unit: degC assumed", label(l.cols, l.temp.at)))
	}
	return "degC", 1, 273.15
}
