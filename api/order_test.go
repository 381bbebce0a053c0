package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// door is the API over a demo shop; who asks is set by hand.
type door struct {
	*storetest.House
	t   *testing.T
	e   *echo.Echo
	who shop.Actor
}

func openDoor(t *testing.T) *door {
	t.Helper()
	return openDoorOn(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db"))
}

func openDoorOn(t *testing.T, url string) *door {
	t.Helper()
	h := storetest.Open(t, url)
	d := &door{House: h, t: t, e: echo.New(), who: storetest.Odile}
	d.e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if d.who.IsStaff() {
				api.SetActor(c, d.who)
			}
			return next(c)
		}
	})
	api.New(d.e, h.Store, nil)
	return d
}

// ask sends JSON and reads the answer; "" as body is a GET.
func (d *door) ask(path, body string, status int, headers ...string) map[string]any {
	d.t.Helper()
	method := "GET"
	if body != "" {
		method = "POST"
	}
	return d.send(method, path, body, status, headers...)
}

func (d *door) send(method, path, body string, status int, headers ...string) map[string]any {
	d.t.Helper()
	r := httptest.NewRequest(method, "/api/v1"+path, strings.NewReader(body))
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	d.e.ServeHTTP(w, r)
	if w.Code != status {
		d.t.Fatalf("%s: status %d, want %d: %s", path, w.Code, status, w.Body)
	}
	out := map[string]any{}
	if w.Body.Len() > 0 {
		if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil {
			d.t.Fatalf("%s: %v: %s", path, err, w.Body)
		}
	}
	if status >= 400 && !strings.HasPrefix(w.Header().Get("Content-Type"), "application/problem+json") {
		d.t.Errorf("%s: a refusal of type %s (RFC 9457 asks for application/problem+json)", path, w.Header().Get("Content-Type"))
	}
	return out
}

// letters are the notices of a kind that leave now.
func (d *door) letters(kind string) (out []shop.Notice) {
	d.t.Helper()
	if _, err := d.Deliver(d.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
		if n.Kind == kind {
			out = append(out, n)
		}
		return nil
	}); err != nil {
		d.t.Fatal(err)
	}
	return out
}

func (d *door) is(got map[string]any, want map[string]any) {
	d.t.Helper()
	for k, v := range want {
		if fmt.Sprint(got[k]) != fmt.Sprint(v) {
			d.t.Errorf("%s = %v, want %v", k, got[k], v)
		}
	}
}

