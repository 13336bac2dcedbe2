// Package bulletin sets a regional hand-out as a PDF file for A4 paper. It holds
// the look, not the words and numbers.
//
// For most uses, fill a [Bulletin] and call [Bulletin.PDF].
package bulletin

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/words"
)

// A Bulletin is a hand-out, from top to bottom.
type Bulletin struct {
	Language *words.Language
	Kicker   string // above the title
	Title    string
	Sub      string // below it
	Parts    []Part
	Foot     string // at the foot of every page; the page numbers follow
}

// A Part is a part of a bulletin. Its head stands in the margin, or above where
// the part is as wide as the page.
type Part interface {
	height(s *setter) float64
	least(s *setter) float64 // what must stand on one page
	set(s *setter)
}

// Text is paragraphs, or steps with numbers.
type Text struct {
	Head     string
	Paras    []string
	Numbered bool
	Small    bool // small print
}

// Table is rows of numbers under heads.
type Table struct {
	Head    string
	Note    string
	Columns []Column
	Rows    [][]string
	Wide    bool // as wide as the page, else beside the margin
	Every   int  // a thin line after so many rows; 0 for none
}

// A Column is a column of a table. Neighbours with the same group share a head.
type Column struct {
	Group, Head string
	Left        bool    // aligned to the left, else to the right
	Weight      float64 // share of the width; 0 means 1
	Bold        bool
}

// Picture is a picture as wide as the page, or a small one beside the margin.
type Picture struct {
	Head    string
	Picture figure.Picture
	Note    string
	Small   bool
}

// The measures of a page, in points.
const (
	pageWidth, pageHeight = 595.28, 841.89

	left, right = 51, 51
	top, bottom = 44, 54
	margin      = 104 // of the heads, within left and right
	wide        = pageWidth - left - right
	gap         = 12  // between parts
	small       = 190 // width of a small picture

	bodySize, bodyLead   = 9.2, 12.1
	smallSize, smallLead = 8, 10.6
	headSize             = 10
)

type colour struct{ r, g, b int }

var (
	ink  = colour{0x1E, 0x1E, 0x1E}
	grey = colour{0x5E, 0x5E, 0x5E}
	blue = colour{0x17, 0x37, 0x5E}
)

// PDF returns the bulletin as a file. The same bulletin gives the same bytes. What
// the type cannot set is refused with an [UnsetError].
func (b Bulletin) PDF() ([]byte, error) {
	if err := b.unset(); err != nil {
		return nil, err
	}
	pages := 0
	for { // the second time the number of pages is known
		s := &setter{doc: figure.NewPDF(b.Title, fpdf.SizeType{Wd: pageWidth, Ht: pageHeight}), bulletin: b, pages: pages}
		s.doc.SetLang(b.Language.Tag())
		s.newPage()
		s.masthead()
		for i, p := range b.Parts {
			if i > 0 {
				s.y += gap
			}
			if s.y+p.least(s) > pageHeight-bottom && s.y > s.start {
				s.newPage()
			}
			p.set(s)
		}
		if n := s.doc.PageCount(); n != pages {
			pages = n
			continue
		}
		if s.err != nil {
			return nil, fmt.Errorf("bulletin: %w", s.err)
		}
		var out bytes.Buffer
		if err := s.doc.Output(&out); err != nil {
			return nil, fmt.Errorf("bulletin: %w", err)
		}
		return out.Bytes(), nil
	}
}

// A setter sets type on pages, downwards from y.
type setter struct {
	doc      *fpdf.Fpdf
	bulletin Bulletin
	pages    int // 0 while not known
	y        float64
	start    float64 // y of the first part of the page
	err      error
}

func (s *setter) newPage() {
	s.doc.AddPage()
	s.font("", smallSize, grey)
	s.doc.SetDrawColor(grey.r, grey.g, grey.b)
	s.doc.SetLineWidth(0.5)
	y := pageHeight - bottom + 22
	s.doc.Line(left, y-12, pageWidth-right, y-12)
	s.doc.Text(left, y, s.bulletin.Foot)
	number := s.bulletin.Language.Say("bulletin.page", "Page", s.doc.PageNo(), "Pages", s.pages)
	s.doc.Text(pageWidth-right-s.doc.GetStringWidth(number), y, number)
	s.y = top
	s.start = top
}

func (s *setter) font(style string, size float64, c colour) {
	s.doc.SetFont(figure.PDFFont, style, size)
	s.doc.SetTextColor(c.r, c.g, c.b)
}

func (s *setter) masthead() {
	b := s.bulletin
	if b.Kicker != "" {
		s.font("", smallSize+0.5, grey)
		s.lines(left, wide, smallLead, b.Kicker)
		s.y += 5
	}
	s.font("B", 21, ink)
	s.lines(left, wide, 25, b.Title)
	if b.Sub != "" {
		s.y += 3
		s.font("", 11, ink)
		s.lines(left, wide, 15, b.Sub)
	}
	s.y += 9
	s.rule(ink, 1.2, left, wide)
	s.y += 14
	s.start = s.y
}

func (s *setter) rule(c colour, width, x, length float64) {
	s.doc.SetDrawColor(c.r, c.g, c.b)
	s.doc.SetLineWidth(width)
	s.doc.Line(x, s.y, x+length, s.y)
}

// lines writes a paragraph in the present type and moves on below it.
func (s *setter) lines(x, width, lead float64, text string) {
	size, _ := s.doc.GetFontSize()
	for _, l := range s.wrap(text, width) {
		s.doc.Text(x, s.y+lead/2+size*0.35, l)
		s.y += lead
	}
}

// wrap breaks text between words in the present type.
func (s *setter) wrap(text string, width float64) []string {
	// The library takes a line as full a little early, for the margins of its
	// cells. It breaks at spaces that must hold too, such as those before a French
	// colon: a sign of their width, which no text has, stands for them meanwhile.
	const holding, meanwhile = "\u00a0", "\u2219"
	lines := s.doc.SplitText(strings.ReplaceAll(text, holding, meanwhile), width+2*s.doc.GetCellMargin())
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], meanwhile, holding)
	}
	return lines
}

// sideHead writes the head of a part into the margin.
func (s *setter) sideHead(head string) {
	y := s.y
	s.font("B", headSize, blue)
	s.lines(left, margin-12, bodyLead, head)
	s.y = y
}

func (s *setter) sideHeadHeight(head string) float64 {
	s.font("B", headSize, blue)
	return bodyLead * float64(len(s.wrap(head, margin-12)))
}
