package loadcell

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A reading is what the strict reader of Go makes of it, with any number of decimals, in quotes or between blanks.
func TestReadingsAreThoseOfTheStrictReader(t *testing.T) {
	digits := "1.234567890123456789"
	for n := 3; n <= len(digits); n++ {
		for _, sign := range []string{"", "-", "+"} {
			s := sign + digits[:n]
			want, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			for dress, comma := range map[string]bool{s: false, " " + s: false, s + "\t": false, "\u00a0" + s: false,
				s + "\u00a0": false, `"` + s + `"`: false, strings.Replace(s, ".", ",", 1): true} {
				if got, ok := number([]byte(dress), comma); !ok || got != want {
					t.Errorf("%q: %v, %t, want %v", dress, got, ok, want)
				}
			}
		}
	}
	for text, want := range map[string]float64{"0.5": 0.5, "123456789012345": 123456789012345, "+7": 7, "12": 12,
		strings.Repeat("1", 40): 1.111111111111111111e39, `""`: math.NaN(), " ": math.NaN(), `"5`: math.NaN(),
		"+": math.NaN(), ".": math.NaN(), "5-": math.NaN(), "1e400": math.NaN(), "2E2": 200} {
		got, ok := number([]byte(text), false)
		if ok == math.IsNaN(want) || ok && math.Abs(got/want-1) > 1e-15 {
			t.Errorf("%q: %v, %t", text, got, ok)
		}
	}
	for text, want := range map[string]float64{"1,5e1": 15, "1.5e1": math.NaN(), "1,5,1e1": math.NaN()} {
		if got, ok := number([]byte(text), true); ok == math.IsNaN(want) || ok && got != want {
			t.Errorf("%q: %v, %t", text, got, ok)
		}
	}
	for text, want := range map[string][2]string{"3g": {"3", "g"}, "13 g": {"13", "g"}, "5abcdefghijk": {"5",
		"abcdefghijk"}, "5abcdefghijkl": {"5abcdefghijkl", ""}, "4.5 mm3/s": {"4.5", "mm3/s"}, "mm3/s": {"mm3/s", ""},
		"x3 g": {"x3 g", ""}, "7": {"7", ""}, `"2 N"`: {"2", "N"}} {
		if rest, tail := suffix([]byte(text), false); string(rest) != want[0] || tail != want[1] {
			t.Errorf("%q: %q, %q", text, rest, tail)
		}
	}
	for word, want := range map[string]float64{"ON": 1, " feeding ": 1, `"yes"`: 1, "Off": 0, "idle": 0, "wait": 0} {
		if got, ok := onOff([]byte(word)); !ok || got != want {
			t.Errorf("%q: %g, %t", word, got, ok)
		}
	}
	if _, ok := onOff([]byte("maybe")); ok {
		t.Error("maybe is a word of a switch")
	}
}

