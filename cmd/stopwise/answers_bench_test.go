//go:build linux

package main

import (
	"flag"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

var timedProgram = flag.String("program", "", "the program whose answers are timed; built from here where it is empty")

// BenchmarkAnswers times whole processes: the median of their user seconds (of check the
// system's as well), the largest memory, and what is wished of each.
//
//	go test ./cmd/stopwise -run '^$' -bench Answers -benchtime 5x
func BenchmarkAnswers(b *testing.B) {
	dir := b.TempDir()
	program := *timedProgram
	if program == "" {
		program = filepath.Join(dir, "stopwise")
		if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, out)
		}
	}
	vale, err := filepath.Abs("../../testdata/marrow-vale/protocol.toml")
	if err != nil {
		b.Fatal(err)
	}
	const fifteen = "design --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% "
	const check = "check " // of the plan of the three stages
	for _, c := range []struct {
		name, args string
		wished     float64 // seconds
	}{
		{"20 plants x 20 stops", fifteen + "--rho .1 --plants-per-stop 20 --max-stops 20", .45},
		{"40 stops", fifteen + "--rho .1 --plants-per-stop 20 --max-stops 40", .9},
		{"80 stops", fifteen + "--rho .1 --plants-per-stop 20 --max-stops 80", 2.5},
		{"1 plant x 100 stops", fifteen + "--rho 0 --plants-per-stop 1 --max-stops 100", 5},
		{"three stages", "design PROTOCOL", 2},
		{"plants per stop auto", fifteen + "--rho .1 --plants-per-stop auto", 5},
		{"balance costs", "design PROTOCOL --balance-costs", 4},
		{"bounds near each other", "design --lower .591 --upper .667 --needless-risk .213 --missed-risk .1 --plants-per-stop 16 --min-stops 3 --max-stops 30 --rho .033...116", 2.5},
		{"too few stops", "design --lower .104 --upper .203 --needless-risk .1 --missed-risk .1 --plants-per-stop 23 --min-stops 1 --max-stops 16 --rho .4", 2.5},
		{"compare", "design PROTOCOL --compare", 0},
		{"demo", "demo", 0},
		{"check", check + "plan.json --stage leafing 3 1 4 2", .006},
	} {
		b.Run(c.name, func(b *testing.B) {
			args := strings.Fields(strings.ReplaceAll(c.args, "PROTOCOL", vale))
			timed := func(args ...string) (user, system, megabytes float64) {
				p := exec.Command(program, args...)
				p.Dir = dir
				var failed strings.Builder
				p.Stderr = &failed
				// That there is no plan is an answer, too.
				if err := p.Run(); err != nil && p.ProcessState.ExitCode() != 1 {
					b.Fatalf("%v: %s", err, failed.String())
				}
				s := p.ProcessState
				return s.UserTime().Seconds(), s.SystemTime().Seconds(), float64(s.SysUsage().(*syscall.Rusage).Maxrss) / 1024
			}
			isCheck := strings.HasPrefix(c.args, check)
			if isCheck {
				timed("design", vale, "--out", "plan.json")
			}
			var all []float64
			most := 0.0
			for b.Loop() {
				user, system, mb := timed(args...)
				if isCheck {
					user += system
				}
				all, most = append(all, user), max(most, mb)
			}
			slices.Sort(all)
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(all[len(all)/2], "s")
			b.ReportMetric(most, "MB")
			if c.wished > 0 {
				b.ReportMetric(c.wished, "s-wished")
			}
		})
	}
}
