package flowtest_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/lumped"
	"meltload/flow/march"
	"meltload/flow/reference"
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

This page is written by ` + "`go test ./flow/flowtest -update`" +
		` from the solvers as they are; a test fails when it goes stale.

`)
	isothermal(&b)
	heated(&b)
	stiff(&b)
	grid(&b)
	library(&b)
	startup(t, &b)
	growth(&b)
	limits(t, &b)
	forces(t, &b)
	sensitivity(&b)
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

Rows of ` + "`testdata/fem_heated.csv`" +
		` (Stokes and energy; test constants, not a material). Errors of the total drop and of the
exit mixing-cup temperature. The lumped estimate cannot see the core; where the centre is cold at the cone it is wrong by tens of
per cent, and every result that uses it there carries the warning ` + "`cold-core`" + `.

| case | wall degC | h W/m2K | flow mm3/s | centre at cone degC | drop MPa | lumped | marching | marching exit mix |
|---|---|---|---|---|---|---|---|---|
`)
	for _, r := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(r)
		l, m := solve(lumped.New(c), T, q), solve(march.New(c, march.Options{}), T, q)
		ref := r.F("dp_total_Pa")
		fmt.Fprintf(b, "| %s | %s | %s | %.4g | %.0f | %.3f | %+.0f %% | %+.1f %% | %+.1f K |\n", r["case"],
			r["T_wall_C"], r["h_W_per_m2K"], q*1e9, r.F("Tcentre_cone_entry_C"),
			ref/1e6, 100*(l.Pressure/ref-1), 100*(m.Pressure/ref-1), unit.Celsius(m.ExitBulk)-r.F("Tmix_exit_C"))
	}
}

func grid(b *strings.Builder) {
	b.WriteString(`
## Grid convergence of the marching solver

Error of the drop against the Richardson limit of the two finest grids (cells and stations refined together): over the heated
table, where the melt is held from the inlet on, and over the five cases of the bench below, with rod, wetted plug and held melt.

| cases | cells | stations | largest error | mean error |
|---|---|---|---|---|
`)
	for _, x := range []struct {
		name string
		rows []flowtest.Row
		of   func(r flowtest.Row) (c *flow.Case, block, q float64)
	}{
		{"heated table", flowtest.Table("fem_heated.csv"), flowtest.Heated},
		{"bench", flowtest.Table("stock", "startup_ratio.csv"), flowtest.Startup},
	} {
		drop := func(r flowtest.Row, f int) flow.Solution {
			c, T, q := x.of(r)
			return solve(march.New(c, march.Options{Cells: march.DefaultCells * f, Axial: float64(f)}), T, q)
		}
		limit := make([]float64, len(x.rows))
		for i, r := range x.rows {
			a, c := drop(r, 4).Pressure, drop(r, 8).Pressure
			limit[i] = c + (c-a)/3
		}
		for _, f := range []int{1, 2, 4} {
			worst, mean := 0.0, 0.0
			var st flow.Stats
			for i, r := range x.rows {
				d := drop(r, f)
				e := math.Abs(d.Pressure/limit[i] - 1)
				worst = math.Max(worst, e)
				mean += e / float64(len(x.rows))
				st = d.Stats
			}
			fmt.Fprintf(b, "| %s | %d | %d | %.2f %% | %.2f %% |\n", x.name, st.Cells, st.Stations, 100*worst, 100*mean)
		}
	}
	b.WriteString("\nThe observed order on a manufactured solution is two (test " +
		"`TestManufacturedSolutionConvergesAtSecondOrder`).\n")
}

// library compares the default resolution with a fine one for every material.
func library(b *strings.Builder) {
	b.WriteString(`
## Grid error over the materials library

Largest difference of the drop between the default resolution and 64 cells with six times the stations: 1.75 mm filament in
20 mm of 2 mm barrel, 0.4 mm bore, the middle of the processing window, 3000 W/m2K, 10000 W/m2K and perfect contact of wetted
stock, 1, 5 and 15 mm3/s. Where the core enters the cone unmelted the load hangs on the strength of the stock; those cases
stand apart. A difference below 0.1 N (semi-crystalline stock at 1 mm3/s) is counted all the same.

| material | melted core | unmelted core | load at 10000 W/m2K, 5 mm3/s, MPa | rod mm |
|---|---|---|---|---|
`)
	for _, id := range materials.Names() {
		m, _ := materials.Get(id)
		block := (m.Window[0] + m.Window[1]) / 2
		var worst [2]float64
		var at [2]bool
		var load, rod float64
		for _, h := range []float64{3000, 10000, math.Inf(1)} {
			c := flowtest.Free(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, h))
			s, fine := march.New(c, march.Options{}), march.New(c, march.Options{Cells: 64, Axial: 6})
			for _, q := range []float64{1e-9, 5e-9, 15e-9} {
				d, f := solve(s, block, q), solve(fine, block, q)
				k := 0
				if f.EntryCentre < m.FlowPoint() {
					k = 1
				}
				worst[k], at[k] = math.Max(worst[k], math.Abs(d.Pressure/f.Pressure-1)), true
				if h == 10000 && q == 5e-9 {
					load, rod = d.Pressure, d.Stretches.Rod
				}
			}
		}
		cell := func(k int) string {
			if !at[k] {
				return "–"
			}
			return fmt.Sprintf("%.2f %%", 100*worst[k])
		}
		fmt.Fprintf(b, "| %s | %s | %s | %.2f | %.2f |\n", id, cell(0), cell(1), load/1e6, rod*1e3)
	}
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
			return math.Min(limit, reference.Winding{Voltage: m.Supply, Resistance: m.Resistance,
				Inductance: m.Inductance, Flux: m.Flux(), Teeth: m.Teeth}.PullOut(
				2*math.Pi*m.Electrical(rev)))
		})
		mean, worst, below := c.MotorError(m.Torque)
		fmt.Fprintf(b, "| %s | %.3g | %.3g | %.3g | %.0f %% | %+.0f %% | %.1f %% | %+.0f %% | %+.0f %% |\n",
			c.Name, m.Holding, m.Supply, m.Current, 100*plain, 100*top, 100*mean, 100*below, 100*worst)
	}
	b.WriteString("\nHow much hangs on the two assumed numbers: mean error of each curve.\n\n| share of the supply " +
		"| iron loss at 1 kHz |")
	for i := range all {
		fmt.Fprintf(b, " %s |", all[i].Name)
	}
	b.WriteString("\n|---|---|" + strings.Repeat("---|", len(all)) + "\n")
	for _, p := range [][2]float64{{1, 0}, {0.75, 0}, {0.8, 0.03}, {feeder.DefaultVoltageShare, feeder.DefaultIronLoss},
		{0.9, 0.085}, {0.95, 0.12}} {
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
		t.Error("report/docs/accuracy.md does not hold this table; run go test ./flow/flowtest -run MotorTable " +
			"-update:\n" + b.String())
	}
}
