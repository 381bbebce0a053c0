package api

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A slab's way through the JSON door: the same steps and the same refusals as at the
// bench, and a press sent twice counts once.
func TestStepsByJSON(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	h := storetest.Open(t, "sqlite:"+path)
	h.Go("2026-10-24 13:00")
	db, err := gorm.Open(sqlite.Open(path+"?_busy_timeout=5000"), &gorm.Config{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if d, err := db.DB(); err == nil {
			d.Close()
		}
	}()
	kd := shop.KillDay{PlantID: 1, Day: unit.DayOf(2026, 10, 21), DeliveryDay: unit.DayOf(2026, 10, 22)}
	o := shop.Order{Number: 7, FarmID: 1, Species: "pork", State: shop.Delivered, TokenHash: "o7"}
	d := shop.Delivery{Day: kd.Day + 1, Legend: "EST. 0000-DEMO", Lot: "HB-1022"}
	a := shop.Animal{Number: 1, Tag: "HB-630", Species: "pork", KilledOn: kd.Day}
	side, belly := shop.Side{Which: "L"}, shop.Belly{Weight: 16 * unit.Pound}
	at := h.At("2026-10-24 13:00")
	c := shop.Class{Code: "B3", KindID: 1, Title: "Cure your own bacon", StartsAt: at, EndsAt: at + 9000, Day: at.Day(h.Loc), Seats: 10, State: shop.GoingAhead}
	for _, make := range []func() any{
		func() any { return &kd },
		func() any { o.KillDayID = kd.ID; return &o },
		func() any { d.OrderID = o.ID; return &d },
		func() any { a.OrderID, a.DeliveryID = o.ID, d.ID; return &a },
		func() any { side.AnimalID = a.ID; return &side },
		func() any { belly.SideID = side.ID; return &belly },
		func() any { return &c },
		func() any {
			return &shop.Slab{Tag: "B3-01", ClassID: c.ID, Number: 1, Demo: true, BellyID: belly.ID, Piece: 1, Planned: 440 * unit.Pound / 100, State: shop.Wanted}
		},
	} {
		if err := db.Create(make()).Error; err != nil {
			t.Fatal(err)
		}
	}
	e := echo.New()
	by := storetest.Tobias
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if by.Name != "" {
				SetActor(c, by)
			}
			return next(c)
		}
	})
	New(e, h.Store, nil)
	call := func(method, path, key, body string) (int, map[string]any) {
		r := httptest.NewRequest(method, "/api/v1"+path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Idempotency-Key", key)
		rec := httptest.NewRecorder()
		e.ServeHTTP(rec, r)
		var out map[string]any
		_ = json.Unmarshal(rec.Body.Bytes(), &out)
		return rec.Code, out
	}
	want := func(code int, state, says, method, path, key, body string) {
		t.Helper()
		got, out := call(method, path, key, body)
		if got != code {
			t.Fatalf("%s %s %s: %d %v, want %d", method, path, body, got, out, code)
		}
		if state != "" && out["state"] != state {
			t.Errorf("%s %s: state %v, want %s", path, body, out["state"], state)
		}
		if says != "" {
			b, _ := json.Marshal(out)
			if !strings.Contains(string(b), says) {
				t.Errorf("%s %s says %s, want %q", path, body, b, says)
			}
		}
	}
	step := "/slabs/B3-01/steps"
	want(422, "", "whether the skin is on", "POST", step, "a", `{"step":"cut","weight":"4.40 lb"}`)
	want(200, "cut", "", "POST", step, "b", `{"step":"cut","weight":"4.40 lb","skin_on":false}`)
	want(200, "cut", "", "POST", step, "b", `{"step":"cut","weight":"4.40 lb","skin_on":false}`)
	want(409, "", "already", "POST", step, "b2", `{"step":"cut","weight":"4.40 lb","skin_on":false,"done_at":"2026-10-24T17:00:00Z"}`)
	want(200, "", `"kits":1`, "POST", "/classes/B3/kits", "", `{}`)
	want(200, "", `"curing_salt":"5 g"`, "GET", "/classes/B3/kits", "", "")
	want(409, "", "no passing weigh-out", "POST", step, "c", `{"step":"seal"}`)
	want(204, "", "", "POST", "/scales/cure%20scale/checks", "", `{"shown":"5.0 g"}`)
	want(409, "", "weigh_out", "POST", step, "d", `{"step":"weigh","salt":"44","sugar":"22","curing_salt":"5.6","scale":"cure scale"}`)
	want(422, "", "no decimal", "POST", step, "d1", `{"step":"weigh","salt":"44","sugar":"22","curing_salt":"5","scale":"cure scale"}`)
	want(200, "kitted", `"weighed":true`, "POST", step, "e", `{"step":"weigh","salt":"44","sugar":"22","curing_salt":"5.0","scale":"cure scale"}`)
	want(200, "", `"checked":true`, "GET", "/today", "", "")
	want(422, "", "same slab", "POST", "/slabs/B3-01/swap", "", `{"with":"B3-01"}`)
	want(200, "in cure", "2026-11-05", "POST", step, "f", `{"step":"seal"}`)
	want(200, "", `"tag":"B3-01"`, "GET", "/rack", "", "")
	want(200, "", `"packets":[]`, "GET", "/shelf", "", "")
	want(200, "", `"dates":[]`, "GET", "/dates", "", "")
	want(403, "", "may not", "POST", "/dates/tell", "", `{"bookings":[1]}`)
	want(422, "", "code", "POST", "/lots", "", `{"ingredient":"salt","code":""}`)
	want(204, "", "", "POST", "/lots", "", `{"ingredient":"maple sugar","code":"MS-26-11"}`)
	by = storetest.Odile
	want(422, "", "bookings", "POST", "/dates/tell", "", `{}`)
	want(204, "", "", "PUT", "/loads/2026-11-13/house-hooks", "", `{"hooks":2}`)
	want(422, "", "", "PUT", "/loads/tomorrow/house-hooks", "", `{"hooks":2}`)
	want(404, "", "could not be found", "POST", "/bookings/77/final-count", "", `{"heads":9}`)
	by = storetest.Tobias
	h.Go("2026-10-25 08:00")
	want(200, "", `"holds_opened":[1]`, "POST", "/rooms/cure/readings", "", `{"readings":[{"at":"2026-10-25T11:00:00Z","temp":"45.2 F"}]}`)
	want(200, "", `"holds_opened":[]`, "POST", "/rooms/cure/readings", "", `{"readings":[{"at":"2026-10-25T11:00:00Z","temp":"45.2 F"}]}`)
	want(409, "", "never overwritten", "POST", "/rooms/cure/readings", "", `{"readings":[{"at":"2026-10-25T11:00:00Z","temp":"38 F"}]}`)
	want(200, "on hold", "45.2", "GET", "/slabs/b3-01", "", "")
	want(200, "", "45.2", "GET", "/holds", "", "")
	want(204, "", "", "POST", "/holds/1/decisions", "", `{"decision":"release","why":"a spike of the probe; bags at 38 F"}`)
	want(200, "", "EST. 0000-DEMO", "GET", "/slabs/B3-01/trace", "", "")
	want(404, "", "could not be found", "GET", "/slabs/B9-01", "", "")
	h.Go("2026-11-05 08:00")
	want(200, "", `"tag":"B3-01"`, "POST", "/loads/2026-11-06", "", "")
	by = shop.Actor{}
	want(401, "", "sign in", "POST", step, "g", `{"step":"rinse"}`)
	by = shop.Actor{Kind: "staff", Name: "Jun", Role: shop.Kitchen}
	want(http.StatusForbidden, "", "may not", "POST", step, "g", `{"step":"rinse"}`)
}
