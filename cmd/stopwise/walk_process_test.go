package main

import (
	"bufio"
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

var kills = flag.Int("kill", 25, "how many walks TestWalkKilled kills")

// build puts the program into a directory: the test binary runs it under its name
// (see TestMain).
func build(t *testing.T) string {
	t.Helper()
	test, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(t.TempDir(), "stopwise")
	if os.Link(test, program) == nil {
		return program
	}
	binary, err := os.ReadFile(test)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, binary, 0o755); err != nil {
		t.Fatal(err)
	}
	return program
}

// longPlan writes a plan without a verdict before its last stop.
func longPlan(t *testing.T, dir string, stops int) string {
	t.Helper()
	p := plans.Protocol{
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.StopRules{Plants: 5, Minimum: stops, Maximum: stops}, Clumping: plans.Clumping{Rho: &plans.Range{}}, ComingBack: &plans.DefaultComingBack}, []plans.Stage{{Name: "leafing", Measure: plans.ShareInfested, Lower: .2, Threshold: .3, Upper: .4, NeedlessRisk: .1, MissedRisk: .1}}...),
	}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	if plan.Stages[0].Table.Stops() != stops {
		t.Fatalf("the plan has %d stops, want %d", plan.Stages[0].Table.Stops(), stops)
	}
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "plan.json")
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// countAt is what the tests answer at a stop, so that a lost or doubled answer
// shows.
func countAt(stop int) int { return stop * stop % 6 }

var recordedStop = regexp.MustCompile(`^Recorded stop (\d+):`)

// acknowledged returns the last stop that a walk's output acknowledges.
func acknowledged(out io.Reader, note func(stop int)) {
	for s := bufio.NewScanner(out); s.Scan(); {
		if m := recordedStop.FindStringSubmatch(s.Text()); m != nil {
			n, _ := strconv.Atoi(m[1])
			note(n)
		}
	}
}

