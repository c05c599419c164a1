package whatif

import (
	"bytes"
	"encoding/json"
	"html"
	"io"
	"maps"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials/checks"
)

func builtIn(t testing.TB) *Page {
	t.Helper()
	other := strings.NewReplacer(`name = "club feeder"`, `name = "other feeder"`, "force_N = 74", "force_N = 30").
		Replace(string(casefile.BuiltIn))
	p, err := New([]Source{{casefile.BuiltInName, casefile.BuiltIn}, {"other.toml", []byte(other)}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func ask(a *Answer, set map[string]string) Asked {
	q := Asked{Edited: true, Text: a.Text, Set: map[string]string{}, Was: map[string]string{}}
	for _, k := range a.Controls {
		q.Set[k.Name], q.Was[k.Name] = k.Value, k.Was
	}
	for k, v := range set {
		q.Set[k] = v
	}
	return q
}

func TestEveryControlMovesTheCaseFile(t *testing.T) {
	p := builtIn(t)
	first := p.Answer(Asked{})
	if first.Document == nil || len(first.Controls) != 12 {
		t.Fatalf("%d controls, %v", len(first.Controls), first.Problems)
	}
	for name, value := range map[string]string{"filament.material": "abs", "hot_end.block_degC": "230",
		"target.flow_mm3_s": "12,5", "hot_end.section[3].diameter_mm": "0.5", "hot_end.section[1].length_mm": "30",
		"hot_end.contact_W_m2K": "inf", "feeder.point[2].force_N": "60"} {
		a := p.Answer(ask(first, map[string]string{name: value}))
		if a.Document == nil {
			t.Errorf("%s: %v", name, a.Problems)
			continue
		}
		for _, k := range a.Controls {
			if k.Name == name &&
				!strings.EqualFold(strings.TrimPrefix(k.Value, "+"), strings.Replace(value, ",", ".", 1)) {
				t.Errorf("%s is %q, asked %q", name, k.Value, value)
			}
		}
		if a.Text == first.Text {
			t.Errorf("%s: the case file did not change", name)
		}
		if _, ps := casefile.Parse("x", []byte(a.Text)); len(ps) > 0 {
			t.Errorf("%s: the case file does not read back: %v", name, ps)
		}
	}
	// The bore takes the cone's end with it.
	a := p.Answer(ask(first, map[string]string{"hot_end.section[3].diameter_mm": "0.6"}))
	if !strings.Contains(a.Text, "end_diameter_mm = 0.6") {
		t.Errorf("cone left behind: %v", a.Problems)
	}
	// A feeder of another case, then an edit of the text: both are kept.
	q := ask(a, nil)
	q.Feeder = "1"
	a = p.Answer(q)
	if !strings.Contains(a.Text, "other feeder") || !strings.Contains(a.Text, "end_diameter_mm = 0.6") {
		t.Errorf("%v\n%s", a.Problems, a.Text)
	}
	q = ask(a, nil)
	q.Edited, q.Text = true, strings.Replace(q.Text, "block_degC = 215", "block_degC = 222", 1)
	if a = p.Answer(q); !strings.Contains(a.Text, "block_degC = 222") || a.Document == nil {
		t.Errorf("the text was edited, the old field won: %v", a.Problems)
	}
}

func TestBadInputIsHandledAsInACaseFile(t *testing.T) {
	p := builtIn(t)
	first := p.Answer(Asked{})
	for _, c := range []struct {
		set  map[string]string
		want string
	}{
		{map[string]string{"hot_end.block_degC": "900"}, "50 to 500 degC"},
		{map[string]string{"hot_end.block_degC": "warm"}, "a number"},
		{map[string]string{"hot_end.block_degC": ""}, "a number"},
		{map[string]string{"hot_end.contact_W_m2K": "NaN"}, "found"},
		{map[string]string{"hot_end.section[3].diameter_mm": "-1"}, "0.01 to 50 mm"},
		{map[string]string{"hot_end.section[3].diameter_mm": "60"}, "0.01 to 50 mm"},
		{map[string]string{"filament.material": "plaa"}, `did you mean "pla"?`},
		{map[string]string{"filament.material": "pla\"\nx = 1"}, "found"},
		{map[string]string{"target.flow_mm3_s": "1e300"}, "0, or 0.01 to 1000"},
		{map[string]string{"hot_end.block_degC": "900", "feeder.point[1].force_N": "0"}, "0.001 to 2000 N"},
	} {
		a := p.Answer(ask(first, c.set))
		if a.Document != nil || !strings.Contains(a.Problems.Error(), c.want) {
			t.Errorf("%v: %v", c.set, a.Problems)
		}
		if a.Text != first.Text {
			t.Errorf("%v: the case file changed", c.set)
		}
		marked := 0
		for _, k := range a.Controls {
			if v, ok := c.set[k.Name]; ok && (k.Value != v || k.Was == v) {
				t.Errorf("%v: the field shows %q", c.set, k.Value)
			}
			if k.Problem != "" {
				marked++
			}
		}
		if marked == 0 && len(c.set) == 1 {
			t.Errorf("%v: no field is marked", c.set)
		}
		// Put right, it goes on.
		if b := p.Answer(ask(a, map[string]string{"hot_end.block_degC": "215", "hot_end.contact_W_m2K": "3000",
			"hot_end.section[3].diameter_mm": "0.4", "filament.material": "pla", "target.flow_mm3_s": "10",
			"feeder.point[1].force_N": "74"})); b.Document == nil {
			t.Errorf("%v, put right: %v", c.set, b.Problems)
		}
	}
	// Every bad case file of the corpus gives its problems here too.
	files, _ := filepath.Glob(checks.Root("testdata", "bad", "*.toml"))
	if len(files) < 60 {
		t.Fatalf("%d bad files", len(files))
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if a := p.Answer(Asked{Edited: true, Text: string(b)}); len(a.Problems) == 0 || len(a.Controls) == 0 {
			t.Errorf("%s: no problems, or no fields", filepath.Base(f))
		}
	}
	// A record of this machine that no case file names is not read for a page.
	a := p.Answer(Asked{Edited: true,
		Text: strings.Replace(first.Text, `material = "pla" `, `material_file = "/etc/hostname" #`, 1)})
	if !strings.Contains(a.Problems.Error(), "names") || len(a.Problems) != 1 {
		t.Errorf("%v", a.Problems)
	}
	// Nor by a second spelling of the table, which a laxer reader would take for the same.
	a = p.Answer(
		Asked{Edited: true,
			Text: strings.Replace(
				first.Text,
				`material = "pla" `,
				`material_file = "/etc/hostname" #`,
				1,
			) + "\n[Filament]\nmaterial_file = \"\"\n",
		},
	)
	if !strings.Contains(a.Problems.Error(), "names") || len(a.Problems) != 1 {
		t.Errorf("%v", a.Problems)
	}
}

// No text that the page is sent opens a file that no case named at the start: records, feeders, hot ends.
func TestPageOpensNoOtherFile(t *testing.T) {
	p := builtIn(t)
	text := string(casefile.BuiltIn)
	for key, with := range map[string]string{
		"feeder_file": "feeder_file = \"/etc/hostname\"\n" + text, "hot_end_file": "\"hot_end_file\" = " +
			"'/etc/hostname'\n" + text,
		"filament.material_file": strings.Replace(text, `material = "pla" `, `material_file = "/etc/hostname" #`, 1),
	} {
		a := p.Answer(Asked{Edited: true, Text: with})
		if len(a.Problems) != 1 || a.Problems[0].Field != key ||
			!strings.Contains(a.Problems[0].Allowed, "given at the start") {
			t.Errorf("%s: %v", key, a.Problems)
		}
	}
}

// FuzzRead: whatever the form, there is a case or there are problems, the form can be shown again, and no panic. It
// computes nothing.
func FuzzRead(f *testing.F) {
	const short = "[filament]\nmaterial = \"pla\"\ndiameter_mm = 1.75\n[hot_end]\nblock_degC = " +
		"215\n[[hot_end.section]]\nshape = \"tube\"\ndiameter_mm = 2\nlength_mm = " +
		"20\n[feeder]\n[[feeder.point]]\nflow_mm3_s = 5\nforce_N = 74\n"
	f.Add("hot_end.block_degC", "230", short, "")
	f.Add("filament.material", `"`, short, "1")
	f.Add("feeder.point[1].force_N", "inf", "x = [", "-1")
	p := builtIn(f)
	first := p.Answer(Asked{})
	f.Fuzz(func(t *testing.T, key, value, text, feeder string) {
		q := ask(first, map[string]string{key: value})
		q.Edited, q.Text, q.Feeder = true, text, feeder
		out := &Answer{Text: text}
		c, ps := p.read(q, out)
		if c == nil && len(ps) == 0 {
			t.Fatal("neither a case nor problems")
		}
		if len(ps) > 0 {
			p.refuse(out, q, c, ps)
		}
		if len(out.Controls) == 0 && len(ps) > 0 {
			t.Fatal("no form to show")
		}
	})
}

// pixels are the bytes of a picture in a page: letters by chance.
var pixels = regexp.MustCompile(`base64,[A-Za-z0-9+/=]+`)

// FuzzAnswer: whatever the form, there is an answer or there are problems, the page can be written, and no panic.
func FuzzAnswer(f *testing.F) {
	f.Add("hot_end.block_degC", "230", string(casefile.BuiltIn), "")
	f.Add("filament.material", `"`, string(casefile.BuiltIn), "1")
	f.Add("hot_end.section[3].diameter_mm", "1e-300", string(casefile.BuiltIn), "7")
	f.Add("feeder.point[1].force_N", "inf", "x = [", "-1")
	p := builtIn(f)
	first := p.Answer(Asked{})
	f.Fuzz(func(t *testing.T, key, value, text, feeder string) {
		q := ask(first, map[string]string{key: value})
		q.Edited, q.Text, q.Feeder = true, text, feeder
		a := p.Answer(q)
		if (a.Document == nil) == (len(a.Problems) == 0) {
			t.Fatalf("document %v, problems %v", a.Document != nil, a.Problems)
		}
		var w bytes.Buffer
		if err := a.Reply(&w); err != nil {
			t.Fatal(err)
		}
		var out map[string]any
		if err := json.Unmarshal(w.Bytes(), &out); err != nil {
			t.Fatal(err)
		}
		if s, _ := out["answer"].(string); strings.Contains(pixels.ReplaceAllString(s, ""), "NaN") {
			t.Fatal("NaN in the answer")
		}
	})
}

// BenchmarkAnswer is one move of a slider, from form to markup.
func BenchmarkAnswer(b *testing.B) {
	p := builtIn(b)
	first := p.Answer(Asked{})
	q := ask(first, map[string]string{"hot_end.block_degC": "225"})
	for b.Loop() {
		a := p.Answer(q)
		a.Reply(io.Discard)
	}
}

// BenchmarkBegin is what a live report shows first of one move, from the question of its script to markup: all but the
// range.
func BenchmarkBegin(b *testing.B) {
	p := builtIn(b)
	for b.Loop() {
		p.Begin(Read(url.Values{"set:hot_end.block_degC": {"225"}})).Reply(io.Discard)
	}
}

// Answers asked for at once are those asked for alone.
func TestManyAtOnce(t *testing.T) {
	p := builtIn(t)
	first := p.Answer(Asked{})
	temps := []string{"195", "205", "215", "225"}
	alone := map[string]string{}
	for _, T := range temps {
		alone[T] = p.Answer(ask(first, map[string]string{"hot_end.block_degC": T})).Document.Sentence
	}
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			T := temps[i%len(temps)]
			if got := p.Answer(ask(first,
				map[string]string{"hot_end.block_degC": T})).Document.Sentence; got != alone[T] {
				t.Errorf("%s degC: %q, alone %q", T, got, alone[T])
			}
		})
	}
	wg.Wait()
}

