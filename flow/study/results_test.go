package study

import (
	"reflect"
	"testing"

	"meltload/flow/quantity"
)

// Every number of every result has a quantity of the table, so that it has a name with its unit everywhere: a float
// field without one would be written in SI under a bare name.
func TestEveryNumberHasAQuantity(t *testing.T) {
	numbers := 0
	var walk func(path string, of reflect.Type, has bool)
	walk = func(path string, of reflect.Type, has bool) {
		switch of.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
			walk(path, of.Elem(), has)
		case reflect.Struct:
			for _, f := range quantity.Fields(of) {
				walk(path+"."+f.Key, f.Type, has || f.Is != nil)
			}
		case reflect.Float64, reflect.Float32:
			numbers++
			if !has {
				t.Errorf("%s is a number without a quantity", path)
			}
		}
	}
	for _, k := range Kinds() {
		walk(k.Command, reflect.TypeOf(k.Of), false)
	}
	if numbers < 200 {
		t.Errorf("only %d numbers found", numbers)
	}
}
