// Package size answers how many stops and plants a visit of fixed size needs,
// and what a visit of given size can tell.
//
//   - [Proportion]: to estimate a share infested to a wanted half-width
//   - [Mean]: to estimate a mean count to a wanted relative precision
//   - [Classify]: to tell a low share from a high one at given risks
//   - [Visit]: what a given visit tells, the other way round
//   - [Detect]: to find a pest if it is there
//   - [NoneFound]: what can still be there when none was found
//   - [Allocate]: how to split minutes between stops and plants per stop
//
// Each takes one request and returns what was asked and what is reached, side by
// side, because plants come in whole stops, and how the answer moves if the clumping
// is not what was assumed.
//
// Shares and risks are in [0, 1]. Clumping is the intraclass correlation rho of
// two plants at one stop, and enters exactly wherever the totals have an exact
// distribution.
package size
