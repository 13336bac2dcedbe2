package browsertest

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"

	"github.com/chromedp/chromedp"
)

// Picture keeps a picture of what the phone shows among the test's artifacts, where
// these are kept.
func (p *Page) Picture(name string) {
	p.t.Helper()
	if kept := flag.Lookup("test.artifacts"); kept == nil || kept.Value.String() != "true" {
		return
	}
	p.keep(name+".png", Get(p, chromedp.CaptureScreenshot()))
}

var pdfPage = regexp.MustCompile(`/Type\s*/Page\b`)

// Print prints the page on paper and returns the number of sheets.
func (p *Page) Print(name string, paper chromedp.PaperSize) int {
	p.t.Helper()
	pdf := Get(p, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFMargins(0.4, 0.4, 0.4, 0.4), chromedp.PDFPrintBackground()))
	p.keep(name+".pdf", pdf)
	return len(pdfPage.FindAll(pdf, -1))
}

func (p *Page) keep(name string, data []byte) {
	t, ok := p.t.(interface{ ArtifactDir() string })
	if !ok {
		return
	}
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name), data, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
