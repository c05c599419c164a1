package study

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
)

// bench writes files into a folder and returns a way to name them.
func bench(t testing.TB, files map[string]string) func(names ...string) []string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return func(names ...string) []string {
		var out []string
		for _, n := range names {
			out = append(out, filepath.Join(dir, n))
		}
		return out
	}
}

// push is a file with only a feeder: points of speed (mm/s) and force (N), three repeats with the scatter given.
func push(name string, mass, cost, sd float64, points ...float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[feeder]\nname = %q\nmass_g = %g\ncost = %g\n", name, mass, cost)
	for i := 0; i < len(points); i += 2 {
		fmt.Fprintf(&b, "[[feeder.point]]\nspeed_mm_s = %g\nforce_N = %g\ncause = \"grind\"\nrepeats = 3\nsd_N = "+
			"%g\nmaterial = \"pla\"\n", points[i], points[i+1], sd)
	}
	return b.String()
}

func zone(name string, length, mass float64) string {
	return fmt.Sprintf("[hot_end]\nname = %q\nblock_degC = 215\nmass_g = %g\n[[hot_end.section]]\nname = "+
		"\"barrel\"\nshape = \"tube\"\ndiameter_mm = 2\nlength_mm = %g\n[[hot_end.section]]\nname = \"cone\"\nshape = "+
		"\"cone\"\ndiameter_mm = 2\nend_diameter_mm = 0.4\nangle_deg = 60\n[[hot_end.section]]\nname = "+
		"\"bore\"\nshape = \"tube\"\ndiameter_mm = 0.4\nlength_mm = 1\n", name, mass, length)
}

func ranked(t testing.TB, files RankFiles, by string, speeds ...float64) *Ranking {
	t.Helper()
	job, err := Gather(files)
	if err != nil {
		t.Fatal(err)
	}
	job.By, job.Speeds, job.Samples, job.Seed = by, speeds, 64, 1
	r, err := Rank(context.Background(), *job, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func namesOf(rows []ForceRow) string {
	var out []string
	for _, x := range rows {
		out = append(out, fmt.Sprintf("%d%s %s", x.Rank, map[bool]string{true: "="}[x.Tied], x.Feeder))
	}
	return strings.Join(out, ", ")
}

// Forces without any hot end, at the measured speeds: ties by overlap of t-intervals, cause, and
// force per mass and cost
// by hand. A feeder that leads at one speed is not said to lead at another.
func TestRankOfForces(t *testing.T) {
	at := bench(t, map[string]string{
		"a.toml": push("a", 200, 50, 1, 2, 80, 8, 50),
		"b.toml": push("b", 100, 20, 1, 2, 78, 8, 60),
		"c.toml": push("c", 400, 0, 1, 2, 70, 8, 58),
	})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "c.toml")}, "")
	if len(r.Forces) != 2 || len(r.Entries) != 0 || r.Duty != "" || r.Area != nil {
		t.Fatalf("%d tables, %d pairs, duty %q", len(r.Forces), len(r.Entries), r.Duty)
	}
	// 80 - 2.14 < 78 + 1.86: a and b tie. 70 + 1.79 < 80 - 2.14: c is apart.
	if got := namesOf(r.Forces[0].Rows); got != "1= a, 1= b, 3 c" {
		t.Errorf("at 2 mm/s: %s", got)
	}
	if got := namesOf(r.Forces[1].Rows); got != "1= b, 1= c, 3 a" {
		t.Errorf("at 8 mm/s: %s", got)
	}
	if !strings.Contains(r.Sentence, "At 2.00 mm/s of filament a and b cannot be told apart") ||
		!strings.Contains(r.Sentence, "At 8.00 mm/s of filament b and c cannot") {
		t.Errorf("%s", r.Sentence)
	}
	x := r.Forces[0].Rows[0]
	// a: relative variances (1/80)^2 and (1/50)^2, 2 degrees of freedom each; t(0.975) of 4 is 2.776445.
	half := 2.776445 * math.Sqrt((1.0/6400+1.0/2500)/2) / math.Sqrt(3) * 80
	for what, pair := range map[string][2]float64{"force": {x.Force, 80}, "low": {x.Low, 80 - half},
		"high":     {x.High, 80 + half},
		"per mass": {*x.PerMass, 80 / 0.2}, "per cost": {*x.PerCost, 80.0 / 50}, "mass": {*x.Mass, 0.2}} {
		if math.Abs(pair[0]/pair[1]-1) > 1e-6 {
			t.Errorf("%s: %g, want %g", what, pair[0], pair[1])
		}
	}
	if x.PerSystem != nil || x.Cause != "grind" || x.Basis != "measured" || x.Repeats != 3 || x.Assumed {
		t.Errorf("%+v", x)
	}
	// By other numbers: the interval goes with the force; what has no cost comes last.
	r = ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "c.toml")}, "force-per-mass")
	if got := namesOf(r.Forces[0].Rows); got != "1 b, 2 a, 3 c" ||
		!strings.Contains(r.Sentence, "b holds the most force per 100 g of feeder: 78.0 N") {
		t.Errorf("per mass: %s; %s", got, r.Sentence)
	}
	r = ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "c.toml")}, "force-per-cost")
	if got := namesOf(r.Forces[0].Rows); got != "1 b, 2 a, 3 c" {
		t.Errorf("per cost: %s", got)
	}
	r = ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "c.toml")}, "mass")
	if got := namesOf(r.Forces[0].Rows); got != "1= b, 1= a, 3 c" {
		t.Errorf("sorted by mass: %s", got)
	}
	// Stated speeds: one between the points, one beyond.
	r = ranked(t, RankFiles{Feeders: at("a.toml", "c.toml")}, "", 4e-3, 16e-3)
	if len(r.Forces) != 2 || r.Forces[0].Rows[0].Basis != "between two points" ||
		r.Forces[1].Rows[0].Basis != "beyond the points" || r.Forces[0].Rows[0].Repeats != 0 {
		t.Errorf("%+v", r.Forces)
	}
}

