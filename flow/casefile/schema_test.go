package casefile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"meltload/materials/checks"
	"meltload/materials/strict"
)

// compiled is the schema as an editor has it.
func compiled(t testing.TB) *jsonschema.Schema {
	t.Helper()
	text, err := json.Marshal(Schema())
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("case.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("case.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON is a TOML text as an editor hands it over: inf as null.
func asJSON(t testing.TB, src []byte) any {
	t.Helper()
	var tree map[string]any
	if err := toml.Unmarshal(src, &tree); err != nil {
		t.Fatal(err)
	}
	var plain func(x any) any
	plain = func(x any) any {
		switch v := x.(type) {
		case map[string]any:
			for k := range v {
				v[k] = plain(v[k])
			}
		case []any:
			for i := range v {
				v[i] = plain(v[i])
			}
		case float64:
			if math.IsInf(v, 0) || math.IsNaN(v) {
				return nil
			}
			return json.Number(strconv.FormatFloat(v, 'g', -1, 64))
		case int64:
			return json.Number(strconv.FormatInt(v, 10))
		}
		return x
	}
	return plain(tree)
}

// Every case that comes with the project keeps to the schema.
func TestCasesKeepToTheSchema(t *testing.T) {
	s := compiled(t)
	texts := map[string][]byte{BuiltInName: BuiltIn,
		"a feeder": []byte("[feeder]\n[[feeder.point]]\nspeed_mm_s = 3\nforce_N = 60\n"),
		"a hot end": []byte("[hot_end]\ncontact_W_m2K = inf\n[[hot_end.section]]\nshape = \"tube\"\ndiameter_mm = " +
			"2\nlength_mm = 20\n"),
		"two files": []byte("feeder_file = \"a.toml\"\nhot_end_file = \"b.toml\"\n[filament]\nmaterial = \"pla\"\n" +
			"diameter_mm = 1.75\n[hot_end]\nblock_degC = 215\n"),
		"no wanted flow": []byte(strings.Replace(string(BuiltIn), "flow_mm3_s = 10 ", "flow_mm3_s = 0 ", 1))}
	files, _ := filepath.Glob(checks.Root("testdata", "golden", "*.toml"))
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		texts[filepath.Base(f)] = b
	}
	for name, text := range texts {
		if err := s.Validate(asJSON(t, text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if len(texts) < 6 {
		t.Errorf("only %d cases", len(texts))
	}
	if s.Validate(asJSON(t, []byte("[filament]\nmaterial = \"pla\"\ndiameter_mm = 1.75\n"))) == nil {
		t.Error("a file with neither feeder nor hot end passes")
	}
}

// member is one key of the table of keys, with its tag.
type member struct {
	path []string // [] marks a member of an array of tables
	t    reflect.Type
	tag  reflect.StructTag
}

// members walks the struct that the strict reader fills.
func members(t reflect.Type, at []string) (out []member) {
	for i := range t.NumField() {
		f := t.Field(i)
		key := f.Tag.Get("toml")
		if key == "" {
			continue
		}
		p := append(append([]string(nil), at...), key)
		ft := f.Type
		if ft.Kind() == reflect.Pointer {
			ft = ft.Elem()
		}
		switch {
		case ft.Kind() == reflect.Struct:
			out = append(out, members(ft, p)...)
		case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
			out = append(out, members(ft.Elem(), append(p, "[]"))...)
		default:
			out = append(out, member{p, ft, f.Tag})
		}
	}
	return out
}

// text writes a file that has nothing but this key, with a value as TOML.
func (m member) text(value string) string {
	table, key := m.path[:len(m.path)-1], m.path[len(m.path)-1]
	if len(table) == 0 {
		return key + " = " + value + "\n"
	}
	head := strings.ReplaceAll(strings.Join(table, "."), ".[]", "")
	if table[len(table)-1] == "[]" {
		return "[[" + head + "]]\n" + key + " = " + value + "\n"
	}
	return "[" + head + "]\n" + key + " = " + value + "\n"
}

// ofSchema says whether the schema finds something wrong with the value of the key, and not only that others are
// missing.
func ofSchema(t testing.TB, s *jsonschema.Schema, text string) bool {
	err := s.Validate(asJSON(t, []byte(text)))
	if err == nil {
		return false
	}
	wrong := false
	var walk func(e *jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		if len(e.Causes) == 0 && !strings.Contains(fmt.Sprintf("%T", e.ErrorKind), "Required") {
			wrong = true
		}
		for _, c := range e.Causes {
			walk(c)
		}
	}
	walk(err.(*jsonschema.ValidationError))
	return wrong
}

// ofReader says the same of the strict reader.
func ofReader(text string) bool {
	d := defaults()
	_, ps := strict.Decode("x.toml", []byte(text), &d)
	for _, p := range ps {
		if p.Seen != "nothing" {
			return true
		}
	}
	return false
}

// Schema and strict reader agree on every key: on values at their bounds and just outside, on 0, inf, other types,
// words and lengths; and both refuse a key that is none, in every table.
func TestSchemaAndReaderAgree(t *testing.T) {
	s := compiled(t)
	all := members(reflect.TypeFor[file](), nil)
	if len(all) < 120 || len(all) != len(Keys()) {
		t.Fatalf("%d keys, the list has %d", len(all), len(Keys()))
	}
	tables := map[string]bool{}
	compared, refused := 0, 0
	for _, m := range all {
		values := []string{`"a word"`, "true", "{ a = 1 }", "[]", "[\"a\"]"}
		if m.t.Kind() != reflect.Slice && m.t.Kind() != reflect.Bool {
			values = append(values, "[1, 2]")
		}
		for _, w := range strings.Fields(m.tag.Get("enum")) {
			values = append(values, fmt.Sprintf("%q", w), fmt.Sprintf("%q", w+"s"))
		}
		for _, x := range around(m.tag) {
			n := strconv.FormatFloat(x, 'f', -1, 64)
			if m.t.Kind() == reflect.Float64 || m.t.Kind() == reflect.Slice {
				n = strconv.FormatFloat(x, 'f', 12, 64)
			} else if x != math.Trunc(x) {
				continue
			}
			switch m.t.Kind() {
			case reflect.Slice:
				if m.t.Elem().Kind() == reflect.Slice {
					n = "[" + n + ", " + n + "]"
				}
				values = append(values, "["+n+"]", "["+n+", "+n+"]", "["+n+", "+n+", "+n+"]")
			default:
				values = append(values, n)
			}
		}
		if m.t.Kind() == reflect.Float64 && m.tag.Get("inf") != "" {
			values = append(values, "inf")
		}
		for _, v := range values {
			text := m.text(v)
			bad := ofReader(text)
			if strings.Join(m.path, ".") == "filament.material" && v == `"a word"` {
				bad = true // its names are looked up later, and listed in the schema
			}
			if got := ofSchema(t, s, text); got != bad {
				t.Errorf("%s: reader refuses %v, schema %v", strings.ReplaceAll(text, "\n", " "), bad, got)
			}
			compared++
			if bad {
				refused++
			}
		}
		none := member{path: append(append([]string(nil), m.path[:len(m.path)-1]...), "no_such_key"), tag: m.tag}
		if text := none.text("1"); !tables[text] {
			tables[text] = true
			if !ofReader(text) || !ofSchema(t, s, text) {
				t.Errorf("%q is taken", text)
			}
		}
	}
	t.Logf("%d values of %d keys compared, %d refused by both; %d tables", compared, len(all), refused, len(tables))
	if refused < 500 || compared-refused < 300 {
		t.Errorf("%d of %d values refused: the comparison is one-sided", refused, compared)
	}
}

// around are numbers at the bounds of a tag and just beside them, and 0.
func around(tag reflect.StructTag) []float64 {
	out := []float64{0, 1, -1}
	for _, k := range []string{"min", "above", "max"} {
		if b := tag.Get(k); b != "" {
			x, err := strconv.ParseFloat(b, 64)
			if err != nil {
				panic(err)
			}
			d := math.Max(1e-6*math.Abs(x), 1e-6)
			out = append(out, x, x-d, x+d, x-1, x+1)
		}
	}
	return out
}

// A number that its key allows, at either end, is not refused in SI later on: what a change of units rounds is no
// fault.
func TestEndsOfAllowedNumbersAreTaken(t *testing.T) {
	tried := 0
	for _, m := range members(reflect.TypeFor[file](), nil) {
		key := strings.ReplaceAll(strings.Join(m.path, "."), ".[]", "[1]")
		for _, end := range []string{"min", "max"} {
			x := m.tag.Get(end)
			if x == "" {
				continue
			}
			tried++
			_, _, err := Patch("x.toml", BuiltIn, map[string]string{key: x}, "")
			var ps strict.Problems
			if !errors.As(err, &ps) {
				continue
			}
			for _, p := range ps { // fields of Go begin with a capital
				if p.Field != "" && p.Field[0] >= 'A' && p.Field[0] <= 'Z' {
					t.Errorf("%s = %s: %s", key, x, p)
				}
			}
		}
	}
	if tried < 100 {
		t.Errorf("%d numbers tried", tried)
	}
}
