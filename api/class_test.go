package api_test

import (
	"fmt"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// A class from sketch to called off, a present sold and found, through the JSON door.
func TestClassesAndVouchersOverTheAPI(t *testing.T) {
	d := openDoor(t)
	d.Go("2026-09-14 10:00")
	sketch := `{"code":"B5","kind":"bacon","starts_at":"2026-11-07T20:00:00Z","seats":12}`
	d.is(d.ask("/classes", sketch, 200), map[string]any{"code": "B5", "state": "sketched", "seats": 12.0, "left": 12.0})
	d.ask("/classes", sketch, 422)
	d.is(d.ask("/classes/B5/publish", "{}", 200), map[string]any{"state": "open"})

	v := d.ask("/vouchers", `{"kind":"seat","class_kind":"bacon","buyer":"Amos P.","paid":"$95.00","method":"cash"}`, 200, "Idempotency-Key", "v1")
	d.is(v, map[string]any{"kind": "seat", "class_name": "Bacon-curing class", "used": false})
	code, _ := v["code"].(string)
	if again := d.ask("/vouchers", `{"kind":"seat","class_kind":"bacon","buyer":"Amos P.","paid":"$95.00","method":"cash"}`, 200, "Idempotency-Key", "v1"); again["code"] != code {
		t.Errorf("pressed twice: %v and %v", code, again["code"])
	}
	d.is(d.ask("/vouchers/find", fmt.Sprintf(`{"code":%q}`, code), 200), map[string]any{"code": code, "used": false})
	d.ask("/vouchers/find", `{"code":"nothing"}`, 404)

	b := d.ask("/classes/B5/bookings", `{"name":"Cordelia F.","email":"cordelia@post.example.test","people":[{"payer":true},{"name":"Anna"}]}`, 200, "Idempotency-Key", "one")
	d.ask("/bookings/1/payments", `{"amount":"`+b["total"].(string)+`","method":"card"}`, 200, "Idempotency-Key", "pay")
	d.is(d.ask("/classes/B5/goahead", "{}", 200), map[string]any{"state": "going ahead"})
	d.ask("/classes/B5/move", `{"starts_at":"2026-11-08T20:00:00Z","reason":""}`, 422)
	d.is(d.ask("/classes/B5/move", `{"starts_at":"2026-11-08T20:00:00Z","reason":"The road is closed on Saturday."}`, 200), map[string]any{"starts_at": "2026-11-08T20:00:00Z"})

	plan := d.ask("/buying?count=full", "", 200)
	if dig(plan, "species.0.orders.0.animals") != 3.0 || dig(plan, "species.0.proven") != true || dig(plan, "species.0.orders.0.kill") != "2026-11-04" {
		t.Errorf("the plan: %v", plan)
	}
	d.ask("/buying", `{"count":"full","mark":"of yesterday","ask":true}`, 409, "Idempotency-Key", "buy")
	d.is(d.ask("/buying", `{"count":"full","mark":"`+plan["mark"].(string)+`"}`, 200, "Idempotency-Key", "buy 2"), map[string]any{"orders": []any{1.0}})

	kitchen := shop.Actor{Kind: "staff", ID: 4, Name: "Bram", Role: shop.Kitchen}
	d.who = kitchen
	d.ask("/classes/B5/calloff", `{"reason":"No meat."}`, 403)
	d.ask("/seats/1/came", "{}", 403)
	d.who = storetest.Odile
	d.Go("2026-11-08 13:50")
	d.ask("/seats/1/came", "{}", 204)
	d.ask("/seats/2/missed", "{}", 409)
	d.Go("2026-11-08 14:30")
	d.ask("/seats/2/missed", "{}", 204)
	d.ask("/people/99/signed", "{}", 404)
	d.ask("/classes/B5/taught", "{}", 200)
	d.ask("/classes/B5/calloff", `{"reason":"Too late for that."}`, 409)
	d.ask("/classes/B9/calloff", `{"reason":"No such class."}`, 404)
}
