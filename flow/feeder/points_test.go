package feeder

import (
	"math"
	"strings"
	"testing"

	"meltload/materials"
	"meltload/materials/unit"
)

func must(t *testing.T, f Feeder) *Feeder {
	t.Helper()
	out, err := New(f)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func stock(t *testing.T, id string) *Stock {
	t.Helper()
	m, err := materials.Get(id)
	if err != nil {
		t.Fatal(err)
	}
	return &Stock{Material: m, Diameter: 1.75e-3, Temperature: unit.Kelvin(25)}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

func codes(ws []materials.Warning) string {
	var out []string
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return strings.Join(out, " ")
}

// Between two points the cause is that of the nearer one, on either side of the middle; the scatter is
// interpolated in a line.
func TestCauseIsOfTheNearerPoint(t *testing.T) {
	f := must(t, Feeder{Points: []Point{
		{Speed: 2e-3, Force: 80, Cause: Grind, SD: 1, Repeats: 2}, {Speed: 10e-3, Force: 60, Cause: Skip, SD: 5,
			Repeats: 2}}})
	for _, c := range []struct {
		v     float64
		cause Cause
		sd    float64
	}{{2e-3, Grind, 1}, {3e-3, Grind, 1.5}, {5.9e-3, Grind, 2.95}, {6.1e-3, Skip, 3.05}, {9e-3, Skip, 4.5}, {10e-3,
		Skip, 5}} {
		got := f.At(c.v)
		if got.Cause != c.cause || got.Extrapolated {
			t.Errorf("at %g mm/s: %s, extrapolated %v; want %s", c.v*1e3, got.Cause, got.Extrapolated, c.cause)
		}
		near(t, "scatter", got.SD, c.sd)
	}
}

// Pooling by hand: 2 runs of mean 80, sd 2 and 3 runs of mean 90, sd 4 have the mean 86 and the variance
// [1 4 + 2 16 + 2 36 + 3 16]/4 = 39.
func TestPooledScatterKeepsWhatLiesBetweenSets(t *testing.T) {
	f := must(t, Feeder{Points: []Point{
		{Speed: 2e-3, Force: 80, Cause: Grind, Repeats: 2, SD: 2}, {Speed: 2e-3, Force: 90, Cause: Skip, Repeats: 3,
			SD: 4}}})
	p := f.Points[0]
	near(t, "mean", p.Force, 86)
	near(t, "sd", p.SD, math.Sqrt(39))
	if p.Repeats != 5 || p.Cause != Mixed || len(f.Points) != 1 {
		t.Errorf("pooled to %+v", f.Points)
	}
	same := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 80, Cause: Grind},
		{Speed: 2e-3, Force: 90, Cause: Grind}}})
	if same.Points[0].Cause != Grind {
		t.Errorf("repeats that agree pooled to %q", same.Points[0].Cause)
	}
	if apart := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 80},
		{Speed: 2.001e-3, Force: 90}}}); len(apart.Points) != 2 || apart.Points[0].Cause != Mixed {
		t.Errorf("speeds 0.05 %% apart pooled to %+v", apart.Points)
	}
}

func testModel(t *testing.T) *Model {
	s := stock(t, "pla")
	return &Model{Diameter: s.Diameter, Stock: s.Temperature, Material: s.Material,
		Drive: Drive{Ratio: 3, Efficiency: 0.8, Diameter: 8e-3},
		Motor: &Motor{Holding: 0.4, Rated: 1.5, Current: 1.4, Resistance: 2, Inductance: 3e-3, Supply: 24, Teeth: 50,
			Usable: DefaultVoltageShare, IronLoss: DefaultIronLoss}}
}

// A model alone has a band of a fifth, whichever part binds; the parts by hand.
func TestModelBandAndParts(t *testing.T) {
	m := testModel(t)
	f := must(t, Feeder{Model: m})
	v := 5e-3
	rev := v / (math.Pi * 8e-3) * 3
	torque := 0.4*1.4/(math.Sqrt2*1.5) - DefaultIronLoss*0.4*rev*50/1000 // p psi I, below the knee, less the iron loss
	want := torque * 3 * 0.8 / 4e-3
	c := f.At(v)
	near(t, "stall", c.Force, want)
	near(t, "band", c.SD, 0.2*want)
	if c.Cause != Skip || c.Extrapolated {
		t.Errorf("%+v", c)
	}
	s := m.Material
	m.Grip = &Grip{Area: 0.5e-6, Wheels: 2, Tension: 0.6}
	hold := 0.5e-6 * 2 * 0.6 * s.Compressive.At(m.Stock) / math.Sqrt(3)
	c = must(t, Feeder{Model: m}).At(v)
	near(t, "grip", c.Force, hold)
	if c.Cause != Grind {
		t.Errorf("%+v", c)
	}
	m.Gap = &Gap{Length: 0.08, K: 1}
	c = must(t, Feeder{Model: m}).At(v)
	// Euler: slender
	near(t, "column", c.Force, math.Pow(math.Pi, 3)*s.Modulus.At(m.Stock)*math.Pow(1.75e-3, 4)/64/(0.08*0.08))
	if c.Cause != Buckle {
		t.Errorf("%+v", c)
	}
	near(t, "band of the column", c.SD, 0.2*c.Force)
}

