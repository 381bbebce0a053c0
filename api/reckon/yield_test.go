package reckon_test

import (
	"errors"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

type obj = map[string]any

// refusedAt runs a kind's example after a change and wants one fault at a field.
func refusedAt(t *testing.T, kind, field string, change func(in obj)) string {
	t.Helper()
	_, err := run(t, kind, change)
	var p *reckon.Problem
	if !errors.As(err, &p) || p.Status != 422 || len(p.Errors) != 1 || p.Errors[0].Location != field {
		t.Errorf("%s: %v, want one fault at %s", kind, err, field)
		return ""
	}
	return p.Errors[0].Message
}

// Rows E-C1 to E-C3 (textbook exercise [read], answers computed), E-C5 as the example,
// E-C6.
func TestCuttingTestKind(t *testing.T) {
	rib := func(in obj) {
		clear(in)
		in["bought"], in["price"], in["usable"] = "620 oz", "$3.19", "22 lb" // 38 lb 12 oz
		in["parts"] = []any{obj{"name": "fat", "weight": "6.5 lb"}, obj{"name": "bones", "weight": "4.25 lb", "price": "$0.32"},
			obj{"name": "short ribs", "weight": "3.25 lb", "price": "$1.49"}, obj{"name": "chopped", "weight": "2.5 lb", "price": "$1.59"}}
	}
	doc, err := run(t, "cutting-test", rib)
	if err != nil {
		t.Fatal(err)
	}
	for field, value := range (obj{"cost": "$123.61", "secondary": "$10.18", "net": "$113.44", "loss_in_cutting": "0.25 lb", "yield": "56.8 %",
		"per_pound": "$5.16", "per_ounce": "$0.3223", "factor": 1.6163}) {
		want(t, doc, value, field)
	}
	if doc, err = run(t, "cutting-test", func(in obj) {
		rib(in)
		in["cooked"], in["carving"], in["portion"], in["new_price"] = "20.25 lb", "1.25 lb", "10 oz", "$3.49"
	}); err != nil {
		t.Fatal(err)
	}
	for field, value := range (obj{"saleable": "19.00 lb", "yield": "49 %", "per_pound": "$5.97", "portion_cost": "$3.73", "factor": 1.8716,
		"portion_factor": 1.1697, "cooking_loss": "1.75 lb", "cooking_share": "8 %"}) {
		want(t, doc, value, field)
	}
	want(t, doc, "$6.53", "at_new_price", "per_pound")
	want(t, doc, "$4.08", "at_new_price", "portion")

	if doc, err = run(t, "cutting-test", nil); err != nil {
		t.Fatal(err)
	}
	want(t, doc, "$233.78", "net")
	want(t, doc, 1.522, "factor")
	want(t, doc, "23.00 lb", "to_buy") // 24 × 8 oz = 12 lb, at 48 usable of 92 bought

	if got := refusedAt(t, "cutting-test", "usable", func(in obj) { in["bought"] = "90 lb" }); got != "weighed more than bought: 91.00 lb of 90.00 lb" {
		t.Errorf("E-C6: %q", got)
	}
	refusedAt(t, "cutting-test", "portion", func(in obj) { delete(in, "portion") })
	refusedAt(t, "cutting-test", "new_price", func(in obj) { in["price"] = "$0.00" })
}

// Published lists by name (E-P7, TAS 2017 [read]), a farm's own animals, E-V5, and a
// table to take over (E-V1).
func TestYieldKindExtended(t *testing.T) {
	published := func(key string) func(in obj) {
		return func(in obj) { delete(in, "profile"); in["published"] = key }
	}
	doc, err := run(t, "yield", func(in obj) {
		published("pork-tas-average")(in)
		in["sides"] = []any{"90.32 lb"}
	})
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, "23.10 lb", "leaves", "cuts", 0, "weight")
	want(t, doc, "read", "published", "tag")
	want(t, doc, "Translational Animal Science 1(1):77–89, table 2", "published", "source")
	want(t, doc, "cold side weight", "published", "shares_of")

	if got := refusedAt(t, "yield", "published", published("pork")); !strings.Contains(got, "pork-nppc, pork-missouri") {
		t.Errorf("unknown name: %q", got)
	}
	refusedAt(t, "yield", "published", published("pork-usda-2019"))
	refusedAt(t, "yield", "profile", func(in obj) { in["published"] = "pork-nppc" })

	doc, err = run(t, "yield", func(in obj) {
		in["weighed"] = []any{obj{"hot": "206 lb", "sides": []any{"100.6 lb", "101.2 lb"}, "bellies": []any{"16.1 lb"}}, obj{"hot": "188 lb", "sides": []any{"90.8 lb", "91.6 lb"}}}
	})
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, "206.00 lb", "learned", 0, "prior")
	want(t, doc, "197.00 lb", "learned", 0, "own")
	want(t, doc, "203.43 lb", "learned", 0, "now")
	want(t, doc, 2, "learned", 0, "samples")
	want(t, doc, 1, "learned", 2, "samples")
	want(t, doc, "203.43 lb", "hcw")
	refusedAt(t, "yield", "weighed[0].sides", func(in obj) { in["weighed"] = []any{obj{"hot": "100 lb", "sides": []any{"60 lb", "60 lb"}}} })
	refusedAt(t, "yield", "weighed[0].bellies", func(in obj) { in["weighed"] = []any{obj{"sides": []any{"60 lb"}, "bellies": []any{"40 lb"}}} })

	deer := func(as string) func(in obj) {
		return func(in obj) {
			in["field_dressed"], in["dressing"] = "125 lb", "50 %"
			if as != "" {
				in["field_dressed_as"] = as
			}
		}
	}
	if got := refusedAt(t, "yield", "field_dressed_as", deer("")); !strings.Contains(got, "a seventh wrong") {
		t.Errorf("E-V5: %q", got)
	}
	if doc, err = run(t, "yield", deer("guts and feet out; hide and head on")); err != nil {
		t.Fatal(err)
	}
	want(t, doc, "177.56 lb", "live")

	rows := []any{}
	for i, fd := range []string{"50 lb", "70 lb", "80 lb", "100 lb", "110 lb"} {
		rows = append(rows, obj{"whole": fd, "parts": []any{obj{"part": "boneless", "weight": []string{"24.8 lb", "33.6 lb", "38.4 lb", "48 lb", "52.8 lb"}[i]}}})
	}
	if doc, err = run(t, "yield", func(in obj) { in["rows"] = rows }); err != nil {
		t.Fatal(err)
	}
	want(t, doc, 0, "row_faults", 0, "row")
	want(t, doc, false, "row_faults", 0, "stop")
}

