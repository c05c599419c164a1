package study

import (
	"context"
	"fmt"
	"math"
	"slices"

	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/num"
)

// Ranking compares feeders by the force they hold at stated speeds, and pairs of feeder and hot end by their usable
// flow on one duty.
type Ranking struct {
	Header
	By string `json:"by"` // what the tables are sorted by
	// nil without a duty, or where each hot end has its own
	Block   *float64     `                         q:"block"`
	Duty    string       `json:"duty"`                              // the material, "" without a duty
	Target  *float64     `                         q:"target_flow"` // nil if open
	Forces  []ForceTable `json:"forces"`                            // one a speed, rising
	Entries []Entry      `json:"entries"`                           // none without a hot end
	Curves  []CapCurve   `json:"capability_curves"`
}

// ForceTable is what the feeders hold at one speed of filament, without any hot end.
type ForceTable struct {
	Speed float64    `q:"test_speed"`
	Best  string     `               json:"finding"` // in a sentence
	Rows  []ForceRow `               json:"feeders"`
}

// ForceRow is one feeder at one speed.
type ForceRow struct {
	Feeder    string   `q:"feeder"`
	Rank      int      `q:"rank"` // feeders that cannot be told apart share one
	Tied      bool     `q:"tied"                   show:"wide"`
	Force     float64  `q:"capability"`
	Low       float64  `q:"force_held_low"` // 95 % interval of the mean
	High      float64  `q:"force_held_high"`
	Cause     string   `q:"cause"`
	SD        *float64 `q:"force_sd"               show:"wide"` // of single runs
	Repeats   int      `q:"repeats"`
	Basis     string   `q:"basis"`
	Assumed   bool     `q:"interval_assumed"       show:"wide"`
	PerMass   *float64 `q:"force_per_100_g_feeder"`
	PerSystem *float64 `q:"force_per_100_g_system"` // with the lightest hot end
	PerCost   *float64 `q:"force_per_cost"`
	Mass      *float64 `q:"feeder_mass"            show:"wide"`
	Cost      *float64 `q:"feeder_cost"            show:"wide"`
}

// Entry is one pair of feeder and hot end.
type Entry struct {
	Pair    string   `q:"pair"`
	Rank    int      `q:"rank"` // entries that cannot be told apart share one
	Tied    bool     `q:"tied"             show:"wide"`
	Feeder  string   `q:"feeder"           show:"wide"`
	HotEnd  string   `q:"hot_end"          show:"wide"`
	Block   float64  `q:"block"            show:"wide"`
	Flow    float64  `q:"usable_flow"`
	Low     float64  `q:"usable_flow_low"`
	High    float64  `q:"usable_flow_high"`
	Speed   *float64 `q:"print_speed"      show:"wide"`
	Limit   string   `q:"limit"`
	Next    string   `q:"next_limit"`
	Force   float64  `q:"capability"` // at the usable flow
	Mass    *float64 `q:"mass"`       // kg, feeder and hot end; nil if either is not given
	PerMass *float64 `q:"flow_per_100_g"`
	ForceG  *float64 `q:"force_per_100_g"  show:"wide"`
	Cost    *float64 `q:"cost"             show:"wide"`
	PerCost *float64 `q:"flow_per_cost"`
	Held    *bool    `q:"target_held"` // by the pair as it stands; nil without a wanted flow
	Judged  string   `q:"verdict"`     // how sure that is; "" without a wanted flow
	samples []float64
	// of the usable flow
	warnings []materials.Warning
}

// CapCurve is one feeder's capability for the overlay.
type CapCurve struct {
	Feeder string    `json:"feeder"`
	Speed  []float64 `              q:"test_speed"`
	Force  []float64 `              q:"capability"`
}

// tieShare is how often one entry must beat another in the samples for the two to be told apart.
const tieShare = 0.95

// Rival is a feeder of a ranking, with its set-up on the duty where there is one.
type Rival struct {
	Name   string
	Feeder *feeder.Feeder
	Setup  *setup.Setup // nil without a duty
}

// Place is a hot end of a ranking, in a set-up on the duty.
type Place struct {
	Name  string
	Setup *setup.Setup
}

