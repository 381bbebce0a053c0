package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// A PartyQuote is what a party would pay if it booked now.
type PartyQuote struct {
	Total  unit.Money
	DueNow unit.Money // less than Total where a deposit is enough (R2)
	RestBy unit.Day   // by when the rest; 0: there is none
}

// PartyQuote reckons a party at the prices a class shows. Booking reckons again.
func (s *Store) PartyQuote(c ClassCard, p shop.Party) PartyQuote {
	q := PartyQuote{Total: c.Price*unit.Money(p.Places) + c.SecondPrice*unit.Money(max(0, p.Slabs-p.Places)) + c.WatchPrice*unit.Money(p.Watching)}
	due := money.PartyDue(q.Total, p.Places+p.Watching, s.Today(), c.Day, s.moneyRules())
	q.DueNow, q.RestBy = due.Now, due.RestBy
	return q
}

// A PayQuote is what codes would cover of what a booking owes, and what is left to pay in
// money: at least Money, at most All.
type PayQuote struct {
	Covered unit.Money
	Money   unit.Money // due now
	All     unit.Money // everything owed
}

// PayQuote says what vouchers and credits would cover; nothing is taken (R8).
func (s *Store) PayQuote(ctx context.Context, by shop.Actor, id shop.BookingID, vouchers, credits []string) (PayQuote, error) {
	var q PayQuote
	err := s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		uses, err := t.cover(by, b, c, shop.PaymentIn{Vouchers: vouchers, Credits: credits})
		if err != nil {
			return err
		}
		q = PayQuote{}
		for _, u := range uses {
			q.Covered += u.Cents
		}
		q.Money, q.All = max(0, b.DueNow()-q.Covered), max(0, b.Owes()-q.Covered)
		return nil
	})
	return q, err
}

// A SeatPrice is what a seat of a kind costs today.
type SeatPrice struct {
	Code  string
	Name  string
	Price unit.Money
}

// SeatPrices lists the kinds of class that have a price, for presents.
func (s *Store) SeatPrices(ctx context.Context) ([]SeatPrice, error) {
	kinds, err := s.Kinds(ctx)
	if err != nil {
		return nil, err
	}
	var out []SeatPrice
	for i := range kinds {
		var card ClassCard
		if err := s.prices(s.read(ctx), &kinds[i], s.Now(), &card); err != nil {
			return nil, err
		}
		if card.Price > 0 {
			out = append(out, SeatPrice{kinds[i].Code, kinds[i].Name, card.Price})
		}
	}
	return out, nil
}
