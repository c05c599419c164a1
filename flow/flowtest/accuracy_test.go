package flowtest_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/lumped"
	"meltload/flow/march"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

var update = flag.Bool("update", false, "rewrite report/docs/accuracy.md")

// TestAccuracyPage generates the page of accuracy tables from the solvers and
// compares it with the one in the tree, so that the page cannot go stale.
func TestAccuracyPage(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	var b strings.Builder
	b.WriteString(`# Accuracy

This page is written by ` + "`go test ./flow/flowtest -update`" + ` from the solvers as they are; a test fails when it goes stale.

`)
	isothermal(&b)
	heated(&b)
	grid(&b)
	library(&b)
	force(t, &b)
	envelope(t, &b)
	motors(&b)
	name := checks.Root("report", "docs", "accuracy.md")
	if *update {
		if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		got, old := strings.Split(b.String(), "\n"), strings.Split(string(want), "\n")
		for i := range got {
			if i >= len(old) || got[i] != old[i] {
				t.Fatalf("line %d is now %q; run with -update and look at the difference", i+1, got[i])
			}
		}
	}
}

func solve(s flow.Solver, T, q float64) flow.Solution {
	var d flow.Solution
	if err := s.Solve(T, q, &d); err != nil {
		panic(err)
	}
	return d
}

func isothermal(b *strings.Builder) {
	b.WriteString(`## Isothermal flow against full finite-element solutions

Largest error of the total drop by included angle of the cone and fluid, over all rows of ` + "`testdata/fem_isothermal.csv`" + `
(axisymmetric Stokes flow, computed for this project with DOLFINx 0.5). Bounds in the tests: 3 % to 90 deg, 5 % to 180 deg.

| angle deg | fluid | rows | lumped | marching |
|---|---|---|---|---|
`)
	type key struct{ angle, fluid string }
	worst := map[key][3]float64{}
	var order []key
	for _, r := range flowtest.Table("fem_isothermal.csv") {
		c, T, q := flowtest.Isothermal(r)
		k := key{r["angle_deg"], r["fluid"]}
		w, ok := worst[k]
		if !ok {
			order = append(order, k)
		}
		w[0]++
		for i, s := range []flow.Solver{lumped.New(c), march.New(c, march.Options{})} {
			d := solve(s, T, q)
			if e := d.Pressure/r.F("dp_total_Pa") - 1; math.Abs(e) > math.Abs(w[i+1]) {
				w[i+1] = e
			}
		}
		worst[k] = w
	}
	for _, k := range order {
		w := worst[k]
		fmt.Fprintf(b, "| %s | %s | %.0f | %+.1f %% | %+.1f %% |\n", k.angle, k.fluid, w[0], 100*w[1], 100*w[2])
	}
}

func heated(b *strings.Builder) {
	b.WriteString(`
## Heated flow against full finite-element solutions

Rows of ` + "`testdata/fem_heated.csv`" + ` (Stokes and energy; test constants, not a material). Errors of the total drop and of the
exit mixing-cup temperature. The lumped estimate cannot see the core; where the centre is cold at the cone it is wrong by tens of
per cent, and every result that uses it there carries the warning ` + "`cold-core`" + `.

| case | wall degC | h W/m2K | flow mm3/s | centre at cone degC | drop MPa | lumped | marching | marching exit mix |
|---|---|---|---|---|---|---|---|---|
`)
	for _, r := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(r)
		l, m := solve(lumped.New(c), T, q), solve(march.New(c, march.Options{}), T, q)
		ref := r.F("dp_total_Pa")
		fmt.Fprintf(b, "| %s | %s | %s | %.4g | %.0f | %.3f | %+.0f %% | %+.1f %% | %+.1f K |\n", r["case"], r["T_wall_C"], r["h_W_per_m2K"], q*1e9, r.F("Tcentre_cone_entry_C"),
			ref/1e6, 100*(l.Pressure/ref-1), 100*(m.Pressure/ref-1), unit.Celsius(m.ExitBulk)-r.F("Tmix_exit_C"))
	}
}

