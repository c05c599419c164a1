package materials

import (
	"fmt"
	"math"

	"meltload/materials/num"
	"meltload/materials/unit"
)

// FlowCurve is the rate side of a viscosity law whose curves at all temperatures
// and pressures fall on one when stress is kept and rate is shifted
// (time-temperature superposition at constant stress). With the fluidity
// phi = 1/eta0 in 1/(Pa s) and the reduced rate y = g/phi in Pa,
//
//	tau = y H(y)   and   eta = H(y)/phi
//
// so that one curve of one variable serves every temperature and pressure.
type FlowCurve struct {
	Kind FlowCurveKind
	N    float64 // power-law index at high rate, 0 < N <= 1
	Tau  float64 // stress scale in Pa: tau* of Cross, eta0/lambda of Carreau-Yasuda, K x (1/s)^n of the power law
	A    float64 // Yasuda exponent; Carreau-Yasuda only
}

// FlowCurveKind names a law.
type FlowCurveKind int

// The laws on offer.
const (
	Cross FlowCurveKind = iota
	CarreauYasuda
	PowerLaw
)

func (k FlowCurveKind) String() string {
	return [...]string{"cross", "carreau-yasuda", "power-law"}[k]
}

// H returns the thinning factor eta/eta0 at the reduced rate y = eta0 g (Pa), y >= 0.
// For the power law, which has no plateau, H(0) is infinite.
//
//	Cross          H = 1/(1 + (y/tau*)^(1-n))            M. M. Cross, J. Colloid Sci. 20 (1965) 417
//	Carreau-Yasuda H = (1 + (y/tau)^a)^((n-1)/a)         K. Yasuda et al., Rheol. Acta 20 (1981) 163
//	power law      H = (y/tau)^(n-1)                     W. Ostwald, Kolloid-Z. 36 (1925) 99
//
// (forms from memory, as in the textbooks).
func (s FlowCurve) H(y float64) float64 {
	x := y / s.Tau
	switch s.Kind {
	case Cross:
		return 1 / (1 + math.Pow(x, 1-s.N))
	case CarreauYasuda:
		return math.Pow(1+math.Pow(x, s.A), (s.N-1)/s.A)
	default:
		return math.Pow(x, s.N-1)
	}
}

// Stress returns the stress tau = y H(y) (Pa) at the reduced rate y = eta0 g (Pa), y >= 0.
func (s FlowCurve) Stress(y float64) float64 {
	if y <= 0 {
		return 0
	}
	return y * s.H(y)
}

// Slope returns n' = dln(tau)/dln(y), the local power-law index at the reduced rate y (Pa), y >= 0: between N and 1.
func (s FlowCurve) Slope(y float64) float64 {
	x := y / s.Tau
	switch s.Kind {
	case Cross:
		q := math.Pow(x, 1-s.N)
		if math.IsInf(q, 1) {
			return s.N
		}
		return 1 - (1-s.N)*q/(1+q)
	case CarreauYasuda:
		q := math.Pow(x, s.A)
		if math.IsInf(q, 1) {
			return s.N
		}
		return 1 + (s.N-1)*q/(1+q)
	default:
		return s.N
	}
}

// Reduced returns the reduced rate y (Pa) that carries the stress tau (Pa): the
// inverse of Stress. Newton steps in the logarithm, from the power-law end;
// the result is good to about 1e-14.
func (s FlowCurve) Reduced(tau float64) float64 {
	if tau <= 0 {
		return 0
	}
	x := tau / s.Tau
	if s.Kind == PowerLaw {
		return s.Tau * math.Pow(x, 1/s.N)
	}
	// ln y is convex in ln tau and lies above both its asymptotes; starting on
	// the higher of them Newton cannot overshoot by more than the knee.
	lx := math.Log(x)
	ly := math.Max(lx, lx/s.N) // first guess
	for range 60 {
		y := math.Exp(ly) * s.Tau
		r := math.Log(s.Stress(y)/s.Tau) - lx
		d := r / s.Slope(y)
		ly -= d
		if math.Abs(d) < 1e-14*(1+math.Abs(ly)) {
			break
		}
	}
	return s.Tau * math.Exp(ly)
}

