package card

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
)

// quickPlan designs by the textbook's lines, which takes no time.
func quickPlan(t testing.TB, p plans.Protocol) *plans.Plan {
	t.Helper()
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	plan.Program = "0.1.0"
	return plan
}

func cardOf(plan *plans.Plan) Card {
	return Card{
		Plan: plan, Stages: plan.Stages, Checksum: "sha256:0123456789abcdef",
		Cautions: []string{strings.Repeat("Cautions: a sampling plan informs a decision and does not make it. ", 5)},
		Broken:   make([]string, len(plan.Stages)), Fields: make([]string, len(plan.Stages)), Language: words.English(),
	}
}

func simpleProtocol() plans.Protocol {
	return plans.Protocol{
		Title:  "Trial",
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 2}, Stop: plans.DefaultStop, Clumping: plans.Clumping{Rho: &plans.Range{Low: .1, High: .1}, K: &plans.Range{Low: .8, High: .8}}}, []plans.Stage{{Measure: plans.ShareInfested, Lower: .15, Threshold: .22, Upper: .3, NeedlessRisk: .1, MissedRisk: .1}}...),
	}
}

func html(t testing.TB, c Card) []byte {
	t.Helper()
	text, err := c.HTML()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestCardIsOneSmallFile(t *testing.T) {
	text := html(t, demoCard())
	if len(text) >= 150_000 {
		t.Errorf("%d bytes, must be under 150,000", len(text))
	}
	outside := regexp.MustCompile(`(?i)https?:|\bsrc=|<link|@import|\burl\(|fetch\(|XMLHttpRequest|WebSocket|EventSource|sendBeacon|import\(|serviceWorker|<iframe|<img`)
	if found := outside.Find(text); found != nil {
		t.Errorf("the page holds %q", found)
	}
	if !IsCard(text) {
		t.Error("the page is not known as a card")
	}
	if IsCard([]byte("title = \"Russet thrips\"")) {
		t.Error("a protocol is taken for a card")
	}
}

// The policy must name the very script and style that the page carries, or a
// browser runs nothing.
func TestPolicyNamesTheScript(t *testing.T) {
	text := html(t, demoCard())
	policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindSubmatch(text)
	if policy == nil {
		t.Fatal("no policy")
	}
	for _, c := range []struct{ kind, tag, end string }{{"script-src", "<script>", "</script>"}, {"style-src", "<style>", "</style>"}} {
		_, rest, found := bytes.Cut(text, []byte(c.tag))
		body, _, closed := bytes.Cut(rest, []byte(c.end))
		if !found || !closed {
			t.Fatalf("no %s", c.tag)
		}
		sum := sha256.Sum256(body)
		if want := c.kind + " 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(string(policy[1]), want) {
			t.Errorf("policy %s lacks %s", policy[1], want)
		}
	}
	if !strings.Contains(string(policy[1]), "default-src 'none'") || strings.Contains(string(policy[1]), "unsafe") {
		t.Errorf("policy %s", policy[1])
	}
}

// Texts of a protocol are shown, never run.
func TestHostileTexts(t *testing.T) {
	const hostile = `</script><img src=x onerror="document.title='run'"> & "quoted" <!--`
	p := simpleProtocol()
	p.Title, p.Region, p.Stages[0].Unit.Text = hostile, hostile, hostile
	p.Stages[0].Name = hostile
	p.Stages[0].Sign = &plans.Sign{Text: hostile, Stops: 1}
	text := html(t, cardOf(quickPlan(t, p)))
	if bytes.Contains(text, []byte("<img")) {
		t.Error("the page holds the protocol's text as HTML")
	}
	_, rest, _ := bytes.Cut(text, []byte(`id="card-data">`))
	body, _, _ := bytes.Cut(rest, []byte("</script>"))
	var d data
	if err := json.Unmarshal(body, &d); err != nil {
		t.Fatal(err)
	}
	if d.Title != hostile || d.Stages[0].Name != hostile || d.Stages[0].Sign.Text != hostile {
		t.Errorf("the page's data hold %+v", d)
	}
}

// The number of sheets follows from where the pages break: after 40 stops beside
// the texts, after 56 on sheets of their own, as page.html and style.css set them.
// TestPrintsOnTheSheetsSaid holds it to what a browser prints.
func TestSheets(t *testing.T) {
	stops := func(n int) Card {
		return cardOf(quickPlan(t, simpleProtocol().Each(func(s *plans.Stage) { s.Stop.Maximum = n })))
	}
	wordy := stops(40)
	wordy.Cautions = append(wordy.Cautions, strings.Repeat("long ", mostLetters/5))
	book := stops(40)
	book.Cautions = append(book.Cautions, strings.Repeat("long ", sheetLetters/5))
	for want, c := range map[string]Card{
		"On one sheet, A4 or A5.":         stops(40),
		"On 2 sheets, A4 or A5.":          stops(41),
		"On 3 sheets, A4 or A5.":          stops(97),
		"On at least 3 sheets, A4 or A5.": book,
	} {
		if got := c.Sheets(c.Language); got != want {
			t.Errorf("%d stops: %s; want %s", c.longest(), got, want)
		}
	}
	if got := wordy.Sheets(wordy.Language); got != "On 2 sheets, A4 or A5." {
		t.Errorf("with long texts: %s", got)
	}
}

// Up to four tables stand beside each other; with more, those of a stage stay together.
func TestTablesBesideEachOther(t *testing.T) {
	of := func(names ...string) Card {
		var c Card
		for _, n := range names {
			c.Stages = append(c.Stages, &plans.StagePlan{Stage: plans.Stage{Name: n}})
		}
		return c
	}
	for want, c := range map[string]Card{
		"[[0 1 2 3]]":         of("a", "b", "c", "d"),
		"[[0 1 2]]":           of("a", "a", "a"),
		"[[0 1 2] [3 4 5]]":   of("a", "a", "a", "b", "b", "b"),
		"[[0 1 2 3] [4 5 6]]": of("a", "a", "b", "b", "c", "c", "c"),
		"[[0 1 2 3] [4]]":     of("a", "b", "c", "d", "e"),
	} {
		if got := fmt.Sprint(c.beside()); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
