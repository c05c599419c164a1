package match

import (
	"math"
	"slices"
	"sync/atomic"

	"meltload/flow"
	"meltload/materials/num"
)

// How a chart is made: rows at even steps of block temperature, an odd number so that every second row makes a chart of
// its own; flows of a row at even steps of the logarithm, halved where the load bends.
const (
	chartRows   = 7
	chartFlows  = 19 // of a row before any step is halved
	chartHalves = 6  // times that a step is halved at most
	chartMost   = 160
)

// ChartMiss is by how much a chart may miss the solver: as a share of a push, a pressure, a heater power and the length
// before the cone, and for temperatures as a share of the highest block temperature over the inlet. A bend narrower
// than the steps of the table may be missed by more: it is at one of some thousand points.
const ChartMiss = 0.005

// Chart is a solver that reads the load off a table over block temperature and flow. It answers what maps and curves
// show, and what margins follow from; sections stay empty. The table has some rows, each at one block temperature, with
// more flows where the load bends: the step between two flows is halved until a cubic through the flows about it meets
// the solution in its middle within half of ChartMiss. Between rows it is cubic too. A point is solved as it is outside
// of the table, where the state of the stock changes from one flow or row to the next, and where every second row
// misses the row between them by more than ChartMiss.
type Chart struct {
	*chartTable
	under flow.Solver
}

// chartTable is what clones of a chart share.
type chartTable struct {
	c            *flow.Case
	low, high    float64 // block temperatures of the first and the last row, K
	rows         []chartRow
	read, solved atomic.Int64
}

// chartRow is the load at one block temperature.
type chartRow []chartNode

// chartNode is the load at one flow.
type chartNode struct {
	u     float64 // ln of flow in m3/s
	y     charted
	state stockState
	open  bool // between this node and the next the row cannot be read
	apart bool // next to this node every second row misses this one
}

// stockState is what makes a kink where it changes.
type stockState struct{ lost, solid, rod, melts bool }

// charted is what a chart holds of a solution.
type charted [chartedAll]float64

const (
	logPush = iota
	logPressure
	heater
	entryCentre
	entryBulk
	exitBulk
	softening
	rodLength // the length of the rod, and of what follows it up to the cone
	wetLength
	chartedAll
)

// NewChart solves the table of a chart, spread over the cores: from one block temperature (K) to another, and over the
// flows of a search. Where a flow has no solution the chart has none either: it is solved again, with its error.
func NewChart(c *flow.Case, v flow.Solver, temps [2]float64, limits Limits) *Chart {
	t := &chartTable{c: c, low: temps[0], high: temps[1], rows: make([]chartRow, chartRows)}
	_ = num.Parallel(chartRows, func() func(i int) error {
		s := v.Clone()
		return func(i int) error {
			if f, ok := s.(follower); ok {
				f.Follow(nil)
			}
			t.rows[i] = t.row(s, t.low+(t.high-t.low)*float64(i)/(chartRows-1), limits)
			return nil
		}
	})
	for i := 1; i < chartRows; i += 2 {
		for k := range t.rows[i] {
			n := &t.rows[i][k]
			var y charted
			n.apart = n.state.lost || !t.across(float64(i)/2, n.u, n.state, 2, &y) || t.miss(&y, &n.y) > ChartMiss/2
		}
	}
	return &Chart{chartTable: t, under: v.Clone()}
}

// row solves the flows of a row.
func (t *chartTable) row(s flow.Solver, block float64, limits Limits) chartRow {
	lo, hi := math.Log(limits.MinFlow), math.Log(limits.MaxFlow)
	row := make(chartRow, chartFlows, chartMost)
	for j := range row {
		row[j] = t.node(s, block, lo+(hi-lo)*float64(j)/(chartFlows-1))
	}
	rough := make([]bool, chartFlows, chartMost) // whether the step from a node to the next is to be looked at
	for j := range chartFlows - 1 {
		rough[j] = true
	}
	for range chartHalves {
		for j := len(row) - 2; j >= 0; j-- {
			if !rough[j] || len(row) == chartMost {
				continue
			}
			n := t.node(s, block, (row[j].u+row[j+1].u)/2)
			var y charted
			bends := !row.along(j, n.u, &y) || n.state != row[j].state || t.miss(&y, &n.y) > ChartMiss/2
			row, rough = slices.Insert(row, j+1, n), slices.Insert(rough, j+1, bends)
			rough[j] = bends
		}
	}
	for j := range row {
		row[j].open = rough[j] || j == len(row)-1
	}
	return row
}

// node solves a flow, given by its logarithm.
func (t *chartTable) node(s flow.Solver, block, u float64) chartNode {
	n := chartNode{u: u}
	var d flow.Solution
	if s.Solve(block, math.Exp(u), &d) != nil {
		n.state.lost = true
		return n
	}
	x := &d.Stretches
	n.y = charted{logPush: math.Log(d.Push), logPressure: math.Log(d.Pressure), heater: d.Heater,
		entryCentre: d.EntryCentre, entryBulk: d.EntryBulk, exitBulk: d.ExitBulk, softening: x.Softening,
		rodLength: x.Rod, wetLength: x.Wetted + x.Held}
	n.state = stockState{solid: x.Solid, rod: x.Softening > 0, melts: t.c.Melts(block)}
	return n
}

