package study

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"meltload/flow/assess"
	"meltload/flow/mould"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
)

// MouldResult is the filling of a mould.
type MouldResult struct {
	Header
	Verdict   string   `json:"verdict"` // full, likely full, uncertain, short; cannot be taken out
	Filled    bool     `                                 q:"filled"`
	ComesOut  bool     `                                 q:"comes_out"`
	Where     string   `json:"where"`
	Why       string   `json:"why_short,omitempty"`
	WhyNotOut string   `json:"why_not_out,omitempty"`
	Share     float64  `                                 q:"filled_share"`
	Time      float64  `                                 q:"fill_time"`
	LimitedAt *float64 `                                 q:"force_limited_from"`
	Melt      float64  `                                 q:"melt"`
	// in the hot end at rest, as warm as the block
	Available float64 `                                 q:"melt_available"`
	Wall      string  `json:"mould_material"`
	Surface   float64 `                                 q:"mould"` // before the melt comes
	// face at the end of filling, where it is warmest
	Hottest  float64  `                                 q:"mould_surface"`
	Contact  *float64 `                                 q:"mould_contact"` // nil for perfect contact
	NoFlow   float64  `                                 q:"no_flow"`
	SetFlow  float64  `                                 q:"set_flow"`
	Volume   float64  `                                 q:"shot"`
	Filament float64  `                                 q:"filament_length"`
	Peak     float64  `                                 q:"peak_pressure"`
	// what the feeder can give against a full mould
	DeadEnd float64 `                                 q:"dead_end_pressure"`
	Mount   float64 `                                 q:"force_on_mount"`
	// Clamp has the safety factor counted. Low is the lowest of the highest forces of all fillings looked at and of the
	// force on the cavities alone at the end of this one; Best is the highest of this one; High is that of a mould
	// packed before it freezes.
	Clamp      Interval `                                 q:"clamp"`
	Safety     float64  `                                 q:"clamp_safety_factor"`
	GateFreeze *float64 `                                 q:"gate_freezes_after"` // hold until then
	Cooling    *float64 `                                 q:"cooling"`
	Cycle      *float64 `                                 q:"cycle"`
	ShrinkLow  *float64 `                                 q:"shrinkage_low"`
	ShrinkHigh *float64 `                                 q:"shrinkage_high"`
	// until the gate freezes, for no shrinkage
	HoldFor     *float64     `                                 q:"hold_pressure"`
	ShrinkBasis string       `json:"shrinkage_basis,omitempty"`
	Frozen      float64      `                                 q:"frozen_share"`
	Trace       []MouldPoint `json:"trace"`
	Profile     MouldProfile `json:"profile"`
	Ends        []MouldGain  `json:"ends"`   // with all that is not known at both ends
	Doubts      []MouldGain  `json:"doubts"` // with one thing at a time
	Gains       []MouldGain  `json:"gains"`
	Map         MouldMap     `json:"map"`
	Shots       []MouldShot  `json:"shots"` // one after the other
	Balance     float64      `                                 q:"energy_balance"`
}

// MouldPoint is the mould at one time.
type MouldPoint struct {
	Time     float64 `q:"time"`
	Flow     float64 `q:"flow"`
	Pressure float64 `q:"nozzle_pressure"`
	Front    float64 `q:"front"`
	Filled   float64 `q:"filled_share"`
	Frozen   float64 `q:"frozen_share"`
	Force    float64 `q:"push"`
	Open     float64 `q:"opening"`
	Limited  bool    `q:"force_limited"`
}

// MouldProfile is the temperature at the end of filling: station by cell, from the middle (0) to the wall (1).
type MouldProfile struct {
	X       []float64   `q:"x"`
	Half    []float64   `q:"half_thickness"`
	Face    []float64   `q:"cell_outer_share"`
	T       [][]float64 `q:"cell"`
	Surface []float64   `q:"mould_surface"`
	P       []float64   `q:"melt_pressure"`
	Element []string    `q:"element"`
	Frozen  []float64   `q:"frozen_share"` // of the thickness, by station
	NoFlow  float64     `q:"no_flow"`
}

// MouldGain is the filling with something changed. Numbers are nil where there is no answer, and Note says why.
type MouldGain struct {
	Change string   `q:"change"`
	Filled bool     `q:"filled"        show:"no"`
	Share  *float64 `q:"filled_share"`
	Front  *float64 `q:"front"`
	Time   *float64 `q:"fill_time"`
	Peak   *float64 `q:"peak_pressure"`
	Clamp  *float64 `q:"clamp"`
	Note   string   `q:"note"`
}

