package duct

import (
	"math"

	"gonum.org/v1/gonum/interp"

	"meltload/materials"
	"meltload/materials/num"
)

// StressTable gives the wall stress of fully developed isothermal flow for one
// law shape at any temperature, pressure and size: the wall stress depends on
// apparent rate over fluidity alone. It is the rule of Weissenberg and Rabinowitsch as a table,
// within 1e-5 of the quadrature.
type StressTable struct {
	ratio *num.LogTable // tau over y, by y over the stress scale of the law
	scale float64
}

var tubeTables, slitTables num.Cache[materials.FlowCurve, *StressTable]

// NewTubeTable tabulates tubes (y = 4Q/(pi R^3 phi)). Tables do not change, so one is shared by all who ask for the
// same shape.
func NewTubeTable(s materials.FlowCurve) *StressTable {
	return tubeTables.Get(s, func() *StressTable { return newStressTable(s, 3) })
}

// NewSlitTable tabulates wide slits (y = 6Q/(w h^2 phi)); shared like those of tubes.
func NewSlitTable(s materials.FlowCurve) *StressTable {
	return slitTables.Get(s, func() *StressTable { return newStressTable(s, 2) })
}

// newStressTable walks up the true reduced rate yw and accumulates I = integral tau^p dy,
// p = 3 (tube) or 2 (slit); by parts the apparent rate is (p+1)/p (yw - I/tau^p).
func newStressTable(s materials.FlowCurve, p int) *StressTable {
	const lo, hi, per = -44, 64, 8 // octaves, steps per octave
	if s.Kind == materials.PowerLaw {
		// One straight line in logarithms.
		n, q := s.N, float64(p)
		f := (q + 1) * n / (q*n + 1)
		return &StressTable{num.NewLogTable(func(x float64) float64 { return math.Pow(x/f, n) / x }, lo+4, hi-4), s.Tau}
	}
	pow := func(x float64) float64 {
		if p == 3 {
			return x * x * x
		}
		return x * x
	}
	x0 := math.Ldexp(1, lo)
	// Newtonian start: tau = y, I = y^(p+1)/(p+1).
	I := math.Pow(x0, float64(p)+1) / (float64(p) + 1)
	var lx, lt []float64
	unit := s
	unit.Tau = 1
	for i := 0; i <= (hi-lo)*per; i++ {
		y := math.Ldexp(1, lo) * math.Exp2(float64(i)/per)
		if i > 0 {
			prev := math.Ldexp(1, lo) * math.Exp2(float64(i-1)/per)
			for j, g := range gaussX {
				z := prev + (y-prev)*g
				I += gaussW[j] * (y - prev) * pow(unit.Stress(z))
			}
		}
		tau := unit.Stress(y)
		app := (float64(p) + 1) / float64(p) * (y - I/pow(tau))
		lx = append(lx, math.Log(app))
		lt = append(lt, math.Log(tau/app))
	}
	var c interp.AkimaSpline
	if err := c.Fit(lx, lt); err != nil {
		panic("flow: stress table: " + err.Error()) // the apparent rate rises strictly by construction
	}
	return &StressTable{num.NewLogTable(func(x float64) float64 { return math.Exp(c.Predict(math.Log(x))) }, lo+4,
		hi-4), s.Tau}
}

// At returns the wall stress (Pa) at y = apparent rate over fluidity (Pa), y > 0; beyond 2^-40 and 2^60 times the
// stress scale of the law the end of the table is held.
func (t *StressTable) At(y float64) float64 { return y * t.ratio.At(y/t.scale) }

// Tube returns the wall stress (Pa) in a tube of radius r (m) at q (m3/s) and fluidity phi (1/(Pa s)).
func (t *StressTable) Tube(q, r, phi float64) float64 {
	return t.At(4 * q / (math.Pi * r * r * r * phi))
}

// Slit returns the wall stress (Pa) in a slit of width w and gap h (m) at q (m3/s) and fluidity phi (1/(Pa s)).
func (t *StressTable) Slit(q, w, h, phi float64) float64 { return t.At(6 * q / (w * h * h * phi)) }

// Index returns the local power-law index dln(tau)/dln(y) at y (Pa).
func (t *StressTable) Index(y float64) float64 {
	_, d := t.ratio.Slope(y / t.scale)
	return 1 + d/t.ratio.At(y/t.scale)
}

// Radial returns the integral of the tube's gradient over R (Pa) between the radii r1 and r2 (m) at q (m3/s) and
// fluidity phi (1/(Pa s)): see Law.RadialDrop.
func (t *StressTable) Radial(q, r1, r2, phi float64) float64 {
	a, b := math.Min(r1, r2), math.Max(r1, r2)
	// Five Gauss points on two panels in ln R: the gradient goes nearly as a power of R.
	r := math.Pow(b/a, 0.5)
	h := math.Log(r)
	var s float64
	for i, x := range gaussX {
		e := math.Exp(h * x)
		s += gaussW[i] * h * 2 * (t.Tube(q, a*e, phi) + t.Tube(q, a*r*e, phi))
	}
	return s
}
