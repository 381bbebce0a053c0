package store

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// JoinWaiting puts a party on the waiting list of a class that has no room for it (R9).
func (s *Store) JoinWaiting(ctx context.Context, by shop.Actor, n shop.NewBooking, once Once) (*BookingView, error) {
	var id shop.BookingID
	err := s.tx(ctx, func(t tx) error {
		if done, seen, err := t.repeated(once, "wait", by); err != nil || seen {
			id = bookingID(done)
			return err
		}
		c, err := t.lockClassCode(n.Class)
		if err != nil {
			return err
		}
		if !c.OnSale(t.now) && !(by.IsStaff() && c.Private) {
			return shop.ErrClassClosed
		}
		if p := shop.Count(n.People); p.Places > 0 && p.Places <= c.Left() {
			return shop.Stop("room_left", "There is room for you: you can book now, no need to wait.")
		} else if p.Places > c.Seats {
			return field("people", "This class has %d seats in all.", c.Seats)
		}
		b, c, _, err := t.newBooking(by, n, shop.Waiting)
		if err != nil {
			return err
		}
		id = b.ID
		if err := t.queue(by, b, c, t.now); err != nil {
			return err
		}
		return t.remember(once, "wait", by, strconv.FormatInt(int64(b.ID), 10))
	})
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, id)
}

func (t tx) queue(by shop.Actor, b *shop.Booking, c *shop.Class, since unit.Instant) error {
	seats, err := t.standing(b, shop.Waiting)
	if err != nil {
		return err
	}
	w := shop.WaitingEntry{ClassID: c.ID, BookingID: b.ID, Seats: places(seats), JoinedAt: since}
	if err := t.Create(&w).Error; err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "waiting", "", string(shop.Waiting), c.Code); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	n := t.toPayer(b, shop.NoticeWaiting, "waiting/"+strconv.Itoa(b.Number))
	n.Urgent = true
	return t.tell(n, f)
}

// queueAgain puts a party whose seats were let go, and whose payment came too late, at
// the head of the waiting list, under a new booking number (R3).
func (t tx) queueAgain(by shop.Actor, old *shop.Booking, c *shop.Class) (shop.BookingID, error) {
	var first *unit.Instant
	if err := t.Raw("SELECT min(joined_at) FROM waiting_entries WHERE class_id = ? AND ended_at = 0", c.ID).Scan(&first).Error; err != nil {
		return 0, err
	}
	since := t.now
	if first != nil && *first <= since {
		since = *first - 1
	}
	var seats []shop.Seat
	if err := t.Where("booking_id = ?", old.ID).Order("position").Find(&seats).Error; err != nil {
		return 0, err
	}
	b := *old
	b.ID, b.State, b.LetGoReason, b.Revision, b.CreatedAt, b.FirmAt = 0, shop.Waiting, "", 0, t.now, 0
	b.PaidCents, b.KeptCents, b.EarnedCents = 0, 0, 0
	party := shop.Party{}
	for _, s := range seats {
		party.Slabs += s.Slabs
	}
	party.Places = places(seats)
	party.Watching = len(seats) - party.Places
	if err := t.setPrices(&b, c, party, len(seats)); err != nil {
		return 0, err
	}
	var err error
	if b.Number, err = t.bookingNumber(0); err != nil {
		return 0, err
	}
	b.LinkNo, b.TokenHash = t.s.newLink("booking")
	b.SlabHash = t.s.slabHash(b.LinkNo)
	if err := t.Create(&b).Error; err != nil {
		return 0, err
	}
	for _, s := range seats {
		if err := t.copySeat(s, &b, c.ID, shop.Waiting); err != nil {
			return 0, err
		}
	}
	if err := t.queue(by, &b, c, since); err != nil {
		return 0, err
	}
	return b.ID, t.offerFreed(c)
}

// copySeat writes a seat again under another booking, with its guest, needs and picks.
func (t tx) copySeat(s shop.Seat, b *shop.Booking, class shop.ClassID, state shop.BookingState) error {
	g, err := take[shop.Guest](t.DB, "The guest", "id = ?", s.GuestID)
	if err != nil {
		return err
	}
	needs, err := many[shop.Need](t.DB, "id", "guest_id = ?", g.ID)
	if err != nil {
		return err
	}
	g.ID, g.BookingID = 0, b.ID
	g.LinkNo, g.TokenHash = t.s.newLink("guest")
	if err := t.Create(g).Error; err != nil {
		return err
	}
	for _, n := range needs {
		n.ID, n.GuestID = 0, g.ID
		if err := t.Create(&n).Error; err != nil {
			return err
		}
	}
	_, err = t.newSeat(s, b.ID, class, g.ID, state)
	return err
}

