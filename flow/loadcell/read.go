package loadcell

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Format says how a log is written. Zero values are found out from the file.
type Format struct {
	Separator    byte    // ',', ';', tab, '|' or ' '
	DecimalComma int     // 1 yes, -1 no
	TimeColumn   string  // header or number from 1
	ForceColumn  string  //
	BlockColumn  string  // block temperature, degC; optional
	FlowColumn   string  // flow fed, mm3/s; optional
	TimeUnit     string  // one of TimeUnits
	ForceUnit    string  // one of ForceUnits
	Rate         float64 // Hz, for logs by sample count
	CountZero    float64 // counts at no load
	PerCount     float64 // N per count
}

// TimeUnits and ForceUnits list what the units may be.
var (
	TimeUnits  = []string{"s", "ms", "us", "min", "clock", "sample"}
	ForceUnits = []string{"N", "kgf", "gf", "counts"}
)

// Row is a row that was not used, and why.
type Row struct {
	Line int    `json:"line"`
	Text string `json:"text"`
	Why  string `json:"why"`
}

// Log is a load-cell log in SI. Every row of the file is either in Time and Force, or counted.
type Log struct {
	Name   string
	Format Format // as used
	Time   []float64
	Force  []float64
	Block  []float64 // K, as long as Time if the column was there, else nil
	Flow   []float64 // m3/s, likewise

	Rows     int // data rows in the file
	Junk     []Row
	Repeated []Row // the same time and force as the row before: left out
	Resets   []Row // time fell back: the log goes on from there, one step later
	Gaps     []Row // longer than three steps
	Held     []Row // used, but block temperature or flow was not a number: the value before it is kept
	Step     float64
	Stamp    float64 // s between the time stamps, where many rows share one and were spread evenly between them; else 0
}

// Counted tells how many rows of each kind there were.
type Counted struct{ Junk, Repeated, Resets, Gaps, Held int }

// Faults counts the rows that were not plain data.
func (l *Log) Faults() Counted {
	return Counted{len(l.Junk), len(l.Repeated), len(l.Resets), len(l.Gaps), len(l.Held)}
}

// Read reads a log. Problems that make it unreadable come as strict.Problems: what was found, what is allowed and
// what to state. Rows that are not data are counted in the log, never dropped in silence.
func Read(name string, r io.Reader, f Format) (*Log, error) {
	src, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	return Parse(name, src, f)
}