// MouldMap is the longest flow in the last cavity by its thickness and the mould's temperature.
type MouldMap struct {
	Element   string    `json:"element"`
	Thickness []float64 `                           q:"thickness"`
	Mould     []float64 `                           q:"mould"`
	// by mould temperature, then thickness; nil where there is no answer
	Longest [][]*float64 `                           q:"longest"`
	Asked   float64      `                           q:"asked"`
	Cap     float64      `                           q:"searched_to"`
	// that fills as long as asked at the case's mould; nil if none of those looked at does
	Thinnest *float64 `                           q:"thinnest"`
	Why      []string `json:"no_answer,omitempty"`
}

// MouldShot is one of a row of shots.
type MouldShot struct {
	Number  int      `q:"shot_number"`
	Face    float64  `q:"face_at_start"`
	Set     *float64 `q:"centre_sets_after"`
	Eject   *float64 `q:"comes_out_after"`
	Shut    float64  `q:"shut"`
	Centre  float64  `q:"centre_at_opening"`
	Opening float64  `q:"face_at_opening"`
}

// MouldCautions come with every filling.
var MouldCautions = []string{
	"The clamp forces are estimates: let a qualified person size clamp, plates and bolts, from the high value, with " +
		"the maker's data. Never hold a mould shut by hand.",
	"Hot melt can blow by at the nozzle seat and the parting line: face shield, gloves, sleeves; stand aside; let " +
		"the force fall to zero before opening.",
	"Vent the cavity at the end of the flow: trapped air burns the melt and stops it.",
	"Fumes grow with the stay in a hot barrel: extract them. Overheated acetal gives off formaldehyde, PVC hydrogen " +
		"chloride: never PVC, and never the two together.",
	"Before reaching into the mould back the nozzle off and purge it: pressure caught in the barrel shoots melt out, " +
		"also minutes later.",
	"A printed-resin mould is brittle: back it with a plate over its whole face, and keep away from its edges under " +
		"pressure; it can shatter.",
	"Moulds and plates pinch and burn. Local codes and licensed practice come first.",
}

// FillMould fills the mould of a case, and says how sure that is and what helps. Errors: no mould in the case; one that
// has no answer; a cancelled context. A side question without an answer says so in its row.
func FillMould(ctx context.Context, c *setup.Setup) (*MouldResult, error) {
	if c.Mould == nil {
		return nil, errors.New("no mould in the set-up: [mould] of the case file, or Setup.Mould")
	}
	if err := c.Validate(); err != nil {
		return nil, err
	}
	f, err := assess.FillMould(ctx, c)
	if err != nil {
		return nil, err
	}
	out := mouldResult(c, f)
	out.Cautions = append(append([]string{}, MouldCautions...), out.Cautions[0])
	out.add(f.Warnings...)
	out.add(c.Feeder.Warnings(out.SetFlow / c.Area())...)
	out.DeadEnd = f.Supply.Pressure(0)
	out.Filament, _ = mould.Shot(f.Volume, c.Filament.Diameter, out.SetFlow)
	out.trace(c, f)
	if err := out.shots(ctx, c); err != nil {
		return nil, err
	}
	out.judge(c)
	out.shotNotes(c, f)
	if err := out.sides(ctx, c, f); err != nil {
		return nil, err
	}
	out.decide()
	out.Sentence = out.sentence()
	return out, nil
}

// mouldResult is what a filling says by itself.
func mouldResult(c *setup.Setup, f *assess.Filling) *MouldResult {
	m := c.Mould
	return &MouldResult{Header: headerOf(c, "Mould: "+m.Name), Filled: f.Filled, Where: f.Where, Why: f.Why,
		Share: f.Share(), Time: f.Time,
		LimitedAt: quantity.KnownIf(f.Limited > 0, f.Limited), Melt: f.Supply.Melt, Available: f.Supply.Available,
		Wall: m.Wall.Name, Surface: m.Surface, Hottest: m.Surface,
		Contact: quantity.KnownIf(true, m.Contact), NoFlow: f.Result.NoFlow, SetFlow: m.Flow,
		Volume: f.Volume, Peak: f.Peak, Safety: m.Safety, Balance: f.Balance,
		GateFreeze: quantity.KnownIf(f.GateFreeze > 0, f.GateFreeze),
		Cooling:    quantity.KnownIf(f.Cooling > 0, f.Cooling),
		Clamp:      Interval{Low: m.Safety * f.OpenLow, Best: m.Safety * f.Open, High: m.Safety * f.OpenHigh}}
}

