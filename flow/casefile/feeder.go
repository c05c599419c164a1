package casefile

import (
	"fmt"
	"math"
	"strings"

	"meltload/flow/feeder"
	"meltload/materials"
	"meltload/materials/unit"
)

// feeder is the feeder by its measured points, its model, or both; nil where there is something wrong with it.
func (b *builder) feeder(m *materials.Material) *feeder.Feeder {
	in := b.f.Feeder
	out := feeder.Feeder{Name: in.Name, Mass: in.Mass / 1000, Cost: in.Cost, Slip: in.Slip, Factor: in.Factor}
	before := len(b.found)
	for i := range in.Points {
		out.Points = append(out.Points, b.point(fmt.Sprintf("feeder.point[%d]", i+1), in.Points[i]))
	}
	out.Model = b.model(m)
	if len(out.Points) == 0 && out.Model == nil && len(b.found) == before {
		b.bad("feeder", "neither points nor a model", "[[feeder.point]], or [feeder.motor] with [feeder.drive], or "+
			"[feeder.grip]", "say what the feeder can push")
		return nil
	}
	if len(b.found) > before || m == nil && !b.alone {
		return nil
	}
	if m != nil {
		out.Stock = &feeder.Stock{Material: m, Diameter: b.f.Filament.Diameter * unit.MM,
			Temperature: unit.Kelvin(in.Stock)}
	}
	f, err := feeder.New(out)
	if err != nil {
		for _, e := range strings.Split(err.Error(), "\n") {
			b.bad("feeder", strings.TrimPrefix(e, "feeder: "), "points with speed and force, a motor with its drive",
				"correct it")
		}
		return nil
	}
	if n := len(out.Points) - len(f.Points) - len(f.Unused); n > 0 {
		b.note("points-pooled", "%d of the feeder's %d points have the speed of another and are pooled with it: force "+
			"and scatter are of both, and a cause that differs is unknown", n, len(out.Points))
	}
	return f
}

// point is one measured capability.
func (b *builder) point(at string, p point) feeder.Point {
	q := feeder.Point{Cause: feeder.Cause(p.Cause), Repeats: p.Repeats, SD: p.SD, Material: p.Material,
		Current: b.pointCurrent(at, p)}
	if p.Stock != nil {
		q.Stock = unit.Kelvin(*p.Stock)
	}
	if p.Block != nil {
		q.Block = unit.Kelvin(*p.Block)
	}
	switch {
	case p.Speed != nil && p.Flow != nil:
		b.bad(at+".flow_mm3_s", fmt.Sprint(*p.Flow), "either speed_mm_s or flow_mm3_s", "remove one of the two")
	case p.Speed != nil:
		q.Speed = *p.Speed * unit.MM
	case p.Flow != nil:
		q.Speed = *p.Flow * unit.MM3 / unit.Disc(b.f.Filament.Diameter*unit.MM)
	default:
		b.bad(at, "no speed", "speed_mm_s or flow_mm3_s", "say how fast the filament was pushed")
	}
	switch {
	case p.ForceN != nil && p.ForceKG != nil:
		b.bad(at+".force_kgf", fmt.Sprint(*p.ForceKG), "either force_N or force_kgf", "remove one of the two")
	case p.ForceN != nil:
		q.Force = *p.ForceN
	case p.ForceKG != nil:
		q.Force = *p.ForceKG * unit.KGF
	default:
		b.bad(at, "no force", "force_N or force_kgf", "say what force was held")
	}
	if p.SD > 0 && p.Repeats < 2 {
		b.bad(at+".sd_N", fmt.Sprint(p.SD), "0, or repeats of at least 2", "a standard deviation needs repeats: give "+
			"their number")
	}
	if p.SD > 0 && q.Force > 0 && p.SD >= q.Force {
		b.bad(at+".sd_N", fmt.Sprint(p.SD), fmt.Sprintf("less than the force, %.3g N", q.Force),
			"check the unit of the scatter")
	}
	return q
}

// pointCurrent is the motor current of a measured point, peak, in A.
func (b *builder) pointCurrent(at string, p point) float64 {
	kind := p.Kind
	if mot := b.f.Feeder.Motor; kind == "" && mot != nil {
		kind = mot.Kind
	}
	switch {
	case p.Current == 0:
		return 0
	case kind == "":
		b.bad(at+".current_kind", "nothing", "rms or peak", "say what the driver setting means; peak is 1.414 times "+
			"RMS")
		return 0
	case kind == "rms":
		return p.Current * math.Sqrt2
	}
	return p.Current
}

