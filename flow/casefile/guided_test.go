package casefile

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/vary"
	"meltload/materials/unit"
)

// A case from answers: what was said is its value, what was not is assumed, marked, and has its spread; the spread of
// what is known stays out.
func TestCaseFromAnswers(t *testing.T) {
	said := func(x float64) Given { return Given{X: x} }
	not := func(x float64) Given { return Given{X: x, Assumed: true} }
	known := Answers{Date: "a day", Title: "t", Material: "pla", HotEnd: "h", Feeder: "f", Filament: said(1.75),
		Block: said(210), Bore: said(0.6), Passage: said(2), Length: said(20), Heater: 40, Wanted: 12,
		Points: []AnswerPoint{{said(5), said(60), "grind"}}}
	spreads := []string{"block_K", "bore_mm", "barrel_mm", "zone_mm", "motor_torque_share", "feeder_force_share"}
	motor := AnswerMotor{Holding: said(40), Rated: said(1.5), Current: said(1), Kind: "rms", Resistance: said(2),
		Inductance: said(3), Supply: said(24), Ratio: said(3), Wheel: said(11), Wheels: said(2)}
	with := func(change func(m *AnswerMotor)) *AnswerMotor { m := motor; change(&m); return &m }
	for what, x := range map[string]struct {
		change      func(a *Answers)
		placeholder bool
		lines       []string // of the file
		spread      map[string]string
	}{
		"all known": {func(*Answers) {}, false, []string{"diameter_mm = 1.75\n", "tolerance_mm = 0.03 ",
			"heater_W = 40\n",
			"length_mm = 1.5  # assumed", "land_mm = 0.75 ", "max_flow_mm3_s = 60 ", "force_N = 60\n",
			"viscosity_factor = 2 "}, nil},
		"much wanted":         {func(a *Answers) { a.Wanted = 25.1 }, false, []string{"max_flow_mm3_s = 76 "}, nil},
		"far too much wanted": {func(a *Answers) { a.Wanted = 900 }, false, []string{"max_flow_mm3_s = 1000 "}, nil},
		"stand-in data":       {func(*Answers) {}, true, []string{"viscosity_factor = 3 "}, nil},
		"any material": {func(a *Answers) { a.AnyMaterial = true }, true, []string{"viscosity_factor = 6 ",
			"material = \"pla\"  # assumed"}, nil},
		"filament": {func(a *Answers) { a.Filament.Assumed = true }, false, []string{"tolerance_mm = 0.05 ",
			"diameter_mm = 1.75  # assumed"}, nil},
		"block": {func(a *Answers) { a.Block.Assumed = true }, false, nil, map[string]string{"block_K": "23"}},
		"sizes": {func(a *Answers) { a.Bore, a.Passage, a.Length = not(0.4), not(2), not(15) }, false,
			[]string{"length_mm = 1  # assumed", "land_mm = 0.5 "},
			map[string]string{"bore_mm": "0.1", "barrel_mm": "0.15", "zone_mm": "6"}},
		"no feeder": {func(a *Answers) { a.Points = nil }, false,
			[]string{"force_N = 30  # assumed", "cause = \"unknown\""},
			map[string]string{"feeder_force_share": "0.5"}},
		"a force that is a guess": {func(a *Answers) { a.Points[0].Force.Assumed = true }, false, nil,
			map[string]string{"feeder_force_share": "0.5"}},
		"a flow that is a guess": {func(a *Answers) { a.Points[0].Flow.Assumed = true }, false, nil,
			map[string]string{"feeder_force_share": "0.5"}},
		"motor": {func(a *Answers) { a.Points, a.Motor = nil, &motor }, false, nil,
			map[string]string{"motor_torque_share": "0.2"}},
		"motor of any kind": {func(a *Answers) {
			a.Points, a.Motor = nil, with(func(m *AnswerMotor) { m.AnyKind = true })
		}, false, nil,
			map[string]string{"motor_torque_share": "0.4"}},
		"motor of any winding": {func(a *Answers) {
			a.Points, a.Motor = nil, with(func(m *AnswerMotor) { m.Inductance.Assumed = true })
		},
			false, nil, map[string]string{"motor_torque_share": "0.4"}},
	} {
		a := known
		a.Points = append([]AnswerPoint(nil), known.Points...)
		x.change(&a)
		text, err := Guided("x.toml", a, x.placeholder, 22.6)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		s := string(text)
		for _, l := range x.lines {
			if !strings.Contains(s, l) {
				t.Errorf("%s: no %q in\n%s", what, l, s)
			}
		}
		for _, key := range spreads {
			_, after, has := strings.Cut(s, "\n"+key+" = ")
			if want, ok := x.spread[key]; has != ok || ok && !strings.HasPrefix(after, want+" ") {
				t.Errorf("%s: %s is %t, %.12q, want %q", what, key, has, after, want)
			}
		}
	}
	known.Block.Assumed = true
	text, err := Guided("x.toml", known, false, 80)
	if err != nil || !strings.Contains(string(text), "\nblock_K = 50 ") {
		t.Errorf("a wide window: %v\n%s", err, text)
	}
	known.Filament = said(9)
	if text, err := Guided("x.toml", known, false, 20); err == nil || len(text) == 0 {
		t.Errorf("filament as wide as a finger: %v", err)
	}
}

