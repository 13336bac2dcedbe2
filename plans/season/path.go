package season

import "math"

// A Day is what is expected of one field on a day of the season.
type Day struct {
	Visits, Stops, Units, Minutes float64
	Treated                       float64 // chance of the verdict act on this day
}

// A Path is what happens to a field through the season, until the verdict act or the
// end.
type Path struct {
	Course Course
	// Treated is the chance that a visit ever says act, Early the chance that one
	// does while the level is at or below the lower bound of its stage.
	Treated, Early       float64
	Visits, Stops, Units float64 // expected
	Minutes              float64 // expected
	Days                 []Day
	// AfterThreshold and AfterUpper tell how long after the level first reached the
	// threshold, and the upper bound, of its stage the field is treated.
	AfterThreshold, AfterUpper Delay

	season Season
}

func newPath(s Season, c Course) *Path {
	p := &Path{Course: c, Days: make([]Day, s.LastDay+1), season: s}
	delay := func(bound func(Stage) float64) Delay {
		return Delay{Day: s.crossing(c, bound), path: p}
	}
	p.AfterThreshold = delay(func(st Stage) float64 { return st.Threshold })
	p.AfterUpper = delay(func(st Stage) float64 { return st.Upper })
	return p
}

// add counts a visit on a day.
func (p *Path) add(day int, chance float64, x *visit) {
	d := &p.Days[day]
	d.Visits += chance
	d.Stops += chance * x.stops
	d.Units += chance * x.units
	d.Treated += chance * x.act
	p.Visits += chance
	p.Stops += chance * x.stops
	p.Units += chance * x.units
	p.Treated += chance * x.act
	i, _ := p.season.stage(day)
	st := p.season.Stages[i]
	d.Minutes += chance * st.Effort.Minutes(1, x.stops, x.units)
	p.Minutes += chance * st.Effort.Minutes(1, x.stops, x.units)
	if p.season.level(p.Course, day) <= st.Lower {
		p.Early += chance * x.act
	}
}

// A Delay is the time from the day on which a level is reached to the treatment,
// the lead time included.
type Delay struct {
	Day  float64 // on which the level is reached; +Inf where it never is
	path *Path
}

// after returns the days from reaching the level to a treatment that was decided on
// on a day: 0 where it comes before.
func (d Delay) after(day int) float64 {
	return math.Max(0, float64(day+d.path.season.Lead)-d.Day)
}

// unreached reports whether the level is not reached by the season's end, so that no
// treatment can be late.
func (d Delay) unreached() bool { return d.Day > float64(d.path.season.LastDay) }

// Expected returns the expected days, 0 where the treatment comes before. A field that
// is never treated counts as if the day after the last said act: it is at least that
// late.
func (d Delay) Expected() float64 {
	return d.mean(func(days float64) float64 { return days })
}

// mean returns the expectation of what some days of delay cost, as Expected does.
func (d Delay) mean(cost func(days float64) float64) float64 {
	if d.unreached() {
		return 0
	}
	sum := 0.0
	for day, x := range d.path.Days {
		sum += x.Treated * cost(d.after(day))
	}
	return sum + d.untreated()*cost(d.after(len(d.path.Days)))
}

// late reports whether a treatment decided on on a day comes more than some days
// after the level was reached. A millionth of a day is rounding, not time.
func (d Delay) late(day int, days float64) bool {
	return float64(day+d.path.season.Lead)-d.Day > days+1e-6
}

// Later returns the chance that the treatment comes more than some days after the
// level was reached, or not within the season; 0 where the level is not reached
// within the season.
func (d Delay) Later(days float64) float64 {
	if d.unreached() {
		return 0
	}
	sum := d.untreated()
	for day, x := range d.path.Days {
		if d.late(day, days) {
			sum += x.Treated
		}
	}
	return sum
}

// Quantile returns the fewest days within which the treatment comes with chance at
// least q: +Inf where so many are not treated within the season.
func (d Delay) Quantile(q float64) float64 {
	if d.unreached() {
		return 0
	}
	sum := 0.0
	for day, x := range d.path.Days {
		if sum += x.Treated; sum >= q-1e-12 {
			return d.after(day)
		}
	}
	return math.Inf(1)
}

// untreated returns the chance that the field is never treated.
func (d Delay) untreated() float64 { return math.Max(0, 1-d.path.Treated) }
