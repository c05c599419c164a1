package calibrate

import (
	"fmt"
	"math"
	"strings"

	"meltload/materials/unit"
)

// What a fit may miss: rms of predicted less measured over the standard uncertainty of the measurement (assumed). A
// model that is right misses by 1; one that misses by more than this has not found the reason of the forces.
const mostMisfit = 4

// stretchShare is the share of a trace over which the worst stretch is looked for.
const stretchShare = 0.1

// Misfit says that a fit does not meet the measurements, with the stretch or the points that do not fit; "" where it
// does.
func (r *Result) Misfit() string {
	var say []string
	if n := len(r.Points); n > 0 {
		sum, worst, at := 0.0, 0.0, 0
		for i, p := range r.Points {
			z := (r.Predicted[i] - p.Force) / p.u()
			sum += z * z
			if math.Abs(z) > math.Abs(worst) {
				worst, at = z, i
			}
		}
		if z := math.Sqrt(sum / float64(n)); z > mostMisfit {
			p := r.Points[at]
			say = append(say, fmt.Sprintf("the steady pushes are missed by %.1f times their uncertainty, most that at "+
				"%.0f degC and %.3g mm3/s: measured %.4g N, predicted %.4g N",
				z, unit.Celsius(p.Block), p.Flow/unit.MM3, p.Force, r.Predicted[at]))
		}
	}
	for i := range r.Traces {
		if s := r.Traces[i].misfit(); s != "" {
			say = append(say, fmt.Sprintf("trace %d %s", i+1, s))
		}
	}
	if wrong := r.wrongUnit(); len(say) > 0 && wrong != "" {
		say = append(say, wrong, firstLook)
	}
	return strings.Join(say, "; ")
}

// misfit says how a trace is missed, and where most.
func (t *Fitted) misfit() string {
	n := len(t.Force)
	misses := make([]float64, n)
	sum, compared := 0.0, 0.0
	for i, q := range t.Flow {
		if q > 0 && i > 0 { // the first sample is the start of both, and standing melt says nothing of the load
			misses[i] = t.Predicted[i] - t.Force[i]
			sum, compared = sum+misses[i]*misses[i], compared+1
		}
	}
	rms := math.Sqrt(sum / compared)
	if t.U <= 0 || rms <= mostMisfit*t.U {
		return ""
	}
	w := int(stretchShare * float64(n))
	worst, at := 0.0, 0
	for i := 0; i+w <= n; i++ {
		d := 0.0
		for _, x := range misses[i : i+w] {
			d += x / float64(w)
		}
		if math.Abs(d) > math.Abs(worst) {
			worst, at = d, i
		}
	}
	return fmt.Sprintf("is missed by %.2g N rms, %.1f times its uncertainty; most from %.0f to %.0f s (block %.0f to "+
		"%.0f degC), where the prediction is %+.2g N off",
		rms, rms/t.U, t.Time[at], t.Time[at+w-1], unit.Celsius(t.Block[at]), unit.Celsius(t.Block[at+w-1]), worst)
}