// A clock time has two or three colons, five digits and fewer than 48 letters; every way to write the same two moments,
// 1.5 s apart, gives 1.5 s.
func TestClockTimesInAnyDress(t *testing.T) {
	for s, want := range map[string]bool{"7:03:12": true, "1:2:34": false, "12345:6": false, "1:1:11:11": true,
		"1:1:1:1:11": false, "10:00:00" + strings.Repeat("x", 39): true, "10:00:00" + strings.Repeat("x",
			40): false} {
		if isClock([]byte(s)) != want {
			t.Errorf("%q: %t", s, !want)
		}
	}
	for _, x := range [][2]string{
		{"2026-03-04T10:00:00Z", "2026-03-04T10:00:01.5Z"},
		{"2026-03-04T10:00:00-05:00", "2026-03-04T10:00:01.5-05:00"},
		{"2026-03-04 10:00:00", "2026-03-04 10:00:01.500"}, {"2026-03-04T10:00:00", "2026-03-04T10:00:01.5"},
		{"2026/03/04 10:00:00", "2026/03/04 10:00:01.5"}, {"04.03.2026 10:00:00", "04.03.2026 10:00:01.5"},
		{"3/4/2026 10:00:00", "3/4/2026 10:00:01.5"}, {"23/4/2026 10:00:00", "23/4/2026 10:00:01.5"},
		{"3/4/2026 10:00:00 pm", "3/4/2026 10:00:01.5 pm"}, {"23/4/2026 10:00:00 PM", "23/4/2026 10:00:01.5 PM"},
		{"2026-03-04 11:59:59 AM", "2026-03-04 12:00:00.5 PM"}, {"10:00:00", "10:00:01.5"},
		{"[10:00:00]", "'10:00:01:500'"},
		{"11:59:59.0 AM", "12:00:00.5 PM"}, {"10:00:00PM", "10:00:01.5PM"}, {"23:59:59", "00:00:00.5"},
	} {
		var c clock
		a, okA := c.seconds([]byte(x[0]))
		b, okB := c.seconds([]byte(x[1]))
		if !okA || !okB || a != 0 || math.Abs(b-1.5) > 1e-9 {
			t.Errorf("%q and %q: %g s, %t, %g s, %t", x[0], x[1], a, okA, b, okB)
		}
	}
	// Half a day back is midnight, less a clock set back; with a date it is never midnight.
	for _, x := range []struct {
		a, b string
		want float64
	}{{"20:00:00", "08:00:01", -43199}, {"20:00:00", "07:59:59", 43199},
		{"2026-01-02 20:00:00", "2026-01-02 07:59:59", -43201}} {
		var c clock
		c.seconds([]byte(x.a))
		if got, _ := c.seconds([]byte(x.b)); got != x.want {
			t.Errorf("%s, %s: %g s, want %g", x.a, x.b, got, x.want)
		}
	}
	var c clock
	if _, ok := c.seconds(nil); ok {
		t.Error("nothing is a time of day")
	}
	c.seconds([]byte("10:00:00"))
	if _, ok := c.seconds([]byte("25:00:00")); ok {
		t.Error("25 h is a time of day")
	}
	if got, ok := c.seconds([]byte("10:00:02")); !ok || got != 2 {
		t.Errorf("after a bad one: %g, %t", got, ok)
	}
}

// What decides the unit of a time column without one, at both sides of every limit.
func TestUnitOfTimeByItsLimits(t *testing.T) {
	const s, ms, us, ns, day, count, us2000, ms2, none = "s the size of seconds", "ms the size of", "us the size of",
		"ns the size of", "day the size", "sample whole", "us whole", "ms whole", "s no unit"
	for _, x := range []struct {
		t0, step float64
		sheet    bool
		want     string
	}{
		{1.01e9, 0.1, false, s}, {0.99e9, 0.1, false, none}, {4.09e9, 0.1, false, s}, {4.11e9, 0.1, false, none},
		{1.5e9, 59.5, false, s}, {1.5e9, 60.5, false, none},
		{1.01e12, 100, false, ms}, {0.99e12, 100, false, ms2}, {4.09e12, 100, false, ms}, {4.11e12, 100, false, ms2},
		{1.5e12, 59e3, false, ms}, {1.5e12, 61e3, false, us2000},
		{1.01e15, 1e5, false, us}, {0.99e15, 1e5, false, us2000}, {4.09e15, 1e5, false, us},
		{1.5e15, 61e6, false, us2000},
		{1.01e18, 1e8, false, ns}, {0.99e18, 1e8, false, us2000}, {1.5e18, 61e9, false, us2000},
		{20001.5, 59.0 / 86400, true, day}, {19999.5, 59.0 / 86400, true, none}, {89999, 59.0 / 86400, true, day},
		{90001, 59.0 / 86400, true, none}, {46000.5, 61.0 / 86400, true, none}, {46000.5, 59.0 / 86400, false, none},
		{46000, 1.0 / 86400, true, day}, {46000, 0, true, none},
		{0, 1, false, count}, {7, 1, false, count}, {0, 2, false, ms2}, {0, 2000, false, ms2},
		{0, 2001, false, us2000},
		{0.5, 2, false, none}, {0.5, 3000, false, none}, {0.5, 1, false, none},
	} {
		var col []float64
		for i := range 20 {
			col = append(col, x.t0+float64(i)*x.step)
		}
		if name, why := guessTime(col, x.step, x.sheet); !strings.HasPrefix(name+" "+why, x.want) {
			t.Errorf("from %g in steps of %g: %s %s, want %s", x.t0, x.step, name, why, x.want)
		}
	}
	// A thousand rows are looked at.
	for at, want := range map[int]string{999: "s", 1000: "ms"} {
		var col []float64
		for i := range 1100 {
			col = append(col, float64(10*i))
		}
		col[at] += 0.5
		if name, _ := guessTime(col, 10, false); name != want {
			t.Errorf("a part of one in row %d: %s, want %s", at, name, want)
		}
	}
}

