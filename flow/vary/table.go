package vary

import (
	"fmt"
	"math"
	"strings"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/unit"
)

// The default bands: how well a quantity is known about which case and calibration say nothing. All are assumed unless
// said otherwise; together they must cover what benches measure.
const (
	// viscosity law measured or fitted: grades of one polymer differ by this factor either way
	TrustedFactor = 2.0
	AssumedFactor = 3.0 // viscosity law assumed or a placeholder
	// of the wall contact: 3,000 of the default 10,000 W/(m2 K); the high end is perfect contact
	ContactLow       = 0.3
	HeatedBand       = 0.25  // either way of the heated share: 0.5 to 1 about the default of 0.75
	EccentricityLow  = 0.4   // below the value: 0 to 0.9 about the default of 0.4
	EccentricityHigh = 0.5   // above it
	TipLow           = 5.0   // K below the value: 0 to 15 K about the default of 5
	TipHigh          = 10.0  // K above it
	FlowPointBand    = 12.0  // K either way
	DragBand         = 2.0   // N either way: 0 to 4 N about the default of 2
	BlockBand        = 3.0   // K either way, the sensor
	BoreBand         = 20e-6 // m either way, the narrowest passage
	BarrelBand       = 50e-6 // m either way, the passage that the filament enters
	// either way, of a modelled feeder: motor torque, efficiency, effective diameter
	ForceBand = 0.2
	PointBand = feeder.AssumedBand // either way, of measured feeder forces without repeats
)

// entries is the table. Each makes its quantity for a set-up, or says that the set-up does not have it.
var entries = []func(s *setup.Setup) (Quantity, bool){
	viscosity, entrance, flowPoint, filament, inlet, block, contact, heated, eccentricity, tip, barrel, bore, zone,
	land, heater, drag, bend,
	force, current, ratio, wheels, gap, target, safety, mouldSurface, fillFlow, mouldContact, mouldNoFlow, feed, wall,
	layer, lineWidth,
}

// PointID is the quantity of a measured point of the feeder, counted from 1 by rising speed.
func PointID(number int) ID { return ID(fmt.Sprintf("point-%d", number)) }

// measured are the forces of the measured points of the feeder, one quantity each. How well all of them are known
// together is the band of Force.
func measured(s *setup.Setup) []Quantity {
	if s.Feeder == nil {
		return nil
	}
	var out []Quantity
	for i, p := range s.Feeder.Points {
		at := fmt.Sprintf("feeder.point[%d].", i+1)
		out = append(out, Quantity{ID: PointID(i + 1), Key: at + "force_N", Unit: "N",
			Label: fmt.Sprintf("force measured at %.3g mm/s", p.Speed/unit.MM), Low: math.Max(1e-3,
				1.001*p.SD), High: 2000,
			get: func(s *setup.Setup) float64 { return s.Feeder.Points[i].Force },
			set: func(s *setup.Setup, x float64) {
				f := refeed(s)
				f.Points[i].Force = x
				if n, err := feeder.New(*f); err == nil { // a point within the bounds is a good one
					s.Feeder = n
				}
			},
			edits: func(s *setup.Setup) []Edit { return pointEdits(at, s.Feeder.Points[i].Force) }})
	}
	return out
}

// pointEdits write a measured force (N) under the one of its two keys that the file has.
func pointEdits(at string, force float64) []Edit {
	return []Edit{{Key: at + "force_N", Value: Number(force), IfPresent: true},
		{Key: at + "force_kgf", Value: Number(force / unit.KGF), IfPresent: true}}
}

// scopes says what each quantity belongs to; OfRig where it is not listed.
var scopes = map[ID]Scope{
	Viscosity: OfStock, Entrance: OfStock, FlowPoint: OfStock, Filament: OfStock, Contact: OfStock,
	Block: OfHotEnd, Heated: OfHotEnd, Eccentricity: OfHotEnd, Tip: OfHotEnd, Barrel: OfHotEnd, Bore: OfHotEnd,
	Zone: OfHotEnd, Land: OfHotEnd, Heater: OfHotEnd,
	Force: OfFeeder, Current: OfFeeder, Ratio: OfFeeder, Wheels: OfFeeder, Gap: OfFeeder,
}