// Parse is Read for text in memory.
func Parse(name string, src []byte, f Format) (*Log, error) {
	fail := func(line int, field, seen, allowed, advice string) error {
		return strict.Problems{{File: name, Line: line, Field: field, Seen: seen, Allowed: allowed, Advice: advice}}
	}
	src = bytes.TrimPrefix(fromUTF16(src), []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(src[:min(len(src), 1<<12)], 0) >= 0 {
		return nil, fail(0, "", "bytes that are not text", "a table of numbers as text", "export the log as CSV")
	}
	if !utf8.Valid(src[:min(len(src), 1<<16)]) {
		src = bytes.ToValidUTF8(src, []byte("?"))
	}
	l := &Log{Name: name}
	head := sniff(src)
	if len(head) == 0 {
		return nil, fail(0, "", "no rows", "a table of numbers", "check the file")
	}
	if f.Separator == 0 {
		f.Separator = separator(head)
	}
	if f.DecimalComma == 0 {
		f.DecimalComma = -1
		if decimalComma(head, f.Separator) {
			f.DecimalComma = 1
		}
	}
	comma := f.DecimalComma > 0
	names, headLine := header(head, f.Separator, comma)
	width := 0
	for _, h := range head {
		if h.line > headLine {
			width = max(width, len(fields(h.text, f.Separator)))
		}
	}
	cols := func(field, want string, words []string, fallback int) (int, error) {
		if want != "" {
			if n, err := strconv.Atoi(want); err == nil && n >= 1 {
				return n - 1, nil
			}
			for i, h := range names {
				if strings.EqualFold(strings.TrimSpace(h), want) {
					return i, nil
				}
			}
			return -1, fail(headLine, field, strconv.Quote(want), "a column number or one of "+strings.Join(names, ", "), "name the column as the header does")
		}
		for _, w := range words {
			for i, h := range names {
				if matches(h, w) {
					return i, nil
				}
			}
		}
		return fallback, nil
	}
	tc, err := cols("time column", f.TimeColumn, []string{"time", "timestamp", "t", "millis", "micros", "elapsed", "seconds", "sec", "ms", "us", "s", "sample", "samples", "index", "n"}, -2)
	if err != nil {
		return nil, err
	}
	fc, err := cols("force column", f.ForceColumn, []string{"force", "load", "push", "weight", "mass", "f", "newton", "n", "kgf", "kg", "gram", "grams", "g", "gf", "raw", "counts", "adc", "reading", "value"}, -2)
	if err != nil {
		return nil, err
	}
	if fc == tc && fc >= 0 { // "n" stands for both samples and newtons
		tc = -2
	}
	bc, err := cols("block column", f.BlockColumn, []string{"block", "temperature", "temp", "degc", "heater"}, -1)
	if err != nil {
		return nil, err
	}
	qc, err := cols("flow column", f.FlowColumn, []string{"flow", "mm3", "volumetric"}, -1)
	if err != nil {
		return nil, err
	}
	// Without names: the first column that is left is time, the next force; one column alone is force by count.
	if fc == -2 {
		fc = 0
		if tc == -2 && width > 1 {
			fc = 1
		}
		for fc == tc || fc == bc || fc == qc {
			fc++
		}
		if fc >= max(width, len(names)) {
			return nil, fail(max(1, headLine), "force column", strings.Join(names, ", "), "a column of force", "add it, or say which it is")
		}
	}
	if tc == -2 {
		tc = -1
		if width > 1 && fc != 0 {
			tc = 0
		} else if width > 1 {
			tc = 1
		}
	}
	if f.ForceUnit == "" {
		f.ForceUnit = unitOf(name1(names, fc), map[string]string{"n": "N", "newton": "N", "newtons": "N", "kgf": "kgf", "kg": "kgf", "g": "gf", "gf": "gf", "gram": "gf", "grams": "gf", "raw": "counts", "counts": "counts", "adc": "counts"})
	}
	if f.ForceUnit == "" {
		return nil, fail(max(1, headLine), "force unit", "no unit in the header", strings.Join(ForceUnits, ", "), "state the unit of the force column")
	}
	scale, zero := 1.0, 0.0
	switch f.ForceUnit {
	case "N":
	case "kgf":
		scale = unit.KGF
	case "gf":
		scale = unit.KGF / 1000
	case "counts":
		if f.PerCount == 0 {
			return nil, fail(max(1, headLine), "force unit", "raw counts", "N per count and the count at no load", "state the calibration of the cell")
		}
		scale, zero = f.PerCount, f.CountZero
	default:
		return nil, fail(0, "force unit", strconv.Quote(f.ForceUnit), strings.Join(ForceUnits, ", "), "choose one of them")
	}
	if f.TimeUnit == "" && tc >= 0 {
		f.TimeUnit = unitOf(name1(names, tc), map[string]string{"s": "s", "sec": "s", "seconds": "s", "ms": "ms", "millis": "ms", "us": "us", "micros": "us", "min": "min", "sample": "sample", "samples": "sample", "index": "sample"})
	}
	clock := time.Time{}
	raw := make([]float64, 0, bytes.Count(src, []byte("\n")))
	lines := make([]int32, 0, cap(raw))
	junk := func(line int, text, why string) {
		l.Junk = append(l.Junk, Row{line, clip(text), why})
	}
	var fs [64][]byte
	line := 0
	for rest := src; len(rest) > 0; {
		var row []byte
		if i := bytes.IndexByte(rest, '\n'); i >= 0 {
			row, rest = rest[:i], rest[i+1:]
		} else {
			row, rest = rest, nil
		}
		line++
		row = bytes.TrimSuffix(row, []byte("\r"))
		if line <= headLine || blank(row) {
			continue
		}
		if row[0] == '#' || row[0] == '%' || row[0] == '/' {
			continue
		}
		l.Rows++
		n := splitTo(row, f.Separator, &fs)
		if fc >= n || tc >= n {
			junk(line, string(row), "too few columns")
			continue
		}
		v, ok := number(fs[fc], comma)
		if !ok {
			junk(line, string(row), "force is not a number")
			continue
		}
		t := float64(l.Rows - 1)
		if tc >= 0 {
			if f.TimeUnit == "clock" || f.TimeUnit == "" && len(raw) == 0 && isClock(fs[tc]) {
				f.TimeUnit = "clock"
				c, ok := parseClock(string(bytes.TrimSpace(fs[tc])))
				if !ok {
					junk(line, string(row), "time is not a clock time")
					continue
				}
				if clock.IsZero() {
					clock = c
				}
				t = c.Sub(clock).Seconds()
			} else if t, ok = number(fs[tc], comma); !ok {
				junk(line, string(row), "time is not a number")
				continue
			}
		}
		l.Force = append(l.Force, (v-zero)*scale)
		raw = append(raw, t)
		lines = append(lines, int32(line))
		if bc >= 0 {
			l.Block = l.beside(l.Block, fs[:n], bc, line, comma, "block temperature")
		}
		if qc >= 0 {
			l.Flow = l.beside(l.Flow, fs[:n], qc, line, comma, "flow")
		}
	}
	if len(raw) < 2 {
		ps := strict.Problems{{File: name, Seen: fmt.Sprintf("%d usable rows of %d", len(raw), l.Rows), Allowed: "at least 2", Advice: "check separator, decimal sign and columns"}}
		for i, j := range l.Junk {
			if i == 5 {
				break
			}
			ps = append(ps, strict.Problem{File: name, Line: j.Line, Seen: strconv.Quote(j.Text), Advice: j.Why})
		}
		return nil, ps
	}
	l.Block, l.Flow = fill(l.Block), fill(l.Flow)
	for i := range l.Block {
		l.Block[i] = unit.Kelvin(l.Block[i])
	}
	for i := range l.Flow {
		l.Flow[i] *= unit.MM3
	}
	if tc < 0 {
		f.TimeUnit = "sample"
	}
	per := map[string]float64{"s": 1, "ms": 1e-3, "us": 1e-6, "min": 60, "clock": 1}
	stamp := spread(raw)
	step := medianStep(raw)
	if tc >= 0 && step == 0 {
		return nil, fail(0, "time", fmt.Sprintf("the same time in all %d rows", len(raw)), "a time that moves on", "say which column is time, or state the sampling rate")
	}
	if f.TimeUnit == "" {
		f.TimeUnit = guessTime(raw, step)
	}
	k, known := per[f.TimeUnit]
	if f.TimeUnit == "sample" {
		if !(f.Rate > 0) {
			return nil, fail(0, "time", "a sample count", "a rate in Hz", "state the sampling rate of the logger")
		}
		k, known = 1/f.Rate, true
	}
	if !known {
		return nil, fail(0, "time unit", strconv.Quote(f.TimeUnit), strings.Join(TimeUnits, ", "), "choose one of them")
	}
	l.Format = f
	l.Stamp = stamp * k
	l.base(raw, lines, k, step*k)
	return l, nil
}

// fromUTF16 turns text that begins with a UTF-16 mark, as spreadsheets write it, into UTF-8.
func fromUTF16(src []byte) []byte {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(src, []byte{0xff, 0xfe}):
		order = binary.LittleEndian
	case bytes.HasPrefix(src, []byte{0xfe, 0xff}):
		order = binary.BigEndian
	default:
		return src
	}
	units := make([]uint16, len(src)/2-1)
	for i := range units {
		units[i] = order.Uint16(src[2*i+2:])
	}
	return []byte(string(utf16.Decode(units)))
}

