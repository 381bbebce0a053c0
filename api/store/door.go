package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// CheckIn notes that a person came, be it late and after they were marked missed: then
// the message that would ask them for a pick is not sent. Somebody under 18 at a clinic
// needs a guardian's signature first (R11).
func (s *Store) CheckIn(ctx context.Context, by shop.Actor, id shop.SeatID) error {
	return s.atDoor(ctx, by, id, shop.Came, func(t tx, g *shop.Guest, seat *shop.Seat, b *shop.Booking, c *shop.Class) error {
		if seat.Kind == shop.GuestSeat && g.Age > 0 && g.Age < 18 && !g.GuardianSigned {
			k, err := t.kindOf(c)
			if err != nil {
				return err
			}
			if k.MinAge > 0 {
				return shop.Stop("guardian", "%s is under 18: a guardian signs first, and no saw.", orGuest(g.Name))
			}
		}
		if seat.State != shop.Missed {
			return nil
		}
		if t.today != c.Day {
			return shop.Stop("class_past", "This class was on %s: whoever was missed then did not come late.", c.Day.Show())
		}
		return t.untellKey(missedKey(seat.ID))
	})
}

// MarkMissed notes that a person did not come. Their slab and kit are kept, and the pick is
// asked for until 17:00 three days later (R43).
func (s *Store) MarkMissed(ctx context.Context, by shop.Actor, id shop.SeatID) error {
	return s.atDoor(ctx, by, id, shop.Missed, func(t tx, g *shop.Guest, seat *shop.Seat, b *shop.Booking, c *shop.Class) error {
		if t.now < c.StartsAt {
			return shop.Stop("class_ahead", "This class begins at %s: until then %s may still come.", c.StartsAt.Clock(s.Loc), orGuest(g.Name))
		}
		if seat.Slabs == 0 {
			return nil
		}
		f, err := t.guestFacts(b, c)
		if err != nil {
			return err
		}
		f.Until = s.MissedUntil(c.Day)
		if f.ReadyOn, err = s.readyAbout(t.DB, f.Until.Day(s.Loc)); err != nil {
			return err
		}
		n := t.toGuest(b, g, shop.NoticeMissed, missedKey(seat.ID))
		n.DueAt = max(c.Day.At(17, 0, s.Loc), t.now)
		return t.tell(n, f)
	})
}

// MissedUntil is how long somebody who missed a class on a day may choose the spice of the
// slab that is kept for them (R43).
func (s *Store) MissedUntil(day unit.Day) unit.Instant { return (day + 3).At(17, 0, s.Loc) }

func missedKey(id shop.SeatID) string { return fmt.Sprintf("missed/%d", id) }

func (s *Store) atDoor(ctx context.Context, by shop.Actor, id shop.SeatID, to shop.BookingState, also func(tx, *shop.Guest, *shop.Seat, *shop.Booking, *shop.Class) error) error {
	return s.tx(ctx, func(t tx) error {
		seat, err := take[shop.Seat](t.DB, "The seat", "id = ?", id)
		if err != nil {
			return err
		}
		g, seat, b, c, err := t.openGuest(seat.GuestID)
		if err != nil {
			return err
		}
		if seat.State == to {
			return nil // pressed twice
		}
		if t.today < c.Day {
			return shop.Stop("class_ahead", "This class is on %s.", c.Day.Show())
		}
		if err := also(t, g, seat, b, c); err != nil {
			return err
		}
		was := seat.State
		if err := t.turnSeats([]shop.Seat{*seat}, to); err != nil {
			return err
		}
		if err := t.followSeats(b); err != nil {
			return err
		}
		if err := t.note(by, "seat", int64(id), string(to), string(was), string(to), ""); err != nil {
			return err
		}
		if seat.Slabs > 0 && (to == shop.Missed || was == shop.Missed) {
			if err := t.doorReady(b, c); err != nil {
				return err
			}
		}
		return t.remind(b, c)
	})
}

// doorReady brings the date of a party's bacon up to who missed the class: a slab that is
// kept is sealed later, and whoever came late after all has theirs as planned.
func (t tx) doorReady(b *shop.Booking, c *shop.Class) error {
	kept, err := t.s.keptReady(t.DB, b, c)
	if err != nil {
		return err
	}
	day, err := t.readyOf(b, c)
	if err != nil {
		return err
	}
	return t.setReady(b, max(day, kept))
}

