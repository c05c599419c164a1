package study

import (
	"strings"
	"testing"

	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/materials/unit"
)

// What speaks against a calibration leads its sentence, stands beside its factors, and goes into the case it writes.
func TestDoubtsTravelWithACalibration(t *testing.T) {
	c := casefile.Invented()
	at := func(degC, flow, force float64) calibrate.Point {
		return calibrate.Point{Block: unit.Kelvin(degC), Flow: flow * unit.MM3, Force: force}
	}
	r, err := Calibrate(t.Context(), &c.Setup, []calibrate.Point{at(195, 3, 217), at(205, 5, 236), at(215, 15, 407),
		at(225, 20, 424)}, calibrate.Settings{}) // ten times what was pushed
	if err != nil {
		t.Fatal(err)
	}
	text, err := r.CaseText(c)
	switch {
	case r.Misfit != "":
		if err == nil || !strings.Contains(r.Sentence, "look at the unit") {
			t.Errorf("%s\n%v", r.Sentence, err)
		}
	case err != nil:
		t.Error(err)
	case r.Good || !strings.HasPrefix(r.Sentence, "Doubtful") ||
		!strings.Contains(string(text), "calibrated, doubtful"):
		t.Errorf("good: %v; %s\n%s", r.Good, r.Sentence, text)
	}
	if len(r.Warnings) == 0 {
		t.Error("no warnings")
	}
	one := []calibrate.Point{at(195, 3, 21.7)}
	if r, err = Calibrate(t.Context(), &c.Setup, one, calibrate.Settings{}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(r.Sentence, "at the one point") || len(r.Warnings) == 0 || r.Doubtful {
		t.Errorf("%s %v", r.Sentence, r.Warnings)
	}
}
