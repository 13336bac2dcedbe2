package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html"
	"html/template"
	"strings"
	"sync"
)

//go:embed page.html
var pageSource string

var pageTemplate = sync.OnceValue(func() *template.Template { return template.Must(template.New("page").Parse(pageSource)) })

// Page returns a document as one self-contained HTML page: it needs no network
// and prints well. The document's first heading is that of the page.
func Page(d *Document, title string) ([]byte, error) {
	var body strings.Builder
	level, tables := 1, 0
	for _, b := range d.Blocks {
		if h, ok := b.(heading); ok {
			fmt.Fprintf(&body, "<h%d>%s</h%d>\n", level, html.EscapeString(string(h)), level)
			level = 2
			continue
		}
		if t, ok := b.(*Table); ok {
			tables++
			s, err := t.numberedHTML(tables)
			if err != nil {
				return nil, err
			}
			body.WriteString(s + "\n")
			continue
		}
		s, err := b.html()
		if err != nil {
			return nil, err
		}
		body.WriteString(s + "\n")
	}
	var out bytes.Buffer
	err := pageTemplate().Execute(&out, struct {
		Title string
		Body  template.HTML
	}{title, template.HTML(body.String())})
	return out.Bytes(), err
}

// Figure adds a drawing, an SVG element, to a document for [Page]. Text and
// Markdown leave it out.
func (d *Document) Figure(svg string) { d.add(figure(svg)) }

type figure string

func (figure) text(int) (string, error)  { return "", nil }
func (figure) markdown() (string, error) { return "", nil }

func (f figure) html() (string, error) { return "<figure>" + string(f) + "</figure>", nil }

func (h heading) html() (string, error) { return "<h2>" + html.EscapeString(string(h)) + "</h2>", nil }

func (p paragraph) html() (string, error) {
	if p.note != "" {
		return `<p class="note"><strong>` + coded(p.note) + `</strong> ` + coded(p.body) + "</p>", nil
	}
	return "<p>" + coded(p.body) + "</p>", nil
}

func (l list) html() (string, error) {
	var b strings.Builder
	b.WriteString("<ul>\n")
	for _, item := range l {
		b.WriteString("<li>" + coded(item) + "</li>\n")
	}
	return b.String() + "</ul>", nil
}

func (p picture) html() (string, error) {
	return `<pre tabindex="0">` + html.EscapeString(trimLines(string(p))) + "</pre>", nil
}

// shortTable is the number of rows up to which a table is not broken between
// pages.
const shortTable = 12

func (t *Table) html() (string, error) { return t.numberedHTML(1) }

// numberedHTML gives the table a name that no other of the page has.
func (t *Table) numberedHTML(number int) (string, error) {
	var b strings.Builder
	// A wide table is rolled sideways on a small screen, with the keyboard too.
	class := "table"
	if len(t.Rows) <= shortTable {
		class += " short"
	}
	fmt.Fprintf(&b, `<div class="%s" role="region" tabindex="0" aria-label="%s"><table>`+"\n", class, html.EscapeString(fmt.Sprintf("Table %d: %s", number, oneLine(t.Caption))))
	if t.Caption != "" {
		b.WriteString("<caption>" + coded(t.Caption) + "</caption>\n")
	}
	side := func(i int) string {
		if t.Columns[i].Right {
			return ` class="right"`
		}
		return ""
	}
	b.WriteString("<thead><tr>")
	for i, c := range t.Columns {
		fmt.Fprintf(&b, `<th scope="col"%s>%s</th>`, side(i), html.EscapeString(c.Head))
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	for i, row := range t.Rows {
		if len(row) != len(t.Columns) {
			return "", fmt.Errorf("report: row %d of the table %q has %d cells, its head has %d", i+1, t.Caption, len(row), len(t.Columns))
		}
		b.WriteString("<tr>")
		for j, cell := range row {
			if j == 0 {
				fmt.Fprintf(&b, `<th scope="row"%s>%s</th>`, side(j), html.EscapeString(cell))
				continue
			}
			fmt.Fprintf(&b, "<td%s>%s</td>", side(j), html.EscapeString(cell))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>")
	return b.String(), nil
}

// coded escapes text, in which code stands between backticks.
func coded(s string) string {
	parts := strings.Split(html.EscapeString(oneLine(s)), "`")
	var b strings.Builder
	for i, p := range parts {
		switch {
		case i%2 == 0:
			b.WriteString(p)
		case i == len(parts)-1: // not closed
			b.WriteString("`" + p)
		default:
			b.WriteString("<code>" + p + "</code>")
		}
	}
	return b.String()
}
