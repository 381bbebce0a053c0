package main

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/labstack/echo/v4"
	"go.uber.org/goleak"

	"flitchbook/frontend"
)

func TestSignInOnPages(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.visitor(t)

	res, body := v.post("/login", url.Values{"login": {"odile"}, "password": {"wrong"}, "then": {"/staff/rack"}})
	if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(body, `value="odile"`) || !strings.Contains(body, `value="/staff/rack"`) {
		t.Errorf("%d: the login typed or where to go is lost", res.StatusCode)
	}
	if strings.Contains(body, "wrong\"") {
		t.Error("the password came back")
	}
	_, nobody := v.post("/login", url.Values{"login": {"nobody"}, "password": {"wrong"}, "then": {"/staff/rack"}})
	if strings.ReplaceAll(nobody, "nobody", "odile") != body {
		t.Error("an unknown login is answered differently from a wrong password")
	}

	res, _ = v.post("/login", url.Values{"login": {"odile"}, "password": {testPassword}, "then": {"/staff/rack?x=1"}})
	if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/staff/rack?x=1" {
		t.Fatal(res.StatusCode, res.Header)
	}
	var session *http.Cookie
	for _, c := range res.Cookies() {
		if c.Name == "flitchbook_session" {
			session = c
		}
	}
	if session == nil || !session.HttpOnly || session.SameSite != http.SameSiteLaxMode || session.Secure || session.Path != "/" || len(session.Value) < 22 {
		t.Fatalf("%+v", session)
	}
	res, body = v.get("/no-such-page")
	if res.StatusCode != http.StatusNotFound || !strings.Contains(body, "Welcome, Odile.") || !strings.Contains(body, "/owner/meat") {
		t.Error("the next page neither greets nor knows the owner")
	}
	if _, body = v.get("/no-such-page"); strings.Contains(body, "Welcome, Odile.") {
		t.Error("greeted twice")
	}
	if res, _ = v.get("/login?then=/staff/shelf"); res.Header.Get("Location") != "/staff/shelf" {
		t.Error("asked to sign in again")
	}

	res, _ = v.post("/logout", nil)
	if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/login" {
		t.Error(res.StatusCode, res.Header)
	}
	// The cookie taken before is worth nothing now.
	if _, body = h.visitor(t).get("/no-such-page", "Cookie", "flitchbook_session="+session.Value); strings.Contains(body, "Odile") {
		t.Error("a session lives on after signing out")
	}
}

func TestSignInLeadsToOurOwnPagesOnly(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.signedIn(t, "odile")
	for _, then := range []string{"//evil.example.test/", "https://evil.example.test", `/\evil.example.test`, "javascript:alert(1)", "staff", "/a\r\nX: y", ""} {
		res, _ := v.get("/login?then=" + url.QueryEscape(then))
		if got := res.Header.Get("Location"); got != "/staff/today" {
			t.Errorf("then=%q leads to %q", then, got)
		}
	}
}

func TestDisabledAccountIsOutAtOnce(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.signedIn(t, "tobias")
	if _, body := v.get("/no-such-page"); !strings.Contains(body, "Tobias") {
		t.Fatal("not signed in")
	}
	if err := h.DisableAccount(t.Context(), keeper, "tobias"); err != nil {
		t.Fatal(err)
	}
	if _, body := v.get("/no-such-page"); strings.Contains(body, "Tobias") {
		t.Error("a disabled account is still in")
	}
}

func TestSignInByAPI(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.visitor(t)
	res, body := v.json(http.MethodPost, "/api/v1/session", `{"login":"jun","password":"no"}`)
	var p struct {
		Status int
		Code   string
	}
	if err := json.Unmarshal([]byte(body), &p); err != nil || res.StatusCode != http.StatusUnauthorized || p.Status != 401 || p.Code != "sign_in" ||
		res.Header.Get("Content-Type") != "application/problem+json" {
		t.Fatal(res.StatusCode, res.Header, body, err)
	}
	if res, body = v.json(http.MethodDelete, "/api/v1/session", ""); res.StatusCode != http.StatusUnauthorized {
		t.Error(res.StatusCode, body)
	}
	if res, body = v.json(http.MethodPost, "/api/v1/session", `{"login":"jun","password":"`+testPassword+`"}`); res.StatusCode != http.StatusOK || !strings.Contains(body, `"kitchen"`) {
		t.Fatal(res.StatusCode, body)
	}
	if res, body = v.json(http.MethodDelete, "/api/v1/session", ""); res.StatusCode != http.StatusNoContent {
		t.Error(res.StatusCode, body)
	}
	if res, _ = v.json(http.MethodDelete, "/api/v1/session", ""); res.StatusCode != http.StatusUnauthorized {
		t.Error("signed out and still in")
	}
}

