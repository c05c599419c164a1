package study

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync/atomic"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/materials/strict"
)

// MaxSurvey is the most combinations that a survey looks at: minutes of computing, and more than a table is read for.
const MaxSurvey = 2000

// SurveyJob says what to combine with what. Everything else is that of Base: its feeder, filament size, path, limits.
type SurveyJob struct {
	Base      *setup.Setup
	Materials []*materials.Material // none for that of Base; names differ
	HotEnds   []Place               // none for that of Base; names differ
	Nozzles   []float64             // m, bore; none for that of each hot end. Land length and cone angle stay
	// K, block temperatures; none for that of Base with its own material, and the middle of the processing window with
	// another
	Blocks []float64
	Flow   float64 // m3/s, wanted; 0 for that of Base
	Speed  float64 // m/s, wanted print speed, in place of Flow: the flow then follows from the line of each nozzle
}

// SurveyResult is the usable flow of every combination of materials, hot ends, nozzles and block temperatures.
type SurveyResult struct {
	Header
	Target  *float64    `q:"target_flow"`        // nil if open, or if a print speed is wanted
	Wanted  *float64    `q:"wanted_print_speed"` // nil unless a print speed is wanted
	Best    *int        `json:"best"`            // the row with the highest usable flow, from 0; nil if there is none
	Fastest *int        `json:"fastest"`         // the row with the highest print speed; nil if there is none
	Rows    []SurveyRow `json:"rows"`
}

// SurveyRow is one combination.
type SurveyRow struct {
	Material string   `q:"material"`
	HotEnd   string   `q:"hot_end"`
	Nozzle   *float64 `q:"nozzle"` // nil where the exit is not one round bore
	Block    float64  `q:"block"`
	Flow     *float64 `q:"usable_flow"`          // nil where it could not be computed, the remark says why
	Low      *float64 `q:"usable_flow_low_end"`  // at the corner of the high load, see assess.Corners
	High     *float64 `q:"usable_flow_high_end"` // at that of the low load
	Speed    *float64 `q:"print_speed"`          // at the usable flow; nil without a line
	Limit    string   `q:"limit"`                // "" if nothing binds within the search
	Melted   *float64 `q:"melted_flow"`          // the most that melts through before the cone; nil beyond the search
	Push     *float64 `q:"push_at_usable"       show:"wide"`
	Pressure *float64 `q:"pressure_at_usable"   show:"wide"`
	Layer    *float64 `q:"layer_height"         show:"wide"`
	Width    *float64 `q:"line_width"           show:"wide"`
	Target   *float64 `q:"target_flow"          show:"wide"` // nil if open
	PushAt   *float64 `q:"push_at_wanted"`                   // at the wanted flow; nil without one
	PressAt  *float64 `q:"pressure_at_wanted"   show:"wide"`
	Margin   *float64 `q:"margin"               show:"wide"`
	Judged   string   `q:"verdict"` // how sure it is that the wanted flow is held; "" without one
	Warned   string   `q:"warning_codes"        show:"wide"`
	Remark   string   `q:"remark"               show:"wide"`

	limitCode string
	searchEnd float64
	warnings  []materials.Warning
}

// Code is the letter of the limit, as in the map of an assessment; "+" where nothing limits, "" where nothing was
// computed.
func (r *SurveyRow) Code() string { return r.limitCode }

// Beyond tells whether a flow (m3/s) is the end of the search, so that the flow it stands for may be higher.
func (r *SurveyRow) Beyond(flow float64) bool { return atEnd(flow, r.searchEnd) }

// Name says the combination in words: "PLA, 0.4 mm nozzle, 215 degC"; ends says that the hot end is to be named.
func (r *SurveyRow) Name(ends bool) string {
	s := r.Material
	if ends {
		s += " on " + r.HotEnd
	}
	if r.Nozzle != nil {
		s += ", " + quantity.Text("nozzle", *r.Nozzle) + " nozzle"
	}
	return s + ", " + quantity.Text("best_block", r.Block)
}

