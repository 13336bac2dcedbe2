// Package card makes the field card of a plan: one HTML file that a scout's phone
// shows without a network, and that prints on one page.
//
// For most uses, fill a [Card] and call its HTML method. The page carries the
// plan's decision tables as data and reads every verdict from them.
package card

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
)

//go:embed page.html
var pageText string

//go:embed style.css
var style string

// The page's program: rule.js decides, words.js says it, back.js finds the next
// visit, visits.js keeps what was typed, fields.js and stops.js show it on two screens, and
// screen.js begins.
var (
	//go:embed rule.js
	ruleText string
	//go:embed words.js
	wordsText string
	//go:embed back.js
	backText string
	//go:embed visits.js
	visitsText string
	//go:embed fields.js
	fieldsText string
	//go:embed stops.js
	stopsText string
	//go:embed screen.js
	screenText string
)

var page = sync.OnceValue(func() *template.Template { return template.Must(template.New("card").Parse(pageText)) })

// generator marks the files that this package made.
const generator = "stopwise card"

// A Card is what a field card is made from.
type Card struct {
	Plan     *plans.Plan
	Stages   []*plans.StagePlan // the stages on the card, at least one
	Checksum string             // names the plan by its content
	Route    string             // how a field is walked
	Cautions []string
	Language *words.Language
	Map      *Map // where the stops are; nil where that is not laid out
	// Fields says for each of the stages for which fields its table is, where a stage has
	// several by what earlier visits found, and Which how to take one; else empty.
	Fields []string
	Which  string
	// Broken holds, for each stage, in which risks its plan does not keep the
	// promise; "" where it keeps them.
	Broken []string
	// Worth says, for each stage, what a stop counts; "" where that is what was found.
	// nil is "" for all.
	Worth []string
}

func (c Card) worth(stage int) string {
	if c.Worth == nil {
		return ""
	}
	return c.Worth[stage]
}

// A Map shows where the stops of a visit are.
type Map struct {
	Picture string   // an SVG element without styles; it stands in the page as it is
	Note    string   // what it is of
	Places  []string // of the stops, in words; none in a field that stands for any
}

// SVG returns the picture for the page.
func (m *Map) SVG() template.HTML { return template.HTML(m.Picture) }

// HTML returns the card as a page that is complete in itself: its policy forbids
// it to load anything or to send anything anywhere.
func (c Card) HTML() ([]byte, error) {
	script := strings.Join([]string{"\"use strict\";", ruleText, wordsText, backText, visitsText, fieldsText, stopsText, screenText}, "\n")
	css := style + fmt.Sprintf("\n:root { --rows: %d; --shrink: %s; }\n", min(c.lines(), OnePage), report.Fixed(c.shrink(), 2))
	p := c.Plan.Protocol
	d, err := c.data()
	if err != nil {
		return nil, err
	}
	onPaper := c.print()
	onPaper.Tables, onPaper.Sheets, onPaper.Map = c.tables(), c.Sheets(c.Language), c.mapOnPaper()
	view := view{
		Generator: generator,
		Policy:    template.HTMLAttr(`content="` + policy(script, css) + `"`),
		Style:     template.CSS(css),
		Script:    template.JS(script),
		Title:     c.title(),
		Region:    p.Region, Season: p.Season, Against: c.against(),
		Data: d, Print: onPaper, Cautions: c.Cautions, Language: c.Language, Map: c.Map,
	}
	var b bytes.Buffer
	if err := page().Execute(&b, view); err != nil {
		return nil, fmt.Errorf("card: %w", err)
	}
	return b.Bytes(), nil
}

// Sheets says in a language on how many sheets the card prints.
func (c Card) Sheets(l *words.Language) string {
	switch n, exact := c.sheets(); {
	case n == 1:
		return l.Say("paper.sheet")
	case !exact:
		return l.Count("paper.sheets_least", n)
	default:
		return l.Count("paper.sheets", n)
	}
}

// The texts beside the table fit on the sheet with usualLetters letters, and in
// smaller type with up to mostLetters. With more they have sheets of their own, of
// sheetLetters. The picture of the stops takes the room of mapLetters. All as
// printing in a browser showed.
const usualLetters, mostLetters, sheetLetters, mapLetters = 1100, 1700, 4500, 300

