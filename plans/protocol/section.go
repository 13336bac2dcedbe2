package protocol

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A section is one table of the document, read key by key.
type section struct {
	r      *reader
	path   string
	values map[string]any
	used   map[string]bool
}

func (r *reader) section(path string, values map[string]any) *section {
	return &section{r, path, values, map[string]bool{}}
}

func (s *section) at(key string) string {
	if s.path == "" {
		return key
	}
	return s.path + "." + key
}

// has reports whether a key is there, and notes that it may be.
func (s *section) has(key string) bool {
	s.used[key] = true
	_, ok := s.values[key]
	return ok
}

func (s *section) get(key string) (any, bool) {
	s.used[key] = true
	v, ok := s.values[key]
	return v, ok
}

func (s *section) wrong(key, accepted string) {
	s.r.fail(s.at(key), "%s: %s is not accepted; write %s", key, shown(s.values[key]), accepted)
}

// names are words of a type as texts.
func names[T ~string](words []T) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return out
}

// shown writes a value as it stands in a protocol.
func shown(v any) string {
	switch x := v.(type) {
	case string:
		return strconv.Quote(x)
	case []any:
		parts := make([]string, len(x))
		for i := range x {
			parts[i] = shown(x[i])
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case map[string]any:
		return "a section"
	}
	return fmt.Sprint(v)
}

func (s *section) missing(key, example string) {
	if !s.has(key) {
		s.r.fail(s.path, "%s is missing; write %s", key, example)
	}
}

// table returns a table of the document, empty where it is left out.
func (s *section) table(key string) *section {
	if t := s.optional(key); t != nil {
		return t
	}
	return s.r.section(s.at(key), nil)
}

func (s *section) optional(key string) *section {
	v, ok := s.get(key)
	if !ok {
		return nil
	}
	m, ok := v.(map[string]any)
	if !ok {
		s.r.fail(s.at(key), "%s must be a section: write [%s] on a line of its own", key, s.at(key))
		return nil
	}
	return s.r.section(s.at(key), m)
}

func (s *section) tables(key string) []*section {
	v, ok := s.get(key)
	if !ok {
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		s.r.fail(key, "%s must be a list of sections: write [[%s]] on a line of its own", key, key)
		return nil
	}
	var out []*section
	for i, x := range list {
		m, ok := x.(map[string]any)
		if !ok {
			s.r.fail(key, "%s must be a list of sections: write [[%s]] on a line of its own", key, key)
			return nil
		}
		out = append(out, s.r.section(fmt.Sprintf("%s.%d", key, i), m))
	}
	return out
}

func (s *section) text(key string) string {
	v, ok := s.get(key)
	if !ok {
		return ""
	}
	t, ok := v.(string)
	if !ok {
		s.wrong(key, fmt.Sprintf(`text in quotes: %s = "..."`, key))
	}
	return strings.TrimSpace(t)
}

func (s *section) share(key string) float64 {
	v, ok := s.get(key)
	s.missing(key, fmt.Sprintf(`%s = "10%%" or %s = 0.10`, key, key))
	if !ok {
		return 0
	}
	text := fmt.Sprint(v)
	switch v.(type) {
	case string, int64, float64:
	default:
		s.wrong(key, fmt.Sprintf(`%s = "25%%" or %s = 0.25`, key, key))
		return 0
	}
	p, err := ParseShare(text)
	if err != nil {
		s.r.fail(s.at(key), "%s: %v", key, err)
	}
	return p
}

func (s *section) whole(key string, fallback int) int {
	if !s.has(key) {
		s.r.tookDefault(s.at(key), fallback)
		return fallback
	}
	return s.wholeOr(key, fallback)
}

func (s *section) wholeOr(key string, fallback int) int {
	v, ok := s.get(key)
	if !ok {
		return fallback
	}
	n, ok := v.(int64)
	switch {
	case !ok:
		s.wrong(key, "a whole number, without quotes")
	case n != int64(int32(n)):
		s.wrong(key, fmt.Sprintf("a whole number up to %d", math.MaxInt32))
	default:
		return int(n)
	}
	return fallback
}

func (s *section) required(key string) float64 {
	s.missing(key, fmt.Sprintf("a number, such as %s = 40", key))
	if !s.has(key) {
		return 0
	}
	return s.numberOf(key)
}

func (s *section) numberOf(key string) float64 {
	v, _ := s.get(key)
	x, ok := toNumber(v)
	if !ok {
		s.wrong(key, "a number, with a point for decimals and without quotes")
	}
	return x
}

func toNumber(v any) (float64, bool) {
	switch x := v.(type) {
	case int64:
		return float64(x), true
	case float64:
		return x, !math.IsNaN(x) && !math.IsInf(x, 0)
	}
	return 0, false
}

func (s *section) valueRange(key string) *Range {
	v, ok := s.get(key)
	if !ok {
		return nil
	}
	if x, ok := toNumber(v); ok {
		return &Range{x, x}
	}
	t, ok := v.(string)
	if !ok {
		s.wrong(key, fmt.Sprintf(`%s = 0.1 or %s = "0.05..0.15"`, key, key))
		return nil
	}
	r, err := ParseRange(t)
	if err != nil {
		s.r.fail(s.at(key), "%s: %v", key, err)
		return nil
	}
	return &r
}

// pair reads the two constants of a variance law.
func (s *section) pair(key string) *struct{ A, B float64 } { return s.two(key, "[3.2, 1.5]") }

// prior reads the two parameters of a beta distribution.
func (s *section) prior(key string) *BetaPrior { return (*BetaPrior)(s.two(key, "[1, 5]")) }

// two reads a list of two numbers; nil where there is none.
func (s *section) two(key, example string) *struct{ A, B float64 } {
	v, ok := s.get(key)
	if !ok {
		return nil
	}
	if list, ok := v.([]any); ok && len(list) == 2 {
		a, okA := toNumber(list[0])
		b, okB := toNumber(list[1])
		if okA && okB {
			return &struct{ A, B float64 }{a, b}
		}
	}
	s.wrong(key, fmt.Sprintf("%s = [a, b], for example %s = %s", key, key, example))
	return nil
}

// finish reports the keys that nothing asked for.
func (s *section) finish() {
	known := slices.Sorted(maps.Keys(s.used))
	for _, key := range slices.Sorted(maps.Keys(s.values)) {
		if !s.used[key] {
			s.r.unknown(s.at(key), key, known, "unknown key %q; accepted here: %s", key, strings.Join(known, ", "))
		}
	}
}

// truth reads true or false.
func (s *section) truth(key string) bool {
	v, _ := s.get(key)
	b, ok := v.(bool)
	if !ok {
		s.wrong(key, "true or false, without quotes")
	}
	return b
}