// Scope says what the quantity belongs to.
func (id ID) Scope() Scope {
	if strings.HasPrefix(string(id), "point-") {
		return OfFeeder
	}
	return scopes[id]
}

// one is a factor for which 0 stands for 1.
func one(x float64) float64 {
	if x == 0 {
		return 1
	}
	return x
}

func viscosity(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Viscosity, Key: "material.viscosity_factor", Label: "viscosity factor", Low: 0.02, High: 50,
		Scale: Log, Spread: "viscosity_factor",
		get: func(s *setup.Setup) float64 { return one(s.ViscosityFactor) },
		set: func(s *setup.Setup, x float64) { s.ViscosityFactor = x }}
	q.band = func(s *setup.Setup, x float64) Band {
		if Trusted(s.Material) {
			return q.factor(x, TrustedFactor, "the law is measured or fitted")
		}
		return q.factor(x, AssumedFactor, "the law is assumed or a placeholder")
	}
	return q, true
}

// Trusted tells whether the viscosity law of a material is measured or fitted throughout, and no placeholder.
func Trusted(m *materials.Material) bool {
	if m.Placeholder {
		return false
	}
	for _, o := range m.Origins {
		switch o.Key {
		case "viscosity.n", "viscosity.tau_star_Pa", "viscosity.D1_Pa_s", "viscosity.eta0_Pa_s", "viscosity.K_Pa_sn",
			"viscosity.lambda_s":
			if o.Trust == materials.Assumed {
				return false
			}
		}
	}
	return true
}

func entrance(s *setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Entrance, Key: "material.entrance_factor", Label: "entrance loss factor", Low: 0.02, High: 50,
		Scale: Log, Spread: "entrance_factor",
		get: func(s *setup.Setup) float64 { return one(s.EntranceFactor) },
		set: func(s *setup.Setup, x float64) { s.EntranceFactor = x }}
	q.band = func(s *setup.Setup, x float64) Band {
		e := s.Material.Entrance
		if !(e.K > 0 && e.Low > 0 && e.High > 0) {
			return q.known(x, "the material has no entrance loss")
		}
		return q.between(x, x*e.Low/e.K, x*e.High/e.K, "band of the material's entrance data, "+string(e.Trust))
	}
	return q, s.Material != nil
}

func flowPoint(s *setup.Setup) (Quantity, bool) {
	q := Quantity{ID: FlowPoint, Key: "material.flow_point_degC", Label: "flow point", Low: unit.Kelvin(27),
		High:   unit.Kelvin(427),
		Spread: "flow_point_K",
		get:    func(s *setup.Setup) float64 { return s.Material.FirstFlow },
		set: func(s *setup.Setup, x float64) {
			m := *s.Material
			m.FirstFlow = x
			s.Material = &m
		}}.degC()
	q.band = func(_ *setup.Setup, x float64) Band { return q.normal(x, FlowPointBand, "assumed") }
	return q, s.Material != nil && !s.Material.SemiCrystalline()
}

func filament(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Filament, Key: "filament.diameter_mm", Label: "filament diameter", Low: 1e-3, High: 5e-3,
		get: func(s *setup.Setup) float64 { return s.Filament.Diameter },
		set: func(s *setup.Setup, x float64) {
			s.Filament.Diameter = x
			if s.Feeder == nil {
				return
			}
			f := refeed(s)
			if f.Model != nil {
				f.Model.Diameter = x
			}
			if f.Stock != nil {
				f.Stock.Diameter = x
			}
		},
		edits: func(s *setup.Setup) []Edit { // the feeder keeps its speeds
			out := []Edit{{Key: "filament.diameter_mm", Value: Number(s.Filament.Diameter / unit.MM)}}
			for i, p := range s.Feeder.Points {
				out = append(out, Edit{Key: fmt.Sprintf("feeder.point[%d].flow_mm3_s", i+1),
					Value: Number(p.Speed * s.Area() / unit.MM3), IfPresent: true})
			}
			return out
		}}.mm()
	q.band = func(s *setup.Setup, x float64) Band {
		return q.normal(x, s.Filament.Tolerance, "filament.tolerance_mm")
	}
	return q, true
}

