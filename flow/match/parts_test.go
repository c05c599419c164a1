package match

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/materials"
	"meltload/thermal"
)

// cubic is a polynomial of third order in u and x whose coefficients differ by what is charted and by the state.
func cubic(o int, s stockState, u, x float64) float64 {
	k := float64(o + 1)
	if s.solid {
		k += 0.5
	}
	return k + (2-k)*u + 0.3*k*u*u - 0.1*u*u*u + (0.7*k-1)*x + 0.2*x*x - 0.05*k*x*x*x + 0.1*u*x
}

// nodes make a row of a chart at a place x between rows, unevenly spaced; the state of each is solid or not.
func nodes(x float64, us []float64, solid ...bool) chartRow {
	var row chartRow
	for i, u := range us {
		n := chartNode{u: u, open: i == len(us)-1}
		if i < len(solid) {
			n.state.solid = solid[i]
		}
		for o := range n.y {
			n.y[o] = cubic(o, n.state, u, x)
		}
		row = append(row, n)
	}
	return row
}

// off is by how much a reading misses the polynomial.
func off(y *charted, s stockState, u, x float64) float64 {
	worst := 0.0
	for o := range y {
		worst = math.Max(worst, math.Abs(y[o]-cubic(o, s, u, x)))
	}
	return worst
}

// A row finds the node at or below a flow; beyond its ends there is none.
func TestNodeOfARow(t *testing.T) {
	row := nodes(0, []float64{0, 1, 3, 4})
	for _, x := range []struct {
		u    float64
		want int
		ok   bool
	}{{-0.1, 0, false}, {0, 0, true}, {0.5, 0, true}, {1, 1, true}, {2.9, 1, true}, {3, 2, true}, {3.5, 2, true},
		{4, 2, true}, {4.1, 0, false}} {
		if j, ok := row.find(x.u); ok != x.ok || ok && j != x.want {
			t.Errorf("%g: node %d, %t", x.u, j, ok)
		}
	}
}

// A cubic through four nodes in one state is read exactly between any two of them, at the ends too; three nodes take a
// parabola, two nothing; across a change of state, or beside a node without a solution, nothing is read.
func TestRowIsReadByACubic(t *testing.T) {
	us := []float64{0, 0.7, 1.1, 2, 2.4, 3.5, 4.1, 5}
	for what, x := range map[string]struct {
		solid []bool
		read  []bool // between each node and the next
	}{
		"one state":     {nil, []bool{true, true, true, true, true, true, true}},
		"four and four": {[]bool{true, true, true, true}, []bool{true, true, true, false, true, true, true}},
		"two at either end": {[]bool{true, true, false, false, false, false, true, true},
			[]bool{false, false, true, true, true, false, false}},
	} {
		row := nodes(0, us, x.solid...)
		for j := range row[:len(row)-1] {
			u := 0.3*row[j].u + 0.7*row[j+1].u
			var y charted
			ok := row.along(j, u, &y)
			if ok != x.read[j] {
				t.Errorf("%s, after node %d: read %t", what, j, ok)
			}
			if e := off(&y, row[j].state, u, 0); ok && e > 1e-9 {
				t.Errorf("%s, after node %d: off by %g", what, j, e)
			}
		}
	}
	// Three nodes: exact without the term of third order.
	row := nodes(0, us[:3])
	for i := range row {
		for o := range row[i].y {
			row[i].y[o] += 0.1 * math.Pow(row[i].u, 3)
		}
	}
	for j := range 2 {
		u := (row[j].u + row[j+1].u) / 2
		var y charted
		if ok := row.along(j, u, &y); !ok || math.Abs(y[2]+-cubic(2, stockState{}, u, 0)-0.1*u*u*u) > 1e-9 {
			t.Errorf("three nodes, after %d: %v, %t", j, y, ok)
		}
	}
	row = nodes(0, us)
	row[3].state.lost = true
	var y charted
	for j, want := range []bool{true, true, false, false, true} {
		if row.along(j, (row[j].u+row[j+1].u)/2, &y) != want {
			t.Errorf("beside a node without a solution, after node %d: read %t", j, !want)
		}
	}
	row[2].state.lost = true
	if row.along(2, 1.5, &y) {
		t.Error("between two nodes without a solution it is read")
	}
}

// table is a chart of seven rows by the polynomial.
func table(us []float64) *chartTable {
	t := &chartTable{c: &flow.Case{}, low: 400, high: 460, rows: make([]chartRow, chartRows)}
	for i := range t.rows {
		t.rows[i] = nodes(float64(i), us)
	}
	return t
}

