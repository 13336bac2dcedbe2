package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/explain"
	"stopwise/cmd/stopwise/internal/shell"
)

// Help, the guide, the README, and what the program prints say one word for one thing.
func TestTextsFollowTheGlossary(t *testing.T) {
	walkCommands(commands(shell.Env{}), "", func(c *cli.Command, path string) {
		text := c.Usage + "\n" + c.Description
		for _, f := range c.Flags {
			if d, ok := f.(cli.DocGenerationFlag); ok {
				text += "\n" + d.GetUsage()
			}
		}
		for _, fault := range explain.Unsaid(text) {
			t.Errorf("%s --help: %s", path, fault)
		}
	})
	for _, pattern := range []string{"../../README.md", "guide/*.md", "internal/words/languages/en.toml"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			// What stands in console blocks is the program's, and checked below.
			for _, fault := range explain.Unsaid(consoleBlock.ReplaceAllString(string(text), "")) {
				t.Errorf("%s: %s", file, fault)
			}
		}
	}
}

// Texts in Go code are read by somebody where they have several words; heads of tables
// of one or two letters are symbols of the glossary.
func TestSourcesFollowTheGlossary(t *testing.T) {
	symbols := map[string]bool{}
	for _, w := range explain.Words {
		symbols[w.Symbol] = true
	}
	for _, pattern := range []string{"*.go", "internal/*/*.go", "../../plans/*.go", "../../plans/*/*.go", "../../validate/*.go", "../../sampling/*.go", "../../sampling/*/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") || strings.HasSuffix(file, "explain/words.go") {
				continue
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				switch x := n.(type) {
				case *ast.BasicLit:
					text, err := strconv.Unquote(x.Value)
					if x.Kind != token.STRING || err != nil || strings.Count(text, " ") < 2 || strings.HasPrefix(text, "internal error") {
						return true
					}
					for _, fault := range explain.Unsaid(text) {
						t.Errorf("%s: %s", file, fault)
					}
				case *ast.CallExpr:
					called, ok := x.Fun.(*ast.SelectorExpr)
					if !ok || called.Sel.Name != "NewTable" && called.Sel.Name != "Head" {
						return true
					}
					for _, arg := range x.Args {
						value, isText := arg.(*ast.BasicLit)
						if !isText {
							continue
						}
						head, err := strconv.Unquote(value.Value)
						if head = strings.TrimPrefix(head, ">"); err == nil && shortHead.MatchString(head) && !symbols[head] {
							t.Errorf("%s: the head %q is no symbol of the glossary", file, head)
						}
					}
				}
				return true
			})
		}
	}
}

var shortHead = regexp.MustCompile(`^([A-Za-z]|[A-Z]{2})$`)

// The glossary and every text fit into a usual terminal.
func TestExplanationsFit(t *testing.T) {
	for _, topic := range append([]string{"words"}, "bound", "size") {
		status, out, errOut := inProcess("", "study", "explain", topic)
		if status != 0 {
			t.Fatalf("%s: %s", topic, errOut)
		}
		for line := range strings.Lines(out) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 && !strings.Contains(line, "stopwise ") {
				t.Errorf("%s: %d columns: %s", topic, n, line)
			}
		}
	}
}
