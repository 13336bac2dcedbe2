package card

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/google/go-cmp/cmp"

	"stopwise/cmd/stopwise/internal/browsertest"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
)

// places returns where the buttons of the counting screen are.
const places = `["infested", "clean", "rest", "type", "undo", "done"].map(id => {
	const r = document.getElementById(id).getBoundingClientRect();
	return [r.left, r.top, r.width, r.height].map(Math.round).join(" ");
}).join("; ")`

// No button moves between taps, in three fonts and three text sizes at 360x640,
// through full stops of two digits.
func TestNothingMoves(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Do(chromedp.EmulateViewport(360, 640))
	p.Open(html(t, demoCard()))
	for _, font := range []string{"serif", "sans-serif", "monospace"} {
		for _, size := range []int{16, 20, 24} {
			browsertest.Eval[bool](p, fmt.Sprintf(`(document.documentElement.style.fontSize = "%dpx", document.body.style.fontFamily = %q, state = {version: 1, current: null, visits: [], saves: state.saves || 0}, save(), show(), true)`, size, font))
			start(p, "Long Meadow", 1)
			const taps = `(() => {
				const at = () => ` + places + `, first = at(), seen = [];
				const tapped = id => { document.getElementById(id).click(); const now = at(); if (now !== first) seen.push(id + ": " + now); };
				for (let stop = 1; stop < 4; stop++) {
					for (let i = 0; i < 12; i++) tapped(i % 6 === 0 && stop === 1 ? "infested" : "clean");
					for (const id of ["undo", "rest", "done"]) tapped(id);
				}
				return [first, ...seen.slice(0, 3)].join("\n");
			})()`
			if got := browsertest.Eval[string](p, taps); strings.Contains(got, "\n") {
				p.Picture("moved")
				t.Errorf("%s, %d pixels:\n%s", font, size, got)
			}
		}
	}
}

// Five taps at one place close one stop, and ask before they close a short one.
func TestShortStopAsks(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 1)
	tapPlants(p, 1, 0)
	p.Tap("#done")
	expect(t, p, "#short-title", "Stop 1 has 1 of 15 plants. Close it?")
	p.Tap("#short-no", "#rest", "#done")
	if got := browsertest.Eval[string](p, `visitOf(state.current).log.join(" ")`); got != "i r14 d" {
		t.Errorf("log %q", got)
	}
	tapPlants(p, 2, 3)
	p.Tap("#type")
	if got := browsertest.Eval[string](p, `document.getElementById("typed-total").value + "/" + document.getElementById("typed-plants").value`); got != "/15" {
		t.Errorf("totals begin as %q", got)
	}
}

// Taps that go on after the verdict change nothing.
func TestDoubleTapAtTheVerdict(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	start(p, "Long Meadow", 1)
	got := browsertest.Eval[string](p, `(() => {
		for (let stop = 0; stop < 3; stop++) add(visitOf(state.current), "t15/15/0");
		show();
		const before = JSON.stringify(state.visits);
		for (const id of ["finish", "walk-on", "undo-end", "give-up"]) document.getElementById(id).click();
		return String(JSON.stringify(state.visits) === before && !document.getElementById("end-part").hidden);
	})()`)
	if got != "true" {
		t.Error("a tap right after the verdict counted")
	}
	p.Do(chromedp.Poll[chromedp.Void](`performance.now() - endSince >= SETTLE`, chromedp.WithPollingInterval(50*time.Millisecond)))
	p.Tap("#walk-on")
	giveReason(p, "the edge looks clean")
	end(p, "#give-up")
	text := browsertest.Eval[string](p, "results()")
	cards, _, err := season.ReadCards(strings.NewReader(text))
	if err != nil || len(cards) != 1 || cards[0].Note != "after stop 3 walked on: the edge looks clean" {
		t.Errorf("%+v, %v", cards, err)
	}
}

