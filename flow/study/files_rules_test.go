package study

import (
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// What the files of a ranking come to: whose feeders on whose hot ends, on the duty of which file.
func TestWhatFilesComeTo(t *testing.T) {
	whole := func(name string, block string) string {
		return strings.NewReplacer(`name = "club feeder"`, `name = "`+name+`"`, `name = "club hot end"`,
			`name = "end of `+name+`"`, "block_degC = 215", "block_degC = "+block).Replace(string(casefile.BuiltIn))
	}
	own := func(name, polymer string) string { // says what filament it pushes
		return "[filament]\nmaterial = \"" + polymer + "\"\ndiameter_mm = 1.75\n" + push(name, 100, 10, 1, 2, 60)
	}
	blend := func(name string) string {
		return strings.ReplaceAll(push(name, 100, 10, 1, 2, 60), `"pla"`, `"my blend"`)
	}
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 74), "b.toml": push("b", 100, 20, 1, 2, 60),
		"abs.toml": own("abs", "abs"), "abs2.toml": own("abs2", "abs"), "blend.toml": blend("blend"),
		"h.toml": zone("h", 12, 50), "k.toml": zone("k", 16, 60), "one.toml": whole("one", "215"),
		"two.toml": whole("two", "225")})
	for _, x := range []struct {
		what                             string
		feeders, ends                    []string
		duty, material                   string
		wantFeeders, wantEnds, wantTitle string
		polymer                          string // of the duty
		block                            float64
		files                            int
		warned                           string
	}{
		{"feeders alone", []string{"a.toml", "b.toml"}, nil, "", "", "a b", "", "Ranking of feeders", "", 0, 2, ""},
		{"whole cases", []string{"one.toml", "two.toml"}, nil, "", "", "one two", "end of one, end of two", "Ranking: ",
			"pla", 215, 2, ""},
		{"a duty by name", []string{"a.toml", "b.toml"}, nil, "two.toml", "", "a b", "end of two", "Ranking: ", "pla",
			225, 3, ""},
		{"a duty by name, and a hot end", []string{"a.toml", "one.toml"}, nil, "two.toml", "", "a one", "end of one",
			"Ranking: ", "pla", 225, 3, ""},
		{"hot ends", []string{"a.toml"}, []string{"h.toml", "k.toml"}, "", "", "a", "h, k", "Ranking", "pla", 215, 3,
			"implied-duty"},
		{"hot ends, and a whole case", []string{"a.toml", "two.toml"}, []string{"h.toml"}, "", "", "a two", "h",
			"Ranking: ", "pla", 225, 3, ""},
		{"a material", []string{"a.toml", "blend.toml"}, []string{"h.toml"}, "", "petg", "a blend", "h", "Ranking",
			"petg", 215, 3, "implied-duty"},
		{"filaments of their own", []string{"abs.toml", "abs2.toml"}, []string{"h.toml"}, "", "", "abs abs2", "h",
			"Ranking", "abs", 215, 3, "implied-duty"},
		{"other filament than the duty's", []string{"abs.toml"}, []string{"h.toml", "k.toml"}, "one.toml", "", "abs",
			"h, k", "Ranking: ", "pla", 215, 4, "other-duty"},
	} {
		files := RankFiles{Feeders: at(x.feeders...), HotEnds: at(x.ends...), Material: x.material}
		if x.duty != "" {
			files.Duty = at(x.duty)[0]
		}
		job, err := Gather(files)
		if err != nil {
			t.Errorf("%s: %v", x.what, err)
			continue
		}
		var feeders, ends []string
		for _, f := range job.Feeders {
			if feeders = append(feeders, f.Name); f.Feeder == nil || (f.Setup != nil) != (x.wantEnds != "") {
				t.Errorf("%s: %+v", x.what, f)
			}
		}
		for _, h := range job.HotEnds {
			ends = append(ends, h.Name)
		}
		if strings.Join(feeders, " ") != x.wantFeeders || strings.Join(ends, ", ") != x.wantEnds ||
			!strings.HasPrefix(job.Header.Title, x.wantTitle) || len(job.Header.Files) != x.files {
			t.Errorf("%s: %q on %q, %q of %v", x.what, feeders, ends, job.Header.Title, job.Header.Files)
		}
		if (job.Duty != nil) != (x.polymer != "") || job.Duty != nil && (job.Duty.Material.ID != x.polymer ||
			job.Duty.Block != unit.Kelvin(x.block) || job.Samples != job.Duty.Samples || job.Seed != job.Duty.Seed) {
			t.Errorf("%s: duty %+v", x.what, job.Duty)
		}
		for _, code := range []string{"implied-duty", "other-duty"} {
			if materials.Warned(job.Header.Warnings, code) != (code == x.warned) {
				t.Errorf("%s: %s", x.what, warned(job.Header.Warnings))
			}
		}
	}
	// What points name does not agree, or one names none: no duty can be told.
	for _, fs := range [][]string{{"a.toml", "abs.toml"}, {"abs.toml", "a.toml"}, {"blend.toml", "a.toml"},
		{"a.toml", "blend.toml"}} {
		if _, err := Gather(RankFiles{Feeders: at(fs...), HotEnds: at("h.toml")}); err == nil ||
			!strings.Contains(err.Error(), "needs a duty") {
			t.Errorf("%v: %v", fs, err)
		}
	}
}

