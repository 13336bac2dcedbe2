package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// writesNumbers are packages that write numbers by a hand of their own: report
// for all others, figure for its axes, explain as the text of its topics asks.
var writesNumbers = []string{"report", "figure", "explain"}

var numberVerb = regexp.MustCompile(`%[-+# 0]*[0-9]*(\.[0-9]+)?[eEfFgG]`)

// TestOnlyReportWritesNumbers finds floating-point numbers that are turned into
// text beside package report, which rounds them all alike.
func TestOnlyReportWritesNumbers(t *testing.T) {
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			for _, own := range writesNumbers {
				if path == filepath.Join("internal", own) {
					return fs.SkipDir
				}
			}
			return nil
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BasicLit:
				if n.Kind == token.STRING && numberVerb.MatchString(strings.ReplaceAll(n.Value, "%%", "")) {
					t.Errorf("%s writes a number with %s; let report do it", set.Position(n.Pos()), n.Value)
				}
			case *ast.SelectorExpr:
				if n.Sel.Name == "FormatFloat" {
					t.Errorf("%s writes a number; let report do it", set.Position(n.Pos()))
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