// combination is a row with the set-up it is found for.
type combination struct {
	row   SurveyRow
	set   *setup.Setup
	stock int // which of the materials
	fault error
}

// Survey finds the usable flow of every combination of a job, what limits it, force and pressure at the wanted flow,
// print speed, and the usable flow with what moves the load most at either end (assess.Corners, near 5 to 95 per cent).
// The work is spread over the cores. A combination that makes no set-up, such as a block colder than the filament, is a
// row with the reason. Errors: strict.Problems of a job that asks for nothing sensible, all of them; a job of which no
// combination can be computed; a cancelled context.
func Survey(ctx context.Context, job SurveyJob, progress func(done float64)) (*SurveyResult, error) {
	if err := job.check(); err != nil {
		return nil, err
	}
	all := job.combinations()
	if err := job.run(ctx, all, progress); err != nil {
		return nil, err
	}
	r := &SurveyResult{Header: surveyHeader(&job), Wanted: quantity.KnownIf(job.Speed > 0, job.Speed)}
	if t := job.flow(); job.Speed == 0 {
		r.Target = quantity.KnownIf(t > 0, t)
	}
	var fault error
	for i := range all {
		c := &all[i]
		if c.fault != nil {
			c.row.Remark = strings.ReplaceAll(c.fault.Error(), "\n", "; ")
			fault = c.fault
		}
		r.Rows = append(r.Rows, c.row)
	}
	r.gather()
	if n := r.count(func(x *SurveyRow) bool { return x.Flow == nil }); n == len(r.Rows) {
		return nil, fmt.Errorf("study: none of %d combinations can be computed; the last: %w", n, fault)
	}
	r.judge()
	return r, nil
}

// flow is the wanted flow where no print speed is wanted.
func (j *SurveyJob) flow() float64 {
	if j.Flow > 0 {
		return j.Flow
	}
	return j.Base.Target
}

// check lists all that is wrong with a job.
func (j *SurveyJob) check() error {
	var ps strict.Problems
	bad := ps.Add
	if j.Base == nil {
		bad("Base", "nil", "a set-up", "make one with setup.New")
		return ps
	}
	bore, round := vary.Find(j.Base, string(vary.Bore))
	if !round && len(j.Nozzles) > 0 && len(j.HotEnds) == 0 {
		bad("Nozzles", fmt.Sprintf("%d of them", len(j.Nozzles)), "none for a hot end without a round bore",
			"describe each nozzle as a hot end of its own")
	}
	block := vary.Must(j.Base, vary.Block)
	numbers := func(field string, xs []float64, q vary.Quantity) {
		seen := map[float64]bool{}
		for i, x := range xs {
			at := fmt.Sprintf("%s[%d]", field, i)
			if !(x >= q.Low && x <= q.High) {
				bad(at, q.Text(x), q.Allowed(), "change the value")
			}
			if seen[x] {
				bad(at, q.Text(x), "each value once", "leave one of them out")
			}
			seen[x] = true
		}
	}
	if round {
		numbers("Nozzles", j.Nozzles, bore)
	}
	numbers("Blocks", j.Blocks, block)
	names := map[string]bool{}
	for i, m := range j.Materials {
		if m == nil {
			bad(fmt.Sprintf("Materials[%d]", i), "nil", "a material", "take one with materials.Get")
		} else if names[m.ID] {
			bad(fmt.Sprintf("Materials[%d]", i), m.ID, "each material once", "leave one of them out")
		} else {
			names[m.ID] = true
		}
	}
	names = map[string]bool{}
	for i, h := range j.HotEnds {
		if names[h.Name] {
			bad(fmt.Sprintf("HotEnds[%d]", i), h.Name, "names that differ", "give one of them another name")
		}
		names[h.Name] = true
	}
	for _, x := range []struct {
		field   string
		x, most float64
	}{{"Flow", j.Flow, 1e-6}, {"Speed", j.Speed, 10}} {
		if !(x.x >= 0 && x.x <= x.most) {
			bad(x.field, fmt.Sprintf("%g", x.x), fmt.Sprintf("0 to %g, in SI", x.most), "0 for none")
		}
	}
	if j.Flow > 0 && j.Speed > 0 {
		bad("Flow and Speed", "both", "one of them", "a wanted print speed is a wanted flow")
	}
	n := max(1, len(j.Materials)) * max(1, len(j.HotEnds)) * max(1, len(j.Nozzles)) * max(1, len(j.Blocks))
	if n > MaxSurvey {
		bad("", fmt.Sprintf("%d combinations", n), fmt.Sprintf("at most %d", MaxSurvey), "shorten the lists")
	}
	return ps.Err()
}

