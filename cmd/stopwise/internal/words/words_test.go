package words

import (
	"testing"
)

// Every language that comes along has every sentence, none besides, each with its
// placeholders and the plural forms of its language.
func TestLanguagesAreWhole(t *testing.T) {
	for _, code := range Codes {
		l, err := Of(code)
		if err != nil {
			t.Errorf("%s: %v", code, err)
			continue
		}
		if l.Tag() != code {
			t.Errorf("%s is tagged %s", code, l.Tag())
		}
	}
}
