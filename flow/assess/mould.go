package assess

import (
	"context"
	"errors"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// Supply is what feeder and hot end can give at the nozzle exit, by flow.
type Supply struct {
	s    *setup.Setup
	lnQ  []float64
	push []float64 // N of the hot end alone

	Melt   float64 // K, mixing cup at the exit once the flow is steady
	Centre float64 // K, its centre
	Heater float64 // W that the steady flow takes
	// Available is the melt (m3) that a hot end at rest holds, from the start of the heated length on: that much comes
	// as warm as the block, what follows as Melt.
	Available float64
}

// ErrMould reports a mould that cannot be asked about.
var ErrMould = errors.New("mould")

// NewSupply tabulates the push of the hot end up to a flow (m3/s), and what comes out at that flow. Errors: a flow or
// block temperature that has no answer, in units of the case file.
func NewSupply(s *setup.Setup, top float64) (*Supply, error) {
	x := &Supply{s: s}
	m := march.New(&s.Case, march.Options{})
	var d flow.Solution
	const n = 15
	for i := range n {
		q := top * math.Pow(1e-3, 1-float64(i)/(n-1))
		if err := m.Solve(s.Block, q, &d); err != nil {
			return nil, fmt.Errorf("%w: no answer of the hot end at %.3g mm3/s with the block at %.0f degC "+
				"(mould.flow_mm3_s, hot_end.block_degC): %v",
				ErrMould, q/unit.MM3, unit.Celsius(s.Block), err)
		}
		x.lnQ, x.push = append(x.lnQ, math.Log(q)), append(x.push, d.Push)
	}
	x.Melt, x.Centre, x.Heater, x.Available = d.ExitBulk, d.ExitCentre, d.Heater, s.HotEnd.Volume()
	if x.Melt <= s.Mould.Surface {
		return nil, fmt.Errorf("%w: at mould.flow_mm3_s = %.3g the melt leaves the nozzle at %.0f degC, not warmer "+
			"than mould.mould_degC = %.0f: fill more slowly or heat the "+
			"block", ErrMould, top/unit.MM3, unit.Celsius(x.Melt),
			unit.Celsius(s.Mould.Surface))
	}
	return x, nil
}

// Push is the push (N) at a flow (m3/s) against a pressure (Pa) at the nozzle exit.
func (x *Supply) Push(q, p float64) float64 { return x.hotEnd(q) + p*x.s.Area() }

// hotEnd is the push (N) of the hot end at a flow.
func (x *Supply) hotEnd(q float64) float64 {
	l := math.Log(math.Max(q, 1e-15))
	n := len(x.lnQ)
	if l <= x.lnQ[0] { // down to nothing in proportion to flow
		return x.push[0] * math.Exp(l-x.lnQ[0])
	}
	at := math.Min(float64(n-1)-1e-9, (l-x.lnQ[0])/(x.lnQ[1]-x.lnQ[0]))
	i := int(at)
	return x.push[i] + (at-float64(i))*(x.push[i+1]-x.push[i])
}

// Pressure is what is left (Pa) for the mould at a flow (m3/s), the safety factor counted.
func (x *Supply) Pressure(q float64) float64 {
	v := q / x.s.Area()
	return math.Max(0, (x.s.Feeder.At(v).Force/x.s.Limits.Safety-x.hotEnd(q))/x.s.Area())
}

// Filling is the mould of a set-up, filled.
type Filling struct {
	*mould.Result
	Supply *Supply
}

// Share is the share of the mould that is full at the end.
func (f *Filling) Share() float64 {
	if f.Filled {
		return 1
	}
	if n := len(f.Trace); n > 0 {
		return f.Trace[n-1].Filled
	}
	return 0
}

// FillMould fills the mould of a set-up with what its feeder and hot end give. Errors: no mould; one that cannot be
// asked about (ErrMould); a cancelled context. A short shot is a result.
func FillMould(ctx context.Context, s *setup.Setup) (*Filling, error) {
	if s.Mould == nil {
		return nil, fmt.Errorf("%w: the set-up has none", ErrMould)
	}
	x, err := NewSupply(s, s.Mould.Flow)
	if err != nil {
		return nil, err
	}
	return fillWith(ctx, s, x, x.Melt)
}

// fillWith fills with a supply that is known and melt at a temperature (K).
func fillWith(ctx context.Context, s *setup.Setup, x *Supply, melt float64) (*Filling, error) {
	set := s.Mould.Settings()
	set.Melt, set.Supply = melt, x.Pressure
	r, err := mould.Fill(ctx, &s.Case, &s.Mould.Mould, set)
	if err != nil {
		return nil, err
	}
	return &Filling{r, x}, nil
}

// Variant is a filling with something changed. One that could not be calculated has no Filling and says why.
type Variant struct {
	What    string
	Filling *Filling
	Why     string
	SetMelt bool // what is changed is the bound on the viscosity of melt that has set
}

// variant is one to run.
type variant struct {
	what    string
	make    func() (*setup.Setup, string) // "" or why it does not apply
	melt    func(f *Supply) float64       // nil for the steady melt
	setMelt bool
	same    bool // hot end and flow are those of the set-up: its supply serves
}

// run fills all variants over the cores. Only a cancelled context is an error: a variant without an answer says so in
// its row.
func run(ctx context.Context, x *Supply, list []variant) ([]Variant, error) {
	out := make([]Variant, len(list))
	err := num.Parallel(len(list), func() func(int) error {
		return func(i int) error {
			v := &list[i]
			out[i].What, out[i].SetMelt = v.what, v.setMelt
			s, why := v.make()
			if why != "" {
				out[i].Why = why
				return nil
			}
			sup, err := x, error(nil)
			if !v.same {
				sup, err = NewSupply(s, s.Mould.Flow)
			}
			if err == nil {
				melt := sup.Melt
				if v.melt != nil {
					melt = v.melt(sup)
				}
				out[i].Filling, err = fillWith(ctx, s, sup, melt)
			}
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err != nil {
				out[i].Filling, out[i].Why = nil, err.Error()
			}
			return nil
		}
	})
	return out, err
}

// withMould is a copy of the set-up with its mould changed.
func withMould(s *setup.Setup, change func(m *mould.Spec)) func() (*setup.Setup, string) {
	return func() (*setup.Setup, string) {
		n := s.Clone()
		change(n.Mould)
		if n.Mould.Surface >= n.Block {
			return nil, "the mould would be as hot as the block"
		}
		return n, ""
	}
}

// contactText names a contact.
func contactText(h float64) string {
	if math.IsInf(h, 1) {
		return "perfect contact with the mould"
	}
	return fmt.Sprintf("contact with the mould %.0f W/(m2 K)", h)
}

// MouldEnds fills with all that is not known at the end that lets melt run far, and at the other: viscosity and heated
// length as Corners has them, contact, no-flow temperature, mould temperature, and the bound on the viscosity of set
// melt.
func MouldEnds(ctx context.Context, s *setup.Setup, x *Supply) ([]Variant, error) {
	at := Corners(s)
	end := func(i int, name string, sign float64) variant {
		m := s.Mould
		contact, cap := m.ContactRange[0], mould.SolidCapRange[1]
		how := "poor contact with the mould"
		if sign < 0 {
			contact, cap, how = m.ContactRange[1], mould.SolidCapRange[0], "good contact with the mould"
			if math.IsInf(contact, 1) {
				how = "perfect contact with the mould"
			}
		}
		text := fmt.Sprintf("%s: %s, %s, %s, %s", name, at[i].What, how, warmer(sign*m.SurfaceRange),
			higher(-sign*m.NoFlowRange))
		return variant{what: text, make: withMould(at[i].Setup, func(m *mould.Spec) {
			m.Contact, m.SolidCap = contact, math.Max(cap, m.SolidCap)
			m.Surface += sign * m.SurfaceRange
			m.NoFlow = noFlowOf(s) - sign*m.NoFlowRange
		})}
	}
	return run(ctx, x, []variant{end(0, "farthest", 1), end(1, "shortest", -1)})
}

// warmer and higher say by how many kelvin the mould and the no-flow temperature are moved.
func warmer(by float64) string {
	if by < 0 {
		return fmt.Sprintf("mould %.3g K colder", -by)
	}
	return fmt.Sprintf("mould %.3g K warmer", by)
}

func higher(by float64) string {
	if by < 0 {
		return fmt.Sprintf("no-flow temperature %.3g K lower", -by)
	}
	return fmt.Sprintf("no-flow temperature %.3g K higher", by)
}

// noFlowOf is the no-flow temperature (K) of a set-up.
func noFlowOf(s *setup.Setup) float64 {
	if s.Mould.NoFlow > 0 {
		return s.Mould.NoFlow
	}
	return mould.NoFlow(s.Material)
}

// MouldDoubts fills with one thing at a time at the ends of what it may be, and with melt that has come to the
// temperature of the block at rest.
func MouldDoubts(ctx context.Context, s *setup.Setup, x *Supply) ([]Variant, error) {
	m := s.Mould
	var list []variant
	add := func(what string, change func(m *mould.Spec)) {
		list = append(list, variant{what: what, make: withMould(s, change), same: true})
	}
	for _, h := range m.ContactRange {
		if h != m.Contact {
			add(contactText(h), func(m *mould.Spec) { m.Contact = h })
		}
	}
	for _, sign := range []float64{-1, 1} {
		add(higher(sign*m.NoFlowRange), func(m *mould.Spec) { m.NoFlow = noFlowOf(s) + sign*m.NoFlowRange })
	}
	for _, sign := range []float64{-1, 1} {
		add(warmer(sign*m.SurfaceRange), func(m *mould.Spec) { m.Surface += sign * m.SurfaceRange })
	}
	for _, c := range mould.SolidCapRange {
		if c != m.SolidCap {
			add(fmt.Sprintf("viscosity of set melt up to %.0e Pa s", c), func(m *mould.Spec) { m.SolidCap = c })
			list[len(list)-1].setMelt = true
		}
	}
	for _, c := range Corners(s) {
		list = append(list, variant{what: c.What, make: func() (*setup.Setup, string) { return c.Setup, "" }})
	}
	list = append(list,
		variant{what: fmt.Sprintf("melt as warm as the block: the first %.0f mm3", x.Available/unit.MM3), same: true,
			make: func() (*setup.Setup, string) { return s, "" }, melt: func(*Supply) float64 { return s.Block }})
	return run(ctx, x, list)
}

// MouldGains fills after each of MouldChanges.
func MouldGains(ctx context.Context, s *setup.Setup, x *Supply) ([]Variant, error) {
	var list []variant
	for i := range MouldChanges {
		c := &MouldChanges[i]
		list = append(list, variant{what: c.Text, make: func() (*setup.Setup, string) {
			if n, ok := c.Apply(s); ok {
				return n, ""
			}
			return nil, "not possible with this case"
		}, same: len(c.Steps) == 1 && (c.Steps[0].ID == vary.Mould || c.Steps[0].ID == vary.Feed ||
			c.Steps[0].ID == vary.Wall)})
	}
	return run(ctx, x, list)
}

// LongestFlow is how far melt runs in the last cavity by its thickness and the temperature of the mould.
type LongestFlow struct {
	Element   int
	Thickness []float64    // m
	Mould     []float64    // K
	Longest   [][]*float64 // m, by mould temperature, then thickness; nil where there is no answer
	Asked     float64      // m, as long as it is
	Cap       float64      // m, searched to
	Why       []string     // what has no answer, and why
}

// longestReach is how many times the length of the cavity is looked at.
const longestReach = 6

// newLongest lays out the map, for melt at a temperature (K); nil for a mould whose last cavity is no strip or disc.
func newLongest(s *setup.Setup, melt float64) *LongestFlow {
	last := -1
	for i, e := range s.Mould.Elements {
		if e.Cavity && (e.Shape == mould.StripGap || e.Shape == mould.DiscGap) {
			last = i
		}
	}
	if last < 0 {
		return nil
	}
	e := s.Mould.Elements[last]
	out := &LongestFlow{Element: last, Asked: e.FlowLength(), Cap: longestReach * e.FlowLength()}
	for _, f := range []float64{0.4, 0.6, 0.8, 1, 1.3, 1.6} {
		out.Thickness = append(out.Thickness, e.Height*f)
	}
	for _, dT := range []float64{-30, 0, 20, 40} {
		if T := s.Mould.Surface + dT; T > 250 && T < melt-20 {
			out.Mould = append(out.Mould, T)
			out.Longest = append(out.Longest, make([]*float64, len(out.Thickness)))
		}
	}
	return out
}

// mould is that of a set-up with its last cavity as thick and as warm as a place of the map (by number, thickness by
// thickness), and so long that the melt does not fill it.
func (l *LongestFlow) mould(s *setup.Setup, k int) *mould.Spec {
	m := s.Mould.Clone()
	m.Elements = m.Elements[:l.Element+1]
	n := len(l.Thickness)
	e := &m.Elements[l.Element]
	e.Height, m.Surface = l.Thickness[k%n], l.Mould[k/n]
	if e.Shape == mould.DiscGap {
		e.D2 = e.D1 + 2*l.Cap
	} else {
		e.Length = l.Cap
	}
	return m
}

// FindLongest maps the longest flow; nil for a mould whose last cavity is no strip or disc. Errors: a cancelled
// context.
func FindLongest(ctx context.Context, s *setup.Setup, x *Supply) (*LongestFlow, error) {
	out := newLongest(s, x.Melt)
	if out == nil {
		return nil, nil
	}
	n := len(out.Thickness)
	why := make([]string, n*len(out.Mould))
	err := num.Parallel(len(why), func() func(int) error {
		return func(k int) error {
			m := out.mould(s, k)
			set := m.Settings()
			set.Melt, set.Supply, set.Stations = x.Melt, x.Pressure, mould.DefaultStations*3/4
			r, err := mould.Fill(ctx, &s.Case, &m.Mould, set)
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case err != nil:
				why[k] = err.Error()
				return nil
			}
			front := r.Front
			for _, e := range m.Elements[:out.Element] {
				front -= e.FlowLength()
			}
			front = math.Max(0, front)
			out.Longest[k/n][k%n] = &front
			return nil
		}
	})
	for _, w := range why {
		if w != "" {
			out.Why = append(out.Why, w)
		}
	}
	return out, err
}

// Thinnest interpolates the thickness (m) from which on the flow is as long as asked at a mould temperature (by
// number); false if none of those looked at is, or there is no answer.
func (l *LongestFlow) Thinnest(k int) (float64, bool) {
	for i, x := range l.Longest[k] {
		switch {
		case x == nil:
			return 0, false
		case *x < l.Asked*(1-1e-9):
		case i == 0:
			return l.Thickness[0], true
		default:
			a, b := *l.Longest[k][i-1], *x
			return l.Thickness[i-1] + (l.Thickness[i]-l.Thickness[i-1])*(l.Asked-a)/(b-a), true
		}
	}
	return 0, false
}
