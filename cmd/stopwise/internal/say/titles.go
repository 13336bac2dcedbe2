// Package say puts into words what a plan, a verdict, a risk, a cost and a next
// visit are. No other package words them.
package say

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"stopwise/plans"
)

// Joined joins what is not empty.
func Joined(by string, parts ...string) string {
	var out []string
	for _, s := range parts {
		if s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, by)
}

// Capital begins a sentence.
func Capital(s string) string {
	_, size := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:size]) + s[size:]
}

func StageTitle(s *plans.StagePlan) string {
	return Titled(s.About) + InStage(s)
}

func InStage(s *plans.StagePlan) string {
	t := ""
	if s.Name != "" {
		t = ", stage " + s.Name
	}
	if of := English().FieldsOf(s); of != "" {
		t += ", " + of
	}
	return t
}

func Titled(p plans.About) string {
	t := p.Title
	if p.Region != "" {
		t = strings.TrimPrefix(t+", "+p.Region, ", ")
	}
	if t == "" {
		return ""
	}
	return ": " + t
}

// PictureTitle returns "Decision table: Russet thrips, Marrow Vale".
func PictureTitle(what string, p plans.About) string { return what + Titled(p) }

func OrThisStage(name string) string {
	if name == "" {
		return "this stage"
	}
	return name
}

// StairsInWords tells the ends of a table to those who cannot see it.
func StairsInWords(s *plans.StagePlan) string {
	first, last := s.Table.First(), s.Table.Stops()
	text := fmt.Sprintf("First verdict at stop %d: leave %s, act %s. Last stop %d: leave at or below %d, else act.",
		first, bound("at or below", s.Table.Leave[first-1], plans.NeverLeave), bound("at or above", s.Table.Act[first-1], plans.NeverAct), last, s.Table.Leave[last-1])
	if s.Name != "" {
		text = "Stage " + English().TableName(s) + ". " + text
	}
	return text
}

func bound(side string, n, never int) string {
	if n == never {
		return "never"
	}
	return fmt.Sprintf("%s %d", side, n)
}
