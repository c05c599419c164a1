package unit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRead(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		want       float64
	}{
		{"0.4", "mm", 0.4}, {"0,4", "mm", 0.4}, {"0.4mm", "mm", 0.4}, {" 0,4 mm ", "mm", 0.4}, {"400 um", "mm", 0.4},
		{"2.5 cm", "mm", 25}, {"1 in", "mm", 25.4},
		{"215 C", "degC", 215}, {"215°C", "degC", 215}, {"419 F", "degC", 215}, {"488.15 K", "degC", 215},
		{"-5", "degC", -5},
		// NIST SP 811
		{"7.5 kgf", "N", 73.549875}, {"7,5kg", "N", 73.549875}, {"750 gf", "N", 7.3549875},
		{"10 lbf", "N", 44.482216152605},
		{"1e2", "N", 100}, {"1.5e1 N", "N", 15}, {"50 N", "kgf", 5.09858106489}, {"0.4 Nm", "N cm", 40},
		{"400 mNm", "N cm", 40}, {"4 kgcm", "N cm", 39.2266}, {"10 oz in", "N cm", 7.06155181423},
		{"150 mm/s", "mm/s", 150}, {"150mm/s", "mm/s", 150}, {"9000 mm/min", "mm/s", 150}, {"0,15 m/s", "mm/s", 150},
		{"18 F", "K", 10}, {"10 K", "K", 10}, {"10", "K", 10},
		{"2 min", "s", 120}, {"60 mm3/min", "mm3/s", 1}, {"3", "", 3}, {"800 mA", "A", 0.8}, {"2 Ω", "ohm", 2},
	} {
		x, err := Read(c.text, c.unit)
		if err != nil || math.Abs(x-c.want) > 1e-9*math.Abs(c.want) {
			t.Errorf("%q in %s is read as %v (%v), want %v", c.text, c.unit, x, err, c.want)
		}
	}
	for _, c := range [][2]string{{"", "mm"}, {"nan", "mm"}, {"inf", "N"}, {"-Inf", "N"}, {"1e999", "N"},
		{"0x10", "mm"}, {"1_000", "N"}, {"1,000.5", "N"}, {"1,2,3", "N"}, {"5 V", "N"}, {"5 mm", ""}, {"mm", "mm"},
		{"0.4m m m", "mm"},
		{"800 MA", "A"}, {"5 Mohm", "ohm"}, {"400 MN m", "N cm"}, {"3 MH", "mH"}, {"5 MS", "s"}} {
		if x, err := Read(c[0], c[1]); err == nil {
			t.Errorf("%q in %s is read as %v", c[0], c[1], x)
		}
	}
}

// Each unit that a number may be wanted in is one that may be written behind it.
func TestOwnUnit(t *testing.T) {
	for u := range names {
		if u == "share" { // a plain number, or per cent
			continue
		}
		if x, err := Read("2 "+u, u); x != 2 || err != nil {
			t.Errorf("2 %s is read as %v (%v)", u, x, err)
		}
	}
}

// Whatever is read is finite; what a number prints as is read back.
func TestReadProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[-+0-9eE.,_xnaif mNkgCKF°]{0,12}`).Draw(t, "text")
		for u := range names {
			if x, err := Read(s, u); err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
				t.Fatalf("%q in %s is %v", s, u, x)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("0,4 mm", "mm")
	f.Add("7.5kgf", "N")
	f.Fuzz(func(t *testing.T, s, u string) {
		if x, err := Read(s, u); err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
			t.Fatal(x)
		}
	})
}
