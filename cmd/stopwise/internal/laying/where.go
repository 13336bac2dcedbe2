package laying

import (
	"math"

	"github.com/paulmach/orb"

	"stopwise/cmd/stopwise/internal/words"
)

// Where says in words where in the field a place lies.
func (l *Laid) Where(say *words.Language, p orb.Point) string {
	length, width := l.Field.Size()
	x, y := p[0]/length, p[1]/width
	var east, north string
	if l.Field.Corner != nil {
		east = end(x, say.Say("where.west"), say.Say("where.east_from", "Share", share(say, x)), say.Say("where.east"))
		north = end(y, say.Say("where.south"), say.Say("where.north_from", "Share", share(say, y)), say.Say("where.north"))
	} else {
		east = end(x, say.Say("where.this_end"), say.Say("where.along", "Share", share(say, x)), say.Say("where.far_end"))
		north = end(y, say.Say("where.near_side"), say.Say("where.across", "Share", share(say, y)), say.Say("where.far_side"))
	}
	return say.Say("where.both", "Along", east, "Across", north)
}

// Note says what the stops are laid out for.
func (l *Laid) Note(say *words.Language) string {
	switch {
	case !l.Any:
		return say.Say("where.this", "First", l.First)
	case l.Balanced:
		return say.Say("where.any", "First", l.First)
	}
	return say.Say("where.line")
}

// end returns what is said of a share of a way, near its ends and between.
func end(x float64, start, between, finish string) string {
	switch {
	case x < 0.15:
		return start
	case x > 0.85:
		return finish
	}
	return between
}

// share says a share of a way in the words of everyday.
func share(say *words.Language, x float64) string {
	best, word := math.Inf(1), ""
	for _, s := range []struct {
		at   float64
		word string
	}{
		{1. / 4, say.Say("where.quarter")}, {1. / 3, say.Say("where.third")}, {1. / 2, say.Say("where.half")},
		{2. / 3, say.Say("where.two_thirds")}, {3. / 4, say.Say("where.three_quarters")},
	} {
		if d := math.Abs(s.at - x); d < best {
			best, word = d, s.word
		}
	}
	return word
}
