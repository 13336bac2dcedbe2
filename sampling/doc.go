// Package sampling holds the statistics of scouting: how the total seen at one
// stop is distributed when a pest sits in spots, and what follows from it for
// samples of fixed size.
//
// For most uses, make a [Population] with [NewInfested] (shares of plants
// infested) or [NewCounts] (insects per unit) and ask it for the distribution
// of a stop's total:
//
//	field, err := sampling.NewInfested(0.15, 0.10)
//	stop := field.Stop(20)      // twenty plants
//	probs := stop.Probs(20)     // P(0 infested), ..., P(20 infested)
//
// Proportions and probabilities are in [0, 1], never in percent. The package
// knows nothing of files, printing or clocks.
package sampling