func grid(b *strings.Builder) {
	b.WriteString(`
## Grid convergence of the marching solver

Largest error of the drop over the heated table against the Richardson limit of the two finest grids (cells and stations refined together).

| cells | stations | largest error | mean error |
|---|---|---|---|
`)
	rows := flowtest.Table("fem_heated.csv")
	limit := make([]float64, len(rows))
	drop := func(i, f int) flow.Solution {
		c, T, q := flowtest.Heated(rows[i])
		return solve(march.New(c, march.Options{Cells: march.DefaultCells * f, Axial: float64(f)}), T, q)
	}
	for i := range rows {
		a, c := drop(i, 4).Pressure, drop(i, 8).Pressure
		limit[i] = c + (c-a)/3
	}
	for _, f := range []int{1, 2, 4} {
		worst, mean := 0.0, 0.0
		var st flow.Stats
		for i := range rows {
			d := drop(i, f)
			e := math.Abs(d.Pressure/limit[i] - 1)
			worst = math.Max(worst, e)
			mean += e / float64(len(rows))
			st = d.Stats
		}
		fmt.Fprintf(b, "| %d | %d | %.2f %% | %.2f %% |\n", st.Cells, st.Stations, 100*worst, 100*mean)
	}
	b.WriteString("\nThe observed order on a manufactured solution is two (test `TestManufacturedSolutionConvergesAtSecondOrder`).\n")
}

// library compares the default resolution with a fine one for every material.
func library(b *strings.Builder) {
	b.WriteString(`
## Grid error over the materials library

Largest difference of the drop between the default resolution and 64 cells with six times the stations: 20 mm of 2 mm barrel, 0.4 mm bore, the
middle of the processing window, wall conductance 500 to 10000 W/m2K, 1, 5 and 15 mm3/s. Where the core enters the cone unmelted the load hangs on
the cap for unmelted stock and on how the core is drawn out; those cases stand apart.

| material | melted core | unmelted core | load at 3000 W/m2K, 5 mm3/s, MPa | stock slides mm |
|---|---|---|---|---|
`)
	for _, id := range materials.Names() {
		m, _ := materials.Get(id)
		block := (m.Window[0] + m.Window[1]) / 2
		var worst [2]float64
		var at [2]bool
		var load, slide float64
		for _, h := range []float64{500, 1000, 3000, 10000} {
			c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, h), unit.Kelvin(25))
			s, fine := march.New(c, march.Options{}), march.New(c, march.Options{Cells: 64, Axial: 6})
			for _, q := range []float64{1e-9, 5e-9, 15e-9} {
				d, f := solve(s, block, q), solve(fine, block, q)
				k := 0
				if f.EntryCentre < m.FlowPoint() {
					k = 1
				}
				worst[k], at[k] = math.Max(worst[k], math.Abs(d.Pressure/f.Pressure-1)), true
				if h == 3000 && q == 5e-9 {
					load, slide = d.Pressure, d.Stretches.Rod
				}
			}
		}
		cell := func(k int) string {
			if !at[k] {
				return "–"
			}
			return fmt.Sprintf("%.2f %%", 100*worst[k])
		}
		fmt.Fprintf(b, "| %s | %s | %s | %.2f | %.2f |\n", id, cell(0), cell(1), load/1e6, slide*1e3)
	}
}

