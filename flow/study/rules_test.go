package study

import (
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"meltload/flow/assess"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/mould"
	"meltload/flow/quantity"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Two sides meet at flows within 2 per cent. At 5 mm3/s, three pushes each of 70 and 60 N with 3 and 4 N of scatter:
// Welch's t has (9/3 + 16/3)^2/((9/3)^2/2 + (16/3)^2/2) = 3.71 degrees of freedom, and t(0.975) is between the 3.182 of
// three and the 2.776 of four.
func TestCompareAtCommonFlows(t *testing.T) {
	a := Measured{Name: "old", Flows: []float64{5e-9, 12e-9, 0}, Points: []loadcell.Sample{
		{Mean: 70, SD: 3, N: 3, Cause: feeder.Grind}, {Mean: 50, SD: 1, N: 3, Cause: feeder.Grind}, {Mean: 9, N: 1}}}
	b := Measured{Name: "new", Flows: []float64{5.09e-9, 12.3e-9, 0}, Points: []loadcell.Sample{
		{Mean: 60, SD: 4, N: 3, Cause: feeder.Skip}, {Mean: 50, SD: 1, N: 3}, {Mean: 10, N: 1}}}
	r, err := Compare(a, b, 0.95)
	if err != nil || len(r.Rows) != 2 {
		t.Fatalf("%+v, %v", r, err)
	}
	x, u := &r.Rows[0], math.Sqrt(25.0/3)
	if x.First != 70 || x.Second != 60 || *x.FirstSD != 3 || *x.SecondSD != 4 || x.FirstTests != 3 ||
		x.SecondTests != 3 || x.Delta != -10 || math.Abs(x.Share+1.0/7) > 1e-12 || *x.Flow != 5e-9 {
		t.Errorf("%+v", x)
	}
	if x.Half == nil || *x.Half < 2.776*u || *x.Half > 3.182*u || *x.P < 0.01 || *x.P > 0.05 {
		t.Errorf("half width %v, p %v", x.Half, x.P)
	}
	if !strings.Contains(x.Why, "the first fails by grind, the second by skip") || strings.HasPrefix(x.Why, ";") {
		t.Errorf("%q", x.Why)
	}
	// Single pushes at a flow that nobody named.
	if x = &r.Rows[1]; x.Flow != nil || x.Half != nil || x.P != nil || x.FirstSD != nil || x.Delta != 1 {
		t.Errorf("%+v", x)
	}
	if !strings.Contains(r.Sentence, "at a flow not named") || !strings.Contains(r.Sentence, "95 % intervals") {
		t.Errorf("%s", r.Sentence)
	}
	b.Flows = []float64{5.2e-9, 12.3e-9, 7e-9}
	if _, err := Compare(a, b, 0.95); err == nil || !strings.Contains(err.Error(), "5.2 mm3/s") ||
		!strings.Contains(err.Error(), "without a flow") {
		t.Errorf("no flow in common: %v", err)
	}
	// A feeder's points are flows by the cross-section of the filament; one without repeats counts as one push.
	f := MeasuredFeeder("f", &feeder.Feeder{Points: []feeder.Point{{Speed: 2e-3, Force: 80, SD: 2, Repeats: 4,
		Cause: feeder.Grind}, {Speed: 8e-3, Force: 50}}}, 2.5e-6)
	if f.Flows[0] != 5e-9 || f.Flows[1] != 20e-9 || f.Points[0] != (loadcell.Sample{Mean: 80, SD: 2, N: 4,
		Cause: feeder.Grind}) || f.Points[1].N != 1 {
		t.Errorf("%+v", f)
	}
	m := MeasuredOf("log", &LogResult{Points: []LogPoint{{Flow: quantity.Known(5e-9), Force: 70,
		SD: quantity.Known(3.0), Repeats: 3, Cause: "grind"}, {Force: 9, Repeats: 1}}})
	if m.Flows[0] != 5e-9 || m.Flows[1] != 0 || m.Points[0] != a.Points[0] || m.Points[1].SD != 0 {
		t.Errorf("%+v", m)
	}
}

// Load curves reach 1.6 times the usable flow, 1.2 times the wanted one and a tenth past what was measured, but not
// past the search, and four times its start at least.
func TestEndsOfTheLoadCurves(t *testing.T) {
	c := &casefile.Invented().Setup
	c.Limits.MinFlow, c.Limits.MaxFlow = 1e-9, 60e-9
	area := c.Area()
	for _, x := range []struct{ usable, target, speed, want float64 }{
		{20e-9, 10e-9, 1e-3, 32e-9}, {5e-9, 30e-9, 1e-3, 36e-9}, {5e-9, 2e-9, 20e-9 / area, 22e-9},
		{50e-9, 2e-9, 1e-3, 60e-9}, {1e-9, 0, 0.1e-9 / area, 4e-9},
	} {
		r := Result{Verdict: Verdict{Flow: x.usable}}
		c.Target = x.target
		f := *c.Feeder
		f.Points = []feeder.Point{{Speed: x.speed, Force: 50}}
		c.Feeder = &f
		if low, top := r.curveEnds(c); low != 1e-9 || math.Abs(top/x.want-1) > 1e-9 {
			t.Errorf("%+v: %g to %g", x, low, top)
		}
	}
}

// Capability is drawn with twice its scatter either way, never below nothing, and divided by the safety factor.
func TestCapabilityBand(t *testing.T) {
	c := &casefile.Invented().Setup
	c.Limits.Safety = 1.25
	f := *c.Feeder
	f.Points = []feeder.Point{{Speed: 2e-3, Force: 80, SD: 10, Repeats: 3, Cause: feeder.Grind},
		{Speed: 4e-3, Force: 40, SD: 30, Repeats: 3, Cause: feeder.Skip}}
	f.Model, c.Feeder = nil, &f
	var r Result
	r.capability(c, []float64{2e-3 * c.Area(), 4e-3 * c.Area()})
	for i, want := range []CapPoint{{Force: 80, Usable: 64, Low: 60, High: 100, Cause: "grind"},
		{Force: 40, Usable: 32, Low: 0, High: 100, Cause: "skip"}} {
		want.Flow = r.Capability[i].Flow
		if got := r.Capability[i]; math.Abs(got.Force-want.Force) > 1e-9 || math.Abs(got.Usable-want.Usable) > 1e-9 ||
			math.Abs(got.Low-want.Low) > 1e-9 || math.Abs(got.High-want.High) > 1e-9 || got.Cause != want.Cause ||
			got.Extrapolated || got.Grip != nil {
			t.Errorf("%+v, want %+v", got, want)
		}
		if m := r.Measured[i]; math.Abs(m.Flow-want.Flow) > 1e-20 || m.Force != want.Force || m.Repeats != 3 ||
			m.Cause != want.Cause || m.SD != f.Points[i].SD {
			t.Errorf("measured %+v", m)
		}
	}
}

// Of nine measured speeds six are compared: the slowest, the fastest, and of the others those that most feeders share.
func TestSpeedsToCompare(t *testing.T) {
	rival := func(speeds ...float64) Rival {
		f := &feeder.Feeder{}
		for _, v := range speeds {
			f.Points = append(f.Points, feeder.Point{Speed: v * 1e-3, Force: 50})
		}
		return Rival{Feeder: f}
	}
	for _, x := range []struct {
		job    RankJob
		want   []float64 // mm/s
		warned string
	}{
		{RankJob{Speeds: []float64{3e-3}}, []float64{3}, ""},
		{RankJob{Feeders: []Rival{rival(8, 2), rival(2.03, 4)}}, []float64{2, 4, 8}, ""},
		{RankJob{Feeders: []Rival{rival(2), rival(2.05)}}, []float64{2, 2.05}, ""},
		{RankJob{Feeders: []Rival{rival()}}, []float64{2, 8}, "assumed-speeds"},
		{RankJob{Feeders: []Rival{rival(1, 2, 3, 4, 5, 6, 7, 8, 9), rival(3, 5, 8), rival(5, 7)}},
			[]float64{1, 3, 5, 7, 8, 9}, "speeds-left-out"},
		{RankJob{Feeders: []Rival{rival(1, 2, 3, 4, 5, 6)}}, []float64{1, 2, 3, 4, 5, 6}, ""},
	} {
		var r Ranking
		got := r.speeds(&x.job)
		if len(got) != len(x.want) || (x.warned != "") != (len(r.Warnings) > 0) ||
			x.warned != "" && !materials.Warned(r.Warnings, x.warned) {
			t.Errorf("%v, want %v; %v", got, x.want, r.Warnings)
			continue
		}
		for i := range got {
			if math.Abs(got[i]*1e3-x.want[i]) > 1e-9 {
				t.Errorf("%v, want %v mm/s", got, x.want)
			}
		}
	}
}

// Pairs are apart where the first beats the other in 95 per cent of the draws, by the number that is ranked.
func TestPairsAreApartByTheirDraws(t *testing.T) {
	entry := func(name string, flow, mass float64, beaten int) Entry { // by a flow of 10 in so many of 20 draws
		e := Entry{Pair: name, Flow: flow, PerMass: quantity.Known(flow / mass)}
		for i := range 20 {
			e.samples = append(e.samples, 10+map[bool]float64{true: -1, false: 1}[i < beaten])
		}
		return e
	}
	lead := Entry{Pair: "lead", Flow: 12, PerMass: quantity.Known(12 / 0.2), samples: slices.Repeat([]float64{10}, 20)}
	for beaten, tied := range map[int]bool{18: true, 19: false, 20: false} {
		rows := []Entry{entry("x", 11, 0.2, beaten), lead}
		rankPairs(rows, named("flow"))
		if rows[0].Pair != "lead" || rows[0].Rank != 1 || rows[0].Tied != tied || rows[1].Tied != tied ||
			(rows[1].Rank == 1) != tied {
			t.Errorf("beaten in %d of 20: %d %t, %d %t", beaten, rows[0].Rank, rows[0].Tied, rows[1].Rank, rows[1].Tied)
		}
	}
	// At half the mass the other is first, by draws of twice the height: 11/12 as heavy flows do not tell them apart.
	rows := []Entry{lead, entry("x", 11, 0.1, 20)}
	rankPairs(rows, named("flow-per-mass"))
	if rows[0].Pair != "x" || rows[0].Tied || rows[1].Rank != 2 {
		t.Errorf("%+v", rows)
	}
	// What has no mass comes last, and what never flows is not divided by.
	rows = []Entry{{Pair: "none", Flow: 5, samples: lead.samples}, {Pair: "still", PerMass: quantity.Known(0.0),
		samples: make([]float64, 20)}, lead}
	rankPairs(rows, named("flow-per-mass"))
	if rows[0].Pair != "lead" || rows[1].Pair != "still" || rows[2].Pair != "none" || rows[2].Rank != 3 ||
		rows[1].Rank != 2 {
		t.Errorf("%+v", rows)
	}
	// The sentence names the highest of those that share the first place.
	rows = []Entry{entry("x", 11, 0.2, 10), lead, entry("far", 2, 0.2, 20)}
	rows[0].High = 13
	rankPairs(rows, named("flow"))
	if s := firstByFlow(rows, named("flow")); !strings.HasPrefix(s, "2 pairs share the first place: ") {
		t.Errorf("%s", s)
	}
}

// Forces are apart where their intervals do not meet, whatever they are divided by.
func TestForcesAreApartByTheirIntervals(t *testing.T) {
	row := func(name string, force, half, mass float64) ForceRow {
		return ForceRow{Feeder: name, Force: force, Low: force - half, High: force + half,
			PerMass: quantity.Known(force / mass), Mass: quantity.Known(mass)}
	}
	for _, x := range []struct {
		by   string
		rows []ForceRow
		want string
	}{
		{"force", []ForceRow{row("a", 60, 4.9, 0.1), row("b", 70, 4.9, 0.2)}, "1 b, 2 a"},
		{"force", []ForceRow{row("a", 60, 5.1, 0.1), row("b", 70, 5.1, 0.2)}, "1= b, 1= a"},
		// Per mass 600 +- 50 and 350 +- 25.
		{"force-per-mass", []ForceRow{row("b", 70, 5.1, 0.2), row("a", 60, 5.1, 0.1)}, "1 a, 2 b"},
		// Per mass 350 +- 60 and 300 +- 30: they meet.
		{"force-per-mass", []ForceRow{row("b", 70, 12, 0.2), row("a", 60, 6, 0.2)}, "1= b, 1= a"},
		// The first of a rank leads it: c meets b and not a.
		{"force", []ForceRow{row("a", 70, 4, 1), row("b", 64, 4, 1), row("c", 58, 4, 1)}, "1= a, 1= b, 3 c"},
	} {
		rankForces(x.rows, named(x.by))
		if got := namesOf(x.rows); got != x.want {
			t.Errorf("by %s: %s, want %s", x.by, got, x.want)
		}
	}
	for n, want := range map[int]string{1: "a", 2: "a and b", 3: "a, b and c", 4: "a, b and 2 more"} {
		if got := listed([]string{"a", "b", "c", "d"}[:n]); got != want {
			t.Errorf("%d names: %s", n, got)
		}
	}
}

// The sentence of a survey by its rows: how many share the highest flow within 1 per cent, what melts through, what is
// quickest, and what the verdicts add up to.
func TestSurveySentenceByHand(t *testing.T) {
	row := func(material string, flow, speed float64, limit string) SurveyRow {
		return SurveyRow{Material: material, HotEnd: "h", Block: unit.Kelvin(200), Flow: quantity.Known(flow * 1e-9),
			Low: quantity.Known(0.5 * flow * 1e-9), High: quantity.Known(2 * flow * 1e-9),
			Speed: quantity.Known(speed), Layer: quantity.Known(0.2e-3), Width: quantity.Known(0.45e-3), Limit: limit}
	}
	for _, x := range []struct {
		rows []SurveyRow
		want string
	}{
		{[]SurveyRow{row("a", 20, 0.2, "stall"), row("b", 19.7, 0.3, "stall")},
			"The highest usable flow is 20.0 mm3/s (10.0 to 40.0): a, 200 degC, limited by stall. The highest " +
				"print speed is 300 mm/s in lines of 0.2 x 0.45 mm: b, 200 degC."},
		{[]SurveyRow{row("a", 20, 0.3, "stall"), row("b", 19.9, 0.2, "stall")},
			"The highest usable flow is 20.0 mm3/s (10.0 to 40.0): a, 200 degC, limited by stall. 2 " +
				"combinations reach it within 1 %. It is the highest print speed as well: 300 mm/s in lines of 0.2 x " +
				"0.45 mm."},
		{[]SurveyRow{row("a", 40, 0.3, ""), row("b", 20, 0.2, "stall")},
			"The highest usable flow is at least 40.0 mm3/s, the end of the search (low end 20.0): a, 200 degC, with " +
				"nothing to limit it up to there. It is the highest print speed as well: at least 300 mm/s in lines " +
				"of 0.2 x 0.45 mm."},
		{[]SurveyRow{row("a", 0, 0, "flow point")}, "None of 1 combinations has a usable flow."},
	} {
		r := SurveyResult{Rows: x.rows}
		if r.judge(); r.Sentence != x.want || r.Good != (*x.rows[0].Flow > 0) {
			t.Errorf("%s\nwant %s", r.Sentence, x.want)
		}
	}
	several := []SurveyRow{row("a", 40, 0.3, ""), row("b", 40, 0.2, ""), row("c", 3, 0.1, "stall")}
	several[0].Melted = quantity.Known(15e-9)
	for i, v := range []assess.Verdict{assess.Held, assess.Uncertain, assess.NotHeld} {
		several[i].Judged = string(v)
	}
	several[2].HotEnd, several[1].Block = "other", unit.Kelvin(210)
	r := SurveyResult{Rows: several, Target: quantity.Known(8e-9)}
	r.judge()
	for _, want := range []string{"the wanted flow of 8 mm3/s: held in 1, uncertain in 1, not held in 1.",
		"Nothing limits the flow in 2 combinations", "It melts through up to 15.0 mm3/s"} {
		if !strings.Contains(r.Sentence, want) {
			t.Errorf("%s: no %q", r.Sentence, want)
		}
	}
	if r.Held() != 1 || !r.Good || *r.Best != 0 {
		t.Errorf("held %d, good %t, best %d", r.Held(), r.Good, *r.Best)
	}
	if a, b, c, d := r.Several(); !a || !b || c || !d {
		t.Errorf("several: %t %t %t %t", a, b, c, d)
	}
	if a, b, c, d := (&SurveyResult{Rows: several[:1]}).Several(); a || b || c || d {
		t.Errorf("several of one: %t %t %t %t", a, b, c, d)
	}
	// Verdicts that only doubt are not good.
	r.Rows = several[1:]
	if r.judge(); r.Good || r.Held() != 0 {
		t.Errorf("good %t, held %d", r.Good, r.Held())
	}
}

// A material that is not the case's runs in the middle of its window where no block temperatures are given, the case's
// own at the case's.
func TestSurveyBlocks(t *testing.T) {
	base := &casefile.Invented().Setup
	abs := material(t, "abs")
	job := SurveyJob{Base: base, Materials: []*materials.Material{base.Material, abs}}
	all := job.combinations()
	if len(all) != 2 || all[0].row.Block != base.Block || all[1].row.Block != (abs.Window[0]+abs.Window[1])/2 ||
		all[0].stock != 0 || all[1].stock != 1 || all[1].set.Block != all[1].row.Block {
		t.Errorf("%+v", all)
	}
	// A nozzle as wide as what leads into it is none; one just narrower is.
	wide := base.HotEnd.Sections[0].D1
	for bore, ok := range map[float64]bool{wide: false, 0.95 * wide: true} {
		if err := rebore(base.Clone(), bore); (err == nil) != ok {
			t.Errorf("%g m: %v", bore, err)
		}
	}
	// A wanted flow beyond the search is looked for to a fifth above it.
	far := combine(base, "h", 0, 0, base.Block, 0, 2*base.Limits.MaxFlow)
	if got := far.set.Limits.MaxFlow; math.Abs(got/(2.4*base.Limits.MaxFlow)-1) > 1e-9 {
		t.Errorf("search to %g", got)
	}
	if near := combine(base, "h", 0, 0, base.Block, 0, base.Limits.MaxFlow); near.set.Limits.MaxFlow !=
		base.Limits.MaxFlow {
		t.Errorf("search to %g", near.set.Limits.MaxFlow)
	}
}

// Every verdict on a mould, by what fills and what comes out.
func TestVerdictOnAMould(t *testing.T) {
	end := func(filled bool) MouldGain { return MouldGain{Filled: filled, Share: quantity.Known(1.0)} }
	for _, x := range []struct {
		filled, out bool
		ends        []MouldGain
		want        string
		good        bool
	}{
		{true, true, []MouldGain{end(true), end(true)}, "full, and comes out", true},
		{true, true, []MouldGain{end(true), end(false)}, "likely full", true},
		{true, true, []MouldGain{end(false), end(false)}, "uncertain: full as the case stands", false},
		{false, true, []MouldGain{end(true), end(false)}, "uncertain: short as the case stands", false},
		{false, true, []MouldGain{end(false), end(false)}, "short", false},
		{true, false, []MouldGain{end(true), end(true)}, "cannot be taken out", false},
		// An end without an answer says what the case says.
		{true, true, []MouldGain{{}, {}}, "full, and comes out", true},
		{false, true, nil, "short", false},
	} {
		r := MouldResult{Filled: x.filled, ComesOut: x.out, Ends: x.ends}
		if r.decide(); !strings.HasPrefix(r.Verdict, x.want) || r.Good != x.good {
			t.Errorf("%+v: %q, good %t", x, r.Verdict, r.Good)
		}
	}
}

// A part comes out if the mould is colder than the ejection temperature, the centre gets there within the hour, and so
// in every shot of the row.
func TestPartComesOut(t *testing.T) {
	shot := func(n int, eject *float64) MouldShot {
		return MouldShot{Number: n, Eject: eject, Centre: unit.Kelvin(95)}
	}
	ten := quantity.Known(10.0)
	for _, x := range []struct {
		above   float64 // K, mould over ejection temperature
		cooling *float64
		cycle   float64
		shots   []MouldShot
		out     bool
		why     []string
	}{
		{-30, ten, 0, []MouldShot{shot(1, ten), shot(2, ten)}, true, nil},
		{0, ten, 0, nil, false, []string{"The part cannot be taken out: the mould at", "is not below"}},
		{-30, nil, 0, []MouldShot{shot(1, nil)}, false, []string{"The part cannot", "not at", "within an hour"}},
		{-30, ten, 0, []MouldShot{shot(1, ten), shot(2, nil), shot(3, nil)}, false,
			[]string{"From shot 2 on", "so warm by shot 2"}},
		{-30, ten, 25, []MouldShot{shot(1, nil)}, false,
			[]string{"The part cannot", "every 25.0 s", "centre of shot 1 is still at 95 degC"}},
	} {
		c := &casefile.Invented().Setup
		c.Mould.Surface, c.Mould.Cycle = c.Material.Ejection+x.above, x.cycle
		r := MouldResult{Cooling: x.cooling, Shots: x.shots}
		r.warn("mould-too-hot", "said elsewhere")
		r.judge(c)
		if r.ComesOut != x.out || x.out != (r.WhyNotOut == "") ||
			materials.Warned(r.Warnings, "cannot-be-taken-out") == x.out ||
			materials.Warned(r.Warnings, "mould-too-hot") != x.out {
			t.Errorf("%+v: comes out %t, %q, %v", x, r.ComesOut, r.WhyNotOut, r.Warnings)
		}
		for _, w := range x.why {
			if !strings.Contains(r.WhyNotOut, w) {
				t.Errorf("%q: no %q", r.WhyNotOut, w)
			}
		}
	}
}

// What a shot means for melt and heater, and the clamp and the stiffness that others' fillings widen.
func TestNotesOnAShot(t *testing.T) {
	c := &casefile.Invented().Setup
	p := c.HotEnd.Block.Power
	note := func(volume, available, below, centre, heater, contact float64) []materials.Warning {
		r := MouldResult{Volume: volume, NoFlow: unit.Kelvin(110), Contact: quantity.KnownIf(contact > 0, contact)}
		r.shotNotes(c, &assess.Filling{Supply: &assess.Supply{Melt: c.Block - below, Centre: unit.Kelvin(centre),
			Heater: heater, Available: available}})
		if r.ShrinkLow == nil || !(*r.ShrinkLow <= *r.ShrinkHigh) || r.ShrinkBasis == "" {
			t.Errorf("shrinkage %v to %v (%s)", r.ShrinkLow, r.ShrinkHigh, r.ShrinkBasis)
		}
		return r.Warnings
	}
	for _, x := range []struct {
		code                                              string
		volume, available, below, centre, heater, contact float64
	}{
		{"shot-larger-than-melt", 300e-9, 200e-9, 6, 150, 0, 1e3}, {"cold-core", 100e-9, 200e-9, 6, 109, 0, 1e3},
		{"heater-limit", 300e-9, 200e-9, 4, 150, 1.01 * p, 1e3},
		{"perfect-contact", 100e-9, 200e-9, 6, 150, 0, 0},
		{"", 100e-9, 200e-9, 6, 150, 1.01 * p, 1e3}, {"", 300e-9, 200e-9, 4, 111, 0.99 * p, 1e3},
	} {
		ws := note(x.volume, x.available, x.below, x.centre, x.heater, x.contact)
		if x.code == "" && len(ws) > 0 || x.code != "" && (len(ws) != 1 || ws[0].Code != x.code) {
			t.Errorf("%+v: %v", x, ws)
		}
	}
	fill := func(open, high, peak float64, set bool) assess.Variant {
		return assess.Variant{SetMelt: set, Filling: &assess.Filling{Result: &mould.Result{Open: open, OpenHigh: high,
			Peak: peak}}}
	}
	r := MouldResult{Clamp: Interval{Low: 150, Best: 200, High: 300}, Peak: 10e6}
	r.clamp([]assess.Variant{fill(120, 190, 0, false), fill(90, 210, 0, false), {}}, 1.5)
	if r.Clamp != (Interval{Low: 135, Best: 200, High: 315}) {
		t.Errorf("clamp %+v", r.Clamp)
	}
	for _, x := range []struct {
		peaks [2]float64
		set   bool
		warn  bool
	}{{[2]float64{9e6, 11.2e6}, true, false}, {[2]float64{9e6, 11.3e6}, true, true},
		{[2]float64{9e6, 20e6}, false, false}, {[2]float64{7.9e6, 10e6}, true, true}} {
		r := MouldResult{Peak: 10e6}
		r.stiffness([]assess.Variant{fill(0, 0, x.peaks[0], x.set), fill(0, 0, x.peaks[1], x.set), {SetMelt: true}})
		if materials.Warned(r.Warnings, "set-melt-stiffness") != x.warn {
			t.Errorf("%+v: %v", x, r.Warnings)
		}
	}
}

// The error of a trace is the root mean square over its rows but the first, which has no step before it.
func TestErrorOfATrace(t *testing.T) {
	x := traceOf(&calibrate.Fitted{Trace: calibrate.Trace{Time: []float64{0, 1, 2}, Block: make([]float64, 3),
		Flow: make([]float64, 3), Force: []float64{100, 10, 20}, U: 0.5}, Before: make([]float64, 3),
		Predicted: []float64{0, 13, 16}})
	if math.Abs(x.RMS-math.Sqrt((9.0+16)/2)) > 1e-12 || len(x.Time) != 2 || x.After[0] != 13 || x.U != 0.5 {
		t.Errorf("%+v", x)
	}
	r := CalResult{Values: []CalValue{{Factor: "viscosity", Why: "on a bound"}, {Factor: "contact"},
		{Factor: "heated"}}}
	r.tradesOff("contact", "viscosity")
	for i, want := range []string{"on a bound; trades off with the contact: known together, not each",
		"trades off with the viscosity: known together, not each", ""} {
		if r.Values[i].Why != want {
			t.Errorf("%s: %q", r.Values[i].Factor, r.Values[i].Why)
		}
	}
	v := CalValue{Low: quantity.Known(1.5)}
	if v.interval() != "1.5 to infinite" {
		t.Errorf("%s", v.interval())
	}
}

// The parts of a run follow its options.
func TestPhasesOfARun(t *testing.T) {
	feed := transient.Phase{Name: "feed", Duration: 60, Flow: 5e-9}
	for _, x := range []struct {
		o    TraceOptions
		want []transient.Phase
	}{
		{TraceOptions{}, nil},
		{TraceOptions{HeaterOff: true, Then: 300}, []transient.Phase{{Name: "heater off", Duration: 300, Flow: 5e-9,
			Heating: transient.Off}}},
		{TraceOptions{Ramp: -0.1, Then: 300}, []transient.Phase{{Name: "ramp", Duration: 300, Flow: 5e-9,
			Heating: transient.Ramp, Rate: -0.1}}},
	} {
		x.o.Feed, x.o.Flow = 60, 5e-9
		if got, want := x.o.phases(), append([]transient.Phase{feed}, x.want...); !slices.Equal(got, want) {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
}

// How a cell changed: what moved is said, and a reading that is off only if the force of a count moved.
func TestCellAgainstBefore(t *testing.T) {
	for _, x := range []struct {
		d    loadcell.CellDrift
		want string
		warn bool
	}{
		{loadcell.CellDrift{Sensitivity: 0.02, USensitivity: 0.001, SensitivityMoved: true, AtSpan: -2},
			"changed by +2.00 % ± 0.10 and the zero by +0.00 N ± 0.00 (standard uncertainties): the force of a " +
				"count moved.", true},
		{loadcell.CellDrift{Zero: -0.5, UZero: 0.1, ZeroMoved: true}, "-0.50 N ± 0.10 (standard uncertainties): the " +
			"zero moved.", false},
		{loadcell.CellDrift{ZeroMoved: true, SensitivityMoved: true}, "both moved.", true},
		{loadcell.CellDrift{}, "neither moved beyond chance.", false},
	} {
		r := CellResult{Span: 100}
		r.against(x.d)
		if !strings.HasSuffix(r.Sentence, x.want) || materials.Warned(r.Warnings, "cell-drift") != x.warn ||
			*r.Drift != (CellDrift{x.d.Sensitivity, x.d.USensitivity, x.d.Zero, x.d.UZero, x.d.AtSpan}) {
			t.Errorf("%s, %v, %+v", r.Sentence, r.Warnings, r.Drift)
		}
	}
	// Two counts a gram from a zero of 50: a line by hand, its errors nothing.
	w := []loadcell.Weight{{Mass: 0, Up: 50}, {Mass: 1, Up: 2050}, {Mass: 2, Up: 4050, Down: 4050, HasDown: true}}
	r, err := CheckCell("cell", w, 10, nil)
	if err != nil || math.Abs(r.PerCount-0.005) > 1e-12 || math.Abs(r.Zero-50) > 1e-9 || math.Abs(r.Span-20) > 1e-12 ||
		r.Drift != nil {
		t.Fatalf("%+v, %v", r, err)
	}
	if x := r.Weights[2]; x.Force != 20 || x.Mass != 2 || x.Up != 4050 || *x.Down != 4050 || math.Abs(x.Error) > 1e-9 ||
		r.Weights[1].Down != nil {
		t.Errorf("%+v", r.Weights)
	}
}

// A log thinned for a picture keeps the lowest and the highest reading of every stretch, in their order and above zero.
func TestThinnedLogKeepsItsExtremes(t *testing.T) {
	l := &loadcell.Log{}
	for i := range 3000 { // stretches of four
		l.Time = append(l.Time, float64(i))
		l.Force = append(l.Force, 10+map[int]float64{1: 5, 3: -3}[i%4])
	}
	c := thinned("x", l, 10)
	if len(c.Time) != 1500 {
		t.Fatalf("%d points", len(c.Time))
	}
	for k := range c.Time {
		want := [2]float64{float64(k/2*4 + 1), 5}
		if k%2 == 1 {
			want = [2]float64{float64(k/2*4 + 3), -3}
		}
		if got := [2]float64{c.Time[k], c.Force[k]}; got != want {
			t.Fatalf("point %d: %v, want %v", k, got, want)
		}
	}
	for n, want := range map[int]string{1: "1 test", 2: "2 tests"} {
		if tests(n) != want {
			t.Errorf("%s", tests(n))
		}
	}
	if orDefault(0) != 0.95 || orDefault(0.9) != 0.9 {
		t.Error("confidence")
	}
}

// A run that ends in a failure says when, at which force and block, and how sure that is.
func TestVerdictOnARun(t *testing.T) {
	point := func(time, force, holds, heater float64) TracePoint {
		return TracePoint{Time: time, Force: force, Block: unit.Kelvin(200), Heater: heater,
			Capability: quantity.KnownIf(holds > 0, holds)}
	}
	r := TraceResult{Points: []TracePoint{point(0, 10, 60, 30), point(90, 45, 60, 20)},
		Ends: []TraceEnd{{What: "low"}, {What: "high", Failed: true, Time: 70, Block: unit.Kelvin(195), Force: 60}}}
	c := &casefile.Invented().Setup
	c.HotEnd.Block.Power = 40
	r.uses(c)
	if len(r.Uses) != 2 || r.Uses[0].Share != 0.75 || r.Uses[1].Share != 0.75 {
		t.Errorf("%+v", r.Uses)
	}
	r.verdict(nil)
	if r.Failed || r.Time != nil || r.Judged != string(assess.Likely) || !r.Good ||
		!strings.Contains(r.Sentence, "holds to the end, 90 s") ||
		!strings.Contains(r.Sentence, "with high, it fails after 70 s at 195") {
		t.Errorf("%+v", r.Sentence)
	}
	r.verdict(&transient.Failure{Time: 80, Force: 61, Block: unit.Kelvin(190), Cause: feeder.Grind})
	if !r.Failed || *r.Time != 80 || *r.Force != 61 || r.Cause != "grind" || r.Judged != string(assess.Uncertain) ||
		r.Good || !strings.Contains(r.Sentence, "fails (grind) after 80 s") {
		t.Errorf("%s, %+v", r.Judged, r.Sentence)
	}
}

// A run that cannot be played says all that is wrong with it.
func TestRunsThatCannotBe(t *testing.T) {
	c := &casefile.Invented().Setup
	c.Target = 0
	for what, x := range map[string]struct {
		o    TraceOptions
		want []string
	}{
		"nothing": {TraceOptions{}, []string{"Flow", "Feed"}},
		"both": {TraceOptions{Flow: 5e-9, Feed: 10, HeaterOff: true, Ramp: 1, Then: 10},
			[]string{"HeaterOff and Ramp"}},
		"no time": {TraceOptions{Flow: 5e-9, Feed: 10, HeaterOff: true}, []string{"Then"}},
		"no ramp": {TraceOptions{Flow: 5e-9, Feed: 10, Ramp: 0.1}, []string{"Then"}},
		"back":    {TraceOptions{Flow: -5e-9, Feed: -1}, []string{"Flow", "Feed"}},
	} {
		_, err := Trace(t.Context(), c, x.o)
		ps, ok := err.(strict.Problems)
		if !ok || len(ps) != len(x.want) {
			t.Errorf("%s: %v", what, err)
			continue
		}
		for i, p := range ps {
			if p.Field != x.want[i] {
				t.Errorf("%s: %q, want %q", what, p.Field, x.want[i])
			}
		}
	}
	// A feed alone, at the flow that the case wants.
	c.Target = 4e-9
	r, err := Trace(t.Context(), c, TraceOptions{Feed: 3})
	if err != nil || r.Points[len(r.Points)-1].Flow != 4e-9 || math.Abs(r.Points[len(r.Points)-1].Time-3) > 1e-9 {
		t.Errorf("%v, %v", r, err)
	}
}

// A survey says what it took over and what it left behind, and only where it did.
func TestSurveySaysWhatItAssumed(t *testing.T) {
	base := &casefile.Invented().Setup
	abs := []*materials.Material{base.Material, material(t, "abs")}
	for what, x := range map[string]struct {
		job    SurveyJob
		factor float64
		want   []string
	}{
		"own": {SurveyJob{Flow: 5e-9}, 1.5, []string{"line-assumed"}},
		"another": {SurveyJob{Flow: 5e-9, Materials: abs}, 1.5, []string{"factors-left", "window-middle",
			"line-assumed"}},
		"at blocks": {SurveyJob{Flow: 5e-9, Materials: abs, Blocks: []float64{500}}, 1, []string{"line-assumed"}},
		"nozzles":   {SurveyJob{Flow: 5e-9, Nozzles: []float64{0.4e-3}}, 1, []string{"nozzle-shape", "line-assumed"}},
		"no flow":   {SurveyJob{}, 1, []string{"line-assumed", "no-wanted-flow"}},
		"speed":     {SurveyJob{Speed: 0.1}, 1, []string{"line-assumed"}},
	} {
		s := base.Clone()
		s.ViscosityFactor, s.Target = x.factor, 0
		x.job.Base = s
		h := surveyHeader(&x.job)
		var got []string
		for _, w := range h.Warnings {
			got = append(got, w.Code)
		}
		slices.Sort(got)
		slices.Sort(x.want)
		if !slices.Equal(got, x.want) || (h.Material == nil) != (len(x.job.Materials) > 0) {
			t.Errorf("%s: %v, want %v", what, got, x.want)
		}
	}
}

// Codes come once each, in their order; problems that came twice once; a schema belongs to its command.
func TestOnceEach(t *testing.T) {
	ws := []materials.Warning{{Code: "b"}, {Code: "a"}, {Code: "b"}, {Code: "c"}}
	if got := codes(ws); got != "b a c" {
		t.Errorf("%q", got)
	}
	ps := strict.Problems{{Field: "x", Seen: "1"}, {Field: "y"}, {Field: "x", Seen: "1"}, {Field: "x", Seen: "2"}}
	if got := dedupe(ps); len(got) != 3 || got[2].Seen != "2" {
		t.Errorf("%+v", got)
	}
	for _, k := range Kinds() {
		if s := Schema(k.Command); s == nil || s["title"] != "result of meltload "+k.Command {
			t.Errorf("%s: %v", k.Command, s["title"])
		}
	}
	if Schema("nothing") != nil {
		t.Error("a schema of nothing")
	}
}

// Print speeds in words: what is wanted beside what is usable, or alone where no flow is.
func TestPrintSpeedsInWords(t *testing.T) {
	p := &Printed{Layer: 0.2e-3, Width: 0.45e-3, Speed: 0.2}
	const lines = " As print speed, in lines of 0.2 x 0.45 mm: "
	for _, x := range []struct {
		flow   float64
		wanted *float64
		want   string
	}{{18e-9, nil, lines + "200 mm/s."}, {18e-9, quantity.Known(0.1), lines + "200 mm/s, wanted 100 mm/s."},
		{0, quantity.Known(0.1), lines + "wanted 100 mm/s."}, {0, nil, ""}} {
		p.Wanted = x.wanted
		if got := p.sentence(&Verdict{Flow: x.flow}); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
	if (*Printed)(nil).sentence(&Verdict{Flow: 1}) != "" {
		t.Error("print speeds without a line")
	}
	p.Assumed = true
	if got := p.Line(); got != "0.2 x 0.45 mm" {
		t.Errorf("%s", got)
	}
	p.Nozzle = quantity.Known(0.4e-3)
	if got := p.Line(); got != "0.2 x 0.45 mm (assumed for a 0.4 mm nozzle)" {
		t.Errorf("%s", got)
	}
}

// A survey tells its progress: shares of the combinations, the last of them all.
func TestProgressOfASurvey(t *testing.T) {
	base := &casefile.Invented().Setup
	var seen []float64
	var lock sync.Mutex
	_, err := Survey(t.Context(), SurveyJob{Base: base, Blocks: []float64{480, 490, 500, 510}}, func(done float64) {
		lock.Lock()
		defer lock.Unlock()
		seen = append(seen, done)
	})
	slices.Sort(seen)
	if err != nil || !slices.Equal(seen, []float64{0.25, 0.5, 0.75, 1}) {
		t.Errorf("%v, %v", seen, err)
	}
}

// A best temperature above the window of the material is said to be, and a feeder that slips what it delivers.
func TestWhatAnAnswerStandsOn(t *testing.T) {
	c := casefile.Invented()
	for top, warn := range map[float64]bool{c.Material.Window[1]: false, c.Material.Window[1] + 20: true} {
		s := c.Setup.Clone()
		s.Temps[1] = top
		r, err := Run(s, Options{MapTemps: 5, MapFlows: 5})
		if err != nil || *r.BestTemp != top || materials.Warned(r.Warnings, "best-above-window") != warn {
			t.Errorf("up to %g K: best %v, %v, %v", top, r.BestTemp, r.Warnings, err)
		}
	}
	for slip, warn := range map[float64]bool{0: false, 0.001: false, 0.01: true} {
		s := c.Setup.Clone()
		s.Feeder.Slip = slip
		r, err := Glance(s, Options{})
		if err != nil || materials.Warned(r.Warnings, "feeder-slips") != warn {
			t.Errorf("slip %g: %v, %v", slip, r.Warnings, err)
		}
	}
	for width, warn := range map[float64]bool{2e-3: false, 1.781e-3: false, 1.779e-3: true} {
		s := c.Setup.Clone()
		s.Filament.Tolerance = 0.03e-3
		for i := range s.HotEnd.Sections[:2] {
			if x := &s.HotEnd.Sections[i]; x.D1 == 2e-3 {
				if x.D1 = width; x.D2 == 2e-3 {
					x.D2 = width
				}
				if x.Half > 0 {
					x.Length = 0
				}
			}
		}
		s.Complete()
		r, err := Glance(s, Options{})
		if err != nil || materials.Warned(r.Warnings, "tight-barrel") != warn {
			t.Errorf("barrel of %g m: %v", width, err)
		}
	}
}
