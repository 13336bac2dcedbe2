// Package fit estimates the constants of a sampling plan from pilot counts:
// how alike the plants of one stop are (rho), how clumped counts are (k,
// Taylor's a and b, Iwao's A and B), and how the share of infested plants
// follows the mean count (the tally model). Every estimate carries its
// interval, or the reason why there is none.
//
// For most uses, call [Fit] on the data of package pilot:
//
//	data, err := pilot.Read(file)
//	result, err := fit.Fit(data, fit.Options{})
//	rho := result.Rho.Estimate // Value, Lower, Upper
//
// What the data cannot carry is no error: the [Estimate] says why it is
// missing. Shares and probabilities are in [0, 1].
package fit
