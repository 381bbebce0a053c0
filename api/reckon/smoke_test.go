package reckon_test

import (
	"errors"
	"fmt"
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
