package vary_test

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
)

// What may be set may be written: the bounds of the table are those of the key in the case file. The few that are
// narrower say how.
func TestBoundsAreThoseOfTheCaseFile(t *testing.T) {
	known := map[string]casefile.Key{}
	for _, k := range casefile.Keys() {
		known[k.Path] = k
	}
	narrower := map[vary.ID][2]float64{ // in the unit of the case file
		vary.Barrel: {1, 50},   // filament passes
		vary.Bore:   {0.05, 5}, // melt passes
		vary.Wall:   {0.01, 50},
		"point-1":   {3 * 1.001, 2000}, "point-2": {2 * 1.001, 2000}, "point-3": {3 * 1.001, 2000}, // above the scatter
	}
	_, c := own(t)
	for _, q := range vary.Table(&c.Setup) {
		k := known[regexp.MustCompile(`\[\d+\]`).ReplaceAllString(q.Key, "[]")]
		low, high := k.Low, k.High
		if b, ok := narrower[q.ID]; ok {
			low, high = b[0], b[1]
		}
		if q.ID == vary.Target {
			low = 0 // no flow is wanted: the key is left out
		}
		if k.Low > low && q.ID != vary.Target || k.High < high {
			t.Errorf("%s: the file allows %g to %g only", q.ID, k.Low, k.High)
		}
		for _, x := range [][2]float64{{q.Edge(q.Low), low}, {q.Edge(q.High), high}} {
			if x[0] != x[1] && !(math.Abs(x[0]-x[1]) <= 1e-9*math.Max(1, math.Abs(x[1]))) {
				t.Errorf("%s: bound %.10g, the case file has %g", q.ID, x[0], x[1])
			}
		}
	}
}

// The default bands of the starter case with all that can change, in the unit of the case file: what is said of each in
// the comments of the file and on the page of assumptions. What is not named is known.
func TestDefaultBands(t *testing.T) {
	_, c := own(t)
	c.Doubts = nil // the file states some of the defaults
	want := map[vary.ID][2]float64{
		vary.Viscosity: {1.0 / 3, 3}, vary.Entrance: {0.25, 4}, vary.FlowPoint: {139 - 12, 139 + 12},
		vary.Filament: {1.72, 1.78}, vary.Block: {212, 218}, vary.Contact: {3000, math.Inf(1)}, vary.Heated: {0.5, 1},
		vary.Eccentricity: {0, 0.9}, vary.Tip: {0, 15}, vary.Barrel: {1.95, 2.05}, vary.Bore: {0.38, 0.42},
		vary.Drag: {0, 4},
	}
	check := func(s *setup.Setup, id vary.ID, low, high float64, known bool) {
		t.Helper()
		q := vary.Must(s, id)
		b := q.Band(s)
		if b.Known != known {
			t.Errorf("%s: known is %v", id, b.Known)
		}
		for _, x := range [][2]float64{{q.Edge(b.Low), low}, {q.Edge(b.High), high}} {
			if x[0] != x[1] && !(math.Abs(x[0]-x[1]) <= 1e-9*math.Max(1, math.Abs(x[1]))) {
				t.Errorf("%s: %.10g at an end of the band, want %g", id, x[0], x[1])
			}
		}
	}
	for _, q := range vary.Table(&c.Setup) {
		switch b, ok := want[q.ID]; {
		case ok:
			check(&c.Setup, q.ID, b[0], b[1], false)
		case q.ID != vary.Force:
			x := q.Edge(q.Get(&c.Setup))
			check(&c.Setup, q.ID, x, x, true)
		}
	}
	// About other values, where no bound is in the way.
	s := c.Clone()
	s.HotEnd.TipDrop, s.Stock.Eccentricity, s.Path.Drag, s.HotEnd.HeatedShare = 20, 0.44, 10, 0.6
	check(s, vary.Tip, 15, 30, false)
	check(s, vary.Eccentricity, 0.04, 0.94, false)
	check(s, vary.Drag, 8, 12, false)
	check(s, vary.Heated, 0.35, 0.85, false)
	// Points by their repeats: 5 N of 50 N over 4 are 5 % of the mean, two of which count.
	s.Feeder.Points = []feeder.Point{{Speed: 1e-3, Force: 50, SD: 5, Repeats: 4}}
	s.Feeder.Factor = 0.9
	check(s, vary.Force, 0.81, 0.99, false)
	// Points without repeats, then none at all, then a law that is a placeholder, then perfect contact.
	s = c.Clone()
	for i := range s.Feeder.Points {
		s.Feeder.Points[i].SD, s.Feeder.Points[i].Repeats = 0, 0
	}
	check(s, vary.Force, 0.9, 1.1, false)
	s.Feeder.Points = nil
	check(s, vary.Force, 0.8, 1.2, false)
	m := *s.Material
	s.Material = &m
	m.Origins = nil // nothing is assumed
	check(s, vary.Viscosity, 1.0/2, 2, false)
	m.Placeholder = true
	check(s, vary.Viscosity, 1.0/3, 3, false)
	s.Contact = math.Inf(1)
	check(s, vary.Contact, math.Inf(1), math.Inf(1), true)
	for _, e := range []materials.Entrance{{K: 0, Low: 1, High: 2}, {K: 1, Low: 0, High: 2}, {K: 1, Low: 1}} {
		m.Entrance = e
		check(s, vary.Entrance, 1, 1, true)
	}
	m.Entrance = materials.Entrance{K: 2, Low: 1, High: 6}
	check(s, vary.Entrance, 0.5, 3, false)
}

