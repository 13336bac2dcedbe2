package validate

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/combin"

	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// openData returns clusters of plants, litters or herds from an open dataset
// carried by a general-purpose package, as one field of stops.
func openData(data string) pilot.Field {
	text, err := os.ReadFile("../testdata/ref/fits.json")
	if err != nil {
		panic(err)
	}
	var ref struct {
		Sets []struct {
			Literature string   `json:"literature"`
			Rows       [][2]int `json:"rows"` // found, examined
		} `json:"beta_binomial"`
	}
	if err := json.Unmarshal(text, &ref); err != nil {
		panic(err)
	}
	for _, set := range ref.Sets {
		if strings.HasSuffix(set.Literature, "data "+data) {
			f := pilot.Field{Name: data}
			for _, r := range set.Rows {
				f.Stops = append(f.Stops, pilot.Stop{Infested: r[0], Plants: r[1]})
			}
			return f
		}
	}
	panic("no data " + data)
}

// state is where a visit stands.
type state struct{ units, total int }

// exactResampling computes what Resample simulates: the chance of every total
// and number of plants from stop to stop.
func exactResampling(s *plans.StagePlan, f pilot.Field) (act, stops float64) {
	most := s.Plants()
	one := map[state]float64{} // what a stop can show
	for _, x := range f.Stops {
		if x.Plants <= most {
			one[state{x.Plants, x.Infested}] += 1 / float64(len(f.Stops))
			continue
		}
		for got := max(0, most-x.Plants+x.Infested); got <= min(most, x.Infested); got++ {
			p := choose(x.Infested, got) * choose(x.Plants-x.Infested, most-got) / choose(x.Plants, most)
			one[state{most, got}] += p / float64(len(f.Stops))
		}
	}
	now := map[state]float64{{}: 1}
	for j := 1; j <= s.Table.Stops(); j++ {
		next := map[state]float64{}
		for at, p := range now {
			stops += p
			for x, q := range one {
				to := state{at.units + x.units, at.total + x.total}
				leave, actAt := s.Table.At(j, to.units)
				switch {
				case to.total <= leave:
				case to.total >= actAt:
					act += p * q
				default:
					next[to] += p * q
				}
			}
		}
		now = next
	}
	return act, stops
}

func choose(n, k int) float64 { return combin.GeneralizedBinomial(float64(n), float64(k)) }

