package unit

import (
	"math"
	"strings"
	"testing"
)

func TestBounds(t *testing.T) {
	for _, c := range []struct {
		b    Bound
		text string
		want float64
		ok   bool
	}{
		{Bound{Lo: 1, Hi: 5, Unit: "mm"}, "1,75", 1.75, true}, {Bound{Lo: 1, Hi: 5, Unit: "mm"}, "1.75mm", 1.75, true},
		{Bound{Lo: 1, Hi: 5, Unit: "mm"}, "0", 0, false},
		{Bound{Lo: 0.1, Hi: 5000, Unit: "mm/s"}, "150 mm/s", 150, true},
		{Bound{Lo: 0.1, Hi: 5000, Unit: "mm/s"}, "9000mm/min", 150, true},
		{Bound{Lo: 16, Hi: 100, Zero: true, Whole: true}, "0", 0, true},
		{Bound{Lo: 16, Hi: 100, Zero: true, Whole: true}, "16.5", 0, false},
		{Bound{Lo: 16, Hi: 100, Zero: true, Whole: true}, "3", 0, false},
		{Bound{Lo: 1e-9, Hi: 1, Either: true}, "-0.5", -0.5, true},
		{Bound{Lo: 1e-9, Hi: 1, Either: true}, "0", 0, false}, {Bound{Lo: 1e-9, Hi: 1, Either: true}, "-2", 0, false},
	} {
		x, err := c.b.Read(c.text)
		if (err == nil) != c.ok || c.ok && x != c.want {
			t.Errorf("%q in %s is read as %g, %v", c.text, c.b, x, err)
		}
	}
}

func TestLists(t *testing.T) {
	b := Bound{Lo: 0, Hi: 1000}
	for text, want := range map[string][]float64{"5,20": {5, 20}, "0,4;0,6": {0.4, 0.6},
		"200:240:10": {200, 210, 220, 230, 240}, "1, 2 ,3": {1, 2, 3}, "0.4;0.6": {0.4, 0.6},
		"0:1:0.1": {0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1}} {
		x, err := b.List(text)
		same := err == nil && len(x) == len(want)
		for i := range want {
			same = same && math.Abs(x[i]-want[i]) < 1e-12
		}
		if !same {
			t.Errorf("%q is read as %v, %v", text, x, err)
		}
	}
	for _, text := range []string{"", ",", "1,", "5,x", "1:2", "2:1:1", "0:1000:1e-9", "1:2:0",
		"200:245:10", "1:1.05:0.1", "1:2:nan",
		"inf", "1e9",
		"0:1:2:3", strings.Repeat("1,", 300) + "1"} {
		if x, err := b.List(text); err == nil {
			t.Errorf("%q is read as %v", text, x)
		}
	}
}

func TestRangesOfTemperature(t *testing.T) {
	b := Bound{Lo: 20, Hi: 500, Unit: "degC"}
	x, err := b.List("392F:464F:18F") // 200 to 240 degC
	if err != nil || len(x) != 5 || math.Abs(x[0]-200) > 1e-9 || math.Abs(x[4]-240) > 1e-9 {
		t.Error(x, err)
	}
	for text, want := range map[string]string{
		"240:200:10":  "from must not be above to: 200:240:10",
		"392:464:18F": "the unit with each of the three numbers",
		"200:240:0":   "the step must be a number above 0 K",
		"200:240:x":   "the unit with each",
		"200:240:-":   "above 0 K",
		"200:900:10":  "allowed are 20 to 500 degC",
		"200:240":     "from:to:step",
	} {
		if x, err := b.List(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, %v; want %q", text, x, err, want)
		}
	}
}

// FuzzList: whatever is typed for a list of numbers, what is read lies within its bounds.
func FuzzList(f *testing.F) {
	f.Add("0,4;0,6", "mm")
	f.Add("200:240:10", "degC")
	f.Fuzz(func(t *testing.T, s, u string) {
		x, err := Bound{Lo: -50, Hi: 1000, Unit: u}.List(s)
		if err == nil && len(x) == 0 || len(x) > MaxListed {
			t.Fatalf("%d numbers", len(x))
		}
		for _, x := range x {
			if !(x >= -50 && x <= 1000+1e-6) {
				t.Fatal(x)
			}
		}
	})
}

// What a change of units rounds is within; what is beyond by more is not.
func TestWithin(t *testing.T) {
	for _, x := range []struct {
		x, lo, hi float64
		want      bool
	}{
		{1000 * MM3, 1e-12, 1e-6, true}, {0.001 * MM3, 1e-12, 1e-6, true}, {Kelvin(-20), 253.15, 800, true},
		{1.00001e-6, 1e-12, 1e-6, false}, {0.99999e-12, 1e-12, 1e-6, false}, {0, 0, 5, true}, {-1e-9, 0, 5, false},
		{-2.00001, -2, 5, false}, {math.NaN(), 0, 5, false}, {math.Inf(1), 0, 5, false}, {math.Inf(1), 0, math.Inf(1),
			true}, {-2 - 1e-15, -2, 5, true},
	} {
		if got := Within(x.x, x.lo, x.hi); got != x.want {
			t.Errorf("%g from %g to %g: %t", x.x, x.lo, x.hi, got)
		}
	}
}
