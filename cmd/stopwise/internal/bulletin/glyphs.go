package bulletin

import (
	"fmt"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/figure"
)

// An UnsetError says what the type of the PDF file cannot set. It would leave
// empty boxes, or letters in the wrong order.
type UnsetError struct {
	RightToLeft bool   // the language is written from right to left
	Letters     []rune // without a glyph
}

func (e *UnsetError) Error() string {
	if e.RightToLeft {
		return "the PDF file sets only languages written from left to right"
	}
	most := min(len(e.Letters), 10)
	more := ""
	if len(e.Letters) > most {
		more = fmt.Sprintf(" and %d more", len(e.Letters)-most)
	}
	return fmt.Sprintf("the type of the PDF file has no %q%s; it has the Latin, Greek and Cyrillic letters", string(e.Letters[:most]), more)
}

// unset returns what cannot be set, or nil.
func (b Bulletin) unset() error {
	if b.Language.RightToLeft() {
		return &UnsetError{RightToLeft: true}
	}
	var missing []rune
	for _, r := range b.text() {
		if !slices.Contains(missing, r) && !figure.HasGlyph(r) {
			missing = append(missing, r)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	return &UnsetError{Letters: missing}
}

// text returns all that is set but the pictures, whose words stand in the tables
// and texts too.
func (b Bulletin) text() string {
	all := []string{b.Kicker, b.Title, b.Sub, b.Foot, b.Language.Say("bulletin.page", "Page", "", "Pages", ""), b.Language.Say("bulletin.zone_leave"), b.Language.Say("bulletin.zone_act"), b.Language.Say("bulletin.zone_on")}
	for _, p := range b.Parts {
		switch p := p.(type) {
		case Text:
			all = append(append(all, p.Head), p.Paras...)
		case Table:
			all = append(all, p.Head, p.Note)
			for _, c := range p.Columns {
				all = append(all, c.Group, c.Head)
			}
			all = append(all, slices.Concat(p.Rows...)...)
		case Picture:
			all = append(all, p.Head, p.Note)
		}
	}
	return strings.Join(all, "")
}
