// Package wordstest makes words files for tests.
package wordstest

import (
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"stopwise/cmd/stopwise/internal/words"
)

var parts = regexp.MustCompile(`\{\{\.[A-Za-z]+\}\}|[A-Za-z]+`)

// Made returns a made language: every word of the English sentences is replaced by
// one word, the placeholders stay. Where English counts, the sentence has the plural
// forms named, each with its name before it.
func Made(tag, direction, word string, forms ...string) []byte {
	text, err := words.File("en")
	if err != nil {
		panic(err)
	}
	var all map[string]map[string]any
	if err := toml.Unmarshal(text, &all); err != nil {
		panic(err)
	}
	said := func(s string) string {
		return parts.ReplaceAllStringFunc(s, func(part string) string {
			if strings.HasPrefix(part, "{{") {
				return part
			}
			return word
		})
	}
	for _, section := range all {
		for name, value := range section {
			switch v := value.(type) {
			case string:
				section[name] = said(v)
			case map[string]any:
				made := map[string]any{}
				for _, f := range forms {
					made[f] = f + " " + said(v["other"].(string))
				}
				section[name] = made
			}
		}
	}
	all["language"]["tag"], all["language"]["direction"] = tag, direction
	out, err := toml.Marshal(all)
	if err != nil {
		panic(err)
	}
	return out
}
