package api_test

import (
	"testing"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// Class money, the go-ahead sheet, outlets, cutting tests and a farm's own figures through
// the JSON door, for the owner alone. The usual pig is W3's of the house: $584.40 against
// $628.90, the belly $4.37 a pound; two pigs of a class nobody booked leave 12 slabs.
func TestOwnersFiguresOverTheAPI(t *testing.T) {
	d := openDoor(t)
	d.Go("2026-09-14 10:00")
	d.ask("/classes", `{"code":"B5","kind":"bacon","starts_at":"2026-11-07T20:00:00Z"}`, 200)
	d.ask("/classes/B5/publish", "{}", 200)
	d.ask("/meat/plan", `{"classes":["B5"],"kill":"2026-11-04"}`, 204)

	m := d.ask("/classes/B5/money", "", 200)
	a := m["animal"].(map[string]any)
	d.is(a, map[string]any{"cost": "$584.40", "value": "$628.90", "meat": "$494.40", "farm": "Harl Bank"})
	d.is(a["cuts"].([]any)[0].(map[string]any), map[string]any{"cut": "belly", "costs_a_pound": "$4.37", "list": "$4.70"})
	g := d.ask("/classes/B5/go-sheet", "", 200)
	d.is(g, map[string]any{"sold": 0.0, "minimum": 6.0, "missing": 6.0, "animals": 2.0, "slabs": 12.0, "slabs_to_house_bacon": 12.0, "decide_by": "2026-10-14T22:00:00Z"})
	d.is(g["if_it_does_not_fill"].([]any)[0].(map[string]any), map[string]any{"home": true, "text": "bellies have another home: 12 slabs to house bacon"})
	d.ask("/classes/B6/go-sheet", "", 404)

	d.is(d.ask("/outlets", `{"outlets":[{"species":"pork","cut":"ham","way":"counter","week":"61 lb","price":"$2.70"}]}`, 200), map[string]any{"changed": 1.0})
	d.is(d.ask("/outlets", "", 200)["outlets"].([]any)[0].(map[string]any), map[string]any{"cut": "ham", "way": "counter", "week": "61.00 lb", "price": "$2.70"})
	d.ask("/outlets", `{"outlets":[{"species":"pork","cut":"ham","way":"barter","week":"1 lb","price":"$1"}]}`, 422)

	// E-C4, a handout page [read]: net 28.40, 1.78 a pound, factor 1.3654.
	test := `{"name":"rib","bought":"28 lb","price":"$1.30","usable":"16 lb","parts":[{"name":"fat","weight":"3 lb","price":"$0.10"},{"name":"bones","weight":"4 lb","price":"$0.30"},{"name":"trim","weight":"5 lb","price":"$1.30"}]}`
	c := d.ask("/cutting-tests", test, 200, "Idempotency-Key", "c1")
	d.is(c, map[string]any{"net": "$28.40", "per_pound": "$1.78", "factor": 1.3654, "loss_in_cutting": "0.00 lb"})
	d.ask("/cutting-tests", test, 200, "Idempotency-Key", "c1")
	if n := len(d.ask("/cutting-tests", "", 200)["tests"].([]any)); n != 1 {
		t.Errorf("%d tests kept", n)
	}
	d.ask("/cutting-tests", `{"name":"rib","bought":"8 lb","price":"$1.30","usable":"16 lb"}`, 422)
	d.ask("/cutting-tests", `{"name":"rib","bought":"28 lb","price":"$1.30","usable":"16 lb","farm":"mars/pork"}`, 422)

	y := d.ask("/farms/harl/yields", "", 200)["yields"].([]any)[0].(map[string]any)
	d.is(y, map[string]any{"species": "pork", "hung": 0.0})
	d.is(y["figures"].([]any)[0].(map[string]any), map[string]any{"figure": "hanging weight", "prior": "206.00 lb", "samples": 0.0})
	d.ask("/farms/harl/yields", `{"species":"pork"}`, 409)
	o, err := d.DraftOrder(d.Ctx, storetest.Odile, store.NewOrder{Kill: unit.DayOf(2026, 11, 4), Farm: "harl", Species: "pork", Animals: 2, Basis: "full"})
	if err != nil {
		t.Fatal(err)
	}
	d.is(d.ask("/classes/B5/go-sheet", "", 200), map[string]any{"animals": float64(o.Animals), "animals_without_it": 0.0})
	d.who = storetest.Tobias
	for _, path := range []string{"/classes/B5/money", "/classes/B5/go-sheet", "/outlets", "/cutting-tests", "/farms/harl/yields"} {
		d.ask(path, "", 403)
	}
}
