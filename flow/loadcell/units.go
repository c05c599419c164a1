package loadcell

import (
	"slices"
	"strings"

	"meltload/materials/unit"
)

// dimension is what a unit measures.
type dimension int

const (
	noDimension dimension = iota
	timeDim
	forceDim
	temperatureDim
	flowDim
	countDim // raw counts
	otherDim // torque, length, voltage ...: never taken
)

// knownUnits gives dimension and our name of a unit, by its normal form (see plain).
var knownUnits = map[string]struct {
	dim  dimension
	name string
}{
	"s": {timeDim, "s"}, "sec": {timeDim, "s"}, "secs": {timeDim, "s"}, "second": {timeDim, "s"},
	"seconds": {timeDim, "s"}, "ms": {timeDim, "ms"}, "msec": {timeDim, "ms"}, "millis": {timeDim, "ms"},
	"milliseconds": {timeDim, "ms"}, "us": {timeDim, "us"}, "usec": {timeDim, "us"}, "micros": {timeDim, "us"},
	"microseconds": {timeDim, "us"}, "ns": {timeDim, "ns"}, "min": {timeDim, "min"}, "minutes": {timeDim, "min"},
	"h": {timeDim, "h"}, "hours": {timeDim, "h"},
	"n": {forceDim, "N"}, "newton": {forceDim, "N"}, "newtons": {forceDim, "N"}, "mn": {forceDim, "mN"},
	"kn": {forceDim, "kN"}, "kgf": {forceDim, "kgf"}, "kg": {forceDim, "kgf"}, "kilograms": {forceDim, "kgf"},
	"kp": {forceDim, "kgf"}, "g": {forceDim, "gf"}, "gf": {forceDim, "gf"}, "gram": {forceDim, "gf"},
	"grams": {forceDim, "gf"}, "gr": {forceDim, "gf"}, "lbf": {forceDim, "lbf"}, "lb": {forceDim, "lbf"},
	"lbs": {forceDim, "lbf"}, "pounds": {forceDim, "lbf"}, "oz": {forceDim, "ozf"}, "ozf": {forceDim, "ozf"},
	"ounces": {forceDim, "ozf"},
	"counts": {countDim, "counts"}, "count": {countDim, "counts"}, "raw": {countDim, "counts"},
	"adc": {countDim, "counts"}, "lsb": {countDim, "counts"}, "digits": {countDim, "counts"},
	"degc": {temperatureDim, "degC"}, "c": {temperatureDim, "degC"}, "celsius": {temperatureDim, "degC"},
	"degreec": {temperatureDim, "degC"}, "k": {temperatureDim, "K"}, "kelvin": {temperatureDim, "K"},
	"degf": {temperatureDim, "degF"}, "f": {temperatureDim, "degF"}, "fahrenheit": {temperatureDim, "degF"},
	"mm3/s": {flowDim, "mm3/s"}, "mm3s": {flowDim, "mm3/s"}, "mm3/sec": {flowDim, "mm3/s"},
	"mm3s-1": {flowDim, "mm3/s"}, "cumm/s": {flowDim, "mm3/s"}, "mm3/min": {flowDim, "mm3/min"},
	"cm3/min": {flowDim, "cm3/min"}, "ml/min": {flowDim, "cm3/min"}, "mm/s": {flowDim, "mm/s"},
	"mm/sec": {flowDim, "mm/s"}, "mms": {flowDim, "mm/s"}, "mms-1": {flowDim, "mm/s"}, "mm/min": {flowDim, "mm/min"},
	"mmpm": {flowDim, "mm/min"},
	"mm":   {otherDim, "mm"}, "cm": {otherDim, "cm"}, "m": {otherDim, "m"}, "um": {otherDim, "um"},
	"in": {otherDim, "in"}, "inch": {otherDim, "in"}, "nm": {otherDim, "N.m"}, "n.m": {otherDim, "N.m"},
	"ncm": {otherDim, "N.cm"}, "n.cm": {otherDim, "N.cm"}, "n.mm": {otherDim, "N.mm"}, "nmm": {otherDim, "N.mm"},
	"mnm": {otherDim, "mN.m"}, "mn.m": {otherDim, "mN.m"}, "kgcm": {otherDim, "kgf.cm"}, "kg.cm": {otherDim, "kgf.cm"},
	"kgf.cm": {otherDim, "kgf.cm"}, "kgfcm": {otherDim, "kgf.cm"}, "oz.in": {otherDim, "oz.in"},
	"ozin": {otherDim, "oz.in"}, "lb.in": {otherDim, "lb.in"}, "lbin": {otherDim, "lb.in"}, "gcm": {otherDim, "gf.cm"},
	"g.cm": {otherDim, "gf.cm"}, "v": {otherDim, "V"}, "volt": {otherDim, "V"}, "volts": {otherDim, "V"},
	"mv": {otherDim, "mV"}, "mv/v": {otherDim, "mV/V"}, "a": {otherDim, "A"}, "amps": {otherDim, "A"},
	"ma": {otherDim, "mA"}, "w": {otherDim, "W"}, "watts": {otherDim, "W"}, "ohm": {otherDim, "ohm"},
	"hz": {otherDim, "Hz"}, "khz": {otherDim, "kHz"}, "sps": {otherDim, "Hz"}, "rpm": {otherDim, "rpm"},
	"rev/s": {otherDim, "rev/s"}, "deg": {otherDim, "deg"}, "rad": {otherDim, "rad"}, "%": {otherDim, "%"},
	"percent": {otherDim, "%"}, "pct": {otherDim, "%"}, "bar": {otherDim, "bar"}, "mpa": {otherDim, "MPa"},
	"kpa": {otherDim, "kPa"}, "pa": {otherDim, "Pa"}, "psi": {otherDim, "psi"}, "n/s": {otherDim, "N/s"},
	"n/mm": {otherDim, "N/mm"}, "mm/s2": {otherDim, "mm/s2"}, "m/s2": {otherDim, "m/s2"}, "db": {otherDim, "dB"},
	"ppm": {otherDim, "ppm"}, "steps/s": {otherDim, "steps/s"}, "steps": {otherDim, "steps"},
	"n/mm2": {otherDim, "MPa"},
	"mm3":   {otherDim, "mm3"}, "g/s": {otherDim, "g/s"}, "g/min": {otherDim, "g/min"}, "c/s": {otherDim, "K/s"},
	"c/min": {otherDim, "K/min"}, "k/min": {otherDim, "K/min"},
}

