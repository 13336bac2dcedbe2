package report

import (
	"regexp"
	"strings"
	"testing"
)

func examplePage(t *testing.T) string {
	t.Helper()
	d := &Document{}
	d.Heading("Plan: <b>beans</b>")
	d.Para("Ask `stopwise check a<b`, 3 & 4.")
	d.Note("take care")
	d.Heading("Stage leafing")
	for range 2 {
		table := &Table{Caption: "Risks", Columns: []Column{{Head: "clumping"}, {Head: "act > 10%", Right: true}}}
		table.Add("rho 0.1", "<0.01%")
		d.Table(table)
	}
	d.List("one", "two")
	d.Figure(`<svg viewBox="0 0 1 1"></svg>`)
	d.Picture("a  b\n<c>")
	page, err := Page(d, "Plan & more")
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

func TestPageIsSemantic(t *testing.T) {
	page := examplePage(t)
	for _, want := range []string{
		`<html lang="en">`, "<title>Plan &amp; more</title>", `<meta charset="utf-8">`,
		"<h1>Plan: &lt;b&gt;beans&lt;/b&gt;</h1>", "<h2>Stage leafing</h2>",
		"<p>Ask <code>stopwise check a&lt;b</code>, 3 &amp; 4.</p>", `<p class="note"><strong>Note:</strong> take care</p>`,
		"<caption>Risks</caption>", `<th scope="col">clumping</th><th scope="col" class="right">act &gt; 10%</th>`,
		`<th scope="row">rho 0.1</th><td class="right">&lt;0.01%</td>`,
		"<li>one</li>", `<figure><svg viewBox="0 0 1 1"></svg></figure>`, `<pre tabindex="0">a  b` + "\n&lt;c&gt;</pre>",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if n := strings.Count(page, "<h1>"); n != 1 {
		t.Errorf("%d first headings", n)
	}
}

// The page needs nothing from elsewhere.
func TestPageIsSelfContained(t *testing.T) {
	page := examplePage(t)
	for _, reference := range []string{"http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link"} {
		if strings.Contains(page, reference) {
			t.Errorf("the page holds %s", reference)
		}
	}
}

// Each table is a place of its own for the readers of screens.
func TestTablesOfAPageHaveNames(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(`aria-label="([^"]*)"`).FindAllStringSubmatch(examplePage(t), -1) {
		if seen[m[1]] {
			t.Errorf("two places are called %q", m[1])
		}
		seen[m[1]] = true
	}
	if len(seen) != 2 {
		t.Errorf("%d named places, want 2", len(seen))
	}
}

func TestFiguresAreLeftOutOfText(t *testing.T) {
	d := &Document{}
	d.Para("before")
	d.Figure("<svg></svg>")
	d.Para("behind")
	text, err := d.Text(TextWidth)
	if err != nil || text != "before\n\nbehind\n" {
		t.Errorf("%q, %v", text, err)
	}
	md, err := d.Markdown()
	if err != nil || md != "before\n\nbehind\n" {
		t.Errorf("%q, %v", md, err)
	}
}

func TestPageRefusesRaggedTables(t *testing.T) {
	d := &Document{}
	table := &Table{Columns: []Column{{Head: "a"}, {Head: "b"}}}
	table.Add("1")
	d.Table(table)
	if _, err := Page(d, "x"); err == nil {
		t.Error("no error for a row with too few cells")
	}
}
