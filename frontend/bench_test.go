package frontend

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A workshop is the pages on a shop with one party at the bench.
type workshop struct {
	*storetest.House
	t    *testing.T
	e    *echo.Echo
	site *Site
	by   shop.Actor
	db   *gorm.DB
}

func newWorkshop(t *testing.T) *workshop {
	t.Helper()
	w := emptyShop(t)
	w.Go("2026-10-24 13:00")
	w.lay()
	return w
}

// emptyShop is the pages on the furnished shop before anybody has booked.
func emptyShop(t *testing.T) *workshop {
	t.Helper()
	w := &workshop{t: t, by: storetest.Tobias}
	path := filepath.Join(t.TempDir(), "shop.db")
	w.House = storetest.Open(t, "sqlite:"+path)
	var err error
	if w.site, err = NewSite(w.Store, Config{}); err != nil {
		t.Fatal(err)
	}
	w.e = echo.New()
	w.e.HTTPErrorHandler = func(err error, c echo.Context) { _ = w.site.Fail(c, err) }
	w.e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if w.by.Name != "" {
				api.SetActor(c, w.by)
			}
			return next(c)
		}
	})
	w.site.Routes(w.e)
	if w.db, err = gorm.Open(sqlite.Open(path+"?_busy_timeout=5000"), &gorm.Config{SkipDefaultTransaction: true}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if d, err := w.db.DB(); err == nil {
			d.Close()
		}
	})
	return w
}

// lay seats Solveig and a friend at B3, with a slab each cut from an inspected side.
func (w *workshop) lay() {
	w.t.Helper()
	ins := func(v any) {
		w.t.Helper()
		if err := w.db.Create(v).Error; err != nil {
			w.t.Fatal(err)
		}
	}
	kd := shop.KillDay{PlantID: 1, Day: unit.DayOf(2026, 10, 21), DeliveryDay: unit.DayOf(2026, 10, 22)}
	ins(&kd)
	o := shop.Order{Number: 7, FarmID: 1, KillDayID: kd.ID, Species: "pork", State: shop.Delivered, TokenHash: "o7"}
	ins(&o)
	d := shop.Delivery{OrderID: o.ID, Day: kd.DeliveryDay, Legend: "EST. 0000-DEMO", Lot: "HB-1022"}
	ins(&d)
	a := shop.Animal{OrderID: o.ID, DeliveryID: d.ID, Number: 1, Tag: "HB-630", Species: "pork", KilledOn: kd.Day}
	ins(&a)
	side := shop.Side{AnimalID: a.ID, Which: "L", Cold: 100 * unit.Pound}
	ins(&side)
	belly := shop.Belly{SideID: side.ID, Weight: 16 * unit.Pound}
	ins(&belly)
	at := w.At("2026-10-24 13:00")
	var kind shop.ClassKind
	w.db.Take(&kind, "code = ?", "bacon")
	c := shop.Class{Code: "B3", KindID: kind.ID, Title: "Cure your own bacon", StartsAt: at, EndsAt: at + 9000, Day: at.Day(w.Loc), Seats: 10, SeatsTaken: 2, State: shop.GoingAhead}
	ins(&c)
	b := shop.Booking{Number: 14, ClassID: c.ID, State: shop.Firm, PayerName: "Solveig A.", PayerEmail: "solveig@post.example.test", TokenHash: "b14", LinkNo: 4711}
	secret := w.SlabLink(&b)
	b.SlabHash = fmt.Sprintf("%x", sha256.Sum256([]byte(secret[strings.LastIndex(secret, "/")+1:])))
	ins(&b)
	for i, p := range []struct{ name, jar string }{{"Solveig A.", "MH"}, {"Eskil", "PB"}} {
		g := shop.Guest{BookingID: b.ID, Name: p.name, TokenHash: "g" + p.name, NeedsState: []shop.NeedsState{shop.NotTold, shop.NoNeeds}[i]}
		ins(&g)
		s := shop.Seat{BookingID: b.ID, ClassID: c.ID, GuestID: g.ID, Kind: shop.SlabSeat, Slabs: 1, Position: i + 1, State: shop.Firm}
		ins(&s)
		var j shop.Jar
		w.db.Take(&j, "code = ?", p.jar)
		ins(&shop.Pick{SeatID: s.ID, Slot: 1, JarID: j.ID, State: shop.PickMade})
		ins(&shop.Slab{Tag: shop.Tag("B3", i+1), ClassID: c.ID, Number: i + 1, SeatID: s.ID, Slot: 1, BellyID: belly.ID, Piece: i + 1, Planned: 440 * unit.Pound / 100, State: shop.Wanted})
	}
}

func (w *workshop) get(path string) (int, string) {
	w.t.Helper()
	rec := httptest.NewRecorder()
	w.e.ServeHTTP(rec, httptest.NewRequest(http.MethodGet, path, nil))
	return rec.Code, rec.Body.String()
}

