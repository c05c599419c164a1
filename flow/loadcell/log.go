package loadcell

import (
	"fmt"

	"meltload/materials/unit"
)

// Format says how a log is written. Zero values are found out from the file.
type Format struct {
	Separator    byte    // ',', ';', tab, '|' or ' '
	DecimalComma int     // 1 yes, -1 no
	TimeColumn   string  // header or number from 1
	ForceColumn  string  //
	BlockColumn  string  // block temperature; optional
	FlowColumn   string  // flow fed; optional
	TimeUnit     string  // one of TimeUnits
	ForceUnit    string  // one of ForceUnits
	FlowUnit     string  // one of FlowUnits
	Rate         float64 // Hz; if given it makes the time, whatever a time column says
	CountZero    float64 // counts at no load
	PerCount     float64 // N per count
	Diameter     float64 // m, of the filament, for a flow given as speed; 1.75 mm if 0
}

// TimeUnits, ForceUnits and FlowUnits list what the units may be.
var (
	TimeUnits  = []string{"s", "ms", "us", "ns", "min", "h", "day", "clock", "sample"}
	ForceUnits = []string{"N", "mN", "kN", "kgf", "gf", "lbf", "ozf", "counts"}
	FlowUnits  = []string{"mm3/s", "mm3/min", "cm3/min", "mm/s", "mm/min", "on/off"}
)

// newtons is a unit of force in N. The pound and the ounce: NIST SP 811 (2008), B.8.
var newtons = map[string]float64{"N": 1, "mN": 1e-3, "kN": 1e3, "kgf": unit.KGF, "gf": unit.KGF / 1000,
	"lbf": 4.4482216152605, "ozf": 4.4482216152605 / 16}

// seconds is a unit of time in s.
var seconds = map[string]float64{"s": 1, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60, "h": 3600, "day": 86400,
	"clock": 1}

// Row is a row that was not used, or not as it stands, and why.
type Row struct {
	Line int    `json:"line"`
	Text string `json:"text"`
	Why  string `json:"why"`
}

// shownRows is how many rows of one kind are kept to be shown; the others are counted.
const shownRows = 200

// Rows counts rows of one kind and keeps the first of them.
type Rows struct {
	Count int
	First []Row
}

func (r *Rows) add(line int, text, why string) {
	r.Count++
	if len(r.First) < shownRows {
		r.First = append(r.First, Row{line, clip(text), why})
	}
}

// Column is a column of the file and what it was taken for.
type Column struct {
	Role   string `json:"role"`   // time, force, block or flow
	Number int    `json:"number"` // from 1; 0 for a time that is counted
	Name   string `json:"name,omitempty"`
	Unit   string `json:"unit"`
	Why    string `json:"why"` // what decided
}

// String names the column as a message does.
func (c Column) String() string {
	s := c.Role + ": "
	switch {
	case c.Number == 0:
		s += "no column"
	case c.Name != "":
		s += fmt.Sprintf("column %d %q", c.Number, c.Name)
	default:
		s += fmt.Sprintf("column %d", c.Number)
	}
	return s + " in " + c.Unit + " (" + c.Why + ")"
}

// Log is a load-cell log in SI. Every row of the file is either in Time and Force, or counted.
type Log struct {
	Name    string
	Format  Format   // as used
	Columns []Column // what was taken for what
	Notes   []string // what was assumed on reading
	Time    []float64
	Force   []float64
	Block   []float32 // K, as long as Time if the column was there, else nil
	Flow    []float32 // m3/s, likewise; 1 and 0 where the unit is on/off

	Rows     int // data rows in the file
	Junk     Rows
	Repeated Rows    // the same time and force as the row before: left out
	Resets   Rows    // time fell back: the log goes on from there, one step later
	Gaps     Rows    // longer than three steps
	Held     Rows    // used, but block temperature or flow was not a number: the value before it is kept
	Step     float64 // s, the mean from row to row, gaps aside
	Stamp    float64 // s between the time stamps, where many rows share one and were spread evenly; else 0
}

// Counted tells how many rows of each kind there were.
type Counted struct{ Junk, Repeated, Resets, Gaps, Held int }

// Faults counts the rows that were not plain data.
func (l *Log) Faults() Counted {
	return Counted{l.Junk.Count, l.Repeated.Count, l.Resets.Count, l.Gaps.Count, l.Held.Count}
}

// Switch tells whether the flow column only says whether the feed is on.
func (l *Log) Switch() bool { return l.Flow != nil && l.Format.FlowUnit == "on/off" }

func clip(s string) string {
	if len(s) > 60 {
		return s[:60] + "..."
	}
	return s
}
