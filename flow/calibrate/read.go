package calibrate

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// columns of a file of steady pushes.
var columns = []string{"block_degC", "flow_mm3_s", "force_N", "force_kgf", "u_N"}

// ReadPoints reads steady pushes from CSV with a header: block_degC, flow_mm3_s, force_N or
// force_kgf, and if wanted u_N, the standard uncertainty. Lines that begin with # are remarks. Every bad cell is reported.
func ReadPoints(name string, r io.Reader) ([]Point, error) {
	src, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	c := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(src, []byte("\xef\xbb\xbf"))))
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord = '#', true, -1
	var ps strict.Problems
	bad := func(line int, field, seen, allowed, advice string) {
		ps = append(ps, strict.Problem{File: name, Line: line, Field: field, Seen: seen, Allowed: allowed, Advice: advice})
	}
	head, err := c.Read()
	if err != nil {
		return nil, strict.Problems{{File: name, Seen: "no header", Allowed: strings.Join(columns, ", "), Advice: "name the columns in the first row"}}
	}
	at := map[string]int{}
	for i, h := range head {
		h = strings.TrimSpace(h)
		known := false
		for _, k := range columns {
			if h == k {
				at[k], known = i, true
			}
		}
		if !known {
			advice := "rename or remove the column"
			if n := strict.Nearest(h, columns); n != "" {
				advice = fmt.Sprintf("did you mean %q?", n)
			}
			bad(1, strconv.Quote(h), "an unknown column", strings.Join(columns, ", "), advice)
		}
	}
	_, n := at["force_N"]
	_, kgf := at["force_kgf"]
	if n == kgf {
		bad(1, "force_N", map[bool]string{true: "two force columns", false: "no force column"}[n], "force_N or force_kgf", "give one of them")
	}
	for _, k := range columns[:2] {
		if _, ok := at[k]; !ok {
			bad(1, k, "nothing", "a column of this name", "add it")
		}
	}
	if len(ps) > 0 {
		return nil, ps
	}
	limits := map[string][2]float64{"block_degC": {20, 500}, "flow_mm3_s": {0.01, 1000}, "force_N": {0.1, 5000}, "force_kgf": {0.01, 500}, "u_N": {0.001, 1000}}
	var out []Point
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
		before := len(ps)
		get := func(k string) float64 {
			i, ok := at[k]
			if !ok || k == "u_N" && (i >= len(row) || strings.TrimSpace(row[i]) == "") {
				return 0
			}
			l := limits[k]
			if i >= len(row) {
				bad(line, k, "nothing", fmt.Sprintf("%g to %g", l[0], l[1]), "complete the row")
				return 0
			}
			x, err := strconv.ParseFloat(strings.TrimSpace(row[i]), 64)
			if err != nil || math.IsNaN(x) || x < l[0] || x > l[1] {
				bad(line, k, strconv.Quote(row[i]), fmt.Sprintf("%g to %g", l[0], l[1]), "change the value; a decimal point, no unit")
				return 0
			}
			return x
		}
		p := Point{Block: unit.Kelvin(get("block_degC")), Flow: get("flow_mm3_s") * unit.MM3, U: get("u_N")}
		if n {
			p.Force = get("force_N")
		} else {
			p.Force = get("force_kgf") * unit.KGF
		}
		if len(ps) == before {
			out = append(out, p)
		}
	}
	if len(ps) == 0 && len(out) == 0 {
		bad(0, "", "no rows", "at least one steady push", "add measurements")
	}
	return out, ps.Err()
}
