// Package browsertest runs pages in a headless Chromium, for tests.
//
// Where no Chromium is found the tests skip and say so. With the environment
// variable STOPWISE_BROWSER=required, as CI sets it, they fail instead.
package browsertest

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/device"
)

// Required reports whether a missing browser is a failure.
func Required() bool { return os.Getenv("STOPWISE_BROWSER") == "required" }

// Missing skips a test that lacks something, or fails it where that is required.
func Missing(t testing.TB, what string) {
	t.Helper()
	if Required() {
		t.Fatalf("%s, and STOPWISE_BROWSER=required", what)
	}
	t.Skipf("SKIPPED: %s; .ci/run installs it", what)
}

func chromium() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", errors.New("no Chromium was found")
}

// patience is how long an action may take on a busy machine before it is taken
// to hang.
const patience = 20 * time.Second

// A Page is a tab of a phone's size, in a browser that resolves no name and is
// told to be offline.
type Page struct {
	t   testing.TB
	ctx context.Context

	cmd     *exec.Cmd
	stop    func() // closes the tab
	altered bool   // in a way that a later test would meet

	mu       sync.Mutex
	requests []string
}

// New opens a tab with an empty profile, in the browser that the tests of a package
// share. A process of its own for each tab took most of the time, so a tab that a test
// is done with is emptied and serves the next one.
func New(t testing.TB) *Page {
	t.Helper()
	browser, err := shared.get(t)
	if err != nil {
		t.Fatal(err)
	}
	p := shared.idle()
	if p != nil {
		p.t = t
		p.empty()
	} else {
		p = &Page{t: t}
		p.ctx, p.stop = chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
		p.begin()
	}
	t.Cleanup(func() {
		if p.altered || t.Failed() {
			p.stop()
			return
		}
		shared.leave(p)
	})
	return p
}

// empty makes a used tab like a new one: nothing is kept, and it has a phone's size.
func (p *Page) empty() {
	p.t.Helper()
	p.Open([]byte("<!doctype html><title>nothing</title>"))
	const forget = `(async () => {
		localStorage.clear();
		sessionStorage.clear();
		for (const {name} of await indexedDB.databases()) {
			await new Promise((done, fault) => Object.assign(indexedDB.deleteDatabase(name), {onsuccess: done, onerror: fault, onblocked: fault}));
		}
		return localStorage.length + (await indexedDB.databases()).length;
	})()`
	if left := Get(p, chromedp.Evaluate[int](forget, chromedp.EvalAwaitPromise)); left > 0 {
		p.t.Fatalf("a used tab still keeps %d things", left)
	}
	p.Do(chromedp.Emulate(device.IPhone13))
	p.mu.Lock()
	p.requests = nil
	p.mu.Unlock()
}

// NewIn starts a browser with a profile that may be left from another one.
func NewIn(t testing.TB, profile string) *Page {
	t.Helper()
	p := &Page{t: t}
	options := append(optionsOf(t), chromedp.UserDataDir(profile),
		chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) { p.cmd = cmd }))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stopTab := chromedp.NewContext(allocator)
	t.Cleanup(stopTab)
	p.ctx = ctx
	p.begin()
	return p
}

func optionsOf(t testing.TB) []chromedp.ExecAllocatorOption {
	t.Helper()
	path, err := chromium()
	if err != nil {
		Missing(t, err.Error())
	}
	return append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path),
		chromedp.NoSandbox, // CI runs as root
		chromedp.DisableGPU,
		chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND"),
	)
}

// begin opens the tab.
func (p *Page) begin() {
	p.t.Helper()
	if err := chromedp.Do(p.ctx); err != nil {
		p.t.Fatal(err)
	}
	if err := chromedp.Listen(p.ctx, p.note); err != nil {
		p.t.Fatal(err)
	}
	p.Do(chromedp.Emulate(device.IPhone13), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := chromedp.Call(ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: true})
		return err
	}))
}

// A browser takes a second to start and is the same for all tests of a package.
type browser struct {
	mu   sync.Mutex
	ctx  context.Context
	stop func()
	free []*Page // tabs that no test uses now
}

var shared browser