// RankJob is what to rank. Gather makes one from files.
type RankJob struct {
	Header  Header       // title, files, warnings and the like; Rank completes it
	Duty    *setup.Setup // nil to compare forces only
	Feeders []Rival      // names differ
	HotEnds []Place      // names differ; none to compare forces only
	Speeds  []float64    // m/s at which to compare forces; none for those measured
	By      string       // one of Orders; "" for the force, and the usable flow of pairs
	Samples int          // of what is not known
	Seed    uint64
}

// Rank compares the feeders at the stated speeds, and every feeder on every hot end of the job on its duty. Feeders
// whose 95 per
// cent intervals overlap are tied. Pairs are compared draw by draw with the same unknowns, so that what they share
// cancels; two that beat
// each other in less than 95 per cent of the draws are tied. Errors: nothing to compare, an order that is none, a
// cancelled context.
func Rank(ctx context.Context, job RankJob, progress func(done float64)) (*Ranking, error) {
	by, err := orderOf(job.By)
	if err != nil {
		return nil, err
	}
	pairs := len(job.Feeders) * len(job.HotEnds)
	if len(job.Feeders) < 2 && pairs < 2 {
		return nil, fmt.Errorf("study: nothing to rank: the files hold %d feeder and %d hot end between them; name "+
			"two of either",
			len(job.Feeders), len(job.HotEnds))
	}
	r := &Ranking{Header: job.Header, By: by.key}
	if r.Version == "" { // a job made in Go
		h := bareHeader("Ranking of feeders")
		if r.Title != "" {
			h.Title = r.Title
		}
		h.Files, h.Warnings = r.Files, r.Warnings
		r.Header = h
	}
	if d := job.Duty; d != nil {
		r.Duty, r.Target = d.Material.Name, quantity.KnownIf(d.Target > 0, d.Target)
		r.Block = commonBlock(job.HotEnds)
	}
	r.forces(&job)
	if pairs > 0 {
		r.Samples, r.Seed = job.Samples, job.Seed
		if err := r.pairs(ctx, &job, progress); err != nil {
			return nil, err
		}
	}
	r.order(by)
	return r, nil
}

// commonBlock is the block temperature of all hot ends, nil if they differ.
func commonBlock(ends []Place) *float64 {
	for _, h := range ends {
		if h.Setup.Block != ends[0].Setup.Block {
			return nil
		}
	}
	if len(ends) == 0 {
		return nil
	}
	return quantity.Known(ends[0].Setup.Block)
}

// assumedSpeeds (m/s) are compared where nothing was measured: slow and fast printing (assumed).
var assumedSpeeds = []float64{2e-3, 8e-3}

// mostSpeeds is how many measured speeds are compared unless speeds are stated.
const mostSpeeds = 6

// speeds are the stated speeds, or those measured: speeds within 2 per cent count as one; of more than mostSpeeds those
// that most feeders share, ties from the slow and fast ends.
func (r *Ranking) speeds(job *RankJob) []float64 {
	if len(job.Speeds) > 0 {
		return job.Speeds
	}
	type group struct {
		v float64
		n int
	}
	var all []group
	for _, f := range job.Feeders {
	points:
		for _, p := range f.Feeder.Points {
			for i := range all {
				if math.Abs(all[i].v/p.Speed-1) <= 0.02 {
					all[i].n++
					continue points
				}
			}
			all = append(all, group{p.Speed, 1})
		}
	}
	if len(all) == 0 {
		r.warn("assumed-speeds", "no feeder was measured; forces are compared at %s and %s of filament (assumed); "+
			"state others with --speeds",
			quantity.Text("test_speed", assumedSpeeds[0]), quantity.Text("test_speed", assumedSpeeds[1]))
		return assumedSpeeds
	}
	sortBy(all, func(a, b group) bool { return a.v < b.v })
	if len(all) > mostSpeeds {
		slow, fast := all[0].v, all[len(all)-1].v
		sortBy(all, func(a, b group) bool {
			ends := func(g group) bool { return g.v == slow || g.v == fast }
			if ends(a) != ends(b) {
				return ends(a)
			}
			return a.n > b.n
		})
		r.warn("speeds-left-out", "forces are compared at %d of the %d measured speeds: the ends, and those that most "+
			"feeders share; state others with --speeds",
			mostSpeeds, len(all))
		all = all[:mostSpeeds]
		sortBy(all, func(a, b group) bool { return a.v < b.v })
	}
	var out []float64
	for _, g := range all {
		out = append(out, g.v)
	}
	return out
}