func inlet(*setup.Setup) (Quantity, bool) {
	return Quantity{ID: Inlet, Key: "filament.inlet_degC", Label: "filament temperature at the inlet",
		Low: unit.Kelvin(-20), High: unit.Kelvin(120),
		get: func(s *setup.Setup) float64 { return s.Filament.Inlet },
		set: func(s *setup.Setup, x float64) { s.Filament.Inlet = x }}.degC(), true
}

func block(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Block, Key: "hot_end.block_degC", Label: "block temperature", Low: unit.Kelvin(50),
		High: unit.Kelvin(500), Spread: "block_K",
		get: func(s *setup.Setup) float64 { return s.Block },
		set: func(s *setup.Setup, x float64) { s.SetBlock(x) }}.degC()
	q.band = func(_ *setup.Setup, x float64) Band { return q.normal(x, BlockBand, "sensor, assumed") }
	return q, true
}

// contact is the hot end's wall contact. Sections with a finite one of their own keep their ratio to it; to and from
// perfect contact they keep their value.
func contact(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Contact, Key: "hot_end.contact_W_m2K", Label: "wall contact", Unit: "W/(m2 K)", Low: 1,
		High: math.Inf(1), Scale: Reciprocal, Spread: "contact_W_m2K",
		get: func(s *setup.Setup) float64 { return s.Contact },
		set: func(s *setup.Setup, x float64) {
			finite := !math.IsInf(x, 1) && !math.IsInf(s.Contact, 1)
			for i := range s.HotEnd.Sections {
				sec := &s.HotEnd.Sections[i]
				switch {
				case sec.H == s.Contact:
					sec.H = x
				case finite:
					sec.H *= x / s.Contact
				}
			}
			s.Contact = x
		},
		edits: func(s *setup.Setup) []Edit {
			out := []Edit{{Key: "hot_end.contact_W_m2K", Value: Number(s.Contact)}}
			for i := range s.HotEnd.Sections {
				out = append(out, Edit{Key: section(i) + "contact_W_m2K", Value: Number(s.HotEnd.Sections[i].H),
					IfPresent: true})
			}
			return out
		}}
	q.band = func(_ *setup.Setup, x float64) Band {
		if math.IsInf(x, 1) {
			return q.known(x, "infinite, as given")
		}
		return q.between(x, ContactLow*x, math.Inf(1), "assumed")
	}
	return q, true
}

func heated(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Heated, Key: "hot_end.heated_share", Label: "heated share of the barrel", Low: 0.1, High: 1,
		Spread: "heated_share",
		get:    func(s *setup.Setup) float64 { return one(s.HotEnd.HeatedShare) },
		set:    func(s *setup.Setup, x float64) { s.HotEnd.HeatedShare = x }}
	q.band = func(_ *setup.Setup, x float64) Band { return q.between(x, x-HeatedBand, x+HeatedBand, "assumed") }
	return q, true
}

func eccentricity(s *setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Eccentricity, Key: "hot_end.eccentricity", Label: "eccentricity of the rod", Low: 0, High: 0.95,
		Spread: "eccentricity",
		get:    func(s *setup.Setup) float64 { return s.Stock.Eccentricity },
		set:    func(s *setup.Setup, x float64) { s.Stock.Eccentricity = x }}
	q.band = func(_ *setup.Setup, x float64) Band {
		return q.between(x, x-EccentricityLow, math.Min(x+EccentricityHigh, q.High), "assumed")
	}
	return q, !s.Stock.Stick
}

func tip(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Tip, Key: "hot_end.tip_drop_K", Label: "tip below the sensor", Unit: "K", Low: 0, High: 100,
		Spread: "tip_drop_K",
		get:    func(s *setup.Setup) float64 { return s.HotEnd.TipDrop },
		set:    func(s *setup.Setup, x float64) { s.HotEnd.TipDrop = x }}
	q.band = func(_ *setup.Setup, x float64) Band { return q.between(x, x-TipLow, x+TipHigh, "assumed") }
	return q, true
}