// Between rows a chart reads a cubic too, through every row or every second one, and only through rows that can be read
// there in the state asked for.
func TestBetweenRowsByACubic(t *testing.T) {
	us := []float64{0, 0.7, 1.1, 2, 2.4, 3.5}
	c := table(us)
	var y charted
	for _, u := range []float64{0, 0.3, 1.5, 3.4} {
		for x := 0.0; x <= 6; x += 0.25 {
			if ok := c.across(x, u, stockState{}, 1, &y); !ok || off(&y, stockState{}, u, x) > 1e-8 {
				t.Errorf("row %g, u %g: %t, off by %g", x, u, ok, off(&y, stockState{}, u, x))
			}
			if ok := c.across(x/2, u, stockState{}, 2, &y); !ok || off(&y, stockState{}, u, x) > 1e-8 {
				t.Errorf("every second row, row %g, u %g: %t, off by %g", x, u, ok, off(&y, stockState{}, u, x))
			}
		}
	}
	if c.across(2.5, 0.3, stockState{solid: true}, 1, &y) || c.across(2.5, -0.1, stockState{}, 1, &y) {
		t.Error("another state, or a flow outside, is read")
	}
	for what, x := range map[string]struct {
		change func(r chartRow)
		rows   []int
		read   [6]bool // between each row and the next
	}{
		"a row in the middle cannot be read": {func(r chartRow) { r[0].open = true }, []int{3},
			[6]bool{true, true, false, false, true, true}},
		"rows of another state": {func(r chartRow) {
			for i := range r {
				r[i].state.solid = true
			}
		}, []int{0, 1}, [6]bool{false, false, true, true, true, true}},
		"two rows are too few": {func(r chartRow) { r[0].open = true }, []int{2, 5},
			[6]bool{false, false, false, false, false, false}},
		"three are enough": {func(r chartRow) { r[0].open = true }, []int{3}, [6]bool{true, true, false, false, true,
			true}},
	} {
		c := table(us)
		for _, i := range x.rows {
			x.change(c.rows[i])
		}
		for i, want := range x.read {
			if what == "two rows are too few" && i >= 3 { // rows 3 and 4 alone; row 6 alone
				want = false
			}
			if got := c.across(float64(i)+0.5, 0.3, stockState{}, 1, &y); got != want {
				t.Errorf("%s, after row %d: read %t", what, i, got)
			}
		}
	}
}

// A chart is looked up by its temperature and flow, at its corners too; outside, and beside a node that every second
// row misses, it is not trusted.
func TestWhereAChartIsTrusted(t *testing.T) {
	us := []float64{0, 0.7, 1.1, 2, 2.4, 3.5}
	c := table(us)
	var y charted
	for _, x := range []struct {
		block, u float64
		ok       bool
	}{{400, 0, true}, {460, 3.5, true}, {400, 3.5, true}, {437, 1.3, true}, {399.9, 1, false}, {460.1, 1, false},
		{430, -0.1, false}, {430, 3.6, false}} {
		s, ok := c.look(x.block, x.u, &y)
		if ok != x.ok || ok && (off(&y, stockState{}, x.u, (x.block-400)/10) > 1e-8 || s != (stockState{})) {
			t.Errorf("%g K, %g: %t, off by %g", x.block, x.u, ok, off(&y, s, x.u, (x.block-400)/10))
		}
	}
	// The odd row is the one that was compared: it counts for both intervals beside it.
	c.rows[3][2].apart = true
	for _, x := range []struct {
		block, u float64
		ok       bool
	}{{425, 1.5, false}, {435, 1.5, false}, {425, 0.9, false}, {425, 2.2, true}, {425, 0.3, true}, {415, 1.5, true},
		{445, 1.5, true}} {
		if _, ok := c.look(x.block, x.u, &y); ok != x.ok {
			t.Errorf("beside a node apart, %g K, %g: trusted %t", x.block, x.u, ok)
		}
	}
}

// By how much a load misses another: pushes and pressures by their logarithm, heat by itself, temperatures by the rise
// from the inlet to the hottest block, lengths by the length before the cone; the most of these counts.
func TestMissByHand(t *testing.T) {
	c := &chartTable{c: &flow.Case{Filament: flow.Filament{Inlet: 300}}, high: 500}
	base := charted{heater: 20, rodLength: 3e-3, wetLength: 17e-3, entryCentre: 400}
	for o, x := range map[int][2]float64{logPush: {0.03, 0.03}, logPressure: {-0.03, 0.03}, heater: {4, 0.2},
		entryCentre: {10, 0.05}, entryBulk: {10, 0.05}, exitBulk: {-10, 0.05}, softening: {10, 0.05},
		rodLength: {1e-3, 0.05}, wetLength: {1e-3, 0.05}} {
		y := base
		y[o] += x[0]
		y[exitBulk] += 1e-3
		if got := c.miss(&y, &base); math.Abs(got-x[1]) > 1e-5 {
			t.Errorf("quantity %d off by %g: %g, want %g", o, x[0], got, x[1])
		}
	}
	cold := charted{heater: 0.1} // less than a watt counts as a watt
	if got := c.miss(&charted{heater: 0.4}, &cold); math.Abs(got-0.3) > 1e-12 {
		t.Errorf("little heat: %g", got)
	}
	c.high = 300.5 // less than a kelvin as one
	if got := c.miss(&charted{entryBulk: 0.25}, &charted{}); math.Abs(got-0.25) > 1e-12 {
		t.Errorf("little rise: %g", got)
	}
}

