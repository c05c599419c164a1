package assess_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/march"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/vary"
)

// A row of what helps is the filling of a set-up with the same change, and one that is not possible says so and ends
// nothing.
func TestMouldRowsAreFillingsWithTheSameChange(t *testing.T) {
	s := starter()
	f, err := assess.FillMould(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := assess.MouldGains(t.Context(), s, f.Supply)
	if err != nil || len(rows) != len(assess.MouldChanges) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, row := range rows {
		n, ok := assess.MouldChanges[i].Apply(s)
		if !ok || row.Filling == nil {
			t.Errorf("%s: %v, %q", row.What, ok, row.Why)
			continue
		}
		want, err := assess.FillMould(t.Context(), n)
		if err != nil || want.Front != row.Filling.Front || want.Peak != row.Filling.Peak {
			t.Errorf("%s: %g m at up to %g Pa in the table, %g m at %g Pa by itself, %v", row.What,
				row.Filling.Front, row.Filling.Peak, want.Front, want.Peak, err)
		}
	}
	// A mould nearly as hot as the block takes no hotter one.
	hot := s.Clone()
	hot.Mould.Flow, hot.Mould.Surface = 1e-9, hot.Block-12
	if f, err = assess.FillMould(t.Context(), hot); err != nil {
		t.Fatal(err)
	}
	rows, err = assess.MouldGains(t.Context(), hot, f.Supply)
	if err != nil || rows[0].Filling != nil || rows[0].Why == "" || rows[1].Filling == nil {
		t.Errorf("%+v, %v", rows[:2], err)
	}
	if doubts, err := assess.MouldDoubts(t.Context(), hot, f.Supply); err != nil || len(doubts) < 8 {
		t.Errorf("%d rows, %v", len(doubts), err)
	}
}

// Errors of the main question name keys and units of the case file; a cancelled context ends it.
func TestMouldErrorsSpeakOfTheCaseFile(t *testing.T) {
	s := starter()
	q, _ := vary.Find(s, string(vary.Mould))
	hot, err := q.With(s, s.Block-1)
	if err != nil {
		t.Fatal(err)
	}
	_, err = assess.FillMould(t.Context(), hot)
	if !errors.Is(err, assess.ErrMould) || !strings.Contains(err.Error(), "mould.mould_degC") {
		t.Errorf("%v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := assess.FillMould(ctx, s); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Contact and stiffness of set melt move the answer the way that they must: a poor contact lets melt run further.
func TestPoorContactRunsFurther(t *testing.T) {
	s := starter()
	for i := range s.Mould.Elements {
		if s.Mould.Elements[i].Cavity {
			s.Mould.Elements[i].Length *= 10
		}
	}
	q, _ := vary.Find(s, string(vary.MouldContact))
	last := 1.0
	for _, h := range []float64{500, 2000, 20000} {
		n, err := q.With(s, h)
		if err != nil {
			t.Fatal(err)
		}
		f, err := assess.FillMould(t.Context(), n)
		if err != nil {
			t.Fatal(err)
		}
		if f.Filled || f.Front >= last {
			t.Errorf("contact %g: %g m, %g m with a poorer one", h, f.Front, last)
		}
		last = f.Front
	}
}

// What feeder and hot end give at the nozzle is the hot end's own load, the pressure behind it, and what the feeder
// holds over its safety factor.
func TestSupplyIsLoadAndCapability(t *testing.T) {
	s := starter()
	s.Limits.Safety = 1.3
	const top = 12e-9
	x, err := assess.NewSupply(s, top)
	if err != nil {
		t.Fatal(err)
	}
	var d flow.Solution
	m := march.New(&s.Case, march.Options{})
	push := func(q float64) float64 {
		if err := m.Solve(s.Block, q, &d); err != nil {
			t.Fatal(err)
		}
		return d.Push
	}
	const p = 3e6
	// At a flow of the table, between two, and where the load goes down to nothing in proportion to flow.
	least := top * 1e-3
	for q, want := range map[float64][2]float64{top: {push(top), 1e-9}, 0.8 * top: {push(0.8 * top), 0.01},
		least: {push(least), 1e-9}, least / 10: {push(least) / 10, 1e-9}} {
		if got := x.Push(q, p) - p*s.Area(); math.Abs(got/want[0]-1) > want[1] {
			t.Errorf("%g m3/s: %g N, the hot end takes %g", q, got, want[0])
		}
		left := (s.Feeder.At(q/s.Area()).Force/1.3 - (x.Push(q, p) - p*s.Area())) / s.Area()
		if got := x.Pressure(q); math.Abs(got-math.Max(0, left)) > 1e-6*math.Abs(left) {
			t.Errorf("%g m3/s: %g Pa, want %g", q, got, left)
		}
	}
	s.Limits.Safety = 100
	if x.Pressure(top) != 0 {
		t.Errorf("%g Pa where the feeder holds next to nothing", x.Pressure(top))
	}
	push(top)
	if x.Melt != d.ExitBulk || x.Centre != d.ExitCentre || x.Heater != d.Heater || x.Available != s.HotEnd.Volume() {
		t.Errorf("%+v", x)
	}
}

// Rows of what is not known are fillings of a set-up that is so: at both ends with everything at once, else with one
// thing at a time.
func TestMouldDoubtsAreFillingsThatAreSo(t *testing.T) {
	s := starter()
	for i := range s.Mould.Elements { // so long that they are short
		if s.Mould.Elements[i].Cavity {
			s.Mould.Elements[i].Length *= 8
		}
	}
	f, err := assess.FillMould(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	m := s.Mould
	ends, err := assess.MouldEnds(t.Context(), s, f.Supply)
	if err != nil || len(ends) != 2 {
		t.Fatalf("%d ends, %v", len(ends), err)
	}
	same := func(v assess.Variant, n *setup.Setup) {
		t.Helper()
		want, err := assess.FillMould(t.Context(), n)
		if err != nil || v.Filling == nil || math.Abs(want.Front/v.Filling.Front-1) > 1e-9 ||
			math.Abs(want.Peak/v.Filling.Peak-1) > 1e-9 {
			t.Errorf("%s: %+v (%s), want %+v, %v", v.What, v.Filling, v.Why, want, err)
		}
	}
	noFlow := mould.NoFlow(s.Material)
	for i, sign := range []float64{1, -1} {
		n := assess.Corners(s)[i].Setup.Clone()
		n.Mould.Contact, n.Mould.SolidCap = m.ContactRange[i], math.Max(m.SolidCap, mould.SolidCapRange[1-i])
		n.Mould.Surface += sign * m.SurfaceRange
		n.Mould.NoFlow = noFlow - sign*m.NoFlowRange
		same(ends[i], n)
	}
	if !(ends[0].Filling.Front > f.Front && f.Front > ends[1].Filling.Front) {
		t.Errorf("%g, %g, %g m", ends[0].Filling.Front, f.Front, ends[1].Filling.Front)
	}
	if !strings.Contains(ends[0].What, "poor contact") || !strings.Contains(ends[0].What, "5 K warmer") ||
		!strings.Contains(ends[0].What, "15 K lower") || !strings.Contains(ends[1].What, "5 K colder") ||
		!strings.Contains(ends[1].What, "15 K higher") {
		t.Errorf("%s; %s", ends[0].What, ends[1].What)
	}
	doubts, err := assess.MouldDoubts(t.Context(), s, f.Supply)
	if err != nil {
		t.Fatal(err)
	}
	var list []*setup.Setup
	with := func(change func(m *mould.Spec)) {
		n := s.Clone()
		change(n.Mould)
		list = append(list, n)
	}
	for _, h := range m.ContactRange {
		with(func(m *mould.Spec) { m.Contact = h })
	}
	for _, d := range []float64{-m.NoFlowRange, m.NoFlowRange} {
		with(func(m *mould.Spec) { m.NoFlow = noFlow + d })
	}
	for _, d := range []float64{-m.SurfaceRange, m.SurfaceRange} {
		with(func(m *mould.Spec) { m.Surface += d })
	}
	for _, c := range mould.SolidCapRange {
		if c != m.SolidCap {
			with(func(m *mould.Spec) { m.SolidCap = c })
		}
	}
	for _, c := range assess.Corners(s) {
		list = append(list, c.Setup)
	}
	if len(doubts) != len(list)+1 {
		t.Fatalf("%d rows, want %d and the melt at rest", len(doubts), len(list))
	}
	for i, n := range list {
		same(doubts[i], n)
		if set := n.Mould.SolidCap != m.SolidCap; doubts[i].SetMelt != set {
			t.Errorf("%s: %t", doubts[i].What, doubts[i].SetMelt)
		}
	}
	// Melt as warm as the block runs further than that of the steady flow.
	if last := doubts[len(list)].Filling; !(last.Front > f.Front) {
		t.Errorf("%g m, with the steady melt %g", last.Front, f.Front)
	}
	// The longest flow at the mould and the thickness of the case is how far it runs where there is room.
	l, err := assess.FindLongest(t.Context(), s, f.Supply)
	if err != nil || len(l.Thickness) != 6 || l.Cap != 6*l.Asked || l.Asked != m.Elements[l.Element].Length {
		t.Fatalf("%+v, %v", l, err)
	}
	for k, T := range l.Mould {
		for i, h := range l.Thickness {
			if T == m.Surface && h == m.Elements[l.Element].Height {
				front := f.Front
				for _, e := range m.Elements[:l.Element] {
					front -= e.FlowLength()
				}
				if got := *l.Longest[k][i]; math.Abs(got/front-1) > 0.05 { // on fewer stations
					t.Errorf("%g m, the filling runs %g", got, front)
				}
			}
		}
	}
}

// The thinnest part that fills lies on the line between the two thicknesses about it.
func TestThinnestByHand(t *testing.T) {
	at := func(x float64) *float64 { return &x }
	l := assess.LongestFlow{Asked: 50, Thickness: []float64{1, 2, 4}, Longest: [][]*float64{{at(10), at(40), at(80)},
		{at(50), at(60), at(70)}, {at(10), at(20), at(49)}, {at(10), nil, at(80)}}}
	for k, want := range []float64{2.5, 1, 0, 0} {
		if got, ok := l.Thinnest(k); got != want || ok != (want > 0) {
			t.Errorf("row %d: %g, %t", k, got, ok)
		}
	}
}