func force(t *testing.T, b *strings.Builder) {
	b.WriteString(`
## Published push force, predicted blind

ABS, 0.4 mm nozzle, 13.4 mm heated barrel, 13 feeds (Serdeczny et al. 2020, digitised from Ufodike and Nzebuka 2022: see
` + "`testdata/force/README.md`" + `). Viscosity and heat capacity as reconstructed there, density and conductivity from the materials library,
everything else the defaults of this program. Published calculations on the same points: 9 % mean and 3.1 N rms (worst -29 %);
with a constant heat capacity 35 % and 10.7 N.

| what is changed from the blind prediction | mean error | rms N | worst | force at 1.6 mm3/s (measured 8.6 N) | at 11.2 mm3/s (measured 55.0 N) |
|---|---|---|---|---|---|
`)
	lib, err := materials.Get("abs")
	if err != nil {
		t.Fatal(err)
	}
	type choice struct {
		name          string
		h, tr, T, cap float64
		lib           bool
	}
	base := choice{"nothing: the blind prediction (h = 3000 W/m2K, Trouton ratio 3)", 3000, 3, flowtest.ABSForceBlock, 1e7, false}
	list := []choice{base}
	with := func(name string, f func(c *choice)) {
		c := base
		c.name = name
		f(&c)
		list = append(list, c)
	}
	with("conductance infinite", func(c *choice) { c.h = math.Inf(1) })
	with("conductance 1000", func(c *choice) { c.h = 1000 })
	with("conductance 500: an air gap of 0.12 mm over most of the barrel", func(c *choice) { c.h = 500 })
	with("Trouton ratio 30", func(c *choice) { c.tr = 30 })
	with("unmelted side stiffer, cap 1e8 Pa s", func(c *choice) { c.cap = 1e8 })
	with("viscosity of the materials library instead", func(c *choice) { c.lib = true })
	with("wall at 220 degC instead of the inferred 250", func(c *choice) { c.T = unit.Kelvin(220) })
	with("conductance 500 and Trouton ratio 30", func(c *choice) { c.h, c.tr = 500, 30 })
	with("conductance 500 and wall at 220 degC", func(c *choice) { c.h, c.T = 500, unit.Kelvin(220) })
	with("conductance 500, Trouton ratio 30 and wall at 240 degC", func(c *choice) { c.h, c.tr, c.T = 500, 30, unit.Kelvin(240) })
	var blind [][3]float64
	for i, x := range list {
		c := flowtest.ABSForce(x.h, x.tr)
		c.Material.Viscosity.Cap = x.cap
		if x.lib {
			c.Material.Viscosity = lib.Viscosity
			c.Material.Viscosity.Trouton = x.tr
		}
		s := march.New(c, march.Options{})
		e, rows := flowtest.CompareABSForce(func(q float64) float64 { return solve(s, x.T, q).Force })
		if i == 0 {
			blind = rows
		}
		fmt.Fprintf(b, "| %s | %.0f %% | %.1f | %+.0f %% | %.1f N | %.1f N |\n", x.name, 100*e.Mean, e.RMS, 100*e.Worst, rows[0][2], rows[len(rows)-1][2])
	}
	b.WriteString(`
The blind prediction is far below the measurement and misses the goal of 15 %, at every feed. What explains it:

* Conductance is the largest single choice. From 3000 to 500 W/m2K (what an air gap of 0.12 mm conducts before the melt fills it) it takes
  the highest feed from 9 to 28 N, and it alone turns the curve upward as measured. Perfect contact moves the other way.
* The level of viscous stress is the second: at the lowest feed the stock melts through, conductance 500 gives 2.8 N of the measured 8.6 N, and
  a Trouton ratio of 30 or a wall at 220 degC (the 250 degC were inferred, not stated) doubles the force.
* The stiffness of the unmelted side is worth 10 %. The library's own viscosity law changes the mean by 2 %.

Two of them together bring the error to that of the published calculations, three bring it below. Which two, 13 points at one
temperature cannot tell, so none was made a default: that would be a fit to one set.

| flow mm3/s | measured N | blind N |
|---|---|---|
`)
	for _, r := range blind {
		fmt.Fprintf(b, "| %.2f | %.1f | %.1f |\n", r[0]*1e9, r[1], r[2])
	}
	b.WriteString(`
### Calibrated on 3 of the 13 points

The first, the seventh and the last point; the other ten are predicted. Goal: under 5 % mean and 1.5 N rms. Published: 9 % and 3.1 N.

| factors fitted | mean error of the other ten | rms N |
|---|---|---|
`)
	for _, f := range [][]calibrate.Factor{nil, {vary.Viscosity, vary.Heated, vary.Drag}} {
		set := absSetup()
		var train []calibrate.Point
		for i, r := range blind {
			if i%6 == 0 {
				train = append(train, calibrate.Point{Block: flowtest.ABSForceBlock, Flow: r[0], Force: r[1]})
			}
		}
		fit, err := calibrate.Fit(context.Background(), set, train, calibrate.Settings{Factors: f})
		if err != nil {
			t.Fatal(err)
		}
		s := march.New(&fit.Setup.Case, march.Options{})
		var got, want []float64
		for i, r := range blind {
			if i%6 != 0 {
				got, want = append(got, solve(s, flowtest.ABSForceBlock, r[0]).Push), append(want, r[1])
			}
		}
		mean, rms := errorsOf(got, want)
		var names []string
		for _, x := range fit.Values {
			if x.Known {
				names = append(names, x.Label)
			}
		}
		fmt.Fprintf(b, "| %s | %.1f %% | %.2f |\n", strings.Join(names, ", "), 100*mean, rms)
	}
	b.WriteString(`
Better than the published calculations, and just short of the goal. The calibration itself says that three points at one temperature do not
tell three factors apart: it predicts between them, and nothing is claimed for the factors.

## Sensitivity to temperature, published heater-off runs

ABS, 0.8 mm nozzle (Read et al. 2024, CC BY, ` + "`testdata/force/`" + `): slope of the logarithm of force against block temperature. Their melt zone is not
described; computed here for 20 mm of 2 mm barrel, defaults for the rest, around 230 degC.

| flow mm3/s | published 1/K | computed 1/K | published force over that at 10 mm3/s, 230 degC | computed |
|---|---|---|---|---|
`)
	c := flowtest.ABSForce(3000, 3)
	c.HotEnd = flowtest.Nozzle(2e-3, 20e-3, 60, 0.8e-3, 0.8e-3, 3000)
	s := march.New(c, march.Options{})
	ref := solve(s, 503.15, 10e-9).Force
	for _, x := range []struct{ q, slope, ratio float64 }{{5, -0.0481, 0}, {10, -0.0408, 1}, {15, -0.0305, 2.1}, {20, -0.0243, 4.1}, {25, -0.0202, 8.1}} {
		lo, hi, mid := solve(s, 498.15, x.q*1e-9).Force, solve(s, 508.15, x.q*1e-9).Force, solve(s, 503.15, x.q*1e-9).Force
		ratio := "–"
		if x.ratio > 0 {
			ratio = fmt.Sprint(x.ratio)
		}
		fmt.Fprintf(b, "| %g | %.3f | %.3f | %s | %.1f |\n", x.q, x.slope, math.Log(hi/lo)/10, ratio, mid/ref)
	}
	b.WriteString(`
The trend is right, sensitivity falling as flow rises, and the size at high flow; at low flow the reconstructed law is less sensitive than theirs.
The published growth of force with flow at one temperature is far steeper than computed: with an unknown melt zone this is the poor contact seen above.
`)
}

