package cli

import (
	"math"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func TestBounds(t *testing.T) {
	for _, c := range []struct {
		b    bound
		text string
		want float64
		ok   bool
	}{
		{bound{lo: 1, hi: 5, unit: "mm"}, "1,75", 1.75, true}, {bound{lo: 1, hi: 5, unit: "mm"}, "1.75mm", 1.75, true},
		{bound{lo: 1, hi: 5, unit: "mm"}, "0", 0, false},
		{bound{lo: 0.1, hi: 5000, unit: "mm/s"}, "150 mm/s", 150, true},
		{bound{lo: 0.1, hi: 5000, unit: "mm/s"}, "9000mm/min", 150, true},
		{bound{lo: 16, hi: 100, zero: true, whole: true}, "0", 0, true},
		{bound{lo: 16, hi: 100, zero: true, whole: true}, "16.5", 0, false},
		{bound{lo: 16, hi: 100, zero: true, whole: true}, "3", 0, false},
		{bound{lo: 1e-9, hi: 1, either: true}, "-0.5", -0.5, true},
		{bound{lo: 1e-9, hi: 1, either: true}, "0", 0, false}, {bound{lo: 1e-9, hi: 1, either: true}, "-2", 0, false},
	} {
		x, err := c.b.read(c.text)
		if (err == nil) != c.ok || c.ok && x != c.want {
			t.Errorf("%q in %s is read as %g, %v", c.text, c.b, x, err)
		}
	}
}

func TestLists(t *testing.T) {
	b := bound{lo: 0, hi: 1000}
	for text, want := range map[string][]float64{"5,20": {5, 20}, "0,4;0,6": {0.4, 0.6},
		"200:240:10": {200, 210, 220, 230, 240}, "1, 2 ,3": {1, 2, 3}, "0.4;0.6": {0.4, 0.6},
		"0:1:0.1": {0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1}} {
		x, err := b.list(text)
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
		if x, err := b.list(text); err == nil {
			t.Errorf("%q is read as %v", text, x)
		}
	}
}

func TestRangesOfTemperature(t *testing.T) {
	b := bound{lo: 20, hi: 500, unit: "degC"}
	x, err := b.list("392F:464F:18F") // 200 to 240 degC
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
		if x, err := b.list(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, %v; want %q", text, x, err, want)
		}
	}
}

// Every flag that takes numbers refuses what is no sensible number, before anything is read or computed, and says its
// bounds.
func TestEveryNumberFlagRefusesNonsense(t *testing.T) {
	absurd := []string{"nan", "NaN", "inf", "-inf", "Inf", "1e300", "-1e300", "0x10", "1_0", "", "x", "1e999"}
	flags := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			switch f.Value.Type() {
			case "float64", "float32", "int", "int64":
				t.Errorf("%s --%s takes numbers without bounds", c.CommandPath(), f.Name)
			case "number", "list":
				if _, words := f.Value.(*choices); words {
					return
				}
				flags++
				was := f.Value.String()
				for _, s := range absurd {
					if err := f.Value.Set(s); err == nil {
						t.Errorf("%s --%s takes %q", c.CommandPath(), f.Name, s)
					}
				}
				if f.Value.String() != was {
					t.Errorf("%s --%s: a refused value changed it to %s", c.CommandPath(), f.Name, f.Value)
				}
			}
		})
	}
	walk(newRoot())
	if flags < 25 {
		t.Errorf("only %d flags found", flags)
	}
}

func FuzzList(f *testing.F) {
	f.Add("0,4;0,6", "mm")
	f.Add("200:240:10", "degC")
	f.Fuzz(func(t *testing.T, s, u string) {
		x, err := bound{lo: -50, hi: 1000, unit: u}.list(s)
		if err == nil && len(x) == 0 || len(x) > maxListed {
			t.Fatalf("%d numbers", len(x))
		}
		for _, x := range x {
			if !(x >= -50 && x <= 1000+1e-6) {
				t.Fatal(x)
			}
		}
	})
}
