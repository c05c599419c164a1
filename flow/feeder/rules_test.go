package feeder

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/materials"
	"meltload/materials/unit"
)

// steady is a motor whose voltage never limits, so that its torque is p psi I less the iron loss: 1 N m less 0.003 N m
// for each rev/s. Its peak current is root two of the rated one, so that the current limit is the holding torque.
func steady() *Motor {
	return &Motor{Holding: 1, Rated: 100, Current: 100 * math.Sqrt2, Resistance: 1e-6, Inductance: 1e-9, Supply: 24,
		Teeth: 50, Usable: 1, IronLoss: 0.06}
}

// The range that the motor model is said to be checked on is that of testdata/motor, and each end of it is warned of
// just beyond: speed always, supply and winding only where a fiftieth of the torque is gone.
func TestEndsOfTheCheckedRange(t *testing.T) {
	if Checked.Holding != [2]float64{0.55, 3} || Checked.Supply != [2]float64{24, 36} || Checked.Electrical != 20*50 {
		t.Errorf("%+v; the curves are of motors of 0.55 to 3 N m on 24 to 36 V up to 1,200 rpm", Checked)
	}
	const slow, fast = 6.5, 6.8 // the loss of iron is a fiftieth at 6.67 rev/s
	for _, x := range []struct {
		holding, supply, rev float64
		want                 int
	}{
		{1, 24, 20, 0}, {1, 24, 20.001, 1},
		{1, 23.9, slow, 0}, {1, 23.9, fast, 1}, {1, 24, fast, 0}, {1, 36, fast, 0}, {1, 36.1, fast, 1},
		{1, 36.1, slow, 0},
		{0.546, 24, fast, 0}, {0.543, 24, fast, 1}, {0.543, 24, slow, 0}, {3.02, 24, fast, 0}, {3.04, 24, fast, 1},
		{3.04, 24, slow, 0}, {3.04, 48, 21, 3},
	} {
		m := steady()
		m.Holding, m.Supply = x.holding, x.supply
		if got := m.Warnings(x.rev); len(got) != x.want || x.want > 0 && !materials.Warned(got, "motor-range") {
			t.Errorf("%+v: %q", x, codes(got))
		}
	}
}

// Warnings of a data-sheet curve: its end, and a current above its own by more than a fiftieth where no winding is
// known.
func TestWarningsOfASheetCurve(t *testing.T) {
	for _, x := range []struct {
		current, resistance, rev float64
		want                     string
	}{
		{1, 0, 10, ""}, {1, 0, 10.001, "motor-curve-end"}, {2.03, 0, 5, ""}, {2.05, 0, 5, "motor-curve-current"},
		{2.05, 1, 5, ""}, {2.05, 0, 11, "motor-curve-end motor-curve-current"},
	} {
		m := steady()
		m.Curve, m.CurveCurrent = [][2]float64{{1, 0.9}, {10, 0.5}}, 2
		m.Current, m.Resistance = x.current, x.resistance
		if got := codes(m.Warnings(x.rev)); got != x.want {
			t.Errorf("%+v: %q", x, got)
		}
	}
}

// The current of a curve is the one given, or that at which p psi I is the highest torque; the heat of both phases is
// the peak current squared times the resistance.
func TestCurrentAndHeatByHand(t *testing.T) {
	m := Motor{Holding: 0.5, Rated: 2, Current: 1.5, Resistance: 1.2, Curve: [][2]float64{{1, 0.3}, {2, 0.4}, {3, 0.1}}}
	near(t, "peak of the curve", m.CurvePeak(), math.Sqrt2*2*0.4/0.5)
	near(t, "heat", m.Heat(), 1.5*1.5*1.2)
	m.CurveCurrent = 1.1
	near(t, "given", m.CurvePeak(), 1.1)
}