// The sentence names who stands first in the tables, whatever they are sorted by.
func TestRankSentenceFollowsItsTables(t *testing.T) {
	at := bench(t, map[string]string{
		"a.toml": push("alpha", 200, 50, 0.2, 2, 74, 8, 44), "b.toml": push("beta", 90, 20, 0.2, 2, 55, 8, 52),
		"short.toml": zone("short", 12, 50), "long.toml": zone("long", 24, 80),
	})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml"), HotEnds: at("short.toml", "long.toml")}, "cost")
	for _, by := range []string{"", "force-per-mass", "force-per-system", "force-per-cost", "flow", "flow-per-mass",
		"mass", "cost", "cause", "name"} {
		o, err := orderOf(by)
		if err != nil {
			t.Fatal(err)
		}
		r.order(o)
		for i, table := range r.Forces {
			first := table.Rows[0]
			for _, x := range table.Rows {
				if x.Rank == 1 {
					first = x
				}
			}
			if want := fmt.Sprintf("mm/s of filament %s holds", first.Feeder); !strings.Contains(table.Best, want) ||
				!strings.Contains(r.Sentence, table.Best) {
				t.Errorf("by %s, table %d: %q; first is %s", by, i, table.Best, first.Feeder)
			}
		}
		if len(r.Entries) != 4 || len(r.Forces) != 2 {
			t.Fatalf("by %q: %d pairs", by, len(r.Entries))
		}
		for _, e := range r.Entries {
			if e.Rank == 1 && !e.Tied && !strings.Contains(r.Sentence, e.Pair+" comes first") {
				t.Errorf("by %s: %s is first; %s", by, e.Pair, r.Sentence)
			}
		}
	}
}

