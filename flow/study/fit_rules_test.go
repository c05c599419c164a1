package study

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/unit"
)

// A calibration's numbers by hand: pushes of a melt half as viscous again, of which one is two per cent higher and one
// as much lower. Errors are of what is predicted against what was measured.
func TestNumbersOfACalibration(t *testing.T) {
	c := casefile.Invented().Clone()
	truth := c.Clone()
	truth.ViscosityFactor = 1.5
	v := march.New(&truth.Case, march.Options{})
	var points []calibrate.Point
	for i, x := range [][2]float64{{200, 4}, {225, 12}} {
		var d flow.Solution
		if err := v.Solve(unit.Kelvin(x[0]), x[1]*unit.MM3, &d); err != nil {
			t.Fatal(err)
		}
		points = append(points, calibrate.Point{Block: d.Block, Flow: d.Flow, Force: d.Push * (1.02 - 0.04*float64(i)),
			U: float64(i) * 0.5})
	}
	r, err := Calibrate(t.Context(), c, points, calibrate.Settings{Factors: []calibrate.Factor{"viscosity"}})
	if err != nil {
		t.Fatal(err)
	}
	own := march.New(&c.Case, march.Options{})
	mean, was, squares := 0.0, 0.0, 0.0
	for i, p := range r.Points {
		var d flow.Solution
		if err := own.Solve(points[i].Block, points[i].Flow, &d); err != nil {
			t.Fatal(err)
		}
		f := points[i].Force
		if p.Block != points[i].Block || p.Flow != points[i].Flow || p.Measured != f ||
			math.Abs(p.Before/d.Push-1) > 1e-6 || math.Abs(p.Residual-(p.After-f)) > 1e-12 ||
			math.Abs(p.ResidualShare-(p.After-f)/f) > 1e-12 || (p.U != nil) != (i == 1) || p.U != nil && *p.U != 0.5 {
			t.Errorf("%+v, pushed %g N", p, d.Push)
		}
		mean += math.Abs(p.After-f) / f / 2
		was += math.Abs(p.Before-f) / f / 2
		squares += (p.After - f) * (p.After - f) / 2
	}
	near(t, "mean error", r.Mean, mean, 1e-9)
	near(t, "mean error before", r.Was, was, 1e-9)
	near(t, "rms", r.RMS, math.Sqrt(squares), 1e-9)
	x := r.Values[0]
	if !x.Known || x.Start != 1 || math.Abs(x.Value-r.Setup.ViscosityFactor) > 1e-12 ||
		math.Abs(x.Value/1.5-1) > 0.05 || !(*x.Low < x.Value && x.Value < *x.High) || r.Known() != 1 || !r.Good ||
		r.Doubtful || r.Misfit != "" || r.TraceRMS != nil || len(r.Values) != 1 || r.Solves == 0 {
		t.Errorf("%+v", r)
	}
}

// A calibration in words: how the errors fell, what was fitted with its interval, and how much is not told.
func TestCalibrationInWords(t *testing.T) {
	known := CalValue{Factor: "viscosity factor", Value: 1.5, Low: quantity.Known(1.25), High: quantity.Known(1.75),
		Known: true}
	contact := CalValue{Factor: "contact", Unit: "W/(m2 K)", Value: 2000, Low: quantity.Known(1000.0), Known: true}
	points := func(n int) CalResult {
		return CalResult{Points: make([]CalPoint, n), Mean: quantity.Known(0.02), Was: quantity.Known(0.3),
			RMS: quantity.Known(1.5)}
	}
	was, is := quantity.Text("mean_error", 0.3), quantity.Text("mean_error", 0.02)
	rms := quantity.Text("rms", 1.5)
	for _, x := range []struct {
		r      CalResult
		values []CalValue
		want   string
	}{
		{points(1), []CalValue{known}, "The mean error at the one point falls from " + was + " to " + is + " (" + rms +
			" rms). Fitted: viscosity factor 1.5 (1.25 to 1.75); 95 % intervals."},
		{points(2), []CalValue{known, {}, contact}, "The mean error at the 2 points falls from " + was + " to " + is +
			" (" + rms + " rms). Fitted: viscosity factor 1.5 (1.25 to 1.75), contact 2000 W/(m2 K) " +
			"(1000 to infinite); 95 % " +
			"intervals. These measurements do not tell 1 of 3 factors: they keep the range known before."},
		{points(2), []CalValue{{}, {}}, "The mean error at the 2 points is " + is + " (" + rms + " rms). These " +
			"measurements do not tell 2 of 2 factors: they keep the range known before."},
		{CalResult{TraceRMS: quantity.Known(0.8)}, []CalValue{known}, "The rms error along the traces is " +
			quantity.Text("trace_rms", 0.8) + ". Fitted: viscosity factor 1.5 (1.25 to 1.75); 95 % intervals."},
	} {
		x.r.Values = x.values
		if got := x.r.sentence(); got != x.want {
			t.Errorf("%s\nwant %s", got, x.want)
		}
	}
	x := traceOf(&calibrate.Fitted{Trace: calibrate.Trace{Time: []float64{0, 1, 2}, Block: []float64{3, 4, 5},
		Flow: []float64{6, 7, 8}, Force: []float64{9, 10, 11}}, Before: []float64{12, 13, 14},
		Predicted: []float64{15, 16, 17}})
	if fmt.Sprint(x.Time, x.Block, x.Flow, x.Measured, x.Before, x.After) !=
		"[1 2] [4 5] [7 8] [10 11] [13 14] [16 17]" {
		t.Errorf("%+v", x)
	}
	// A fit that is refused writes no case, a doubtful one says so beside its values.
	c := casefile.Invented()
	if _, err := (&CalResult{Misfit: "off"}).CaseText(c); err == nil || !strings.Contains(err.Error(), "off") {
		t.Errorf("%v", err)
	}
}

