package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
)

// ReviseOrder changes an order that is not past its order-by: another number of animals,
// or another delivery day. A farm that was asked gets the slip as it now stands. Fewer
// animals than promised give their places back at once; for more the farm is asked again,
// and its old promise stands until it answers. After the order-by an order stands: what
// is over finds another home.
func (s *Store) ReviseOrder(ctx context.Context, by shop.Actor, id shop.OrderID, c shop.OrderChange) (*shop.Order, error) {
	var o *shop.Order
	err := s.tx(ctx, func(t tx) (err error) {
		if o, err = take[shop.Order](t.DB, "The order", "id = ?", id); err != nil {
			return err
		}
		if err := c.Check(*o); err != nil {
			return err
		}
		return t.revise(by, o, c)
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (t tx) revise(by shop.Actor, o *shop.Order, c shop.OrderChange) error {
	switch o.State {
	case shop.Needed, shop.Asked, shop.Promised, shop.SlotHeld:
	default:
		return shop.Stop("no_revision", "%s is %s: it cannot be changed any more.", o.Ref(), o.State)
	}
	if o.OrderBy <= t.now {
		return shop.Stop("order_by_passed", "The order-by was %s: the order stands. What is over goes over the counter.", o.OrderBy.Show(t.s.Loc))
	}
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	deliver := o.DeliverOn
	if c.DeliverOn != 0 {
		if deliver = c.DeliverOn; deliver <= kd.Day {
			var w shop.Wrong
			w.Add("deliver", "The kill is on %s; it cannot come before.", kd.Day.Show())
			return w.Err()
		}
	}
	if c.Animals > o.Animals && o.State != shop.Needed {
		if err := t.whyNoSlot(o, c.Animals); err != nil {
			return err
		}
	}
	was := *o
	set := map[string]any{"animals": c.Animals, "deliver_on": deliver, "revision": o.Revision + 1}
	if o.AnsweredAt != 0 || o.AskedAgain() {
		promised := min(o.Promised, c.Animals)
		set["promised"], set["short"] = promised, promised < c.Animals
		if c.Animals > o.Promised {
			set["answered_at"], set["asked_at"] = 0, t.now
		} else if o.AskedAgain() {
			set["answered_at"] = t.now // its old promise covers the order again
		}
	}
	res := t.Model(&shop.Order{}).Where("id = ? AND state = ? AND revision = ?", o.ID, o.State, o.Revision).Updates(set)
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	fresh, err := take[shop.Order](t.DB, "The order", "id = ?", o.ID)
	if err != nil {
		return err
	}
	*o = *fresh
	if o.Slots > o.Promised {
		if err := t.freeSlots(o, o.Slots-o.Promised); err != nil {
			return err
		}
	}
	if err := t.note(by, "order", int64(o.ID), "changed", shop.AnimalsIn(o.Species, was.Animals), shop.AnimalsIn(o.Species, o.Animals), trim(c.Reason)); err != nil {
		return err
	}
	if err := t.orderEntries(o, kd); err != nil {
		return err
	}
	if o.State == shop.Needed {
		return nil // nobody was asked
	}
	return t.tellRevised(o, kd, trim(c.Reason))
}

// tellRevised sends the farm the slip as it now stands, and moves the reminder along if
// the question is open.
func (t tx) tellRevised(o *shop.Order, kd *shop.KillDay, why string) error {
	farm, f, err := t.slipFacts(o, kd)
	if err != nil {
		return err
	}
	if err := t.untell("order", int64(o.ID), shop.NoticeOrderRemind); err != nil {
		return err
	}
	if o.Asks() {
		if err := t.remindFarm(o, farm, f, fmt.Sprintf("order-remind/%d/%d", o.ID, o.Revision)); err != nil {
			return err
		}
	}
	f.Reason = why
	return t.tell(shop.Notice{Key: fmt.Sprintf("order-changed/%d/%d", o.ID, o.Revision), Kind: shop.NoticeOrderChanged,
		ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID)}, f)
}

// answerAgain takes the answer to an order that was raised after the farm had promised:
// a no leaves the old promise as it was.
func (t tx) answerAgain(by shop.Actor, o *shop.Order, a shop.FarmAnswer) error {
	farm, err := take[shop.Farm](t.DB, "The farm", "id = ?", o.FarmID)
	if err != nil {
		return err
	}
	if by.Kind == "farm" {
		by.Name = farm.Name
	}
	promised := max(a.Promises(o.Animals), o.Promised)
	words := answerWords(a, o)
	if a.Says == "no" {
		words = fmt.Sprintf("no more than %s", shop.AnimalsIn(o.Species, o.Promised))
		if w := trim(a.Words); w != "" {
			words += ": " + w
		}
	}
	lines := []string{fmt.Sprintf("%s: %s.", farm.Name, words)}
	ok, err := t.takeSlots(o, promised)
	if err != nil {
		return err
	}
	if !ok && o.State == shop.SlotHeld {
		promised = o.Promised
		lines = append(lines, fmt.Sprintf("The plant has not enough slots left that day: it stays at %d. See to it.", promised))
	}
	res := t.Model(&shop.Order{}).Where("id = ? AND state = ? AND revision = ?", o.ID, o.State, o.Revision).
		Updates(map[string]any{"answer": words, "answered_at": t.now, "promised": promised, "short": promised < o.Animals, "revision": o.Revision + 1})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	fresh, err := take[shop.Order](t.DB, "The order", "id = ?", o.ID)
	if err != nil {
		return err
	}
	*o = *fresh
	if err := t.note(by, "order", int64(o.ID), "answered again", "", fmt.Sprint(promised), words); err != nil {
		return err
	}
	if ok && o.State == shop.Promised {
		if err := t.moveOrder(shop.Itself(), o, shop.SlotHeld, "", nil); err != nil {
			return err
		}
	}
	if err := t.untell("order", int64(o.ID), shop.NoticeOrderRemind); err != nil {
		return err
	}
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	if err := t.orderEntries(o, kd); err != nil {
		return err
	}
	return t.tellShop(shop.Notice{Key: fmt.Sprintf("farm-answered/%d/%d", o.ID, o.Revision), Kind: shop.NoticeFarmAnswered, Subject: "order", SubjectID: int64(o.ID)},
		shop.Facts{Ref: o.Ref(), Farm: farm.Name, Species: o.Species, Animals: o.Animals, Promised: o.Promised, Reason: o.Answer, Lines: lines})
}
