package main

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// The night the clocks go back (Sun Nov 1 2026, America/Chicago: 2:00 becomes 1:00; IANA
// time zone database): the cure cooler is above 41 °F from 00:45. By the clock on the wall
// it is 02:00 after an hour and a quarter, by elapsed time two and a quarter hours, and
// elapsed time is what the rule counts: more than two hours, first to last reading.
func TestStoryDoorAjarOverTheLongNight(t *testing.T) {
	h := storyAt(t, "", "2026-11-01 00:40")
	tobias := h.signedIn(t, "tobias")
	first := time.Date(2026, 11, 1, 5, 45, 0, 0, time.UTC) // 00:45 CDT
	holds := func() []any {
		return list(tobias.ask(http.MethodGet, "/api/v1/holds", "", http.StatusOK)["holds"])
	}
	for i := range 10 {
		at := first.Add(time.Duration(i) * 15 * time.Minute)
		h.Clock.Set(unit.InstantOf(at))
		tobias.ask(http.MethodPost, "/api/v1/rooms/cure/readings", fmt.Sprintf(`{"readings":[{"at":%q,"temp":"43.0 F"}]}`, at.Format(time.RFC3339)), http.StatusOK)
		switch n := len(holds()); {
		case at.Sub(first) <= 2*time.Hour && n != 0:
			t.Fatalf("a hold after %s: two hours are not more than two hours", at.Sub(first))
		case at.Sub(first) > 2*time.Hour && n != 1:
			t.Fatalf("%d holds after %s above 41 °F", n, at.Sub(first))
		}
	}
	hold := holds()[0].(map[string]any)
	if got := dig(hold, "opened_at"); got != "2026-11-01T08:00:00Z" {
		t.Errorf("held since %s, want 02:00 standard time", got)
	}
	tags := list(hold["tags"])
	for _, tag := range tags {
		if fmt.Sprint(tag) == "B4-08" {
			t.Errorf("%s lies in the walk-in these days, not in this room", tag)
		}
	}
	if len(tags) != 36 {
		t.Errorf("%d slabs held, want the 36 of the rack", len(tags))
	}
	tobias.reads("/staff/rooms/cure?from=2026-11-01", "01:00 CDT", "01:00 CST", "2 h 15 min", "02:00")
	tobias.reads("/staff/holds", "Sun Nov 1, 02:00")
}
