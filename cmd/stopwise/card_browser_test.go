package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stopwise/cmd/stopwise/internal/browsertest"
	"stopwise/cmd/stopwise/internal/handouts"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	catalogue "stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
	"stopwise/plans/rule"
	marrowvale "stopwise/testdata/marrow-vale"
)

// A cardStop is a stop as the page's rule takes it.
type cardStop struct {
	Total  int  `json:"total"`
	Plants int  `json:"plants"`
	Sign   bool `json:"sign"`
}

type cardAnswer struct {
	Verdict     string     `json:"verdict"`
	Stop        int        `json:"stop"`
	Plants      int        `json:"plants"`
	Total       int        `json:"total"`
	Counted     int        `json:"counted"`
	Ended       int        `json:"ended"`
	Leave       *int       `json:"leave"`
	Act         *int       `json:"act"`
	Signs       int        `json:"signs"`
	SignMissing bool       `json:"signMissing"`
	DecidedAt   int        `json:"decidedAt"`
	Uneven      bool       `json:"uneven"`
	Next        *nextOnTop `json:"next"`
	Words       string     `json:"words"`
	NextWords   string     `json:"nextWords"`
	UnevenWords string     `json:"unevenWords"`
	Back        *cardBack  `json:"back"`
}

// A cardBack is the next visit.
type cardBack struct {
	Days     int     `json:"days"`
	Rule     string  `json:"rule"`
	Interval float64 `json:"interval"`
	Found    bool    `json:"found"`
	Careful  bool    `json:"careful"`
}

type nextOnTop struct {
	Plants int  `json:"plants"`
	Leave  *int `json:"leave"`
	Act    *int `json:"act"`
}

// reachable returns, for every stop and running total, of what the stops count, that a walk with the
// planned plants can reach, the counts of one walk that reaches it.
func reachable(s *plans.StagePlan, most int) [][]cardStop {
	type state struct{ stop, total int }
	walks := map[state][]cardStop{{}: nil}
	front := []state{{}}
	var all [][]cardStop
	for len(front) > 0 {
		at := front[0]
		front = front[1:]
		for n := range most + 1 {
			to := state{at.stop + 1, at.total + s.Worth.Value(n, s.Table.Units)}
			if _, known := walks[to]; known {
				continue
			}
			walk := append(append([]cardStop(nil), walks[at]...), cardStop{Total: n, Plants: s.Plants()})
			walks[to] = walk
			all = append(all, walk)
			if s.Table.Verdict(to.stop, to.total) == plans.Continue {
				front = append(front, to)
			}
		}
	}
	return all
}

// withSigns returns each walk with the sign at the first 0, 1, ... of its stops,
// up to one more than the rule asks for.
func withSigns(walks [][]cardStop, stops int) [][]cardStop {
	var all [][]cardStop
	for _, w := range walks {
		for k := range min(stops+1, len(w)) + 1 {
			signed := append([]cardStop(nil), w...)
			for i := range k {
				signed[i].Sign = true
			}
			all = append(all, signed)
		}
	}
	return all
}

// uneven returns walks of any numbers of plants, many of them near the planned
// ones and near the threshold, that go on after a verdict too.
func uneven(s *plans.StagePlan, random *rand.Rand, n int) [][]cardStop {
	var all [][]cardStop
	for range n {
		var walk []cardStop
		level := random.Float64() * s.Upper
		if random.IntN(2) == 0 {
			level = s.Lower + random.Float64()*(s.Upper-s.Lower)
		}
		for range 1 + random.IntN(s.Table.Stops()) {
			plants := 1 + random.IntN(2*s.Plants())
			if random.IntN(2) == 0 {
				plants = s.Plants()
			}
			if random.IntN(100) == 0 {
				plants = 1 + random.IntN(300)
			}
			level *= 0.5 + random.Float64()
			level = min(level, 2*s.Upper)
			total := int(level*float64(s.Units(plants)) + random.Float64())
			if s.Measure == plans.ShareInfested {
				total = min(total, plants)
			}
			walk = append(walk, cardStop{total, plants, s.Sign != nil && random.IntN(3) == 0})
		}
		all = append(all, walk)
	}
	return all
}