// Beyond the points the model carries the nearest one; the band widens by a tenth of the force for each doubling, on
// either side. Without a model the nearest point is held with its own scatter.
func TestExtrapolationByValue(t *testing.T) {
	m := testModel(t)
	points := []Point{{Speed: 4e-3, Force: 70, Cause: Grind, Repeats: 3, SD: 2},
		{Speed: 16e-3, Force: 50, Cause: Grind, Repeats: 3, SD: 3}}
	with, alone := must(t, Feeder{Model: m, Points: points}), must(t, Feeder{Points: points})
	for _, c := range []struct{ v, end, force, sd, doublings float64 }{{1e-3, 4e-3, 70, 2, 2}, {64e-3, 16e-3, 50, 3, 2},
		{8e-3, 0, 0, 0, 0}} {
		got, held := with.At(c.v), alone.At(c.v)
		if c.end == 0 {
			if got != held || got.Extrapolated {
				t.Errorf("between the points: %+v with a model, %+v without", got, held)
			}
			continue
		}
		want := c.force * m.At(c.v).Force / m.At(c.end).Force
		near(t, "carried", got.Force, want)
		near(t, "band", got.SD, math.Hypot(c.sd, 0.1*c.doublings*want))
		if got.Cause != Skip || !got.Extrapolated {
			t.Errorf("carried by the motor: %+v", got)
		}
		if held != (Capability{c.force, c.sd, Grind, true}) {
			t.Errorf("held: %+v", held)
		}
		if !strings.Contains(codes(with.Warnings(c.v)), "capability-range") ||
			!strings.Contains(codes(alone.Warnings(c.v)), "capability-range") {
			t.Errorf("beyond the points: %q, %q", codes(with.Warnings(c.v)), codes(alone.Warnings(c.v)))
		}
	}
	if got := codes(alone.Warnings(8e-3)); got != "" {
		t.Errorf("between the points: %q", got)
	}
}

func TestFactorScalesForceAndScatter(t *testing.T) {
	f := must(t, Feeder{Factor: 0.8, Points: []Point{{Speed: 4e-3, Force: 70, Repeats: 3, SD: 2}}})
	near(t, "force", f.At(4e-3).Force, 56)
	near(t, "scatter", f.At(4e-3).SD, 1.6)
}

// Points of rigid filament do not speak for soft filament: the column of the soft one bounds them, and it is said.
func TestPointsOfAnotherPolymer(t *testing.T) {
	pla := []Point{{Speed: 2e-3, Force: 74, Cause: Grind, Repeats: 2, Material: "PLA"}}
	tpu := stock(t, "tpu")
	column := func(length, k float64) float64 {
		return Gap{length, k}.Collapse(tpu.Diameter, tpu.Material, tpu.Temperature)
	}
	f := must(t, Feeder{Points: pla, Stock: tpu})
	c := f.At(2e-3)
	near(t, "bounded by the assumed gap", c.Force, column(AssumedGap, FixedPinned))
	if c.Cause != Buckle || c.Force > 30 || codes(f.Warnings(2e-3)) != "points-other-polymer soft-stock" {
		t.Errorf("%+v, %q", c, codes(f.Warnings(2e-3)))
	}
	f = must(t, Feeder{Points: pla, Stock: tpu, Model: &Model{Gap: &Gap{20e-3, 1}, Diameter: tpu.Diameter,
		Stock: tpu.Temperature, Material: tpu.Material}})
	near(t, "bounded by the gap given", f.At(2e-3).Force, column(20e-3, 1))

	weak := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 5, Cause: Grind, Material: "pla"}}, Stock: tpu})
	if c := weak.At(2e-3); c.Force != 5 || c.Cause != Grind || codes(weak.Warnings(2e-3)) != "points-other-polymer" {
		t.Errorf("a point below the column: %+v, %q", c, codes(weak.Warnings(2e-3)))
	}

	// Which polymer they are of is not said: the column bounds them too, until somebody says it.
	f = must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 74}}, Stock: tpu})
	near(t, "bounded where no polymer is said", f.At(2e-3).Force, column(AssumedGap, FixedPinned))
	if c := f.At(2e-3); c.Cause != Buckle || codes(f.Warnings(2e-3)) != "soft-stock" {
		t.Errorf("%+v, %q", c, codes(f.Warnings(2e-3)))
	}
	// Of its own polymer: measured is measured.
	f = must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 41, Material: "tpu"}}, Stock: tpu})
	if c := f.At(2e-3); c.Force != 41 || codes(f.Warnings(2e-3)) != "" {
		t.Errorf("%+v, %q", c, codes(f.Warnings(2e-3)))
	}
	// Another rigid polymer: a warning, no column.
	f = must(t, Feeder{Points: pla, Stock: stock(t, "petg")})
	if c := f.At(2e-3); c.Force != 74 || codes(f.Warnings(2e-3)) != "points-other-polymer" {
		t.Errorf("%+v, %q", c, codes(f.Warnings(2e-3)))
	}
}

