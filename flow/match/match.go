// Package match lays the load over what the feeder, the heater and the
// material allow, and finds the highest usable flow, what limits it, by how
// much the other limits are away, and the best temperature.
//
// It takes the load as a flow.Solver and knows no particular one.
package match

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// Limits are the settings of a match.
type Limits struct {
	Safety    float64 // load times Safety must not exceed capability; at least 1
	Core      bool    // an unmelted core at the cone counts as a limit; otherwise it is a warning: a matter of quality
	Window    bool    // a block outside the processing window counts as a limit; otherwise it is a warning
	MountMax  float64 // N at the feeder, 0 for none
	MaxFlow   float64 // m3/s, upper end of the search
	MinFlow   float64 // m3/s, lower end of the search
	Residence float64 // s, longest stay allowed; sets the lowest flow
}

// Margin is one limit at one operating point: capacity over demand minus one, at most MostMargin; negative means
// exceeded.
type Margin struct {
	Limit Limit
	Value float64
	Warns bool // it is told, and does not count
}

// Matcher joins a solver and a feeder under limits.
type Matcher struct {
	Case   *flow.Case
	Solver flow.Solver
	Feeder *feeder.Feeder
	Limits Limits
}

// At solves an operating point, block temperature (K) and flow (m3/s), into d and lists its margins. The slice given is
// reused.
func (m *Matcher) At(block, q float64, d *flow.Solution, out []Margin) ([]Margin, error) {
	if err := m.Solver.Solve(block, q, d); err != nil {
		return nil, err
	}
	return m.Margins(d, out), nil
}

// Margins lists the margin to every limit at an operating point that has been solved, in the order of the table of
// limits. The slice given is reused.
func (m *Matcher) Margins(d *flow.Solution, out []Margin) []Margin {
	out = out[:0]
	c := m.Feeder.At(d.Speed)
	for i := range kinds {
		if v, applies := kinds[i].margin(m, d, c); applies {
			out = append(out, Margin{kinds[i].limit, math.Min(v, MostMargin), kinds[i].limit.warns(m.Limits)})
		}
	}
	return out
}

// OfFeeder is the margin of the feeder, which follows from Speed and Push of an operating point alone.
func (m *Matcher) OfFeeder(d *flow.Solution) Margin { return m.of(Limit.Feeder, d) }

// OfCore is the margin of the core, which follows from EntryCentre of an operating point alone; the most room where
// nothing has to melt.
func (m *Matcher) OfCore(d *flow.Solution) Margin {
	return m.of(func(l Limit) bool { return l == Core }, d)
}

// of is the margin of the first limit of a kind that applies.
func (m *Matcher) of(is func(l Limit) bool, d *flow.Solution) Margin {
	c := m.Feeder.At(d.Speed)
	for i := range kinds {
		if l := kinds[i].limit; is(l) {
			if v, applies := kinds[i].margin(m, d, c); applies {
				return Margin{l, math.Min(v, MostMargin), l.warns(m.Limits)}
			}
		}
	}
	return Margin{Value: MostMargin}
}

// Worst returns the limit that counts with the least margin. The first one always counts: it is the feeder's.
func Worst(ms []Margin) Margin {
	w := ms[0]
	for _, x := range ms[1:] {
		if x.Value < w.Value && !x.Warns {
			w = x
		}
	}
	return w
}

// Bound is the highest flow that one kind of limit allows.
type Bound struct {
	Limit Limit
	Flow  float64 // m3/s; the upper end of the search if Open
	Open  bool    // not reached within the search
	Value float64 // the margin at the usable flow, at most MostMargin
	Warns bool    // it is told, and does not count
}

// Result is the answer at one block temperature.
type Result struct {
	Block     float64
	Flow      float64         // m3/s, 0 if no flow is usable
	Binding   Limit           // "" if nothing binds within the search
	Bounds    []Bound         // nearest first
	Crossings []float64       // flows at which load crosses capability, if more than one
	LowFlow   float64         // m3/s below which the stay is longer than allowed
	Solution  flow.Solution   // at Flow
	Scan      []flow.Solution // of the flows looked at first, from MinFlow to MaxFlow, without their sections
	Warnings  []materials.Warning

	steep float64 // power of flow by which load over capability grows where the feeder first gives way
}

// Pushed is the most that the feeder can push, whatever the other limits say.
func (r *Result) Pushed() Bound { return r.bound(Limit.Feeder) }

// MeltsThrough is the most flow whose core has melted before the cone.
func (r *Result) MeltsThrough() Bound { return r.bound(func(l Limit) bool { return l == Core }) }