// The torque that a curve is carried to. The motor's own is 1 N m less 0.003 N m for each rev/s, in proportion to the
// current but for the loss.
func TestCurveCarriedByHand(t *testing.T) {
	own := func(rev, share float64) float64 { return share - 0.003*rev }
	for what, x := range map[string]struct {
		change func(m *Motor)
		rev    float64
		want   float64
	}{
		"at its first point":   {func(*Motor) {}, 2, 0.8},
		"below it":             {func(*Motor) {}, 1, 0.8 * own(1, 1) / own(1, 1)},
		"at its last":          {func(*Motor) {}, 10, 0.4},
		"beyond":               {func(*Motor) {}, 20, 0.4 * own(20, 1) / own(10, 1)},
		"at half the current":  {func(m *Motor) { m.Current /= 2 }, 10, 0.4 * own(10, 0.5) / own(10, 1)},
		"no winding":           {func(m *Motor) { m.Inductance = 0 }, 10, 0.4},
		"no supply, beyond":    {func(m *Motor) { m.Supply = 0 }, 25, 0.4 * 10 / 25},
		"no winding, weaker":   {func(m *Motor) { m.Resistance = 0; m.Current /= 4 }, 10, 0.4 / 4},
		"no winding, stronger": {func(m *Motor) { m.Usable = 0; m.Current *= 2 }, 10, 0.4},
		// On the sheet's supply the model gives nothing: the curve holds, or the motor's own torque where that is less.
		"not explained": {func(m *Motor) { m.CurveSupply = 1e-12 }, 10, 0.4},
		"bounded":       {func(m *Motor) { m.CurveSupply = 1e-12; m.Current /= 4 }, 10, own(10, 0.25)},
	} {
		m := steady()
		m.Curve, m.CurveCurrent = [][2]float64{{2, 0.8}, {10, 0.4}}, 100*math.Sqrt2
		x.change(m)
		if got := m.Torque(x.rev); math.Abs(got/x.want-1) > 1e-6 {
			t.Errorf("%s: %.6g N m, by hand %.6g", what, got, x.want)
		}
	}
	for top, want := range map[float64]int{1.04: 0, 1.06: 1} {
		m := steady()
		m.Curve = [][2]float64{{0, top}, {5, 0}}
		if got := m.Problems(); len(got) != want {
			t.Errorf("a curve up to %g of the holding torque: %q", top, got)
		}
	}
	m := testModel(t)
	m.Motor.Curve = [][2]float64{{1, 0.3}, {5, 0.2}}
	if f := must(t, Feeder{Model: m}); f.Model.Motor.fitted == nil || m.Motor.fitted != nil {
		t.Error("the curve is fitted once, in a copy")
	}
}

// What keeps a model from being computed, one thing at a time: limits belong to what is allowed, and what a part does
// not need is not asked for.
func TestProblemsOfAModel(t *testing.T) {
	for what, x := range map[string]struct {
		change func(m *Model)
		want   string
	}{
		"good":             {func(*Model) {}, ""},
		"motor":            {func(m *Model) { m.Motor.Supply = 0 }, "supply"},
		"ratio":            {func(m *Model) { m.Drive.Ratio = 0 }, "gear ratio"},
		"wheel":            {func(m *Model) { m.Drive.Diameter = math.Inf(1) }, "drive wheel"},
		"perfect gearing":  {func(m *Model) { m.Drive.Efficiency = 1 }, ""},
		"gearing above":    {func(m *Model) { m.Drive.Efficiency = 1.01 }, "efficiency"},
		"gearing of none":  {func(m *Model) { m.Drive.Efficiency = 0 }, "efficiency"},
		"no motor":         {func(m *Model) { m.Motor, m.Drive = nil, Drive{} }, ""},
		"grip":             {func(m *Model) { m.Grip.Area = 0 }, "grip area"},
		"wheels":           {func(m *Model) { m.Grip.Wheels = 0 }, "driven wheels"},
		"full tension":     {func(m *Model) { m.Grip.Tension = 1 }, ""},
		"tension above":    {func(m *Model) { m.Grip.Tension = 1.01 }, "idler tension"},
		"no tension":       {func(m *Model) { m.Grip.Tension = 0 }, "idler tension"},
		"gap":              {func(m *Model) { m.Gap.Length = math.Inf(1) }, "unsupported length"},
		"ends":             {func(m *Model) { m.Gap.K = 0 }, "effective-length"},
		"diameter":         {func(m *Model) { m.Diameter = 0 }, "filament diameter"},
		"temperature":      {func(m *Model) { m.Stock = 0 }, "filament temperature"},
		"material of grip": {func(m *Model) { m.Gap, m.Material = nil, nil }, "need a material"},
		"material of gap":  {func(m *Model) { m.Grip, m.Material = nil, nil }, "need a material"},
		"motor alone": {func(m *Model) {
			m.Grip, m.Gap, m.Material, m.Diameter, m.Stock = nil, nil, nil, 0, 0
		}, ""},
	} {
		m := testModel(t)
		m.Grip, m.Gap = &Grip{0.5e-6, 2, 0.6}, &Gap{3e-3, 1}
		x.change(m)
		ps := m.Problems()
		if x.want == "" && len(ps) > 0 || x.want != "" && (len(ps) != 1 || !strings.Contains(ps[0], x.want)) {
			t.Errorf("%s: %q, want %q", what, ps, x.want)
		}
	}
}

