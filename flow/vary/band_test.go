package vary

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/feeder"
)

// Bands by value: the points of the normal and even distributions that their words state.
func TestBandsByValue(t *testing.T) {
	wide := &Quantity{Low: 1e-6, High: 1e6}
	log := &Quantity{Low: 1e-6, High: 1e6, Scale: Log}
	inverse := &Quantity{Low: 1, High: math.Inf(1), Scale: Reciprocal}
	const one = 0.8413447460685429 // of the normal distribution up to one standard deviation
	for _, x := range []struct {
		what     string
		b        Band
		p, want  float64
		low, top float64
	}{
		{"normal", wide.normal(10, 2, ""), one, 11, 8, 12},
		{"normal, two", wide.normal(10, 2, ""), 0.9772498680518208, 12, 8, 12},
		{"factor", log.factor(3, 4, ""), one, 6, 0.75, 12},
		{"factor, low", log.factor(3, 4, ""), 1 - one, 1.5, 0.75, 12},
		{"even, low half", wide.between(10, 4, 30, ""), 0.25, 7, 4, 30},
		{"even, high half", wide.between(10, 4, 30, ""), 0.75, 20, 4, 30},
		{"even, next to the value", wide.between(10, 4, 30, ""), 0.55, 12, 4, 30},
		{"even, next below it", wide.between(10, 4, 30, ""), 0.45, 9.4, 4, 30},
		{"even on a log scale", log.between(10, 1, 1000, ""), 0.75, 100, 1, 1000},
		{"even in the resistance", inverse.between(1000, 500, math.Inf(1), ""), 0.75, 2000, 500, math.Inf(1)},
		{"skewed, high", wide.skewed(10, 7, 19.8, ""), one, 10 + 9.8/1.96, 7, 19.8},
		{"skewed, low", wide.skewed(10, 7, 19.8, ""), 1 - one, 10 - 3/1.96, 7, 19.8},
		{"known", wide.known(10, ""), 0.3, 10, 10, 10},
	} {
		if got := x.b.At(x.p); !(math.Abs(got/x.want-1) <= 1e-6) {
			t.Errorf("%s: %.6g at %.3f, want %.6g", x.what, got, x.p, x.want)
		}
		if x.b.Low != x.low || x.b.High != x.top {
			t.Errorf("%s: from %g to %g, want %g to %g", x.what, x.b.Low, x.b.High, x.low, x.top)
		}
	}
	if b := wide.normal(10, 0, ""); !b.Known {
		t.Error("a width of nothing is not known")
	}
	if b := log.factor(10, 1, ""); !b.Known {
		t.Error("a factor of one is not known")
	}
}

// Three figures, whatever the size.
func TestRoundToThreeFigures(t *testing.T) {
	for x, want := range map[float64]float64{1234.5: 1230, -0.0123456: -0.0123, 9.996: 10, 0: 0, 99949: 99900} {
		if got := round3(math.Inf(1)); !math.IsInf(got, 1) {
			t.Errorf("infinity rounds to %g", got)
		}
		if got := round3(x); !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
			t.Errorf("%g rounds to %g, want %g", x, got, want)
		}
	}
}

// Values and bounds in words: with their unit, and without end where they have none.
func TestTextsOfValues(t *testing.T) {
	size := (&Quantity{Low: 1e-3, High: 0.05, Unit: "mm"}).mm()
	for x, want := range map[float64]string{0.4e-3: "0.4 mm", 1.23456e-3: "1.235 mm", math.Inf(1): "infinite"} {
		if got := size.Text(x); got != want {
			t.Errorf("%g m reads %q, want %q", x, got, want)
		}
	}
	plain := &Quantity{Low: 1, High: math.Inf(1)}
	if got := plain.Allowed(); got != "1 to inf" || plain.Text(2.5) != "2.5" || size.Allowed() != "1 to 50 mm" {
		t.Errorf("%q, %q, %q", got, plain.Text(2.5), size.Allowed())
	}
}

// Numbers as the case file reads them.
func TestNumbersOfTheCaseFile(t *testing.T) {
	for x, want := range map[float64]string{math.Inf(1): "inf", math.Inf(-1): "-inf", 0.1: "0.1", 1e-7: "1e-07",
		12345678: "12345680", 1.2345678e-5: "1.234568e-05", 12.345: "12.345", -0.25: "-0.25",
		2e9: "2e+09", 1e-4: "0.0001", 999999999: "1e+09", 123456.7: "123456.7"} {
		if got := Number(x); got != want {
			t.Errorf("%g is written %s, want %s", x, got, want)
		}
	}
	if got := Number(math.NaN()); !strings.EqualFold(got, "nan") {
		t.Errorf("no number is written %s", got)
	}
}

// The scatter of the mean of measured points: 3 N of 60 N over 4 repeats and 4 N of 80 N over 4 are 2.5 % each.
func TestScatterOfPoints(t *testing.T) {
	f := &feeder.Feeder{Points: []feeder.Point{{Force: 60, SD: 3, Repeats: 4}, {Force: 80, SD: 4, Repeats: 4},
		{Force: 50, SD: 9, Repeats: 1}, {Force: 50, Repeats: 5}}}
	if got := scatter(f); !(math.Abs(got-0.025) <= 1e-12) {
		t.Errorf("%.5f, want 0.025", got)
	}
	if got := scatter(&feeder.Feeder{Points: f.Points[2:]}); got != 0 {
		t.Errorf("%.5f without repeats", got)
	}
}