// followSeats gives a booking the state of its seats: firm while any seat is, then came
// when anybody came, else missed.
func (t tx) followSeats(b *shop.Booking) error {
	seats, err := t.standing(b, shop.Firm, shop.Came, shop.Missed)
	if err != nil {
		return err
	}
	state := shop.Missed
	for _, s := range seats {
		if s.State == shop.Firm {
			state = shop.Firm
			break
		}
		if s.State == shop.Came {
			state = shop.Came
		}
	}
	if len(seats) == 0 || state == b.State {
		return t.updateBooking(b, map[string]any{})
	}
	return t.updateBooking(b, map[string]any{"state": state})
}

// SignGuardian notes that a guardian signed for somebody under 18.
func (s *Store) SignGuardian(ctx context.Context, by shop.Actor, id shop.GuestID) error {
	return s.tx(ctx, func(t tx) error {
		if _, _, _, _, err := t.openGuest(id); err != nil {
			return err
		}
		if err := t.Model(&shop.Guest{}).Where("id = ?", id).Update("guardian_signed", true).Error; err != nil {
			return err
		}
		return t.note(by, "guest", int64(id), "guardian signed", "", "", "")
	})
}

func orGuest(name string) string {
	if name == "" {
		return "This guest"
	}
	return name
}

// FinalCount settles the head count of a private party booked by the head: it may fall by
// the share of the house rule (R2). The last seats fall away without give-back, since only
// the deposit is in; the rest is due on the heads that stay.
func (s *Store) FinalCount(ctx context.Context, by shop.Actor, id shop.BookingID, heads int) (*BookingView, error) {
	err := s.tx(ctx, func(t tx) error { return t.finalCount(by, id, heads) })
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, id)
}

func (t tx) finalCount(by shop.Actor, id shop.BookingID, heads int) error {
	b, c, err := t.openBooking(id)
	if err != nil {
		return err
	}
	if !c.Private || b.State != shop.Firm {
		return shop.Stop("final_count", "Only a private party that stands has a final count.")
	}
	var booked int64
	if err := t.Model(&shop.Seat{}).Where("booking_id = ? AND class_id = ?", b.ID, c.ID).Count(&booked).Error; err != nil {
		return err
	}
	seats, err := t.standing(b, shop.Firm)
	if err != nil {
		return err
	}
	least := money.LeastHeads(int(booked))
	if heads < least || heads > len(seats) {
		return field("heads", "%d were booked: the final count may be from %d to %d.", booked, least, len(seats))
	}
	gone := seats[heads:]
	total := b.TotalCents
	if c.FlatCents == 0 {
		for _, g := range gone {
			total -= b.PriceOf(g)
		}
	}
	if err := t.turnSeats(gone, shop.LetGo); err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{"total_cents": total}); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "final count", fmt.Sprint(len(seats)), fmt.Sprint(heads), ""); err != nil {
		return err
	}
	if over := b.PaidCents - b.KeptCents - total; over > 0 {
		if _, _, err := t.giveBack(by, b, over, "money", owner{b.PayerName, b.PayerEmail}, fmt.Sprintf("count/%d/r%d", b.ID, b.Revision), "fewer heads"); err != nil {
			return err
		}
	}
	if err := t.seatsGone(b, c, gone, false); err != nil {
		return err
	}
	return t.freeSeats(c, places(gone))
}

// decideGoing turns classes that have reached their minimum by the decision moment into
// "going ahead". Under the minimum nothing is decided: that is the owner's (R10).
func decideGoing(ctx context.Context, s *Store) error {
	due, err := many[shop.Class](s.read(ctx), "id", "state = ? AND decide_at > 0 AND decide_at <= ? AND seats_taken >= min_seats", shop.Open, s.Now())
	if err != nil {
		return err
	}
	for _, c := range due {
		if err := s.GoAhead(ctx, shop.Itself(), c.Code); err != nil {
			if e, ok := shop.AsError(err); ok && e.Kind == shop.Conflict {
				continue // decided by hand this moment
			}
			return err
		}
	}
	return nil
}

func nextDecision(ctx context.Context, s *Store) (unit.Instant, error) {
	return s.earliest(ctx, "SELECT min(decide_at) FROM classes WHERE state = ? AND decide_at > 0 AND seats_taken >= min_seats", shop.Open)
}
