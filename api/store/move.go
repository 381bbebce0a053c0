package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// MoveBooking takes a party to another class (R6). To the same kind it keeps the price it
// booked at; to another kind the difference is owed or credited. Nearer than the days of
// the house rule a move counts as leaving and booking anew, so it is refused here.
func (s *Store) MoveBooking(ctx context.Context, by shop.Actor, id shop.BookingID, to string, once Once) (*BookingView, error) {
	err := s.tx(ctx, func(t tx) error {
		if _, seen, err := t.repeated(once, "move", by); err != nil || seen {
			return err
		}
		if err := t.move(by, id, to); err != nil {
			return err
		}
		return t.remember(once, "move", by, "done")
	})
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, id)
}

func (t tx) move(by shop.Actor, id shop.BookingID, to string) error {
	b, from, target, err := t.openMove(id, to)
	if err != nil {
		return err
	}
	if b.State != shop.Firm {
		return shop.ErrMoved.Saying("Only a booking that is paid for can move; this one is %s.", b.State)
	}
	if from.ID == target.ID {
		return field("to", "That is the class you are in.")
	}
	if days := int(from.Day - t.today); days < t.s.Rules.ChooseDays && b.AnswerUntil == 0 {
		return field("to", "It is %d days to your class. A move is free until %d days before; after that it is leaving by the rule and booking anew.", days, t.s.Rules.ChooseDays)
	}
	return t.moveSeats(by, b, from, target, shop.Firm)
}

func (t tx) openMove(id shop.BookingID, to string) (*shop.Booking, *shop.Class, *shop.Class, error) {
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
	if err != nil {
		return nil, nil, nil, err
	}
	target, err := take[shop.Class](t.DB, "The class", "code = ?", to)
	if err != nil {
		return nil, nil, nil, err
	}
	from, target, err := t.lockClasses(b.ClassID, target.ID)
	if err != nil {
		return nil, nil, nil, err
	}
	old := b.ClassID
	if b, err = take[shop.Booking](t.DB, "The booking", "id = ?", id); err == nil && b.ClassID != old {
		err = shop.ErrStale
	}
	return b, from, target, err
}

// moveSeats carries a booking's seats in a state (firm, or called off with their class)
// over to another class as firm seats.
func (t tx) moveSeats(by shop.Actor, b *shop.Booking, from, to *shop.Class, state shop.BookingState) error {
	seats, err := t.standing(b, state)
	if err != nil {
		return err
	}
	if state == shop.SeatOff { // only those that went with this very class
		kept := seats[:0]
		for _, s := range seats {
			if s.ClassID == from.ID {
				kept = append(kept, s)
			}
		}
		seats = kept
	}
	k, err := t.kindOf(to)
	if err != nil {
		return err
	}
	like, err := t.fitKind(b, seats, k, from.KindID == to.KindID)
	if err != nil {
		return err
	}
	if err := t.takeSeats(to, places(like), by); err != nil {
		return err
	}
	fresh := make([]shop.Seat, 0, len(like))
	for i, s := range like {
		s.ID = seats[i].ID // picks are copied from the old seat
		n, err := t.newSeat(s, b.ID, to.ID, s.GuestID, shop.Held)
		if err != nil {
			return err
		}
		fresh = append(fresh, n)
	}
	if err := t.turnSeats(fresh, shop.Firm); err != nil {
		return err
	}
	if state == shop.Firm {
		if err := t.turnSeats(seats, shop.Moved); err != nil {
			return err
		}
	}
	for _, s := range seats {
		if err := t.unseatSlabs(s.ID); err != nil {
			return err
		}
	}
	set := map[string]any{"class_id": to.ID, "state": shop.Firm, "answer_until": unit.Instant(0)}
	if err := t.repriced(b, fresh, from, to, set); err != nil {
		return err
	}
	if err := t.updateBooking(b, set); err != nil {
		return err
	}
	if over := b.PaidCents - b.TotalCents - b.KeptCents; over > 0 {
		_, _, err := t.giveBack(by, b, over, "credit", owner{b.PayerName, b.PayerEmail}, fmt.Sprintf("move/%d/r%d", b.ID, b.Revision), "the new class costs less")
		if err != nil {
			return err
		}
	}
	if err := t.note(by, "booking", int64(b.ID), "moved", from.Code, to.Code, ""); err != nil {
		return err
	}
	if err := t.settle(b, to); err != nil {
		return err
	}
	if err := t.tellMoved(b, to, true); err != nil {
		return err
	}
	if err := t.settleResales(to); err != nil {
		return err
	}
	if state == shop.SeatOff {
		return nil // its class is off: nothing to free there
	}
	if err := t.keepJarsAway(from); err != nil {
		return err
	}
	if err := t.freeSeats(from, places(seats)); err != nil {
		return err
	}
	return t.offerFreed(from)
}

