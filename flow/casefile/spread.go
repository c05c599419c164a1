package casefile

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"meltload/flow/feeder"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// doubts reads [spread]. A band is about the value of its quantity; one whose value the file leaves to the default,
// outside the band, brings its own value: the middle.
func (b *builder) doubts(c *Case) {
	known := map[string]bool{}
	whole := len(b.found) == 0 // a band is held against its value: all else must be right
	v := reflect.ValueOf(b.f.Spread)
	for i := range v.NumField() {
		t := v.Type().Field(i)
		key, id := t.Tag.Get("toml"), t.Tag.Get("id")
		if id == "" {
			continue
		}
		known[key] = true
		path := "spread." + key
		if x, ok := v.Field(i).Interface().([]float64); ok && len(x) == 2 && x[1] < x[0] {
			b.bad(path, fmt.Sprint(x), "low end first", "swap the ends")
			continue
		}
		measured := c.Feeder != nil && len(c.Feeder.Points) > 0
		if !whole || !b.doc.Has(path) || key == "motor_torque_share" && measured || key == "feeder_force_share" &&
			!measured {
			continue
		}
		q, ok := vary.Find(&c.Setup, id)
		if !ok {
			b.bad(path, "a band", "a quantity that this case has", "remove the key")
			continue
		}
		d := setup.Doubt{Calibrated: slices.Contains(b.f.Spread.Calibrated, key)}
		switch x := v.Field(i).Interface().(type) {
		case *float64:
			d.High = *x
			switch t.Tag.Get("kind") {
			case "factor":
				d.Kind = setup.Factor
			case "share":
				d.High = *x * q.Get(&c.Setup)
			default:
				d.High = math.Abs(q.SI(*x) - q.SI(0))
			}
		case []float64:
			d.Kind, d.Low, d.High = setup.Interval, q.SI(x[0]), q.SI(x[1])
			b.about(c, q, d, path)
		}
		if c.Doubts == nil {
			c.Doubts = map[string]setup.Doubt{}
		}
		c.Doubts[id] = d
	}
	must := func(field, k string) {
		if known[k] {
			return
		}
		advice := "remove it"
		if n := strict.Nearest(k, keysOf(known)); n != "" {
			advice = fmt.Sprintf("did you mean %q?", n)
		}
		b.bad(field, fmt.Sprintf("%q", k), "a key of [spread]", advice)
	}
	for i, k := range b.f.Spread.Calibrated {
		must(fmt.Sprintf("spread.calibrated[%d]", i+1), k)
	}
	for i, x := range b.f.Spread.Correlations {
		field := fmt.Sprintf("spread.correlations[%d]", i+1)
		must(field+".of", x.Of)
		must(field+".with", x.With)
		c.Correlations = append(c.Correlations, setup.Correlation{First: idOf(x.Of), Second: idOf(x.With),
			Value: x.Value})
	}
}

// idOf is the quantity that a key of [spread] stands for.
func idOf(key string) string {
	t := reflect.TypeFor[spread]()
	for i := range t.NumField() {
		if t.Field(i).Tag.Get("toml") == key {
			return t.Field(i).Tag.Get("id")
		}
	}
	return ""
}

// about holds the value of a quantity against its band.
func (b *builder) about(c *Case, q vary.Quantity, d setup.Doubt, path string) {
	x := q.Get(&c.Setup)
	if x >= d.Low*(1-1e-6) && x <= d.High*(1+1e-6) { // the file rounds
		return
	}
	if b.doc.Has(q.Key) {
		b.bad(path, fmt.Sprintf("%s to %s", vary.Number(q.Edge(d.Low)), q.Text(d.High)),
			fmt.Sprintf("a band about %s = %s", q.Key, vary.Number(q.Edge(x))), "widen the band or change the value")
		return
	}
	mid := q.Scale.From((q.Scale.To(d.Low) + q.Scale.To(d.High)) / 2)
	if math.IsNaN(mid) || q.Scale == vary.Log && d.Low == 0 {
		mid = (d.Low + d.High) / 2
	}
	if err := q.Set(&c.Setup, mid); err != nil {
		b.bad(path, fmt.Sprintf("%s to %s", vary.Number(q.Edge(d.Low)), q.Text(d.High)), q.Allowed(), "change the band")
		return
	}
	b.note("value-from-band", "%s was not given; the middle of its band, %s, is taken", q.Key, q.Text(mid))
}

func keysOf(m map[string]bool) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// moved are keys of older case files, by their last part, with what to write now.
var moved = map[string]string{
	"conductance_W_m2K": "it now is contact_W_m2K, the heat transfer from the wall to melt that wets it (10000 if " +
		"not given); the air gap about the unmelted rod, once part of it, comes from the diameters",
	"effusivity_W_s05_m2K": "the wall of the mould is resolved: say wall_material, or wall_W_mK, wall_J_m3K and " +
		"wall_mm",
	"viscosity_level": "it now is viscosity_factor",
	"unmelted_core":   `it now is cold_core, "warn" or "limit"`,
	"trouton_ratio":   "the entrance loss of the material takes its place: entrance_factor scales it",
}

// renamed says of keys that have another name now what it is.
func renamed(ps strict.Problems) {
	for i := range ps {
		p := &ps[i]
		for old, now := range moved {
			if p.Seen == "an unknown key" && (p.Field == old || strings.HasSuffix(p.Field, "."+old)) {
				p.Seen, p.Allowed, p.Advice = "a key of older case files", "", now
			}
		}
	}
}

// pointOrder numbers the points of a file by rising speed, as the feeder keeps them; nil where some were pooled or
// left aside.
func pointOrder(f *feeder.Feeder, in []point, area float64) []int {
	if f == nil || len(f.Points) != len(in) {
		return nil
	}
	speed := func(p point) float64 {
		if p.Speed != nil {
			return *p.Speed * unit.MM
		}
		return *p.Flow * unit.MM3 / area
	}
	out := make([]int, len(in))
	for i := range out {
		out[i] = i + 1
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(speed(in[a-1]), speed(in[b-1])) })
	return out
}

// FileKey is a key of the file for one of package vary, whose sections are counted as they stand in the set-up and
// whose points as they stand in the feeder; false for a section that the file does not have (a step that was put in)
// and for points that were pooled.
func (c *Case) FileKey(key string) (string, bool) {
	for _, x := range []struct {
		head  string
		order []int
	}{{"hot_end.section[", c.sections}, {"feeder.point[", c.points}} {
		rest, ok := strings.CutPrefix(key, x.head)
		if !ok {
			continue
		}
		number, rest, _ := strings.Cut(rest, "]")
		n, err := strconv.Atoi(number)
		if err != nil || n < 1 || n > len(x.order) || x.order[n-1] == 0 {
			return "", false
		}
		return fmt.Sprintf("%s%d]%s", x.head, x.order[n-1], rest), true
	}
	return key, true
}

// Edits turns edits of package vary into the keys and values that Patch takes.
func (c *Case) Edits(edits []vary.Edit) map[string]string {
	has := map[string]bool{}
	for _, x := range c.Inputs {
		has[x.Key] = true
	}
	out := map[string]string{}
	for _, e := range edits {
		if key, ok := c.FileKey(e.Key); ok && (!e.IfPresent || has[key]) {
			out[key] = e.Value
		}
	}
	return out
}
