package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// toldAfter is when customers are told of a hold nobody has decided on (R34).
const toldAfter = 48 * time.Hour

// mayBeHeld are the states a slab can be put on hold from.
func mayBeHeld(st shop.SlabState) bool { return shop.SlabMoves.May(st, shop.OnHold) }

// openHold puts slabs on hold from an instant on, alarms the staff at once and leaves
// the messages that go to their people if nobody has decided in two days. A slab that
// is on hold already is covered by this hold too.
func (t tx) openHold(by shop.Actor, rm *shop.Room, at unit.Instant, reason string, slabs []shop.Slab) (*shop.Hold, error) {
	h := &shop.Hold{State: shop.HoldOpen, Reason: reason, OpenedAt: at, OpenedBy: by.Name}
	if rm != nil {
		h.RoomID = rm.ID
	}
	if err := t.Create(h).Error; err != nil {
		return nil, err
	}
	var tags, gone []string
	parties := map[shop.BookingID]*shop.Booking{}
	for i := range slabs {
		sl := &slabs[i]
		if sl.State != shop.OnHold && !mayBeHeld(sl.State) {
			gone = append(gone, fmt.Sprintf("%s (%s)", sl.Tag, sl.State))
			continue
		}
		if err := t.Create(&shop.HoldSlab{HoldID: h.ID, SlabID: sl.ID}).Error; err != nil {
			return nil, err
		}
		if err := t.hold(by, h, sl); err != nil {
			return nil, err
		}
		tags = append(tags, sl.Tag)
		b, err := t.partyOf(sl)
		if err != nil {
			return nil, err
		}
		if b != nil {
			parties[b.ID] = b
		}
	}
	lines := []string{fmt.Sprintf("%d slabs on hold: %s", len(tags), strings.Join(tags, ", "))}
	if len(gone) > 0 {
		lines = append(lines, "lay there and can no longer be held: "+strings.Join(gone, ", "))
	}
	err := t.tellShop(shop.Notice{Key: fmt.Sprintf("hold-alarm/%d", h.ID), Kind: shop.NoticeHoldAlarm, Subject: "hold", SubjectID: int64(h.ID), Urgent: true},
		shop.Facts{Reason: reason, StartsAt: at, Tags: tags, Lines: lines})
	if err != nil {
		return nil, err
	}
	for _, b := range parties {
		n := t.toCollector(b, shop.NoticeHoldTold, fmt.Sprintf("hold-told/%d/%d", h.ID, b.ID))
		n.DueAt = max(at.Add(toldAfter), t.now)
		if err := t.tell(n, shop.Facts{Ref: b.Ref(), StartsAt: at}); err != nil {
			return nil, err
		}
		// Nobody is asked to fetch what may not be handed out.
		if err := t.untell("booking", int64(b.ID), shop.NoticeReady, shop.NoticeCollect, shop.NoticeFreezer, shop.NoticeFinal); err != nil {
			return nil, err
		}
	}
	return h, t.note(by, "hold", int64(h.ID), "opened", "", string(shop.HoldOpen), reason)
}

// hold takes one slab out of its way. A colleague may be moving it this moment: then
// it is held where that took it.
func (t tx) hold(by shop.Actor, h *shop.Hold, sl *shop.Slab) error {
	for range 5 {
		if sl.State == shop.OnHold {
			return nil
		}
		if !mayBeHeld(sl.State) {
			return nil
		}
		m := move{by: by, to: shop.OnHold, scan: Scan{Tag: sl.Tag, DoneAt: h.OpenedAt}, reason: h.Reason, set: map[string]any{"held_from": sl.State}}
		if m.scan.DoneAt > t.now {
			m.scan.DoneAt = t.now
		}
		res := t.Model(&shop.Slab{}).Where("id = ? AND state = ? AND revision = ?", sl.ID, sl.State, sl.Revision).
			Updates(map[string]any{"state": shop.OnHold, "held_from": sl.State, "revision": sl.Revision + 1})
		if res.Error != nil {
			return res.Error
		}
		if res.RowsAffected == 1 {
			m.scan.Once = fmt.Sprintf("hold %d", h.ID)
			if err := t.appendStep(sl, m, sl.State, shop.OnHold, true); err != nil {
				return err
			}
			sl.HeldFrom, sl.State, sl.Revision = sl.State, shop.OnHold, sl.Revision+1
			return nil
		}
		if err := t.Where("id = ?", sl.ID).Take(sl).Error; err != nil {
			return err
		}
	}
	return fmt.Errorf("slab %s moved again and again while it was to be held", sl.Tag)
}

