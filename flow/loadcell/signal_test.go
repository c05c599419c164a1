package loadcell

import (
	"math"
	"testing"

	"meltload/flow/reference"
	"meltload/materials/checks"
)

// The check values and their sources are in testdata/checks.json.

func TestFits(t *testing.T) {
	checks.Each(t, "polyfit", func(c *checks.Case) {
		p := PolyFit(c.List("x"), c.List("y"), int(c.In("degree")))
		c.WantList("coef", p.Coef)
		c.WantList("coef_sd", p.SD)
		c.Want("resid_sd", p.Resid)
		c.Want("R2", p.R2)
		c.Want("corr01", p.Corr01)
	})
	checks.Each(t, "line_predict", func(c *checks.Case) {
		y, u := PolyFit(c.List("x"), c.List("y"), 1).At(c.In("x0"))
		c.Want("value", y)
		c.Want("u", u)
	})
	checks.Each(t, "loadcell_cal", func(c *checks.Case) {
		k := CheckCell(c.List("load"), c.List("up"), c.List("down"))
		c.Want("nonlinearity_terminal_pct", 100*k.Nonlinearity)
		c.Want("hysteresis_pct", 100*k.Hysteresis)
		c.Want("bestline_slope", k.Slope)
		c.Want("bestline_max_dev_pct", 100*k.Deviation)
	})
}

func TestRippleIsFound(t *testing.T) {
	const fs = 80
	x := make([]float64, 800)
	for i := range x {
		ti := float64(i) / fs
		x[i] = 30 + 0.4*ti + 1.5*math.Sin(2*math.Pi*7.3*ti) + 0.2*math.Sin(2*math.Pi*21*ti)
	}
	r := FindRipple(x, fs, 2)
	if math.Abs(r.Frequency-7.3) > 0.05 || math.Abs(r.Amplitude-1.5) > 0.1 || r.Share < 0.9 {
		t.Errorf("%+v", r)
	}
}

func TestMoments(t *testing.T) {
	checks.Each(t, "mad_scale", func(c *checks.Case) {
		mad, sigma := reference.MAD(c.List("x"))
		c.Want("median", Median(c.List("x")))
		c.Want("mad", mad)
		c.Want("sigma", sigma)
		c.Want("k", madFactor)
	})
	checks.Each(t, "block_means", func(c *checks.Case) {
		m, g, se := BlockMeans(c.List("x"), int(c.In("B")))
		c.WantList("block_means", m)
		c.Want("grand_mean", g)
		c.Want("se", se)
	})
}

func TestConfidence(t *testing.T) {
	checks.Each(t, "t_quantile", func(c *checks.Case) { c.Want("t", TQuantile(c.In("p"), c.In("dof"))) })
	if n := Repeats(2, 2, 0.95); Interval(2, n, 0.95) > 2 || Interval(2, n-1, 0.95) <= 2 {
		t.Errorf("%d repeats", n)
	}
}

func TestSignals(t *testing.T) {
	checks.Each(t, "alias", func(c *checks.Case) {
		c.Want("f_alias", Alias(c.In("f"), c.In("fs")))
		c.Want("nyquist", c.In("fs")/2)
	})
	checks.Each(t, "peak_parabola", func(c *checks.Case) {
		o, h := PeakParabola(c.In("a"), c.In("b"), c.In("c"))
		c.Want("offset", o)
		c.Want("height", h)
	})
	checks.Each(t, "peaks_prominence", func(c *checks.Case) {
		at, p := reference.Peaks(c.List("x"))
		f := make([]float64, len(at))
		for i := range at {
			f[i] = float64(at[i])
		}
		c.WantList("index", f)
		c.WantList("prominence", p)
	})
}
