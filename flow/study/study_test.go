package study

import (
	"context"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/unit"
)

func TestResultHangsTogether(t *testing.T) {
	c := casefile.Invented()
	r, err := Run(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var drop, heat float64
	for _, s := range r.Sections {
		drop += s.Drop
		heat += s.WallHeat
	}
	if math.Abs(drop/r.Point.Pressure-1) > 1e-9 || math.Abs(heat/r.Point.WallHeat-1) > 1e-9 {
		t.Errorf("sections sum to %g Pa and %g W, the point has %g and %g", drop, heat, r.Point.Pressure,
			r.Point.WallHeat)
	}
	if f := r.Point.Pressure * c.PushArea(c.HotEnd.Sections[0].D1); math.Abs(f/r.Point.Force-1) > 1e-9 {
		t.Errorf("force %g N, pressure times area %g N", r.Point.Force, f)
	}
	if got := r.Melt.P[0]; math.Abs(got/r.Point.Pressure-1) > 1e-6 {
		t.Errorf("field starts at %g Pa, inlet %g", got, r.Point.Pressure)
	}
	if end := r.Melt.P[len(r.Melt.P)-1]; math.Abs(end) > 1e-6*r.Point.Pressure {
		t.Errorf("field ends at %g Pa", end)
	}
	// The usable flow sits on the map's border: usable to its left, not to its right.
	row := r.Map.Codes[12]
	for j, q := range r.Map.Flows {
		T := r.Map.Temps[12]
		if math.Abs(T-unit.Kelvin(215)) < 1e-9 && (row[j] == "+") != (q < r.Verdict.Flow) &&
			math.Abs(q/r.Verdict.Flow-1) > 0.02 {
			t.Errorf("map at %g K and %g m3/s is %q, usable flow %g", T, q, row[j], r.Verdict.Flow)
		}
	}
	if _, err := quantity.JSON(r); err != nil {
		t.Error(err)
	}
}

func TestColdCoreCarriesTheSpreadOfTheStrength(t *testing.T) {
	c := casefile.Invented()
	c.Target = 38e-9
	r, err := Run(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Point.WeakStock == nil || !(*r.Point.WeakStock > 0 && *r.Point.WeakStock < r.Point.Push &&
		*r.Point.StrongStock > r.Point.Push) {
		t.Errorf("push %g N between %v and %v N", r.Point.Push, *r.Point.WeakStock, *r.Point.StrongStock)
	}
	codes := map[string]bool{}
	for _, w := range r.Warnings {
		codes[w.Code] = true
	}
	if !codes["cold-core"] || !codes["stock-strength"] {
		t.Errorf("warnings %v", r.Warnings)
	}
	if r.Verdict.Held || *r.Verdict.Margin >= 0 {
		t.Errorf("verdict %+v", r.Verdict)
	}
}

func TestSpread(t *testing.T) {
	c := casefile.Invented()
	run := func(seed uint64) *Result {
		r, err := Glance(&c.Setup, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Spread(context.Background(), &c.Setup, 64, seed, nil); err != nil {
			t.Fatal(err)
		}
		return r
	}
	a, b := run(3), run(3)
	if !reflect.DeepEqual(a.Range, b.Range) {
		t.Error("the same seed gives another range")
	}
	for _, x := range []Interval{a.Range.Usable, a.Range.Push, a.Range.Pressure, a.Range.ExitBulk, a.Range.EntryCentre,
		a.Range.Heater} {
		if !(x.Low <= x.Best && x.Best <= x.High) || math.IsNaN(x.Best) {
			t.Errorf("%+v", x)
		}
	}
	if v := a.Range.Usable; a.Verdict.Flow < v.Low*0.98 || a.Verdict.Flow > v.High*1.02 {
		t.Errorf("best estimate %g outside %g to %g", a.Verdict.Flow, v.Low, v.High)
	}
	sum := 0.0
	for _, s := range a.Range.Limits {
		sum += s.Share
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("shares of limits sum to %g", sum)
	}
	// What is known does not move the answer.
	c.Doubts = map[string]setup.Doubt{}
	for _, u := range assess.Unknowns(&c.Setup) {
		c.Doubts[string(u.ID)] = setup.Doubt{}
	}
	r := run(1)
	if v := r.Range.Push; v.High/v.Low > 1+1e-9 {
		t.Errorf("nothing is unknown about the load, and it spreads from %g to %g N", v.Low, v.High)
	}
}

// The coarse range is what the search finds at the two corners, and the verdict follows it.
func TestCornersAreWhatTheSearchFinds(t *testing.T) {
	c := casefile.Invented()
	r, err := Glance(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Corners != nil || r.Verdict.Judged != "" {
		t.Errorf("a glance judges: %+v, %q", r.Corners, r.Verdict.Judged)
	}
	if err := r.FindCorners(&c.Setup); err != nil {
		t.Fatal(err)
	}
	got := []float64{r.Corners.High, r.Corners.Low}
	for i, e := range assess.Corners(&c.Setup) {
		f, err := e.Matcher(march.New(&e.Case, march.Options{})).Find(e.Block)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got[i]/f.Flow-1) > 2e-3 {
			t.Errorf("%s: %g m3/s, the search finds %g", e.What, got[i], f.Flow)
		}
	}
	for target, want := range map[float64]assess.Verdict{0.9 * r.Corners.Low: assess.Held,
		1.05 * r.Corners.Low: assess.Likely, 0.95 * r.Corners.High: assess.Uncertain,
		1.1 * r.Corners.High: assess.NotHeld} {
		c.Target = target
		if r, err = Glance(&c.Setup, Options{Here: true}); err == nil {
			err = r.FindCorners(&c.Setup)
		}
		if err != nil || r.Verdict.Judged != string(want) {
			t.Errorf("%g m3/s wanted, %g to %g: %q, %v", target, r.Corners.Low, r.Corners.High, r.Verdict.Judged, err)
		}
	}
}

func TestSpreadCanBeInterrupted(t *testing.T) {
	c := casefile.Invented()
	r, err := Run(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := r.Spread(ctx, &c.Setup, 1000, 1, nil); err != context.Canceled || r.Range != nil {
		t.Errorf("got %v, range %v", err, r.Range)
	}
}

func TestSetPointsHoldTheForce(t *testing.T) {
	c := casefile.Invented()
	r, err := Run(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.FindSetPoints(&c.Setup, 30); err != nil {
		t.Fatal(err)
	}
	s := march.New(&c.Case, march.Options{})
	var d flow.Solution
	solved := 0
	for _, p := range r.SetPoints {
		if p.Block == nil {
			continue
		}
		s.Solve(*p.Block, p.Flow, &d)
		if d.Push > 30.2 {
			t.Errorf("%.1f N at %g m3/s and %g K", d.Push, p.Flow, *p.Block)
		}
		if p.Note == "" {
			solved++
			if math.Abs(d.Push-30) > 0.2 {
				t.Errorf("%.2f N instead of 30 at %g m3/s", d.Push, p.Flow)
			}
		}
	}
	if solved < 3 || r.SetLine == nil || r.SetLine.Slope <= 0 {
		t.Fatalf("%d points solved, line %+v", solved, r.SetLine)
	}
	// The line goes through the outermost points that the force decides, and says how far the others lie off it.
	var fit []SetPoint
	for _, p := range r.SetPoints {
		if p.Block != nil && p.Note == "" {
			fit = append(fit, p)
		}
	}
	a, b, worst := fit[0], fit[len(fit)-1], 0.0
	slope := (*b.Block - *a.Block) / (b.Flow - a.Flow)
	for _, p := range fit {
		worst = math.Max(worst, math.Abs(*p.Block-*a.Block-slope*(p.Flow-a.Flow)))
	}
	l := r.SetLine
	if l.Base != *a.Block || l.From != a.Flow || l.To != b.Flow || math.Abs(l.Slope/slope-1) > 1e-12 ||
		math.Abs(l.Worst-worst) > 1e-9 || l.Force == nil || *l.Force != 30 {
		t.Errorf("%+v, want from %g K with %g K s/m3, off by %g K", l, *a.Block, slope, worst)
	}
	if last := r.SetPoints[len(r.SetPoints)-1].Flow; math.Abs(last/(1.2*math.Max(r.Verdict.Flow, c.Target))-1) > 0.1 {
		t.Errorf("the last point is at %g m3/s of %g", last, r.Verdict.Flow)
	}
}

func TestGainsAreInOrderAndNeverOverdriveTheMotor(t *testing.T) {
	src := string(casefile.BuiltIn) + `
[feeder.motor]
holding_torque_Ncm = 11
rated_A = 1.0
current_A = 0.97
current_kind = "rms"
resistance_ohm = 2.1
inductance_mH = 1.6
supply_V = 24
[feeder.drive]
ratio = 7.5
diameter_mm = 8.4
[feeder.grip]
area_mm2 = 1.2
wheels = 2
[feeder.gap]
length_mm = 6
`
	c, ps := casefile.Parse("x", []byte(src))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	r, err := Run(&c.Setup, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.FindGains(&c.Setup); err != nil {
		t.Fatal(err)
	}
	for i, g := range r.Gains {
		if i > 0 && g.Gain > r.Gains[i-1].Gain {
			t.Error("not in order")
		}
		if g.Change == "motor current 10 % higher" {
			t.Error("a motor at 97 per cent of its rating is not to be driven 10 per cent harder")
		}
	}
	if len(r.Gains) < 9 {
		t.Errorf("only %d changes tried: %v", len(r.Gains), r.Gains)
	}
	if c.Feeder.Points[0].Force != 74 || c.HotEnd.Sections[0].Length != 20e-3 {
		t.Error("looking for gains changed the case itself")
	}
}

// BenchmarkSamples is 10,000 marching samples with all unknowns drawn, on all cores, the way that the program answers
// them (assess.Run): usable flow, its limit and the load of each, some hundred of them solved and the others read off a
// surface through these. Solves is how many solutions that takes.
func BenchmarkSamples(b *testing.B) {
	c := casefile.Invented()
	us := assess.Unknowns(&c.Setup)
	draws := assess.Draw(us, 10000, 1)
	base := march.New(&c.Case, march.Options{})
	for b.Loop() {
		if _, err := assess.Run(context.Background(), &c.Setup, us, draws, base, 10e-9,
			assess.Sample{Pushed: 10e-9, Melted: 10e-9}, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(base.Solves())/float64(b.N), "solves/op")
}

// BenchmarkMap evaluates an operating map of 2,400 points on all cores, read off a chart that is made for it.
func BenchmarkMap(b *testing.B) {
	c := casefile.Invented()
	base := march.New(&c.Case, march.Options{})
	var temps, flows []float64
	for i := range 40 {
		temps = append(temps, c.Temps[0]+(c.Temps[1]-c.Temps[0])*float64(i)/39)
	}
	for i := range 60 {
		flows = append(flows, 0.5e-9*float64(i+1))
	}
	for b.Loop() {
		m := c.Matcher(match.NewChart(&c.Case, base, c.Temps, c.Limits))
		if _, err := m.Map(temps, flows); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRun is the whole main job without the report.
func BenchmarkRun(b *testing.B) {
	c := casefile.Invented()
	for b.Loop() {
		if _, err := Run(&c.Setup, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// The built-in mould: what changes should help does, forces hang together, and a short shot is said to be one.
func TestFillMould(t *testing.T) {
	c := casefile.Invented()
	r, err := FillMould(context.Background(), &c.Setup)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Filled || r.Share != 1 || !(r.Clamp.Low <= r.Clamp.Best && r.Clamp.Best <= r.Clamp.High) || r.Balance > 1e-4 {
		t.Errorf("%+v", r)
	}
	for _, x := range append(r.Ends, r.Doubts...) {
		if x.Clamp != nil && !(*x.Clamp >= r.Clamp.Low && *x.Clamp <= r.Clamp.High) {
			t.Errorf("%s: clamp %g N is outside of %g to %g N", x.Change, *x.Clamp, r.Clamp.Low, r.Clamp.High)
		}
	}
	// What the numbers are made of.
	f, err := assess.FillMould(context.Background(), &c.Setup)
	if err != nil {
		t.Fatal(err)
	}
	frozen, push := 0.0, 0.0
	for _, x := range f.Trace {
		frozen, push = math.Max(frozen, x.Frozen), math.Max(push, f.Supply.Push(x.Flow, x.Pressure))
	}
	holds := c.Feeder.At(c.Mould.Flow/c.Area()).Force / c.Limits.Safety
	for what, x := range map[string][2]float64{
		"clamp": {r.Clamp.Best, c.Mould.Safety * f.Open}, "frozen": {r.Frozen, frozen}, "mount": {r.Mount, push},
		"push": {r.Uses[0].Share, push / holds}, "dead end": {r.DeadEnd, f.Supply.Pressure(0)},
		"filament":               {r.Filament, r.Volume / c.Area()},
		"cycle":                  {*r.Cycle, r.Time + math.Max(*r.Cooling, *r.GateFreeze) + c.Mould.Open},
		"last shot of the trace": {r.Trace[len(r.Trace)-1].Filled, 1},
		"push at the end": {r.Trace[len(r.Trace)-1].Force, f.Supply.Push(f.Trace[len(f.Trace)-1].Flow,
			f.Trace[len(f.Trace)-1].Pressure)},
		"gain": {*r.Gains[0].Clamp, r.Clamp.Best}, "hottest": {r.Hottest, slices.Max(f.Profile.Surface)},
	} {
		if math.Abs(x[0]/x[1]-1) > 1e-9 {
			t.Errorf("%s: %g, want %g", what, x[0], x[1])
		}
	}
	if r.Clamp.High < c.Mould.Safety*f.OpenHigh || r.Clamp.Low > c.Mould.Safety*f.OpenLow || len(r.Profile.Frozen) !=
		len(r.Profile.X) || !strings.Contains(r.Sentence, "if it is packed") || !strings.Contains(r.Sentence,
		"with all unknowns favourable full, with all unfavourable short at "+quantity.Text("filled_share",
			*r.Ends[1].Share)) {
		t.Errorf("%+v, %s", r.Clamp, r.Sentence)
	}
	if len(r.Shots) != c.Mould.Shots || r.Shots[0].Number != 1 || r.Shots[0].Face != c.Mould.Surface {
		t.Errorf("%+v", r.Shots[:2])
	}
	if math.Abs(r.Time*r.SetFlow/r.Volume-1) > 1e-3 { // never force-limited
		t.Errorf("%g s at %g m3/s for %g m3", r.Time, r.SetFlow, r.Volume)
	}
	for _, i := range []int{1, 2, 3, 4} { // hotter mould, hotter melt, wider feed, thicker wall
		if *r.Gains[i].Peak >= *r.Gains[0].Peak {
			t.Errorf("%s: %g Pa, as it is %g", r.Gains[i].Change, *r.Gains[i].Peak, *r.Gains[0].Peak)
		}
	}
	if math.Abs(*r.Gains[0].Peak/r.Peak-1) > 1e-9 {
		t.Errorf("as it is: %g Pa, %g before", *r.Gains[0].Peak, r.Peak)
	}
	for k, row := range r.Map.Longest {
		for i, x := range row {
			if i > 0 && *x < *row[i-1]*0.93 || k > 0 && *x < *r.Map.Longest[k-1][i]*0.97 {
				t.Errorf("longest flow falls with thickness or mould temperature: %v", r.Map.Longest)
			}
		}
	}
	// the map's grid is coarser
	if h := c.Mould.Elements[len(c.Mould.Elements)-1].Height; r.Map.Thinnest == nil || *r.Map.Thinnest > h*1.1 {
		t.Errorf("%g m fills, the thinnest that does is %v m", h, r.Map.Thinnest)
	}
	if r.LimitedAt != nil || r.Map.Asked != c.Mould.Elements[len(c.Mould.Elements)-1].Length {
		t.Errorf("limited at %v, asked for %g m", r.LimitedAt, r.Map.Asked)
	}
	c.Mould.Elements[len(c.Mould.Elements)-1].Length *= 10
	if r, err = FillMould(context.Background(), &c.Setup); err != nil || r.Filled || r.Why == "" || r.Share >= 1 {
		t.Errorf("ten times as long: %+v, %v", r, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := FillMould(ctx, &c.Setup); err == nil {
		t.Error("a cancelled run gave a result")
	}
	c.Mould = nil
	if _, err := FillMould(context.Background(), &c.Setup); err == nil {
		t.Error("filled without a mould")
	}
}

// A block below the flow point never melts the stock: that is said, and no usable flow is given.
func TestBlockBelowTheFlowPointIsSaid(t *testing.T) {
	c := casefile.Invented()
	point := c.Material.FlowPoint()
	for dT, want := range map[float64]bool{-3: true, 3: false} {
		s := c.Clone()
		s.SetBlock(point + dT)
		r, err := Glance(s, Options{})
		if err != nil {
			t.Fatal(err)
		}
		said := materials.Warned(r.Warnings, "block-below-flow-point")
		if said != want || (r.Verdict.Flow == 0) != want || want && r.Verdict.Limit != string(match.FlowPoint) {
			t.Errorf("%+g K from the flow point: said %t, usable flow %g m3/s by %q", dT, said, r.Verdict.Flow,
				r.Verdict.Limit)
		}
	}
}
