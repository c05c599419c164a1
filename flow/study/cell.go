package study

import (
	"fmt"

	"meltload/flow/loadcell"
)

// CellResult is the calibration of a load cell by dead weights.
type CellResult struct {
	Header
	PerCount  float64      `q:"per_count"`
	UPerCount float64      `q:"per_count_standard_uncertainty"`
	Zero      float64      `q:"zero"`
	UZero     float64      `q:"zero_standard_uncertainty"`
	Span      float64      `q:"span"`
	Resid     float64      `q:"single_reading"`
	UAtSpan   float64      `q:"standard_uncertainty_at_span"`
	Straight  float64      `q:"nonlinearity_of_span"`
	Return    *float64     `q:"hysteresis_of_span"` // nil if not read while unloading
	Weights   []CellWeight `                                   json:"weights"`
	// nil without a calibration before
	Drift *CellDrift `                                   json:"against_before"`
	Line  string     `                                   json:"-"` // text of the file of the cell
}

// CellDrift is how a cell changed since the calibration before.
type CellDrift struct {
	Sensitivity  float64 `q:"sensitivity_change"`
	USensitivity float64 `q:"sensitivity_change_u"`
	Zero         float64 `q:"zero_change"`
	UZero        float64 `q:"zero_change_u"`
	AtSpan       float64 `q:"misread_at_span"`
}

// CellWeight is one dead weight.
type CellWeight struct {
	Mass  float64  `q:"weight_mass"`
	Force float64  `q:"force"`
	Up    float64  `q:"up"`
	Down  *float64 `q:"down"`
	Error float64  `q:"read_minus_true"` // while loading
}

// against says how the cell changed since the calibration before.
func (r *CellResult) against(d loadcell.CellDrift) {
	r.Drift = &CellDrift{Sensitivity: d.Sensitivity, USensitivity: d.USensitivity, Zero: d.Zero, UZero: d.UZero,
		AtSpan: d.AtSpan}
	moved := "neither moved beyond chance"
	switch {
	case d.SensitivityMoved && d.ZeroMoved:
		moved = "both moved"
	case d.SensitivityMoved:
		moved = "the force of a count moved"
	case d.ZeroMoved:
		moved = "the zero moved"
	}
	r.Sentence += fmt.Sprintf(" Against the calibration before, the force of a count changed by %+.2f %% ± %.2f and "+
		"the zero by %+.2f N ± %.2f (standard uncertainties): %s.", 100*d.Sensitivity, 100*d.USensitivity, d.Zero,
		d.UZero, moved)
	if d.SensitivityMoved {
		r.warn("cell-drift", "with the line before, a force of %.3g N is misread by %+.2g N: look at mounting, "+
			"temperature and supply, and read earlier logs with care", r.Span, d.AtSpan)
	}
}

// CheckCell fits the line of a load cell, and compares it with the calibration before, if there is one.
func CheckCell(file string, w []loadcell.Weight, gravity float64, before *loadcell.CellLine) (*CellResult, error) {
	f, err := loadcell.FitCell(w, gravity)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	out := &CellResult{
		Header: Header{Version: Version, Title: "Load cell " + file, Files: []File{{Name: file}}, Cautions: []string{
			"Secure weights against falling; keep hands and feet out from under them. Do not exceed the rated load " +
				"of the cell.",
			"Calibrate in the direction and at the place of use, warmed up; the line holds for this cell, amplifier " +
				"and supply."}, Good: true},
		PerCount: f.PerCount, UPerCount: f.UPerCount, Zero: f.Zero, UZero: f.UZero, Span: f.Span, Resid: f.Resid,
		UAtSpan: f.UAtSpan, Straight: f.Check.Nonlinearity,
	}
	if f.HasDown {
		h := f.Check.Hysteresis
		out.Return = &h
	}
	for _, x := range w {
		y := CellWeight{Mass: x.Mass, Force: x.Mass * gravity, Up: x.Up,
			Error: (x.Up-f.Zero)*f.PerCount - x.Mass*gravity}
		if x.HasDown {
			d := x.Down
			y.Down = &d
		}
		out.Weights = append(out.Weights, y)
	}
	out.Sentence = fmt.Sprintf("Force = (counts - %.6g) x %.5g N; a force near %.3g N is read with a standard "+
		"uncertainty of %.2g N.", f.Zero, f.PerCount, f.Span, f.UAtSpan)
	line := f.Line(file, gravity)
	out.Line = line.TOML()
	if before != nil {
		out.against(loadcell.DriftOf(*before, line))
	}
	return out, nil
}
