package loadcell

import (
	"bytes"
	"math"
	"slices"
	"sort"
	"strings"
)

func sortBy(x []string, less func(a, b string) bool) {
	sort.Slice(x, func(i, j int) bool { return less(x[i], x[j]) })
}

// sniffed is how many rows decide how a log is written.
const sniffed = 200

type headRow struct {
	line int
	text []byte
	note bool // a remark: it may hold the header
}

func blank(row []byte) bool { return len(bytes.TrimSpace(row)) == 0 }

// remark tells whether a row that is not blank is a comment.
func remark(row []byte) bool {
	row = bytes.TrimLeft(row, " \t")
	return len(row) > 0 && (row[0] == '#' || row[0] == '%' || len(row) > 1 && row[0] == '/' && row[1] == '/')
}

// sniff returns the first rows that are not blank.
func sniff(src []byte) []headRow {
	var out []headRow
	line, data := 0, 0
	for len(src) > 0 && data < sniffed {
		row := src
		if i := bytes.IndexByte(src, '\n'); i >= 0 {
			row, src = src[:i], src[i+1:]
		} else {
			src = nil
		}
		line++
		row = bytes.TrimSuffix(row, []byte("\r"))
		if blank(row) {
			continue
		}
		note := remark(row)
		if !note {
			data++
		}
		out = append(out, headRow{line, row, note})
	}
	return out
}

// grammar is how the rows of a log are to be cut.
type grammar struct {
	splitter
	sep   byte // 0 where there is none
	comma bool
	keys  []string // names that stand in every row
	arrow bool
}

// grammarOf finds out how rows are written: what the format says stands.
func grammarOf(rows []headRow, f Format) grammar {
	var texts [][]byte
	arrows := 0
	for _, r := range rows {
		if r.note {
			continue
		}
		texts = append(texts, r.text)
		if _, _, ok := cutArrow(r.text); ok {
			arrows++
		}
	}
	g := grammar{arrow: 2*arrows > len(texts)}
	if g.arrow {
		kept := texts[:0]
		for _, t := range texts {
			if _, rest, ok := cutArrow(t); ok {
				kept = append(kept, rest)
			}
		}
		texts = kept
	}
	inner := g.inner(texts, f)
	g.splitter = inner
	if g.arrow {
		g.splitter = arrow{inner}
	}
	return g
}

// inner finds out how the text behind a clock of a serial monitor, or the whole row, is written.
func (g *grammar) inner(texts [][]byte, f Format) splitter {
	var objects, paired int
	var objKeys, pairKeys []string
	add := func(to []string, more []string) []string {
		for _, k := range more {
			if len(to) < maxColumns && !slices.Contains(to, k) {
				to = append(to, k)
			}
		}
		return to
	}
	for _, t := range texts {
		if bytes.HasPrefix(bytes.TrimLeft(t, " \t[,"), []byte("{")) {
			if k := objectKeys(t); len(k) > 0 {
				objects++
				objKeys = add(objKeys, k)
			}
		} else if k := keysOf(t); len(k) > 0 && pairOfNumber(t) {
			paired++
			pairKeys = add(pairKeys, k)
		}
	}
	switch {
	case 2*objects > len(texts):
		g.keys = objKeys
		return object{objKeys}
	case 2*paired > len(texts):
		g.keys = pairKeys
		g.comma = f.DecimalComma > 0
		return pairs{pairKeys}
	}
	g.sep = f.Separator
	if g.sep == 0 {
		g.sep = separator(texts)
	}
	g.comma = f.DecimalComma > 0 || f.DecimalComma == 0 && decimalComma(texts, g.sep)
	return table{g.sep}
}

// pairOfNumber tells whether the first pair of a line has a number for its value.
func pairOfNumber(t []byte) bool {
	_, v, _, ok := cutPair(t)
	if !ok {
		return false
	}
	if _, isNumber := number(v, bytes.IndexByte(v, ',') >= 0); isNumber || isClock(v) {
		return true
	}
	_, tail := suffix(v, bytes.IndexByte(v, ',') >= 0)
	return tail != ""
}

