package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// PayAndCrash counts a payment and falls over before it is committed.
func (s *Store) PayAndCrash(ctx context.Context, by shop.Actor, id shop.BookingID, in shop.PaymentIn) error {
	return s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if _, err := t.payStanding(by, b, c, in); err != nil {
			return err
		}
		panic("the machine stops here")
	})
}

// Post writes an entry of the ledger as use cases do.
func (s *Store) Post(ctx context.Context, e shop.LedgerEntry, lines ...shop.LedgerLine) error {
	return s.tx(ctx, func(t tx) error { return t.post(e, lines...) })
}

// BalanceOf is what stands on an account for a subject.
func (s *Store) BalanceOf(ctx context.Context, a shop.LedgerAccount, subject int64) (unit.Money, error) {
	return balance(s.read(ctx), a, subject)
}
