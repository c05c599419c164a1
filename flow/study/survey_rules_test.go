package study

import (
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// numbered are n numbers from a by steps.
func numbered(n int, a, step float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = a + step*float64(i)
	}
	return out
}

// slitted is the starter case with an exit that is no round bore.
func slitted() *setup.Setup {
	s := casefile.Invented().Clone()
	last := &s.HotEnd.Sections[2]
	*last = flow.Section{Name: "slit", Shape: flow.Slit, Width: 2e-3, Gap: 0.3e-3, Length: 1e-3, Channels: 1, H: last.H}
	return s
}

// What a survey refuses, at both sides of every bound, by the field that is blamed and no other.
func TestBoundsOfASurvey(t *testing.T) {
	base := &casefile.Invented().Setup
	bore, _ := vary.Find(base, string(vary.Bore))
	block := vary.Must(base, vary.Block)
	two := []*materials.Material{base.Material, material(t, "abs")}
	ends := []Place{{"a", base}, {"b", base}}
	for _, x := range []struct {
		what string
		job  SurveyJob
		want string // fields that are blamed, with commas
	}{
		{"nothing but a base", SurveyJob{}, ""},
		{"most flow", SurveyJob{Flow: 1e-6}, ""}, {"too much flow", SurveyJob{Flow: 1.01e-6}, "Flow"},
		{"no such flow", SurveyJob{Flow: -1e-9}, "Flow"}, {"flow is no number", SurveyJob{Flow: math.NaN()}, "Flow"},
		{"most speed", SurveyJob{Speed: 10}, ""}, {"too much speed", SurveyJob{Speed: 10.1}, "Speed"},
		{"both", SurveyJob{Flow: 1e-9, Speed: 0.1}, "Flow and Speed"},
		{"ends of the bore", SurveyJob{Nozzles: []float64{bore.Low, bore.High}}, ""},
		{"narrow bore", SurveyJob{Nozzles: []float64{0.99 * bore.Low, bore.High}}, "Nozzles[0]"},
		{"wide bore", SurveyJob{Nozzles: []float64{bore.Low, 1.01 * bore.High}}, "Nozzles[1]"},
		{"ends of the block", SurveyJob{Blocks: []float64{block.Low, block.High}}, ""},
		{"cold block", SurveyJob{Blocks: []float64{block.Low - 1}}, "Blocks[0]"},
		{"hot block", SurveyJob{Blocks: []float64{block.High + 1}}, "Blocks[0]"},
		{"twice", SurveyJob{Blocks: []float64{500, 510, 500}}, "Blocks[2]"},
		{"one material", SurveyJob{Materials: two[:1]}, ""}, {"two materials", SurveyJob{Materials: two}, ""},
		{"the same twice", SurveyJob{Materials: []*materials.Material{two[0], two[1], two[0]}}, "Materials[2]"},
		{"none of them", SurveyJob{Materials: []*materials.Material{nil, two[0]}}, "Materials[0]"},
		{"hot ends", SurveyJob{HotEnds: ends}, ""},
		{"hot ends alike", SurveyJob{HotEnds: append(ends, Place{"a", base})}, "HotEnds[2]"},
		// 2000 combinations are the most, whichever lists make them up.
		{"blocks alone", SurveyJob{Blocks: numbered(2000, 400, 0.05)}, ""},
		{"a block more", SurveyJob{Blocks: numbered(2001, 400, 0.05)}, "all"},
		{"without blocks", SurveyJob{Materials: two, Nozzles: numbered(1000, 0.1e-3, 1e-6)}, ""},
		{"a nozzle more", SurveyJob{Materials: two, Nozzles: numbered(1001, 0.1e-3, 1e-6)}, "all"},
		{"hot ends count", SurveyJob{HotEnds: ends, Materials: two, Blocks: numbered(501, 400, 0.05)}, "all"},
		{"all lists", SurveyJob{HotEnds: ends, Materials: two, Nozzles: numbered(20, 0.3e-3, 1e-6),
			Blocks: numbered(25, 400, 1)}, ""},
		{"all lists, one more", SurveyJob{HotEnds: ends, Materials: two, Nozzles: numbered(20, 0.3e-3, 1e-6),
			Blocks: numbered(26, 400, 1)}, "all"},
		{"nozzles without a bore", SurveyJob{Base: slitted(), Nozzles: []float64{0.4e-3}}, "Nozzles"},
		{"none without a bore", SurveyJob{Base: slitted()}, ""},
		{"nozzles of hot ends", SurveyJob{Base: slitted(), Nozzles: []float64{0.4e-3}, HotEnds: ends}, ""},
	} {
		if x.job.Base == nil {
			x.job.Base = base
		}
		var got []string
		if err := x.job.check(); err != nil {
			for _, p := range err.(strict.Problems) {
				if got = append(got, p.Field); p.Field == "" {
					got[len(got)-1] = "all"
				}
			}
		}
		if s := strings.Join(got, ","); s != x.want {
			t.Errorf("%s: %q is blamed, want %q", x.what, s, x.want)
		}
	}
	if ps, ok := (&SurveyJob{}).check().(strict.Problems); !ok || len(ps) != 1 || ps[0].Field != "Base" {
		t.Errorf("no base: %v", ps)
	}
}

