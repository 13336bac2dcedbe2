package plans

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// reachable calls f for every pair of a stop and a total that a visit can come to,
// with counts that lead there without a verdict before.
func reachable(t Table, f func(counts []int, total int)) {
	paths := map[int][]int{0: nil}
	for stop := 1; stop <= t.Stops(); stop++ {
		next := map[int][]int{}
		for total, counts := range paths {
			for x := 0; x <= t.Units; x++ {
				if _, ok := next[total+x]; !ok {
					next[total+x] = append(append([]int(nil), counts...), x)
				}
			}
		}
		paths = map[int][]int{}
		for total, counts := range next {
			f(counts, total)
			if total > t.Leave[stop-1] && total < t.Act[stop-1] {
				paths[total] = counts
			}
		}
	}
}

func planned(counts []int) []Count {
	out := make([]Count, len(counts))
	for i, x := range counts {
		out[i] = Count{Total: x}
	}
	return out
}

// checkState compares the answer in one state with the table itself.
func checkState(t rapid.TB, s *StagePlan, counts []int, total int) {
	t.Helper()
	seen := planned(counts)
	for i := range seen {
		seen[i].Sign = s.Sign != nil // the count decides when the sign is everywhere
	}
	a, err := s.Check(seen)
	if err != nil {
		t.Fatalf("%v: %v", counts, err)
	}
	table, stop := s.Table, len(counts)
	want := Continue
	if total <= table.Leave[stop-1] {
		want = Leave
	} else if total >= table.Act[stop-1] {
		want = Act
	}
	if a.Verdict != want || a.Verdict != table.Verdict(stop, total) {
		t.Fatalf("%v: %v, the table says %v", counts, a.Verdict, want)
	}
	decided := 0
	if want != Continue {
		decided = stop
	}
	act := table.Act[stop-1]
	if act > stop*table.Units && stop < table.Stops() {
		act = NeverAct // no such number of plants was seen
	}
	if a.Stop != stop || a.Total != total || a.Plants != stop*table.Units || a.Leave != table.Leave[stop-1] || a.Act != act || a.DecidedAt != decided || a.Uneven || a.Risks != nil {
		t.Fatalf("%v: %+v", counts, a)
	}
	if !near(a.Seen(s), float64(total)/float64(stop*table.Units), 1e-15) || a.Interval.Lower > a.Estimate || a.Interval.Upper < a.Limit || a.Limit < a.Estimate {
		t.Fatalf("%v: seen %g, known %+v", counts, a.Seen(s), a.Known)
	}
	if want != Continue {
		if a.Next != nil || a.FromHere != nil {
			t.Fatalf("%v: %v, but %+v", counts, want, a)
		}
		return
	}
	next := Next{Plants: table.Units, Leave: NeverLeave, Act: NeverAct}
	for x := table.Units; x >= 0; x-- {
		switch rule.Read(total+x, table.Leave[stop], table.Act[stop]) {
		case Leave:
			next.Leave = max(next.Leave, x)
		case Act:
			next.Act = x
		}
	}
	if *a.Next != next {
		t.Fatalf("%v: next stop %+v, the table says %+v", counts, *a.Next, next)
	}
	if f := a.FromHere; !near(f.ActAtLower+f.LeaveAtLower, 1, 1e-12) || !near(f.ActAtUpper+f.LeaveAtUpper, 1, 1e-12) || f.ActAtUpper < f.ActAtLower-1e-12 {
		t.Fatalf("%v: %+v", counts, *f)
	}
}

// The answer agrees with the table in every state a visit can come to.
func TestCheckEveryState(t *testing.T) {
	plan := linesPlan(t, shippedProtocol(t))
	stages := append([]*StagePlan(nil), plan.Stages...)
	for _, minimum := range []int{1, 10} {
		stages = append(stages, shareStage(workedTable(t, minimum), 0.15, 0.30, Range{Low: 0, High: 0.1}))
	}
	stages = append(stages, shareStage(nistLines(t).Table(1, 1, 60, true), 0.01, 0.10, Range{Low: 0, High: 0}))
	for i, s := range stages {
		states := 0
		reachable(s.Table, func(counts []int, total int) {
			states++
			checkState(t, s, counts, total)
		})
		if states < s.Table.Stops() {
			t.Errorf("plan %d: only %d states", i, states)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 5, 5)
		s := shareStage(table, 0.2, 0.4, Range{Low: 0, High: 0.2})
		reachable(table, func(counts []int, total int) {
			checkState(t, s, counts, total)
			checkFromHere(t, s, counts, total)
		})
	})
}

