package store_test

import (
	"context"
	"errors"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/testdata/scenario"
)

func TestFurnishTwiceChangesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		if err := h.Furnish(h.Ctx, storetest.Odile, scenario.Shop()); err != nil {
			t.Fatal(err)
		}
		if err := h.SetSetting(h.Ctx, "a", "b"); err != nil {
			t.Fatal(err)
		}
		if v, err := h.Setting(h.Ctx, "a"); v != "b" || err != nil {
			t.Fatalf("Setting = %q, %v", v, err)
		}
		if at, err := h.NextDue(h.Ctx); err != nil || at != 0 {
			t.Fatalf("NextDue of an empty shop = %v, %v", at, err)
		}
	})
}

func TestDeliverNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		n, err := h.Deliver(h.Ctx, func(context.Context, shop.Notice, shop.Facts) error { return errors.New("no") })
		if n != 0 || err != nil {
			t.Fatalf("Deliver = %d, %v", n, err)
		}
	})
}