// The page decides and speaks as check does: in every state that the demo's plans can
// reach, for unequal plants, and for other kinds of plans. Without -full, and in other
// languages than English, a sixth of the states is asked, and each kind of plan but the
// demo's in one language, in turn; the rule does not depend on the language.
func TestCardSaysWhatCheckSays(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(2026, 9))
	protocol, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		t.Fatal(err)
	}
	p := browsertest.New(t)
	for nth, c := range []struct {
		name     string
		protocol plans.Protocol
		method   plans.Method
		most     int // at a stop, in the states that are all tried
	}{
		{"demo", protocol, plans.RiskTrue, protocol.Stages[0].Stop.Plants},
		{"lines from the first stop", cardProtocol(func(q *plans.Protocol) { q.Stages[0].Stop.Minimum = 1 }), plans.Lines, 20},
		{"sign that must be absent", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.Minimum, q.Stages[0].Stop.Maximum, q.Stages[0].Stop.Plants = 1, 5, 4
			q.Stages[0].Sign = &plans.Sign{Text: "parasitised insects", Stops: 2, Absent: true}
		}), plans.Lines, 4},
		{"fixed", cardProtocol(func(q *plans.Protocol) { q.Stages[0].Stop.Maximum = 40 }), plans.Fixed, 20},
		{"capped", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.Counting, q.Stages[0].Stop.Cap, q.Stages[0].Stop.Minimum = plans.CountCapped, 7, 2
		}), plans.RiskTrueLines, 20},
		{"points", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.SetCounting(plans.CountPoints)
			q.Stages[0].Stop.Minimum = 2
		}), plans.RiskTrueLines, 20},
		{"points and a sign", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.Counting, q.Stages[0].Stop.Points, q.Stages[0].Stop.Plants = plans.CountPoints, 15, 5
			q.Stages[0].NeedlessRisk, q.Stages[0].MissedRisk = .2, .2
			q.Stages[0].Sign = &plans.Sign{Text: "bronzed tips", Stops: 2}
		}), plans.Fixed, 5},
		{"points of insects", cardProtocol(func(q *plans.Protocol) {
			q.Stages = plans.Everywhere(q.Stages[0], plans.Stage{Name: "podding", Measure: plans.MeanPerLeaf, Lower: 2, Threshold: 3, Upper: 5, NeedlessRisk: .1, MissedRisk: .1})
			q.Stages[0].Stop.SetCounting(plans.CountPoints)
			q.Stages[0].Stop.Minimum = 2
		}), plans.RiskTrueLines, 0},
		{"insects capped", cardProtocol(func(q *plans.Protocol) {
			q.Stages = plans.Everywhere(q.Stages[0], plans.Stage{Name: "podding", Measure: plans.MeanPerLeaf, Lower: 2, Threshold: 3, Upper: 5, NeedlessRisk: .1, MissedRisk: .1})
			q.Stages[0].Stop.Counting, q.Stages[0].Stop.Cap, q.Stages[0].Stop.Minimum = plans.CountCapped, 150, 2
		}), plans.RiskTrueLines, 0},
		{"seven plants", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.Plants, q.Stages[0].Stop.Minimum, q.Stages[0].Stop.Maximum = 7, 2, 60
		}), plans.Lines, 7},
		{"three plants", cardProtocol(func(q *plans.Protocol) {
			q.Stages[0].Stop.Plants, q.Stages[0].Stop.Minimum, q.Stages[0].Stop.Maximum = 3, 1, 100
		}), plans.Lines, 3},
		{"insects", cardProtocol(func(q *plans.Protocol) {
			q.Stages = plans.Everywhere(q.Stages[0], plans.Stage{Name: "podding", Measure: plans.MeanPerLeaf, Lower: 2, Threshold: 3, Upper: 5, NeedlessRisk: .1, MissedRisk: .1})
		}), plans.Lines, 0},
		{"insects by Taylor's law, stages that pass", cardProtocol(func(q *plans.Protocol) {
			*q = q.Each(func(s *plans.Stage) { s.Clumping.K, s.Clumping.Taylor = nil, &plans.Taylor{A: 3, B: 1.4} })
			early := plans.Everywhere(q.Stages[0], plans.Stage{Name: "podding", Measure: plans.MeanPerLeaf, Lower: 2, Threshold: 3, Upper: 5, NeedlessRisk: .1, MissedRisk: .1, LastsDays: 4})[0]
			late := early
			late.Name, late.Threshold, late.LastsDays = "pod fill", 2.5, 0
			q.Stages[0].LastsDays = 3
			q.Stages = append(q.Stages, q.Stages[0], early, late)
			q.Stages = append(q.Stages[:2:2], q.Stages[1:]...)
			for i, name := range []string{"ripening", "budding"} {
				st := &q.Stages[i+1]
				st.Name, st.Lower, st.Threshold, st.Upper, st.LastsDays = name, .08, .12-.02*float64(i), .2, 4
			}
		}), plans.Lines, 0},
		{"tables by the last visit", byLast(t), "", 15},
	} {
		codes := catalogue.Codes
		if !*full && nth > 0 {
			codes = codes[nth%len(codes):][:1]
		}
		t.Run(c.name, func(t *testing.T) {
			plan, err := plans.Design(context.Background(), c.protocol, plans.DesignOptions{Method: c.method})
			if err != nil {
				t.Fatal(err)
			}
			var walksOf [][][]cardStop
			for _, s := range plan.Tables() {
				var walks [][]cardStop
				if c.most > 0 {
					walks = reachable(s, c.most)
				}
				if s.Sign != nil {
					walks = withSigns(walks, s.Sign.Stops)
				}
				walksOf = append(walksOf, append(walks, uneven(s, random, 60)...))
			}
			for _, code := range codes {
				l, err := catalogue.Of(code)
				if err != nil {
					t.Fatal(err)
				}
				_, page, err := handouts.MakeCard(plan, plan.Stages, nil, l)
				if err != nil {
					t.Fatal(err)
				}
				some := walksOf
				if !*full || code != catalogue.Codes[0] {
					some = everySixth(walksOf)
				}
				p.Open(page)
				for i, s := range plan.Tables() {
					t.Logf("%s, %s: %d states", code, s.Name, len(some[i]))
					compareCard(t, p, say.In{Language: l}, s, i, some[i])
				}
			}
			for i, s := range plan.Tables() {
				compareNumbers(t, p, s, i, random)
			}
		})
	}
}