// newSeat writes a seat like another one, picks included.
func (t tx) newSeat(like shop.Seat, b shop.BookingID, class shop.ClassID, guest shop.GuestID, state shop.BookingState) (shop.Seat, error) {
	picks, err := many[shop.Pick](t.DB, "slot", "seat_id = ?", like.ID)
	if err != nil {
		return like, err
	}
	like.ID, like.BookingID, like.ClassID, like.GuestID, like.State = 0, b, class, guest, state
	if err := t.Create(&like).Error; err != nil {
		return like, err
	}
	for _, p := range picks {
		p.ID, p.SeatID = 0, like.ID
		if err := t.Create(&p).Error; err != nil {
			return like, err
		}
	}
	return like, nil
}

// offerFreed offers free seats to the first party on the waiting list that fits, and to
// the next, until none fits; the rest is open to all (R9). The caller has locked the class.
func (t tx) offerFreed(c *shop.Class) error {
	if c.State != shop.Open && c.State != shop.GoingAhead || c.StartsAt <= t.now {
		return nil
	}
	queue, err := many[shop.WaitingEntry](t.DB, "joined_at, id", "class_id = ? AND ended_at = 0 AND offer_until = 0", c.ID)
	if err != nil {
		return err
	}
	for _, w := range queue {
		if w.Seats > c.Left() {
			continue
		}
		if err := t.offer(c, w); err != nil {
			return err
		}
	}
	return nil
}

func (t tx) offer(c *shop.Class, w shop.WaitingEntry) error {
	sent := t.s.Rules.OutOfQuiet(t.now, t.s.Loc) // the clock starts when the offer is sent
	if sent >= c.StartsAt {
		return nil
	}
	hours := t.s.Rules.OfferHours
	if c.StartsAt.Sub(sent) < time.Duration(t.s.Rules.OfferLateWithin)*time.Hour {
		hours = t.s.Rules.OfferHoursLate
	}
	until := min(sent.Add(time.Duration(hours)*time.Hour), c.StartsAt)
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", w.BookingID)
	if err != nil {
		return err
	}
	if err := t.takeSeats(c, w.Seats, shop.Actor{Kind: "staff"}); err != nil {
		return err
	}
	seats, err := t.standing(b, shop.Waiting)
	if err != nil {
		return err
	}
	if err := t.turnSeats(seats, shop.Offered); err != nil {
		return err
	}
	// A new booking pays the price of the day it is offered.
	party := shop.Party{Places: w.Seats, Watching: len(seats) - w.Seats}
	for _, s := range seats {
		party.Slabs += s.Slabs
	}
	if err := t.setPrices(b, c, party, len(seats)); err != nil {
		return err
	}
	err = t.updateBooking(b, map[string]any{"state": shop.Offered, "seat_cents": b.SeatCents, "watch_cents": b.WatchCents, "second_cents": b.SecondCents,
		"total_cents": b.TotalCents, "deposit_cents": b.DepositCents, "balance_due_on": b.BalanceDueOn})
	if err != nil {
		return err
	}
	res := t.Model(&shop.WaitingEntry{}).Where("id = ? AND offer_until = 0", w.ID).Updates(map[string]any{"offer_sent_at": sent, "offer_until": until})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	if err := t.note(shop.Itself(), "booking", int64(b.ID), "offered", string(shop.Waiting), string(shop.Offered), "until "+until.Show(t.s.Loc)); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	f.Until = until
	return t.tell(t.toPayer(b, shop.NoticeOffered, fmt.Sprintf("offered/%d/%d", b.Number, sent)), f)
}

// TakeOffer turns an offer into held seats; paying makes them firm.
func (s *Store) TakeOffer(ctx context.Context, by shop.Actor, id shop.BookingID) error {
	return s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if b.State == shop.Held || b.State == shop.Firm {
			return nil // a second press
		}
		if err := t.endLate(b, c); err != nil {
			return err
		}
		return t.takeOffer(by, b, c)
	})
}