// TestResampleOpenData resamples open data: the herds of the R package lme4, data
// cbpp (56 herd visits, 99 of 842 animals), and the litters of the R package VGAM,
// data lirat (58 litters, 267 of 607 fetuses). They stand in for fields whose
// stops have all sizes. The second route is exact.
func TestResampleOpenData(t *testing.T) {
	p := protocol(plans.Range{Low: .12, High: .12}, 12, 12)
	s := stagePlan(t, p, plans.Lines)
	for _, c := range []struct {
		name  string
		share float64
		zone  Zone
	}{
		{"cbpp", 99. / 842, Low},
		{"lirat", 267. / 607, High},
	} {
		f := openData(c.name)
		rs, err := Resample(context.Background(), s, []pilot.Field{f}, Options{Visits: 20000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		r := rs[0]
		if r.Zone != c.zone || math.Abs(r.Level-c.share) > 1e-12 {
			t.Errorf("%s: level %v, zone %v", c.name, r.Level, r.Zone)
		}
		act, stops := exactResampling(s, f)
		nearChance(t, c.name+" act", r.Visits.ActChance(), act)
		nearMean(t, c.name+" stops", r.Visits.MeanStops(), stops)
		want := act
		if c.zone == High {
			want = 1 - act
		}
		nearChance(t, c.name+" wrong", r.Wrong, want)
		if act < .002 || act > .998 {
			t.Errorf("%s: P(act) = %v says nothing", c.name, act)
		}
	}
}

// TestResampleInvented does so with the invented fields, whose stops have the
// planned number of plants: then the exact evaluation itself is the second route.
func TestResampleInvented(t *testing.T) {
	s := stagePlan(t, protocol(plans.Range{Low: .1, High: .1}, 15, 20), plans.Lines)
	fields := inventedFields(t)
	rs, err := Resample(context.Background(), s, fields, Options{Visits: 10000, Seed: 4})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rs {
		seen := make(sampling.Discrete, 16)
		for _, x := range fields[i].Stops {
			seen[x.Infested] += 1 / float64(len(fields[i].Stops))
		}
		e := plans.Evaluate(s.Table, population{seen, fields[i].Share()})
		nearChance(t, r.Name, r.Visits.ActChance(), e.Act)
		nearMean(t, r.Name, r.Visits.MeanStops(), e.ExpectedStops)
		if want := r.Visits.ActChance(); r.Level <= s.Lower && r.Wrong != want {
			t.Errorf("%s: wrong %v, want %v", r.Name, r.Wrong, want)
		}
	}
	pools := Pools(rs)
	n := 0
	for _, p := range pools {
		n += p.Fields
		sum, fieldsIn := 0.0, 0
		for _, r := range rs {
			if r.Zone == p.Zone {
				sum += r.Wrong.Value
				fieldsIn++
			}
		}
		if fieldsIn == 0 || fieldsIn != p.Fields || math.Abs(p.Wrong.Value-sum/float64(fieldsIn)) > 1e-12 {
			t.Errorf("%v: pool %+v, mean of the fields %v of %d", p.Zone, p, sum/float64(fieldsIn), fieldsIn)
		}
	}
	if n != len(fields) {
		t.Errorf("%d fields in the pools", n)
	}
}

// population is a field whose stops are drawn from those that were seen.
type population struct {
	stop  sampling.Discrete
	level float64
}

func (p population) Level() float64              { return p.level }
func (p population) Stop(int) sampling.StopTotal { return p.stop }

// TestResampleCounts draws plants, with all their leaves, from counted stops.
func TestResampleCounts(t *testing.T) {
	s := stagePlan(t, counts(.8), plans.Lines)
	var f pilot.Field
	for j := range 6 {
		var stop pilot.Stop
		for i := range 10 {
			stop.PlantCounts = append(stop.PlantCounts, pilot.PlantCount{Leaves: 2, Insects: (7*i + 5*j) % 23})
		}
		stop.Plants = 10
		f.Stops = append(f.Stops, stop)
	}
	rs, err := Resample(context.Background(), s, []pilot.Field{f}, Options{Visits: 20000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	seen := make(sampling.Discrete, 300)
	insects := 0
	for _, x := range f.Stops {
		sum := 0
		for _, p := range x.PlantCounts {
			sum += p.Insects
		}
		insects += sum
		seen[sum] += 1. / 6
	}
	level := float64(insects) / 120
	if math.Abs(rs[0].Level-level) > 1e-12 {
		t.Errorf("level %v, want %v", rs[0].Level, level)
	}
	e := plans.Evaluate(s.Table, population{seen, level})
	nearChance(t, "act", rs[0].Visits.ActChance(), e.Act)
	nearMean(t, "stops", rs[0].Visits.MeanStops(), e.ExpectedStops)

	if _, err := Resample(context.Background(), s, []pilot.Field{openData("cbpp")}, Options{Visits: 10}); err == nil {
		t.Error("shares were taken for counts")
	}
	if _, err := Resample(context.Background(), s, []pilot.Field{{Name: "empty"}}, Options{Visits: 10}); err == nil {
		t.Error("a field without stops was accepted")
	}
}

// TestSeenCountsDrawsEvenly: of five plants each comes as often as the others.
func TestSeenCountsDrawsEvenly(t *testing.T) {
	var x seenCounts
	for i := range 5 {
		x = append(x, pilot.PlantCount{Leaves: 1, Insects: 1 << (4 * i)})
	}
	r := newRand(1, 1, 1)
	var times [5]float64
	const n = 50000
	for range n {
		total, plants, units := x.draw(r, 2)
		if plants != 2 || units != 2 {
			t.Fatalf("%d plants, %d leaves", plants, units)
		}
		for i := range times {
			times[i] += float64(total >> (4 * i) & 1)
		}
	}
	for i, c := range times {
		if math.Abs(c/n-.4) > sigmas*math.Sqrt(.4*.6/n) {
			t.Errorf("plant %d was drawn in %v of the draws, want 0.4", i, c/n)
		}
	}
	if total, plants, _ := x.draw(r, 9); plants != 5 || total != 0x11111 {
		t.Error("a short stop was not taken whole")
	}
}

// The litters of the R package VGAM, data lirat, as if each were a stop of a
// field: how often would a plan for 15% against 30% leave it? Exactly it is 24.7%
// of the visits, by the second route of TestResampleOpenData; this seed is 1.9
// standard errors off.
func ExampleResample() {
	p := protocol(plans.Range{Low: .1, High: .1}, 12, 12)
	plan, _ := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	fields := []pilot.Field{openData("lirat")}
	results, _ := Resample(context.Background(), plan.Stages[0], fields, Options{Visits: 10000, Seed: 1})
	r := results[0]
	fmt.Printf("%.0f%% found, %s; wrong in %.1f%% of the visits (standard error %.1f%%)\n",
		100*r.Level, zoneWords[r.Zone], 100*r.Wrong.Value, 100*r.Wrong.SE())
	// Output: 44% found, at or above the upper bound; wrong in 23.9% of the visits (standard error 0.4%)
}

// A field exactly at a bound is one that the promise speaks of: at the lower bound
// act is wrong, at the upper bound leave.
func TestResampleAtTheBounds(t *testing.T) {
	s := usualPlan(t)
	of := func(name string, share float64) pilot.Field {
		return pilot.Field{Name: name, Stops: []pilot.Stop{{Plants: 100, Infested: int(math.Round(100 * share))}}}
	}
	rs, err := Resample(t.Context(), s, []pilot.Field{of("lower", s.Lower), of("upper", s.Upper), of("between", s.Threshold)}, Options{Visits: 200, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		level float64
		zone  Zone
	}{{s.Lower, Low}, {s.Upper, High}, {s.Threshold, Between}} {
		if rs[i].Level != want.level || rs[i].Zone != want.zone {
			t.Errorf("%s: level %v, zone %v, want %v, %v", rs[i].Name, rs[i].Level, rs[i].Zone, want.level, want.zone)
		}
	}
	if rs[0].Wrong.Value != rs[0].Visits.ActChance().Value || rs[1].Wrong.Value != rs[1].Visits.LeaveChance().Value {
		t.Errorf("wrong at the lower bound %v, at the upper bound %v", rs[0].Wrong, rs[1].Wrong)
	}
}