// everySixth returns a sixth of each list of walks, and its last ones.
func everySixth(lists [][][]cardStop) [][][]cardStop {
	var some [][][]cardStop
	for _, walks := range lists {
		var few [][]cardStop
		for i, w := range walks {
			if i%6 == 0 || len(walks)-i <= 10 {
				few = append(few, w)
			}
		}
		some = append(some, few)
	}
	return some
}

// byLast is a protocol with three tables by what the last visit found.
func byLast(t *testing.T) plans.Protocol {
	t.Helper()
	p, err := plans.ReadProtocol([]byte(byLastText))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

const byLastText = `
[sample_unit]
text = "one plant"
[stop]
plants = 15
maximum_stops = 4
walk_minutes = 2.5
plant_minutes = 0.2
[clumping]
rho = 0.05
[coming_back]
lead_days = 1
days_until_found = 5
days_once_found = 3
[season]
weeks = 5
start = "1%"
growth = 0.15
needless = "40%"
late = "30%"
late_days = 3
tables = 3
[[stage]]
name = "leafing"
lower = "8%"
threshold = "14%"
upper = "22%"
`

// The card knows the table of a field that it has visited, and hands over with which
// table a visit was walked; the season file takes the next visit's table from it.
func TestCardTakesTableByLastVisit(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	dir := t.TempDir()
	protocol, planFile, file := filepath.Join(dir, "p.toml"), filepath.Join(dir, "plan.json"), filepath.Join(dir, "x.season")
	if err := os.WriteFile(protocol, []byte(byLastText), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, errOut := runIn(t, "", "design", protocol, "--out", planFile); status != 0 {
		t.Fatal(errOut)
	}
	text, err := os.ReadFile(planFile)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	_, page, err := handouts.MakeCard(plan, plan.Stages, nil, catalogue.English())
	if err != nil {
		t.Fatal(err)
	}
	p.Open(page)
	got := browsertest.Eval[map[string]string](p, `(() => {
		const out = {};
		const walk = (field, last, date, actions) => {
			const v = startVisit(field, card.stages.find(s => s.last === last), date, false);
			for (const a of actions) add(v, a);
			change(v, v => { v.finished = true; });
			return stageOf(v).last;
		};
		const picked = field => { document.getElementById("field").value = field; foundBefore(); return lastPicked(); };
		out.unknown = picked("North");
		out.walked = walk("North", "none", "2026-07-01", ["t0/15/0"]);
		out.none = picked("North");
		walk("South", "none", "2026-07-01", ["t7/15/0", "t0/15/0"]);
		out.more = picked("South");
		walk("South", "more", "2026-07-04", ["t0/15/0", "t0/15/0", "t0/15/0"]);
		out.little = picked("south");
		out.hidden = String(document.getElementById("found-part").hidden);
		return out;
	})()`)
	want := map[string]string{"unknown": "", "walked": "none", "none": "none", "more": "more", "little": "little", "hidden": "true"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +card):\n%s", d)
	}
	results := browsertest.Eval[string](p, "results()")
	if status, out, errOut := runIn(t, results, "season", "import", file, "-", "--plan", planFile); status != 0 || !strings.Contains(out, "3 new visits") {
		t.Fatal(status, out, errOut)
	}
	if status, _, errOut := runIn(t, "", "season", "verify", file); status != 0 {
		t.Error(errOut)
	}
	if status, out, errOut := runIn(t, "", "walk", planFile, "--season", file, "--field", "South", "--date", "2026-07-07"); status != 0 ||
		!strings.Contains(strings.Join(strings.Fields(out), " "), "The table for this field: found before, below") {
		t.Error(out, errOut)
	}
}

// twoStages returns a plan with two stages alike, each with tables by the last visit, whose
// stops count what w says.
func twoStages(plan *plans.Plan, w rule.Worth, moreFrom float64) *plans.Plan {
	two := *plan
	two.Stages = nil
	for _, name := range []string{"leafing", "podding"} {
		s := *plan.Stages[0]
		back := *s.ComingBack
		back.MoreFrom = moreFrom
		s.Name, s.Worth, s.ComingBack, s.ByLast = name, w, &back, nil
		for _, t := range plan.Stages[0].ByLast {
			own := *t
			own.Name, own.Worth, own.ComingBack = name, w, &back
			s.ByLast = append(s.ByLast, &own)
		}
		two.Stages = append(two.Stages, &s)
	}
	return &two
}

// With several stages the card takes the table that the season file would, from the visits
// that it knows of the field whatever their stage; where it knows none it asks.
func TestCardAsksWhatTheLastVisitFound(t *testing.T) {
	t.Parallel()
	plan, err := plans.Design(t.Context(), byLast(t), plans.DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	p := browsertest.New(t)
	random := rand.New(rand.NewPCG(2026, 11))
	points := rule.Worth{Points: &rule.Points{Lower: .08, Upper: .22, Rho: .05, Units: 15, Top: 12}}
	for _, c := range []struct {
		worth    rule.Worth
		moreFrom float64
	}{{rule.Worth{}, .1}, {points, 4.5}, {rule.Worth{Cap: 4}, 1.5}} {
		two := twoStages(plan, c.worth, c.moreFrom)
		_, page, err := handouts.MakeCard(two, two.Stages, nil, catalogue.English())
		if err != nil {
			t.Fatal(err)
		}
		p.Open(page)
		browsertest.Eval[bool](p, `(() => { state.visits = []; state.current = null; save(); show(); const date = document.getElementById("date"); date.value = "2026-07-20"; return date.dispatchEvent(new Event("input")); })()`)
		if got := browsertest.Eval[string](p, `(() => {
			document.getElementById("field").value = "New";
			foundBefore();
			const asked = document.getElementById("lasts").hidden;
			const radio = document.querySelector('input[name=stage][value=podding]');
			radio.checked = true;
			radio.dispatchEvent(new Event("change", {bubbles: true}));
			document.getElementById("new-form").dispatchEvent(new Event("submit", {cancelable: true}));
			return [asked, document.getElementById("lasts").hidden, lastPicked(), state.visits.length, document.getElementById("new-fault").textContent].join("|");
		})()`); got != "true|false||0|Say what earlier visits of this field found." {
			t.Errorf("an unknown field: %s", got)
		}
		for n := range 15 {
			var logs []string
			h, field := plans.History{}, fmt.Sprintf("Field %d", n)
			s := two.Stages[random.IntN(2)]
			for visit := range 1 + random.IntN(3) {
				var counts []plans.Count
				actions := []string{}
				for range 1 + random.IntN(3) {
					x := plans.Count{Total: random.IntN(3) * random.IntN(5), Plants: 12 + random.IntN(5)}
					counts = append(counts, x)
					actions = append(actions, fmt.Sprintf("t%d/%d/0", x.Total, x.Plants))
					h.Found = h.Found || x.Total > 0
				}
				h.Seen = s.Shown(counts)
				text, _ := json.Marshal(actions)
				logs = append(logs, fmt.Sprintf(`[%d, %q, %s]`, random.IntN(2)*3, fmt.Sprintf("2026-07-%02d", visit+1), text))
			}
			got := browsertest.Eval[string](p, fmt.Sprintf(`(() => {
				for (const [stage, date, actions] of [%s]) {
					const v = startVisit(%q, card.stages[stage], date, false);
					for (const a of actions) v.log.push(a);
				}
				startVisit(%[2]q, card.stages[0], "2026-07-25", false).log.push("t15/15/0"); // later than the visit to be
				const radio = document.querySelector('input[name=stage][value=%s]');
				radio.checked = true;
				radio.dispatchEvent(new Event("change", {bubbles: true}));
				document.getElementById("field").value = %[2]q;
				foundBefore();
				return lastPicked();
			})()`, strings.Join(logs, ","), field, s.Name))
			if want := s.Of(h).Last; plans.Last(got) != want {
				t.Errorf("counts %+v, visits %v: the card takes the table for %q, the season file that for %q", c.worth, logs, got, want)
			}
		}
	}
}

func cardProtocol(change func(*plans.Protocol)) plans.Protocol {
	p := plans.Protocol{
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 2}, Stop: plans.DefaultStop, Clumping: plans.Clumping{Rho: &plans.Range{Low: .1, High: .1}, K: &plans.Range{Low: .8, High: .8}, CountRho: &plans.Range{}}, ComingBack: &plans.ComingBack{DaysUntilFound: 14, DaysOnceFound: 5, LeadDays: 1, GrowthPerDay: .2, Confidence: .9}}, []plans.Stage{{Name: "leafing", Measure: plans.ShareInfested, Lower: .15, Threshold: .22, Upper: .3, NeedlessRisk: .1, MissedRisk: .1}}...),
	}
	change(&p)
	return p
}

