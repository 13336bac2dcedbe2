package shell

import (
	"fmt"
	"slices"
	"strings"

	"stopwise/plans"
	"stopwise/sampling"
)

// ParseEach reads values with commas between them.
func ParseEach[T any](s string, parse func(string) (T, error)) ([]T, error) {
	parts, err := ParseList(s)
	if err != nil {
		return nil, err
	}
	var out []T
	for _, part := range parts {
		x, err := parse(part)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

func ParseList(s string) ([]string, error) {
	var out []string
	for part := range strings.SplitSeq(s, ",") {
		if part = strings.TrimSpace(part); part == "" {
			return nil, fmt.Errorf("%q has an empty place; write values with commas between them", s)
		}
		out = append(out, part)
	}
	return out, nil
}

// ParseCounts reads the counts of stops, from the first on.
func ParseCounts(list []string) ([]plans.Count, error) {
	var counts []plans.Count
	for i, text := range list {
		n, err := plans.ParseCount(text)
		if err != nil {
			return nil, fmt.Errorf("stop %d: %w", i+1, err)
		}
		counts = append(counts, n)
	}
	return counts, nil
}

func ParseLevels(flag string, m plans.Measure, list []string) ([]float64, error) {
	parse := plans.ParseShare
	if m == plans.MeanPerLeaf {
		parse = NotNegative
	}
	var levels []float64
	for _, text := range list {
		x, err := parse(text)
		if err != nil {
			return nil, UsageError("--%s: %w", flag, err)
		}
		levels = append(levels, x)
	}
	slices.Sort(levels)
	return slices.Compact(levels), nil
}

// ShareUpTo returns a flag that takes a share above 0, 100% included.
func ShareUpTo(name, usage string) *Option[float64] {
	return NewOption(name, usage, func(s string) (float64, error) {
		x, err := plans.ParseShare(s)
		if err == nil && x == 0 {
			err = fmt.Errorf("%q is out of range; it must be above 0%% and at most 100%%", s)
		}
		return x, err
	})
}

// SharesFlag takes a list of shares at which to compute.
func SharesFlag() *Option[[]float64] {
	return NewOption("at", "`SHARES` true shares to show, such as 10%,20%", func(s string) ([]float64, error) {
		return ParseEach(s, plans.ParseShare)
	})
}

func DescribedAs[T any](o *Option[T], usage string) *Option[T] {
	o.Usage = usage
	return o
}

// ListOf returns a reader of words with commas between them, each one of the
// choices.
func ListOf(choices []string) func(string) ([]string, error) {
	return func(s string) ([]string, error) {
		list, err := ParseEach(s, oneOf(choices))
		var out []string
		for _, w := range list {
			if !slices.Contains(out, w) {
				out = append(out, w)
			}
		}
		return out, err
	}
}

// oneOf returns a reader of one of the choices.
func oneOf(choices []string) func(string) (string, error) {
	return func(word string) (string, error) {
		if !slices.Contains(choices, word) {
			return "", sampling.RefuseName(word, choices, "%q is not known; write %s", word, Either(choices))
		}
		return word, nil
	}
}

func Texts[T ~string](list []T) []string { return Typed[string](list) }

func Typed[T, S ~string](list []S) []T {
	out := make([]T, len(list))
	for i, x := range list {
		out[i] = T(x)
	}
	return out
}

func NotEmpty(s string) (string, error) {
	if s = strings.TrimSpace(s); s == "" {
		return "", ErrEmpty
	}
	return s, nil
}

// FileFlag takes the name of a file, as it is written.
func FileFlag(name, usage string) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s == "" {
			return "", ErrEmpty
		}
		return s, nil
	})
}

func TextFlag(name, usage string) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s = strings.Join(strings.Fields(s), " "); s == "" {
			return "", ErrEmpty
		}
		return s, nil
	})
}
