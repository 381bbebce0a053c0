package reckon_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

// The invented shop on Fri Nov 6: seventeen slabs, sixteen hooks (house rules).
func TestSmokeKind(t *testing.T) {
	var slabs []string
	add := func(booking, tag string, n, allergen int) {
		for i := range n {
			slabs = append(slabs, fmt.Sprintf(`{"tag": "%s-%d", "booking": "%s", "sealed": "2026-10-24", "earliest": "2026-11-05", "allergen": %v}`,
				tag, i, booking, i < allergen))
		}
	}
	add("K14", "a", 2, 0)
	add("K16", "b", 4, 2)
	add("K17", "c", 3, 0)
	add("K18", "d", 8, 3)
	var out struct {
		Used  int `json:"hooks_used"`
		Free  int `json:"hooks_free"`
		Hangs []struct{ Booking string }
		Waits []struct{ Booking, Why string }
		Hooks []struct {
			Hook int
			Tag  string
		}
	}
	doc := `{"unbag": "2026-11-05", "hooks": 24, "bottom_row": 6, "own": 8, "slabs": [` + strings.Join(slabs, ",") + `]}`
	reckonInto(t, "smoke", doc, &out)
	if out.Used != 15 || out.Free != 1 || len(out.Hangs) != 3 || out.Waits[0].Booking != "K14" || out.Waits[0].Why == "" || len(out.Hooks) != 15 {
		t.Errorf("load: %+v", out)
	}

	for in, want := range map[string]string{
		strings.Replace(doc, `"own": 8`, `"own": 19`, 1):        "own: the shop's own bacon cannot take 19 hooks: 18 are above the bottom row",
		strings.Replace(doc, `"tag": "a-1"`, `"tag": "a-0"`, 1): "slabs[1].tag: slab a-0 is listed twice",
		strings.Replace(doc, `"2026-11-05"`, `""`, 1):           "unbag: a load needs its unbag date",
	} {
		_, err := reckon.Run("smoke", []byte(in))
		var p *reckon.Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), want) {
			t.Errorf("refused with %v, want %q", err, want)
		}
	}
}

// The plan over all loads ahead, on the files of testdata/smoke with their known optima.
func TestSmokePlanKind(t *testing.T) {
	for name, want := range map[string]string{"sm-50-s1": "0 late, 8 loads, proven", "sm-50-s2": "0 late, 7 loads, proven", "sm-200-s1": "0 late, 31 loads, proven"} {
		raw, err := os.ReadFile("../../testdata/smoke/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var out struct {
			Batches      [][]json.RawMessage
			LateDays     int `json:"late_days"`
			LateBound    int `json:"late_bound"`
			Loads, Bound int
			Status       string
		}
		reckonInto(t, "smoke", string(raw), &out)
		if got := fmt.Sprintf("%d late, %d loads, %s", out.LateDays, out.Loads, out.Status); got != want || out.Bound != out.Loads || len(out.Batches) != out.Loads || len(out.Batches[0]) != 3 {
			t.Errorf("%s: %s, bound %d, %d batches; want %s", name, got, out.Bound, len(out.Batches), want)
		}
	}

	// The schema carries a worked input of the second form too.
	schema, err := reckon.Schema("smoke")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		OneOf []struct{ Examples []json.RawMessage }
	}
	if err := json.Unmarshal(schema, &doc); err != nil || len(doc.OneOf) != 2 || len(doc.OneOf[1].Examples) != 1 {
		t.Fatalf("schema: %v, %+v", err, doc)
	}
	if out, err := reckon.Run("smoke", doc.OneOf[1].Examples[0]); err != nil || !strings.Contains(string(out), `"status": "proven"`) {
		t.Errorf("its example: %v, %s", err, out)
	}
	for in, want := range map[string]string{
		`{"open": [1], "hooks": 2, "per_day": 1, "max_wait": 3, "slabs": [], "colour": 1}`:                                             "colour: there is no such field here",
		`{"open": [1], "hooks": 2, "per_day": 1, "max_wait": 3, "slabs": [], "conflict": [["a"]], "own_on": [{"day": 1, "hooks": 3}]}`: "own_on[0]: the shop's own bacon cannot take 3 of 2 hooks",
		`{"open": [1], "hooks": 2, "per_day": 1, "max_wait": 3, "slabs": [{"id": 7, "ready": 2, "pickup": 4, "group": "plain"}]}`:      "slab 7 has no smoke day with room for it from 2 to 5",
	} {
		_, err := reckon.Run("smoke", []byte(in))
		var p *reckon.Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), want) {
			t.Errorf("refused with %v, want %q", err, want)
		}
	}
}
