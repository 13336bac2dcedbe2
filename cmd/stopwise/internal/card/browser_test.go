package card

import (
	"context"
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/device"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"stopwise/cmd/stopwise/internal/browsertest"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
	marrowvale "stopwise/testdata/marrow-vale"
)

// demoCard returns the card of the invented region.
var demoCard = sync.OnceValue(func() Card {
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		panic(err)
	}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{})
	if err != nil {
		panic(err)
	}
	plan.Program = "0.1.0"
	return cardOf(plan)
})

func start(p *browsertest.Page, field string, stage int) {
	p.Type("#field", field)
	p.Tap(fmt.Sprintf("#stages label:nth-of-type(%d)", stage), "#new-form button[type=submit]")
}

func tapPlants(p *browsertest.Page, infested, clean int) {
	for range infested {
		p.Tap("#infested")
	}
	for range clean {
		p.Tap("#clean")
	}
}

func typed(p *browsertest.Page, total, plants int) {
	p.Tap("#type")
	fill(p, total, plants)
}

func fill(p *browsertest.Page, total, plants int) {
	p.Type("#typed-total", fmt.Sprint(total))
	p.Type("#typed-plants", fmt.Sprint(plants))
	p.Tap("#type-part button[type=submit]")
}

// settle puts the verdict back by the time in which taps after it do not count.
// TestDoubleTapAtTheVerdict waits for it.
func settle(p *browsertest.Page) { browsertest.Eval[float64](p, `endSince -= SETTLE`) }

// end taps a button that is there after a verdict.
func end(p *browsertest.Page, selector string) {
	settle(p)
	p.Tap(selector)
}

func walkOn(p *browsertest.Page, why string) {
	end(p, "#walk-on")
	giveReason(p, why)
}

func giveReason(p *browsertest.Page, why string) {
	p.Type("#more-why", why)
	p.Tap("#more-part button[type=submit]")
}

func expect(t *testing.T, p *browsertest.Page, selector, want string) {
	t.Helper()
	if got := strings.Join(strings.Fields(browsertest.Get(p, chromedp.TextContent(selector))), " "); got != want {
		p.Picture("fault")
		t.Fatalf("%s shows %q, want %q", selector, got, want)
	}
}

// The walk of the README, by tapping and typing. The words are those of check.
func TestWalk(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	p.Picture("1-start")
	inspect(t, p, "start")
	start(p, "Long Meadow", 1)
	p.Picture("2-begin")
	tapPlants(p, 3, 12)
	p.Tap("#done")
	typed(p, 1, 15)
	typed(p, 4, 15)
	tapPlants(p, 2, 6)
	p.Picture("3-mid-stop")
	inspect(t, p, "mid-stop")
	tapPlants(p, 0, 7)
	p.Picture("4-stop-full")
	inspect(t, p, "stop full")
	p.Tap("#done")
	expect(t, p, "#verdict-text", "WALK ON to stop 5: 10 infested of 60 plants at 4 stops, between leave (2) and act (14).")
	expect(t, p, "#verdict-next", "At stop 5 (15 plants) 6 infested or more brings act; leave is not possible there.")
	p.Picture("5-walk-on")
	p.Tap("#stops-part summary", "#table-part summary")
	p.Picture("6-tables")
	inspect(t, p, "tables")
	p.Tap("#type")
	p.Picture("7-type")
	inspect(t, p, "typing")
	p.Tap("#type-cancel")
	typed(p, 5, 15)
	typed(p, 3, 15)
	expect(t, p, "#verdict-text", "ACT, the threshold is taken as reached: 18 infested of 90 plants at 6 stops reaches the act number 17.")
	if got := p.Text("#remarks"); !strings.Contains(got, "Cautions:") {
		t.Errorf("act comes without cautions: %q", got)
	}
	p.Picture("8-act")
	inspect(t, p, "act")
	end(p, "#finish")

	start(p, "Mill Field", 3)
	p.Tap("#sign")
	p.Picture("9-sign")
	inspect(t, p, "sign")
	for range 2 {
		typed(p, 0, 15)
	}
	typed(p, 1, 13)
	if got := p.Text("#verdict-text"); !strings.HasPrefix(got, "LEAVE the field and come back: 1 infested of 43 plants at 3 stops") {
		t.Errorf("%q", got)
	}
	if got := p.Text("#verdict-back"); !strings.HasPrefix(got, "Come back in 1 day, on ") || !strings.HasSuffix(got, "check may give a later day.") {
		t.Errorf("%q", got)
	}
	p.Picture("10-leave")
	inspect(t, p, "leave")
	end(p, "#finish")
	p.Do(chromedp.Evaluate[chromedp.Void](`document.getElementById("done-title").scrollIntoView()`))
	p.Picture("11-finished")
	inspect(t, p, "finished")
	p.Do(chromedp.Evaluate[chromedp.Void](`document.getElementById("hand-over").scrollIntoView()`))
	p.Picture("12-hand-over")
	asked := p.Requests()
	if len(asked) == 0 {
		t.Error("no request was seen, not even that of the page itself")
	}
	for _, address := range asked {
		if !strings.HasPrefix(address, "file:") && !strings.HasPrefix(address, "data:") && !strings.HasPrefix(address, "blob:") {
			t.Errorf("the page asked for %s", address)
		}
	}
}

