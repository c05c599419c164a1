package materials

import (
	"fmt"
	"reflect"
	"strings"
)

// origins walks a record and lists every value that carries a trust and a source.
func origins(r *record) []Origin {
	var out []Origin
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(path, v.Elem())
			}
		case reflect.Slice:
			if v.Type().Elem().Kind() == reflect.Struct {
				for i := range v.Len() {
					walk(fmt.Sprintf("%s[%d]", path, i+1), v.Index(i))
				}
			}
		case reflect.Struct:
			if t := v.FieldByName("Trust"); t.IsValid() {
				o := Origin{Key: path, Trust: Trust(t.String()), Source: v.FieldByName("Source").String(),
					Note: v.FieldByName("Note").String()}
				if x := v.FieldByName("Value"); x.IsValid() {
					o.Value = fmt.Sprint(x.Interface())
				} else {
					o.Value = summary(v.FieldByName("Points").Interface().([][]float64))
				}
				out = append(out, o)
			}
			for i := range v.NumField() {
				if k := v.Type().Field(i).Tag.Get("toml"); k != "" {
					walk(strings.TrimPrefix(path+"."+k, "."), v.Field(i))
				}
			}
		}
	}
	walk("", reflect.ValueOf(*r))
	return out
}

func summary(p [][]float64) string {
	if len(p) == 0 {
		return "no points"
	}
	a, b := p[0], p[len(p)-1]
	if len(a) != 2 || len(b) != 2 { // build refuses it
		return fmt.Sprintf("%d points", len(p))
	}
	return fmt.Sprintf("%g at %g degC to %g at %g degC, %d points", a[1], a[0], b[1], b[0], len(p))
}
