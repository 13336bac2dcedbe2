package main

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"stopwise/cmd/stopwise/internal/browsertest"
	"stopwise/cmd/stopwise/internal/handouts"
	catalogue "stopwise/cmd/stopwise/internal/words"
	"stopwise/cmd/stopwise/internal/words/wordstest"
	"stopwise/plans"
	marrowvale "stopwise/testdata/marrow-vale"
)

// cut lists texts that do not lie within the buttons and places that hide what
// sticks out, and placeholders that nobody filled.
const cut = `[...document.querySelectorAll("#screen *")].filter(e => e.offsetParent && getComputedStyle(e).clipPath === "none" && !["INPUT", "TEXTAREA", "SELECT", "OPTION"].includes(e.tagName)).flatMap(e => {
	const faults = [], box = e.getBoundingClientRect();
	if (e.id === "scroll" && e.scrollWidth > e.clientWidth) faults.push("wider than the phone: " + e.id);
	if (e.id !== "scroll" && (getComputedStyle(e).overflowX !== "visible" || e.tagName === "BUTTON")) {
		const rects = [], texts = document.createTreeWalker(e, NodeFilter.SHOW_TEXT);
		while (texts.nextNode()) {
			const text = document.createRange();
			text.selectNodeContents(texts.currentNode);
			if (!texts.currentNode.parentElement.closest(".unseen")) rects.push(...text.getClientRects());
		}
		// A line's box is higher than its letters.
		if (rects.some(r => r.width > 1 && (r.left < box.left - 1 || r.right > box.right + 1 || r.top < box.top - 5 || r.bottom > box.bottom + 5))) faults.push("cut: " + (e.id || e.tagName) + " " + e.textContent.trim());
	}
	if (e.children.length === 0 && /\{\{|undefined|<no value>/.test(e.textContent)) faults.push("unfilled: " + e.textContent.trim());
	return faults;
})`