// checkFromHere compares the chances from a state with a listing of all that can
// follow.
func checkFromHere(t rapid.TB, s *StagePlan, counts []int, total int) {
	t.Helper()
	a, err := s.Check(planned(counts))
	if err != nil {
		t.Fatalf("%v: %v", counts, err)
	}
	if a.Verdict != Continue {
		return
	}
	numbers := func(j int) (int, int) { return s.Table.Leave[j], s.Table.Act[j] }
	plants := func(int) int { return s.Table.Units }
	clump := s.Clumped(0.2).Clump
	lower := urn{0.2, clump}.list(len(counts), total, s.Table.Stops(), plants, numbers)
	upper := urn{0.4, clump}.list(len(counts), total, s.Table.Stops(), plants, numbers)
	f := a.FromHere
	if f.Clump != (ClumpValue{Value: clump}) || !near(f.ActAtLower, lower.act, 1e-13) || !near(f.LeaveAtLower, lower.leave, 1e-13) || !near(f.ActAtUpper, upper.act, 1e-13) || !near(f.LeaveAtUpper, upper.leave, 1e-13) {
		t.Fatalf("%v: %+v, listed %+v, %+v", counts, *f, lower, upper)
	}
}

// With plants missing the chances from here, the next stop's numbers and the risks
// are those of the path walked.
func TestCheckUneven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 4, 3)
		s := shareStage(table, 0.2, 0.4, Range{Low: 0.1, High: 0.2})
		seen := rapid.SliceOfN(rapid.IntRange(1, 5), 1, table.Stops()).Draw(t, "seen")
		counts := make([]Count, len(seen))
		total, plants, want, decided, uneven := 0, 0, Continue, 0, false
		leave, act := 0, 0
		for i, m := range seen {
			x := rapid.IntRange(0, m).Draw(t, "infested")
			counts[i] = Count{Total: x, Plants: m}
			total, plants = total+x, plants+m
			uneven = uneven || m != table.Units
			leave, act = table.At(i+1, plants)
			if want == Continue {
				if want = rule.Read(total, leave, act); want != Continue {
					decided = i + 1
				}
			}
		}
		a, err := s.Check(counts)
		if err != nil {
			t.Fatal(err)
		}
		if act > plants && len(seen) < table.Stops() {
			act = NeverAct // no such number of plants was seen
		}
		if a.Verdict != want || a.DecidedAt != decided || a.Total != total || a.Plants != plants || a.Leave != leave || a.Act != act || a.Uneven != uneven || (a.Risks != nil) != uneven {
			t.Fatalf("%v: %+v; want %v at %d, %d, %d", counts, a, want, decided, leave, act)
		}
		if want != Continue {
			return
		}
		later := func(int) int { return table.Units }
		numbers := func(j int) (int, int) { return table.At(j+1, plants+(j+1-len(seen))*table.Units) }
		for x := 0; x <= table.Units; x++ {
			leave, act := numbers(len(seen))
			v := rule.Read(total+x, leave, act)
			if (v == Leave) != (a.Next.Leave != NeverLeave && x <= a.Next.Leave) || (v == Act) != (x >= a.Next.Act) {
				t.Fatalf("%v then %d: %v, but next %+v", counts, x, v, *a.Next)
			}
		}
		l := urn{0.2, 0.2}.list(len(seen), total, table.Stops(), later, numbers)
		u := urn{0.4, 0.2}.list(len(seen), total, table.Stops(), later, numbers)
		f := a.FromHere
		if !near(f.ActAtLower, l.act, 1e-13) || !near(f.LeaveAtLower, l.leave, 1e-13) || !near(f.ActAtUpper, u.act, 1e-13) || !near(f.LeaveAtUpper, u.leave, 1e-13) {
			t.Fatalf("%v: %+v, listed %+v, %+v", counts, *f, l, u)
		}
	})
}

