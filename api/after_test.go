package api_test

import (
	"path/filepath"
	"strings"
	"testing"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A bacon guest's way after the class through the JSON door: the two questions once the
// packet is fetched, a note for next time, and last time's slab with the classes it could
// be had in again. The cure of 44 g of salt on 2000 g is 2.2 % (R24).
func TestAfterTheBaconOverTheAPI(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	d := openDoorOn(t, "sqlite:"+path)
	for code, at := range map[string]string{"B5": "2026-11-07 14:00", "B6": "2026-11-14 13:00", "B8": "2026-11-21 14:00"} {
		if _, err := d.AddClass(d.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: "bacon", StartsAt: d.At(at), Seats: 2, MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		if err := d.Publish(d.Ctx, storetest.Odile, code); err != nil {
			t.Fatal(err)
		}
	}
	d.who = shop.Actor{}
	d.Go("2026-10-21 10:00")
	b := d.ask("/classes/B5/bookings", `{"name":"Imke T.","email":"imke@post.example.test","people":[{"payer":true,"picks":["PB"]}]}`, 200)
	d.who = storetest.Nadia
	d.ask("/bookings/1/payments", `{"amount":"$105.00","method":"card"}`, 200, "Idempotency-Key", "pay")
	// B8's guest cannot be beside mustard: the jar that carries it is away from that table (R13).
	d.who = shop.Actor{}
	d.ask("/classes/B8/bookings", `{"name":"Oona S.","email":"oona@post.example.test","people":[{"payer":true,"picks":["PB"],"needs":{"state":"list","list":[{"allergen":"mustard","severe":true}]}}]}`, 200)
	d.who = storetest.Nadia
	d.ask("/bookings/2/payments", `{"amount":"$105.00","method":"card"}`, 200, "Idempotency-Key", "pay2")
	d.who = shop.Actor{}

	view, err := d.BookingByNumber(d.Ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	guest, slabs := "/guests/"+tail(dig(d.ask("/my-booking/"+tail(b["link"]), "", 200), "people.0.link")), "/my-slab/"+view.SlabSecret
	d.is(d.ask(guest+"/review", "", 200), map[string]any{"given": false, "class_mark": ""})
	d.is(d.send("PUT", guest+"/review", `{"class_mark":"fine","bacon_mark":"fine"}`, 409), map[string]any{"code": "not_yet"})
	d.ask(slabs+"/again", "", 404) // there was none yet

	db, err := gorm.Open(sqlite.Open(path+"?_busy_timeout=5000"), &gorm.Config{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if c, err := db.DB(); err == nil {
			c.Close()
		}
	})
	sl := shop.Slab{Tag: "B5-01", ClassID: view.Class.ID, Number: 1, SeatID: view.People[0].SeatID, Slot: 1, State: shop.Collected,
		Green: 440 * unit.Pound / 100, Finished: 374 * unit.Pound / 100, PackedOn: unit.DayOf(2026, 11, 21)}
	if err := db.Create(&sl).Error; err != nil {
		t.Fatal(err)
	}
	if err := db.Create(&shop.CureTicket{SlabID: sl.ID, Green: 2000 * unit.Gram, Basis: 2000 * unit.Gram, Salt: 44 * unit.Gram}).Error; err != nil {
		t.Fatal(err)
	}
	d.Go("2026-11-12 10:00")

	bad := d.send("PUT", guest+"/review", `{"class_mark":"grand","class_words":"`+strings.Repeat("x", 301)+`","bacon_mark":"","bacon_words":""}`, 422)
	if fields, _ := bad["errors"].([]any); len(fields) != 3 {
		t.Errorf("three wrong answers: %v", bad)
	}
	d.send("PUT", guest+"/review", `{"class_mark":"fine","bacon_mark":"fine"}`, 200)
	d.send("PUT", guest+"/review", `{"class_mark":"very good","bacon_mark":"not good","bacon_words":"too salty"}`, 200)
	d.is(d.ask(guest+"/review", "", 200), map[string]any{"given": true, "class_mark": "very good", "bacon_mark": "not good", "bacon_words": "too salty"})
	if said, err := d.Reviews(d.Ctx, view.Class.Day, view.Class.Day); err != nil || len(said) != 1 || said[0].BaconWords != "too salty" {
		t.Errorf("the owner reads %+v, %v: want the second answer alone", said, err)
	}
	d.ask("/guests/nobody/review", "", 404)
	d.send("PUT", "/guests/nobody/review", `{"class_mark":"fine","bacon_mark":"fine"}`, 404)

	d.ask(slabs+"/note", `{"tag":"B6-01","note":"mine"}`, 404)
	d.ask("/my-slab/nobody/note", `{"tag":"B5-01","note":"mine"}`, 404)
	d.is(d.ask(slabs+"/note", `{"tag":"B5-01","note":"`+strings.Repeat("x", 201)+`"}`, 422), map[string]any{"code": "invalid"})
	d.ask(slabs+"/note", `{"tag":"B5-01","note":"one\ntwo"}`, 422)
	if got := d.ask(slabs+"/note", `{"tag":"B5-01","note":"more pepper"}`, 200); dig(got, "slabs.0.note") != "more pepper" {
		t.Errorf("the note: %v", got)
	}
	last := d.ask(slabs+"/again", "", 200)
	d.is(last, map[string]any{"ref": "K01", "day": "2026-11-07"})
	d.is(dig(last, "slabs.0").(map[string]any), map[string]any{"tag": "B5-01", "jar": "PB", "spice": "pepper & bay", "salt": "2.2 %", "started_with": "4.40 lb", "note": "more pepper"})
	if got := jsonOf(dig(last, "classes")); !strings.Contains(got, `"code":"B6"`) || !strings.Contains(got, `"code":"B8"`) || strings.Contains(got, `"code":"B5"`) {
		t.Errorf("classes it could be had in again: %s", got)
	}
	if away := jsonOf(dig(last, "classes.1.away")); away != `["MH"]` || jsonOf(dig(last, "classes.0.away")) != `[]` {
		t.Errorf("away from B8's table: %s", away)
	}
	if strings.Contains(jsonOf(last), "Imke") {
		t.Errorf("whoever fetches reads a name there: %v", last)
	}
	d.ask("/my-slab/nobody/again", "", 404)
}
