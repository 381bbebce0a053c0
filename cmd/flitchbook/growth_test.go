package main

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/planner/unit"
)

// statements gathers what is asked of the database: it is a log that keeps only that.
type statements struct {
	mu   sync.Mutex
	seen map[string]bool
}

func (s *statements) Enabled(context.Context, slog.Level) bool { return true }
func (s *statements) WithAttrs([]slog.Attr) slog.Handler       { return s }
func (s *statements) WithGroup(string) slog.Handler            { return s }
func (s *statements) Handle(_ context.Context, r slog.Record) error {
	if r.Message == "SQL" {
		r.Attrs(func(a slog.Attr) bool {
			if a.Key == "sql" {
				s.mu.Lock()
				s.seen[a.Value.String()] = true
				s.mu.Unlock()
			}
			return true
		})
	}
	return nil
}

// growing are the tables that get rows with every guest, slab or reading. The others (farms,
// classes, orders, places, lots, holds …) get some hundreds a year and may be read whole.
var growing = []string{"bookings", "guests", "needs", "seats", "picks", "seat_holds", "slabs", "steps", "history", "payments", "ledger_entries", "ledger_lines",
	"notices", "entries", "placements", "cure_tickets", "weigh_outs", "weigh_out_lots", "bag_uses", "load_slabs", "probe_readings", "smoke_lines", "hold_slabs"}

// readWhole are the statements that may read a growing table from end to end, and why.
var readWhole = []struct{ part, why string }{
	{"LIKE ?", "a person looks for words anywhere in a name"},
	{"sum(cents) AS cents FROM ledger_lines GROUP BY account", "what an account stands at is the sum of all its lines"},
}

var (
	scans   = regexp.MustCompile(`^SCAN (\S+)(?: USING (?:COVERING )?INDEX (\S+))?`)
	aliases = regexp.MustCompile(`(?i)(?:FROM|JOIN)\s+[\x60"]?(\w+)[\x60"]?\s+(?:AS\s+)?(\w+)`)
	lists   = regexp.MustCompile(`\(\?(,\s*\?)+\)`)
)

// A playedHouse is the invented shop with its pages, the owner signed in, and the story that
// is played on.
type playedHouse struct {
	*store.Store
	file   string
	web    *echo.Echo
	cookie string
	player *story.Player
}

func playedShop(t testing.TB, file string, log *slog.Logger) *playedHouse {
	t.Helper()
	clock := &storetest.Clock{}
	clock.Set(furnishedAt)
	st, err := openTestStore(t.TempDir(), "sqlite:"+file, clock, log)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := furnished(st); err != nil {
		t.Fatal(err)
	}
	p := &playedHouse{Store: st, file: file}
	p.player, err = story.Begin(&story.Player{Store: st, Clock: clock, Strict: true, Send: func(context.Context, shop.Notice, shop.Facts) error { return nil }})
	if err != nil {
		t.Fatal(err)
	}
	clock.Set(p.player.First())
	if p.web, err = newWeb(defaults(), st, time.Now, log); err != nil {
		t.Fatal(err)
	}
	rec := serveOnce(p.web, http.MethodPost, "/login", url.Values{"login": {"odile"}, "password": {testPassword}})
	p.cookie = rec.Header().Get("Set-Cookie")
	return p
}

func (p *playedHouse) get(path string) int {
	req := httptest.NewRequest(http.MethodGet, path, nil)
	req.Header.Set("Cookie", p.cookie)
	rec := httptest.NewRecorder()
	p.web.ServeHTTP(rec, req)
	return rec.Code
}