func compareCard(t *testing.T, p *browsertest.Page, in say.In, s *plans.StagePlan, stage int, walks [][]cardStop) {
	t.Helper()
	arg, err := json.Marshal(walks)
	if err != nil {
		t.Fatal(err)
	}
	got := browsertest.Eval[[]cardAnswer](p, `(stage => `+string(arg)+`.map((stops, i) => {
		const a = decide(stage, stops);
		let back = a.verdict === "act" ? null : daysBack(stage, stops, i % 2 === 0);
		if (back) back = {...back, threshold: undefined};
		return {...a, back, units: undefined, words: verdictText(stage, a), nextWords: nextText(stage, a), unevenWords: unevenText(stage, a)};
	}))(card.stages[`+fmt.Sprint(stage)+`])`)
	if len(got) != len(walks) {
		t.Fatalf("%d answers to %d walks", len(got), len(walks))
	}
	wrong, uneven, sooner := 0, 0, 0
	defer func() {
		if uneven > 0 {
			t.Logf("unequal plants: sooner than check by %.2f days on average of %d", float64(sooner)/float64(uneven), uneven)
		}
	}()
	for i, walk := range walks {
		counts := make([]plans.Count, len(walk))
		for j, c := range walk {
			counts[j] = plans.Count{Total: c.Total, Plants: c.Plants, Sign: c.Sign}
		}
		a, err := s.Check(counts)
		if err != nil {
			t.Fatal(err)
		}
		want := wantedAnswer(in, s, a)
		r := s.RevisitAfter(a, plans.History{Found: i%2 == 0})
		switch card := got[i].Back; {
		case r == nil || a.Verdict == plans.Act || a.Verdict == plans.Continue && (s.Measure == plans.MeanPerLeaf && s.Worth.Plain() || a.Uneven):
		case !a.Uneven:
			want.Back = &cardBack{Days: r.Days, Rule: string(r.Rule), Interval: r.Interval, Found: r.Found}
		case card == nil || card.Days > r.Days || card.Found != r.Found:
			t.Errorf("%v: the card comes back %+v, check in %d days", walk, card, r.Days)
		default: // careful
			uneven++
			sooner += r.Days - card.Days
			want.Back = card
		}
		if d := cmp.Diff(want, got[i]); d != "" {
			t.Errorf("%v (-check +card):\n%s", walk, d)
			if wrong++; wrong == 5 {
				t.FailNow()
			}
		}
	}
}