// House scenario S-10 over the API: one of four pigs condemned; the slip's money.
func TestOrderOverTheAPI(t *testing.T) {
	d := openDoor(t)
	d.Go("2026-09-28 10:00")
	for code, at := range map[string]string{"B3": "2026-10-24 13:00", "P2": "2026-10-24 17:30"} {
		n := shop.NewClass{Code: code, Kind: "bacon", StartsAt: d.At(at), MinSeats: -1, DemoSlabs: -1, Private: code == "P2"}
		if code == "P2" {
			n.Seats = 8
		}
		if _, err := d.AddClass(d.Ctx, storetest.Odile, n); err != nil {
			t.Fatal(err)
		}
		if err := d.Publish(d.Ctx, storetest.Odile, code); err != nil {
			t.Fatal(err)
		}
	}
	d.is(d.ask("/meat/plan", `{"classes": ["B3", "P2"], "kill": "2026-10-23"}`, 422), map[string]any{"code": "kill_day"})
	d.ask("/meat/plan", `{"classes": ["B3", "P2"], "kill": "2026-10-21"}`, 204)
	kills := d.ask("/meat", "", 200)["kills"].([]any)
	full := kills[0].(map[string]any)["full"].(map[string]any)
	d.is(full, map[string]any{"slabs": 20, "bellies": 7, "animals": 4, "leaves": "671.40 lb"})

	draft := `{"kill": "2026-10-21", "species": "pork", "farm": "harl", "animals": 4, "basis": "full"}`
	first := d.ask("/orders", draft, 200, "Idempotency-Key", "k1")
	d.is(first, map[string]any{"number": 1, "state": "needed", "order_by": "2026-09-30T22:00:00Z", "delivery": "2026-10-22"})
	d.is(d.ask("/orders", draft, 200, "Idempotency-Key", "k1"), map[string]any{"number": 1})
	d.is(d.ask("/orders", strings.Replace(draft, "4", "3", 1), 422, "Idempotency-Key", "k1"), map[string]any{"code": "key_reused"})
	d.ask("/orders/1/send", `{}`, 200)
	d.is(d.ask("/orders/1/answer", `{"answer": "fewer", "animals": 4}`, 422), map[string]any{"code": "invalid"})
	d.is(d.ask("/orders/1/answer", `{"answer": "yes", "words": "they will be ready"}`, 200), map[string]any{"state": "slot held", "promised": 4, "answer": "yes, 4 pigs: they will be ready"})

	d.Go("2026-10-21 12:30")
	d.ask("/orders/1/kill", `{"animals": [{"hot": "206 lb"}, {"hot": "206 lb"}, {"hot": "206 lb"}, {"condemned": true}]}`, 200)
	d.who = storetest.Tobias
	d.Go("2026-10-22 08:10")
	side := func(n int, w string) string {
		return fmt.Sprintf(`{"animal": %d, "which": "L", "cold": "%s"}, {"animal": %d, "which": "R", "cold": "%s"}`, n, w, n, w)
	}
	sides := side(1, "99.91 lb") + "," + side(2, "99.91 lb") + "," + side(3, "99.91 lb")
	d.ask("/orders/1/delivery", `{"legend": "EST. 0000-DEMO", "sides": [`+strings.Replace(sides, "99.91", "99,91", 1)+`]}`, 422)
	d.is(d.ask("/orders/1/delivery", `{"legend": "", "sides": [`+sides+`]}`, 422), map[string]any{"code": "invalid"})
	d.is(d.ask("/orders/1/delivery", `{"legend": "EST. 0000-DEMO", "sides": [`+sides+`]}`, 200), map[string]any{"slabs": 18, "wanted": 0, "short": 0})
	d.ask("/orders/1", "", 403)
	d.ask("/orders/1/ways", `{"act": "demo"}`, 403)
	d.who = shop.Customer("visitor")
	d.ask("/orders/1/recount", "", 401)

	d.who = storetest.Odile
	d.is(d.ask("/orders/1", "", 200), map[string]any{"delivered": 3, "condemned": 1, "short": true, "to_farm": "$1483.20", "to_plant": "$280.00", "haul": "$60.00"})
	d.is(d.ask("/orders/1/ways", `{"act": "demo"}`, 200), map[string]any{"short": 0})
	if got := d.ask("/orders/1/cutlist", `{}`, 200)["slabs"].([]any); len(got) != 0 {
		t.Errorf("a cut list without a seat sold has %d slabs", len(got))
	}
	d.ask("/orders/9", "", 404)
	look := d.ask("/meat/floor", `{"from": "2026-11-16", "to": "2026-11-29", "species": ["pork"], "reason": "deer season", "look": true}`, 200)
	if len(look["touched"].([]any)) != 0 {
		t.Errorf("touched %v", look)
	}
}