// beside appends a value of a column beside time and force. A cell without a number keeps the value before it, and is counted.
func (l *Log) beside(x []float64, row [][]byte, at, line int, comma bool, what string) []float64 {
	if at < len(row) {
		if v, ok := number(row[at], comma); ok {
			return append(x, v)
		}
	}
	l.Held = append(l.Held, Row{line, "", what + " is not a number: the value before it is kept"})
	if len(x) == 0 {
		return append(x, math.NaN())
	}
	return append(x, x[len(x)-1])
}

// fill gives the cells before the first number that number; a column without any is none.
func fill(x []float64) []float64 {
	for i, v := range x {
		if !math.IsNaN(v) {
			for j := range i {
				x[j] = v
			}
			return x
		}
	}
	return nil
}

// base turns raw times into seconds from the start, and counts repeats, resets and gaps.
func (l *Log) base(raw []float64, lines []int32, k, step float64) {
	l.Step = step
	offset := -raw[0] * k
	last := math.Inf(-1)
	out := 0
	for i, r := range raw {
		t := r*k + offset
		switch {
		case i > 0 && t == last && l.Force[i] == l.Force[out-1]:
			l.Repeated = append(l.Repeated, Row{int(lines[i]), "", "same time and force as the row before"})
			continue
		case t < last:
			l.Resets = append(l.Resets, Row{int(lines[i]), "", fmt.Sprintf("time falls back by %.3g s", last-t)})
			offset += last + step - t
			t = last + step
		case t > last+3*step && i > 0:
			l.Gaps = append(l.Gaps, Row{int(lines[i]), "", fmt.Sprintf("%.3g s without a row", t-last)})
		}
		l.Time = append(l.Time, t)
		l.Force[out] = l.Force[i]
		if l.Block != nil {
			l.Block[out] = l.Block[i]
		}
		if l.Flow != nil {
			l.Flow[out] = l.Flow[i]
		}
		out++
		last = t
	}
	l.Force = l.Force[:out]
	if l.Block != nil {
		l.Block = l.Block[:out]
	}
	if l.Flow != nil {
		l.Flow = l.Flow[:out]
	}
}

