// Package protocol holds what a specialist lays down for a region, and reads it
// from TOML: for each growth stage its [Terms], everything that holds in that
// stage, and nothing that holds in a stage without standing in its terms.
//
// What a threshold is stated in is a [Measure]; how clumped the pest is, a [Law],
// which gives the [World]s a plan is judged in. The package knows nothing of
// plans, files' paths, printing or clocks.
package protocol