// curved is a solver by functions of block temperature and the logarithm of flow.
type curved struct {
	push  func(block, u float64) float64 // logarithm
	state func(block, u float64) stockState
	calls *int
}

func (s curved) Clone() flow.Solver { return s }
func (s curved) Name() string       { return "curved" }
func (s curved) Solve(block, q float64, r *flow.Solution) error {
	u := math.Log(q)
	var k stockState
	if s.state != nil {
		k = s.state(block, u)
	}
	if s.calls != nil {
		*s.calls++
	}
	if k.lost {
		return flow.ErrUnsolved
	}
	p := s.push(block, u)
	*r = flow.Solution{Block: block, Flow: q, Push: math.Exp(p), Pressure: math.Exp(p + 9), Heater: 3 + u + block/100,
		EntryCentre: block - 20 - u, EntryBulk: block - 10 - u, ExitBulk: block - 5 - u}
	if k.rod {
		r.Stretches = flow.Stretches{Softening: 330 + block/100, Rod: 0.02 + u/1e3, Wetted: 0.03 + u/2e3, Held: 0.01,
			Solid: k.solid}
	}
	return nil
}

// tube is a hot end of one tube.
var tube = flow.HotEnd{Sections: []flow.Section{{Name: "tube", Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 20e-3,
	Channels: 1}}}

// aSearch has flows from 1 to e^4.
var aSearch = Limits{MinFlow: 1, MaxFlow: math.Exp(4), Safety: 1}

// A row halves its steps where the load bends, and nowhere else: every step once, and those about a bend up to six
// times; its nodes are in order, and it never has more than 160.
func TestStepsOfARow(t *testing.T) {
	c := &chartTable{c: &flow.Case{Material: &materials.Material{FirstFlow: 400}, HotEnd: tube}, low: 400, high: 460}
	straight := c.row(curved{push: func(_, u float64) float64 { return 0.4 * u }}, 430, aSearch)
	kink := 4 * 7.3 / 18 // in the eighth step
	bent := c.row(curved{push: func(_, u float64) float64 { return 0.4*u + 30*math.Max(0, u-kink) }}, 430, aSearch)
	rng := rand.New(rand.NewPCG(1, 1))
	rough := c.row(curved{push: func(_, u float64) float64 { return rng.Float64() }}, 430, aSearch)
	for what, row := range map[string]chartRow{"straight": straight, "bent": bent, "rough": rough} {
		if row[0].u != 0 || math.Abs(row[len(row)-1].u-4) > 1e-12 || !row[len(row)-1].open || !row[0].state.melts {
			t.Errorf("%s: from %g to %g", what, row[0].u, row[len(row)-1].u)
		}
		for j := range row[:len(row)-1] {
			if row[j+1].u <= row[j].u {
				t.Errorf("%s: node %d at %g, the next at %g", what, j, row[j].u, row[j+1].u)
			}
			if about := row[j].u <= kink && kink <= row[j+1].u; what == "straight" && row[j].open ||
				what == "bent" && row[j].open && math.Abs(row[j].u-kink) > 0.1 || what == "bent" && about &&
				!row[j].open {
				t.Errorf("%s: open %t after node %d at %g", what, row[j].open, j, row[j].u)
			}
		}
	}
	if len(straight) != 37 || len(bent) < 43 || len(bent) > 70 || len(rough) != 160 {
		t.Errorf("%d, %d and %d nodes", len(straight), len(bent), len(rough))
	}
	for j, n := range straight { // two halves of each of 18 steps
		if math.Abs(n.u-4*float64(j)/36) > 1e-12 || math.Abs(n.y[logPush]-0.4*n.u) > 1e-12 ||
			math.Abs(n.y[logPressure]-0.4*n.u-9) > 1e-12 || math.Abs(n.y[heater]-(3+n.u+4.3)) > 1e-12 {
			t.Errorf("node %d: %+v", j, n)
		}
	}
	narrow := math.Inf(1)
	for j := range bent[:len(bent)-1] {
		narrow = math.Min(narrow, bent[j+1].u-bent[j].u)
	}
	if want := 4.0 / 18 / 64; math.Abs(narrow/want-1) > 1e-9 {
		t.Errorf("the narrowest step is %g, want %g", narrow, want)
	}
}

