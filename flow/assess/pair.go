package assess

import (
	"maps"
	"slices"

	"gonum.org/v1/gonum/mat"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/flow/vary"
	"meltload/materials"
)

// Pair joins the hot end of one set-up with the feeder of another on the duty of a third: its filament, block
// temperature, path, limits and wanted flow. How well hot end and feeder are known comes with them.
func Pair(duty, hotEnd, drive *setup.Setup) *setup.Setup {
	n := duty.Clone()
	n.HotEnd, n.Contact, n.Stock = hotEnd.HotEnd, hotEnd.Contact, hotEnd.Stock
	n.HotEnd.Sections = append([]flow.Section(nil), hotEnd.HotEnd.Sections...)
	n.Feeder = drive.Feeder.Clone()
	feedOwn(n)
	n.Doubts = map[string]setup.Doubt{}
	for _, x := range []struct {
		from *setup.Setup
		is   func(s vary.Scope) bool
	}{{duty, func(s vary.Scope) bool { return s == vary.OfRig || s == vary.OfStock }},
		{hotEnd, func(s vary.Scope) bool { return s == vary.OfHotEnd }},
		{drive, func(s vary.Scope) bool { return s == vary.OfFeeder }}} {
		d := maps.Clone(x.from.Doubts)
		maps.DeleteFunc(d, func(id string, _ setup.Doubt) bool { return !x.is(vary.ID(id).Scope()) })
		maps.Copy(n.Doubts, d)
	}
	// What a calibration found to go together still does where both sides come from it.
	of := func(id string) *setup.Setup {
		switch vary.ID(id).Scope() {
		case vary.OfHotEnd:
			return hotEnd
		case vary.OfFeeder:
			return drive
		}
		return duty
	}
	n.Correlations = nil
	for _, from := range []*setup.Setup{duty, hotEnd, drive} {
		for _, c := range from.Correlations {
			if slices.Contains(of(c.First).Correlations, c) && slices.Contains(of(c.Second).Correlations, c) &&
				!slices.Contains(n.Correlations, c) {
				n.Correlations = append(n.Correlations, c)
			}
		}
	}
	return n
}

// Shared draws for several hot ends and feeders at once: what belongs to the stock and the rig has one coordinate for
// all, so that it cancels where pairs share it; each hot end and each feeder has coordinates of its own.
type Shared struct {
	points  *mat.Dense
	ofHot   []int // places in Unknowns of what belongs to a hot end
	force   []int // and to a feeder
	all     int
	hotEnds int
}

// NewShared draws samples points for a number of hot ends and feeders.
func NewShared(samples int, seed uint64, hotEnds, feeders int) *Shared {
	d := &Shared{all: len(sampled), hotEnds: hotEnds}
	for i, id := range sampled {
		switch id.Scope() {
		case vary.OfHotEnd:
			d.ofHot = append(d.ofHot, i)
		case vary.OfFeeder:
			d.force = append(d.force, i)
		}
	}
	d.points = uq.Points(samples, d.all+len(d.ofHot)*(hotEnds-1)+len(d.force)*(feeders-1), seed)
	return d
}

// Draws are the unknowns of the pair of one hot end and one feeder, both counted from 0.
func (d *Shared) Draws(us []Unknown, hotEnd, feeder int) [][]float64 {
	n, _ := d.points.Dims()
	column := make([]int, d.all)
	for j := range column {
		column[j] = j
	}
	for k, j := range d.ofHot {
		if hotEnd > 0 {
			column[j] = d.all + (hotEnd-1)*len(d.ofHot) + k
		}
	}
	for k, j := range d.force {
		if feeder > 0 {
			column[j] = d.all + (d.hotEnds-1)*len(d.ofHot) + (feeder-1)*len(d.force) + k
		}
	}
	out := make([][]float64, n)
	p := make([]float64, d.all)
	for i := range out {
		for j := range p {
			p[j] = d.points.At(i, column[j])
		}
		out[i] = Values(us, p)
	}
	return out
}

// OnMaterial is a copy of a set-up with another material in filament of the same size. What was found for the material
// before stays behind: its viscosity and entrance factors, its flow point, and how well these are known. The mould, if
// there is one, is left out. A material of the same name keeps all of it.
func OnMaterial(s *setup.Setup, m *materials.Material) *setup.Setup {
	n := s.Clone()
	n.Mould = nil
	if s.Material != nil && m.ID == s.Material.ID {
		return n
	}
	n.Material, n.ViscosityFactor, n.EntranceFactor, n.Temps = m, 0, 0, m.Window
	for _, id := range []vary.ID{vary.Viscosity, vary.Entrance, vary.FlowPoint} {
		delete(n.Doubts, string(id))
	}
	feedOwn(n)
	return n
}

// feedOwn lets the feeder of a set-up push the set-up's filament, as warm as what it pushed before.
func feedOwn(n *setup.Setup) {
	stock := feeder.Stock{Material: n.Material, Diameter: n.Filament.Diameter, Temperature: n.Filament.Inlet}
	if n.Feeder.Stock != nil {
		stock.Temperature = n.Feeder.Stock.Temperature
	}
	if f, err := n.Feeder.With(stock); err == nil { // it was made by feeder.New: its parts are in order
		n.Feeder = f
	}
}
