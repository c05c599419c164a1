package strict

import (
	"strings"
	"testing"
)

type sample struct {
	Name string    `toml:"name" need:"yes"`
	Kind string    `toml:"kind" enum:"red green blue"`
	X    float64   `toml:"x_mm" min:"1" max:"5" unit:"mm"`
	H    float64   `toml:"h" above:"0" inf:"yes"`
	N    int       `toml:"n" min:"0"`
	Pair []float64 `toml:"pair" len:"2"`
	On   bool      `toml:"on"`
	Sub  *struct {
		Y float64 `toml:"y" need:"yes"`
	} `toml:"sub"`
	List []struct {
		Z float64 `toml:"z_N"`
	} `toml:"list"`
	Text map[string]string `toml:"text"`
}

func TestDecode(t *testing.T) {
	s := sample{X: 2}
	doc, ps := Decode("f", []byte("name = \"a\"\nh = inf\npair = [1, 2]\n[[list]]\nz_N = 1\n[[list]]\nz_N = "+
		"2\n[sub]\ny = 3\n"), &s)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if s.X != 2 || s.Sub.Y != 3 || len(s.List) != 2 {
		t.Errorf("%+v", s)
	}
	for path, line := range map[string]int{"name": 1, "pair": 3, "list[1].z_N": 5, "list[2].z_N": 7, "sub": 8,
		"sub.y": 9, "sub.absent": 8} {
		if got := doc.Line(path); got != line {
			t.Errorf("%s on line %d, want %d", path, got, line)
		}
	}
}

func TestEveryProblemIsFoundInOneRun(t *testing.T) {
	var s sample
	_, ps := Decode("f", []byte("kind = \"gren\"\nx_m = 3\nh = 0\nn = 1.5\npair = [1]\non = \"yes\"\nlist = 3\ntext "+
		"= { a = 1 }\nsub = { y = \"no\" }\n"), &s)
	want := []string{`did you mean "green"`, `did you mean "x_mm"`, "or inf", "whole number", "exactly 2",
		"true or false", "array of tables", "a text in quotes", "a number", "name"}
	all := ps.Error()
	for _, w := range want {
		if !strings.Contains(all, w) {
			t.Errorf("nothing about %q in\n%s", w, all)
		}
	}
}

// A decimal comma is named, with the number as it is to be written, on every line that has one.
func TestDecimalCommas(t *testing.T) {
	var s sample
	_, ps := Decode("f", []byte("name = \"a\"\nx_mm = 1,75 # of the filament\r\npair = [1, 2]\nh = -2,5e3\n"), &s)
	if len(ps) != 2 || ps[0].Line != 2 || ps[1].Line != 4 || ps[0].Field != "x_mm" ||
		!strings.Contains(ps[0].Error(), "decimal point; write 1.75") ||
		!strings.Contains(ps[1].Error(), "write -2.5e3") {
		t.Error(ps)
	}
	if _, ps = Decode("f", []byte("x_mm = 1,7,5\nname =\n"), &s); strings.Contains(ps.Error(), "decimal") {
		t.Error(ps)
	}
}

func TestNearest(t *testing.T) {
	for in, want := range map[string]string{"lenght_mm": "length_mm", "length": "length_mm", "length_cm": "length_mm",
		"xyz": ""} {
		if got := Nearest(in, []string{"length_mm", "diameter_mm"}); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte("name = \"a\"\n[[list]]\nz_N = 1\n"))
	f.Add([]byte("sub = { y = [1, { a = 2 }] }"))
	f.Fuzz(func(t *testing.T, src []byte) {
		var s sample
		doc, ps := Decode("f", src, &s)
		for _, p := range ps {
			if p.Error() == "" {
				t.Fatal("empty message")
			}
		}
		doc.Line("a.b[3].c")
	})
}
