package thermal

import (
	"math"
	"testing"
)

// conducted solves the heating of a rod by finite volumes in the radius (implicit in time, second order in space),
// independently of any series: theta on the axis and its mean at the Fourier number fo, for the Biot number bi.
func conducted(bi, fo float64) (centre, mean float64) {
	const n, steps = 400, 4000
	dr, dt := 1.0/n, fo/steps
	T, lo, di, up, rh := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n),
		make([]float64, n)
	for i := range T {
		T[i] = 1
	}
	wall := 1 / (dr/2 + 1/bi) // half a cell in series with the surface
	for range steps {
		for i := range n {
			in, out := float64(i)*dr, float64(i+1)*dr
			store := (out*out - in*in) / 2 / dt
			lo[i], up[i] = -in/dr, -out/dr
			if i == n-1 {
				up[i] = 0
				di[i] = store + in/dr + wall
			} else {
				di[i] = store + in/dr + out/dr
			}
			rh[i] = store * T[i]
		}
		for i := 1; i < n; i++ {
			w := lo[i] / di[i-1]
			di[i] -= w * up[i-1]
			rh[i] -= w * rh[i-1]
		}
		T[n-1] = rh[n-1] / di[n-1]
		for i := n - 2; i >= 0; i-- {
			T[i] = (rh[i] - up[i]*T[i+1]) / di[i]
		}
	}
	for i := range n {
		mean += T[i] * (2*float64(i) + 1) / n / n
	}
	return T[0], mean
}

func TestRodAgainstFiniteVolumes(t *testing.T) {
	for _, bi := range []float64{0.3, 3, 30, 1e9} {
		c := NewCylinder(bi)
		if bi == 1e9 {
			c = NewCylinder(math.Inf(1))
		}
		for _, x := range []struct{ fo, tol float64 }{{2e-4, 2e-3}, {9e-4, 2e-3}, {5e-3, 1e-3}, {0.05, 1e-3},
			{0.3, 1e-3}, {1, 1e-3}} {
			centre, mean := conducted(bi, x.fo)
			if got := c.Mean(x.fo); !(math.Abs((1-got)-(1-mean)) <= x.tol*math.Max(0.05, 1-mean)*3) {
				t.Errorf("Bi %g, Fo %g: mean %.6f, finite volumes %.6f", bi, x.fo, got, mean)
			}
			if got := c.Centre(x.fo); !(math.Abs(got-centre) <= x.tol) {
				t.Errorf("Bi %g, Fo %g: centre %.6f, finite volumes %.6f", bi, x.fo, got, centre)
			}
			if got := c.At(x.fo, 0); x.fo >= 0.05 && !(math.Abs(got-centre) <= x.tol) {
				t.Errorf("Bi %g, Fo %g: axis of the profile %.6f, finite volumes %.6f", bi, x.fo, got, centre)
			}
		}
	}
}

// The Fourier number of a target is where the series takes it.
func TestFourierNumbersAreInverses(t *testing.T) {
	for _, bi := range []float64{0.1, 1, 10, math.Inf(1)} {
		c := NewCylinder(bi)
		for _, target := range []float64{0.95, 0.5, 0.1, 1e-3} {
			if got := c.Centre(c.FourierForCentre(target)); !(math.Abs(got-target) <= 1e-9) {
				t.Errorf("Bi %g: centre at %g, want %g", bi, got, target)
			}
			if got := c.Mean(c.FourierForMean(target)); !(math.Abs(got-target) <= 1e-6) {
				t.Errorf("Bi %g: mean at %g, want %g", bi, got, target)
			}
		}
		zeta, c1 := c.OneTerm()
		if got, want := c.Centre(2), c1*math.Exp(-zeta*zeta*2); !(math.Abs(got-want) <= 1e-6*want) {
			t.Errorf("Bi %g: %g, first term %g", bi, got, want)
		}
	}
}

// Zeros of the Bessel functions from tables (Abramowitz and Stegun, Table 9.5).
func TestBesselZeros(t *testing.T) {
	for _, x := range []struct {
		order, k int
		want     float64
	}{{0, 1, 2.404825557695773}, {0, 2, 5.520078110286311}, {0, 5, 14.930917708487786}, {1, 1, 3.831705970207512},
		{1, 2, 7.015586669815619}, {1, 5, 16.470630050877633}} {
		if got := BesselZero(x.order, x.k); !(math.Abs(got-x.want) <= 1e-12) {
			t.Errorf("zero %d of J%d: %.15f, want %.15f", x.k, x.order, got, x.want)
		}
	}
}

// Numbers of viscous heating and of contact, by hand.
func TestNumbersByHand(t *testing.T) {
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"adiabatic rise of 24 MPa", AdiabaticRise(24e6, 1200, 2000), 10},
		{"Brinkman", Shear{1e5, 200, 1e-3, 0.2}.Brinkman(10), 10},
		{"Nahme", Shear{1e5, 200, 1e-3, 0.2}.Nahme(0.03), 3},
		{"power to hold a block", Block{Loss: 0.05, Ambient: 300, Power: 40}.PowerFor(500, 7), 17},
		{"power left", Block{Loss: 0.05, Ambient: 300, Power: 40}.Available(500), 30},
		{"steady block", Block{Loss: 0.05, Ambient: 300}.Steady(17, 7), 500},
	} {
		if !(math.Abs(x.got/x.want-1) <= 1e-12) {
			t.Errorf("%s: %g, want %g", x.what, x.got, x.want)
		}
	}
}

// exp(x^2) erfc(x) from its continued fraction, on either side of where the form for large arguments takes over.
func TestErfcx(t *testing.T) {
	for _, x := range [][2]float64{{1, 0.427583576155807}, {5, 0.1107046377330686}, {20, 0.02817434874105132},
		{50, 0.01128153626532377}} {
		if got := erfcx(x[0]); !(math.Abs(got/x[1]-1) <= 1e-5) {
			t.Errorf("%.12g at %g, want %.12g", got, x[0], x[1])
		}
	}
}

// Before the start all is as it was; the mean of a short time is that of a half-space, at any Biot number.
func TestRodAtTheStart(t *testing.T) {
	for _, bi := range []float64{0.5, 5e4, math.Inf(1)} {
		c := NewCylinder(bi)
		for _, fo := range []float64{-1, 0} {
			if c.Mean(fo) != 1 || c.Centre(fo) != 1 {
				t.Errorf("Bi %g: mean %g, centre %g at Fo %g", bi, c.Mean(fo), c.Centre(fo), fo)
			}
		}
	}
	// With a poor contact the surface stays as it was: 2 Bi Fo is taken up, less 8/(3 sqrt(pi)) (Bi sqrt(Fo))^3/Bi.
	want := 2*0.5*1e-5 - 8/(3*math.Sqrt(math.Pi))*0.25*math.Pow(1e-5, 1.5)
	if got := 1 - NewCylinder(0.5).Mean(1e-5); !(math.Abs(got/want-1) <= 1e-5) {
		t.Errorf("taken up %g, want %g", got, want)
	}
	// A contact so good that it is none: the surface temperature is that around, less the film.
	if a, b := NewCylinder(5e4).Mean(9e-4), NewCylinder(math.Inf(1)).Mean(9e-4); !(math.Abs(a-b) <= 1e-3) {
		t.Errorf("mean %g with Bi 5e4, %g with a fixed surface", a, b)
	}
}