// A chart has seven rows at even steps of temperature; what it reads is the load in all that it holds, with the state
// of the stock, and a change of it is not read across. Where every second row misses one, that one is not trusted.
func TestRowsOfAChart(t *testing.T) {
	material := &materials.Material{FirstFlow: 424}
	c := &flow.Case{Material: material, HotEnd: tube,
		Filament: flow.Filament{Diameter: 2 / math.Sqrt(math.Pi), Inlet: 300}} // of 1 m2
	calls := 0
	v := curved{calls: &calls, push: func(block, u float64) float64 { return 0.4*u - block/50 + 0.01*u*u },
		state: func(block, u float64) stockState { return stockState{rod: true, solid: u > 2} }}
	chart := NewChart(c, v, [2]float64{425, 485}, aSearch)
	for i, row := range chart.rows {
		if got := row[0].y[entryCentre]; math.Abs(got-(405+10*float64(i))) > 1e-9 {
			t.Errorf("row %d at %g K", i, got+20)
		}
	}
	calls = 0
	var is, want flow.Solution
	for _, x := range [][2]float64{{445, math.Exp(0.5)}, {457, math.Exp(3.3)}, {475, math.Exp(1.2)}} {
		if err := errors.Join(chart.Solve(x[0], x[1], &is)); err != nil {
			t.Fatal(err)
		}
		n := calls
		v.Solve(x[0], x[1], &want)
		calls = n
		for what, z := range map[string][2]float64{"push": {is.Push, want.Push}, "pressure": {is.Pressure,
			want.Pressure}, "heater": {is.Heater, want.Heater}, "centre": {is.EntryCentre, want.EntryCentre},
			"bulk": {is.EntryBulk, want.EntryBulk}, "exit": {is.ExitBulk, want.ExitBulk}, "rod": {is.Stretches.Rod,
				want.Stretches.Rod},
			"wetted": {is.Stretches.Wetted, want.Stretches.Wetted + want.Stretches.Held}, "speed": {is.Speed, x[1]},
			"softening": {is.Stretches.Softening, want.Stretches.Softening}, "block": {is.Block, x[0]},
			"flow": {is.Flow, x[1]}} {
			if math.Abs(z[0]/z[1]-1) > 1e-6 {
				t.Errorf("%v: %s is %g, want %g", x, what, z[0], z[1])
			}
		}
		if is.Stretches.Solid != want.Stretches.Solid || is.MeltsThrough != (is.EntryCentre >= 424) {
			t.Errorf("%v: %+v", x, is)
		}
	}
	if read, solved := chart.Read(); read != 3 || solved != 0 || calls != 0 {
		t.Errorf("%d read, %d solved, %d calls", read, solved, calls)
	}
	// Melted through at the flow point and above, not below; no rod without a softening temperature.
	if chart.Solve(485, math.Exp(3.5), &is); !is.MeltsThrough {
		t.Errorf("centre at %g K", is.EntryCentre)
	}
	if chart.Solve(427, math.Exp(3.5), &is); is.MeltsThrough {
		t.Errorf("centre at %g K", is.EntryCentre)
	}
	bare := NewChart(c, curved{push: v.push}, [2]float64{425, 485}, aSearch)
	if err := bare.Solve(457, 2, &is); err != nil || is.Stretches != (flow.Stretches{}) || bare.Name() != "curved" {
		t.Errorf("%+v, %v", is.Stretches, err)
	}
	// A row off the others by more than half the miss, between those that are compared, is apart; so is one by no less
	// that the others are compared with. One off by less is not.
	for share, apart := range map[float64]bool{0.45: false, 0.55: true} {
		bump := curved{push: func(block, u float64) float64 {
			if math.Abs(block-455) < 1 {
				return share * ChartMiss
			}
			return 0
		}}
		bumped := NewChart(c, bump, [2]float64{425, 485}, aSearch)
		if got := slices.ContainsFunc(bumped.rows[3], func(n chartNode) bool { return n.apart }); got != apart {
			t.Errorf("a row off by %g of the miss: apart %t", share, got)
		}
		if bumped.rows[2][3].apart || bumped.rows[1][3].apart {
			t.Error("rows beside it are apart")
		}
	}
	// Nodes without a solution are apart, in odd rows.
	lost := NewChart(c, curved{push: v.push, state: func(_, u float64) stockState { return stockState{lost: u > 3} }},
		[2]float64{425, 485}, aSearch)
	if last := lost.rows[1][len(lost.rows[1])-1]; !last.apart || lost.rows[1][3].apart {
		t.Errorf("%+v", last)
	}
}

// ramp is a solver whose push is a power of flow.
type ramp struct {
	c            *flow.Case
	force, power float64
}

func (s ramp) Clone() flow.Solver { return s }
func (s ramp) Name() string       { return "ramp" }
func (s ramp) Solve(block, q float64, r *flow.Solution) error {
	*r = flow.Solution{Block: block, Flow: q, Speed: q / s.c.Area(), Push: s.force * math.Pow(q/10e-9, s.power),
		EntryCentre: 500, Sections: []flow.SectionSolution{{}}, Heater: q * 1e9}
	return nil
}

// matched is a matcher of a push by a power of flow, 50 N at 10 mm3/s, with a feeder of points at flows (mm3/s).
func matched(power float64, points ...[2]float64) *Matcher {
	m, err := materials.Get("pla")
	if err != nil {
		panic(err)
	}
	m.FirstFlow, m.Decomposition, m.Window = 400, 900, [2]float64{450, 520}
	c := &flow.Case{Material: m, Filament: flow.Filament{Diameter: 1.75e-3, Inlet: 300}, HotEnd: tube}
	var f feeder.Feeder
	for _, p := range points {
		f.Points = append(f.Points, feeder.Point{Speed: p[0] * 1e-9 / c.Area(), Force: p[1], Cause: feeder.Grind})
	}
	made, err := feeder.New(f)
	if err != nil {
		panic(err)
	}
	return &Matcher{Case: c, Solver: ramp{c, 50, power}, Feeder: made, Limits: Limits{Safety: 1, MinFlow: 1e-9,
		MaxFlow: 40e-9}}
}