// model is the feeder as computed from its motor, grip and gap; nil where the case describes none of them.
func (b *builder) model(m *materials.Material) *feeder.Model {
	in := b.f.Feeder
	if in.Motor == nil && in.Grip == nil && in.Gap == nil {
		if in.Drive != nil {
			b.bad("feeder.drive", "a drive without a motor", "[feeder.motor] beside it",
				"add the motor or remove the drive")
		}
		return nil
	}
	out := &feeder.Model{Diameter: b.f.Filament.Diameter * unit.MM, Stock: unit.Kelvin(in.Stock), Material: m}
	if in.Motor != nil {
		if in.Drive == nil {
			b.bad("feeder.motor", "a motor without a drive", "[feeder.drive] beside it",
				"give ratio and effective diameter")
		} else {
			out.Drive = b.drive(in.Drive)
		}
		out.Motor = b.motor(in.Motor)
	}
	if g := in.Grip; g != nil {
		out.Grip = &feeder.Grip{Area: g.Area * unit.MM2, Wheels: g.Wheels, Tension: g.Tension}
		if g.Tension == 0 {
			out.Grip.Tension = 1
		}
	}
	if g := in.Gap; g != nil {
		out.Gap = &feeder.Gap{Length: g.Length * unit.MM, K: g.Factor}
		if g.Factor == 0 {
			out.Gap.K = feeder.FixedPinned
		}
	}
	return out
}

// defaultEfficiency of a drive without a worm where none is given; assumed.
const defaultEfficiency = 0.85

// drive is the gearing between motor and filament.
func (b *builder) drive(in *driveSpec) feeder.Drive {
	out := feeder.Drive{Ratio: in.Ratio, Efficiency: in.Efficiency, Diameter: in.Diameter * unit.MM}
	switch w := in.Worm; {
	case w != nil:
		e, _ := feeder.WormEfficiency(unit.Deg(w.Lead), unit.Deg(w.Pressure), w.Friction)
		if in.Efficiency == 0 {
			out.Efficiency = 1
		}
		out.Efficiency *= e
	case in.Efficiency == 0:
		out.Efficiency = defaultEfficiency
		b.note("default-efficiency", "drive efficiency was not given; %g is assumed", defaultEfficiency)
	}
	return out
}

// defaultStep is the step of a motor, deg, where none is given: the usual hybrid stepping motor.
const defaultStep = 1.8

// motor is the stepping motor, its currents as peaks.
func (b *builder) motor(in *motorSpec) *feeder.Motor {
	toPeak := 1.0
	if in.Kind == "rms" {
		toPeak = math.Sqrt2
	}
	step := in.Step
	if step == 0 {
		step = defaultStep
	}
	out := &feeder.Motor{Holding: in.Holding * unit.NCM, Rated: in.Rated, Current: in.Current * toPeak,
		Resistance: in.Resistance, Inductance: in.Inductance / 1000, Supply: in.Supply,
		Teeth: int(math.Round(90 / step)), Usable: in.Usable, IronLoss: feeder.DefaultIronLoss,
		CurveSupply: in.CurveSupply, CurveCurrent: in.CurveCurrent * toPeak}
	if in.IronLoss != nil {
		out.IronLoss = *in.IronLoss
	}
	if out.Usable == 0 {
		out.Usable = feeder.DefaultVoltageShare
		if len(in.Curve) == 0 {
			b.note("default-usable-voltage", "usable_share was not given; %.3g of the supply voltage is counted on "+
				"(assumed)", feeder.DefaultVoltageShare)
		}
	}
	if len(in.Curve) > 0 {
		b.motorCurve(in, out)
	} else {
		b.winding(in, out.Current)
	}
	if most := in.Rated * math.Sqrt2; out.Current > most*1.001 {
		b.note("motor-overdriven", "the motor is set to %.2f A peak, above its rated %.2f A (%.2f A peak): copper "+
			"heat goes with the current squared, %.0f %% of rated; do not run it like this without a thermometer on it",
			out.Current, in.Rated, most, 100*math.Pow(out.Current/most, 2))
	}
	return out
}

// motorCurve takes over the data-sheet curve of torque over speed.
func (b *builder) motorCurve(in *motorSpec, out *feeder.Motor) {
	for i, q := range in.Curve {
		if len(q) != 2 || i > 0 && len(in.Curve[i-1]) == 2 && q[0] <= in.Curve[i-1][0] {
			b.bad(fmt.Sprintf("feeder.motor.curve_rpm_Ncm[%d]", i+1), fmt.Sprint(q), "[rpm, N cm] pairs by rising "+
				"speed",
				"sort and complete the pairs")
			continue
		}
		out.Curve = append(out.Curve, [2]float64{q[0] / 60, q[1] * unit.NCM})
	}
	if len(out.Curve) > 0 && in.CurveCurrent == 0 && out.Holding > 0 && out.Rated > 0 {
		b.note("motor-curve-peak", "curve_current_A was not given; from the top of the curve and the holding torque "+
			"it was taken at %.2f A peak (%.2f A RMS)", out.CurvePeak(), out.CurvePeak()/math.Sqrt2)
	}
}

// winding checks what the torque is computed from without a curve; peak is the current set, A.
func (b *builder) winding(in *motorSpec, peak float64) {
	for _, k := range []struct {
		key string
		v   float64
	}{{"resistance_ohm", in.Resistance}, {"inductance_mH", in.Inductance}, {"supply_V", in.Supply}} {
		if k.v == 0 {
			b.bad("feeder.motor."+k.key, "nothing", "a number from the data sheet", "give it, or curve_rpm_Ncm")
		}
	}
	if in.Supply > 0 && in.Resistance*peak > in.Supply {
		b.bad("feeder.motor.supply_V", fmt.Sprint(in.Supply), fmt.Sprintf("more than resistance times current, %.3g V",
			in.Resistance*peak), "the supply cannot drive this current")
	}
}