// A point is refused for each of its numbers by itself.
func TestProblemsOfAPoint(t *testing.T) {
	inf := math.Inf(1)
	for _, x := range []struct {
		p    Point
		want string
	}{
		{Point{Speed: 1, Force: 1}, ""}, {Point{Force: 1}, "speed"}, {Point{Speed: inf, Force: 1}, "speed"},
		{Point{Speed: 1}, "force"}, {Point{Speed: 1, Force: inf}, "force"},
		{Point{Speed: 1, Force: 1, SD: inf}, "deviation"}, {Point{Speed: 1, Force: 1, SD: -1}, "deviation"},
	} {
		_, err := New(Feeder{Points: []Point{x.p}})
		if (err == nil) != (x.want == "") || err != nil && (!strings.Contains(err.Error(), x.want) ||
			strings.Contains(err.Error(), "\n")) {
			t.Errorf("%+v: %v", x.p, err)
		}
	}
	f := must(t, Feeder{Points: []Point{{Speed: 1, Force: 1, Repeats: -2}}})
	if p := f.Points[0]; p.Repeats != 1 || p.Cause != Mixed {
		t.Errorf("%+v", p)
	}
}

// Points within a millionth of a speed are one; what they were measured under is kept where they agree.
func TestPooledPointsKeepWhatTheyAgreeOn(t *testing.T) {
	one := Point{Speed: 2e-3, Force: 50, Cause: Grind, Material: "pla", Stock: 298, Block: 500, Current: 1.2}
	for what, change := range map[string]func(p *Point){
		"":          func(*Point) {},
		"cause":     func(p *Point) { p.Cause = Skip },
		"material":  func(p *Point) { p.Material = "abs" },
		"stock":     func(p *Point) { p.Stock = 310 },
		"block":     func(p *Point) { p.Block = 510 },
		"a current": func(p *Point) { p.Current = 1.1 },
	} {
		two := one
		change(&two)
		want := one
		want.Repeats = 2
		switch what {
		case "cause":
			want.Cause = Mixed
		case "material":
			want.Material = ""
		case "stock":
			want.Stock = 0
		case "block":
			want.Block = 0
		case "a current":
			want.Current = 0
		}
		if got := must(t, Feeder{Points: []Point{one, two}}).Points; len(got) != 1 || got[0] != want {
			t.Errorf("%s differs: %+v, want %+v", what, got, want)
		}
	}
	for apart, want := range map[float64]int{0.9e-6: 1, 1.1e-6: 2} {
		two := one
		two.Speed *= 1 + apart
		if got := must(t, Feeder{Points: []Point{two, one}}).Points; len(got) != want {
			t.Errorf("%g apart: %d points", apart, len(got))
		}
	}
}

