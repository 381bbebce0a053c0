package store_test

import (
	"slices"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// House rule R1: from its moment on new bookings pay the new price; who booked before
// keeps theirs, and so does a voucher for a seat (R7). A moment that is past is refused.
func TestPriceChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		h.Go("2026-09-21 12:00")
		before := bought(t, h, party("D3", "Aurel C.", 1))
		from := h.At("2026-10-05 09:00")
		if err := h.SetPrice(h.Ctx, storetest.Odile, shop.NewPrice{Kind: "pig", Seat: shop.GuestSeat, Cents: 180_00, From: from}); err != nil {
			t.Fatal(err)
		}
		pig := func() (out []store.PriceLine) {
			lines, _, err := h.Prices(h.Ctx)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range lines {
				if l.Kind == "pig" {
					out = append(out, l)
				}
			}
			return out
		}
		if l := pig(); len(l) != 2 || l[0].Cents != 165_00 || !l[0].Now || l[1].Cents != 180_00 || !l[1].Ahead || l[1].Now {
			t.Errorf("before the moment: %+v", l)
		}
		for at, want := range map[string]unit.Money{"2026-10-05 08:59": 165_00, "2026-10-05 09:00": 180_00} {
			h.Go(at)
			if page, err := h.ClassPage(h.Ctx, "D3"); err != nil || page.Price != want {
				t.Errorf("at %s a seat costs %v, want %v (%v)", at, page.Price, want, err)
			}
		}
		h.Go("2026-10-05 09:00")
		if after := bought(t, h, party("D3", "Mirabel I.", 2)); after.Total != 360_00 {
			t.Errorf("two seats afterwards: %v", after.Total)
		}
		if b, err := h.BookingByNumber(h.Ctx, before.Number); err != nil || b.Total != 165_00 {
			t.Errorf("who booked before pays %v (%v)", b.Total, err)
		}
		l := pig()
		if len(l) != 1 || l[0].Cents != 180_00 || !l[0].Now {
			t.Errorf("after the moment: %+v", l)
		}
		if err := h.TakeBackPrice(h.Ctx, storetest.Odile, l[0].ID); err == nil {
			t.Error("a price people were asked for was taken back")
		}
		for field, n := range map[string]shop.NewPrice{
			"from":  {Kind: "pig", Seat: shop.GuestSeat, Cents: 1, From: h.At("2026-10-05 08:59")},
			"seat":  {Kind: "pig", Seat: shop.WatchSeat, Cents: 1},
			"kind":  {Kind: "goose", Seat: shop.GuestSeat, Cents: 1},
			"price": {Kind: "pig", Seat: shop.GuestSeat, Cents: shop.MostPrice + 1},
		} {
			err := h.SetPrice(h.Ctx, storetest.Odile, n)
			if e, ok := shop.AsError(err); !ok || e.Fields[field] == "" || len(e.Fields) != 1 {
				t.Errorf("%s: %v", field, err)
			}
		}
		// A price to come may be taken back; the one of now set again at once.
		if err := h.SetPrice(h.Ctx, storetest.Odile, shop.NewPrice{Kind: "pig", Seat: shop.GuestSeat, Cents: 200_00, From: h.At("2026-11-01 09:00")}); err != nil {
			t.Fatal(err)
		}
		if err := h.SetPrice(h.Ctx, storetest.Odile, shop.NewPrice{Kind: "pig", Seat: shop.GuestSeat, Cents: 170_00}); err != nil {
			t.Fatal(err)
		}
		l = pig()
		if len(l) != 2 || l[0].Cents != 170_00 || !l[1].Ahead {
			t.Fatalf("%+v", l)
		}
		if err := h.TakeBackPrice(h.Ctx, storetest.Odile, l[1].ID); err != nil || len(pig()) != 1 {
			t.Errorf("%v, %+v", err, pig())
		}
		_, kinds, err := h.Prices(h.Ctx)
		if err != nil || !slices.ContainsFunc(kinds, func(k store.PriceKind) bool {
			return strings.HasPrefix(k.Name, "Bacon") && slices.Equal(k.Seats, []shop.SeatKind{shop.SlabSeat, shop.SecondSlab, shop.WatchSeat})
		}) {
			t.Errorf("%+v %v", kinds, err)
		}
	})
}