func (r *Result) bound(is func(l Limit) bool) Bound {
	for _, b := range r.Bounds {
		if is(b.Limit) {
			return b
		}
	}
	return Bound{}
}

// Next returns the obstacle that counts after the binding one, or false.
func (r *Result) Next() (Bound, bool) {
	for _, b := range r.Bounds {
		if b.Limit != r.Binding && !b.Open && !b.Warns {
			return b, true
		}
	}
	return Bound{}, false
}

// scanPoints is the number of flows of the first scan; crossings closer than a
// step of the scan (a factor of about 1.2 in flow) may be missed as a pair.
const scanPoints = 24

// Find searches the flows from MinFlow to MaxFlow at one block temperature (K). Each limit's first crossing is
// bracketed by a scan, spread over the cores, and refined to 1e-4 of the flow. Errors: of the solver, where a flow that
// is needed has no solution.
func (m *Matcher) Find(block float64) (*Result, error) { return m.find(block, m.each) }

// find is Find with its way to run the scan.
func (m *Matcher) find(block float64, each func(n int, f func(w *Matcher, i int) error) error) (*Result, error) {
	f, err := m.scan(block, each)
	if err != nil {
		return nil, err
	}
	r := &Result{Block: block, Bounds: make([]Bound, len(f.order)), Scan: f.seen}
	if err := each(len(f.order), func(w *Matcher, k int) (err error) {
		r.Bounds[k], err = f.on(w).bound(k, r)
		return err
	}); err != nil {
		return nil, err
	}
	r.sort()
	if len(r.Crossings) < 2 {
		r.Crossings = nil
	}
	for _, b := range r.Bounds {
		if b.Warns {
			continue
		}
		r.Flow = b.Flow
		break
	}
	ms, err := f.at(math.Max(r.Flow, m.Limits.MinFlow))
	if err != nil {
		return nil, err
	}
	for i := range r.Bounds {
		for _, x := range ms {
			if x.Limit.group() == r.Bounds[i].Limit.group() {
				r.Bounds[i].Value = x.Value
			}
		}
	}
	r.sort()
	for _, b := range r.Bounds {
		if !b.Warns {
			if !b.Open {
				r.Binding = b.Limit
			}
			break
		}
	}
	f.d.Sections = append([]flow.SectionSolution(nil), f.d.Sections...)
	r.Solution = f.d
	if m.Limits.Residence > 0 {
		r.LowFlow = m.Case.HotEnd.Volume() / m.Limits.Residence
	}
	r.warn(m)
	return r, nil
}

// sort puts the nearest bound first; of those that leave no flow at all, the one that is exceeded most.
func (r *Result) sort() {
	sort.SliceStable(r.Bounds, func(i, j int) bool {
		a, b := &r.Bounds[i], &r.Bounds[j]
		if a.Flow != b.Flow || a.Flow > 0 {
			return a.Flow < b.Flow
		}
		return a.Value < b.Value
	})
}

// finder is a search at one block temperature: the flows scanned, and the margins there by kind of limit; the limits of
// the feeder share one margin.
type finder struct {
	*Matcher
	block float64
	flows []float64
	seen  []flow.Solution
	order []string    // the kinds met
	rooms [][]float64 // of each kind at each flow
	d     flow.Solution
	q     float64 // the flow that buf is at, 0 before the first
	buf   []Margin
	lost  error // what kept a point between those of the scan from being solved
}

// on is the search with a solver of its own.
func (f *finder) on(m *Matcher) *finder {
	return &finder{Matcher: m, block: f.block, flows: f.flows, order: f.order, rooms: f.rooms}
}

// scan solves the flows of the first scan.
func (m *Matcher) scan(block float64, each func(n int, f func(w *Matcher, i int) error) error) (*finder, error) {
	f := &finder{Matcher: m, block: block, flows: make([]float64, scanPoints)}
	lo, hi := m.Limits.MinFlow, m.Limits.MaxFlow
	f.seen = make([]flow.Solution, scanPoints)
	scan := make([][]Margin, scanPoints)
	if err := each(scanPoints, func(w *Matcher, i int) error {
		f.flows[i] = lo * math.Pow(hi/lo, float64(i)/(scanPoints-1))
		var d flow.Solution
		var err error
		scan[i], err = w.At(block, f.flows[i], &d, nil)
		d.Sections = nil
		f.seen[i] = d
		return err
	}); err != nil {
		return nil, err
	}
	for i := range scan {
		for _, x := range scan[i] {
			k := slices.Index(f.order, x.Limit.group())
			if k < 0 {
				k = len(f.order)
				f.order = append(f.order, x.Limit.group())
				f.rooms = append(f.rooms, make([]float64, scanPoints))
			}
			f.rooms[k][i] = x.Value
		}
	}
	return f, nil
}

