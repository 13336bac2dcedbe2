package explain

// A Word is an entry of the glossary: a term of the trade or of statistics, its
// symbol in formulas, and what it means here.
type Word struct{ Term, Symbol, Meaning string }

// word returns the entry of a symbol.
func word(symbol string) (Word, bool) {
	for _, w := range Words {
		if w.Symbol == symbol {
			return w, true
		}
	}
	return Word{}, false
}

// Words is the glossary: what is seen in a field first, then the decision, the
// risks, the walk, and the statistics.
var Words = []Word{
	{"field", "", "the unit that gets one decision"},
	{"stop", "j", "one place in the field where plants are examined; stops are counted from the first"},
	{"stops of a visit", "J", "how many stops are walked in all"},
	{"plants per stop", "m", "plants examined at each stop"},
	{"plants", "n", "plants (or leaves) examined so far: n = m j"},
	{"effective size", "n_eff", "independent plants that tell as much as those examined"},
	{"sample unit", "", "what is examined on a plant, such as its youngest open leaf"},
	{"tally number", "T", "insects on one leaf that make a plant infested"},
	{"leaves per plant", "L", "leaves examined on a plant"},
	{"infested", "", "with at least the tally number of insects on a leaf"},
	{"share infested", "p", "true share of plants in the field that are infested"},
	{"share at a tally number", "p_T", "share of leaves with at least T insects"},
	{"mean", "mu", "true mean of insects per leaf"},
	{"variance of counts", "v", "variance of the count per leaf at a mean"},
	{"total at a stop", "X", "infested plants at one stop, or insects on a unit"},
	{"count of a stop", "x_j", "infested plants seen at stop j"},
	{"running total", "S", "infested plants (or insects) over the stops so far"},
	{"clumping", "", "plants of a stop are alike, or counts vary more than at random"},
	{"intraclass correlation", "rho", "correlation of two plants at the same stop; 0 when they are independent"},
	{"design effect", "deff", "how many times larger the variance is than with independent plants: 1 + (m-1) rho"},
	{"aggregation parameter", "k", "of the negative binomial counts per leaf; the smaller, the more clumped"},
	{"Taylor's a", "a", "variance at a mean of 1 under Taylor's power law"},
	{"Taylor's b", "b", "exponent of Taylor's power law; above 1 clumped"},
	{"Iwao's A", "A", "mean crowding at a mean of 0"},
	{"Iwao's B", "B", "rise of mean crowding with the mean; above 1 clumped"},
	{"mean crowding", "m*", "how many others an insect shares its leaf with, on average"},
	{"lower bound", "p0", "share at or below which treating is needless"},
	{"upper bound", "p1", "share at or above which not treating does harm"},
	{"lower bound of a mean", "mu0", "mean at or below which treating is needless"},
	{"upper bound of a mean", "mu1", "mean at or above which not treating does harm"},
	{"action threshold", "p_c", "share, between the bounds, from which treating is right"},
	{"action threshold of a mean", "mu_c", "mean, between the bounds, from which treating is right"},
	{"needless-treatment risk", "alpha", "largest chance allowed of acting in a field at the lower bound"},
	{"missed-treatment risk", "beta", "largest chance allowed of leaving a field at the upper bound"},
	{"promise", "", "both risks are kept in fields at the bounds and beyond, under the conditions that stand with it; between the bounds either verdict may come"},
	{"verdict", "", "act, leave or continue: treat, do not treat and come back, or walk to another stop"},
	{"leave number", "a_j", "after stop j leave when the running total is this or less"},
	{"act number", "r_j", "after stop j act when the running total is this or more"},
	{"cutoff", "c", "largest total at which a visit of fixed size ends with leave"},
	{"decision table", "", "leave and act number of every stop: all that a plan is when it is walked"},
	{"slope of the lines", "s", "share (or mean) at which the running total keeps, on average, its distance from the leave and the act line"},
	{"leave gap", "h1", "how far the leave line lies below the line through the origin"},
	{"act gap", "h2", "how far the act line lies above the line through the origin"},
	{"operating characteristic", "OC", "chance of the verdict leave at each true level"},
	{"average sample number", "ASN", "expected number of stops at each true level"},
	{"risk-true", "", "with exact risks within those allowed, over the whole clumping range"},
	{"weights", "w", "how much the stops at the lower bound (w0), between (wm) and at the upper bound (w1) count"},
	{"likelihoods", "F", "how well the counts so far fit the lower bound (F0), the middle (Fm) and the upper bound (F1)"},
	{"prices of errors", "l0", "what an error at the lower bound (l0) and at the upper bound (l1) costs in a design, in stops"},
	{"standard error", "SE", "standard deviation of an estimate from visit to visit, or of a simulated value from seed to seed"},
	{"precision", "D", "standard error, or half-width of the interval, over the mean; it is always said which"},
	{"half-width", "d", "half the width of a confidence interval, in shares"},
	{"confidence", "C", "chance with which an interval, or a statement, is to hold"},
	{"coverage", "", "chance with which an interval does hold the true value"},
	{"normal quantile", "z", "how many standard errors an interval reaches to each side"},
	{"Student's quantile", "t", "the same where the spread is judged from few stops"},
	{"chance to see", "e", "chance that an infested plant is seen to be infested"},
	{"chance of none", "P0", "chance that a stop shows no infested plant"},
	{"stop line", "T_n", "total at which n leaves give an estimate of the wanted precision"},
	{"growth rate", "r", "of the pest a day: a mean grows to e^r times itself"},
	{"level", "level", "upper confidence limit of the share or the mean on the day of the visit"},
	{"lead time", "lead", "days from a decision to the treatment"},
	{"minutes to a stop", "c_stop", "time to walk to a stop"},
	{"minutes a plant", "c_plant", "time to examine a plant"},
	{"mean square between stops", "MSB", "of the analysis of variance of infested plants"},
	{"mean square within stops", "MSW", "of the same, between the plants of a stop"},
	{"sample variance", "s^2", "variance of the counts that were made"},
	{"made field", "", "a field that the program invents, so that its true level is known"},
	{"pilot", "", "counts from some fields, made to learn the constants of a plan"},
}
