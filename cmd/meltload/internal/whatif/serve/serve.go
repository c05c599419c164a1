// Package serve brings the what-if page from a server on this machine. It listens on the loopback address only, keeps
// nothing, and reads no file.
package serve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"meltload/cmd/meltload/internal/whatif"
	"meltload/report"
)

// Bounds of what the page takes: a case file is a few kilobytes, and a hand on a slider asks some 30 times a second.
const (
	maxBytes    = 64 << 10
	perSecond   = 60
	burst       = 60
	atOnce      = 2 // answers computed at a time
	idleTimeout = 2 * time.Minute
)

type server struct {
	*whatif.Page
	hosts map[string]bool // Host headers that name this page
	limit *rate.Limiter
	slots chan struct{}
}

// newServer makes the server of a page for requests that name one of hosts.
func newServer(p *whatif.Page, hosts ...string) *server {
	s := &server{Page: p, hosts: map[string]bool{}, limit: rate.NewLimiter(perSecond, burst),
		slots: make(chan struct{}, atOnce)}
	for _, h := range hosts {
		s.hosts[h] = true
	}
	return s
}

// handler routes the requests, past the guard.
func (s *server) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		s.slot(r, func() { s.write(w, s.Answer(whatif.Asked{})) })
	})
	mux.HandleFunc("POST /{$}", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a whatif.Asked) { s.write(w, s.Answer(a)) })
	})
	mux.HandleFunc("POST /answer", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a whatif.Asked) {
			w.Header().Set("Content-Type", "application/json")
			s.Answer(a).Reply(w)
		})
	})
	mux.HandleFunc("POST /case", func(w http.ResponseWriter, r *http.Request) {
		s.asked(w, r, func(a whatif.Asked) {
			w.Header().Set("Content-Type", "application/toml")
			w.Header().Set("Content-Disposition", `attachment; filename="`+whatif.SavedAs+`"`)
			fmt.Fprint(w, s.Answer(a).Text)
		})
	})
	return s.guard(http.NewCrossOriginProtection().Handler(mux))
}

// policy is the content policy of the page: the scripts that are in it, and requests to its own address.
var policy = report.Policy(whatif.Scripts(), false, "connect-src 'self'", "form-action 'self'",
	"frame-ancestors 'none'")

// guard turns away what is not from this page: other Host names (a name that was made to point here), other origins,
// and too much.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
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
func (s *server) asked(w http.ResponseWriter, r *http.Request, do func(whatif.Asked)) {
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
	a := whatif.Read(r.PostForm)
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

func (s *server) write(w http.ResponseWriter, a *whatif.Answer) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if len(a.Problems) > 0 {
		w.WriteHeader(http.StatusUnprocessableEntity)
	}
	s.Page.Write(w, a, nil)
}

// Serve runs the page on a port of 127.0.0.1 (0: any free one) until ctx ends, and tells ready its address.
// Errors: problems of the case files; a port that cannot be had.
func Serve(ctx context.Context, sources []whatif.Source, port int, ready func(url string)) error {
	p, err := whatif.New(sources)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		return err
	}
	n := l.Addr().(*net.TCPAddr).Port
	s := newServer(p, fmt.Sprintf("127.0.0.1:%d", n), fmt.Sprintf("localhost:%d", n))
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
