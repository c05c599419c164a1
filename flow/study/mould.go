package study

import (
	"context"
	"fmt"
	"math"
	"strings"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/mould"
	"meltload/flow/quantity"
	"meltload/materials"
	"meltload/materials/num"
)

// MouldResult is the filling of a mould in edge units.
type MouldResult struct {
	Header
	Filled     bool         `q:"filled"`
	Where      string       `json:"where"`
	Why        string       `json:"why_short,omitempty"`
	Share      float64      `q:"filled_share"`
	Time       float64      `q:"fill_time"`
	LimitedAt  *float64     `q:"force_limited_from"`
	Melt       float64      `q:"melt"`
	Surface    float64      `q:"mould_surface"`
	SetFlow    float64      `q:"set_flow"`
	Volume     float64      `q:"shot"`
	Filament   float64      `q:"filament_length"`
	Peak       float64      `q:"peak_pressure"`
	DeadEnd    float64      `q:"dead_end_pressure"` // what the feeder can give against a full mould
	Mount      float64      `q:"force_on_mount"`
	Clamp      Interval     `q:"clamp"` // safety factor counted
	Safety     float64      `q:"clamp_safety_factor"`
	GateFreeze *float64     `q:"gate_freezes_after"`
	Cooling    *float64     `q:"cooling"`
	Frozen     float64      `q:"frozen_share"`
	Trace      []MouldPoint `json:"trace"`
	Profile    MouldProfile `json:"profile"`
	Ends       []MouldGain  `json:"ends"` // with what is not known at both ends
	Gains      []MouldGain  `json:"gains"`
	Map        MouldMap     `json:"map"`
	Balance    float64      `q:"energy_balance"`
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
	P       []float64   `q:"melt_pressure"`
	Element []string    `q:"element"`
	Frozen  []float64   `q:"frozen_share"` // of the thickness, by station
	NoFlow  float64     `q:"flow_point"`
}

// MouldGain is the filling with one thing changed.
type MouldGain struct {
	Change string  `q:"change"`
	Filled bool    `q:"filled" show:"no"`
	Share  float64 `q:"filled_share"`
	Time   float64 `q:"fill_time"`
	Peak   float64 `q:"peak_pressure"`
	Clamp  float64 `q:"clamp"`
}

// MouldMap is the longest flow in the last cavity by its thickness and the mould's temperature.
type MouldMap struct {
	Element   string      `json:"element"`
	Thickness []float64   `q:"thickness"`
	Mould     []float64   `q:"mould"`
	Longest   [][]float64 `q:"longest"` // by mould temperature, then thickness
	Asked     float64     `q:"asked"`
	Cap       float64     `q:"searched_to"`
	Thinnest  *float64    `q:"thinnest"` // that fills as long as asked at the case's mould; nil if none of those looked at does
}

// supply is what feeder and hot end can give at the nozzle, by flow.
type supply struct {
	c     *casefile.Case
	lnQ   []float64
	push  []float64 // N of the hot end alone
	block float64
}

// newSupply tabulates the push of the hot end up to a flow (m3/s).
func newSupply(c *casefile.Case, block, top float64) (*supply, float64, error) {
	s := &supply{c: c, block: block}
	m := march.New(&c.Case, march.Options{})
	var d flow.Solution
	const n = 15
	for i := range n {
		q := top * math.Pow(1e-3, 1-float64(i)/(n-1))
		if err := m.Solve(block, q, &d); err != nil {
			return nil, 0, err
		}
		s.lnQ, s.push = append(s.lnQ, math.Log(q)), append(s.push, d.Push)
	}
	return s, d.ExitBulk, nil
}

// hotEnd is the push (N) of the hot end at a flow.
func (s *supply) hotEnd(q float64) float64 {
	l := math.Log(math.Max(q, 1e-15))
	n := len(s.lnQ)
	if l <= s.lnQ[0] { // down to nothing in proportion to flow
		return s.push[0] * math.Exp(l-s.lnQ[0])
	}
	x := math.Min(float64(n-1)-1e-9, (l-s.lnQ[0])/(s.lnQ[1]-s.lnQ[0]))
	i := int(x)
	return s.push[i] + (x-float64(i))*(s.push[i+1]-s.push[i])
}