// Outside the points begins beyond their ends, but for round-off.
func TestEndsOfTheMeasuredRange(t *testing.T) {
	f := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 80, Cause: Grind}, {Speed: 8e-3, Force: 60, Cause: Skip}}})
	for v, want := range map[float64]Capability{
		2e-3: {80, 0, Grind, false}, 2e-3 * (1 - 1e-10): {80, 0, Grind, false}, 2e-3 * (1 - 1e-8): {80, 0, Grind, true},
		8e-3: {60, 0, Skip, false}, 8e-3 * (1 + 1e-10): {60, 0, Skip, false}, 8e-3 * (1 + 1e-8): {60, 0, Skip, true},
	} {
		if got := f.At(v); got != want {
			t.Errorf("at %.12g m/s: %+v, want %+v", v, got, want)
		}
	}
	// A model that gives nothing at the end of the points carries nothing: the point is held.
	m := testModel(t)
	m.Motor.Supply = 1e-3
	for v, want := range map[float64]float64{1e-3: 80, 20e-3: 60} {
		held := must(t, Feeder{Model: m, Points: f.Points})
		if got := held.At(v); held.Model.At(v).Force != 0 || got.Force != want || !got.Extrapolated {
			t.Errorf("at %g m/s: %+v, want %g N held", v, got, want)
		}
	}
}

// Of two points that are both within two per cent of a speed the nearer one is meant.
func TestTheNearerOfTwoClosePointsIsMeant(t *testing.T) {
	f := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 80, SD: 2, Repeats: 3}, {Speed: 2.03e-3, Force: 79, SD: 2,
		Repeats: 5}}})
	for v, want := range map[float64]int{1.961e-3: 3, 1.95e-3: 0, 2e-3: 3, 2.014e-3: 3, 2.016e-3: 5, 2.03e-3: 5,
		2.07e-3: 5, 2.08e-3: 0} {
		e := f.Estimate(v, f.Scatter())
		if e.Repeats != want || (e.Basis == Measured) != (want > 0) {
			t.Errorf("at %g m/s: %+v, want %d repeats", v, e, want)
		}
	}
	// Six doublings beyond, the half-width is more than the force itself: nothing is sure.
	if e := f.Estimate(2.03e-3*64, Scatter{}); e.Low != 0 || math.Abs(e.High/e.Force-1-math.Hypot(0.1, 1.2)) > 1e-9 {
		t.Errorf("six doublings beyond: %+v", e)
	}
	if got, assumed := (Point{}).half(Scatter{0.1, 1e6}); assumed || math.Abs(got-0.196) > 1e-4 {
		t.Errorf("a point of no stated repeats counts once: %g", got)
	}
}