// Doubts that leave nothing in doubt, and that leave some.
func TestBandsOfDoubts(t *testing.T) {
	_, c := own(t)
	q := vary.Must(&c.Setup, vary.Drag) // 2 N
	for _, x := range []struct {
		d         setup.Doubt
		low, high float64
		known     bool
	}{
		{setup.Doubt{Kind: setup.PlusMinus}, 2, 2, true},
		{setup.Doubt{Kind: setup.PlusMinus, High: 1}, 1, 3, false},
		{setup.Doubt{Kind: setup.PlusMinus, High: 0.5}, 1.5, 2.5, false},
		{setup.Doubt{Kind: setup.Factor, High: 1}, 2, 2, true},
		{setup.Doubt{Kind: setup.Factor, High: 4}, 0.5, 8, false},
		{setup.Doubt{Kind: setup.Interval, Low: 2, High: 2}, 2, 2, true},
		{setup.Doubt{Kind: setup.Interval, Low: 1, High: 1}, 2, 2, true}, // the value itself is what counts
		{setup.Doubt{Kind: setup.Interval, Low: 0, High: 1}, 0, 2, false},
		{setup.Doubt{Kind: setup.Interval, Low: 1, High: 8}, 1, 8, false},
		{setup.Doubt{Kind: setup.Interval, Low: 1, High: 8, Calibrated: true}, 1, 8, false},
	} {
		s := c.Clone()
		s.Doubts = map[string]setup.Doubt{string(vary.Drag): x.d}
		b := q.Band(s)
		if !(math.Abs(b.Low-x.low) <= 1e-12) || !(math.Abs(b.High-x.high) <= 1e-12) || b.Known != x.known {
			t.Errorf("%+v: %g to %g, known %v", x.d, b.Low, b.High, b.Known)
		}
	}
}