func (w *workshop) post(path string, kv ...string) *httptest.ResponseRecorder {
	w.t.Helper()
	v := url.Values{}
	for i := 0; i+1 < len(kv); i += 2 {
		v.Add(kv[i], kv[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	rec := httptest.NewRecorder()
	w.e.ServeHTTP(rec, r)
	return rec
}

// says wants a page with every text.
func (w *workshop) says(path string, texts ...string) string {
	w.t.Helper()
	code, body := w.get(path)
	if code != http.StatusOK {
		w.t.Errorf("GET %s: %d", path, code)
	}
	for _, s := range texts {
		if !strings.Contains(body, s) {
			w.t.Errorf("GET %s does not say %q", path, s)
		}
	}
	return body
}

// done presses a button and wants it to work; stopped wants it refused, the page back
// with what was typed.
func (w *workshop) done(path string, kv ...string) {
	w.t.Helper()
	if rec := w.post(path, kv...); rec.Code != http.StatusSeeOther {
		w.t.Fatalf("POST %s %v: %d\n%s", path, kv, rec.Code, textOf(rec.Body.String()))
	}
}

func (w *workshop) stopped(status int, path string, texts []string, kv ...string) {
	w.t.Helper()
	rec := w.post(path, kv...)
	if rec.Code != status {
		w.t.Errorf("POST %s %v: %d, want %d", path, kv, rec.Code, status)
	}
	for _, s := range texts {
		if !strings.Contains(rec.Body.String(), s) {
			w.t.Errorf("POST %s does not say %q", path, s)
		}
	}
}

func textOf(html string) string {
	if i := strings.Index(html, "<main"); i >= 0 {
		html = html[i:]
	}
	return html[:min(len(html), 1500)]
}

// One slab and its friend from the tray to the hand, pressed on the pages as a butcher
// and the counter would.
func TestBenchPages(t *testing.T) {
	w := newWorkshop(t)
	w.says("/staff/today", "B3", "ASK: 1 not told", "not sealed")
	w.says("/staff/classes/B3/kitlist", "B3-01", "poisonous", "aria-label=\"Code: B3-01\"")
	w.says("/staff/classes/B3/sheet?large=1", "ASK", `class="large wide"`, "Solveig")
	w.says("/staff/bench", "Check the scale first")
	w.stopped(404, "/staff/bench", []string{"could not be found", `value="B9-99"`}, "tag", "b9-99")
	w.done("/staff/bench", "tag", " b3-01 ")
	w.says("/staff/bench?tag=B3-01", "Cut and weighed", "mustard")
	w.stopped(422, "/staff/bench/cut", []string{"whether the skin is on", `value="4.4x"`}, "tag", "B3-01", "weight", "4.4x", "once", "1")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/cut", "tag", tag, "weight", "4.40", "skin", "off", "once", "c"+tag)
		w.done("/staff/bench/kit", "tag", tag, "once", "k"+tag)
	}
	w.stopped(409, "/staff/bench/seat", []string{"wrong slab or wrong scale"}, "tag", "B3-01", "weight", "4.60")
	w.stopped(409, "/staff/bench/scale", []string{"outside 4.9 to 5.1"}, "scale", "cure scale", "shown", "5.3")
	w.done("/staff/bench/scale", "tag", "B3-01", "scale", "cure scale", "shown", "5.0")
	w.says("/staff/bench?tag=B3-01", "To weigh for B3-01", "5.0 g", "44 g", "22 g", "never spoons")
	weigh := func(tag, cure, spice, once string) []string {
		return []string{"tag", tag, "salt", "44", "sugar", "22", "cure", cure, "spice", spice, "scale", "cure scale", "once", once}
	}
	w.stopped(422, "/staff/bench/weigh", []string{"comma", `value="5,0"`}, weigh("B3-01", "5,0", "28", "w0")...)
	w.stopped(409, "/staff/bench/weigh", []string{"scrape it off"}, weigh("B3-01", "5.6", "28", "w1")...)
	w.stopped(409, "/staff/bench/weigh", []string{"ppm"}, append(weigh("B3-01", "5.0", "28", "w2"), "cup", "B3-02")...)
	w.stopped(409, "/staff/bench/seal", []string{"no passing weigh-out"}, "tag", "B3-01", "once", "s0")
	w.done("/staff/bench/weigh", weigh("B3-01", "5.0", "28", "w3")...)
	w.done("/staff/bench/weigh", weigh("B3-02", "5.0", "20", "w4")...)
	w.stopped(409, "/staff/bench/seal", []string{"owner"}, "tag", "B3-01", "place", "W1", "once", "s1")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/seal", "tag", tag, "once", "s"+tag)
	}
	w.says("/staff/bench?tag=B3-01&done=1", "may leave its bag from Thu Nov 5", `data-scan-result="right"`)
	w.says("/staff/rack", "2 of 36", "B3-01", "0 of 12")

	secret := w.SlabLink(&shop.Booking{LinkNo: 4711})
	secret = secret[strings.LastIndex(secret, "/"):]
	w.by = shop.Actor{}
	page := w.says("/s"+secret, "Ready about", "Sat Nov 7", "mustard &amp; honey", "not cooked", "Harl Bank")
	if strings.Contains(page, "R1") || strings.Contains(page, "Tobias") {
		t.Error("the customer's page names a place or a person of the shop")
	}
	if code, _ := w.get("/s/nobodysnobodysnobodysnobody"); code != http.StatusNotFound {
		t.Errorf("a stranger's address answers %d", code)
	}
	if code, _ := w.get("/staff/bench"); code != http.StatusSeeOther {
		t.Errorf("the bench without signing in: %d", code)
	}
	w.done("/s"+secret+"/collector", "collector", "Eskil")
	w.done("/s"+secret+"/sliced", "whole", "sliced")
	w.by = storetest.Tobias

	w.Go("2026-11-04 10:00")
	w.stopped(422, "/staff/holds", []string{"Say what is wrong"}, "room", "cure")
	w.done("/staff/holds", "room", "cure", "reason", "door ajar")
	w.says("/s"+secret, "being checked")
	w.stopped(409, "/staff/bench/rinse", []string{"on hold since Wed 10:00"}, "tag", "B3-01", "once", "r0")
	w.says("/staff/holds", "door ajar", "not counted", "2 slabs on hold")
	w.stopped(422, "/staff/holds/1", []string{"needs its reason"}, "what", "release")
	w.done("/staff/holds/1", "what", "release", "why", "38 F in every bag")
	w.says("/staff/holds", "Nothing is on hold")

	w.says("/staff/smoke", "Fri Nov 6", "could hang")
	w.done("/staff/smoke/2026-11-06")
	w.says("/staff/smoke/2026-11-06", "2 slabs hang", "bottom")
	w.says("/staff/smoke/2026-11-06/sheet", "BOTTOM", "not fully cooked")
	w.stopped(409, "/staff/smoke/2026-11-27", []string{"closed"})
	w.Go("2026-11-05 10:00")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/rinse", "tag", tag, "once", "r"+tag)
	}
	w.Go("2026-11-06 08:00")
	w.says("/staff/bench?tag=B3-01", "Its hook today", "H19")
	w.stopped(409, "/staff/bench/hang", []string{"bottom row only"}, "tag", "B3-01", "hook", "H8", "once", "h0")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/hang", "tag", tag, "once", "h"+tag)
		w.done("/staff/bench/out", "tag", tag, "temp", "146", "once", "o"+tag)
	}
	w.says("/staff/smoke/2026-11-06", "2 slabs hang", "as planned", "no chill log", "Print the sheet")
	w.says("/staff/smoke/2026-11-06/log", "out of the smoke", "146.0", "not fully cooked: cook before eating", "no chill log")
	w.Go("2026-11-07 15:00")
	w.stopped(409, "/staff/bench/pack", []string{"no chill log"}, "tag", "B3-01", "weight", "3.74", "once", "n0")
	w.stopped(422, "/staff/smoke/2026-11-06/answer", []string{"Say in words why"}, "reason", " ")
	w.done("/staff/smoke/2026-11-06/answer", "reason", "38 F by the hand thermometer at 20:00")
	w.says("/staff/smoke/2026-11-06/log", "38 F by the hand thermometer", "Tobias")
	w.stopped(409, "/staff/bench/pack", []string{"suspect a swapped tag"}, "tag", "B3-01", "weight", "4.35", "once", "p0")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/pack", "tag", tag, "weight", "3.74", "once", "p"+tag)
	}
	w.done("/staff/shelf", "tag", "B3-01", "place", "C2", "once", "x1")
	w.stopped(409, "/staff/shelf", []string{"taken", `value="B3-02"`}, "tag", "B3-02", "place", "C2", "once", "x2")
	w.done("/staff/bench/shelve", "tag", "B3-02", "place", "C3", "once", "x3")
	w.says("/staff/shelf?q=sol", "Solveig A.", "C2", "C3", "Eskil fetches", "Wants it sliced")
	w.says("/staff/shelf/strip", "C2", "B3-01")
	w.says("/s"+secret, "on the shelf", "From Harl Bank, the left side of the pig. You started with 4.40 lb; 3.74 lb is waiting")
	w.stopped(409, "/staff/shelf/1", []string{"Scan every packet", "Eskil"}, "to", "Eskil", "tags", "B3-01", "q", "sol")
	w.stopped(422, "/staff/shelf/1", []string{"is named to fetch"}, "to", "Marla", "tags", "B3-01 B3-02", "q", "sol")
	w.done("/staff/shelf/1", "to", "Eskil", "tags", "B3-01\nB3-02", "once", "y")
	w.says("/staff/slabs/B3-01", "Harl Bank", "EST. 0000-DEMO", "to Eskil", "stopped", "passed", "CS-26-04", "not counted")
	w.says("/s"+secret, "You have it all")
}