// at solves a flow between those of the scan.
func (f *finder) at(q float64) ([]Margin, error) {
	if q == f.q {
		return f.buf, nil
	}
	ms, err := f.At(f.block, q, &f.d, f.buf)
	if err != nil {
		return nil, err
	}
	f.buf, f.q = ms, q
	return ms, nil
}

// room is the margin of a kind at a flow between those of the scan; NaN where it cannot be solved.
func (f *finder) room(kind string, q float64) float64 {
	ms, err := f.at(q)
	if err != nil {
		f.lost = err
		return math.NaN()
	}
	for _, x := range ms {
		if x.Limit.group() == kind {
			return x.Value
		}
	}
	return 1
}

// between finds the flow where the margin of the kind k changes its sign between two flows of the scan, i-1 and i. The
// search starts where a parabola through three points of the scan crosses zero.
func (f *finder) between(k, i int) (float64, error) {
	kind, rooms := f.order[k], f.rooms[k]
	at := func(lq float64) float64 { return f.room(kind, math.Exp(lq)) }
	a, b, fa, fb := math.Log(f.flows[i-1]), math.Log(f.flows[i]), rooms[i-1], rooms[i]
	if g := f.guess(k, i); g > a && g < b {
		if fg := at(g); (fg > 0) == (fa > 0) {
			a, fa = g, fg
		} else {
			b, fb = g, fg
		}
	}
	x, err := num.RootBetween(at, a, fa, b, fb, 1e-4)
	if err != nil {
		return 0, notFound(kind, f.flows[i-1], f.flows[i], err, f.lost)
	}
	return math.Exp(x), nil
}

// guess is the logarithm of the flow at which the margin is zero by the inverse parabola through the two points of the
// scan about it and the nearer of their neighbours; NaN where there is none.
func (f *finder) guess(k, i int) float64 {
	rooms, n := f.rooms[k], i+1
	if i-2 >= 0 && (n >= len(rooms) || math.Abs(rooms[i-2]-rooms[i-1]) < math.Abs(rooms[n]-rooms[i])) {
		n = i - 2
	}
	if n >= len(rooms) {
		return math.NaN()
	}
	x0, x1, x2 := math.Log(f.flows[i-1]), math.Log(f.flows[i]), math.Log(f.flows[n])
	y0, y1, y2 := rooms[i-1], rooms[i], rooms[n]
	return x0*y1*y2/((y0-y1)*(y0-y2)) + x1*y0*y2/((y1-y0)*(y1-y2)) + x2*y0*y1/((y2-y0)*(y2-y1))
}

// bound finds the lowest flow at which the kind k has no margin, and for the feeder all crossings of load and
// capability.
func (f *finder) bound(k int, r *Result) (b Bound, err error) {
	kind, rooms := f.order[k], f.rooms[k]
	b = Bound{Flow: f.Limits.MaxFlow, Open: true}
	first := slices.IndexFunc(rooms, func(x float64) bool { return !(x >= 0) })
	if first >= 0 {
		b.Open, b.Flow = false, 0
	}
	if first > 0 {
		if b.Flow, err = f.between(k, first); err != nil {
			return b, err
		}
		if kind == ofFeeder {
			r.steep = math.Log((1+rooms[first-1])/(1+rooms[first])) / math.Log(f.flows[first]/f.flows[first-1])
		}
	}
	if kind != ofFeeder {
		b.Limit = Limit(kind)
		b.Warns = b.Limit.warns(f.Limits)
		return b, nil
	}
	// The cause is that of the capability at the bound.
	ms, err := f.at(math.Max(b.Flow, f.Limits.MinFlow))
	if err != nil {
		return b, err
	}
	b.Limit = ms[0].Limit
	for i := 1; i < scanPoints; i++ {
		if (rooms[i] < 0) == (rooms[i-1] < 0) {
			continue
		}
		q := b.Flow
		if i != first {
			if q, err = f.between(k, i); err != nil {
				return b, err
			}
		}
		r.Crossings = append(r.Crossings, q)
	}
	return b, nil
}

// notFound says which bound could not be found, between which flows (m3/s), and why.
func notFound(limit string, lo, hi float64, root, solve error) error {
	if solve != nil {
		root = solve
	}
	return fmt.Errorf("match: the bound by %s between %.4g and %.4g mm3/s: %w", limit, lo/unit.MM3, hi/unit.MM3, root)
}

