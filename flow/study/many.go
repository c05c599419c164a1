package study

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"

	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/num"
)

// Brief is the answer for one case among many.
type Brief struct {
	Case     string   `q:"what"`
	Title    string   `q:"title"           show:"wide"`
	Block    *float64 `q:"block"` // nil, as all that follows, where the case could not be assessed
	Usable   *float64 `q:"usable_flow"`
	Low      *float64 `q:"usable_flow_low"` // nil without samples
	High     *float64 `q:"usable_flow_high"`
	Limit    *string  `q:"limit"`
	Next     *string  `q:"next_limit"`
	Melted   *float64 `q:"melted_flow"` // the most that melts through before the cone; nil beyond the search
	Target   *float64 `q:"target_flow"` // nil if open
	Judged   string   `q:"verdict"`     // "" without a wanted flow
	Flow     *float64 `q:"flow"`        // of the two that follow: the wanted flow, else the usable one
	Push     *float64 `q:"push"`
	Pressure *float64 `q:"pressure"`
	Codes    string   `q:"warned"          show:"wide"` // of the warnings
	Problem  string   `q:"remark"`                      // why there is no answer, "" if there is one
	Held     *bool    `q:"target_held"     show:"wide"` // nil without a wanted flow

	Warnings []materials.Warning `json:"warnings"`
}

// Briefs is what AssessMany finds: a row for each case, in the order of the cases.
type Briefs struct {
	Header
	Cases []Brief `json:"cases"`
	Kept  int     `json:"kept"` // rows that were known before and not computed anew
}

// ManyJob is one case of AssessMany.
type ManyJob struct {
	Name string
	Open func() (*setup.Setup, error) // called once, from several goroutines at a time
	Done *Brief                       // the row, where it is known already; nil to compute it
}

// AssessMany assesses many cases, spread over the cores: the usable flow of each, its likely range, what limits it, and
// the load at the wanted flow. One that cannot be read or computed has a row that says why. done, if not nil, is told
// each row as soon as it is there, from one goroutine at a time; its error ends the run, as a cancelled context does.
func AssessMany(ctx context.Context, jobs []ManyJob, o AssessOptions,
	done func(i int, b Brief) error) (*Briefs, error) {
	out := &Briefs{Header: Header{Version: Version, Title: fmt.Sprintf("%d cases", len(jobs)), Cautions: Cautions},
		Cases: make([]Brief, len(jobs))}
	var mu sync.Mutex
	err := num.Parallel(len(jobs), func() func(int) error {
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			known := jobs[i].Done != nil
			b := jobs[i].brief(ctx, o)
			if err := ctx.Err(); err != nil && !known { // half an answer is none
				return err
			}
			mu.Lock()
			defer mu.Unlock()
			out.Cases[i] = b
			if known {
				out.Kept++
				return nil
			}
			if done != nil {
				return done(i, b)
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	out.summarise()
	return out, nil
}

// brief is the row of one case.
func (j *ManyJob) brief(ctx context.Context, o AssessOptions) Brief {
	if j.Done != nil {
		return *j.Done
	}
	b := Brief{Case: j.Name}
	s, err := j.Open()
	if err != nil {
		b.Problem = inOne(err)
		return b
	}
	r, err := Glance(s, o.Options)
	if err == nil && r.Solver == "marching" {
		samples, seed := o.sampling(s)
		err = r.Spread(ctx, s, samples, seed, nil)
	}
	if err != nil {
		b.Problem = inOne(err)
		return b
	}
	v := &r.Verdict
	b.Title, b.Block, b.Usable = r.Title, quantity.Known(r.Point.Block), quantity.Known(v.Flow)
	b.Limit, b.Next, b.Target, b.Judged = &v.Limit, &v.Next, v.Target, v.Judged
	b.Flow, b.Push, b.Pressure = quantity.Known(r.Point.Flow), quantity.Known(r.Point.Push),
		quantity.Known(r.Point.Pressure)
	if r.Range != nil {
		b.Low, b.High = quantity.Known(r.Range.Usable.Low), quantity.Known(r.Range.Usable.High)
	}
	if v.Target != nil {
		b.Held = &r.Good
	}
	b.Codes, b.Warnings, b.Melted = codes(r.Warnings), r.Warnings, v.Melted
	return b
}

// inOne puts an error into one line; of many problems the first few.
func inOne(err error) string {
	const most = 3
	lines := strings.Split(err.Error(), "\n")
	if n := len(lines); n > most {
		lines = append(lines[:most], fmt.Sprintf("and %d more", n-most))
	}
	return strings.Join(lines, "; ")
}

// summarise puts the rows into a sentence.
func (r *Briefs) summarise() {
	var failed, held, wanted int
	best := -1
	most := math.Inf(-1)
	for i := range r.Cases {
		b := &r.Cases[i]
		if b.Problem != "" {
			failed++
			continue
		}
		if b.Held != nil {
			wanted++
			if *b.Held {
				held++
			}
		}
		if *b.Usable > most {
			best, most = i, *b.Usable
		}
	}
	r.Good = failed == 0 && held == wanted
	r.Sentence = fmt.Sprintf("%d cases assessed.", len(r.Cases)-failed)
	if failed > 0 {
		r.Sentence += fmt.Sprintf(" %d could not be; the remark says why.", failed)
		r.warn("cases-not-assessed", "%d of %d cases have no answer", failed, len(r.Cases))
	}
	all := make([]materials.Bearer, len(r.Cases))
	for i := range all {
		all[i] = materials.Bearer{Name: r.Cases[i].Case, Warnings: r.Cases[i].Warnings}
	}
	r.add(materials.Together(all, "cases")...)
	if wanted > 0 {
		r.Sentence += fmt.Sprintf(" The wanted flow is held in %d of %d.", held, wanted)
	}
	if best >= 0 {
		r.Sentence += fmt.Sprintf(" The highest usable flow is %s, in %s.", quantity.Text("usable_flow", most),
			r.Cases[best].Case)
	}
	if r.Kept > 0 {
		r.Sentence += fmt.Sprintf(" %d were known before.", r.Kept)
	}
}