// languageCards are the demo's cards in the languages that come along, and in one
// that is written from right to left.
func languageCards(t *testing.T) map[string][]byte {
	protocol, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.Design(context.Background(), protocol, plans.DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	plan.Program = "0.1.0"
	made, err := catalogue.Read(wordstest.Made("he", "rtl", "מלה", "one", "two", "other"))
	if err != nil {
		t.Fatal(err)
	}
	languages := []*catalogue.Language{made}
	for _, code := range catalogue.Codes {
		l, err := catalogue.Of(code)
		if err != nil {
			t.Fatal(err)
		}
		languages = append(languages, l)
	}
	cards := map[string][]byte{}
	for _, l := range languages {
		_, text, err := handouts.MakeCard(plan, plan.Stages, nil, l)
		if err != nil {
			t.Fatal(err)
		}
		cards[l.Tag()] = text
	}
	return cards
}

// On a small phone no word is cut, in any language (by default two, of which one has
// long words), from the first screen to the
// results, and nothing is wider than the phone.
func TestCardInEveryLanguage(t *testing.T) {
	t.Parallel()
	cards := languageCards(t)
	p := browsertest.New(t)
	p.Do(chromedp.EmulateViewport(360, 640))
	codes := append([]string{"he"}, catalogue.Codes...)
	if !*full {
		codes = []string{"he", "es"}
	}
	for _, code := range codes {
		p.Open(cards[code])
		direction := map[bool]string{true: "rtl", false: "ltr"}[code == "he"]
		if got := browsertest.Eval[string](p, `document.documentElement.lang + " " + document.documentElement.dir + " " + getComputedStyle(document.getElementById("walk-field")).direction`); got != code+" "+direction+" "+direction {
			t.Errorf("%s: the page is in %s", code, got)
		}
		browsertest.Eval[bool](p, `(state = {version: 1, current: null, visits: [], saves: state.saves || 0}, save(), show(), true)`)
		look := func(name string) {
			t.Helper()
			for _, fault := range browsertest.Eval[[]string](p, cut) {
				t.Errorf("%s, %s: %s", code, name, fault)
			}
			if browsertest.Eval[bool](p, `document.documentElement.scrollWidth > innerWidth`) {
				t.Errorf("%s, %s: the page is wider than the phone", code, name)
			}
			p.Picture(code + "-" + name)
		}
		begin := func(field string, stage int) {
			p.Type("#field", field)
			p.Tap(fmt.Sprintf("#stages label:nth-of-type(%d)", stage), "#new-form button[type=submit]")
		}
		stop := func(action string) {
			browsertest.Eval[bool](p, fmt.Sprintf(`(add(visitOf(state.current), %q), show(), true)`, action))
		}
		look("01-start")
		p.Tap("#new-form button[type=submit]")
		look("02-start-fault")
		begin("Long Meadow", 3)
		look("03-begin")
		for range 3 {
			p.Tap("#infested")
		}
		for range 9 {
			p.Tap("#clean")
		}
		look("04-mid-stop")
		p.Tap("#done")
		look("05-short")
		p.Tap("#short-no", "#rest", "#done")
		stop("t4/15/0")
		stop("t5/15/0")
		look("06-on")
		p.Tap("#type")
		look("07-type")
		p.Type("#typed-total", "16")
		p.Tap("#type-part button[type=submit]")
		look("08-type-fault")
		p.Tap("#type-cancel", "#stops-part summary", "#table-part summary")
		look("09-tables")
		for range 3 {
			stop("t9/15/0")
		}
		look("10-sign-missing")
		browsertest.Eval[bool](p, `(endSince -= SETTLE, true)`)
		p.Tap("#walk-on")
		look("11-why")
		p.Tap("#more-no", "#finish")
		begin("Mill Field", 1)
		for range 4 {
			stop("t9/15/0")
		}
		look("12-act")
		browsertest.Eval[bool](p, `(endSince -= SETTLE, true)`)
		p.Tap("#finish")
		begin("North", 1)
		for range 4 {
			stop("t0/15/0")
		}
		stop("t0/12/0")
		look("13-leave")
		browsertest.Eval[bool](p, `(endSince -= SETTLE, true)`)
		p.Tap("#finish")
		begin("South", 1)
		stop("t2/15/0")
		p.Tap("#to-start")
		look("14-fields")
		p.Do(chromedp.Evaluate[chromedp.Void](`document.getElementById("hand-over").scrollIntoView()`))
		look("15-hand-over")
		p.Do(chromedp.Evaluate[chromedp.Void](`document.getElementById("how-title").scrollIntoView()`))
		look("16-how")
		if n := p.Print(code+"-paper", chromedp.PaperA5); n != 1 {
			t.Errorf("%s: the paper takes %d sheets", code, n)
		}
		if text := browsertest.Eval[string](p, `document.documentElement.textContent`); code != "en" && strings.Contains(text, "Growth stage") {
			t.Errorf("%s: there is English on the card", code)
		}
	}
}

// The page chooses plural forms, and writes numbers, as the program does.
func TestCardCounts(t *testing.T) {
	t.Parallel()
	cards := languageCards(t)
	p := browsertest.New(t)
	for _, code := range catalogue.Codes {
		l, err := catalogue.Of(code)
		if err != nil {
			t.Fatal(err)
		}
		p.Open(cards[code])
		got := browsertest.Eval[[]string](p, `[...Array(130).keys(), 999, 1000, 1234, 1000000, 12345678].map(n => count("count.stops", n))`)
		numbers := append([]int{999, 1000, 1234, 1000000, 12345678}, make([]int, 130)...)
		for i := range 130 {
			numbers[5+i] = i
		}
		numbers = append(numbers[5:], numbers[:5]...)
		for i, n := range numbers {
			if want := l.Count("count.stops", n); got[i] != want {
				t.Errorf("%s: the card says %q, the program %q", code, got[i], want)
			}
		}
		got = browsertest.Eval[[]string](p, `[.5, 1, 1.5, 2, 3.5, 14].map(n => count("count.days", n))`)
		for i, n := range []float64{.5, 1, 1.5, 2, 3.5, 14} {
			if want := l.Days(n); got[i] != want {
				t.Errorf("%s: the card says %q, the program %q", code, got[i], want)
			}
		}
	}
}
