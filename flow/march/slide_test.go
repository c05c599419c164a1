package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials"
	"meltload/materials/unit"
)

// crystalline is a row of the heated finite-element table with stock that melts at 140 degC.
func crystalline(row int) (c *flow.Case, block, q float64) {
	c, block, q = flowtest.Heated(flowtest.Table("fem_heated.csv")[row])
	m := *c.Material
	m.Viscosity.MeltLow, m.Viscosity.MeltHigh = unit.Kelvin(139), unit.Kelvin(141)
	c.Material = &m
	return c, block, q
}

// The surface of sliding stock follows a half-space under a surface conductance:
// (Ts - T0)/(Tw - T0) = 1 - exp(b^2) erfc(b), b = h sqrt(alpha t)/k (Carslaw and Jaeger 1959, sec. 2.7 eq. 1; from memory),
// while the heat has not reached far in (0.012 of the radius here).
func TestSlidesUntilTheSurfaceMelts(t *testing.T) {
	const h, q = 20000.0, 10e-9
	c, T, _ := crystalline(12)
	m := c.Material
	alpha := m.Conductivity.At(400) / (m.Density.Solid * m.Heat.Cp.At(400))
	for i := range c.HotEnd.Sections {
		c.HotEnd.Sections[i].H = h
	}
	want := (m.FlowPoint() - c.Filament.Inlet) / (T - c.Filament.Inlet)
	lo, hi := 0.0, 10.0
	for range 60 {
		if b := (lo + hi) / 2; 1-math.Exp(b*b)*math.Erfc(b) < want {
			lo = b
		} else {
			hi = b
		}
	}
	b := lo * m.Conductivity.At(400) / h
	speed := q / (math.Pi / 4 * c.HotEnd.Sections[0].D1 * c.HotEnd.Sections[0].D1)
	z := b * b / alpha * speed
	var d flow.Solution
	for _, r := range []struct {
		cells int
		rel   float64
	}{{march.DefaultCells, 0.08}, {64, 0.025}} { // the layer is a third of a default cell deep
		march.New(c, march.Options{Cells: r.cells}).Solve(T, q, &d)
		if e := d.Slide/z - 1; math.Abs(e) > r.rel {
			t.Errorf("%d cells: slides %.2f um, half-space %.2f um (%+.1f %%)", r.cells, d.Slide*1e6, z*1e6, 100*e)
		}
	}
}

// Perfect contact holds the stock from the inlet: nothing slides, whether it may or not.
func TestPerfectContactDoesNotSlide(t *testing.T) {
	c, T, q := crystalline(3)
	var a, b flow.Solution
	march.New(c, march.Options{}).Solve(T, q, &a)
	march.New(c, march.Options{Stick: true}).Solve(T, q, &b)
	if a.Slide != 0 || a.Pressure != b.Pressure {
		t.Errorf("slides %g m, %g and %g Pa", a.Slide, a.Pressure, b.Pressure)
	}
}

// Stock that the wall cannot melt slides as far as the cone and must be forced through it.
func TestColdBlock(t *testing.T) {
	c, _, q := crystalline(12)
	var d, hot flow.Solution
	s := march.New(c, march.Options{})
	s.Solve(unit.Kelvin(210), q, &hot)
	if err := s.Solve(unit.Kelvin(60), q, &d); err != nil {
		t.Fatal(err)
	}
	if d.Slide != c.HotEnd.Sections[0].Length || d.Sections[0].Drop != 0 {
		t.Errorf("slides %g mm and loses %g Pa on the way", d.Slide*1e3, d.Sections[0].Drop)
	}
	if !(d.Pressure > 2*hot.Pressure) || math.IsInf(d.Pressure, 0) {
		t.Errorf("%g MPa cold, %g MPa hot", d.Pressure/1e6, hot.Pressure/1e6)
	}
}

// Without the drawing of the core the load does not hang on the number that stands for unmelted stock: a hundredfold
// cap moves it by a few per cent. Held to the wall, the same stock makes the load follow the cap.
func TestSlidingStockDoesNotHangOnTheCap(t *testing.T) {
	load := func(limit float64, opt march.Options) float64 {
		m, _ := materials.Get("pa66")
		m.Viscosity.Cap = limit
		c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, 1000), unit.Kelvin(25))
		opt.NoElong = true
		var d flow.Solution
		march.New(c, opt).Solve(unit.Kelvin(280), 3e-9, &d)
		return d.Pressure
	}
	if r := load(1e8, march.Options{}) / load(1e6, march.Options{}); math.Abs(r-1) > 0.05 {
		t.Errorf("sliding, a hundredfold cap changes the load by the factor %.3f", r)
	}
	if r := load(1e8, march.Options{Stick: true}) / load(1e6, march.Options{Stick: true}); r < 1.5 {
		t.Errorf("held, a hundredfold cap changes the load by the factor %.3f only", r)
	}
}