// flatLoad is the power of flow by which what the load takes of the feeder grows at the usable flow, below which that
// flow hangs on a push that nobody knows so well: pushShare of push then is a fifth of flow and more (assumed).
const (
	flatLoad  = 0.25
	pushShare = 0.05
)

func (r *Result) warn(m *Matcher) {
	r.Warnings = m.Case.Warnings(&r.Solution)
	add := func(code, format string, a ...any) {
		r.Warnings = materials.AddWarning(r.Warnings, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	r.Warnings = materials.AddWarning(r.Warnings, m.Feeder.Warnings(r.Solution.Speed)...)
	if len(r.Crossings) > 1 {
		add("several-crossings",
			"load and capability cross %d times; the lowest crossing counts, the usable flow may begin again higher up",
			len(r.Crossings))
	}
	if r.Binding.Feeder() && r.Flow > 0 && r.steep < flatLoad {
		add("flat-load", "load and what the feeder holds run nearly alike about the usable flow: %.0f %% of push are "+
			"some %.0f %% of flow; the one number says little, see its range", 100*pushShare, 100*pushShare/r.steep)
	}
	if r.Binding == "" {
		add("search-end", "nothing limits the flow up to %.1f mm3/s, the end of the search; raise max_flow_mm3_s to "+
			"look further", r.Flow/unit.MM3)
	}
	if r.Flow == 0 {
		add("no-usable-flow", "even %.2g mm3/s, the lower end of the search, is not usable", m.Limits.MinFlow/unit.MM3)
	}
	if r.Flow > 0 && r.LowFlow > r.Flow {
		add("residence", "the melt stays longer than %.0f s at every usable flow", m.Limits.Residence)
	}
}

// Over finds the usable flow at each block temperature (K), spread over the cores. Errors: as of Find.
func (m *Matcher) Over(temps []float64) ([]*Result, error) {
	out := make([]*Result, len(temps))
	err := m.each(len(temps), func(w *Matcher, i int) error {
		r, err := w.find(temps[i], w.one)
		out[i] = r
		return err
	})
	return out, err
}

// Best returns the index of the temperature with the highest usable flow; -1 if none is usable.
func Best(rs []*Result) int {
	best := -1
	for i, r := range rs {
		if r.Flow > 0 && (best < 0 || r.Flow > rs[best].Flow) {
			best = i
		}
	}
	return best
}

// Cell is one point of an operating map.
type Cell struct {
	Limit Limit   // "" where usable
	Value float64 // to the nearest limit
	Push  float64 // N
}

// follower is a solver that can begin a search where the last one ended; rows of a map are such curves.
type follower interface {
	Follow(near *flow.Solution)
}

// Map evaluates every pair of block temperature (K) and flow (m3/s): rows by temperature, spread over the cores.
// Errors: of the solver.
func (m *Matcher) Map(temps, flows []float64) ([][]Cell, error) {
	out := make([][]Cell, len(temps))
	err := m.each(len(temps), func(w *Matcher, i int) error {
		row := make([]Cell, len(flows))
		if f, ok := w.Solver.(follower); ok {
			f.Follow(nil)
		}
		var d flow.Solution
		var ms []Margin
		for j, q := range flows {
			var err error
			if ms, err = w.At(temps[i], q, &d, ms); err != nil {
				return err
			}
			x := Worst(ms)
			row[j] = Cell{Value: x.Value, Push: d.Push}
			if x.Value < 0 {
				row[j].Limit = x.Limit
			}
		}
		out[i] = row
		return nil
	})
	return out, err
}

// one runs f for 0..n-1 on the solver at hand.
func (m *Matcher) one(n int, f func(w *Matcher, i int) error) error {
	for i := range n {
		if err := f(m, i); err != nil {
			return err
		}
	}
	return nil
}

// each runs f for 0..n-1 on as many goroutines as there are cores, each with its own solver.
func (m *Matcher) each(n int, f func(w *Matcher, i int) error) error {
	return num.Parallel(n, func() func(int) error {
		w := *m
		w.Solver = m.Solver.Clone()
		return func(i int) error { return f(&w, i) }
	})
}

// UsableShare is the share (0 to 1) of the points of an operating map that are usable; 0 for an empty map.
func UsableShare(cells [][]Cell) float64 {
	usable, all := 0, 0
	for _, row := range cells {
		for _, x := range row {
			all++
			if x.Limit == "" {
				usable++
			}
		}
	}
	return float64(usable) / float64(max(1, all))
}
