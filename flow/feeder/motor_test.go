package feeder_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/reference"
	"meltload/materials"
)

// Bounds of the model on the published curves of testdata/motor.
func TestMotorAgainstPublishedCurves(t *testing.T) {
	for _, c := range flowtest.Motors() {
		mean, worst, below := c.MotorError(c.Motor.Torque)
		t.Logf("%s: mean %.1f %%, worst %+.0f %%, below 1,000 rpm %+.0f %%", c.Name, 100*mean, 100*worst, 100*below)
		if mean > 0.12 || math.Abs(below) > 0.30 {
			t.Errorf("motor %s: mean error %.1f %%, worst below 1,000 rpm %+.0f %%", c.Name, 100*mean, 100*below)
		}
		// The closed form alone, T = min(p psi I, PullOut), is optimistic at every speed above the knee.
		last := c.Points[len(c.Points)-1]
		plain := c.Motor
		plain.Usable, plain.IronLoss = 1, 0
		if got := plain.Torque(last[0] / 60); got < 1.1*last[1] {
			t.Errorf("motor %s: the closed form gives %.3g N m at %.0f rpm, measured %.3g; it was expected above",
				c.Name, got, last[0], last[1])
		}
	}
}

// At low speed a microstepped motor holds p psi I with the peak current, psi from the holding torque with both
// phases on: within 5 % of the first point of every published curve. RMS in place of peak would be 29 % off.
func TestCurrentLimitIsOfThePeak(t *testing.T) {
	for _, c := range flowtest.Motors() {
		p := c.Points[0]
		if got := c.Motor.Holding * c.Motor.Current / (math.Sqrt2 * c.Motor.Rated); math.Abs(got/p[1]-1) > 0.05 {
			t.Errorf("motor %s: p psi I = %.3g N m, measured %.3g at %.0f rpm", c.Name, got, p[1], p[0])
		}
	}
}

// The joint bound of current and voltage against a search over the currents of the rotating frame.
func TestEnvelopeAgainstSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const teeth = 50
		v, r := rapid.Float64Range(8, 60).Draw(t, "V"), rapid.Float64Range(0.3, 8).Draw(t, "R")
		l, psi := rapid.Float64Range(5e-4, 1e-2).Draw(t, "L"), rapid.Float64Range(1e-3, 2e-2).Draw(t, "psi")
		i, w := rapid.Float64Range(0.2, 6).Draw(t, "I"), rapid.Float64Range(10, 8000).Draw(t, "w")
		best := 0.0
		try := func(d, q float64) {
			// u = R i + w L J i + w psi: u_d = R i_d - w L i_q, u_q = R i_q + w L i_d + w psi.
			if u := math.Hypot(r*d-w*l*q, r*q+w*l*d+w*psi); u <= v*(1+1e-9) && math.Hypot(d, q) <= i*(1+1e-9) {
				best = math.Max(best, teeth*psi*q)
			}
		}
		const n = 4000
		z := complex(r, w*l)
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / n)
			try(i*c, i*s)
			j := (complex(v*c, v*s) - complex(0, w*psi)) / z
			try(real(j), imag(j))
		}
		m := feeder.Winding{Voltage: v, Current: i, Resistance: r, Inductance: l, Flux: psi, Teeth: teeth}
		got := m.Envelope(w)
		if got < best-1e-9 || got > best+0.002*teeth*psi*math.Max(i, v/math.Hypot(r, w*l)) {
			t.Fatalf("envelope %.6g N m, search %.6g", got, best)
		}
		if upper := math.Min(teeth*psi*i, math.Max(0, reference.Winding{Voltage: v, Resistance: r, Inductance: l,
			Flux: psi, Teeth: teeth}.PullOut(w))); got > upper+1e-9 {
			t.Fatalf("envelope %.6g above the lower of the two limits, %.6g", got, upper)
		}
	})
}

func motorA() feeder.Motor { return flowtest.Motors()[0].Motor }

// A data-sheet curve at another supply: without resistance and iron loss the torque of a winding depends on voltage
// over speed alone, so that twice the supply gives the torque of the sheet at twice the speed.
func TestSheetCurveAtAnotherSupply(t *testing.T) {
	bare := motorA()
	bare.Resistance, bare.IronLoss, bare.Supply, bare.Current = 1e-9, 0, 24, 3
	sheet := bare
	sheet.CurveSupply, sheet.CurveCurrent = 24, 3
	for rev := 0.25; rev <= 40; rev += 0.25 {
		sheet.Curve = append(sheet.Curve, [2]float64{rev, bare.Torque(rev)})
	}
	for _, rev := range []float64{5, 12, 18} {
		if got, want := sheet.Torque(rev), bare.Torque(rev); math.Abs(got/want-1) > 1e-3 {
			t.Errorf("at the supply of the sheet: %.4g N m at %g rev/s, want %.4g", got, rev, want)
		}
		twice := sheet
		twice.Supply = 48
		if got, want := twice.Torque(2*rev), sheet.Torque(rev); math.Abs(got/want-1) > 1e-3 {
			t.Errorf("at twice the supply: %.4g N m at %g rev/s, want %.4g", got, 2*rev, want)
		}
	}
	if slow, fast := sheet.Torque(5), sheet.Torque(18); fast > 0.8*slow {
		t.Fatalf("the voltage does not limit at 18 rev/s: %.4g and %.4g N m", slow, fast)
	}
}

