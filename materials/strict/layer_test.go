package strict

import "testing"

// What stands where, when one document lies over another.
func TestLayers(t *testing.T) {
	type point struct {
		A float64 `toml:"a"`
		B float64 `toml:"b"`
	}
	type table struct {
		N string  `toml:"n"`
		P []point `toml:"p"`
		X float64 `toml:"x"`
	}
	type file struct {
		F table `toml:"f"`
		G table `toml:"g"`
	}
	var v file
	over, ps := Decode("over", []byte("[f]\nn = \"o\"\n[[g.p]]\na = 1\n"), &v)
	base, qs := Decode("base", []byte("# base\n[f]\nn = \"b\"\nx = 3\n[[f.p]]\na = 1\n[[g.p]]\na = 1\n[[g.p]]\nb = "+
		"1\n"), &v)
	if len(ps)+len(qs) > 0 {
		t.Fatal(ps, qs)
	}
	d := over.Over(base)
	for _, c := range []struct {
		path, file string
		line       int
		has        bool
	}{
		{"f.n", "over", 2, true},
		{"f.x", "base", 4, true},
		{"f.p[1].a", "base", 6, true},
		{"f.p[1].b", "base", 5, false}, // the nearest parent is the base's
		{"f.y", "over", 1, false},
		{"g.p[1].a", "over", 4, true},
		{"g.p[2].b", "over", 3, false}, // the array of the upper one hides the lower
	} {
		p := d.Problem(c.path, "", "", "")
		if p.File != c.file || p.Line != c.line || d.Has(c.path) != c.has {
			t.Errorf("%s: %s:%d, has %v; want %s:%d, %v", c.path, p.File, p.Line, d.Has(c.path), c.file, c.line, c.has)
		}
	}
	if x := d.Only("f"); x.Has("g.p[1].a") || !x.Has("f.x") || !x.Has("f.n") {
		t.Error("Only")
	}
	if x := d.Without("f"); !x.Has("g.p[1].a") || x.Has("f.x") || x.Has("f.n") || x.Holds("f") || !x.Holds("g") {
		t.Error("Without")
	}
	if over.Has("f.x") || base.Problem("f.n", "", "", "").File != "base" {
		t.Error("laying one over the other changed them")
	}
}
