package report

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow/casefile"
	"meltload/flow/study"
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
// its problems, or every rendering of its result holds finite numbers only.
func TestAnyAllowedCaseEndsInNumbers(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	var keys []casefile.Key
	src := []byte(string(casefile.BuiltIn) + more)
	if _, ps := casefile.Parse("any.toml", src); len(ps) > 0 {
		t.Fatal(ps)
	}
	index := map[string]int{"hot_end.section[]": 3, "feeder.point[]": 3}
	for _, k := range casefile.Keys() {
		if k.Kind == "float64" && !strings.HasPrefix(k.Path, "mould") && !strings.HasPrefix(k.Path, "spread") {
			keys = append(keys, k)
		}
	}
	ran := 0
	bad := regexp.MustCompile(`NaN|[+-]Inf\b|\bInf\b`)
	rapid.Check(t, func(t *rapid.T) {
		set := map[string]string{}
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			k := rapid.SampledFrom(keys).Draw(t, "key")
			lo, hi := math.Max(k.Low, -1e6), math.Min(k.High, 1e6)
			x := rapid.OneOf(rapid.Just(lo), rapid.Just(hi), rapid.Just(lo+1e-9*(hi-lo)), rapid.Just(lo+1e-3*(hi-lo)),
				rapid.Float64Range(lo, hi)).Draw(t, "value")
			path := k.Path
			for a, n := range index {
				path = strings.Replace(path, a, strings.TrimSuffix(a, "]")+
					fmt.Sprint(rapid.IntRange(1, n).Draw(t, "member"))+"]", 1)
			}
			set[path] = fmt.Sprintf("%.12g", x)
		}
		_, c, err := casefile.Patch("any.toml", src, set, "")
		if err != nil {
			return // refused, with problems
		}
		r, err := study.Glance(c, study.Options{})
		if err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		ran++
		d := Assess(r)
		var out bytes.Buffer
		if err := d.Text(&out); err != nil {
			t.Fatal(err)
		}
		if err := d.Answer(&out); err != nil {
			t.Fatal(err)
		}
		if err := JSON(&out, r); err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		if at := bad.FindIndex(out.Bytes()); at != nil {
			t.Fatalf("%v: %s", set, out.Bytes()[max(0, at[0]-200):min(out.Len(), at[1]+100)])
		}
	})
	if ran < 10 {
		t.Errorf("only %d cases ran", ran)
	}
}
