package loadcell

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Read reads a log: a table with any separator, lines of a serial monitor ("12:03:44.123 -> 239.6"), lines of names and
// values ("t:0.1 force:23.4"), lines of JSON, as text, packed by gzip or in a spreadsheet (.xlsx). Problems that make
// it unreadable come as strict.Problems: what was found, what is allowed and what to state. Rows that are not data are
// counted in the log, never dropped in silence. Of a row 16 to 24 bytes are kept in memory. A long text of unknown
// length goes through a temporary file.
func Read(name string, r io.Reader, f Format) (*Log, error) {
	src, err := open(r)
	if err != nil {
		return nil, problem(name, 0, "", err.Error(), "a log", "export it as CSV")
	}
	defer src.close()
	head := src.head()
	if bytes.IndexByte(head[:min(len(head), 1<<12)], 0) >= 0 {
		return nil, problem(name, 0, "", "bytes that are not text", "a table of numbers as text",
			"export the log as CSV")
	}
	rows := sniff(bytes.Clone(head))
	if len(head) == lookAhead && len(rows) > 1 {
		rows = rows[:len(rows)-1] // the last may be cut
	}
	for i, r := range rows {
		if !utf8.Valid(r.text) {
			rows[i].text = bytes.ToValidUTF8(r.text, []byte("?"))
		}
	}
	if !hasData(rows) {
		return nil, problem(name, 0, "", "no rows", "a table of numbers", "check the file")
	}
	p := &parser{src: src, log: &Log{Name: name}, f: f}
	if err := p.prepare(name, rows); err != nil {
		return nil, err
	}
	p.reserve(head)
	if err := p.rows(); err != nil {
		return nil, problem(name, src.line, "", err.Error(), "a log that can be read to its end", "copy the file again")
	}
	return p.finish()
}

// Parse is Read of a text in memory.
func Parse(name string, src []byte, f Format) (*Log, error) {
	return Read(name, bytes.NewReader(src), f)
}

func problem(file string, line int, field, seen, allowed, advice string) error {
	return strict.Problems{{File: file, Line: line, Field: field, Seen: seen, Allowed: allowed, Advice: advice}}
}

func hasData(rows []headRow) bool {
	for _, r := range rows {
		if !r.note {
			return true
		}
	}
	return false
}

// side is a column beside time and force.
type side struct {
	at          int
	what        string
	scale, zero float64
	flag        bool
	suffix      bool
	to          *[]float32
}

// parser is the state of one pass over a log.
type parser struct {
	src            *source
	log            *Log
	f              Format
	g              grammar
	lay            layout
	start          int // line of the first row of data
	scale, zero    float64
	beside         []side
	clock          clock
	byClock, count bool // how time is told
	suffix         bool // of the force
	lines          lineMap
}

// prepare finds out how the log is written and what its columns are.
func (p *parser) prepare(name string, rows []headRow) error {
	p.g = grammarOf(rows, p.f)
	first := p.g.firstData(rows)
	width := 0
	if first >= 0 {
		width = len(p.g.kinds(rows[first].text))
	}
	names, units, line := p.g.headers(rows, first, width)
	if first < 0 && line == 0 {
		line = rows[0].line
	}
	p.lay = layout{file: name, line: max(1, line), cols: p.g.survey(rows, first, names, units)}
	p.start = line + 1
	if first >= 0 {
		p.start = rows[first].line
	}
	if err := p.lay.choose(&p.f); err != nil {
		return err
	}
	if err := p.timeOf(); err != nil {
		return err
	}
	if err := p.forceOf(); err != nil {
		return err
	}
	if err := p.sidesOf(); err != nil {
		return err
	}
	p.f.Separator = p.g.sep
	p.f.DecimalComma = -1
	if p.g.comma {
		p.f.DecimalComma = 1
	}
	return nil
}

// timeOf settles the column and unit of time, as far as the header tells.
func (p *parser) timeOf() error {
	l, at := &p.lay, p.lay.time.at
	if at >= 0 {
		c := l.cols[at]
		if p.f.TimeUnit == "" {
			switch {
			case c.clock:
				p.f.TimeUnit = "clock"
			case c.dim == timeDim:
				p.f.TimeUnit = c.unit
			case c.has(countWords) || strings.EqualFold(c.header, "n"):
				p.f.TimeUnit = "sample"
			}
		}
	}
	if p.f.Rate > 0 && !(at >= 0 && p.f.TimeUnit == "sample") {
		if at >= 0 {
			l.notes = append(l.notes,
				fmt.Sprintf("the time column %s is not used: the stated sampling rate makes the time",
					label(l.cols, at)))
		}
		l.time = choice{-1, "rows counted at the stated sampling rate"}
		p.f.TimeUnit = "sample"
	} else if at < 0 {
		l.time.why = "rows counted"
		p.f.TimeUnit = "sample"
	}
	p.count = l.time.at < 0
	p.byClock = p.f.TimeUnit == "clock"
	if _, known := seconds[p.f.TimeUnit]; !known && p.f.TimeUnit != "" && p.f.TimeUnit != "sample" {
		return problem(l.file, 0, "time unit", strconv.Quote(p.f.TimeUnit), strings.Join(TimeUnits, ", "),
			"choose one of them")
	}
	return nil
}

