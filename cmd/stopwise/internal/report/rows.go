package report

import (
	"reflect"
	"strings"
)

// RecordsOf returns the CSV of rows whose JSON keys are the columns: what a row
// holds is declared once. A struct within a row gives each of its fields a
// column with its own name before it (interval_lower), one that is embedded its own
// columns as they are, as in JSON; a pointer to one that is nil leaves them empty. A csv:"-" keeps a field for JSON alone.
func RecordsOf[T any](rows []T) *Records {
	r := NewRecords(keysOf(reflect.TypeFor[T](), "")...)
	for _, row := range rows {
		r.Add(cellsOf(nil, reflect.ValueOf(row))...)
	}
	return r
}

func keysOf(t reflect.Type, before string) (keys []string) {
	for f := range t.Fields() {
		key, shown := columnOf(f)
		if !shown {
			continue
		}
		if inner, ok := structOf(f.Type); ok {
			within := before + key + "_"
			if key == "" {
				within = before
			}
			keys = append(keys, keysOf(inner, within)...)
			continue
		}
		keys = append(keys, before+key)
	}
	return keys
}

func cellsOf(cells []any, row reflect.Value) []any {
	for f, v := range row.Fields() {
		if _, shown := columnOf(f); !shown {
			continue
		}
		inner, ok := structOf(f.Type)
		switch {
		case !ok:
			cells = append(cells, v.Interface())
		case v.Kind() == reflect.Pointer && v.IsNil():
			cells = append(cells, make([]any, len(keysOf(inner, "")))...)
		default:
			cells = cellsOf(cells, reflect.Indirect(v))
		}
	}
	return cells
}

func columnOf(f reflect.StructField) (key string, shown bool) {
	key, _, _ = strings.Cut(f.Tag.Get("json"), ",")
	if f.Anonymous && key == "" && f.Type.Kind() == reflect.Struct {
		return "", f.Tag.Get("csv") != "-"
	}
	return key, f.IsExported() && key != "" && key != "-" && f.Tag.Get("csv") != "-"
}

func structOf(t reflect.Type) (reflect.Type, bool) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t, t.Kind() == reflect.Struct
}