// barrel is the passage that the filament enters, with all of its width that follows; cones keep their angle.
func barrel(s *setup.Setup) (Quantity, bool) {
	if len(s.HotEnd.Sections) == 0 || s.HotEnd.Sections[0].Shape != flow.Tube ||
		same(s.HotEnd.Sections[0].D1, s.HotEnd.Bore()) {
		return Quantity{}, false
	}
	q := Quantity{ID: Barrel, Key: section(0) + "diameter_mm", Label: "barrel diameter", Low: 1e-3, High: 50e-3,
		Spread: "barrel_mm",
		get:    func(s *setup.Setup) float64 { return s.HotEnd.Sections[0].D1 },
		set: func(s *setup.Setup, x float64) {
			x = math.Max(x, s.Filament.Diameter+minGap)
			from := s.HotEnd.Sections[0].D1
			for i := range s.HotEnd.Sections {
				switch sec := &s.HotEnd.Sections[i]; {
				case sec.Shape == flow.Tube && same(sec.D1, from):
					sec.D1, sec.D2 = x, x
				case sec.Shape == flow.Cone && same(sec.D1, from):
					sec.D1 = x
					keepAngle(sec)
				}
			}
		},
		edits: sizes}.mm()
	q.band = func(_ *setup.Setup, x float64) Band { return q.normal(x, BarrelBand, "assumed") }
	return q, true
}

// minGap is the least difference of barrel and filament diameter (m) that a barrel is varied to: a filament does fit.
const minGap = 10e-6

func same(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func keepAngle(s *flow.Section) {
	if s.Length > 0 && s.Half > 0 {
		s.Length = math.Abs(s.D1-s.D2) / 2 / math.Tan(s.Half)
	}
}

// bore is the narrowest passage, with what leads into it; cones keep their angle.
func bore(s *setup.Setup) (Quantity, bool) {
	at := -1
	for i := range s.HotEnd.Sections {
		sec := &s.HotEnd.Sections[i]
		if sec.Shape == flow.Tube && same(sec.D1, s.HotEnd.Bore()) {
			at = i
		}
	}
	if at < 0 {
		return Quantity{}, false
	}
	q := Quantity{ID: Bore, Key: section(at) + "diameter_mm", Label: "nozzle bore", Low: 0.05e-3, High: 5e-3,
		Spread: "bore_mm",
		get:    func(s *setup.Setup) float64 { return s.HotEnd.Bore() },
		set:    func(s *setup.Setup, x float64) { s.HotEnd.Rebore(x) },
		edits:  sizes}.mm()
	q.band = func(_ *setup.Setup, x float64) Band { return q.normal(x, BoreBand, "assumed") }
	return q, true
}

// sizes writes every diameter of the path, and the length of cones whose file gives a length.
func sizes(s *setup.Setup) []Edit {
	var out []Edit
	for i := range s.HotEnd.Sections {
		sec := &s.HotEnd.Sections[i]
		if sec.Shape != flow.Tube && sec.Shape != flow.Cone {
			continue
		}
		out = append(out, Edit{Key: section(i) + "diameter_mm", Value: Number(sec.D1 / unit.MM), IfPresent: true})
		if sec.Shape == flow.Cone {
			out = append(out, Edit{Key: section(i) + "end_diameter_mm", Value: Number(sec.D2 / unit.MM),
				IfPresent: true},
				Edit{Key: section(i) + "length_mm", Value: Number(sec.Length / unit.MM), IfPresent: true})
		}
	}
	return out
}

func section(i int) string { return fmt.Sprintf("hot_end.section[%d].", i+1) }

// length is the length of one section.
func length(id ID, label, spread string, i int) Quantity {
	return Quantity{ID: id, Key: section(i) + "length_mm", Label: label, Low: 1e-5, High: 0.5, Spread: spread,
		get: func(s *setup.Setup) float64 { return s.HotEnd.Sections[i].Length },
		set: func(s *setup.Setup, x float64) { s.HotEnd.Sections[i].Length = x }}.mm()
}

// zone is the longest section that does not narrow.
func zone(s *setup.Setup) (Quantity, bool) {
	long := -1
	for i := range s.HotEnd.Sections {
		if sec := &s.HotEnd.Sections[i]; sec.Shape != flow.Cone &&
			(long < 0 || sec.Length > s.HotEnd.Sections[long].Length) {
			long = i
		}
	}
	if long < 0 {
		return Quantity{}, false
	}
	return length(Zone, "length of the melt zone", "zone_mm", long), true
}

// land is the narrow end of the nozzle.
func land(s *setup.Setup) (Quantity, bool) {
	n := len(s.HotEnd.Sections) - 1
	if n < 1 || s.HotEnd.Sections[n].Shape != flow.Tube {
		return Quantity{}, false
	}
	return length(Land, "land length", "land_mm", n), true
}

func heater(s *setup.Setup) (Quantity, bool) {
	return Quantity{ID: Heater, Key: "hot_end.heater_W", Label: "heater power", Unit: "W", Low: 0, High: 2000,
		get: func(s *setup.Setup) float64 { return s.HotEnd.Block.Power },
		set: func(s *setup.Setup, x float64) { s.HotEnd.Block.Power = x }}, s.HotEnd.Block.Power > 0
}

func drag(*setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Drag, Key: "path.drag_N", Label: "path drag", Unit: "N", Low: 0, High: 200, Spread: "drag_N",
		get: func(s *setup.Setup) float64 { return s.Path.Drag },
		set: func(s *setup.Setup, x float64) { s.Path.Drag = x }}
	q.band = func(_ *setup.Setup, x float64) Band { return q.between(x, x-DragBand, x+DragBand, "assumed") }
	return q, true
}

