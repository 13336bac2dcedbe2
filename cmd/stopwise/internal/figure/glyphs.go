package figure

import (
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
)

var pdfType = sync.OnceValues(func() (*sfnt.Font, error) { return sfnt.Parse(liberationsansregular.TTF) })

// HasGlyph reports whether the type of PDF files and pictures has a letter.
func HasGlyph(r rune) bool {
	font, err := pdfType()
	if err != nil {
		return false
	}
	var buffer sfnt.Buffer
	index, err := font.GlyphIndex(&buffer, r)
	return err == nil && index != 0
}