// paths are all pages and lists that can be opened, each of a class, booking or slab by one
// of the invented shop's.
func (p *playedHouse) paths() []string {
	out := []string{"/staff/find?q=ulla", "/staff/trace?q=pepper", "/staff/trace?q=B4-01", "/staff/trace?q=P-117"}
	named := strings.NewReplacer(":code", "B4", ":number", "K17", ":ref", "K17", ":tag", "B4-01", ":day", "2026-11-02", ":id", "1", ":week", "2026-W45", ":kind", "lot", ":key", "1")
	for _, r := range p.web.Routes() {
		if path := named.Replace(r.Path); r.Method == http.MethodGet && !strings.ContainsAny(path, ":*") {
			out = append(out, path)
		}
	}
	slices.Sort(out)
	return out
}

// TestTablesThatGrowAreReadByIndex plays the invented autumn, opens every page, and asks
// SQLite how it would go about each statement (sqlite.org/eqp.html): what is asked all day
// must not read more with every year that passes.
func TestTablesThatGrowAreReadByIndex(t *testing.T) {
	asked := &statements{seen: map[string]bool{}}
	file := filepath.Join(t.TempDir(), "shop.db")
	p := playedShop(t, file, slog.New(asked))
	opened := 0
	for _, day := range []unit.Day{unit.DayOf(2026, time.October, 24), unit.DayOf(2026, time.November, 7), unit.DayOf(2026, time.November, 20)} {
		if err := p.player.To(t.Context(), day.At(16, 0, p.Loc)); err != nil {
			t.Fatal(err)
		}
		for _, path := range p.paths() {
			switch code := p.get(path); {
			case code == http.StatusOK:
				opened++
			case code >= http.StatusInternalServerError:
				t.Errorf("%s answers %d", path, code)
			}
		}
	}
	if opened < 200 || len(asked.seen) < 300 {
		t.Errorf("only %d pages opened, %d statements seen", opened, len(asked.seen))
	}
	db, err := sql.Open("sqlite3", "file:"+file+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	used := map[string]bool{}
	for _, q := range slices.Sorted(maps.Keys(asked.seen)) {
		for _, whole := range wholeReads(t, db, q) {
			why := ""
			for _, may := range readWhole {
				if strings.Contains(q, may.part) {
					why = may.why
					used[may.part] = true
				}
			}
			if why == "" {
				t.Errorf("reads all of %s:\n    %s", whole, lists.ReplaceAllString(strings.Join(strings.Fields(q), " "), "(?)"))
			}
		}
	}
	for _, may := range readWhole {
		if !used[may.part] {
			t.Errorf("nothing that reads a table whole has %q any more", may.part)
		}
	}
	t.Logf("%d pages, %d statements", opened, len(asked.seen))
}

// partial says whether an index holds only some rows of its table, such as those still open:
// to read all of it is to read what is open.
func partial(t *testing.T, db *sql.DB, index string) bool {
	t.Helper()
	var n int
	if err := db.QueryRow("SELECT count(*) FROM sqlite_master WHERE type = 'index' AND name = ? AND sql LIKE '% WHERE %'", index).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n == 1
}

// wholeReads names the growing tables that a statement reads from end to end.
func wholeReads(t *testing.T, db *sql.DB, q string) (out []string) {
	t.Helper()
	if !regexp.MustCompile(`(?i)^\s*(SELECT|UPDATE|DELETE|INSERT|WITH)`).MatchString(q) {
		return nil
	}
	rows, err := db.Query("EXPLAIN QUERY PLAN "+q, make([]any, strings.Count(q, "?"))...)
	if err != nil {
		t.Errorf("%s: %v", q, err)
		return nil
	}
	defer rows.Close()
	called := map[string]string{}
	for _, m := range aliases.FindAllStringSubmatch(q, -1) {
		called[m[2]] = m[1]
	}
	for rows.Next() {
		var id, parent, unused int
		var detail string
		if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
			t.Fatal(err)
		}
		m := scans.FindStringSubmatch(detail)
		if m == nil {
			continue
		}
		name := m[1]
		if table, ok := called[name]; ok && !slices.Contains(growing, name) {
			name = table
		}
		if slices.Contains(growing, name) && !partial(t, db, m[2]) {
			out = append(out, fmt.Sprintf("%s (%s)", name, detail))
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}
