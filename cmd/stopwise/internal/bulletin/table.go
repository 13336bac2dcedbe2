package bulletin

const (
	rowLead  = 11.6
	headLead = 10.4
	cellGap  = 8 // between columns
)

// place returns where the table stands.
func (t Table) place() (x, width float64) {
	if t.Wide {
		return left, wide
	}
	return left + margin, wide - margin
}

// widths returns the left edges of the columns, and one past the last.
func (t Table) edges() []float64 {
	x, width := t.place()
	sum := 0.0
	for _, c := range t.Columns {
		sum += c.weight()
	}
	edges := []float64{x}
	for _, c := range t.Columns {
		x += width * c.weight() / sum
		edges = append(edges, x)
	}
	return edges
}

func (c Column) weight() float64 {
	if c.Weight == 0 {
		return 1
	}
	return c.Weight
}

func (t Table) grouped() bool {
	for _, c := range t.Columns {
		if c.Group != "" {
			return true
		}
	}
	return false
}

// headLines returns the lines of each column's head.
func (t Table) headLines(s *setter) (lines [][]string, most int) {
	e := t.edges()
	s.font("", smallSize, grey)
	for i, c := range t.Columns {
		l := s.wrap(c.Head, e[i+1]-e[i]-cellGap)
		lines = append(lines, l)
		most = max(most, len(l))
	}
	return lines, most
}

func (t Table) headHeight(s *setter) float64 {
	_, most := t.headLines(s)
	h := float64(most)*headLead + 6
	if t.grouped() {
		_, lines := t.groups(s)
		h += float64(lines)*rowLead + 2
	}
	return h
}

// height is that of the head and the first rows: a long table goes on on the next
// page.
func (t Table) height(s *setter) float64 {
	h := t.headHeight(s) + rowLead*float64(len(t.Rows)) + 8
	if t.Wide {
		h += s.wideHead(t.Head)
	} else {
		h = max(h, s.sideHeadHeight(t.Head))
	}
	_, width := t.place()
	h += s.noteHeight(t.Note, width)
	if room := pageHeight - bottom - top; h > room {
		return room / 3
	}
	return h
}

func (t Table) least(s *setter) float64 { return t.height(s) }

func (t Table) set(s *setter) {
	x, width := t.place()
	if t.Wide {
		s.setWideHead(t.Head)
	} else {
		s.sideHead(t.Head)
	}
	t.setHead(s)
	e := t.edges()
	for i, row := range t.Rows {
		if s.y+rowLead > pageHeight-bottom {
			s.newPage()
			t.setHead(s)
		}
		for j, c := range t.Columns {
			style := ""
			if c.Bold {
				style = "B"
			}
			s.font(style, bodySize-0.5, ink)
			t.cell(s, e, j, row[j])
		}
		s.y += rowLead
		if t.Every > 0 && (i+1)%t.Every == 0 && i+1 < len(t.Rows) {
			s.y += 0.7
			s.rule(colour{0xC4, 0xC4, 0xC4}, 0.4, x, width)
			s.y += 0.7
		}
	}
	s.y += 2
	s.rule(ink, 0.8, x, width)
	s.setNote(t.Note, x, width)
}

// cell writes one line into a column.
func (t Table) cell(s *setter, e []float64, j int, text string) {
	size, _ := s.doc.GetFontSize()
	x := e[j]
	if !t.Columns[j].Left {
		x = e[j+1] - s.doc.GetStringWidth(text)
		if j < len(t.Columns)-1 {
			x -= cellGap
		}
	}
	s.doc.Text(x, s.y+rowLead/2+size*0.35, text)
}

func (t Table) setHead(s *setter) {
	x, width := t.place()
	e := t.edges()
	s.rule(ink, 0.8, x, width)
	s.y += 2
	if t.grouped() {
		t.setGroups(s)
		s.y += 2
	}
	lines, most := t.headLines(s)
	y := s.y
	for j := range t.Columns {
		s.y = y + float64(most-len(lines[j]))*headLead - 1
		for _, l := range lines[j] {
			s.font("", smallSize, grey)
			t.cell(s, e, j, l)
			s.y += headLead
		}
	}
	s.y = y + float64(most)*headLead + 2
	s.rule(ink, 0.4, x, width)
	s.y += 2
}

// A groupHead is a head that columns share, in the lines that have room over them.
type groupHead struct {
	from, to float64
	lines    []string
}

// groups returns the heads that columns share, and the most lines of one.
func (t Table) groups(s *setter) (heads []groupHead, most int) {
	e := t.edges()
	s.font("B", groupSize, ink)
	for j := 0; j < len(t.Columns); {
		k := j
		for k < len(t.Columns) && t.Columns[k].Group == t.Columns[j].Group {
			k++
		}
		if g := t.Columns[j].Group; g != "" {
			h := groupHead{from: e[j] + cellGap*1.5, to: e[k]}
			if k < len(t.Columns) {
				h.to -= cellGap
			}
			h.lines = s.wrap(g, h.to-h.from)
			heads, most = append(heads, h), max(most, len(h.lines))
		}
		j = k
	}
	return heads, most
}

// groupSize is the size of the heads that columns share.
const groupSize = bodySize - 0.5

// setGroups writes the heads that columns share, each over a thin line.
func (t Table) setGroups(s *setter) {
	heads, most := t.groups(s)
	y := s.y
	for _, h := range heads {
		s.font("B", groupSize, ink)
		for n, l := range h.lines {
			at := y + float64(most-len(h.lines)+n)*rowLead
			s.doc.Text(h.to-s.doc.GetStringWidth(l), at+rowLead/2+3.2, l)
		}
		s.y = y + float64(most)*rowLead
		s.rule(grey, 0.4, h.from, h.to-h.from)
	}
	s.y = y + float64(most)*rowLead
}
