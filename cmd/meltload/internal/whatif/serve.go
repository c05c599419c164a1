package whatif

import (
	"bytes"
	"context"
	_ "embed" // the page
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"meltload/report"
)

//go:embed page.html
var pageText string

//go:embed whatif.js
var scriptText string

//go:embed whatif.css
var styleText string

// Bounds of what the page takes: a case file is a few kilobytes, and a hand on a slider asks some 30 times a second.
const (
	maxBytes    = 64 << 10
	perSecond   = 60
	burst       = 60
	atOnce      = 2 // answers computed at a time
	idleTimeout = 2 * time.Minute
)

var pageTemplate = template.Must(template.New("page").Parse(pageText))

type server struct {
	*page
	hosts    map[string]bool // Host headers that name this page
	limit    *rate.Limiter
	slots    chan struct{}
	cautions []string
}

// newServer makes the server of a page for requests that name one of hosts. Errors: problems of the first case.
func newServer(p *page, hosts ...string) (*server, error) {
	a := p.answer(p.first())
	if len(a.Problems) > 0 {
		return nil, a.Problems
	}
	s := &server{page: p, hosts: map[string]bool{}, limit: rate.NewLimiter(perSecond, burst),
		slots: make(chan struct{}, atOnce), cautions: a.Document.Warned()}
	for _, h := range hosts {
		s.hosts[h] = true
	}
	return s, nil
}

// handler routes the requests, past the guard.
func (s *server) handler() http.Handler {
	p, mux := s.page, http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		s.slot(r, func() { s.write(w, p.answer(p.first())) })
	})
	mux.HandleFunc("POST /{$}", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a Asked) { s.write(w, p.answer(a)) })
	})
	mux.HandleFunc("POST /answer", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a Asked) { writeJSON(w, p.answer(a)) })
	})
	mux.HandleFunc("POST /case", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a Asked) {
			w.Header().Set("Content-Type", "application/toml")
			w.Header().Set("Content-Disposition", `attachment; filename="what-if.toml"`)
			fmt.Fprint(w, p.answer(a).Text)
		})
	})
	assets := report.PageAssets()
	for path, text := range map[string]struct{ kind, text string }{
		"/page.css": {"text/css", string(assets.Style)}, "/whatif.css": {"text/css", styleText},
		"/echarts.js": {"text/javascript", string(assets.ECharts)},
		"/page.js":    {"text/javascript", string(assets.Script)}, "/whatif.js": {"text/javascript", scriptText},
		"/licence.txt": {"text/plain", assets.Notice + "\n\n" + assets.Terms},
	} {
		mux.HandleFunc("GET "+path, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", text.kind+"; charset=utf-8")
			fmt.Fprint(w, text.text)
		})
	}
	return s.guard(http.NewCrossOriginProtection().Handler(mux))
}

// guard turns away what is not from this page: other Host names (a name that was made to point here), other origins,
// and too much.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy",
			"default-src 'none'; style-src 'self' 'unsafe-inline'; script-src 'self'; connect-src 'self'; img-src "+
				"data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // no-referrer would make the Origin of the form "null"
		h.Set("Cache-Control", "no-store")
		if !s.hosts[r.Host] {
			http.Error(w, "this page answers to its own address only", http.StatusForbidden)
			return
		}
		if o := r.Header.Get("Origin"); o != "" && !s.hosts[strings.TrimPrefix(o, "http://")] {
			http.Error(w, "this page answers to itself only", http.StatusForbidden)
			return
		}
		if computes := r.Method == http.MethodPost || r.URL.Path == "/"; computes && !s.limit.Allow() {
			h.Set("Retry-After", "1")
			http.Error(w, "too many requests", http.StatusTooManyRequests)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// asked reads the form and computes in one of the slots.
func (s *server) asked(w http.ResponseWriter, r *http.Request, do func(Asked)) {
	r.Body = http.MaxBytesReader(w, r.Body, maxBytes)
	if err := r.ParseForm(); err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			http.Error(w, fmt.Sprintf("more than %d bytes", maxBytes), http.StatusRequestEntityTooLarge)
			return
		}
		http.Error(w, "not a form", http.StatusBadRequest)
		return
	}
	a := Asked{Text: r.PostForm.Get("case"), Feeder: r.PostForm.Get("feeder"), Set: map[string]string{},
		Was: map[string]string{}}
	for k, v := range r.PostForm {
		if n, ok := strings.CutPrefix(k, "set:"); ok {
			a.Set[n] = v[0]
		} else if n, ok := strings.CutPrefix(k, "was:"); ok {
			a.Was[n] = v[0]
		}
	}
	s.slot(r, func() { do(a) })
}

// slot computes in one of the slots, unless who asked is gone before one is free.
func (s *server) slot(r *http.Request, do func()) {
	select {
	case s.slots <- struct{}{}:
		defer func() { <-s.slots }()
		do()
	case <-r.Context().Done():
	}
}

// view is the page as its template sees it.
type view struct {
	*Answer
	HTML     template.HTML
	Feeders  []Choice
	Cautions []string
	Version  string
}

func (s *server) write(w http.ResponseWriter, a *Answer) {
	html, err := a.html()
	var b bytes.Buffer
	if err == nil {
		err = pageTemplate.ExecuteTemplate(&b, "page",
			view{a, html, s.feeders, s.cautions, report.PageAssets().Version})
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if len(a.Problems) > 0 {
		w.WriteHeader(http.StatusUnprocessableEntity)
	}
	b.WriteTo(w)
}

// writeJSON is the answer for the page's script: the case file, the controls, verdict and charts as markup.
func writeJSON(w http.ResponseWriter, a *Answer) {
	if a.Document != nil { // where a script draws, long tables would only slow it; the page without one has them
		for i := range a.Document.Blocks {
			b := &a.Document.Blocks[i]
			b.Table = slices.DeleteFunc(b.Table, func(t report.Table) bool { return t.Long })
		}
	}
	html, err := a.html()
	var fields, faults bytes.Buffer
	if err == nil {
		err = pageTemplate.ExecuteTemplate(&fields, "controls", a)
	}
	if err == nil {
		err = pageTemplate.ExecuteTemplate(&faults, "problems", a)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	status := ""
	if a.Document != nil {
		status = a.Document.Word + ": " + a.Document.Facts[0].Value
	}
	w.Header().Set("Content-Type", "application/json")
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false) // half the answer is markup
	e.Encode(map[string]any{"text": a.Text, "controls": fields.String(), "answer": html, "problems": faults.String(),
		"status": status, "milliseconds": float64(a.Took.Microseconds()) / 1000})
}

// Serve runs the page on a port of 127.0.0.1 (0: any free one) until ctx ends, and tells ready its address.
// Errors: problems of the case files; a port that cannot be had.
func Serve(ctx context.Context, sources []Source, port int, ready func(url string)) error {
	p, ps := newPage(sources)
	if len(ps) > 0 {
		return ps
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		return err
	}
	n := l.Addr().(*net.TCPAddr).Port
	s, err := newServer(p, fmt.Sprintf("127.0.0.1:%d", n), fmt.Sprintf("localhost:%d", n))
	if err != nil {
		l.Close()
		return err
	}
	srv := &http.Server{Handler: s.handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 30 * time.Second, IdleTimeout: idleTimeout, MaxHeaderBytes: 16 << 10}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	ready(fmt.Sprintf("http://127.0.0.1:%d/", n))
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		stop, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
		defer cancel()
		if srv.Shutdown(stop) != nil {
			srv.Close()
		}
		return nil
	}
}
