package main

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

const testPassword = "three words in a row"

// A lockedBuffer takes what several goroutines write.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// A house is the program serving the furnished demo shop to real connections.
type house struct {
	*store.Store
	Clock *storetest.Clock
	URL   string
	Log   *lockedBuffer
	gone  bool // the test has closed its records
	srv   *server
	goOn  *story.Player // plays the story on; nil where none is told
}

// defaults are the settings of a server nobody said anything to, on a port of its own.
func defaults() serveConfig {
	return serveConfig{Listen: "127.0.0.1:0", BodyLimit: 2, RequestTime: 20 * time.Second, SessionTime: time.Hour,
		PostsMinute: 60, SignInMinute: 10, DueEvery: 20 * time.Millisecond, StopTime: 5 * time.Second}
}

// openHouse serves the demo shop on a database ("" is SQLite in a temporary folder),
// with Odile (owner), Tobias (staff) and Jun (kitchen) able to sign in.
func openHouse(t testing.TB, database string, c serveConfig, send sender, more ...option) *house {
	t.Helper()
	return serveHouse(t, database, furnishedAt, furnished, c, send, more...)
}

const furnishedAt unit.Instant = 1785765600 // Mon Aug 3 2026, 09:00 in Chicago

// furnished makes a new shop the invented one, with its people.
func furnished(st *store.Store) error {
	ctx := context.Background()
	if err := st.Furnish(ctx, keeper, scenario.Shop()); err != nil {
		return err
	}
	for _, a := range []shop.NewAccount{{Login: "odile", Name: "Odile", Role: shop.Owner}, {Login: "tobias", Name: "Tobias", Role: shop.Staff}, {Login: "jun", Name: "Jun", Role: shop.Kitchen}} {
		a.Password = testPassword
		if _, err := st.AddAccount(ctx, keeper, a); err != nil {
			return err
		}
	}
	return nil
}

// openTestStore opens a shop's records with the same secret every time.
func openTestStore(dir, database string, clock *storetest.Clock, log *slog.Logger) (*store.Store, error) {
	return openStore(context.Background(), shopConfig{databaseConfig: databaseConfig{database}, SecretFile: filepath.Join(dir, "secret"),
		BaseURL: "http://127.0.0.1:8080", Domain: "corbel.example.test"}, clock.Now, strings.NewReader(strings.Repeat("secret for tests", 4)), log)
}

// serveHouse opens a database at a moment, has it made ready, and serves it.
func serveHouse(t testing.TB, database string, at unit.Instant, ready func(*store.Store) error, c serveConfig, send sender, more ...option) *house {
	t.Helper()
	dir := t.TempDir()
	if database == "" {
		database = "sqlite:" + filepath.Join(dir, "shop.db")
	}
	h := &house{Clock: &storetest.Clock{}, Log: &lockedBuffer{}}
	h.Clock.Set(at)
	log := slog.New(slog.NewTextHandler(h.Log, nil))
	ctx := context.Background()
	st, err := openTestStore(dir, database, h.Clock, log)
	if err != nil {
		t.Fatal(err)
	}
	if err := ready(st); err != nil {
		t.Fatal(err)
	}
	h.Store = st
	if h.srv, err = startServer(ctx, c, st, time.Now, send, log, more...); err != nil {
		t.Fatal(err)
	}
	h.URL = "http://" + h.srv.Addr
	t.Cleanup(func() {
		if err := h.srv.Stop(); err != nil {
			t.Error(err)
		}
		if h.gone {
			return
		}
		found, err := st.CheckMoney(context.Background())
		if err != nil {
			t.Error(err)
		}
		for _, f := range found {
			for _, l := range f.Broken {
				t.Errorf("the money is not sound in the end: %s: %s", f.Rule, l)
			}
		}
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return h
}

// A visitor is one browser: it keeps cookies and shows redirects rather than follow.
type visitor struct {
	t    *testing.T
	http *http.Client
	url  string
}

func (h *house) visitor(t *testing.T) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	tr := &http.Transport{}
	t.Cleanup(tr.CloseIdleConnections)
	return &visitor{t: t, url: h.URL, http: &http.Client{Jar: jar, Transport: tr, Timeout: 30 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// signedIn is a browser somebody has signed in with; "" is a visitor.
func (h *house) signedIn(t *testing.T, login string) *visitor {
	t.Helper()
	v := h.visitor(t)
	if login == "" {
		return v
	}
	res, body := v.post("/login", url.Values{"login": {login}, "password": {testPassword}})
	if res.StatusCode != http.StatusSeeOther {
		t.Fatalf("%s cannot sign in: %d %s", login, res.StatusCode, body)
	}
	return v
}

func (v *visitor) do(req *http.Request) (*http.Response, string) {
	v.t.Helper()
	res, err := v.http.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	return res, string(b)
}

func (v *visitor) request(method, path, contentType, body string, headers ...string) (*http.Response, string) {
	v.t.Helper()
	req, err := http.NewRequest(method, v.url+path, strings.NewReader(body))
	if err != nil {
		v.t.Fatal(err)
	}
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	return v.do(req)
}

func (v *visitor) get(path string, headers ...string) (*http.Response, string) {
	v.t.Helper()
	return v.request(http.MethodGet, path, "", "", headers...)
}

func (v *visitor) post(path string, form url.Values, headers ...string) (*http.Response, string) {
	v.t.Helper()
	return v.request(http.MethodPost, path, "application/x-www-form-urlencoded", form.Encode(), headers...)
}

func (v *visitor) json(method, path, body string, headers ...string) (*http.Response, string) {
	v.t.Helper()
	return v.request(method, path, "application/json", body, headers...)
}

// serveOnce hands one request to the pages without a connection.
func serveOnce(h http.Handler, method, path string, form url.Values) *httptest.ResponseRecorder {
	req := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	rec := httptest.NewRecorder()
	h.ServeHTTP(rec, req)
	return rec
}