// Content-Security-Policy level 3, RFC 6797 (HSTS), Referrer Policy: what the pages
// promise a browser.
func TestHeaders(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	res, _ := h.visitor(t).get("/login")
	for name, want := range map[string]string{
		"Referrer-Policy": "same-origin", "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
		"Cache-Control": "no-store", "Strict-Transport-Security": "",
	} {
		if got := res.Header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	csp := res.Header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
		if !strings.Contains(csp, want) {
			t.Errorf("the policy %q lacks %q", csp, want)
		}
	}
	if strings.Contains(csp, "unsafe") {
		t.Errorf("the policy %q lets inline things pass", csp)
	}
	h.Config.BaseURL = "https://corbel.example.test" // as behind TLS
	e, err := newWeb(defaults(), h.Store, time.Now, h.srv.log)
	if err != nil {
		t.Fatal(err)
	}
	rec := serveOnce(e, http.MethodPost, "/login", url.Values{"login": {"odile"}, "password": {testPassword}})
	if rec.Header().Get("Strict-Transport-Security") == "" {
		t.Error("no HSTS over TLS")
	}
	for _, c := range rec.Result().Cookies() {
		if !c.Secure {
			t.Errorf("the cookie %s goes over plain connections", c.Name)
		}
	}
}

func TestOtherSitesCannotPost(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.signedIn(t, "odile")
	for _, headers := range [][]string{
		{"Sec-Fetch-Site", "cross-site"},
		{"Sec-Fetch-Site", "same-site"},
		{"Origin", "https://evil.example.test"},
	} {
		res, body := v.post("/logout", nil, headers...)
		if res.StatusCode != http.StatusForbidden || !strings.Contains(body, "another site") {
			t.Errorf("%v: %d", headers, res.StatusCode)
		}
		if res, _ = v.json(http.MethodDelete, "/api/v1/session", "", headers...); res.StatusCode != http.StatusForbidden || res.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%v: %d by the API", headers, res.StatusCode)
		}
	}
	if res, _ := v.post("/logout", nil, "Origin", "http://127.0.0.1:8080"); res.StatusCode != http.StatusSeeOther {
		t.Errorf("our own address is refused: %d", res.StatusCode)
	}
}

func TestTooManyTries(t *testing.T) {
	c := defaults()
	c.SignInMinute = 4
	h := openHouse(t, "", c, nil)
	v := h.visitor(t)
	var last int
	for range 5 {
		res, _ := v.post("/login", url.Values{"login": {"odile"}, "password": {"x"}}, "X-Forwarded-For", "192.0.2."+string(rune('1'+last%9)))
		last = res.StatusCode
	}
	if last != http.StatusTooManyRequests {
		t.Errorf("the fifth try of one address: %d, want 429 (a made-up X-Forwarded-For must not help)", last)
	}
	res, body := v.json(http.MethodPost, "/api/v1/session", `{"login":"odile","password":"x"}`)
	if res.StatusCode != http.StatusTooManyRequests || res.Header.Get("Retry-After") == "" || !strings.Contains(body, `"too_many"`) {
		t.Error(res.StatusCode, body)
	}
}

