package loadcell

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/materials/unit"
)

// waves is n values of a level, a slope and cosines of so many waves a record, even about its middle, so that none of
// them looks like a slope.
func waves(n int, level, slope float64, cosines map[float64]float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		at := float64(i) - float64(n-1)/2
		x[i] = level + slope*at
		for k, amplitude := range cosines {
			x[i] += amplitude * math.Cos(2*math.Pi*k*at/float64(n))
		}
	}
	return x
}

// A cosine of whole waves a record comes back exactly: a Hann window puts nothing of it farther than one bin away. The
// band begins at as many waves as asked for, two at least, and ends below half the sampling rate.
func TestRippleByHand(t *testing.T) {
	const fs = 32.0
	burst := waves(256, 0, 0, map[float64]float64{16: 1})
	for i := range burst {
		if i < 64 || i >= 192 {
			burst[i] = 0
		}
	}
	turns := make([]float64, 256)
	for i := range turns {
		turns[i] = float64(1 - 2*(i%2))
	}
	late := make([]float64, 3*rippleRows/2)
	copy(late[rippleRows:], waves(rippleRows/2, 0, 0, map[float64]float64{1000: 1}))
	none := Ripple{}
	for _, x := range []struct {
		what   string
		x      []float64
		fs     float64
		cycles float64
		want   Ripple
	}{
		{"one line", waves(256, 5, 0.5, map[float64]float64{10: 2}), fs, 3, Ripple{10 * fs / 256, 2, 1}},
		{"of another rate", waves(256, 5, -0.5, map[float64]float64{10: 2}), 80, 3, Ripple{10 * 80.0 / 256, 2, 1}},
		{"two lines", waves(256, 5, 0.5, map[float64]float64{20: 2, 50: 1}), fs, 3, Ripple{20 * fs / 256, 2, 0.8}},
		{"the stronger below the band", waves(256, 0, 0, map[float64]float64{2: 3, 10: 1}), fs, 4,
			Ripple{10 * fs / 256, 1, 0.1}},
		{"its foot in the band", waves(256, 0, 0, map[float64]float64{2: 3, 10: 1}), fs, 3, none},
		{"the stronger in the band", waves(256, 0, 0, map[float64]float64{2: 3, 10: 1}), fs, 2,
			Ripple{2 * fs / 256, 3, 0.9}},
		{"two waves at least", waves(256, 0, 0, map[float64]float64{2: 3, 10: 1}), fs, 0,
			Ripple{2 * fs / 256, 3, 0.9}},
		{"a single wave is none", waves(256, 0, 0, map[float64]float64{1: 3}), fs, 0, none},
		{"at half the sampling rate", turns, fs, 3, none},
		{"the readings never reach its top", waves(64, 0, 0, map[float64]float64{16: 2}), fs, 3,
			Ripple{16 * fs / 64, math.Sqrt2, 0.5}},
		{"sixteen values", waves(16, 0, 0, map[float64]float64{4: 1}), fs, 3, Ripple{4 * fs / 16, math.Sqrt2 / 2,
			0.5}},
		{"fifteen", waves(15, 0, 0, map[float64]float64{4: 1}), fs, 3, none},
		{"no rate", waves(256, 5, 0.5, map[float64]float64{10: 2}), 0, 3, none},
		{"a level", waves(256, 0, 0, nil), fs, 3, none},
		{"after the longest stretch that is looked at", late, fs, 3, none},
	} {
		got := FindRipple(x.x, x.fs, x.cycles)
		if math.Abs(got.Frequency-x.want.Frequency) > 1e-9 || math.Abs(got.Amplitude-x.want.Amplitude) > 1e-3 ||
			math.Abs(got.Share-x.want.Share) > 1e-3 { // the readings may miss the top of the wave by 0.03 %
			t.Errorf("%s: %+v, want %+v", x.what, got, x.want)
		}
	}
	if got := FindRipple(burst, fs, 3); math.Abs(got.Frequency-16*fs/256) > 0.01 || got.Share != 1 ||
		math.Abs(got.Amplitude-(0.5+1/math.Pi)) > 0.01 { // the window's share of the middle half
		t.Errorf("a burst: %+v", got)
	}
	// Between bins, in a record that is filled up from 300 to 512: frequency and amplitude within a hundredth.
	for _, k := range []float64{17.3, 17.5, 17.8} {
		got := FindRipple(waves(300, 1, 0.1, map[float64]float64{k: 2}), fs, 3)
		if math.Abs(got.Frequency*300/fs-k) > 0.02 || math.Abs(got.Amplitude/2-1) > 0.02 || got.Share < 0.97 {
			t.Errorf("%g waves: %g, %+v", k, got.Frequency*300/fs, got)
		}
	}
	// 2.93 waves a record are the fifth bin of 512, 3.52 the sixth; three waves lie between.
	if got := FindRipple(waves(300, 0, 0, map[float64]float64{5 * 300.0 / 512: 1}), fs, 3); got != none {
		t.Errorf("below three waves: %+v", got)
	}
	if got := FindRipple(waves(300, 0, 0, map[float64]float64{6 * 300.0 / 512: 1}), fs, 3); got == none {
		t.Error("above three waves nothing is found")
	}
	if m, grand, se := BlockMeans([]float64{1, 3, 2, 6, 7, 8, 99}, 3); !slices.Equal(m, []float64{2, 7}) ||
		grand != 4.5 ||
		math.Abs(se-2.5) > 1e-12 {
		t.Errorf("%v, %g ± %g", m, grand, se)
	}
}

