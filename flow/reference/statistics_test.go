package reference_test

import (
	"math"
	"testing"

	"meltload/flow/loadcell"
	"meltload/flow/reference"
	"meltload/materials/checks"
)

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
		m, sd := reference.MeanSD(x)
		c.Want("mean", m)
		c.Want("sd", sd)
		c.Want("lag1", reference.Lag1(x))
		c.Want("count", float64(len(x)))
	})
	checks.Each(t, "mean_sd", func(c *checks.Case) {
		x := c.List("x")
		m, sd := reference.MeanSD(x)
		c.Want("mean", m)
		c.Want("sd", sd)
		c.Want("sd_of_mean", sd/math.Sqrt(float64(len(x))))
		c.Want("lag1", reference.Lag1(x))
		c.Want("median", loadcell.Median(x))
	})
	checks.Each(t, "mean_ar1", func(c *checks.Case) {
		n, phi, s := int(c.In("N")), c.In("phi"), c.In("sigma")
		sd, eff := reference.MeanOfAR1(s, phi, n)
		c.Want("sd_mean", sd)
		c.Want("N_eff", eff)
		c.Want("naive", s/math.Sqrt(float64(n)))
		c.Want("sd_mean_large_N", s*math.Sqrt((1+phi)/(1-phi)/float64(n)))
	})
	checks.Each(t, "block_ar1", func(c *checks.Case) {
		sd, _ := reference.MeanOfAR1(c.In("sigma"), c.In("phi"), int(c.In("B")))
		c.Want("sd_block", sd)
	})
}

func TestConfidence(t *testing.T) {
	checks.Each(t, "welch_satterthwaite", func(c *checks.Case) {
		u, d := reference.Welch(c.List("u"), c.List("dof"))
		c.Want("u_c", u)
		c.Want("dof", d)
	})
	checks.Each(t, "sample_size", func(c *checks.Case) {
		m, g := reference.SampleSize(c.In("sigma"), c.In("delta"), c.In("alpha"), c.In("power"))
		c.Want("n_mean_halfwidth", m)
		c.Want("n_per_group", g)
	})
	checks.Each(t, "power_ttest", func(c *checks.Case) {
		c.Want("power", reference.Power(int(c.In("n")), c.In("delta"), c.In("sigma"), c.In("alpha")))
	})
	checks.Each(t, "quantisation", func(c *checks.Case) {
		l, n := reference.Quantum(c.In("full_scale"), int(c.In("bits")))
		c.Want("lsb", l)
		c.Want("rms_noise", n)
	})
	checks.Each(t, "rect_u", func(c *checks.Case) { c.Want("u", reference.Rectangular(c.In("half_width"))) })
}

func TestSignals(t *testing.T) {
	checks.Each(t, "ewma", func(c *checks.Case) {
		lo, hi := reference.EWMALimits(c.In("target"), c.In("sigma"), c.In("lam"), c.In("L"))
		c.WantList("ewma", reference.EWMA(c.List("x"), c.In("target"), c.In("lam")))
		c.Want("LCL", lo)
		c.Want("UCL", hi)
	})
	checks.Each(t, "cusum", func(c *checks.Case) {
		u, d, a := reference.CUSUM(c.List("x"), c.In("target"), c.In("k"), c.In("h"))
		c.WantList("S_hi", u)
		c.WantList("S_lo", d)
		c.Want("first_alarm", float64(a+1))
	})
	checks.Each(t, "changepoint", func(c *checks.Case) {
		s := reference.FindSplit(c.List("x"))
		c.Want("k", float64(s.K))
		c.Want("mean_before", s.Before)
		c.Want("mean_after", s.After)
		c.Want("rss", s.RSS)
		c.Want("total_ss", s.Total)
		c.Want("t", s.T)
	})
	checks.Each(t, "moving_mean", func(c *checks.Case) {
		x, w := c.List("x"), int(c.In("w"))
		c.WantList("means", reference.MovingMean(x, w))
		c.Want("flattest", float64(reference.Flattest(x, w)))
	})
	checks.Each(t, "savgol5", func(c *checks.Case) {
		s, d := reference.SavGol5([5]float64(c.List("y")))
		c.Want("smooth", s)
		c.Want("slope", d)
	})
	checks.Each(t, "rstat", func(c *checks.Case) {
		c.WantList("R", reference.SteadyRatio(c.List("x"), c.In("l1"), c.In("l2"), c.In("l3")))
	})
}
