package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The arrows of the program: cmd -> validate -> plans -> sampling. A library
// imports no other package of the program than these.
var mayImport = map[string][]string{
	"stopwise/sampling": {"stopwise/sampling"},
	"stopwise/plans":    {"stopwise/sampling", "stopwise/plans"},
	"stopwise/validate": {"stopwise/sampling", "stopwise/plans", "stopwise/validate"},
}

// The floors of the command line. A package of the program below
// cmd/stopwise/internal imports of its neighbours only those named here, so that
// no group of commands knows another; the libraries are open to all.
const inside = "stopwise/cmd/stopwise/internal/"

var below = map[string][]string{
	"textsafe": {}, "outfile": {}, "browsertest": {}, "words/wordstest": {"words"},
	"report":    {"textsafe"},
	"figure":    {"textsafe", "outfile"},
	"season":    {"textsafe"},
	"bulletin":  {"figure", "words"},
	"words":     {"report"},
	"card":      {"say", "report", "words"},
	"explain":   {"report"},
	"say":       {"report", "words"},
	"shell":     {"say", "words", "report", "figure", "textsafe", "outfile"},
	"laying":    {"shell", "say", "words", "figure"},
	"drawing":   {"say", "words", "report", "figure"},
	"fitting":   groupMay,
	"sizing":    groupMay,
	"designing": groupMay,
	"handouts":  groupMay,
	"scouting":  groupMay,
	"trying":    groupMay,
	"studying":  groupMay,
	"routing":   groupMay,
	"following": groupMay,
}

// The floors of the libraries: what a package imports of its neighbours. One that is
// not named here has no place.
var libraries = map[string][]string{
	"sampling/root":           {},
	"sampling":                {"sampling/root"},
	"sampling/pilot":          {"sampling"},
	"sampling/size":           {"sampling", "sampling/root"},
	"sampling/tally":          {"sampling", "sampling/root"},
	"sampling/fit":            {"sampling", "sampling/root", "sampling/pilot", "sampling/tally"},
	"plans/rule":              {"sampling", "sampling/root"},
	"plans/protocol":          {"sampling", "plans/rule"},
	"plans/season":            {"sampling", "plans/rule", "plans/internal/parallel"},
	"plans/internal/parallel": {},
	"plans/internal/planfile": {"plans/protocol"},
	"plans/internal/search":   {"sampling", "plans/rule", "plans/internal/parallel"},
	"plans":                   {"sampling", "sampling/pilot", "sampling/tally", "plans/rule", "plans/protocol", "plans/season", "plans/internal/parallel", "plans/internal/planfile", "plans/internal/search"},
	"plans/precision":         {"sampling", "sampling/tally", "plans", "plans/rule", "plans/protocol", "plans/internal/planfile"},
	"plans/tallying":          {"sampling", "sampling/root", "sampling/tally", "plans", "plans/protocol", "plans/internal/parallel"},
	"validate/layout":         {},
	"validate":                {"sampling", "sampling/size", "sampling/pilot", "plans", "plans/rule", "validate/layout"},
}

// groupMay is what a group of commands may import.
var groupMay = []string{"shell", "say", "words", "drawing", "laying", "report", "figure", "season", "card", "bulletin", "explain", "textsafe", "outfile"}

// Libraries know nothing of files, the command line, printing or clocks. The
// packages below these are forbidden too.
var forbidden = []string{
	"os", "path/filepath", "log", "time", "flag",
	"github.com/urfave/cli/v2", "github.com/olekukonko/tablewriter", "golang.org/x/term",
}

// datesOnly are packages that read dates written in data; they ask no clock.
var datesOnly = []string{"stopwise/sampling/pilot"}

type goPackage struct {
	ImportPath string
	Imports    []string // without those of tests
}