// A stretch is steady if it moves by no more than 3 % of its force, or than noise alone may tilt it, 6 % at most. It
// lasts 1.5 s, six rows and an eighth of the push at least.
func TestPlateausByHand(t *testing.T) {
	th := DefaultThresholds()
	shaken := func(a float64, p *push) *push {
		for i := range p.y {
			p.y[i] += a * float64(1-2*(i%2))
		}
		return p
	}
	slow := func(n int) *push {
		p := &push{fs: 2}
		for i := range n {
			p.t, p.y = append(p.t, float64(i)/2), append(p.y, 40)
		}
		return p
	}
	to := func(seconds, force float64) *push { return drawn([2]float64{0, 40}, [2]float64{seconds, force}) }
	late := to(40, 52) // in a log of its own time
	for i := range late.t {
		late.t[i] += 1000
	}
	for _, x := range []struct {
		what string
		p    *push
		want int
	}{
		{"late in a log", late, 1}, {"1.5 s", to(1.48, 40), 1}, {"a row less", to(1.46, 40), 0},
		{"2.98 % of its mean", to(1.48, 41.21), 1}, {"3.03 %", to(1.48, 41.23), 0},
		{"3.07 % down", to(1.48, 38.79), 0},
		{"2.95 % down", to(1.48, 38.84), 1},
		{"six rows of 2 Hz", slow(6), 1}, {"five", slow(5), 0},
		{"an eighth of 40 s that moves by 2.9 %", to(40, 52), 1}, {"by 3.1 %", to(40, 53), 0},
		// A scatter of 3 N tilts a line through 75 rows by up to 3.5 3 N sqrt(3/75) = 2.1 N.
		{"1.9 N in noise", shaken(3, to(1.48, 41.9)), 1}, {"2.3 N in noise", shaken(3, to(1.48, 42.3)), 0},
		{"1.9 N without", to(1.48, 41.9), 0},
		{"5.6 % in much noise", shaken(6, to(1.48, 42.3)), 1}, {"6.3 %", shaken(6, to(1.48, 42.6)), 0},
		{"nothing", drawn([2]float64{0, 0}, [2]float64{5, 0}), 0},
		{"two levels 2.5 % apart", drawn([2]float64{0, 40}, [2]float64{10, 40}, [2]float64{10.02, 41},
			[2]float64{20, 41}), 1},
		{"3.4 % apart", drawn([2]float64{0, 40}, [2]float64{10, 40}, [2]float64{10.02, 41.4}, [2]float64{20, 41.4}),
			2},
		// A window of 2.5 s about a peak of 60 N: what lies a half of it off is lower by d, the middle third higher by
		// d/2 than the rest; 3 % of 60 N - d/2 is d = 3.5 N, or a rise from 32 N in 10 s.
		{"a peak", drawn([2]float64{0, 10}, [2]float64{10, 60}, [2]float64{20, 10}), 0},
		{"2.9 % about a peak", drawn([2]float64{0, 33}, [2]float64{10, 60}, [2]float64{20, 33}), 1},
		{"3.1 % about a peak", drawn([2]float64{0, 31}, [2]float64{10, 60}, [2]float64{20, 31}), 0},
		{"one level, twice", drawn([2]float64{0, 40}, [2]float64{8, 40}, [2]float64{12, 80}, [2]float64{12.02, 40},
			[2]float64{20, 40}), 2},
	} {
		if got := x.p.plateaus(len(x.p.y), &th); len(got) != x.want {
			t.Errorf("%s: %+v, want %d", x.what, got, x.want)
		}
	}
	for _, x := range []struct {
		y    []float64
		want float64
	}{{[]float64{0, 1, 3, 5, 0, 0}, 3.75}, {[]float64{4, 1, 1, 4}, -3}, {[]float64{7, 1}, 0}} {
		if got := bow(x.y); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%v bows by %g, by hand %g", x.y, got, x.want)
		}
	}
	// The error is that of eight blocks of nine rows, each r = 9/74 of the way above the one before: r sqrt(8 9/12/8).
	p := to(1.48, 41.2)
	if x := p.plateaus(75, &th)[0]; x.From != 0 || x.To != p.t[74] || math.Abs(x.Force-(40+1.2*35.5/74)) > 1e-9 ||
		math.Abs(x.SE-1.2*9/74*math.Sqrt(0.75)) > 1e-9 || x.first != 0 || x.last != 75 {
		t.Errorf("%+v", x)
	}
	// Rows from the stop on are not looked at.
	p = drawn([2]float64{0, 40}, [2]float64{10, 40}, [2]float64{12, 60}, [2]float64{20, 60})
	for stop, want := range map[int][]float64{500: {40}, 1000: {40, 60}} {
		var got []float64
		for _, x := range p.plateaus(stop, &th) {
			got = append(got, math.Round(x.Force))
			if x.last > stop {
				t.Errorf("the plateau to row %d reaches beyond %d", x.last, stop)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("to row %d: %v, want %v", stop, got, want)
		}
	}
}