// lineLetters is about a line of the sheet.
const lineLetters = 100

// sheets returns the number of sheets, and whether it is that and no more.
func (c Card) sheets() (n int, exact bool) {
	tables := c.tables()
	n, exact = len(tables), true
	if tables[0].More {
		n++ // the texts
	}
	if texts := (c.letters() + sheetLetters - 1) / sheetLetters; texts > 1 {
		n, exact = n+texts-1, false // the texts run on over sheets as they come
	}
	return n, exact
}

// letters returns how long the texts beside the table are, in full lines.
func (c Card) letters() int {
	p, n := c.print(), 0
	for _, text := range slices.Concat(p.Steps, p.Remarks, c.Cautions) {
		n += (utf8.RuneCountInString(text) + lineLetters - 1) / lineLetters * lineLetters
	}
	if c.Map != nil && n+mapLetters <= mostLetters {
		n += mapLetters
	}
	return n
}

// mapOnPaper reports whether the picture of the stops stands on the sheet too: a
// second sheet it is not worth.
func (c Card) mapOnPaper() bool {
	bare := c
	bare.Map = nil
	return c.letters() > bare.letters()
}

// shrink returns the size of these texts, as a share of the usual one.
func (c Card) shrink() float64 {
	return max(.75, min(1, math.Sqrt(usualLetters/float64(max(1, c.letters())))))
}

// tables sets the stops on sheets: the first beside the texts, where these leave it room.
func (c Card) tables() []printTable {
	var out []printTable
	for n, of := range c.beside() {
		t := c.table(of)
		rows := t.Rows
		if n == 0 && c.letters() <= mostLetters {
			k := min(len(rows), OnePage-pointLines*len(c.pointRows()))
			out, rows = append(out, printTable{t.Stages, rows[:k], false}), rows[k:]
		}
		for page := range slices.Chunk(rows, morePage) {
			out = append(out, printTable{t.Stages, page, true})
		}
	}
	return out
}

// IsCard reports whether a file was made by this package.
func IsCard(text []byte) bool {
	return bytes.Contains(text[:min(len(text), 2000)], []byte(`<meta name="generator" content="`+generator+`">`))
}

type view struct {
	Generator     string
	Policy        template.HTMLAttr
	Style         template.CSS
	Script        template.JS
	Title, Region string
	Season        string
	Against       string
	Data          data
	Print         print
	Cautions      []string
	Language      *words.Language
	Map           *Map
}

// A tableView is a view of one of the tables on paper.
type tableView struct {
	view
	Table printTable
}

// Set returns what a table on paper is set from.
func (v view) Set(t printTable) tableView { return tableView{v, t} }

// T says a sentence of the page.
func (v view) T(id string) string { return v.Language.Say(id) }

func (c Card) title() string {
	if t := c.Plan.Protocol.Title; t != "" {
		return t
	}
	return c.Language.Say("card.title")
}

// against names the pest and the crop, as far as the protocol does.
func (c Card) against() string {
	p := c.Plan.Protocol
	switch {
	case p.Crop == "":
		return p.Pest
	case p.Pest == "":
		return p.Crop
	}
	return c.Language.Say("paper.pest_in_crop", "Pest", p.Pest, "Crop", p.Crop)
}

// policy returns a Content-Security-Policy that runs this script and this style
// and nothing else, and allows no connection at all.
func policy(script, css string) string {
	hash := func(s string) string {
		h := sha256.Sum256([]byte(s))
		return "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"
	}
	return "default-src 'none'; script-src " + hash(script) + "; style-src " + hash(css) + "; base-uri 'none'; form-action 'none'"
}

// OnePage is the largest number of stops at which the printed card fits on one
// sheet and can still be read.
const OnePage = 40

// lines returns how many lines of the sheet the tables take: a row for each stop, and
// those of the points.
func (c Card) lines() int { return c.longest() + pointLines*len(c.pointRows()) }

// morePage is the number of stops on a sheet with nothing else on it.
const morePage = 56

// longest returns the number of stops of the longest table.
func (c Card) longest() int {
	n := 0
	for _, s := range c.Stages {
		n = max(n, s.Table.Stops())
	}
	return n
}