// enoughFreedom is how many degrees of freedom a feeder's own scatter needs; with fewer, that of all feeders together
// is taken.
const enoughFreedom = 4

// scatters are the scatter of single runs of every feeder.
func (r *Ranking) scatters(job *RankJob) []feeder.Scatter {
	var all []*feeder.Feeder
	for _, x := range job.Feeders {
		all = append(all, x.Feeder)
	}
	pooled := feeder.Pooled(all)
	out := make([]feeder.Scatter, len(all))
	few := 0
	for i, f := range all {
		if out[i] = f.Scatter(); out[i].Freedom < enoughFreedom && pooled.Freedom > out[i].Freedom {
			out[i] = pooled
			few++
		}
	}
	if few > 0 {
		r.warn("pooled-scatter", "%d of %d feeders have too few repeats to tell their own scatter; that of all "+
			"together is taken: %s of the force (%d degrees of freedom)",
			few, len(all), quantity.Text("share", pooled.Share), pooled.Freedom)
	}
	return out
}

// forces fills the tables of force and the curves.
func (r *Ranking) forces(job *RankJob) {
	light := math.Inf(1)
	for _, h := range job.HotEnds {
		if m := h.Setup.HotEnd.Mass; m > 0 {
			light = math.Min(light, m)
		}
	}
	speeds, scatter := r.speeds(job), r.scatters(job)
	for _, v := range speeds {
		t := ForceTable{Speed: v}
		for i, x := range job.Feeders {
			e := x.Feeder.Estimate(v, scatter[i])
			row := ForceRow{Feeder: x.Name, Force: e.Force, Low: e.Low, High: e.High, Cause: string(e.Cause),
				Repeats: e.Repeats,
				SD:      quantity.KnownIf(e.SD > 0, e.SD), Basis: string(e.Basis), Assumed: e.Assumed,
				Mass: quantity.KnownIf(x.Feeder.Mass > 0, x.Feeder.Mass), Cost: quantity.KnownIf(x.Feeder.Cost > 0,
					x.Feeder.Cost)}
			row.PerMass = quantity.KnownIf(x.Feeder.Mass > 0, e.Force/x.Feeder.Mass)
			row.PerSystem = quantity.KnownIf(x.Feeder.Mass > 0 && !math.IsInf(light, 1), e.Force/(x.Feeder.Mass+light))
			row.PerCost = quantity.KnownIf(x.Feeder.Cost > 0, e.Force/x.Feeder.Cost)
			t.Rows = append(t.Rows, row)
			for _, w := range x.Feeder.Warnings(v) {
				if w.Code != "capability-range" { // the column "from" says it
					r.warn(w.Code, "%s: %s", x.Name, w.Message)
				}
			}
		}
		r.Forces = append(r.Forces, t)
	}
	top := 0.0
	for _, v := range speeds {
		top = math.Max(top, v)
	}
	for _, x := range job.Feeders {
		for _, p := range x.Feeder.Points {
			top = math.Max(top, p.Speed)
		}
	}
	const n = 40
	for _, x := range job.Feeders {
		c := CapCurve{Feeder: x.Name}
		for i := 1; i <= n; i++ {
			v := 1.1 * top * float64(i) / n
			c.Speed = append(c.Speed, v)
			c.Force = append(c.Force, x.Feeder.At(v).Force)
		}
		r.Curves = append(r.Curves, c)
	}
}

// pairs fills the entries.
func (r *Ranking) pairs(ctx context.Context, job *RankJob, progress func(done float64)) error {
	draws := assess.NewShared(job.Samples, job.Seed, len(job.HotEnds), len(job.Feeders))
	for i, h := range job.HotEnds {
		some, err := onHotEnd(ctx, job, h, i, draws, func(x float64) {
			if progress != nil {
				progress((float64(i) + x) / float64(len(job.HotEnds)))
			}
		})
		if err != nil {
			return err
		}
		r.Entries = append(r.Entries, some...)
	}
	ends := 0
	all := make([]materials.Bearer, len(r.Entries))
	for i := range r.Entries {
		e := &r.Entries[i]
		all[i] = materials.Bearer{Name: e.Pair, Warnings: e.warnings}
		if e.Limit == "" && e.Flow > 0 {
			ends++
		}
	}
	if ends > 0 {
		r.warn("rank-search-end", "%d of %d pairs hold up to the end of the search: what they hold beyond it has no "+
			"part in the ranks; raise limits.max_flow_mm3_s of the duty", ends, len(r.Entries))
	}
	told := func(w materials.Warning) bool { // of the feeders, whatever the hot end
		return materials.Warned(r.Warnings, w.Code)
	}
	r.add(slices.DeleteFunc(materials.Together(all, "pairs"), told)...)
	return nil
}