// pressure (Pa) left for the mould at a flow.
func (s *supply) pressure(q float64) float64 {
	v := q / s.c.Area()
	return math.Max(0, (s.c.Feeder.At(v).Force/s.c.Limits.Safety-s.hotEnd(q))/s.c.Area())
}

// fill runs one filling of a case at a block temperature.
func fill(ctx context.Context, c *casefile.Case, m *mould.Mould, block, q float64, s mould.Settings) (*mould.Result, *supply, float64, error) {
	sup, melt, err := newSupply(c, block, q)
	if err != nil {
		return nil, nil, 0, err
	}
	s.Melt, s.Flow, s.Supply = melt, q, sup.pressure
	r, err := mould.Fill(ctx, &c.Case, m, s)
	return r, sup, melt, err
}

// MouldCautions come with every filling.
var MouldCautions = []string{
	"The clamp forces are estimates: let a qualified person size clamp, plates and bolts, from the high value, with the maker's data. Never hold a mould shut by hand.",
	"Hot melt can blow by at the nozzle seat and the parting line: face shield, gloves, sleeves; stand aside; let the force fall to zero before opening.",
	"Vent the cavity at the end of the flow: trapped air burns the melt and stops it.",
	"Fumes grow with the stay in a hot barrel: extract them. Overheated acetal gives off formaldehyde, PVC hydrogen chloride: never PVC, and never the two together.",
	"Before reaching into the mould back the nozzle off and purge it: pressure caught in the barrel shoots melt out, also minutes later.",
	"A printed-resin mould is brittle: back it with a plate over its whole face, and keep away from its edges under pressure; it can shatter.",
	"Moulds and plates pinch and burn. Local codes and licensed practice come first.",
}

// FillMould fills the mould of a case, and says what helps. Errors: no mould in the case; a cancelled context.
func FillMould(ctx context.Context, c *casefile.Case) (*MouldResult, error) {
	if c.Mould == nil {
		return nil, fmt.Errorf("the case has no [mould]; meltload starter shows one")
	}
	m := c.Mould
	r, sup, melt, err := fill(ctx, c, &m.Mould, c.Block, m.Flow, mould.Settings{})
	if err != nil {
		return nil, err
	}
	out := &MouldResult{Header: sheetOf(c, "Mould: "+m.Name),
		Filled: r.Filled, Where: r.Where, Why: r.Why, Time: r.Time, LimitedAt: quantity.KnownIf(r.Limited > 0, r.Limited), Melt: melt, Surface: m.Wall, SetFlow: m.Flow,
		Volume: r.Volume, Peak: r.Peak, Safety: m.Safety, Balance: r.Balance,
		GateFreeze: quantity.KnownIf(r.GateFreeze > 0, r.GateFreeze), Cooling: quantity.KnownIf(r.Cooling > 0, r.Cooling),
		Clamp: Interval{Low: m.Safety * r.OpenLow, Best: m.Safety * r.Open, High: m.Safety * r.OpenHigh}}
	out.Good, out.Cautions = r.Filled, append(append([]string{}, MouldCautions...), out.Cautions[0])
	out.Warnings = materials.AddWarning(out.Warnings, r.Warnings...)
	out.DeadEnd = sup.pressure(0)
	length, _ := mould.Shot(r.Volume, c.Filament.Diameter, m.Flow)
	out.Filament = length
	step := 1 + len(r.Trace)/600
	for i, x := range r.Trace {
		if i%step != 0 && i != len(r.Trace)-1 {
			continue
		}
		push := sup.hotEnd(x.Flow) + x.Pressure*c.Area()
		out.Mount = math.Max(out.Mount, push)
		out.Trace = append(out.Trace, MouldPoint{Time: x.Time, Flow: x.Flow, Pressure: x.Pressure, Front: x.Front, Filled: x.Filled, Frozen: x.Frozen, Force: push, Open: x.Open, Limited: x.Limited})
		out.Share, out.Frozen = x.Filled, math.Max(out.Frozen, x.Frozen)
	}
	if out.Filled {
		out.Share = 1
	}
	held := c.Feeder.At(m.Flow/c.Area()).Force / c.Limits.Safety
	out.Uses = []Use{{"what the feeder holds", out.Mount / held, "highest push over what the feeder holds, safety factor counted"}, {"open thickness", out.Frozen, "most of the thickness frozen while filling"}}
	both := ends(c)
	out.Ends = make([]MouldGain, len(both))
	if err := each(&both, func(i int, e *end) error {
		x, _, _, err := fill(ctx, &e.Case, &m.Mould, e.Block, m.Flow, mould.Settings{})
		if err == nil {
			out.Ends[i] = gainOf(e.what, x, m.Safety)
		}
		return err
	}); err != nil {
		return nil, err
	}
	p := r.Profile
	out.Profile = MouldProfile{X: p.X, Half: p.Half, Face: p.Face, T: p.T, P: p.P, NoFlow: c.Material.FlowPoint()}
	for j := range p.X {
		out.Profile.Element = append(out.Profile.Element, m.Elements[p.Element[j]].Name)
		out.Profile.Frozen = append(out.Profile.Frozen, p.Frozen(j, out.Profile.NoFlow))
	}
	if err := out.gains(ctx, c, r); err != nil {
		return nil, err
	}
	if err := out.longest(ctx, c); err != nil {
		return nil, err
	}
	out.Sentence = out.sentence()
	return out, nil
}

