package calibrate_test

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
)

var benchPushes = [][2]float64{{195, 3}, {195, 8}, {205, 5}, {215, 5}, {215, 15}, {225, 10}, {225, 20}}

// scaled returns pushes of the starter case whose forces are a number of times too large, without the uncertainty.
func scaled(t *testing.T, s *setup.Setup, by float64, at [][2]float64) []calibrate.Point {
	t.Helper()
	out := made(t, s, nil, at, 0, 1)
	for i := range out {
		out[i].Force *= by
		out[i].U = 0
	}
	return out
}

func codes(ws []materials.Warning) (s string) {
	for _, w := range ws {
		s += w.Code + ": " + w.Message + "\n"
	}
	return s
}

// Forces in another unit are told, whether the fit meets them or is refused: the ratios are those of the units (NIST SP
// 811). Forces as predicted carry no such warning.
func TestWrongUnitIsSuspected(t *testing.T) {
	s := &casefile.Invented().Setup
	for _, c := range []struct {
		by   float64
		want string
	}{
		{10, "newtons in a column of kgf"}, {101.97, "grams (gf) in a column of newtons"},
		{0.10197, "kgf in a column of newtons"}, {0.2248, "pounds (lbf) in a column of newtons"},
		{4.448, "newtons taken for pounds"}, {0.00981, "newtons taken for grams"},
	} {
		// The ratio does not hang on what is fitted.
		set := calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity}}
		if c.by == 10 {
			set.Factors = nil
		}
		r, err := calibrate.Fit(t.Context(), s, scaled(t, s, c.by, benchPushes), set)
		if err != nil {
			t.Fatal(err)
		}
		if x := r.Ratio(); math.Abs(x/c.by-1) > 1e-6 {
			t.Errorf("a ratio of %g, want %g", x, c.by)
		}
		if said := codes(r.Warnings()); !r.Doubtful() || !strings.Contains(said, c.want) ||
			!strings.Contains(said, "gear ratio") {
			t.Errorf("%g times: %v\n%s", c.by, r.Doubtful(), said)
		}
		if m := r.Misfit(); m != "" && !strings.Contains(m, c.want) {
			t.Errorf("%g times is refused without the unit: %s", c.by, m)
		}
	}
	r, err := calibrate.Fit(t.Context(), s, scaled(t, s, 1.2, benchPushes), calibrate.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	said := codes(r.Warnings())
	if r.Doubtful() || strings.Contains(said, "far-from") || strings.Contains(said, "ratio") {
		t.Errorf("forces 1.2 times those predicted: %s", said)
	}
}

// A factor far outside the band known before is named with the band, and the calibration is doubtful.
func TestFarFactorIsDoubtful(t *testing.T) {
	s := &casefile.Invented().Setup
	points := made(t, s, map[vary.ID]float64{vary.Entrance: 30}, benchPushes, 0, 1)
	r, err := calibrate.Fit(t.Context(), s, points, calibrate.Settings{Factors: []calibrate.Factor{vary.Entrance}})
	if err != nil {
		t.Fatal(err)
	}
	v := r.Values[0]
	// 30 is this many halves of the band from 1, on the scale of ratios
	if want := math.Log(30) / (math.Log(v.Band[1]/v.Band[0]) / 2); !v.Known || math.Abs(v.Far/want-1) > 0.01 {
		t.Errorf("known: %v, %g halves of the band, want %g", v.Known, v.Far, want)
	}
	if said := codes(r.Warnings()); !r.Doubtful() || !strings.Contains(said, "far-from-known: the forces ask for "+
		"entrance loss factor 30, far outside the 0.268 to 3.73 known before") {
		t.Error(said)
	}
}

// One measurement, or as many as factors, show no scatter.
func TestFewMeasurementsAreSaid(t *testing.T) {
	s := &casefile.Invented().Setup
	for n, want := range map[int]bool{1: true, 4: false} {
		r, err := calibrate.Fit(t.Context(), s, made(t, s, nil, benchPushes[:n], 0, 1),
			calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity}})
		if err != nil {
			t.Fatal(err)
		}
		if said := codes(r.Warnings()); strings.Contains(said, "one-measurement") != want {
			t.Errorf("%d measurements: %s", n, said)
		}
	}
}

// Viscosity and entrance loss raise the forces nearly alike: the pair is named. One factor alone has none.
func TestTradeOffIsNamed(t *testing.T) {
	s := &casefile.Invented().Setup
	points := made(t, s, map[vary.ID]float64{vary.Viscosity: 1.3}, benchPushes, 0, 1)
	r, err := calibrate.Fit(t.Context(), s, points,
		calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity, vary.Entrance}})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Alike) != 1 || !(r.Alike[0].Value < -0.7) ||
		!strings.Contains(codes(r.Warnings()), "viscosity factor and entrance loss factor trade off") {
		t.Errorf("%+v\n%s", r.Alike, codes(r.Warnings()))
	}
	if r, err = calibrate.Fit(t.Context(), s, points,
		calibrate.Settings{Factors: []calibrate.Factor{vary.Viscosity}}); err != nil || len(r.Alike) > 0 {
		t.Errorf("%+v %v", r.Alike, err)
	}
}
