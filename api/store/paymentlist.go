package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A PaymentLine is one movement of a booking's money, as the counter reads it.
type PaymentLine struct {
	At     unit.Instant
	Cents  unit.Money // below zero: given back
	Method string     // how it came or went, in words
	Note   string
	Actor  string
	Credit string // code of the credit that was used or given
}

// Payments lists a booking's money, oldest first.
func (s *Store) Payments(ctx context.Context, id shop.BookingID) ([]PaymentLine, error) {
	db := s.read(ctx)
	rows, err := many[shop.Payment](db, "id", "booking_id = ?", id)
	if err != nil {
		return nil, err
	}
	out := make([]PaymentLine, 0, len(rows))
	for _, p := range rows {
		l := PaymentLine{At: p.At, Cents: p.Cents, Method: p.Method, Note: p.Note, Actor: p.Actor}
		switch {
		case p.VoucherID != 0:
			v, err := take[shop.Voucher](db, "The voucher", "id = ?", p.VoucherID)
			if err != nil {
				return nil, err
			}
			l.Method = "voucher ending in " + v.CodeEnd
		case p.CreditID != 0:
			l.Credit = s.CreditCode(p.CreditID)
		}
		out = append(out, l)
	}
	return out, nil
}
