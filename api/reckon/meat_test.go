package reckon_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

// run reckons a kind's own example after a change, and decodes the answer.
func run(t *testing.T, kind string, change func(in map[string]any)) (map[string]any, error) {
	t.Helper()
	raw, err := reckon.Example(kind)
	if err != nil {
		t.Fatal(err)
	}
	var in map[string]any
	if err := json.Unmarshal(raw, &in); err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(in)
	}
	if raw, err = json.Marshal(in); err != nil {
		t.Fatal(err)
	}
	out, err := reckon.Run(kind, raw)
	if err != nil {
		return nil, err
	}
	var doc map[string]any
	if err := json.Unmarshal(out, &doc); err != nil {
		t.Fatal(err)
	}
	return doc, nil
}

// pick follows a path of keys and indexes.
func pick(t *testing.T, doc any, path ...any) any {
	t.Helper()
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, ok := doc.(map[string]any)
			if !ok {
				t.Fatalf("%v: no object at %q", path, p)
			}
			doc = m[p]
		case int:
			l, ok := doc.([]any)
			if !ok || p >= len(l) {
				t.Fatalf("%v: no element %d", path, p)
			}
			doc = l[p]
		}
	}
	return doc
}

func want(t *testing.T, doc any, value any, path ...any) {
	t.Helper()
	if n, ok := value.(int); ok {
		value = float64(n)
	}
	if got := pick(t, doc, path...); got != value {
		t.Errorf("%v = %v, want %v", path, got, value)
	}
}

// Scenario S-01 of the house through the calculator.
func TestSlabsKind(t *testing.T) {
	doc, err := run(t, "slabs", nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range []struct {
		belly, net, each, left string
		count                  int
	}{
		{"16.10 lb", "13.13 lb", "4.38 lb", "0.00 lb", 3}, {"16.19 lb", "13.21 lb", "4.40 lb", "0.00 lb", 3},
		{"14.53 lb", "11.85 lb", "5.00 lb", "1.85 lb", 2}, {"14.66 lb", "11.96 lb", "5.00 lb", "1.96 lb", 2},
	} {
		want(t, doc, row.belly, "cuts", i, "belly")
		want(t, doc, row.net, "cuts", i, "net")
		want(t, doc, row.each, "cuts", i, "each")
		want(t, doc, row.left, "cuts", i, "left")
		want(t, doc, row.count, "cuts", i, "count")
	}
	want(t, doc, 10, "slabs")
	want(t, doc, 2, "short")
	for i, gain := range []int{1, 0, 0, 1, 1} {
		want(t, doc, gain, "ways", i, "gain")
	}
	want(t, doc, "202.00 lb", "step_down", "keeps")

	// A belly on the scale takes the place of the forecast: E-P8, 7.38 kg, skin-on.
	doc, err = run(t, "slabs", func(in map[string]any) {
		p := in["profile"].(map[string]any)
		p["squaring"], p["skin"] = "5.1345 %", "13.3252 %"
		in["sides"] = []any{map[string]any{"tag": "x", "belly": "7380 g", "skin": "skin-on"}}
	})
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, "15.43 lb", "cuts", 0, "net")
	want(t, doc, "5.14 lb", "cuts", 0, "each")
}

// M5 of the house, and B2 with D1, through the calculator.
func TestDemandKind(t *testing.T) {
	doc, err := run(t, "demand", func(in map[string]any) {
		in["ordered"] = 3
		in["classes"] = []any{map[string]any{"code": "B1", "unit": "belly", "day": "2026-10-10",
			"seats": map[string]any{"sold": 6, "full": 10}, "second": 1, "demo": 1}}
	})
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, 12, "full", "slabs")
	want(t, doc, 4, "full", "bellies")
	want(t, doc, 2, "full", "animals")
	for i, w := range []string{"99.91 lb", "91.92 lb", "37.97 lb", "42.76 lb", "14.79 lb", "48.36 lb"} {
		want(t, doc, w, "full", "leaves", "cuts", i, "weight")
	}
	want(t, doc, 10, "forecasts", 0, "seats") // no history: counted as full
	want(t, doc, true, "forecasts", 0, "guess")
	want(t, doc, 2, "full", "against_order", "over")

	doc, err = run(t, "demand", nil)
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, 2, "full", "animals")
}