// What a script sends is the start and what is changed: the answer is that of the whole text, it names the changes, and
// both verdicts and both curves are in it. A change that the case does not have is not passed over.
func TestChangesAreFromTheStart(t *testing.T) {
	p := builtIn(t)
	first := p.Answer(Asked{})
	a := p.Answer(Read(url.Values{"set:hot_end.block_degC": {"230"}, "set:hot_end.section[3].diameter_mm": {"0.6"}}))
	if a.Document == nil {
		t.Fatal(a.Problems)
	}
	whole := p.Answer(Asked{Edited: true, Text: a.Text})
	if !maps.Equal(Numbers(a.result), Numbers(whole.result)) {
		t.Error("the text of the answer gives other numbers")
	}
	var b strings.Builder
	if err := a.Reply(&b); err != nil {
		t.Fatal(err)
	}
	var r reply
	if err := json.Unmarshal([]byte(b.String()), &r); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{a.Document.Sentence, first.Document.Sentence, "load at the start", "At the start",
		"block temperature 215 → 230 °C", "nozzle bore 0.4 → 0.6 mm"} {
		if !strings.Contains(html.UnescapeString(r.Answer), want) {
			t.Errorf("the answer lacks %q", want)
		}
	}
	if strings.Contains(r.Answer, "feeder held at the start") {
		t.Error("the same feeder is drawn twice")
	}
	weaker := p.Answer(Read(url.Values{"set:feeder.point[1].force_N": {"60"}}))
	if !strings.Contains(weaker.Document.Markup(), "feeder held at the start") {
		t.Error("another feeder is not drawn beside that of the start")
	}
	if strings.Contains(r.Answer, `class="static"`) {
		t.Error("an answer for a script draws")
	}
	back := p.Answer(Read(url.Values{"set:hot_end.block_degC": {"215"}}))
	if back.Document.Sentence != first.Document.Sentence ||
		!slices.Equal(back.Document.Beside, first.Document.Beside) || len(first.Document.Beside) != 1 {
		t.Errorf("back at the start it is not as at the start: %v, %v", back.Document.Beside, first.Document.Beside)
	}
	if a := p.Answer(Read(url.Values{"set:feeder.motor.current_A": {"1"}})); len(a.Problems) != 1 {
		t.Errorf("a current without a motor: %v", a.Problems)
	}
	if a := p.Answer(Read(url.Values{"case": {""}})); len(a.Problems) == 0 {
		t.Error("an empty text is the start")
	}
}

