package report

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// RecordsOf returns the CSV of rows whose JSON keys are the columns: what a row
// holds is declared once. A struct within a row gives each of its fields a
// column with its own name before it (interval_lower), one that is embedded its own
// columns as they are, as in JSON; a pointer to one that is nil leaves them empty.
//
// A csv:"name" gives a column another name than the JSON key, or one to a field that
// JSON has elsewhere; csv:"." gives a field the name of the struct it is in; csv:"-"
// keeps a field for JSON alone. A column that no row fills is left out where JSON
// leaves the key out (omitempty).
func RecordsOf[T any](rows []T) *Records {
	r := &Records{}
	columns := columnsOf(reflect.TypeFor[T](), "")
	for _, row := range rows {
		r.rows = append(r.rows, cellsOf(nil, reflect.ValueOf(row)))
	}
	left := make([]bool, len(columns))
	for j, c := range columns {
		left[j] = c.omitEmpty && !slices.ContainsFunc(r.rows, func(row []any) bool { return filled(row[j]) })
		if !left[j] {
			r.keys = append(r.keys, c.key)
		}
	}
	for i, row := range r.rows {
		var kept []any
		for j, v := range row {
			if !left[j] {
				kept = append(kept, v)
			}
		}
		r.rows[i] = kept
	}
	return r
}

func filled(v any) bool { return v != nil && !reflect.ValueOf(v).IsZero() }

// AddOnly adds a row of which only the named cells are known.
func (r *Records) AddOnly(cells map[string]any) {
	row := make([]any, len(r.keys))
	for key, v := range cells {
		i := slices.Index(r.keys, key)
		if i < 0 {
			r.fault = fmt.Errorf("report: csv has no column %s", key)
			return
		}
		row[i] = v
	}
	r.rows = append(r.rows, row)
}

type column struct {
	key       string
	omitEmpty bool
}

func columnsOf(t reflect.Type, before string) (columns []column) {
	for f := range t.Fields() {
		key, shown := keyOf(f)
		if !shown {
			continue
		}
		if inner, ok := structOf(f.Type); ok {
			within := before + key + "_"
			if key == "" {
				within = before
			}
			columns = append(columns, columnsOf(inner, within)...)
			continue
		}
		if key == "." {
			key = ""
			before = strings.TrimSuffix(before, "_")
		}
		columns = append(columns, column{before + key, strings.Contains(f.Tag.Get("json"), ",omitempty")})
		if key == "" {
			before += "_"
		}
	}
	return columns
}

func cellsOf(cells []any, row reflect.Value) []any {
	for f, v := range row.Fields() {
		if _, shown := keyOf(f); !shown {
			continue
		}
		inner, ok := structOf(f.Type)
		switch {
		case !ok:
			cells = append(cells, v.Interface())
		case v.Kind() == reflect.Pointer && v.IsNil():
			cells = append(cells, make([]any, len(columnsOf(inner, "")))...)
		default:
			cells = cellsOf(cells, reflect.Indirect(v))
		}
	}
	return cells
}

// keyOf returns the column of a field.
func keyOf(f reflect.StructField) (key string, shown bool) {
	own := f.Tag.Get("csv")
	if own == "" {
		own, _, _ = strings.Cut(f.Tag.Get("json"), ",")
	}
	if f.Anonymous && own == "" && f.Type.Kind() == reflect.Struct {
		return "", true
	}
	return own, f.IsExported() && own != "" && own != "-"
}

func structOf(t reflect.Type) (reflect.Type, bool) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t, t.Kind() == reflect.Struct
}
