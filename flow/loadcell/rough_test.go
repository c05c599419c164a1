package loadcell

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// series makes a log of a rate from stretches of force: each runs from the value before to its own within a time
// constant.
type series struct {
	fs    float64
	noise float64
	rng   *rand.Rand
	at    float64
	l     Log
}

func newSeries(seed uint64, fs, noise float64) *series {
	return &series{fs: fs, noise: noise, rng: rand.New(rand.NewPCG(seed, 5))}
}

func (s *series) add(f float64) {
	s.l.Time = append(s.l.Time, float64(len(s.l.Time))/s.fs)
	s.l.Force = append(s.l.Force, f+s.noise*s.rng.NormFloat64())
}

// to goes to a force with a time constant (0: at once) for some seconds.
func (s *series) to(force, tau, seconds float64) *series {
	from := s.at
	for i := range int(math.Round(seconds * s.fs)) {
		x := float64(i+1) / s.fs
		s.at = force
		if tau > 0 {
			s.at = force + (from-force)*math.Exp(-x/tau)
		}
		s.add(s.at)
	}
	return s
}

func (s *series) ramp(force, seconds float64) *series {
	from := s.at
	n := int(math.Round(seconds * s.fs))
	for i := range n {
		s.at = from + (force-from)*float64(i+1)/float64(n)
		s.add(s.at)
	}
	return s
}

// teeth is a saw-tooth: up from (1-depth) force, and down at once.
func (s *series) teeth(force, depth, hz, seconds float64) *series {
	for i := range int(seconds * s.fs) {
		ph := math.Mod(float64(i)/s.fs*hz, 1)
		s.at = force * (1 - depth + depth*ph)
		s.add(s.at)
	}
	return s
}

func (s *series) log() *Log {
	s.l.Step, s.l.Rows = 1/s.fs, len(s.l.Time)
	l := s.l
	return &l
}

func (s *series) plus(zero func(t float64) float64) *Log {
	l := s.log()
	for i, t := range l.Time {
		l.Force[i] += zero(t)
	}
	return l
}

// The zero of a log with a short rest and a start-up plateau below the steady one: within the noise, warned, or
// refused.
func TestZeroIsNotTheStartUpPlateau(t *testing.T) {
	wrong := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 3))
		fs := []float64{5, 10, 20, 80}[seed%4]
		rest := 0.1 + 1.4*rng.Float64()
		steady := 15 + 60*rng.Float64()
		start := (0.4 + 0.4*rng.Float64()) * steady
		tare := 20 * (rng.Float64() - 0.5)
		s := newSeries(seed, fs, 0.05+0.2*rng.Float64())
		s.to(0, 0, rest).to(start, 0.2+0.6*rng.Float64(), 5+10*rng.Float64()).to(steady, 1+2*rng.Float64(),
			15+30*rng.Float64()).
			to(0, 0.3+rng.Float64(), 0.5*rng.Float64()*float64(seed%3))
		l := s.plus(func(float64) float64 { return tare })
		a, err := Analyse(l, Settings{})
		var ze *ZeroError
		switch {
		case errors.As(err, &ze):
		case err != nil:
			t.Errorf("seed %d: %v", seed, err)
		case math.Abs(a.Tare-tare) > 0.03*steady:
			wrong++
			t.Errorf("seed %d: %g Hz, rest %.2f s, zero %.2f for %.2f, steady %.1f, start %.1f", seed, fs, rest, a.Tare,
				tare, steady, start)
		case len(a.Tests) != 1 || a.Tests[0].Last == nil || math.Abs(a.Tests[0].Last.Force-steady) > 0.04*steady:
			t.Errorf("seed %d: %g Hz, steady %.1f: %+v", seed, fs, steady, a.Tests)
		case a.Tests[0].First.Force > 1.1*start+0.05*steady && a.Tests[0].First != a.Tests[0].Last &&
			start < 0.75*steady:
			t.Logf("seed %d: first plateau %.1f for %.1f, last %.1f", seed, a.Tests[0].First.Force, start, steady)
		}
	}
	if wrong > 0 {
		t.Errorf("%d of 200 zeros are wrong", wrong)
	}
}