// The policy stops whoever tries to reach out from the page.
func TestPolicyHolds(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	const reach = `(async () => {
		const stopped = [];
		document.addEventListener("securitypolicyviolation", e => stopped.push(e.effectiveDirective));
		await fetch("https://field.invalid/").catch(() => {});
		await new Promise(r => { const i = new Image(); i.onload = i.onerror = r; i.src = "https://field.invalid/x.png"; });
		const s = document.createElement("script");
		s.textContent = "window.smuggled = true";
		document.body.append(s);
		await new Promise(r => setTimeout(r, 100));
		return [...stopped, String(window.smuggled)].join(" ");
	})()`
	if got := browsertest.Get(p, chromedp.Evaluate[string](reach, chromedp.EvalAwaitPromise)); got != "connect-src img-src script-src-elem undefined" {
		t.Errorf("stopped: %s", got)
	}
}

var full = flag.Bool("full", false, "look for faults of accessibility in every state, and print every card on every paper")

// states are those in which the default run looks for faults of accessibility, which
// takes the longest: together they show every part of the page.
var states = []string{"start", "mid-stop", "tables", "typing", "leave", "finished", "damaged", "insects"}

// inspect checks that fingers and screen readers can use what the page shows.
func inspect(t *testing.T, p *browsertest.Page, where string) {
	t.Helper()
	if wide := browsertest.Eval[bool](p, `document.documentElement.scrollWidth > innerWidth`); wide {
		t.Errorf("%s: the page is wider than the phone", where)
	}
	if small := p.SmallTargets(); len(small) > 0 {
		t.Errorf("%s: controls below 48 pixels: %s", where, strings.Join(small, "; "))
	}
	if !*full && !slices.Contains(states, where) {
		return
	}
	for _, fault := range p.Accessibility() {
		t.Errorf("%s: %s", where, fault)
	}
}

func TestNarrowPhone(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Do(chromedp.Emulate(device.IPhone5))
	p.Open(html(t, demoCard()))
	inspect(t, p, "narrow start")
	start(p, "A field with quite a long name beyond the old mill", 3)
	typed(p, 2, 15)
	p.Picture("small")
	inspect(t, p, "narrow walk")
	p.Tap("#clean", "#infested", "#sign", "#undo") // none is pushed off the screen
}

func TestReloadKeepsTheStop(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 3)
	typed(p, 6, 15)
	tapPlants(p, 2, 3)
	p.Tap("#sign")
	before := browsertest.Eval[string](p, `document.getElementById("walk").innerText`)
	p.Do(chromedp.Reload())
	if after := browsertest.Eval[string](p, `document.getElementById("walk").innerText`); after != before || !strings.Contains(after, "5 of 15 plants") {
		t.Errorf("after the reload:\n%s\nbefore:\n%s", after, before)
	}
	tapPlants(p, 1, 0)
	p.Tap("#done", "#short-yes")
	expect(t, p, "#verdict-text", "WALK ON to stop 3: 9 infested of 21 plants at 2 stops, no verdict before stop 3.")
}

