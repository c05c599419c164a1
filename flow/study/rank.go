package study

import (
	"context"
	"fmt"
	"math"
	"sort"

	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/materials"
	"meltload/materials/unit"
)

// Ranking compares feeders and hot ends on one duty.
type Ranking struct {
	Header
	Block   float64    `q:"block"`
	Duty    string     `json:"duty"`     // the material
	Target  *float64   `q:"target_flow"` // nil if open
	Entries []Entry    `json:"entries"`
	Curves  []CapCurve `json:"capability_curves"`
}

// Entry is one pair of feeder and hot end.
type Entry struct {
	Rank    int      `q:"rank"` // entries that cannot be told apart share one
	Tied    bool     `q:"tied"`
	Feeder  string   `q:"feeder"`
	HotEnd  string   `q:"hot_end"`
	Flow    float64  `q:"usable_flow"`
	Low     float64  `q:"usable_flow_low"`
	High    float64  `q:"usable_flow_high"`
	Limit   string   `q:"limit"`
	Next    string   `q:"next_limit"`
	Force   float64  `q:"capability"` // at the usable flow
	Mass    *float64 `q:"mass"`       // kg, feeder and hot end; nil if either is not given
	PerMass *float64 `q:"flow_per_100_g"`
	ForceG  *float64 `q:"force_per_100_g"`
	Cost    *float64 `q:"cost"`
	PerCost *float64 `q:"flow_per_cost"`
	Held    bool     `q:"target_held"` // by the pair as it stands
	Judged  string   `q:"verdict"`     // how sure that is; "" without a wanted flow
	samples []float64
}

// CapCurve is one feeder's capability for the overlay.
type CapCurve struct {
	Feeder string    `json:"feeder"`
	Flow   []float64 `q:"flow"`
	Force  []float64 `q:"capability"`
}

// tieShare is how often one entry must beat another in the samples for the two to be told apart.
const tieShare = 0.95

// Rank joins every feeder with every hot end of the cases on the duty of the first: its filament, block temperature, path, limits,
// target and spreads. Entries are compared sample by sample with the same unknowns, so that what they share cancels;
// two that beat each other in less than 95 per cent of the samples are tied.
func Rank(ctx context.Context, cases []*casefile.Case, samples int, seed uint64, progress func(done float64)) (*Ranking, error) {
	duty := cases[0]
	r := &Ranking{Header: sheetOf(duty, "Ranking: "+duty.Title), Block: duty.Block, Duty: duty.Material.Name, Target: quantity.KnownIf(duty.Target > 0, duty.Target)}
	r.Samples, r.Seed, r.Files = samples, seed, nil
	r.Warnings = materials.AddWarning(r.Warnings, duty.Material.Warnings()...)
	var feeders, ends []*casefile.Case
	name := map[string]bool{}
	for _, c := range cases {
		r.Files = append(r.Files, File{c.File, c.Hash})
		if k := "f" + c.Feeder.Name; !name[k] {
			feeders, name[k] = append(feeders, c), true
		}
		if k := "h" + c.HotEnd.Name; !name[k] {
			ends, name[k] = append(ends, c), true
		}
		if c.Material.ID != duty.Material.ID {
			r.Warnings = materials.AddWarning(r.Warnings, materials.Warning{Code: "other-duty", Message: fmt.Sprintf("%s names another material; all are compared on %s at %s, the duty of %s", c.File, duty.Material.Name, quantity.Text("best_block", r.Block), duty.File)})
		}
	}
	if len(feeders)*len(ends) < 2 {
		return nil, fmt.Errorf("study: nothing to rank: the cases hold one feeder (%q) and one hot end (%q) between them; names tell them apart", feeders[0].Feeder.Name, ends[0].HotEnd.Name)
	}
	total, done := len(feeders)*len(ends), 0
	draws := assess.NewShared(samples, seed, len(ends), len(feeders))
	for k, f := range feeders {
		for i, h := range ends {
			c := assess.Pair(&duty.Setup, &h.Setup, &f.Setup)
			e, err := entry(ctx, c, func(us []assess.Unknown) [][]float64 { return draws.Draws(us, i, k) }, func(x float64) {
				if progress != nil {
					progress((float64(done) + x) / float64(total))
				}
			})
			if err != nil {
				return nil, err
			}
			done++
			r.Entries = append(r.Entries, *e)
		}
		r.Curves = append(r.Curves, capCurve(f, duty))
	}
	r.order()
	return r, nil
}

