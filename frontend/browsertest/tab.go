package browsertest

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// A Screen is a viewport in CSS pixels.
type Screen struct {
	Width, Height int64
	Touch         bool
}

// The screens pages are looked at on.
var (
	Phone      = Screen{390, 844, true}
	SmallPhone = Screen{360, 640, true}
	Narrow     = Screen{320, 640, true} // 1280 px enlarged four times: WCAG 2.2, 1.4.10
	Tablet     = Screen{820, 1180, true}
	Desk       = Screen{1280, 800, false}
)

// A Tab is one browser tab with cookies of its own. Its methods end the test when
// the browser does not obey. When the test ends, a tab complains about every
// script error, every refusal by the Content-Security-Policy and every request to
// another server.
type Tab struct {
	t      *testing.T
	b      *Browser
	ctx    context.Context
	screen Screen
	dir    string

	mu       sync.Mutex
	troubles []string
	requests []string
}

// Tab opens an empty tab of the given size.
func (b *Browser) Tab(t *testing.T, s Screen) *Tab {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	t.Cleanup(cancel)
	ctx, done := chromedp.NewContext(ctx, chromedp.WithNewBrowserContext())
	tab := &Tab{t: t, b: b, ctx: ctx, screen: s, dir: Dir(t)}
	tab.watch()
	t.Cleanup(func() {
		done()
		for _, what := range tab.Troubles() {
			t.Error(what)
		}
	})
	tab.Do(tab.emulate())
	return tab
}

func (tab *Tab) watch() {
	tab.t.Helper()
	err := chromedp.Listen(tab.ctx, func(ev any) {
		if ev, ok := ev.(*network.EventRequestWillBeSent); ok {
			url := ev.Request.URL
			tab.mu.Lock()
			defer tab.mu.Unlock()
			tab.requests = append(tab.requests, url)
			if !strings.HasPrefix(url, tab.b.URL+"/") && !strings.HasPrefix(url, "data:") && url != "about:blank" {
				tab.troubles = append(tab.troubles, "the page asks another server: "+url)
			}
		}
	})
	if err != nil {
		tab.t.Fatal(err)
	}
	console := chromedp.Console(tab.ctx)
	go func() {
		for m, err := range console {
			if err != nil {
				return // the tab is closed
			}
			// The browser notes answers of 400 and more as network errors;
			// whether those are right is for the test to say.
			if m.Source == "network" || m.Type != chromedp.ConsoleError && m.Type != chromedp.ConsoleException {
				continue
			}
			tab.mu.Lock()
			tab.troubles = append(tab.troubles, "the page's console says: "+m.Text)
			tab.mu.Unlock()
		}
	}()
}

// Troubles returns what the tab would complain about, and forgets it.
func (tab *Tab) Troubles() []string {
	tab.mu.Lock()
	defer tab.mu.Unlock()
	out := tab.troubles
	tab.troubles = nil
	return out
}

// Requests returns the addresses asked for since the last call.
func (tab *Tab) Requests() []string {
	tab.mu.Lock()
	defer tab.mu.Unlock()
	out := slices.Clone(tab.requests)
	tab.requests = nil
	return out
}

// Do runs browser actions.
func (tab *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	tab.t.Helper()
	if err := chromedp.Do(tab.ctx, steps...); err != nil {
		tab.t.Fatalf("browser: %v", err)
	}
}

// Open goes to a path of the site and waits until the page has loaded.
func (tab *Tab) Open(path string) {
	tab.t.Helper()
	tab.Do(chromedp.Navigate(tab.b.URL + path))
}

// NoScript turns the page's own scripts off for the pages opened from now on.
func (tab *Tab) NoScript() {
	tab.t.Helper()
	tab.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
}

// Resize draws the tab's window to another screen; the page stays.
func (tab *Tab) Resize(s Screen) {
	tab.t.Helper()
	tab.screen = s
	tab.Do(tab.emulate())
}

// Context is for browser actions that return something: chromedp.Run(tab.Context(), …).
func (tab *Tab) Context() context.Context { return tab.ctx }

