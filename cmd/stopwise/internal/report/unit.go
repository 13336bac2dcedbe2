package report

import (
	"slices"
	"strings"

	"stopwise/plans/protocol"
)

// UnitWords returns the words for one and for many of what is examined at a stop:
// the protocol's word for its sample unit, else plant and plants.
func UnitWords(t protocol.Terms) (one, many string) {
	if t.Unit.Word == "" {
		return "plant", "plants"
	}
	return t.Unit.Word, plural(t.Unit.Word)
}

// UnitsName returns the word for many.
func UnitsName(t protocol.Terms) string {
	_, many := UnitWords(t)
	return many
}

// UnitsNames returns the word for many of each of some stages, a word once: "plants
// or stems"; "plants" where there is none.
func UnitsNames(all []protocol.Terms) string {
	var names []string
	for _, t := range all {
		if name := UnitsName(t); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return UnitsName(protocol.Terms{})
	}
	return strings.Join(names, " or ")
}

// Units returns a number of what is examined at a stop, such as "15 stems".
func Units(t protocol.Terms, n int) string {
	one, many := UnitWords(t)
	return Count(n, one, many)
}

// plural forms the plural of the common English nouns that name a sample unit.
func plural(noun string) string {
	stem := func(ends ...string) bool {
		for _, e := range ends {
			if strings.HasSuffix(noun, e) {
				return true
			}
		}
		return false
	}
	switch {
	case noun == "leaf" || strings.HasSuffix(noun, " leaf") || stem("sheaf"):
		return strings.TrimSuffix(noun, "f") + "ves"
	case stem("s", "x", "z", "ch", "sh"):
		return noun + "es"
	case stem("y") && !stem("ay", "ey", "oy", "uy"):
		return strings.TrimSuffix(noun, "y") + "ies"
	}
	return noun + "s"
}

// OneUnit returns what is examined with its article: "a plant", "an ear".
func OneUnit(t protocol.Terms) string {
	one, _ := UnitWords(t)
	if strings.ContainsRune("aeiou", rune(one[0])) && !strings.HasPrefix(one, "uni") {
		return "an " + one
	}
	return "a " + one
}

// SignAt says at how many stops a sign must be seen to act: "2 stops or more",
// or, where it must not be seen, "fewer than 2 stops".
func SignAt(g protocol.Sign) string {
	if !g.Absent {
		return Count(g.Stops, "stop", "stops") + " or more"
	}
	if g.Stops == 1 {
		return "no stop"
	}
	return "fewer than " + Count(g.Stops, "stop", "stops")
}