// Places, a changed order, the bills, a belly's weight and a claim over the API.
func TestOrderIsChangedAndSettledOverTheAPI(t *testing.T) {
	d := openDoor(t)
	d.Go("2026-09-10 10:00")
	n := shop.NewClass{Code: "B1", Kind: "bacon", StartsAt: d.At("2026-10-10 14:00"), MinSeats: -1, DemoSlabs: -1}
	if _, err := d.AddClass(d.Ctx, storetest.Odile, n); err != nil {
		t.Fatal(err)
	}
	d.ask("/meat/plan", `{"classes": ["B1"], "kill": "2026-10-07"}`, 204)
	d.ask("/orders", `{"kill": "2026-10-07", "species": "pork", "animals": 2, "basis": "full"}`, 200)
	d.is(d.ask("/orders/1/slot", `{}`, 409), map[string]any{"code": "no_such_move"})
	d.ask("/orders/1/send", `{}`, 200)
	d.is(d.ask("/orders/1/change", `{"animals": 1, "reason": ""}`, 422), map[string]any{"code": "invalid"})
	d.is(d.ask("/orders/1/change", `{"animals": 1, "reason": "fewer seats"}`, 200), map[string]any{"animals": 1, "state": "asked"})
	d.ask("/orders/1/answer", `{"answer": "yes"}`, 200)
	day := func(want map[string]any) {
		t.Helper()
		for _, r := range d.ask("/slots?from=2026-10-06&to=2026-10-08", "", 200)["days"].([]any) {
			if r := r.(map[string]any); r["kill"] == "2026-10-07" {
				d.is(r, want)
				return
			}
		}
		t.Error("Oct 7 is not listed")
	}
	day(map[string]any{"capacity": 4, "held": 1, "used": 0, "left": 3})
	d.ask("/slots", `{"kill": "2026-10-07", "species": "pork", "capacity": 0}`, 409)
	d.ask("/slots", `{"kill": "2026-10-07", "species": "pork", "capacity": 6}`, 204)
	d.ask("/slots?from=2026-10-08&to=2026-10-06", "", 422)
	d.Go("2026-10-07 12:30")
	d.ask("/orders/1/kill", `{"animals": [{"hot": "206 lb"}]}`, 200)
	d.who = storetest.Tobias
	d.Go("2026-10-08 08:10")
	r := d.ask("/orders/1/delivery", `{"legend": "EST. 0000-DEMO", "sides": [{"animal": 1, "which": "L", "cold": "99.9 lb"}, {"animal": 1, "which": "R", "cold": "99.9 lb"}]}`, 200)
	belly := r["bellies"].([]any)[0].(map[string]any)["id"].(float64)
	d.ask(fmt.Sprintf("/bellies/%.0f/weight", belly), `{"weight": "99 lb"}`, 422)
	d.ask(fmt.Sprintf("/bellies/%.0f/weight", belly), `{"weight": "15.90 lb"}`, 204)
	if got := d.ask("/orders/1/recount", "", 200)["bellies"].([]any)[0].(map[string]any)["belly"]; got != "15.90 lb" {
		t.Errorf("the belly weighs %v", got)
	}
	claim := func(purpose string, status int) {
		t.Helper()
		d.ask("/claims", fmt.Sprintf(`{"piece": "belly", "id": %.0f, "purpose": %q}`, belly, purpose), status)
	}
	claim("dance", 422)
	claim("freezer", 204)
	claim("free", 204)
	claim("class", 422)
	d.ask("/orders/1/settle", `{"farm": "$514.40", "plant": "$70.00"}`, 403)
	d.who = storetest.Odile
	day(map[string]any{"capacity": 6, "held": 1, "used": 1, "left": 0})
	rows := d.ask("/orders?from=2026-10-01", "", 200)["orders"].([]any)
	if len(rows) != 1 {
		t.Fatalf("%d orders", len(rows))
	}
	d.is(rows[0].(map[string]any), map[string]any{"number": 1, "state": "delivered", "farm": "Harl Bank", "classes": "B1", "kill": "2026-10-07"})
	d.is(d.ask("/orders/1/settle", `{"farm": "$500.00", "plant": "$70.00"}`, 422), map[string]any{"code": "invalid"})
	d.is(d.ask("/orders/1/settle", `{"farm": "$514.40", "plant": "$70.00"}`, 200), map[string]any{"state": "settled"})
}