func (r *MouldResult) sentence() string {
	time, pressure, share, force := quantity.Of("fill_time"), quantity.Of("peak_pressure"), quantity.Of("filled_share"), quantity.Of("clamp")
	var s string
	if r.Filled {
		s = fmt.Sprintf("The mould fills in %s at up to %s.", time.Text(r.Time), pressure.Text(r.Peak))
	} else {
		s = fmt.Sprintf("Short shot: %s filled after %s, the front in %s; %s.", share.Text(r.Share), time.Text(r.Time), r.Where, r.Why)
	}
	if r.LimitedAt != nil {
		s += fmt.Sprintf(" From %s on the force of the feeder sets the flow, not the set flow of %s.", time.Text(*r.LimitedAt), quantity.Text("set_flow", r.SetFlow))
	}
	s += fmt.Sprintf(" Clamp %s, up to %s if it is packed.", force.Text(r.Clamp.Best), force.Text(r.Clamp.High))
	var ends []string
	for _, e := range r.Ends {
		how := "short at " + share.Text(e.Share)
		if e.Filled {
			how = "full"
		}
		ends = append(ends, fmt.Sprintf("%s, %s at up to %s", e.Change, how, pressure.Text(e.Peak)))
	}
	return s + " Range: " + strings.Join(ends, "; ") + "."
}

// overCores runs jobs that need no workspace of their own over the cores.
func overCores(n int, job func(i int) error) error {
	return num.Parallel(n, func() func(int) error { return job })
}

// gains fills again with one thing changed at a time, beside the filling as it is.
func (r *MouldResult) gains(ctx context.Context, c *casefile.Case, asItIs *mould.Result) error {
	type change struct {
		text  string
		apply func(c *casefile.Case, m *mould.Mould, block, q *float64)
	}
	each := func(m *mould.Mould, cavity bool, f float64) {
		for i := range m.Elements {
			if e := &m.Elements[i]; e.Cavity == cavity {
				e.D1, e.Height = e.D1*pick(e.Shape == mould.DiscGap, 1, f), e.Height*f
				if !cavity && e.Shape != mould.DiscGap {
					e.D2 *= f
				}
			}
		}
	}
	list := []change{
		{"mould 20 K hotter", func(_ *casefile.Case, m *mould.Mould, _, _ *float64) { m.Wall += 20 }},
		{"block 15 K hotter", func(_ *casefile.Case, _ *mould.Mould, b, _ *float64) { *b += 15 }},
		{"sprue, runners and gate 30 % wider", func(_ *casefile.Case, m *mould.Mould, _, _ *float64) { each(m, false, 1.3) }},
		{"wall of the part 25 % thicker", func(_ *casefile.Case, m *mould.Mould, _, _ *float64) { each(m, true, 1.25) }},
		{"set flow 50 % higher", func(_ *casefile.Case, _ *mould.Mould, _, q *float64) { *q *= 1.5 }},
		{"nozzle bore 50 % wider", func(c *casefile.Case, _ *mould.Mould, _, _ *float64) { c.HotEnd.Rebore(1.5 * c.HotEnd.Bore()) }},
	}
	r.Gains = make([]MouldGain, 1+len(list))
	r.Gains[0] = gainOf("as it is", asItIs, c.Mould.Safety)
	return overCores(len(list), func(i int) error {
		cc, m := *c, c.Mould.Mould
		m.Elements = append([]mould.Element{}, m.Elements...)
		cc.HotEnd.Sections = append([]flow.Section{}, c.HotEnd.Sections...)
		block, q := c.Block, c.Mould.Flow
		list[i].apply(&cc, &m, &block, &q)
		x, _, _, err := fill(ctx, &cc, &m, block, q, mould.Settings{})
		if err != nil {
			return fmt.Errorf("%s: %w", list[i].text, err)
		}
		r.Gains[1+i] = gainOf(list[i].text, x, c.Mould.Safety)
		return nil
	})
}

