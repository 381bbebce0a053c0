package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/labstack/echo/v4"
)

var update = flag.Bool("update", false, "rewrite the files in testdata from what the program does now; read the difference before keeping it")

var (
	routesFile  = filepath.Join("..", "..", "testdata", "routes.txt")
	openAPIFile = filepath.Join("..", "..", "testdata", "openapi.json")
)

// Where a secret in the address is the key. Nobody else's word opens them.
var secretPaths = []string{"/b/", "/g/", "/s/", "/o/", "/calendar/"}

type route struct{ method, path string }

// routesOf lists what a real server answers, in the order of the file.
func routesOf(t *testing.T, h *house) []route {
	t.Helper()
	e, err := newWeb(defaults(), h.Store, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	var all []route
	for _, r := range e.Routes() {
		if r.Method == echo.RouteNotFound {
			continue // a group's own answer to what is not there
		}
		all = append(all, route{r.Method, r.Path})
	}
	sort.Slice(all, func(i, j int) bool {
		if all[i].path != all[j].path {
			return all[i].path < all[j].path
		}
		return all[i].method < all[j].method
	})
	return all
}

// address fills a route's parameters with something that is nobody's.
func (r route) address() string {
	var parts []string
	for p := range strings.SplitSeq(r.path, "/") {
		switch {
		case strings.HasPrefix(p, ":") && strings.Contains(p, "."): // ":secret.ics"
			p = "nobodysnobodysnobodysnobody" + p[strings.Index(p, "."):]
		case strings.HasPrefix(p, ":"):
			p = "999999"
			if r.secret() {
				p = "nobodysnobodysnobodysnobody"
			}
		case p == "*":
			p = "none"
		}
		parts = append(parts, p)
	}
	return strings.Join(parts, "/")
}

func (r route) secret() bool {
	if !strings.Contains(r.path, ":") {
		return false // the calendar for everybody
	}
	for _, s := range secretPaths {
		if strings.HasPrefix(r.path, s) {
			return true
		}
	}
	return false
}

// TestRoutesAndTheirGuards asks every route as a visitor and as each role and compares
// who gets past the guard with testdata/routes.txt, the site's map. A new route belongs
// there; one in the staff's or the owner's part that lets others pass fails whatever the
// file says.
func TestRoutesAndTheirGuards(t *testing.T) {
	c := defaults()
	c.PostsMinute, c.SignInMinute = 100000, 100000
	h := openHouse(t, "", c, nil)
	logins := []string{"", "jun", "tobias", "odile"}
	words := map[string]string{"": "visitor", "jun": "kitchen", "tobias": "staff", "odile": "owner"}
	as := map[string]*visitor{}
	for _, l := range logins {
		as[l] = h.signedIn(t, l)
	}
	var got strings.Builder
	got.WriteString("# Every route and who gets past its guard. Kept by: go test ./cmd/... -run Routes -update\n")
	for _, r := range routesOf(t, h) {
		var pass []string
		for _, l := range logins {
			ok, status := as[l].passes(r)
			if ok {
				pass = append(pass, words[l])
			}
			if status >= 500 {
				t.Errorf("%s %s as %s: %d", r.method, r.path, words[l], status)
			}
			if r.secret() && status != http.StatusNotFound {
				t.Errorf("%s %s with a made-up secret as %s: %d, want 404", r.method, r.path, words[l], status)
			}
			if l != "" && (r.path == "/logout" || r.path == "/api/v1/session") {
				as[l] = h.signedIn(t, l)
			}
		}
		guard := strings.Join(pass, " ")
		switch {
		case len(pass) == len(logins) && r.secret():
			guard = "secret link"
		case len(pass) == len(logins):
			guard = "everybody"
		}
		if strings.HasPrefix(r.path, "/owner") && guard != "owner" {
			t.Errorf("%s %s lets pass: %s", r.method, r.path, guard)
		}
		if strings.HasPrefix(r.path, "/staff") && (len(pass) == 0 || pass[0] == "visitor") {
			t.Errorf("%s %s lets visitors pass", r.method, r.path)
		}
		fmt.Fprintf(&got, "%-6s %-52s %s\n", r.method, r.path, guard)
	}
	golden(t, routesFile, got.String())
}

// passes asks as this browser and says whether the guard let it through.
func (v *visitor) passes(r route) (bool, int) {
	v.t.Helper()
	kind, body := "application/x-www-form-urlencoded", ""
	if strings.HasPrefix(r.path, "/api/") {
		kind, body = "application/json", "{}"
	}
	res, _ := v.request(r.method, r.address(), kind, body)
	switch {
	case r.path == "/login" || r.path == "/api/v1/session" && r.method == http.MethodPost:
		return true, res.StatusCode // a refusal there is of the password
	case res.StatusCode == http.StatusUnauthorized, res.StatusCode == http.StatusForbidden:
		return false, res.StatusCode
	case strings.HasPrefix(res.Header.Get("Location"), "/login?then="):
		return false, res.StatusCode
	}
	return true, res.StatusCode
}

// TestOpenAPIDescription: what programs are told of the API changes only on purpose.
func TestOpenAPIDescription(t *testing.T) {
	h := openHouse(t, "", defaults(), nil)
	res, body := h.visitor(t).get("/api/openapi.json")
	if res.StatusCode != http.StatusOK {
		t.Fatal(res.StatusCode, body)
	}
	var doc struct {
		OpenAPI string
		Paths   map[string]any
	}
	if err := json.Unmarshal([]byte(body), &doc); err != nil || !strings.HasPrefix(doc.OpenAPI, "3.1") || len(doc.Paths) == 0 {
		t.Fatal(doc.OpenAPI, len(doc.Paths), err)
	}
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, []byte(body), "", " "); err != nil {
		t.Fatal(err)
	}
	pretty.WriteByte('\n')
	golden(t, openAPIFile, pretty.String())
}

// golden compares with a committed file, or rewrites it with -update.
func golden(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
		t.Errorf("%s is not what the program does now (-file +program); if that is meant, run with -update:\n%s", file, d)
	}
}