func TestTooManyTriesAtOneLogin(t *testing.T) {
	c := defaults()
	c.SignInMinute = 1000
	h := openHouse(t, "", c, nil)
	v := h.visitor(t)
	for i := range 11 {
		res, body := v.post("/login", url.Values{"login": {" Odile"}, "password": {"x"}})
		want := http.StatusUnprocessableEntity
		if i == 10 {
			want = http.StatusTooManyRequests
			if !strings.Contains(body, "Too many tries") || !strings.Contains(body, "Odile") {
				t.Error("the page does not say so, or lost what was typed")
			}
		}
		if res.StatusCode != want {
			t.Fatalf("try %d: %d, want %d", i+1, res.StatusCode, want)
		}
	}
	if res, _ := v.post("/login", url.Values{"login": {"jun"}, "password": {testPassword}}); res.StatusCode != http.StatusSeeOther {
		t.Error("others cannot sign in meanwhile")
	}
}

func TestVisitorsPostSoOftenAndNoMore(t *testing.T) {
	c := defaults()
	c.PostsMinute = 3
	h := openHouse(t, "", c, nil)
	v, staff := h.visitor(t), h.signedIn(t, "tobias")
	for i := range 4 {
		res, _ := v.post("/no-such-form", nil)
		if limited := res.StatusCode == http.StatusTooManyRequests; limited != (i == 3) {
			t.Errorf("post %d: %d", i+1, res.StatusCode)
		}
		if res, _ := staff.post("/no-such-form", nil); res.StatusCode == http.StatusTooManyRequests {
			t.Error("staff at work are held up")
		}
	}
	if res, _ := v.get("/login"); res.StatusCode != http.StatusOK {
		t.Error("reading is limited too")
	}
}

func TestProxyIsBelievedOnlyWhenNamed(t *testing.T) {
	for _, tc := range []struct {
		trusted []string
		want    string
	}{{nil, "127.0.0.1"}, {[]string{"10.0.0.0/8"}, "127.0.0.1"}, {[]string{"127.0.0.0/8"}, "192.0.2.7"}} {
		c := defaults()
		c.TrustedProxy = tc.trusted
		ip, err := visitorAddress(c)
		if err != nil {
			t.Fatal(err)
		}
		r, _ := http.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = "127.0.0.1:1234"
		r.Header.Set("X-Forwarded-For", "203.0.113.9, 192.0.2.7")
		if got := ip(r); got != tc.want {
			t.Errorf("trusting %v: %s, want %s", tc.trusted, got, tc.want)
		}
	}
}

func TestFailuresAreSaidInTheRightForm(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	e, err := newWeb(defaults(), h.Store, time.Now, h.srv.log)
	if err != nil {
		t.Fatal(err)
	}
	secret := errors.New("password of the database is tulip")
	for path, hand := range map[string]echo.HandlerFunc{
		"/broken": func(echo.Context) error { return secret }, "/api/v1/broken": func(echo.Context) error { return secret },
		"/panics": func(echo.Context) error { panic(secret) }, "/api/v1/panics": func(echo.Context) error { panic(secret) },
		"/half": func(c echo.Context) error { _ = c.String(http.StatusTeapot, "said"); return secret },
	} {
		e.GET(path, hand)
		rec := serveOnce(e, http.MethodGet, path, nil)
		body := rec.Body.String()
		if path == "/half" {
			if rec.Code != http.StatusTeapot || body != "said" {
				t.Errorf("an answer already given was given again: %d %q", rec.Code, body)
			}
			continue
		}
		if rec.Code != http.StatusInternalServerError || strings.Contains(body, "tulip") {
			t.Errorf("%s: %d %s", path, rec.Code, body)
		}
		if isProblem := rec.Header().Get("Content-Type") == "application/problem+json"; isProblem != strings.HasPrefix(path, "/api/") {
			t.Errorf("%s answers with %s", path, rec.Header().Get("Content-Type"))
		}
		if !isAPI(path) && !strings.Contains(body, rec.Header().Get("X-Request-Id")) {
			t.Errorf("%s does not say the request's number", path)
		}
	}
	v := h.visitor(t)
	for _, tc := range []struct {
		method, path string
		status       int
	}{{"GET", "/nowhere", 404}, {"PUT", "/login", 405}, {"GET", "/api/v1/nowhere", 404}, {"PUT", "/api/v1/session", 405}} {
		res, body := v.request(tc.method, tc.path, "", "")
		if res.StatusCode != tc.status || strings.HasPrefix(body, "{") != isAPI(tc.path) {
			t.Errorf("%s %s: %d %.60s", tc.method, tc.path, res.StatusCode, body)
		}
	}
	if res, body := v.request("HEAD", "/login", "", ""); body != "" {
		t.Error(res.StatusCode, body)
	}
	big := url.Values{"login": {strings.Repeat("x", 3<<20)}}
	if res, body := v.post("/login", big); res.StatusCode != http.StatusRequestEntityTooLarge || !strings.Contains(body, "too large") {
		t.Errorf("3 MiB at a limit of 2: %d", res.StatusCode)
	}
}