// All that is wrong with the files is told at once, each once; a duty that is no whole case is refused.
func TestAllThatIsWrongWithFiles(t *testing.T) {
	at := bench(t, map[string]string{"a.toml": push("a", 200, 50, 1, 2, 74), "h.toml": zone("h", 12, 50),
		"mass.toml": push("m", -1, 50, 1, 2, 74), "cost.toml": push("c", 1, -1, 1, 2, 74),
		"length.toml": zone("l", -1, 50), "narrow.toml": strings.Replace(zone("n", 12, 50), "diameter_mm = 2\nlength",
			"diameter_mm = 1.7\nlength", 1), "one.toml": string(casefile.BuiltIn)})
	for _, x := range []struct {
		files RankFiles
		want  []string // fields
	}{
		{RankFiles{Feeders: at("mass.toml", "cost.toml"), HotEnds: at("length.toml")},
			[]string{"feeder.mass_g", "feeder.cost", "hot_end.section[1].length_mm"}},
		{RankFiles{Feeders: at("a.toml", "mass.toml"), HotEnds: at("h.toml"), Duty: at("length.toml")[0]},
			[]string{"feeder.mass_g", "hot_end.section[1].length_mm"}},
		// Each feeder is joined with the first hot end, and the hot end with the first feeder.
		{RankFiles{Feeders: at("a.toml", "one.toml"), HotEnds: at("narrow.toml"), Duty: at("one.toml")[0]},
			[]string{"hot_end.section[1].diameter_mm", "hot_end.section[2].diameter_mm"}},
	} {
		_, err := Gather(x.files)
		ps, ok := err.(strict.Problems)
		var got []string
		for _, p := range ps {
			got = append(got, p.Field)
		}
		if !ok || !slices.Equal(got, x.want) {
			t.Errorf("%v: %v, want %v; %v", x.files, got, x.want, err)
		}
	}
	if _, err := Gather(RankFiles{Feeders: at("a.toml"), HotEnds: at("h.toml"), Duty: at("h.toml")[0]}); err == nil {
		t.Error("a hot end alone is taken for a duty")
	}
}

// A result says which case it is of: the case's file first, then those it names, then those noted before; remarks on
// the case before others; and by what a melt flow rate scales its viscosity.
func TestHeaderOfACase(t *testing.T) {
	c := *casefile.Invented()
	c.File, c.Hash, c.Refs, c.RateFactor = "case", "1", []casefile.Ref{{File: "feeder", Hash: "2"}}, 1.5
	c.Notes = []materials.Warning{{Code: "note", Message: "n"}}
	h := headerOf(&c.Setup, "t")
	h.Files = []File{{"log", "3"}}
	h.warn("w", "later")
	h.From(&c)
	if !slices.Equal(h.Files, []File{{"case", "1"}, {"feeder", "2"}, {"log", "3"}}) || h.Material.Factor != 1.5 ||
		len(h.Warnings) != 2 || h.Warnings[0].Code != "note" || len(h.Inputs) != len(c.Inputs) || *h.Area != c.Area() {
		t.Errorf("%+v", h)
	}
	bare := bareHeader("t")
	if bare.From(&c); bare.Material != nil || !bare.Good {
		t.Errorf("%+v", bare)
	}
	c.Title = ""
	if h = dutyHeader(&c); h.Title != "Ranking" || h.Files != nil {
		t.Errorf("%q, %v", h.Title, h.Files)
	}
	c.Title = "mine"
	if h = dutyHeader(&c); h.Title != "Ranking: mine" || h.Material.Factor != 1.5 {
		t.Errorf("%q", h.Title)
	}
}

// The revision is the first twelve digits of the one that the build notes, with whether the source has changed since.
func TestRevisionOfABuild(t *testing.T) {
	set := func(kv ...string) []debug.BuildSetting {
		var out []debug.BuildSetting
		for i := 0; i < len(kv); i += 2 {
			out = append(out, debug.BuildSetting{Key: kv[i], Value: kv[i+1]})
		}
		return out
	}
	for _, x := range []struct {
		settings []debug.BuildSetting
		want     string
	}{{nil, ""}, {set("vcs.modified", "true"), ""}, {set("vcs.revision", "0123456789ab"), "0123456789ab"},
		{set("vcs.revision", "0123456789abcd", "vcs.modified", "false"), "0123456789ab"},
		{set("vcs.revision", "0123456789a"), ""}, {set("other", "0123456789abcd", "vcs.time", "true"), ""},
		{set("vcs.revision", "0123456789abcd", "vcs.modified", "true"), "0123456789ab, changed since"}} {
		if got := revisionOf(x.settings); got != x.want {
			t.Errorf("%v: %q, want %q", x.settings, got, x.want)
		}
	}
	defer func(old string) { revision = old }(revision)
	if revision = "abc"; Revision() != "abc" || Stamp() != Version+" (abc)" {
		t.Errorf("%q, %q", Revision(), Stamp())
	}
	revision = ""
	if r := Revision(); r == "" && Stamp() != Version || r != "" && Stamp() != Version+" ("+r+")" {
		t.Errorf("%q, %q", r, Stamp())
	}
}
