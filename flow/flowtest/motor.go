package flowtest

import (
	"math"
	"strconv"
	"strings"

	"meltload/flow/feeder"
)

// MotorCurve is a published pull-out curve with the motor it was measured on.
type MotorCurve struct {
	Name   string
	Motor  feeder.Motor
	Points [][2]float64 // rpm, N m
}

// Motors reads testdata/motor/curves.csv; the README there names the sources.
func Motors() []MotorCurve {
	var out []MotorCurve
	list := func(s string) (x []float64) {
		for _, w := range strings.Fields(s) {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				panic(err)
			}
			x = append(x, v)
		}
		return x
	}
	for _, r := range Table("motor", "curves.csv") {
		c := MotorCurve{Name: r["motor"], Motor: feeder.Motor{Holding: r.F("holding_Nm"), Rated: r.F("rated_A"),
			Current: r.F("set_peak_A"), Resistance: r.F("R_ohm"), Inductance: r.F("L_mH") / 1e3,
			Supply: r.F("supply_V"),
			Teeth:  50, Usable: feeder.DefaultVoltageShare, IronLoss: feeder.DefaultIronLoss}}
		rpm, torque := list(r["rpm"]), list(r["measured_Nm"])
		for i := range rpm {
			c.Points = append(c.Points, [2]float64{rpm[i], torque[i]})
		}
		out = append(out, c)
	}
	return out
}

// MotorError compares a torque law (N m against rev/s) with a curve: mean |relative| error and the signed relative
// errors of the largest and of the largest below 1,000 rpm.
func (c *MotorCurve) MotorError(torque func(rev float64) float64) (mean, worst, below float64) {
	for _, p := range c.Points {
		e := torque(p[0]/60)/p[1] - 1
		mean += math.Abs(e) / float64(len(c.Points))
		if math.Abs(e) > math.Abs(worst) {
			worst = e
		}
		if p[0] < 1000 && math.Abs(e) > math.Abs(below) {
			below = e
		}
	}
	return mean, worst, below
}