func TestCheckAnswers(t *testing.T) {
	s := shareStage(workedTable(t, 2), 0.15, 0.30, Range{Low: 0, High: 0.1})
	a, err := s.Check([]Count{{Total: 4}, {Total: 5}}) // stop 2: 6, 12; stop 3: 10, 16
	if err != nil {
		t.Fatal(err)
	}
	if a.Verdict != Continue || *a.Next != (Next{Plants: 20, Leave: 1, Act: 7}) || a.Seen(s) != 9.0/40 {
		t.Errorf("%+v", a)
	}
	// A verdict stays where it came, whatever is counted later.
	a, err = s.Check([]Count{{Total: 1}, {Total: 2}, {Total: 20}, {Total: 20}})
	if err != nil {
		t.Fatal(err)
	}
	if a.Verdict != Leave || a.DecidedAt != 2 || a.Stop != 4 || a.Total != 43 {
		t.Errorf("%+v", a)
	}
	if b, err := s.Check([]Count{{Total: 1}, {Total: 2}}); err != nil || a.Known != b.Known {
		t.Errorf("known %+v, %v at the verdict and %+v two stops later", b.Known, err, a.Known)
	}
	// No verdict at stop 1; seven of eighteen plants instead of twenty.
	a, err = s.Check([]Count{{Total: 0}, {Total: 7, Plants: 18}})
	if err != nil {
		t.Fatal(err)
	}
	if !a.Uneven || a.Plants != 38 || a.Leave != 5 || a.Act != 12 || a.Verdict != Continue || len(a.Risks) != clumpGrid {
		t.Errorf("%+v", a)
	}
}

// A mean per leaf.
func TestCheckMean(t *testing.T) {
	p := Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 2}, Stop: StopRules{Plants: 5, Minimum: 2, Maximum: 8}, Clumping: Clumping{K: &Range{Low: 0.8, High: 2}, CountRho: &Range{}}}, []Stage{{Name: "leafing", Measure: MeanPerLeaf, Lower: 2, Threshold: 3, Upper: 4, NeedlessRisk: 0.1, MissedRisk: 0.1}}...),
	}
	s := linesPlan(t, p).Stages[0]
	if s.Table.Units != 10 || s.Plants() != 5 || s.Units(4) != 8 {
		t.Fatalf("%d units, %d plants", s.Table.Units, s.Plants())
	}
	reached := 0
	for total := range 200 {
		a, err := s.Check([]Count{{Total: 0}, {Total: total}})
		if err != nil {
			t.Fatal(err)
		}
		if a.Verdict != s.Table.Verdict(2, total) {
			t.Errorf("%d insects: %v, the table says %v", total, a.Verdict, s.Table.Verdict(2, total))
		}
		if a.Verdict != Continue {
			continue
		}
		reached++
		if mean := float64(total) / 20; !near(a.Seen(s), mean, 1e-14) || a.Interval.Lower > a.Estimate || a.Limit < a.Estimate || a.Interval.Upper < a.Limit {
			t.Errorf("%d insects: %g, %+v", total, a.Seen(s), a.Known)
		}
		if want := s.Table.Leave[2] - total; a.Next.Leave != want && !(want < 0 && a.Next.Leave == NeverLeave) {
			t.Errorf("%d insects: next %+v", total, *a.Next)
		}
		if want := s.Table.Act[2] - total; a.Next.Act != want {
			t.Errorf("%d insects: next %+v, want act at %d", total, *a.Next, want)
		}
	}
	if reached == 0 {
		t.Error("no total goes on")
	}
	// By hand: no insect is seen on 20 leaves with a chance of (1 + mu/0.8)^-16, which
	// is q at mu = 0.8 (q^(-1/16) - 1).
	none := func(q float64) float64 { return 0.8 * (math.Pow(q, -1./16) - 1) }
	if a, err := s.Check([]Count{{}, {}}); err != nil || a.Interval.Lower != 0 || !near(a.Interval.Upper, none(.025), 1e-8) || !near(a.Limit, none(.2), 1e-8) || !near(a.Estimate, none(.5), 1e-8) {
		t.Errorf("no insects: %+v, %v", a, err)
	}
	// More insects than plants are no fault; four plants are eight leaves.
	a, err := s.Check([]Count{{Total: 40, Plants: 4}})
	if err != nil {
		t.Fatal(err)
	}
	if a.Seen(s) != 5 || a.Plants != 4 || !a.Uneven || a.FromHere.Clump != (ClumpValue{Counts: true, Value: 0.8}) {
		t.Errorf("%+v", a)
	}
	// A visit that would take forever to compute is refused.
	many := make([]Count, 8)
	for i := range many {
		many[i].Plants = protocol.MaxPlants
	}
	if _, err := s.Check(many); fmt.Sprint(err) != "80000 plants in all; accepted: up to 62500" {
		t.Errorf("80000 plants: %v", err)
	}
	// A count no leaf could carry is answered all the same, at once.
	a, err = s.Check([]Count{{Total: math.MaxInt32}})
	if err != nil || a.Verdict != Continue || a.FromHere.ActAtLower != 1 || *a.Next != (Next{Plants: 5, Leave: NeverLeave, Act: 0}) {
		t.Errorf("%+v, %v", a, err)
	}
}