func envelope(t *testing.T, b *strings.Builder) {
	b.WriteString(`
## Lumped against marching over the built-in case

Push force by the lumped estimate over that by the marching solver, minus one; in brackets where the centre has not melted at the cone.

`)
	c := casefile.Invented()
	flows := []float64{1, 2, 5, 10, 15, 20, 25, 30}
	b.WriteString("| block degC |")
	for _, q := range flows {
		fmt.Fprintf(b, " %g mm3/s |", q)
	}
	b.WriteString("\n|---|" + strings.Repeat("---|", len(flows)) + "\n")
	l, m := lumped.New(&c.Case), march.New(&c.Case, march.Options{})
	for T := 190.0; T <= 240; T += 10 {
		fmt.Fprintf(b, "| %.0f |", T)
		for _, q := range flows {
			x, y := solve(l, unit.Kelvin(T), q*1e-9), solve(m, unit.Kelvin(T), q*1e-9)
			s := fmt.Sprintf("%+.0f %%", 100*(x.Force/y.Force-1))
			if y.EntryCentre < c.Material.FlowPoint() {
				s = "(" + s + ")"
			}
			fmt.Fprintf(b, " %s |", s)
		}
		b.WriteString("\n")
	}
}

// motors writes the errors of the motor model on the published pull-out curves.
func motors(b *strings.Builder) {
	fmt.Fprintf(b, `
## Motor torque against published pull-out curves

Four curves of two-phase hybrid motors with their winding data (%s; some second-hand, see its README).
The closed form takes the lower of current limit and pull-out at the full supply. The model bounds current and voltage
together, counts on %.3g of the supply, and takes off %.3g of the holding torque at 1 kHz electrical (1,200 rpm) for eddy
currents. Both numbers are assumed, the same for all motors, and round; they were picked from the middle of the range that
meets all four curves, so these errors are not those of a motor never seen. Goals: a mean error of at most 12 %% on each,
none above 30 %% below 1,000 rpm. The last points of a curve lie on a steep flank. Beyond 1,200 rpm, or where the voltage
limits a motor of another size or on another supply, results carry the warning %s.

| motor | holding N m | supply V | peak A | closed form, mean | worst | model, mean | worst below 1,000 rpm | worst |
|---|---|---|---|---|---|---|---|---|
`, "`testdata/motor/curves.csv`", feeder.DefaultVoltageShare, feeder.DefaultIronLoss, "`motor-range`")
	all := flowtest.Motors()
	for i := range all {
		c := &all[i]
		m := &c.Motor
		plain, top, _ := c.MotorError(func(rev float64) float64 {
			limit := float64(m.Teeth) * m.Flux() * m.Current
			return math.Min(limit, feeder.PullOut(m.Supply, m.Resistance, m.Inductance, m.Flux(), m.Teeth, 2*math.Pi*m.Electrical(rev)))
		})
		mean, worst, below := c.MotorError(m.Torque)
		fmt.Fprintf(b, "| %s | %.3g | %.3g | %.3g | %.0f %% | %+.0f %% | %.1f %% | %+.0f %% | %+.0f %% |\n",
			c.Name, m.Holding, m.Supply, m.Current, 100*plain, 100*top, 100*mean, 100*below, 100*worst)
	}
	b.WriteString("\nHow much hangs on the two assumed numbers: mean error of each curve.\n\n| share of the supply | iron loss at 1 kHz |")
	for i := range all {
		fmt.Fprintf(b, " %s |", all[i].Name)
	}
	b.WriteString("\n|---|---|" + strings.Repeat("---|", len(all)) + "\n")
	for _, p := range [][2]float64{{1, 0}, {0.75, 0}, {0.8, 0.03}, {feeder.DefaultVoltageShare, feeder.DefaultIronLoss}, {0.9, 0.085}, {0.95, 0.12}} {
		fmt.Fprintf(b, "| %.3g | %.3g |", p[0], p[1])
		for i := range all {
			m := all[i].Motor
			m.Usable, m.IronLoss = p[0], p[1]
			mean, _, _ := all[i].MotorError(m.Torque)
			fmt.Fprintf(b, " %.1f %% |", 100*mean)
		}
		b.WriteString("\n")
	}
}

// The table of the motors alone, the last of the page: it needs no solver.
func TestMotorTableIsInThePage(t *testing.T) {
	var b strings.Builder
	motors(&b)
	name := checks.Root("report", "docs", "accuracy.md")
	page, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		head, _, _ := strings.Cut(string(page), "\n## Motor torque")
		if err := os.WriteFile(name, []byte(head+b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !strings.Contains(string(page), b.String()) {
		t.Error("report/docs/accuracy.md does not hold this table; run go test ./flow/flowtest -run MotorTable -update:\n" + b.String())
	}
}