// miss is by how much one load misses another, at the most of what a chart holds.
func (t *chartTable) miss(y, want *charted) float64 {
	worst := 0.0
	for o := range y {
		scale := math.Max(1, t.high-t.c.Filament.Inlet)
		switch o {
		case logPush, logPressure:
			scale = 1
		case heater:
			scale = math.Max(1, want[heater])
		case rodLength, wetLength:
			scale = math.Max(want[rodLength]+want[wetLength], 1e-9)
		}
		worst = math.Max(worst, math.Abs(y[o]-want[o])/scale)
	}
	return worst
}

// find is the node at or below u; false outside of the row.
func (r chartRow) find(u float64) (j int, ok bool) {
	j, at := slices.BinarySearchFunc(r, u, func(n chartNode, u float64) int {
		switch {
		case n.u < u:
			return -1
		case n.u > u:
			return 1
		}
		return 0
	})
	if !at {
		j--
	}
	return min(j, len(r)-2), j >= 0 && u <= r[len(r)-1].u
}

// along reads the row at u, between the nodes j and j+1, by a cubic through the four nodes about it that are in one
// state, or a parabola through three; false where they are not.
func (r chartRow) along(j int, u float64, y *charted) bool {
	s := r[j].state
	if s.lost || r[j+1].state != s {
		return false
	}
	a, b := j, j+1
	if a > 0 && r[a-1].state == s {
		a--
	}
	if b < len(r)-1 && r[b+1].state == s {
		b++
	}
	for b-a < 3 && (a > 0 && r[a-1].state == s || b < len(r)-1 && r[b+1].state == s) {
		if a > 0 && r[a-1].state == s {
			a--
		} else {
			b++
		}
	}
	if b-a < 2 {
		return false
	}
	*y = charted{}
	for k := a; k <= b; k++ {
		w := 1.0
		for m := a; m <= b; m++ {
			if m != k {
				w *= (u - r[m].u) / (r[k].u - r[m].u)
			}
		}
		for o := range y {
			y[o] += w * r[k].y[o]
		}
	}
	return true
}

// across reads every nth row at u and between them at x, in steps of n rows, as along does: through rows in a state.
func (t *chartTable) across(x, u float64, s stockState, n int, y *charted) bool {
	var ys [chartRows]charted
	var ok [chartRows]bool
	last := (len(t.rows) - 1) / n
	can := func(i int) bool {
		if i < 0 || i > last {
			return false
		}
		if !ok[i] {
			r := t.rows[n*i]
			j, in := r.find(u)
			ok[i] = in && !r[j].open && r[j].state == s && r.along(j, u, &ys[i])
		}
		return ok[i]
	}
	a := min(int(x), last-1)
	b := a + 1
	if !can(a) || !can(b) {
		return false
	}
	if can(a - 1) {
		a--
	}
	if can(b + 1) {
		b++
	}
	for b-a < 3 && (can(a-1) || can(b+1)) {
		if can(a - 1) {
			a--
		} else {
			b++
		}
	}
	if b-a < 2 {
		return false
	}
	*y = charted{}
	for k := a; k <= b; k++ {
		w := 1.0
		for m := a; m <= b; m++ {
			if m != k {
				w *= (x - float64(m)) / float64(k-m)
			}
		}
		for o := range y {
			y[o] += w * ys[k][o]
		}
	}
	return true
}

// look reads the table; false where it cannot be trusted.
func (t *chartTable) look(block, u float64, y *charted) (s stockState, ok bool) {
	x := (block - t.low) / (t.high - t.low) * float64(len(t.rows)-1)
	if !(x >= 0 && x <= float64(len(t.rows)-1)) {
		return s, false
	}
	i := min(int(x), len(t.rows)-2)
	j, in := t.rows[i].find(u)
	if !in {
		return s, false
	}
	s = t.rows[i][j].state
	odd := t.rows[i|1] // that of the two about the point which the rows beside it were compared with
	if j, in = odd.find(u); !in || odd[j].apart || odd[j+1].apart {
		return s, false
	}
	return s, t.across(x, u, s, 1, y)
}

// Solve implements flow.Solver.
func (t *Chart) Solve(block, q float64, r *flow.Solution) error {
	var y charted
	s, ok := t.look(block, math.Log(q), &y)
	if !ok {
		t.solved.Add(1)
		return t.under.Solve(block, q, r)
	}
	t.read.Add(1)
	sections := r.Sections[:0]
	*r = flow.Solution{Block: block, Flow: q, Speed: q / t.c.Area(), Sections: sections, Push: math.Exp(y[logPush]),
		Pressure: math.Exp(y[logPressure]), Heater: y[heater], EntryCentre: y[entryCentre], EntryBulk: y[entryBulk],
		ExitBulk: y[exitBulk]}
	if s.rod {
		r.Stretches = flow.Stretches{Rod: math.Max(0, y[rodLength]), Wetted: math.Max(0, y[wetLength]),
			Softening: y[softening], Solid: s.solid}
	}
	r.MeltsThrough = r.EntryCentre >= t.c.Material.FlowPoint()
	return nil
}

// Clone implements flow.Solver: the table is shared.
func (t *Chart) Clone() flow.Solver { return &Chart{chartTable: t.chartTable, under: t.under.Clone()} }

// Name implements flow.Solver.
func (t *Chart) Name() string { return t.under.Name() }

// Read is how many points were read off so far, and how many were solved as the table could not be trusted there.
func (t *Chart) Read() (read, solved int) { return int(t.read.Load()), int(t.solved.Load()) }
