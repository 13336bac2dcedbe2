package explain

import (
	"fmt"
	"regexp"
	"strings"
)

// A Word is an entry of the glossary: a term of the trade or of statistics, its
// symbol in formulas and tables, and what it means here. A word and a symbol have one
// meaning; small and capital letters are different symbols.
type Word struct {
	Term, Symbol, Meaning string
	tables                bool // the symbol stands in tables of commands alone
}

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
	{Term: "field", Meaning: "the unit that gets one decision"},
	{Term: "made field", Meaning: "a field that the program lays out plant by plant or place by place, so that it is known where the pest sits"},
	{Term: "stop", Symbol: "j", Meaning: "one place in the field where plants are examined; stops are counted from the first"},
	{Term: "stops of a visit", Symbol: "J", Meaning: "how many stops are walked in all"},
	{Term: "plants per stop", Symbol: "m", Meaning: "plants examined at each stop"},
	{Term: "plants", Symbol: "n", Meaning: "plants (or leaves) examined so far: n = m j"},
	{Term: "effective size", Symbol: "n_eff", Meaning: "independent plants that tell as much as those examined"},
	{Term: "sample unit", Meaning: "what is examined on a plant, such as its youngest open leaf"},
	{Term: "tally number", Symbol: "T", Meaning: "insects on one leaf that make a plant infested"},
	{Term: "leaves per plant", Symbol: "L", Meaning: "leaves examined on a plant"},
	{Term: "infested", Meaning: "with at least the tally number of insects on a leaf"},
	{Term: "level", Meaning: "how much of the pest is in a field: its share infested or its mean, whichever the threshold is in; true, seen or estimated"},
	{Term: "share infested", Symbol: "p", Meaning: "share of plants in the field that are infested"},
	{Term: "prevalence", Meaning: "the share infested that a visit is to detect"},
	{Term: "share at a tally number", Symbol: "p_T", Meaning: "share of leaves with at least T insects"},
	{Term: "mean", Symbol: "mu", Meaning: "mean of insects per leaf in the field"},
	{Term: "count", Symbol: "x", Meaning: "infested plants, or insects, that were seen; x_j those at stop j"},
	{Term: "total at a stop", Symbol: "X", Meaning: "the count at one stop, as it varies from stop to stop"},
	{Term: "running total", Symbol: "S", Meaning: "infested plants (or insects) over the stops so far"},
	{Term: "clumping", Meaning: "plants of a stop are alike, or counts vary more than at random"},
	{Term: "alike", Meaning: "of plants or leaves: those of one stop resemble each other more than those of different stops"},
	{Term: "intraclass correlation", Symbol: "rho", Meaning: "correlation of two plants at the same stop; zero when they are independent"},
	{Term: "count rho", Meaning: "correlation of the counts of two leaves at the same stop"},
	{Term: "design effect", Symbol: "deff", Meaning: "how many times larger the variance is than with independent plants: 1 + (m-1) rho"},
	{Term: "factor of the binary law", Symbol: "a_p", Meaning: "of the binary power law, by which the variance of the shares of stops follows the share infested"},
	{Term: "exponent of the binary law", Symbol: "b_p", Meaning: "of the same; above 1 the clumping changes with the share infested"},
	{Term: "variance of counts", Symbol: "v", Meaning: "variance of the count per leaf at a mean"},
	{Term: "variance seen", Symbol: "v_seen", Meaning: "variance of the counts that were made"},
	{Term: "aggregation parameter", Symbol: "k", Meaning: "of the negative binomial counts per leaf; the smaller, the more clumped"},
	{Term: "Taylor's a", Symbol: "a", Meaning: "variance at a mean of 1 under Taylor's power law"},
	{Term: "Taylor's b", Symbol: "b", Meaning: "exponent of Taylor's power law; above 1 clumped"},
	{Term: "Iwao's A", Symbol: "A", Meaning: "mean crowding at a mean of zero"},
	{Term: "Iwao's B", Symbol: "B", Meaning: "rise of mean crowding with the mean; above 1 clumped"},
	{Term: "mean crowding", Symbol: "m*", Meaning: "how many others an insect shares its leaf with, on average"},
	{Term: "lower bound", Symbol: "p0", Meaning: "share at or below which treating is needless"},
	{Term: "upper bound", Symbol: "p1", Meaning: "share at or above which not treating does harm"},
	{Term: "lower bound of a mean", Symbol: "mu0", Meaning: "mean at or below which treating is needless"},
	{Term: "upper bound of a mean", Symbol: "mu1", Meaning: "mean at or above which not treating does harm"},
	{Term: "action threshold", Symbol: "p_c", Meaning: "share, between the bounds, from which treating is right"},
	{Term: "action threshold of a mean", Symbol: "mu_c", Meaning: "mean, between the bounds, from which treating is right"},
	{Term: "needless-treatment risk", Symbol: "alpha", Meaning: "largest chance allowed of acting in a field at the lower bound"},
	{Term: "missed-treatment risk", Symbol: "beta", Meaning: "largest chance allowed of leaving a field at the upper bound"},
	{Term: "chance", Symbol: "P", Meaning: "P(...) is the chance of what stands in brackets; P alone, in a table, the chance of a test's value or a larger one where there is nothing to find"},
	{Term: "promise", Meaning: "both risks are kept in fields at the bounds and beyond, under the conditions that stand with it; between the bounds either verdict may come"},
	{Term: "verdict", Meaning: "act, leave or continue: treat, do not treat and come back, or walk to another stop"},
	{Term: "wrong verdict", Meaning: "act at or below the lower bound, leave at or above the upper one"},
	{Term: "leave number", Symbol: "leave_j", Meaning: "after stop j leave when the running total is this or less"},
	{Term: "act number", Symbol: "act_j", Meaning: "after stop j act when the running total is this or more"},
	{Term: "decision table", Meaning: "leave and act number of every stop: all that a plan is when it is walked"},
	{Term: "leave line, act line", Meaning: "straight lines of leave and act numbers over the plants examined"},
	{Term: "find's weight", Symbol: "g", Meaning: "what one more infested plant in place of a clean one says for the upper bound against the lower one"},
	{Term: "slope of the lines", Symbol: "s", Meaning: "share (or mean) at which the running total keeps, on average, its distance from the leave and the act line"},
	{Term: "leave gap", Symbol: "h1", Meaning: "how far the leave line lies below the line through the origin"},
	{Term: "act gap", Symbol: "h2", Meaning: "how far the act line lies above the line through the origin"},
	{Term: "chances on arrival", Symbol: "to_j", Meaning: "chances of the running totals of walks that come to stop j"},
	{Term: "chances on leaving", Symbol: "on_j", Meaning: "the same of the walks that go on from stop j"},
	{Term: "operating characteristic", Symbol: "OC", Meaning: "chance of the verdict leave at each true level"},
	{Term: "average sample number", Symbol: "ASN", Meaning: "expected number of stops at each true level"},
	{Term: "risk-true", Meaning: "with exact risks within those allowed, over the whole clumping range"},
	{Term: "weights", Symbol: "w", Meaning: "how much the stops at the lower bound (w0), between (wm) and at the upper bound (w1) count"},
	{Term: "likelihoods", Symbol: "q", Meaning: "how well the counts so far fit the lower bound (q0), the middle (qm) and the upper bound (q1)"},
	{Term: "prices of wrong verdicts", Symbol: "l0", Meaning: "what a wrong verdict at the lower bound (l0) and at the upper bound (l1) costs in a design, in stops"},
	{Term: "best cost to go", Symbol: "best_j", Meaning: "after stop j the least cost, in stops and prices, of what is still to come"},
	{Term: "chances of a count", Symbol: "f", Meaning: "f(x) is the chance of the count x at one more stop"},
	{Term: "sampling error", Meaning: "how visits to one field differ though nobody makes a mistake: each sees other plants"},
	{Term: "standard error", Symbol: "SE", Meaning: "standard deviation of an estimate from visit to visit, or of a simulated value from seed to seed"},
	{Term: "precision", Meaning: "how near an estimate is to come, said as a standard error or as a half-width, each over what is estimated"},
	{Term: "relative standard error", Symbol: "D", Meaning: "standard error over the mean (or over the share) that is estimated"},
	{Term: "half-width of a mean", Symbol: "h_mu", Meaning: "half the width of a confidence interval, over the mean: z times D"},
	{Term: "half-width of a share", Symbol: "h_p", Meaning: "half the width of a confidence interval, in shares"},
	{Term: "confidence", Symbol: "C", Meaning: "chance with which an interval, or a statement, is to hold"},
	{Term: "coverage", Meaning: "chance with which an interval does hold the true level"},
	{Term: "normal quantile", Symbol: "z", Meaning: "how many standard errors an interval reaches to each side"},
	{Term: "Student's quantile", Symbol: "t", Meaning: "the same where the spread is judged from few stops"},
	{Term: "chance to see", Symbol: "p_see", Meaning: "chance that an infested plant is seen to be infested"},
	{Term: "chance of none", Symbol: "p_none", Meaning: "chance that a stop shows no infested plant"},
	{Term: "stopping total", Symbol: "S_n", Meaning: "running total at which n leaves give an estimate of the wanted precision"},
	{Term: "growth rate", Symbol: "r", Meaning: "of the pest a day: a mean grows to exp(r) times itself"},
	{Term: "limit", Symbol: "limit", Meaning: "upper confidence limit of the level on the day of the visit"},
	{Term: "lead time", Symbol: "lead", Meaning: "days from a decision to the treatment"},
	{Term: "minutes to a stop", Symbol: "c_stop", Meaning: "time to walk to a stop"},
	{Term: "minutes a plant", Symbol: "c_plant", Meaning: "time to examine a plant"},
	{Term: "mean square between stops", Symbol: "MSB", Meaning: "of the analysis of variance of infested plants"},
	{Term: "mean square within stops", Symbol: "MSW", Meaning: "of the same, between the plants of a stop"},
	{Term: "residual mean square", Symbol: "MSE", Meaning: "mean square of the distances of fields from a fitted line", tables: true},
	{Term: "variance ratio", Symbol: "F", Meaning: "mean square between over the one within", tables: true},
	{Term: "Tarone's test value", Symbol: "Z", Meaning: "how far counts are from those of independent plants, in standard errors", tables: true},
	{Term: "degrees of freedom", Symbol: "df", Meaning: "how many distances a variance is judged from", tables: true},
	{Term: "pilot", Meaning: "counts from some fields, made to learn the constants of a plan"},
}

