package pilot

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// number returns a number that stands for a name.
func (b *builder) number(name string) int32 {
	if n, ok := b.names[name]; ok {
		return n
	}
	n := int32(len(b.names))
	name = strings.Clone(name)
	b.names[name] = n
	b.spelt = append(b.spelt, name)
	return n
}

// name returns a cell that must not be empty.
func (b *builder) name(line int, cells []string, column string) string {
	s := b.cell(cells, column)
	if s == "" {
		b.errs.add(line, column, "the cell is empty; a name or number is accepted")
	}
	b.utf8(line, column, s)
	return s
}

func (b *builder) utf8(line int, column, s string) {
	if !utf8.ValidString(s) {
		b.errs.add(line, column, "%s is not UTF-8 text; save the file as CSV in UTF-8", quoted(strings.ToValidUTF8(s, "?")))
	}
}

func (b *builder) date(line int, cells []string) string {
	s := b.cell(cells, "date")
	if s == "" {
		return s
	}
	day, ok := Date(s)
	if !ok {
		b.errs.add(line, "date", "%s is not a date; the forms 2026-05-14 (year-month-day) and 14.5.2026 (day.month.year) are accepted", quoted(s))
	}
	return day
}

func (b *builder) whole(line int, cells []string, column string, low, high int) (int, bool) {
	s := b.cell(cells, column)
	n, err := strconv.Atoi(s)
	if err == nil && n >= low && n <= high {
		return n, true
	}
	switch {
	case s == "":
		b.errs.add(line, column, "the cell is empty; %s is accepted", wholeRange(low, high))
	case err == nil || errors.Is(err, strconv.ErrRange):
		b.errs.add(line, column, "%s is out of range; %s is accepted", quoted(s), wholeRange(low, high))
	default:
		b.errs.add(line, column, "%s is not a whole number; %s is accepted", quoted(s), wholeRange(low, high))
	}
	return 0, false
}

func cellCount(n int) string {
	if n == 1 {
		return "1 cell"
	}
	return fmt.Sprintf("%d cells", n)
}

func wholeRange(low, high int) string {
	if low == 0 && high == 1 {
		return "0 (not infested) or 1 (infested)"
	}
	return fmt.Sprintf("a whole number from %d to %d", low, high)
}

func (b *builder) placeOf(line int, cells []string) (x, y float64) {
	xs, ys := b.cell(cells, "x"), b.cell(cells, "y")
	if xs == "" && ys == "" {
		return math.NaN(), math.NaN()
	}
	return b.metres(line, "x", xs), b.metres(line, "y", ys)
}

func (b *builder) metres(line int, column, s string) float64 {
	v, err := strconv.ParseFloat(pointed(s), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		b.errs.add(line, column, "%s is not a place in metres; a number is accepted (such as 120.5), or x and y both empty", quoted(s))
	}
	return v
}

// setPlace gives a stop its place, which must be the same in all its rows.
func (b *builder) setPlace(line int, s *Stop, x, y float64) {
	switch {
	case math.IsNaN(x):
	case math.IsNaN(s.X):
		s.X, s.Y = x, y
	case s.X != x || s.Y != y:
		b.errs.add(line, "x", "stop %s is at %g,%g here and at %g,%g further up; one place a stop is accepted", quoted(s.Name), x, y, s.X, s.Y)
	}
}

// whollySeen reports whether a stop was looked at to its end, and says so where not.
func (b *builder) whollySeen(line int, cells []string, infested int) bool {
	switch mark := b.cell(cells, atCap); mark {
	case "", "no":
		return true
	case Ended:
		b.errs.add(line, atCap, "looking ended once %d were found, and how many were infested is not known; stops that were looked at whole are accepted", infested)
	default:
		b.errs.add(line, atCap, "%s; %s, no or nothing is accepted", quoted(mark), Ended)
	}
	return false
}