// A combination has the line of its nozzle, and the wanted flow: that of the job, else that of the base, else what a
// wanted print speed asks for. Numbers by hand: half the bore by 1.125 times it.
func TestCombinationsByHand(t *testing.T) {
	base := casefile.Invented().Clone()
	base.Target, base.HotEnd.Name = 7e-9, "own"
	for _, x := range []struct {
		what                string
		job                 SurveyJob
		target, bore, layer float64
	}{
		{"of the base", SurveyJob{}, 7e-9, 0.4e-3, 0.2e-3},
		{"of the job", SurveyJob{Flow: 5e-9}, 5e-9, 0.4e-3, 0.2e-3},
		{"a speed", SurveyJob{Speed: 0.1, Nozzles: []float64{0.6e-3}}, 0.1 * 0.3e-3 * 0.675e-3, 0.6e-3, 0.3e-3},
	} {
		x.job.Base = base
		all := x.job.combinations()
		c := &all[0]
		if len(all) != 1 || c.fault != nil || c.row.HotEnd != "own" || c.row.Material != base.Material.ID ||
			c.row.Block != base.Block {
			t.Fatalf("%s: %+v", x.what, all)
		}
		near(t, x.what+", nozzle", c.row.Nozzle, x.bore, 1e-9)
		near(t, x.what+", layer", c.row.Layer, x.layer, 1e-9)
		near(t, x.what+", width", c.row.Width, 1.125*x.bore, 1e-9)
		near(t, x.what+", wanted", c.row.Target, x.target, 1e-9)
		near(t, x.what+", bore of the set-up", quantity.Known(c.set.HotEnd.Bore()), x.bore, 1e-9)
	}
	// Materials are slowest, then hot ends, nozzles, block temperatures.
	other := base.Clone()
	other.HotEnd.Sections[0].Length = 30e-3
	job := SurveyJob{Base: base, Materials: []*materials.Material{base.Material, material(t, "abs")},
		HotEnds: []Place{{"own", base}, {"long", other}}, Nozzles: []float64{0.4e-3, 0.6e-3}, Blocks: []float64{490,
			500}}
	for i, c := range job.combinations() {
		bit := func(k int) int { return i >> k & 1 }
		if c.row.Material != job.Materials[bit(3)].ID || c.stock != bit(3) ||
			c.row.HotEnd != job.HotEnds[bit(2)].Name || math.Abs(*c.row.Nozzle-job.Nozzles[bit(1)]) > 1e-9 ||
			c.row.Block != job.Blocks[bit(0)] ||
			c.set.HotEnd.Sections[0].Length != job.HotEnds[bit(2)].Setup.HotEnd.Sections[0].Length {
			t.Errorf("combination %d: %+v", i, c.row)
		}
	}
	// Nothing wanted is nothing said; a wanted flow beyond any search is looked for up to 1000 mm3/s.
	base.Target = 0
	if c := combine(base, "h", 0, 0, base.Block, 0, 0); c.row.Target != nil || c.set.Target != 0 {
		t.Errorf("%+v", c.row)
	}
	if c := combine(base, "h", 0, 0, base.Block, 0, 0.9e-6); math.Abs(c.set.Limits.MaxFlow-1e-6) > 1e-15 {
		t.Errorf("search to %g m3/s", c.set.Limits.MaxFlow)
	}
	// A hot end without a round exit has no nozzle and no line: a speed cannot be wanted of it, nor another bore.
	s := slitted()
	c := combine(s, "h", 0, 0, s.Block, 0, 3e-9)
	if c.fault != nil || c.row.Nozzle != nil || c.row.Layer != nil || c.row.Width != nil {
		t.Errorf("%+v, %v", c.row, c.fault)
	}
	if c := combine(s, "h", 0, 0, s.Block, 0.1, 0); c.fault == nil || !strings.Contains(c.fault.Error(),
		"print speed") {
		t.Errorf("a speed without a line: %v", c.fault)
	}
	if c := combine(s, "h", 0, 0.5e-3, s.Block, 0, 0); c.fault == nil || *c.row.Nozzle != 0.5e-3 ||
		!strings.Contains(c.fault.Error(), "no round bore") || c.row.Block != s.Block {
		t.Errorf("a bore without one: %v", c.fault)
	}
	// Of one tube alone nothing leads into it: its bore may be any.
	s = base.Clone()
	s.HotEnd.Sections = s.HotEnd.Sections[2:]
	if err := rebore(s, 0.9e-3); err != nil || math.Abs(s.HotEnd.Bore()-0.9e-3) > 1e-12 {
		t.Errorf("%v, %g", err, s.HotEnd.Bore())
	}
}