// Points of a feeder by their speeds or flows, newtons or kilograms, and currents by their kind.
func TestPointsOfAFileByHand(t *testing.T) {
	c, ps := Parse("x.toml", []byte(strings.Replace(string(BuiltIn), "[[feeder.point]]", `[[feeder.point]]
flow_mm3_s = 24.052818754046854
force_kgf = 5
sd_N = 2
repeats = 4
current_A = 1
current_kind = "rms"
[[feeder.point]]`, 1)))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	found := false
	for i, p := range c.Feeder.Points {
		if math.Abs(p.Speed-10e-3) > 1e-9 {
			continue
		}
		found = true
		if math.Abs(p.Force-5*unit.KGF) > 1e-9 || p.SD != 2 || p.Repeats != 4 ||
			math.Abs(p.Current-math.Sqrt2) > 1e-12 {
			t.Errorf("%+v", p)
		}
		// It stands first in the file, and later among rising speeds.
		key := "feeder.point[" + string(rune('1'+i)) + "].force_N"
		if got, ok := c.FileKey(key); !ok || got != "feeder.point[1].force_N" || i == 0 {
			t.Errorf("%s is %q of the file", key, got)
		}
	}
	if !found {
		t.Errorf("%+v", c.Feeder.Points)
	}
	for key, want := range map[string]string{"path.drag_N": "path.drag_N", "feeder.point[9].force_N": "",
		"feeder.point[0].force_N": "", "feeder.point[x].force_N": "",
		"hot_end.section[1].diameter_mm": "hot_end.section[1].diameter_mm"} {
		if got, ok := c.FileKey(key); got != want || ok != (want != "") {
			t.Errorf("%s: %q, %t", key, got, ok)
		}
	}
	// A band without a value takes its middle, on the scale of the quantity.
	text, own, _ := strings.Cut(string(BuiltIn), "\neccentricity = 0.4")
	_, own, _ = strings.Cut(own, "\n")
	text += "\n" + strings.Replace(own, "\ncontact_W_m2K = [", "\neccentricity = [0.6, 0.8]\ncontact_W_m2K = [", 1)
	if c, ps = Parse("x.toml", []byte(text)); len(ps) > 0 {
		t.Fatal(ps)
	}
	q := vary.Must(&c.Setup, vary.Eccentricity)
	if got := q.Get(&c.Setup); math.Abs(got-0.7) > 1e-12 {
		t.Errorf("eccentricity %g", got)
	}
}

// Points of one speed are pooled, and that is said.
func TestPooledPointsAreSaid(t *testing.T) {
	c, ps := Parse("x.toml", []byte(strings.Replace(string(BuiltIn), "flow_mm3_s = 15\n", "flow_mm3_s = 5\n", 1)))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if len(c.Notes) != 1 || c.Notes[0].Code != "points-pooled" || c.Feeder.Points[0].Force != 70 ||
		len(c.Feeder.Points) != 2 {
		t.Errorf("%v, %+v", c.Notes, c.Feeder.Points)
	}
}