// An answer in two steps: the first says that it knows the best estimate alone, and both together are the answer in
// one. The range of the answer and that of the start are of one kind, and stand side by side.
func TestRangeFollows(t *testing.T) {
	p := builtIn(t)
	asked := Read(url.Values{"set:hot_end.block_degC": {"230"}})
	begun, whole := p.Begin(asked), p.Answer(asked)
	first, rest := replyOf(t, begun.Reply), replyOf(t, begun.Rest)
	if !first.More || !strings.Contains(first.Answer, "being computed") ||
		!strings.Contains(first.Status, "best estimate") || !strings.Contains(first.Answer, "load at the start") {
		t.Errorf("first: more %v, %q", first.More, first.Status)
	}
	if !rest.Part || rest.More || strings.Contains(rest.Answer, "being computed") ||
		strings.Contains(rest.Status, "best estimate") || strings.Contains(rest.Answer, `class="chart"`) {
		t.Errorf("rest: %+v", rest)
	}
	if begun.Document.Markup() != whole.Document.Markup() {
		t.Error("both steps together are not the answer in one")
	}
	if !maps.Equal(first.Numbers, rest.Numbers) {
		t.Error("the numbers move with the range")
	}
	low := quantity.Of("usable_flow_low_end")
	for _, want := range []string{low.Number(whole.result.Corners.Low), low.Number(p.start.Corners.Low),
		"now, ", "at the start", "not to be compared with a range by samples"} {
		if !strings.Contains(rest.Answer, want) {
			t.Errorf("the range lacks %q", want)
		}
	}
	if again := replyOf(t, p.Begin(Asked{}).Reply); again.More {
		t.Error("the answer of the start is not whole")
	}
	if wrong := p.Begin(Read(url.Values{"set:hot_end.block_degC": {"900"}})); replyOf(t, wrong.Reply).More ||
		replyOf(t, wrong.Rest).Problems == "" {
		t.Error("a mistake has a rest")
	}
}