// Each pair by the table of loads is the pair by itself: the usable flow of the search, mass, cost.
func TestRankPairsAgainstEachAlone(t *testing.T) {
	at := bench(t, map[string]string{
		"a.toml": push("a", 200, 50, 1, 2, 40, 8, 30), "b.toml": push("b", 100, 20, 1, 2, 25, 8, 20),
		"short.toml": zone("short", 12, 50), "long.toml": zone("long", 24, 80), "duty.toml": string(casefile.BuiltIn),
	})
	files := RankFiles{Feeders: at("a.toml", "b.toml"), HotEnds: at("short.toml", "long.toml"),
		Duty: at("duty.toml")[0]}
	r := ranked(t, files, "")
	own, err := casefile.Read(files.Duty)
	if err != nil {
		t.Fatal(err)
	}
	if r.Block == nil || *r.Block != own.Block || len(r.Entries) != 4 || len(r.Files) != 5 {
		t.Fatalf("block %v, %d pairs, files %v", r.Block, len(r.Entries), r.Files)
	}
	parts := map[string]*casefile.Part{}
	for _, n := range []string{"a.toml", "b.toml", "short.toml", "long.toml", "duty.toml"} {
		if parts[strings.TrimSuffix(n, ".toml")], err = casefile.ReadPart(at(n)[0]); err != nil {
			t.Fatal(err)
		}
	}
	for _, e := range r.Entries {
		c, err := casefile.Join(parts["duty"], parts[e.Feeder], parts[e.HotEnd])
		if err != nil {
			t.Fatal(err)
		}
		found, err := c.Matcher(march.New(&c.Case, march.Options{})).Find(c.Block)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(e.Flow/found.Flow-1) > 1e-6 || e.Limit != string(found.Binding) || e.Low > e.Flow ||
			e.High < e.Flow {
			t.Errorf("%s: %.4g (%.4g to %.4g) mm3/s by %s, alone %.4g by %s", e.Pair, e.Flow*1e9, e.Low*1e9, e.High*1e9,
				e.Limit, found.Flow*1e9, found.Binding)
		}
		mass := c.Feeder.Mass + c.HotEnd.Mass
		if math.Abs(*e.Mass-mass) > 1e-12 || math.Abs(*e.PerMass-e.Flow/mass) > 1e-18 || e.Judged == "" {
			t.Errorf("%s: %+v", e.Pair, e)
		}
	}
	// Per system: with the lightest hot end.
	if x := r.Forces[0].Rows[0]; math.Abs(*x.PerSystem-x.Force/(*x.Mass+0.05)) > 1e-9 {
		t.Errorf("per system: %+v", x)
	}
}

// Without a duty every hot end keeps its own block temperature.
func TestRankAtTheBlockOfEachHotEnd(t *testing.T) {
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 40, 8, 30), "cool.toml": zone("cool", 16, 50),
		"hot.toml": strings.Replace(zone("hot", 16, 50), "= 215", "= 235", 1)})
	r := ranked(t, RankFiles{Feeders: at("a.toml"), HotEnds: at("cool.toml", "hot.toml")}, "")
	if r.Block != nil || len(r.Entries) != 2 {
		t.Fatalf("block %v, %d pairs", r.Block, len(r.Entries))
	}
	duty, err := casefile.Duty("pla", 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range r.Entries {
		f, _ := casefile.ReadPart(at("a.toml")[0])
		h, _ := casefile.ReadPart(at(e.HotEnd + ".toml")[0])
		c, err := casefile.Join(duty, f, h)
		if err != nil {
			t.Fatal(err)
		}
		found, err := c.Matcher(march.New(&c.Case, march.Options{})).Find(c.Block)
		if err != nil || math.Abs(e.Flow/found.Flow-1) > 1e-6 || e.Block != c.Block {
			t.Errorf("%s at %.0f K: %.4g mm3/s, alone at %.0f K %.4g (%v)", e.Pair, e.Block, e.Flow*1e9, c.Block,
				found.Flow*1e9, err)
		}
	}
}