// OpenHold stops slabs by hand: all that lie in a room, or the tags named.
func (s *Store) OpenHold(ctx context.Context, by shop.Actor, room string, tags []string, reason string) (id shop.HoldID, err error) {
	if trim(reason) == "" {
		return 0, shop.Bad("reason", "Say what is wrong; it stands in the record.")
	}
	err = s.tx(ctx, func(t tx) error {
		var rm *shop.Room
		var slabs []shop.Slab
		var err error
		if trim(room) != "" {
			if rm, err = take[shop.Room](t.DB, "Room "+room, "code = ?", trim(room)); err != nil {
				return err
			}
			if err := t.lock("rooms", int64(rm.ID)); err != nil {
				return err
			}
			slabs, err = many[shop.Slab](t.DB, "id", "id IN (SELECT slab_id FROM placements JOIN places ON places.id = placements.place_id WHERE places.room_id = ? AND until_at = 0)", rm.ID)
			if err != nil {
				return err
			}
		}
		for _, tag := range tags {
			sl, err := t.slabByTag(tag)
			if err != nil {
				return err
			}
			if sl.State != shop.OnHold && !mayBeHeld(sl.State) {
				return shop.Stop("cannot_hold", "%s is %q and cannot be held.", sl.Tag, sl.State)
			}
			slabs = append(slabs, *sl)
		}
		if len(slabs) == 0 {
			return shop.Bad("tags", "Nothing lies there to be held.")
		}
		slices.SortFunc(slabs, func(a, b shop.Slab) int { return int(a.ID - b.ID) })
		slabs = slices.CompactFunc(slabs, func(a, b shop.Slab) bool { return a.ID == b.ID })
		h, err := t.openHold(by, rm, t.now, trim(reason), slabs)
		if err != nil {
			return err
		}
		id = h.ID
		return nil
	})
	return id, err
}

// Release lets slabs of a hold go on from where they were, by a named person with a
// reason; no tags means all that are left. A slab that another open hold covers stays.
func (s *Store) Release(ctx context.Context, by shop.Actor, id shop.HoldID, tags []string, why string) error {
	return s.decide(ctx, by, id, tags, why, func(t tx, h *shop.Hold, sl *shop.Slab) error {
		var others int64
		err := t.Raw("SELECT count(*) FROM hold_slabs hs JOIN holds h ON h.id = hs.hold_id WHERE hs.slab_id = ? AND h.state = ? AND h.id <> ?", sl.ID, shop.HoldOpen, h.ID).Scan(&others).Error
		if err != nil || others > 0 {
			return err
		}
		if err := t.leaveHold(by, sl, sl.HeldFrom, h.ID, why); err != nil {
			return err
		}
		if sl.State != shop.OnShelf && sl.State != shop.InFreezer {
			return nil
		}
		return t.onTheShelf(by, sl, fmt.Sprintf("hold %d", h.ID))
	})
}

// Dump gives slabs of a hold up, by a named person with a reason; no tags means all
// that are left. Their people are told at once what they may choose (R34).
func (s *Store) Dump(ctx context.Context, by shop.Actor, id shop.HoldID, tags []string, why string) error {
	return s.decide(ctx, by, id, tags, why, func(t tx, h *shop.Hold, sl *shop.Slab) error {
		if err := t.leaveHold(by, sl, shop.Dumped, h.ID, why); err != nil {
			return err
		}
		return t.tellDumped(sl)
	})
}

// tellDumped frees the place of a dumped slab and tells its people what they may choose.
func (t tx) tellDumped(sl *shop.Slab) error {
	if err := t.freePlace(sl.ID); err != nil {
		return err
	}
	b, err := t.partyOf(sl)
	if err != nil || b == nil {
		return err
	}
	if err := t.Create(&shop.Amend{SlabID: sl.ID, BookingID: b.ID, AskedAt: t.now}).Error; err != nil {
		return err
	}
	return t.tell(t.toCollector(b, shop.NoticeDumped, fmt.Sprintf("dumped/%d", sl.ID)), shop.Facts{Ref: b.Ref(), Tags: []string{sl.Tag}})
}

