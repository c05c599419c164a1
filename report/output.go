package report

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
)

// WriteFile writes a file through a temporary one beside it, renamed when whole: what
// was there before survives any failure.
func WriteFile(name string, f func(w io.Writer) error) (err error) {
	t, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			t.Close()
			os.Remove(t.Name())
		}
	}()
	if err = f(t); err != nil {
		return err
	}
	if err = t.Chmod(0o644); err != nil {
		return err
	}
	if err = t.Sync(); err != nil { // a full disk may show only now
		return err
	}
	if err = t.Close(); err != nil {
		return err
	}
	return os.Rename(t.Name(), name)
}

// JSON writes the whole result.
func JSON(w io.Writer, r any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(r)
}

// CSV writes one table (RFC 4180, decimal point, header row).
func CSV(w io.Writer, t Table) error {
	c := csv.NewWriter(w)
	if err := c.Write(t.Columns); err != nil {
		return err
	}
	if err := c.WriteAll(t.Rows); err != nil {
		return err
	}
	return c.Error()
}

// CSVFolder writes every table to a folder, one file each, and returns their names.
func CSVFolder(dir string, tables []Table) ([]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	var names []string
	for _, t := range tables {
		name := filepath.Join(dir, t.ID+".csv")
		if err := WriteFile(name, func(w io.Writer) error { return CSV(w, t) }); err != nil {
			return names, err
		}
		names = append(names, name)
	}
	return names, nil
}

// drop removes a column.
func drop(t Table, name string) Table {
	for j, c := range t.Columns {
		if c != name {
			continue
		}
		cut := func(s []string) []string { return append(append([]string(nil), s[:j]...), s[j+1:]...) }
		t.Columns = cut(t.Columns)
		t.Numeric = append(append([]bool(nil), t.Numeric[:j]...), t.Numeric[j+1:]...)
		rows := make([][]string, len(t.Rows))
		for i, r := range t.Rows {
			rows[i] = cut(r)
		}
		t.Rows = rows
	}
	return t
}

// TextTable writes a table in aligned columns.
func TextTable(w io.Writer, t Table) {
	fmt.Fprintf(w, "%s\n", t.Title)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(tw, "  %s\n", strings.Join(t.Columns, "\t"))
	for _, r := range t.Rows {
		fmt.Fprintf(tw, "  %s\n", strings.Join(r, "\t"))
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