func replyOf(t *testing.T, write func(io.Writer) error) (r reply) {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b.Bytes(), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

// A motor current changed on the page gives what the same change of the set-up gives, measured points included.
func TestCurrentOnThePageIsThatOfTheCommand(t *testing.T) {
	text := string(casefile.BuiltIn) + `
[feeder.motor]
holding_torque_Ncm = 11
rated_A = 1.0
current_A = 0.7
current_kind = "rms"
resistance_ohm = 2.1
inductance_mH = 1.6
supply_V = 24
[feeder.drive]
ratio = 7.5
diameter_mm = 8.4
[feeder.grip]
area_mm2 = 1.2
wheels = 2
`
	c, ps := casefile.Parse("x", []byte(text))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	p, err := New([]Source{{File: "x.toml", Text: []byte(text)}})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []vary.ID{vary.Current, vary.Ratio, vary.PointID(2)} {
		q := vary.Must(&c.Setup, id)
		want, err := q.With(&c.Setup, 0.8*q.Get(&c.Setup))
		if err != nil {
			t.Fatal(err)
		}
		r, err := study.Glance(want, study.Options{})
		if err != nil {
			t.Fatal(err)
		}
		key, _ := c.FileKey(q.Key)
		a := p.Answer(Read(url.Values{"set:" + key: {vary.Number(q.Edge(q.Get(want)))}}))
		if a.result == nil || math.Abs(a.result.Verdict.Flow/r.Verdict.Flow-1) > 2e-3 {
			t.Errorf("%s: %+v on the page (%v), %g m3/s by the set-up", id, a.result, a.Problems, r.Verdict.Flow)
		}
	}
}