// compareNumbers compares the numbers at any units, also beyond 2^53 on the way.
func compareNumbers(t *testing.T, p *browsertest.Page, s *plans.StagePlan, stage int, random *rand.Rand) {
	t.Helper()
	type numbers struct {
		Stop, Units int
		Leave, Act  *int
	}
	var want []numbers
	for range 2000 {
		n := numbers{Stop: 1 + random.IntN(s.Table.Stops()), Units: 1 + random.IntN(s.Table.Units*s.Table.Stops()*2)}
		if random.IntN(5) == 0 {
			n.Units = 1 + random.IntN(1_000_000_000_000)
		}
		leave, act := s.Table.At(n.Stop, n.Units)
		n.Leave, n.Act = report.OrNull(leave, plans.NeverLeave), report.OrNull(act, plans.NeverAct)
		want = append(want, n)
	}
	arg, err := json.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	got := browsertest.Eval[[]numbers](p, `(t => `+string(arg)+`.map(n => {
		const {leave, act} = numbersAt(t, n.Stop, BigInt(n.Units));
		return {Stop: n.Stop, Units: n.Units, Leave: leave < 0n ? null : Number(leave), Act: act === null ? null : Number(act)};
	}))(tableOf(card.stages[`+fmt.Sprint(stage)+`]))`)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-plan +card):\n%s", d)
	}
}

