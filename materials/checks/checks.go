// Package checks gives tests the external check values of testdata/checks.json:
// numbers from published formulas and tables, each with its source. Only tests import it.
package checks

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// Case is one entry of the collection.
type Case struct {
	ID       string              `json:"id"`
	Topic    string              `json:"topic"`
	Kind     string              `json:"kind"`
	Title    string              `json:"title"`
	Inputs   map[string]quantity `json:"inputs"`
	Expected map[string]quantity `json:"expected"`
	Tol      struct {
		Rel float64 `json:"rel"`
	} `json:"tolerance"`
	Source string `json:"source"`

	t    testing.TB
	left map[string]bool
}

type quantity struct {
	Value json.RawMessage `json:"value"`
	Unit  string          `json:"unit"`
}

// Root returns the path of a file of the project.
func Root(elem ...string) string {
	_, file, _, _ := runtime.Caller(0)
	return filepath.Join(append([]string{filepath.Dir(file), "..", ".."}, elem...)...)
}

// All returns every entry.
func All() ([]Case, error) {
	b, err := os.ReadFile(Root("testdata", "checks.json"))
	if err != nil {
		return nil, err
	}
	var f struct {
		Checks []Case `json:"checks"`
	}
	err = json.Unmarshal(b, &f)
	return f.Checks, err
}

// Each runs f on every entry of a kind as a subtest named by its id. At the end of
// each, every expected number must have been compared.
func Each(t *testing.T, kind string, f func(c *Case)) {
	t.Helper()
	all, err := All()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i := range all {
		c := &all[i]
		if c.Kind != kind {
			continue
		}
		n++
		t.Run(c.ID, func(t *testing.T) {
			c.t = t
			c.left = map[string]bool{}
			for k := range c.Expected {
				c.left[k] = true
			}
			f(c)
			for k := range c.left {
				t.Errorf("expected %s was not compared (source: %s)", k, c.Source)
			}
		})
	}
	if n == 0 {
		t.Fatalf("no check of kind %q", kind)
	}
}

// In returns an input number.
func (c *Case) In(name string) float64 {
	q, ok := c.Inputs[name]
	if !ok {
		c.t.Fatalf("no input %q; there are %s", name, keys(c.Inputs))
	}
	return c.number(q.Value, name)
}

// Has tells whether there is such an input.
func (c *Case) Has(name string) bool { _, ok := c.Inputs[name]; return ok }

// List returns an input array.
func (c *Case) List(name string) []float64 {
	var x []float64
	if err := json.Unmarshal(c.Inputs[name].Value, &x); err != nil {
		c.t.Fatalf("input %s: %v", name, err)
	}
	return x
}

// Text returns an input text.
func (c *Case) Text(name string) string {
	var s string
	if err := json.Unmarshal(c.Inputs[name].Value, &s); err != nil {
		c.t.Fatalf("input %s: %v", name, err)
	}
	return s
}

func (c *Case) number(raw json.RawMessage, name string) float64 {
	var x float64
	if err := json.Unmarshal(raw, &x); err != nil {
		c.t.Fatalf("%s: %v in %s", name, err, raw)
	}
	return x
}

// Want compares a number with the expected one at the entry's tolerance, or
// at the looser one given.
func (c *Case) Want(name string, got float64, rel ...float64) {
	c.t.Helper()
	q, ok := c.Expected[name]
	if !ok {
		c.t.Fatalf("nothing expected under %q; there are %s", name, keys(c.Expected))
	}
	delete(c.left, name)
	c.compare(name, got, c.number(q.Value, name), c.tol(rel))
}

// WantList compares an array.
func (c *Case) WantList(name string, got []float64, rel ...float64) {
	c.t.Helper()
	var want []float64
	if err := json.Unmarshal(c.Expected[name].Value, &want); err != nil {
		c.t.Fatalf("expected %s: %v", name, err)
	}
	delete(c.left, name)
	if len(got) < len(want) {
		c.t.Fatalf("%s: %d values, want %d", name, len(got), len(want))
	}
	for i, w := range want {
		c.compare(fmt.Sprintf("%s[%d]", name, i), got[i], w, c.tol(rel))
	}
}

// Skip notes that an expected number is another form of one compared already.
func (c *Case) Skip(names ...string) {
	for _, n := range names {
		delete(c.left, n)
	}
}

func (c *Case) tol(rel []float64) float64 {
	if len(rel) > 0 {
		return rel[0]
	}
	if c.Tol.Rel > 0 {
		return c.Tol.Rel
	}
	return 1e-9
}

func (c *Case) compare(name string, got, want, rel float64) {
	c.t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)+1e-300) && !(want == 0 && math.Abs(got) < rel) {
		c.t.Errorf("%s %s: got %.12g, want %.12g (off by %.2g, allowed %.2g); source: %s", c.ID, name, got, want,
			got/want-1, rel, c.Source)
	}
}

// Near tells a number that is not the one wanted, within a share of it.
func Near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

func keys(m map[string]quantity) string {
	var k []string
	for n := range m {
		k = append(k, n)
	}
	return strings.Join(k, ", ")
}

// Number returns an expected number and counts it as compared.
func (c *Case) Number(name string) float64 {
	delete(c.left, name)
	return c.number(c.Expected[name].Value, name)
}

// Numbers returns an expected array and counts it as compared.
func (c *Case) Numbers(name string) []float64 {
	var x []float64
	if err := json.Unmarshal(c.Expected[name].Value, &x); err != nil {
		c.t.Fatalf("expected %s: %v", name, err)
	}
	delete(c.left, name)
	return x
}