// separator picks the one that cuts most rows into the same number, above one, of columns; order decides ties.
func separator(rows [][]byte) byte {
	best, score := byte(','), 0
	var cells [maxColumns][]byte
	for _, s := range []byte{';', '\t', '|', ',', ' '} {
		count := map[int]int{}
		for _, r := range rows {
			n := table{s}.split(r, cells[:])
			if s == ' ' && !numbersAmong(cells[:n]) {
				continue // prose
			}
			count[n]++
		}
		for n, c := range count {
			if n > 1 && c > score && 2*c > len(rows) {
				best, score = s, c
			}
		}
		if score > 0 && score >= len(rows)*9/10 {
			break
		}
	}
	return best
}

func numbersAmong(cells [][]byte) bool {
	for _, c := range cells {
		if _, ok := number(c, bytes.IndexByte(c, ',') >= 0); ok {
			return true
		}
	}
	return false
}

// decimalComma tells whether numbers are written 1,5: the separator is another, and commas stand where points do not.
func decimalComma(rows [][]byte, sep byte) bool {
	if sep == ',' {
		return false
	}
	commas, points := 0, 0
	var cells [maxColumns][]byte
	for _, r := range rows {
		for _, f := range cells[:(table{sep}).split(r, cells[:])] {
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

// kinds says for every cell of a row whether it is a number (n), a clock time (c), a number with a unit (u), a word of
// a switch (w), empty (-) or other text (x).
func (g *grammar) kinds(row []byte) string {
	var cells [maxColumns][]byte
	n := g.split(row, cells[:])
	b := make([]byte, n)
	for i, c := range cells[:n] {
		b[i] = g.kind(c)
	}
	return string(b)
}

func (g *grammar) kind(c []byte) byte {
	if blank(c) {
		return '-'
	}
	if _, ok := number(c, g.comma); ok {
		return 'n'
	}
	if isClock(c) {
		return 'c'
	}
	if _, tail := suffix(c, g.comma); tail != "" {
		return 'u'
	}
	if _, ok := onOff(c); ok {
		return 'w'
	}
	return 'x'
}

// firstData returns the index of the first row of data: the first that has the pattern of numbers and clock times which
// most rows have. Rows of a preamble ("rate,80") have others. -1 if no row holds a number.
func (g *grammar) firstData(rows []headRow) int {
	count := map[string]int{}
	pattern := make([]string, len(rows))
	usual, most := "", 0
	for i, r := range rows {
		if r.note {
			continue
		}
		k := strings.Map(func(c rune) rune {
			if c == 'w' || c == '-' || c == 'x' { // what stands beside the numbers may change from row to row
				return 'x'
			}
			return c
		}, g.kinds(r.text))
		pattern[i] = k
		if !strings.ContainsAny(k, "ncu") {
			continue
		}
		if count[k]++; count[k] > most {
			usual, most = k, count[k]
		}
	}
	if most == 0 {
		return -1
	}
	for i, k := range pattern {
		if k == usual || k != "" && holes(g.kinds(rows[i].text), usual) {
			return i
		}
	}
	return -1
}

// holes tells whether a row is one of the usual pattern with some cells empty.
func holes(kinds, usual string) bool {
	if len(kinds) != len(usual) {
		return false
	}
	numbers := 0
	for i := range kinds {
		switch {
		case strings.IndexByte("ncu", usual[i]) < 0:
		case kinds[i] == usual[i]:
			numbers++
		case kinds[i] != '-':
			return false
		}
	}
	return numbers > 0
}

// stripRemark takes the sign of a remark off a row.
func stripRemark(row []byte) []byte { return bytes.TrimLeft(row, "#%/ \t") }

// cells cuts a row of names; it may stand behind the sign of a remark, and without the clock of a serial monitor.
func (g *grammar) cells(r headRow) []string {
	var cells [maxColumns][]byte
	text := r.text
	if r.note {
		text = stripRemark(text)
	}
	n := g.split(text, cells[:])
	if g.arrow && n == 0 {
		if n = g.splitter.(arrow).rest.split(text, cells[1:]) + 1; n > 1 {
			cells[0] = nil
		}
	}
	out := make([]string, n)
	for i := range out {
		out[i] = strings.Trim(strings.TrimSpace(string(cells[i])), `"'`)
	}
	return out
}

// headers finds the names and units of the columns above the first row of data: the row right above, or two if the
// lower holds units. It returns the line of the names, 0 if there are none.
func (g *grammar) headers(rows []headRow, first, width int) (names, units []string, line int) {
	if g.keys != nil && !g.arrow {
		return g.keys, nil, rows[max(0, first)].line
	}
	if g.keys != nil {
		return append([]string{""}, g.keys...), nil, rows[max(0, first)].line
	}
	upper := first
	if first < 0 { // no row of numbers: the first row is the header, and the rows speak for themselves
		for _, r := range rows {
			if !r.note {
				return g.cells(r), nil, r.line
			}
		}
	}
	for i := upper - 1; i >= 0 && i >= upper-3; i-- {
		c := g.cells(rows[i])
		if !textual(c) || len(c) < 2 && width > 1 || rows[i].note && len(c) != width {
			if rows[i].note {
				continue
			}
			break
		}
		if units == nil && unitRow(c) && i > 0 {
			if over := g.cells(rows[i-1]); len(over) == len(c) && textual(over) && !unitRow(over) {
				units = c
				continue
			}
		}
		return c, units, rows[i].line
	}
	return nil, nil, 0
}

// textual tells whether cells are names rather than numbers.
func textual(cells []string) bool {
	text := 0
	for _, c := range cells {
		if _, ok := number([]byte(c), strings.ContainsRune(c, ',')); ok || isClock([]byte(c)) {
			return false
		}
		if c != "" {
			text++
		}
	}
	return text > 0
}

// unitRow tells whether every cell that is not empty is a unit.
func unitRow(cells []string) bool {
	n := 0
	for _, c := range cells {
		c = strings.Trim(c, "()[]{} ")
		if c == "" || c == "-" {
			continue
		}
		if _, d := unitOf(c); d == noDimension {
			return false
		}
		n++
	}
	return n > 0
}

// tally counts what the cells of a column hold.
type tally struct {
	n, numbers, clocks, words, bits, withUnit, falls int
	last, lo, hi                                     float64
	tail                                             string // unit behind a reading
}

func (s *tally) add(g *grammar, c []byte) {
	kind := g.kind(c)
	if kind == '-' {
		return
	}
	s.n++
	v, ok := number(c, g.comma)
	switch kind {
	case 'c':
		s.clocks++
	case 'u':
		rest, tail := suffix(c, g.comma)
		v, ok = number(rest, g.comma)
		s.withUnit++
		s.tail = tail
	case 'w':
		s.words++
	}
	if !ok {
		return
	}
	if v == 0 || v == 1 {
		s.bits++
	}
	if s.numbers == 0 {
		s.lo, s.hi = v, v
	} else if v < s.last {
		s.falls++
	}
	s.numbers++
	s.last, s.lo, s.hi = v, math.Min(s.lo, v), math.Max(s.hi, v)
}

// survey looks at the first rows of data and returns what each column holds.
func (g *grammar) survey(rows []headRow, first int, names, units []string) []column {
	width := len(names)
	var cells [maxColumns][]byte
	sums := make([]tally, maxColumns)
	for _, r := range rows[max(0, first):] {
		if r.note {
			continue
		}
		n := g.split(r.text, cells[:])
		width = max(width, n)
		for i, c := range cells[:n] {
			sums[i].add(g, c)
		}
	}
	out := make([]column, min(width, maxColumns))
	for i := range out {
		name, unit := "", ""
		if i < len(names) {
			name = names[i]
		}
		if i < len(units) {
			unit = strings.Trim(units[i], "()[]{} -")
		}
		out[i] = columnOf(sums[i], name, unit, first < 0)
	}
	if g.arrow && len(out) > 0 && out[0].header == "" {
		out[0].name = "clock of the monitor"
	}
	return out
}

// columnOf judges a column by its name, the unit under it, and its cells. Where no row holds a number, any may be one.
func columnOf(s tally, header, unit string, blind bool) column {
	c := column{header: header}
	if header != "" {
		c.name, c.unit, c.dim = splitHeader(header)
	}
	if unit != "" {
		c.unit, c.dim = unitOf(unit)
	}
	c.suffix = 2*s.withUnit > s.n
	if u, d := unitOf(s.tail); c.suffix && c.dim == noDimension {
		c.unit, c.dim = u, d
	}
	c.words = words(c.name + " " + c.header)
	c.numeric = 2*s.numbers > s.n || blind
	c.clock = 2*s.clocks > s.n
	c.flag = s.n > 0 && (2*s.words > s.n || s.bits == s.n)
	c.rising = s.numbers > 1 && s.falls == 0 && s.hi > s.lo
	c.still = s.n > 0 && s.hi == s.lo && s.clocks == 0
	return c
}
