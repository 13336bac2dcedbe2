package validate

import (
	"context"
	"math/rand/v2"

	"stopwise/plans"
	"stopwise/sampling"
)

// A Staircase holds many walks through a plan's decision table in one kind of
// field.
type Staircase struct {
	Visits Visits
	// At[j][x] counts the walks whose running total after stop j+1, of what the stops
	// count, is x. The last
	// x is the table's largest act number and stands for all totals above it.
	At [][]int
	// Ended[j] counts the walks that ended at stop j+1.
	Ended []Ended
}

// Ended counts walks by how they ended.
type Ended struct{ Leave, Act int }

// Climb walks the plan of a stage o.Visits times in fields of one population.
func Climb(ctx context.Context, s *plans.StagePlan, pop sampling.Population, o Options) (Staircase, error) {
	chances := stopChances(s.Table, pop, s.Table.Units)
	if !s.Worth.Plain() {
		chances = uncut(s, pop.Stop(s.Table.Units))
	}
	g, rule := newGuide(chances), newCounter(s, pop)
	stops, top := s.Table.Stops(), largestAct(s.Table)
	parts := make([]Staircase, blockCount(o))
	err := inBlocks(ctx, o, stairStream, func(b, n int, r *rand.Rand) {
		c := newStaircase(stops, top)
		for range n {
			act, walked, looked := c.walk(rule, g, r)
			c.Visits.add(act, walked, looked, s.Minutes(float64(walked), float64(looked)))
		}
		parts[b] = c
	})
	if err != nil {
		return Staircase{}, err
	}
	all := newStaircase(stops, top)
	for _, p := range parts {
		all.join(p)
	}
	return all, nil
}

func largestAct(t plans.Table) int {
	top := 0
	for _, a := range t.Act {
		if a != plans.NeverAct {
			top = max(top, a)
		}
	}
	return top
}

func newStaircase(stops, top int) Staircase {
	c := Staircase{At: make([][]int, stops), Ended: make([]Ended, stops)}
	for j := range c.At {
		c.At[j] = make([]int, top+1)
	}
	return c
}

func (c *Staircase) walk(s counter, g guide, r *rand.Rand) (act bool, stops, plants int) {
	t, total := s.Table, 0
	for j := range t.Leave {
		found := g.draw(r)
		looked, _ := s.looked(found, s.planned, r)
		plants += looked
		total = min(total+s.value(found, t.Units), len(c.At[j])-1)
		c.At[j][total]++
		switch t.Verdict(j+1, total) {
		case plans.Leave:
			c.Ended[j].Leave++
			return false, j + 1, plants
		case plans.Act:
			c.Ended[j].Act++
			return true, j + 1, plants
		}
	}
	return true, t.Stops(), plants // not reached: the last stop brings a verdict
}

func (c *Staircase) join(o Staircase) {
	c.Visits.join(o.Visits)
	for j := range o.At {
		for x, n := range o.At[j] {
			c.At[j][x] += n
		}
		c.Ended[j].Leave += o.Ended[j].Leave
		c.Ended[j].Act += o.Ended[j].Act
	}
}
