package reckon_test

import "testing"

// Rows E-L8, E-C5 and E-D18 through the documents (FSIS Appendix A and B 1999, CFIA, the
// proposed default plan), and a cold night of twelve hours in the room's log.
func TestHeatKinds(t *testing.T) {
	var h struct {
		Logs   float64
		Status string
	}
	reckonInto(t, "heat", `{"points": [{"minutes": 0, "temp": "120 F"}, {"minutes": 25, "temp": "145 F"}]}`, &h)
	if h.Logs != 7.741 || h.Status != "not fully cooked – cook before eating" {
		t.Errorf("heat: %+v", h)
	}
	var c struct {
		Rules []struct{ Rule, Outcome, Why string }
	}
	reckonInto(t, "cooling", `{"ingoing": "156 ppm", "salt_percent": 2.75, "points": [{"hours": 0, "temp": "150 F"}, {"hours": 0.5, "temp": "120 F"},
		{"hours": 1, "temp": "96 F"}, {"hours": 2, "temp": "76 F"}, {"hours": 3, "temp": "62 F"}, {"hours": 5, "temp": "48 F"}, {"hours": 7, "temp": "39 F"}]}`, &c)
	got := map[string]string{}
	for _, r := range c.Rules {
		got[r.Rule] = r.Outcome
	}
	if got["fast"] != "pass" || got["cured-slow"] != "pass" || got["cured-20h"] != "pass" || got["food code"] != "fail" {
		t.Errorf("cooling: %v", got)
	}
	var r struct {
		Ready, Model string
		Days         int
		Stalled      float64 `json:"stalled_hours"`
	}
	reckonInto(t, "ready", `{"sealed": "2025-12-20", "thickness_in": 1.5}`, &r)
	if r.Ready != "2026-01-02" || r.Days != 13 || r.Model != "salt, model" {
		t.Errorf("ready: %+v", r)
	}
	reckonInto(t, "ready", `{"sealed": "2025-12-20", "thickness_in": 1.5, "readings": [{"at": "2025-12-21T00:00:00Z", "temp": "33 F"},
		{"at": "2025-12-21T12:00:00Z", "temp": "36 F"}, {"at": "2025-12-22T12:00:00Z", "temp": "36 F"}]}`, &r)
	if r.Stalled != 12 || r.Days != 13 || r.Ready != "2026-01-02" {
		t.Errorf("a cold night: %+v", r)
	}
	reckonInto(t, "ready", `{"sealed": "2025-12-20", "thickness_in": 1.5, "frozen_hours": 13}`, &r)
	if r.Days != 14 || r.Ready != "2026-01-03" {
		t.Errorf("thirteen hours frozen: %+v", r)
	}
}
