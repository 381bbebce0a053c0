package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// AnswerOrder takes the farm's answer from its private link. The same answer given
// twice counts once; a different one after the first is refused, since the shop has
// gone on with it.
func (s *Store) AnswerOrder(ctx context.Context, secret string, a shop.FarmAnswer) (*shop.Order, error) {
	return s.answer(ctx, "token_hash = ?", hashOf(secret), nil, a)
}

// AnswerOrderFor is the same typed in by the shop, for a farm that rang.
func (s *Store) AnswerOrderFor(ctx context.Context, by shop.Actor, id shop.OrderID, a shop.FarmAnswer) (*shop.Order, error) {
	return s.answer(ctx, "id = ?", id, &by, a)
}

func (s *Store) answer(ctx context.Context, where string, key any, by *shop.Actor, a shop.FarmAnswer) (*shop.Order, error) {
	var o *shop.Order
	err := s.tx(ctx, func(t tx) (err error) {
		if o, err = take[shop.Order](t.DB, "The order", where, key); err != nil {
			return err
		}
		if err := a.Check(o.Animals); err != nil {
			return err
		}
		if o.AskedAgain() {
			actor := shop.Actor{Kind: "farm"}
			if by != nil {
				actor = *by
			}
			return t.answerAgain(actor, o, a)
		}
		farm, err := take[shop.Farm](t.DB, "The farm", "id = ?", o.FarmID)
		if err != nil {
			return err
		}
		actor := shop.Actor{Kind: "farm", Name: farm.Name}
		if by != nil {
			actor = *by
		}
		return t.takeAnswer(actor, farm, o, a)
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (t tx) takeAnswer(by shop.Actor, farm *shop.Farm, o *shop.Order, a shop.FarmAnswer) error {
	promised := a.Promises(o.Animals)
	if o.State != shop.Asked {
		switch {
		case o.AnsweredAt == 0 && o.State == shop.OrderOff:
			return shop.Stop("called_off", "We have called this order off. Nothing is needed from you.")
		case o.AnsweredAt == 0:
			return shop.Stop("not_asked", "This order has not been sent yet.")
		case o.Promised == promised:
			return nil // the same answer again
		}
		return shop.Stop("answered", "Your answer was %q. If it has changed, please ring us: we have gone on with it.", o.Answer)
	}
	set := map[string]any{"answer": answerWords(a, o), "answered_at": t.now, "promised": promised,
		"short": promised < o.Animals, "late": o.Late || t.now > o.OrderBy}
	to := shop.Promised
	if promised == 0 {
		to, set["short"] = shop.OrderOff, false
	}
	if err := t.moveOrder(by, o, to, answerWords(a, o), set); err != nil {
		return err
	}
	if err := t.untell("order", int64(o.ID), shop.NoticeOrderRemind); err != nil {
		return err
	}
	lines := []string{fmt.Sprintf("%s: %s.", farm.Name, o.Answer)}
	if to == shop.OrderOff {
		if err := t.endOrder(o); err != nil {
			return err
		}
		lines = append(lines, "Its classes are without meat again: ask another farm.")
	} else {
		ok, err := t.takeSlots(o, o.Promised)
		if err != nil {
			return err
		}
		if ok {
			err = t.moveOrder(shop.Itself(), o, shop.SlotHeld, "", nil)
		} else {
			lines = append(lines, "The plant has not enough slots left that day: see to it.")
		}
		if err != nil {
			return err
		}
		kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
		if err != nil {
			return err
		}
		if err := t.orderEntries(o, kd); err != nil {
			return err
		}
		if o.Short {
			lines = append(lines, fmt.Sprintf("%d asked for, %d promised.", o.Animals, o.Promised))
		}
	}
	return t.tellShop(shop.Notice{Key: fmt.Sprintf("farm-answered/%d", o.ID), Kind: shop.NoticeFarmAnswered, Subject: "order", SubjectID: int64(o.ID)},
		shop.Facts{Ref: o.Ref(), Farm: farm.Name, Species: o.Species, Animals: o.Animals, Promised: o.Promised, Reason: o.Answer, Lines: lines})
}

// answerWords is the answer as it is kept.
func answerWords(a shop.FarmAnswer, o *shop.Order) string {
	s := a.Says
	switch a.Says {
	case "yes":
		s = fmt.Sprintf("yes, %s", shop.AnimalsIn(o.Species, o.Animals))
	case "fewer":
		s = fmt.Sprintf("fewer, %s", shop.AnimalsIn(o.Species, a.Animals))
	}
	if w := trim(a.Words); w != "" {
		s += ": " + w
	}
	return s
}

// orderBysPassed marks orders whose order-by has gone by without an answer and tells
// the owner, once.
var orderBysPassed = dueTask{
	name: "order-bys passed",
	next: func(ctx context.Context, s *Store) (unit.Instant, error) {
		var at *unit.Instant
		err := s.read(ctx).Raw("SELECT min(order_by) FROM orders WHERE state IN ? AND late = ? AND order_by > 0", []shop.OrderState{shop.Needed, shop.Asked}, false).Scan(&at).Error
		if err != nil || at == nil {
			return 0, err
		}
		return *at, nil
	},
	run: func(ctx context.Context, s *Store) error {
		due, err := many[shop.Order](s.read(ctx), "order_by, id", "state IN ? AND late = ? AND order_by > 0 AND order_by <= ?", []shop.OrderState{shop.Needed, shop.Asked}, false, s.Now())
		if err != nil {
			return err
		}
		for _, o := range due {
			if err := s.tx(ctx, func(t tx) error { return t.markLate(o) }); err != nil {
				return err
			}
		}
		return nil
	},
}

func (t tx) markLate(o shop.Order) error {
	res := t.Model(&shop.Order{}).Where("id = ? AND state = ? AND late = ?", o.ID, o.State, false).
		Updates(map[string]any{"late": true, "revision": o.Revision + 1})
	if res.Error != nil || res.RowsAffected == 0 {
		return res.Error // answered or marked meanwhile
	}
	if err := t.note(shop.Itself(), "order", int64(o.ID), "late", string(o.State), string(o.State), "order-by passed"); err != nil {
		return err
	}
	farm, err := take[shop.Farm](t.DB, "The farm", "id = ?", o.FarmID)
	if err != nil {
		return err
	}
	what := "has not been sent"
	if o.State == shop.Asked {
		what = "has had no answer"
	}
	return t.tellShop(shop.Notice{Key: fmt.Sprintf("order-late/%d", o.ID), Kind: shop.NoticeOwnerTask, Subject: "order", SubjectID: int64(o.ID)},
		shop.Facts{Ref: o.Ref(), Farm: farm.Name, Species: o.Species, Animals: o.Animals, Until: o.OrderBy,
			Lines: []string{fmt.Sprintf("%s to %s %s, and its order-by has passed: ring them.", o.Ref(), farm.Name, what)}})
}
