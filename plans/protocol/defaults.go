package protocol

// DefaultStop is taken where a protocol does not say how a field is walked. All
// its values are common practice, no source: a region's own numbers are better.
var DefaultStop = StopRules{
	Plants:       20,
	Minimum:      4,
	Maximum:      20,
	WalkMinutes:  3,
	PlantMinutes: 0.25, // fifteen seconds for a tally
}

// DefaultComingBack is taken where a protocol has the section but not the value:
// weekly until the pest is found, then twice a week. Common practice, no source.
var DefaultComingBack = ComingBack{
	DaysUntilFound: 7,
	DaysOnceFound:  3.5,
	LeadDays:       2,
	GrowthPerDay:   0.3,
	Confidence:     0.8,
}
