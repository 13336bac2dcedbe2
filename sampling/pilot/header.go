package pilot

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// The columns of each layout, in the order in which they are written.
var layoutColumns = map[Layout][]string{
	PerStop:  {"field", "stop", "plants", "infested"},
	PerPlant: {"field", "stop", "plant", "infested"},
	PerLeaf:  {"field", "stop", "plant", "leaf", "count"},
}

var optionalColumns = []string{"date", "stage", "visit", "x", "y", atCap}

// atCap is the column that marks stops at which looking ended once so many were found.
const atCap = "at_cap"

// Ended stands in the column at_cap of such a stop: what it holds is not known.
const Ended = "yes"

const accepted = "field,stop,plants,infested or field,stop,plant,infested or field,stop,plant,leaf,count"

// A header knows where each used column stands.
type header struct {
	layout  Layout
	width   int
	at      map[string]int
	ignored []string
}

func newHeader(line int, cells []string, errs *Errors) header {
	h := header{width: len(cells), at: map[string]int{}}
	names := make([]string, len(cells))
	count := map[string]int{}
	for i, c := range cells {
		names[i] = strings.ToLower(strings.TrimSpace(c))
		h.at[names[i]] = i
		count[names[i]]++
	}
	if !h.chooseLayout(line, cells, errs) {
		return h
	}
	used := map[string]bool{}
	for _, name := range slices.Concat(layoutColumns[h.layout], optionalColumns) {
		used[name] = true
		if count[name] > 1 {
			errs.add(line, name, "the column stands there %d times; once is accepted", count[name])
		}
	}
	if h.has("x") != h.has("y") {
		errs.add(line, "", "of the columns x and y only one is there; both or neither are accepted")
	}
	for i, name := range names {
		if !used[name] {
			h.ignored = append(h.ignored, strings.ToValidUTF8(strings.TrimSpace(cells[i]), "?"))
		}
	}
	return h
}

func (h *header) has(name string) bool { _, ok := h.at[name]; return ok }

// chooseLayout takes the layout whose columns are all there. Leaves and counts
// are more than plants, so a table that has them too is read leaf by leaf.
func (h *header) chooseLayout(line int, cells []string, errs *Errors) bool {
	full := func(l Layout) bool { return len(h.missing(l)) == 0 }
	switch {
	case full(PerLeaf):
		h.layout = PerLeaf
	case full(PerPlant) && full(PerStop):
		errs.add(line, "", "there is a column plant and a column plants: one row a plant or one row a stop? Rename the one that is not meant")
		return false
	case full(PerPlant):
		h.layout = PerPlant
	case full(PerStop):
		h.layout = PerStop
	default:
		errs.add(line, "", "%s; accepted is a first line with the columns %s", h.lack(cells), accepted)
		return false
	}
	return true
}

// lack says which columns of the likeliest layout are missing.
func (h *header) lack(cells []string) string {
	guess := PerStop
	switch {
	case h.has("leaf") || h.has("count"):
		guess = PerLeaf
	case h.has("plant"):
		guess = PerPlant
	}
	missing := h.missing(guess)
	found := strings.Join(cells, ",")
	if len(found) > 80 {
		found = found[:80] + "..."
	}
	found = strings.ToValidUTF8(found, "?")
	if len(missing) == 1 {
		return fmt.Sprintf("no column %s, found %q", missing[0], found)
	}
	return fmt.Sprintf("no columns %s, found %q", strings.Join(missing, ", "), found)
}

func (h *header) missing(l Layout) []string {
	var out []string
	for _, name := range layoutColumns[l] {
		if !h.has(name) {
			out = append(out, name)
		}
	}
	return out
}

// quoted shows a cell in a message, cut if it is long.
func quoted(s string) string {
	if len(s) > 40 {
		cut := 40
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		s = s[:cut] + "..."
	}
	return fmt.Sprintf("%q", s)
}
