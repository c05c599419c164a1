package reference_test

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"meltload/flow/reference"
	"meltload/materials/checks"
)

// Motors by hand: Z^2 = 4 + 9 at 2 ohm, 3 mH and 1000 rad/s, and 50 teeth of 0.01 V s; the current rises to 5 A of 12 A
// in -1.5 ms ln(1 - 10/24), and to 12 A never.
func TestMotorsByHand(t *testing.T) {
	m := reference.Winding{Voltage: 24, Resistance: 2, Inductance: 3e-3, Flux: 0.01, Teeth: 50}
	checks.Near(t, "pull-out torque", m.PullOut(1000), 0.5*(24/3.605551275-20.0/13), 1e-9)
	checks.Near(t, "rise", reference.RiseTime(24, 2, 3e-3, 5), 1.5e-3*0.538996501, 1e-8)
	for _, i := range []float64{12, 13} {
		if got := reference.RiseTime(24, 2, 3e-3, i); !math.IsInf(got, 1) {
			t.Errorf("%g A after %g s", i, got)
		}
	}
}

// Peaks and how far they stand out by hand: the higher of the lowest points on the way to anything higher, or to the
// end, on either side.
func TestPeaksByHand(t *testing.T) {
	for _, x := range []struct {
		x          []float64
		at         []int
		prominence []float64
	}{
		{[]float64{0, 3, 1, 2, 0, 5, 4}, []int{1, 3, 5}, []float64{3, 1, 1}},
		{[]float64{0, 2, 2, 0}, []int{1}, []float64{2}},
		{[]float64{1, 4, 2, 4, 0.5, 3, 2.5, 6}, []int{1, 3, 5}, []float64{3, 3, 0.5}},
		{[]float64{3, 2, 1}, nil, nil}, {[]float64{1, 2, 3}, nil, nil},
	} {
		at, p := reference.Peaks(x.x)
		if !slices.Equal(at, x.at) || !slices.Equal(p, x.prominence) {
			t.Errorf("%v: peaks at %v by %v, want %v by %v", x.x, at, p, x.at, x.prominence)
		}
	}
}

// Deviations about the median by hand, of an odd and an even number: 3, 2, 0, 3, 96 about 4; 1.5, 0.5, 0.5, 7.5 about
// 2.5. A normal distribution has 1.482602 times that.
func TestMedianDeviationByHand(t *testing.T) {
	for want, x := range map[float64][]float64{3: {7, 1, 100, 2, 4}, 1: {10, 1, 3, 2}} {
		mad, sigma := reference.MAD(x)
		checks.Near(t, "median deviation", mad, want, 1e-12)
		checks.Near(t, "standard deviation", sigma, 1.482602219*want, 1e-9)
	}
}

// Cumulative sums by hand: each side alarms, the first time counts, at the bound itself nothing does.
func TestCumulativeSumsByHand(t *testing.T) {
	for _, x := range []struct {
		x     []float64
		alarm int
	}{{[]float64{10, 11, 13, 14, 15}, 3}, {[]float64{10, 9, 7, 6, 5}, 3}, {[]float64{15, 10, 15}, 0},
		{[]float64{14.5, 10}, -1}, {[]float64{10, 10, 10}, -1}} {
		_, _, at := reference.CUSUM(x.x, 10, 0.5, 4)
		if at != x.alarm {
			t.Errorf("%v: alarm at %d, want %d", x.x, at, x.alarm)
		}
	}
	up, down, _ := reference.CUSUM([]float64{11, 13, 8}, 10, 0.5, 9)
	if !slices.Equal(up, []float64{0.5, 3, 0.5}) || !slices.Equal(down, []float64{0, 0, 1.5}) {
		t.Errorf("sums %v and %v", up, down)
	}
}

// The best split is the one that a search over all of them finds, wherever the data lie.
func TestSplitBySearch(t *testing.T) {
	for _, x := range [][]float64{{105, 106, 104, 109, 110, 111, 110}, {-7, -7.5, -3, -2.5, -3.1},
		{1, 9, 8, 9, 10, 8}} {
		ss := func(x []float64) float64 { return stat.PopVariance(x, nil) * float64(len(x)) }
		best, at := math.Inf(1), 0
		for k := 1; k < len(x); k++ {
			if s := ss(x[:k]) + ss(x[k:]); s < best {
				best, at = s, k
			}
		}
		got := reference.FindSplit(x)
		if got.K != at {
			t.Errorf("%v: split at %d, want %d", x, got.K, at)
		}
		checks.Near(t, "sum of squares left", got.RSS, best, 1e-9)
		checks.Near(t, "sum of squares", got.Total, ss(x), 1e-9)
	}
}

// Statistics by hand: 1, 2, 4 follow each other by -1/42; sizes of samples by the normal quantiles 1.959964 and
// 0.841621; the power of 17 a group at one standard deviation is 0.807 (the table of any handbook), whatever the unit.
func TestStatisticsByHand(t *testing.T) {
	checks.Near(t, "lag one", reference.Lag1([]float64{1, 2, 4}), -1.0/42, 1e-12)
	mean, group := reference.SampleSize(2, 0.5, 0.05, 0.8)
	checks.Near(t, "for a mean", mean, 16*1.959963985*1.959963985, 1e-8)
	checks.Near(t, "a group", group, 32*2.801585218*2.801585218, 1e-8)
	checks.Near(t, "power", reference.Power(17, 1, 1, 0.05), 0.807, 1e-3)
	checks.Near(t, "power in another unit", reference.Power(17, 3, 3, 0.05), reference.Power(17, 1, 1, 0.05), 1e-9)
	if r := reference.SteadyRatio(nil, 0.1, 0.1, 0.1); r != nil {
		t.Errorf("ratios of nothing: %v", r)
	}
	// One step from 1 to 2: v = 0.2, d = 0.1.
	checks.Near(t, "steady ratio", reference.SteadyRatio([]float64{1, 2}, 0.3, 0.2, 0.1)[0], 1.7*0.2/0.1, 1e-12)
}

