package feeder

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"meltload/materials"
)

// Defaults of the motor model. Both are assumed round numbers, from the middle of the range over which all four
// curves of testdata/motor are met: 0.75 without iron loss to 0.9 with a share of 0.085.
const (
	// DefaultVoltageShare is the share of the supply that works against the winding. Bridge and sense resistor,
	// blanking time and the off-time of the current regulator take the rest.
	DefaultVoltageShare = 0.85
	// DefaultIronLoss is the torque lost to eddy currents at 1 kHz electrical (1,200 rpm at 1.8 deg a step), as a
	// share of the holding torque.
	DefaultIronLoss = 0.06
)

// Checked is the range over which the motor model has been compared with published pull-out curves
// (testdata/motor).
var Checked = struct {
	Holding, Supply [2]float64 // N m, V
	Electrical      float64    // Hz
}{Holding: [2]float64{0.55, 3}, Supply: [2]float64{24, 36}, Electrical: 1000}

// Motor is a two-phase hybrid stepping motor on a chopper driver with a sine of currents (microstepping).
type Motor struct {
	Holding    float64 // N m, data sheet, both phases on at Rated
	Rated      float64 // A per phase, data sheet: a steady current in both phases, the same as RMS
	Current    float64 // A per phase as set, peak of the sine: RMS times the root of two
	Resistance float64 // ohm per phase
	Inductance float64 // H per phase
	Supply     float64 // V
	Teeth      int     // rotor teeth, 50 for 1.8 deg a step
	Usable     float64 // share of the supply that works against the winding, 0 to 1; see DefaultVoltageShare
	IronLoss   float64 // torque lost at 1 kHz electrical over holding torque, 0 for none; see DefaultIronLoss

	// Curve, if not empty, is a data-sheet pull-out curve: {rev/s, N m} by rising speed. It replaces the model;
	// the model, where the winding is given, only carries it to another current or supply.
	Curve [][2]float64
	// CurveCurrent is the peak current (A) at which the curve was taken. 0 takes it from the highest torque of
	// the curve, which at low speed is p psi I: data sheets seldom say whether they mean peak or RMS.
	CurveCurrent float64
	CurveSupply  float64 // V at which the curve was taken; 0 for Supply

	fitted interp.Predictor // the curve, prepared
}

// Flux returns the flux amplitude psi (V s): holding torque is sqrt2 p psi I with both phases on.
func (m *Motor) Flux() float64 {
	return m.Holding / (math.Sqrt2 * float64(m.Teeth) * m.Rated)
}

// Electrical returns the frequency (Hz) of the phase currents at a shaft speed (rev/s).
func (m *Motor) Electrical(rev float64) float64 { return rev * float64(m.Teeth) }

// Winding is a two-phase hybrid motor whose voltage and current are bounded.
type Winding struct {
	Voltage    float64 // V, amplitude
	Current    float64 // A, amplitude
	Resistance float64 // ohm a phase
	Inductance float64 // H a phase
	Flux       float64 // V s, amplitude psi
	Teeth      int     // p, of the rotor
}

// Envelope returns the highest torque (N m) at omega (rad/s, electrical): p psi max(i_q) over all currents (i_d, i_q)
// of the rotating frame with
//
//	|i| <= I  and  |i - e| <= V/Z,  e = -(w psi/Z^2) (w L, R)
//
// which are two discs. The top of the disc of current (T = p psi I) or that of the disc of voltage (PullOut of package
// reference) counts if it lies in the other disc; between them, at the knee, it is the upper point where the circles
// meet. Never negative; 0 where the discs do not meet. Exact for steady synchronous running with sinusoidal currents
// and no other loss: resonance and microstep errors are not in it. Source: derived here from the voltage equation of
// the rotating frame; T = min(p psi I, PullOut) is its upper bound.
func (m Winding) Envelope(omega float64) float64 {
	r, l, psi, current := m.Resistance, m.Inductance, m.Flux, m.Current
	k := float64(m.Teeth) * psi
	z := math.Hypot(r, omega*l)
	d, q := -omega*omega*l*psi/(z*z), -omega*psi*r/(z*z)
	rho := m.Voltage / z
	switch away := math.Hypot(d, q); {
	case math.Hypot(d, current-q) <= rho:
		return k * current
	case math.Hypot(d, q+rho) <= current:
		return k * math.Max(0, q+rho)
	case away >= current+rho:
		return 0
	default:
		along := (current*current - rho*rho + away*away) / (2 * away)
		across := math.Sqrt(math.Max(0, current*current-along*along))
		return k * math.Max(0, (along*q+across*math.Abs(d))/away)
	}
}

