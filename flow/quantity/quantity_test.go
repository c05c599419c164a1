package quantity

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestConversions(t *testing.T) {
	for _, c := range []struct {
		name string
		si   float64
		edge float64
		text string
		page string
	}{
		{"push", 34.2, 34.2, "34.20 N", "34.20 N"},
		{"block", 488.15, 215, "215.0 degC", "215.0 °C"},
		{"usable_flow", 24.04e-9, 24.04, "24.0 mm3/s", "24.0 mm³/s"},
		{"pressure", 7.8423e6, 7.8423, "7.842 MPa", "7.842 MPa"},
		{"target_flow", 10e-9, 10, "10 mm3/s", "10 mm³/s"},
		{"share", 0.366, 0.366, "36.6 %", "36.6 %"},
		{"share", 0.0002, 0.0002, "< 0.1 %", "< 0.1 %"},
		{"gain", 1.5e-9, 1.5, "+1.50 mm3/s", "+1.50 mm³/s"},
		{"duration", 90, 1.5, "2 min", "2 min"},
		{"mass", 0.172, 172, "172.0 g", "172.0 g"},
		{"flow_per_100_g", 24e-9 / 0.172, 24 / 1.72, "14.0 mm3/s", "14.0 mm³/s"},
		{"force_per_100_g", 60 / 0.172, 60 / 1.72, "34.9 N", "34.9 N"},
		{"slope", 4.2e9, 4.2, "4.2 K per mm3/s", "4.2 K per mm³/s"},
		{"drift", 0.01, 0.6, "0.60 N/min", "0.60 N/min"},
		{"core_radius", 4e-4, 0.4, "0.400 mm", "0.400 mm"},
		{"shot", 1.2e-6, 1200, "1200 mm3", "1200 mm³"},
	} {
		q := Of(c.name)
		if got := q.Unit.Edge(c.si); math.Abs(got-c.edge) > 1e-9*math.Abs(c.edge) {
			t.Errorf("%s: %g, want %g", c.name, got, c.edge)
		}
		if got := q.Unit.SI(c.edge); math.Abs(got-c.si) > 1e-9*math.Abs(c.si) {
			t.Errorf("%s back: %g, want %g", c.name, got, c.si)
		}
		if q.Text(c.si) != c.text || q.Page(c.si) != c.page {
			t.Errorf("%s: %q and %q, want %q and %q", c.name, q.Text(c.si), q.Page(c.si), c.text, c.page)
		}
	}
}

// One kilogram-force is 9.80665 N; 10 mm3/s of 1.75 mm filament is 4.158 mm/s.
func TestSecondUnits(t *testing.T) {
	if got := Both("push", 98.0665, 0); got != "98.07 N (10.00 kgf)" {
		t.Error(got)
	}
	area := math.Pi * 1.75e-3 * 1.75e-3 / 4
	s, ok := Of("flow").Second(area)
	if got := s.Unit.Edge(10e-9); !ok || math.Abs(got-10/2.405281875) > 1e-6 {
		t.Errorf("%g mm/s, %v", got, ok)
	}
	if _, ok := Of("flow").Second(0); ok {
		t.Error("a speed without a filament")
	}
}

func TestUnknownIsNullAndADash(t *testing.T) {
	type result struct {
		A *float64 `q:"push"`
		B float64  `q:"block"`
		C float64  `q:"pressure"`
	}
	b, err := JSON(result{B: math.NaN(), C: math.Inf(1)})
	if err != nil || string(b) != `{"push_N":null,"block_degC":null,"pressure_MPa":null}` {
		t.Errorf("%s, %v", b, err)
	}
	if got := Of("push").Text(math.NaN()); got != "–" {
		t.Error(got)
	}
}

// What is written is read back, units and all.
func TestJSONReadsBack(t *testing.T) {
	type part struct {
		Low  float64 `json:"low"`
		High float64 `json:"high"`
	}
	type head struct {
		Name string `json:"name"`
	}
	type result struct {
		Head  head        `json:"head"`
		Block float64     `q:"block"`
		Range part        `q:"usable_flow"`
		List  []float64   `q:"pressure"`
		Cells [][]float64 `q:"cell"`
		Maybe *float64    `q:"push"`
		Limit string      `q:"limit"`
		Held  bool        `q:"target_held"`
		N     int         `q:"run"`
	}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-12, 1e6)
		a := result{Head: head{"<&>"}, Block: x.Draw(t, "block"), Range: part{x.Draw(t, "low"), x.Draw(t, "high")},
			List: []float64{x.Draw(t, "p")}, Cells: [][]float64{{x.Draw(t, "T")}},
			Limit: "grip", Held: true, N: 3}
		if rapid.Bool().Draw(t, "known") {
			a.Maybe = Known(x.Draw(t, "push"))
		}
		text, err := JSON(a)
		if err != nil {
			t.Fatal(err)
		}
		var b result
		if err := Decode(text, &b); err != nil {
			t.Fatal(err)
		}
		near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(math.Abs(a), 1) }
		if !near(a.Block, b.Block) || !near(a.Range.High, b.Range.High) || !near(a.List[0], b.List[0]) ||
			!near(a.Cells[0][0], b.Cells[0][0]) || (a.Maybe == nil) != (b.Maybe == nil) {
			t.Fatalf("%+v became %+v by %s", a, b, text)
		}
		a.Block, a.Range, a.List, a.Cells, a.Maybe = b.Block, b.Range, b.List, b.Cells, b.Maybe
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("%+v became %+v", a, b)
		}
	})
}

func TestTableIsWellFormed(t *testing.T) {
	keys := map[string]string{}
	for _, q := range All() {
		if strings.ToLower(q.Name) != q.Name || strings.ContainsAny(q.Name, " -") {
			t.Errorf("%q: names are lower case with underscores", q.Name)
		}
		if other := keys[q.Key()]; other != "" {
			t.Errorf("%s and %s share the key %s", other, q.Name, q.Key())
		}
		keys[q.Key()] = q.Name
	}
}

// A share too small for its last digit says so, by the digits that it has.
func TestSmallShares(t *testing.T) {
	for _, c := range []struct {
		name string
		x    float64
		want string
	}{{"share", 0.0004, "< 0.1"}, {"share", -0.0004, "> -0.1"}, {"share", 0.0006, "0.1"}, {"margin", 0.004, "< 1"},
		{"nonlinearity_of_span", 0.00013, "0.013"}, {"nonlinearity_of_span", -0.000004, "> -0.001"}, {"share", 0,
			"0.0"}, {"margin_at_usable_flow", -0.0004, "0.0"}, {"margin_at_usable_flow", -0.0006, "-0.1"}} {
		if got := Of(c.name).Number(c.x); got != c.want {
			t.Errorf("%s of %g: %q, want %q", c.name, c.x, got, c.want)
		}
	}
}