// ofMatch are the warnings that a search makes itself.
func ofMatch(ws []materials.Warning) []materials.Warning {
	return slices.DeleteFunc(slices.Clone(ws), func(w materials.Warning) bool {
		return !slices.Contains([]string{"several-crossings", "flat-load", "search-end", "no-usable-flow", "residence"},
			w.Code)
	})
}

func found(t *testing.T, m *Matcher) *Result {
	t.Helper()
	f, err := m.scan(500, m.one)
	if err != nil {
		t.Fatal(err)
	}
	r := &Result{Bounds: make([]Bound, len(f.order))}
	for k := range f.order {
		if r.Bounds[k], err = f.bound(k, r); err != nil {
			t.Fatal(err)
		}
	}
	return r
}

// The power by which load over capability grows is that of the push where the feeder holds one force; the bound is
// where the two meet, and no other limit has a part in it.
func TestPowerOfTheLoad(t *testing.T) {
	for _, power := range []float64{0.2, 0.3, 1.5} {
		r := found(t, matched(power, [2]float64{1, 70}, [2]float64{40, 70}))
		want := 10e-9 * math.Pow(70.0/50, 1/power)
		if want > 40e-9 {
			if r.steep != 0 || !r.Pushed().Open || r.Pushed().Flow != 40e-9 {
				t.Errorf("power %g: %+v", power, r)
			}
			continue
		}
		if math.Abs(r.steep-power) > 1e-9 || math.Abs(r.Pushed().Flow/want-1) > 1e-4 || r.Pushed().Limit != Grip {
			t.Errorf("power %g: %g, meets at %g, want %g", power, r.steep, r.Pushed().Flow, want)
		}
	}
}

// Crossings of load and capability: one is none to tell, two and three are told; a feeder too weak at the start leaves
// no flow, whatever it holds later.
func TestHowOftenLoadAndCapabilityCross(t *testing.T) {
	for what, x := range map[string]struct {
		points    [][2]float64
		flow      float64
		crossings []float64
		codes     string
	}{
		// A push of 5 N a mm3/s: 50 N are met at 10.
		"once":          {[][2]float64{{1, 50}, {40, 50}}, 10, nil, ""},
		"never":         {[][2]float64{{1, 500}, {40, 500}}, 40, nil, "search-end"},
		"weak at first": {[][2]float64{{1, 2}, {2, 2}, {4, 80}, {40, 300}}, 0, nil, "no-usable-flow"},
		"down and up": {[][2]float64{{1, 50}, {12, 50}, {32, 300}, {40, 300}}, 10, []float64{10, 0},
			"several-crossings"},
	} {
		m := matched(1, x.points...)
		r, err := m.Find(500)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, w := range ofMatch(r.Warnings) {
			got = append(got, w.Code)
		}
		if math.Abs(r.Flow*1e9-x.flow) > 2e-3 || len(r.Crossings) != len(x.crossings) || strings.Join(got,
			" ") != x.codes {
			t.Errorf("%s: %g mm3/s, crossings %v, %v", what, r.Flow*1e9, r.Crossings, got)
			continue
		}
		for i, q := range x.crossings {
			is := r.Crossings[i]
			holds := m.Feeder.At(is / m.Case.Area()).Force
			if q > 0 && math.Abs(is*1e9/q-1) > 3e-4 || math.Abs(holds/(5e9*is)-1) > 1e-3 {
				t.Errorf("%s: crossings %v", what, r.Crossings)
			}
		}
		// The solution is that of the usable flow, at the least of the search where none is; the scan goes by even
		// ratios.
		if at := math.Max(r.Flow, 1e-9); r.Solution.Flow != at || len(r.Solution.Sections) != 1 || r.Block != 500 {
			t.Errorf("%s: solution at %g", what, r.Solution.Flow)
		}
		for i := range r.Scan {
			want := 1e-9 * math.Pow(40, float64(i)/float64(len(r.Scan)-1))
			if math.Abs(r.Scan[i].Flow/want-1) > 1e-12 || r.Scan[i].Sections != nil {
				t.Errorf("%s: scan %d at %g, want %g", what, i, r.Scan[i].Flow, want)
			}
		}
	}
}