// Feeders 1 per cent apart on one hot end cannot be told apart, a weak one can; a feeder whose force is a guess is
// known less well.
func TestRankShowsTies(t *testing.T) {
	variant := func(name string, edits ...string) string {
		s := strings.Replace(string(casefile.BuiltIn), `name = "club feeder"`, `name = "`+name+`"`, 1)
		s = strings.Replace(s, `cold_core = "limit"`, `cold_core = "warn"`, 1)
		return strings.NewReplacer(edits...).Replace(s)
	}
	weak := []string{"force_N = 74", "force_N = 34", "force_N = 66", "force_N = 30", "force_N = 57", "force_N = 26"}
	at := bench(t, map[string]string{
		"a.toml": variant("a"), "b.toml": variant("b", "force_N = 57", "force_N = 57.5"), "weak.toml": variant("weak",
			weak...),
		"guessed.toml": variant("guessed", append([]string{"[spread] ", "[spread]\nfeeder_force_share = 0.6 "},
			weak...)...),
	})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "weak.toml")}, "")
	if len(r.Entries) != 3 || r.Entries[2].Feeder != "weak" || r.Entries[2].Rank != 3 || r.Entries[2].Tied {
		t.Errorf("%d entries, the last %s with rank %d", len(r.Entries), r.Entries[2].Feeder, r.Entries[2].Rank)
	}
	if r.Entries[0].Rank != 1 || r.Entries[1].Rank != 1 || !r.Entries[0].Tied || !r.Entries[1].Tied {
		t.Errorf("feeders 1 per cent apart must tie: ranks %d and %d", r.Entries[0].Rank, r.Entries[1].Rank)
	}
	if e := r.Entries[0]; math.Abs(*e.Mass-0.172) > 1e-12 || math.Abs(*e.PerMass-e.Flow/0.172) > 1e-18 {
		t.Errorf("mass %g, per mass %g", *e.Mass, *e.PerMass)
	}
	r = ranked(t, RankFiles{Feeders: at("weak.toml", "guessed.toml")}, "")
	width := map[string]float64{}
	for _, e := range r.Entries {
		width[e.Feeder] = e.High / e.Low
	}
	if width["guessed"] < 1.2*width["weak"] {
		t.Errorf("low to high: %v", width)
	}
}

// Two pushes of each feeder tell little by themselves: t is 12.7 for one degree of freedom. All feeders together tell
// more, and it is said.
func TestRankPoolsTheScatterOfFewRepeats(t *testing.T) {
	twice := func(name string, f float64) string {
		return strings.ReplaceAll(push(name, 100, 10, 1, 2, f), "repeats = 3", "repeats = 2")
	}
	at := bench(t, map[string]string{"a.toml": twice("a", 80), "b.toml": twice("b", 60), "c.toml": twice("c", 50),
		"d.toml": twice("d", 40)})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml", "c.toml", "d.toml")}, "")
	if got := namesOf(r.Forces[0].Rows); got != "1 a, 2 b, 3 c, 4 d" {
		t.Errorf("%s", got)
	}
	pooled := math.Sqrt((1.0/6400 + 1.0/3600 + 1.0/2500 + 1.0/1600) / 4)
	if x := r.Forces[0].Rows[0]; math.Abs(x.High-80*(1+2.776445*pooled/math.Sqrt2)) > 1e-4 {
		t.Errorf("high end %.3f N", x.High)
	}
	if !strings.Contains(fmt.Sprint(r.Warnings), "pooled-scatter") {
		t.Errorf("%v", r.Warnings)
	}
}