// combinations lists every combination with its set-up, materials slowest, block temperatures fastest.
func (j *SurveyJob) combinations() []combination {
	stocks, ends := j.Materials, j.HotEnds
	if len(stocks) == 0 {
		stocks = []*materials.Material{j.Base.Material}
	}
	if len(ends) == 0 {
		ends = []Place{{j.Base.HotEnd.Name, j.Base}}
	}
	var out []combination
	for i, m := range stocks {
		of := assess.OnMaterial(j.Base, m)
		for _, h := range ends {
			on := of
			if h.Setup != j.Base {
				on = assess.Pair(of, h.Setup, of)
			}
			blocks := j.Blocks
			switch {
			case len(blocks) > 0:
			case m.ID == j.Base.Material.ID:
				blocks = []float64{j.Base.Block}
			default:
				blocks = []float64{(m.Window[0] + m.Window[1]) / 2}
			}
			bores := j.Nozzles
			if len(bores) == 0 {
				bores = []float64{0}
			}
			for _, d := range bores {
				for _, T := range blocks {
					out = append(out, combine(on, h.Name, i, d, T, j.Speed, j.flow()))
				}
			}
		}
	}
	return out
}

// combine makes one combination: bore 0 is that of the hot end, speed a wanted print speed in place of a wanted flow.
func combine(on *setup.Setup, hotEnd string, stock int, bore, block, speed, wanted float64) combination {
	n := on.Clone()
	n.SetBlock(block)
	if bore > 0 {
		if err := rebore(n, bore); err != nil {
			return combination{fault: err, row: SurveyRow{Material: n.Material.ID, HotEnd: hotEnd,
				Nozzle: quantity.Known(bore), Block: block}}
		}
	}
	l, _, lined := n.PrintLine()
	n.Target = wanted
	if speed > 0 {
		n.Target = l.Flow(speed)
	}
	nozzle := n.HotEnd.Nozzle()
	c := combination{set: n, stock: stock, row: SurveyRow{Material: n.Material.ID, HotEnd: hotEnd,
		Nozzle: quantity.KnownIf(nozzle > 0, nozzle), Block: block, Layer: quantity.KnownIf(lined, l.Height),
		Width: quantity.KnownIf(lined, l.Width), Target: quantity.KnownIf(n.Target > 0, n.Target)}}
	if n.Target > n.Limits.MaxFlow { // looked for further up, so that the margin can be told
		n.Limits.MaxFlow = math.Min(1.2*n.Target, 1e-6)
	}
	if err := n.Validate(); err != nil {
		c.fault = err
	} else if speed > 0 && !lined {
		c.fault = fmt.Errorf("no print speed without a round nozzle: give layer height and line width")
	}
	return c
}

