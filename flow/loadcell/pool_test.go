package loadcell

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
)

func TestSeriesByName(t *testing.T) {
	for file, want := range map[string]string{
		"logs/feeder-a_5mm3s_1.csv": "feeder-a", "logs/feeder-a_5mm3s_2.csv": "feeder-a",
		"feeder-a_20mm3s_r3.csv.gz": "feeder-a",
		"b slow run 2.txt":          "b slow", "b slow run 3.txt": "b slow", "twin (2).xlsx": "twin",
		"run1.csv": "run1", "gear_12.5mm3_s_rep2.log": "gear",
		"big gear 5 mm3s #4.csv": "big gear",
		// A number alone that is not after a flow is the feeder's.
		"feeder-1.csv": "feeder-1", "feeder-2.csv": "feeder-2", "feeder-1_5mm3s_2.csv": "feeder-1",
		"feeder-2_5mm3s.csv": "feeder-2", "feeder-2_20mm3_s_run1.csv": "feeder-2", "feeder-2(3).csv": "feeder-2",
		"feeder no 2.csv": "feeder no 2", "feeder_2_rep_3.csv": "feeder 2",
	} {
		if got := SeriesOf(file, ByName); got != want && !(file == "run1.csv" && got != "") {
			t.Errorf("%s: %q, want %q", file, got, want)
		}
	}
	if SeriesOf("a/b/c.csv", ByFolder) != "b" || SeriesOf("x.csv", AllOne) != SeriesOf("y.csv", AllOne) ||
		SeriesOf("x.csv", EachOwn) == SeriesOf("y.csv", EachOwn) {
		t.Error("pooling by folder, all or none")
	}
	for file, want := range map[string]float64{"a_5mm3s_1.csv": 5, "a_12.5mm3_s.csv": 12.5, "a_2p5mm3.csv": 2.5,
		"a_0.4mm_1.csv": 0, "a5.csv": 0} {
		if got := FlowInName(file); got != want {
			t.Errorf("%s: %g mm3/s, want %g", file, got, want)
		}
	}
}

// Names that differ by a number alone are told, once each; others are not.
func TestNumberedSeriesAreTold(t *testing.T) {
	got := Numbered([]string{"feeder-1", "feeder-2", "feeder-1", "gear", "lever-3", "no 7", "gear b"})
	if !slices.Equal(got, []string{"feeder-1", "feeder-2"}) {
		t.Errorf("%q", got)
	}
}

// Welch's t by hand: u2 = 0.6^2/5 + 0.9^2/7, nu by Satterthwaite.
func TestCompareByHand(t *testing.T) {
	d := Compare(Sample{Mean: 50, SD: 0.6, N: 5}, Sample{Mean: 52, SD: 0.9, N: 7}, 0.95)
	u2 := 0.36/5 + 0.81/7
	nu := u2 * u2 / (math.Pow(0.36/5, 2)/4 + math.Pow(0.81/7, 2)/6)
	if math.Abs(d.DOF-nu) > 1e-9 || math.Abs(d.Half-TQuantile(0.975, nu)*math.Sqrt(u2)) > 1e-9 || d.Verdict != Better ||
		d.Delta != 2 || d.P > 0.01 {
		t.Errorf("%+v", d)
	}
	if d := Compare(Sample{Mean: 52, SD: 2, N: 3}, Sample{Mean: 50, SD: 2, N: 3}, 0.95); d.Verdict != NoDifference {
		t.Errorf("%+v", d)
	}
	if d := Compare(Sample{Mean: 52, SD: 0, N: 1}, Sample{Mean: 40, SD: 0, N: 1}, 0.95); d.Verdict != CannotTell ||
		d.Why == "" {
		t.Errorf("%+v", d)
	}
	if d := Compare(Sample{Mean: 60, SD: 1, N: 4}, Sample{Mean: 40, SD: 0, N: 1}, 0.95); d.Verdict != Worse ||
		d.DOF != 3 {
		t.Errorf("%+v", d)
	}
}

// Of samples of one truth a twentieth is told apart, and not more.
func TestComparisonKeepsItsConfidence(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	draw := func(mean, sd float64, n int) Sample {
		x := make([]float64, n)
		for i := range x {
			x[i] = mean + sd*rng.NormFloat64()
		}
		return sampleOf(x)
	}
	false95 := 0
	const runs = 4000
	for range runs {
		if Compare(draw(60, 2, 3), draw(60, 4, 4), 0.95).Verdict != NoDifference {
			false95++
		}
	}
	if share := float64(false95) / runs; share > 0.065 || share < 0.02 {
		t.Errorf("%.1f %% of equal samples are told apart", 100*share)
	}
}

// A cell goes to a file and comes back, and a change between calibrations is seen only where there is one.
func TestCellFileAndDrift(t *testing.T) {
	fit := func(seed uint64, perN, zero float64) CellLine {
		rng := rand.New(rand.NewPCG(seed, 7))
		var w []Weight
		for _, m := range []float64{0, 2, 4, 6, 8, 10} {
			read := func() float64 { return zero + perN*m*Gravity + 6*rng.NormFloat64() }
			w = append(w, Weight{m, read(), read(), true})
		}
		c, err := FitCell(w, Gravity)
		if err != nil {
			t.Fatal(err)
		}
		return c.Line("cell", Gravity)
	}
	a := fit(1, 500, 1184)
	b, err := ReadCell("cell.toml", strings.NewReader(a.TOML()))
	if err != nil || math.Abs(b.PerCount/a.PerCount-1) > 1e-8 || math.Abs(b.Zero/a.Zero-1) > 1e-8 || b.Weights != 12 {
		t.Errorf("%+v, %v", b, err)
	}
	false95 := 0
	for seed := range uint64(200) {
		if d := DriftOf(a, fit(seed+10, 500, 1184)); d.SensitivityMoved {
			false95++
		}
	}
	if false95 > 60 { // a itself is one draw, so that the share is wider than 5 %
		t.Errorf("%d of 200 equal cells are told apart", false95)
	}
	d := DriftOf(a, fit(3, 510, 1300))
	if !d.SensitivityMoved || !d.ZeroMoved || math.Abs(d.Sensitivity+0.0196) > 0.002 || math.Abs(d.Zero-0.227) > 0.05 ||
		d.AtSpan < 1 {
		t.Errorf("%+v", d)
	}
	for _, text := range []string{"", "newton_per_count = 0.0\nzero_count = 1.0\n",
		"newton_per_count = \"x\"\nzero_count = 1.0\n", "newton_per_count = 1.0\nzero_count = 1.0\nzreo = 2\n"} {
		if _, err := ReadCell("c.toml", strings.NewReader(text)); err == nil {
			t.Errorf("%q was read", text)
		}
	}
}

func FuzzReadCell(f *testing.F) {
	f.Add("newton_per_count = 0.002\nzero_count = 1184.0\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ReadCell("c.toml", strings.NewReader(text))
		if err == nil && (c.PerCount == 0 || math.IsNaN(c.PerCount) || math.IsNaN(c.Zero)) {
			t.Fatalf("%+v", c)
		}
	})
}

// sampleOf is the mean and scatter of values.
func sampleOf(x []float64) Sample {
	s := Sample{N: len(x), Mean: stat.Mean(x, nil)}
	if len(x) > 1 {
		s.SD = stat.StdDev(x, nil)
	}
	return s
}
