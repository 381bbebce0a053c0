package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// holdEnd is when a hold runs out, the minutes of grace included.
func holdEnd(h shop.SeatHold) unit.Instant { return max(h.Until, h.GraceUntil) }

func nextHoldEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	return s.earliest(ctx, "SELECT min(CASE WHEN grace_until > until THEN grace_until ELSE until END) FROM seat_holds WHERE ended_at = 0")
}

// earliest runs a query for one moment; none is 0.
func (s *Store) earliest(ctx context.Context, query string, args ...any) (unit.Instant, error) {
	var at *unit.Instant
	err := s.read(ctx).Raw(query, args...).Scan(&at).Error
	if err != nil || at == nil {
		return 0, err
	}
	return *at, nil
}

// endHolds lets go the seats of every hold that has run out, each in its own
// transaction, and offers them to who is waiting.
func endHolds(ctx context.Context, s *Store) error {
	due, err := many[shop.SeatHold](s.read(ctx), "until, id", "ended_at = 0 AND until <= ? AND grace_until <= ?", s.Now(), s.Now())
	if err != nil {
		return err
	}
	for _, h := range due {
		err := s.tx(ctx, func(t tx) error {
			b, c, err := t.openBooking(h.BookingID)
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

// endLate ends a booking's hold or offer if its time is over. The caller has locked the
// class; when another was faster there is nothing left to end.
func (t tx) endLate(b *shop.Booking, c *shop.Class) error {
	switch b.State {
	case shop.Held:
		holds, err := many[shop.SeatHold](t.DB, "id", "booking_id = ? AND ended_at = 0", b.ID)
		if err != nil || len(holds) == 0 || holdEnd(holds[0]) > t.now {
			return err
		}
		return t.letGoAll(shop.Itself(), b, c, "hold ended")
	case shop.Offered:
		w, err := take[shop.WaitingEntry](t.DB, "The offer", "booking_id = ? AND ended_at = 0", b.ID)
		if err != nil || w.OfferUntil > t.now {
			return err
		}
		return t.lapse(b, c, w)
	}
	return nil
}

// letGoAll ends a booking that was never firm: seats free, hold closed, nothing to pay.
func (t tx) letGoAll(by shop.Actor, b *shop.Booking, c *shop.Class, reason string) error {
	from := b.State
	seats, err := t.standing(b, shop.Waiting, shop.Offered, shop.Held)
	if err != nil {
		return err
	}
	taken := 0
	if from.Holds() {
		taken = places(seats)
	}
	if err := t.turnSeats(seats, shop.LetGo); err != nil {
		return err
	}
	if err := t.closeHold(b, reason); err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{"state": shop.LetGo, "let_go_reason": reason, "total_cents": 0, "deposit_cents": 0, "balance_due_on": unit.Day(0)}); err != nil {
		return err
	}
	if err := t.untellBooking(b); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "let go", string(from), string(shop.LetGo), reason); err != nil {
		return err
	}
	if err := t.freeSeats(c, taken); err != nil {
		return err
	}
	return t.offerFreed(c)
}

func (t tx) closeHold(b *shop.Booking, reason string) error {
	return t.Model(&shop.SeatHold{}).Where("booking_id = ? AND ended_at = 0", b.ID).
		Updates(map[string]any{"ended_at": t.now, "reason": reason}).Error
}