// Forecast variants (E-K1) and the newsvendor (E-Q1, E-Q4, E-Q5) through the calculator.
func TestDemandKindExtended(t *testing.T) {
	past := []any{}
	for _, p := range [][2]int{{6, 20}, {4, 16}, {9, 24}, {5, 19}, {8, 21}} {
		past = append(past, obj{"on_hand": p[0], "final": p[1]})
	}
	doc, err := run(t, "demand", func(in obj) {
		in["classes"] = []any{obj{"code": "B", "unit": "belly", "day": "2026-10-10", "seats": obj{"sold": 7, "full": 24}, "history": past, "method": "mean ratio"}}
	})
	if err != nil {
		t.Fatal(err)
	}
	want(t, doc, 23, "forecasts", 0, "seats")
	want(t, doc, "mean ratio", "forecasts", 0, "method")
	want(t, doc, "additive", "forecasts", 0, "other_methods", 0, "method")
	want(t, doc, 20.6, "forecasts", 0, "other_methods", 0, "final")
	want(t, doc, 1.1, "forecasts", 0, "other_methods", 0, "mean_error")
	want(t, doc, 21.88, "forecasts", 0, "other_methods", 1, "final")

	bet := func(b obj) obj {
		doc, err := run(t, "demand", func(in obj) { in["bet"] = b })
		if err != nil {
			t.Fatal(err)
		}
		return doc
	}
	halves := []any{}
	for i, p := range []float64{.10, .20, .30, .25, .10, .05} {
		halves = append(halves, obj{"units": 3 + i, "p": p})
	}
	doc = bet(obj{"short": "$280", "over": "$60", "step": 2, "chances": halves})
	want(t, doc, 6, "bet", "best", "units")
	want(t, doc, "$116.00", "bet", "best", "cost")
	want(t, doc, 0.8235, "bet", "critical_ratio")
	doc = bet(obj{"price": "$20", "cost": "$14", "salvage": "$5", "normal": obj{"mean": 115, "sd": 15}})
	want(t, doc, 111.2, "bet", "quantity")
	doc = bet(obj{"price": "$20", "cost": "$14", "salvage": "$5", "uniform": obj{"low": 80, "high": 150}})
	want(t, doc, 108, "bet", "quantity")
	doc = bet(obj{"short": "$200", "cost": "$300", "salvage": "$310", "chances": halves})
	want(t, doc, "-$10.00", "bet", "over")
	want(t, doc, nil, "bet", "best")
	if note := pick(t, doc, "bet", "note").(string); !strings.Contains(note, "what the cooler and the counter can take") {
		t.Errorf("E-Q5: %q", note)
	}
	doc = bet(obj{"short": "$200", "cost": "$300", "salvage": "$310", "chances": halves, "most": 12, "step": 2})
	want(t, doc, 12, "bet", "best", "units")

	refusedAt(t, "demand", "bet.chances", func(in obj) {
		in["bet"] = obj{"short": "$1", "over": "$1", "chances": []any{obj{"units": 1, "p": 0.5}}}
	})
	refusedAt(t, "demand", "bet", func(in obj) { in["bet"] = obj{"short": "$1", "over": "$1"} })
	refusedAt(t, "demand", "bet.over", func(in obj) {
		in["bet"] = obj{"short": "$1", "normal": obj{"mean": 1, "sd": 1}}
	})
}

