package frontend

import (
	"strings"
	"testing"

	"flitchbook/api/shop"
)

// The season page is kept between visitors and never stale: a seat sold, a price that
// rises at nine (R1) and a class that begins show at once; staff get a page of their own.
func TestSeasonPageIsNeverStale(t *testing.T) {
	w := counter(t)
	w.by = shop.Actor{}
	see := func() string {
		t.Helper()
		_, body := w.get("/")
		return body
	}
	says := func(text string, want bool) {
		t.Helper()
		if strings.Contains(see(), text) != want {
			t.Errorf("%q on the page: %v, want %v", text, !want, want)
		}
	}
	w.Go("2026-10-20 08:58")
	first := see()
	if see() != first {
		t.Error("two visitors in one minute see two pages")
	}
	says("8 seats left", false)
	w.bought("B5", "Nerys D.", 2)
	says("8 seats left", true)
	says("$95.00", true)
	w.Go("2026-10-20 09:00")
	says("$105.00", true)
	says("B5", true)
	w.Go("2026-11-07 13:00")
	says("/classes/B5", false)
	w.by = shop.Actor{Kind: "staff", ID: 3, Name: "Nadia", Role: shop.Staff}
	says("/staff/today", true)
	w.by = shop.Actor{}
	says("/staff/today", false)
}