// Rows that share a stamp are spread where six of ten share it with the row before: over the way to the next stamp if
// that is less than three stamps away, else at the usual rate.
func TestStampsAreSpreadByHand(t *testing.T) {
	col := func(stamps ...[2]float64) (x []float64) { // stamp and number of rows
		for _, s := range stamps {
			x = append(x, slices.Repeat([]float64{s[0]}, int(s[1]))...)
		}
		return x
	}
	for _, x := range []struct {
		what string
		in   []float64
		want []float64 // nil: left as it is
	}{
		{"12 of 20", col([2]float64{0, 2}, [2]float64{1, 3}, [2]float64{2, 2}, [2]float64{3, 3}, [2]float64{4, 2},
			[2]float64{5, 3}, [2]float64{6, 2}, [2]float64{7, 3}),
			[]float64{1 - 2.0/3, 1 - 1.0/3, 1, 4.0 / 3, 5.0 / 3, 2, 2.5, 3, 10.0 / 3, 11.0 / 3, 4, 4.5, 5, 16.0 / 3,
				17.0 / 3, 6, 6.5, 7, 22.0 / 3, 23.0 / 3}},
		{"11 of 20", col([2]float64{0, 2}, [2]float64{1, 3}, [2]float64{2, 2}, [2]float64{3, 3}, [2]float64{4, 2},
			[2]float64{5, 3}, [2]float64{6, 2}, [2]float64{7, 2}, [2]float64{8, 1}), nil},
		{"a gap of two stamps, and of three", col([2]float64{0, 4}, [2]float64{1, 4}, [2]float64{2, 4}, [2]float64{3,
			4},
			[2]float64{5, 4}, [2]float64{8, 4}),
			[]float64{0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3, 3.5, 4, 4.5, 5, 5.25, 5.5, 5.75, 8,
				8.25, 8.5, 8.75}},
		{"a clock that falls back", col([2]float64{5, 4}, [2]float64{6, 4}, [2]float64{7, 4}, [2]float64{1, 4},
			[2]float64{2, 4}),
			[]float64{5, 5.25, 5.5, 5.75, 6, 6.25, 6.5, 6.75, 7, 7.25, 7.5, 7.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 2.5,
				2.75}},
		{"one stamp", col([2]float64{3, 9}), nil}, {"no stamp twice", col([2]float64{3, 1}, [2]float64{4, 1}), nil},
	} {
		got := slices.Clone(x.in)
		gap := spread(got)
		if x.want == nil {
			if x.want = x.in; gap != 0 {
				t.Errorf("%s: stamps %g s apart", x.what, gap)
			}
		} else if gap != 1 {
			t.Errorf("%s: stamps %g s apart, want 1", x.what, gap)
		}
		for i, w := range x.want {
			if math.Abs(got[i]-w) > 1e-9 {
				t.Errorf("%s: row %d at %g s, want %g", x.what, i, got[i], w)
			}
		}
	}
	// The middle of the first 10001 steps; the mean of those of three usual ones at most.
	long := []float64{0}
	for i := range 15000 {
		long = append(long, long[i]+map[bool]float64{true: 1, false: 2}[i < 5001])
	}
	if got := medianStep(long); got != 1 {
		t.Errorf("middle step %g", got)
	}
	if got := medianStep([]float64{4, 4, 4}); got != 0 {
		t.Errorf("middle step %g of one stamp", got)
	}
	for d, want := range map[float64]float64{0.0599: 0.03995, 0.061: 0.02} {
		if got := meanStep([]float64{0, 0.02, 0.02 + d}, 0.02); math.Abs(got-want) > 1e-9 {
			t.Errorf("a step of %g: mean %g, want %g", d, got, want)
		}
	}
	if got := meanStep([]float64{1, 1, 1}, 0.02); got != 0.02 {
		t.Errorf("mean step %g of one stamp", got)
	}
	// More than three steps are a gap. A stated rate is not measured anew.
	for d, gaps := range map[float64]int{0.29: 0, 0.31: 1} {
		for unit, step := range map[string]float64{"sample": 0.1, "s": 0} {
			l := &Log{Time: []float64{5, 5.1, 5.1 + d}, Force: []float64{1, 1, 1}, Format: Format{TimeUnit: unit}}
			l.base(&lineMap{}, 1, 0.1)
			if step == 0 {
				step = []float64{(0.1 + d) / 2, 0.1}[gaps]
			}
			if l.Gaps.Count != gaps || math.Abs(l.Step-step) > 1e-9 {
				t.Errorf("%g s: %d gaps, step %g, want %g", d, l.Gaps.Count, l.Step, step)
			}
		}
	}
	// The same time with another force is a row of its own.
	l := &Log{Time: []float64{0, 1, 1, 2}, Force: []float64{1, 1, 2, 2}}
	if l.base(&lineMap{}, 1, 1); len(l.Time) != 4 || l.Faults() != (Counted{}) {
		t.Errorf("%v, %+v", l.Time, l.Faults())
	}
}

