package store_test

import (
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// R26a: a leaker within 24 h of sealing is bagged again with all its liquid, or, when
// liquid is lost, rinsed and begun again on day 0 with a new ticket on its new weight;
// after 24 h it goes on hold. Nobody adds a bit more.
func TestLeakers(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-10 14:00")
		b.class("B1", "2026-10-10 14:00")
		_, tags := b.party(1, "Imke S.", "B1", laid{"PB", "4.60", false}, laid{"PB", "4.60", false}, laid{"PB", "4.60", false})
		b.teach(tags...)
		whole, lost, late := tags[0], tags[1], tags[2]
		was := b.ticket(lost)

		b.Go("2026-10-11 09:00")
		b.no(b.WeighOut(b.Ctx, storetest.Tobias, on(whole), store.Weighed{Salt: "5", Cure: "1.0", Scale: "cure scale"}), "nobody adds a bit more")
		_, err := b.Leaker(b.Ctx, storetest.Tobias, on(lost), store.Leak{})
		b.no(err, "")
		_, err = b.Leaker(b.Ctx, storetest.Tobias, on(lost), store.Leak{Weight: b.lb("2.00")})
		b.no(err, "")
		for tag, leak := range map[string]store.Leak{whole: {AllLiquid: true}, lost: {Weight: b.lb("4.50")}} {
			if held, err := b.Leaker(b.Ctx, storetest.Tobias, on(tag), leak); err != nil || held {
				t.Fatalf("%s: held %v, %v", tag, held, err)
			}
		}
		if sl := b.get(whole); sl.State != shop.InCure || sl.LeakedAt == 0 || sl.UnbagFrom.Show() != "Thu Oct 22" {
			t.Errorf("bagged again: %+v", sl)
		}
		b.want(lost, shop.Cut)
		if n := b.count(&shop.Placement{}, "until_at = 0"); n != 2 {
			t.Errorf("%d places used, want 2", n)
		}
		b.ok(b.CheckScale(b.Ctx, storetest.Tobias, "cure scale", 5e9))
		b.ok(b.Kit(b.Ctx, storetest.Tobias, on(lost)))
		// What was weighed for the lost liquid does not count for the new bag.
		b.no(b.Seal(b.Ctx, storetest.Tobias, on(lost), ""), "no passing weigh-out")
		b.weigh(lost)
		now := b.ticket(lost)
		if now.ID == was.ID || now.Green != b.lb("4.50") || now.Salt >= was.Salt {
			t.Errorf("new ticket %+v, was %+v", now, was)
		}
		b.seal(lost)
		sl := b.get(lost)
		if sl.SealedOn.Show() != "Sun Oct 11" || sl.UnbagFrom.Show() != "Fri Oct 23" || sl.ReadyOn.Show() != "Sat Oct 24" {
			t.Errorf("begun again: sealed %s, unbag from %s, told %s", sl.SealedOn.Show(), sl.UnbagFrom.Show(), sl.ReadyOn.Show())
		}
		drafts, err := b.DateDrafts(b.Ctx)
		b.ok(err)
		if len(drafts) != 1 || drafts[0].Old.Show() != "Sat Oct 24" || drafts[0].New.Show() != "Wed Oct 28" {
			t.Errorf("drafts %+v", drafts)
		}

		b.Go("2026-10-11 14:30")
		held, err := b.Leaker(b.Ctx, storetest.Tobias, on(late), store.Leak{AllLiquid: true})
		if err != nil || !held {
			t.Fatalf("24 and a half hours after sealing: held %v, %v", held, err)
		}
		b.want(late, shop.OnHold)
		if n := len(b.notices("kind = ?", shop.NoticeHoldAlarm)); n != 1 {
			t.Errorf("%d alarms", n)
		}
	})
}
