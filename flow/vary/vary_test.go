package vary_test

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
)

// own gives the starter case all that can change: sections with a contact of their own, a cone by its length, a motor,
// a grip and a gap.
func own(t testing.TB) (string, *casefile.Case) {
	s := string(casefile.BuiltIn)
	s = strings.Replace(s, "length_mm = 20\n", "length_mm = 20\ncontact_W_m2K = 600\n", 1)
	s = strings.Replace(s, "angle_deg = 60 ", "length_mm = 1.4 ", 1)
	s = strings.Replace(s, "[limits]\n",
		"[feeder.motor]\nholding_torque_Ncm = 40\nrated_A = 1\ncurrent_A = 0.6\ncurrent_kind = "+
			"\"rms\"\nresistance_ohm = 2.1\ninductance_mH = 3.4\nsupply_V = 24\n[feeder.drive]\nratio = "+
			"3\ndiameter_mm = 7.5\n[feeder.grip]\narea_mm2 = 0.8\nwheels = 2\n[feeder.gap]\nlength_mm = "+
			"6\n\n[limits]\n", 1)
	c, ps := casefile.Parse("own.toml", []byte(s))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	return s, c
}

func TestKeysAreThoseOfTheCaseFile(t *testing.T) {
	known := map[string]bool{}
	for _, k := range casefile.Keys() {
		known[k.Path] = true
	}
	_, c := own(t)
	table := vary.Table(&c.Setup)
	if len(table) < 25 {
		t.Errorf("only %d quantities", len(table))
	}
	for _, q := range table {
		if key := regexp.MustCompile(`\[\d+\]`).ReplaceAllString(q.Key, "[]"); !known[key] {
			t.Errorf("%s: %s is no key of the case file", q.ID, key)
		}
		if q.Spread != "" && !known["spread."+q.Spread] {
			t.Errorf("%s: %s is no key of [spread]", q.ID, q.Spread)
		}
		if b := q.Band(&c.Setup); !(math.Abs(b.At(0.5)-q.Get(&c.Setup)) <=
			1e-9*math.Abs(q.Get(&c.Setup))) {
			t.Errorf("%s: the middle of the band is %g, the value %g", q.ID, b.At(0.5), q.Get(&c.Setup))
		}
	}
}

// What is written into the case file is what was set: the file gives the same forces, to 1e-5.
func TestWrittenFileIsWhatWasSet(t *testing.T) {
	text, c := own(t)
	for _, q := range vary.Table(&c.Setup) {
		x := q.Get(&c.Setup)
		to := x * 1.1
		switch q.ID {
		case vary.Block, vary.Inlet, vary.FlowPoint, vary.Mould, vary.MouldNoFlow:
			to = x + 7
		case vary.Bend:
			to = 1
		case vary.Wheels:
			to = 3
		case vary.Filament:
			to = 1.72e-3
		}
		set, err := q.With(&c.Setup, to)
		if err != nil {
			t.Errorf("%s: %v", q.ID, err)
			continue
		}
		if got := q.Get(set); !(math.Abs(got/to-1) <= 1e-9) {
			t.Errorf("%s: set to %g, got %g", q.ID, to, got)
		}
		if q.Get(&c.Setup) != x {
			t.Errorf("%s: the original changed with the copy", q.ID)
		}
		_, read, err := casefile.Patch("own.toml", []byte(text), c.Edits(q.Edits(set)), "")
		if err != nil {
			t.Errorf("%s: %v", q.ID, err)
			continue
		}
		a, b := push(t, set), push(t, &read.Setup)
		for i := range a {
			if !(math.Abs(a[i]/b[i]-1) <= 1e-5) {
				t.Errorf("%s: number %d is %g set and %g from the written file", q.ID, i, a[i], b[i])
			}
		}
	}
}

// push are numbers of a set-up that hang on all of it.
func push(t *testing.T, s *setup.Setup) []float64 {
	var d flow.Solution
	if err := march.New(&s.Case, march.Options{}).Solve(s.Block, 8e-9, &d); err != nil {
		t.Fatal(err)
	}
	out := []float64{d.Push, d.ExitBulk, d.EntryCentre, d.Heater, s.Feeder.At(4e-3).Force, s.Feeder.At(30e-3).Force,
		s.Limits.Safety, s.Target, s.HotEnd.Block.Power}
	l, _, _ := s.PrintLine()
	out = append(out, l.Height, l.Width)
	if m := s.Mould; m != nil {
		out = append(out, m.Surface, m.Flow, m.Contact, 1+m.NoFlow)
		for _, e := range m.Elements {
			out = append(out, e.Height+e.D1+e.D2)
		}
	}
	return out
}

// A contact of a section's own keeps its ratio to the hot end's; perfect contact of the hot end leaves it.
func TestContactKeepsRatios(t *testing.T) {
	_, c := own(t)
	q := vary.Must(&c.Setup, vary.Contact)
	s, err := q.With(&c.Setup, 2*c.Contact)
	if err != nil {
		t.Fatal(err)
	}
	if h := s.HotEnd.Sections[0].H; !(math.Abs(h-1200) <= 1e-9) {
		t.Errorf("own contact %g, want 1200", h)
	}
	if s, err = q.With(&c.Setup, math.Inf(1)); err != nil || s.HotEnd.Sections[0].H != 600 ||
		!math.IsInf(s.HotEnd.Sections[1].H, 1) {
		t.Errorf("%v: %+v", err, s.HotEnd.Sections)
	}
}

// A band's quantiles rise, stay within its ends and the bounds, and have the value in the middle, wherever the value
// is.
func TestBandsAboutAnyValue(t *testing.T) {
	_, c := own(t)
	table := vary.Table(&c.Setup)
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(table).Draw(t, "quantity")
		lo, hi := q.Low, math.Min(q.High, 1e6)
		x := lo + (hi-lo)*rapid.Float64Range(0, 1).Draw(t, "where")
		s := c.Clone()
		if err := q.Set(s, x); err != nil {
			t.Fatal(err)
		}
		if q.ID == vary.Bore || q.ID == vary.Barrel || q.ID == vary.Wheels {
			return // they are bound by what they fit to
		}
		if rapid.Bool().Draw(t, "given") {
			f := rapid.Float64Range(1, 5).Draw(t, "factor")
			s.Doubts = map[string]setup.Doubt{string(q.ID): {Kind: setup.Interval, Low: x / f, High: x * f,
				Calibrated: rapid.Bool().Draw(t, "calibrated")}}
		}
		b := q.Band(s)
		last := math.Inf(-1)
		for _, p := range []float64{1e-9, 0.05, 0.3, 0.5, 0.7, 0.95, 1 - 1e-9} {
			y := b.At(p)
			if math.IsNaN(y) || y < last || y < q.Low || y > q.High {
				t.Fatalf("%s at %g: the quantile of %g is %g after %g, bounds %g to %g", q.ID, x, p, y, last,
					q.Low, q.High)
			}
			last = y
		}
		if m := b.At(0.5); !(math.Abs(m-x) <= 1e-9*math.Max(1, math.Abs(x))) {
			t.Fatalf("%s: middle %g, value %g", q.ID, m, x)
		}
	})
}

func TestBoundsAreSaid(t *testing.T) {
	_, c := own(t)
	q := vary.Must(&c.Setup, vary.Block)
	_, err := q.With(&c.Setup, 2000)
	if got, want := fmt.Sprint(err),
		"hot_end.block_degC: found 1726.85; allowed: 50 to 500 degC; change the value of the block "+
			"temperature"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