// trace takes over the filling in time and the profile at its end.
func (r *MouldResult) trace(c *setup.Setup, f *assess.Filling) {
	step := 1 + len(f.Trace)/600
	for i, x := range f.Trace {
		r.Frozen = math.Max(r.Frozen, x.Frozen)
		push := f.Supply.Push(x.Flow, x.Pressure)
		r.Mount = math.Max(r.Mount, push)
		if i%step == 0 || i == len(f.Trace)-1 {
			r.Trace = append(r.Trace, MouldPoint{Time: x.Time, Flow: x.Flow, Pressure: x.Pressure, Front: x.Front,
				Filled: x.Filled, Frozen: x.Frozen,
				Force: push, Open: x.Open, Limited: x.Limited})
		}
	}
	held := c.Feeder.At(r.SetFlow/c.Area()).Force / c.Limits.Safety
	r.Uses = []Use{{"what the feeder holds", r.Mount / held,
		"highest push over what the feeder holds, safety factor counted"},
		{"open thickness", r.Frozen, "most of the thickness frozen while filling"}}
	p := f.Profile
	r.Profile = MouldProfile{X: p.X, Half: p.Half, Face: p.Face, T: p.T, Surface: p.Surface, P: p.P, NoFlow: r.NoFlow}
	for j := range p.X {
		r.Profile.Element = append(r.Profile.Element, c.Mould.Elements[p.Element[j]].Name)
		r.Profile.Frozen = append(r.Profile.Frozen, p.Frozen(j, r.NoFlow))
		r.Hottest = math.Max(r.Hottest, p.Surface[j])
	}
}

// shots follows the mould over a row of shots, and says what a cycle takes.
func (r *MouldResult) shots(ctx context.Context, c *setup.Setup) error {
	m := c.Mould
	if r.Cooling != nil {
		hold := math.Max(*r.Cooling, quantity.Or(r.GateFreeze, 0))
		r.Cycle = quantity.Known(r.Time + hold + m.Open)
	}
	if m.Cycle > 0 {
		r.Cycle = quantity.Known(m.Cycle)
	}
	if m.Surface >= c.Material.Ejection || m.Cycle > 0 && m.Cycle <= m.Open {
		return nil
	}
	air := m.Wall.AirT
	if air == 0 {
		air = c.HotEnd.Block.Ambient
	}
	xs, err := mould.Repeat(ctx, &c.Case, &m.Mould, mould.RepeatSettings{Melt: r.Melt, Shots: m.Shots, Cycle: m.Cycle,
		Open: m.Open, AirT: air, NoFlow: m.NoFlow})
	if err != nil {
		if ctx.Err() != nil {
			return err
		}
		r.warn("no-repeated-shots", "the row of shots has no answer: %v", err)
		return nil
	}
	for i, x := range xs {
		r.Shots = append(r.Shots, MouldShot{Number: i + 1, Face: x.Face, Set: quantity.KnownIf(x.Set > 0, x.Set),
			Eject: quantity.KnownIf(x.Eject > 0, x.Eject),
			Shut:  x.Shut, Centre: x.Centre, Opening: x.Opening})
	}
	return nil
}

// judge says whether the part fills and comes out, and from which shot on it no longer does.
func (r *MouldResult) judge(c *setup.Setup) {
	r.ComesOut = c.Mould.Surface < c.Material.Ejection && r.Cooling != nil
	why, from := "", 1
	eject := quantity.Text("centre_at_opening", c.Material.Ejection)
	switch {
	case c.Mould.Surface >= c.Material.Ejection:
		why = fmt.Sprintf("the mould at %s is not below the ejection temperature of %s",
			quantity.Text("mould", c.Mould.Surface), eject)
	case r.Cooling == nil:
		why = fmt.Sprintf("the centre is not at %s within an hour", eject)
	}
	for _, x := range r.Shots {
		if !r.ComesOut || x.Eject != nil {
			continue
		}
		r.ComesOut, from = false, x.Number
		if c.Mould.Cycle > 0 {
			why = fmt.Sprintf(
				"with a shot every %s the centre of shot %d is still at %s when the mould opens, %s is needed",
				quantity.Text("cycle", c.Mould.Cycle), x.Number, quantity.Text("centre_at_opening", x.Centre), eject)
		} else {
			why = fmt.Sprintf("the mould has become so warm by shot %d that the part is not at %s within %d s",
				x.Number, eject, mould.LongestShut)
		}
	}
	if r.ComesOut {
		return
	}
	r.WhyNotOut = "The part cannot be taken out: " + why
	if from > 1 {
		r.WhyNotOut = fmt.Sprintf("From shot %d on the part cannot be taken out: %s", from, why)
	}
	r.Warnings = slices.DeleteFunc(r.Warnings, func(w materials.Warning) bool { return w.Code == "mould-too-hot" })
	r.warn("cannot-be-taken-out", "%s", r.WhyNotOut)
}