// The demo calendar, M10 and S-12 through the calculator.
func TestSeasonKind(t *testing.T) {
	doc, err := run(t, "season", nil)
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, "2026-11-10", "orders", 0, "chosen", "kill")
	want(t, doc, "2026-10-20", "orders", 0, "chosen", "order_by")
	want(t, doc, "2026-11-11", "orders", 1, "chosen", "kill")
	want(t, doc, "2026-12-02", "chains", 0, "ready_about")
	want(t, doc, "2026-12-05", "chains", 2, "ready_about")
	want(t, doc, "Sat Nov 21: rack 44 of 36", "publish", "first_break", "text")
	want(t, doc, 2, "publish", "most_seats")
	want(t, doc, "2026-12-05", "publish", "later_day")

	// Without rules the demo shop's are used: the same answer.
	same, err := run(t, "season", func(in map[string]any) { delete(in, "rules") })
	if err != nil {
		t.Fatal(err)
	}
	a, _ := json.Marshal(doc)
	b, _ := json.Marshal(same)
	if string(a) != string(b) {
		t.Error("the example's rules are not the demo shop's")
	}
}

// What only the rules can see is refused by the field's name in the document.
func TestRuleFaults(t *testing.T) {
	for _, row := range []struct {
		kind   string
		change func(in map[string]any)
		want   string
	}{
		{"slabs", func(in map[string]any) { in["rule"].(map[string]any)["max"] = "4 lb" }, "rule.max"},
		{"slabs", func(in map[string]any) { in["sides"] = []any{map[string]any{"tag": "x"}} }, "sides[0]"},
		{"slabs", func(in map[string]any) { in["sides"] = []any{map[string]any{"tag": "x", "cold": "9000 lb"}} }, "sides[0].cold"},
		{"slabs", func(in map[string]any) { in["demos"] = 13 }, "demos"},
		{"slabs", func(in map[string]any) { in["frozen"] = []any{map[string]any{"tag": "f", "weight": "9 lb"}} }, "now"},
		{"demand", func(in map[string]any) {
			in["classes"].([]any)[0].(map[string]any)["seats"] = map[string]any{"sold": 9, "expected": 4, "full": 4}
		}, "classes[0].seats.sold"},
		{"demand", func(in map[string]any) { in["profile"].(map[string]any)["belly"] = "40 %" }, "profile.rest"},
		{"season", func(in map[string]any) {
			in["orders"].([]any)[0].(map[string]any)["classes"].([]any)[1].(map[string]any)["use"] = "soup"
		}, "orders[0].classes[1].use"},
		{"season", func(in map[string]any) { in["sittings"].([]any)[0].(map[string]any)["day"] = "1999-01-01" }, "sittings[0].day"},
		{"season", func(in map[string]any) { in["rules"].(map[string]any)["unbag_days"] = []any{"Montag"} }, "rules.unbag_days[0]"},
		{"season", func(in map[string]any) { in["rules"].(map[string]any)["max_cure"] = 3 }, "rules.max_cure"},
	} {
		_, err := run(t, row.kind, row.change)
		var p *reckon.Problem
		if !errors.As(err, &p) || p.Status != 422 || len(p.Errors) != 1 || p.Errors[0].Location != row.want {
			t.Errorf("%s: %v, want one fault at %s", row.kind, err, row.want)
		}
	}
	// No slabs from a small belly is said in words, not as a field.
	_, err := run(t, "demand", func(in map[string]any) { in["profile"].(map[string]any)["hcw"] = "40 lb" })
	if err == nil || !strings.Contains(err.Error(), "a belly of this farm gives none") {
		t.Errorf("err = %v", err)
	}
}

// Whatever is typed, the answer is a document or a problem, never a crash.
func FuzzRun(f *testing.F) {
	for _, kind := range []string{"yield", "slabs", "cutting-test", "demand", "season"} {
		raw, err := reckon.Example(kind)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(kind, raw)
	}
	f.Fuzz(func(t *testing.T, kind string, in []byte) {
		out, err := reckon.Run(kind, in)
		var p *reckon.Problem
		if err == nil && !json.Valid(out) || err != nil && !errors.As(err, &p) {
			t.Fatalf("%s, %v", out, err)
		}
	})
}
