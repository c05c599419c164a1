package whatif

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/time/rate"

	"meltload/flow/casefile"
	"meltload/materials/checks"
)

func builtIn(t testing.TB) *page {
	t.Helper()
	other := strings.NewReplacer(`name = "club feeder"`, `name = "other feeder"`, "force_N = 74", "force_N = 30").
		Replace(string(casefile.BuiltIn))
	p, ps := newPage([]Source{{casefile.BuiltInName, casefile.BuiltIn}, {"other.toml", []byte(other)}})
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	return p
}

// form is what the page would send for an answer, with some fields changed.
func form(a *Answer, change map[string]string) url.Values {
	f := url.Values{"case": {a.Text}}
	for _, k := range a.Controls {
		f.Set("set:"+k.Name, k.Value)
		f.Set("was:"+k.Name, k.Was)
	}
	for k, v := range change {
		f.Set(k, v)
	}
	return f
}

func ask(a *Answer, set map[string]string) Asked {
	q := Asked{Text: a.Text, Set: map[string]string{}, Was: map[string]string{}}
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
	first := p.answer(p.first())
	if first.Document == nil || len(first.Controls) != 12 {
		t.Fatalf("%d controls, %v", len(first.Controls), first.Problems)
	}
	for name, value := range map[string]string{"filament.material": "abs", "hot_end.block_degC": "230", "target.flow_mm3_s": "12,5", "hot_end.section[3].diameter_mm": "0.5", "hot_end.section[1].length_mm": "30",
		"hot_end.contact_W_m2K": "inf", "feeder.point[2].force_N": "60"} {
		a := p.answer(ask(first, map[string]string{name: value}))
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
	a := p.answer(ask(first, map[string]string{"hot_end.section[3].diameter_mm": "0.6"}))
	if !strings.Contains(a.Text, "end_diameter_mm = 0.6") {
		t.Errorf("cone left behind: %v", a.Problems)
	}
	// A feeder of another case, then an edit of the text: both are kept.
	q := ask(a, nil)
	q.Feeder = "1"
	a = p.answer(q)
	if !strings.Contains(a.Text, "other feeder") || !strings.Contains(a.Text, "end_diameter_mm = 0.6") {
		t.Errorf("%v\n%s", a.Problems, a.Text)
	}
	q = ask(a, nil)
	q.Text = strings.Replace(q.Text, "block_degC = 215", "block_degC = 222", 1)
	if a = p.answer(q); !strings.Contains(a.Text, "block_degC = 222") || a.Document == nil {
		t.Errorf("the text was edited, the old field won: %v", a.Problems)
	}
}

func TestBadInputIsHandledAsInACaseFile(t *testing.T) {
	p := builtIn(t)
	first := p.answer(p.first())
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
		a := p.answer(ask(first, c.set))
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
		if b := p.answer(ask(a, map[string]string{"hot_end.block_degC": "215", "hot_end.contact_W_m2K": "3000", "hot_end.section[3].diameter_mm": "0.4", "filament.material": "pla", "target.flow_mm3_s": "10", "feeder.point[1].force_N": "74"})); b.Document == nil {
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
		if a := p.answer(Asked{Text: string(b)}); len(a.Problems) == 0 || len(a.Controls) == 0 {
			t.Errorf("%s: no problems, or no fields", filepath.Base(f))
		}
	}
	// A record of this machine that no case file names is not read for a page.
	a := p.answer(Asked{Text: strings.Replace(first.Text, `material = "pla" `, `material_file = "/etc/hostname" #`, 1)})
	if !strings.Contains(a.Problems.Error(), "names") || len(a.Problems) != 1 {
		t.Errorf("%v", a.Problems)
	}
	// Nor by a second spelling of the table, which a laxer reader would take for the same.
	a = p.answer(
		Asked{
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

const host = "127.0.0.1:8000"

func testServer(t testing.TB) *server {
	s, err := newServer(builtIn(t), host, "localhost:8000")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func send(h http.Handler, method, path string, body url.Values, head map[string]string) *httptest.ResponseRecorder {
	var r *http.Request
	if body != nil {
		r = httptest.NewRequest(method, path, strings.NewReader(body.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	} else {
		r = httptest.NewRequest(method, path, nil)
	}
	r.Host = host
	for k, v := range head {
		if k == "Host" {
			r.Host = v
		} else {
			r.Header.Set(k, v)
		}
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestOnlyThisPageIsAnswered(t *testing.T) {
	h := testServer(t).handler()
	p := builtIn(t)
	good := form(p.answer(p.first()), nil)
	for _, c := range []struct {
		what, method, path string
		body               url.Values
		head               map[string]string
		want               int
	}{
		{"the page", "GET", "/", nil, nil, 200},
		{"by its other name", "GET", "/", nil, map[string]string{"Host": "localhost:8000"}, 200},
		{"a name made to point here", "GET", "/", nil, map[string]string{"Host": "evil.example:8000"}, 403},
		{"another port", "GET", "/", nil, map[string]string{"Host": "127.0.0.1:80"}, 403},
		{"an answer", "POST", "/answer", good, map[string]string{"Origin": "http://" + host}, 200},
		{"no browser", "POST", "/answer", good, nil, 200},
		{"another origin", "POST", "/answer", good, map[string]string{"Origin": "https://evil.example"}, 403},
		{"no origin to tell", "POST", "/answer", good, map[string]string{"Origin": "null"}, 403},
		{"another site", "POST", "/answer", good, map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"a file read from " +
			"elsewhere", "GET", "/page.js", nil, map[string]string{"Origin": "https://evil.example"}, 403},
		{"no such page", "GET", "/etc/passwd", nil, nil, 404},
		{"wrong method", "PUT", "/answer", good, nil, 405},
		{"too much", "POST", "/answer", url.Values{"case": {strings.Repeat("x", maxBytes)}}, nil, 413},
		{"the save", "POST", "/case", good, nil, 200},
		{"a form without a script", "POST", "/", good, nil, 200},
		{"a bad form without a script", "POST", "/", url.Values{"case": {"nonsense ="}}, nil, 422},
	} {
		w := send(h, c.method, c.path, c.body, c.head)
		if w.Code != c.want {
			t.Errorf("%s: %d, want %d: %.200s", c.what, w.Code, c.want, w.Body)
		}
		if !strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'none'") ||
			w.Header().Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: headers %v", c.what, w.Header())
		}
	}
	if got := send(h, "POST", "/case", good, nil).Body.String(); got != string(casefile.BuiltIn) {
		t.Error("the saved case file is not the one shown")
	}
}

func TestRateIsBounded(t *testing.T) {
	s := testServer(t)
	if s.limit.Limit() != perSecond || s.limit.Burst() != burst {
		t.Errorf("limit %v, burst %d", s.limit.Limit(), s.limit.Burst())
	}
	s.limit = rate.NewLimiter(rate.Every(time.Hour), 3) // so that a slow machine cannot refill it
	h := s.handler()
	for i := range 5 {
		want := http.StatusOK
		if i >= 3 {
			want = http.StatusTooManyRequests
		}
		if w := send(h, "POST", "/answer", url.Values{"case": {"x ="}}, nil); w.Code != want {
			t.Errorf("request %d: %d", i+1, w.Code)
		}
	}
	if w := send(h, "GET", "/", nil, nil); w.Code != http.StatusTooManyRequests {
		t.Errorf("the page itself computes and is not bounded: %d", w.Code)
	}
	if w := send(h, "GET", "/page.js", nil, nil); w.Code != http.StatusOK {
		t.Errorf("files are not bounded: %d", w.Code)
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
		a := p.answer(Asked{Text: with})
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
		"215\n[[hot_end.section]]\nshape = \"tube\"\n" +
		"diameter_mm = 2\nlength_mm = 20\n[feeder]\n[[feeder.point]]\nflow_mm3_s = 5\nforce_N = 74\n"
	f.Add("hot_end.block_degC", "230", short, "")
	f.Add("filament.material", `"`, short, "1")
	f.Add("feeder.point[1].force_N", "inf", "x = [", "-1")
	p := builtIn(f)
	first := p.answer(p.first())
	f.Fuzz(func(t *testing.T, key, value, text, feeder string) {
		q := ask(first, map[string]string{key: value})
		q.Text, q.Feeder = text, feeder
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
	first := p.answer(p.first())
	f.Fuzz(func(t *testing.T, key, value, text, feeder string) {
		q := ask(first, map[string]string{key: value})
		q.Text, q.Feeder = text, feeder
		a := p.answer(q)
		if (a.Document == nil) == (len(a.Problems) == 0) {
			t.Fatalf("document %v, problems %v", a.Document != nil, a.Problems)
		}
		w := httptest.NewRecorder()
		writeJSON(w, a)
		var out map[string]any
		if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil || w.Code != 200 {
			t.Fatalf("%d %v", w.Code, err)
		}
		if s, _ := out["answer"].(string); strings.Contains(pixels.ReplaceAllString(s, ""), "NaN") {
			t.Fatal("NaN in the answer")
		}
	})
}

// BenchmarkAnswer is one move of a slider, from form to markup.
func BenchmarkAnswer(b *testing.B) {
	p := builtIn(b)
	first := p.answer(p.first())
	q := ask(first, map[string]string{"hot_end.block_degC": "225"})
	for b.Loop() {
		a := p.answer(q)
		w := httptest.NewRecorder()
		writeJSON(w, a)
		io.Copy(io.Discard, w.Body)
	}
}

// Answers asked for at once are those asked for alone.
func TestManyAtOnce(t *testing.T) {
	p := builtIn(t)
	first := p.answer(p.first())
	temps := []string{"195", "205", "215", "225"}
	alone := map[string]string{}
	for _, T := range temps {
		alone[T] = p.answer(ask(first, map[string]string{"hot_end.block_degC": T})).Document.Sentence
	}
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			T := temps[i%len(temps)]
			if got := p.answer(ask(first, map[string]string{"hot_end.block_degC": T})).Document.Sentence; got != alone[T] {
				t.Errorf("%s degC: %q, alone %q", T, got, alone[T])
			}
		})
	}
	wg.Wait()
}
