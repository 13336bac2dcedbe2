package main

import (
	"bytes"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/explain"
	"stopwise/cmd/stopwise/internal/shell"
)

// slowTries are run by the scripts of their commands, which know what they cost.
var slowTries = []string{"--balance-costs", "--compare", "allocate"}

// TestTriesRun types what the explanations offer to try, in an empty folder.
func TestTriesRun(t *testing.T) {
	t.Chdir(t.TempDir())
	ran := map[string]bool{}
	for _, topic := range explain.Topics {
		x, err := topic.Explain()
		if err != nil {
			t.Fatal(err)
		}
		for _, try := range x.Try {
			if ran[try] || holdsAny(try, slowTries) {
				continue
			}
			ran[try] = true
			var out, errOut bytes.Buffer
			if status := run(strings.Fields(try), strings.NewReader(""), &out, &errOut); status != shell.StatusDone {
				t.Errorf("%s: %q ends with %d: %s", x.Name, try, status, errOut.String())
			}
		}
	}
	if len(ran) < 12 {
		t.Errorf("%d commands tried", len(ran))
	}
}

func holdsAny(s string, parts []string) bool {
	for _, p := range parts {
		if strings.Contains(s, p) {
			return true
		}
	}
	return false
}
