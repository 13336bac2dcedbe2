package shell

import (
	"strings"
)

func NotEmpty(s string) (string, error) {
	if s = strings.TrimSpace(s); s == "" {
		return "", ErrEmpty
	}
	return s, nil
}

func TextFlag(name, usage string) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s = strings.Join(strings.Fields(s), " "); s == "" {
			return "", ErrEmpty
		}
		return s, nil
	})
}