// W returns y/tau = 1/H at the stress tau (Pa), tau >= 0: how many times faster than Newtonian the melt shears. W >= 1
// for laws with a plateau.
func (s FlowCurve) W(tau float64) float64 {
	if tau <= 0 {
		if s.Kind == PowerLaw {
			return 0
		}
		return 1
	}
	return s.Reduced(tau) / tau
}

// ShiftKind names a temperature law of the zero-shear viscosity.
type ShiftKind int

// The temperature laws on offer.
const (
	WLF ShiftKind = iota
	Arrhenius
	Exponential
)

func (k ShiftKind) String() string {
	return [...]string{"wlf", "arrhenius", "exponential"}[k]
}

// Shift is the temperature and pressure side of a viscosity law: the fluidity
// 1/eta0(T, p). For the power law it shifts the consistency,
// K(T) = K0 a(T), and the fluidity carries the exponent 1/n.
type Shift struct {
	Kind ShiftKind
	Eta0 float64 // Pa s at the reference temperature (D1 of WLF; K0 in Pa s^n of the power law)
	Tref float64 // K (D2 of WLF)
	A1   float64 // WLF, natural exponent
	A2   float64 // K, WLF at zero pressure
	D3   float64 // K/Pa, WLF shift of the reference temperature with pressure
	E    float64 // J/mol, Arrhenius
	B    float64 // 1/K, exponential
	Beta float64 // 1/Pa, pressure coefficient of the Arrhenius and exponential laws
}

// lnA returns ln(eta0(T,p)/Eta0), +Inf where the WLF law has no flow.
func (s Shift) lnA(T, p float64) float64 {
	switch s.Kind {
	case WLF:
		// T* = D2 + D3 p and A2 = A2~ + D3 p, so that the sum A2 + T - T* loses p.
		den := s.A2 + T - s.Tref
		if den <= 0 {
			return math.Inf(1)
		}
		return -s.A1 * (T - s.Tref - s.D3*p) / den
	case Arrhenius:
		return s.E/unit.Gas*(1/T-1/s.Tref) + s.Beta*p
	default:
		return -s.B*(T-s.Tref) + s.Beta*p
	}
}

// Viscosity is a complete shear-viscosity law eta(g, T, p) with its inverse.
type Viscosity struct {
	FlowCurve
	Shift
	// Cap bounds the viscosity on the unmelted side, Pa s: the fluidity is
	// raised by 1/Cap. A numerical statement about what cannot flow, not a
	// measurement; a result that depends on it says so.
	Cap float64
	// MeltLow and MeltHigh bound the melting range in K of a semi-crystalline
	// polymer: the fluidity fades smoothly to that of Cap from MeltHigh down to
	// MeltLow (assumed form). Equal values mean no such range (amorphous).
	MeltLow, MeltHigh float64
	Trouton           float64 // extensional over shear viscosity at the same generalised rate, 3 if unknown
	RangeT            [2]float64
	RangeRate         [2]float64
}

// Fluidity returns phi = 1/eta0 in 1/(Pa s) at T (K) and p (Pa), with the
// solid side held by the cap: phi = f/eta0 + 1/Cap, f the melted fraction.
// It is finite and positive for every T > 0.
func (v *Viscosity) Fluidity(T, p float64) float64 {
	l := v.lnA(T, p)
	if v.FlowCurve.Kind == PowerLaw {
		l /= v.N
	}
	f := math.Exp(-l) / v.Shift.Eta0
	if math.IsInf(f, 1) {
		f = math.MaxFloat64 / 1e100
	}
	return f*v.melted(T) + 1/v.Cap
}

// melted returns the smooth step from 0 at MeltLow to 1 at MeltHigh.
func (v *Viscosity) melted(T float64) float64 {
	if v.MeltHigh <= v.MeltLow || T >= v.MeltHigh {
		return 1
	}
	if T <= v.MeltLow {
		return 0
	}
	x := (T - v.MeltLow) / (v.MeltHigh - v.MeltLow)
	return x * x * (3 - 2*x)
}

// Eta returns the shear viscosity (Pa s) at the shear rate g (1/s, >= 0), temperature T (K) and pressure p (Pa):
// H(g/phi)/phi, with phi of Fluidity. The law holds over RangeT and RangeRate; outside it goes on, and Check says so.
func (v *Viscosity) Eta(g, T, p float64) float64 {
	phi := v.Fluidity(T, p)
	return v.H(g/phi) / phi
}

