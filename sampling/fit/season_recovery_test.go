package fit

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"stopwise/plans"
	"stopwise/plans/rule"
	"stopwise/sampling"
	marrowvale "stopwise/testdata/marrow-vale"
)

// seasonRepeats is how many seasons are made of each kind with -recovery: the
// standard error of a coverage of 95% is then 0.7%.
const seasonRepeats = 1000

// demoTable is the table of the example's first stage.
func demoTable(t testing.TB) rule.Table {
	t.Helper()
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		t.Fatal(err)
	}
	p.Stages = p.Stages[:1]
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return plan.Stages[0].Table
}

// A madeSeason is a season of known constants: fields of which a quarter is clean and
// the others grow on the logit scale from about 0.4%, visited every 6 days until the
// pest is found and every 3 from then on, each visit ended where the table says, until
// the verdict act or the end.
type madeSeason struct {
	fields              int
	rho, growth, spread float64
}

func (m madeSeason) visits(r *rand.Rand, table rule.Table) (visits []Visit) {
	for field := range m.fields {
		start, growth := math.Log(0.004/0.996)+r.NormFloat64(), m.growth+m.spread*r.NormFloat64()
		found := false
		for day := r.IntN(6); day < 49; {
			p := 1 / (1 + math.Exp(-start-growth*float64(day)))
			v := Visit{Field: field, Course: field, Day: float64(day)}
			total := 0
			verdict := rule.Continue
			for stop := 1; verdict == rule.Continue; stop++ {
				s := StopTotal{Units: table.Units}
				if 4*field >= m.fields {
					s.Total = drawStops(r, 1, table.Units, p, m.rho)[0].Infested
				}
				v.Stops = append(v.Stops, s)
				total += s.Total
				verdict = table.Verdict(stop, total)
			}
			visits = append(visits, v)
			if verdict == rule.Act {
				break
			}
			if found = found || total > 0; found {
				day += 3
			} else {
				day += 6
			}
		}
	}
	return visits
}

func infested(rho, p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} }

// byLine is what joining the visits' own shares by lines would say of growth: the
// slope within fields by least squares, of visits with a find.
func byLine(visits []Visit) Estimate {
	type seen struct{ day, level []float64 }
	of := map[int]*seen{}
	for _, v := range visits {
		if !v.found() {
			continue
		}
		n, x := 0, 0
		for _, s := range v.Stops {
			n, x = n+s.Units, x+s.Total
		}
		if of[v.Course] == nil {
			of[v.Course] = &seen{}
		}
		p := float64(x) / float64(n)
		of[v.Course].day = append(of[v.Course].day, v.Day)
		of[v.Course].level = append(of[v.Course].level, math.Log(p/(1-p)))
	}
	var x, y []float64
	for c := range len(of) * 10 {
		if s := of[c]; s != nil {
			day, level := stat.Mean(s.day, nil), stat.Mean(s.level, nil)
			for i := range s.day {
				x, y = append(x, s.day[i]-day), append(y, s.level[i]-level)
			}
		}
	}
	_, slope := stat.LinearRegression(x, y, nil, true)
	return point(slope)
}

// TestSeasonRecovery fits seasons of known clumping and growth. It is run whole with
// -recovery, and else for a few seasons of fewer fields, so that a fault shows early.
func TestSeasonRecovery(t *testing.T) {
	table := demoTable(t)
	const kinds = 4
	for i, m := range []madeSeason{{60, .12, .12, 0}, {60, .12, .12, .04}} {
		n := 4 - 2*i
		if !*recovery {
			m.fields = 25
		} else {
			n = seasonRepeats
			if i > 0 {
				n /= 4
			}
		}
		got := make([][kinds]Estimate, n)
		inParallel(n, func(k int) {
			visits := m.visits(rand.New(rand.NewPCG(uint64(7000+i), uint64(k))), table)
			rho := must(FitOverVisits(visits, LogitScale, infested, 0.95))
			growth := must(FitGrowth(visits, LogitScale, func(p float64) sampling.Population { return infested(rho.Value, p) }, 0.95))
			var fields [][]StopCount
			for _, v := range visits {
				var f []StopCount
				for _, s := range v.Stops {
					f = append(f, StopCount{s.Units, s.Total})
				}
				fields = append(fields, f)
			}
			got[k] = [kinds]Estimate{rho.Estimate, growth.Estimate, anovaRho(fields), byLine(visits)}
		})
		for kind, c := range [kinds]struct {
			name   string
			truth  float64
			judged bool
		}{{"rho, likelihood over visits", m.rho, true}, {"growth a day, likelihood over courses", m.growth, m.spread == 0},
			{"rho, analysis of variance", m.rho, false}, {"growth a day, lines through the visits' shares", m.growth, false}} {
			held, known := 0, []float64{}
			for _, g := range got {
				e := g[kind]
				if e.Known() {
					known = append(known, e.Value)
				}
				if e.Lower <= c.truth && c.truth <= e.Upper {
					held++
				}
			}
			mean, sd := stat.MeanStdDev(known, nil)
			t.Logf("%+v %-48s true %g mean %.4f (bias %+.4f, se %.4f), sd %.4f, held in %d of %d", m, c.name, c.truth, mean, mean-c.truth, sd/math.Sqrt(float64(len(known))), sd, held, n)
			coverage := float64(held) / float64(n)
			slack := math.Max(0, 2.5*math.Sqrt(.05*.95/float64(n))-0.0172) // none at 1,000 seasons
			if *recovery && c.judged && (coverage < 0.93-slack || coverage > 0.97+slack) {
				t.Errorf("%s: the 95%% interval holds the truth in %.1f%% of the seasons", c.name, 100*coverage)
			}
			// Of 4 intervals fewer than 2 hold the truth with a chance of 0.0013 where each
			// does so with 93%, of 2 none with 0.005.
			if !*recovery && c.judged && held < n/2 {
				t.Errorf("%s: %d of %d intervals hold the truth", c.name, held, n)
			}
		}
	}
}
