package bulletin

import (
	"strconv"

	"stopwise/cmd/stopwise/internal/figure"
)

const (
	step    = 15 // from a number to its text
	between = 3  // paragraphs
)

func (t Text) typeFor(s *setter) (lead float64) {
	if t.Small {
		s.font("", smallSize, ink)
		return smallLead
	}
	s.font("", bodySize, ink)
	return bodyLead
}

func (t Text) indent() float64 {
	if t.Numbered {
		return step
	}
	return 0
}

func (t Text) height(s *setter) float64 {
	h := 0.0
	for _, p := range t.Paras {
		h += t.paraHeight(s, p)
	}
	return max(h, s.sideHeadHeight(t.Head))
}

func (t Text) paraHeight(s *setter, p string) float64 {
	lead := t.typeFor(s)
	return between + lead*float64(len(s.wrap(p, wide-margin-t.indent())))
}

// least is the head and the first paragraph: the others may stand on the next page.
func (t Text) least(s *setter) float64 {
	first := t
	first.Paras = t.Paras[:min(1, len(t.Paras))]
	return first.height(s)
}

func (t Text) set(s *setter) {
	end := s.y + s.sideHeadHeight(t.Head)
	s.sideHead(t.Head)
	for i, p := range t.Paras {
		if s.y+t.paraHeight(s, p) > pageHeight-bottom && i > 0 {
			s.newPage()
			end = s.y
		}
		lead := t.typeFor(s)
		if t.Numbered {
			y := s.y
			s.font("B", bodySize, blue)
			s.lines(left+margin, step, lead, strconv.Itoa(i+1))
			s.y = y
			t.typeFor(s)
		}
		s.lines(left+margin+t.indent(), wide-margin-t.indent(), lead, p)
		s.y += between
	}
	s.y = max(s.y, end)
}

// beside is the room for the note of a small picture.
const beside = wide - margin - small - gap

func (p Picture) height(s *setter) float64 {
	if p.Small {
		return max(figure.Height(p.Picture, small), s.noteHeight(p.Note, beside), s.sideHeadHeight(p.Head))
	}
	return figure.Height(p.Picture, wide) + s.wideHead(p.Head) + s.noteHeight(p.Note, wide)
}

func (p Picture) least(s *setter) float64 { return p.height(s) }

func (p Picture) set(s *setter) {
	if p.Small {
		end := s.y + p.height(s)
		s.sideHead(p.Head)
		s.place(p.Picture, left+margin, small)
		s.setNote(p.Note, left+margin+small+gap, beside)
		s.y = end
		return
	}
	s.setWideHead(p.Head)
	s.y += s.place(p.Picture, left, wide)
	s.setNote(p.Note, left, wide)
}

// place draws a picture at the present height and returns how high it is.
func (s *setter) place(p figure.Picture, x, width float64) float64 {
	h, err := figure.PlacePDF(s.doc, p, x, s.y, width)
	if err != nil && s.err == nil {
		s.err = err
	}
	return h
}

func (s *setter) wideHead(head string) float64 {
	if head == "" {
		return 0
	}
	return bodyLead + 4
}

func (s *setter) setWideHead(head string) {
	if head == "" {
		return
	}
	s.font("B", headSize, blue)
	s.lines(left, wide, bodyLead, head)
	s.y += 4
}

func (s *setter) noteHeight(note string, width float64) float64 {
	if note == "" {
		return 0
	}
	s.font("", smallSize, ink)
	return 4 + smallLead*float64(len(s.wrap(note, width)))
}

func (s *setter) setNote(note string, x, width float64) {
	if note == "" {
		return
	}
	s.y += 4
	s.font("", smallSize, ink)
	s.lines(x, width, smallLead, note)
}
