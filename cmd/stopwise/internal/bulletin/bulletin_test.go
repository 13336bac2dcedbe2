package bulletin

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/words"
)

// The examples are invented.

func example(stops, paragraphs int) Bulletin {
	p, err := figure.Staircases{Stages: []figure.Staircase{{Head: "leafing", StopLabel: "stop", Leave: []int{-1, 2, 5}, Act: []int{-1, 12, 6}}}}.Picture()
	if err != nil {
		panic(err)
	}
	table := Table{Head: "Decision table", Wide: true, Every: 5, Note: "A dash: never.",
		Columns: []Column{{Head: "stop"}, {Group: "leafing", Head: "leave at or below"}, {Group: "leafing", Head: "act at or above", Bold: true}}}
	for j := range stops {
		table.Rows = append(table.Rows, []string{fmt.Sprint(j + 1), fmt.Sprint(4 * j), fmt.Sprint(4*j + 9)})
	}
	text := Text{Head: "How to scout", Numbered: true}
	for range paragraphs {
		text.Paras = append(text.Paras, strings.Repeat("At each stop examine twenty plants (≥ 50 insects). ", 5))
	}
	return Bulletin{Language: words.English(), Kicker: "Scouting bulletin", Title: "Russet thrips (invented)", Sub: "When to treat", Foot: "made by a test",
		Parts: []Part{text, table, Picture{Head: "Picture", Picture: p, Note: "How to read it."}, Text{Head: "Small print", Small: true, Paras: []string{"None."}}}}
}

func pages(t *testing.T, b Bulletin) int {
	t.Helper()
	data, err := b.PDF()
	if err != nil {
		t.Fatal(err)
	}
	return len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(data, -1))
}

func TestPages(t *testing.T) {
	for _, c := range []struct{ stops, paragraphs, want int }{
		{5, 3, 1},
		{25, 6, 2},
		{200, 3, 5}, // text and 36 rows; 55, 55 and 54 rows (12.4 points and a fifth of 1.4 each, in 700); the picture
	} {
		if got := pages(t, example(c.stops, c.paragraphs)); got != c.want {
			t.Errorf("%d stops, %d paragraphs: %d pages, want %d", c.stops, c.paragraphs, got, c.want)
		}
	}
}

func TestSameBytes(t *testing.T) {
	a, errA := example(25, 6).PDF()
	b, errB := example(25, 6).PDF()
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		t.Errorf("two files differ, or %v, %v", errA, errB)
	}
}

// What a part takes is what it says it takes: otherwise parts overlap or run off
// the page.
func TestHeights(t *testing.T) {
	for i, p := range example(25, 4).Parts {
		s := &setter{bulletin: Bulletin{Language: words.English()}, doc: figure.NewPDF("test", fpdf.SizeType{Wd: pageWidth, Ht: pageHeight})}
		s.newPage()
		want := p.height(s)
		before := s.y
		p.set(s)
		if got := s.y - before; got > want+3 || got < want-12 {
			t.Errorf("part %d took %.1f points, said %.1f", i, got, want)
		}
	}
}

func TestLinesFit(t *testing.T) {
	s := &setter{bulletin: Bulletin{Language: words.English()}, doc: figure.NewPDF("test", fpdf.SizeType{Wd: pageWidth, Ht: pageHeight})}
	s.newPage()
	s.font("", bodySize, ink)
	text := strings.Repeat("Between them walk to another stop, and mind ≤ and ≥. ", 12)
	lines := s.wrap(text, wide-margin)
	if len(lines) < 5 {
		t.Errorf("%d lines", len(lines))
	}
	for _, l := range lines {
		if w := s.doc.GetStringWidth(l); w > wide-margin {
			t.Errorf("%q is %.1f points wide, more than %.1f", l, w, wide-margin)
		}
	}
	if got := strings.Join(strings.Fields(strings.Join(lines, " ")), " "); got != strings.Join(strings.Fields(text), " ") {
		t.Errorf("words were lost: %q", got)
	}
}