// A cell by hand: three forces 10 N apart, the middle reading k counts off the line through the others. The line lies
// k/3 off, the scatter is k sqrt(2/3), and the slope is known to it over sqrt(200) N.
func TestCellByHand(t *testing.T) {
	const g = 10.0
	three := func(perN, k float64) []Weight {
		return []Weight{{2, 100 + 20*perN, 0, false}, {0, 100, 0, false}, {1, 100 + 10*perN + k, 0, false}}
	}
	for _, perN := range []float64{10, -10} {
		const k = 5.0
		c, err := FitCell(three(perN, k), g)
		if err != nil {
			t.Fatal(err)
		}
		s := k * math.Sqrt(2.0/3)
		end := s * math.Sqrt(1.0/3+100.0/200)
		for what, x := range map[string][2]float64{
			"N a count": {c.PerCount, 1 / perN}, "its uncertainty": {c.UPerCount, s / math.Sqrt(200) / 100},
			"zero": {c.Zero, 100 + k/3}, "of zero": {c.UZero, end}, "span": {c.Span, 20},
			"scatter": {c.Resid, s / 10},
			"at span": {c.UAtSpan, math.Sqrt(end*end+s*s) / 10}, "bent by": {c.Check.Nonlinearity, k / (20 * perN)},
		} {
			if math.Abs(x[0]-x[1]) > 1e-9 {
				t.Errorf("%g counts per N: %s %g, want %g", perN, what, x[0], x[1])
			}
		}
		if c.HasDown {
			t.Error("nothing was read on the way down")
		}
	}
	// The slope must be ten times its uncertainty, k/sqrt(300).
	for k, bad := range map[float64]bool{17.1: false, 17.5: true} {
		if _, err := FitCell(three(10, k), g); (err != nil) != bad {
			t.Errorf("%g counts off: %v", k, err)
		}
	}
	// Readings down count as readings, and part from those up by the hysteresis.
	c, err := FitCell([]Weight{{0, 0, 0, true}, {1, 90, 130, true}, {2, 200, 200, true}}, g)
	if err != nil || !c.HasDown || math.Abs(c.PerCount-0.1) > 1e-12 || math.Abs(c.Zero-10.0/3) > 1e-9 ||
		math.Abs(c.Check.Hysteresis-0.2) > 1e-12 || math.Abs(c.Check.Nonlinearity+0.05) > 1e-12 {
		t.Errorf("%+v, %v", c, err)
	}
	if l := c.Line("x", g); l.Weights != 6 || l.Gravity != g || l.Span != 20 || l.PerCount != c.PerCount ||
		l.Zero != c.Zero || l.UZero != c.UZero || l.UPerCount != c.UPerCount {
		t.Errorf("%+v", l)
	}
	c, _ = FitCell([]Weight{{0, 0, 0, true}, {1, 99, 0, false}, {2, 200, 200, true}}, g)
	if c.HasDown || c.Line("x", g).Weights != 3 {
		t.Errorf("%+v", c)
	}
	// Up 0, 8, 20 at 0, 10, 20: off the line of its ends by -2, off the best one by 2/3, -4/3, 2/3.
	if k := CheckCell([]float64{0, 10, 20}, []float64{0, 8, 20}, []float64{0, 11, 20}); math.Abs(k.Nonlinearity+0.1) >
		1e-12 || math.Abs(k.Hysteresis-0.15) > 1e-12 || math.Abs(k.Slope-1) > 1e-12 ||
		math.Abs(k.Deviation-4.0/60) > 1e-12 {
		t.Errorf("%+v", k)
	}
	// From a load and a reading that are not 0, the other way round.
	if k := CheckCell([]float64{10, 20, 40}, []float64{90, 83, 60}, []float64{89, 82, 63}); math.Abs(k.Nonlinearity+
		0.1) > 1e-12 || math.Abs(k.Hysteresis+1.0/30) > 1e-12 && k.Hysteresis != 0 {
		t.Errorf("%+v", k)
	}
}