// Never leave >= act, and no verdict before the minimum, whatever was seen.
func TestCheckNeverContradicts(t *testing.T) {
	plan := linesPlan(t, shippedProtocol(t))
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(plan.Stages).Draw(t, "stage")
		counts := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Count {
			m := rapid.IntRange(1, 60).Draw(t, "plants")
			return Count{Total: rapid.IntRange(0, m).Draw(t, "infested"), Plants: m}
		}), 1, s.Table.Stops()).Draw(t, "counts")
		a, err := s.Check(counts)
		if err != nil {
			t.Fatal(err)
		}
		if a.Leave >= a.Act {
			t.Fatalf("leave %d, act %d", a.Leave, a.Act)
		}
		if len(counts) < 3 && a.Verdict != Continue || len(counts) == s.Table.Stops() && a.Verdict == Continue {
			t.Fatalf("%v after %d stops", a.Verdict, len(counts))
		}
		for _, r := range a.Risks {
			if !(r.Needless >= 0 && r.Needless <= 1 && r.Missed >= 0 && r.Missed <= 1) {
				t.Fatalf("risk %+v", r)
			}
		}
	})
}

func TestCheckRefuses(t *testing.T) {
	s := shareStage(workedTable(t, 2), 0.15, 0.30, Range{Low: 0, High: 0})
	for _, c := range []struct {
		counts []Count
		want   string
	}{
		{nil, "no counts; give one for each stop, for example 3 5 2/18"},
		{make([]Count, 21), "21 counts, but the plan ends at stop 20"},
		{[]Count{{Total: 3}, {Total: 21}}, "stop 2: 21 infested of 20 plants; write 21/PLANTS if more plants were seen"},
		{[]Count{{Total: 3, Plants: 2}}, "stop 1: 3 infested of 2 plants; write 3/PLANTS if more plants were seen"},
		{[]Count{{Total: 3, Plants: 10001}}, "stop 1: 10001 plants; accepted: up to 10000"},
		{[]Count{{Total: -1}}, "stop 1: -1 of 0; accepted: 0 or more"},
		{[]Count{{Total: 1, Plants: -1}}, "stop 1: 1 of -1; accepted: 0 or more"},
	} {
		_, err := s.Check(c.counts)
		if got := fmt.Sprint(err); got != c.want {
			t.Errorf("%v: %q, want %q", c.counts, got, c.want)
		}
	}
}

func TestParseCount(t *testing.T) {
	for in, want := range map[string]Count{
		"3": {Total: 3, Plants: 0}, "0": {Total: 0, Plants: 0}, "2/18": {Total: 2, Plants: 18}, " 2/18 ": {Total: 2, Plants: 18}, "3s": {Total: 3, Sign: true}, "3S": {Total: 3, Sign: true}, "2/18s": {Total: 2, Plants: 18, Sign: true}, "+4": {Total: 4, Plants: 0}, "007": {Total: 7, Plants: 0}, "2147483647": {Total: math.MaxInt32, Plants: 0},
	} {
		if got, err := ParseCount(in); err != nil || got != want {
			t.Errorf("ParseCount(%q) = %+v, %v", in, got, err)
		}
	}
	whole, slash := "write a whole number of 0 or more, or seen/plants such as 2/18", "after the slash write the plants seen, 1 or more"
	for in, want := range map[string]string{
		"": whole, "x": whole, "-1": whole, "1.5": whole, "1,5": whole, "2147483648": whole, "++1": whole, "/18": whole, "1 8": whole, "0x3": whole, "1_0": whole,
		"2/": slash, "2/0": slash, "2/x": slash, "2/-3": slash, "2/18/3": slash,
	} {
		_, err := ParseCount(in)
		if got, want := fmt.Sprint(err), fmt.Sprintf("count %q: %s", in, want); got != want {
			t.Errorf("ParseCount(%q): %q, want %q", in, got, want)
		}
	}
}
