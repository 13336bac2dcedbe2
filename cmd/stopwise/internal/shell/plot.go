package shell

import (
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
)

const pictures = "a picture that stopwise made"

// PlotFlag returns the flag that writes what a command shows as a picture.
func PlotFlag(what string) *Option[string] {
	return OutputFlag("plot", "`FILE` draw "+what+", as .svg, .png or .pdf", outfile.IsPicture, pictures, func(file string) error {
		_, err := figure.FormatOf(file)
		return err
	})
}

// Draw writes the picture that --plot asks for, and says so at the document's end.
func Draw(d *report.Document, plot *Option[string], picture func() (figure.Picture, error)) error {
	if !plot.Set {
		return nil
	}
	p, err := picture()
	if err != nil {
		return err
	}
	if err := WritePicture(plot.Value, p); err != nil {
		return err
	}
	d.Para("Picture written to %s.", plot.Value)
	return nil
}

// WritePicture writes a picture in the format that the file's name asks for.
func WritePicture(file string, p figure.Picture) error {
	format, err := figure.FormatOf(file)
	if err != nil {
		return UsageError("%w", err)
	}
	data, err := figure.Render(p, format)
	if err != nil {
		return err
	}
	return WriteFile("--plot", file, data, outfile.IsPicture, pictures)
}
