package words

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans/protocol"
)

// Number gives a number that package report wrote the marks of the language:
// "14.9%" is "14,9 %" in Spanish.
func (l *Language) Number(text string) string {
	number, share := strings.CutSuffix(text, "%")
	var b strings.Builder
	for _, r := range number {
		switch r {
		case '.':
			b.WriteString(l.Say("language.decimal_mark"))
		case ',':
			b.WriteString(l.Say("language.thousands_mark"))
		default:
			b.WriteRune(r)
		}
	}
	if share {
		return l.Say("language.percent", "N", b.String())
	}
	return b.String()
}

// Whole returns a whole number with a mark between thousands.
func (l *Language) Whole(n int) string {
	return l.Number(strings.TrimSpace(report.Count(n, "", "")))
}

// Level returns a level that somebody chose in its measure's unit: "15%" or "75
// per leaf".
func (l *Language) Level(m protocol.Measure, x float64) string {
	if m.Bounded() {
		return l.Number(report.Constant(100*x) + "%")
	}
	return l.Say("count.per_leaf", "N", l.Number(report.Constant(x)))
}

// Days returns a number of days without digits that were never written.
func (l *Language) Days(x float64) string {
	number, _, _ := strings.Cut(report.Days(x), " ")
	return l.CountOf("count.days", number)
}

// Date writes a date of the form 2026-07-31; what is no date stays as it is.
func (l *Language) Date(date string) string {
	d, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return l.Say("date.day", "Year", d.Year(), "Month", date[5:7], "Day", date[8:])
}

// UnitWords returns the words for one and for many of what is examined at a stop:
// the protocol's word, which stays as its specialist wrote it, else plant and
// plants.
func (l *Language) UnitWords(t protocol.Terms) (one, many string) {
	if t.Unit.Word == "" {
		return l.Say("unit.plant"), l.Say("unit.plants")
	}
	if l.tag == English().tag {
		return report.UnitWords(t)
	}
	return t.Unit.Word, l.many(t.Unit.Word)
}

// many forms the plural of a protocol's word by the endings that the language's
// file gives, such as "z:ces o:os": the first that fits. Without one the word stays.
func (l *Language) many(word string) string {
	endings := l.message(ownEndings)
	if endings == nil {
		return word
	}
	for _, pair := range strings.Fields(endings.Other) {
		one, many, _ := strings.Cut(pair, ":")
		if stem, fits := strings.CutSuffix(word, one); fits {
			return stem + many
		}
	}
	return word
}

// UnitsName returns the word for many.
func (l *Language) UnitsName(t protocol.Terms) string {
	_, many := l.UnitWords(t)
	return many
}

// Units returns a number of what is examined at a stop, such as "15 stems".
func (l *Language) Units(t protocol.Terms, n int) string {
	if t.Unit.Word == "" {
		return l.Count("count.plants", n)
	}
	one, many := l.UnitWords(t)
	return l.Count("count.own", n, "One", one, "Many", many)
}

// LeavesOn returns the leaves on a number of units, such as "30 leaves"; where a
// unit that has a word of its own is not parted further, the units.
func (l *Language) LeavesOn(t protocol.Terms, n int) string {
	if t.Unit.Word != "" && t.UnitsPerPlant() == 1 {
		return l.Units(t, n)
	}
	return l.Count("count.leaves", t.Units(n))
}

// SignAt says at how many stops a sign must be seen to act: "2 stops or more", or,
// where it must not be seen, "fewer than 2 stops".
func (l *Language) SignAt(g protocol.Sign) string {
	switch {
	case !g.Absent:
		return l.Say("sign.at_least", "Stops", l.Count("count.stops", g.Stops))
	case g.Stops == 1:
		return l.Say("sign.at_none")
	}
	return l.Say("sign.at_fewer", "Stops", l.Count("count.stops", g.Stops))
}

// SignNumber is the same without the word: "2", or "fewer than 2".
func (l *Language) SignNumber(g protocol.Sign) string {
	switch {
	case !g.Absent:
		return strconv.Itoa(g.Stops)
	case g.Stops == 1:
		return l.Say("sign.none")
	}
	return l.Say("sign.fewer", "N", g.Stops)
}

// Forms returns the sentences of some parts of the catalogue by name, for programs
// that are not written in Go: a text, or texts by plural form.
func (l *Language) Forms(parts ...string) map[string]any {
	out := map[string]any{}
	for id, m := range l.messages() {
		if !slices.Contains(parts, partOf(id)) {
			continue
		}
		whole := English().message(id)
		if whole == nil {
			continue
		}
		if counted(whole) {
			out[id] = forms(m)
		} else {
			out[id] = m.Other
		}
	}
	return out
}