// rebore gives a set-up another nozzle (m), narrower than what leads into it.
func rebore(s *setup.Setup, bore float64) error {
	q, ok := vary.Find(s, string(vary.Bore))
	if !ok {
		return fmt.Errorf("the hot end has no round bore to change: describe each nozzle as a hot end")
	}
	widest := 0.0
	for i := range s.HotEnd.Sections {
		if x := &s.HotEnd.Sections[i]; x.Shape == flow.Tube || x.Shape == flow.Cone {
			widest = math.Max(widest, math.Max(x.D1, x.D2))
		}
	}
	if widest > s.HotEnd.Bore() && bore >= widest {
		return fmt.Errorf("a nozzle of %s is no narrower than the %s that leads into it", q.Text(bore), q.Text(widest))
	}
	return q.Set(s, bore)
}

// run computes all combinations, spread over the cores.
func (j *SurveyJob) run(ctx context.Context, all []combination, progress func(done float64)) error {
	solvers := map[int]*march.Solver{} // one set of tables a material
	for i := range all {
		if c := &all[i]; c.fault == nil && solvers[c.stock] == nil {
			solvers[c.stock] = march.New(&c.set.Case, march.Options{})
		}
	}
	var done atomic.Int64
	return num.Parallel(len(all), func() func(int) error {
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			if c := &all[i]; c.fault == nil {
				c.fault = c.find(solvers[c.stock])
			}
			if n := done.Add(1); progress != nil {
				progress(float64(n) / float64(len(all)))
			}
			return nil
		}
	})
}

// find fills the row of a combination.
func (c *combination) find(tables *march.Solver) error {
	s, row := c.set, &c.row
	row.searchEnd = s.Limits.MaxFlow
	usable := func(s *setup.Setup) (*match.Result, *match.Matcher, error) {
		m := s.Matcher(tables.For(&s.Case))
		rs, err := m.Over([]float64{s.Block})
		if err != nil {
			return nil, nil, err
		}
		return rs[0], m, nil
	}
	found, m, err := usable(s)
	if err != nil {
		return err
	}
	row.Flow, row.Speed = quantity.Known(found.Flow), printSpeed(s, found.Flow)
	row.Limit, row.limitCode = string(found.Binding), found.Binding.Code()
	if b := found.MeltsThrough(); b.Limit != "" && !b.Open {
		row.Melted = quantity.Known(b.Flow)
	}
	if found.Flow > 0 {
		row.Push, row.Pressure = quantity.Known(found.Solution.Push), quantity.Known(found.Solution.Pressure)
	}
	row.warnings = found.Warnings
	var ends [2]float64
	for i, k := range assess.Corners(s) {
		f, _, err := usable(k.Setup)
		if err != nil {
			return err
		}
		ends[i] = f.Flow
	}
	row.High, row.Low = quantity.Known(math.Max(ends[0], found.Flow)), quantity.Known(math.Min(ends[1], found.Flow))
	if s.Target > 0 {
		var d flow.Solution
		if err := m.Solver.Solve(s.Block, s.Target, &d); err != nil {
			return err
		}
		row.PushAt, row.PressAt = quantity.Known(d.Push), quantity.Known(d.Pressure)
		row.Margin = quantity.Known(found.Flow/s.Target - 1)
		row.Judged = string(assess.JudgeEnds(*row.High >= s.Target, found.Flow >= s.Target, *row.Low >= s.Target))
		row.warnings = append(row.warnings, s.Warnings(&d)...)
	}
	row.Warned = codes(row.warnings)
	return nil
}

// gather brings the warnings of all combinations together, one of a code, with how many it concerns.
func (r *SurveyResult) gather() {
	ends := r.severalEnds()
	if n := r.count(func(x *SurveyRow) bool { return x.Flow == nil }); n > 0 {
		for i := range r.Rows {
			if x := &r.Rows[i]; x.Flow == nil {
				r.Warnings = materials.AddWarning(r.Warnings, materials.Warning{Code: "not-computed",
					Message: fmt.Sprintf("%d of %d combinations could not be computed, such as %s: %s", n, len(r.Rows),
						x.Name(ends), x.Remark)})
				break
			}
		}
	}
	all := make([]materials.Bearer, len(r.Rows))
	for i := range all {
		all[i] = materials.Bearer{Name: r.Rows[i].Name(ends), Warnings: r.Rows[i].warnings}
	}
	r.add(materials.Together(all, "combinations")...)
}