// Points of the stock's own polymer count before those of another; a change of stock chooses anew.
func TestPointsAreChosenByStock(t *testing.T) {
	all := []Point{{Speed: 2e-3, Force: 74, Material: "pla"}, {Speed: 2e-3, Force: 14, Material: "tpu"},
		{Speed: 2e-3, Force: 60}}
	f := must(t, Feeder{Points: all, Stock: stock(t, "pla")})
	for _, c := range []struct {
		id   string
		want float64
	}{{"pla", 74}, {"tpu", 14}, {"petg", 60}, {"pla", 74}} {
		var err error
		if f, err = f.With(*stock(t, c.id)); err != nil {
			t.Fatal(err)
		}
		if got := f.At(2e-3).Force; got != c.want || len(f.Points)+len(f.Unused) != 3 {
			t.Errorf("%s: %g N of %d points and %d unused, want %g", c.id, got, len(f.Points), len(f.Unused), c.want)
		}
		if !strings.Contains(codes(f.Warnings(2e-3)), "points-left-out") {
			t.Errorf("%s: points are left out without a word", c.id)
		}
	}
}

func TestWithChangesTheModelToo(t *testing.T) {
	f := must(t, Feeder{Model: &Model{Grip: &Grip{1e-6, 1, 1}, Diameter: 1.75e-3, Stock: 298.15,
		Material: stock(t, "pla").Material}})
	abs := stock(t, "abs")
	g, err := f.With(*abs)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "grip of ABS", g.At(1e-3).Force, 1e-6*abs.Material.Compressive.At(abs.Temperature)/math.Sqrt(3))
	if f.Model.Material.ID != "pla" {
		t.Error("With changed the feeder it was called on")
	}
}

func TestPointsUnderOtherConditions(t *testing.T) {
	m := testModel(t)
	s := stock(t, "pla")
	for _, c := range []struct {
		p    Point
		want string
	}{
		{Point{Stock: unit.Kelvin(39)}, ""},
		{Point{Stock: unit.Kelvin(41)}, "points-other-temperature"},
		{Point{Stock: unit.Kelvin(9)}, "points-other-temperature"},
		{Point{Current: 1.4 * 1.019}, ""},
		{Point{Current: 1.4 * 1.021}, "points-other-current"},
		{Point{Current: 1.4 * 0.97}, "points-other-current"},
		{Point{Block: unit.Kelvin(120)}, ""},
	} {
		c.p.Speed, c.p.Force, c.p.Material = 2e-3, 60, "pla"
		f := must(t, Feeder{Points: []Point{c.p}, Model: m, Stock: s})
		if got := codes(f.Warnings(2e-3)); got != c.want {
			t.Errorf("%+v: %q, want %q", c.p, got, c.want)
		}
	}
}

// The motor's own warnings come through only where the motor is what gives up.
func TestMotorWarningsComeThrough(t *testing.T) {
	m := testModel(t)
	m.Motor.Supply = 12
	fast := 30 * math.Pi * 8e-3 / 3 // 30 rev/s of the motor
	f := must(t, Feeder{Model: m})
	if got := codes(f.Warnings(fast)); !strings.Contains(got, "motor-range") {
		t.Errorf("at 1,800 rpm on 12 V: %q", got)
	}
	m.Grip = &Grip{Area: 0.01e-6, Wheels: 1, Tension: 1}
	if got := codes(must(t, Feeder{Model: m}).Warnings(5e-3)); got != "" {
		t.Errorf("where the grip gives up: %q", got)
	}
}

func TestNewListsAllThatIsWrong(t *testing.T) {
	m := testModel(t)
	m.Motor.Curve = [][2]float64{{1, 0.2}, {0.5, 0.6}}
	m.Motor.Holding, m.Drive.Efficiency = 0.4, 1.2
	m.Grip = &Grip{}
	_, err := New(Feeder{Points: []Point{{Speed: -1, Force: math.NaN(), SD: -2}}, Model: m})
	if err == nil {
		t.Fatal("accepted")
	}
	for _, want := range []string{"speed -1", "force NaN", "deviation -2", "point 2 of the curve",
		"above the holding torque", "efficiency", "grip area", "driven wheels", "idler tension"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in %v", want, err)
		}
	}
}