// wound reports whether the winding data that the model needs are there.
func (m *Motor) wound() bool {
	return m.Resistance > 0 && m.Inductance > 0 && m.Supply > 0 && m.Usable > 0
}

// model is the torque (N m) of the winding at a shaft speed (rev/s), a current (A peak) and a supply (V).
func (m *Motor) model(rev, current, supply float64) float64 {
	w := Winding{Voltage: m.Usable * supply, Current: current, Resistance: m.Resistance, Inductance: m.Inductance,
		Flux: m.Flux(), Teeth: m.Teeth}
	t := w.Envelope(2 * math.Pi * m.Electrical(rev))
	return math.Max(0, t-m.IronLoss*m.Holding*m.Electrical(rev)/1000)
}

// Torque returns the pull-out torque (N m) at a shaft speed (rev/s): Envelope at the usable share of the supply,
// less the iron loss, which goes with the frequency; or the data-sheet curve brought to the set current. Never
// negative. Within 9 per cent in the mean of each published curve of testdata/motor (table in report/docs/accuracy.md);
// beyond Checked it is not known how far it is off, and Warnings says so.
func (m *Motor) Torque(rev float64) float64 {
	if len(m.Curve) > 0 {
		return m.fromCurve(rev)
	}
	return m.model(rev, m.Current, m.Supply)
}

// CurvePeak returns the peak current (A) of the data-sheet curve: as given, or from its highest torque, p psi I.
func (m *Motor) CurvePeak() float64 {
	if m.CurveCurrent > 0 {
		return m.CurveCurrent
	}
	top := 0.0
	for _, p := range m.Curve {
		top = math.Max(top, p[1])
	}
	return math.Sqrt2 * m.Rated * top / m.Holding
}

// fromCurve carries the data-sheet curve to the set current and supply. With winding data it goes with the model.
// Without, it goes with the peak current where that is lower than the curve's, and more current adds nothing: true
// below the knee and a lower bound above, where it cannot be told how much of the curve the voltage limits. Beyond its
// last speed the curve goes on with the model, or at constant power.
func (m *Motor) fromCurve(rev float64) float64 {
	last := m.Curve[len(m.Curve)-1]
	at := math.Min(rev, last[0])
	t := m.curve(at)
	peak := m.CurvePeak()
	if !m.wound() {
		if rev > last[0] {
			t *= last[0] / rev
		}
		return t * math.Min(1, m.Current/peak)
	}
	supply := m.CurveSupply
	if supply == 0 {
		supply = m.Supply
	}
	if base := m.model(at, peak, supply); base > 0 {
		return t * m.model(rev, m.Current, m.Supply) / base
	}
	return math.Min(t, m.model(rev, m.Current, m.Supply))
}

// curve interpolates the data sheet, monotone between its points (F. N. Fritsch, J. Butland, 1984, as in gonum); the
// first torque is held below.
func (m *Motor) curve(rev float64) float64 {
	if rev <= m.Curve[0][0] || len(m.Curve) == 1 {
		return m.Curve[0][1]
	}
	f := m.fitted
	if f == nil {
		f = m.fit()
	}
	return f.Predict(rev)
}

func (m *Motor) fit() interp.Predictor {
	x, y := make([]float64, len(m.Curve)), make([]float64, len(m.Curve))
	for i, p := range m.Curve {
		x[i], y[i] = p[0], p[1]
	}
	var f interp.FritschButland
	if f.Fit(x, y) != nil {
		return interp.Constant(y[0])
	}
	return &f
}