// A Barred is a word that has another meaning in the glossary, or a second word for
// one that stands there: no text has it outside the phrases that are allowed.
type Barred struct {
	Word    string   // a regular expression, in any case
	Except  []string // phrases in which it may stand
	Instead string   // what to say
}

// BarredWords are what texts, help and the guide do without.
var BarredWords = []Barred{
	{`errors?`, []string{"standard error", "standard-error", "sampling error"}, "standard error, sampling error, or wrong verdict"},
	{`stop lines?`, nil, "leave and act line, or stopping total"},
	{`(confidence|significance) levels?`, nil, "confidence"},
	{`level of (confidence|significance)`, nil, "confidence"},
	{`cut-?offs?`, nil, "leave number"},
	{`intra-?cluster|ICC`, nil, "rho"},
	{`dispersion|aggregated|contagious`, nil, "clumped"},
	{`stopping boundar(y|ies)|decision boundar(y|ies)|boundaries are found`, nil, "decision table"},
	{`false (positive|negative)s?|type I{1,2} `, nil, "needless treatment, missed treatment"},
	{`power of the (test|plan)`, nil, "missed-treatment risk"},
	{`(read|spelt|written|clumped|all) alike`, nil, "equal, the same; alike is said of plants and leaves of a stop"},
}

// Unsaid returns what a text says in other words than the glossary.
func Unsaid(text string) []string {
	text = strings.Join(strings.Fields(text), " ")
	var out []string
	for _, b := range BarredWords {
		rest := text
		for _, phrase := range b.Except {
			rest = regexp.MustCompile(`(?i)`+regexp.QuoteMeta(phrase)+`s?`).ReplaceAllString(rest, "")
		}
		for _, at := range regexp.MustCompile(`(?i)\b(`+b.Word+`)\b`).FindAllStringIndex(rest, -1) {
			out = append(out, fmt.Sprintf("%q in %q: say %s", rest[at[0]:at[1]], rest[max(0, at[0]-40):min(len(rest), at[1]+40)], b.Instead))
		}
	}
	return out
}