// Where the one term of cooling gives less than nothing it gives nothing; a no-flow temperature that is not between
// those of melt and mould is reached at once, or never.
func TestCoolingBeyondItsRange(t *testing.T) {
	c := reference.Cooling{Alpha: 1e-7, Melt: 500, Mould: 300}
	checks.Near(t, "centre of a plate", first(c.Plate(2e-3, 400)),
		4e-6/(math.Pi*math.Pi*1e-7)*math.Log(8/math.Pi), 1e-9)
	for _, x := range [][2]float64{pair(c.Plate(2e-3, 700)), pair(c.Rod(2e-3, 700))} {
		if x != [2]float64{} {
			t.Errorf("%v s to be warmer than the melt", x)
		}
	}
	if _, mean := c.Plate(2e-3, 499); mean != 0 {
		t.Errorf("mean of a plate after %g s", mean)
	}
	for noFlow, want := range map[float64]float64{510: 0, 300: math.Inf(1), 290: math.Inf(1)} {
		if at, length := c.Freeze(0.1, 1e-3, noFlow); at != want || length != 0.1*want {
			t.Errorf("no flow at %g K: after %g s and %g m", noFlow, at, length)
		}
	}
}

func first(a, _ float64) float64   { return a }
func pair(a, b float64) [2]float64 { return [2]float64{a, b} }

// Orders of made grids: 1 + h^p/10 has the order p and the limit 1, on grids of one ratio and of two.
func TestOrdersOfMadeGrids(t *testing.T) {
	f := func(h, p float64) float64 { return 1 + 0.1*math.Pow(h, p) }
	for _, p := range []float64{0.5, 1.7, 3} {
		checks.Near(t, "order by two ratios", reference.CelikOrder(f(1, p), f(1.5, p), f(3, p), 1.5, 2), p, 1e-6)
		checks.Near(t, "order by one", reference.CelikOrder(f(1, p), f(2, p), f(4, p), 2, 2), p, 1e-6)
		g := reference.NewGridIndex(f(1, p), f(2, p), f(4, p), 2, 1.25)
		checks.Near(t, "order", g.Order, p, 1e-9)
		checks.Near(t, "limit", g.Extrapolated, 1, 1e-9)
		checks.Near(t, "index", g.Fine, 1.25*0.1/1.1, 1e-9) // the error of the finest, over its value
		checks.Near(t, "index of the coarser", g.Coarse, 1.25*0.1*math.Pow(2, p)/f(2, p), 1e-9)
	}
}

// Laws by their own equation: a melt between two plateaus, and one that no stress above its own drives.
func TestLawBetweenPlateaus(t *testing.T) {
	f := func(g float64) float64 { return 1 / (1 + g) }
	l := reference.WithPlateau(1000, 10, f)
	for _, tau := range []float64{1e-3, 0.5, 400, 3e4, 1e6} {
		g := l(tau)
		checks.Near(t, "stress", g*(10+990*f(g)), tau, 1e-8)
	}
	if g := reference.WithPlateau(1000, 10, func(float64) float64 { return 1 })(500); !(math.Abs(g-0.5) <= 1e-9) {
		t.Errorf("a Newtonian melt shears at %g 1/s, want 0.5", g)
	}
	if l(0) != 0 || !(reference.WithPlateau(1000, 0, f)(2000) >= 1e30) {
		t.Errorf("%g 1/s without stress, %g at twice the most", l(0), reference.WithPlateau(1000, 0, f)(2000))
	}
}

// Sections by hand, of any size: an ellipse of 2 by 1, a circle as one, a triangle of side 2; a wide slit is one.
func TestSectionsOfOtherShape(t *testing.T) {
	checks.Near(t, "ellipse", reference.EllipseFlow(2, 1), math.Pi*8/20, 1e-12)
	checks.Near(t, "ellipse", reference.EllipseFlow(3, 2), math.Pi*27*8/(4*13), 1e-12)
	checks.Near(t, "circle", reference.EllipseFlow(1, 1), math.Pi/8, 1e-12)
	checks.Near(t, "triangle", reference.TriangleFlow(2), math.Sqrt(3)/20, 1e-12)
	checks.Near(t, "wide slit", reference.RectFactor(0.01), 1-0.63025*0.01, 1e-4)
}

// An entry by its two parts, by hand: half angle 45 degrees, from 2 to 1 mm, at 4/s, n = 1/2 and m = 1.
func TestEntryByHand(t *testing.T) {
	e := reference.Elongating{PowerMelt: reference.PowerMelt{K: 100, N: 0.5}, KE: 300, M: 1}
	shear, ext := e.Entry(math.Pi/4, 1e-3, 2e-3, 4)
	checks.Near(t, "shear", shear, 200/1.5*math.Sqrt(1.25)*2*(1-math.Pow(0.5, 1.5)), 1e-9)
	checks.Near(t, "elongation", ext, 200*0.5*4*(1-0.125), 1e-9)
	shear, _ = e.Entry(math.Atan(0.5), 1e-3, 2e-3, 4)
	checks.Near(t, "shear of a slender cone", shear, 400/1.5*math.Sqrt(1.25)*2*(1-math.Pow(0.5, 1.5)), 1e-9)
}
