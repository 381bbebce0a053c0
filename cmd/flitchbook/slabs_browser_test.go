package main

import (
	"testing"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
)

// A party's slab pages at every stage people look at them, out of the invented season on
// Sat Nov 14, 15:10, when that day's packets are packed and one comes onto the shelf: and
// what follows, two questions and the same again. A leaking bag of B5 is dumped, so that
// its people choose; another is held.
func TestSlabPagesInABrowser(t *testing.T) {
	h := storyAt(t, "", "2026-11-14 15:10")
	dumped, err := h.OpenHold(t.Context(), storetest.Odile, "", []string{"B5-01"}, "leaks")
	if err != nil {
		t.Fatal(err)
	}
	if err := h.Dump(t.Context(), storetest.Odile, dumped, nil, "leaked, its liquid lost"); err != nil {
		t.Fatal(err)
	}
	if _, err := h.OpenHold(t.Context(), storetest.Odile, "", []string{"B5-10"}, "leaks"); err != nil {
		t.Fatal(err)
	}
	ignace, err := h.BookingByNumber(t.Context(), 20)
	if err != nil {
		t.Fatal(err)
	}
	mine, err := h.MySlab(t.Context(), ignace.SlabSecret)
	if err != nil {
		t.Fatal(err)
	}
	for _, sl := range mine.Slabs {
		if err := h.Shelve(t.Context(), storetest.Nadia, store.Scan{Tag: sl.Tag}, "D3"); err != nil {
			t.Fatal(err)
		}
	}
	pages := map[string]string{"private": "/private"}
	for name, is := range map[string]func(*store.MySlab) bool{
		"curing":  func(m *store.MySlab) bool { return !m.Checked && m.Slabs[0].Stage == 2 },
		"packed":  func(m *store.MySlab) bool { return m.Slabs[0].Stage == 4 && !m.Ready },
		"shelf":   func(m *store.MySlab) bool { return m.Ready && !m.Done },
		"fetched": func(m *store.MySlab) bool { return m.Done },
		"dumped":  func(m *store.MySlab) bool { return m.Slabs[0].Lost },
		"checked": func(m *store.MySlab) bool { return m.Checked },
	} {
		for number := 1; number <= 60 && pages[name] == ""; number++ {
			b, err := h.BookingByNumber(t.Context(), number)
			if err != nil {
				continue // a number nobody has
			}
			m, err := h.MySlab(t.Context(), b.SlabSecret)
			if err != nil || len(m.Slabs) == 0 || !is(m) {
				continue
			}
			pages[name] = "/s/" + b.SlabSecret
			if name == "fetched" {
				pages["again"] = pages[name] + "/again"
				pages["questions"] = "/g/" + b.People[0].Secret + "/after"
				pages["fetched-booking"] = "/b/" + b.Secret
			}
		}
		if pages[name] == "" {
			t.Errorf("nobody's slab is %s at that moment", name)
		}
	}
	browsertest.Start(t, h.signedIn(t, "").through()).Look(t, pages)
}