// Rate returns the shear rate (1/s) at the shear stress tau (Pa, >= 0), temperature T (K) and pressure p (Pa): phi tau
// W(tau), the inverse of Eta, so that Eta(Rate(tau)) Rate(tau) = tau.
func (v *Viscosity) Rate(tau, T, p float64) float64 {
	return v.Fluidity(T, p) * v.Reduced(tau)
}

// Scaled returns the law with its zero-shear viscosity multiplied by f at unchanged stress scale, the shape of curve
// and the cap kept: the correction for a grade. At the same stress the melt shears 1/f times as fast, by any law; a
// power law, which has no zero-shear viscosity, is multiplied by f^n at the same rate.
func (v Viscosity) Scaled(f float64) Viscosity {
	v.Shift.Eta0 *= f
	return v
}

// PressureFactor returns phi(T, p)/phi(T, 0) of the melt at T (K) and p (Pa), the cap left out: 1 for a law without
// pressure, below 1 for one with it.
func (v *Viscosity) PressureFactor(T, p float64) float64 {
	if v.Shift.Kind == WLF {
		den := v.A2 + T - v.Tref
		if den <= 0 {
			return 1
		}
		p *= v.A1 * v.D3 / den
	} else {
		p *= v.Beta
	}
	if v.FlowCurve.Kind == PowerLaw {
		p /= v.N
	}
	return math.Exp(-p)
}

// PressureSensitive tells whether the law depends on pressure.
func (v *Viscosity) PressureSensitive() bool { return v.D3 != 0 || v.Beta != 0 }

// Check returns a warning for a shear rate or temperature outside the range
// over which the law was fitted, or nil. g in 1/s, T in K.
func (v *Viscosity) Check(where string, g, T float64) []Warning {
	var w []Warning
	if v.RangeT[1] > v.RangeT[0] && (T < v.RangeT[0] || T > v.RangeT[1]) {
		w = append(w, Warning{
			Code: "viscosity-temperature-range",
			Message: fmt.Sprintf(
				"%s: %.0f degC lies outside the %.0f to %.0f degC over which the viscosity law was fitted; calibrate "+
					"before trusting the number", where, unit.Celsius(T), unit.Celsius(v.RangeT[0]),
				unit.Celsius(v.RangeT[1])),
		})
	}
	if v.RangeRate[1] > 0 && (g > v.RangeRate[1]) {
		w = append(w, Warning{
			Code: "viscosity-rate-range",
			Message: fmt.Sprintf(
				"%s: a shear rate of %.3g 1/s lies above the %.3g 1/s to which the viscosity law was fitted", where, g,
				v.RangeRate[1]),
		})
	}
	return w
}

// Table holds the shape of a law as cubic tables for inner loops: W and H by
// the squares of their arguments, which spares the kernels a root of the
// radius. Agreement with the law is better than 1e-5 for stresses from a
// billionth to a billion times the law's stress scale; outside, the ends are held.
type Table struct {
	w2, h2 *num.LogTable
	inv    float64 // 1/Tau^2
}

// The temperature range in K over which the solvers tabulate properties.
const (
	TableLow  = 233.15
	TableHigh = 833.15
)

var tables num.Cache[FlowCurve, *Table]

// NewTable tabulates W of a flow curve. Tables do not change, so one is shared by all who ask for the same curve.
func NewTable(s FlowCurve) *Table {
	return tables.Get(s, func() *Table {
		return &Table{
			w2:  num.NewLogTable(func(x float64) float64 { return s.W(math.Sqrt(x) * s.Tau) }, -60, 60),
			h2:  num.NewLogTable(func(x float64) float64 { return s.H(math.Sqrt(x) * s.Tau) }, -60, 100),
			inv: 1 / (s.Tau * s.Tau),
		}
	})
}

// W returns the rate multiplier at a squared stress (Pa2).
func (t *Table) W(tau2 float64) float64 { return t.w2.At(tau2 * t.inv) }

// WSlope returns W and dW/dln(tau2) at a squared stress (Pa2).
func (t *Table) WSlope(tau2 float64) (w, slope float64) { return t.w2.Slope(tau2 * t.inv) }

// Eta returns the viscosity (Pa s) at the squared rate g2 (1/s2, > 0) and fluidity phi (1/(Pa s)).
func (t *Table) Eta(g2, phi float64) float64 {
	r := 1 / phi
	return t.h2.At(g2*r*r*t.inv) * r
}
