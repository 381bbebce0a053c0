package frontend

import (
	"bytes"
	"compress/gzip"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
)

func get(t *testing.T, r *Renderer, path, accept string) *http.Response {
	t.Helper()
	e := echo.New()
	r.Static(e)
	req := httptest.NewRequest(http.MethodGet, path, nil)
	req.Header.Set("Accept-Encoding", accept)
	rec := httptest.NewRecorder()
	e.ServeHTTP(rec, req)
	return rec.Result()
}

func TestStaticFiles(t *testing.T) {
	r := testRenderer(t)
	url, err := r.static.url("app.css")
	if err != nil {
		t.Fatal(err)
	}
	want, err := fs.ReadFile(files, "static/app.css")
	if err != nil {
		t.Fatal(err)
	}
	for accept, packed := range map[string]bool{"": false, "br, gzip": true, "gzip;q=0": false, "gzip; q=0.5": true, "gzipped": false} {
		res := get(t, r, url, accept)
		if res.StatusCode != 200 || res.Header.Get("Content-Type") != "text/css; charset=utf-8" || !strings.Contains(res.Header.Get("Cache-Control"), "immutable") {
			t.Fatalf("%d %v", res.StatusCode, res.Header)
		}
		var body io.Reader = res.Body
		if got := res.Header.Get("Content-Encoding") == "gzip"; got != packed {
			t.Errorf("Accept-Encoding %q: packed %v, want %v", accept, got, packed)
		} else if got {
			if body, err = gzip.NewReader(body); err != nil {
				t.Fatal(err)
			}
		}
		if b, err := io.ReadAll(body); err != nil || !bytes.Equal(b, want) {
			t.Errorf("Accept-Encoding %q: %d bytes, %v; want the file's %d", accept, len(b), err, len(want))
		}
	}
	if cc := get(t, r, "/static/0000/app.css", "").Header.Get("Cache-Control"); cc != "no-store" {
		t.Errorf("under another release's hash: Cache-Control %q; it would be kept for ever", cc)
	}
	for _, path := range []string{"/static/" + r.static.hash + "/nothing.css", "/static/" + r.static.hash + "/../frontend.go", "/static/" + r.static.hash + "/"} {
		if code := get(t, r, path, "").StatusCode; code != 404 {
			t.Errorf("%s: %d, want 404", path, code)
		}
	}
	if _, err := r.static.url("app.cs"); err == nil {
		t.Error("a page may name a file that is not there")
	}
}

// TestFirstVisitIsSmall: style and all scripts of a customer's page, as they
// travel to a browser that takes gzip and to one that does not.
func TestFirstVisitIsSmall(t *testing.T) {
	const limit = 17 * 1000
	st := testRenderer(t).static
	plain, packed := 0, 0
	for name, f := range st.files {
		if name == "paper.css" || name == "shop.css" || name == "js/live-form.js" || name == "js/scan.js" || name == "js/beep.js" || name == "js/answer.js" || name == "js/signed-out.js" || name == "js/sealing.js" || strings.HasPrefix(name, "js/bench") {
			continue // prints and the shop's own pages only
		}
		plain += len(f.plain)
		packed += len(f.gzip)
	}
	t.Logf("%d bytes, %d packed", plain, packed)
	if plain >= limit {
		t.Errorf("style and scripts of a customer's page are %d bytes (%d packed), want under %d", plain, packed, limit)
	}
}

// TestStaticStaysHome: no style or script loads from another server.
func TestStaticStaysHome(t *testing.T) {
	foreign := regexp.MustCompile(`(?i)(https?:)?//[a-z0-9-]+\.[a-z]|@import`)
	for name, f := range testRenderer(t).static.files {
		text := strings.ReplaceAll(string(f.plain), `xmlns="http://www.w3.org/2000/svg"`, "")
		if m := foreign.FindString(text); m != "" {
			t.Errorf("%s names %q", name, m)
		}
	}
}
