package size

import (
	"fmt"
	"math"
	"strconv"

	"stopwise/sampling"
)

// MaxPlants is the largest sample that is worked out exactly; larger ones are
// refused, or answered by the normal approximation alone where that is said.
// The limit keeps an answer within a few seconds.
const MaxPlants = 100_000

// MostAtStop is the largest number of plants per stop that [Allocate] looks at.
const MostAtStop = 1000

// tie is the relative slack within which a risk counts as met, so that a bound
// met with equality is not lost to rounding.
const tie = 1e-9

// An OutOfReachError says that a sound request has no answer within the stops,
// plants or minutes allowed: one of its goals is set.
type OutOfReachError struct {
	// Classify are the bounds that cannot be told apart, Estimate the half-width that
	// is not reached, each on up to Stops of Plants each.
	Classify *ClassifyGoal
	Estimate *EstimateGoal
	// Budget is the time of a visit that holds not even Stops stops, which take Least
	// minutes; 0 where no time is asked about.
	Budget, Least float64

	Stops, Plants int
	Rho           float64
	// NeededStops is about how many would do, by the normal approximation; 0 where that
	// was not asked.
	NeededStops float64
}

// Error says in short what is out of reach; a program that tells people words the
// numbers itself.
func (e *OutOfReachError) Error() string {
	switch {
	case e.Classify != nil:
		return "no sample within the limits tells the bounds apart at these risks"
	case e.Estimate != nil:
		return "no sample within the limits has this half-width"
	}
	return "the minutes are too few for the fewest stops"
}

// percent returns 0.125 as "12.5%".
func percent(x float64) string {
	return strconv.FormatFloat(100*x, 'g', 6, 64) + "%"
}

// plural returns "1 stop", "2 stops".
func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

func checkConfidence(c float64) error {
	if !(c > 0 && c < 1) {
		return sampling.RefuseShare("confidence", c, "above 0% and below 100%")
	}
	return nil
}

func checkRho(rho float64) error {
	if !(rho >= 0 && rho < 1) {
		return sampling.Refuse("rho", rho, "at least 0 and below 1")
	}
	return nil
}

func checkPlantsPerStop(m int) error {
	if m < 1 {
		return sampling.Refuse("plants per stop", m, "at least 1")
	}
	if m > MaxPlants {
		return sampling.Refuse("plants per stop", m, fmt.Sprintf("at most %d", MaxPlants))
	}
	return nil
}

func checkStops(stops, plantsPerStop int) error {
	if stops < 1 {
		return sampling.Refuse("stops", stops, "at least 1")
	}
	if err := checkPlantsPerStop(plantsPerStop); err != nil {
		return err
	}
	if stops > MaxPlants/plantsPerStop {
		return sampling.Refusef("%d stops of %d plants, must be at most %d plants in all", stops, plantsPerStop, MaxPlants)
	}
	return nil
}

// checkStopRange checks bounds on the number of stops, where 0 is no bound.
func checkStopRange(least, most int) error {
	switch {
	case least < 0:
		return sampling.Refusef("at least %d stops, must be 1 or more", least)
	case most < 0:
		return sampling.Refusef("at most %d stops, must be 1 or more", most)
	case most > 0 && least > most:
		return sampling.Refusef("at least %d and at most %d stops, must be the other way round", least, most)
	}
	return nil
}

func checkFieldPlants(n int) error {
	if n < 0 {
		return sampling.Refuse("plants in the field", n, "at least 1, or 0 for a very large field")
	}
	return nil
}

func checkShare(what string, p float64) error {
	if !(p >= 0 && p <= 1) {
		return sampling.Refusef("%s %s, must be from 0%% to 100%%", what, percent(p))
	}
	return nil
}

func checkBounds(lower, upper float64) error {
	if err := checkShare("lower bound", lower); err != nil {
		return err
	}
	if err := checkShare("upper bound", upper); err != nil {
		return err
	}
	if upper <= lower {
		return sampling.Refusef("upper bound %s is not above lower bound %s, must be above it", percent(upper), percent(lower))
	}
	return nil
}

func checkRisk(what string, risk float64) error {
	switch {
	case risk == 0:
		return sampling.Refusef("%s risk 0%% would take every plant of the field, must be above 0%% and below 50%%", what)
	case !(risk > 0 && risk < 0.5):
		return sampling.Refusef("%s risk %s, must be above 0%% and below 50%%", what, percent(risk))
	}
	return nil
}

func checkRisks(needless, missed float64) error {
	if err := checkRisk("needless-treatment", needless); err != nil {
		return err
	}
	return checkRisk("missed-treatment", missed)
}

// wholeStops returns the fewest stops of m plants that hold n plants.
func wholeStops(n float64, m int) int {
	return max(1, int(math.Ceil(n/float64(m)*(1-tie))))
}
