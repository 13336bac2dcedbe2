package validate

// limitDigits is how closely a limit is found, relative to the span searched.
const limitDigits = 1e-3

// HoldsTo returns how far a promise holds from a value at which it does, on the
// way to another: the last value found to keep it, and whether that is the whole
// way. ok is false where it does not hold at the start. keeps is asked on an even
// grid first, so that the way back into keeping it, further on, does not count.
func HoldsTo(from, to float64, keeps func(x float64) bool) (last float64, whole, ok bool) {
	if !keeps(from) {
		return from, false, false
	}
	if from == to {
		return to, true, true
	}
	const steps = 8
	last = from
	for i := 1; i <= steps; i++ {
		x := from + (to-from)*float64(i)/steps
		if i == steps {
			x = to
		}
		if keeps(x) {
			last = x
			continue
		}
		span := to - from
		for low, high := last, x; ; {
			if d := (high - low) / span; d < limitDigits {
				return low, false, true
			}
			mid := (low + high) / 2
			if keeps(mid) {
				low = mid
			} else {
				high = mid
			}
		}
	}
	return to, true, true
}
