package loadcell

import (
	"math"
	"testing"

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

func TestMoments(t *testing.T) {
	checks.Each(t, "strd_numacc", func(c *checks.Case) {
		// NIST StRD NumAcc1 and NumAcc2.
		x := []float64{10000001, 10000003, 10000002}
		if c.In("which") == 2 {
			x = []float64{1.2}
			for range 500 {
				x = append(x, 1.1, 1.3)
			}
		}
		m, sd := MeanSD(x)
		c.Want("mean", m)
		c.Want("sd", sd)
		c.Want("lag1", Lag1(x))
		c.Want("count", float64(len(x)))
	})
	checks.Each(t, "mean_sd", func(c *checks.Case) {
		x := c.List("x")
		m, sd := MeanSD(x)
		c.Want("mean", m)
		c.Want("sd", sd)
		c.Want("sd_of_mean", sd/math.Sqrt(float64(len(x))))
		c.Want("lag1", Lag1(x))
		c.Want("median", Median(x))
	})
	checks.Each(t, "mad_scale", func(c *checks.Case) {
		mad, sigma := MAD(c.List("x"))
		c.Want("median", Median(c.List("x")))
		c.Want("mad", mad)
		c.Want("sigma", sigma)
		c.Want("k", madFactor)
	})
	checks.Each(t, "mean_ar1", func(c *checks.Case) {
		n, phi, s := int(c.In("N")), c.In("phi"), c.In("sigma")
		sd, eff := MeanOfAR1(s, phi, n)
		c.Want("sd_mean", sd)
		c.Want("N_eff", eff)
		c.Want("naive", s/math.Sqrt(float64(n)))
		c.Want("sd_mean_large_N", s*math.Sqrt((1+phi)/(1-phi)/float64(n)))
	})
	checks.Each(t, "block_ar1", func(c *checks.Case) {
		sd, _ := MeanOfAR1(c.In("sigma"), c.In("phi"), int(c.In("B")))
		c.Want("sd_block", sd)
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
	checks.Each(t, "welch_satterthwaite", func(c *checks.Case) {
		u, d := Welch(c.List("u"), c.List("dof"))
		c.Want("u_c", u)
		c.Want("dof", d)
	})
	checks.Each(t, "sample_size", func(c *checks.Case) {
		m, g := SampleSize(c.In("sigma"), c.In("delta"), c.In("alpha"), c.In("power"))
		c.Want("n_mean_halfwidth", m)
		c.Want("n_per_group", g)
	})
	checks.Each(t, "power_ttest", func(c *checks.Case) {
		c.Want("power", Power(int(c.In("n")), c.In("delta"), c.In("sigma"), c.In("alpha")))
	})
	checks.Each(t, "quantisation", func(c *checks.Case) {
		l, n := Quantum(c.In("full_scale"), int(c.In("bits")))
		c.Want("lsb", l)
		c.Want("rms_noise", n)
	})
	checks.Each(t, "rect_u", func(c *checks.Case) { c.Want("u", Rectangular(c.In("half_width"))) })
	if n := Repeats(2, 2, 0.95); Interval(2, n, 0.95) > 2 || Interval(2, n-1, 0.95) <= 2 {
		t.Errorf("%d repeats", n)
	}
}

func TestSignals(t *testing.T) {
	checks.Each(t, "alias", func(c *checks.Case) {
		c.Want("f_alias", Alias(c.In("f"), c.In("fs")))
		c.Want("nyquist", c.In("fs")/2)
	})
	checks.Each(t, "ewma", func(c *checks.Case) {
		lo, hi := EWMALimits(c.In("target"), c.In("sigma"), c.In("lam"), c.In("L"))
		c.WantList("ewma", EWMA(c.List("x"), c.In("target"), c.In("lam")))
		c.Want("LCL", lo)
		c.Want("UCL", hi)
	})
	checks.Each(t, "cusum", func(c *checks.Case) {
		u, d, a := CUSUM(c.List("x"), c.In("target"), c.In("k"), c.In("h"))
		c.WantList("S_hi", u)
		c.WantList("S_lo", d)
		c.Want("first_alarm", float64(a+1))
	})
	checks.Each(t, "changepoint", func(c *checks.Case) {
		s := FindSplit(c.List("x"))
		c.Want("k", float64(s.K))
		c.Want("mean_before", s.Before)
		c.Want("mean_after", s.After)
		c.Want("rss", s.RSS)
		c.Want("total_ss", s.Total)
		c.Want("t", s.T)
	})
	checks.Each(t, "moving_mean", func(c *checks.Case) {
		x, w := c.List("x"), int(c.In("w"))
		c.WantList("means", MovingMean(x, w))
		c.Want("flattest", float64(Flattest(x, w)))
	})
	checks.Each(t, "savgol5", func(c *checks.Case) {
		s, d := SavGol5([5]float64(c.List("y")))
		c.Want("smooth", s)
		c.Want("slope", d)
	})
	checks.Each(t, "peak_parabola", func(c *checks.Case) {
		o, h := PeakParabola(c.In("a"), c.In("b"), c.In("c"))
		c.Want("offset", o)
		c.Want("height", h)
	})
	checks.Each(t, "peaks_prominence", func(c *checks.Case) {
		at, p := Peaks(c.List("x"))
		f := make([]float64, len(at))
		for i := range at {
			f[i] = float64(at[i])
		}
		c.WantList("index", f)
		c.WantList("prominence", p)
	})
	checks.Each(t, "rstat", func(c *checks.Case) {
		c.WantList("R", SteadyRatio(c.List("x"), c.In("l1"), c.In("l2"), c.In("l3")))
	})
}

func TestRippleIsFound(t *testing.T) {
	const fs = 80
	x := make([]float64, 800)
	for i := range x {
		ti := float64(i) / fs
		x[i] = 30 + 0.4*ti + 1.5*math.Sin(2*math.Pi*7.3*ti) + 0.2*math.Sin(2*math.Pi*21*ti)
	}
	r := FindRipple(x, fs)
	if math.Abs(r.Frequency-7.3) > 0.05 || math.Abs(r.Amplitude-1.5) > 0.1 || r.Share < 0.9 {
		t.Errorf("%+v", r)
	}
}
