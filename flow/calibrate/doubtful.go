package calibrate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/unit"
)

// When a fit is to be doubted (all three assumed).
const (
	// far is how many halves of its band, on its scale, a factor may go from where it starts: a band is a range of
	// 95 %, and its whole width from the middle is four standard deviations. One and a half halves, three standard
	// deviations, are what sound benches with much drag or a cold barrel ask for.
	far = 2.0
	// mostRatio is the ratio of measured to predicted forces, either way, that materials and hot ends do not explain.
	mostRatio = 3.0
	// alike is the correlation from which on two factors stand for each other.
	alike = 0.7
)

// mistakes are what forces look like that are given in another unit, by the ratio to those in newtons.
var mistakes = []struct {
	ratio float64
	text  string
}{
	{1000, "grams in a column of kgf"},
	{1000 / unit.KGF, "grams (gf) in a column of newtons"},
	{unit.KGF, "newtons in a column of kgf, or kgf turned into newtons twice"},
	{unit.LBF, "newtons taken for pounds (lbf)"},
	{1 / unit.LBF, "pounds (lbf) in a column of newtons"},
	{1 / unit.KGF, "kgf in a column of newtons"},
	{unit.KGF / 1000, "newtons taken for grams (gf)"},
	{1e-3, "kgf in a column of grams, or kN in one of newtons"},
}

// nearRatio is how near the ratio must be to that of a mistake, as a factor either way: the prediction before a fit is
// good to that (assumed).
const nearRatio = 1.45

// Ratio is the geometric mean of measured over predicted forces before the fit: of the steady pushes through a nozzle,
// else of the sums along the traces. 0 where none can be compared.
func (r *Result) Ratio() float64 {
	var logs []float64
	put := func(measured, predicted float64) {
		if x := math.Log(measured / predicted); !math.IsNaN(x) && !math.IsInf(x, 0) {
			logs = append(logs, x)
		}
	}
	for i, p := range r.Points {
		if !p.NoNozzle {
			put(p.Force, r.Before[i])
		}
	}
	if len(logs) == 0 {
		for i := range r.Traces {
			m, b := 0.0, 0.0
			for k, q := range r.Traces[i].Flow {
				if q > 0 && k > 0 {
					m, b = m+r.Traces[i].Force[k], b+r.Traces[i].Before[k]
				}
			}
			put(m, b)
		}
	}
	if len(logs) == 0 {
		return 0
	}
	sum := 0.0
	for _, x := range logs {
		sum += x
	}
	return math.Exp(sum / float64(len(logs)))
}

// wrongUnit says by how much the forces as measured differ from those predicted before the fit, and the mistake of
// units that this looks like; "" where they do not differ by much.
func (r *Result) wrongUnit() string {
	x := r.Ratio()
	if x == 0 || x < mostRatio && x > 1/mostRatio {
		return ""
	}
	s := fmt.Sprintf("the measured forces are %.3g times those predicted before the fit", x)
	nearest, how := math.Log(nearRatio), ""
	for _, m := range mistakes {
		if d := math.Abs(math.Log(x / m.ratio)); d < nearest {
			nearest, how = d, fmt.Sprintf(": that looks like %s (a ratio of %.3g)", m.text, m.ratio)
		}
	}
	return s + how
}

// firstLook is what to look at where forces ask for what cannot be.
const firstLook = "first look at the unit of the forces (N, kgf, gf, lbf), the gear ratio or lever of the rig, the " +
	"filament and its diameter, and the nozzle"

// Warnings says what speaks against a fit: forces that ask for factors far outside the band known before, that look
// like those of another unit, or that are too few to show their own scatter; and factors that trade off.
func (r *Result) Warnings() []materials.Warning {
	var w []materials.Warning
	add := func(code, format string, a ...any) {
		w = append(w, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	wrong := r.wrongUnit()
	if beyond := r.beyond(); len(beyond) > 0 {
		s := ""
		if wrong != "" {
			s = "; " + wrong
		}
		add("far-from-known", "the forces ask for %s: do not use this calibration before it is explained%s; %s",
			strings.Join(beyond, ", "), s, firstLook)
	} else if wrong != "" {
		add("force-ratio", "%s; %s", wrong, firstLook)
	}
	known := 0
	for _, v := range r.Values {
		if v.Known {
			known++
		}
	}
	switch n := len(r.Points); {
	case len(r.Traces) > 0:
	case n == 1:
		add("one-measurement", "one measurement cannot show its own scatter, nor whether the model fits: the "+
			"intervals rest on the standard uncertainty stated or assumed alone; push at two temperatures and two "+
			"flows or more")
	case n <= known:
		add("one-measurement", "%d measurements for %d factors leave nothing over to show their scatter, nor whether "+
			"the model fits: measure more, or fit fewer factors", n, known)
	}
	for _, c := range r.Alike {
		add("trade-off", "%s and %s trade off (correlation %.2f): the forces tell the two together better than each, "+
			"and another pair would fit nearly as well; use both as fitted or neither", c.First, c.Second, c.Value)
	}
	return w
}

// Doubtful tells whether the fit needs factors that cannot be meant.
func (r *Result) Doubtful() bool { return len(r.beyond()) > 0 || r.wrongUnit() != "" }

// beyond lists the factors that ended far outside the band known before.
func (r *Result) beyond() []string {
	var out []string
	for i := range r.Values {
		v := &r.Values[i]
		if v.Known && math.Abs(v.Far) > far {
			unit := strings.TrimRight(" "+v.Unit, " ")
			out = append(out, fmt.Sprintf("%s %.3g%s, far outside the %.3g to %.3g known before", v.Label,
				v.Edge(v.Value), unit, v.Edge(v.Band[0]), v.Edge(v.Band[1])))
		}
	}
	return out
}

// trades lists the pairs of factors that were told and yet stand for each other, by their labels.
func (p *problem) trades(list []setup.Correlation, told []bool) []setup.Correlation {
	var out []setup.Correlation
	label := func(id string) string {
		i := slices.IndexFunc(p.f, func(f factor) bool { return string(f.id) == id })
		if i < 0 || !told[i] {
			return ""
		}
		return p.f[i].label
	}
	for _, c := range list {
		a, b := label(c.First), label(c.Second)
		if a != "" && b != "" && math.Abs(c.Value) > alike {
			out = append(out, setup.Correlation{First: a, Second: b, Value: c.Value})
		}
	}
	return out
}
