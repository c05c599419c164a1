package strict

import (
	"math"
	"strings"
	"testing"
)

var sheetColumns = []Column{{Name: "a_N", Lo: 0, Hi: 10, Instead: "a_kgf"},
	{Name: "a_kgf", Lo: 0, Hi: 1, Optional: true}, {Name: "b", Lo: 1, Hi: 2},
	{Name: "c", Lo: -1, Hi: 1, Optional: true}}

func TestSheet(t *testing.T) {
	rows, err := Table("x", strings.NewReader("\xef\xbb\xbf# remark\nb, a_kgf,c\n1,0.5,\n2,1,-1\n"), sheetColumns)
	if err != nil || len(rows) != 2 || rows[0]["a_kgf"] != 0.5 || rows[1]["c"] != -1 || rows[1]["b"] != 2 {
		t.Errorf("%v %v", rows, err)
	}
	if _, there := rows[0]["c"]; there {
		t.Error("an empty optional cell is not a number")
	}
	for _, src := range []string{"b;a_kgf;c\n1,25;0.5;\n", "# a, remark\n\nb\ta_kgf\tc\n1,25\t0,5\t\n",
		"b\tc\ta_kgf\n1,25\t\t0,5\n",
		"b; a_kgf ;c\r\n1,25;,5;\r\n"} {
		rows, err := Table("x", strings.NewReader(src), sheetColumns)
		if err != nil || len(rows) != 1 || rows[0]["b"] != 1.25 || rows[0]["a_kgf"] != 0.5 || len(rows[0]) != 2 {
			t.Errorf("%q: %v %v", src, rows, err)
		}
	}
	for _, x := range []struct{ src, want string }{
		{"a_N;b\n1.000,5;1\n", `"1.000,5"`},
		{"a_N;b\n1;1;2\n", "3 cells"},
		{"a_N;b\n1,2,3;1\n", `"1,2,3"`},
		{"", "no header"},
		{"a_N,a_kgf,b\n", "two columns for one thing"},
		{"b\n1\n", `a_N or a_kgf`},
		{"a_N,d\n1,1\n", "an unknown column"},
		{"a_N\n1\n", "a column of this name"},
		{"a_N,b,b\n1,1,1\n", "comes twice"},
		{"a_N,b\n", "no rows"},
		{"a_N,b\n1\n", "complete the row"},
		{"a_N,b\n1,5,3\n", "3 cells"},
		{"a_N,b\n11,1\n", `"11"`},
		{"a_N,b\nNaN,1\n", `"NaN"`},
		{"a_N,b\n\"1,1\n", "correct the row"},
	} {
		_, err := Table("x.csv", strings.NewReader(x.src), sheetColumns)
		if err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: got %v; want %q in it", x.src, err, x.want)
		}
	}
	_, err = Table("x.csv", strings.NewReader("a_N,b\n11,0\n1,1\nx,1\n"), sheetColumns)
	if err == nil || strings.Count(err.Error(), "x.csv:") != 3 || !strings.Contains(err.Error(), "x.csv:4") {
		t.Errorf("every bad cell is to be named with its line: %v", err)
	}
}

func FuzzSheet(f *testing.F) {
	f.Add("a_N,b\n1,1\n")
	f.Add("a,b\n\"")
	f.Fuzz(func(t *testing.T, s string) {
		rows, err := Table("f", strings.NewReader(s), sheetColumns)
		if err == nil && len(rows) == 0 {
			t.Fatal("neither rows nor an error")
		}
		for _, m := range rows {
			for k, x := range m {
				if math.IsNaN(x) || math.Abs(x) > 10 {
					t.Fatalf("%s: %g", k, x)
				}
			}
		}
	})
}
