package report

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow/casefile"
	"meltload/flow/study"
	"meltload/materials"
	"meltload/materials/checks"
)

// The tables and keys that the built-in case leaves out, so that they are drawn too.
const more = `
[feeder.motor]
holding_torque_Ncm = 40
rated_A = 1.2
current_A = 0.8
current_kind = "rms"
resistance_ohm = 2.1
inductance_mH = 3.4
supply_V = 24
[feeder.drive]
ratio = 3
diameter_mm = 7.5
[feeder.grip]
area_mm2 = 0.8
wheels = 2
[feeder.gap]
length_mm = 6
[material]
viscosity_factor = 1
solid_cap_Pa_s = 1e7
`

// Numbers of a case drawn anywhere in their allowed ranges, ends, tiny and huge ones included: the case is refused with
// its problems, and another drawn, or every rendering of its result holds finite numbers only.
func TestAnyAllowedCaseEndsInNumbers(t *testing.T) {
	var keys []casefile.Key
	src := []byte(string(casefile.BuiltIn) + more)
	if _, ps := casefile.Parse("any.toml", src); len(ps) > 0 {
		t.Fatal(ps)
	}
	for _, k := range casefile.Keys() {
		if k.Kind == "float64" && !strings.HasPrefix(k.Path, "mould") && !strings.HasPrefix(k.Path, "spread") {
			keys = append(keys, k)
		}
	}
	checks.Property(t, 15, func(t *rapid.T) {
		set := drawn(t, keys, map[string]int{"hot_end.section[]": 3, "feeder.point[]": 3}, 4)
		_, c, err := casefile.Patch("any.toml", src, set, "")
		if err != nil {
			t.Skip("refused, with its problems")
		}
		r, err := study.Glance(&c.Setup, study.Options{})
		if err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		r.From(c)
		inNumbers(t, set, Assess(r), r)
	})
}

// Every material of the library ends in an answer of finite numbers, in the middle of its window.
func TestEveryMaterialEndsInNumbers(t *testing.T) {
	for i, name := range materials.Names() {
		if testing.Short() && i%3 > 0 {
			continue
		}
		m, err := materials.Get(name)
		if err != nil {
			t.Fatal(err)
		}
		s := casefile.Invented().Setup
		s.Material, s.Block, s.Temps = m, (m.Window[0]+m.Window[1])/2, m.Window
		r, err := study.Glance(&s, study.Options{})
		if err != nil {
			t.Errorf("%s: %v", m.ID, err)
			continue
		}
		if p := r.Point; p.Force <= 0 || p.Pressure <= 0 || r.Verdict.Flow <= 0 {
			t.Errorf("%s: %g N, %g Pa, usable up to %g m3/s", m.ID, p.Force, p.Pressure, r.Verdict.Flow)
		}
		inNumbers(t, m.ID, Assess(r), r)
	}
}

// drawn sets some of the keys to numbers anywhere in their allowed ranges, ends included; a band gets two, low end
// first.
func drawn(t *rapid.T, keys []casefile.Key, index map[string]int, most int) map[string]string {
	set := map[string]string{}
	for range rapid.IntRange(1, most).Draw(t, "changes") {
		k := rapid.SampledFrom(keys).Draw(t, "key")
		lo, hi := math.Max(k.Low, -1e6), math.Min(k.High, 1e6)
		one := rapid.OneOf(rapid.Just(lo), rapid.Just(hi), rapid.Just(lo+1e-9*(hi-lo)),
			rapid.Just(lo+1e-3*(hi-lo)), rapid.Float64Range(lo, hi))
		path := k.Path
		for a, n := range index {
			path = strings.Replace(path, a,
				strings.TrimSuffix(a, "]")+fmt.Sprint(rapid.IntRange(1, n).Draw(t, "member"))+"]", 1)
		}
		x := one.Draw(t, "value")
		if set[path] = fmt.Sprintf("%.12g", x); k.Kind == "slice" {
			y := one.Draw(t, "other end")
			set[path] = fmt.Sprintf("[%.12g, %.12g]", math.Min(x, y), math.Max(x, y))
		}
	}
	return set
}

// numberKeys are the keys under a table that take numbers or bands of them.
func numberKeys(prefix string) []casefile.Key {
	var out []casefile.Key
	for _, k := range casefile.Keys() {
		if strings.HasPrefix(k.Path, prefix) && (k.Kind == "float64" || k.Kind == "slice" && !math.IsInf(k.Low, 0)) {
			out = append(out, k)
		}
	}
	return out
}

var noNumber = regexp.MustCompile(`NaN|[+-]Inf\b|\bInf\b`)

// However wide or narrow the bands, and wherever the case: the range holds finite numbers, low end first, about the
// value stated.
func TestAnyAllowedSpreadHoldsItsValue(t *testing.T) {
	keys := append(numberKeys("spread."), numberKeys("hot_end.block")...)
	keys = append(keys, numberKeys("target.flow")...)
	checks.Property(t, 4, func(t *rapid.T) {
		set := drawn(t, keys, nil, 4)
		_, c, err := casefile.Patch("any.toml", casefile.BuiltIn, set, "")
		if err != nil {
			t.Skip("refused, with its problems")
		}
		r, err := study.Glance(&c.Setup, study.Options{Curve: 5})
		if err == nil {
			err = r.Spread(context.Background(), &c.Setup, 32, 1, nil)
		}
		if err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		for name, x := range map[string]study.Interval{"usable flow": r.Range.Usable, "push": r.Range.Push,
			"pressure":         r.Range.Pressure,
			"exit temperature": r.Range.ExitBulk, "centre at the cone": r.Range.EntryCentre, "heater": r.Range.Heater} {
			const eps = 1e-9
			if !(x.Low <= x.Best*(1+eps)+eps && x.Best <= x.High*(1+eps)+eps) || math.IsInf(x.High-x.Low, 0) {
				t.Fatalf("%v: %s %g in %g to %g", set, name, x.Best, x.Low, x.High)
			}
		}
		inNumbers(t, set, Assess(r), r)
	})
}

// failer is a test, or a property in one.
type failer interface {
	Helper()
	Fatal(a ...any)
	Fatalf(format string, a ...any)
}

// encoded is data inside a page, whose letters may spell anything.
var encoded = regexp.MustCompile(`;base64,[A-Za-z0-9+/=]*`)

// inNumbers fails where text, page or JSON of a result holds what is no number.
func inNumbers(t failer, set any, d *Document, result any) {
	t.Helper()
	var out bytes.Buffer
	if err := d.Text(&out); err != nil {
		t.Fatal(err)
	}
	if err := d.Answer(&out, true); err != nil {
		t.Fatal(err)
	}
	if err := JSON(&out, result); err != nil {
		t.Fatalf("%v: %v", set, err)
	}
	text := encoded.ReplaceAll(out.Bytes(), nil)
	if at := noNumber.FindIndex(text); at != nil {
		t.Fatalf("%v: %s", set, text[max(0, at[0]-200):min(len(text), at[1]+100)])
	}
}

// Any mould that is allowed is filled, or not, in finite numbers.
func TestAnyAllowedMouldEndsInNumbers(t *testing.T) {
	keys := numberKeys("mould.")
	checks.Property(t, 3, func(t *rapid.T) {
		set := drawn(t, keys, map[string]int{"mould.element[]": 3}, 3)
		_, c, err := casefile.Patch("any.toml", casefile.BuiltIn, set, "")
		if err != nil {
			t.Skip("refused, with its problems")
		}
		r, err := study.FillMould(context.Background(), &c.Setup)
		if err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		inNumbers(t, set, Mould(r), r)
	})
}
