package loadcell

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Gravity is the standard acceleration of free fall, m/s2; local values lie between 9.780 and 9.832.
const Gravity = unit.Gravity

// Weight is a dead weight on the cell: mass (kg) and what the cell showed with it, loading and, if read, unloading.
type Weight struct {
	Mass, Up, Down float64
	HasDown        bool
}

// CellFit is the calibration line of a cell: force = (counts - Zero) PerCount.
type CellFit struct {
	PerCount, UPerCount float64 // N per count and its standard uncertainty
	Zero, UZero         float64 // counts
	Span                float64 // N, of the heaviest weight
	Resid               float64 // N, standard deviation of single readings about the line
	UAtSpan             float64 // N, standard uncertainty of a force read there: line and reading (GUM H.3)
	Check               CellCheck
	HasDown             bool
	Weights             []Weight
}

// ReadWeights reads dead weights from CSV with a header: mass_kg, up (the reading while loading) and, if wanted, down
// (while unloading). Lines that begin with # are remarks. Every bad cell is reported.
func ReadWeights(name string, r io.Reader) ([]Weight, error) {
	rows, err := strict.Table(name, r, []strict.Column{
		{Name: "mass_kg", Lo: 0, Hi: 500},
		{Name: "up", Lo: -1e10, Hi: 1e10},
		{Name: "down", Lo: -1e10, Hi: 1e10, Optional: true},
	})
	if err != nil {
		return nil, err
	}
	out := make([]Weight, len(rows))
	for i, m := range rows {
		d, ok := m["down"]
		out[i] = Weight{m["mass_kg"], m["up"], d, ok}
	}
	return out, nil
}

// FitCell fits the line of a cell to dead weights by least squares, with local gravity g (m/s2). Errors: fewer than
// three different weights, or readings that do not follow them.
func FitCell(w []Weight, g float64) (*CellFit, error) {
	var force, counts []float64
	var load, up, down []float64
	masses := map[float64]bool{}
	out := &CellFit{HasDown: true, Weights: w}
	sorted := slices.Clone(w) // the check takes the first and the last as the ends of its line
	slices.SortStableFunc(sorted, func(a, b Weight) int { return cmp.Compare(a.Mass, b.Mass) })
	for _, x := range sorted {
		masses[x.Mass] = true
		force, counts = append(force, x.Mass*g), append(counts, x.Up)
		load, up = append(load, x.Mass*g), append(up, x.Up)
		d := x.Up
		if x.HasDown {
			force, counts = append(force, x.Mass*g), append(counts, x.Down)
			d = x.Down
		} else {
			out.HasDown = false
		}
		down = append(down, d)
	}
	if len(masses) < 3 {
		return nil, fmt.Errorf("loadcell: different masses: %d; at least 3 (nothing, half and full load) are needed "+
			"to see whether the cell is straight", len(masses))
	}
	line := PolyFit(force, counts, 1)
	b, ub := line.Coef[1], line.SD[1]
	if !(math.Abs(b) > 10*ub) || b == 0 {
		return nil, fmt.Errorf("loadcell: the readings do not follow the weights (slope %.3g counts per N, its "+
			"uncertainty %.3g); check columns and wiring", b, ub)
	}
	out.PerCount, out.UPerCount = 1/b, ub/(b*b)
	out.Zero, out.UZero = line.Coef[0], line.SD[0]
	out.Resid = line.Resid / math.Abs(b)
	for _, f := range force {
		out.Span = math.Max(out.Span, f)
	}
	_, u := line.At(out.Span)
	out.UAtSpan = math.Hypot(u, line.Resid) / math.Abs(b)
	out.Check = CheckCell(load, up, down)
	return out, nil
}