// fitKind returns the seats as they would be in a class of the kind, or says why the
// party does not fit it.
func (t tx) fitKind(b *shop.Booking, seats []shop.Seat, k *shop.ClassKind, same bool) ([]shop.Seat, error) {
	if len(seats) == 0 {
		return nil, shop.ErrMoved.Saying("There are no seats to move.")
	}
	like := append([]shop.Seat(nil), seats...)
	var people []shop.NewPerson
	for i := range like {
		g, err := take[shop.Guest](t.DB, "The guest", "id = ?", like[i].GuestID)
		if err != nil {
			return nil, err
		}
		if !same && like[i].Kind != shop.WatchSeat {
			like[i].Kind, like[i].Slabs = shop.GuestSeat, 0
			if k.Slabs {
				like[i].Kind, like[i].Slabs = shop.SlabSeat, 1
			}
		}
		people = append(people, shop.NewPerson{Name: g.Name, Age: g.Age, Seat: like[i].Kind, Second: like[i].Slabs > 1})
	}
	n := shop.NewBooking{Counter: true, PayerName: b.PayerName, People: people}
	if err := n.Check(*k); err != nil {
		e, _ := shop.AsError(err)
		for _, text := range e.Fields {
			return nil, field("to", "%s", text)
		}
		return nil, err
	}
	return like, nil
}

// repriced fills in what the booking costs in the new class: the price it was booked at
// for the same kind, today's for another.
func (t tx) repriced(b *shop.Booking, seats []shop.Seat, from, to *shop.Class, set map[string]any) error {
	if from.KindID != to.KindID {
		seat := shop.GuestSeat
		slabs := false
		for _, s := range seats {
			if s.Slabs > 0 {
				seat, slabs = shop.SlabSeat, true
			}
		}
		var err error
		if b.SeatCents, err = t.priceAt(to.KindID, seat, t.now); err != nil {
			return err
		}
		b.SecondCents = 0
		if slabs {
			if b.SecondCents, err = t.priceAt(to.KindID, shop.SecondSlab, t.now); err != nil {
				return err
			}
		}
		set["seat_cents"], set["second_cents"] = b.SeatCents, b.SecondCents
	}
	var total unit.Money
	for _, s := range seats {
		total += b.PriceOf(s)
	}
	set["total_cents"] = total
	due := money.PartyDue(total, len(seats), t.today, to.Day, t.s.moneyRules())
	by := due.RestBy
	if by == 0 && b.PaidCents-b.KeptCents < total {
		by = t.today // the difference is due now
	}
	set["balance_due_on"], set["deposit_cents"] = by, min(b.PaidCents, due.Now)
	return nil
}

// tellMoved writes the new date to payer and guests. own: they asked for it themselves.
func (t tx) tellMoved(b *shop.Booking, c *shop.Class, own bool) error {
	inv, err := t.bookingEntry(b, c, false)
	if err != nil {
		return err
	}
	ready, err := t.readyOf(b, c)
	if err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	f.Invite, f.ReadyOn, f.Until = inv, ready, b.AnswerUntil
	near := c.StartsAt.Sub(t.now) < 48*hour
	n := t.toPayer(b, shop.NoticeClassMoved, fmt.Sprintf("class-moved/%d/r%d", b.ID, b.Revision))
	n.Urgent = own || near
	if err := t.tell(n, f); err != nil {
		return err
	}
	readers, err := t.readers(b)
	if err != nil {
		return err
	}
	for _, rd := range readers {
		if rd.guest == nil {
			continue
		}
		g, err := t.guestFacts(b, c)
		if err != nil {
			return err
		}
		g.ReadyOn = ready
		n := t.toGuest(b, rd.guest, shop.NoticeClassMoved, fmt.Sprintf("class-moved/%d/guest %d/r%d", b.ID, rd.guest.ID, b.Revision))
		n.Urgent = near
		if err := t.tell(n, g); err != nil {
			return err
		}
	}
	return nil
}