// Each tap can be taken back, one by one, down to the empty visit.
func TestUndo(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 3)
	shown := func() string {
		return browsertest.Eval[string](p, `JSON.stringify([replay(visitOf(state.current).log), document.getElementById("walk").innerText])`)
	}
	var seen []string
	for _, step := range []func(){
		func() { p.Tap("#infested") }, func() { p.Tap("#clean") }, func() { p.Tap("#sign") }, func() { p.Tap("#done", "#short-yes") },
		func() { typed(p, 0, 15) }, func() { typed(p, 0, 15) }, func() { walkOn(p, "sure?") },
		func() { p.Tap("#infested") },
	} {
		seen = append(seen, shown())
		step()
	}
	for i := len(seen) - 1; i >= 0; i-- {
		settle(p)
		p.Tap(browsertest.Eval[string](p, `document.getElementById("end-part").hidden ? "#undo" : "#undo-end"`))
		if got := shown(); got != seen[i] {
			t.Fatalf("undo of step %d: %s\nwant %s", i, got, seen[i])
		}
	}
	if !browsertest.Eval[bool](p, `document.getElementById("undo").disabled`) {
		t.Error("there is still something to undo")
	}
}

// A correction of an earlier stop changes the verdict, and walking on after a
// verdict does not.
func TestCorrectionAndWalkingOn(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 1)
	for range 3 {
		typed(p, 5, 15)
	}
	expect(t, p, "#verdict-text", "ACT, the threshold is taken as reached: 15 infested of 45 plants at 3 stops reaches the act number 13.")
	walkOn(p, "to be sure")
	typed(p, 0, 15)
	expect(t, p, "#verdict-text", "ACT, the threshold is taken as reached, as decided at stop 3. By now 15 infested of 60 plants at 4 stops.")
	p.Tap("#stops-part summary", "#stops-rows tr:nth-child(2) button")
	expect(t, p, "#type-title", "Correct stop 2")
	fill(p, 16, 15)
	expect(t, p, "#type-fault", "16 infested of 15 plants cannot be.")
	fill(p, 2, 15)
	expect(t, p, "#verdict-text", "WALK ON to stop 5: 12 infested of 60 plants at 4 stops, between leave (2) and act (14).")
	typed(p, 1, 101)
	expect(t, p, "#type-fault", "101 plants at one stop, where 15 are planned? Tap again to take them.")
	fill(p, 1, 14)
	if got := browsertest.Eval[string](p, `visitOf(state.current).log.join(" ")`); got != "t5/15/0 t5/15/0 t5/15/0 w:to be sure t0/15/0 e2:2/15/0 t1/14/0" {
		t.Errorf("log %q: a correction must be added, not overwrite", got)
	}
}