func wantedAnswer(in say.In, s *plans.StagePlan, a plans.Answer) cardAnswer {
	w := cardAnswer{
		Verdict: a.Verdict.String(), Stop: a.Stop, Plants: a.Plants, Total: a.Total, Counted: a.Counted, Ended: a.Ended,
		Leave: report.OrNull(a.Leave, plans.NeverLeave), Act: report.OrNull(a.Act, plans.NeverAct),
		Signs: a.Signs, SignMissing: a.SignMissing, DecidedAt: a.DecidedAt, Uneven: a.Uneven,
		Words: in.VerdictSentence(s, a),
	}
	if a.Uneven {
		w.UnevenWords = in.Uneven(s)
	}
	if n := a.Next; n != nil {
		w.Next = &nextOnTop{n.Plants, report.OrNull(n.Leave, plans.NeverLeave), report.OrNull(n.Act, plans.NeverAct)}
		w.NextWords = in.NextSentence(s, a)
	}
	return w
}

// What a card hands over is read into a season file, where every verdict is the
// card's, and handing over the same again adds nothing.
func TestCardIntoSeason(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	plan, err := plans.Design(context.Background(), cardProtocol(func(q *plans.Protocol) {
		q.Stages[0].Sign = &plans.Sign{Text: "bronzed tips", Stops: 1}
	}), plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	planFile, file := filepath.Join(dir, "plan.json"), filepath.Join(dir, "2026.season")
	if err := shell.WritePlan(planFile, plan); err != nil {
		t.Fatal(err)
	}
	_, page, err := handouts.MakeCard(plan, plan.Stages, nil, catalogue.English())
	if err != nil {
		t.Fatal(err)
	}
	p.Open(page)
	const walk = `(field, actions) => {
		const v = startVisit(field, card.stages.find(s => s.name === "leafing"), "2026-07-01", false);
		for (const a of actions) add(v, a);
		change(v, v => { v.finished = true; });
		return decide(stageOf(v), replay(v.log).stops).verdict;
	}`
	want := browsertest.Eval[map[string]string](p, `(walk => ({
		"North": walk("North", ["t0/20/0", "t0/20/0", "t0/20/0", "t1/18/0"]),
		"East \"hill\", <b>": walk("East \"hill\", <b>", ["t9/20/0", "t9/20/1", "t8/20/0", "t9/20/0"]),
		"South": walk("South", ["t9/20/0", "t9/20/0", "t8/20/0", "t9/20/0"]),
		"West": walk("West", ["t9/20/0", "t3/20/0", "e1:4/20/0"]),
	}))(`+walk+`)`)
	if want["North"] != "leave" || want[`East "hill", <b>`] != "act" || want["South"] != "leave" || want["West"] != "continue" {
		t.Fatalf("the card's verdicts are %v", want)
	}
	text := "Here are mine:\n" + browsertest.Eval[string](p, "results()")
	for _, added := range []string{"4 new visits", "0 new visits, 4 already there"} {
		if status, out, errOut := runIn(t, text, "season", "import", file, "-", "--plan", planFile); status != 0 || !strings.Contains(out, added) {
			t.Fatalf("%d %q %q, want %q", status, out, errOut, added)
		}
	}
	_, out, _ := runIn(t, "", "season", "list", file, "--format", "json")
	var list struct {
		Visits []struct{ Field, Verdict string }
	}
	if err := json.Unmarshal([]byte(out), &list); err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, v := range list.Visits {
		got[v.Field] = v.Verdict
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-card +season):\n%s", d)
	}
	if status, _, errOut := runIn(t, "", "season", "verify", file); status != 0 {
		t.Error(errOut)
	}
}