// When the column of the stock bounds the points: soft stock, unless the points are of its polymer, and stock of
// another polymer where the gap is given. By hand for a filament of 1.75 mm that is slender in its gap,
// pi^3 E d^4/(64 L^2) between pins.
func TestWhenTheColumnBoundsThePoints(t *testing.T) {
	s := stock(t, "tpu")
	of := func(modulus float64) *Stock {
		m := *s.Material
		m.Modulus, m.Compressive = materials.Constant(modulus), materials.Constant(1e12)
		return &Stock{Material: &m, Diameter: s.Diameter, Temperature: s.Temperature}
	}
	euler := func(modulus, length float64) float64 {
		return math.Pow(math.Pi, 3) * modulus * math.Pow(1.75e-3, 4) / 64 / (length * length)
	}
	column := func(g *Gap, modulus float64) float64 {
		length, k := 4e-3, FixedPinned // as feeders for soft filament leave
		if g != nil {
			length, k = g.Length, g.K
		}
		x := length * k / (1.75e-3 / 4)
		if johnson := math.Pi * 1.75e-3 * 1.75e-3 / 4 * 1e12 * (1 - 1e12*x*x/(4*math.Pi*math.Pi*modulus)); x <
			math.Sqrt(2*math.Pi*math.Pi*modulus/1e12) {
			return johnson
		}
		return euler(modulus, length*k)
	}
	given := &Gap{80e-3, 1}
	at := func(name string, more ...Point) []Point {
		return append([]Point{{Speed: 2e-3, Force: 1e4, Material: name}}, more...)
	}
	for what, x := range map[string]struct {
		points  []Point
		modulus float64
		gap     *Gap
		bound   bool
		unsaid  bool
	}{
		"soft, its own":         {at("tpu"), 0.1e9, given, false, false},
		"soft, by its name":     {at(strings.ToUpper(s.Material.Name)), 0.1e9, given, false, false},
		"soft, unsaid":          {at(""), 0.149e9, nil, true, true},
		"soft, another":         {at("pla"), 0.149e9, nil, true, false},
		"rigid, unsaid":         {at(""), 0.151e9, nil, false, false},
		"rigid, unsaid, given":  {at(""), 0.151e9, given, false, false},
		"rigid, another":        {at("pla"), 0.151e9, nil, false, false},
		"rigid, another, given": {at("pla"), 0.151e9, given, true, false},
		"soft, unsaid, given":   {at(""), 0.1e9, given, true, true},
		"soft, another, given":  {at("pla"), 0.1e9, given, true, false},
		"rigid, its own, given": {at("tpu"), 1e9, given, false, false},
		"its own beside another": {at("tpu", Point{Speed: 4e-3, Force: 1, Material: "pla"}), 0.1e9, given, false,
			false},
		"others pooled, then another": {at("pla", Point{Speed: 2e-3, Force: 1e4, Material: "abs"},
			Point{Speed: 4e-3, Force: 1e4, Material: "pla"}), 0.151e9, given, true, false},
		"another, then others pooled": {at("pla", Point{Speed: 4e-3, Force: 1e4, Material: "pla"},
			Point{Speed: 4e-3, Force: 1e4, Material: "abs"}), 0.151e9, given, true, false},
	} {
		f := Feeder{Points: x.points, Stock: of(x.modulus)}
		if x.gap != nil {
			f.Model = &Model{Gap: x.gap, Diameter: 1.75e-3, Stock: s.Temperature, Material: f.Stock.Material}
		}
		g := must(t, f)
		c := g.At(2e-3)
		want := Capability{Force: 1e4, Cause: Mixed}
		if x.bound {
			force := column(x.gap, x.modulus)
			want = Capability{Force: force, SD: 0.2 * force, Cause: Buckle}
		}
		if math.Abs(c.Force/want.Force-1) > 1e-9 || math.Abs(c.SD-want.SD) > 1e-9*want.Force || c.Cause != want.Cause {
			t.Errorf("%s: %+v, want %+v", what, c, want)
		}
		length := 80e-3
		if x.gap == nil {
			length = 4e-3
		}
		if k := g.column; x.bound && (k.unsaid != x.unsaid || k.assumed != (x.gap == nil) || k.length != length) ||
			!x.bound && k != (fold{}) {
			t.Errorf("%s: %+v", what, k)
		}
		warned := materials.Warned(g.Warnings(2e-3), "soft-stock")
		if e := g.Estimate(2e-3, Scatter{}); warned != x.bound || (e.Basis == AsAColumn) != x.bound {
			t.Errorf("%s: warned %t, %+v", what, warned, e)
		}
	}
	for _, f := range []Feeder{{Points: at("pla")}, {Points: at("pla"), Stock: &Stock{}}} {
		if g := must(t, f); g.column != (fold{}) || g.kin(g.Points[0]) != unknown || codes(g.Warnings(2e-3)) != "" {
			t.Errorf("stock that is not known: %+v, %q", g.column, codes(g.Warnings(2e-3)))
		}
	}
}

// A fold that was measured, below what the stock holds as a column, is a measurement: no column decides there, whatever
// all forces are multiplied by.
func TestAMeasuredFoldIsMeasured(t *testing.T) {
	for _, factor := range []float64{0, 0.5, 2} {
		f := must(t, Feeder{Factor: factor, Stock: stock(t, "tpu"),
			Points: []Point{{Speed: 2e-3, Force: 5, Cause: Buckle, SD: 0.1, Repeats: 3}}})
		e := f.Estimate(2e-3, f.Scatter())
		if f.column.force < 6 || e.Basis != Measured || e.Repeats != 3 || e.Assumed {
			t.Errorf("factor %g: %+v, column %.1f N", factor, e, f.column.force)
		}
		if got := codes(f.Warnings(2e-3)); got != "" {
			t.Errorf("factor %g: %q", factor, got)
		}
		f = must(t, Feeder{Factor: factor, Points: []Point{{Speed: 2e-3, Force: 100, SD: 1, Repeats: 3}},
			Stock: stock(t, "tpu")})
		if e := f.Estimate(2e-3, f.Scatter()); e.Basis != AsAColumn || math.Abs(e.High/e.Force-1.4) > 1e-9 {
			t.Errorf("factor %g: %+v, column %.1f N", factor, e, f.column.force)
		}
	}
}