// Two calibrations: the change of what a count is, of the zero in N, and by how much the full span would be misread.
// What moves is told by Student's t of the fewer readings less two: 2.306 of 8, 12.706 of 1.
func TestDriftOfACellByHand(t *testing.T) {
	old := CellLine{PerCount: 0.002, UPerCount: 3e-6, Zero: 1000, UZero: 3, Weights: 12}
	now := CellLine{PerCount: 0.0021, UPerCount: 4.2e-6, Zero: 1010, UZero: 4, Span: 50, Weights: 10}
	d := DriftOf(old, now)
	for what, x := range map[string][2]float64{
		"sensitivity": {d.Sensitivity, 0.05}, "of it": {d.USensitivity, math.Sqrt(0.0015*0.0015 + 0.002*0.002)},
		"zero": {d.Zero, 0.021}, "of zero": {d.UZero, 5 * 0.0021}, // 10 and 5 counts
		"at span": {d.AtSpan, (10+50/0.0021)*0.002 - 50},
	} {
		if math.Abs(x[0]-x[1]) > 1e-12 {
			t.Errorf("%s: %g, want %g", what, x[0], x[1])
		}
	}
	down := now
	down.PerCount, old.PerCount = -now.PerCount, -old.PerCount
	if n := DriftOf(old, down); math.Abs(n.UZero-d.UZero) > 1e-12 || math.Abs(n.Zero+d.Zero) > 1e-12 {
		t.Errorf("counts that fall: %+v", n)
	}
	for _, x := range []struct {
		old, now int // readings
		by       float64
		moved    bool
	}{{12, 10, 2.29, false}, {12, 10, 2.32, true}, {10, 12, 2.29, false}, {10, 12, 2.32, true}, {10, 10, -2.29, false},
		{10, 10, -2.32, true}, {3, 99, 12.6, false}, {3, 99, 12.8, true}, {0, 99, 12.6, false}, {0, 99, 12.8, true},
		{99, 0, 12.6, false}, {4, 99, 4.2, false}, {4, 99, 4.4, true}} {
		// One count is 1 N; the zero and the sensitivity move by so many of their uncertainties.
		a := CellLine{PerCount: 1, Zero: 0, UZero: 1, Weights: x.old}
		b := CellLine{PerCount: 1 + x.by*1e-3, UPerCount: 1e-3 * (1 + x.by*1e-3), Zero: x.by, Weights: x.now}
		if got := DriftOf(a, b); got.SensitivityMoved != x.moved || got.ZeroMoved != x.moved {
			t.Errorf("%+v: %+v", x, got)
		}
	}
	for text, ok := range map[string]bool{"5": true, "0.5": true, "0": false} {
		_, err := ReadCell("c", strings.NewReader("newton_per_count = "+text+"\nzero_count = 1\n"))
		if (err == nil) != ok {
			t.Errorf("%s N a count: %v", text, err)
		}
	}
	if tomlFloat(5) != "5.0" || tomlFloat(0.25) != "0.25" || tomlFloat(1e-12) != "1e-12" {
		t.Errorf("%s, %s, %s", tomlFloat(5), tomlFloat(0.25), tomlFloat(1e-12))
	}
}