// Many pushes on one log with a zero that warms up and drifts are as many tests, each with its force.
func TestWarmUpIsNoTest(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 4))
		fs := []float64{10, 20, 80}[seed%3]
		s := newSeries(seed, fs, 0.1+0.2*rng.Float64())
		warm := 7 * (rng.Float64() - 0.3)
		n := 2 + rng.IntN(5)
		var truth []float64
		s.to(0, 0, 5+60*rng.Float64())
		for range n {
			f := 40 + 30*rng.Float64()
			truth = append(truth, f)
			s.to(0.4*f, 0.5, 15).ramp(f, 20).to(0.3*f, 0.05, 4).to(0, 0.3, 5+30*rng.Float64())
		}
		l := s.plus(func(t float64) float64 { return 4 + warm*(1-math.Exp(-t/80)) + 0.003*t })
		a, err := Analyse(l, Settings{})
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if len(a.Tests) != n {
			t.Errorf("seed %d: %d tests for %d (warm-up %.1f N)", seed, len(a.Tests), n, warm)
			continue
		}
		for i, x := range a.Tests {
			if x.Cause != feeder.Grind || math.Abs(x.Peak-truth[i]) > 0.03*truth[i] {
				t.Errorf("seed %d test %d: %s %.1f for %.1f N: %s", seed, i+1, x.Cause, x.Peak, truth[i], x.Why)
			}
		}
	}
}

// A log of drift and noise alone holds no test.
func TestDriftAloneIsNoTest(t *testing.T) {
	for seed := range uint64(40) {
		s := newSeries(seed, 10, 0.1)
		s.to(0, 0, 600)
		l := s.plus(func(t float64) float64 { return 5 * (1 - math.Exp(-t/150)) })
		a, err := Analyse(l, Settings{})
		if err == nil {
			t.Errorf("seed %d: %d tests: %+v", seed, len(a.Tests), a.Warnings)
		}
	}
}