// The motor's warnings come where the motor decides or nearly does, within a quarter of the force, and no measured
// point stands for it.
func TestWhenTheMotorIsWarnedOf(t *testing.T) {
	m := testModel(t)
	m.Motor.Curve = [][2]float64{{0, 0.2}, {1e-3, 0.2}} // ends below any speed looked at
	const v = 5e-3
	_, stall, _ := m.Parts(v)
	shear := m.Material.ShearStrength(m.Stock)
	inside := []Point{{Speed: v, Force: 20, Material: "pla"}}
	for what, x := range map[string]struct {
		stall  float64 // over what the grip holds
		points []Point
		want   string
	}{
		"near":    {1.24, nil, "motor-curve-end"},
		"far":     {1.26, nil, ""},
		"inside":  {1, inside, ""},
		"outside": {1, []Point{{Speed: 2 * v, Force: 1000, Material: "pla"}}, "capability-range motor-curve-end"},
	} {
		m.Grip = &Grip{Area: stall / x.stall / shear, Wheels: 1, Tension: 1}
		if what == "outside" {
			m.Grip = nil
		}
		f := Feeder{Model: m, Points: x.points, Stock: stock(t, "pla")}
		if got := codes(must(t, f).Warnings(v)); got != x.want {
			t.Errorf("%s: %q, want %q", what, got, x.want)
		}
	}
}

// A clone has parts of its own, those that are there.
func TestCloneOfEveryPart(t *testing.T) {
	if (*Feeder)(nil).Clone() != nil {
		t.Error("a clone of nothing")
	}
	m := testModel(t)
	m.Grip, m.Gap, m.Motor.Curve = &Grip{0.5e-6, 2, 0.6}, &Gap{3e-3, 1}, [][2]float64{{1, 0.2}}
	f := &Feeder{Model: m, Stock: stock(t, "pla"), Points: []Point{{Speed: 1, Force: 2}}, Unused: []Point{{Speed: 3}}}
	g := f.Clone()
	if g.Model.Motor.Holding != 0.4 || *g.Model.Grip != *m.Grip || *g.Model.Gap != *m.Gap || *g.Stock != *f.Stock ||
		!slices.Equal(g.Points, f.Points) || !slices.Equal(g.Unused, f.Unused) ||
		!slices.Equal(g.Model.Motor.Curve, m.Motor.Curve) {
		t.Errorf("%+v", g)
	}
	if g.Model == m || g.Model.Motor == m.Motor || g.Model.Grip == m.Grip || g.Model.Gap == m.Gap ||
		g.Stock == f.Stock || &g.Model.Motor.Curve[0] == &m.Motor.Curve[0] || &g.Points[0] == &f.Points[0] {
		t.Error("the clone shares a part")
	}
	f.Model, f.Stock = &Model{}, nil
	if g := f.Clone(); g.Model == nil || *g.Model != (Model{}) || g.Stock != nil {
		t.Errorf("%+v", g)
	}
	f.Model = nil
	if f.Clone().Model != nil {
		t.Error("a model out of nothing")
	}
}

// Every cause of a warning of conditions needs both sides to be known.
func TestConditionsThatAreNotKnown(t *testing.T) {
	p := Point{Speed: 2e-3, Force: 60, Stock: unit.Kelvin(60), Current: 5}
	if got := codes(must(t, Feeder{Points: []Point{p}}).Warnings(2e-3)); got != "" {
		t.Errorf("neither stock nor motor are known: %q", got)
	}
	p.Stock, p.Current = 0, 0
	f := must(t, Feeder{Points: []Point{p}, Stock: stock(t, "pla"), Model: testModel(t)})
	if got := codes(f.Warnings(2e-3)); got != "" {
		t.Errorf("nothing is known of the point: %q", got)
	}
}
