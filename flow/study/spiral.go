package study

import (
	"context"
	"fmt"
	"math"

	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// SpiralResult is the calibration of a mould by how far melt ran.
type SpiralResult struct {
	Header
	Values  []CalValue    `json:"values"`
	Lengths []SpiralPoint `json:"lengths"`
	RMS     float64       `q:"length_error"`
	Was     float64       `q:"length_error_before"`
	Solves  int           `json:"fillings"`
	Keys    []SpiralKey   `json:"keys"` // of the case file, with their calibrated values
}

// SpiralPoint is one measured length.
type SpiralPoint struct {
	Block     float64 `q:"block"`
	Mould     float64 `q:"mould"`
	Flow      float64 `q:"flow"`
	Thickness float64 `q:"thickness"`
	Width     float64 `q:"strip_width"`
	Measured  float64 `q:"measured_length"`
	Before    float64 `q:"length_before"`
	After     float64 `q:"length_calibrated"`
}

// SpiralKey is a key of the case file and the text of its value.
type SpiralKey struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

// CalibrateMould fits contact and no-flow temperature of the mould of a case to measured lengths. Errors: as of
// calibrate.FitSpirals.
func CalibrateMould(ctx context.Context, c *setup.Setup, points []calibrate.Spiral) (*SpiralResult, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	f, err := calibrate.FitSpirals(ctx, c, points)
	if err != nil {
		return nil, err
	}
	return spiralResult(c, points, f), nil
}

// spiralResult tells a fit.
func spiralResult(c *setup.Setup, points []calibrate.Spiral, f *calibrate.SpiralFit) *SpiralResult {
	out := &SpiralResult{Header: headerOf(c, "Calibration of the mould: "+c.Title), RMS: f.RMS, Was: f.Was,
		Solves: f.Solves}
	add := func(name, symbol, key, band string, v calibrate.SpiralValue, edge func(float64) float64,
		say func() string) {
		out.Values = append(out.Values, CalValue{Factor: name, Unit: symbol, Start: edge(v.Start), Value: edge(v.Value),
			Low: quantity.KnownIf(true, edge(v.Low)), High: quantity.KnownIf(true, edge(v.High)), Known: v.Known,
			Why: v.Why})
		if v.Known {
			out.Keys = append(out.Keys, SpiralKey{key, vary.Number(edge(v.Value))}, SpiralKey{band, say()})
		}
	}
	same := func(x float64) float64 { return x }
	add("contact of melt and mould", "W/(m2 K)", "mould.contact_W_m2K", "mould.contact_range_W_m2K", f.Contact, same,
		func() string { return fmt.Sprintf("[%s, %s]", vary.Number(f.Contact.Low), vary.Number(f.Contact.High)) })
	add("no-flow temperature", "degC", "mould.no_flow_degC", "mould.no_flow_range_K", f.NoFlow, unit.Celsius,
		func() string { return vary.Number(math.Ceil(10*(f.NoFlow.High-f.NoFlow.Value)) / 10) })
	for i, p := range points {
		out.Lengths = append(out.Lengths, SpiralPoint{Block: p.Block, Mould: p.Mould, Flow: p.Flow,
			Thickness: p.Thickness, Width: p.Width, Measured: p.Length,
			Before: f.Before[i], After: f.Predicted[i]})
	}
	out.Sentence = fmt.Sprintf("The rms error of %d lengths falls from %s to %s.", len(points),
		quantity.Text("length_error", f.Was), quantity.Text("length_error", f.RMS))
	for i := range out.Values {
		if v := &out.Values[i]; v.Known {
			out.Sentence += fmt.Sprintf(" The %s is %.4g %s (%s, 95 %%).", v.Factor, v.Value, v.Unit, v.interval())
		} else {
			out.Sentence += fmt.Sprintf(" The %s is not known from these lengths.", v.Factor)
		}
	}
	out.Good = known(out.Values) == len(out.Values)
	if !f.Settled {
		out.warn("fit-not-settled", "the search ran out of fillings before it settled: start it again from the case "+
			"that it writes")
	}
	out.add(c.Material.Warnings()...)
	out.Cautions = append(append([]string{}, MouldCautions...), out.Cautions...)
	return out
}

// CaseText is the text of the case file that the set-up was read from with the calibrated values written into it.
// Errors: a text that no longer makes a case, as strict.Problems.
func (r *SpiralResult) CaseText(c *casefile.Case) ([]byte, error) {
	var edits []vary.Edit
	for _, k := range r.Keys {
		edits = append(edits, vary.Edit{Key: k.Key, Value: k.Value})
	}
	return c.Rewritten(edits, calibrated)
}
