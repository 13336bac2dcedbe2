package studying

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/explain"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
)

// glossary is the topic that lists all terms.
const glossary = "words"

func studyExplain() shell.Question {
	return shell.Question{
		Name:      "explain",
		Usage:     "explain a method: the formula, its symbols, a worked number, the source",
		Arguments: "[TOPIC]",
		Words:     topicNames(),
		Description: `Without a topic it lists them. Every number in a text is computed while you read it. The topic words is the glossary: each term with its symbol and its meaning.

$ stopwise study explain
$ stopwise study explain clumping
$ stopwise study explain words`,
		Answer: func(_ context.Context, c *cli.Context) (report.Output, error) {
			switch name := strings.Join(c.Args().Slice(), "-"); {
			case name == "":
				return topicsOutput()
			case strings.EqualFold(name, glossary):
				return glossaryOutput(), nil
			default:
				return topicOutput(name)
			}
		},
	}
}

func topicNames() []string {
	var names []string
	for _, t := range explain.Topics {
		names = append(names, t.Name)
	}
	return append(names, glossary)
}

type topicsJSON struct {
	report.Envelope
	Topics []topicRow `json:"topics"`
}

type topicRow struct {
	Topic string `json:"topic"`
	Title string `json:"title"`
}

func topicsOutput() (report.Output, error) {
	j := topicsJSON{Envelope: report.Envelope{Kind: "stopwise study topics", Version: 1}}
	t := report.NewTable("", "topic", "about")
	add := func(name, title string) {
		t.Add(name, title)
		j.Topics = append(j.Topics, topicRow{name, title})
	}
	for _, topic := range explain.Topics {
		title, err := topic.Title()
		if err != nil {
			return report.Output{}, err
		}
		add(topic.Name, title)
	}
	add(glossary, "The glossary: every term with its symbol and meaning")
	d := &report.Document{}
	d.Heading("What can be explained")
	d.Table(t)
	d.Para("`stopwise study explain TOPIC` shows the formula, its symbols, a number worked out, and the source. Papers are named from memory: look them up before you cite them.")
	return report.Output{Doc: d, Records: report.RecordsOf(j.Topics), JSON: j}, nil
}

type wordJSON struct {
	Term    string  `json:"term"`
	Symbol  *string `json:"symbol"`
	Meaning string  `json:"meaning"`
}

type glossaryJSON struct {
	report.Envelope
	Words []wordJSON `json:"words"`
}

func wordsOf(words []explain.Word) []wordJSON {
	out := make([]wordJSON, len(words))
	for i, w := range words {
		out[i] = wordJSON{w.Term, nil, w.Meaning}
		if w.Symbol != "" {
			out[i].Symbol = &w.Symbol
		}
	}
	return out
}

func glossaryOutput() report.Output {
	t := report.NewTable("", "term", "symbol", "meaning")
	for _, w := range explain.Words {
		t.Add(w.Term, w.Symbol, w.Meaning)
	}
	d := &report.Document{}
	d.Heading("Words and symbols")
	d.Table(t)
	j := glossaryJSON{report.Envelope{Kind: "stopwise study words", Version: 1}, wordsOf(explain.Words)}
	return report.Output{Doc: d, Records: report.RecordsOf(j.Words), JSON: j}
}

type explainJSON struct {
	report.Envelope
	Topic   string     `json:"topic"`
	Title   string     `json:"title"`
	What    []string   `json:"what"`
	Formula []string   `json:"formula"`
	Symbols []wordJSON `json:"symbols"`
	Worked  []string   `json:"worked"`
	Source  string     `json:"source"`
	Try     []string   `json:"try"`
}

func topicOutput(name string) (report.Output, error) {
	topic, ok := explain.Find(name)
	if !ok {
		return report.Output{}, noTopic(name)
	}
	x, err := topic.Explain()
	if err != nil {
		return report.Output{}, err
	}
	j := explainJSON{
		Envelope: report.Envelope{Kind: "stopwise study explanation", Version: 1},
		Topic:    x.Name, Title: x.Title, What: x.What, Formula: strings.Split(x.Formula, "\n"), Symbols: wordsOf(x.Symbols), Source: x.Source, Try: x.Try,
	}
	d := &report.Document{}
	d.Heading(x.Title)
	for _, p := range x.What {
		d.Para("%s", p)
	}
	d.Picture(indented(x.Formula))
	t := report.NewTable("", "symbol", "meaning")
	for _, w := range x.Symbols {
		t.Add(w.Symbol, w.Term+": "+w.Meaning)
	}
	d.Table(t)
	d.Para("Worked out, for an invented field:")
	for _, p := range x.Worked {
		if p.Text != "" {
			d.Para("%s", p.Text)
			j.Worked = append(j.Worked, p.Text)
			continue
		}
		d.List(p.Items...)
		j.Worked = append(j.Worked, p.Items...)
	}
	d.Para("Source, named from memory: %s", x.Source)
	d.Para("Try:")
	d.Picture(indented(strings.Join(x.Try, "\n")))
	return report.Output{Doc: d, JSON: j}, nil
}

func indented(lines string) string { return "  " + strings.ReplaceAll(lines, "\n", "\n  ") }

func noTopic(name string) error {
	var names []string
	for _, t := range explain.Topics {
		names = append(names, t.Aliases...)
	}
	hint := "stopwise study explain lists them"
	if s := shell.Closest(name, append(names, topicNames()...)); s != "" {
		hint = "did you mean \"" + s + "\"?"
	}
	return shell.UsageHint(hint, "no topic %q", name)
}