// leaveHold moves a slab off its hold. It writes past moveSlab's refusal, since this is
// the decision that refusal waits for.
func (t tx) leaveHold(by shop.Actor, sl *shop.Slab, to shop.SlabState, id shop.HoldID, why string) error {
	if !shop.SlabMoves.May(shop.OnHold, to) {
		return fmt.Errorf("slab %s cannot leave its hold to %q", sl.Tag, to)
	}
	err := changed(t.Model(&shop.Slab{}).Where("id = ? AND state = ? AND revision = ?", sl.ID, shop.OnHold, sl.Revision).
		Updates(map[string]any{"state": to, "held_from": "", "revision": sl.Revision + 1}), shop.ErrMoved)
	if err != nil {
		return err
	}
	m := move{by: by, to: to, scan: Scan{Tag: sl.Tag, Once: fmt.Sprintf("hold %d", id)}, reason: why}
	if err := t.appendStep(sl, m, shop.OnHold, to, true); err != nil {
		return err
	}
	return t.Where("id = ?", sl.ID).Take(sl).Error
}

func (s *Store) decide(ctx context.Context, by shop.Actor, id shop.HoldID, tags []string, why string, act func(tx, *shop.Hold, *shop.Slab) error) error {
	if !by.IsStaff() || trim(by.Name) == "" {
		return shop.ErrNotAllowed
	}
	why = trim(why)
	if why == "" {
		return shop.Bad("why", "A decision on a hold needs its reason in words.")
	}
	return s.tx(ctx, func(t tx) error {
		if err := t.lock("holds", int64(id)); err != nil {
			return err
		}
		h, err := take[shop.Hold](t.DB, "The hold", "id = ?", id)
		if err != nil {
			return err
		}
		if h.State != shop.HoldOpen {
			return shop.Stop("hold_closed", "This hold was decided %s by %s.", h.ClosedAt.Show(t.s.Loc), h.ClosedBy)
		}
		slabs, err := many[shop.Slab](t.DB, "id", "state = ? AND id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?)", shop.OnHold, h.ID)
		if err != nil {
			return err
		}
		chosen, err := choose(slabs, tags)
		if err != nil {
			return err
		}
		for i := range chosen {
			b, err := t.partyOf(&chosen[i])
			if err != nil {
				return err
			}
			if b == nil {
				continue
			}
			if err := t.lock("bookings", int64(b.ID)); err != nil {
				return err
			}
			err = t.Model(&shop.Notice{}).Where("key = ? AND state = ? AND leased_until <= ?", fmt.Sprintf("hold-told/%d/%d", h.ID, b.ID), shop.ToSend, t.now).
				Update("state", shop.Cancelled).Error
			if err != nil {
				return err
			}
		}
		verb := shop.HoldReleased
		for i := range chosen {
			if err := act(t, h, &chosen[i]); err != nil {
				return err
			}
			if chosen[i].State == shop.Dumped {
				verb = shop.HoldDumped
			}
		}
		if len(chosen) < len(slabs) {
			return t.note(by, "hold", int64(h.ID), string(verb)+" in part", string(shop.HoldOpen), string(shop.HoldOpen), why)
		}
		err = changed(t.Model(&shop.Hold{}).Where("id = ? AND state = ?", h.ID, shop.HoldOpen).Select("state", "closed_at", "closed_by", "why").
			Updates(&shop.Hold{State: verb, ClosedAt: t.now, ClosedBy: by.Name, Why: why}), shop.ErrMoved)
		if err != nil {
			return err
		}
		return t.note(by, "hold", int64(h.ID), string(verb), string(shop.HoldOpen), string(verb), why)
	})
}

// choose picks the named slabs out of those that are held; none named means all.
func choose(held []shop.Slab, tags []string) ([]shop.Slab, error) {
	if len(tags) == 0 {
		return slices.Clone(held), nil
	}
	var out []shop.Slab
	for _, tag := range tags {
		i := slices.IndexFunc(held, func(sl shop.Slab) bool { return strings.EqualFold(sl.Tag, trim(tag)) })
		if i < 0 {
			return nil, shop.Bad("tags", "%s is not among the slabs of this hold.", strings.ToUpper(trim(tag)))
		}
		if !slices.ContainsFunc(out, func(sl shop.Slab) bool { return sl.ID == held[i].ID }) {
			out = append(out, held[i])
		}
	}
	return out, nil
}
