package casefile

import (
	"fmt"
	"reflect"
	"strings"

	"meltload/materials/strict"
)

// inputs lists every value of the case with its unit, and whether it is assumed: a default, or marked so in the file.
func inputs(f *file, doc *strict.Doc) []Input {
	var out []Input
	var walk func(path string, v reflect.Value, unit string)
	walk = func(path string, v reflect.Value, unit string) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(path, v.Elem(), unit)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				t := v.Type().Field(i)
				if k := t.Tag.Get("toml"); k != "" {
					walk(strings.TrimPrefix(path+"."+k, "."), v.Field(i), t.Tag.Get("unit"))
				}
			}
		case reflect.Slice:
			if v.Len() == 0 {
				return
			}
			if v.Type().Elem().Kind() == reflect.Struct {
				for i := range v.Len() {
					walk(fmt.Sprintf("%s[%d]", path, i+1), v.Index(i), unit)
				}
				return
			}
			out = append(out, Input{path, text(v), unit, !doc.Has(path) || doc.Assumed(path)})
		default:
			given := doc.Has(path)
			if v.IsZero() && !given {
				return
			}
			out = append(out, Input{path, text(v), unit, !given || doc.Assumed(path)})
		}
	}
	walk("", reflect.ValueOf(*f), "")
	return out
}

// text shows a value as a case file writes it: inf for infinity, a band as low to high.
func text(v reflect.Value) string {
	s := strings.ReplaceAll(strings.Trim(fmt.Sprint(v.Interface()), "[]"), "+Inf", "inf")
	if v.Kind() == reflect.Slice && v.Len() == 2 && v.Type().Elem().Kind() == reflect.Float64 {
		s = strings.Replace(s, " ", " to ", 1)
	}
	return s
}

// Key describes one key of the case file, for help and docs.
type Key struct {
	Path, Kind, Allowed, Default, Doc string
	Need                              bool
	Low, High                         float64 // bounds of a number, infinite for none
}

// Keys lists every key of the case file.
func Keys() []Key {
	d := defaults()
	var out []Key
	var walk func(path string, t reflect.Type, v reflect.Value)
	walk = func(path string, t reflect.Type, v reflect.Value) {
		for i := range t.NumField() {
			f := t.Field(i)
			k := f.Tag.Get("toml")
			if k == "" {
				continue
			}
			p := strings.TrimPrefix(path+"."+k, ".")
			ft := f.Type
			var fv reflect.Value
			if v.IsValid() {
				fv = v.Field(i)
			}
			if ft.Kind() == reflect.Pointer {
				ft = ft.Elem()
				fv = reflect.Value{}
			}
			switch {
			case ft.Kind() == reflect.Struct:
				walk(p, ft, fv)
			case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
				walk(p+"[]", ft.Elem(), reflect.Value{})
			default:
				key := Key{Path: p, Kind: ft.Kind().String(), Doc: f.Tag.Get("doc"), Need: f.Tag.Get("need") == "yes"}
				key.Low, key.High = strict.Bounds(f.Tag)
				if ft.Kind() == reflect.Float64 || ft.Kind() == reflect.Int || ft.Kind() == reflect.Slice ||
					f.Tag.Get("enum") != "" {
					key.Allowed = strict.Allowed(f.Tag)
				}
				if fv.IsValid() && !fv.IsZero() {
					key.Default = fmt.Sprint(fv.Interface())
				}
				out = append(out, key)
			}
		}
	}
	walk("", reflect.TypeOf(d), reflect.ValueOf(d))
	return out
}
