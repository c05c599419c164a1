package casefile

import (
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"meltload/materials/strict"
)

var partKey = regexp.MustCompile(`^\s*(feeder_file|hot_end_file)\s*=`)

// names tells whether a text names a file of a feeder or a hot end.
func names(src []byte) bool {
	for _, l := range strings.Split(string(src), "\n") {
		if partKey.MatchString(l) {
			return true
		}
	}
	return false
}

// Inline returns the text of a case with what its feeder_file and hot_end_file hold in their place; remarks in the
// tables of those are lost. A text that names none comes back as it is. Errors: a text that is no case.
func Inline(file string, src []byte) ([]byte, error) {
	p := parsePart(file, src)
	if len(p.all) > 0 {
		return nil, p.all
	}
	if len(p.ref) == 0 {
		return src, nil
	}
	var text []byte
	for _, l := range strings.SplitAfter(string(src), "\n") {
		if !partKey.MatchString(l) {
			text = append(text, l...)
		}
	}
	for _, x := range []struct {
		table string
		named bool
		v     any
	}{{hotEndTable, p.f.HotEndFile != "", p.f.HotEnd}, {feederTable, p.f.FeederFile != "", p.f.Feeder}} {
		if !x.named {
			continue
		}
		_, rest, _ := split(text, x.table)
		var b strings.Builder
		write(&b, p.doc, x.table, reflect.ValueOf(x.v))
		text = []byte(strings.TrimRight(strings.Join(rest, "\n"), "\n") + "\n" + b.String())
	}
	return text, nil
}

// write writes the table at a path as TOML, with the keys that the document gives.
func write(b *strings.Builder, doc *strict.Doc, path string, v reflect.Value) {
	head := "[" + regexp.MustCompile(`\[\d+\]`).ReplaceAllString(path, "") + "]"
	if strings.HasSuffix(path, "]") {
		head = "[" + head + "]"
	}
	fmt.Fprintf(b, "\n%s\n", head)
	var tables []func()
	for i := range v.NumField() {
		key := v.Type().Field(i).Tag.Get("toml")
		if key == "" {
			continue
		}
		p, x := path+"."+key, v.Field(i)
		if x.Kind() == reflect.Pointer {
			if x.IsNil() {
				continue
			}
			x = x.Elem()
		}
		switch {
		case x.Kind() == reflect.Struct:
			tables = append(tables, func() { write(b, doc, p, x) })
		case x.Kind() == reflect.Slice && x.Type().Elem().Kind() == reflect.Struct:
			for k := range x.Len() {
				tables = append(tables, func() { write(b, doc, fmt.Sprintf("%s[%d]", p, k+1), x.Index(k)) })
			}
		case doc.Has(p):
			fmt.Fprintf(b, "%s = %s\n", key, literal(x))
		case key == "speed_mm_s" && !x.IsZero(): // a flow of other filament, as a speed
			fmt.Fprintf(b, "%s = %s\n", key, literal(x))
		}
	}
	for _, f := range tables {
		f()
	}
}

// literal writes a value as TOML.
func literal(x reflect.Value) string {
	switch x.Kind() {
	case reflect.String:
		return quote(x.String())
	case reflect.Float64:
		s := strconv.FormatFloat(x.Float(), 'g', -1, 64)
		return strings.TrimPrefix(strings.ToLower(s), "+")
	case reflect.Slice:
		var out []string
		for i := range x.Len() {
			out = append(out, literal(x.Index(i)))
		}
		return "[" + strings.Join(out, ", ") + "]"
	}
	return fmt.Sprint(x.Interface())
}

// quote writes a text as TOML, on one line and without what does not print.
func quote(s string) string {
	return strconv.Quote(strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(s, " ")))
}
