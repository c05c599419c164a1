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

// Table reads CSV with a header row that names the columns. Rows map a column to its number; an empty
// optional cell is not in the map. Lines that begin with # are remarks. Every bad cell is reported.
func Table(file string, r io.Reader, columns []Column) ([]map[string]float64, error) {
	src, err := readAll(file, r, MaxTable)
	if err != nil {
		return nil, err
	}
	src = Plain(src)
	if why := notText(src); why != "" {
		return nil,
			Problems{{File: file, Seen: why, Allowed: "a table of numbers as text", Advice: "export the table as CSV"}}
	}
	c := csv.NewReader(bytes.NewReader(src))
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord, c.ReuseRecord = '#', true, -1, true
	var ps Problems
	bad := func(line int, field, seen, allowed, advice string) {
		ps = append(ps, Problem{File: file, Line: line, Field: field, Seen: seen, Allowed: allowed, Advice: advice})
	}
	var names []string
	for _, k := range columns {
		names = append(names, k.Name)
	}
	head, err := c.Read()
	if err != nil {
		return nil,
			Problems{{File: file, Seen: "no header", Allowed: strings.Join(names, ", "),
				Advice: "name the columns in the first row"}}
	}
	top, _ := c.FieldPos(0)
	if len(head) > MaxColumns {
		return nil,
			Problems{{File: file, Line: top, Seen: fmt.Sprintf("%d columns", len(head)),
				Allowed: fmt.Sprintf("at most %d", MaxColumns), Advice: "check that this is the file you mean"}}
	}
	width := len(head)
	at := columnsOf(head, names, func(seen, advice string) {
		bad(top, strconv.Quote(seen), "an unknown column", strings.Join(names, ", "), advice)
	})
	for _, k := range columns {
		_, here := at[k.Name]
		_, other := at[k.Instead]
		switch {
		case k.Instead != "" && here && other:
			bad(top, k.Name, "two columns for one thing", k.Name+" or "+k.Instead, "give one of them")
		case k.Instead != "" && !here && !other:
			bad(top, k.Name, "nothing", k.Name+" or "+k.Instead, "add one of them")
		case k.Instead == "" && !k.Optional && !here:
			bad(top, k.Name, "nothing", "a column of this name", "add it")
		}
	}
	if len(ps) > 0 {
		return nil, ps
	}
	var out []map[string]float64
	for {
		row, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			bad(0, "", err.Error(), "comma-separated rows", "correct the row")
			break
		}
		line, _ := c.FieldPos(0)
		if len(out) == MaxRows {
			bad(line, "", fmt.Sprintf("more than %d rows", MaxRows), "at most that many",
				"check that this is the file you mean")
			break
		}
		if len(row) > width {
			bad(line, "", fmt.Sprintf("%d cells", len(row)), fmt.Sprintf("%d, as in the header", width),
				"remove the rest; a decimal sign is a point")
			continue
		}
		m := map[string]float64{}
		for _, k := range columns {
			i, ok := at[k.Name]
			if !ok {
				continue
			}
			cell := ""
			if i < len(row) {
				cell = strings.TrimSpace(row[i])
			}
			x, ok := unit.Number(cell)
			switch allowed := fmt.Sprintf("%g to %g", k.Lo, k.Hi); {
			case cell == "" && k.Optional:
			case cell == "":
				bad(line, k.Name, "nothing", allowed, "complete the row")
			case !ok || x < k.Lo || x > k.Hi:
				bad(line, k.Name, strconv.Quote(cell), allowed, "change the value; a decimal point, no unit")
			default:
				m[k.Name] = x
			}
		}
		out = append(out, m)
	}
	if len(ps) == 0 && len(out) == 0 {
		bad(0, "", "no rows", "at least one row of numbers", "add measurements")
	}
	return out, ps.Err()
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
