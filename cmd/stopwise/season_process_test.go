package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
)

var rounds = flag.Int("rounds", 3, "how many rounds of merge, export and verify TestReadingBesideWriting runs")

// Copies, exports and checks that are taken while three walks write are whole.
func TestReadingBesideWriting(t *testing.T) {
	t.Parallel()
	program, dir := build(t), t.TempDir()
	plan := longPlan(t, dir, 400)
	for left := *rounds; left > 0; left -= seasonRounds { // of a season that goes on, each takes longer
		readBesideWriting(t, program, plan, min(left, seasonRounds))
	}
}

// seasonRounds are the rounds in which one season file grows.
const seasonRounds = 10

func readBesideWriting(t *testing.T, program, plan string, rounds int) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "s.season")
	run := func(args ...string) error {
		out, err := exec.Command(program, args...).CombinedOutput()
		if err != nil {
			return fmt.Errorf("%s: %w: %s", strings.Join(args, " "), err, out)
		}
		return nil
	}
	walk := func(field string) *exec.Cmd {
		cmd := exec.Command(program, "walk", plan, "--season", file, "--field", field, "--date", "2026-07-01", "--new")
		cmd.Stdin = strings.NewReader(strings.Repeat("1\n", 30))
		return cmd
	}
	if out, err := walk("First").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	done := make(chan struct{})
	var wg sync.WaitGroup
	for i := range 3 {
		wg.Go(func() {
			for n := 0; ; n++ {
				select {
				case <-done:
					return
				default:
				}
				if out, err := walk(fmt.Sprintf("F%d.%d", i, n)).CombinedOutput(); err != nil {
					t.Errorf("walk: %v: %s", err, out)
					return
				}
			}
		})
	}
	for i := range rounds {
		dir := t.TempDir()
		copied, export, again := filepath.Join(dir, "copy.season"), filepath.Join(dir, "e.json"), filepath.Join(dir, "again.season")
		for _, args := range [][]string{
			{"season", "merge", copied, file}, {"season", "verify", copied},
			{"season", "export", file, "--format", "json", "--out", export}, {"season", "import", again, export}, {"season", "verify", again},
			{"season", "verify", file},
		} {
			if err := run(args...); err != nil {
				t.Fatalf("round %d: %v", i, err)
			}
		}
	}
	close(done)
	wg.Wait()
}

// Walks that begin at the same time begin one visit.
func TestWalksBeginAtOnce(t *testing.T) {
	t.Parallel()
	program, dir := build(t), t.TempDir()
	plan, file := longPlan(t, dir, 100), filepath.Join(dir, "s.season")
	for i := range 5 {
		var wg sync.WaitGroup
		field := fmt.Sprintf("F%d", i)
		for range 2 {
			wg.Go(func() {
				cmd := exec.Command(program, "walk", plan, "--season", file, "--field", field, "--date", "2026-07-01")
				cmd.Stdin = strings.NewReader("1\n1\n1\n")
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, out)
				}
			})
		}
		wg.Wait()
		f, err := season.Open(file, false)
		if err != nil {
			t.Fatal(err)
		}
		vs, err := f.Visits(season.Filter{Field: field})
		f.Close()
		if err != nil || len(vs) != 1 || vs[0].Told.Stops != 6 {
			t.Fatalf("field %s: %d visits, %v; want one of 6 stops", field, len(vs), err)
		}
	}
}

// A season on a medium that cannot be written is read, and not written.
func TestReadOnlyMedium(t *testing.T) {
	t.Parallel()
	program, dir := build(t), t.TempDir()
	for _, d := range []string{filepath.Dir(program), filepath.Dir(filepath.Dir(program)), filepath.Dir(dir)} {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	plan, closed := longPlan(t, dir, 20), filepath.Join(dir, "closed")
	if err := os.Mkdir(closed, 0o755); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(closed, "s.season")
	if last, errOut, err := feedWalk(exec.Command(program, "walk", plan, "--season", file, "--field", "North", "--date", "2026-07-01"), 1, 3); err != nil || last != 3 {
		t.Fatal(last, errOut, err)
	}
	for path, mode := range map[string]os.FileMode{file: 0o444, closed: 0o555} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	defer os.Chmod(closed, 0o755)
	copies := filepath.Join(dir, "copies")
	if err := errors.Join(os.Mkdir(copies, 0o777), os.Chmod(copies, 0o777)); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"list"}, {"due"}, {"summary"}, {"show"}, {"export"}, {"verify"}} {
		cmd := asNobody(exec.Command(program, "season", args[0], file))
		cmd.Env = append(os.Environ(), "TMPDIR="+copies)
		out, err := cmd.CombinedOutput()
		if err != nil || args[0] != "verify" && !strings.Contains(string(out), "North") {
			t.Errorf("%s: %v: %s", args[0], err, out)
		}
	}
	if names, err := filepath.Glob(filepath.Join(copies, "*")); err != nil || len(names) > 0 {
		t.Errorf("copies were left: %v, %v", names, err)
	}
	cmd := asNobody(exec.Command(program, "season", "void", file, "North", "--visit", "1", "--reason", "x"))
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(string(out), "cannot") {
		t.Errorf("%v: %s", err, out)
	}
}

// A season in JSON may be larger than what else is read into memory.
func TestBigImport(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	planFile, file := longPlan(t, dir, 3), filepath.Join(dir, "s.season")
	if status, _, errOut := runIn(t, "5\n5\n5\nnote MARK\n", "walk", planFile, "--season", file, "--field", "North", "--date", "2026-07-01"); status != 0 {
		t.Fatal(errOut)
	}
	_, out, _ := runIn(t, "", "season", "export", file, "--format", "json")
	at := strings.Index(out, `"visits": [`) + len(`"visits": [`)
	one := strings.TrimSpace(out[at:strings.LastIndex(out, "]")])
	id := one[strings.Index(one, `"id": "`)+7:][:36]
	big, err := os.Create(filepath.Join(dir, "big.json"))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(big, out[:at])
	note := strings.Repeat("x", 1<<20)
	const visits = 66
	for i := range visits {
		if i > 0 {
			fmt.Fprint(big, ",")
		}
		visit := strings.Replace(one, id, fmt.Sprintf("%s%04d", id[:32], i), 1)
		fmt.Fprint(big, strings.Replace(visit, "MARK", note, 1))
	}
	fmt.Fprint(big, "]}")
	if err := big.Close(); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(big.Name()); err != nil || info.Size() <= shell.LargestInput {
		t.Fatal("the file is not larger than what was read before")
	}
	status, out, errOut := runIn(t, "", "season", "import", filepath.Join(dir, "n.season"), big.Name())
	if status != 0 || !strings.Contains(out, fmt.Sprintf("%d new visits", visits)) {
		t.Errorf("%d %q %q", status, out, errOut)
	}
}
