package loadcell

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/materials/strict"
)

// CellMark is the first line of a file of a cell.
const CellMark = "# Load cell calibrated by meltload"

// CellLine is the line of a load cell as a file keeps it: force = (counts - zero) newton_per_count.
type CellLine struct {
	Name      string  `toml:"name"`
	PerCount  float64 `toml:"newton_per_count" min:"-1000" max:"1000" need:"yes"`
	UPerCount float64 `toml:"newton_per_count_u" min:"0" max:"1000"`
	Zero      float64 `toml:"zero_count" min:"-1e10" max:"1e10" need:"yes"`
	UZero     float64 `toml:"zero_count_u" min:"0" max:"1e10"`
	Span      float64 `toml:"span_N" min:"0" max:"1e6" unit:"N"`
	Weights   int     `toml:"readings" min:"0"`
	Gravity   float64 `toml:"gravity_m_s2" min:"0" max:"10" unit:"m/s2"`
}

// ReadCell reads a file of a cell. Errors: everything that is wrong with it.
func ReadCell(name string, r io.Reader) (*CellLine, error) {
	src, err := io.ReadAll(io.LimitReader(r, 1<<20))
	if err != nil {
		return nil, err
	}
	var c CellLine
	_, ps := strict.Decode(name, src, &c)
	if len(ps) == 0 && c.PerCount == 0 {
		ps = append(ps, strict.Problem{File: name, Field: "newton_per_count", Seen: "0", Allowed: "anything else",
			Advice: "calibrate the cell with weights"})
	}
	if err := ps.Err(); err != nil {
		return nil, err
	}
	return &c, nil
}

// Line is what a file keeps of a fit.
func (f *CellFit) Line(name string, g float64) CellLine {
	n := len(f.Weights)
	if f.HasDown {
		n *= 2
	}
	return CellLine{Name: name, PerCount: f.PerCount, UPerCount: f.UPerCount, Zero: f.Zero, UZero: f.UZero,
		Span:    f.Span,
		Weights: n, Gravity: g}
}

// TOML is the text of a file of a cell.
func (c CellLine) TOML() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: force = (counts - zero_count) newton_per_count.\n# To read its logs: meltload log file.csv "+
		"--cell this-file\n", CellMark)
	fmt.Fprintf(&b, "name = %q\nnewton_per_count = %s\nnewton_per_count_u = %s  # standard uncertainty\n", c.Name,
		tomlFloat(c.PerCount), tomlFloat(c.UPerCount))
	fmt.Fprintf(&b, "zero_count = %s\nzero_count_u = %s  # standard uncertainty\n", tomlFloat(c.Zero),
		tomlFloat(c.UZero))
	fmt.Fprintf(&b, "span_N = %s\nreadings = %d\ngravity_m_s2 = %s\n", tomlFloat(c.Span), c.Weights,
		tomlFloat(c.Gravity))
	return b.String()
}

// tomlFloat writes a number that TOML takes for a float.
func tomlFloat(x float64) string {
	s := fmt.Sprintf("%.9g", x)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

// CellDrift is how a cell changed between two calibrations.
type CellDrift struct {
	Sensitivity, USensitivity float64 // share by which N per count changed, and its standard uncertainty
	Zero, UZero               float64 // N, by which the zero moved, and its standard uncertainty
	AtSpan                    float64 // N, by which a force of the full span would be misread with the old line
	SensitivityMoved          bool    // beyond chance at 95 %
	ZeroMoved                 bool
}

// DriftOf compares two calibrations of one cell.
func DriftOf(old, now CellLine) CellDrift {
	d := CellDrift{Sensitivity: now.PerCount/old.PerCount - 1, Zero: (now.Zero - old.Zero) * now.PerCount}
	d.USensitivity = math.Hypot(old.UPerCount/old.PerCount, now.UPerCount/now.PerCount)
	d.UZero = math.Hypot(old.UZero, now.UZero) * math.Abs(now.PerCount)
	// A force of the span by the new line gives these counts; by the old one they are read as:
	counts := now.Zero + now.Span/now.PerCount
	d.AtSpan = (counts-old.Zero)*old.PerCount - now.Span
	nu := math.Max(1, float64(min(max(old.Weights, 3), max(now.Weights, 3))-2))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(0.975)
	d.SensitivityMoved = math.Abs(d.Sensitivity) > t*d.USensitivity
	d.ZeroMoved = math.Abs(d.Zero) > t*d.UZero
	return d
}
