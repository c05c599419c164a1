package study

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

func material(t testing.TB, id string) *materials.Material {
	t.Helper()
	m, err := materials.Get(id)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func surveyed(t testing.TB, job SurveyJob) *SurveyResult {
	t.Helper()
	r, err := Survey(context.Background(), job, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// near compares to a relative tolerance.
func near(t testing.TB, what string, got *float64, want, tolerance float64) {
	t.Helper()
	if got == nil || math.Abs(*got/want-1) > tolerance {
		t.Errorf("%s is %v, want %g", what, got, want)
	}
}

// Every row is what an assessment of a set-up with that nozzle, block temperature and material says by itself.
func TestSurveyRowsAreSingleAnswers(t *testing.T) {
	base := &casefile.Invented().Setup
	base.ViscosityFactor = 1.3 // of its own material: another runs without
	job := SurveyJob{Base: base, Materials: []*materials.Material{base.Material, material(t, "abs")},
		Nozzles: []float64{0.4e-3, 0.6e-3}, Blocks: []float64{unit.Kelvin(210), unit.Kelvin(230)}, Flow: 8e-9}
	r := surveyed(t, job)
	if len(r.Rows) != 8 {
		t.Fatalf("%d rows", len(r.Rows))
	}
	for i := range r.Rows {
		x := &r.Rows[i]
		want := base.Clone()
		want.Mould, want.Target = nil, job.Flow
		if x.Material == "abs" {
			want.Material, want.ViscosityFactor, want.Doubts = job.Materials[1], 1, nil
			f, err := want.Feeder.With(*want.Feeder.Stock)
			if err != nil {
				t.Fatal(err)
			}
			want.Feeder = f
			want.Feeder.Stock.Material = want.Material
		}
		want.HotEnd.Rebore(*x.Nozzle)
		want.SetBlock(x.Block)
		g, err := Glance(want, Options{})
		if err != nil {
			t.Fatal(err)
		}
		name := x.Name(false)
		near(t, "usable flow of "+name, x.Flow, g.Verdict.Flow, 2e-4)
		near(t, "push at the wanted flow of "+name, x.PushAt, g.Point.Push, 1e-6)
		near(t, "pressure at the wanted flow of "+name, x.PressAt, g.Point.Pressure, 1e-6)
		near(t, "print speed of "+name, x.Speed, *x.Flow/(LayerOf(*x.Nozzle)*WidthOf(*x.Nozzle)), 1e-9)
		if x.Limit != g.Verdict.Limit {
			t.Errorf("%s is limited by %q, want %q", name, x.Limit, g.Verdict.Limit)
		}
		if !(*x.Low <= *x.Flow && *x.Flow <= *x.High && *x.Low < *x.High) {
			t.Errorf("%s: %g is not within %g to %g", name, *x.Flow, *x.Low, *x.High)
		}
	}
	if !strings.Contains(warned(r.Warnings), "abs run without them") {
		t.Errorf("nothing says that the factor of the case stays behind: %s", warned(r.Warnings))
	}
}

// LayerOf and WidthOf are the assumed line, stated here by itself: half and 1.125 times the bore.
func LayerOf(bore float64) float64 { return bore / 2 }
func WidthOf(bore float64) float64 { return 1.125 * bore }

func warned(ws []materials.Warning) string {
	var s []string
	for _, w := range ws {
		s = append(s, w.Code+": "+w.Message)
	}
	return strings.Join(s, "\n")
}

// The sentence names the rows with the highest usable flow and the highest print speed, with their limit.
func TestSurveySentenceIsThatOfTheTable(t *testing.T) {
	base := &casefile.Invented().Setup
	r := surveyed(t, SurveyJob{Base: base, Nozzles: []float64{0.25e-3, 0.4e-3, 0.6e-3},
		Blocks: []float64{unit.Kelvin(200), unit.Kelvin(220)}})
	best, fast := 0, 0
	for i := range r.Rows {
		if *r.Rows[i].Flow > *r.Rows[best].Flow {
			best = i
		}
		if *r.Rows[i].Speed > *r.Rows[fast].Speed {
			fast = i
		}
	}
	if *r.Best != best || *r.Fastest != fast {
		t.Errorf("best %d, fastest %d; want %d, %d", *r.Best, *r.Fastest, best, fast)
	}
	x := &r.Rows[best]
	if !strings.Contains(r.Sentence, x.Name(false)+", limited by "+x.Limit) ||
		!strings.Contains(r.Sentence, "limited by "+x.Limit) || best == fast ||
		!strings.Contains(r.Sentence, r.Rows[fast].Name(false)+".") {
		t.Errorf("%s", r.Sentence)
	}
}

// A wanted print speed is a flow of each nozzle's own: more than twice as much of a nozzle half as wide again.
func TestSurveyWantsAPrintSpeed(t *testing.T) {
	base := &casefile.Invented().Setup
	r := surveyed(t, SurveyJob{Base: base, Nozzles: []float64{0.4e-3, 0.6e-3}, Speed: 0.15})
	near(t, "flow wanted of 0.4 mm", r.Rows[0].Target, 13.5e-9, 1e-9)
	near(t, "flow wanted of 0.6 mm", r.Rows[1].Target, 30.375e-9, 1e-9)
	for i := range r.Rows {
		x := &r.Rows[i]
		near(t, "margin and flow", x.Flow, (1+*x.Margin)**x.Target, 1e-9)
		if (*x.Low >= *x.Target) != (x.Judged == string(assess.Held)) {
			t.Errorf("%s: low end %g, wanted %g, %s", x.Name(false), *x.Low, *x.Target, x.Judged)
		}
	}
	if !strings.Contains(r.Sentence, "wanted print speed of 150 mm/s") {
		t.Errorf("%s", r.Sentence)
	}
}

// Hot ends are compared by their own sections and doubts, on the feeder and the duty of the base.
func TestSurveyOfHotEnds(t *testing.T) {
	base := &casefile.Invented().Setup
	long := base.Clone()
	z := vary.Must(long, vary.Zone)
	if err := z.Set(long, 40e-3); err != nil {
		t.Fatal(err)
	}
	r := surveyed(t, SurveyJob{Base: base, HotEnds: []Place{{"short", base}, {"long", long}}})
	for i, s := range []*setup.Setup{base, long} {
		f, err := s.Matcher(march.New(&s.Case, march.Options{})).Find(s.Block)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "usable flow on "+r.Rows[i].HotEnd, r.Rows[i].Flow, f.Flow, 2e-4)
	}
	if r.Rows[0].HotEnd != "short" || r.Rows[1].HotEnd != "long" || *r.Rows[1].Melted < 1.5**r.Rows[0].Melted {
		t.Errorf("%+v", r.Rows)
	}
}

// A combination that makes no set-up is a row with the reason; a job in which none does is an error.
func TestSurveySaysWhatCannotBe(t *testing.T) {
	base := &casefile.Invented().Setup
	r := surveyed(t, SurveyJob{Base: base, Nozzles: []float64{0.4e-3, 4.9e-3}})
	if x := r.Rows[1]; x.Flow != nil || x.Remark == "" ||
		!strings.Contains(r.Sentence, "1 of 2 could not be computed") {
		t.Errorf("a nozzle wider than the barrel: %+v; %s", x, r.Sentence)
	}
	if _, err := Survey(context.Background(), SurveyJob{Base: base, Nozzles: []float64{4.9e-3}}, nil); err == nil {
		t.Error("nothing could be computed, and there is no error")
	}
}

// All that is wrong with a job is listed at once.
func TestSurveyRefusesNonsense(t *testing.T) {
	base := &casefile.Invented().Setup
	pla := base.Material
	many := make([]float64, 60)
	for i := range many {
		many[i] = unit.Kelvin(180 + float64(i))
	}
	nozzles := make([]float64, 40)
	for i := range nozzles {
		nozzles[i] = 0.2e-3 + 1e-5*float64(i)
	}
	_, err := Survey(context.Background(), SurveyJob{Base: base, Materials: []*materials.Material{pla, pla, nil},
		HotEnds: []Place{{"a", base}, {"a", base}}, Nozzles: append(nozzles, 0.2e-3, 1),
		Blocks: append(many, math.NaN()), Flow: 1e-9, Speed: -1}, nil)
	ps, ok := err.(strict.Problems)
	if !ok {
		t.Fatal(err)
	}
	for _, want := range []string{"Materials[1]", "Materials[2]", "HotEnds[1]", "Nozzles[40]", "Nozzles[41]",
		"Blocks[60]", "Speed", "combinations"} {
		if !strings.Contains(ps.Error(), want) {
			t.Errorf("nothing about %s in %v", want, ps)
		}
	}
	if _, err := Survey(context.Background(), SurveyJob{}, nil); err == nil {
		t.Error("no base, and no error")
	}
}

func TestSurveyEndsWhenToldTo(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err := Survey(ctx, SurveyJob{Base: &casefile.Invented().Setup, Nozzles: []float64{0.4e-3, 0.6e-3}}, nil)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// A flow at the end of the search is told from one below it; without a search there is no end.
func TestBeyondTheSearch(t *testing.T) {
	for _, x := range []struct {
		flow, end float64
		want      bool
	}{{40e-9, 40e-9, true}, {39.9e-9, 40e-9, false}, {0, 40e-9, false}, {40e-9, 0, false}} {
		row, spread := SurveyRow{searchEnd: x.end}, Range{searchEnd: x.end}
		if row.Beyond(x.flow) != x.want || spread.Beyond(x.flow) != x.want {
			t.Errorf("flow %g of a search to %g: want %v", x.flow, x.end, x.want)
		}
	}
}