func TestSeveralFieldsAndHandingOver(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.BeforeScripts(`navigator.share = async what => { window.shared = what.text; };`)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 1)
	typed(p, 3, 15)
	p.Tap("#to-start")
	const ticks = `["Long Meadow", "New"].map(name => {
		document.getElementById("field").value = name;
		document.getElementById("field").dispatchEvent(new Event("change"));
		return document.getElementById("found").checked;
	})`
	if got := browsertest.Eval[[]bool](p, ticks); !got[0] || got[1] {
		t.Errorf("found before, for a known field and for a new one: %v", got)
	}
	browsertest.Eval[bool](p, `(document.getElementById("field").value = "") === ""`)
	const hostile = `<b onclick="x">Mill</b> & "Field"`
	start(p, hostile, 3)
	for range 3 {
		typed(p, 5, 15)
	}
	p.Tap("#sign")
	typed(p, 14, 14)
	end(p, "#finish")
	expect(t, p, "#open-list button", "Long Meadow, leafing, "+browsertest.Eval[string](p, "dateText(today())")+"at stop 2, 3 infested of 15 plants so far")
	p.Tap("#open-list button")
	p.Do(chromedp.SendKeys("#note", "Rain"))
	p.Tap("#give-up")
	text := browsertest.Eval[string](p, `document.getElementById("results").value`)
	got, passed, err := season.ReadCards(strings.NewReader(text))
	if err != nil || passed != 0 || len(got) != 2 {
		t.Fatalf("%v, %d lines passed over, results:\n%s", err, passed, text)
	}
	want := []season.CardVisit{
		{Field: "Long Meadow", Stage: "leafing", Counts: []int{3}, Plants: []int{15}, Changes: 6, Note: "Rain"},
		{Field: hostile, Stage: "pod fill", Counts: []int{5, 5, 5, 14}, Plants: []int{15, 15, 15, 14}, Signs: []int{0, 0, 0, 1}, Changes: 6},
	}
	for i := range want {
		want[i].V, want[i].Plan, want[i].Date = season.CardVersion, demoCard().Checksum, browsertest.Eval[string](p, "today()")
	}
	if d := cmp.Diff(want, got, cmpopts.IgnoreFields(season.CardVisit{}, "ID")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	p.Tap("#download")
	if got := p.Text("#handed"); !strings.HasPrefix(got, "Saved 2 visits.") {
		t.Errorf("handed over: %q", got)
	}
	p.Tap("#copy")
	p.Do(chromedp.Poll[chromedp.Void](`!document.getElementById("handed").textContent.startsWith("Saved")`))
	if got := p.Text("#handed"); got != "Copied 2 visits. Send the text, then mark it as handed over." {
		t.Errorf("handed over: %q", got)
	}
	if sent := browsertest.Eval[bool](p, `state.visits.some(v => v.sent)`); sent {
		t.Error("what was copied counts as handed over")
	}
	p.Tap("#share")
	p.Do(chromedp.Poll[chromedp.Void](`document.getElementById("handed").textContent === "Shared 2 visits."`))
	if got := browsertest.Eval[string](p, "window.shared"); got != text {
		t.Errorf("shared %q, want %q", got, text)
	}
	p.Do(chromedp.Reload())
	p.Tap("#done-list .row button:last-child", "#done-list .row button:last-child")
	if n := browsertest.Eval[int](p, "state.visits.length"); n != 1 {
		t.Errorf("%d visits after one was removed", n)
	}
	p.Tap("#done-list .row button:first-child")
	expect(t, p, "#walk-field", "Long Meadow")
}

// Where the browser keeps nothing for files, the page says so, and its address
// keeps the entries through a reload.
func TestWithoutStorage(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.BeforeScripts(`Object.defineProperty(window, "localStorage", {get() { throw new DOMException("no", "SecurityError"); }})`)
	p.Open(html(t, demoCard()))
	if got := p.Text("#notices"); !strings.Contains(got, "keeps nothing") {
		t.Errorf("notices %q", got)
	}
	start(p, "Long Meadow", 1)
	typed(p, 3, 15)
	tapPlants(p, 1, 1)
	p.Do(chromedp.Reload())
	expect(t, p, "#verdict-text", "WALK ON to stop 2: 3 infested of 15 plants at 1 stop, no verdict before stop 3.")
	expect(t, p, "#now-plants", "2 of 15 plants")
}

// What cannot be read is set aside and shown, not lost.
func TestDamagedStorage(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	text := html(t, demoCard())
	p.Open(text)
	p.Do(chromedp.Evaluate[chromedp.Void](`localStorage.setItem(KEY, '{"version":1,"visits":[{"field":"Long Mea')`), chromedp.Reload())
	if got := browsertest.Eval[string](p, `document.querySelector("#notices textarea").value`); !strings.Contains(got, "Long Mea") {
		t.Errorf("shown %q", got)
	}
	inspect(t, p, "damaged")
	start(p, "Mill Field", 1)
	if got := browsertest.Eval[string](p, `Object.entries(localStorage).filter(([k]) => k.includes("unread")).map(([, v]) => v).join()`); !strings.Contains(got, "Long Mea") {
		t.Errorf("kept %q", got)
	}
}

// A full storage is told at once, on the screen where one counts.
func TestFullStorage(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 1)
	p.Do(chromedp.Evaluate[chromedp.Void](`Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); }`))
	tapPlants(p, 1, 0)
	if got := p.Text("#walk-notice"); !strings.Contains(got, "does not keep the entries") {
		t.Errorf("notice %q", got)
	}
	expect(t, p, "#infested-many", "1")
}