// Headers part into name and unit however they are written.
func TestHeadersPartIntoNameAndUnit(t *testing.T) {
	for h, want := range map[string][2]string{
		"F [N]": {"F", "N"}, "T {°C}": {"T", "degC"}, "x <mm>": {"x", "mm"}, "x ()": {"x ()", ""},
		"load (raw) [kg]": {"load (raw)", "kgf"}, "force (left) N": {"force", "N"},
		"force (left": {"force (left", ""},
		"N":           {"", "N"}, "ms": {"", "ms"}, "s": {"", "s"}, "F": {"F", ""}, "K": {"K", ""}, "v": {"v", ""},
		"m": {"m", ""},
		"h": {"h", ""}, "g": {"", "gf"}, "kg": {"", "kgf"}, "degF": {"", "degF"},
		"flow_mm3_s": {"flow", "mm3/s"}, "flow mm_3_s": {"flow", "mm3/s"}, "feed mm s": {"feed", "mm/s"},
		"torque N m": {"torque", "N.m"}, "weight g": {"weight", "gf"}, "a,b;kN": {"a b", "kN"}, "x:mN": {"x", "mN"},
		"F/N": {"F", "N"}, "load.kgf": {"load", "kgf"}, "load-kgf": {"load", "kgf"}, "/N": {"/N", ""},
		"forceN": {"force", "N"}, "timeMs": {"time", "ms"}, "left forceLbf": {"left force", "lbf"},
		"plain": {"plain", ""},
		`"t s"`: {"t", "s"}, "push force gauge": {"push force gauge", ""}, "MN": {"", "MN"},
	} {
		if name, u, _ := splitHeader(h); name != want[0] || u != want[1] {
			t.Errorf("%q: %q in %q, want %q", h, name, u, want)
		}
	}
	for s, want := range map[string][]string{"timeMs": {"time", "ms"}, "zZ top": {"z", "z", "top"}, "ADC2": {"adc2"},
		"aA": {"a", "a"}, "a1B": {"a1b"}, "Größe_x": {"größe", "x"}, "t-0/9`{": {"t", "0", "9"},
		"AbZ": {"ab", "z"}} {
		if got := words(s); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
	for name, want := range map[string]bool{"force": true, "force12": true, "2force": false, "t1": false,
		"forces": false,
		"load2":  true, "t": true} {
		c := column{words: words(name)}
		if got := c.has([]string{"force", "load", "t"}); got != want {
			t.Errorf("%q: %t", name, got)
		}
	}
}

// What speaks for a column being the time: a clock or a unit under a name of time most, a column that only rises least.
func TestWhatSpeaksForTime(t *testing.T) {
	col := func(header string, change ...func(c *column)) *column {
		c := &column{header: header, numeric: true}
		c.name, c.unit, c.dim = splitHeader(header)
		c.words = words(c.name + " " + header)
		for _, f := range change {
			f(c)
		}
		return c
	}
	clock := func(c *column) { c.clock, c.numeric = true, false }
	text := func(c *column) { c.numeric = false }
	rising := func(c *column) { c.rising = true }
	two, one := &layout{cols: make([]column, 2)}, &layout{cols: make([]column, 1)}
	for _, x := range []struct {
		c    *column
		l    *layout
		want int
	}{
		{col("time", clock), two, 9}, {col("stamp", clock), two, 4}, {col("dwell time", clock), two, 4},
		{col("time", text), two, 0}, {col("time (s)"), two, 8}, {col("dwell time (s)"), two, 0},
		{col("x (s)"), two, 6}, {col("s"), two, 6}, {col("lag s"), two, 0}, {col("pressure (s)"), two, 0},
		{col("time"), two, 7}, {col("t"), two, 7}, {col("time lag"), two, 0}, {col("time (N)"), two, 0},
		{col("sample"), two, 3}, {col("sample time"), two, 3}, {col("n"), two, 3}, {col("sample rate"), two, 0},
		{col("index (N)"), two, 0}, {col("x"), two, 0}, {col("x", rising), two, 0},
		{col("", rising), two, 2}, {col("", rising), one, 0}, {col(""), two, 0},
	} {
		if got, why := x.l.scoreTime(x.c); got != x.want || (why != "") != (got > 0) {
			t.Errorf("%q %+v: %d (%s), want %d", x.c.header, x.c, got, why, x.want)
		}
	}
	flag := func(c *column) { c.flag = true }
	still := func(c *column) { c.still = true }
	under := func(unit string) func(c *column) { // in a row of units
		return func(c *column) { c.unit, c.dim = unitOf(unit) }
	}
	l := two
	for _, x := range []struct {
		c           *column
		flow, block int
	}{
		{col("q", under("mm3/min")), 7, 0}, {col("q (ml/min)"), 7, 0}, {col("q (mm/min)"), 5, 0},
		{col("q", under("mm3/s")), 7, 0}, {col("actual q", under("mm3/s")), 6, 0}, {col("q (mm3/s)"), 9, 0},
		{col("actual q (mm/s)"), 4, 0}, {col("feed (mm/s)", text), 0, 0}, {col("q (mm3/s)", text), 0, 0},
		{col("measured feed"), 2, 0}, {col("volumetric"), 4, 0}, {col("flow", text), 0, 0}, {col("", flag), 0, 0},
		{col("motor", flag), 2, 0}, {col("running", text, flag), 2, 0}, {col("feed (V)", flag), 2, 0},
		{col("feed (s)", flag), 0, 0}, {col("other", flag), 0, 0}, {col("speed", still), 0, 0},
		{col("speed", text), 0, 0},
		{col("x (degC)"), 0, 5}, {col("nozzle", text), 0, 0}, {col("hotend time"), 0, 0}, {col("block force"), 0, 0},
		{col("nozzle (s)"), 0, 0}, {col("temp (K)"), 0, 8}, {col("hot end (degC)"), 0, 9},
		{col("motor (degC)"), 0, 0},
	} {
		flow, _ := l.scoreFlow(x.c)
		block, _ := l.scoreBlock(x.c)
		if flow != x.flow || block != x.block {
			t.Errorf("%q: flow %d, block %d; want %d, %d", x.c.header, flow, block, x.flow, x.block)
		}
	}
	for _, x := range []struct {
		c    *column
		want int
	}{{col("load (raw)"), 6}, {col("x (raw)"), 4}, {col("load (mm)"), 0}, {col("load (s)"), 0}, {col("load (degC)"), 0},
		{col("load (mm/s)"), 0}, {col("load", clock), 0}, {col("x", text), 0}, {col("x (N)", text), 7},
		{col("position force (N)"), 9}, {col("load level"), 0}, {col("position (N)"), 0}, {col("torque load (N)"), 0},
		{col("channel"), 3}} {
		if got, _ := l.forceScore(x.c); got != x.want {
			t.Errorf("%q: force %d, want %d", x.c.header, got, x.want)
		}
	}
}

// Which column is the force where several could be: a unit of force decides, or the one name of a force; of readings of
// unknown kind two may stand side by side if one is the likelier.
func TestTheForceAmongSeveral(t *testing.T) {
	for header, want := range map[string]struct {
		at   int // -1 refused
		note string
	}{
		"time s,push (N)": {1, ""}, "time s,x (N),load": {1, ""}, "time s,load (N),thrust (N)": {1, "both look like"},
		"time s,x (N),load (kg)": {2, ""}, "time s,load,other": {1, "taken as the force by its name"},
		"time s,other,load": {2, "taken as"}, "time s,load,value": {1, "taken as"},
		"time s,load,value,data": {-1, ""},
		"time s,load,a1,b1":      {1, "taken as"}, "time s,adc,other": {1, "taken as"}, "time s,adc,a1,b1": {-1, ""},
		"time s,a1,b1": {-1, ""}, "time s,a1": {1, ""}, "time s,value,other": {1, "taken as"},
		"time s,load,force":            {-1, ""},
		"time s,load (raw),other,more": {1, "taken as"}, "time s,torque,speed": {-1, ""},
	} {
		l := &layout{}
		for _, h := range strings.Split(header, ",") {
			c := column{header: h, numeric: true}
			c.name, c.unit, c.dim = splitHeader(h)
			c.words = words(c.name + " " + h)
			l.cols = append(l.cols, c)
		}
		err := l.choose(&Format{})
		notes := strings.Join(l.notes, ";")
		if (err != nil) != (want.at < 0) || err == nil && l.force.at != want.at || (notes != "") != (want.note != "") ||
			!strings.Contains(notes, want.note) || err == nil && l.time.at != 0 {
			t.Errorf("%s: force in column %d, %q, %v", header, l.force.at, notes, err)
		}
		if header == "time s,adc,a1,b1" && !strings.Contains(err.Error(),
			`3 columns that could be it: 2 "adc", 3 "a1", 4`) {
			t.Error(err)
		}
	}
	// A column is stated by its number from 1, its header or its name; one that has a role is not taken for another.
	l := &layout{cols: []column{{header: "Push (N)", name: "Push"}, {header: "t"}, {header: ""}}}
	for want, at := range map[string]int{"1": 0, "3": 2, "push (n)": 0, "PUSH": 0, "T": 1, "": -1, "4": -2, "0": -2,
		"q": -2} {
		c, named, err := l.stated("force column", want)
		if named != (want != "") || (err != nil) != (at == -2) || err == nil && c.at != at {
			t.Errorf("%q: column %d, %t, %v", want, c.at, named, err)
		}
	}
	if _, _, err := (&layout{cols: make([]column, 2)}).stated("force column", "x"); err == nil ||
		!strings.Contains(err.Error(), "number from 1 to 2") {
		t.Errorf("%v", err)
	}
	l = &layout{time: choice{at: 0}, force: choice{at: 1}, temp: choice{at: 2}, flow: choice{at: 3}}
	for i, want := range []bool{true, true, true, true, false} {
		if l.taken(i) != want {
			t.Errorf("column %d is taken: %t", i, !want)
		}
	}
	l = &layout{cols: make([]column, 3), time: choice{at: 0}, force: choice{at: -1}, temp: choice{at: -1},
		flow: choice{at: -1}}
	for i, scores := range [][]int{{9, 2, 2}, {9, 2, 3}, {9, 0, 0}} {
		k := -1
		got := l.pick(func(*column) (int, string) { k++; return scores[k+1], "" })
		if want := []int{1, 2, -1}[i]; got.at != want {
			t.Errorf("scores %v: column %d, want %d", scores, got.at, want)
		}
	}
	if label(nil, 2) != "3" || label([]column{{header: "x"}}, 0) != `1 "x"` {
		t.Errorf("%s, %s", label(nil, 2), label([]column{{header: "x"}}, 0))
	}
}

// Pairs of names and values, whatever stands between them; a comma between digits is a decimal sign.
func TestPairsOfALine(t *testing.T) {
	for row, want := range map[string]string{
		"t:0.1 force:23.4": "t=0.1|force=23.4", "F=12.3 g; T=215": "F=12.3 g|T=215", "F=1,5 g, T=3": "F=1,5 g|T=3",
		"a=1,b=2": "a=1|b=2", "a=1, b=2,": "a=1|b=2", "a=,5": "a=", "a=5,": "a=5", "{a:1|b:2": "a=1|b=2",
		"a=1\tb=2": "a=1|b=2",
		"a=1 b =2": "a=1|b=2", "at: 12:03:44.1 F=2": "at=12:03:44.1|F=2", "at: 12:03:44.1": "at=12:03:44.1",
		"5=3": "", "=3": "", "a,b=3": "", "none": "", strings.Repeat("k", 40) + "=1": strings.Repeat("k", 40) + "=1",
		strings.Repeat("k", 41) + "=1": "", "_x=1": "_x=1", "Zz=1": "Zz=1", "é=1": "é=1", "a = 1": "a=1",
		"a=x5,6": "a=x5,6",
		"a=5,x":  "a=5", "push force=2": "push force=2",
	} {
		var got []string
		for rest := []byte(row); ; {
			key, value, more, ok := cutPair(rest)
			if !ok {
				break
			}
			got = append(got, string(key)+"="+string(value))
			rest = more
		}
		if s := strings.Join(got, "|"); s != want {
			t.Errorf("%q: %s, want %s", row, s, want)
		}
	}
	for c, want := range map[byte]bool{'a': true, 'z': true, 'A': true, 'Z': true, '_': true, 200: true, '5': false,
		'`': false, '{': false, '@': false, '[': false, ' ': false} {
		if letter(c) != want {
			t.Errorf("%q is a letter: %t", c, !want)
		}
	}
	for c, want := range map[byte]bool{'0': true, '9': true, '/': false, ':': false} {
		if digit(c) != want {
			t.Errorf("%q is a digit: %t", c, !want)
		}
	}
	split := func(s splitter, row string, room int) string {
		out := make([][]byte, room)
		n := s.split([]byte(row), out)
		return fmt.Sprintf("%d %s", n, bytes.Join(out[:n], []byte("|")))
	}
	for _, x := range []struct {
		s    splitter
		row  string
		room int
		want string
	}{
		{pairs{[]string{"a", "b"}}, "b=2 a=1 c=3", 9, "2 1|2"}, {pairs{[]string{"a", "b"}}, "b=2", 9, "2 |2"},
		{pairs{[]string{"a", "b"}}, "c=2", 9, "0 "}, {pairs{[]string{"a", "b"}}, "a=1 b=2", 1, "1 1"},
		{table{','}, "1,,3,", 9, "4 1||3|"}, {table{','}, "1,2,3", 2, "2 1|2"}, {table{','}, "", 9, "1 "},
		{table{' '}, "  1 \t 2 3 ", 9, "3 1|2|3"}, {table{' '}, "1 2 3", 2, "2 1|2"}, {table{' '}, " ", 9, "0 "},
		{table{','}, `"a,b",2,"c"`, 9, `3 "a,b"|2|"c"`}, {table{','}, `"a",2,3`, 2, `2 "a"|2`}, {table{';'}, `"a;`, 9,
			`1 "a;`},
		{arrow{table{','}}, "10:00:01.5 -> 1,2", 9, "3 10:00:01.5|1|2"}, {arrow{table{','}}, "x -> 1,2", 9, "0 "},
		{object{[]string{"a", "b", "c", "d"}}, `{"d":[1],"c":true,"b":"x","a":1.5}`, 9, "4 1.5|x|true|"},
		{object{[]string{"c"}}, `[{"c":false}],`, 9, "1 false"}, {object{[]string{"a"}}, "nothing", 9, "0 "},
		{object{[]string{"a", "b"}}, `{"a":1,"b":2}`, 1, "1 1"},
		{object{[]string{"p q r s"}}, `{"p":{"q":{"r":{"s":7}}}}`, 9, "1 7"},
		{object{[]string{"p q r s t"}}, `{"p":{"q":{"r":{"s":{"t":7}}}}}`, 9, "1 "},
	} {
		if got := split(x.s, x.row, x.room); got != x.want {
			t.Errorf("%T %q: %q, want %q", x.s, x.row, got, x.want)
		}
	}
	if got := objectKeys([]byte(`{"z":1,"m":{"b":2,"a":3},"c":4}`)); strings.Join(got, ",") != "z,m b,m a,c" {
		t.Errorf("%q", got)
	}
	if got := objectKeys([]byte(`{"p":{"v":1},"a":{"v":2}}`)); strings.Join(got, ",") != "a v,p v" { // of one name
		t.Errorf("%q", got)
	}
	if got := keysOf([]byte("b=1 a=2 5=3")); strings.Join(got, ",") != "b,a" {
		t.Errorf("%q", got)
	}
}
