// Package mould fills a small mould from a filament-fed nozzle: sprue, runners, gate and cavity, the temperature
// resolved through melt and wall, a frozen layer that grows, and a front that moves at the set flow until the force of
// the feeder is used up, and at that force from there on, until the mould is full or the melt stands still.
//
// One station is a short stretch of the path with one column, from the middle of the thickness to the back of the
// mould:
//
//	middle | cell | cell | ... | cell | face . contact . face | wall cell | ... | wall cell | back
//	       T, h, rate, flow q in each            h_c (T - T)     T in each           air, or held
//
// Momentum: the stress is tau_w xi at the share xi of the half thickness, the rate follows from the law, and the flow
// from the rates (momentum.go); the pressure is the sum of the drops. Energy: flow along, heat of shear, conduction
// across, in melt and wall at once (column.go). At the front the fast core keeps its temperature and is laid outside
// itself where the stream function is the same (lay). While the front runs through an element its stations are merged
// two by two, so that the filled length is always cut alike, however short it stays (grid.go). Melt sets at the cooling
// range of the material, not at its melting range. After filling the gate and the thickest stretch are followed until
// they freeze and can be taken out (cool.go), and a row of shots until the mould is warm (repeat.go).
//
// Not modelled: air in the mould (vent it), entrance losses between elements, the side walls of a strip, packing flow,
// crystallisation that lags behind cooling, warping.
package mould

import (
	"fmt"
	"math"

	"meltload/flow/duct"
	"meltload/materials/unit"
)

// Shape of an element.
type Shape string

// The shapes. Rounds narrow or widen from D1 to D2; the half-round, trapezoid and rectangle are calculated as the tube
// of the same hydraulic diameter and mean speed, the drop corrected by their shape factor (duct.Duct); strips and discs
// are wide gaps.
const (
	Sprue     Shape = "sprue" // a round that stands upright on the parting plane
	Round     Shape = "round"
	HalfRound Shape = "half-round"
	Trapezoid Shape = "trapezoid"
	Rectangle Shape = "rectangle"
	StripGap  Shape = "strip"
	DiscGap   Shape = "disc"
)

// Element is a stretch of the flow path.
type Element struct {
	Name   string
	Shape  Shape
	D1, D2 float64 // m: diameter at both ends of a round; D1 of a half-round; gate and outer diameter of a disc
	Width  float64 // m: strip and rectangle; the wide side of a trapezoid
	Narrow float64 // m: the narrow side of a trapezoid
	Height float64 // m: thickness of strip and disc; height of trapezoid and rectangle
	Length float64 // m; not of a disc
	Copies int     // equal elements side by side, at least 1: the flow divides
	Cavity bool    // part of the product: its pressure opens the mould; others are feed
}

// Mould is a flow path and its walls.
type Mould struct {
	Elements []Element
	Surface  float64 // K, of the mould before the melt comes
	Wall     Wall
	Contact  float64 // W/(m2 K) between melt and mould; +Inf for perfect contact
}

// Validate returns what makes the mould impossible.
func (m *Mould) Validate() error {
	if len(m.Elements) == 0 {
		return fmt.Errorf("mould: no element")
	}
	if !(m.Surface > 235 && m.Surface < 700) || !(m.Contact > 0) {
		return fmt.Errorf("mould: at %.4g degC with a contact of %g W/(m2 K); -38 to 427 degC and more than 0 W/(m2 "+
			"K) are allowed",
			unit.Celsius(m.Surface), m.Contact)
	}
	if err := m.Wall.validate(); err != nil {
		return err
	}
	for i := range m.Elements {
		e := &m.Elements[i]
		bad := false
		need := func(x ...float64) {
			for _, v := range x {
				bad = bad || !(v > 0) || math.IsInf(v, 0)
			}
		}
		switch e.Shape {
		case Sprue, Round:
			need(e.D1, e.D2, e.Length)
		case HalfRound:
			need(e.D1, e.Length)
		case Trapezoid:
			need(e.Width, e.Narrow, e.Height, e.Length)
		case Rectangle, StripGap:
			need(e.Width, e.Height, e.Length)
		case DiscGap:
			need(e.D1, e.D2, e.Height)
			bad = bad || e.D2 <= e.D1
		default:
			return fmt.Errorf("mould: element %d: unknown shape %q", i+1, e.Shape)
		}
		if bad || e.Copies < 1 {
			return fmt.Errorf(
				"mould: element %d (%s): every measure of a %s must be above 0 (a disc's outer diameter above its "+
					"gate's) and copies at least 1", i+1, e.Name, e.Shape)
		}
	}
	return nil
}

// Volume returns the volume (m3) of all copies of an element.
func (e *Element) Volume() float64 {
	v := 0.0
	switch e.Shape {
	case Sprue, Round:
		a, b := e.D1/2, e.D2/2
		v = math.Pi / 3 * e.Length * (a*a + a*b + b*b)
	case DiscGap:
		v = math.Pi / 4 * (e.D2*e.D2 - e.D1*e.D1) * e.Height
	case StripGap:
		v = e.Width * e.Height * e.Length
	default:
		v = e.duct().Area * e.Length
	}
	return v * float64(e.Copies)
}

// Projected returns the area (m2) that an element shows to the parting plane, all copies; a sprue shows its larger end.
func (e *Element) Projected() float64 {
	a := 0.0
	switch e.Shape {
	case Sprue:
		a = math.Pi / 4 * math.Pow(math.Max(e.D1, e.D2), 2)
	case Round:
		a = (e.D1 + e.D2) / 2 * e.Length
	case HalfRound:
		a = e.D1 * e.Length
	case DiscGap:
		a = math.Pi / 4 * (e.D2*e.D2 - e.D1*e.D1)
	default:
		a = e.Width * e.Length
	}
	return a * float64(e.Copies)
}

// FlowLength returns how far (m) melt runs along an element: the way from the gate to the rim of a disc.
func (e *Element) FlowLength() float64 {
	if e.Shape == DiscGap {
		return (e.D2 - e.D1) / 2
	}
	return e.Length
}

// thickness returns the measure (m) across which an element cools.
func (e *Element) thickness() float64 {
	switch e.Shape {
	case Sprue, Round:
		return math.Max(e.D1, e.D2)
	case StripGap, DiscGap:
		return e.Height
	}
	d := e.duct()
	return d.HydraulicDiameter()
}

func (e *Element) duct() duct.Duct {
	switch e.Shape {
	case HalfRound:
		return duct.HalfRound(e.D1 / 2)
	case Trapezoid:
		return duct.Trapezoid(e.Width, e.Narrow, e.Height)
	}
	return duct.Rectangle(e.Width, e.Height)
}