// forceOf settles the unit of force.
func (p *parser) forceOf() error {
	c := p.lay.cols[p.lay.force.at]
	if p.f.ForceUnit == "" && (c.dim == forceDim || c.dim == countDim) {
		p.f.ForceUnit = c.unit
	}
	if p.f.ForceUnit == "" && p.f.PerCount != 0 {
		p.f.ForceUnit = "counts"
	}
	p.suffix = c.suffix
	switch scale, known := newtons[p.f.ForceUnit]; {
	case known:
		p.scale = scale
	case p.f.ForceUnit == "":
		return p.lay.fail("force unit", "no unit in the header", strings.Join(ForceUnits, ", "),
			"state the unit of the force column with --force-unit")
	case p.f.ForceUnit == "counts" && p.f.PerCount == 0:
		return p.lay.fail("force unit", "raw counts", "N per count and the count at no load",
			"state the calibration of the cell, or give its file with --cell")
	case p.f.ForceUnit == "counts":
		p.scale, p.zero = p.f.PerCount, p.f.CountZero
	default:
		return problem(p.lay.file, 0, "force unit", strconv.Quote(p.f.ForceUnit), strings.Join(ForceUnits, ", "),
			"choose one of them")
	}
	return nil
}

// sidesOf settles the columns beside.
func (p *parser) sidesOf() error {
	l := &p.lay
	if l.temp.at >= 0 {
		name, scale, zero := l.blockUnit()
		p.beside = append(p.beside, side{at: l.temp.at, what: "block temperature", scale: scale, zero: zero,
			suffix: l.cols[l.temp.at].suffix, to: &p.log.Block})
		l.cols[l.temp.at].unit = name
	}
	if l.flow.at < 0 {
		return nil
	}
	c := l.cols[l.flow.at]
	u := p.f.FlowUnit
	if u == "" {
		switch {
		case c.dim == flowDim:
			u = c.unit
		case c.flag:
			u = "on/off"
		case c.has([]string{"flow", "volumetric", "mm3"}):
			u = "mm3/s"
			l.notes = append(l.notes, fmt.Sprintf("column %s names no unit: mm3/s assumed; state it with --flow-unit",
				label(l.cols, l.flow.at)))
		default:
			u = "on/off"
			l.notes = append(l.notes,
				fmt.Sprintf("column %s names no unit: only whether it is 0 is used; state it with --flow-unit",
					label(l.cols, l.flow.at)))
		}
	}
	d := p.f.Diameter
	if d == 0 {
		d = 1.75e-3
	}
	scale, ok := map[string]float64{"mm3/s": unit.MM3, "mm3/min": unit.MM3 / 60, "cm3/min": 1e-6 / 60,
		"mm/s": unit.Disc(d) * unit.MM, "mm/min": unit.Disc(d) * unit.MM / 60, "on/off": 1}[u]
	if !ok {
		return problem(l.file, 0, "flow unit", strconv.Quote(u), strings.Join(FlowUnits, ", "), "choose one of them")
	}
	p.f.FlowUnit = u
	p.beside = append(p.beside, side{at: l.flow.at, what: "flow", scale: scale, flag: u == "on/off", suffix: c.suffix,
		to: &p.log.Flow})
	return nil
}

// reserve makes room for the rows, from the size of the text and the length of the first rows.
func (p *parser) reserve(head []byte) {
	lines := bytes.Count(head, []byte("\n"))
	if p.src.size == 0 || lines < 2 {
		return
	}
	n := int(float64(p.src.size)*float64(lines)/float64(len(head))*1.01) + 16
	n = min(n, 1<<28)
	p.log.Time, p.log.Force = make([]float64, 0, n), make([]float64, 0, n)
	for _, s := range p.beside {
		*s.to = make([]float32, 0, n)
	}
}

// rows reads all rows.
func (p *parser) rows() error {
	l := p.log
	var cells [maxColumns][]byte
	for {
		row, err := p.src.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		line := p.src.line
		if line < p.start || blank(row) || remark(row) {
			continue
		}
		l.Rows++
		if p.src.long {
			l.Junk.add(line, string(row[:min(len(row), 60)]), "a row too long to be one")
			continue
		}
		n := p.g.split(row, cells[:])
		t, v, why := p.row(cells[:n])
		if why != "" {
			l.Junk.add(line, strings.ToValidUTF8(string(row[:min(len(row), 80)]), "?"), why)
			continue
		}
		p.lines.add(len(l.Time), line)
		l.Time, l.Force = append(l.Time, t), append(l.Force, (v-p.zero)*p.scale)
		for i := range p.beside {
			p.side(&p.beside[i], cells[:n], line)
		}
	}
}

