package rule

// A path is the walk of a scout who did not see the planned number of plants at
// every stop. The table's numbers are then read at the plants really seen, and
// rounded to the careful side, leave down and act up: between two stops of the
// table on the straight line through them, beyond its ends at the rate of the
// share that separates leave from act at the last stop. The last stop itself is
// no end of the lines, because a verdict is forced there: its share is kept. An
// act number that is as high as the last stop's is capped by it, so that the line
// passes above: it holds for fewer plants too.

// At returns the leave and act numbers at a stop (from 1) after units units in
// all. With the planned number of units they are the table's own. At the last
// stop the act number follows the leave number, so that a verdict comes.
func (t Table) At(stop, units int) (leave, act int) {
	last := t.Stops() - 1
	final := t.Leave[last]
	if stop > last {
		leave = max(NeverLeave, floorDiv(final*units, t.Units*(last+1)))
		return leave, leave + 1
	}
	leave, act = NeverLeave, NeverAct
	if first := firstStop(t.Leave[:last], NeverLeave); stop > first {
		num, den := t.read(t.Leave[:last], first, units, final+1, max(0, final), NeverAct)
		leave = max(NeverLeave, floorDiv(num, den))
	}
	if first := firstStop(t.Act[:last], NeverAct); stop > first {
		num, den := t.read(t.Act[:last], first, units, max(0, final), final+1, final+1)
		act = max(leave+1, -floorDiv(-num, den))
	}
	return leave, act
}

// firstStop returns the index of the first number that is not never.
func firstStop(numbers []int, never int) int {
	for i, x := range numbers {
		if x != never {
			return i
		}
	}
	return len(numbers)
}

// read returns the value of a boundary at units, as a fraction. Its numbers
// start at index first; before and after the stops that have one it changes by
// below and above per whole visit. A number equal to capped is not left downwards.
func (t Table) read(numbers []int, first, units, below, above, capped int) (num, den int) {
	visit := t.Units * t.Stops()
	last := len(numbers) - 1
	switch i := units/t.Units - 1; {
	case i < first && numbers[first] == capped, i >= first && i < last && units%t.Units != 0 && numbers[i+1] == capped:
		return capped, 1
	case i < first:
		return numbers[first]*visit - below*(t.Units*(first+1)-units), visit
	case i >= last:
		return numbers[last]*visit + above*(units-t.Units*(last+1)), visit
	default:
		rise := numbers[i+1] - numbers[i]
		return numbers[i]*t.Units + rise*(units-t.Units*(i+1)), t.Units
	}
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// Path returns the steps of a walk in which the first stops had the given units
// and the others have the planned number.
func (t Table) Path(seen []int) []Step {
	steps := make([]Step, max(t.Stops(), len(seen)))
	total := 0
	for j := range steps {
		units := t.Units
		if j < len(seen) {
			units = seen[j]
		}
		total += units
		leave, act := t.At(j+1, total)
		steps[j] = Step{units, leave, act}
	}
	return steps
}
