package store

import (
	"fmt"
	"strconv"

	"flitchbook/api/shop"
)

// becomeFirm turns a paid booking firm and sets off everything that follows from it:
// confirmation with calendar entry, links for the friends, reminders, jars kept away,
// credit for somebody whose seat was sold again, slabs that stood free.
func (t tx) becomeFirm(by shop.Actor, b *shop.Booking, c *shop.Class) error {
	seats, err := t.standing(b, shop.Held)
	if err != nil {
		return err
	}
	if err := t.turnSeats(seats, shop.Firm); err != nil {
		return err
	}
	if err := t.closeHold(b, "paid"); err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{"state": shop.Firm, "firm_at": t.now}); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "firm", string(shop.Held), string(shop.Firm), c.Code); err != nil {
		return err
	}
	if err := t.settle(b, c); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	if f.Invite, err = t.bookingEntry(b, c, false); err != nil {
		return err
	}
	if f.ReadyOn, err = t.readyOf(b, c); err != nil {
		return err
	}
	n := t.toPayer(b, shop.NoticeBooked, "booked/"+strconv.Itoa(b.Number))
	n.Urgent = true
	if err := t.tell(n, f); err != nil {
		return err
	}
	if err := t.tellGuests(b, c); err != nil {
		return err
	}
	return t.settleResales(c)
}

// settle brings everything that hangs on a booking's firm seats up to date: entries,
// reminders, jars, slabs that stood free.
func (t tx) settle(b *shop.Booking, c *shop.Class) error {
	if _, err := t.bookingEntry(b, c, false); err != nil {
		return err
	}
	day, err := t.readyOf(b, c)
	if err != nil {
		return err
	}
	if err := t.setReady(b, day); err != nil {
		return err
	}
	if err := t.balanceEntry(b, c); err != nil {
		return err
	}
	if err := t.keepJarsAway(c); err != nil {
		return err
	}
	if err := t.seatFreeSlabs(b, c); err != nil {
		return err
	}
	return t.remind(b, c)
}

// bookingEntry writes the class into the booking's own calendar and returns it as an
// invitation. It keeps its UID when the booking moves to another class (R41).
func (t tx) bookingEntry(b *shop.Booking, c *shop.Class, cancel bool) (*shop.Invite, error) {
	e, err := t.setEntry(shop.Entry{UID: t.s.uid("booking-class", int64(b.ID)), Kind: "class", Subject: "booking", SubjectID: int64(b.ID),
		StartsAt: c.StartsAt, EndsAt: c.EndsAt, Title: c.Title, Text: fmt.Sprintf("Booking %s, class %s.", b.Ref(), c.Code), Cancelled: cancel})
	if err != nil {
		return nil, err
	}
	return &shop.Invite{UID: e.UID, Sequence: e.Sequence, Cancel: cancel, Title: e.Title, Text: e.Text, StartsAt: e.StartsAt, EndsAt: e.EndsAt}, nil
}

func (t tx) balanceEntry(b *shop.Booking, c *shop.Class) error {
	uid := t.s.uid("balance", int64(b.ID))
	if b.BalanceDueOn == 0 || b.Owes() <= 0 {
		return t.cancelEntry(uid)
	}
	_, err := t.setEntry(shop.Entry{UID: uid, Kind: "balance", Subject: "booking", SubjectID: int64(b.ID), Day: b.BalanceDueOn,
		Title: fmt.Sprintf("%s due for %s", b.Owes(), c.Title), Text: "Booking " + b.Ref()})
	return err
}

// tellGuests writes to every named friend who gave an address: their own link, no price.
func (t tx) tellGuests(b *shop.Booking, c *shop.Class) error {
	guests, err := t.guestsOf(b)
	if err != nil {
		return err
	}
	for _, g := range guests {
		if g.Payer || g.Email == "" || g.Email == b.PayerEmail {
			continue
		}
		f, err := t.guestFacts(b, c)
		if err != nil {
			return err
		}
		f.From = b.PayerName
		n := t.toGuest(b, &g.Guest, shop.NoticeGuestNamed, fmt.Sprintf("guest-named/%d/%s/%s", g.ID, g.Email, c.Code))
		if err := t.tell(n, f); err != nil {
			return err
		}
	}
	return nil
}

// seated is a guest with the seat that still stands.
type seated struct {
	shop.Guest
	Seat shop.Seat
}

// guestsOf lists the people of a booking whose seats stand, in order of seat.
func (t tx) guestsOf(b *shop.Booking) ([]seated, error) {
	seats, err := t.standing(b, waitingOrStanding...)
	if err != nil {
		return nil, err
	}
	guests, err := many[shop.Guest](t.DB, "id", "booking_id = ?", b.ID)
	if err != nil {
		return nil, err
	}
	byID := map[shop.GuestID]shop.Guest{}
	for _, g := range guests {
		byID[g.ID] = g
	}
	out := make([]seated, 0, len(seats))
	for _, s := range seats {
		out = append(out, seated{byID[s.GuestID], s})
	}
	return out, nil
}

// seatFreeSlabs gives slabs that were cut for somebody who left to this booking's seats:
// the meat is there already.
func (t tx) seatFreeSlabs(b *shop.Booking, c *shop.Class) error {
	seats, err := t.standing(b, shop.Firm)
	if err != nil {
		return err
	}
	for _, seat := range seats {
		for slot := 1; slot <= seat.Slabs; slot++ {
			res := t.Exec(`UPDATE slabs SET seat_id = ?, slot = ?, revision = revision + 1
				WHERE id = (SELECT min(id) FROM slabs WHERE class_id = ? AND seat_id = 0 AND demo = ? AND state IN (?, ?, ?))
				AND NOT EXISTS (SELECT 1 FROM slabs s WHERE s.seat_id = ? AND s.slot = ? AND s.state NOT IN (?, ?))`,
				seat.ID, slot, c.ID, false, shop.Wanted, shop.Cut, shop.Kitted, seat.ID, slot, shop.Dumped, shop.Replaced)
			if res.Error != nil {
				return res.Error
			}
		}
	}
	return nil
}