func listPackages(t *testing.T) []goPackage {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []goPackage
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p goPackage
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

func TestArrows(t *testing.T) {
	all := listPackages(t)
	for _, path := range []string{"stopwise/sampling", "stopwise/plans", "stopwise/cmd/stopwise"} {
		if !slices.ContainsFunc(all, func(p goPackage) bool { return p.ImportPath == path }) {
			t.Errorf("go list does not know %s", path)
		}
	}
	for _, fault := range arrowFaults(all) {
		t.Error(fault)
	}
}

func TestArrowFaults(t *testing.T) {
	for _, c := range []struct {
		from, to string
		faulty   bool
	}{
		{"stopwise/sampling", "stopwise/plans", true},
		{"stopwise/sampling/fit", "stopwise/validate", true},
		{"stopwise/plans", "stopwise/validate/layout", true},
		{"stopwise/plans", "stopwise/plans/precision", true},
		{"stopwise/plans/rule", "stopwise/plans/protocol", true},
		{"stopwise/plans/season", "stopwise/plans", true},
		{"stopwise/plans/unheard", "fmt", true},
		{"stopwise/plans/precision", "stopwise/plans", false},
		{"stopwise/validate", "stopwise/cmd/stopwise/internal/report", true},
		{"stopwise/plans", "os", true},
		{"stopwise/plans", "os/exec", true},
		{"stopwise/plans", "github.com/olekukonko/tablewriter/tw", true},
		{"stopwise/plans", "stopwise/sampling", false},
		{"stopwise/validate", "stopwise/plans", false},
		{"stopwise/sampling", "math", false},
		{"stopwise/sampling/fit", "stopwise/sampling", false},
		{"stopwise/cmd/stopwise/internal/sizing", "stopwise/cmd/stopwise/internal/fitting", true},
		{"stopwise/cmd/stopwise/internal/say", "stopwise/cmd/stopwise/internal/shell", true},
		{"stopwise/cmd/stopwise/internal/report", "stopwise/cmd/stopwise/internal/shell", true},
		{"stopwise/cmd/stopwise/internal/shell", "stopwise/cmd/stopwise", true},
		{"stopwise/cmd/stopwise/internal/unheard", "fmt", true},
		{"stopwise/cmd/stopwise/internal/sizing", "stopwise/cmd/stopwise/internal/shell", false},
		{"stopwise/cmd/stopwise/internal/sizing", "stopwise/sampling/size", false},
		{"stopwise/cmd/stopwise", "os", false},
		{"stopwise/cmd/stopwise", "stopwise/validate", false},
	} {
		faults := arrowFaults([]goPackage{{c.from, []string{c.to}}})
		if (len(faults) > 0) != c.faulty {
			t.Errorf("%s -> %s: %q", c.from, c.to, faults)
		}
	}
}

func arrowFaults(all []goPackage) (faults []string) {
	for _, p := range all {
		faults = append(faults, roomFaults(p)...)
		faults = append(faults, libraryFaults(p)...)
		for library, allowed := range mayImport {
			if !within(p.ImportPath, library) {
				continue
			}
			for _, i := range p.Imports {
				own := within(i, "stopwise")
				inside := func(path string) bool { return within(i, path) }
				if i == "time" && slices.Contains(datesOnly, p.ImportPath) {
					continue
				}
				if own && !slices.ContainsFunc(allowed, inside) || slices.ContainsFunc(forbidden, inside) {
					faults = append(faults, p.ImportPath+" imports "+i)
				}
			}
		}
	}
	return faults
}

// roomFaults holds a package of the command line to the floors.
func roomFaults(p goPackage) (faults []string) {
	name, isRoom := strings.CutPrefix(p.ImportPath, inside)
	if !isRoom {
		return nil
	}
	may, known := below[name]
	if !known {
		return []string{p.ImportPath + " has no place among the floors"}
	}
	for _, i := range p.Imports {
		other, own := strings.CutPrefix(i, inside)
		if own && !slices.Contains(may, other) || i == "stopwise/cmd/stopwise" {
			faults = append(faults, p.ImportPath+" imports "+i)
		}
	}
	return faults
}

// libraryFaults holds a package of the libraries to the floors.
func libraryFaults(p goPackage) (faults []string) {
	name := strings.TrimPrefix(p.ImportPath, "stopwise/")
	if within(name, "cmd") {
		return nil
	}
	may, known := libraries[name]
	if !known {
		return []string{p.ImportPath + " has no place among the floors"}
	}
	for _, i := range p.Imports {
		other, own := strings.CutPrefix(i, "stopwise/")
		if own && !slices.Contains(may, other) {
			faults = append(faults, p.ImportPath+" imports "+i)
		}
	}
	return faults
}

func within(path, parent string) bool { return path == parent || strings.HasPrefix(path, parent+"/") }

// Rooms stay small enough to be known: no package has more than 25 files without its
// tests, no file more than 350 lines.
func TestRoomsStaySmall(t *testing.T) {
	const mostFiles, mostLines = 25, 350
	files := map[string]int{}
	err := filepath.WalkDir("../..", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(path) != ".go" && filepath.Ext(path) != ".js" || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		if n := bytes.Count(text, []byte("\n")); n > mostLines {
			t.Errorf("%s has %d lines; part it by what it holds", path, n)
		}
		if filepath.Ext(path) == ".go" {
			files[filepath.Dir(path)]++
		}
		return err
	})
	if err != nil || len(files) < 10 {
		t.Fatal(len(files), err)
	}
	for dir, n := range files {
		if n > mostFiles {
			t.Errorf("%s has %d files; join those of one idea, or make a room of its own", dir, n)
		}
	}
}
