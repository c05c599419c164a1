package report

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/study"
)

func result(t testing.TB) *study.Result {
	c := casefile.Invented()
	r, err := study.Run(&c.Setup, study.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r.From(c)
	return r
}

func TestTablesAreRectangularAndReadBack(t *testing.T) {
	for _, tab := range Assess(result(t)).Tables() {
		var b bytes.Buffer
		if err := CSV(&b, tab); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Errorf("%s: %v", tab.ID, err)
		}
		if len(rows) != len(tab.Rows)+1 {
			t.Errorf("%s: %d rows read of %d", tab.ID, len(rows), len(tab.Rows)+1)
		}
		for _, r := range tab.Rows {
			for _, c := range r {
				if strings.Contains(c.Text, "NaN") || strings.Contains(c.Text, "Inf") {
					t.Errorf("%s: cell %q", tab.ID, c)
				}
			}
		}
	}
}

func TestHTMLEscapesTheUsersText(t *testing.T) {
	r := result(t)
	r.Title = `<script>alert(1)</script>`
	r.Sections[0].Name = `</script><img src=x onerror=alert(2)>`
	r.Inputs[0].Value = `"><svg onload=alert(3)>`
	var b bytes.Buffer
	if err := Assess(r).HTML(&b); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"<script>alert(1)", "<img src=x", "<svg onload"} {
		if strings.Contains(b.String(), bad) {
			t.Errorf("the page contains %q", bad)
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		x    float64
		d    int
		want string
	}{{0, 3, "0"}, {12.345, 3, "12.3"}, {0.00123456, 3, "0.00123"}, {1234.5, 3, "1234"}, {1.5e-5, 3, "1.5e-05"}} {
		if got := quantity.Significant(c.x, c.d); got != c.want {
			t.Errorf("%g: %q, want %q", c.x, got, c.want)
		}
	}
	if got := quantity.Text("share", 0.0001); got != "< 0.1 %" {
		t.Error(got)
	}
}

func BenchmarkHTML(b *testing.B) {
	r := result(b)
	for b.Loop() {
		if err := Assess(r).HTML(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