// Sides of a comparison meet within 2 per cent of the first, and what is not told apart by chance has no half width.
func TestFlowsThatMeet(t *testing.T) {
	side := func(n int, flows ...float64) Measured {
		m := Measured{Name: "m", Flows: flows}
		for range flows {
			m.Points = append(m.Points, loadcell.Sample{Mean: 50, SD: 1, N: n, Cause: feeder.Grind})
		}
		return m
	}
	for _, x := range []struct {
		a, b Measured
		rows int
		said string
	}{
		{side(3, 5e-9), side(3, 5.099e-9), 1, "at 5 mm3/s no difference: 0 N ± "},
		{side(3, 5e-9), side(3, 5.101e-9), 0, ""}, {side(3, 5e-9), side(3, 4.901e-9), 1, ""},
		{side(3, 5e-9), side(3, 4.899e-9), 0, ""},
		// The first of two that meet is taken, and one that is not named meets only another such.
		{side(3, 5e-9), side(3, 5.05e-9, 5e-9), 1, ""}, {side(3, 0, 5e-9), side(3, 5e-9), 1, ""},
		{side(1, 0), side(1, 0), 1, "at a flow not named cannot tell: "},
	} {
		r, err := Compare(x.a, x.b, 0.95)
		if (err == nil) != (x.rows > 0) || err == nil && (len(r.Rows) != x.rows || !strings.Contains(r.Sentence,
			x.said)) {
			t.Errorf("%v and %v: %+v, %v", x.a.Flows, x.b.Flows, r, err)
			continue
		}
		if err != nil {
			continue
		}
		single := x.a.Points[0].N == 1
		if row := r.Rows[0]; strings.Contains(row.Why, "fails by") || strings.Contains(r.Sentence, "±") == single ||
			(row.P == nil) != single || (row.Half == nil) != single || (row.SecondSD == nil) != single {
			t.Errorf("%+v", row)
		}
	}
	if got := flowsOf(side(1, 5e-9, 0)); got != "5 mm3/s, one without a flow (name it with --flows)" {
		t.Errorf("%q", got)
	}
	if got := flowsOf(side(1)); got != "no failure" {
		t.Errorf("%q", got)
	}
}