// Which quantities a set-up has.
func TestWhatIsThere(t *testing.T) {
	_, c := own(t)
	pa, err := materials.Get("pa12")
	if err != nil {
		t.Fatal(err)
	}
	all := []vary.ID{vary.Viscosity, vary.Entrance, vary.FlowPoint, vary.Filament, vary.Inlet, vary.Block, vary.Contact,
		vary.Heated, vary.Eccentricity, vary.Tip, vary.Barrel, vary.Bore, vary.Zone, vary.Land, vary.Heater, vary.Drag,
		vary.Bend, vary.Force, vary.Current, vary.Ratio, vary.Wheels, vary.Gap, vary.Target, vary.Safety, vary.Mould,
		vary.FillFlow, vary.MouldContact, vary.MouldNoFlow, vary.Feed, vary.Wall, "point-1", "point-2", "point-3"}
	tube := func(d, l float64) flow.Section { return flow.Section{Shape: flow.Tube, D1: d, D2: d, Length: l} }
	cone := flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Length: 1e-3}
	for _, x := range []struct {
		what   string
		change func(s *setup.Setup)
		gone   []vary.ID
	}{
		{"as it is", func(s *setup.Setup) {}, nil},
		{"no feeder", func(s *setup.Setup) { s.Feeder = nil }, []vary.ID{vary.Force, vary.Current, vary.Ratio,
			vary.Wheels, vary.Gap, "point-1", "point-2", "point-3"}},
		{"a feeder by points", func(s *setup.Setup) { s.Feeder.Model = nil }, []vary.ID{vary.Current, vary.Ratio,
			vary.Wheels, vary.Gap}},
		{"no motor", func(s *setup.Setup) { s.Feeder.Model.Motor = nil }, []vary.ID{vary.Current, vary.Ratio}},
		{"no grip", func(s *setup.Setup) { s.Feeder.Model.Grip = nil }, []vary.ID{vary.Wheels}},
		{"no gap", func(s *setup.Setup) { s.Feeder.Model.Gap = nil }, []vary.ID{vary.Gap}},
		{"no mould", func(s *setup.Setup) { s.Mould = nil }, []vary.ID{vary.Mould, vary.FillFlow, vary.MouldContact,
			vary.MouldNoFlow, vary.Feed, vary.Wall}},
		{"a mould without feed", func(s *setup.Setup) {
			s.Mould.Elements = slices.DeleteFunc(s.Mould.Elements, func(e mould.Element) bool { return !e.Cavity })
		}, []vary.ID{vary.Feed}},
		{"a polymer that melts", func(s *setup.Setup) { s.Material = pa }, []vary.ID{vary.FlowPoint}},
		{"a rod that sticks", func(s *setup.Setup) { s.Stock.Stick = true }, []vary.ID{vary.Eccentricity}},
		{"no heater", func(s *setup.Setup) { s.HotEnd.Block.Power = 0 }, []vary.ID{vary.Heater}},
		{"one width", func(s *setup.Setup) { s.HotEnd.Sections = []flow.Section{tube(2e-3, 0.02), tube(2e-3, 1e-3)} },
			[]vary.ID{vary.Barrel}},
		{"one tube", func(s *setup.Setup) { s.HotEnd.Sections = []flow.Section{tube(2e-3, 0.02)} },
			[]vary.ID{vary.Barrel, vary.Land}},
		{"no land", func(s *setup.Setup) { s.HotEnd.Sections = []flow.Section{tube(2e-3, 0.02), cone} },
			[]vary.ID{vary.Bore, vary.Land}},
		{"a cone first", func(s *setup.Setup) { s.HotEnd.Sections = []flow.Section{cone, tube(0.4e-3, 1e-3)} },
			[]vary.ID{vary.Barrel}},
		{"no sections", func(s *setup.Setup) { s.HotEnd.Sections = nil }, []vary.ID{vary.Barrel, vary.Bore, vary.Zone,
			vary.Land}},
		{"no material", func(s *setup.Setup) { s.Material = nil }, []vary.ID{vary.Entrance, vary.FlowPoint,
			vary.MouldNoFlow}},
		{"cones alone", func(s *setup.Setup) { s.HotEnd.Sections = []flow.Section{cone} },
			[]vary.ID{vary.Barrel, vary.Bore, vary.Zone, vary.Land}},
	} {
		s := c.Clone()
		x.change(s)
		var gone []vary.ID
		for _, id := range all {
			if _, ok := vary.Find(s, string(id)); !ok {
				gone = append(gone, id)
			}
		}
		slices.Sort(gone)
		slices.Sort(x.gone)
		if !slices.Equal(gone, x.gone) {
			t.Errorf("%s: gone are %v, want %v", x.what, gone, x.gone)
		}
	}
}

