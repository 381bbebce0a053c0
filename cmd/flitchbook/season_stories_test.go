package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// The owner sees before publishing what the season asks: on Fri Oct 23 a second sitting
// for Sat Nov 21 is sketched and its publishing pressed. It is refused with the date, the
// seats that fit and the Saturday that does; overflow places are not counted; nothing is
// published, the sketch stays and the public page never shows it. What fits later is
// published in one press.
func TestStorySecondSitting(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-10-23 10:00")
		odile := h.signedIn(t, "odile")
		if res, page := odile.post("/owner/season/classes", url.Values{"code": {"B9"}, "kind": {"bacon"}, "starts": {"2026-11-21T16:30"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("sketching: %d %s", res.StatusCode, said(page))
		}
		const no = "Sat Nov 21: rack 44 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5"
		odile.reads("/owner/season", no, "Sat Nov 21 to Mon Nov 30: rack 44 of 36.", "1 class is sketched; published in the order of their days, 0 would fit.",
			"no kill brings the meat of B9; Wed Nov 11: order-by Wed Oct 21 has passed, 2 days ago")
		res, page := odile.post("/owner/season/publish", url.Values{"code": {"B9"}})
		if res.StatusCode != http.StatusConflict || !strings.Contains(said(page), no) {
			t.Fatalf("publishing: %d %s", res.StatusCode, said(page))
		}
		// The picture says it in words too, and the table is the truth.
		if !strings.Contains(page, `<text class="bad"`) || !strings.Contains(page, "44 of 36</text>") || !strings.Contains(page, `role="img" aria-label="The season from Mon Oct 19`) {
			t.Error("the picture does not write out what breaks")
		}
		p := odile.ask(http.MethodPost, "/api/v1/classes/B9/publish", "", http.StatusConflict)
		if dig(p, "detail") != no+"." {
			t.Errorf("over the API: %s", dig(p, "detail"))
		}
		s := odile.ask(http.MethodGet, "/api/v1/season", "", http.StatusOK)
		if got := dig(s, "sketched", 0, "class") + " " + dig(s, "sketched", 0, "fits"); got != "B9 false" {
			t.Errorf("sketched: %s", got)
		}
		if public := h.visitor(t).reads("/"); strings.Contains(public, "B9") {
			t.Error("the sketch is on the public page")
		}

		// Of the classes that fit later the owner publishes all at once.
		if res, page := odile.post("/owner/season/classes", url.Values{"code": {"B10"}, "kind": {"bacon"}, "starts": {"2026-12-05T14:00"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("sketching: %d %s", res.StatusCode, said(page))
		}
		if res, page := odile.post("/owner/season/publish-all", url.Values{}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("publishing all that fit: %d %s", res.StatusCode, said(page))
		}
		odile.reads("/owner/season", "B10: open for booking. B9 stays a sketch: "+no)
		h.visitor(t).reads("/classes/B10", "Sat Dec 5")
	})
}

// The season looked back on when its story is told: the check totals of the invented shop
// (78 student slabs, 7 for showing, 77 slab seats and 62 others, 17 pigs hung of which 34
// bellies gave three slabs, two with the skin on), the thirty cold hours that made B1 and
// B2 four days late, Solveig's two slabs that slipped to the Tuesday, Ignace who does not
// come, and the two parties nobody served.
func TestStorySeasonLookedBackOn(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		h := storyAt(t, database, "2026-11-29 18:00")
		odile := h.signedIn(t, "odile")
		r := odile.ask(http.MethodGet, "/api/v1/season/review?from=2026-10-01&to=2026-11-30", "", http.StatusOK)
		for key, want := range map[string]string{"slabs": "78", "own_slabs": "7", "sold": "139", "missed": "1", "kept": "33", "late": "23", "days_late_at_most": "4", "to_come": "22",
			"not_fetched": "1", "parties_not_served": "2", "seats_not_served": "6"} {
			if got := dig(r, "sum", key); got != want {
				t.Errorf("%s: %s, want %s", key, got, want)
			}
		}
		b3 := find(t, r["classes"], "class", "B3")
		if dig(b3, "kept") != "8" || dig(b3, "late") != "2" || dig(b3, "promised") != "2026-11-07" {
			t.Errorf("B3: %v", b3)
		}
		harl := find(t, r["farms"], "farm", "Harl Bank")
		if dig(harl, "animals") != "17" || dig(harl, "condemned") != "1" || dig(harl, "bellies") != "34" || dig(harl, "skin_on") != "2" {
			t.Errorf("Harl Bank: %v", harl)
		}
		odile.reads("/owner/season/review?from=2026-10-01&to=2026-11-30", "33 slabs kept, 23 late by up to 4 days, 22 still to come", "34 of 34 bellies gave 3 slabs, 2 with the skin on", "2 parties for 6 seats on waiting lists")
		if res, page := odile.get("/owner/season/review?from=soon"); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `value="soon"`) {
			t.Errorf("a wrong day: %d", res.StatusCode)
		}
	})
}