// Every bound has its margin at the usable flow, and the nearest comes first; of those that leave no flow the one that
// is exceeded most.
func TestMarginsOfTheBounds(t *testing.T) {
	m := matched(1, [2]float64{1, 150}, [2]float64{40, 150})
	m.Limits.Core, m.Limits.MountMax, m.Limits.Residence = true, 100, 50
	m.Case.HotEnd.Block = thermal.Block{Power: 25}
	r, err := m.Find(500)
	if err != nil {
		t.Fatal(err)
	}
	// Mount 100 N at 20 mm3/s, heater 25 W at 25, grip 150 N at 30; the core is at 500 K whatever the flow.
	for i, w := range []struct {
		limit       Limit
		flow, value float64
		open        bool
	}{{Mount, 20, 0, false}, {Heater, 25, 0.25, false}, {Grip, 30, 0.5, false}, {Core, 40, 1, true}} {
		b := r.Bounds[i]
		if b.Limit != w.limit || math.Abs(b.Flow*1e9/w.flow-1) > 3e-4 || math.Abs(b.Value-w.value) > 1e-3 ||
			b.Open != w.open || b.Warns {
			t.Errorf("bound %d: %+v, want %+v", i, b, w)
		}
	}
	if r.Binding != Mount || r.MeltsThrough().Limit != Core || math.Abs(r.LowFlow/(math.Pi*1e-6*20e-3/50)-1) > 1e-12 {
		t.Errorf("%s binds, %+v, lowest %g", r.Binding, r.MeltsThrough(), r.LowFlow)
	}
	x := Result{Bounds: []Bound{{Limit: Core, Flow: 5}, {Limit: Mount, Value: -0.2}, {Limit: Heater, Value: -0.5},
		{Limit: Grip, Flow: 5}, {Limit: Solid, Flow: 3}}}
	x.sort()
	var got []Limit
	for _, b := range x.Bounds {
		got = append(got, b.Limit)
	}
	if !slices.Equal(got, []Limit{Heater, Mount, Solid, Core, Grip}) {
		t.Errorf("%v", got)
	}
	if (&Result{}).Pushed() != (Bound{}) {
		t.Error("a bound of nothing")
	}
	x.Binding = Heater
	for i, w := range []Limit{Mount, Core, Solid, ""} {
		x.Bounds = []Bound{{Limit: Heater}, {Limit: Mount}, {Limit: Core}, {Limit: Solid}}
		for k := range i {
			x.Bounds[k+1].Open, x.Bounds[k+1].Warns = k%2 == 0, k%2 == 1
		}
		if i == 2 { // told only
			w = Solid
		} else if i == 1 {
			w = Core
		}
		if b, ok := x.Next(); b.Limit != w || ok != (w != "") {
			t.Errorf("after the heater comes %q, want %q", b.Limit, w)
		}
	}
}

// Of margins the least that counts is the worst, of results that with the most flow the best, the first of equal ones.
func TestWorstAndBest(t *testing.T) {
	for _, x := range []struct {
		ms   []Margin
		want Limit
	}{{[]Margin{{Grip, 0.5, false}}, Grip}, {[]Margin{{Grip, 0.5, false}, {Core, 0.2, false}}, Core},
		{[]Margin{{Grip, 0.5, false}, {Core, 0.2, true}}, Grip}, {[]Margin{{Grip, 0.5, false}, {Core, 0.5, false}},
			Grip},
		{[]Margin{{Grip, 0.5, false}, {Core, 0.7, false}, {Mount, -0.1, false}, {Heater, 0, false}}, Mount}} {
		if got := Worst(x.ms); got.Limit != x.want {
			t.Errorf("%v: %s", x.ms, got.Limit)
		}
	}
	for flows, want := range map[string]int{"": -1, "0": -1, "0 0": -1, "0 3": 1, "3 0": 0, "3 3": 0, "3 5 4": 1} {
		var rs []*Result
		for _, s := range strings.Fields(flows) {
			rs = append(rs, &Result{Flow: float64(s[0] - '0')})
		}
		if got := Best(rs); got != want {
			t.Errorf("%s: %d", flows, got)
		}
	}
	cell := func(l Limit) Cell { return Cell{Limit: l} }
	for want, cells := range map[float64][][]Cell{0: nil, 1: {{cell("")}}, 0.25: {{cell(Grip), cell("")}, {cell(Core),
		cell(Grip)}}} {
		if got := UsableShare(cells); got != want {
			t.Errorf("%v: %g, want %g", cells, got, want)
		}
	}
}

// The margins of feeder and core by themselves are those of the list; what does not apply has all the room there is.
func TestMarginsOneByOne(t *testing.T) {
	m := matched(1, [2]float64{1, 60}, [2]float64{40, 60})
	m.Limits.Safety = 1.2
	d := flow.Solution{Speed: 1e-3, Push: 40, EntryCentre: 440, Block: 500}
	if x := m.OfFeeder(&d); x.Limit != Grip || math.Abs(x.Value-0.25) > 1e-12 || x.Warns {
		t.Errorf("%+v", x)
	}
	if x := m.OfCore(&d); x.Limit != Core || math.Abs(x.Value-0.4) > 1e-12 || !x.Warns {
		t.Errorf("%+v", x)
	}
	d.Push = 1e-3 // 49999 times the room
	if x := m.OfFeeder(&d); x.Value != MostMargin {
		t.Errorf("%+v", x)
	}
	m.Case.Material.FirstFlow = 300 // stock that flows as it comes in
	if x := m.OfCore(&d); x != (Margin{Value: MostMargin}) {
		t.Errorf("%+v", x)
	}
	m.Case.Material.FirstFlow = 300.1
	if x := m.OfCore(&d); x.Limit != Core || x.Value != MostMargin {
		t.Errorf("%+v", x)
	}
}

