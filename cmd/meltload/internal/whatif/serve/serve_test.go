package serve

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/time/rate"

	"meltload/cmd/meltload/internal/whatif"
	"meltload/flow/casefile"
)

func builtIn(t testing.TB) *whatif.Page {
	t.Helper()
	p, err := whatif.New([]whatif.Source{{File: casefile.BuiltInName, Text: casefile.BuiltIn}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// form is what the page would send for an answer, with some fields changed.
func form(a *whatif.Answer, change map[string]string) url.Values {
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

const host = "127.0.0.1:8000"

func testServer(t testing.TB) *server {
	return newServer(builtIn(t), host, "localhost:8000")
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
	good := form(p.Answer(whatif.Asked{}), nil)
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
			"elsewhere", "GET", "/case", nil, map[string]string{"Origin": "https://evil.example"}, 403},
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
	if w := send(h, "GET", "/page.js", nil, nil); w.Code != http.StatusNotFound {
		t.Errorf("a file that is not there: %d", w.Code)
	}
}