// row reads time and force of a row; why is not empty if it is no data.
func (p *parser) row(cells [][]byte) (t, v float64, why string) {
	if p.lay.force.at >= len(cells) || p.lay.time.at >= len(cells) {
		return 0, 0, "too few columns"
	}
	v, ok := p.reading(cells[p.lay.force.at], p.suffix)
	if !ok {
		return 0, 0, "force is not a number"
	}
	switch {
	case p.count:
		return float64(p.log.Rows - 1), v, ""
	case p.byClock:
		if t, ok = p.clock.seconds(bytes.TrimSpace(cells[p.lay.time.at])); !ok {
			return 0, 0, "time is not a clock time"
		}
	default:
		if t, ok = p.reading(cells[p.lay.time.at], p.lay.cols[p.lay.time.at].suffix); !ok {
			return 0, 0, "time is not a number"
		}
	}
	if math.Abs(v*p.scale) > 1e9 {
		return 0, 0, "force beyond any load cell"
	}
	return t, v, ""
}

func (p *parser) reading(cell []byte, withUnit bool) (float64, bool) {
	v, ok := number(cell, p.g.comma)
	if !ok && withUnit {
		rest, _ := suffix(cell, p.g.comma)
		v, ok = number(rest, p.g.comma)
	}
	return v, ok
}

// side appends a value beside time and force. A cell without a number keeps the value before it, and is counted.
func (p *parser) side(s *side, cells [][]byte, line int) {
	x := *s.to
	if s.at < len(cells) {
		v, ok := p.reading(cells[s.at], s.suffix)
		if !ok && s.flag {
			v, ok = onOff(cells[s.at])
		}
		if ok {
			if s.flag && v != 0 {
				v = 1
			}
			*s.to = append(x, float32(v*s.scale+s.zero))
			return
		}
	}
	p.log.Held.add(line, "", s.what+" is not a number: the value before it is kept")
	if len(x) == 0 {
		*s.to = append(x, float32(math.NaN()))
		return
	}
	*s.to = append(x, x[len(x)-1])
}

// fill gives the cells before the first number that number; a column without any is none.
func fill(x []float32) []float32 {
	for i, v := range x {
		if v == v {
			for j := range i {
				x[j] = v
			}
			return x
		}
	}
	return nil
}

// finish settles the time base.
func (p *parser) finish() (*Log, error) {
	l, f := p.log, &p.f
	if len(l.Time) < 2 {
		ps := strict.Problems{{File: l.Name, Seen: fmt.Sprintf("%d usable rows of %d", len(l.Time), l.Rows),
			Allowed: "at least 2",
			Advice:  "check separator, decimal sign and columns"}}
		for _, j := range l.Junk.First[:min(5, len(l.Junk.First))] {
			ps = append(ps, strict.Problem{File: l.Name, Line: j.Line, Seen: strconv.Quote(j.Text), Advice: j.Why})
		}
		return nil, ps
	}
	l.Block, l.Flow = fill(l.Block), fill(l.Flow)
	stamp := spread(l.Time)
	step := medianStep(l.Time)
	if !p.count && step == 0 {
		return nil, problem(l.Name, 0, "time", fmt.Sprintf("the same time in all %d rows", len(l.Time)),
			"a time that moves on",
			"say which column is time, or state the sampling rate with --sample-rate")
	}
	unitWhy := ""
	if f.TimeUnit == "" {
		f.TimeUnit, unitWhy = guessTime(l.Time, step, p.src.sheet)
	}
	k, known := seconds[f.TimeUnit]
	if f.TimeUnit == "sample" {
		if !(f.Rate > 0) {
			return nil, problem(l.Name, 0, "time", "a sample count", "a rate in Hz",
				"state the sampling rate of the logger with --sample-rate")
		}
		k, known = 1/f.Rate, true
	}
	if !known {
		return nil, problem(l.Name, 0, "time unit", strconv.Quote(f.TimeUnit), strings.Join(TimeUnits, ", "),
			"choose one of them")
	}
	l.Format, l.Stamp = *f, stamp*k
	p.describe(unitWhy)
	l.base(&p.lines, k, step*k)
	return l, nil
}

// describe says which column was taken for what.
func (p *parser) describe(timeWhy string) {
	l, lay := p.log, &p.lay
	add := func(role string, c choice, unit string) {
		col := Column{Role: role, Number: c.at + 1, Unit: unit, Why: c.why}
		if c.at >= 0 && c.at < len(lay.cols) {
			col.Name = lay.cols[c.at].header
		}
		l.Columns = append(l.Columns, col)
	}
	if timeWhy != "" {
		lay.time.why += "; unit by " + timeWhy
	}
	add("time", lay.time, l.Format.TimeUnit)
	add("force", lay.force, l.Format.ForceUnit)
	if l.Block != nil {
		add("block", lay.temp, lay.cols[lay.temp.at].unit)
	}
	if l.Flow != nil {
		add("flow", lay.flow, l.Format.FlowUnit)
	}
	l.Notes = lay.notes
}