// shotNotes says what the size of the shot means for melt and heater, and what the part shrinks by.
func (r *MouldResult) shotNotes(c *setup.Setup, f *assess.Filling) {
	x := f.Supply
	if r.Volume > x.Available && c.Block-x.Melt > 5 {
		r.warn("shot-larger-than-melt",
			"the shot of %s takes %.1f times the melt in the hot end: the first %s come at up to %s, the rest at %s "+
				"at the set flow; the calculation takes all of it at the lower "+
				"temperature", quantity.Text("shot", r.Volume),
			r.Volume/x.Available,
			quantity.Text("melt_available", x.Available), quantity.Text("block", c.Block),
			quantity.Text("melt", x.Melt))
	}
	if x.Centre < r.NoFlow {
		r.warn("cold-core", "at the set flow the centre leaves the nozzle at %s, below the no-flow temperature of %s: "+
			"fill more slowly or heat the block",
			quantity.Text("melt", x.Centre), quantity.Text("no_flow", r.NoFlow))
	}
	if p := c.HotEnd.Block.Power; p > 0 && x.Heater > p && r.Volume > x.Available {
		r.warn("heater-limit", "the set flow takes %s of heat and the heater gives %s: the block cools during the shot",
			quantity.Text("heater", x.Heater), quantity.Text("heater", p))
	}
	if r.Contact == nil {
		r.warn("perfect-contact",
			"contact with the mould is taken as perfect: real contact lets melt run 10 to 40 per cent further")
	}
	if c.Material.SemiCrystalline() && c.Material.Cooling[1] <= c.Material.Cooling[0] {
		r.warn("no-cooling-range",
			"the record of %s has no cooling range: it is taken to set at its melting range, which lets melt stop 10 "+
				"to 45 per cent too early", c.Material.Name)
	}
	if s, ok := mould.Shrink(c.Material, r.NoFlow, r.DeadEnd); ok {
		r.ShrinkLow, r.ShrinkHigh = quantity.Known(s.Low), quantity.Known(s.High)
		r.HoldFor = quantity.KnownIf(s.Pressure > 0, s.Pressure)
		r.ShrinkBasis = "computed: low if the feeder's force is held until the gate freezes, high if not"
		if s.Published {
			r.ShrinkBasis = "published, of parts moulded under pressure; more if not held"
		}
	}
}

// clamp widens the clamp force by what the fillings with something else assumed need, so that no row of a table lies
// outside of it.
func (r *MouldResult) clamp(others []assess.Variant, safety float64) {
	for _, v := range others {
		if f := v.Filling; f != nil {
			r.Clamp.Low = math.Min(r.Clamp.Low, safety*f.Open)
			r.Clamp.High = math.Max(r.Clamp.High, safety*f.OpenHigh)
		}
	}
}

// stiffness warns where the pressure hangs on the bound on the viscosity of melt that has set.
func (r *MouldResult) stiffness(doubts []assess.Variant) {
	low, high := r.Peak, r.Peak
	for _, d := range doubts {
		if d.SetMelt && d.Filling != nil {
			low, high = math.Min(low, d.Filling.Peak), math.Max(high, d.Filling.Peak)
		}
	}
	if high > 1.25*low {
		r.warn("set-melt-stiffness", "the pressure depends on the viscosity of melt that has set, which the material "+
			"data do not tell: %s to %s at the nozzle", quantity.Text("peak_pressure", low),
			quantity.Text("peak_pressure", high))
	}
}