// A row is what the search finds at its set-up and at both corners.
func TestARowOfASurvey(t *testing.T) {
	base := casefile.Invented().Clone()
	tables := march.New(&base.Case, march.Options{})
	at := func(s *setup.Setup) (low, high float64) {
		var ends [2]float64
		for i, k := range assess.Corners(s) {
			f, err := k.Matcher(march.New(&k.Case, march.Options{})).Find(k.Block)
			if err != nil {
				t.Fatal(err)
			}
			ends[i] = f.Flow
		}
		return ends[1], ends[0]
	}
	low, high := at(base)
	found, err := base.Matcher(tables).Find(base.Block)
	if err != nil {
		t.Fatal(err)
	}
	for wanted, verdict := range map[float64]assess.Verdict{0: "", 0.9 * low: assess.Held, 1.05 * low: assess.Likely,
		0.95 * high: assess.Uncertain, 1.05 * high: assess.NotHeld} {
		c := combine(base, "h", 0, 0, base.Block, 0, wanted)
		c.row.Target = nil
		if err := c.find(tables); err != nil {
			t.Fatal(err)
		}
		x := &c.row
		near(t, "usable", x.Flow, found.Flow, 1e-4)
		near(t, "low end", x.Low, low, 1e-3)
		near(t, "high end", x.High, high, 1e-3)
		near(t, "melts through", x.Melted, found.MeltsThrough().Flow, 1e-4)
		near(t, "push", x.Push, found.Solution.Push, 1e-4)
		near(t, "pressure", x.Pressure, found.Solution.Pressure, 1e-4)
		near(t, "speed", x.Speed, found.Flow/(0.2e-3*0.45e-3), 1e-4)
		if x.Judged != string(verdict) || x.Limit != string(found.Binding) || x.Code() != found.Binding.Code() ||
			x.searchEnd != c.set.Limits.MaxFlow || (x.PushAt != nil) != (wanted > 0) {
			t.Errorf("%g m3/s wanted: %+v", wanted, x)
		}
		if wanted == 0 {
			continue
		}
		var d flow.Solution
		if err := tables.Solve(base.Block, wanted, &d); err != nil {
			t.Fatal(err)
		}
		near(t, "push at the wanted flow", x.PushAt, d.Push, 1e-9)
		near(t, "pressure at the wanted flow", x.PressAt, d.Pressure, 1e-9)
		near(t, "margin", quantity.Known(1+*x.Margin), found.Flow/wanted, 1e-4)
	}
	// Nothing limits a strong feeder within a short search, nor does its core melt later; nothing flows below the flow
	// point.
	s := base.Clone()
	s.Limits.MaxFlow = 2e-9
	c := combine(s, "h", 0, 0, s.Block, 0, 0)
	if err := c.find(tables); err != nil || c.row.Limit != "" || c.row.Code() != "+" || c.row.Melted != nil ||
		!c.row.Beyond(*c.row.Flow) {
		t.Errorf("%+v, %v", c.row, err)
	}
	c = combine(base, "h", 0, 0, base.Material.FlowPoint()-5, 0, 0)
	if err := c.find(tables); err != nil || *c.row.Flow != 0 || c.row.Push != nil || c.row.Pressure != nil ||
		c.row.Code() != "P" || c.row.Warned == "" {
		t.Errorf("%+v, %v", c.row, err)
	}
}

