package main

import (
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/plans"
)

// plotFlag returns the flag that writes what a command shows as a picture.
func plotFlag(what string) *option[string] {
	return newOption("plot", "`FILE` draw "+what+", as .svg, .png or .pdf", func(s string) (string, error) {
		if s == "" {
			return "", errEmpty
		}
		_, err := figure.FormatOf(s)
		return s, err
	})
}

// writePicture writes a picture in the format that the file's name asks for.
func writePicture(file string, p figure.Picture) error {
	format, err := figure.FormatOf(file)
	if err != nil {
		return usageError("%v", err)
	}
	data, err := figure.Render(p, format)
	if err != nil {
		return err
	}
	return writeFile(file, data)
}

// pictureTitle returns "Decision table: Grey leaf aphid, Marrow Vale".
func pictureTitle(what string, p plans.About) string { return what + titled(p) }
