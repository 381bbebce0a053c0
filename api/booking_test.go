package api_test

import (
	"encoding/json"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// dig reads out.people.0.link and the like.
func dig(v any, path string) any {
	for _, p := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[p]
		case []any:
			if len(x) <= int(p[0]-'0') {
				return nil
			}
			v = x[p[0]-'0']
		default:
			return nil
		}
	}
	return v
}

func tail(link any) string {
	s, _ := link.(string)
	return s[strings.LastIndex(s, "/")+1:]
}

// A party's way through the JSON door: book, answer for a guest, move, let one seat go;
// a press sent twice counts once, refusals name every field.
func TestBookingOverTheAPI(t *testing.T) {
	d := openDoor(t)
	for code, at := range map[string]string{"B5": "2026-11-07 14:00", "B6": "2026-11-14 13:00"} {
		if _, err := d.AddClass(d.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: "bacon", StartsAt: d.At(at), Seats: 3, MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		if err := d.Publish(d.Ctx, storetest.Odile, code); err != nil {
			t.Fatal(err)
		}
	}
	d.who = shop.Actor{}
	d.Go("2026-10-20 12:00")
	got := d.ask("/classes/B5", "", 200)
	d.is(got, map[string]any{"code": "B5", "left": 3, "price": "$105.00", "ready_about": "2026-11-21", "min_age": 10, "watch_age": 6})
	if dig(got, "jars.0.code") == nil || dig(got, "others.0.code") != "B6" {
		t.Errorf("jars and other dates: %v", got)
	}
	d.ask("/classes/ZZ", "", 404)

	bad := d.ask("/classes/B5/bookings", `{"name":"Eve\r\nBcc: x","email":"a@b","people":[{"age":3,"payer":true},{"needs":{"state":"list","list":[{"allergen":"moonlight"}]}}]}`, 422)
	if fields, _ := bad["errors"].([]any); len(fields) != 4 {
		t.Errorf("four wrong answers: %v", bad)
	}
	ask := `{"name":"Cordelia F.","email":"cordelia@post.example.test","people":[{"payer":true,"picks":["PB"]},{"name":"Anna"},{"needs":{"state":"none"}}]}`
	b := d.ask("/classes/B5/bookings", ask, 200, "Idempotency-Key", "one")
	again := d.ask("/classes/B5/bookings", ask, 200, "Idempotency-Key", "one")
	if b["link"] != again["link"] || b["total"] != "$315.00" || b["state"] != "held" {
		t.Fatalf("%v and the same press again %v", b, again)
	}
	full := d.ask("/classes/B5/bookings", ask, 409)
	if full["code"] != "class_held" {
		t.Errorf("while all are held: %v", full)
	}
	w := d.ask("/classes/B5/waiting", `{"name":"Havel X.","email":"havel@post.example.test","people":[{}]}`, 200)
	d.is(w, map[string]any{"state": "waiting"})

	d.who = storetest.Tobias
	d.ask("/bookings/1/payments", `{"amount":"$315.00","method":"card"}`, 200, "Idempotency-Key", "pay")
	d.who = shop.Actor{}
	my := "/my-booking/" + tail(b["link"])
	mine := d.ask(my, "", 200)
	if dig(mine, "people.2.told") != true || dig(mine, "people.1.told") != false || dig(mine, "people.0.picks.0.jar") != "PB" {
		t.Errorf("my booking: %v", mine)
	}
	guest := "/guests/" + tail(dig(mine, "people.1.link"))
	put := func(body string, status int) map[string]any {
		t.Helper()
		return d.send("PUT", guest, body, status)
	}
	put(`{"name":"Anna","needs":{"state":"list","list":[{"allergen":"sesame","severe":true}]},"picks":[{"slab":1,"jar":"SC"}]}`, 422)
	g := put(`{"name":"Anna","needs":{"state":"list","list":[{"allergen":"sesame","severe":true}]},"picks":[{"slab":1,"jar":"MC"}]}`, 200)
	if g["told"] != true || dig(g, "picks.0.jar") != "MC" {
		t.Errorf("the guest: %v", g)
	}
	if text, _ := json.Marshal(d.ask(guest, "", 200)); strings.Contains(string(text), "severe") || strings.Contains(string(text), "$") {
		t.Errorf("a guest's link shows the answer or a price: %s", text)
	}
	if text, _ := json.Marshal(d.ask(my, "", 200)); strings.Contains(string(text), "severe") {
		t.Errorf("the payer reads what Anna answered: %s", text)
	}

	d.Go("2026-10-29 12:00") // nine days before
	q := d.ask(my+"/leave", "", 200)
	if dig(q, "seats.1.money") != "$52.50" || dig(q, "seats.1.credit") != "$105.00" {
		t.Errorf("the quote: %v", q)
	}
	one := `{"seats":[{"seat":` + strings.TrimSuffix(jsonOf(dig(q, "seats.1.seat")), ".0") + `,"choice":"money"}]}`
	left := d.ask(my+"/leave", one, 200, "Idempotency-Key", "leave")
	d.is(left, map[string]any{"paid": "$262.50", "total": "$210.00", "owes": "$0.00", "state": "firm"})
	left = d.ask(my+"/leave", one, 200, "Idempotency-Key", "leave")
	d.is(left, map[string]any{"paid": "$262.50"})
	d.ask(my+"/leave", one, 409)
	d.ask(guest, "", 404) // Anna has left
	moved := d.ask(my+"/move", `{"to":"B6"}`, 200, "Idempotency-Key", "move")
	d.is(moved, map[string]any{"class": "B6", "total": "$210.00", "owes": "$0.00"})
	d.is(d.ask("/my-booking/"+tail(w["link"]), "", 200), map[string]any{"state": "offered", "ahead": 0})
	d.is(d.ask("/my-booking/"+tail(w["link"])+"/offer", "{}", 200), map[string]any{"state": "held"})
	d.ask(my+"/answer", `{"choice":"money"}`, 409) // nothing to choose
}

func jsonOf(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}