// sides asks the side questions: range, doubts, gains, map.
func (r *MouldResult) sides(ctx context.Context, c *setup.Setup, f *assess.Filling) error {
	s, x := c, f.Supply
	rows := func(to *[]MouldGain, vs []assess.Variant, err error) error {
		for _, v := range vs {
			*to = append(*to, gainOf(v, c.Mould.Safety))
		}
		return err
	}
	ends, err := assess.MouldEnds(ctx, s, x)
	if err := rows(&r.Ends, ends, err); err != nil {
		return err
	}
	doubts, err := assess.MouldDoubts(ctx, s, x)
	if err := rows(&r.Doubts, doubts, err); err != nil {
		return err
	}
	r.stiffness(doubts)
	r.clamp(append(ends, doubts...), c.Mould.Safety)
	r.Gains = []MouldGain{gainOf(assess.Variant{What: "as it is", Filling: f}, c.Mould.Safety)}
	gains, err := assess.MouldGains(ctx, s, x)
	if err := rows(&r.Gains, gains, err); err != nil {
		return err
	}
	l, err := assess.FindLongest(ctx, s, x)
	if err != nil || l == nil {
		return err
	}
	r.Map = MouldMap{Element: c.Mould.Elements[l.Element].Name, Thickness: l.Thickness, Mould: l.Mould,
		Longest: l.Longest, Asked: l.Asked, Cap: l.Cap, Why: l.Why}
	for k, T := range l.Mould {
		if math.Abs(T-c.Mould.Surface) < 0.01 {
			h, ok := l.Thinnest(k)
			r.Map.Thinnest = quantity.KnownIf(ok, h)
		}
	}
	return nil
}

// decide gives the verdict. The fill is judged as every command judges: as the case stands, and with all that is not
// known at both ends.
func (r *MouldResult) decide() {
	fill := assess.JudgeEnds(r.endFills(0), r.Filled, r.endFills(1))
	switch {
	case r.Filled && !r.ComesOut:
		r.Verdict = "cannot be taken out"
	case fill == assess.Held:
		r.Verdict = "full, and comes out"
	case fill == assess.Likely:
		r.Verdict = "likely full, and comes out: short at one end of the range"
	case fill == assess.Uncertain && r.Filled:
		r.Verdict = "uncertain: full as the case stands, short at both ends of the range"
	case fill == assess.Uncertain:
		r.Verdict = "uncertain: short as the case stands, full at one end of the range"
	default:
		r.Verdict = "short"
	}
	r.Good = r.Filled && r.ComesOut && fill.Good()
}

// endFills tells whether the mould fills with all that is not known at one end; without an answer there, what the case
// itself says.
func (r *MouldResult) endFills(i int) bool {
	if i >= len(r.Ends) || r.Ends[i].Share == nil {
		return r.Filled
	}
	return r.Ends[i].Filled
}

func (r *MouldResult) sentence() string {
	time, pressure, share, force := quantity.Of("fill_time"), quantity.Of("peak_pressure"), quantity.Of("filled_share"),
		quantity.Of("clamp")
	var s string
	switch {
	case !r.Filled:
		s = fmt.Sprintf("Short shot: %s filled after %s, the front in %s; %s.", share.Text(r.Share), time.Text(r.Time),
			r.Where, r.Why)
	case !r.ComesOut:
		s = fmt.Sprintf("%s. The mould fills in %s at up to %s.", r.WhyNotOut, time.Text(r.Time),
			pressure.Text(r.Peak))
	default:
		s = fmt.Sprintf("The mould fills in %s at up to %s, and the part comes out after another %s.",
			time.Text(r.Time), pressure.Text(r.Peak), quantity.Text("cooling", *r.Cooling))
	}
	if r.LimitedAt != nil {
		s += fmt.Sprintf(" From %s on the force of the feeder sets the flow, not the set flow of %s.",
			time.Text(*r.LimitedAt), quantity.Text("set_flow", r.SetFlow))
	}
	s += fmt.Sprintf(" Clamp %s, up to %s if it is packed.", force.Text(r.Clamp.Best), force.Text(r.Clamp.High))
	var ends []string
	for _, e := range r.Ends {
		how := "no answer"
		if e.Share != nil {
			how = "short at " + share.Text(*e.Share)
		}
		if e.Filled {
			how = "full"
		}
		ends = append(ends, how)
	}
	if len(ends) == 2 {
		s += " Range: with all unknowns favourable " + ends[0] + ", with all unfavourable " + ends[1] + "."
	}
	if head, _, found := strings.Cut(r.Verdict, ":"); found { // likely or uncertain: said first
		s = strings.ToUpper(head[:1]) + head[1:] + ". " + s
	}
	return s
}

func gainOf(v assess.Variant, safety float64) MouldGain {
	f := v.Filling
	if f == nil {
		return MouldGain{Change: v.What, Note: v.Why}
	}
	return MouldGain{Change: v.What, Filled: f.Filled, Share: quantity.Known(f.Share()), Front: quantity.Known(f.Front),
		Time: quantity.Known(f.Time), Peak: quantity.Known(f.Peak), Clamp: quantity.Known(safety * f.Open), Note: f.Why}
}
