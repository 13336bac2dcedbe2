// Package tally relates the mean count of insects per leaf to the share of
// plants that count as infested: those with a leaf that carries at least a tally
// number of insects. Counting to the tally number is quicker than counting all.
//
// For most uses, make a [Theory] from a law of the variance, or take a [Model]
// fitted to pilot fields, and ask for the share or for the mean:
//
//	relation := tally.Theory{T: 50, Leaves: 1, Law: sampling.CommonK{K: 0.8}}
//	share := relation.Share(75)               // of plants, at a mean of 75 per leaf
//	mean, err := tally.Mean(relation, 0.25)   // at which a quarter is infested
//
// Means are insects per leaf, shares lie in [0, 1].
package tally