func (t tx) takeOffer(by shop.Actor, b *shop.Booking, c *shop.Class) error {
	if b.State != shop.Offered {
		return shop.ErrMoved.Saying("This offer has ended; the seats went on to the next.")
	}
	w, err := take[shop.WaitingEntry](t.DB, "The offer", "booking_id = ? AND ended_at = 0", b.ID)
	if err != nil {
		return err
	}
	seats, err := t.standing(b, shop.Offered)
	if err != nil {
		return err
	}
	if err := t.turnSeats(seats, shop.Held); err != nil {
		return err
	}
	if err := t.endWaiting(w, "taken"); err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{"state": shop.Held}); err != nil {
		return err
	}
	if err := t.untell("booking", int64(b.ID), shop.NoticeOffered); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "offer taken", string(shop.Offered), string(shop.Held), ""); err != nil {
		return err
	}
	return t.holdSeats(b, c, max(w.OfferUntil, t.now.Add(time.Duration(t.s.Rules.HoldOnline)*time.Minute)))
}

func (t tx) endWaiting(w *shop.WaitingEntry, outcome string) error {
	res := t.Model(&shop.WaitingEntry{}).Where("id = ? AND ended_at = 0", w.ID).Updates(map[string]any{"ended_at": t.now, "outcome": outcome})
	return changed(res, shop.ErrMoved)
}

// LeaveWaiting takes a party off the waiting list, or turns its offer down.
func (s *Store) LeaveWaiting(ctx context.Context, by shop.Actor, id shop.BookingID) error {
	return s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if b.State != shop.Waiting && b.State != shop.Offered {
			return shop.ErrMoved
		}
		w, err := take[shop.WaitingEntry](t.DB, "The place on the waiting list", "booking_id = ? AND ended_at = 0", b.ID)
		if err != nil {
			return err
		}
		if err := t.endWaiting(w, "left"); err != nil {
			return err
		}
		return t.letGoAll(by, b, c, "left the waiting list")
	})
}

// lapse ends an offer nobody took; the party is told in one line and the seats go to the
// next that fits.
func (t tx) lapse(b *shop.Booking, c *shop.Class, w *shop.WaitingEntry) error {
	if err := t.endWaiting(w, "lapsed"); err != nil {
		return err
	}
	if err := t.letGoAll(shop.Itself(), b, c, "offer lapsed"); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	return t.tell(t.toPayer(b, shop.NoticeOfferLapsed, fmt.Sprintf("offer-lapsed/%d/%d", b.Number, w.OfferUntil)), f)
}

func nextOfferEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	return s.earliest(ctx, "SELECT min(offer_until) FROM waiting_entries WHERE ended_at = 0 AND offer_until > 0")
}

func lapseOffers(ctx context.Context, s *Store) error {
	due, err := many[shop.WaitingEntry](s.read(ctx), "offer_until, id", "ended_at = 0 AND offer_until > 0 AND offer_until <= ?", s.Now())
	if err != nil {
		return err
	}
	for _, w := range due {
		err := s.tx(ctx, func(t tx) error {
			b, c, err := t.openBooking(w.BookingID)
			if err != nil {
				return err
			}
			return t.endLate(b, c)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// endQueues closes the waiting lists of classes that have begun.
func endQueues(ctx context.Context, s *Store) error {
	due, err := many[shop.WaitingEntry](s.read(ctx), "id", "ended_at = 0 AND class_id IN (SELECT id FROM classes WHERE starts_at <= ?)", s.Now())
	if err != nil {
		return err
	}
	for _, w := range due {
		err := s.tx(ctx, func(t tx) error {
			b, c, err := t.openBooking(w.BookingID)
			if err != nil {
				return err
			}
			if err := t.endWaiting(&w, "lapsed"); errors.Is(err, shop.ErrMoved) {
				return nil
			} else if err != nil {
				return err
			}
			return t.letGoAll(shop.Itself(), b, c, "the class began")
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func nextQueueEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	return s.earliest(ctx, "SELECT min(classes.starts_at) FROM waiting_entries JOIN classes ON classes.id = waiting_entries.class_id WHERE waiting_entries.ended_at = 0")
}

// placeInQueue is how many parties stand before a booking, or -1 when it does not wait.
func placeInQueue(db *gorm.DB, b *shop.Booking) (int, *shop.WaitingEntry, error) {
	var w shop.WaitingEntry
	err := db.Where("booking_id = ? AND ended_at = 0", b.ID).Take(&w).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return -1, nil, nil
	}
	if err != nil {
		return -1, nil, err
	}
	var n int64
	err = db.Model(&shop.WaitingEntry{}).Where("class_id = ? AND ended_at = 0 AND (joined_at < ? OR joined_at = ? AND id < ?)", w.ClassID, w.JoinedAt, w.JoinedAt, w.ID).Count(&n).Error
	return int(n), &w, err
}
