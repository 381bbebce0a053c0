// Package browsertest looks at pages the way people do: in a browser, at the size
// of their screen, on paper, and through the rules of accessibility. It is for
// tests only.
//
//	b := browsertest.Start(t, handler)
//	tab := b.Tab(t, browsertest.Phone)
//	tab.Open("/")
//	tab.Fits()           // nothing to scroll sideways
//	tab.Axe()            // no accessibility rule broken
//	tab.Shot("season")   // a picture to look at
//	n := browsertest.Eval[int](tab, `document.forms.length`)
//
// A test that needs a tool this machine does not have is skipped with a clear word,
// and fails where the environment says CI=true. go test -short leaves out all that
// needs a browser, and says so. Pictures and PDFs go to a temporary
// folder, or to $BROWSERTEST_OUT/<test name> to be looked at.
package browsertest

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// patience is how long one tab may take for everything it does.
const patience = 2 * time.Minute

// Need returns the path of a program, or ends the test: skipped, or failed where
// CI=true. from says how to get it.
func Need(t *testing.T, program, from string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		Missing(t, "program "+program+" ("+from+")")
	}
	return path
}

// Missing ends a test that cannot run here: skipped, or failed where CI=true.
func Missing(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf("NOT CHECKED: this machine lacks the %s", what)
	}
	t.Skipf("NOT CHECKED: this machine lacks the %s", what)
}

// pictures names the variable that says where pictures and prints are kept.
const pictures = "BROWSERTEST_OUT"

// Dir is where the test's pictures go.
func Dir(t *testing.T) string {
	t.Helper()
	out := os.Getenv(pictures)
	if out == "" {
		return t.TempDir()
	}
	dir := filepath.Join(out, strings.NewReplacer("/", "-", " ", "_").Replace(t.Name()))
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// A Browser is a running browser and the site it looks at.
type Browser struct {
	URL string // of the site, without a slash at the end
	ctx context.Context
}

// Main runs a package's tests with one browser for them all, which saves half of what many
// small tests in browsers cost: func TestMain(m *testing.M) { os.Exit(browsertest.Main(m)) }.
// Tabs share nothing, cookies and caches neither.
func Main(m *testing.M) (code int) {
	shared.on = true
	defer func() {
		if shared.stop != nil {
			shared.stop()
		}
	}()
	return m.Run()
}

// shared is the browser of a whole package.
var shared struct {
	sync.Mutex
	on   bool
	ctx  context.Context
	stop func()
}

// Start serves h on this machine only and starts a browser; both end with the test, the
// browser with the last one where Main runs them.
func Start(t *testing.T, h http.Handler) *Browser {
	t.Helper()
	if testing.Short() && os.Getenv("CI") != "true" {
		t.Skip("NOT CHECKED: -short leaves out what needs a browser")
	}
	path := findChromium(t)
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	if !shared.on {
		ctx, stop := launch(t, path)
		t.Cleanup(stop)
		return &Browser{URL: srv.URL, ctx: ctx}
	}
	shared.Lock()
	defer shared.Unlock()
	if shared.stop != nil && shared.ctx.Err() != nil { // it died: the next test gets another
		shared.stop()
		shared.stop = nil
	}
	if shared.stop == nil {
		shared.ctx, shared.stop = launch(t, path)
	}
	return &Browser{URL: srv.URL, ctx: shared.ctx}
}

// launch starts a browser and returns what ends it.
func launch(t *testing.T, path string) (context.Context, func()) {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path),
		chromedp.DisableGPU,
		chromedp.Flag("headless", "new"),
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true),
	)
	if os.Geteuid() == 0 {
		opts = append(opts, chromedp.NoSandbox) // the sandbox does not start for root
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	both := func() { cancel(); stop() }
	if err := chromedp.Do(ctx); err != nil {
		both()
		t.Fatalf("the browser %s does not start: %v", path, err)
	}
	return ctx, both
}

// findChromium prefers the build without windows: the same engine at half the cost.
func findChromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium-headless-shell", "chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return Need(t, "chromium", "package chromium")
}