func TestGatherRefuses(t *testing.T) {
	at := bench(t, map[string]string{
		"a.toml": push("same", 200, 50, 1, 2, 40), "b.toml": push("same", 200, 50, 1, 2, 41), "copy.toml": push("same",
			200, 50, 1, 2, 40),
		"c.toml": push("c", 200, 50, 1, 2, 40), "blend.toml": strings.ReplaceAll(push("blend", 1, 1, 1, 2, 40), `"pla"`,
			`"my blend"`),
		"h.toml": zone("h", 12, 50), "h2.toml": zone("h", 13,
			50), "bad.toml": "[feeder]\nmass_g = -3\n[[feeder.point]]\nspeed_mm_s = 2\n",
		"noblock.toml": strings.Replace(zone("n", 12, 50), "block_degC = 215\n", "", 1),
	})
	for _, c := range []struct {
		files RankFiles
		want  string
	}{
		{RankFiles{Feeders: at("a.toml", "b.toml")}, `two different feeders are called "same"`},
		{RankFiles{Feeders: at("a.toml", "c.toml"), HotEnds: at("h.toml", "h2.toml")},
			`two different hot ends are called "h"`},
		{RankFiles{Feeders: at("h.toml")}, "no feeder"},
		{RankFiles{Feeders: at("a.toml"), HotEnds: at("c.toml")}, "no hot end"},
		{RankFiles{Feeders: at("a.toml", "blend.toml"), HotEnds: at("h.toml")}, "needs a duty"},
		{RankFiles{Feeders: at("a.toml", "bad.toml"), HotEnds: at("h.toml")}, "bad.toml:2: feeder.mass_g"},
		{RankFiles{Feeders: at("a.toml", "c.toml"), HotEnds: at("noblock.toml")}, "hot_end.block_degC: found nothing"},
		{RankFiles{Feeders: at("a.toml"), HotEnds: at("h.toml"), Material: "unobtainium"}, "unobtainium"},
		{RankFiles{Feeders: at("a.toml", "gone.toml")}, "gone.toml"},
	} {
		if _, err := Gather(c.files); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.files, err, c.want)
		}
	}
	// The same hot end at another block temperature is the same hot end: the block is a matter of the duty.
	twin := bench(t, map[string]string{"hotter.toml": strings.Replace(zone("h", 12, 50), "= 215", "= 235", 1)})
	if job, err := Gather(RankFiles{Feeders: at("a.toml", "c.toml"),
		HotEnds: append(at("h.toml"), twin("hotter.toml")...)}); err != nil || len(job.HotEnds) != 1 {
		t.Errorf("the same hot end, hotter: %v", err)
	}
	// The same feeder twice counts once; one feeder alone is nothing to rank, an order that is none is named.
	job, err := Gather(RankFiles{Feeders: at("a.toml", "copy.toml")})
	if err != nil || len(job.Feeders) != 1 {
		t.Fatalf("%v", err)
	}
	if _, err := Rank(context.Background(), *job, nil); err == nil ||
		!strings.Contains(err.Error(), "nothing to rank") {
		t.Errorf("one feeder alone: %v", err)
	}
	job.By = "beauty"
	if _, err := Rank(context.Background(), *job, nil); err == nil || !strings.Contains(err.Error(), "force-per-mass") {
		t.Errorf("an order that is none: %v", err)
	}
}

// Points of another polymer than the duty's are said to be.
func TestRankWarnsOfOtherPolymers(t *testing.T) {
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 74), "b.toml": push("b", 100, 20, 1, 2, 60),
		"h.toml": zone("h", 12, 50)})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml"), HotEnds: at("h.toml"), Material: "tpu"}, "")
	found := 0
	for _, w := range r.Warnings {
		if w.Code == "points-other-polymer" || w.Code == "soft-stock" {
			found++
		}
	}
	if found != 4 || r.Forces[0].Rows[0].Force > 30 || r.Forces[0].Rows[0].Cause != "buckle" {
		t.Errorf("%d warnings; %+v", found, r.Forces[0].Rows[0])
	}
}