// recorded returns the stops of the only visit of a field, which must answer
// countAt, in a file that must be whole.
func recorded(t *testing.T, file, field string) int {
	t.Helper()
	f, err := season.Open(file, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := f.Verify()
	if err != nil || len(r.Faults) > 0 {
		t.Fatalf("verify: %v %v", err, r.Faults)
	}
	vs, err := f.FullVisits(season.Filter{Field: field})
	if err != nil {
		t.Fatal(err)
	}
	if len(vs) == 0 {
		return 0
	}
	stops, err := vs[0].Stops()
	if err != nil || len(vs) > 1 {
		t.Fatalf("%d visits of %s, %v", len(vs), field, err)
	}
	for i, s := range stops {
		if s.Total != countAt(i+1) || s.Plants != 5 {
			t.Fatalf("field %s, stop %d: %+v, want %d of 5", field, i+1, s, countAt(i+1))
		}
	}
	return len(stops)
}

// A walk that is killed loses no stop that it acknowledged, leaves the file
// whole, and goes on where it was.
func TestWalkKilled(t *testing.T) {
	t.Parallel()
	program, dir := build(t), t.TempDir()
	plan, file := longPlan(t, dir, 400), filepath.Join(dir, "s.season")
	rng := rand.New(rand.NewPCG(1, 2))
	walked, field := 0, 0
	acked := 0
	for i := range *kills {
		if i%8 == 0 || walked > 250 {
			walked, field = 0, field+1
		}
		name := fmt.Sprintf("F%d", field)
		var last atomic.Int64
		cmd := exec.Command(program, "walk", plan, "--season", file, "--field", name, "--date", "2026-07-01")
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		var both sync.WaitGroup
		both.Go(func() {
			for stop := walked + 1; ; stop++ {
				if _, err := fmt.Fprintln(in, countAt(stop)); err != nil {
					return
				}
			}
		})
		// Some are killed as they start, the others after some stops.
		enough, after := make(chan struct{}, 1), 1+rng.IntN(12)
		both.Go(func() {
			acknowledged(out, func(n int) {
				last.Store(int64(n))
				if after--; after == 0 {
					enough <- struct{}{}
				}
			})
			close(enough)
		})
		if i%4 > 0 {
			<-enough
			time.Sleep(time.Duration(rng.IntN(4000)) * time.Microsecond)
		} else {
			time.Sleep(time.Duration(rng.IntN(40)) * time.Millisecond)
		}
		if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		both.Wait()
		err = cmd.Wait()
		if cmd.ProcessState.Exited() && cmd.ProcessState.ExitCode() != 0 {
			t.Fatalf("kill %d: the walk ended by itself: %v", i, err)
		}
		if _, err := os.Stat(file); os.IsNotExist(err) {
			if last.Load() > 0 {
				t.Fatalf("kill %d: %d stops acknowledged, and no file", i, last.Load())
			}
			continue
		}
		if info, err := os.Stat(file); err == nil && info.Size() == 0 && last.Load() == 0 {
			continue // killed as the file was made: the next walk fills it
		}
		n := recorded(t, file, name)
		if n < int(last.Load()) || n < walked {
			t.Fatalf("kill %d: %d stops recorded, %d before, %d acknowledged", i, n, walked, last.Load())
		}
		acked += n - walked
		walked = n
	}
	t.Logf("%d walks killed, %d stops kept", *kills, acked)
	if acked < *kills/2 {
		t.Errorf("only %d stops were recorded in %d walks: too few to show anything", acked, *kills)
	}
}

// feedWalk runs a walk on countAt from a stop on, and returns the last stop that it
// acknowledged.
func feedWalk(cmd *exec.Cmd, from, stops int) (last int, errOut string, err error) {
	var answers strings.Builder
	for stop := from; stop < from+stops; stop++ {
		fmt.Fprintln(&answers, countAt(stop))
	}
	var out, errs bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(answers.String()), &out, &errs
	err = cmd.Run()
	acknowledged(&out, func(n int) { last = n })
	return last, errs.String(), err
}

// On a full disk, here one that takes files up to a size, the walk ends with a
// clear message, and what it acknowledged is there.
func TestWalkDiskFull(t *testing.T) {
	program, dir := build(t), t.TempDir()
	plan, file := longPlan(t, dir, 400), filepath.Join(dir, "s.season")
	cmd := exec.Command("sh", "-c", `ulimit -f 1200 && exec "$0" walk "$1" --season "$2" --field North --date 2026-07-01`, program, plan, file)
	last, errOut, err := feedWalk(cmd, 1, 399)
	if code := cmd.ProcessState.ExitCode(); code != shell.StatusFailed {
		t.Errorf("exit status %d (%v), want %d", code, err, shell.StatusFailed)
	}
	want := fmt.Sprintf("the disk is full.*; stop %d was NOT recorded, what was recorded before is safe: %d stops\n$", last+1, last)
	if !regexp.MustCompile(want).MatchString(errOut) {
		t.Errorf("message %q, want %q", errOut, want)
	}
	if n := recorded(t, file, "North"); n != last || n == 0 {
		t.Errorf("%d stops recorded, %d acknowledged", n, last)
	}
	// With room again, the walk goes on.
	last, errOut, err = feedWalk(exec.Command(program, "walk", plan, "--season", file, "--field", "North", "--date", "2026-07-01"), last+1, 3)
	if n := recorded(t, file, "North"); err != nil || n != last {
		t.Errorf("%d stops recorded, %d acknowledged, %v %s", n, last, err, errOut)
	}
}

// asNobody makes a process one that cannot write where others can: root can
// write anywhere.
func asNobody(cmd *exec.Cmd) *exec.Cmd {
	if os.Getuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	return cmd
}

func TestWalkReadOnly(t *testing.T) {
	program, dir := build(t), t.TempDir()
	for _, d := range []string{filepath.Dir(program), filepath.Dir(filepath.Dir(program)), filepath.Dir(dir)} {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	plan := longPlan(t, dir, 20)
	closed := filepath.Join(dir, "closed")
	if err := os.Mkdir(closed, 0o755); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(closed, "old.season")
	if last, errOut, err := feedWalk(exec.Command(program, "walk", plan, "--season", file, "--field", "North", "--date", "2026-07-01"), 1, 3); err != nil || last != 3 {
		t.Fatal(last, errOut, err)
	}
	if err := os.Chmod(closed, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(closed, 0o755)
	for _, name := range []string{"new.season", "old.season"} {
		cmd := asNobody(exec.Command(program, "walk", plan, "--season", filepath.Join(closed, name), "--field", "North", "--date", "2026-07-01"))
		last, errOut, _ := feedWalk(cmd, 4, 1)
		if code := cmd.ProcessState.ExitCode(); code != shell.StatusFailed || last != 0 || strings.Count(errOut, "\n") != 1 || !regexp.MustCompile(`cannot (open|make|write).*(directory|read-only)`).MatchString(errOut) {
			t.Errorf("%s: exit status %d, stop %d, %q", name, code, last, errOut)
		}
	}
	if err := os.Chmod(closed, 0o755); err != nil {
		t.Fatal(err)
	}
	if n := recorded(t, file, "North"); n != 3 {
		t.Errorf("%d stops, want 3", n)
	}
}

// Two walks at once, of two fields and then of one, keep all that both were
// told.
func TestTwoWalksAtOnce(t *testing.T) {
	t.Parallel()
	program, dir := build(t), t.TempDir()
	plan, file := longPlan(t, dir, 400), filepath.Join(dir, "s.season")
	const stops = 25
	both := func(fields ...string) {
		var wg sync.WaitGroup
		for _, field := range fields {
			wg.Go(func() {
				cmd := exec.Command(program, "walk", plan, "--season", file, "--field", field, "--date", "2026-07-01")
				cmd.Stdin = strings.NewReader(strings.Repeat("1\n", stops))
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, out)
				}
			})
		}
		wg.Wait()
	}
	both("North", "South")
	both("North", "north")
	f, err := season.Open(file, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for field, want := range map[string]int{"North": 3 * stops, "South": stops} {
		vs, err := f.Visits(season.Filter{Field: field})
		if err != nil || len(vs) != 1 || vs[0].Told.Stops != want || vs[0].Told.Total != want {
			t.Errorf("field %s: %d visits, %v, want one of %d stops", field, len(vs), err, want)
		}
	}
	if r, err := f.Verify(); err != nil || len(r.Faults) > 0 {
		t.Error(err, r.Faults)
	}
}