func gainOf(text string, x *mould.Result, safety float64) MouldGain {
	g := MouldGain{Change: text, Filled: x.Filled, Share: 1, Time: x.Time, Peak: x.Peak, Clamp: safety * x.Open}
	if !x.Filled {
		g.Share = 0
		if n := len(x.Trace); n > 0 {
			g.Share = x.Trace[n-1].Filled
		}
	}
	return g
}

func pick(yes bool, a, b float64) float64 {
	if yes {
		return a
	}
	return b
}

// longest maps how far melt runs in the last cavity, by its thickness and by the temperature of the mould.
func (r *MouldResult) longest(ctx context.Context, c *casefile.Case) error {
	last := -1
	for i, e := range c.Mould.Elements {
		if e.Cavity && (e.Shape == mould.StripGap || e.Shape == mould.DiscGap) {
			last = i
		}
	}
	if last < 0 {
		return nil
	}
	e := c.Mould.Elements[last]
	asked := e.Length
	if e.Shape == mould.DiscGap {
		asked = (e.D2 - e.D1) / 2
	}
	const reach = 6
	m := &r.Map
	m.Element, m.Asked, m.Cap = e.Name, asked, reach*asked
	for _, f := range []float64{0.4, 0.6, 0.8, 1, 1.3, 1.6} {
		m.Thickness = append(m.Thickness, e.Height*f)
	}
	for _, dT := range []float64{-30, 0, 20, 40} {
		if T := c.Mould.Wall + dT; T > 250 && T < c.Block-40 {
			m.Mould = append(m.Mould, T)
			m.Longest = append(m.Longest, make([]float64, len(m.Thickness)))
		}
	}
	sup, melt, err := newSupply(c, c.Block, c.Mould.Flow)
	if err != nil {
		return err
	}
	n := len(m.Thickness)
	err = overCores(n*len(m.Mould), func(k int) error {
		mm := c.Mould.Mould
		mm.Elements = append([]mould.Element{}, mm.Elements[:last+1]...)
		x := &mm.Elements[last]
		x.Height = m.Thickness[k%n]
		mm.Wall = m.Mould[k/n]
		for far := reach * asked; ; {
			x.Length = far
			if x.Shape == mould.DiscGap {
				x.D2 = x.D1 + 2*far
			}
			f, err := mould.Fill(ctx, &c.Case, &mm, mould.Settings{Melt: melt, Flow: c.Mould.Flow, Supply: sup.pressure, Cells: 14, Stations: 60, Steps: 150})
			if err != nil {
				return err
			}
			front := 0.0
			if len(f.Trace) > 0 {
				front = f.Trace[len(f.Trace)-1].Front
			}
			for i := range last {
				front -= c.Mould.Elements[i].Length
			}
			front = math.Max(0, front)
			m.Longest[k/n][k%n] = front
			if far < 0.01*asked || front > 0.25*far { // finer stations until the answer spans enough of them
				return nil
			}
			far = math.Max(2.5*front, far/8)
		}
	})
	for k, T := range m.Mould {
		if math.Abs(T-c.Mould.Wall) < 0.01 {
			m.Thinnest = thinnest(m.Thickness, m.Longest[k], m.Asked)
		}
	}
	return err
}

// thinnest interpolates the thickness from which on the flow is as long as asked; nil if it never is.
func thinnest(h, longest []float64, asked float64) *float64 {
	for i, l := range longest {
		switch {
		case l < asked:
		case i == 0:
			return &h[0]
		default:
			return quantity.Known(h[i-1] + (h[i]-h[i-1])*(asked-longest[i-1])/(l-longest[i-1]))
		}
	}
	return nil
}