type headRow struct {
	line int
	text []byte
}

// sniff returns the first rows that are not blank or comments.
func sniff(src []byte) []headRow {
	var out []headRow
	line := 0
	for len(src) > 0 && len(out) < 200 {
		row := src
		if i := bytes.IndexByte(src, '\n'); i >= 0 {
			row, src = src[:i], src[i+1:]
		} else {
			src = nil
		}
		line++
		row = bytes.TrimSuffix(row, []byte("\r"))
		if !blank(row) && row[0] != '#' && row[0] != '%' && row[0] != '/' {
			out = append(out, headRow{line, row})
		}
	}
	return out
}

func blank(row []byte) bool { return len(bytes.TrimSpace(row)) == 0 }

// separator picks the one that cuts most rows into the same number, above one, of columns; order decides ties.
func separator(rows []headRow) byte {
	best, score := byte(','), 0
	for _, s := range []byte{';', '\t', '|', ',', ' '} {
		count := map[int]int{}
		for _, r := range rows {
			count[len(fields(r.text, s))]++
		}
		for n, c := range count {
			if n > 1 && c > score && 2*c > len(rows) {
				best, score = s, c
			}
		}
		if score == len(rows) || score > 0 && score >= len(rows)*9/10 {
			break
		}
	}
	return best
}

func fields(row []byte, sep byte) [][]byte {
	if sep == ' ' {
		return bytes.Fields(row)
	}
	return bytes.Split(row, []byte{sep})
}

func splitTo(row []byte, sep byte, out *[64][]byte) int {
	if sep == ' ' {
		row = bytes.TrimSpace(row)
	}
	n := 0
	for n < len(out) {
		i := bytes.IndexByte(row, sep)
		if i < 0 {
			out[n] = row
			return n + 1
		}
		out[n] = row[:i]
		n++
		row = row[i+1:]
		if sep == ' ' {
			row = bytes.TrimLeft(row, " ")
		}
	}
	return n
}

// decimalComma tells whether numbers are written 1,5: the separator is another, and commas stand where points do not.
func decimalComma(rows []headRow, sep byte) bool {
	if sep == ',' {
		return false
	}
	commas, points := 0, 0
	for _, r := range rows {
		for _, f := range fields(r.text, sep) {
			if _, ok := number(f, true); ok && bytes.IndexByte(f, ',') >= 0 {
				commas++
			}
			if _, ok := number(f, false); ok && bytes.IndexByte(f, '.') >= 0 {
				points++
			}
		}
	}
	return commas > points
}

// header returns the column names and the line they stand on; 0 if there are none.
func header(rows []headRow, sep byte, comma bool) ([]string, int) {
	for i, r := range rows {
		if i > 20 {
			break
		}
		numeric, fs := 0, fields(r.text, sep)
		for _, f := range fs {
			if _, ok := number(f, comma); ok || isClock(f) {
				numeric++
			}
		}
		if numeric > 0 {
			if i == 0 {
				return nil, 0
			}
			var names []string
			for _, f := range fields(rows[i-1].text, sep) {
				names = append(names, strings.Trim(strings.TrimSpace(string(f)), `"'`))
			}
			return names, rows[i-1].line
		}
	}
	// No row of numbers near the top: take the first for the header and let the rows speak.
	var names []string
	for _, f := range fields(rows[0].text, sep) {
		names = append(names, strings.TrimSpace(string(f)))
	}
	return names, rows[0].line
}

// matches tells whether a header holds a word: split at anything but letters and digits.
func matches(header, word string) bool {
	for _, w := range words(header) {
		if w == word {
			return true
		}
	}
	return false
}

func words(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	})
}

func name1(names []string, i int) string {
	if i >= 0 && i < len(names) {
		return names[i]
	}
	return ""
}

