package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
)

var consoleBlock = regexp.MustCompile("(?ms)^```console\n(.*?)^```")

// Every "$ stopwise" line of the README and of the guide is run, in order and in
// one folder a document that sees the shipped data, and its output compared. A
// line "..." stands for any lines.
func TestDocuments(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	documents, err := filepath.Glob(filepath.Join(root, "cmd", "stopwise", "guide", "*.md"))
	if err != nil {
		t.Fatal(err)
	}
	if len(documents) == 0 {
		t.Error("the guide has no pages")
	}
	program, err := exec.LookPath("stopwise") // this test, under the name that TestMain gives it
	if err != nil {
		t.Fatal(err)
	}
	made := &shippedCalls{program: program, done: map[string]*shippedCall{}}
	for _, file := range append(documents, filepath.Join(root, "README.md")) {
		t.Run(filepath.Base(file), func(t *testing.T) {
			t.Parallel()
			runDocument(t, root, file, made)
		})
	}
}

// shippedCalls are the calls that read nothing but shipped data: several documents begin
// with the same one, which is then run once and its file copied.
type shippedCalls struct {
	program string
	lock    sync.Mutex
	done    map[string]*shippedCall
}

type shippedCall struct {
	once sync.Once
	out  string
	err  error
	name string // of the file made, "" where there is none
	text []byte
}

var shippedDesign = regexp.MustCompile(`^stopwise design testdata/[^ ]+( --out ([a-z.]+))?$`)

// run runs a call in a folder, and returns what it prints.
func (s *shippedCalls) run(line string, args []string, dir string) (string, error) {
	run := func() (string, error) {
		var out, errOut bytes.Buffer
		cmd := exec.Command(s.program, args[1:]...)
		cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &errOut
		if err := cmd.Run(); err != nil {
			return out.String(), fmt.Errorf("%w: %s", err, errOut.String())
		}
		return out.String(), nil
	}
	same := shippedDesign.FindStringSubmatch(line)
	if same == nil {
		return run()
	}
	s.lock.Lock()
	c := s.done[line]
	if c == nil {
		c = &shippedCall{name: same[2]}
		s.done[line] = c
	}
	s.lock.Unlock()
	c.once.Do(func() {
		if c.out, c.err = run(); c.err == nil && c.name != "" {
			c.text, c.err = os.ReadFile(filepath.Join(dir, c.name))
		}
	})
	if c.err == nil && c.name != "" {
		return c.out, os.WriteFile(filepath.Join(dir, c.name), c.text, 0o644)
	}
	return c.out, c.err
}

func runDocument(t *testing.T, root, file string, calls *shippedCalls) {
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.Symlink(filepath.Join(root, "testdata"), filepath.Join(dir, "testdata")); err != nil {
		t.Fatal(err)
	}
	blocks := consoleBlock.FindAllSubmatch(text, -1)
	if len(blocks) == 0 {
		t.Fatal("no console block")
	}
	for _, block := range blocks {
		for _, call := range strings.Split("\n"+string(block[1]), "\n$ ")[1:] {
			line, want, _ := strings.Cut(call, "\n")
			args, ok := words(line)
			if !ok || len(args) == 0 || args[0] != "stopwise" {
				t.Fatalf("%q is not a call of stopwise", line)
			}
			out, err := calls.run(line, args, dir)
			if err != nil {
				t.Errorf("%s: %v", line, err)
			}
			if !matches(strings.Split(strings.TrimRight(want, "\n"), "\n"), strings.Split(strings.TrimRight(out, "\n"), "\n")) {
				t.Errorf("%s: the output differs. It is now:\n%s", line, out)
			}
		}
	}
}

// words splits a command line as a shell does, with double quotes only.
func words(line string) ([]string, bool) {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
			continue
		}
		out = append(out, strings.Fields(part)...)
	}
	return out, strings.Count(line, `"`)%2 == 0
}

func matches(want, got []string) bool {
	if len(want) == 0 {
		return len(got) == 0
	}
	if want[0] == "..." {
		for i := range len(got) + 1 {
			if matches(want[1:], got[i:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && want[0] == got[0] && matches(want[1:], got[1:])
}

// mostWords is how long the README may be, its output included: more is not read.
const mostWords = 1000

func TestReadmeIsShort(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(strings.Fields(string(text))); n > mostWords {
		t.Errorf("the README has %d words, more than %d; the guide takes the rest", n, mostWords)
	}
}

// Shares and counts of a hundred that a page states stand in one of its executed
// blocks, or in the protocol that it is about.
func TestDocumentsStateWhatWasRun(t *testing.T) {
	root := filepath.Join("..", "..")
	pages, err := filepath.Glob("guide/*.md")
	if err != nil {
		t.Fatal(err)
	}
	protocol := ""
	for _, name := range []string{"protocol.toml", "season.toml", "rules.toml"} {
		text, err := os.ReadFile(filepath.Join(root, "testdata", "marrow-vale", name))
		if err != nil {
			t.Fatal(err)
		}
		protocol += string(text)
	}
	for _, page := range append(pages, filepath.Join(root, "README.md")) {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, number := range unrun(string(text), protocol) {
			t.Errorf("%s states %s, which no block of it shows", page, number)
		}
	}
}

var (
	inlineCode  = regexp.MustCompile("`[^`\n]*`")
	statedShare = regexp.MustCompile(`\d+(\.\d+)?%|\d+ of (100|a hundred|\d+)\b`)
)

// unrun returns the shares and counts in the prose of a page that neither its console
// blocks nor what it is about show.
func unrun(page, about string) []string {
	shown := about
	for _, block := range consoleBlock.FindAllString(page, -1) {
		shown += block
	}
	prose := inlineCode.ReplaceAllString(consoleBlock.ReplaceAllString(page, ""), "")
	var out []string
	for _, number := range statedShare.FindAllString(prose, -1) {
		if number == "100%" { // all, which nobody measures
			continue
		}
		if !regexp.MustCompile(`(^|[^\d.])` + regexp.QuoteMeta(number)).MatchString(shown) {
			out = append(out, number)
		}
	}
	return out
}

func TestUnrun(t *testing.T) {
	page := "It is 12% and `--at 7%` and 3.5% and 81 of 100.\n```console\n$ stopwise x\n112%, 3.5%\n```\n"
	if got := unrun(page, `risk = "5%"`); strings.Join(got, " ") != "12% 81 of 100" {
		t.Errorf("%q", got)
	}
	if got := unrun(page, `12% and 81 of 100`); len(got) > 0 {
		t.Errorf("%q", got)
	}
}
