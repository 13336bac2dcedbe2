package card

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"stopwise/cmd/stopwise/internal/browsertest"
)

var browserKills = flag.Int("browser-kill", 1, "how many browsers TestKilledBrowser kills")

// A browser that is killed as soon as the card says "kept" loses no tap. Taps that
// it was still keeping may be lost: those of the last moment.
func TestKilledBrowser(t *testing.T) {
	dir := t.TempDir()
	page, profile := filepath.Join(dir, "card.html"), filepath.Join(dir, "profile")
	if err := os.WriteFile(page, html(t, demoCard()), 0o644); err != nil {
		t.Fatal(err)
	}
	kept := 0
	for i := range *browserKills + 1 {
		p := browsertest.NewIn(t, profile)
		p.OpenFile(page)
		p.Do(chromedp.Poll[chromedp.Void](`"disk" in document.documentElement.dataset`))
		if got := browsertest.Eval[string](p, `document.documentElement.dataset.disk`); got != "true" {
			t.Fatal("this browser gives no database to a file")
		}
		if i == 0 {
			start(p, "Long Meadow", 1)
		}
		got := browsertest.Eval[int](p, `visitOf(state.current).log.length`)
		if got < kept {
			t.Fatalf("browser %d: %d taps are there, %d were kept", i, got, kept)
		}
		if i == *browserKills {
			break
		}
		if browsertest.Eval[int](p, `replay(visitOf(state.current).log).now.plants`) > 10 {
			p.Tap("#rest", "#done")
		}
		began := time.Now()
		for range 3 {
			p.Tap("#clean")
		}
		p.Tap("#infested", "#undo")
		p.Do(chromedp.Poll[chromedp.Void](`document.documentElement.dataset.kept === String(state.saves)`))
		took := time.Since(began)
		kept = browsertest.Eval[int](p, `visitOf(state.current).log.length`)
		p.Kill()
		t.Logf("browser %d: killed with %d taps, %v after the first", i, kept, took)
	}
}
