package explain

// Topics are the methods that are explained, in the order in which they are best
// read.
var Topics = []Topic{
	{"clumping", []string{"rho"}, clumping},
	{"k", []string{"negative-binomial"}, counts},
	{"taylor", []string{"taylors-law"}, taylor},
	{"iwao", []string{"iwaos-law"}, iwao},
	{"fit", []string{"pilot"}, fitted},
	{"intervals", []string{"interval", "wilson", "confidence"}, intervals},
	{"size", []string{"sample-size"}, sampleSize},
	{"fixed", []string{"classify"}, fixed},
	{"allocation", []string{"allocate"}, allocation},
	{"detection", []string{"detect"}, detection},
	{"lines", []string{"wald", "sprt"}, lines},
	{"oc", []string{"operating-characteristic"}, curves},
	{"asn", []string{"average-sample-number"}, curves},
	{"risk-true", []string{"risks"}, riskTrue},
	{"bound", nil, bound},
	{"precision", []string{"fixed-precision", "green", "kuno"}, precisionLines},
	{"coming-back", []string{"revisit", "next-visit"}, comingBack},
	{"season", []string{"seasons", "follow"}, overSeason},
	{"costs", []string{"cost", "loss"}, costs},
	{"tally", []string{"tally-number"}, tallyNumber},
	{"simulation", []string{"validation"}, simulation},
}

// The example that most worked numbers share. It is invented.
const (
	lower     = 0.15
	threshold = 0.22
	upper     = 0.30
	risk      = 0.10
	plants    = 20
	rho       = 0.1
	minimum   = 4
	maximum   = 20
	leafK     = 0.8 // k of the counts per leaf
	taylorA   = 2.5
	taylorB   = 1.4
	iwaoA     = 0.5
	iwaoB     = 1.3
)

// numbers are those of a text, by the name that they have in it.
type numbers = map[string]any

// example returns the numbers of the example, which a topic may set otherwise.
func example() numbers {
	return numbers{
		"Lower": lower, "Threshold": threshold, "Upper": upper, "Risk": risk, "Rho": rho,
		"Plants": plants, "Minimum": minimum, "Maximum": maximum,
	}
}