// Two means by Student's t of 4 degrees of freedom, 2.776445 at 95 %, 4.604095 at 99 % (any table): the chance of such
// a difference, its sign, and which side is better.
func TestChanceOfADifference(t *testing.T) {
	u := math.Sqrt(1.2) // of scatter 1: one push, and five
	for _, x := range []struct {
		by   float64 // in u
		p    float64
		want Verdict
	}{{2.776445, 0.05, ""}, {4.604095, 0.01, Better}, {-4.604095, 0.01, Worse}, {2.8, 0.0488, Better},
		{2.7, 0.0540, NoDifference}, {-2.7, 0.0540, NoDifference}, {0, 1, NoDifference}} {
		for _, sides := range [][2]Sample{{{Mean: 50, N: 1}, {Mean: 50 + x.by*u, SD: 1, N: 5}},
			{{Mean: 50, SD: 1, N: 5}, {Mean: 50 + x.by*u, N: 1}}} {
			d := Compare(sides[0], sides[1], 0.95)
			if math.Abs(d.P-x.p) > 1e-4 || x.want != "" && d.Verdict != x.want || math.Abs(d.Delta-x.by*u) > 1e-9 ||
				math.Abs(d.Half-2.776445*u) > 1e-5 {
				t.Errorf("%g: %+v", x.by, d)
			}
		}
	}
	if d := Compare(Sample{Mean: 5, SD: 1, N: 5}, Sample{Mean: 6, N: 0}, 0.95); d.Verdict != CannotTell || d.P != 1 ||
		d.Why != "no test on one side" {
		t.Errorf("%+v", d)
	}
	// Of another confidence: 2.131847 at 90 %.
	if d := Compare(Sample{Mean: 5, SD: 1, N: 5}, Sample{Mean: 6, N: 1}, 0.9); math.Abs(d.Half-2.131847*u) > 1e-5 {
		t.Errorf("%+v", d)
	}
	if d := Compare(Sample{Mean: 5, SD: 2, N: 1}, Sample{Mean: 6, N: 1}, 0.9); d.Verdict != CannotTell {
		t.Errorf("%+v", d)
	}
}