// Many cases in a sentence: how many have an answer, hold what is wanted, were known, and which flows most.
func TestManyCasesInWords(t *testing.T) {
	yes, no := true, false
	row := func(name string, usable float64, held *bool, problem string) Brief {
		b := Brief{Case: name, Held: held, Problem: problem, Warnings: []materials.Warning{{Code: "w", Message: "m"}}}
		if problem == "" {
			b.Usable = quantity.Known(usable * 1e-9)
		}
		return b
	}
	for _, x := range []struct {
		rows []Brief
		kept int
		good bool
		want string
	}{
		{[]Brief{row("a", 10, nil, ""), row("b", 12, nil, "")}, 0, true,
			"2 cases assessed. The highest usable flow is 12.0 mm3/s, in b."},
		{[]Brief{row("a", 12, &yes, ""), row("b", 12, &no, ""), row("c", 3, nil, "")}, 1, false,
			"3 cases assessed. The " +
				"wanted flow is held in 1 of 2. The highest usable flow is 12.0 mm3/s, in a. 1 were known before."},
		{[]Brief{row("a", 0, &yes, "")}, 0, true,
			"1 cases assessed. The wanted flow is held in 1 of 1. The highest usable flow is 0 mm3/s, in a."},
		{[]Brief{row("a", 0, nil, "x"), row("b", 9, nil, "")}, 0, false,
			"1 cases assessed. 1 could not be; the remark says why. The highest usable flow is 9.00 mm3/s, in b."},
		{[]Brief{row("a", 0, nil, "x")}, 0, false, "0 cases assessed. 1 could not be; the remark says why."},
	} {
		r := Briefs{Cases: x.rows, Kept: x.kept}
		r.summarise()
		failed := strings.Contains(x.want, "could not")
		if r.Sentence != x.want || r.Good != x.good || materials.Warned(r.Warnings, "cases-not-assessed") != failed ||
			!materials.Warned(r.Warnings, "w") {
			t.Errorf("%s, good %t\nwant %s, %t; %s", r.Sentence, r.Good, x.want, x.good, warned(r.Warnings))
		}
		if failed && !strings.Contains(warned(r.Warnings), fmt.Sprintf("1 of %d cases have no answer", len(x.rows))) {
			t.Errorf("%s", warned(r.Warnings))
		}
	}
	for text, want := range map[string]string{"a": "a", "a\nb\nc": "a; b; c", "a\nb\nc\nd\ne": "a; b; c; and 2 more"} {
		if got := inOne(errors.New(text)); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// sameSetup opens a set-up.
func sameSetup(s *setup.Setup) func() (*setup.Setup, error) {
	return func() (*setup.Setup, error) { return s, nil }
}

// A row among many without samples has no range; its wanted flow is held where the verdict is good.
func TestARowAmongMany(t *testing.T) {
	s := casefile.Invented().Clone()
	j := ManyJob{Name: "a"}
	for _, x := range []struct{ target, pushedAt float64 }{{0, 0}, {3e-9, 3e-9}} {
		s.Target = x.target
		j.Open = sameSetup(s)
		b := j.brief(t.Context(), AssessOptions{Options: Options{Solver: "lumped", Here: true}})
		g, err := Glance(s, Options{Solver: "lumped", Here: true})
		if err != nil {
			t.Fatal(err)
		}
		if b.Low != nil || b.High != nil || *b.Usable != g.Verdict.Flow || *b.Flow != g.Point.Flow || b.Problem != "" ||
			*b.Pressure != g.Point.Pressure || *b.Block != s.Block || (b.Held != nil) != (x.target > 0) ||
			b.Held != nil && !*b.Held || b.Codes != codes(g.Warnings) || b.Title != g.Title ||
			*b.Limit != g.Verdict.Limit {
			t.Errorf("%+v", b)
		}
	}
	s.Block = 0
	if b := j.brief(t.Context(), AssessOptions{}); b.Problem == "" || b.Usable != nil {
		t.Errorf("%+v", b)
	}
}

// A bench plan's uses, sentence and outlook, by the runs in it.
func TestNumbersOfABenchPlan(t *testing.T) {
	c := casefile.Invented().Clone()
	w := benchplan.Wish{Low: 20, High: 40, Levels: 2, Flows: []float64{6e-9, 9e-9}, CellMax: 100}
	r, err := MakePlan(t.Context(), c, w)
	if err != nil {
		t.Fatal(err)
	}
	low, high, holds := math.Inf(1), 0.0, math.Inf(1)
	for _, x := range r.Runs {
		low, high = math.Min(low, x.Low), math.Max(high, x.High)
	}
	for i, q := range w.Flows {
		if holds = math.Min(holds, c.Feeder.At(q/c.Area()).Force); r.Spans[i].Flow != q {
			t.Errorf("%+v", r.Spans)
		}
	}
	if len(r.Uses) != 2 || math.Abs(r.Uses[0].Share-high/100) > 1e-12 || math.Abs(r.Uses[1].Share-40/holds) > 1e-12 {
		t.Errorf("%+v, want %g and %g", r.Uses, high/100, 40/holds)
	}
	if !strings.Contains(r.Sentence, fmt.Sprintf("each %d times.", r.Repeats)) || !strings.Contains(r.Sentence,
		"Likely range of the forces: "+quantity.Both("predicted", low, 0)+" to "+quantity.Both("predicted", high,
			0)+".") {
		t.Errorf("%s", r.Sentence)
	}
	// What a calibration by each setting, once, would tell.
	var once []calibrate.Point
	for _, x := range r.Runs {
		if x.Repeat == 1 {
			once = append(once, calibrate.Point{Block: x.Block, Flow: x.Flow})
		}
	}
	told, tests, err := calibrate.Foresee(c, once, nil)
	if err != nil {
		t.Fatal(err)
	}
	var tells, leaves []string
	for _, v := range told {
		if v.Known {
			tells = append(tells, v.Label)
		} else {
			leaves = append(leaves, v.Label)
		}
	}
	settings := len(once)
	if !slices.Equal(r.Tells, tells) || !slices.Equal(r.Leaves, leaves) || len(r.Beside) != len(tests) ||
		len(r.Runs) != r.Repeats*settings || strings.Contains(r.Sentence,
		"levels of force asked for") != (settings < 4) {
		t.Errorf("tells %v, leaves %v, %d settings: %s", r.Tells, r.Leaves, settings, r.Sentence)
	}
	checks := []PlanCheck{{OK: true}, {}, {OK: true}, {}}
	if (&PlanResult{Checks: checks}).Unmet() != 2 || (&RampResult{Checks: checks[:2]}).Unmet() != 1 {
		t.Error("checks that are not met")
	}
	for n, want := range map[int]string{1: "",
		4: " Checks of the rig that are not met: 2 of 4; see them before starting."} {
		h := Header{Good: true}
		if h.fail(checks[:n]); h.Sentence != want || h.Good != (want == "") {
			t.Errorf("%q, good %t", h.Sentence, h.Good)
		}
	}
}

// Ramps in words: each feed from its start to its failure, or held to the end; all runs counted.
func TestRampsInWords(t *testing.T) {
	r := RampResult{Repeats: 3, Stop: 80, Header: Header{Good: true}, Ramps: []RampRow{
		{Flow: 5e-9, Start: unit.Kelvin(220), Force: 60, ForceLow: 50, ForceHigh: 70, Time: quantity.Known(90.0),
			Block: quantity.Known(unit.Kelvin(160))}, {Flow: 9e-9}}}
	r.say(2)
	for _, want := range []string{"6 ramps (flows: 2, each 3 times)", "at 5.00 mm3/s from 220 degC to failure at ",
		"at 9.00 mm3/s the feeder is not brought to failure. Stop a run at " + quantity.Both("stop_force", 80, 0) +
			"."} {
		if !strings.Contains(r.Sentence, want) {
			t.Errorf("no %q in %s", want, r.Sentence)
		}
	}
}

// A cell that was calibrated before is held against its line; how it returns is known only where it was unloaded.
func TestCellWithALineBefore(t *testing.T) {
	line := func(perGram float64) []loadcell.Weight {
		var out []loadcell.Weight
		for _, m := range []float64{0, 1, 2, 3, 4} {
			bump := 3 * float64(int(m)%2) // off the line by turns
			out = append(out, loadcell.Weight{Mass: m, Up: 50 + perGram*m + bump})
		}
		return out
	}
	first, err := loadcell.FitCell(line(2000), 10)
	if err != nil {
		t.Fatal(err)
	}
	before := first.Line("before", 10)
	r, err := CheckCell("now", line(1900), 10, &before)
	if err != nil || r.Drift == nil || math.Abs(r.Drift.Sensitivity-(2000.0/1900-1)) > 1e-3 || r.Return != nil ||
		!materials.Warned(r.Warnings, "cell-drift") || !strings.Contains(r.Sentence, "the force of a count moved") {
		t.Fatalf("%+v, %v", r, err)
	}
	for i, w := range r.Weights {
		force := 10 * float64(i)
		if read := (w.Up - r.Zero) * r.PerCount; w.Force != force || math.Abs(w.Error-(read-force)) > 1e-12 {
			t.Errorf("%+v", w)
		}
	}
	down := line(2000)
	for i := range down {
		down[i].Down, down[i].HasDown = down[i].Up+8, true
	}
	if r, err = CheckCell("now", down, 10, nil); err != nil || r.Return == nil || !(*r.Return > 0) ||
		*r.Weights[1].Down !=
			down[1].Down {
		t.Errorf("%+v, %v", r, err)
	}
	if _, err := CheckCell("none", nil, 10, nil); err == nil || !strings.HasPrefix(err.Error(), "none: ") {
		t.Errorf("%v", err)
	}
}
