package num

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRootFindsKnownZeros(t *testing.T) {
	for _, c := range []struct {
		f          func(float64) float64
		a, b, want float64
	}{
		{math.Cos, 0, 3, math.Pi / 2},
		{func(x float64) float64 { return x*x*x - 2 }, 0, 10, math.Cbrt(2)},
		{func(x float64) float64 { return math.Exp(x) - 1e6 }, -50, 50, math.Log(1e6)},
	} {
		got, err := Root(c.f, c.a, c.b, 1e-12)
		if err != nil || !(math.Abs(got-c.want) <= 1e-10) {
			t.Errorf("got %v, %v, want %v", got, err, c.want)
		}
	}
	if _, err := Root(math.Cosh, -1, 1, 1e-9); err != ErrBracket {
		t.Errorf("no sign change: got error %v, want ErrBracket", err)
	}
}

func TestRootStaysInBracket(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-5, 5).Draw(t, "root")
		p := rapid.Float64Range(0.2, 5).Draw(t, "power")
		f := func(x float64) float64 { return math.Copysign(math.Pow(math.Abs(x-c), p), x-c) }
		got, err := Root(f, c-3.3, c+7.1, 1e-12)
		if err != nil || !(math.Abs(got-c) <= 1e-6) {
			t.Fatalf("got %v (%v), want %v", got, err, c)
		}
	})
}

func TestIntegrate(t *testing.T) {
	if got := Integrate(math.Sin, 0, math.Pi); !(math.Abs(got-2) <= 1e-13) {
		t.Errorf("integral of sin over a half wave: %v", got)
	}
	if got, want := Integrate(func(x float64) float64 { return x * x }, 1, 4), 21.0; !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("integral of x^2 from 1 to 4: %v", got)
	}
}

func TestTableFollowsItsFunction(t *testing.T) {
	g := func(x float64) float64 { return 1 + math.Pow(x, 1.5) }
	o := NewLogTable(g, -40, 40)
	rapid.Check(t, func(t *rapid.T) {
		y := math.Exp(rapid.Float64Range(-27, 27).Draw(t, "ln y"))
		if r := o.At(y)/g(y) - 1; !(math.Abs(r) <= 1e-6) {
			t.Fatalf("off by %g at %g", r, y)
		}
	})
	if o.At(0) != o.At(math.Ldexp(1, -40)) {
		t.Error("arguments outside the table must be held at its ends")
	}
	if a := testing.AllocsPerRun(100, func() { _ = o.At(3.3) + Integrate(math.Sin, 0, 1) }); a != 0 {
		t.Errorf("%v allocations, want 0", a)
	}
}

func BenchmarkOctaves(b *testing.B) {
	o := NewLogTable(func(x float64) float64 { return 1 + math.Pow(x, 1.5) }, -40, 40)
	x := 1.7
	for b.Loop() {
		x = 1 + o.At(x)*1e-3
	}
}

func TestRootSaysWhyItStopped(t *testing.T) {
	// A step next to zero in an interval of 2e150: 200 halvings do not reach it.
	x, err := Root(func(x float64) float64 { return math.Copysign(1, x-1e-300) }, -1e150, 1e150, 0)
	if !errors.Is(err, ErrSteps) || math.IsNaN(x) {
		t.Errorf("out of steps: %v, %v", x, err)
	}
	hole := func(x float64) float64 {
		if x > -0.5 && x < 0.5 {
			return math.NaN()
		}
		return x
	}
	if x, err := Root(hole, -1, 1.1, 1e-9); !errors.Is(err, ErrNumber) || !math.IsNaN(x) {
		t.Errorf("NaN within: %v, %v", x, err)
	}
	if x, err := Root(math.Sqrt, -1, 1, 1e-9); !errors.Is(err, ErrNumber) || !math.IsNaN(x) {
		t.Errorf("NaN at an end: %v, %v", x, err)
	}
	if x, err := Root(func(x float64) float64 { return math.Sqrt(1-x) - 0.5 }, 0, 2, 1e-9); !errors.Is(err,
		ErrNumber) || !math.IsNaN(x) {
		t.Errorf("NaN at the other end: %v, %v", x, err)
	}
	if x, err := Root(func(x float64) float64 { return x*x + 1 }, -1, 1, 1e-9); !errors.Is(err, ErrBracket) ||
		!math.IsNaN(x) {
		t.Errorf("no bracket: %v, %v", x, err)
	}
	x, err = Root(func(x float64) float64 { return x - 0.3 }, -1, 1, 1e-12)
	if err != nil || !(math.Abs(x-0.3) <= 1e-12) {
		t.Errorf("a root: %v, %v", x, err)
	}
}

// The slope of a table is the derivative by the logarithm: 1.5 x^1.5 of 1 + x^1.5. Beyond its ends the value is held.
func TestTableSlope(t *testing.T) {
	g := func(x float64) float64 { return 1 + math.Pow(x, 1.5) }
	o := NewLogTable(g, -20, 20)
	for x := 1e-5; x < 1e6; x *= 1.37 {
		y, dy := o.Slope(x)
		if !(math.Abs(y/g(x)-1) <= 1e-6) || y != o.At(x) {
			t.Fatalf("value %g at %g, want %g", y, x, g(x))
		}
		if want := 1.5 * math.Pow(x, 1.5); math.Abs(dy-want) > 1e-4*g(x) {
			t.Fatalf("slope %g at %g, want %g", dy, x, want)
		}
	}
	if top := g(math.Ldexp(1, 20)); !(math.Abs(o.At(math.Ldexp(1, 30))/top-1) <= 1e-9) ||
		o.At(1e-30) != o.At(math.Ldexp(1, -20)) {
		t.Errorf("beyond the ends: %g and %g", o.At(math.Ldexp(1, 30)), o.At(1e-30))
	}
}

// Gauss points are exact for polynomials up to the degree 2n-1, and no further.
func TestGaussNodes(t *testing.T) {
	for _, n := range []int{1, 2, 5, 16} {
		x, w := GaussNodes(n)
		moment := func(k int) (s float64) {
			for i := range x {
				s += w[i] * math.Pow(x[i], float64(k))
			}
			return s
		}
		for k := range 2 * n {
			if got, want := moment(k), 1/float64(k+1); !(math.Abs(got-want) <= 1e-14) {
				t.Errorf("%d points: integral of x^%d is %v, want %v", n, k, got, want)
			}
		}
		if n <= 5 && math.Abs(moment(2*n)-1/float64(2*n+1)) < 1e-12 {
			t.Errorf("%d points are exact for x^%d", n, 2*n)
		}
	}
}
