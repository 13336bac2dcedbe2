package plans

// A path is the walk of a scout who did not see the planned number of plants at
// every stop. The table's numbers are then read at the plants really seen: taken
// on the straight line between two stops of the table, and rounded to the
// careful side, leave down and act up, so that fewer plants never make a verdict
// easier.

// At returns the leave and act numbers at a stop (from 1) after units units in
// all. With the planned number of units they are the table's own. At the last
// stop the act number follows the leave number, so that a verdict comes.
func (t Table) At(stop, units int) (leave, act int) {
	leave = NeverLeave
	if first := firstStop(t.Leave, NeverLeave); stop > first {
		leave = max(NeverLeave, floorDiv(t.between(t.Leave, first, units)))
	}
	if stop >= t.Stops() {
		return leave, leave + 1
	}
	act = NeverAct
	if first := firstStop(t.Act, NeverAct); stop > first {
		num, den := t.between(t.Act, first, units)
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

// between returns the value of a boundary at units, as a fraction: on the line
// between the two stops around it, or on the nearest such line beyond the ends.
// A boundary with a single number runs through the origin.
func (t Table) between(numbers []int, first, units int) (num, den int) {
	last := len(numbers) - 1
	if first == last {
		return numbers[last] * units, t.Units * (last + 1)
	}
	i := min(max(units/t.Units-1, first), last-1)
	n0 := t.Units * (i + 1)
	rise := numbers[i+1] - numbers[i]
	return numbers[i]*t.Units + rise*(units-n0), t.Units
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// path returns the steps of a walk in which the first stops had the given units
// and the others have the planned number.
func (t Table) path(seen []int) []step {
	steps := make([]step, max(t.Stops(), len(seen)))
	total := 0
	for j := range steps {
		units := t.Units
		if j < len(seen) {
			units = seen[j]
		}
		total += units
		leave, act := t.At(j+1, total)
		steps[j] = step{units, leave, act}
	}
	return steps
}