// Shapes one by one.
func TestShapes(t *testing.T) {
	for name, c := range map[string]struct {
		l     *Log
		want  string // of every test, joined
		force float64
		set   Settings
	}{
		"collapse to 65 %": {newSeries(1, 20, 0.3).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).to(39, 0.1,
			6).to(0, 0.3, 4).log(), "grind", 60, Settings{}},
		"collapse to 65 % at 10 Hz": {newSeries(1, 10, 0.5).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).to(39, 0.1,
			3).to(0, 0.3, 4).log(), "grind", 60, Settings{}},
		"teeth of 8 %": {newSeries(2, 80, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).teeth(60,
			0.085, 2, 6).to(0, 0.3, 4).log(), "skip", 60, Settings{}},
		"teeth of 8 % at 20 Hz": {newSeries(2, 20, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).teeth(60,
			0.085, 2, 6).to(0, 0.3, 4).log(), "skip", 60, Settings{}},
		"skipping, then grinding": {newSeries(3, 80, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).teeth(60, 0.3,
			2, 5).to(18, 0.1, 5).to(0, 0.3, 4).log(), "skip", 60, Settings{}},
		"one slip, then the failure": {newSeries(4, 80, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(45, 10).to(35, 0.02,
			0.3).ramp(60, 15).to(18, 0.1, 5).to(0, 0.3, 4).log(), "grind", 60, Settings{}},
		"contact spike and a stop": {newSeries(5, 80, 0.2).to(0, 0, 3).to(50, 0.03, 0.15).to(15, 0.05, 0.3).to(20,
			0.5, 20).to(0, 0.5, 5).log(), "stopped", 0, Settings{}},
		"contact spike and grinding": {newSeries(5, 80, 0.2).to(0, 0, 3).to(70, 0.03, 0.15).to(15, 0.05, 0.3).to(20,
			0.5, 20).ramp(60, 20).to(20, 0.1, 4).to(0, 0.5, 5).log(), "grind", 60, Settings{}},
		"a stop by its shape": {newSeries(6, 20, 0.2).to(0, 0, 3).to(30, 1, 25).to(0, 0.8, 8).log(),
			"stopped", 0, Settings{}},
		"a slow stop": {newSeries(6, 20, 0.2).to(0, 0, 3).to(30, 1, 25).to(0, 3, 25).log(), "stopped",
			0, Settings{}},
		"a stop with some left": {newSeries(6, 20, 0.2).to(0, 0, 3).to(30, 1, 25).to(3, 0.5, 4).to(0, 8,
			30).log(), "stopped", 0, Settings{}},
		"a stop from a rise": {newSeries(6, 50, 0.2).to(0, 0, 3).to(30, 1, 10).ramp(50, 20).to(0, 0.5,
			8).log(), "stopped", 0, Settings{}},
		"let go from a rise": {newSeries(6, 50, 0.2).to(0, 0, 3).to(30, 1, 10).ramp(50, 10).to(0, 0,
			8).log(), "unclear", 0, Settings{}},
		"drawn back": {newSeries(7, 20, 0.2).to(0, 0, 3).to(30, 1, 25).to(-3, 0.1, 0.5).to(0, 0.3,
			6).log(), "stopped", 0, Settings{}},
		"hold to the end":        {newSeries(8, 20, 0.2).to(0, 0, 3).to(30, 1, 25).log(), "held", 0, Settings{}},
		"ripple is no saw-tooth": {rippled(9, 0.06, 1.3), "stopped", 0, Settings{}},
		"a large slow ripple":    {rippled(9, 0.09, 0.4), "stopped", 0, Settings{}},
		"pushing counts down": {turned(newSeries(10, 20, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).to(20,
			0.1, 5).to(0, 0.3, 4).log()), "grind", 60, Settings{}},
		"pushing counts down, stated": {turned(newSeries(10, 20, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).to(20,
			0.1, 5).to(0, 0.3, 4).plus(func(float64) float64 { return 30 })), "grind", 60, Settings{Negative: 1}},
		"steps of speed": {newSeries(11, 20, 0.2).to(0, 0, 3).to(20, 0.7, 15).to(30, 0.7, 15).to(40, 0.7,
			15).to(50, 0.7, 15).to(0, 0.5, 8).log(), "stopped", 0, Settings{}},
		"steps of speed, then grinding": {newSeries(11, 20, 0.2).to(0, 0, 3).to(20, 0.7, 15).to(30, 0.7, 15).to(40, 0.7,
			15).to(12, 0.1, 5).to(0, 0.5, 8).log(), "grind", 40, Settings{}},
		"a quick push that grinds": {newSeries(12, 80, 0.3).to(0, 0, 2).ramp(60, 2.5).to(20, 0.1, 3).to(0, 0.2,
			3).log(), "grind", 60, Settings{}},
		"noisy skipping at 10 Hz": {newSeries(13, 10, 1).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).teeth(60, 0.4, 1.3,
			8).to(0, 0.3, 4).log(), "skip", 60, Settings{}},
		"slow skipping": {newSeries(13, 20, 0.2).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20).teeth(60, 0.2,
			0.4, 20).to(0, 0.3, 4).log(), "skip", 60, Settings{}},
		"less feed": {newSeries(14, 20, 0.2).to(0, 0, 3).to(40, 0.7, 15).to(20, 1.5, 15).to(0, 0.7,
			8).log(), "unclear", 0, Settings{}},
		"the heater warms the melt": {newSeries(14, 20, 0.2).to(0, 0, 3).to(40, 0.7, 15).ramp(25, 60).to(0, 0.7,
			8).log(), "stopped", 0, Settings{}},
		"fades over minutes": {newSeries(14, 10, 0.2).to(0, 0, 3).to(40, 0.7, 15).ramp(20, 200).to(0, 0.7, 8).log(),
			"stopped", 0, Settings{}},
	} {
		a, err := Analyse(c.l, c.set)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var got []string
		for _, x := range a.Tests {
			switch {
			case x.Failed():
				got = append(got, string(x.Cause))
			default:
				got = append(got, string(x.Outcome))
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: read as %s: %s %v", name, s, a.Tests[0].Why, a.Tests[0].Notes)
			continue
		}
		if x := a.Tests[0]; c.force > 0 && math.Abs(x.Peak-c.force) > 0.03*c.force {
			t.Errorf("%s: %.1f N for %.1f (%s)", name, x.Peak, c.force, x.Why)
		}
	}
}

// rippled is a hold with a sine of a share of the force.
func rippled(seed uint64, share, hz float64) *Log {
	l := newSeries(seed, 20, 0.2).to(0, 0, 3).to(40, 0.7, 40).to(0, 0.5, 8).log()
	for i, f := range l.Force {
		l.Force[i] = f * (1 + share*math.Sin(2*math.Pi*hz*l.Time[i]))
	}
	return l
}