// Warnings of rows come together, each code once; rows that could not be computed are counted, with the first of them.
func TestWarningsOfASurvey(t *testing.T) {
	row := func(material string, flow float64, codes ...string) SurveyRow {
		r := SurveyRow{Material: material, HotEnd: "h", Block: unit.Kelvin(200), Flow: quantity.KnownIf(flow > 0, flow)}
		for _, c := range codes {
			r.warnings = append(r.warnings, materials.Warning{Code: c, Message: "of " + material})
		}
		return r
	}
	bad := row("c", 0)
	bad.Remark = "too cold"
	worse := row("d", 0)
	worse.Remark = "too hot"
	r := SurveyResult{Rows: []SurveyRow{row("a", 1e-9, "x", "y"), row("b", 2e-9, "x"), bad, worse}}
	r.gather()
	if len(r.Warnings) != 3 || r.Warnings[0].Code != "not-computed" ||
		r.Warnings[0].Message != "2 of 4 combinations could not be computed, such as c, 200 degC: too cold" ||
		r.Warnings[1].Code != "x" || r.Warnings[2].Code != "y" {
		t.Errorf("%+v", r.Warnings)
	}
	r = SurveyResult{Rows: []SurveyRow{row("a", 1e-9), row("b", 2e-9)}}
	if r.gather(); len(r.Warnings) != 0 {
		t.Errorf("%+v", r.Warnings)
	}
	// With several hot ends a name says which.
	r.Rows[1].HotEnd = "other"
	if !r.severalEnds() || r.Rows[1].Name(true) != "b on other, 200 degC" || r.Rows[1].Name(false) != "b, 200 degC" {
		t.Errorf("%s", r.Rows[1].Name(true))
	}
	// One nozzle that is not known is another than one that is.
	r.Rows[1].Nozzle = quantity.Known(0.4e-3)
	if _, _, nozzles, _ := r.Several(); !nozzles || r.Rows[1].Name(false) != "b, 0.4 mm nozzle, 200 degC" {
		t.Errorf("%s", r.Rows[1].Name(false))
	}
}

// The best and the fastest row are those with the highest number above nothing, the first of equal ones; a survey
// without a wanted flow is good where something flows, with one where a verdict is.
func TestBestAndFastestOfASurvey(t *testing.T) {
	row := func(flow, speed float64, limit string, v assess.Verdict) SurveyRow {
		return SurveyRow{Material: "m", HotEnd: "h", Block: unit.Kelvin(200), Flow: quantity.KnownIf(flow >= 0,
			flow*1e-9), Speed: quantity.KnownIf(speed >= 0, speed), Low: quantity.Known(0.0),
			High:  quantity.Known(1e-7),
			Layer: quantity.Known(0.2e-3), Width: quantity.Known(0.45e-3), Limit: limit, Judged: string(v)}
	}
	for _, x := range []struct {
		rows          []SurveyRow
		wanted        float64
		best, fastest int // -1 for none
		good          bool
		said, unsaid  string
	}{
		{[]SurveyRow{row(3, 0.1, "stall", ""), row(9, 0.2, "stall", ""), row(9, 0.2, "stall", "")}, 0, 1, 1, true,
			"2 combinations reach it within 1 %", "wanted"},
		{[]SurveyRow{row(9, -1, "stall", ""), row(-1, -1, "", "")}, 0, 0, -1, true, "1 of 2 could not be computed",
			"print speed"},
		{[]SurveyRow{row(0, 0, "stall", ""), row(0, 0, "stall", "")}, 0, -1, -1, false,
			"None of 2 combinations has a usable flow.", "could not"},
		{[]SurveyRow{row(9, 0.1, "stall", assess.Likely), row(2, 0.3, "", assess.NotHeld)}, 8e-9, 0, 1, true,
			"wanted flow of 8 mm3/s: likely held in 1, not held in 1. ", "within 1 %"},
		{[]SurveyRow{row(9, 0.1, "stall", assess.Uncertain), row(8.909, 0.3, "", assess.NotHeld)}, 8e-9, 0, 1, false,
			"The highest print speed is at least 300 mm/s", "within 1 %"},
		{[]SurveyRow{row(9, 0.1, "stall", ""), row(8.911, 0.1, "stall", "")}, 0, 0, 0, true, "reach it within 1 %", ""},
	} {
		r := SurveyResult{Rows: x.rows, Target: quantity.KnownIf(x.wanted > 0, x.wanted)}
		r.judge()
		index := func(p *int) int {
			if p == nil {
				return -1
			}
			return *p
		}
		if index(r.Best) != x.best || index(r.Fastest) != x.fastest || r.Good != x.good ||
			!strings.Contains(r.Sentence, x.said) || x.unsaid != "" && strings.Contains(r.Sentence, x.unsaid) {
			t.Errorf("best %d, fastest %d, good %t: %s\nwant %d, %d, %t, %q, not %q", index(r.Best), index(r.Fastest),
				r.Good, r.Sentence, x.best, x.fastest, x.good, x.said, x.unsaid)
		}
	}
	// A core that melts through below the highest flow is said, one that does later is not.
	for melted, said := range map[float64]bool{8.9: true, 9: false, 9.1: false} {
		r := SurveyResult{Rows: []SurveyRow{row(9, 0.1, "stall", "")}}
		r.Rows[0].Melted = quantity.Known(melted * 1e-9)
		if r.judge(); strings.Contains(r.Sentence, "melts through") != said {
			t.Errorf("melts through to %g: %s", melted, r.Sentence)
		}
	}
}