// Eval evaluates an expression in the page; a promise is waited for.
func Eval[T any](tab *Tab, js string) T {
	tab.t.Helper()
	v, err := chromedp.Run(tab.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	if err != nil {
		tab.t.Fatalf("browser: %s: %v", js, err)
	}
	return v
}

// WaitFor waits until an expression is true in the page.
func (tab *Tab) WaitFor(js string) {
	tab.t.Helper()
	if _, err := chromedp.Run(tab.ctx, chromedp.Poll[bool](js)); err != nil {
		tab.t.Fatalf("browser: waiting for %s: %v", js, err)
	}
}

// Fits complains when the page must be scrolled sideways, naming what sticks out.
func (tab *Tab) Fits() {
	tab.t.Helper()
	if wide := tab.tooWide(); len(wide) > 0 {
		tab.t.Errorf("the page is wider than %d px: %s", tab.screen.Width, strings.Join(wide, "; "))
	}
}

func (tab *Tab) tooWide() []string {
	tab.t.Helper()
	return Eval[[]string](tab, `(() => {
		const w = `+itoa(tab.screen.Width)+`, out = [];
		if (document.documentElement.scrollWidth <= w) return out;
		for (const el of document.querySelectorAll("body *")) {
			const r = el.getBoundingClientRect();
			if (r.right > w + 0.5 && r.width > 0) out.push(el.tagName.toLowerCase() + "." + el.className + " to " + Math.round(r.right));
		}
		return out.length ? out.slice(0, 8) : ["page is " + document.documentElement.scrollWidth];
	})()`)
}

// Target complains about every visible control under sel that is smaller than
// side × side CSS pixels, counting a label as part of its tick box. Links within a
// sentence are let off (WCAG 2.2, 2.5.8, "inline").
func (tab *Tab) Target(sel string, side int64) {
	tab.t.Helper()
	for _, s := range tab.tooSmall(sel, side) {
		tab.t.Errorf("too small to press at %d px: %s, want %d × %d", tab.screen.Width, s, side, side)
	}
}

func (tab *Tab) tooSmall(sel string, side int64) []string {
	tab.t.Helper()
	return Eval[[]string](tab, `(() => {
		const out = [];
		for (const root of document.querySelectorAll(`+quote(sel)+`))
			for (const el of root.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
				const box = el.closest(".choice") || el, r = box.getBoundingClientRect();
				if (r.width === 0 || getComputedStyle(el).display === "inline") continue; // a link in a sentence
				if (r.height < `+itoa(side)+` - 0.5 || r.width < `+itoa(side)+` - 0.5)
					out.push((el.name || el.textContent.trim() || el.tagName) + " " + Math.round(r.width) + "×" + Math.round(r.height));
			}
		return out;
	})()`)
}

// Shot takes a picture of the whole page for somebody to look at; where nobody asked for
// pictures there is none.
func (tab *Tab) Shot(name string) {
	tab.t.Helper()
	if os.Getenv(pictures) == "" {
		return
	}
	b, err := chromedp.Run(tab.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		tab.t.Fatalf("browser: %v", err)
	}
	tab.keep(name+".png", b)
}

// PDF prints the page on the given paper as a person would, with the page's own
// margins, and returns the file's path. It complains about anything wider than the
// 190 mm (259 mm across) a shop's sheet may take: what sticks out is cut off or
// makes the browser shrink the whole sheet.
func (tab *Tab) PDF(name string, paper chromedp.PaperSize) string {
	tab.t.Helper()
	if got, has := tab.printWidth(); got > has+1 {
		tab.t.Errorf("the print is %d px wide, the paper has %d", got, has)
	}
	b, err := chromedp.Run(tab.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper), func(p *page.PrintToPDFParams) {
		yes := true
		p.PreferCSSPageSize = &yes // take margins and direction from @page
	}))
	if err != nil {
		tab.t.Fatalf("browser: %v", err)
	}
	return tab.keep(name+".pdf", b)
}

func (tab *Tab) printWidth() (got, has int64) {
	tab.t.Helper()
	media := func(m string) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: m})
			return err
		})
	}
	has = 190 * 96 * 10 / 254
	if Eval[bool](tab, `document.body.classList.contains("wide")`) {
		has = 259 * 96 * 10 / 254
	}
	tab.Do(media("print"), chromedp.EmulateViewport(has, 1000))
	got = Eval[int64](tab, `document.documentElement.scrollWidth`)
	tab.Do(media(""), tab.emulate())
	return got, has
}

func (tab *Tab) emulate() chromedp.Action[chromedp.Void] {
	var opts []chromedp.EmulateViewportOption
	if tab.screen.Touch {
		opts = append(opts, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	return chromedp.EmulateViewport(tab.screen.Width, tab.screen.Height, opts...)
}

func (tab *Tab) keep(name string, b []byte) string {
	tab.t.Helper()
	path := filepath.Join(tab.dir, name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		tab.t.Fatal(err)
	}
	return path
}

// Signal takes the network away from the tab and its workers, or gives it back.
func (tab *Tab) Signal(there bool) {
	tab.t.Helper()
	tab.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		workers := !there
		_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			EmulateOfflineServiceWorker: &workers,
			MatchedNetworkConditions:    []*network.Conditions{{Offline: !there, DownloadThroughput: -1, UploadThroughput: -1}},
		})
		if err != nil {
			return err
		}
		_, err = cdp.Call(ctx, t, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: !there, DownloadThroughput: -1, UploadThroughput: -1})
		return err
	}))
}