// onHotEnd evaluates every feeder on the i-th hot end.
func onHotEnd(ctx context.Context, job *RankJob, h Place, i int, draws *assess.Shared, progress func(float64)) ([]Entry,
	error) {
	out := make([]Entry, len(job.Feeders))
	sets := make([]*setup.Setup, len(out))
	xs := make([][][]float64, len(out))
	near := make([]float64, len(out))
	var base *march.Solver
	for k, f := range job.Feeders {
		sets[k] = assess.Pair(job.Duty, h.Setup, f.Setup)
		sets[k].SetBlock(h.Setup.Block)
		xs[k] = draws.Draws(assess.Unknowns(sets[k]), i, k)
		if k == 0 {
			base = march.New(&sets[0].Case, march.Options{})
		}
	}
	if err := num.Parallel(len(out), func() func(int) error {
		solver := base.Clone().(*march.Solver)
		return func(k int) error {
			e, err := entry(sets[k], solver.For(&sets[k].Case))
			if err != nil {
				return err
			}
			e.Feeder, e.HotEnd = job.Feeders[k].Name, h.Name
			e.Pair = e.Feeder + " on " + e.HotEnd
			out[k], near[k] = *e, math.Max(e.Flow, sets[k].Limits.MinFlow)
			return ctx.Err()
		}
	}); err != nil {
		return nil, err
	}
	got, err := assess.Rivals(ctx, sets, xs, base, job.Duty.Target, near, progress)
	if err != nil {
		return nil, err
	}
	for k := range out {
		e := &out[k]
		e.samples = got[k].Usable
		q := assess.NewInterval(e.samples, e.Flow)
		e.Low, e.High = q.Low, q.High
		if job.Duty.Target > 0 {
			e.Judged = string(assess.Judge(got[k].Held))
		}
	}
	return out, nil
}

// entry is a pair as it stands.
func entry(s *setup.Setup, solver *march.Solver) (*Entry, error) {
	found, err := s.Matcher(solver).Find(s.Block)
	if err != nil {
		return nil, err
	}
	e := &Entry{Block: s.Block, Flow: found.Flow, Speed: printSpeed(s, found.Flow),
		Limit: string(found.Binding), warnings: found.Warnings}
	if s.Target > 0 {
		held := found.Flow >= s.Target
		e.Held = &held
	}
	if b, ok := found.Next(); ok {
		e.Next = string(b.Limit)
	}
	e.Force = s.Feeder.At(math.Max(found.Flow, s.Limits.MinFlow) / s.Area()).Force
	if s.Feeder.Mass > 0 && s.HotEnd.Mass > 0 {
		m := s.Feeder.Mass + s.HotEnd.Mass
		e.Mass, e.PerMass, e.ForceG = &m, quantity.Known(e.Flow/m), quantity.Known(e.Force/m)
	}
	if s.Feeder.Cost > 0 && s.HotEnd.Cost > 0 {
		cost := s.Feeder.Cost + s.HotEnd.Cost
		e.Cost, e.PerCost = &cost, quantity.Known(e.Flow/cost)
	}
	return e, nil
}

// bareHeader starts the header of a result without a duty.
func bareHeader(title string) Header {
	return Header{Version: Version, Title: title, Good: true, Cautions: Cautions}
}

// dutyOf is the header of a ranking on a duty.
func dutyHeader(c *casefile.Case) Header {
	title := "Ranking"
	if c.Title != "" {
		title += ": " + c.Title
	}
	h := headerOf(&c.Setup, title)
	h.From(c)
	h.Files = nil
	h.add(c.Material.Warnings()...)
	return h
}