// Which limits apply at a point, and by how much: window by its nearer end, decomposition and flow point as barriers,
// a heater that has nothing to do, and no limit where none is set.
func TestMarginsOfEachLimit(t *testing.T) {
	for _, x := range []struct {
		what   string
		change func(m *Matcher, d *flow.Solution)
		limit  Limit
		want   float64 // NaN where it does not apply
	}{
		{"window, low end", func(m *Matcher, d *flow.Solution) { m.Limits.Window, d.Block = true, 457 }, Window, 0.1},
		{"window, high end", func(m *Matcher, d *flow.Solution) { m.Limits.Window, d.Block = true, 513 }, Window, 0.1},
		{"window, outside", func(m *Matcher, d *flow.Solution) { m.Limits.Window, d.Block = true, 534 }, Window, -0.2},
		{"window, not asked", func(m *Matcher, d *flow.Solution) { d.Block = 534 }, Window, math.NaN()},
		{"decomposes", func(m *Matcher, d *flow.Solution) { d.Block = 900.1 }, Decomposition, -1},
		{"does not yet", func(m *Matcher, d *flow.Solution) { d.Block = 900 }, Decomposition, math.NaN()},
		{"does not melt", func(m *Matcher, d *flow.Solution) { d.Block = 399 }, FlowPoint, -1},
		{"melts", func(m *Matcher, d *flow.Solution) { d.Block = 401 }, FlowPoint, math.NaN()},
		{"no heater", func(m *Matcher, d *flow.Solution) { d.Heater = 5 }, Heater, math.NaN()},
		{"heater", func(m *Matcher, d *flow.Solution) { m.Case.HotEnd.Block.Power, d.Heater = 40, 32 }, Heater, 0.25},
		{"heated by work", func(m *Matcher, d *flow.Solution) { m.Case.HotEnd.Block.Power, d.Heater = 40, -3 }, Heater,
			MostMargin},
		{"mount", func(m *Matcher, d *flow.Solution) { m.Limits.MountMax, m.Limits.Safety = 90, 1.5 }, Mount, 0.2},
		{"no mount", func(m *Matcher, d *flow.Solution) {}, Mount, math.NaN()},
		{"no rod", func(m *Matcher, d *flow.Solution) { d.Stretches.Rod = 1 }, Solid, math.NaN()},
		{"a rod", func(m *Matcher, d *flow.Solution) {
			d.Stretches = flow.Stretches{Softening: 330, Rod: 8, Wetted: 1, Held: 3}
		}, Solid, 0.5},
		{"a rod to the cone", func(m *Matcher, d *flow.Solution) {
			d.Stretches, d.EntryBulk = flow.Stretches{Softening: 340, Rod: 8, Solid: true}, 310
		}, Solid, -0.75},
		{"softens as it comes in", func(m *Matcher, d *flow.Solution) {
			d.Stretches, d.EntryBulk = flow.Stretches{Softening: 300, Solid: true}, 310
		}, Solid, MostMargin},
	} {
		m := matched(1, [2]float64{1, 60}, [2]float64{40, 60})
		d := flow.Solution{Speed: 1e-3, Push: 50, Block: 500, EntryCentre: 450}
		x.change(m, &d)
		got := math.NaN()
		for _, y := range m.Margins(&d, []Margin{{}}) {
			if y.Limit == x.limit {
				got = y.Value
			}
		}
		if math.IsNaN(got) != math.IsNaN(x.want) || math.Abs(got-x.want) > 1e-9 {
			t.Errorf("%s: %g, want %g", x.what, got, x.want)
		}
	}
}

// Every limit has a letter of its own, which finds it again; + is none.
func TestLettersOfLimits(t *testing.T) {
	seen := map[string]bool{"+": true}
	for i, l := range All() {
		if code := l.Code(); seen[code] || OfCode(code) != l || l.Index() != i || l.Short() == "" || l.Meaning() == "" {
			t.Errorf("%s: %q finds %q, place %d", l, code, OfCode(code), l.Index())
		} else {
			seen[code] = true
		}
		feeders := slices.Contains([]Limit{Grip, Stall, Column, Force}, l)
		if l.Feeder() != feeders || (l.Use() == "") != slices.Contains([]Limit{Window, Decomposition, FlowPoint}, l) ||
			l.warns(Limits{}) != (l == Core) || l.warns(Limits{Core: true}) {
			t.Errorf("%s: of the feeder %t, in use %q", l, l.Feeder(), l.Use())
		}
	}
	if len(All()) != 11 || OfCode("+") != "" || OfCode("?") != "" || Limit("").Index() != -1 ||
		Limit("").Code() != "+" || Limit("").Short() != "usable" || Limit("").Feeder() {
		t.Errorf("%v", All())
	}
}