func bend(*setup.Setup) (Quantity, bool) {
	return Quantity{ID: Bend, Key: "path.bend_deg", Label: "sum of bends", Low: 0, High: 20 * math.Pi,
		get: func(s *setup.Setup) float64 { return s.Path.Bend },
		set: func(s *setup.Setup, x float64) { s.Path.Bend = x }}.deg(), true
}

// force scales all that the feeder holds.
func force(s *setup.Setup) (Quantity, bool) {
	q := Quantity{ID: Force, Key: "feeder.force_factor", Label: "feeder force", Low: 0.05, High: 20, Scale: Linear,
		Spread: "feeder_force_share",
		get:    func(s *setup.Setup) float64 { return one(s.Feeder.Factor) },
		set:    func(s *setup.Setup, x float64) { refeed(s).Factor = x }}
	q.band = func(s *setup.Setup, x float64) Band {
		if len(s.Feeder.Points) == 0 {
			return q.normal(x, ForceBand*x, "a feeder by its data sheet, assumed")
		}
		if w := scatter(s.Feeder); w > 0 {
			return q.normal(x, 2*w*x, "from the repeats")
		}
		return q.normal(x, PointBand*x, "measured once, assumed")
	}
	return q, s.Feeder != nil
}

// scatter is the relative standard deviation of the mean of the measured points, pooled; 0 where no repeats were given.
func scatter(f *feeder.Feeder) float64 {
	var sum, n float64
	for _, p := range f.Points {
		if p.SD > 0 && p.Repeats > 1 {
			sum += p.SD * p.SD / (p.Force * p.Force) / float64(p.Repeats)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / n)
}

// refeed gives the set-up a feeder of its own to change.
func refeed(s *setup.Setup) *feeder.Feeder {
	s.Feeder = s.Feeder.Clone()
	return s.Feeder
}

// remodel changes the model of the feeder; measured points no longer speak for it, so they are scaled by the model.
func remodel(s *setup.Setup, change func(m *feeder.Model)) {
	f := refeed(s)
	base := make([]float64, len(f.Points))
	for i, p := range f.Points {
		base[i] = f.Model.At(p.Speed).Force
	}
	change(f.Model)
	for i, p := range f.Points {
		if base[i] > 0 {
			f.Points[i].Force *= f.Model.At(p.Speed).Force / base[i]
		}
	}
	if n, err := feeder.New(*f); err == nil { // points that were good stay so: forces stay above 0
		s.Feeder = n
	}
}

// model is a quantity of the feeder's model; the file then needs the points too, which the model scales.
func model(q Quantity) Quantity {
	key := q.Key
	q.edits = func(s *setup.Setup) []Edit {
		out := []Edit{{Key: key, Value: Number(q.Edge(q.get(s)))}}
		for i, p := range s.Feeder.Points {
			out = append(out, pointEdits(fmt.Sprintf("feeder.point[%d].", i+1), p.Force)...)
		}
		return out
	}
	return q
}

func current(s *setup.Setup) (Quantity, bool) {
	if s.Feeder == nil || s.Feeder.Model == nil || s.Feeder.Model.Motor == nil {
		return Quantity{}, false
	}
	q := model(Quantity{ID: Current, Key: "feeder.motor.current_A", Label: "motor current, peak", Unit: "A",
		Low: 0.01, High: 20,
		get: func(s *setup.Setup) float64 { return s.Feeder.Model.Motor.Current },
		set: func(s *setup.Setup, x float64) {
			remodel(s, func(m *feeder.Model) { m.Motor.Current = x })
		}})
	edits := q.edits
	q.edits = func(s *setup.Setup) []Edit { // the file may give an RMS value: the kind goes with the number
		return append(edits(s), Edit{Key: "feeder.motor.current_kind", Value: `"peak"`})
	}
	return q, true
}

func ratio(s *setup.Setup) (Quantity, bool) {
	if s.Feeder == nil || s.Feeder.Model == nil || s.Feeder.Model.Motor == nil {
		return Quantity{}, false
	}
	return model(Quantity{ID: Ratio, Key: "feeder.drive.ratio", Label: "gear ratio", Low: 0.05, High: 500,
		get: func(s *setup.Setup) float64 { return s.Feeder.Model.Drive.Ratio },
		set: func(s *setup.Setup, x float64) {
			remodel(s, func(m *feeder.Model) { m.Drive.Ratio = x })
		}}), true
}

func wheels(s *setup.Setup) (Quantity, bool) {
	if s.Feeder == nil || s.Feeder.Model == nil || s.Feeder.Model.Grip == nil {
		return Quantity{}, false
	}
	return model(Quantity{ID: Wheels, Key: "feeder.grip.wheels", Label: "driven wheels", Low: 1, High: 8,
		get: func(s *setup.Setup) float64 { return float64(s.Feeder.Model.Grip.Wheels) },
		set: func(s *setup.Setup, x float64) {
			remodel(s, func(m *feeder.Model) { m.Grip.Wheels = int(math.Round(x)) })
		}}), true
}

func gap(s *setup.Setup) (Quantity, bool) {
	if s.Feeder == nil || s.Feeder.Model == nil || s.Feeder.Model.Gap == nil {
		return Quantity{}, false
	}
	return model(Quantity{ID: Gap, Key: "feeder.gap.length_mm", Label: "unsupported gap below the gear",
		Low: 1e-5, High: 0.5,
		get: func(s *setup.Setup) float64 { return s.Feeder.Model.Gap.Length },
		set: func(s *setup.Setup, x float64) {
			remodel(s, func(m *feeder.Model) { m.Gap.Length = x })
		}}.mm()), true
}

func target(*setup.Setup) (Quantity, bool) {
	return Quantity{ID: Target, Key: "target.flow_mm3_s", Label: "wanted flow", Low: 0, High: 1e-6,
		get: func(s *setup.Setup) float64 { return s.Target },
		set: func(s *setup.Setup, x float64) { s.Target = x }}.flow(), true
}

// layer and lineWidth are those of the print, by the nozzle where they are not given.
func layer(s *setup.Setup) (Quantity, bool) {
	_, _, ok := s.PrintLine()
	return Quantity{ID: Layer, Key: "target.layer_height_mm", Label: "layer height", Low: 1e-5, High: 5e-3,
		get: func(s *setup.Setup) float64 { l, _, _ := s.PrintLine(); return l.Height },
		set: func(s *setup.Setup, x float64) { s.Line.Height = x }}.mm(), ok
}

func lineWidth(s *setup.Setup) (Quantity, bool) {
	_, _, ok := s.PrintLine()
	return Quantity{ID: LineWidth, Key: "target.line_width_mm", Label: "line width", Low: 1e-5, High: 50e-3,
		get: func(s *setup.Setup) float64 { l, _, _ := s.PrintLine(); return l.Width },
		set: func(s *setup.Setup, x float64) { s.Line.Width = x }}.mm(), ok
}

func safety(*setup.Setup) (Quantity, bool) {
	return Quantity{ID: Safety, Key: "limits.safety_factor", Label: "safety factor", Low: 1, High: 10,
		get: func(s *setup.Setup) float64 { return s.Limits.Safety },
		set: func(s *setup.Setup, x float64) { s.Limits.Safety = x }}, true
}

func remould(s *setup.Setup) *mould.Spec {
	s.Mould = s.Mould.Clone()
	return s.Mould
}

func mouldSurface(s *setup.Setup) (Quantity, bool) {
	return Quantity{ID: Mould, Key: "mould.mould_degC", Label: "mould temperature", Low: unit.Kelvin(-20),
		High: unit.Kelvin(350),
		get:  func(s *setup.Setup) float64 { return s.Mould.Surface },
		set:  func(s *setup.Setup, x float64) { remould(s).Surface = x }}.degC(), s.Mould != nil
}

func fillFlow(s *setup.Setup) (Quantity, bool) {
	return Quantity{ID: FillFlow, Key: "mould.flow_mm3_s", Label: "set flow while filling", Low: 1e-11, High: 1e-6,
		get: func(s *setup.Setup) float64 { return s.Mould.Flow },
		set: func(s *setup.Setup, x float64) { remould(s).Flow = x }}.flow(), s.Mould != nil
}

func mouldContact(s *setup.Setup) (Quantity, bool) {
	return Quantity{ID: MouldContact, Key: "mould.contact_W_m2K", Label: "contact of melt and mould", Unit: "W/(m2 K)",
		Low: 1, High: math.Inf(1), Scale: Reciprocal,
		get: func(s *setup.Setup) float64 { return s.Mould.Contact },
		set: func(s *setup.Setup, x float64) { remould(s).Contact = x }}, s.Mould != nil
}

func mouldNoFlow(s *setup.Setup) (Quantity, bool) {
	return Quantity{ID: MouldNoFlow, Key: "mould.no_flow_degC", Label: "no-flow temperature in the mould",
		Low: unit.Kelvin(20), High: unit.Kelvin(400),
		get: func(s *setup.Setup) float64 {
			if s.Mould.NoFlow > 0 {
				return s.Mould.NoFlow
			}
			return mould.NoFlow(s.Material)
		},
		set: func(s *setup.Setup, x float64) { remould(s).NoFlow = x }}.degC(), s.Mould != nil && s.Material != nil
}

// thick returns the first element of a mould's product, or of its feed, and the size that stands for all of them.
func thick(s *setup.Setup, cavity bool) (i int, size *float64, key string) {
	if s.Mould == nil {
		return -1, nil, ""
	}
	for i := range s.Mould.Elements {
		e := &s.Mould.Elements[i]
		if e.Cavity != cavity {
			continue
		}
		if e.Height > 0 {
			return i, &e.Height, "thickness_mm"
		}
		return i, &e.D1, "diameter_mm"
	}
	return -1, nil, ""
}

// mouldSize scales the thickness of all elements of the product, or of its feed, in one ratio.
func mouldSize(s *setup.Setup, id ID, label string, cavity bool) (Quantity, bool) {
	i, _, key := thick(s, cavity)
	if i < 0 {
		return Quantity{}, false
	}
	high := 0.1 // of a diameter
	if key == "thickness_mm" {
		high = 0.05
	}
	return Quantity{ID: id, Key: fmt.Sprintf("mould.element[%d].%s", i+1, key), Label: label, Low: 1e-5, High: high,
		Scale: Log,
		get:   func(s *setup.Setup) float64 { _, p, _ := thick(s, cavity); return *p },
		set: func(s *setup.Setup, x float64) {
			m := remould(s)
			_, p, _ := thick(s, cavity)
			f := x / *p
			for k := range m.Elements {
				e := &m.Elements[k]
				if e.Cavity != cavity {
					continue
				}
				e.Height *= f
				if e.Shape != mould.DiscGap {
					e.D1 *= f
					if !cavity {
						e.D2 *= f
					}
				}
			}
		},
		edits: func(s *setup.Setup) []Edit {
			var out []Edit
			for k, e := range s.Mould.Elements {
				if e.Cavity != cavity {
					continue
				}
				at := fmt.Sprintf("mould.element[%d].", k+1)
				for _, v := range []struct {
					key string
					x   float64
				}{{"thickness_mm", e.Height}, {"diameter_mm", e.D1}, {"end_diameter_mm", e.D2}} {
					out = append(out, Edit{Key: at + v.key, Value: Number(v.x / unit.MM), IfPresent: true})
				}
			}
			return out
		}}.mm(), true
}

func feed(s *setup.Setup) (Quantity, bool) {
	return mouldSize(s, Feed, "width of sprue, runners and gate", false)
}

func wall(s *setup.Setup) (Quantity, bool) {
	return mouldSize(s, Wall, "wall thickness of the part", true)
}