// Tests that failed are pooled where their flows lie within 0.5 % of the first; mean, scatter and block of each by
// hand.
func TestPooledByFlow(t *testing.T) {
	one := func(flow, peak, block float64, o Outcome, c feeder.Cause) Test {
		return Test{Flow: flow, Peak: peak, Block: block, Outcome: o, Cause: c}
	}
	gs := Pool([]Test{
		one(2e-9, 50, 480, Failed, feeder.Grind), one(1.0049e-9, 64, 500, Failed, feeder.Grind),
		one(1e-9, 60, 490, Failed, feeder.Grind), one(1.0051e-9, 70, 0, Failed, feeder.Mixed),
		one(1e-9, 99, 490, Held, ""), one(2.005e-9, 52, 0, Failed, feeder.Skip), one(0, 1, 1, Unclear, feeder.Mixed),
	}, 0.95)
	want := []Group{
		{Flow: 1e-9, Force: 62, SD: math.Sqrt(8), Half: 12.706205 * 2, N: 2, CV: math.Sqrt(8) / 62,
			Cause: feeder.Grind,
			Block: 495},
		{Flow: 1.0051e-9, Force: 70, Half: math.Inf(1), N: 1, Cause: feeder.Mixed, Unsure: true},
		{Flow: 2e-9, Force: 51, SD: math.Sqrt2, Half: 12.706205, N: 2, CV: math.Sqrt2 / 51, Cause: feeder.Mixed,
			Unsure: true},
	}
	if len(gs) != len(want) {
		t.Fatalf("%+v", gs)
	}
	near := func(a, b float64) bool { return a == b || math.Abs(a-b) < 1e-5*math.Abs(b) }
	for i, w := range want {
		g := gs[i]
		if g.Flow != w.Flow || !near(g.Force, w.Force) || !near(g.SD, w.SD) || !near(g.Half, w.Half) || g.N != w.N ||
			!near(g.CV, w.CV) || g.Cause != w.Cause || g.Unsure != w.Unsure || !near(g.Block, w.Block) ||
			len(g.Tests) != w.N {
			t.Errorf("%+v, want %+v", g, w)
		}
	}
	a := &Analysis{Groups: append(gs, Group{Force: 5})}
	for area, speed := range map[float64]float64{0: 1e-9 / unit.Disc(1.75e-3), 2e-6: 5e-4} {
		ps := a.Points(area)
		if len(ps) != 3 || !near(ps[0].Speed, speed) || ps[0].Force != gs[0].Force || ps[0].Repeats != 2 ||
			ps[0].SD != gs[0].SD || ps[2].Cause != feeder.Mixed {
			t.Errorf("area %g: %+v", area, ps)
		}
	}
}

// A flow column is doubted from 0.1 m/s of filament on, 1.75 mm thick unless its area is stated; a flow that the user
// lists and one of a switch are not.
func TestFlowsThatCannotBe(t *testing.T) {
	thick := unit.Disc(2.85e-3)
	for _, x := range []struct {
		flow, area float64
		unit       string
		listed     []float64
		warned     bool
	}{{0.099 * unit.Disc(1.75e-3), 0, "mm3/s", nil, false}, {0.101 * unit.Disc(1.75e-3), 0, "mm3/s", nil, true},
		{0.099 * thick, thick, "mm3/s", nil, false}, {0.101 * thick, thick, "mm3/s", nil, true},
		{0.2 * thick, thick, "mm3/s", []float64{1}, false}, {0.2 * thick, thick, "on/off", nil, false}} {
		a := &Analysis{Tests: []Test{{Flow: x.flow / 2}, {Flow: x.flow}, {Flow: x.flow / 3}}}
		l := &Log{Flow: []float32{1}, Format: Format{FlowUnit: x.unit}}
		a.tellSpeed(l, Settings{Area: x.area, Flows: x.listed})
		if (len(a.Warnings) == 1) != x.warned || x.warned && a.Warnings[0].Code != "flow-unit" {
			t.Errorf("%+v: %v", x, a.Warnings)
		}
		if x.warned && x.area > 0 && !strings.Contains(a.Warnings[0].Message, "up to 644 mm3/s, filament at 101 mm/s, "+
			"more than any feeder is taken to reach (100 mm/s") { // 0.101 m/s of 6.379 mm2
			t.Error(a.Warnings[0].Message)
		}
		l.Flow = nil
		b := &Analysis{Tests: a.Tests}
		if b.tellSpeed(l, Settings{Area: x.area}); len(b.Warnings) != 0 {
			t.Errorf("no flow column: %v", b.Warnings)
		}
	}
}