// Problems lists what keeps the motor from being computed.
func (m *Motor) Problems() []string {
	var out []string
	bad := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	positive := func(what string, x float64) {
		if !(x > 0) || math.IsInf(x, 0) {
			bad("motor: %s %g; more than 0 is needed", what, x)
		}
	}
	positive("holding torque (N m)", m.Holding)
	positive("rated current (A)", m.Rated)
	positive("set current (A)", m.Current)
	positive("rotor teeth", float64(m.Teeth))
	if len(m.Curve) == 0 {
		positive("resistance (ohm)", m.Resistance)
		positive("inductance (H)", m.Inductance)
		positive("supply (V)", m.Supply)
		if !(m.Usable > 0 && m.Usable <= 1) {
			bad("motor: usable share of the supply %g; more than 0, up to 1", m.Usable)
		}
	}
	if !(m.IronLoss >= 0 && m.IronLoss < 1) {
		bad("motor: iron loss %g of the holding torque; 0 to 1", m.IronLoss)
	}
	top := 0.0
	for i, p := range m.Curve {
		if !(p[0] >= 0 && p[1] >= 0) || math.IsInf(p[0], 0) || i > 0 && p[0] <= m.Curve[i-1][0] {
			bad("motor: point %d of the curve is %g rev/s, %g N m; rising speeds and torques of 0 or more are needed",
				i+1, p[0], p[1])
		}
		top = math.Max(top, p[1])
	}
	if len(m.Curve) > 0 && !(top > 0) {
		bad("motor: the curve holds no torque above 0")
	}
	if top > 1.05*m.Holding {
		bad("motor: the curve reaches %.3g N m, above the holding torque of %.3g N m; pull-out torque stays below it",
			top, m.Holding)
	}
	return out
}

// Warnings lists what is not known about the torque at a shaft speed (rev/s).
func (m *Motor) Warnings(rev float64) []materials.Warning {
	var out []materials.Warning
	add := func(code, format string, a ...any) {
		out = append(out, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	if n := len(m.Curve); n > 0 {
		if end := m.Curve[n-1][0]; rev > end*(1+1e-9) {
			add("motor-curve-end",
				"the motor turns at %.0f rpm, beyond the last point of its curve at %.0f rpm; the torque there is "+
					"extrapolated", rev*60, end*60)
		}
		if peak := m.CurvePeak(); m.Current > 1.02*peak && !m.wound() {
			add("motor-curve-current",
				"the motor is set to %.2f A peak, its curve was taken at about %.2f A peak; without resistance, "+
					"inductance and supply no credit is given for the difference", m.Current, peak)
		}
		return out
	}
	if f := m.Electrical(rev); f > Checked.Electrical*(1+1e-9) {
		add("motor-range",
			"the motor turns at %.0f rpm; the motor model was compared with published curves to %.0f rpm "+
				"only", rev*60, Checked.Electrical/float64(m.Teeth)*60)
	}
	// the voltage and the losses count
	if m.model(rev, m.Current, m.Supply) < 0.98*float64(m.Teeth)*m.Flux()*m.Current {
		if v := Checked.Supply; m.Supply < v[0] || m.Supply > v[1] {
			add("motor-range",
				"at %.0f rpm the torque depends on the supply of %.3g V; the motor model was compared with published "+
					"curves on %g to %g V only", rev*60, m.Supply, v[0], v[1])
		}
		if h := Checked.Holding; m.Holding < h[0]*0.99 || m.Holding > h[1]*1.01 {
			add("motor-range",
				"at %.0f rpm the torque depends on the winding; the motor model was compared with published curves of "+
					"motors of %g to %g N m only, this one holds %.3g N m", rev*60, h[0], h[1], m.Holding)
		}
	}
	return out
}

// Heat returns the copper heat (W) of both phases: I^2 R of a sine of peak Current, twice
// half of it. It goes with the current squared: the mount decides the temperature.
func (m *Motor) Heat() float64 { return m.Current * m.Current * m.Resistance }
