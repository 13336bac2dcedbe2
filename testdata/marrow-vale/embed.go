// Package marrowvale holds the files of the invented scenario that the demo and
// the examples play in: the bean growers of the Marrow Vale and their
// russet thrips. Place, people, pest and numbers are made up.
package marrowvale

import _ "embed"

// Protocol is the invented regional protocol.
//
//go:embed protocol.toml
var Protocol []byte

// Season is the protocol that promises something for the season instead of the visit.
//
//go:embed season.toml
var Season []byte

// Pilot holds the invented pilot counts, from which the protocol has its
// clumping: one row a stop.
//
//go:embed pilot.csv
var Pilot []byte
