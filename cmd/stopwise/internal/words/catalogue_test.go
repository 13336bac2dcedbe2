package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"stopwise/plans/protocol"
)

// An asked sentence is one that some code says, with the placeholders it fills.
type asked struct {
	where, id string
	names     []string // nil where a caller passes them on
}

// TestEverySentenceIsSaid reads the code: each sentence that it says is in the
// catalogue, with those placeholders and no others, and the catalogue has no
// sentence that nobody says.
func TestEverySentenceIsSaid(t *testing.T) {
	said, parts := map[string]bool{}, map[string]bool{}
	for id := range English().messages() {
		part, _, _ := strings.Cut(id, ".")
		parts[part] = true
	}
	for _, a := range slices.Concat(goSentences(t), pageSentences(t)) {
		m := English().message(a.id)
		if part, _, _ := strings.Cut(a.id, "."); !parts[part] {
			continue // a name of something else
		}
		if m == nil {
			t.Errorf("%s: the catalogue has no %s", a.where, a.id)
			continue
		}
		said[a.id] = true
		if want := names(m); a.names != nil && !slices.Equal(a.names, want) {
			t.Errorf("%s: %s is said with %v, the catalogue has %v", a.where, a.id, a.names, want)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(English().messages())) {
		if !said[id] && id != "language.tag" {
			t.Errorf("nobody says %s", id)
		}
	}
}

// goSentences finds the calls of Say, Count and CountOf with a sentence's name,
// and names that are handed on.
func goSentences(t *testing.T) []asked {
	var out []asked
	files(t, ".go", func(path string) {
		if strings.HasSuffix(path, "_test.go") {
			return
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		called := map[ast.Expr]bool{}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				f, ok := n.Fun.(*ast.SelectorExpr)
				if !ok || !slices.Contains([]string{"Say", "Count", "CountOf"}, f.Sel.Name) || len(n.Args) == 0 {
					return true
				}
				id, isName := sentenceName(n.Args[0])
				if !isName {
					return true
				}
				called[n.Args[0]] = true
				a := asked{where: set.Position(n.Pos()).String(), id: id, names: []string{}}
				rest := n.Args[1:]
				if f.Sel.Name != "Say" {
					a.names, rest = []string{"N"}, rest[1:]
				}
				for i := 0; i < len(rest); i += 2 {
					name, ok := text(rest[i])
					if !ok || n.Ellipsis.IsValid() {
						a.names = nil
						break
					}
					a.names = append(a.names, name)
				}
				slices.Sort(a.names)
				out = append(out, a)
			case *ast.BasicLit:
				if id, isName := sentenceName(n); isName && !called[n] && English().message(id) != nil {
					out = append(out, asked{set.Position(n.Pos()).String(), id, nil})
				}
			}
			return true
		})
	})
	return out
}

var (
	nameShape = regexp.MustCompile(`^[a-z]+\.[a-z0-9_]+$`)
	inPage    = regexp.MustCompile(`\$\.T "([a-z]+\.[a-z0-9_]+)"`)
	inScript  = regexp.MustCompile(`(?:"|words\[")([a-z]+\.[a-z0-9_]+)"`)
)

func sentenceName(e ast.Expr) (string, bool) {
	s, ok := text(e)
	return s, ok && nameShape.MatchString(s)
}

func text(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}

// pageSentences finds what the card's page and its program say. A name in the
// program that is no sentence's is a fault.
func pageSentences(t *testing.T) []asked {
	var out []asked
	find := func(path string, shape *regexp.Regexp) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range shape.FindAllStringSubmatch(string(data), -1) {
			out = append(out, asked{path, m[1], nil})
		}
	}
	files(t, ".html", func(path string) { find(path, inPage) })
	files(t, ".js", func(path string) { find(path, inScript) })
	return out
}

func files(t *testing.T, ending string, visit func(path string)) {
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.HasSuffix(path, ending) {
			visit(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Leaves are counted where a unit is parted into leaves, else the units.
func TestLeavesOn(t *testing.T) {
	l := English()
	sweeps := protocol.Terms{Measure: protocol.MeanPerLeaf, Unit: protocol.SampleUnit{Word: "sweep", Leaves: 1}}
	if got := l.LeavesOn(sweeps, 4); got != "4 sweeps" {
		t.Error(got)
	}
	sweeps.Unit.Leaves = 2
	if got := l.LeavesOn(sweeps, 4); got != "8 leaves" {
		t.Error(got)
	}
}
