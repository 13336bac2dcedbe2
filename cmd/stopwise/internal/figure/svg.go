package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"stopwise/cmd/stopwise/internal/textsafe"
)

func renderSVG(p Picture) ([]byte, error) {
	body, err := svgBody(p)
	if err != nil {
		return nil, err
	}
	w, h := p.size()
	head := `<?xml version="1.0" encoding="UTF-8"?>` + "\n" +
		fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="%.5gpt" height="%.5gpt" viewBox="0 0 %.5g %.5g" role="img" aria-labelledby="title desc">`,
			w.Points(), h.Points(), w.Points(), h.Points())
	return []byte(head + named(p, "title", "desc") + body), nil
}

// Inline returns a picture as an element for an HTML page, as wide as the page
// lets it be. id must be the only one of its kind there.
func Inline(p Picture, id string) (string, error) {
	body, err := svgBody(p)
	if err != nil {
		return "", fmt.Errorf("figure: %w", err)
	}
	w, h := p.size()
	title, desc := id+"-title", id+"-desc"
	head := fmt.Sprintf(`<svg viewBox="0 0 %.5g %.5g" role="img" aria-labelledby="%s %s">`, w.Points(), h.Points(), title, desc)
	return head + named(p, title, desc) + body, nil
}

// InlineBare is [Inline] for a page whose policy allows no styles in its elements:
// what they would say stands in attributes. name, the only text, is read out.
func InlineBare(p Picture, name string) (string, error) {
	body, err := svgBody(p)
	if err != nil {
		return "", fmt.Errorf("figure: %w", err)
	}
	w, h := p.size()
	body = styles().ReplaceAllStringFunc(body, func(style string) string {
		var out []string
		for rule := range strings.SplitSeq(styles().FindStringSubmatch(style)[1], ";") {
			if key, value, found := strings.Cut(rule, ":"); found {
				out = append(out, fmt.Sprintf("%s=%q", key, value))
			}
		}
		return strings.Join(out, " ")
	})
	return fmt.Sprintf(`<svg viewBox="0 0 %.5g %.5g" role="img" aria-label="%s">`, w.Points(), h.Points(), escaped(name)) + body, nil
}

// styles finds the styles of elements; the library writes no quotes into them.
var styles = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`style="([^"]*)"`) })

// named returns the elements that a reader of the screen reads out.
func named(p Picture, title, desc string) string {
	return fmt.Sprintf("\n<title id=%q>%s</title>\n<desc id=%q>%s</desc>\n", title, escaped(p.title()), desc, escaped(p.describe()))
}

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(textsafe.Line(s))) // a Builder takes everything
	return b.String()
}

// svgBody returns what stands behind the opening tag, the closing one included.
// The library writes no title, and names a font that many machines lack: those
// that follow it have the same widths.
func svgBody(p Picture) (string, error) {
	w, h := p.size()
	c := vgsvg.New(w, h)
	if err := p.draw(draw.New(c)); err != nil {
		return "", err
	}
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return "", err
	}
	_, rest, found := strings.Cut(b.String(), "<svg")
	_, body, closed := strings.Cut(rest, ">")
	if !found || !closed {
		return "", errors.New("not an svg")
	}
	// The library passes on characters that XML does not allow.
	parts := strings.Split(body, "\t") // the library's own, between attributes
	for i, part := range parts {
		parts[i] = textsafe.Text(part)
	}
	body = strings.Join(parts, "\t")
	// Images are PNG data that the plotting library calls something else, which
	// strict readers do not draw.
	body = strings.ReplaceAll(body, "data:image/jpg;base64,", "data:image/png;base64,")
	return strings.ReplaceAll(body, "font-family:Liberation Sans;font-variant:normal", "font-family:'Liberation Sans',Arial,Helvetica,sans-serif"), nil
}
