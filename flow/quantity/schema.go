package quantity

import "reflect"

// Schema describes the JSON of a result type as a JSON Schema (draft 2020-12): every key, its type, its meaning and its
// unit. Numbers that may be unknown are "number or null"; all keys are there but those of parts that were not asked
// for.
func Schema(title string, result any) map[string]any {
	s := describe(reflect.TypeOf(result), nil)
	s["$schema"], s["title"] = "https://json-schema.org/draft/2020-12/schema", title
	return s
}

// describe is the schema of a type; q is the quantity it carries, nil for none.
func describe(t reflect.Type, q *Quantity) map[string]any {
	switch t.Kind() {
	case reflect.Pointer:
		s := describe(t.Elem(), q)
		if one, ok := s["type"].(string); ok {
			s["type"] = []string{one, "null"}
		}
		return s
	case reflect.Float64:
		return meaning(map[string]any{"type": "number"}, q)
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return meaning(map[string]any{"type": "integer"}, q)
	case reflect.String:
		return meaning(map[string]any{"type": "string"}, q)
	case reflect.Bool:
		return meaning(map[string]any{"type": "boolean"}, q)
	case reflect.Slice:
		return map[string]any{"type": []string{"array", "null"}, "items": describe(t.Elem(), q)}
	case reflect.Array:
		return map[string]any{"type": "array", "items": describe(t.Elem(), q), "minItems": t.Len(), "maxItems": t.Len()}
	case reflect.Map:
		return map[string]any{"type": []string{"object", "null"}, "additionalProperties": describe(t.Elem(), nil)}
	case reflect.Struct:
		properties, required := map[string]any{}, []string{}
		for _, f := range Fields(t) {
			is := f.Is
			if is == nil {
				is = q // low, best and high of a range
			}
			properties[f.Key] = describe(f.Type, is)
			if !f.Omit {
				required = append(required, f.Key)
			}
		}
		return map[string]any{"type": "object", "properties": properties, "required": required,
			"additionalProperties": false}
	}
	return map[string]any{} // anything
}

func meaning(s map[string]any, q *Quantity) map[string]any {
	if q != nil {
		text := q.Label
		if q.Unit.Key != "" {
			text += ", " + q.Unit.Text
		} else if q.Unit.Times != 0 {
			text += ", a share from 0 to 1"
		}
		s["description"] = text
	}
	return s
}