// Stock that slides in time: stations move as the soaked melt gives way to cold stock, the balance closes at every step, and a long
// series ends in the steady solution.
func TestUnsteadySlidingEndsInSteady(t *testing.T) {
	for _, id := range []string{"pa66", "pom", "pp"} {
		m, _ := materials.Get(id)
		c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, 1500), unit.Kelvin(25))
		T, q := (m.Window[0]+m.Window[1])/2, 5e-9
		s := march.New(c, march.Options{})
		var steady, d flow.Solution
		s.Solve(T, q, &steady)
		s.Soak(T)
		worst, slid := 0.0, 0.0
		for range 800 {
			if err := s.Advance(T, q, steady.Residence/8, &d); err != nil {
				t.Fatal(err)
			}
			worst = math.Max(worst, d.Stats.HeatBalance)
			if d.Slide < slid-0.02e-3 {
				t.Errorf("%s: the sliding length falls from %.3f to %.3f mm under steady feed", id, slid*1e3, d.Slide*1e3)
			}
			slid = d.Slide
		}
		if e := d.Pressure/steady.Pressure - 1; math.Abs(e) > 0.01 {
			t.Errorf("%s: unsteady limit off by %+.2f %%", id, 100*e)
		}
		if e := d.Slide - steady.Slide; math.Abs(e) > 0.02*steady.Slide {
			t.Errorf("%s: slides %.3f mm, steady %.3f mm", id, d.Slide*1e3, steady.Slide*1e3)
		}
		if worst > 1e-6 {
			t.Errorf("%s: heat balance with storage closes to %.1e", id, worst)
		}
	}
}

// On poor contact much of the load of stock that softens by degrees is spent before its surface has reached the flow point: the result says so.
func TestStiffSurfaceIsToldOf(t *testing.T) {
	m, _ := materials.Get("pc")
	for h, want := range map[float64]bool{500: true, 3000: false} {
		c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, h), unit.Kelvin(25))
		var d flow.Solution
		march.New(c, march.Options{}).Solve(unit.Kelvin(290), 5e-9, &d)
		told := false
		for _, w := range c.Warnings(&d) {
			told = told || w.Code == "stiff-surface"
		}
		if told != want || d.BelowFlowPoint > d.Pressure {
			t.Errorf("h %g: %.0f %% of the load on a stiff surface, told %v", h, 100*d.BelowFlowPoint/d.Pressure, told)
		}
	}
}

// Every library material on poor and good contact: the default resolution is within 1 % (and a hundredth of a megapascal) of a
// fine one, and within 2 % where the core enters the cone unmelted, as far as the wall has melted the surface.
func TestGridConvergenceOverTheLibrary(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	worst := 0.0
	for _, id := range materials.Names() {
		m, _ := materials.Get(id)
		for _, h := range []float64{500, 1000, 3000, 10000} {
			c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, h), unit.Kelvin(25))
			s, fine := march.New(c, march.Options{}), march.New(c, march.Options{Cells: 64, Axial: 6})
			var a, b flow.Solution
			for _, q := range []float64{1e-9, 5e-9, 15e-9} {
				block := (m.Window[0] + m.Window[1]) / 2
				s.Solve(block, q, &a)
				fine.Solve(block, q, &b)
				e := a.Pressure - b.Pressure
				limit := 0.01
				if b.EntryCentre < m.FlowPoint() {
					limit = 0.02
				}
				if b.Slide == c.HotEnd.Sections[0].Length {
					continue // unmelted to the wall: no load to speak of
				}
				worst = math.Max(worst, math.Abs(e)/b.Pressure)
				if math.Abs(e) > limit*b.Pressure+1e4 {
					t.Errorf("%s, h %g, %g mm3/s: %.4f MPa, fine %.4f MPa (%+.2f %%)", id, h, q*1e9, a.Pressure/1e6, b.Pressure/1e6, 100*e/b.Pressure)
				}
			}
		}
	}
	t.Logf("largest error %.2f %%", 100*worst)
}
