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

// FileFlag takes the name of a file, as it is written.
func FileFlag(name, usage string) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s == "" {
			return "", ErrEmpty
		}
		return s, nil
	})
}

func TextFlag(name, usage string) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s = strings.Join(strings.Fields(s), " "); s == "" {
			return "", ErrEmpty
		}
		return s, nil
	})
}