func (b *browser) idle() *Page {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.free) == 0 {
		return nil
	}
	p := b.free[0]
	b.free = b.free[1:]
	return p
}

func (b *browser) leave(p *Page) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.free = append(b.free, p)
}

func (b *browser) get(t testing.TB) (context.Context, error) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.ctx != nil {
		return b.ctx, nil
	}
	allocator, stopAll := chromedp.NewExecAllocator(context.Background(), optionsOf(t)...)
	ctx, stop := chromedp.NewContext(allocator)
	if err := chromedp.Do(ctx); err != nil {
		stopAll()
		return nil, err
	}
	b.ctx, b.stop = ctx, func() { stop(); stopAll() }
	return ctx, nil
}

// Main runs the tests of a package and then ends the browser that they shared.
type Main struct{ M interface{ Run() int } }

// Run is that of a testing.M.
func (m Main) Run() int {
	status := m.M.Run()
	if shared.stop != nil {
		shared.stop()
	}
	return status
}

func (p *Page) note(event any) {
	if e, ok := event.(*network.EventRequestWillBeSent); ok {
		p.mu.Lock()
		p.requests = append(p.requests, e.Request.URL)
		p.mu.Unlock()
	}
}

// Requests returns the addresses that the tab has asked for so far.
func (p *Page) Requests() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.requests...)
}

// Do runs actions.
func (p *Page) Do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		p.t.Fatal(err)
	}
}

// Get runs an action and returns its value.
func Get[T any](p *Page, action chromedp.Action[T]) T {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	v, err := chromedp.Run(ctx, action)
	if err != nil {
		p.t.Fatal(err)
	}
	return v
}

// Eval returns the value of a JavaScript expression.
func Eval[T any](p *Page, expression string) T {
	p.t.Helper()
	return Get(p, chromedp.Evaluate[T](expression))
}

// BeforeScripts runs JavaScript in every new page before the page's own.
func (p *Page) BeforeScripts(script string) {
	p.t.Helper()
	p.altered = true
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		return err
	}))
}

// Open writes a page to a file and opens it from there.
func (p *Page) Open(text []byte) {
	p.t.Helper()
	file := filepath.Join(p.t.TempDir(), "page.html")
	if err := os.WriteFile(file, text, 0o644); err != nil {
		p.t.Fatal(err)
	}
	p.Do(chromedp.Navigate("file://" + file))
}

// OpenFile opens a page from a file.
func (p *Page) OpenFile(file string) {
	p.t.Helper()
	p.Do(chromedp.Navigate("file://" + file))
}

// Kill ends the browser at once, as an empty battery does.
func (p *Page) Kill() {
	p.t.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		p.t.Fatal(err)
	}
}

// Tap taps with a finger on elements, one after the other. An element that
// cannot be seen, is disabled or is covered by another fails the test.
func (p *Page) Tap(selectors ...string) {
	p.t.Helper()
	for _, s := range selectors {
		q, err := json.Marshal(s)
		if err != nil {
			p.t.Fatal(err)
		}
		at := Eval[[]float64](p, `(e => {
			if (!e || e.disabled) return [];
			e.scrollIntoView({block: "nearest"});
			const r = e.getBoundingClientRect(), x = r.left + r.width / 2, y = r.top + r.height / 2;
			const hit = document.elementFromPoint(x, y);
			return hit && (e.contains(hit) || hit.contains(e)) && r.width > 0 ? [x, y] : [];
		})(document.querySelector(`+string(q)+`))`)
		if len(at) != 2 {
			p.Picture("fault")
			p.t.Fatalf("%s cannot be tapped: it is missing, hidden, disabled or covered", s)
		}
		p.Do(chromedp.TapXY(at[0], at[1]))
	}
}

// Type puts text into a field at once, as a keyboard that proposes words does. Typing
// key by key (chromedp.SendKeys) takes a hundred times as long.
func (p *Page) Type(selector, text string) {
	p.t.Helper()
	p.Do(chromedp.Focus(selector), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, input.InsertText, input.InsertTextParams{Text: text})
		return err
	}))
}

// Text returns the text that an element shows, on one line.
func (p *Page) Text(selector string) string {
	p.t.Helper()
	return strings.Join(strings.Fields(Get(p, chromedp.Text(selector))), " ")
}
