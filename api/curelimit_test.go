package api_test

import (
	"testing"

	"flitchbook/api/store/storetest"
)

// Limits on nitrite through the JSON door, for the owner alone; the source and how it was
// read go with every figure.
func TestLimitsOverTheAPI(t *testing.T) {
	d := openDoor(t)
	limit := func(code string) map[string]any {
		t.Helper()
		for _, l := range d.ask("/limits", "", 200)["limits"].([]any) {
			if m := l.(map[string]any); m["code"] == code {
				return m
			}
		}
		t.Fatalf("no limit %s", code)
		return nil
	}
	d.is(limit("us-bacon-dry"), map[string]any{"chosen": true, "most": "200 ppm", "least": "120 ppm", "nitrate": "0 ppm", "source": "9 CFR 424.22(b)(3); floor: FSIS Directive 7620.3 p. 12, keep-refrigerated cured products",
		"read_how": "read where another page quotes it", "approval": "approved by Odile on Mon Jan 5, with the county inspector: read side by side with the official text and the written plan"})
	d.is(limit("eu-added-ion"), map[string]any{"chosen": false, "counted": "nitrite ion", "most": "80 ppm", "read_how": "from memory",
		"caution": "NOT CHECKED: this limit is from memory; the owner has not approved it yet"})
	d.ask("/limits/eu-dry-residual/choice", `{"why":"sold there"}`, 422)
	d.ask("/limits/moon/choice", `{"why":"sold there"}`, 422)
	d.ask("/limits/eu-added-ion/choice", `{"why":""}`, 422)
	d.is(d.ask("/limits/eu-added-ion/choice", `{"why":"sold there"}`, 200)["limits"].([]any)[0].(map[string]any), map[string]any{"code": "eu-added-ion", "chosen": true, "chosen_by": "Odile"})
	d.ask("/limits/eu-added-ion/choice", `{"why":"again"}`, 409)
	d.ask("/limits/eu-added-ion/approval", `{"with":"","why":"the annex"}`, 422)
	d.ask("/limits/eu-added-ion/approval", `{"with":"the office","why":"the annex, read"}`, 200)
	if l := limit("eu-added-ion"); l["caution"] != nil {
		t.Errorf("approved and still marked: %v", l)
	}
	d.who = storetest.Tobias
	d.ask("/limits", "", 403)
	d.ask("/limits/us-bacon-dry/choice", `{"why":"back"}`, 403)
	d.ask("/limits/us-bacon-dry/approval", `{"with":"x","why":"y"}`, 403)
}