// unitOf finds a unit in a header; the last word that is one counts.
func unitOf(header string, units map[string]string) string {
	w := words(header)
	for i := len(w) - 1; i >= 0; i-- {
		if u, ok := units[w[i]]; ok {
			return u
		}
	}
	return ""
}

// number reads a plain decimal number without allocating; NaN and infinities are not data.
func number(b []byte, comma bool) (float64, bool) {
	b = bytes.TrimSpace(b)
	if len(b) >= 2 && b[0] == '"' && b[len(b)-1] == '"' {
		b = b[1 : len(b)-1]
	}
	if len(b) == 0 || len(b) > 40 {
		return 0, false
	}
	// The fast path: sign, up to 15 digits, one decimal sign.
	i, neg := 0, false
	if b[0] == '-' || b[0] == '+' {
		neg = b[0] == '-'
		i = 1
	}
	var m uint64
	digits, frac, point := 0, 0, false
	dot := byte('.')
	if comma {
		dot = ','
	}
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			m = m*10 + uint64(c-'0')
			digits++
			if point {
				frac++
			}
		case c == dot && !point:
			point = true
		default:
			return slowNumber(b, comma)
		}
	}
	if digits == 0 {
		return 0, false
	}
	if digits > 15 {
		return slowNumber(b, comma)
	}
	x := float64(m) / pow10[frac]
	if neg {
		x = -x
	}
	return x, true
}

var pow10 = [16]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

func slowNumber(b []byte, comma bool) (float64, bool) {
	s := string(b)
	if comma {
		if strings.ContainsRune(s, '.') {
			return 0, false
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	if strings.ContainsAny(s, "xXpPiInN_") { // hexadecimal, inf and nan are not readings
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsInf(x, 0) && !math.IsNaN(x)
}

var clockLayouts = []string{time.RFC3339Nano, "2006-01-02 15:04:05.999999999", "2006-01-02T15:04:05.999999999", "2006/01/02 15:04:05.999999999", "02.01.2006 15:04:05.999999999", "15:04:05.999999999"}

func isClock(b []byte) bool { return bytes.Count(b, []byte(":")) == 2 }

func parseClock(s string) (time.Time, bool) {
	s = strings.Replace(strings.Trim(s, `"`), ",", ".", 1)
	for _, l := range clockLayouts {
		if t, err := time.Parse(l, s); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

func medianStep(t []float64) float64 {
	n := min(len(t)-1, 10001)
	d := make([]float64, 0, n)
	for i := 1; i <= n; i++ {
		if x := t[i] - t[i-1]; x > 0 {
			d = append(d, x)
		}
	}
	if len(d) == 0 {
		return 0
	}
	sort.Float64s(d)
	return d[len(d)/2]
}

// spread puts rows that share a time stamp evenly between that stamp and the next, where most rows do: a clock that shows
// whole seconds beside ten rows a second. It returns the usual distance of the stamps, 0 if there was nothing to spread.
func spread(t []float64) float64 {
	shared := 0
	var starts []int
	for i := range t {
		if i > 0 && t[i] == t[i-1] {
			shared++
		} else {
			starts = append(starts, i)
		}
	}
	gap := medianStep(t)
	if gap == 0 || float64(shared) < 0.6*float64(len(t)) { // a logger that writes every row twice shares half
		return 0
	}
	starts = append(starts, len(t))
	rows := make([]float64, len(starts)-1)
	for i := range rows {
		rows[i] = float64(starts[i+1] - starts[i])
	}
	sort.Float64s(rows)
	usual := gap / rows[len(rows)/2]
	for i := range len(starts) - 1 {
		a, b := starts[i], starts[i+1]
		from, step := t[a], usual
		if b < len(t) {
			switch to := t[b] - from; {
			case i == 0:
				from = t[b] - usual*float64(b-a) // the log may begin in the middle of a stamp
			case to > 0 && to < 3*gap:
				step = to / float64(b-a)
			}
		}
		for j := a; j < b; j++ {
			t[j] = from + step*float64(j-a)
		}
	}
	return gap
}

// guessTime names the unit of a time column without one: loggers run between 1 and 5000 Hz.
func guessTime(t []float64, step float64) string {
	whole := true
	for _, x := range t[:min(len(t), 1000)] {
		whole = whole && x == math.Trunc(x)
	}
	switch {
	case whole && step == 1:
		return "sample"
	case whole && step > 2000:
		return "us"
	case whole && step >= 2:
		return "ms"
	}
	return "s"
}

func clip(s string) string {
	if len(s) > 60 {
		return s[:60] + "..."
	}
	return s
}