func turned(l *Log) *Log {
	for i := range l.Force {
		l.Force[i] = -l.Force[i]
	}
	return l
}

// A flow column decides between a stop and a failure, whatever the force does.
func TestFlowColumnDecides(t *testing.T) {
	for name, c := range map[string]struct {
		off  float64 // s after the fall begins at which the flow goes to 0
		want string
	}{"stopped as the force falls": {0, "stopped"}, "stopped a little before": {-0.5, "stopped"},
		"stopped long after": {3, "grind"}} {
		l := newSeries(20, 20, 0.2).to(0, 0, 3).to(50, 0.7, 20).to(15, 0.1, 5).to(0, 0.3, 5).log()
		fall := 23.0
		for _, x := range l.Time {
			q := float32(0)
			if x >= 3 && x < fall+c.off {
				q = 5e-9
			}
			l.Flow = append(l.Flow, q)
		}
		a, err := Analyse(l, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		got := string(a.Tests[0].Outcome)
		if a.Tests[0].Failed() {
			got = string(a.Tests[0].Cause)
		}
		if got != c.want {
			t.Errorf("%s: %s: %s", name, got, a.Tests[0].Why)
		}
		if f := a.Tests[0].Flow; math.Abs(f-5e-9) > 1e-12 {
			t.Errorf("%s: flow %g", name, f)
		}
	}
}

// A ripple has a frequency within its band, an amplitude within the force, or is none.
func TestRippleStaysInItsBand(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 8))
		n := 20 + rng.IntN(400)
		x := make([]float64, n)
		walk := 0.0
		for i := range x {
			walk += rng.NormFloat64() * float64(seed%3)
			x[i] = 50 + walk + rng.NormFloat64() + float64(seed%5)*0.02*float64(i*i)/float64(n)
		}
		const fs = 12.5
		r := FindRipple(x, fs, 3)
		if r == (Ripple{}) {
			continue
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, v := range x {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		if r.Frequency < 2.5*fs/float64(n) || r.Frequency > fs/2 || r.Amplitude > hi-lo || r.Amplitude < 0 {
			t.Errorf("seed %d: %+v of %d rows from %g to %g", seed, r, n, lo, hi)
		}
	}
}

func TestStartUnderLoadIsAskedForItsZero(t *testing.T) {
	l := newSeries(30, 20, 0.2).to(40, 0, 10).ramp(60, 10).to(18, 0.1, 5).to(0, 0.3, 5).log()
	var ze *ZeroError
	if _, err := Analyse(l, Settings{}); !errors.As(err, &ze) || !strings.Contains(err.Error(), "--zero") {
		t.Errorf("%v", err)
	}
	zero := 0.0
	a, err := Analyse(l, Settings{Zero: &zero})
	if err != nil || len(a.Tests) != 1 || a.Tests[0].Cause != feeder.Grind || math.Abs(a.Tests[0].Peak-60) > 1 {
		t.Errorf("%+v %v", a, err)
	}
	_ = fmt.Sprint()
}

// Three teeth make a saw-tooth, two do not; and a tooth counts from about a fifteenth of the force.
func TestTeethThatMakeASawTooth(t *testing.T) {
	for _, c := range []struct {
		teeth int
		depth float64
		skips bool
	}{{2, 0.3, false}, {3, 0.3, true}, {4, 0.3, true}, {6, 0.3, true}, {8, 0.03, false}, {8, 0.12, true}} {
		s := newSeries(21, 40, 0.1).to(0, 0, 3).to(25, 0.5, 10).ramp(60, 20)
		for range c.teeth {
			s.to(60*(1-c.depth), 0, 0.1).ramp(60, 0.9)
		}
		a, err := Analyse(s.to(58, 0, 6).to(0, 0.5, 6).log(), Settings{})
		if err != nil || len(a.Tests) != 1 {
			t.Fatalf("%d teeth: %v, %+v", c.teeth, err, a)
		}
		if x := a.Tests[0]; (x.Cause == feeder.Skip) != c.skips {
			t.Errorf("%d teeth of %.0f %%: %s %s, %s", c.teeth, 100*c.depth, x.Outcome, x.Cause, x.Why)
		}
	}
}
