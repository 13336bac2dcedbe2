package marrowvale

import _ "embed"

// Fields are invented counts from fields that no constant was fitted to.
//
//go:embed fields.csv
var Fields []byte