// entry evaluates one pair.
func entry(ctx context.Context, c *setup.Setup, draws func(us []assess.Unknown) [][]float64, progress func(float64)) (*Entry, error) {
	base := march.New(&c.Case, march.Options{})
	found, err := c.Matcher(base).Find(c.Block)
	if err != nil {
		return nil, err
	}
	e := &Entry{Feeder: c.Feeder.Name, HotEnd: c.HotEnd.Name, Flow: found.Flow, Limit: string(found.Binding), Held: c.Target > 0 && found.Flow >= c.Target}
	if b, ok := found.Next(); ok {
		e.Next = string(b.Limit)
	}
	e.Force = c.Feeder.At(math.Max(found.Flow, c.Limits.MinFlow) / c.Area()).Force
	if c.Feeder.Mass > 0 && c.HotEnd.Mass > 0 {
		m := c.Feeder.Mass + c.HotEnd.Mass
		e.Mass, e.PerMass, e.ForceG = &m, quantity.Known(e.Flow/m), quantity.Known(e.Force/m)
	}
	if c.Feeder.Cost > 0 && c.HotEnd.Cost > 0 {
		cost := c.Feeder.Cost + c.HotEnd.Cost
		e.Cost, e.PerCost = &cost, quantity.Known(e.Flow/cost)
	}
	us := assess.Unknowns(c)
	hint := math.Max(found.Flow, c.Limits.MinFlow)
	at := hint
	if c.Target > 0 {
		at = c.Target
	}
	out, err := assess.Run(ctx, c, us, draws(us), base, at, assess.Sample{Pushed: hint, Melted: hint}, progress)
	if err != nil {
		return nil, err
	}
	e.samples = assess.Column(out, func(x *assess.Sample) float64 { return x.Usable })
	q := uq.Quantiles(e.samples, 0.05, 0.95)
	e.Low, e.High = q[0], q[1]
	if c.Target > 0 {
		held := 0.0
		for i := range out {
			if out[i].Held {
				held += 1 / float64(len(out))
			}
		}
		e.Judged = string(assess.Judge(held))
	}
	return e, nil
}

// order sorts by usable flow and gives entries that cannot be told apart from the one above them its rank.
func (r *Ranking) order() {
	sort.SliceStable(r.Entries, func(i, j int) bool { return r.Entries[i].Flow > r.Entries[j].Flow })
	lead := 0
	for i := range r.Entries {
		e := &r.Entries[i]
		e.Rank = i + 1
		if i > 0 && !beats(r.Entries[lead].samples, e.samples) {
			e.Rank = r.Entries[lead].Rank
			e.Tied, r.Entries[lead].Tied = true, true
		} else {
			lead = i
		}
	}
	first, q := r.Entries[0], quantity.Of("usable_flow")
	if first.Tied {
		n := 0
		for _, e := range r.Entries {
			if e.Rank == 1 {
				n++
			}
		}
		r.Sentence = fmt.Sprintf("%d pairs share the first place: their usable flows, up to %s (likely range %s to %s), cannot be told apart.", n, q.Text(first.Flow), q.Number(first.Low), q.Number(first.High))
	} else {
		r.Sentence = fmt.Sprintf("%s on %s comes first with %s (likely range %s to %s), limited by %s, next by %s.",
			first.Feeder, first.HotEnd, q.Text(first.Flow), q.Number(first.Low), q.Number(first.High), orNoLimit(first.Limit), orNoLimit(first.Next))
	}
}

func orNoLimit(s string) string {
	if s == "" {
		return "nothing within the search"
	}
	return s
}

func beats(a, b []float64) bool {
	n := 0.0
	for i := range a {
		if a[i] > b[i] {
			n++
		}
	}
	return n/float64(len(a)) >= tieShare
}

func capCurve(f, duty *casefile.Case) CapCurve {
	c := CapCurve{Feeder: f.Feeder.Name}
	top := 25 * unit.MM3
	for _, p := range f.Feeder.Points {
		top = math.Max(top, p.Speed*duty.Area()*1.1)
	}
	for i := 1; i <= 40; i++ {
		q := top * float64(i) / 40
		c.Flow = append(c.Flow, q)
		c.Force = append(c.Force, f.Feeder.At(q/duty.Area()).Force)
	}
	return c
}
