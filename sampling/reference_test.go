package sampling_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// reference reads a file of values that were computed by other software; each
// file names its source.
func reference(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "testdata", "ref", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// apart returns the relative difference of got from want.
func apart(got, want float64) float64 {
	if got == want {
		return 0
	}
	return math.Abs(got-want) / math.Abs(want)
}