// plain brings a unit to its normal form: lower case, one way to write powers, products and quotients. A byte that was
// no text (a degree or a power in an old code page) has come as '?'.
var plain = strings.NewReplacer(" per ", "/", "_per_", "/", " ", "", "³", "3", "²", "2", "^", "", "°", "deg",
	"º", "deg",
	"degrees", "deg", "*", ".", "·", ".", "⋅", ".", "-1", "-1", "-", ".", "µ", "u", "μ", "u", "Ω", "ohm", "?c", "degc",
	"mm?", "mm3")

func plainUnit(s string) string {
	return strings.Trim(plain.Replace(strings.ToLower(strings.TrimSpace(s))), ".")
}

// unitOf looks a unit up. MN is not mN, so the big one is left alone; of a time, MS is a word in capitals.
func unitOf(s string) (name string, dim dimension) {
	u, ok := knownUnits[plainUnit(s)]
	if !ok {
		return "", noDimension
	}
	if u.dim == forceDim && unit.Mega(s) {
		return "MN", otherDim
	}
	return u.name, u.dim
}

// UnitMeant returns the one of the allowed units that another name stands for: kg for kgf, lbs for lbf, sec for s. It
// is empty for a name that is not known, or is that of a unit not allowed.
func UnitMeant(s string, allowed []string) string {
	if name, _ := unitOf(s); slices.Contains(allowed, name) {
		return name
	}
	return ""
}

// words splits a header at anything but letters and digits, and where a small letter meets a capital.
func words(s string) []string {
	var b strings.Builder
	prev := rune(0)
	for _, r := range s {
		if prev >= 'a' && prev <= 'z' && r >= 'A' && r <= 'Z' {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		prev = r
	}
	return strings.FieldsFunc(strings.ToLower(b.String()), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 127)
	})
}

// splitHeader parts a header into name and unit: "push force (N)", "F [N]", "t / s", "flow_mm3_s", "weight g". The unit
// is empty if none is known; what stands in brackets and is not known is otherDim with its own text.
func splitHeader(h string) (name, unit string, dim dimension) {
	h = strings.Trim(strings.TrimSpace(h), `"'`)
	if i := strings.LastIndexAny(h, "([{<"); i >= 0 {
		if j := strings.IndexAny(h[i:], ")]}>"); j > 1 {
			inner := h[i+1 : i+j]
			if u, d := unitOf(inner); d != noDimension {
				return strings.TrimSpace(h[:i]), u, d
			}
			name, unit, dim = splitHeader(h[:i] + " " + h[i+j+1:])
			return name, unit, dim
		}
	}
	if u, d := unitOf(h); d != noDimension && !(len(h) == 1 && strings.Contains("fFcCkKaAvVwWmMhH", h)) {
		return "", u, d // the whole header is a unit; a single letter that is as well a name is not
	}
	// From the end: the longest stretch that is a unit, parts joined as they may be meant.
	parts := strings.FieldsFunc(h, func(r rune) bool {
		return r == '_' || r == ' ' || r == ',' || r == ':' ||
			r == ';'
	})
	for n := min(3, len(parts)-1); n >= 1; n-- {
		tail := parts[len(parts)-n:]
		for _, sep := range []string{"/", ".", ""} {
			if u, d := unitOf(strings.Join(tail, sep)); d != noDimension {
				return strings.Join(parts[:len(parts)-n], " "), u, d
			}
		}
	}
	for _, sep := range []string{"/", ".", "-"} { // "F/N", "load.kgf": only what is left of the last sign is a name
		if i := strings.Index(h, sep); i > 0 {
			if u, d := unitOf(h[i+1:]); d != noDimension {
				return strings.TrimSpace(h[:i]), u, d
			}
		}
	}
	// "forceN", "timeMs": a unit behind a small letter
	if w := words(h); len(w) > 1 {
		if u, d := unitOf(w[len(w)-1]); d != noDimension {
			return strings.Join(w[:len(w)-1], " "), u, d
		}
	}
	return h, "", noDimension
}
