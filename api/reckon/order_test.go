package reckon_test

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

type buying struct {
	Status           string
	Cost, Bound, Gap any
	Orders, Uses     [][]any
	Sold             [][]any
	LeftOver         [][]any `json:"left_over"`
	Reasons          []struct{ Of, Text string }
	Excluded         []struct {
		Offer any
		Why   string
	}
	Next []struct {
		Cost            any
		Differs, Status string
	}
}

// The worked example, followed with a pencil from its input: 206 lb × $3.10 = $638.60,
// 138 lb × $3.60 = $496.80; six plus one sides give what three classes need; of the
// cuts left over week 0 takes 4 shoulders, 4 loins, 3 hams, week 1 takes 3, 4 and 3.
func TestOrderExample(t *testing.T) {
	example, err := reckon.Example("order")
	if err != nil {
		t.Fatal(err)
	}
	var out buying
	reckonInto(t, "order", string(example), &out)
	if out.Status != "proven" || out.Cost != "$422.80" || out.Bound != "$422.80" || out.Gap != "$0.00" {
		t.Errorf("%s %v %v %v", out.Status, out.Cost, out.Bound, out.Gap)
	}
	want := []string{
		"offer HB-1: delivered Thu Oct 8: 2 whole × $638.60 = $1277.20 ($3.10 a lb × 206.00 lb hanging), haul $60.00, less 4 shoulder sold × $82.00 = $328.00, less 4 loin sold × $115.00 = $460.00, less 3 ham sold × $94.00 = $282.00; together $267.20. 4 side broken, 4 belly to class B1, 1 ham over, brings nothing.",
		"offer LH-2: delivered Thu Oct 15: 2 whole × $496.80 = $993.60 ($3.60 a lb × 138.00 lb hanging), haul $35.00, less 3 shoulder sold × $82.00 = $246.00, less 3 loin sold × $115.00 = $345.00, less 3 ham sold × $94.00 = $282.00; together $155.60. 3 side broken, 1 side to class D1, 3 belly to class B2.",
		"class B1: Sat Oct 10. 4 belly: 4 of offer HB-1, 2 days after delivery.",
		"class D1: Thu Oct 15. 1 side: 1 of offer LH-2, 0 days after delivery.",
		"class B2: Sat Oct 17. 3 belly: 3 of offer LH-2, 2 days after delivery.",
		"all: bought $2270.80 + haul $95.00 + freezing $0.00 − sold $1943.00 = $422.80",
	}
	var got []string
	for _, r := range out.Reasons {
		got = append(got, r.Of+": "+r.Text)
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("reasons:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if len(out.Excluded) != 1 || out.Excluded[0].Offer != "LH-1" || out.Excluded[0].Why != "too late: it had to be ordered by Wed Sep 9" {
		t.Errorf("excluded: %+v", out.Excluded)
	}
	// Two halves at 69 lb × $3.80 = $262.20 in place of one whole: $27.60 more.
	if len(out.Next) != 2 || out.Next[0].Cost != "$450.40" || out.Next[0].Status != "proven" ||
		out.Next[0].Differs != "$27.60 more: buys 2 half of offer LH-2; leaves out 1 whole of offer LH-2" {
		t.Errorf("next: %+v", out.Next)
	}
}

// A document in plain numbers is answered in plain numbers (testdata/order/README.md).
func TestOrderPlainNumbers(t *testing.T) {
	doc, err := os.ReadFile("../../testdata/order/op-60-s2.json")
	if err != nil {
		t.Fatal(err)
	}
	var out buying
	reckonInto(t, "order", string(doc), &out)
	if out.Status != "proven" || out.Cost != 710760.0 || out.Bound != 710760.0 || out.Gap != 0.0 {
		t.Errorf("%s %v %v %v", out.Status, out.Cost, out.Bound, out.Gap)
	}
	if _, ok := out.Orders[0][0].(float64); !ok || len(out.Orders[0]) != 3 || len(out.Uses[0]) != 5 || len(out.Sold[0]) != 3 {
		t.Errorf("orders %v, uses %v, sold %v", out.Orders[0], out.Uses[0], out.Sold[0])
	}

	var cut map[string]any
	if err := json.Unmarshal(doc, &cut); err != nil {
		t.Fatal(err)
	}
	cut["work"] = 900
	short, _ := json.Marshal(cut)
	raw, err := reckon.Run("order", short)
	if err == nil {
		out = buying{}
		if err := json.Unmarshal(raw, &out); err != nil {
			t.Fatal(err)
		}
		if out.Status != "limit" || out.Bound.(float64) > 710760 || out.Cost.(float64) < 710760 {
			t.Errorf("cut short: %s %v %v", out.Status, out.Cost, out.Bound)
		}
	} else if !strings.Contains(err.Error(), "no plan was found within the limit") {
		t.Error(err)
	}
}

func TestOrderSpecies(t *testing.T) {
	doc := `{"start": "2026-11-02", "today": "2026-09-01",
	"kinds": [
	  {"name": "beef side", "breaks_into": {"hindquarter": 1, "forequarter": 1}, "fresh_min": 0, "fresh_max": 0},
	  {"name": "hindquarter", "fresh_min": 7, "fresh_max": 21, "target": 17, "frozen_max": 0},
	  {"name": "forequarter", "frozen_max": 0},
	  {"name": "whole lamb", "fresh_min": 3, "fresh_max": 10, "frozen_max": 0}],
	"forms": [
	  {"name": "beef half", "gives": {"beef side": 1}, "group": "beef", "size": 1},
	  {"name": "lamb", "gives": {"whole lamb": 1}, "group": "lambs"}],
	"fresh_min": 0, "fresh_max": 10,
	"classes": [
	  {"id": "beef", "day": "2026-11-23", "demand": {"hindquarter": 2}},
	  {"id": "lamb", "day": "2026-11-14", "demand": {"whole lamb": 4}}],
	"offers": [
	  {"id": "a", "day": "2026-11-04", "price": {"beef half": "$900", "lamb": "$210.00"}, "caps": {"beef": 2, "lambs": 2}},
	  {"id": "b", "day": "2026-11-06", "price": {"beef half": "$900", "lamb": "$210.00"}, "caps": {"beef": 2, "lambs": 2}, "slot": "Tue"},
	  {"id": "c", "day": "2026-11-09", "price": {"beef half": "$900", "lamb": "$210.00"}, "caps": {"beef": 2, "lambs": 4}, "slot": "Tue"}],
	"slots": [{"name": "Tue", "group": "lambs", "most": 3}],
	"value": {"forequarter": "$500.00"}, "retail_cap": {"forequarter": [1, 1]}}`
	var out buying
	reckonInto(t, "order", doc, &out)
	// Three lambs at most on the shared kill day, so one of a; one forequarter a week
	// can be sold, so one half is of week 0 and one of week 1: 2 × 900 + 4 × 210 − 2 × 500.
	if out.Status != "proven" || out.Cost != "$1640.00" {
		t.Errorf("%s %v", out.Status, out.Cost)
	}
	lambs := 0.0
	for _, u := range out.Uses {
		if u[2] == "whole lamb" && u[0] == "a" {
			lambs += u[3].(float64)
		}
	}
	if lambs < 1 {
		t.Errorf("uses %v", out.Uses)
	}
}

func TestOrderRefusals(t *testing.T) {
	raw, err := reckon.Example("order")
	if err != nil {
		t.Fatal(err)
	}
	doc := string(raw)
	for _, c := range []struct{ old, new, want string }{
		{`"start": "2026-10-05",`, ``, "classes[0].day: is a date: the document must say its start, the date called day 0"},
		{`"belly": "$1.50"`, `"belly": "a lot"`, `freeze_cost.belly`},
		{`"belly": "$1.50"`, `"tail": "$1.50"`, "freeze_cost.tail: there is no such kind"},
		{`"demand": {` + "\n        \"belly\": 4", `"demand": {` + "\n        \"bely\": 4", "classes[0].demand.bely: there is no such kind"},
		{`"id": "D1"`, `"id": "B1"`, "class B1 is listed twice"},
		{`"slot": "Oct 13"`, `"slot": "Oct 31"`, `offers[2].slot: there is no slot "Oct 31"`},
		{`"day": "2026-10-10"`, `"day": "2026-10-40"`, "classes[0].day"},
		{`"day": "2026-10-10"`, `"day": "2026-10-09"`, ""},
		{`"day": "2026-10-10"`, `"day": "2026-10-07"`, "class B1 on Wed Oct 7 needs 4 belly, at most 0 can be had"},
		{`"cooler_cap": 40`, `"cooler_cap": 4`, "not all of them together"},
		{`"breaks_into": {`, `"breaks_into": {"side": 1,`, "side breaks into something that breaks into side"},
		{`"half": "69.00 lb"`, `"half": "69"`, "offers[1].hanging"},
		{`"start": "2026-10-05",`, `"start": "2026-10-05", "strat": 1,`, "strat"},
	} {
		if !strings.Contains(doc, c.old) {
			t.Fatalf("the example has no %s:\n%s", c.old, doc)
		}
		_, err := reckon.Run("order", []byte(strings.Replace(doc, c.old, c.new, 1)))
		var p *reckon.Problem
		if c.want == "" {
			if err != nil {
				t.Errorf("%s: %v", c.new, err)
			}
			continue
		}
		if !errors.As(err, &p) || !strings.Contains(p.Error(), c.want) {
			t.Errorf("%s refused with %v, want %q", c.new, err, c.want)
		}
	}
}
