package strict

import (
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// Schema describes what Decode takes into a tagged struct, as a JSON Schema (draft 7, which editors of TOML read for
// completion): every key with its type, bounds, allowed words, default and meaning, and no other. dst is a pointer to
// the struct with its defaults, as for Decode. lent are the paths of keys that are needed and may yet come from
// elsewhere, such as another file: they, and what is needed under them outside of arrays of tables, are not required.
// Checks between keys are not in it.
func Schema(title string, dst any, lent ...string) map[string]any {
	d := describer{lent: lent}
	s := d.table("", reflect.TypeOf(dst).Elem(), reflect.ValueOf(dst).Elem(), false)
	s["$schema"], s["title"] = "http://json-schema.org/draft-07/schema#", title
	return s
}

type describer struct{ lent []string }

// may tells whether a key may come from elsewhere.
func (d describer) may(path string) bool {
	return slices.ContainsFunc(d.lent, func(l string) bool { return path == l || strings.HasPrefix(path, l+".") })
}

// table describes a struct; member says that it stands in an array of tables, whose members are always whole.
func (d describer) table(path string, t reflect.Type, v reflect.Value, member bool) map[string]any {
	properties, required := map[string]any{}, []string{}
	for _, f := range fields(t) {
		p := join(path, f.key)
		var x reflect.Value
		if v.IsValid() {
			x = v.FieldByIndex(f.Index)
		}
		properties[f.key] = d.value(p, f.Type, x, f.Tag, member)
		if f.Tag.Get("need") == "yes" && (member || !d.may(p)) {
			required = append(required, f.key)
		}
	}
	s := map[string]any{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		s["required"] = required
	}
	return s
}

// value describes one key; x is its default, invalid for none.
func (d describer) value(path string, t reflect.Type, x reflect.Value, tag reflect.StructTag,
	member bool) map[string]any {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
		if x.IsValid() && !x.IsNil() {
			x = x.Elem()
		} else {
			x = reflect.Value{}
		}
	}
	var s map[string]any
	switch t.Kind() {
	case reflect.Struct:
		s = d.table(path, t, x, member)
	case reflect.Map:
		s = map[string]any{"type": "object", "additionalProperties": map[string]any{"type": "string"}}
	case reflect.Slice, reflect.Array:
		s = d.list(path, t, tag)
	case reflect.String:
		s = map[string]any{"type": "string"}
		if e := tag.Get("enum"); e != "" {
			s["enum"] = strings.Fields(e)
		}
	case reflect.Bool:
		s = map[string]any{"type": "boolean"}
	case reflect.Int:
		s = numeric("integer", tag)
	case reflect.Float64:
		s = numeric("number", tag)
	default:
		s = map[string]any{}
	}
	text := tag.Get("doc")
	if u := tag.Get("unit"); u != "" {
		text = strings.TrimPrefix(text+"; unit: "+u, "; ")
	}
	if text != "" {
		s["description"] = text
	}
	if plain(x) {
		s["default"] = x.Interface()
	}
	return s
}

// list describes an array. Of tables, the members are whole.
func (d describer) list(path string, t reflect.Type, tag reflect.StructTag) map[string]any {
	s := map[string]any{"type": "array"}
	n := 0
	if t.Kind() == reflect.Array {
		n = t.Len()
	}
	if l := tag.Get("len"); l != "" {
		n, _ = strconv.Atoi(l)
	}
	if n > 0 {
		s["minItems"], s["maxItems"] = n, n
	}
	switch e := t.Elem(); e.Kind() {
	case reflect.Struct:
		s["items"] = d.table(path, e, reflect.Value{}, true)
	case reflect.Slice, reflect.Array:
		s["items"] = d.list(path, e, tag)
	case reflect.Float64:
		s["items"] = numeric("number", tag)
	case reflect.Int:
		s["items"] = numeric("integer", tag)
	default:
		s["items"] = map[string]any{"type": "string"}
	}
	return s
}

// numeric describes a number with the bounds of its tag.
func numeric(kind string, tag reflect.StructTag) map[string]any {
	s := map[string]any{"type": kind}
	for key, word := range map[string]string{"min": "minimum", "above": "exclusiveMinimum", "max": "maximum"} {
		if b := tag.Get(key); b != "" {
			s[word] = parse(b)
		}
	}
	var also []any
	if tag.Get("zero") != "" {
		also = append(also, map[string]any{"const": 0})
	}
	if tag.Get("inf") != "" { // JSON has no infinity
		also = append(also, map[string]any{"type": "null", "$comment": "inf, where an editor hands it over as null"})
	}
	if also == nil {
		return s
	}
	return map[string]any{"anyOf": append([]any{s}, also...)}
}

// plain tells whether a default can stand in a schema: a number, text or list of them that is given and finite.
func plain(x reflect.Value) bool {
	if !x.IsValid() || x.IsZero() {
		return false
	}
	switch x.Kind() {
	case reflect.Float64:
		return !math.IsInf(x.Float(), 0) && !math.IsNaN(x.Float())
	case reflect.String, reflect.Int, reflect.Bool:
		return true
	case reflect.Slice:
		for i := range x.Len() {
			if !plain(x.Index(i)) {
				return false
			}
		}
		return x.Type().Elem().Kind() != reflect.Struct
	}
	return false
}
