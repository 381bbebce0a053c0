package api_test

import (
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// petraAndBo books two seats of a pig clinic, pays the $330.00 they cost (R1) and returns
// the parts of their private links: Petra pays, Bo comes along.
func petraAndBo(d *door) (payer, guest string) {
	d.t.Helper()
	d.Go("2026-10-05 09:00")
	if _, err := d.AddClass(d.Ctx, storetest.Odile, shop.NewClass{Code: "D9", Kind: "pig", StartsAt: d.At("2026-11-07 14:00"), MinSeats: -1, DemoSlabs: -1}); err != nil {
		d.t.Fatal(err)
	}
	if err := d.Publish(d.Ctx, storetest.Odile, "D9"); err != nil {
		d.t.Fatal(err)
	}
	d.who = shop.Actor{}
	b := d.ask("/classes/D9/bookings", `{"name":"Petra M.","email":"petra@post.example.test","phone":"555 0190","note":"comes by bus","people":[
		{"payer":true,"needs":{"state":"list","list":[{"allergen":"peanut","severe":true}]}},
		{"name":"Bo R.","email":"bo@post.example.test","needs":{"state":"list","list":[{"allergen":"milk"}]}}]}`, 200)
	d.who = storetest.Nadia
	d.ask("/bookings/1/payments", `{"amount":"$330.00","method":"cash"}`, 200, "Idempotency-Key", "pay")
	d.who = shop.Actor{}
	mine := d.ask("/my-booking/"+tail(b["link"]), "", 200)
	return tail(b["link"]), tail(dig(mine, "people.1.link"))
}

// What the records hold of a payer and of a guest goes to the holder of each one's own
// link: not the other's, and no answer about food, since a link may have passed through
// other hands (R14). Asking to be erased is told to the owner once, however often it is sent.
func TestOwnDataByLinkOverTheAPI(t *testing.T) {
	d := openDoor(t)
	payer, guest := petraAndBo(d)
	text := func(path string) string { return jsonOf(d.ask(path, "", 200)) }
	for _, c := range []struct {
		path        string
		says, never []string
	}{
		{"/my-booking/" + payer + "/data", []string{"Petra M.", "petra@post.example.test", "555 0190", "comes by bus", "$330.00", `"food":"answered"`}, []string{"Bo R.", "peanut", "milk"}},
		{"/guests/" + guest + "/data", []string{"Bo R.", "bo@post.example.test", `"food":"answered"`}, []string{"Petra", "$", "peanut", "milk"}},
	} {
		got := text(c.path)
		for _, w := range c.says {
			if !strings.Contains(got, w) {
				t.Errorf("%s does not say %q: %s", c.path, w, got)
			}
		}
		for _, w := range c.never {
			if strings.Contains(got, w) {
				t.Errorf("%s says %q: %s", c.path, w, got)
			}
		}
	}
	for _, path := range []string{"/my-booking/nobody/", "/guests/nobody/", "/my-booking/" + guest + "/", "/guests/" + payer + "/"} {
		d.ask(path+"data", "", 404)
		d.ask(path+"erase", "{}", 404)
	}
	for _, path := range []string{"/my-booking/" + payer, "/guests/" + guest} {
		for range 2 {
			d.send("POST", path+"/erase", "", 204)
		}
		d.ask(path, "", 200) // nothing is erased by asking
	}
	if asked := d.letters(shop.NoticeOwnerTask); len(asked) != 2 || !strings.HasPrefix(asked[0].Key, "erase/") || asked[0].Key == asked[1].Key {
		t.Errorf("two people ask, the owner is told: %+v", asked)
	}
}

// The owner reads all of a payer's data, food included, and erases it once nothing stands
// in the way; staff do neither.
func TestErasingAPayerOverTheAPI(t *testing.T) {
	d := openDoor(t)
	payer, guest := petraAndBo(d)
	for _, by := range []shop.Actor{{}, storetest.Nadia} {
		d.who = by
		status := 403
		if !by.IsStaff() {
			status = 401
		}
		d.ask("/payers/1/data", "", status)
		d.ask("/payers/1/erase", "", status)
		d.ask("/payers/1/erase", `{"why":"by letter"}`, status)
	}
	d.who = storetest.Odile
	d.ask("/payers/77/data", "", 404)
	d.ask("/payers/77/erase", "", 404)
	d.ask("/payers/77/erase", `{"why":"by letter"}`, 404)
	if got := jsonOf(d.ask("/payers/1/data", "", 200)); !strings.Contains(got, "peanut") || strings.Contains(got, "milk") || strings.Contains(got, "Bo R.") {
		t.Errorf("the payer's data in the owner's hands: %s", got)
	}
	d.is(d.ask("/payers/1/erase", "", 200), map[string]any{"in_the_way": []any{"There is a seat in a class ahead: let it go first."}})
	d.is(d.ask("/payers/1/erase", `{"why":"by letter"}`, 409), map[string]any{"code": "not_settled"})
	d.is(d.ask("/payers/1/erase", `{"why":" "}`, 422), map[string]any{"code": "invalid", "errors": []any{map[string]any{"field": "why", "detail": "Write how they asked, such as: by letter of Nov 3."}}})

	d.Go("2026-11-08 09:00") // the class is over
	d.is(d.ask("/payers/1/erase", "", 200), map[string]any{"in_the_way": []any{}})
	d.send("POST", "/payers/1/erase", `{"why":"by letter of Nov 3"}`, 204)
	got := jsonOf(d.ask("/payers/1/data", "", 200))
	for _, gone := range []string{"Petra", "petra@", "555 0190", "bus", "peanut"} {
		if strings.Contains(got, gone) {
			t.Errorf("erased, and %q still stands: %s", gone, got)
		}
	}
	if !strings.Contains(got, "$330.00") {
		t.Errorf("the books lost what was paid: %s", got)
	}
	d.ask("/my-booking/"+payer, "", 404)                                    // the old link opens nothing
	d.is(d.ask("/guests/"+guest, "", 200), map[string]any{"name": "Bo R."}) // and Bo is himself
	d.is(d.ask("/people/2/data", "", 200), map[string]any{"name": "Bo R."})
	d.is(d.ask("/people/2/erase", "", 200), map[string]any{"in_the_way": []any{}})
	d.ask("/people/77/erase", "", 404)
}
