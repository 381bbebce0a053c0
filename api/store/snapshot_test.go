package store_test

import (
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
)

// A snapshot keeps its name until something is committed, and never after.
func TestSnapshot(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-09-14 10:00")
		name := func() string {
			t.Helper()
			n, err := h.Snapshot(h.Ctx)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		before := name()
		if _, err := h.SeasonPage(h.Ctx); err != nil {
			t.Fatal(err)
		}
		if h.Dialect() == "sqlite" && name() != before {
			t.Error("reading changed the name") // elsewhere other tests share the server
		}
		if _, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "B5", Kind: "bacon", StartsAt: h.At("2026-11-07 14:00"), Seats: 10, MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		sketched := name()
		if sketched == before {
			t.Error("a class was sketched and the name stayed")
		}
		if err := h.Publish(h.Ctx, storetest.Odile, "B5"); err != nil {
			t.Fatal(err)
		}
		if name() == sketched {
			t.Error("a class was published and the name stayed")
		}
	})
}
