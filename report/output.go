package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"meltload/flow/quantity"
)

// JSON writes the whole result by the table of quantities: unrounded, in the units of the bench, null where not known.
func JSON(w io.Writer, r any) error {
	text, err := quantity.JSON(r)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, text, "", "  "); err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err = b.WriteTo(w)
	return err
}

// CSV writes one table (RFC 4180, decimal point): one header row of names with units, numbers unrounded, nothing where
// a value is not known. A text that a spreadsheet could take for a formula is led by an apostrophe.
func CSV(w io.Writer, t Table) error {
	c := csv.NewWriter(w)
	record := make([]string, len(t.Columns))
	for j, x := range t.Columns {
		record[j] = x.Key
	}
	if err := c.Write(record); err != nil {
		return err
	}
	for _, row := range t.Rows {
		for j, x := range row {
			record[j] = plainValue(x.Value)
		}
		if err := c.Write(record); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// plainValue is a value as a file has it.
func plainValue(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case string:
		if x == "" || !strings.ContainsRune("=+-@\t\r", rune(x[0])) {
			return x
		}
		if _, err := strconv.ParseFloat(x, 64); err == nil {
			return x
		}
		return "'" + x
	}
	return fmt.Sprint(v)
}

// Texts is a table of words with the headings given.
func Texts(id, title string, heads ...string) Table {
	t := Table{ID: id, Title: title}
	for _, h := range heads {
		t.Columns = append(t.Columns, Column{Key: strings.ReplaceAll(h, " ", "_"), Head: h})
	}
	return t
}

// Row appends a row of words.
func (t *Table) Row(cells ...string) {
	var row []Cell
	for _, c := range cells {
		row = append(row, words(c))
	}
	t.Rows = append(t.Rows, row)
}

// TextTable writes a table in aligned columns, wide columns left out.
func TextTable(w io.Writer, t Table) {
	fmt.Fprintf(w, "%s\n", t.Title)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	line := func(text func(j int) string) {
		var parts []string
		for j, c := range t.Columns {
			if !c.Wide {
				parts = append(parts, text(j))
			}
		}
		fmt.Fprintf(tw, "  %s\n", strings.Join(parts, "\t"))
	}
	line(func(j int) string { return t.Columns[j].Head })
	for _, r := range t.Rows {
		line(func(j int) string { return r[j].Text })
	}
	tw.Flush()
}

// Wrap breaks a text at a width; the first line starts with mark, the others are indented to match.
func Wrap(s string, width int, mark string) string {
	var b strings.Builder
	b.WriteString(mark)
	col := len(mark)
	for i, f := range strings.Fields(s) {
		if i > 0 {
			if col+1+len(f) > width {
				b.WriteString("\n" + strings.Repeat(" ", len(mark)))
				col = len(mark)
			} else {
				b.WriteByte(' ')
				col++
			}
		}
		b.WriteString(f)
		col += len(f)
	}
	return b.String()
}
