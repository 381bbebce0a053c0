package frontend

import (
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/labstack/echo/v4"
)

var chicago = func() *time.Location {
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return loc
}()

func testConfig() Config {
	return Config{
		ShopName: "Corbel Street Butchery", Loc: chicago,
		Now: func() time.Time { return time.Date(2026, 10, 8, 20, 30, 0, 0, time.UTC) },
	}
}

func testRenderer(t *testing.T) *Renderer {
	t.Helper()
	r, err := NewRenderer(testConfig())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func visit(r *Renderer, path string) (echo.Context, *httptest.ResponseRecorder) {
	rec := httptest.NewRecorder()
	return echo.New().NewContext(httptest.NewRequest(http.MethodGet, path, nil), rec), rec
}

// parsedRenderer is a renderer of other pages than the program's.
func parsedRenderer(cfg Config, pageFS fs.FS, pages map[string]Page) (*Renderer, error) {
	site, err := parseSite(pageFS, pages)
	if err != nil {
		return nil, err
	}
	return site.renderer(cfg)
}

// TestEveryPage executes every template with its struct, once full and once empty.
// NewRenderer has already refused templates without a registered struct.
func TestEveryPage(t *testing.T) {
	r := testRenderer(t)
	for name, p := range Pages() {
		for _, full := range []bool{true, false} {
			b, err := r.Bytes(name, fill(p.Data, full))
			if err != nil {
				t.Errorf("page %s, full %v: %v", name, full, err)
				continue
			}
			html := string(b)
			if !strings.Contains(html, "<h1") {
				t.Errorf("page %s, full %v: no <h1>", name, full)
			}
			if full && strings.Contains(html, "<b>") {
				t.Errorf("page %s: a value got through unescaped", name)
			}
			for _, bad := range inline(html) {
				t.Errorf("page %s: inline or foreign %q; styles and scripts live in static", name, bad)
			}
		}
	}
}

type orphanPage struct{ Layout }

func TestBrokenPagesStopTheStart(t *testing.T) {
	ok := Page{Public, orphanPage{}}
	for _, tc := range []struct {
		name, text string
		pages      map[string]Page
		want       string
	}{
		{"not registered", `{{define "main"}}x{{end}}`, nil, "belongs to no registered page"},
		{"no main", `{{define "body"}}x{{end}}`, map[string]Page{"p": ok}, `no "main"`},
		{"syntax", `{{define "main"}}{{if}}{{end}}`, map[string]Page{"p": ok}, "missing value for if"},
		{"unknown function", `{{define "main"}}{{shout .Title}}{{end}}`, map[string]Page{"p": ok}, `"shout" not defined`},
		{"cannot be escaped", `{{define "main"}}<a href="{{if .Title}}x{{end}}{{end}}`, map[string]Page{"p": ok}, "in attribute name"},
		{"calls a missing part", `{{define "main"}}{{template "nowhere" .}}{{end}}`, map[string]Page{"p": ok}, `"nowhere"`},
		{"no Layout", `{{define "main"}}x{{end}}`, map[string]Page{"p": {Public, struct{ Title string }{}}}, "does not embed Layout"},
		{"print without Sheet", `{{define "main"}}x{{end}}`, map[string]Page{"p": {Paper, orphanPage{}}}, "does not embed Sheet"},
		{"no such layout", `{{define "main"}}x{{end}}`, map[string]Page{"p": {"glass", orphanPage{}}}, "glass.html"},
		{"no template", `{{define "main"}}x{{end}}`, map[string]Page{"p": ok, "q": ok}, "q.html"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			fsys := fstest.MapFS{"templates/p.html": {Data: []byte(tc.text)}}
			_, err := parsedRenderer(testConfig(), fsys, tc.pages)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("newRenderer = %v, want an error with %q", err, tc.want)
			}
		})
	}
}

type halfPage struct {
	Layout
	Names []string
}

// TestHalfAPageIsNeverSent: an error in the middle of a page must leave the answer
// untouched, so that the error page can still be sent with its own status.
func TestHalfAPageIsNeverSent(t *testing.T) {
	fsys := fstest.MapFS{"templates/half.html": {Data: []byte(`{{define "main"}}<h1>a</h1>{{index .Names 7}}{{end}}`)}}
	r, err := parsedRenderer(testConfig(), fsys, map[string]Page{"half": {Public, halfPage{}}})
	if err != nil {
		t.Fatal(err)
	}
	c, rec := visit(r, "/")
	if err := r.Render(c, http.StatusOK, "half", halfPage{Layout: r.Layout(c, "Half")}); err == nil {
		t.Fatal("Render gave no error")
	}
	if c.Response().Committed || rec.Body.Len() > 0 {
		t.Errorf("%d bytes were sent", rec.Body.Len())
	}
	if err := r.Render(c, http.StatusOK, "half", orphanPage{}); err == nil || !strings.Contains(err.Error(), "takes") {
		t.Errorf("a page took another page's struct: %v", err)
	}
}

func TestRenderHeaders(t *testing.T) {
	r := testRenderer(t)
	c, rec := visit(r, "/gone")
	c.Response().Header().Set(echo.HeaderXRequestID, "req-17")
	if err := r.ErrorPage(c, http.StatusNotFound, "", ""); err != nil {
		t.Fatal(err)
	}
	res := rec.Result()
	body, _ := io.ReadAll(res.Body)
	if res.StatusCode != http.StatusNotFound || res.Header.Get("Content-Type") != "text/html; charset=UTF-8" || res.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("%d %v", res.StatusCode, res.Header)
	}
	for _, want := range []string{"We cannot find that page", "req-17", "Thu Oct 8, 2026, 15:30"} {
		if !strings.Contains(string(body), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}