func isAPI(path string) bool { return strings.HasPrefix(path, "/api/") }

// TestLogsAreSilentAboutPeople: routes by their pattern, no address, no query, no login
// and no number the visitor made up.
func TestLogsAreSilentAboutPeople(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	v := h.visitor(t)
	v.get("/static/0000/app.css?code=hollyhock")
	v.get("/b/secretsecretsecretsecret?token=hollyhock")
	v.post("/login", url.Values{"login": {"odile"}, "password": {"marigold"}}, "X-Request-Id", "made-up-number")
	log := h.Log.String()
	if !strings.Contains(log, "route=/login") || !strings.Contains(log, "status=422") {
		t.Fatalf("no line about the request:\n%s", log)
	}
	for _, never := range []string{"hollyhock", "secretsecret", "marigold", "odile", "127.0.0.1:", "made-up-number"} {
		if strings.Contains(log, never) {
			t.Errorf("the log says %q:\n%s", never, log)
		}
	}
}

// TestGoneVisitor: who closed the page before it was made is no error in the log; who
// waited in vain is.
func TestGoneVisitor(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	e, err := newWeb(defaults(), h.Store, time.Now, h.srv.log)
	if err != nil {
		t.Fatal(err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	late, enough := context.WithTimeout(t.Context(), 0)
	defer enough()
	for _, path := range []string{"/", "/api/v1/classes"} {
		for _, v := range []struct {
			ctx    context.Context
			faulty bool
		}{{gone, false}, {late, true}} {
			from := len(h.Log.String())
			rec := httptest.NewRecorder()
			e.ServeHTTP(rec, httptest.NewRequest(http.MethodGet, path, nil).WithContext(v.ctx))
			log := h.Log.String()[from:]
			if rec.Code != http.StatusServiceUnavailable || strings.Contains(log, "level=ERROR") != v.faulty || !strings.Contains(log, "route="+path) {
				t.Errorf("%s for one with %v: %d, log\n%s", path, v.ctx.Err(), rec.Code, log)
			}
		}
	}
}

func TestHealth(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	if res, body := h.visitor(t).get("/healthz"); res.StatusCode != 200 || body != "ok\n" {
		t.Error(res.StatusCode, body)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	h.gone = true
	if res, _ := h.visitor(t).get("/healthz"); res.StatusCode != 500 {
		t.Error("well without a database:", res.StatusCode)
	}
}

func TestDemoBar(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	e, err := newWeb(defaults(), h.Store, time.Now, h.srv.log, asDemo(&frontend.Demo{Moments: func() []frontend.DemoMoment { return nil }}))
	if err != nil {
		t.Fatal(err)
	}
	if rec := serveOnce(e, http.MethodGet, "/demo/clock", nil); rec.Code != http.StatusOK || !strings.Contains(rec.Body.String(), "Demo shop") {
		t.Error(rec.Code)
	}
	if res, _ := h.visitor(t).get("/demo/clock"); res.StatusCode != http.StatusNotFound {
		t.Error("a real shop's clock can be moved")
	}
}

// TestStopLeavesNothingRunning is named last on purpose: nothing of any server above
// may still run either.
func TestStopLeavesNothingRunning(t *testing.T) {
	defer goleak.VerifyNone(t)
	t.Run("serve", func(t *testing.T) {
		h := openHouse(t, "", defaults(), nil)
		h.visitor(t).get("/login")
	})
}