// The clone shares nothing that can be changed.
func TestCloneOfPointsAndStock(t *testing.T) {
	f := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 74, Material: "pla"},
		{Speed: 2e-3, Force: 14, Material: "tpu"}}, Stock: stock(t, "pla")})
	g := f.Clone()
	g.Stock.Diameter, g.Unused[0].Force = 1, 1
	if f.Stock.Diameter == 1 || f.Unused[0].Force == 1 {
		t.Error("shared")
	}
}

// Only points with repeats and a scatter tell how much single runs scatter.
func TestScatterComesFromRepeatsWithAScatter(t *testing.T) {
	known := Point{Force: 80, SD: 4, Repeats: 3}
	for _, more := range []Point{{Force: 50, SD: 5, Repeats: 1}, {Force: 50, Repeats: 4}, {Force: 50}} {
		if s := Pooled([]*Feeder{{Points: []Point{known, more}}}); s.Freedom != 2 || math.Abs(s.Share-0.05) > 1e-12 {
			t.Errorf("beside %+v: %+v", more, s)
		}
	}
	// 2 (4/80)^2 and 4 (10/50)^2 over 6 degrees of freedom, also of two feeders.
	other := Point{Force: 50, SD: 10, Repeats: 5}
	want := math.Sqrt((2*0.0025 + 4*0.04) / 6)
	for _, fs := range [][]*Feeder{{{Points: []Point{known, other}}},
		{{Points: []Point{known}}, {Points: []Point{other}}}} {
		if s := Pooled(fs); s.Freedom != 6 || math.Abs(s.Share-want) > 1e-12 {
			t.Errorf("%+v, want %g", s, want)
		}
	}
	if s := Pooled(nil); s != (Scatter{}) {
		t.Errorf("of nothing: %+v", s)
	}
}

// What is wrong with a motor is said by name; a curve that starts above nothing and rises in speed is fine.
func TestProblemsOfAMotor(t *testing.T) {
	good := func() *Motor {
		m := *testModel(t).Motor
		return &m
	}
	curve := func(points ...[2]float64) func(m *Motor) {
		return func(m *Motor) { m.Curve = points }
	}
	half := good().Holding / 2
	for what, x := range map[string]struct {
		change func(m *Motor)
		want   string
	}{
		"good":       {func(*Motor) {}, ""},
		"holding":    {func(m *Motor) { m.Holding = math.Inf(1) }, "holding torque"},
		"current":    {func(m *Motor) { m.Current = math.Inf(1) }, "set current"},
		"rated":      {func(m *Motor) { m.Rated = 0 }, "rated current"},
		"resistance": {func(m *Motor) { m.Resistance = math.Inf(1) }, "resistance"},
		"inductance": {func(m *Motor) { m.Inductance = math.NaN() }, "inductance"},
		"supply":     {func(m *Motor) { m.Supply = -24 }, "supply"},
		"iron":       {func(m *Motor) { m.IronLoss = 1 }, "iron loss"},
		"no iron":    {func(m *Motor) { m.IronLoss = 0 }, ""},
		"usable":     {func(m *Motor) { m.Usable = 1.01 }, "usable share"},
		"a curve":    {curve([2]float64{0, half}, [2]float64{5, half / 2}), ""},
		"one point":  {curve([2]float64{1, half}), ""},
		"no torque":  {curve([2]float64{0, 0}, [2]float64{5, 0}), "no torque above 0"},
		"backwards":  {curve([2]float64{5, half}, [2]float64{5, half / 2}), "point 2 of the curve"},
		"below":      {curve([2]float64{-1, half}), "point 1 of the curve"},
		"far":        {curve([2]float64{math.Inf(1), half}), "point 1 of the curve"},
		"too strong": {curve([2]float64{0, 2.2 * half}), "above the holding torque"},
		"no winding": {func(m *Motor) { m.Resistance = 0; m.Curve = [][2]float64{{0, half}} }, ""},
	} {
		m := good()
		x.change(m)
		ps := m.Problems()
		if x.want == "" && len(ps) > 0 || x.want != "" && (len(ps) != 1 || !strings.Contains(ps[0], x.want)) {
			t.Errorf("%s: %q, want %q", what, ps, x.want)
		}
	}
	// A curve of one point holds its torque at every speed.
	m := good()
	m.Curve = [][2]float64{{1, half}}
	for _, rev := range []float64{0.5, 1, 9} {
		if got := m.curve(rev); got != half {
			t.Errorf("%g rev/s: %g N m, want %g", rev, got, half)
		}
	}
}