// Counts of insects are typed plant by plant.
func TestMeanPerLeaf(t *testing.T) {
	t.Parallel()
	proto := simpleProtocol()
	proto.Stages = plans.Everywhere(proto.Stages[0], plans.Stage{Name: "leafing", Measure: plans.MeanPerLeaf, Lower: 5, Threshold: 7, Upper: 10, NeedlessRisk: .1, MissedRisk: .1})
	proto = proto.Each(func(s *plans.Stage) { s.Clumping.CountRho = &plans.Range{} })
	p := browsertest.New(t)
	p.Open(html(t, cardOf(quickPlan(t, proto))))
	start(p, "Long Meadow", 1)
	p.Tap("#no-insects")
	p.Do(chromedp.SendKeys("#insects", "12"))
	p.Tap("#add-insects")
	expect(t, p, "#now-title + p", "12 insects on 2 of 20 plants")
	inspect(t, p, "insects")
	p.Picture("insects")
	p.Tap("#done", "#short-yes")
	if got := p.Text("#verdict-text"); !strings.Contains(got, "12 insects on 4 leaves at 1 stop") {
		t.Errorf("%q", got)
	}
}

func fixedPlan(t *testing.T, p plans.Protocol) *plans.Plan {
	t.Helper()
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Fixed})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// Looking at a stop ends once it has the most that it counts, by tapping as by the
// button for so many or more.
func TestCappedStop(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, cardOf(fixedPlan(t, simpleProtocol().Each(func(s *plans.Stage) {
		s.Name, s.Stop.Counting, s.Stop.Cap = "leafing", plans.CountCapped, 3
	})))))
	start(p, "Long Meadow", 1)
	inspect(t, p, "capped")
	p.Picture("capped")
	tapPlants(p, 2, 4)
	p.Tap("#infested")
	if got := browsertest.Eval[string](p, `["clean", "infested", "rest", "cap"].map(id => document.getElementById(id).disabled).join() + document.getElementById("done").className`); got != "true,true,true,truestrong" {
		t.Errorf("at the cap: %s", got)
	}
	p.Tap("#done", "#cap")
	tapPlants(p, 1, 19)
	p.Tap("#done")
	if got := browsertest.Eval[string](p, `JSON.stringify(replay(visitOf(state.current).log).stops.map(s => [s.total, s.plants]))`); got != "[[3,7],[3,20],[1,20]]" {
		t.Errorf("stops %s", got)
	}
	if got := p.Text("#verdict-text"); !strings.Contains(got, "at least 7 infested of up to 47 plants at 3 stops (counted as 7)") {
		t.Errorf("%q", got)
	}
}

// The page finds the points that the plan has, at the planned plants and at others.
func TestPointsOnTheCard(t *testing.T) {
	t.Parallel()
	plan := fixedPlan(t, simpleProtocol().Each(func(s *plans.Stage) { s.Name = "leafing"; s.Stop.SetCounting(plans.CountPoints) }))
	p := browsertest.New(t)
	p.Open(html(t, cardOf(plan)))
	w := plan.Stages[0].Worth
	for _, plants := range []int{1, 7, 20, 33, 400} {
		got := browsertest.Eval[[]int](p, fmt.Sprintf("pointsOf(card.stages[0].points, %d)", plants))
		if d := cmp.Diff(w.Map(plants), got); d != "" {
			t.Errorf("%d plants (-plan +card):\n%s", plants, d)
		}
	}
	start(p, "Long Meadow", 1)
	typed(p, 5, 20)
	if got := p.Text("#verdict-text"); !strings.Contains(got, "5 infested of 20 plants at 1 stop (5 points)") {
		t.Errorf("%q", got)
	}
	expect(t, p, "#total-head", "Points")
}

