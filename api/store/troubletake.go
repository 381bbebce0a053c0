package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// TakeWays takes ways out of a trouble, all or none: each must still stand on its sheet
// when it is pressed. Letters that the rules send by themselves (a class moved or called
// off) leave in the same transaction, once; no other letter does. The reason is read by
// whoever is written to.
func (s *Store) TakeWays(ctx context.Context, by shop.Actor, key string, ids []string, reason string, once Once) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	if len(ids) == 0 {
		return shop.Bad("way", "Tick what to do.")
	}
	return s.tx(ctx, func(t tx) error {
		if _, seen, err := t.repeated(once, "ways out", by); err != nil || seen {
			return err
		}
		sheet, err := s.trouble(t.DB, key)
		if err != nil {
			return err
		}
		for i, id := range ids {
			n := slices.IndexFunc(sheet.Ways, func(w TroubleWay) bool { return w.ID == id && id != "" })
			if n < 0 {
				return shop.ErrMoved.Saying("One of these ways is not open any more: things have moved since the page was made. Look at it again.")
			}
			w := sheet.Ways[n]
			for _, other := range ids[:i] {
				if slices.Contains(w.Not, other) {
					return shop.Bad("way", "%s and another of these do not go together.", w.Remedy)
				}
			}
			if err := t.takeWay(by, id, trim(reason)); err != nil {
				return err
			}
			if err := t.note(by, "trouble", int64(sheet.Order), w.Remedy, key, w.What, w.Why); err != nil {
				return err
			}
		}
		return t.remember(once, "ways out", by, "done")
	})
}

// takeWay does one thing. Its word and what it acts on stand in the ID.
func (t tx) takeWay(by shop.Actor, id, reason string) error {
	word, rest, _ := strings.Cut(id, ":")
	part := strings.Split(rest, ":")
	number := func(i int) int64 {
		if i >= len(part) {
			return 0
		}
		n, _ := strconv.ParseInt(part[i], 10, 64) // the ID is one we made
		return n
	}
	class := func(i int) (*shop.Class, error) { return take[shop.Class](t.DB, "The class", "code = ?", part[i]) }
	needsReason := func() error {
		if reason == "" {
			var w shop.Wrong
			w.Add("reason", "Say why; they read it.")
			return w.Err()
		}
		return nil
	}
	switch word {
	case "demo":
		c, err := class(0)
		if err != nil {
			return err
		}
		return t.dropDemo(by, c.ID, int(number(1)))
	case "skin":
		return t.setSkin(by, shop.BellyID(number(0)), true)
	case "thaw":
		c, err := class(1)
		if err != nil {
			return err
		}
		return t.thawBelly(by, shop.BellyID(number(0)), c.ID)
	case "freezer":
		return t.claim(by, "belly", number(0), "freezer", shop.Class{})
	case "unsold":
		c, err := class(0)
		if err != nil {
			return err
		}
		return t.takeUnsold(by, c.ID, int(number(1)))
	case "move":
		if err := needsReason(); err != nil {
			return err
		}
		return t.moveToKill(by, part[0], part[1], part[2], reason)
	case "off":
		if err := needsReason(); err != nil {
			return err
		}
		return t.callOff(by, part[0], reason)
	case "order-off":
		if err := needsReason(); err != nil {
			return err
		}
		o, err := take[shop.Order](t.DB, "The order", "number = ?", number(0))
		if err != nil {
			return err
		}
		return t.callOffOrder(by, o, reason)
	}
	return fmt.Errorf("a way out called %q", id)
}

// moveToKill moves a class to another day at its usual hour and plans its meat from the
// kill that fits that day.
func (t tx) moveToKill(by shop.Actor, code, day, kill, reason string) error {
	c, err := take[shop.Class](t.DB, "The class", "code = ?", code)
	if err != nil {
		return err
	}
	to, err := unit.ParseDay(day)
	if err != nil {
		return err
	}
	at, err := unit.ParseDay(kill)
	if err != nil {
		return err
	}
	hour := c.StartsAt.In(t.s.Loc)
	if err := t.moveClassTo(by, code, to.At(hour.Hour(), hour.Minute(), t.s.Loc), reason); err != nil {
		return err
	}
	return t.planKill(by, c.ID, at)
}

// MoveWithThanks moves a party that said yes when it was asked to come another day (R18e):
// without cost, as near to the class as may be, with a tenth of what it paid as credit.
func (s *Store) MoveWithThanks(ctx context.Context, by shop.Actor, id shop.BookingID, to string, once Once) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	return s.tx(ctx, func(t tx) error {
		if _, seen, err := t.repeated(once, "move with thanks", by); err != nil || seen {
			return err
		}
		b, from, target, err := t.openMove(id, to)
		if err != nil {
			return err
		}
		if b.State != shop.Firm {
			return shop.ErrMoved.Saying("Only a booking that is paid for can move; this one is %s.", b.State)
		}
		if from.ID == target.ID || from.KindID != target.KindID {
			return field("to", "Choose another date of the same kind.")
		}
		if target.StartsAt <= t.now {
			return field("to", "That class has begun.")
		}
		thanks := b.PaidCents / 10
		if err := t.moveSeats(by, b, from, target, shop.Firm); err != nil {
			return err
		}
		if thanks > 0 {
			if err := t.thank(by, b, thanks, "Thank you for coming another day."); err != nil {
				return err
			}
		}
		if err := t.refreshCutList(from.OrderID); err != nil {
			return err
		}
		return t.remember(once, "move with thanks", by, "done")
	})
}
