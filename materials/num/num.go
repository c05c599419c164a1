// Package num holds the few numerical pieces that the physics shares and that
// gonum does not offer: a bracketed root finder, a fixed quadrature rule, and
// two kinds of cubic look-up table made for inner loops.
package num

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// ErrBracket reports that a root is not enclosed by the interval given.
var ErrBracket = errors.New("num: the function has the same sign at both ends of the interval")

// ErrSteps reports a root finder that ran out of steps before the bracket was as narrow as asked: the value beside it
// is the best so far.
var ErrSteps = errors.New("num: the root finder ran out of steps")

// ErrNumber reports a function that is not a number somewhere in the interval.
var ErrNumber = errors.New("num: the function is not a number within the interval")

// rootSteps bounds the steps of Root: four times the 52 halvings that an interval of its root's own size takes.
const rootSteps = 200

// Root returns x in [a, b] with f(x) = 0, by Brent's method. f(a) and f(b)
// must differ in sign. tol is the absolute half-width of the final bracket.
//
// Errors: ErrBracket where they do not differ (x is NaN), ErrNumber where f gives NaN within the interval (x is NaN),
// ErrSteps where rootSteps were not enough (x is the best so far).
//
// Source: R. P. Brent, Algorithms for Minimization without Derivatives (1973), ch. 4.
func Root(f func(float64) float64, a, b, tol float64) (float64, error) {
	return RootBetween(f, a, f(a), b, f(b), tol)
}

// RootBetween is Root where the values at both ends, fa and fb, are known already.
func RootBetween(f func(float64) float64, a, fa, b, fb, tol float64) (float64, error) {
	switch {
	case fa == 0:
		return a, nil
	case fb == 0:
		return b, nil
	case math.IsNaN(fa) || math.IsNaN(fb):
		return math.NaN(), ErrNumber
	case (fa > 0) == (fb > 0):
		return math.NaN(), ErrBracket
	}
	c, fc := a, fa
	d := b - a
	e := d
	for range rootSteps {
		if (fb > 0) == (fc > 0) {
			c, fc = a, fa
			d = b - a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		t := 2*epsilon*math.Abs(b) + 0.5*tol
		m := 0.5 * (c - b)
		if math.Abs(m) <= t || fb == 0 {
			return b, nil
		}
		if math.Abs(e) >= t && math.Abs(fa) > math.Abs(fb) {
			s := fb / fa
			var p, q float64
			if a == c {
				p, q = 2*m*s, 1-s
			} else {
				q = fa / fc
				r := fb / fc
				p = s * (2*m*q*(q-r) - (b-a)*(r-1))
				q = (q - 1) * (r - 1) * (s - 1)
			}
			if p > 0 {
				q = -q
			}
			p = math.Abs(p)
			if 2*p < math.Min(3*m*q-math.Abs(t*q), math.Abs(e*q)) {
				e, d = d, p/q
			} else {
				d, e = m, m
			}
		} else {
			d, e = m, m
		}
		a, fa = b, fb
		if math.Abs(d) > t {
			b += d
		} else {
			b += math.Copysign(t, m)
		}
		if fb = f(b); math.IsNaN(fb) {
			return math.NaN(), ErrNumber
		}
	}
	return b, ErrSteps
}

const epsilon = 2.220446049250313e-16

var gaussX, gaussW = GaussNodes(32)

// GaussNodes returns the points in (0, 1) and the weights, which add up to one, of the Gauss-Legendre rule of n points
// (gonum): exact for polynomials up to the degree 2n-1.
func GaussNodes(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	return x, w
}

// Integrate returns the integral of f over [a, b] by a 32-point
// Gauss-Legendre rule (gonum), without allocation. It is exact for
// polynomials up to degree 63; f should be smooth.
func Integrate(f func(float64) float64, a, b float64) float64 {
	var s float64
	for i, x := range gaussX {
		s += gaussW[i] * f(a+(b-a)*x)
	}
	return s * (b - a)
}
