package season

import (
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Chain follows fields through a season. It keeps what visits do at the levels
// that it met, so that courses which share levels cost little.
type Chain struct {
	season Season
	visits [][]*visits // by stage and class
	found  map[moveKey][]move
}

// moveKey names a visit whose moves are known.
type moveKey struct {
	stage, class, inStage int
	level                 float64
}

// New returns the chain of a season, or an error if the season does not hold
// together. A Chain is not safe for use by several goroutines at once.
func New(s Season) (*Chain, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	made := [][]*visits{}
	return chainOf(s, func(i int, t rule.Table) *visits {
		for len(made) <= i {
			made = append(made, nil)
		}
		for _, v := range made[i] { // classes that share a table share its visits
			if v.table.Equal(t) {
				return v
			}
		}
		v := newVisits(t, s.Stages[i])
		made[i] = append(made[i], v)
		return v
	}), nil
}

// chainOf returns the chain of a season whose visits in a stage with a table are known.
func chainOf(s Season, of func(stage int, t rule.Table) *visits) *Chain {
	c := &Chain{season: s, found: map[moveKey][]move{}}
	for i, st := range s.Stages {
		var vs []*visits
		for _, cl := range st.Classes {
			vs = append(vs, of(i, cl.Table))
		}
		c.visits = append(c.visits, vs)
	}
	return c
}

// Season returns the season that the chain was made for.
func (c *Chain) Season() Season { return c.season }

// Follow returns what happens to a field of a course that is first visited on one of
// the given days, all equally likely; without days, on one of the days of the first
// interval of fields in which nothing was found.
//
// The chances are exact sums over the states (day, class of the field): no
// simulation and no approximation, for visits that are independent given the level
// and a level that follows the course to the letter.
func (c *Chain) Follow(course Course, first ...int) (*Path, error) {
	if len(first) == 0 {
		first = c.season.firstDays()
	}
	for _, d := range first {
		if d < 0 || d > c.season.LastDay {
			return nil, sampling.Refusef("first visit on day %d, must be between 0 and %d", d, c.season.LastDay)
		}
	}
	if err := course.check(c.season.Means); err != nil {
		return nil, err
	}
	p, _ := c.follow(course, first)
	return p, nil
}

// firstDays returns the days of the first interval.
func (s Season) firstDays() []int {
	var days []int
	for d := range min(s.Stages[0].Classes[0].Interval, s.LastDay+1) {
		days = append(days, d)
	}
	return days
}

// follow returns the path of a course, and the chance of a visit by day and class.
func (c *Chain) follow(course Course, first []int) (*Path, [][]float64) {
	s := c.season
	p := newPath(s, course)
	classes := len(s.Stages[0].Classes)
	at := make([][]float64, s.LastDay+1)
	for d := range at {
		at[d] = make([]float64, classes)
	}
	for _, d := range first {
		at[d][0] += 1 / float64(len(first))
	}
	left := 1.0 // chance of not being treated yet
	for d := 0; d <= s.LastDay && left > negligible; d++ {
		level := s.level(course, d)
		i, began := s.stage(d)
		for k, chance := range at[d] {
			if chance == 0 {
				continue
			}
			x := c.visits[i][k].at(level)
			p.add(d, chance, x)
			left -= chance * x.act
			for _, m := range c.moves(i, k, d-began, level, x) {
				if next := d + m.days; next <= s.LastDay {
					at[next][m.class] += chance * m.chance
				}
			}
		}
	}
	return p, at
}

func (c *Chain) moves(stage, class, inStage int, level float64, x *visit) []move {
	st := c.season.Stages[stage]
	if st.Classes[class].Limit == nil {
		inStage = 0
	}
	key := moveKey{stage, class, inStage, level}
	ms, ok := c.found[key]
	if !ok {
		ms = x.moves(st, class, inStage)
		c.found[key] = ms
	}
	return ms
}

func (c Course) check(means bool) error {
	switch {
	case !(c.Start >= 0) || !means && c.Start > 1 || c.Start > 1e9:
		return sampling.Refuse("start at a level of", c.Start, "a share between 0 and 1 or a mean")
	case !(c.Growth >= 0 && c.Growth <= 10):
		return sampling.Refusef("growth %g a day, must be between 0 and 10", c.Growth)
	}
	return nil
}