// Factors of the viscosity and of the entrance stay behind with another material, each by itself; its caution comes
// first, and the wanted flow may be that of the base.
func TestHeaderOfASurvey(t *testing.T) {
	base := &casefile.Invented().Setup
	abs := material(t, "abs")
	for _, x := range []struct {
		viscosity, entrance float64
		left                bool
	}{{0, 0, false}, {1, 1, false}, {1.5, 0, true}, {0, 1.5, true}, {0.5, 1, true}, {1, 0.5, true}} {
		s := base.Clone()
		s.ViscosityFactor, s.EntranceFactor, s.Target = x.viscosity, x.entrance, 5e-9
		h := surveyHeader(&SurveyJob{Base: s, Materials: []*materials.Material{abs, base.Material}})
		if materials.Warned(h.Warnings, "factors-left") != x.left || materials.Warned(h.Warnings, "no-wanted-flow") ||
			!strings.HasPrefix(h.Cautions[0], abs.Name+": ") || !strings.HasPrefix(h.Cautions[1], base.Material.Name) ||
			h.Solver != "marching" || h.Title != "Survey: "+s.Title {
			t.Errorf("%+v: %+v", x, h)
		}
	}
	// A line that is given is not assumed, and without a round exit there is none.
	given := base.Clone()
	given.Line = flow.Line{Height: 0.2e-3, Width: 0.5e-3}
	for _, s := range []*setup.Setup{given, slitted()} {
		if h := surveyHeader(&SurveyJob{Base: s}); materials.Warned(h.Warnings, "line-assumed") {
			t.Errorf("%v", h.Warnings)
		}
	}
}

// The wanted flow or print speed of the job stands in its result, and the reason of the last row where none can be
// computed.
func TestWhatASurveyWants(t *testing.T) {
	base := casefile.Invented().Clone()
	base.Target = 7e-9
	r := surveyed(t, SurveyJob{Base: base, Speed: 0.05})
	near(t, "print speed", r.Wanted, 0.05, 1e-12)
	if r.Target != nil {
		t.Errorf("a flow is wanted too: %g", *r.Target)
	}
	for _, x := range []struct{ job, want float64 }{{0, 7e-9}, {5e-9, 5e-9}} {
		job := SurveyJob{Base: base, Flow: x.job}
		if got := job.flow(); got != x.want {
			t.Errorf("%g m3/s, want %g", got, x.want)
		}
	}
	_, err := Survey(t.Context(), SurveyJob{Base: base, Nozzles: []float64{4.9e-3}}, nil)
	if err == nil || !strings.HasPrefix(err.Error(), "study: none of 1 combinations") ||
		!strings.Contains(err.Error(), "no narrower") {
		t.Errorf("%v", err)
	}
}