// The melt zone is the longest section that does not narrow, wherever it stands; setting it changes no other.
func TestZoneIsTheLongest(t *testing.T) {
	_, c := own(t)
	s := c.Clone()
	s.HotEnd.Sections = []flow.Section{{Shape: flow.Tube, D1: 3e-3, D2: 3e-3, Length: 5e-3},
		{Shape: flow.Cone, D1: 3e-3, D2: 2e-3, Length: 90e-3}, {Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 30e-3},
		{Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 10e-3}}
	for i, x := range []struct {
		id  vary.ID
		key string
	}{{vary.Zone, "hot_end.section[3].length_mm"}, {vary.Land, "hot_end.section[4].length_mm"}} {
		q := vary.Must(s, x.id)
		n, err := q.With(s, 33e-3)
		if err != nil || q.Key != x.key {
			t.Fatalf("%s: %s, %v", x.id, q.Key, err)
		}
		for k := range n.HotEnd.Sections {
			want := s.HotEnd.Sections[k].Length
			if k == 2+i {
				want = 33e-3
			}
			if got := n.HotEnd.Sections[k].Length; got != want {
				t.Errorf("%s: section %d is %g m, want %g m", x.id, k+1, got, want)
			}
		}
	}
}

// A cone keeps its angle when the barrel or the bore changes: 3 to 1 mm with 60 degrees included is 1.732 mm long.
func TestConesKeepTheirAngle(t *testing.T) {
	_, c := own(t)
	s := c.Clone()
	half := math.Pi / 6
	s.HotEnd.Sections = []flow.Section{{Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 20e-3},
		{Shape: flow.Cone, D1: 2e-3, D2: 1e-3, Half: half, Length: 0.5e-3 / math.Tan(half)},
		{Shape: flow.Tube, D1: 1e-3, D2: 1e-3, Length: 1e-3}}
	wider, err := func() (*setup.Setup, error) { q := vary.Must(s, vary.Barrel); return q.With(s, 3e-3) }()
	if err != nil {
		t.Fatal(err)
	}
	x := wider.HotEnd.Sections
	if x[0].D1 != 3e-3 || x[0].D2 != 3e-3 || x[1].D1 != 3e-3 || x[1].D2 != 1e-3 || x[2].D1 != 1e-3 ||
		math.Abs(x[1].Length/1.7320508e-3-1) > 1e-7 {
		t.Errorf("%+v", x)
	}
	// Only what is as wide as the barrel goes with it: not the tube and the cone behind, nor a slit.
	s.HotEnd.Sections = append(s.HotEnd.Sections, flow.Section{Shape: flow.Tube, D1: 4e-3, D2: 4e-3, Length: 1e-3},
		flow.Section{Shape: flow.Cone, D1: 4e-3, D2: 2e-3, Half: half, Length: 1e-3 / math.Tan(half)},
		flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 1.5e-3, Half: math.Pi / 2})
	b := vary.Must(s, vary.Barrel)
	if err := b.Set(s, 3e-3); err != nil {
		t.Fatal(err)
	}
	for i, want := range [][3]float64{{3, 3, 20}, {3, 1, 1.7320508}, {1, 1, 1}, {4, 4, 1}, {4, 2, 1.7320508},
		{3, 1.5, 0}} {
		got := s.HotEnd.Sections[i]
		for k, x := range [3]float64{got.D1, got.D2, got.Length} {
			if !(math.Abs(x*1e3-want[k]) <= 1e-6) || want[k] == 0 && x != 0 {
				t.Errorf("section %d, number %d: %g mm, want %g mm", i+1, k+1, x*1e3, want[k])
			}
		}
	}
	// A barrel that the filament does not enter is one that it just enters: 10 micrometres wider.
	q := b
	q.SetClipped(wider, 1.2e-3)
	if got := wider.HotEnd.Sections[0].D1; !(math.Abs(got-1.76e-3) <= 1e-12) {
		t.Errorf("barrel %g m", got)
	}
}