// A data-sheet curve gives itself at the current it was taken at; at another it goes with the current limit, peak
// against peak: the same as the model, not root two of it.
func TestSheetCurveAtAnotherCurrent(t *testing.T) {
	c := flowtest.Motors()[0]
	sheet := c.Motor
	for _, p := range c.Points {
		sheet.Curve = append(sheet.Curve, [2]float64{p[0] / 60, p[1]})
	}
	for _, p := range c.Points {
		if got := sheet.Torque(p[0] / 60); math.Abs(got/p[1]-1) > 0.02 {
			t.Errorf("at its own current: %.4g N m at %.0f rpm, sheet %.4g", got, p[0], p[1])
		}
	}
	if peak := sheet.CurvePeak(); math.Abs(peak/2.2-1) > 0.03 {
		t.Errorf("the sheet was taken at 2.2 A peak, from its top %.3g", peak)
	}
	for _, wound := range []bool{true, false} {
		half := sheet
		half.Current = 1.1
		if !wound {
			half.Resistance, half.Inductance, half.Supply = 0, 0, 0
		}
		// 2 rev/s is far below the knee: half the current, half the torque of p psi I.
		want := half.Holding * 1.1 / (math.Sqrt2 * half.Rated)
		if got := half.Torque(2); math.Abs(got/want-1) > 0.06 {
			t.Errorf("winding %v: half the current gives %.4g N m, p psi I is %.4g", wound, got, want)
		}
		// At 20 rev/s the voltage limits: half the current takes less than half away where the winding is known,
		// and half where it is not.
		if got := half.Torque(20) / 0.142; wound && (got < 0.55 || got > 0.95) || !wound && math.Abs(got-0.5) > 0.01 {
			t.Errorf("winding %v: at 1,200 rpm half the current gives %.3g of the sheet", wound, got)
		}
		// Beyond the end of the curve the torque falls, and a warning says so.
		if got := half.Torque(25); got > 0.142*20/25*1.001 {
			t.Errorf("winding %v: %.4g N m beyond the end of the curve", wound, got)
		}
		if !materials.Warned(half.Warnings(25), "motor-curve-end") ||
			materials.Warned(half.Warnings(20), "motor-curve-end") {
			t.Errorf("winding %v: warnings beyond the end %v, at it %v", wound, half.Warnings(25), half.Warnings(20))
		}
	}
	plain := sheet
	plain.Resistance = 0
	if got := plain.Torque(25); math.Abs(got/(0.142*20/25)-1) > 1e-9 {
		t.Errorf("beyond the end, winding not known: %.4g N m, constant power gives %.4g", got, 0.142*20/25)
	}
	if got, want := sheet.Torque(25), 0.142*c.Motor.Torque(25)/c.Motor.Torque(20); math.Abs(got/want-1) > 1e-9 ||
		got > 0.11 {
		t.Errorf("beyond the end: %.4g N m, carried by the model %.4g", got, want)
	}
	more := sheet
	more.Current = 2.8
	if got, want := more.Torque(2), sheet.Torque(2)*2.8/2.2; math.Abs(got/want-1) > 0.05 {
		t.Errorf("with the winding known, more current gives %.4g N m, want %.4g", got, want)
	}
	more.Resistance = 0
	if got := more.Torque(2); got > sheet.Torque(2)*1.001 ||
		!materials.Warned(more.Warnings(2), "motor-curve-current") {
		t.Errorf("without the winding more current gives %.4g N m of %.4g, warnings %v", got, sheet.Torque(2),
			more.Warnings(2))
	}
}

func TestMotorWarnsBeyondWhatItWasCheckedOn(t *testing.T) {
	m := motorA()
	for _, c := range []struct {
		change func(m *feeder.Motor)
		rev    float64
		want   bool
	}{
		{func(m *feeder.Motor) {}, 19.9, false},
		{func(m *feeder.Motor) {}, 20.1, true},
		{func(m *feeder.Motor) { m.Supply = 12 }, 1, false}, // the current limits: supply does not matter
		{func(m *feeder.Motor) { m.Supply = 12 }, 10, true},
		{func(m *feeder.Motor) { m.Holding = 0.1 }, 1, false},
		{func(m *feeder.Motor) { m.Holding = 0.1 }, 15, true},
	} {
		x := m
		c.change(&x)
		if got := materials.Warned(x.Warnings(c.rev), "motor-range"); got != c.want {
			t.Errorf("%g V, %g N m, %g rev/s: warned %v, want %v", x.Supply, x.Holding, c.rev, got, c.want)
		}
	}
}

// No allowed motor gives NaN, a negative torque, or more than the current limit.
func TestTorqueStaysWithinTheCurrentLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := feeder.Motor{Holding: rapid.Float64Range(0.05, 4).Draw(t, "hold"),
			Rated: rapid.Float64Range(0.2, 6).Draw(t, "rated"), Teeth: 50,
			Resistance: rapid.Float64Range(0.2, 40).Draw(t, "R"), Inductance: rapid.Float64Range(5e-4, 5e-2).Draw(t,
				"L"), Supply: rapid.Float64Range(5, 60).Draw(t, "V"),
			Usable: rapid.Float64Range(0.3, 1).Draw(t, "share"), IronLoss: rapid.Float64Range(0, 0.2).Draw(t, "iron")}
		m.Current = m.Rated * rapid.Float64Range(0.2, 1.5).Draw(t, "set")
		last := math.Inf(1)
		for rev := 0.01; rev < 60; rev *= 1.3 {
			got := m.Torque(rev)
			if limit := m.Holding * m.Current / (math.Sqrt2 * m.Rated); math.IsNaN(got) || got < 0 ||
				got > limit*(1+1e-9) {
				t.Fatalf("%g N m at %g rev/s, limit %g", got, rev, limit)
			}
			if got > last*(1+1e-9) {
				t.Fatalf("the torque rises to %g N m at %g rev/s from %g", got, rev, last)
			}
			last = got
		}
	})
}