// severalEnds tells whether the hot ends differ.
func (r *SurveyResult) severalEnds() bool {
	return r.count(func(x *SurveyRow) bool { return x.HotEnd != r.Rows[0].HotEnd }) > 0
}

// Several tells of what there is more than one: materials, hot ends, nozzles, block temperatures.
func (r *SurveyResult) Several() (stocks, ends, nozzles, blocks bool) {
	first := &r.Rows[0]
	return r.count(func(x *SurveyRow) bool { return x.Material != first.Material }) > 0, r.severalEnds(),
		r.count(func(x *SurveyRow) bool { return quantity.Or(x.Nozzle, 0) != quantity.Or(first.Nozzle, 0) }) > 0,
		r.count(func(x *SurveyRow) bool { return x.Block != first.Block }) > 0
}

func (r *SurveyResult) count(is func(x *SurveyRow) bool) int {
	n := 0
	for i := range r.Rows {
		if is(&r.Rows[i]) {
			n++
		}
	}
	return n
}

// sameShare is within which share of the highest usable flow others count as sharing it: more than the search of the
// flow misses (1e-4), less than anyone would tell on a bench.
const sameShare = 0.01

// judge says which combination is best, from the rows as they stand, so that the sentence cannot contradict them.
func (r *SurveyResult) judge() {
	most := func(of func(x *SurveyRow) *float64) *int {
		best := -1
		for i := range r.Rows {
			if v := of(&r.Rows[i]); v != nil && *v > 0 && (best < 0 || *v > *of(&r.Rows[best])) {
				best = i
			}
		}
		if best < 0 {
			return nil
		}
		return &best
	}
	r.Best = most(func(x *SurveyRow) *float64 { return x.Flow })
	r.Fastest = most(func(x *SurveyRow) *float64 { return x.Speed })
	r.Good = r.Best != nil
	said := []string{r.wanted(), r.highest(), r.quickest()}
	if n := r.count(func(x *SurveyRow) bool { return x.Flow == nil }); n > 0 {
		said = append(said, fmt.Sprintf("%d of %d could not be computed; their remarks say why.", n, len(r.Rows)))
	}
	r.Sentence = strings.Join(strings.Fields(strings.Join(said, " ")), " ")
}

// Held counts the combinations that hold the wanted flow for sure or likely.
func (r *SurveyResult) Held() int {
	return r.count(func(x *SurveyRow) bool { return assess.Verdict(x.Judged).Good() })
}

// wanted counts the verdicts on the wanted flow; "" where none is wanted.
func (r *SurveyResult) wanted() string {
	what := ""
	switch {
	case r.Wanted != nil:
		what = "print speed of " + quantity.Text("wanted_print_speed", *r.Wanted)
	case r.Target != nil:
		what = "flow of " + quantity.Text("target_flow", *r.Target)
	default:
		return ""
	}
	var said []string
	for _, v := range []assess.Verdict{assess.Held, assess.Likely, assess.Uncertain, assess.NotHeld} {
		if n := r.count(func(x *SurveyRow) bool { return x.Judged == string(v) }); n > 0 {
			said = append(said, fmt.Sprintf("%s in %d", v, n))
		}
	}
	r.Good = r.Held() > 0
	return fmt.Sprintf("Of %d combinations, the wanted %s: %s.", len(r.Rows), what, strings.Join(said, ", "))
}

