package unit

import (
	"math"
	"testing"
)

// What one of each unit is in the unit wanted, by its definition; every spelling that is taken is here (NIST SP 811).
func TestEveryUnitByValue(t *testing.T) {
	const g, lbf = 9.80665, 4.4482216152605
	want := map[string]map[float64][]string{
		"degC":  {1: {"c", "degc", "°c", "celsius"}},
		"mm":    {1: {"mm"}, 10: {"cm"}, 1000: {"m"}, 0.001: {"um", "µm", "μm"}, 25.4: {"in", "inch"}},
		"mm3/s": {1: {"mm3/s", "mm³/s", "mm^3/s"}, 1000: {"cm3/s", "cm³/s"}, 1.0 / 60: {"mm3/min", "mm³/min"}},
		"mm/s":  {1: {"mm/s", "mm/sec"}, 1.0 / 60: {"mm/min"}, 10: {"cm/s"}, 1000: {"m/s"}, 1000.0 / 60: {"m/min"}},
		"N":     {1: {"n"}, 1000: {"kn"}, g: {"kgf", "kg"}, g / 1000: {"gf", "g"}, lbf: {"lbf", "lb"}},
		"kgf":   {1: {"kgf", "kg"}, 0.001: {"gf", "g"}, 1 / g: {"n"}},
		"s":     {1: {"s", "sec"}, 0.001: {"ms"}, 60: {"min"}, 3600: {"h"}},
		"Hz":    {1: {"hz", "1/s"}, 1000: {"khz"}},
		"W":     {1: {"w"}, 1000: {"kw"}},
		"A":     {1: {"a"}, 0.001: {"ma"}},
		"V":     {1: {"v"}},
		"ohm":   {1: {"ohm", "ohms", "ω", "Ω"}, 0.001: {"mohm"}},
		"mH":    {1: {"mh"}, 0.001: {"uh", "µh"}, 1000: {"h"}},
		"N cm": {1: {"ncm", "n.cm", "n*cm"}, 100: {"nm", "n.m"}, 0.1: {"mnm", "mn.m"}, g: {"kgcm", "kg.cm", "kgfcm"},
			lbf / 16 * 2.54: {"ozin", "oz.in"}},
		"K":     {1: {"k", "kelvin", "c", "degc", "°c"}, 5.0 / 9: {"f", "degf", "°f"}},
		"K/min": {1: {"k/min", "c/min", "degc/min"}, 60: {"k/s"}},
		"m/s2":  {1: {"m/s2", "m/s²", "m/s^2"}},
		"share": {0.01: {"%"}},
	}
	for u, by := range names {
		left := len(by)
		for factor, spellings := range want[u] {
			for _, s := range spellings {
				left--
				got, ok := by[s]
				if !ok || math.Abs(got/factor-1) > 1e-10 {
					t.Errorf("1 %s is %.12g %s, want %.12g", s, got, u, factor)
				}
				if x, err := Read("3 "+s, u); s != "Ω" && (err != nil || math.Abs(x/3/factor-1) > 1e-10) {
					t.Errorf("3 %s is read as %v (%v)", s, x, err)
				}
			}
		}
		if left != 0 {
			t.Errorf("%s: %d spellings are not looked at", u, left)
		}
	}
	for _, x := range []struct {
		text, unit string
		want       float64
	}{{"3.", "mm", 3}, {"3,", "mm", 3}, {"3, mm", "mm", 3}, {"32 F", "degC", 0}, {"212 degF", "degC", 100},
		{"273.15 kelvin", "degC", 0}} {
		if got, err := Read(x.text, x.unit); err != nil || math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%q is read as %v (%v), want %v", x.text, got, err, x.want)
		}
	}
	for _, x := range []struct {
		what      string
		got, want float64
	}{{"mm", MM, 1e-3}, {"mm2", MM2, MM * MM}, {"mm3", MM3, MM * MM * MM}, {"MPa", MPa * MM2, 1}, {"kJ", KJ, 1000},
		{"kgf", KGF, 9.80665}, {"lbf", LBF, 0.45359237 * 9.80665}, {"N cm", NCM, 10 * MM}, {"degC", Kelvin(20), 293.15},
		{"K", Celsius(293.15), 20}, {"deg", Deg(180), math.Pi}, {"gas constant", Gas, 1.380649e-23 * 6.02214076e23}} {
		if math.Abs(x.got/x.want-1) > 1e-9 {
			t.Errorf("%s: %g, want %g", x.what, x.got, x.want)
		}
	}
	if got := Disc(2); math.Abs(got-math.Pi) > 1e-15 {
		t.Errorf("a disc of 2 m is %g m2", got)
	}
}
