package browsertest

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// axeVersion is the version of axe-core, a library that finds faults of
// accessibility in a page by the rules of WCAG. It is fetched once with npm and
// kept among the user's caches.
const axeVersion = "4.14.1"

func axe(t testing.TB) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(cache, "stopwise-test", "axe-"+axeVersion)
	file := filepath.Join(dir, "node_modules", "axe-core", "axe.min.js")
	if text, err := os.ReadFile(file); err == nil {
		return string(text)
	}
	if !Required() {
		Missing(t, "axe-core is not there")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("npm", "install", "--prefix", dir, "--no-audit", "--no-fund", "--ignore-scripts", "axe-core@"+axeVersion)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("npm install axe-core: %v\n%s", err, out)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Accessibility returns the faults that axe-core finds in what the page shows.
func (p *Page) Accessibility() []string {
	p.t.Helper()
	if !Eval[bool](p, `"axe" in window`) {
		p.Do(chromedp.Evaluate[chromedp.Void](axe(p.t) + "\n;void 0"))
	}
	const run = `axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], resultTypes: ["violations"]}).then(r => JSON.stringify({
		passes: r.passes.length,
		faults: r.violations.map(v => v.impact + " " + v.id + ": " + v.help + " " + v.nodes.map(n => n.target.join(" ")).join(", ")),
	}))`
	var found struct {
		Passes int
		Faults []string
	}
	text := Get(p, chromedp.Evaluate[string](run, chromedp.EvalAwaitPromise))
	if err := json.Unmarshal([]byte(text), &found); err != nil {
		p.t.Fatal(err)
	}
	if found.Passes == 0 {
		p.t.Fatal("axe-core checked nothing")
	}
	return found.Faults
}

// SmallTargets returns the controls that can be seen and are less than 48 pixels
// wide or high.
func (p *Page) SmallTargets() []string {
	p.t.Helper()
	const find = `[...document.querySelectorAll("button, input, select, textarea, summary, a[href], [role=switch]")]
		.map(e => e.closest("label") || e)
		.map(e => [e.id || e.textContent.trim(), e.getBoundingClientRect()])
		.filter(([, r]) => r.width > 0 && r.height > 0)
		.map(([name, r]) => name + " " + r.width + " " + r.height)`
	var small []string
	all := Eval[[]string](p, find)
	if len(all) == 0 {
		p.t.Fatal("the page shows no control")
	}
	for _, line := range all {
		var width, height float64
		words := strings.Fields(line)
		if _, err := fmt.Sscan(strings.Join(words[len(words)-2:], " "), &width, &height); err != nil {
			p.t.Fatal(err)
		}
		if width < 48 || height < 48 {
			small = append(small, line)
		}
	}
	return small
}
