package vary

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/setup"
)

// Band is how well a quantity is known: the distribution of its value. Half of the probability lies below the value,
// half above it, also where the band is one-sided: then one half of the probability is on the value itself.
type Band struct {
	Low, High float64 // the ends named, SI: two standard deviations of a normal one, all of a bounded one
	Known     bool    // nothing is in doubt
	Text      string  // in words, with units of the case file
	at        func(p float64) float64
}

// At returns the value below which the quantity lies with the probability p, 0 < p < 1.
func (b *Band) At(p float64) float64 { return b.at(p) }

// Band returns how well the value of a quantity is known in a set-up: what the case or a calibration says, else the
// default band about the value. A quantity for which there is none is known.
func (q *Quantity) Band(s *setup.Setup) Band {
	x := q.get(s)
	var b Band
	if d, ok := s.Doubts[string(q.ID)]; ok {
		b = q.of(d, x)
	} else if q.band != nil {
		b = q.band(s, x)
	} else {
		b = q.known(x, "known")
	}
	at := b.at
	b.at = func(p float64) float64 { return q.Clip(at(p)) }
	return b
}

// of is the band that a doubt makes about a value.
func (q *Quantity) of(d setup.Doubt, x float64) Band {
	from := "as given"
	if d.Calibrated {
		from = "from the calibration"
	}
	switch {
	case d.Kind == setup.PlusMinus && d.High == 0, d.Kind == setup.Factor && d.High == 1, d.Kind == setup.Interval &&
		d.Low == d.High:
		return q.known(x, "known, "+from)
	case d.Kind == setup.PlusMinus:
		return q.normal(x, d.High, from)
	case d.Kind == setup.Factor:
		return q.factor(x, d.High, from)
	case d.Calibrated:
		return q.skewed(x, d.Low, d.High, from)
	}
	return q.between(x, d.Low, d.High, from)
}

func (q *Quantity) known(x float64, text string) Band {
	return Band{Low: x, High: x, Known: true, Text: text, at: func(float64) float64 { return x }}
}

// normal is plus or minus w about x (two standard deviations).
func (q *Quantity) normal(x, w float64, from string) Band {
	if w == 0 {
		return q.known(x, "known, "+from)
	}
	step := fmt.Sprintf("%.3g %s", math.Abs(q.Edge(x+w)-q.Edge(x)), q.Unit)
	if q.Unit == "" {
		step = fmt.Sprintf("%.3g", w)
	}
	return Band{Low: x - w, High: x + w, Text: fmt.Sprintf("%s ± %s (normal, two standard deviations; %s)", q.Text(x),
		step, from),
		at: func(p float64) float64 { return x + w/2*distuv.UnitNormal.Quantile(p) }}
}

// factor is x over f to x times f (two standard deviations of the logarithm).
func (q *Quantity) factor(x, f float64, from string) Band {
	if f == 1 {
		return q.known(x, "known, "+from)
	}
	return Band{Low: x / f, High: x * f,
		Text: fmt.Sprintf("%s, within a factor %.3g (log-normal, two standard deviations; %s)", q.Text(x), f, from),
		at:   func(p float64) float64 { return x * math.Exp(math.Log(f)/2*distuv.UnitNormal.Quantile(p)) }}
}

// between is even from lo to x and from x to hi on the scale of the quantity, half of the probability on either side of
// x.
func (q *Quantity) between(x, lo, hi float64, from string) Band {
	lo, hi = q.Clip(math.Min(lo, x)), q.Clip(math.Max(hi, x))
	if q.Scale == Reciprocal && math.IsInf(x, 1) {
		from = "the value is infinite; " + from
	}
	return Band{Low: lo, High: hi, Text: fmt.Sprintf("%s to %s, half of it below %s (even; %s)",
		Number(round3(q.Edge(lo))), q.Text(hi), q.Text(x), from),
		at: func(p float64) float64 {
			a, m, b := q.Scale.To(lo), q.Scale.To(x), q.Scale.To(hi)
			if p < 0.5 {
				return q.Scale.From(a + (m-a)*2*p)
			}
			return q.Scale.From(m + (b-m)*(2*p-1))
		}}
}

// skewed has its 2.5 and 97.5 per cent points at lo and hi: half a normal on either side of x, on the scale of the
// quantity.
func (q *Quantity) skewed(x, lo, hi float64, from string) Band {
	lo, hi = math.Min(lo, x), math.Max(hi, x)
	return Band{Low: lo, High: hi, Text: fmt.Sprintf("%s (%s to %s, 95 %%; %s)", q.Text(x), Number(round3(q.Edge(lo))),
		Number(round3(q.Edge(hi))), from),
		at: func(p float64) float64 {
			z, m := distuv.UnitNormal.Quantile(p), q.Scale.To(x)
			side := q.Scale.To(q.Clip(hi))
			if z < 0 {
				side = q.Scale.To(q.Clip(lo))
			}
			return q.Scale.From(m + math.Abs(z)/1.96*(side-m))
		}}
}

func round3(x float64) float64 {
	if x == 0 || math.IsInf(x, 0) {
		return x
	}
	p := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*p) / p
}