// highest names the combination with the highest usable flow, or how many share it.
func (r *SurveyResult) highest() string {
	if r.Best == nil {
		return fmt.Sprintf("None of %d combinations has a usable flow.", len(r.Rows))
	}
	x, q := &r.Rows[*r.Best], quantity.Of("usable_flow")
	name, tail := x.Name(r.severalEnds()), ""
	if x.Melted != nil && *x.Melted < *x.Flow {
		tail = fmt.Sprintf(" It melts through up to %s; above it the core reaches the cone unmelted.",
			quantity.Text("melted_flow", *x.Melted))
	}
	n := r.count(func(y *SurveyRow) bool { return y.Flow != nil && *y.Flow >= *x.Flow*(1-sameShare) })
	switch {
	case x.Limit == "" && n > 1:
		return fmt.Sprintf("Nothing limits the flow in %d combinations up to the end of the search, %s: raise "+
			"limits.max_flow_mm3_s to tell which is best. The first of them is %s (low end %s).%s", n, q.Text(*x.Flow),
			name, q.Number(*x.Low), tail)
	case x.Limit == "":
		return fmt.Sprintf("The highest usable flow is at least %s, the end of the search (low end %s): %s, with "+
			"nothing to limit it up to there.%s", q.Text(*x.Flow), q.Number(*x.Low), name, tail)
	case n > 1:
		tail += fmt.Sprintf(" %d combinations reach it within 1 %%.", n)
	}
	return fmt.Sprintf("The highest usable flow is %s (%s to %s): %s, limited by %s.%s", q.Text(*x.Flow),
		q.Number(*x.Low), q.Number(*x.High), name, x.Limit, tail)
}

// quickest names the combination with the highest print speed.
func (r *SurveyResult) quickest() string {
	if r.Fastest == nil {
		return ""
	}
	x := &r.Rows[*r.Fastest]
	lines := fmt.Sprintf("in lines of %s x %s", quantity.Of("layer_height").Number(*x.Layer),
		quantity.Text("line_width", *x.Width))
	speed := quantity.Text("print_speed", *x.Speed)
	if x.Limit == "" {
		speed = "at least " + speed
	}
	if *r.Fastest == *r.Best {
		return fmt.Sprintf("It is the highest print speed as well: %s %s.", speed, lines)
	}
	return fmt.Sprintf("The highest print speed is %s %s: %s.", speed, lines, x.Name(r.severalEnds()))
}

// surveyHeader is the header of a survey: that of its set-up, with the material only where there is one, and what was
// taken over or left behind said.
func surveyHeader(j *SurveyJob) Header {
	h := headerOf(j.Base, "Survey: "+j.Base.Title)
	h.Solver = "marching"
	warn := func(code, format string, a ...any) {
		h.Warnings = materials.AddWarning(h.Warnings, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	var others []string
	for _, m := range j.Materials {
		if m.ID == j.Base.Material.ID {
			continue
		}
		others = append(others, m.ID)
		h.Cautions = append([]string{m.Name + ": " + m.Hazard + "; " + m.Drying + "."}, h.Cautions...)
	}
	if len(others) > 0 {
		h.Material = nil
		list := strings.Join(others, ", ")
		if v, e := j.Base.ViscosityFactor, j.Base.EntranceFactor; v > 0 && v != 1 || e > 0 && e != 1 {
			warn("factors-left", "the viscosity and entrance factors of the case are those of %s; %s run without them",
				j.Base.Material.ID, list)
		}
		if len(j.Blocks) == 0 {
			warn("window-middle", "no block temperatures are given: %s run in the middle of their processing windows",
				list)
		}
	}
	if len(j.Nozzles) > 0 {
		warn("nozzle-shape", "nozzles differ in bore alone: land length and cone angle stay those of the hot end "+
			"(assumed)")
	}
	if _, assumed, ok := j.Base.PrintLine(); assumed && ok {
		warn("line-assumed", "what is not given of layer height and line width is assumed for each nozzle: %.3g and "+
			"%.4g times its bore; a line counts as a rectangle", flow.LayerShare, flow.WidthShare)
	}
	if j.Speed == 0 && j.flow() == 0 {
		warn("no-wanted-flow", "no flow is wanted: force and pressure are given at the usable flow of each "+
			"combination only, %s and the like in the files", quantity.Of("push_at_usable").Label)
	}
	return h
}
