// Package explain holds short texts on the methods of the program. Their numbers
// are computed by the library when the text is read: the texts are templates,
// and hold no number of their own.
//
// For most uses, look a topic up with [Find] and call [Topic.Explain].
package explain

import (
	"embed"
	"fmt"
	"maps"
	"math"
	"strconv"
	"strings"
	"text/template"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling"
)

//go:embed topics/*.tmpl
var files embed.FS

// A Topic is a method that can be explained.
type Topic struct {
	Name    string
	Aliases []string
	data    func() (numbers, error) // computes what the worked number needs beside the example's
}

// A Text explains a topic.
type Text struct {
	Name, Title string
	What        []string // paragraphs
	Formula     string   // lines as they are
	Symbols     []Word   // of the formula
	Worked      []Piece  // with the numbers computed
	Source      string
	Try         []string // commands
}

// A Piece is a paragraph or a list.
type Piece struct {
	Text  string
	Items []string // of a list, which has no text
}

// Find returns the topic of a name or of one of its aliases, in any case.
func Find(name string) (Topic, bool) {
	name = strings.ToLower(strings.TrimSpace(name))
	for _, t := range Topics {
		for _, n := range append([]string{t.Name}, t.Aliases...) {
			if n == name {
				return t, true
			}
		}
	}
	return Topic{}, false
}

// Title returns what the topic is about, in a few words.
func (t Topic) Title() (string, error) {
	parsed, err := t.parse()
	if err != nil {
		return "", err
	}
	return section(parsed, "title", nil)
}

// Explain returns the text of the topic, with its numbers computed now.
func (t Topic) Explain() (Text, error) {
	parsed, err := t.parse()
	if err != nil {
		return Text{}, err
	}
	worked, err := t.data()
	if err != nil {
		return Text{}, fmt.Errorf("explain: %s: %w", t.Name, err)
	}
	data := example()
	maps.Copy(data, worked)
	parts := map[string]string{}
	for _, name := range sections {
		if parts[name], err = section(parsed, name, data); err != nil {
			return Text{}, err
		}
	}
	x := Text{Name: t.Name, Title: parts["title"], Formula: parts["formula"], Source: oneLine(parts["source"]), Try: strings.Split(parts["try"], "\n")}
	for p := range strings.SplitSeq(parts["what"], "\n\n") {
		x.What = append(x.What, oneLine(p))
	}
	for _, symbol := range strings.Fields(parts["symbols"]) {
		w, ok := word(symbol)
		if !ok {
			return Text{}, fmt.Errorf("explain: %s: the symbol %q is not in the glossary", t.Name, symbol)
		}
		x.Symbols = append(x.Symbols, w)
	}
	x.Worked = pieces(parts["worked"])
	return x, nil
}

// sections are the parts of a topic's file.
var sections = []string{"title", "what", "formula", "symbols", "worked", "source", "try"}

func (t Topic) parse() (*template.Template, error) {
	return template.New(t.Name).Funcs(figures).Option("missingkey=error").ParseFS(files, "topics/"+t.Name+".tmpl")
}

func section(t *template.Template, name string, data any) (string, error) {
	var b strings.Builder
	if err := t.ExecuteTemplate(&b, name, data); err != nil {
		return "", fmt.Errorf("explain: %w", err)
	}
	return strings.Trim(b.String(), "\n"), nil
}

func pieces(s string) []Piece {
	var out []Piece
	var text []string
	flush := func() {
		if len(text) > 0 {
			out = append(out, Piece{Text: strings.Join(text, " ")})
			text = nil
		}
	}
	for line := range strings.SplitSeq(s, "\n") {
		item, isItem := strings.CutPrefix(line, "- ")
		switch {
		case isItem:
			flush()
			if len(out) == 0 || out[len(out)-1].Text != "" {
				out = append(out, Piece{})
			}
			last := &out[len(out)-1]
			last.Items = append(last.Items, item)
		case strings.TrimSpace(line) == "":
			flush()
		default:
			text = append(text, strings.TrimSpace(line))
		}
	}
	flush()
	return out
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// figures write numbers in texts. A constant is what somebody chose, with the
// digits that it was given; the others are computed, and are rounded.
var figures = template.FuncMap{
	"constant": func(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) },
	"share":    report.Share,
	"percent":  report.Percent,
	"number":   func(x float64) string { return report.Number(x, 3) },
	"decimals": func(x float64) string { return report.Number(x, 5) },
	"minutes":  report.Minutes,
	"count":    func(n int) string { return strings.TrimSuffix(report.Count(n, "", ""), " ") },
	"interval": func(in sampling.Interval) string { return report.Percent(in.Lower) + " to " + report.Percent(in.Upper) },
	"list": func(list []int) string {
		var s []string
		for _, x := range list {
			s = append(s, strconv.Itoa(x))
		}
		return strings.Join(s, ", ")
	},
	"limit": func(x float64) string {
		if math.IsInf(x, 1) {
			return "no upper limit"
		}
		return report.Number(x, 3)
	},
}
