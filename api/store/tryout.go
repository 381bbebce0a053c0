package store

import (
	"context"
	"errors"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// errTriedOut undoes a use case that was only tried out.
var errTriedOut = errors.New("only tried out")

// tryOut runs a use case to its end and undoes it, so that what a page shows before the
// button is pressed comes from the very reckoning the button will use.
func (s *Store) tryOut(ctx context.Context, fn func(t tx) error) error {
	err := s.tx(ctx, func(t tx) error {
		if err := fn(t); err != nil {
			return err
		}
		return errTriedOut
	})
	if errors.Is(err, errTriedOut) {
		return nil
	}
	return err
}

// A MoneyQuote is a booking's money as it would be after a step that was only tried out.
type MoneyQuote struct {
	Total  unit.Money // of the seats
	Owes   unit.Money
	DueBy  unit.Day   // of what is owed; none: now
	Back   unit.Money // that would come off what is paid
	Credit unit.Money // of that, what becomes a credit; vouchers and credits come back as they were
}

// quote tries a step on a booking out.
func (s *Store) quote(ctx context.Context, id shop.BookingID, step func(t tx) error) (*MoneyQuote, error) {
	var q MoneyQuote
	err := s.tryOut(ctx, func(t tx) error {
		before, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
		if err != nil {
			return err
		}
		var last int64
		if err := t.Raw("SELECT COALESCE(max(id), 0) FROM credits").Scan(&last).Error; err != nil {
			return err
		}
		if err := step(t); err != nil {
			return err
		}
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
		if err != nil {
			return err
		}
		q = MoneyQuote{Total: b.TotalCents, Owes: b.Owes(), DueBy: b.BalanceDueOn, Back: before.PaidCents - b.PaidCents}
		return t.Raw("SELECT COALESCE(sum(cents), 0) FROM credits WHERE id > ? AND booking_id = ?", last, id).Scan(&q.Credit).Error
	})
	return &q, err
}

// MoveQuote says what a move to another class would cost or give back now (R6), or why it
// cannot be.
func (s *Store) MoveQuote(ctx context.Context, by shop.Actor, id shop.BookingID, to string) (*MoneyQuote, error) {
	return s.quote(ctx, id, func(t tx) error { return t.move(by, id, to) })
}

// AnswerQuote says what a choice after the shop's own doing would give back now (R5).
func (s *Store) AnswerQuote(ctx context.Context, by shop.Actor, id shop.BookingID, choice, to string) (*MoneyQuote, error) {
	return s.quote(ctx, id, func(t tx) error {
		if choice == shop.AnswerMove {
			return t.answerMove(by, id, to)
		}
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if b.AnswerUntil == 0 {
			return errAnswered
		}
		return t.answer(by, b, c, choice)
	})
}

// FinalCountQuote says what a private party would owe on its final count (R2).
func (s *Store) FinalCountQuote(ctx context.Context, by shop.Actor, id shop.BookingID, heads int) (*MoneyQuote, error) {
	return s.quote(ctx, id, func(t tx) error { return t.finalCount(by, id, heads) })
}