// A ranking made in Go: set-ups in SI, no file.
func TestRankFromGo(t *testing.T) {
	s := casefile.Invented().Setup
	weak := s.Clone()
	f, err := feeder.New(feeder.Feeder{Name: "weak",
		Points: []feeder.Point{{Speed: 2e-3, Force: 20, Cause: feeder.Grind}}, Stock: s.Feeder.Stock})
	if err != nil {
		t.Fatal(err)
	}
	weak.Feeder = f
	r, err := Rank(context.Background(), RankJob{Duty: &s, HotEnds: []Place{{"mine", &s}}, Samples: 32, Seed: 1,
		Feeders: []Rival{{"strong", s.Feeder, &s}, {"weak", f, weak}}, Speeds: []float64{2e-3}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Version == "" || len(r.Cautions) == 0 || r.Entries[0].Feeder != "strong" || r.Forces[0].Rows[1].Force != 20 ||
		!r.Good {
		t.Errorf("%+v", r)
	}
}

// BenchmarkRank is 12 feeders on 4 hot ends with 256 samples.
func BenchmarkRank(b *testing.B) {
	files := map[string]string{"duty.toml": string(casefile.BuiltIn)}
	var feeders, ends []string
	for i := range 12 {
		n := fmt.Sprintf("f%02d.toml", i)
		files[n] = push(fmt.Sprintf("feeder %d", i), 100+float64(i)*10, 30, 2, 2, 30+5*float64(i), 8, 25+4*float64(i))
		feeders = append(feeders, n)
	}
	for i := range 4 {
		n := fmt.Sprintf("h%02d.toml", i)
		files[n] = zone(fmt.Sprintf("hot end %d", i), 10+4*float64(i), 40)
		ends = append(ends, n)
	}
	at := bench(b, files)
	for b.Loop() {
		job, err := Gather(RankFiles{Feeders: at(feeders...), HotEnds: at(ends...), Duty: at("duty.toml")[0]})
		if err != nil {
			b.Fatal(err)
		}
		job.Samples, job.Seed = 256, 1
		if _, err := Rank(context.Background(), *job, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// Feeders of files of their own on a calibrated case: named as the duty, it gives its hot end too, and its factors
// count.
func TestRankOnACalibratedCase(t *testing.T) {
	text := string(casefile.BuiltIn)
	thick, _, err := casefile.Patch("case.toml", []byte(text),
		map[string]string{"material.viscosity_factor": "1.5"}, "")
	if err != nil {
		t.Fatal(err)
	}
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 74), "b.toml": push("b", 100, 20, 1, 2, 60),
		"case.toml": text, "calibrated.toml": string(thick)})
	flow := func(duty string) float64 {
		t.Helper()
		job, err := Gather(RankFiles{Feeders: at("a.toml", "b.toml"), Duty: at(duty)[0]})
		if err != nil {
			t.Fatal(err)
		}
		if len(job.HotEnds) != 1 {
			t.Fatalf("%d hot ends on %s", len(job.HotEnds), duty)
		}
		job.Samples = 32
		r, err := Rank(context.Background(), *job, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Entries) != 2 {
			t.Fatalf("%d pairs", len(r.Entries))
		}
		return r.Entries[0].Flow
	}
	if plain, thick := flow("case.toml"), flow("calibrated.toml"); !(thick < 0.97*plain) {
		t.Errorf("usable flow %.3g m3/s of the case, %.3g with 1.5 times its viscosity", plain, thick)
	}
}

// Pairs that hold up to the end of the search are told: their ranks do not see what lies beyond.
func TestRankAtTheEndOfTheSearch(t *testing.T) {
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 400, 8, 400),
		"b.toml": push("b", 100, 20, 1, 2, 25, 8, 20), "duty.toml": string(casefile.BuiltIn)})
	r := ranked(t, RankFiles{Feeders: at("a.toml", "b.toml"), HotEnds: at("duty.toml"), Duty: at("duty.toml")[0]}, "")
	said := ""
	for _, w := range r.Warnings {
		if w.Code == "rank-search-end" {
			said = w.Message
		}
	}
	if !strings.HasPrefix(said, "1 of 3 pairs") && !strings.HasPrefix(said, "1 of 2 pairs") {
		t.Errorf("%q, %v", said, r.Warnings)
	}
}
