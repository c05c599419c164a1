package quantity

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
)

// Field is a field of a result as it is written.
type Field struct {
	Index []int
	Type  reflect.Type
	Key   string    // in JSON and CSV
	Is    *Quantity // nil for a field that is no quantity of the table
	Wide  bool      // in files and on pages only, not on a terminal: tag show:"wide"
	Shown bool      // a column of a table: it has a quantity and no tag show:"no"
	Omit  bool      // left out of the JSON where empty: a part of the result that was not asked for
}

// unit is the unit of a field; one without a quantity has that of the struct it stands in (low, best and high of a
// range).
func (f *Field) unit(parent Unit) Unit {
	if f.Is != nil {
		return f.Is.Unit
	}
	return parent
}

// Fields lists the fields of a result type in their order, those of embedded structs among them. It panics on a
// quantity that is not in the table.
func Fields(t reflect.Type) []Field {
	var out []Field
	for i := range t.NumField() {
		f := t.Field(i)
		name, opts, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			for _, x := range Fields(f.Type) {
				x.Index = append([]int{i}, x.Index...)
				out = append(out, x)
			}
			continue
		case !f.IsExported() || name == "-":
			continue
		}
		x := Field{Index: []int{i}, Type: f.Type, Key: name, Omit: strings.Contains(opts, "omitempty")}
		if tag := f.Tag.Get("q"); tag != "" {
			q := Of(tag)
			x.Is, x.Key, x.Shown, x.Wide = &q, q.Key(), f.Tag.Get("show") != "no", f.Tag.Get("show") == "wide"
		}
		if x.Key == "" {
			x.Key = f.Name
		}
		out = append(out, x)
	}
	return out
}

// JSON encodes a result in the units of the bench, unrounded; numbers that are not known or not finite are null.
func JSON(v any) ([]byte, error) {
	var b bytes.Buffer
	if err := encode(&b, reflect.ValueOf(v), Unit{}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func encode(b *bytes.Buffer, v reflect.Value, u Unit) error {
	switch v.Kind() {
	case reflect.Invalid:
		b.WriteString("null")
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			b.WriteString("null")
			return nil
		}
		return encode(b, v.Elem(), u)
	case reflect.Float64:
		x := u.Edge(v.Float())
		if math.IsNaN(x) || math.IsInf(x, 0) {
			b.WriteString("null")
			return nil
		}
		return plain(b, x)
	case reflect.Slice, reflect.Array:
		if v.Kind() == reflect.Slice && v.Type().Elem().Kind() == reflect.Uint8 {
			return plain(b, v.Interface())
		}
		b.WriteByte('[')
		for i := range v.Len() {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := encode(b, v.Index(i), u); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case reflect.Struct:
		b.WriteByte('{')
		first := true
		for _, f := range Fields(v.Type()) {
			x := v.FieldByIndex(f.Index)
			if f.Omit && empty(x) {
				continue
			}
			if !first {
				b.WriteByte(',')
			}
			first = false
			if err := plain(b, f.Key); err != nil {
				return err
			}
			b.WriteByte(':')
			if err := encode(b, x, f.unit(u)); err != nil {
				return fmt.Errorf("%s: %w", f.Key, err)
			}
		}
		b.WriteByte('}')
	default:
		return plain(b, v.Interface())
	}
	return nil
}

// empty is what omitempty leaves out: nothing was asked for.
func empty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.Map:
		return v.Len() == 0
	}
	return v.IsZero()
}

func plain(b *bytes.Buffer, x any) error {
	var one bytes.Buffer
	e := json.NewEncoder(&one)
	e.SetEscapeHTML(false)
	if err := e.Encode(x); err != nil {
		return err
	}
	b.Write(bytes.TrimSuffix(one.Bytes(), []byte("\n")))
	return nil
}

// Decode reads back what JSON wrote into a result of the same type, in SI.
func Decode(text []byte, into any) error {
	var x any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&x); err != nil {
		return err
	}
	return decode(x, reflect.ValueOf(into).Elem(), Unit{})
}

func decode(x any, v reflect.Value, u Unit) error {
	if x == nil {
		return nil
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		return decode(x, v.Elem(), u)
	case reflect.Float64:
		n, ok := x.(json.Number)
		if !ok {
			return fmt.Errorf("found %v where a number belongs", x)
		}
		f, err := n.Float64()
		v.SetFloat(u.SI(f))
		return err
	case reflect.Slice, reflect.Array:
		list, ok := x.([]any)
		if !ok {
			return fmt.Errorf("found %v where a list belongs", x)
		}
		if v.Kind() == reflect.Slice {
			v.Set(reflect.MakeSlice(v.Type(), len(list), len(list)))
		}
		for i := range min(len(list), v.Len()) {
			if err := decode(list[i], v.Index(i), u); err != nil {
				return err
			}
		}
		return nil
	case reflect.Struct:
		m, ok := x.(map[string]any)
		if !ok {
			return fmt.Errorf("found %v where an object belongs", x)
		}
		for _, f := range Fields(v.Type()) {
			u := f.unit(u)
			if err := decode(m[f.Key], v.FieldByIndex(f.Index), u); err != nil {
				return fmt.Errorf("%s: %w", f.Key, err)
			}
		}
		return nil
	}
	text, err := json.Marshal(x)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, v.Addr().Interface())
}
