package strict

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"meltload/materials/unit"
)

// Column is a column of numbers that a sheet may have, with what its cells may be.
type Column struct {
	Name     string
	Lo, Hi   float64
	Optional bool   // the column may be missing and its cells empty
	Instead  string // another column that may stand for this one; exactly one of the two is wanted
}

// Table reads CSV with a header row that names the columns. The header tells what separates cells: a comma, semicolon
// or tab; where it is no comma, numbers may have a decimal comma. Rows map a column to its number; an empty optional
// cell is not in the map. Lines that begin with # are remarks. Errors, as Problems: every bad cell, with its line.
func Table(file string, r io.Reader, columns []Column) ([]map[string]float64, error) {
	src, err := readAll(file, r, MaxTable)
	if err != nil {
		return nil, err
	}
	src = Plain(src)
	if why := notText(src); why != "" {
		return nil, Problems{{File: file, Seen: why, Allowed: "a table of numbers as text",
			Advice: "export the table as CSV"}}
	}
	c := csv.NewReader(bytes.NewReader(src))
	c.Comma = separator(src)
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord, c.ReuseRecord = '#', c.Comma != '\t', -1, true
	t := sheet{file: file, csv: c, columns: columns}
	t.header()
	if len(t.found) > 0 {
		return nil, t.found
	}
	t.body()
	if len(t.found) == 0 && len(t.rows) == 0 {
		t.bad(0, "", "no rows", "at least one row of numbers", "add measurements")
	}
	return t.rows, t.found.Err()
}

// separator is the sign that parts the names of the header row: a semicolon or tab where there is one, else a comma.
func separator(src []byte) rune {
	for line := range bytes.Lines(src) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		sign, most := ',', 0
		for _, r := range []rune{',', ';', '\t'} {
			if n := bytes.Count(line, []byte(string(r))); n > most {
				sign, most = r, n
			}
		}
		return sign
	}
	return ','
}

// number reads a cell: with a decimal comma too, where commas do not separate cells.
func (t *sheet) number(cell string) (float64, bool) {
	if t.csv.Comma != ',' && strings.Count(cell, ",") == 1 && !strings.Contains(cell, ".") {
		cell = strings.Replace(cell, ",", ".", 1)
	}
	return unit.Number(cell)
}

// sheet is a table being read.
type sheet struct {
	file    string
	csv     *csv.Reader
	columns []Column
	at      map[string]int // position of each column that is there
	width   int            // cells of the header
	rows    []map[string]float64
	found   Problems
}

func (t *sheet) bad(line int, field, seen, allowed, advice string) {
	t.found = append(t.found, Problem{File: t.file, Line: line, Field: field, Seen: seen, Allowed: allowed,
		Advice: advice})
}

// header finds the columns, and what is wrong with their names.
func (t *sheet) header() {
	var names []string
	for _, k := range t.columns {
		names = append(names, k.Name)
	}
	all := strings.Join(names, ", ")
	head, err := t.csv.Read()
	if err != nil {
		t.bad(0, "", "no header", all, "name the columns in the first row")
		return
	}
	top, _ := t.csv.FieldPos(0)
	if t.width = len(head); t.width > MaxColumns {
		t.bad(top, "", fmt.Sprintf("%d columns", t.width), fmt.Sprintf("at most %d", MaxColumns),
			"check that this is the file you mean")
		return
	}
	t.at = columnsOf(head, names, func(seen, advice string) {
		t.bad(top, strconv.Quote(seen), "an unknown column", all, advice)
	})
	for _, k := range t.columns {
		_, here := t.at[k.Name]
		_, other := t.at[k.Instead]
		switch {
		case k.Instead != "" && here && other:
			t.bad(top, k.Name, "two columns for one thing", k.Name+" or "+k.Instead, "give one of them")
		case k.Instead != "" && !here && !other:
			t.bad(top, k.Name, "nothing", k.Name+" or "+k.Instead, "add one of them")
		case k.Instead == "" && !k.Optional && !here:
			t.bad(top, k.Name, "nothing", "a column of this name", "add it")
		}
	}
}

// body reads the rows below the header.
func (t *sheet) body() {
	for {
		row, err := t.csv.Read()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.bad(0, "", err.Error(), t.rowsOf(), "correct the row")
			return
		}
		line, _ := t.csv.FieldPos(0)
		if len(t.rows) == MaxRows {
			t.bad(line, "", fmt.Sprintf("more than %d rows", MaxRows), "at most that many",
				"check that this is the file you mean")
			return
		}
		if len(row) > t.width {
			t.bad(line, "", fmt.Sprintf("%d cells", len(row)), fmt.Sprintf("%d, as in the header", t.width),
				t.ragged())
			continue
		}
		m := map[string]float64{}
		for i := range t.columns {
			t.cell(line, row, &t.columns[i], m)
		}
		t.rows = append(t.rows, m)
	}
}

// rowsOf is what the rows should be.
func (t *sheet) rowsOf() string {
	if t.csv.Comma != ',' {
		return fmt.Sprintf("rows with %q between cells, as in the header", t.csv.Comma)
	}
	return "comma-separated rows"
}

// ragged is the advice for a row with more cells than the header.
func (t *sheet) ragged() string {
	if t.csv.Comma != ',' {
		return "remove the rest"
	}
	return "remove the rest; a decimal sign is a point"
}

// cell reads the number of one column from a row into m.
func (t *sheet) cell(line int, row []string, k *Column, m map[string]float64) {
	i, ok := t.at[k.Name]
	if !ok {
		return
	}
	cell := ""
	if i < len(row) {
		cell = strings.TrimSpace(row[i])
	}
	x, ok := t.number(cell)
	switch allowed := fmt.Sprintf("%g to %g", k.Lo, k.Hi); {
	case cell == "" && k.Optional:
	case cell == "":
		t.bad(line, k.Name, "nothing", allowed, "complete the row")
	case !ok || x < k.Lo || x > k.Hi:
		t.bad(line, k.Name, strconv.Quote(cell), allowed, "change the value; a decimal point, no unit")
	default:
		m[k.Name] = x
	}
}

// columnsOf finds the known names in a header row and reports the others, and names that come twice.
func columnsOf(head, names []string, bad func(seen, advice string)) map[string]int {
	at := map[string]int{}
	for i, h := range head {
		h = strings.TrimSpace(h)
		known := false
		for _, k := range names {
			known = known || h == k
		}
		_, twice := at[h]
		switch {
		case twice:
			bad(h, "this name comes twice; remove one of the columns")
		case known:
			at[h] = i
		default:
			advice := "rename or remove the column"
			if n := Nearest(h, names); n != "" {
				advice = fmt.Sprintf("did you mean %q?", n)
			}
			bad(h, advice)
		}
	}
	return at
}