// All of the feed's, or of the part's, thickness changes in one ratio, and nothing else.
func TestMouldSizesKeepTheirRatio(t *testing.T) {
	_, c := own(t)
	s := c.Clone()
	s.Mould.Elements = []mould.Element{
		{Shape: mould.Round, D1: 4e-3, D2: 6e-3, Length: 20e-3},
		{Shape: mould.StripGap, Height: 1e-3, Width: 3e-3, Length: 2e-3},
		{Shape: mould.DiscGap, Height: 2e-3, D1: 3e-3, D2: 40e-3, Cavity: true},
		{Shape: mould.StripGap, Height: 1e-3, Width: 9e-3, Length: 30e-3, Cavity: true},
	}
	for _, x := range []struct {
		id   vary.ID
		to   float64
		want [4][3]float64 // height, first and second diameter, mm
	}{
		{vary.Feed, 8e-3, [4][3]float64{{0, 8, 12}, {2, 0, 0}, {2, 3, 40}, {1, 0, 0}}},
		{vary.Wall, 3e-3, [4][3]float64{{0, 4, 6}, {1, 0, 0}, {3, 3, 40}, {1.5, 0, 0}}},
	} {
		q := vary.Must(s, x.id)
		n, err := q.With(s, x.to)
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range n.Mould.Elements {
			for k, got := range [3]float64{e.Height, e.D1, e.D2} {
				if !(math.Abs(got*1e3-x.want[i][k]) <= 1e-9) {
					t.Errorf("%s, element %d: number %d is %g mm, want %g", x.id, i+1, k+1, got*1e3, x.want[i][k])
				}
			}
		}
		if got := q.Get(n); !(math.Abs(got-x.to) <= 1e-15) {
			t.Errorf("%s: %g m", x.id, got)
		}
		var edits []string
		for _, e := range q.Edits(n) {
			edits = append(edits, e.Key+"="+e.Value)
		}
		first := map[vary.ID]int{vary.Feed: 1, vary.Wall: 3}[x.id]
		var want []string
		for i := first; i < first+2; i++ {
			for k, key := range []string{"thickness_mm", "diameter_mm", "end_diameter_mm"} {
				want = append(want, fmt.Sprintf("mould.element[%d].%s=%s", i, key, vary.Number(x.want[i-1][k])))
			}
		}
		if !slices.Equal(edits, want) {
			t.Errorf("%s writes %v, want %v", x.id, edits, want)
		}
	}
}

// Whose a quantity is.
func TestScopes(t *testing.T) {
	for id, want := range map[vary.ID]vary.Scope{"point-3": vary.OfFeeder, vary.Force: vary.OfFeeder,
		vary.Viscosity: vary.OfStock, vary.Bore: vary.OfHotEnd, vary.Drag: vary.OfRig} {
		if got := id.Scope(); got != want {
			t.Errorf("%s is of %d, want %d", id, got, want)
		}
	}
}

// To a scale and back: a transfer coefficient goes by its resistance, perfect contact has none.
func TestScales(t *testing.T) {
	for _, x := range []struct {
		s    vary.Scale
		x, y float64
	}{{vary.Linear, 5, 5}, {vary.Log, 100, math.Log(100)}, {vary.Reciprocal, 4, -0.25},
		{vary.Reciprocal, math.Inf(1), 0}} {
		if got := x.s.To(x.x); got != x.y {
			t.Errorf("scale %d: %g for %g, want %g", x.s, got, x.x, x.y)
		}
		if got := x.s.From(x.y); got != x.x && !(math.Abs(got/x.x-1) <= 1e-12) {
			t.Errorf("scale %d: %g back from %g, want %g", x.s, got, x.y, x.x)
		}
	}
	if got := vary.Reciprocal.From(1e-9); !math.IsInf(got, 1) {
		t.Errorf("%g beyond perfect contact", got)
	}
}

