package setup_test

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// small is a set-up as a Go program writes it, with all left out that New fills in.
func small(t *testing.T) setup.Setup {
	pla, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 4e-3, Force: 60, Cause: feeder.Grind}}})
	if err != nil {
		t.Fatal(err)
	}
	return setup.Setup{
		Case: flow.Case{Material: pla, Filament: flow.Filament{Diameter: 1.75e-3, Inlet: unit.Kelvin(25)},
			HotEnd: flow.HotEnd{Sections: []flow.Section{
				{Name: "barrel", Shape: flow.Tube, D1: 2e-3, Length: 20e-3},
				{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6},
				{Name: "bore", Shape: flow.Tube, D1: 0.4e-3, Length: 1e-3},
			}}},
		Block: unit.Kelvin(215), Feeder: f,
	}
}

func TestNewFillsInWhatIsLeftOut(t *testing.T) {
	in := small(t)
	s, err := setup.New(in)
	if err != nil {
		t.Fatal(err)
	}
	if s.Contact != flow.DefaultWettedH || s.HotEnd.Sections[2].H != flow.DefaultWettedH ||
		s.Temps != s.Material.Window || s.Limits.Safety != 1.25 || s.Samples != 2048 || s.Seed != 1 {
		t.Errorf("not filled in: %+v", s)
	}
	in.Samples, in.Seed = 64, 7
	if s, err = setup.New(in); err != nil || s.Samples != 64 || s.Seed != 7 {
		t.Errorf("what is given was changed: %d samples by the seed %d, %v", s.Samples, s.Seed, err)
	}
	if in.HotEnd.Sections[0].H != 0 || in.HotEnd.Sections[1].Length != 0 {
		t.Error("New changed what it was given")
	}
}

func TestAllProblemsAtOnce(t *testing.T) {
	in := small(t)
	in.Block, in.Filament.Inlet, in.Feeder, in.Target = 215, 25, nil, 10
	in.Temps = [2]float64{500, 480}
	in.Doubts = map[string]setup.Doubt{"x": {Kind: setup.Factor, High: 0.5}}
	in.Correlations = []setup.Correlation{{First: "x", Second: "y", Value: 1}, {First: "x", Second: "x", Value: 0.5}}
	_, err := setup.New(in)
	ps, _ := err.(strict.Problems)
	var fields []string
	for _, p := range ps {
		fields = append(fields, p.Field)
	}
	if got, want := strings.Join(fields, " "), "Filament.Inlet Block Feeder Target Temps Doubts[x] Correlations[0] "+
		"Correlations[1]"; got != want {
		t.Errorf("fields %q, want %q:\n%v", got, want, err)
	}
}

// Nothing that can be reached from a clone is shared with the original, down to the tables that nothing changes.
func TestCloneIsDeep(t *testing.T) {
	a := casefile.Invented().Clone()
	a.Doubts = map[string]setup.Doubt{"x": {}}
	a.Correlations = []setup.Correlation{{First: "x", Second: "y", Value: 0.1}}
	b := a.Clone()
	b.HotEnd.Sections[0].Length, b.Feeder.Points[0].Force, b.Material.FirstFlow, b.Mould.Elements[0].Length = 1, 1, 1, 1
	b.Doubts["y"] = setup.Doubt{}
	b.Correlations[0].Value = 0.9
	if !reflect.DeepEqual(a, casefileClone()) {
		t.Error("a change to a clone reached the original")
	}
	if a.Clone().Material == a.Material {
		t.Error("the material is shared")
	}
}

func casefileClone() *setup.Setup {
	c := casefile.Invented().Clone()
	c.Doubts = map[string]setup.Doubt{"x": {}}
	c.Correlations = []setup.Correlation{{First: "x", Second: "y", Value: 0.1}}
	return c
}

// Coefficients that no three quantities can have at once are refused.
func TestCorrelationsThatCannotBe(t *testing.T) {
	in := small(t)
	in.Correlations = []setup.Correlation{{First: "a", Second: "b", Value: 0.9}, {First: "b", Second: "c", Value: 0.9},
		{First: "a", Second: "c", Value: -0.9}}
	if _, err := setup.New(in); err == nil || !strings.Contains(err.Error(), "positive definite") {
		t.Errorf("impossible coefficients: %v", err)
	}
	in.Correlations[2].Value = 0.9
	if _, err := setup.New(in); err != nil {
		t.Error(err)
	}
}
