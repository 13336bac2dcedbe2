// Package report turns results into what a person or a machine reads: text,
// Markdown, CSV and JSON. It holds no statistics.
//
// For most uses, fill a [Document] for people, [Records] and a JSON value for
// machines, and call [Write] with the format that was asked for.
package report

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
)

// TextWidth is the number of columns that text is set in where it goes to no
// terminal.
const TextWidth = 80

// A Document is what people read, from top to bottom.
type Document struct {
	Blocks   []Block
	NoteWord string // what a note begins with; Note: where it is empty
}

// A Block is one piece of a document.
type Block interface {
	text(width int) (string, error)
	markdown() (string, error)
	html() (string, error)
}

// Heading adds a heading.
func (d *Document) Heading(text string) { d.add(heading(oneLine(text))) }

// Para adds a paragraph, unless it would be empty. It may hold `code` between backticks.
func (d *Document) Para(format string, args ...any) { d.paragraph("", format, args...) }

// Note adds a remark on what stands above it: a warning and what would cure it.
func (d *Document) Note(format string, args ...any) {
	d.paragraph(cmp.Or(d.NoteWord, "Note:"), format, args...)
}

func (d *Document) paragraph(note, format string, args ...any) {
	if body := fmt.Sprintf(format, args...); body != "" {
		d.add(paragraph{body, note})
	}
}

// List adds a list with a dash before each item.
func (d *Document) List(items ...string) { d.add(list(items)) }

// Table adds a table.
func (d *Document) Table(t *Table) { d.add(t) }

// Picture adds lines that are shown as they are, such as a [Chart].
func (d *Document) Picture(lines string) { d.add(picture(lines)) }

// Drawing adds lines that are shown as they are and follow the columns that there are,
// such as [Chart.In].
func (d *Document) Drawing(in func(columns int) string) { d.add(drawing(in)) }

func (d *Document) add(b Block) { d.Blocks = append(d.Blocks, b) }

// Text returns the document as plain text of so many columns, blocks parted by an
// empty line. Pictures, and what a table's cells have in one word, may be wider.
func (d *Document) Text(width int) (string, error) {
	return d.join(func(b Block) (string, error) { return b.text(width) })
}

// Markdown returns the document as GitHub Flavored Markdown.
func (d *Document) Markdown() (string, error) { return d.join(Block.markdown) }

func (d *Document) join(render func(Block) (string, error)) (string, error) {
	var parts []string
	for _, b := range d.Blocks {
		s, err := render(b)
		if err != nil {
			return "", err
		}
		if s = strings.TrimRight(s, "\n"); s != "" {
			parts = append(parts, s)
		}
	}
	if len(parts) == 0 {
		return "", nil
	}
	return strings.Join(parts, "\n\n") + "\n", nil
}

type heading string

func (h heading) text(width int) (string, error) {
	s := Wrap(string(h), width, "")
	longest := 0
	for line := range strings.Lines(s) {
		longest = max(longest, twwidth.Width(strings.TrimSpace(line)))
	}
	return s + "\n" + strings.Repeat("=", longest), nil
}

func (h heading) markdown() (string, error) { return "## " + escape(string(h)), nil }

type paragraph struct {
	body string
	note string // the word before it, where it is a note
}

func (p paragraph) text(width int) (string, error) {
	if p.note != "" {
		return Wrap(p.note+" "+p.body, width, "      "), nil
	}
	return Wrap(p.body, width, ""), nil
}

func (p paragraph) markdown() (string, error) {
	body := escape(oneLine(p.body))
	if p.note != "" {
		return "> **" + p.note + "** " + body, nil
	}
	return body, nil
}

type list []string

func (l list) text(width int) (string, error) {
	lines := make([]string, len(l))
	for i, item := range l {
		lines[i] = Wrap("- "+item, width, "  ")
	}
	return strings.Join(lines, "\n"), nil
}

func (l list) markdown() (string, error) {
	lines := make([]string, len(l))
	for i, item := range l {
		lines[i] = "- " + escape(oneLine(item))
	}
	return strings.Join(lines, "\n"), nil
}

type picture string

func (p picture) text(int) (string, error) { return trimLines(string(p)), nil }

func (p picture) markdown() (string, error) {
	fence := "```"
	for strings.Contains(string(p), fence) {
		fence += "`"
	}
	return fence + "text\n" + strings.TrimRight(trimLines(string(p)), "\n") + "\n" + fence, nil
}

type drawing func(columns int) string

func (d drawing) text(width int) (string, error) { return picture(d(width)).text(width) }

func (d drawing) markdown() (string, error) { return picture(d(TextWidth)).markdown() }

func (d drawing) html() (string, error) { return picture(d(TextWidth)).html() }

// Wrap breaks text between words so that no line is wider than width, unless a
// single word is. Lines after the first begin with indent.
func Wrap(text string, width int, indent string) string {
	var b strings.Builder
	column := 0
	for i, word := range strings.Fields(text) {
		w := twwidth.Width(word)
		switch {
		case i == 0:
		case column+1+w > width:
			b.WriteString("\n" + indent)
			column = twwidth.Width(indent)
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += w
	}
	return b.String()
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " ")
	}
	return strings.Join(lines, "\n")
}

// escape keeps text from being taken for Markdown. Code between backticks is
// left alone.
func escape(s string) string {
	parts := strings.Split(s, "`")
	for i := range parts {
		// Odd parts stand between two backticks, unless the last one is not closed.
		if i%2 == 1 && i < len(parts)-1 {
			continue
		}
		parts[i] = markup().ReplaceAllString(parts[i], `\$0`)
	}
	return strings.Join(parts, "`")
}

// markup is what Markdown reads as a sign: a "<" only where a tag could begin.
var markup = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[\\*]|<[A-Za-z/!?]`) })