// Rows E-N1 (a consultancy blog, 2015 [read]) and E-N3 (computed) through the calculator.
func TestWhoComes(t *testing.T) {
	doc, err := run(t, "demand", func(in obj) {
		in["come"] = obj{"places": 12, "sold": 14, "show": 0.9, "registered": 365, "cancelled": 20, "came": 260}
	})
	if err != nil {
		t.Fatal(err)
	}
	for field, value := range (obj{"too_many": 0.5846, "turned_away": 0.8134, "no_shows": 85, "no_show_rate": "24.6 %"}) {
		want(t, doc, value, "come", field)
	}
	refusedAt(t, "demand", "come.came", func(in obj) { in["come"] = obj{"registered": 1, "came": 2} })
}

// Rows E-T1 (extension sheet [read]), E-T3 and E-T4 (computed), E-T5 (Food Code
// 3-502.12(B) as Wisconsin's ATCP 75 appendix adopts it [read]) through the calculator.
func TestKeeping(t *testing.T) {
	keep := func(k obj) obj {
		doc, err := run(t, "yield", func(in obj) { in["keep"] = k })
		if err != nil {
			t.Fatal(err)
		}
		return doc
	}
	want(t, keep(obj{"packed": "2026-05-04", "frozen": "2026-05-14", "thawed": "2026-06-20"}), "2026-07-10", "keep", "discard_after")
	want(t, keep(obj{"packed": "2026-05-04", "frozen": "2026-05-14"}), nil, "keep", "discard_after")
	want(t, keep(obj{"packed": "2026-05-04", "piece": "16.3 lb", "pieces": 9}), 4.19, "keep", "cubic_feet")
	doc := keep(obj{"packed": "2026-03-01", "piece": "16.27 lb", "start": "2026-03-22T09:00:00-05:00"})
	want(t, doc, 4, "keep", "thaw_days")
	want(t, doc, "2026-03-18T14:00:00Z", "keep", "out_of_freezer_by")
	refusedAt(t, "yield", "keep.thawed", func(in obj) { in["keep"] = obj{"packed": "2026-05-04", "thawed": "2026-06-20"} })
	refusedAt(t, "yield", "keep.frozen", func(in obj) { in["keep"] = obj{"packed": "2026-05-04", "frozen": "2026-06-20"} })
	refusedAt(t, "yield", "keep.piece", func(in obj) {
		in["keep"] = obj{"packed": "2026-05-04", "start": "2026-03-22T09:00:00-05:00"}
	})
}