// Cells of a map have push and least margin, and the limit only where it is exceeded.
func TestCellsOfAMap(t *testing.T) {
	m := matched(1, [2]float64{1, 60}, [2]float64{40, 60})
	cells, err := m.Map([]float64{480, 500}, []float64{10e-9, 12e-9, 15e-9})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range cells {
		for j, want := range []Cell{{"", 0.2, 50}, {"", 0, 60}, {Grip, -0.2, 75}} {
			if x := row[j]; math.Abs(x.Value-want.Value) > 1e-9 || math.Abs(x.Push-want.Push) > 1e-9 ||
				j != 1 && x.Limit != want.Limit {
				t.Errorf("cell %d: %+v, want %+v", j, x, want)
			}
		}
	}
	m.Solver = lostRamp{m.Solver.(ramp)}
	if _, err := m.Map([]float64{480}, []float64{10e-9}); !errors.Is(err, flow.ErrUnsolved) {
		t.Errorf("%v", err)
	}
	if _, err := m.Over([]float64{480}); !errors.Is(err, flow.ErrUnsolved) {
		t.Errorf("%v", err)
	}
}

// lostRamp solves nothing.
type lostRamp struct{ ramp }

func (s lostRamp) Clone() flow.Solver                             { return s }
func (s lostRamp) Solve(block, q float64, r *flow.Solution) error { return flow.ErrUnsolved }

// What is said of the usable flow: a flat load by the push that a share of flow takes, and that alone where something
// flows; flows in mm3/s.
func TestWordsOnAUsableFlow(t *testing.T) {
	m := matched(1, [2]float64{1, 60}, [2]float64{40, 60})
	for _, x := range []struct {
		r    Result
		want string
	}{
		{Result{Flow: 5e-9, Binding: Grip, steep: 0.1}, "5 % of push are some 50 % of flow"},
		{Result{Flow: 5e-9, Binding: Grip, steep: 0.249}, "5 % of push are some 20 % of flow"},
		{Result{Flow: 5e-9, Binding: Grip, steep: 0.251}, ""}, {Result{Flow: 5e-9, Binding: Mount, steep: 0.1}, ""},
		{Result{Binding: Grip, steep: 0.1}, "even 1 mm3/s, the lower end"},
		{Result{Flow: 40e-9}, "up to 40.0 mm3/s, the end of the search"},
		{Result{Flow: 5e-9, Binding: Mount, Crossings: []float64{1, 2}}, "cross 2 times"},
		{Result{Flow: 5e-9, Binding: Mount, Crossings: []float64{1}}, ""},
		{Result{Flow: 5e-9, Binding: Mount, LowFlow: 5.1e-9}, "longer than 30 s at every usable flow"},
		{Result{Flow: 5e-9, Binding: Mount, LowFlow: 4.9e-9}, ""},
		{Result{Binding: Mount, LowFlow: 5e-9}, "even 1 mm3/s, the lower end"},
	} {
		m.Limits.Residence = 30
		x.r.Solution = flow.Solution{Block: 500, Speed: 1e-3, EntryCentre: 450, MeltsThrough: true}
		x.r.warn(m)
		var said []string
		for _, w := range ofMatch(x.r.Warnings) {
			said = append(said, w.Message)
		}
		if x.want == "" && len(said) > 0 || x.want != "" && (len(said) != 1 || !strings.Contains(said[0], x.want)) {
			t.Errorf("%+v: %q, want %q", x.r, said, x.want)
		}
	}
	cause := errors.New("why")
	for want, err := range map[string]error{"match: the bound by grip between 5 and 7 mm3/s: why": notFound("grip",
		5e-9, 7e-9, errors.New("root"), cause), "match: the bound by grip between 5 and 7 mm3/s: root": notFound("grip",
		5e-9,
		7e-9, errors.New("root"), nil)} {
		if fmt.Sprint(err) != want {
			t.Errorf("%v", err)
		}
	}
}

// A finder tells a flow once, and what it was told again without solving; after one that has no solution it solves.
func TestAFlowIsSolvedOnce(t *testing.T) {
	m := matched(1, [2]float64{1, 60}, [2]float64{40, 60})
	calls := 0
	m.Solver = curved{push: func(_, u float64) float64 { return u + 23 }, calls: &calls,
		state: func(_, u float64) stockState { return stockState{lost: u < -20} }}
	f := &finder{Matcher: m, block: 500}
	for i, x := range []struct {
		q     float64
		calls int
		lost  bool
	}{{10e-9, 1, false}, {10e-9, 1, false}, {1e-9, 2, true}, {12e-9, 3, false}, {12e-9, 3, false}, {1e-9, 4, true}} {
		room := f.room(ofFeeder, x.q)
		if calls != x.calls || math.IsNaN(room) != x.lost || (f.lost != nil) != (i >= 2) {
			t.Errorf("question %d: %d calls, room %g, %v", i, calls, room, f.lost)
		}
		if want := 60/(math.Exp(23)*x.q) - 1; !x.lost && math.Abs(room-want) > 1e-9 {
			t.Errorf("question %d: room %g, want %g", i, room, want)
		}
	}
	if got := f.room("another", 12e-9); got != 1 {
		t.Errorf("room of what does not apply: %g", got)
	}
}