// The stage is chosen anew for each field, and mended until the verdict.
func TestStageIsChosenAnew(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	p.Do(chromedp.SendKeys("#scout", "Ann"))
	start(p, "Long Meadow", 2)
	typed(p, 3, 15)
	names := browsertest.Eval[[]string](p, `card.stages.map(s => s.name)`)
	if got := p.Text("#counts-as"); !strings.HasPrefix(got, "Infested: ") {
		t.Errorf("in sight is %q", got)
	}
	browsertest.Eval[bool](p, `(() => { const s = document.getElementById("stage-choice"); s.value = card.stages[0].name; return s.dispatchEvent(new Event("change")); })()`)
	if got := browsertest.Eval[string](p, `visitOf(state.current).stage`); got != names[0] {
		t.Errorf("stage %q", got)
	}
	for range 2 {
		typed(p, 15, 15)
	}
	if !browsertest.Eval[bool](p, `document.getElementById("stage-choice").disabled`) {
		t.Error("the stage can be changed after the verdict")
	}
	end(p, "#finish")
	if n := browsertest.Eval[int](p, `document.querySelectorAll("input[name=stage]:checked").length`); n != 0 {
		t.Error("the stage of the last field is still chosen")
	}
	if got := browsertest.Eval[string](p, `results()`); !strings.Contains(got, `"scout":"Ann"`) {
		t.Errorf("the scout is not in %s", got)
	}
}

// Visits of another card on this phone are found and handed over with its plan.
func TestEarlierCards(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	p.Open(html(t, demoCard()))
	browsertest.Eval[bool](p, `(() => {
		const v = {id: newId(), field: "Old Field", stage: "s", date: "2026-07-01", changes: 2, log: ["t3/20/1", "t4/20/0"], note: "", finished: false, sent: ""};
		localStorage.setItem("stopwise card/sha256:00ff/s", JSON.stringify({version: 1, current: v.id, visits: [v]}));
		return true;
	})()`)
	p.Do(chromedp.Reload())
	if got := p.Text("#earlier-list"); !strings.HasPrefix(got, "Old Field, s, Wednesday 1 July, 2 stops, not finished.") {
		t.Errorf("%q", got)
	}
	cards, _, err := season.ReadCards(strings.NewReader(browsertest.Eval[string](p, "results()")))
	if err != nil || len(cards) != 1 || cards[0].Plan != "sha256:00ff" || cmp.Diff([]int{3, 4}, cards[0].Counts) != "" || cmp.Diff([]int{1, 0}, cards[0].Signs) != "" {
		t.Errorf("%+v, %v", cards, err)
	}
	p.Tap("#sent")
	if n := browsertest.Eval[int](p, `(findEarlier(), earlier.length)`); n != 0 {
		t.Error("it is shown again after it was handed over")
	}
	p.Do(chromedp.Reload())
	if got := browsertest.Eval[string](p, "results()"); got != "" {
		t.Errorf("handed over again: %s", got)
	}
}

// By hand: the day after December 31, and the day 3 days after February 27 of a
// year that is no leap year; July 1, 2026 is a Wednesday. Of three stages that last 2
// days each, the third, with a threshold below today's level, counts from the day
// on which the crop can be in it: this stage's time may be over, the second's 2
// days are not.
func TestDaysByHand(t *testing.T) {
	t.Parallel()
	proto := simpleProtocol()
	proto.Stages[0].Name, proto.Stages[0].LastsDays = "a", 2
	for i, threshold := range []float64{.22, .05} {
		s := proto.Stages[0]
		s.Name, s.Lower, s.Threshold, s.Upper = string(rune('b'+i)), threshold*.6, threshold, threshold*1.5
		proto.Stages = append(proto.Stages, s)
	}
	proto = proto.Each(func(s *plans.Stage) {
		s.ComingBack = &plans.ComingBack{DaysUntilFound: 7, DaysOnceFound: 3.5, LeadDays: 2, GrowthPerDay: .01}
	})
	p := browsertest.New(t)
	p.Open(html(t, cardOf(quickPlan(t, proto))))
	got := browsertest.Eval[string](p, `(() => {
		const to = daysToThreshold(card.stages[0], .1, .01);
		return [dateAfter("2026-12-31", 1), dateAfter("2026-02-27", 3), dateAfter("2026-07-01", 0), to.days, to.text].join("; ")
	})()`)
	if want := "Friday 1 January; Monday 2 March; Wednesday 1 July; 2; 5% of c"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	// Where the next stage, with the same threshold, is reached on the same day, this
	// stage's threshold is named; and where growth asks for the day of the interval, it is
	// the interval that does.
	got = browsertest.Eval[string](p, `(() => {
		card.all.length = 2;
		const to = daysToThreshold(card.all[0], .1, .01);
		upperLimit = () => ({level: .1, careful: false});
		return [to.text, ...[0, 1e-9].map(sooner => {
			growthDays = () => 9 - sooner; // the interval is 7 days, the lead 2
			return daysBack(card.stages[0], [{total: 0, plants: 20}], false).rule;
		})].join("; ");
	})()`)
	if want := "22%; interval; growth"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