// Numbers that the file carries for a calibration: the interval, the factor and the width in the unit of the file, and
// what goes together.
func TestCalibratedEditsByValue(t *testing.T) {
	_, c := own(t)
	s := c.Clone()
	if got := vary.CalibratedEdits(s); got != nil {
		t.Errorf("%v of a set-up that was not calibrated", got)
	}
	s.Doubts = map[string]setup.Doubt{
		string(vary.Viscosity): {Kind: setup.Factor, High: 1.3, Calibrated: true},
		string(vary.Block):     {Kind: setup.PlusMinus, High: 4, Calibrated: true},
		string(vary.Bore):      {Kind: setup.Interval, Low: 0.39e-3, High: 0.42e-3, Calibrated: true},
		string(vary.Drag):      {Kind: setup.PlusMinus, High: 1}, // said by hand
	}
	s.Correlations = []setup.Correlation{{First: string(vary.Viscosity), Second: string(vary.Bore), Value: -0.5},
		{First: string(vary.Viscosity), Second: string(vary.Target), Value: 0.5}}
	want := []vary.Edit{{Key: "spread.viscosity_factor", Value: "1.3"}, {Key: "spread.block_K", Value: "4"},
		{Key: "spread.bore_mm", Value: "[0.39, 0.42]"},
		{Key: "spread.calibrated", Value: `["viscosity_factor", "block_K", "bore_mm"]`},
		{Key: "spread.correlations", Value: `[{of = "viscosity_factor", with = "bore_mm", value = -0.5}]`}}
	if got := vary.CalibratedEdits(s); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// A value is set up to its bound with no more than round-off beyond.
func TestSetHoldsTheBounds(t *testing.T) {
	_, c := own(t)
	drag := vary.Must(&c.Setup, vary.Drag) // from 0 on: round-off below it is none
	for x, fine := range map[float64]bool{-0.9e-15: true, -1.1e-15: false} {
		if _, err := drag.With(&c.Setup, x); (err == nil) != fine {
			t.Errorf("a drag of %g N: %v", x, err)
		}
	}
	for _, id := range []vary.ID{vary.Block, vary.Safety, vary.Bore} {
		q := vary.Must(&c.Setup, id)
		for _, x := range []struct {
			x    float64
			fine bool
		}{{q.Low, true}, {q.High, true}, {q.Low * (1 - 1e-10), false}, {q.High * (1 + 1e-10), false},
			{math.NaN(), false}, {q.Low * (1 - 1e-14), true}, {q.High * (1 + 1e-14), true}} {
			if _, err := q.With(&c.Setup, x.x); (err == nil) != x.fine {
				t.Errorf("%s to %.17g: %v", id, x.x, err)
			}
		}
		if q.Clip(q.Low/2) != q.Low || q.Clip(q.High*2) != q.High || q.Clip(q.Low*1.1) != q.Low*1.1 {
			t.Errorf("%s is clipped to %g and %g", id, q.Clip(q.Low/2), q.Clip(q.High*2))
		}
	}
}

// A law is trusted whose values are all measured or fitted: one that is assumed is enough to doubt it, of the law and
// of nothing else, and so is a placeholder.
func TestWhichLawsAreTrusted(t *testing.T) {
	at := func(key string, trust materials.Trust) *materials.Material {
		return &materials.Material{Origins: []materials.Origin{{Key: "viscosity.n", Trust: materials.Measured},
			{Key: key, Trust: trust}}}
	}
	for _, key := range []string{"viscosity.n", "viscosity.tau_star_Pa", "viscosity.D1_Pa_s", "viscosity.eta0_Pa_s",
		"viscosity.K_Pa_sn", "viscosity.lambda_s"} {
		if vary.Trusted(at(key, materials.Assumed)) {
			t.Errorf("%s is assumed, and the law trusted", key)
		}
		if !vary.Trusted(at(key, materials.Measured)) || !vary.Trusted(at(key, materials.Fitted)) {
			t.Errorf("%s is measured or fitted, and the law not trusted", key)
		}
	}
	if !vary.Trusted(at("density.melt_kg_m3", materials.Assumed)) {
		t.Error("a law is not trusted for an assumed density")
	}
	m := at("viscosity.n", materials.Measured)
	if m.Placeholder = true; vary.Trusted(m) {
		t.Error("a placeholder is trusted")
	}
}

// Filament of another diameter is that of the feeder too, which keeps its speeds: points given by their flow are
// written anew.
func TestFilamentIsThatOfTheFeeder(t *testing.T) {
	_, c := own(t)
	q := vary.Must(&c.Setup, vary.Filament)
	s, err := q.With(&c.Setup, 1.7e-3)
	if err != nil {
		t.Fatal(err)
	}
	if s.Filament.Diameter != 1.7e-3 || s.Feeder.Model.Diameter != 1.7e-3 || s.Feeder.Stock.Diameter != 1.7e-3 ||
		c.Feeder.Model.Diameter != 1.75e-3 {
		t.Errorf("filament %g m, of the feeder's model %g m, of its stock %g m, of the set-up before %g m",
			s.Filament.Diameter, s.Feeder.Model.Diameter, s.Feeder.Stock.Diameter, c.Feeder.Model.Diameter)
	}
	for i, p := range s.Feeder.Points {
		if p.Speed != c.Feeder.Points[i].Speed {
			t.Errorf("point %d moves to %g m/s", i+1, p.Speed)
		}
		want := vary.Edit{Key: fmt.Sprintf("feeder.point[%d].flow_mm3_s", i+1), IfPresent: true,
			Value: vary.Number(p.Speed * math.Pi / 4 * 1.7e-3 * 1.7e-3 * 1e9)}
		if got := q.Edits(s)[i+1]; got != want {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	s = c.Clone()
	s.Feeder.Model, s.Feeder.Stock = nil, nil
	if s, err = q.With(s, 1.7e-3); err != nil || s.Filament.Diameter != 1.7e-3 {
		t.Errorf("a feeder by its points alone: %v", err)
	}
	s.Feeder = nil
	if s, err = q.With(s, 1.6e-3); err != nil || s.Filament.Diameter != 1.6e-3 {
		t.Errorf("no feeder: %v", err)
	}
}

// Contact that a section has for itself stays where that of the hot end goes to or comes from perfect, is scaled
// between finite ones, and stays perfect.
func TestContactOfSections(t *testing.T) {
	inf := math.Inf(1)
	for _, x := range []struct {
		from, to float64
		want     [3]float64 // of sections that have the hot end's, 600 and a perfect one
	}{{1000, 2000, [3]float64{2000, 1200, inf}}, {1000, inf, [3]float64{inf, 600, inf}},
		{inf, 2000, [3]float64{2000, 600, 2000}}} {
		_, c := own(t)
		s := c.Clone()
		s.Contact = x.from
		s.HotEnd.Sections[0].H, s.HotEnd.Sections[1].H, s.HotEnd.Sections[2].H = x.from, 600, inf
		q := vary.Must(s, vary.Contact)
		q.SetClipped(s, x.to)
		for i, want := range x.want {
			if got := s.HotEnd.Sections[i].H; got != want {
				t.Errorf("from %g to %g: section %d has %g, want %g", x.from, x.to, i+1, got, want)
			}
		}
	}
}

// A change of the feeder's drive scales what was measured as the model goes, and a quantity of the model writes the
// points too.
func TestModelScalesWhatWasMeasured(t *testing.T) {
	_, c := own(t)
	q := vary.Must(&c.Setup, vary.Current)
	s, err := q.With(&c.Setup, 0.8*q.Get(&c.Setup))
	if err != nil {
		t.Fatal(err)
	}
	edits := map[string]string{}
	for _, e := range q.Edits(s) {
		edits[e.Key] = e.Value
	}
	for i, p := range s.Feeder.Points {
		was, is := c.Feeder.Model.At(p.Speed).Force, s.Feeder.Model.At(p.Speed).Force
		want := c.Feeder.Points[i].Force
		if was > 0 {
			want *= is / was
		}
		if !(math.Abs(p.Force-want) <= 1e-9*want) {
			t.Errorf("point %d: %g N, want %g N", i+1, p.Force, want)
		}
		at := fmt.Sprintf("feeder.point[%d].", i+1)
		if edits[at+"force_N"] != vary.Number(p.Force) || edits[at+"force_kgf"] != vary.Number(p.Force/9.80665) {
			t.Errorf("point %d is written %v", i+1, edits)
		}
	}
	if edits["feeder.motor.current_kind"] != `"peak"` || edits["feeder.motor.current_A"] != vary.Number(q.Get(s)) {
		t.Errorf("the current is written %v", edits)
	}
}