// A card prints on as many sheets as it says, with the picture of the stops too.
func TestPrintsOnTheSheetsSaid(t *testing.T) {
	t.Parallel()
	stops := func(n int) Card {
		return cardOf(quickPlan(t, simpleProtocol().Each(func(s *plans.Stage) { s.Stop.Maximum = n })))
	}
	one := demoCard()
	one.Stages, one.Broken = one.Stages[2:], []string{"This plan does NOT keep the promised risks."}
	mapped := demoCard()
	mapped.Map = &Map{Picture: `<svg viewBox="0 0 255 174" role="img" aria-label="a field"><rect width="255" height="174" fill="#ccc"/></svg>`, Note: "A field."}
	long := stops(40)
	long.Map = mapped.Map
	wordy, book := long, stops(26)
	for wordy.letters() < mostLetters-lineLetters {
		wordy.Cautions = append(wordy.Cautions, "Half of a sheet is full of texts like this one, which nobody reads.")
	}
	for book.letters() < sheetLetters-lineLetters {
		book.Cautions = append(book.Cautions, "A whole sheet is full of texts like this one, which nobody reads, and the stops come after it on another one.")
	}
	counted := func(points, stops int) Card {
		c := cardOf(fixedPlan(t, simpleProtocol().Each(func(s *plans.Stage) {
			s.Stop.Counting, s.Stop.Points, s.Stop.Minimum, s.Stop.Maximum = plans.CountPoints, points, stops, stops
		})))
		c.Worth = []string{"A stop counts points, up to so many: what so many found there say for 30% rather than 15% where rho is 0.1."}
		return c
	}
	for name, c := range map[string]Card{"demo": demoCard(), "mapped": mapped, "long": long, "one-stage": one, "wordy": wordy, "book": book, "more": stops(96), "most": stops(97),
		"points": counted(12, 38), "many points": counted(40, 40)} {
		t.Run(name, func(t *testing.T) {
			want, exact := c.sheets()
			if !exact {
				t.Fatal("no number of sheets is said")
			}
			p := browsertest.New(t)
			p.Open(html(t, c))
			for paper, size := range map[string]chromedp.PaperSize{"a4": chromedp.PaperA4, "a5": chromedp.PaperA5, "letter": chromedp.PaperLetter} {
				if paper != "letter" && name != "demo" && !*full {
					continue // letter, the lowest for its width, is full first
				}
				if n := p.Print(name+"-"+paper, size); n != want {
					t.Errorf("%s: %d sheets, said are %d", paper, n, want)
				}
			}
		})
	}
}

// By hand: a field without a find leaves at the plan's first stop with a verdict,
// and the one-sided 80% limit of n independent plants of which none is infested is
// 1 - 0.2^(1/n).
func TestNextVisitByHand(t *testing.T) {
	t.Parallel()
	proto := simpleProtocol()
	proto = proto.Each(func(s *plans.Stage) { s.Clumping.Rho = &plans.Range{} })
	proto.Stages[0].ComingBack = &plans.ComingBack{DaysUntilFound: 7, DaysOnceFound: 3.5, LeadDays: 2, GrowthPerDay: .25}
	plan := quickPlan(t, proto)
	first := plan.Stages[0].Table.First()
	if plan.Stages[0].Table.Verdict(first, 0) != plans.Leave {
		t.Fatal("no leave at the first verdict")
	}
	p := browsertest.New(t)
	p.Open(html(t, cardOf(plan)))
	got := browsertest.Eval[[]float64](p, fmt.Sprintf(`(() => {
		const stops = Array.from({length: %d}, () => ({total: 0, plants: 20, sign: false}));
		const share = card.stages[0], {level} = upperLimit(share, stops);
		return [growthDays(card.all[0], level, .25), daysBack(share, stops, false).days, daysBack(share, stops, true).days];
	})()`, first))
	limit := 1 - math.Pow(.2, 1/float64(20*first))
	reach := (math.Log(.22/.78) - math.Log(limit/(1-limit))) / .25
	want := []float64{reach, math.Floor(min(7, reach-2)), math.Floor(min(3.5, reach-2))}
	// The card's limit is that of the largest total with the same next visit.
	if got[1] != want[1] || got[2] != want[2] || got[0] > want[0]+1e-6 || got[0] < want[0]-1 {
		t.Errorf("%v, want %v", got, want)
	}
}
