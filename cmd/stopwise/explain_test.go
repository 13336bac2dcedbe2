package main

import (
	"os/exec"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/explain"
)

// slowTries are run by the scripts of their commands, which know what they cost.
var slowTries = []string{"--balance-costs", "--compare", "allocate"}

const demoTry = "stopwise demo --out marrow-vale"

// TestTriesRun types what the explanations offer to try, in an empty folder.
func TestTriesRun(t *testing.T) {
	t.Parallel()
	program, err := exec.LookPath("stopwise") // this test, under the name that TestMain gives it
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
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
			t.Run(try, func(t *testing.T) {
				if try != demoTry { // which brings the others their files
					t.Parallel()
				}
				cmd := exec.Command(program, strings.Fields(try)[1:]...)
				cmd.Dir = dir
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%s: %v: %s", x.Name, err, out)
				}
			})
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
