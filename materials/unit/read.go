package unit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Number reads a plain decimal number: sign, digits with a decimal point, exponent. Blanks around it do not matter.
// Hexadecimal numbers, digits parted by underscores, NaN and infinities are none.
func Number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if s == "" || len(s) > 64 || strings.ContainsAny(s, "xXpPiInN_") {
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// names are the units that may stand behind a number where one of the edge units is wanted, in lower case and without
// blanks, with the factor to it. Mass units at a force mean the force of that mass's weight, as the trade writes them.
var names = map[string]map[string]float64{
	"degC": {"c": 1, "degc": 1, "°c": 1, "celsius": 1},
	"mm":   {"mm": 1, "cm": 10, "m": 1000, "um": 1e-3, "µm": 1e-3, "μm": 1e-3, "in": 25.4, "inch": 25.4},
	"mm3/s": {"mm3/s": 1, "mm³/s": 1, "mm^3/s": 1, "cm3/s": 1000, "cm³/s": 1000, "mm3/min": 1.0 / 60,
		"mm³/min": 1.0 / 60},
	"mm/s": {"mm/s": 1, "mm/sec": 1, "mm/min": 1.0 / 60, "cm/s": 10, "m/s": 1000, "m/min": 1000.0 / 60},
	"N": {"n": 1, "kn": 1000, "kgf": KGF, "kg": KGF, "gf": KGF / 1000, "g": KGF / 1000, "lbf": LBF,
		"lb": LBF},
	"kgf": {"kgf": 1, "kg": 1, "gf": 1e-3, "g": 1e-3, "n": 1 / KGF},
	"s":   {"s": 1, "sec": 1, "ms": 1e-3, "min": 60, "h": 3600},
	"Hz":  {"hz": 1, "khz": 1000, "1/s": 1},
	"W":   {"w": 1, "kw": 1000},
	"A":   {"a": 1, "ma": 1e-3},
	"V":   {"v": 1},
	"ohm": {"ohm": 1, "ohms": 1, "ω": 1, "Ω": 1, "mohm": 1e-3},
	"mH":  {"mh": 1, "uh": 1e-3, "µh": 1e-3, "h": 1000},
	"N cm": {"ncm": 1, "n.cm": 1, "n*cm": 1, "nm": 100, "n.m": 100, "mnm": 0.1, "mn.m": 0.1, "kgcm": KGF, "kg.cm": KGF,
		"kgfcm": KGF, "ozin": LBF / 16 * 2.54, "oz.in": LBF / 16 * 2.54},
	// a difference of temperatures
	"K":     {"k": 1, "kelvin": 1, "c": 1, "degc": 1, "°c": 1, "f": 1 / 1.8, "degf": 1 / 1.8, "°f": 1 / 1.8},
	"K/min": {"k/min": 1, "c/min": 1, "degc/min": 1, "k/s": 60},
	"m/s2":  {"m/s2": 1, "m/s²": 1, "m/s^2": 1},
	"share": {"%": 0.01},
}

// Read reads a number as people write it where unit u is wanted: with a decimal point or a decimal comma, and with its
// unit behind it or none (0.4, 0,4, 0.4mm, 215 C, 7.5 kgf). It returns the value in u. A number with both signs, as
// 1,000.5, is refused, and so is a unit that is none of u's. Case does not matter, but MN is never read as mN. Errors:
// what was seen and what is wanted.
func Read(s, u string) (float64, error) {
	text := strings.TrimSpace(s)
	end := len(text)
	for i := range len(text) { // the longest head that is a number; what follows is its unit
		if x := text[:len(text)-i]; endsNumber(x) {
			if _, ok := Number(point(x)); ok {
				end = len(x)
				break
			}
		}
	}
	x, ok := Number(point(text[:end]))
	if !ok {
		return 0, fmt.Errorf("%q is not a plain number", clip(s))
	}
	tail := strings.ToLower(strings.Join(strings.Fields(text[end:]), ""))
	if tail == "" {
		return x, nil
	}
	if Mega(text[end:]) {
		return 0, fmt.Errorf("%q: M stands for a million; a thousandth is written m", clip(s))
	}
	if u == "degC" {
		switch tail {
		case "f", "degf", "°f":
			return round((x - 32) / 1.8), nil
		case "k", "kelvin":
			return round(Celsius(x)), nil
		}
	}
	by, ok := names[u][tail]
	if !ok {
		if u == "" {
			return 0, fmt.Errorf("%q: a number without a unit is wanted", clip(s))
		}
		return 0, fmt.Errorf("%q: the unit here is %s", clip(s), u)
	}
	return round(x * by), nil
}

// milli are the units of a thousandth that have a twin of a million, which differs by the case of its first letter.
var milli = []string{"mn", "ms", "ma", "mv", "mh", "mohm", "mω", "mnm", "mn.m", "mn*m"}

// Mega tells whether a unit is one of a million (MN, Mohm) that a reader which takes no account of case would confuse
// with one of a thousandth (mN, mohm).
func Mega(s string) bool {
	s = strings.Join(strings.Fields(s), "")
	return strings.HasPrefix(s, "M") && slices.Contains(milli, strings.ToLower(s))
}

// endsNumber says that a text may be a number by its end: 0.4m is not one, and 1e5 is.
func endsNumber(s string) bool {
	return s != "" && (s[len(s)-1] >= '0' && s[len(s)-1] <= '9' || s[len(s)-1] == '.' || s[len(s)-1] == ',')
}

// point writes a decimal comma as a point; a text with two of them, or with both, stays no number.
func point(s string) string {
	if strings.Contains(s, ".") {
		return s
	}
	return strings.Replace(s, ",", ".", 1)
}

// round takes off the digits that a conversion adds: 12 are more than anyone types.
func round(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		return x
	}
	return y
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
